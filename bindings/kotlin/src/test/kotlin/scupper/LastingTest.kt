package scupper

import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.io.TempDir
import scupper.core.EquipmentKind
import scupper.core.NoteEvent
import scupper.core.Part
import scupper.core.PhotoAbout
import scupper.core.Segment
import java.io.File
import java.time.OffsetDateTime
import java.util.concurrent.Callable
import java.util.concurrent.Executors

/** What was acknowledged stays, what was let go of is gone: death of the process, threads, handles. */
class LastingTest {
    @TempDir
    lateinit var folder: File

    @Test
    fun `what was acknowledged survives a kill`() {
        val classPath = System.getProperty("surefire.test.class.path") ?: System.getProperty("java.class.path")
        val java = ProcessHandle.current().info().command().get()
        val library = "-Djna.library.path=${System.getProperty("native.library")}"
        val child = ProcessBuilder(java, library, "-cp", classPath, "scupper.TypesUntilKilled", folder.path)
            .redirectError(ProcessBuilder.Redirect.INHERIT).start()
        val told = child.inputStream.bufferedReader()
        val id = told.readLine()
        val acknowledged = generateSequence(told::readLine).map(String::toInt)
            .onEach { if (it == 20) child.toHandle().destroyForcibly() }.last()
        assertEquals(128 + 9, child.waitFor())
        Device.open(folder, Exemplar.ana).use { device ->
            val kept = device.survey(id).history("site", "roof.height_ft").map { it.value.toDouble().toInt() }
            // One more may be on disk that there was no time left to acknowledge.
            assertTrue(kept == (1..acknowledged).toList() || kept == (1..acknowledged + 1).toList(), "$kept")
        }
    }

    @Test
    fun `what eight threads enter at once is all there`() {
        val threads = 8
        val edits = System.getProperty("scupper.edits").toInt() / threads
        Device.open(folder, Exemplar.ana).use { device ->
            val survey = device.createSurvey("Shed")
            val started = System.nanoTime()
            val pool = Executors.newFixedThreadPool(threads)
            val work = (1..threads).map { number ->
                Callable {
                    survey.addUnit("EF-$number", EquipmentKind.EXHAUST_FAN)
                    for (edit in 1..edits) {
                        survey.setNumber("EF-$number", "airflow_cfm", edit.toDouble())
                    }
                }
            }
            for (done in pool.invokeAll(work)) done.get()
            pool.shutdown()
            val each = (System.nanoTime() - started) / 1e6 / (threads * edits)
            println("Kotlin: $threads threads made ${threads * edits} edits, %.1f ms each".format(each))
        }
        Device.open(folder, Exemplar.ana).use { device ->
            val survey = device.survey(device.surveys().single().id)
            for (number in 1..threads) {
                val steps = survey.history("EF-$number", "airflow_cfm")
                assertEquals((1..edits).toList(), steps.map { it.value.toDouble().toInt() })
            }
        }
    }

    private object Quiet : Clock, NoteListener, ChangeListener, UploadListener, OfficeListener {
        override fun now(): OffsetDateTime = throw CallbackException.Failed("stopped")
        override fun heard(event: NoteEvent) = Unit
        override fun changed(surveyId: String) = Unit
        override fun sent(hash: String, part: Part, bytes: ULong, of: ULong) = Unit
        override fun moved(surveyId: String, what: Moved) = Unit
    }

    /** Objects of the app that the library holds on to. */
    private fun held() = listOf(
        FfiConverterTypeClock.handleMap.size,
        FfiConverterTypeNoteListener.handleMap.size,
        FfiConverterTypeChangeListener.handleMap.size,
        FfiConverterTypeUploadListener.handleMap.size,
        FfiConverterTypeOfficeListener.handleMap.size,
    )

    /** Files that are open, once the JVM has closed those that earlier tests left to its collector. */
    private fun files(): Int {
        System.gc()
        Thread.sleep(200)
        return File("/proc/self/fd").list()!!.count()
    }

    /** A day with everything in it that can be held: an office that is out of reach, a photo to send. */
    private fun day() = Device.open(folder, Exemplar.ana, Quiet).use { device ->
        device.listen(Quiet)
        device.createSurvey("Shed").use { survey ->
            survey.beginNote().use { note ->
                note.listen(Quiet)
                note.hear(Segment(text = "EF two, the belt is cracked"))
                assertEquals(listOf(1, 1, 1, 0, 0), held())
                note.end()
            }
            survey.takePhoto(Exemplar.photo, PhotoAbout())
            Office.at("http://127.0.0.1:9", "token").use { office ->
                Stopper().use { stopper ->
                    assertEquals(Outcome.OUT_OF_REACH, office.sendPhotos(device, Quiet, stopper).outcome)
                    stopper.stop()
                    assertEquals(Outcome.STOPPED, office.sendPhotos(device, Quiet, stopper).outcome)
                    assertEquals(Outcome.STOPPED, office.watch(survey, Quiet, stopper))
                }
            }
        }
    }

    @Test
    fun `nothing is held once it was let go of`() {
        val none = listOf(0, 0, 0, 0, 0)
        day()
        val before = files()
        assertEquals(none, held())
        repeat(20) { day() }
        assertEquals(none, held())
        // Fewer, when the collector closed what an earlier test left open.
        assertTrue(files() <= before)
    }
}

/** Types a rising number and says each that was acknowledged, until it is killed. */
internal object TypesUntilKilled {
    @JvmStatic
    fun main(args: Array<String>) {
        val survey = Device.open(File(args.single()), Exemplar.ana).createSurvey("Shed")
        println(survey.id())
        for (number in generateSequence(1) { it + 1 }) {
            survey.setNumber("site", "roof.height_ft", number.toDouble())
            println(number)
        }
    }
}
