package scupper.sample

import android.app.Application
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

    private object LocalTime : Clock {
        override fun now(): OffsetDateTime = OffsetDateTime.now()
    }

    private val preferences by lazy { getSharedPreferences("scupper", MODE_PRIVATE) }

    private fun kept(name: String, first: () -> String): String =
        preferences.getString(name, null)
            ?: first().also { preferences.edit().putString(name, it).apply() }

    /** Opened on first use, which belongs on [work]: it grows with what is stored. */
    val device: Device by lazy {
        // Enrolling gives the author's name (docs/bindings.md); until then the phone speaks for itself.
        val identity = Identity(kept("device") { UUID.randomUUID().toString() }, kept("author") { "me" })
        Device.open(File(filesDir, "store"), identity, LocalTime)
    }

    /** The survey of today's roof. */
    val survey: Survey by lazy {
        val id = preferences.getString("survey", null)
        if (id != null) device.survey(id) else device.createSurvey("Sample roof").also {
            preferences.edit().putString("survey", it.id()).apply()
        }
    }

    /** Address and token of the office, once enrolled. A real app keeps the token in the Keystore. */
    val office: Pair<String, String>?
        get() = preferences.getString("server", null)?.let { it to preferences.getString("token", "")!! }
}
