package scupper

import kotlinx.coroutines.channels.Channel
import kotlinx.coroutines.channels.awaitClose
import kotlinx.coroutines.flow.Flow
import kotlinx.coroutines.flow.buffer
import kotlinx.coroutines.flow.callbackFlow
import scupper.core.NoteEvent

/**
 * Ids of surveys as they change, by an edit here or by an exchange. Collecting listens, so one
 * collector at a time; it ends with its scope.
 */
public fun Device.changes(): Flow<String> = callbackFlow {
    listen(ChangeListener { trySend(it) })
    awaitClose { listen(null) }
}.buffer(Channel.UNLIMITED)

/** What a note has to say, in the order it came, none left out. One collector at a time. */
public fun Note.events(): Flow<NoteEvent> = callbackFlow {
    listen(NoteListener { trySend(it) })
    awaitClose { listen(null) }
}.buffer(Channel.UNLIMITED)
