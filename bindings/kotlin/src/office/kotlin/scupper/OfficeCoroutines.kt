package scupper

import kotlinx.coroutines.CancellationException
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.async
import kotlinx.coroutines.coroutineScope
import scupper.core.Part

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
