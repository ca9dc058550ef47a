package scupper

import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.async
import kotlinx.coroutines.cancelAndJoin
import kotlinx.coroutines.flow.collect
import kotlinx.coroutines.flow.first
import kotlinx.coroutines.flow.produceIn
import kotlinx.coroutines.flow.take
import kotlinx.coroutines.flow.toList
import kotlinx.coroutines.launch
import kotlinx.coroutines.runBlocking
import kotlinx.coroutines.withTimeout
import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.assertThrows
import org.junit.jupiter.api.io.TempDir
import scupper.core.PhotoAbout
import java.io.File
import java.net.ServerSocket

/** The whole job against a real server: two devices, dictation, photo, exchange, assessment. */
class OfficeTest {
    @TempDir
    lateinit var folder: File

    @Test
    fun `two devices and the office end level`() = OfficeServer(folder.resolve("office")).use { server ->
        val (ana, anasOffice) = server.enrol("phone-a", "ana")
        val (ben, bensOffice) = server.enrol("phone-b", "ben")
        val one = Device.open(folder.resolve("a"), ana)
        val two = Device.open(folder.resolve("b"), ben)
        val mine = one.joinSurvey("exemplar").apply { enterPlan(Exemplar.survey) }
        assertEquals(Outcome.DONE, anasOffice.exchange(mine).outcome)
        val theirs = two.joinSurvey("exemplar")
        assertEquals(Levelled(Outcome.DONE, 1), bensOffice.exchange(theirs))

        // Apart: one dictates, the other types another value and takes a photo.
        for ((name) in Exemplar.expected["interpretations"].properties()) {
            mine.dictateTranscript(Exemplar.transcript(name))
        }
        mine.setNumber("EF-1", "nameplate.mca_a", 12.5)
        theirs.setNumber("EF-1", "nameplate.mca_a", 11.0)
        theirs.takePhoto(Exemplar.photo, PhotoAbout(about = "RTU-2"))

        runBlocking {
            val changes = async(Dispatchers.Unconfined) { two.changes().first() }
            anasOffice.level(mine)
            bensOffice.level(theirs)
            assertEquals("exemplar", changes.await())
            assertEquals(Outcome.DONE, anasOffice.level(mine).outcome)
            var told = 0uL
            val sent = bensOffice.send(two) { _, _, bytes, of ->
                assertTrue(bytes <= of)
                told = maxOf(told, bytes)
            }
            assertEquals(Outcome.DONE to 2, sent.outcome to sent.files)
            assertEquals(Exemplar.photo.length().toULong(), told)
        }
        assertEquals(0, two.uploadsWaiting().files)

        assertEquals(mine.read(), theirs.read())
        val conflict = mine.conflicts().single { it.field == "nameplate.mca_a" }
        val said = conflict.candidates.associate { it.stamp?.author to it.value.toDouble() }
        assertEquals(mapOf("ana" to 12.5, "ben" to 11.0), said)

        // The server works out from what came over the wire what the device works out itself.
        val ofServer = Exemplar.json(anasOffice.read("/v1/surveys/exemplar/assessment"))
        assertEquals(Exemplar.json(mine.assessment()), ofServer)
        assertTrue(ofServer["findings"].any { it.text("component") == "belt" })
        one.close()
        two.close()
    }

    @Test
    fun `out of reach is no error, and cancelling ends the wait`() {
        Device.open(folder.resolve("a"), Exemplar.ana).use { device ->
            val survey = device.createSurvey("Shed")
            assertEquals(Outcome.OUT_OF_REACH, Office.at("http://127.0.0.1:9", "token").exchange(survey).outcome)
            assertThrows<ScupperException.TryAgain> { enrol("http://127.0.0.1:9", "code", "phone-9", "Phone") }

            // An office that never answers, and does not hang up before the waiting is over.
            ServerSocket(0).use { silent ->
                val office = Office.at("http://127.0.0.1:${silent.localPort}", "token")
                for (call in listOf<suspend () -> Unit>({ office.level(survey) }, { office.moves(survey).collect() })) {
                    runBlocking {
                        val waiting = launch(Dispatchers.Default) { call() }
                        silent.accept().use {
                            survey.setText("site", "address", "Pier 9")
                            // Long before the two minutes that a silent office is given.
                            withTimeout(30_000) { waiting.cancelAndJoin() }
                        }
                        assertTrue(waiting.isCancelled)
                    }
                }
            }
        }
    }

    @Test
    fun `what moves at the office flows in`() = OfficeServer(folder.resolve("office")).use { server ->
        val (ana, anasOffice) = server.enrol("phone-a", "ana")
        val (ben, bensOffice) = server.enrol("phone-b", "ben")
        Device.open(folder.resolve("a"), ana).use { one ->
            Device.open(folder.resolve("b"), ben).use { two ->
                val mine = one.joinSurvey("shed").apply { setText("site", "name", "Shed") }
                val theirs = two.joinSurvey("shed")
                assertEquals(Outcome.DONE, anasOffice.exchange(mine).outcome)
                runBlocking {
                    val moves = anasOffice.moves(mine).produceIn(this)
                    assertEquals(listOf(Moved.SURVEY, Moved.OFFICE), listOf(moves.receive(), moves.receive()))
                    theirs.setText("site", "address", "Pier 9")
                    assertEquals(Outcome.DONE, bensOffice.level(theirs).outcome)
                    assertEquals(Moved.SURVEY, moves.receive())
                    moves.cancel()
                }
                anasOffice.exchange(mine)
                assertEquals(mine.read(), theirs.read())
            }
        }
    }

    @Test
    fun `what a note says flows in order`() = runBlocking {
        Device.open(folder.resolve("a"), Exemplar.ana).use { device ->
            val note = device.createSurvey("Shed").beginNote()
            val first = async(Dispatchers.Unconfined) { note.events().take(2).toList() }
            note.hear(scupper.core.Segment(text = "EF two, the belt is cracked"))
            assertEquals(
                listOf("Drafted", "ReadBack"),
                first.await().map { it.javaClass.simpleName },
            )
        }
    }
}
