package scupper

import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertFalse
import org.junit.jupiter.api.Assertions.assertNotNull
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.assertThrows
import org.junit.jupiter.api.io.TempDir
import scupper.core.HazardKind
import scupper.core.Listing
import scupper.core.NoteEvent
import scupper.core.Part
import scupper.core.PhotoAbout
import scupper.core.Segment
import java.io.File
import java.io.RandomAccessFile
import java.nio.file.Files
import java.nio.file.Path
import java.time.OffsetDateTime

/**
 * A walk over the exemplar's roof through the real library. What core computes is tested in core;
 * here it is the crossing.
 */
class WalkTest {
    @TempDir
    lateinit var folder: File

    private val ana = Exemplar.ana

    private fun <T> onRoof(walk: (Device, Survey) -> T): T = Device.open(folder, ana).use { device ->
        device.joinSurvey("exemplar").use { survey ->
            survey.enterPlan(Exemplar.survey)
            walk(device, survey)
        }
    }

    @Test
    fun `the exemplar is assessed as worked out by hand`() = onRoof { _, survey ->
        val expected = Exemplar.expected["assessment"]
        val assessment = Exemplar.json(survey.assessment())
        val verdicts = assessment["checks"].associate {
            (it.text("rule") to it.text("ref")) to it.text("verdict")
        }
        for (check in expected["checks"]) {
            val asked = check.text("rule") to check.text("ref")
            assertEquals(check.text("verdict"), verdicts[asked], "$check")
        }
        val hazards = survey.hazards().map { Triple(it.kind.code, it.about, it.zone) }
        fun triple(node: com.fasterxml.jackson.databind.JsonNode) =
            Triple(node.text("kind"), node.text("ref"), node.text("zone"))
        for (hazard in expected["hazards"]) assertTrue(triple(hazard) in hazards, "$hazard")
        for (hazard in expected["no_hazards"]) assertFalse(triple(hazard) in hazards, "$hazard")
        val missing = survey.missing().map { it.about to it.field }
        for (gap in expected["missing"]) {
            assertTrue((gap.text("ref") to gap.text("field")) in missing, "$gap")
        }
    }

    @Test
    fun `the transcripts are heard as worked out by hand`() {
        Device.open(folder, ana).use { device ->
            for ((name, expected) in Exemplar.expected["interpretations"].properties()) {
                val survey = device.createSurvey(name)
                val heard = survey.dictateTranscript(Exemplar.transcript(name))
                val facts = heard.facts.map { Triple(it.about, it.field, Exemplar.json(it.value)) }
                for (fact in expected["facts"]) {
                    val found = facts.any { (about, field, value) ->
                        about == fact.text("ref") && field == fact.text("field") &&
                            same(value, fact["value"])
                    }
                    assertTrue(found, "$fact in $facts")
                }
                val findings = heard.findings.map {
                    listOf(it.about, it.component.code, it.condition.code, it.certainty.code)
                }
                for (finding in expected["findings"]) {
                    val asked = listOf("ref", "component", "condition", "certainty").map(finding::text)
                    assertTrue(asked in findings, "$asked in $findings")
                }
            }
        }
    }

    /** 34 and 34.0 are the same value. */
    private fun same(one: com.fasterxml.jackson.databind.JsonNode, other: com.fasterxml.jackson.databind.JsonNode): Boolean =
        if (one.isNumber && other.isNumber) one.asDouble() == other.asDouble() else one == other

    @Test
    fun `an edge warns where the technician stands`() = onRoof { _, survey ->
        val edge = survey.hazards(at = "RTU-2").first { it.kind == HazardKind.UNPROTECTED_EDGE }
        assertNotNull(edge.distanceFt)
        assertTrue(edge.distanceFt!! < 6.0)
        assertFalse(edge.reported)
        assertTrue(edge.caution.isNotEmpty())
        val far = survey.hazards(at = "RTU-1")
        assertTrue(far.none { it.kind == HazardKind.UNPROTECTED_EDGE && it.about == "RTU-2" })
    }

