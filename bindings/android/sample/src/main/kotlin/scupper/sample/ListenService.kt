package scupper.sample

import android.app.Notification
import android.app.NotificationChannel
import android.app.NotificationManager
import android.app.Service
import android.content.Intent
import android.os.IBinder
import android.speech.tts.TextToSpeech
import scupper.Note
import scupper.NoteListener
import scupper.core.NoteEvent
import scupper.core.Segment

/**
 * Listens while the phone is in a pocket: a foreground service of the microphone's kind, one note for
 * the whole walk. What the recogniser hears goes to the note; what the note has to say is spoken.
 * NOT BUILT where this was written.
 */
class ListenService : Service(), NoteListener {
    private val app get() = application as SampleApp
    private lateinit var voice: TextToSpeech
    private lateinit var ears: Ears
    private var note: Note? = null

    override fun onCreate() {
        super.onCreate()
        startForeground(1, notification())
        voice = TextToSpeech(this) { }
        ears = Ears(this, ::heard, ::say)
        app.work.execute {
            // A note that was cut off when the battery died goes on where it was.
            val open = app.device.openNotes().firstOrNull { it.surveyId() == app.survey.id() }
            note = (open ?: app.survey.beginNote()).also { it.listen(this) }
        }
        ears.begin()
    }

    private fun heard(text: String, confidence: Float?) = app.work.execute {
        note?.hear(Segment(text = text, confidence = confidence?.toDouble()))
    }

    /** Called on the thread of [SampleApp.work], after what was heard is on disk. */
    override fun heard(event: NoteEvent) {
        when (event) {
            is NoteEvent.ReadBack -> say(event.line)
            is NoteEvent.Question -> say(event.text)
            is NoteEvent.MarkPhoto -> sendBroadcast(Intent(TAKE_PHOTO).setPackage(packageName).putExtra("about", event.about))
            NoteEvent.Done -> stopSelf()
            else -> Unit
        }
    }

    /** The microphone rests while the phone speaks, so that it does not hear itself. */
    private fun say(line: String) {
        ears.restWhile { done -> voice.speakThen(line, done) }
    }

    override fun onDestroy() {
        ears.close()
        voice.shutdown()
        app.work.execute {
            note?.use { it.end() }
            note = null
            UploadWorker.soon(this)
        }
        super.onDestroy()
    }

    override fun onBind(intent: Intent?): IBinder? = null

    private fun notification(): Notification {
        val channel = NotificationChannel("walk", "Listening", NotificationManager.IMPORTANCE_LOW)
        getSystemService(NotificationManager::class.java).createNotificationChannel(channel)
        return Notification.Builder(this, channel.id)
            .setSmallIcon(android.R.drawable.ic_btn_speak_now)
            .setContentTitle("Writing down what you say")
            .setContentText("Say: notebook done")
            .setOngoing(true)
            .build()
    }

    companion object {
        /** Broadcast within the app when the technician says: notebook mark photo. */
        const val TAKE_PHOTO = "scupper.sample.TAKE_PHOTO"
    }
}
