package scupper.sample

import android.Manifest
import android.app.Activity
import android.content.BroadcastReceiver
import android.content.Context
import android.content.Intent
import android.content.IntentFilter
import android.content.pm.PackageManager
import android.os.Bundle
import android.provider.MediaStore
import android.widget.Button
import android.widget.LinearLayout
import android.widget.TextView
import androidx.core.content.ContextCompat
import androidx.core.content.FileProvider
import scupper.ChangeListener
import scupper.ScupperException
import scupper.core.PhotoAbout
import java.io.File

/**
 * One screen: begin listening, take a photo, see the hazards and what is missing, as they stand.
 * NOT BUILT where this was written.
 */
class WalkActivity : Activity(), ChangeListener {
    private val app get() = application as SampleApp
    private lateinit var text: TextView
    private var photo: File? = null
    private var about: String? = null

    private val photoWanted = object : BroadcastReceiver() {
        override fun onReceive(context: Context, intent: Intent) = takePhoto(intent.getStringExtra("about"))
    }

    override fun onCreate(state: Bundle?) {
        super.onCreate(state)
        text = TextView(this)
        setContentView(
            LinearLayout(this).apply {
                orientation = LinearLayout.VERTICAL
                addView(button("Listen") { listen() })
                addView(button("Photo") { takePhoto(null) })
                addView(button("Send") { UploadWorker.soon(this@WalkActivity) })
                addView(text)
            },
        )
        ContextCompat.registerReceiver(
            this, photoWanted, IntentFilter(ListenService.TAKE_PHOTO), ContextCompat.RECEIVER_NOT_EXPORTED,
        )
    }

    private fun button(label: String, act: () -> Unit) = Button(this).apply {
        this.text = label
        setOnClickListener { act() }
    }

    override fun onStart() {
        super.onStart()
        if (app.office == null) {
            startActivity(Intent(this, EnrolActivity::class.java))
            return finish()
        }
        app.work.execute {
            app.device.listen(this)
            changed(app.survey.id())
        }
    }

    override fun onStop() {
        if (app.office != null) app.work.execute { app.device.listen(null) }
        super.onStop()
    }

    override fun onDestroy() {
        unregisterReceiver(photoWanted)
        super.onDestroy()
    }

    /** Called on the thread that made the change, never the main one. */
    override fun changed(surveyId: String) {
        val hazards = app.survey.hazards(most = 5).map { "! ${it.about ?: "roof"}: ${it.because}" }
        val missing = app.survey.missing(most = 10).map { "${it.about} ${it.field}: ${it.why}" }
        val waiting = app.device.uploadsWaiting()
        // No hazard listed does not mean that a place is safe; the caution stands beside each.
        val lines = hazards + missing + "${waiting.files} files to send"
        runOnUiThread { text.text = lines.joinToString("\n") }
    }

    private fun listen() {
        if (checkSelfPermission(Manifest.permission.RECORD_AUDIO) != PackageManager.PERMISSION_GRANTED) {
            requestPermissions(arrayOf(Manifest.permission.RECORD_AUDIO), 0)
            return
        }
        startForegroundService(Intent(this, ListenService::class.java))
    }

    /** The camera writes its full picture to a file of ours. */
    private fun takePhoto(about: String?) {
        this.about = about
        val file = File(cacheDir, "photos").apply { mkdirs() }.resolve("${System.nanoTime()}.jpg")
        photo = file
        val place = FileProvider.getUriForFile(this, "scupper.sample.photos", file)
        val take = Intent(MediaStore.ACTION_IMAGE_CAPTURE).putExtra(MediaStore.EXTRA_OUTPUT, place)
        startActivityForResult(take.addFlags(Intent.FLAG_GRANT_WRITE_URI_PERMISSION), 1)
    }

    @Deprecated("enough for a sample")
    override fun onActivityResult(request: Int, result: Int, data: Intent?) {
        val file = photo ?: return
        if (request != 1 || result != RESULT_OK) return
        app.work.execute {
            try {
                app.survey.takePhoto(file, PhotoAbout(about = about))
            } catch (problem: ScupperException.BadPhoto) {
                runOnUiThread { text.text = problem.message }
            } finally {
                file.delete()
            }
        }
    }
}