    @Test
    fun `dictation, edits and photos are read back`() = onRoof { device, survey ->
        val heard = survey.dictate(listOf(Segment(text = "RTU one, the condenser coil is dirty.")))
        assertEquals("condenser_coil", heard.findings.first().component.code)
        survey.setNumber("EF-1", "nameplate.mca_a", 12.5)
        survey.setJson("EF-1", "belts", """[{"designation": "A44", "quantity": 1}]""")
        survey.takePhoto(Exemplar.photo, PhotoAbout(about = "RTU-2"))
        val fan = Exemplar.json(survey.read())["equipment"].first { it.text("tag") == "EF-1" }
        assertEquals(12.5, fan["nameplate"]["mca_a"].asDouble())
        assertEquals("A44", fan["belts"][0].text("designation"))
        val parts = generateSequence { device.nextUpload() }.map { upload ->
            assertEquals(upload.length, upload.path.length().toULong())
            device.uploadResult(upload.hash, upload.part, whole = true)
            upload.part
        }.toList()
        assertEquals(listOf(Part.THUMBNAIL, Part.ORIGINAL), parts)
    }

    @Test
    fun `a hands-free note reads back, asks, and takes an answer`() = onRoof { _, survey ->
        survey.beginNote().use { note ->
            val said = mutableListOf<String>()
            note.listen { event ->
                said += when (event) {
                    is NoteEvent.ReadBack -> event.line
                    is NoteEvent.Question -> "${event.about} ${event.field}?"
                    is NoteEvent.Confirmed -> "${event.field} is right"
                    is NoteEvent.ValueSet -> "${event.field} = ${event.value}"
                    is NoteEvent.Drafted, is NoteEvent.Undone, is NoteEvent.Deferred -> "-"
                    is NoteEvent.MarkPhoto -> "photo of ${event.about}"
                    NoteEvent.Done -> "done"
                }
                survey.missing()
                error("a defect of the app")
            }
            for (line in listOf("unit one MCA 23", "notebook right", "notebook mark photo", "notebook done")) {
                note.hear(Segment(text = line))
            }
            note.end()
            assertEquals(
                listOf(
                    "nameplate.mca_a = 23.0", "RTU-1, mca 23", "RTU-1 nameplate.mca_a?",
                    "nameplate.mca_a is right", "photo of RTU-1", "done",
                ),
                said,
            )
        }
    }

    @Test
    fun `lists come in pages`() = onRoof { device, survey ->
        val units = survey.entries(Listing.EQUIPMENT).map { Exemplar.json(it).text("id") }
        val page = survey.entries(Listing.EQUIPMENT, after = units[0], most = 1)
        assertEquals(units.slice(1..1), page.map { Exemplar.json(it).text("id") })
        device.createSurvey("Shed")
        val every = device.surveys()
        assertEquals(setOf("Exemplar workshop", "Shed"), every.map { it.summary.name }.toSet())
        assertEquals(every.drop(1), device.surveys(after = every[0].id))
        assertEquals(survey.missing().slice(1..2), survey.missing(skip = 1, most = 2))
    }

    @Test
    fun `each error says what to do`() = onRoof { device, survey ->
        val before = survey.read()
        assertThrows<ScupperException.BadInput> { survey.setNumber("RTU-2", "nameplate.mca_a", -1.0) }
        assertThrows<ScupperException.NotFound> { device.survey("nowhere") }
        assertThrows<ScupperException.NotOpen> { Device.open(folder, ana) }
        assertThrows<ScupperException.TryAgain> { survey.acceptExchange(byteArrayOf(1, 2, 3)) }
        assertThrows<ScupperException.BadPhoto> {
            survey.takePhoto(File("no/such/file.jpg"), PhotoAbout())
        }
        val error = assertThrows<ScupperException> {
            survey.dictateTranscript("""{"segments": "Ilse"}""")
        }
        assertTrue(error.message!!.length > 10)
        assertFalse("Ilse" in error.message!!)
        assertEquals(before, survey.read())
    }

    private fun overwrite(at: Long, bytes: ByteArray) =
        RandomAccessFile(folder.resolve("scupper.sqlite"), "rw").use { it.seek(at); it.write(bytes) }

