package scupper.sample

import android.app.Application
import android.os.Build
import scupper.Clock
import scupper.Device
import scupper.Survey
import scupper.core.Identity
import java.io.File
import java.time.OffsetDateTime
import java.util.UUID
import java.util.concurrent.ExecutorService
import java.util.concurrent.Executors

/**
 * The store, open as long as the process lives, and one thread for work that waits for the disk.
 * NOT BUILT where this was written.
 */
class SampleApp : Application() {
    /** One thing at a time, in order, off the main thread. */
    val work: ExecutorService = Executors.newSingleThreadExecutor()

    private val preferences by lazy { getSharedPreferences("scupper", MODE_PRIVATE) }

    private fun kept(name: String, first: () -> String): String =
        preferences.getString(name, null)
            ?: first().also { preferences.edit().putString(name, it).apply() }

    /** The office, once this phone is enrolled there. A real app keeps the token in the Keystore. */
    class Office(val server: String, val token: String, val author: String)

    val office: Office?
        get() {
            fun kept(name: String) = preferences.getString(name, null)
            return Office(kept("server") ?: return null, kept("token") ?: return null, kept("author") ?: return null)
        }

    private val deviceId: String get() = kept("device") { UUID.randomUUID().toString() }

    /**
     * Enrols this phone with a one-time code from the office; before that nothing is opened, since
     * what is entered carries the name that the office gives. Waits for the network.
     */
    fun enrol(server: String, code: String) {
        val base = server.trim().trimEnd('/')
        val made = Wire(base, null).enrol(code.trim(), deviceId, Build.MODEL)
        preferences.edit().putString("server", base).putString("token", made.getString("token"))
            .putString("author", made.getString("author")).apply()
    }

    /** The office does not know this phone any more: it has to be enrolled again. */
    fun forgetToken() = preferences.edit().remove("token").apply()

    /** Opened on first use, which belongs on [work]: it grows with what is stored. */
    val device: Device by lazy {
        val author = checkNotNull(office) { "enrol before the store is opened" }.author
        Device.open(File(filesDir, "store"), Identity(deviceId, author), Clock { OffsetDateTime.now() })
    }

    /** The survey of today's roof. */
    val survey: Survey by lazy {
        val id = preferences.getString("survey", null)
        if (id != null) device.survey(id) else device.createSurvey("Sample roof").also {
            preferences.edit().putString("survey", it.id()).apply()
        }
    }
}
