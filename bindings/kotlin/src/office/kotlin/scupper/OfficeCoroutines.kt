package scupper

import kotlinx.coroutines.CancellationException
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.async
import kotlinx.coroutines.channels.Channel
import kotlinx.coroutines.coroutineScope
import kotlinx.coroutines.flow.Flow
import kotlinx.coroutines.flow.buffer
import kotlinx.coroutines.flow.channelFlow
import scupper.core.Part

/** [Office.exchange] off the caller's thread; cancelling the coroutine ends it. */
public suspend fun Office.level(survey: Survey): Levelled = stoppable { exchange(survey, it) }

/** [Office.sendPhotos] off the caller's thread; cancelling the coroutine ends it. */
public suspend fun Office.send(
    device: Device,
    progress: (hash: String, part: Part, bytes: ULong, of: ULong) -> Unit = { _, _, _, _ -> },
): SentPhotos = stoppable { sendPhotos(device, progress, it) }

/**
 * How a survey moves at the office, as [Office.watch] tells it. It ends with its scope, or when the
 * office does not know this device any more.
 */
public fun Office.moves(survey: Survey): Flow<Moved> = channelFlow {
    stoppable { watch(survey, { _, what -> trySend(what) }, it) }
}.buffer(Channel.UNLIMITED)

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