    @Test
    fun `a full disk, a newer store and a rotten one are told apart`() {
        onRoof { _, survey ->
            survey.takePhoto(Exemplar.photo, PhotoAbout())
            val hash = Exemplar.json(survey.entries(Listing.PHOTOS).single()).text("hash")
            // Another picture by the same camera, and the kernel's own full device in its place.
            val other = Device.open(folder.resolve("other"), ana).use { device ->
                device.createSurvey("Shed").use {
                    it.takePhoto(Exemplar.otherPhoto, PhotoAbout())
                    Exemplar.json(it.entries(Listing.PHOTOS).single()).text("hash")
                }
            }
            assertTrue(hash != other)
            val incoming = folder.resolve("incoming/new-$other").toPath()
            Files.createSymbolicLink(incoming, Path.of("/dev/full"))
            assertThrows<ScupperException.NoSpace> { survey.takePhoto(Exemplar.otherPhoto, PhotoAbout()) }
            assertEquals(1, survey.entries(Listing.PHOTOS).size)
        }
        // Where SQLite keeps the number of the schema.
        overwrite(60, byteArrayOf(0, 0, 3, 0))
        Device.open(folder, ana).use { device ->
            val survey = device.survey("exemplar")
            assertThrows<ScupperException.UpdateNeeded> { survey.setNumber("EF-1", "nameplate.mca_a", 12.5) }
        }
        overwrite(4096, ByteArray(100) { 0x55 })
        assertThrows<ScupperException.Damaged> { Device.open(folder, ana) }
    }

    @Test
    fun `closing and opening again loses nothing and closes the surveys`() {
        val device = Device.open(folder, ana)
        val survey = device.createSurvey("Shed")
        survey.setText("site", "address", "Pier 9")
        val before = survey.read()
        val id = survey.id()
        device.close()
        assertThrows<ScupperException.NotOpen> { survey.read() }
        Device.open(folder, ana).use { again -> assertEquals(before, again.survey(id).read()) }
    }

    @Test
    fun `the next visit begins from the register`() = onRoof { device, survey ->
        survey.setNumber("EF-1", "nameplate.mca_a", 12.5)
        survey.dictate(listOf(Segment(text = "EF one, the belt is cracked")))
        val visit = device.nextVisit(survey.id())
        val read = Exemplar.json(visit.read())
        assertEquals(survey.id() to visit.id(), read.text("parent") to read.text("survey_id"))
        val fan = read["equipment"].single { it.text("tag") == "EF-1" }
        assertEquals(12.5, fan["nameplate"]["mca_a"].asDouble())
        assertTrue(visit.entries(Listing.FINDINGS).isEmpty())
        assertFalse(survey.entries(Listing.FINDINGS).isEmpty())
    }

    /** With SCUPPER_SEALED=1 the library can encrypt; otherwise it says that it cannot. */
    @Test
    fun `a keyed store opens with its key only`() {
        val key = ByteArray(32) { it.toByte() }
        assertThrows<ScupperException.BadInput> { Device.openKeyed(folder, byteArrayOf(1), ana) }
        if (System.getenv("SCUPPER_SEALED") != "1") {
            val error = assertThrows<ScupperException.NotOpen> { Device.openKeyed(folder, key, ana) }
            assertTrue("without encryption" in error.message!!)
            Device.open(folder, ana).use { assertTrue(it.surveys().isEmpty()) }
            return
        }
        val id = Device.openKeyed(folder, key, ana).use { it.createSurvey("Shed").id() }
        assertThrows<ScupperException.NotOpen> { Device.openKeyed(folder, ByteArray(32), ana) }
        assertThrows<ScupperException.NotOpen> { Device.open(folder, ana) }
        Device.openKeyed(folder, key, ana).use { device ->
            assertEquals("Shed", Exemplar.json(device.survey(id).read())["site"].text("name"))
        }
    }

    @Test
    fun `the app's clock stamps what is entered, and a broken one stops nothing`() {
        val noon = OffsetDateTime.parse("2026-04-14T12:00:00-07:00")
        val clocks = mapOf(
            Clock { noon } to true,
            Clock { throw CallbackException.Failed("stopped") } to false,
            Clock { error("a defect of the app") } to false,
        )
        for ((clock, isNoon) in clocks) {
            Device.open(folder, ana, clock).use { device ->
                val survey = device.createSurvey("Shed")
                assertEquals(isNoon, survey.history("site", "name").single().stamp?.at == noon)
            }
        }
    }
}
