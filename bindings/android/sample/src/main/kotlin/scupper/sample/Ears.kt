package scupper.sample

import android.content.Context
import android.content.Intent
import android.os.Build
import android.os.Bundle
import android.os.Handler
import android.os.Looper
import android.speech.RecognitionListener
import android.speech.RecognizerIntent
import android.speech.SpeechRecognizer
import android.speech.tts.TextToSpeech
import android.speech.tts.UtteranceProgressListener

/**
 * The phone's own recogniser, asked again after every phrase, on the device alone. Lives on the main
 * thread, as the system wants it. NOT BUILT where this was written.
 */
class Ears(
    private val context: Context,
    private val heard: (text: String, confidence: Float?) -> Unit,
    private val complain: (String) -> Unit,
) : RecognitionListener, AutoCloseable {
    private val main = Handler(Looper.getMainLooper())
    private var recogniser: SpeechRecognizer? = null
    private var resting = false

    private val ask = Intent(RecognizerIntent.ACTION_RECOGNIZE_SPEECH)
        .putExtra(RecognizerIntent.EXTRA_LANGUAGE_MODEL, RecognizerIntent.LANGUAGE_MODEL_FREE_FORM)
        .putExtra(RecognizerIntent.EXTRA_PREFER_OFFLINE, true)
        .putExtra(RecognizerIntent.EXTRA_LANGUAGE, "en-US")

    fun begin() {
        main.post {
            recogniser = when {
                Build.VERSION.SDK_INT >= 31 && SpeechRecognizer.isOnDeviceRecognitionAvailable(context) ->
                    SpeechRecognizer.createOnDeviceSpeechRecognizer(context)
                SpeechRecognizer.isRecognitionAvailable(context) -> SpeechRecognizer.createSpeechRecognizer(context)
                else -> null
            }
            recogniser?.setRecognitionListener(this) ?: complain("This phone cannot listen. Type instead.")
            listen()
        }
    }

    private fun listen() {
        if (!resting) recogniser?.startListening(ask)
    }

    /** Stops listening until `done` is called, from any thread. */
    fun restWhile(speak: (done: () -> Unit) -> Unit) {
        main.post {
            resting = true
            recogniser?.cancel()
            speak {
                main.post {
                    resting = false
                    listen()
                }
            }
        }
    }

    override fun onResults(results: Bundle) {
        val texts = results.getStringArrayList(SpeechRecognizer.RESULTS_RECOGNITION).orEmpty()
        val trust = results.getFloatArray(SpeechRecognizer.CONFIDENCE_SCORES)?.firstOrNull()?.takeIf { it >= 0 }
        texts.firstOrNull()?.takeIf(String::isNotBlank)?.let { heard(it, trust) }
        listen()
    }

    override fun onError(error: Int) {
        // Silence is no fault; anything else gets a moment to settle.
        val silence = error == SpeechRecognizer.ERROR_NO_MATCH || error == SpeechRecognizer.ERROR_SPEECH_TIMEOUT
        main.postDelayed(::listen, if (silence) 0 else 1_000)
    }

    override fun onReadyForSpeech(params: Bundle?) = Unit
    override fun onBeginningOfSpeech() = Unit
    override fun onRmsChanged(rmsdB: Float) = Unit
    override fun onBufferReceived(buffer: ByteArray?) = Unit
    override fun onEndOfSpeech() = Unit
    override fun onPartialResults(partialResults: Bundle?) = Unit
    override fun onEvent(eventType: Int, params: Bundle?) = Unit

    override fun close() {
        main.post {
            recogniser?.destroy()
            recogniser = null
        }
    }
}

/** Speaks a line and calls `done` when it is over, spoken or not. */
fun TextToSpeech.speakThen(line: String, done: () -> Unit) {
    setOnUtteranceProgressListener(object : UtteranceProgressListener() {
        override fun onStart(utteranceId: String?) = Unit
        override fun onDone(utteranceId: String?) = done()

        @Deprecated("asked for by the system")
        override fun onError(utteranceId: String?) = done()
        override fun onStop(utteranceId: String?, interrupted: Boolean) = done()
    })
    if (speak(line, TextToSpeech.QUEUE_ADD, null, line) != TextToSpeech.SUCCESS) done()
}
