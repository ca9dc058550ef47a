package scupper

import kotlinx.coroutines.CancellationException
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.async
import kotlinx.coroutines.channels.Channel
import kotlinx.coroutines.channels.awaitClose
import kotlinx.coroutines.coroutineScope
import kotlinx.coroutines.flow.Flow
import kotlinx.coroutines.flow.buffer
import kotlinx.coroutines.flow.callbackFlow
import scupper.core.NoteEvent
import scupper.core.Part

/**
 * Ids of surveys as they change, by an edit here or by an exchange. Collecting listens, so one
 * collector at a time; it ends with its scope.
 */
public fun Device.changes(): Flow<String> = callbackFlow {
    listen(object : ChangeListener {
        override fun changed(surveyId: String) {
            trySend(surveyId)
        }
    })
    awaitClose { listen(null) }
}.buffer(Channel.UNLIMITED)

/** What a note has to say, in the order it came, none left out. One collector at a time. */
public fun Note.events(): Flow<NoteEvent> = callbackFlow {
    listen(object : NoteListener {
        override fun heard(event: NoteEvent) {
            trySend(event)
        }
    })
    awaitClose { listen(null) }
}.buffer(Channel.UNLIMITED)

/** [Office.exchange] off the caller's thread; cancelling the coroutine ends it. */
public suspend fun Office.level(survey: Survey): Levelled = stoppable { exchange(survey, it) }

/** [Office.sendPhotos] off the caller's thread; cancelling the coroutine ends it. */
public suspend fun Office.send(
    device: Device,
    progress: (hash: String, part: Part, bytes: ULong, of: ULong) -> Unit = { _, _, _, _ -> },
): SentPhotos {
    val listener = object : UploadListener {
        override fun sent(hash: String, part: Part, bytes: ULong, of: ULong) =
            progress(hash, part, bytes, of)
    }
    return stoppable { sendPhotos(device, listener, it) }
}

private suspend fun <T> stoppable(work: (Stopper) -> T): T = Stopper().use { stopper ->
    coroutineScope {
        val done = async(Dispatchers.IO) { work(stopper) }
        try {
            done.await()
        } catch (cancelled: CancellationException) {
            stopper.stop()
            throw cancelled
        }
    }
}
