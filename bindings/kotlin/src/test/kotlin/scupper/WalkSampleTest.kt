package scupper

import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.io.TempDir
import scupper.core.Identity
import java.io.ByteArrayOutputStream
import java.io.File
import java.io.PrintStream

/** The console sample does what its text says, offline and then against a real server. */
class WalkSampleTest {
    @TempDir
    lateinit var folder: File

    @Test
    fun `the console walk reads back what it hears and sends it`() = OfficeServer(folder.resolve("office")).use { server ->
        val photos = folder.resolve("photos").apply { mkdir() }
        Exemplar.photo.copyTo(photos.resolve("plate.jpg"))
        photos.resolve("list.txt").writeText("not a photo")
        // A colleague enters something once the walk is over, and the console stays until it has come.
        val (ben, bensOffice) = server.enrol("phone-b", "ben")
        val colleague = Device.open(folder.resolve("colleague"), ben)
        val said = "unit two MCA 34\nnotebook right\nThe condenser coil is dirty.\n"
        val printed = ByteArrayOutputStream()
        val (stdin, stdout) = System.`in` to System.out
        try {
            System.setIn(said.byteInputStream())
            System.setOut(
                object : PrintStream(printed, true) {
                    override fun println(line: Any?) {
                        super.println(line)
                        if (line != "staying") return
                        val theirs = colleague.joinSurvey("shed")
                        theirs.setText("site", "address", "Pier 9")
                        bensOffice.exchange(theirs)
                    }
                },
            )
            scupper.walk.main(
                arrayOf(
                    "--store", folder.resolve("store").path, "--photos", photos.path, "--survey", "shed",
                    "--server", server.address, "--code", server.code("ana"), "--stay", "1",
                ),
            )
        } finally {
            System.setIn(stdin)
            System.setOut(stdout)
        }
        val lines = printed.toString().lines()
        for (expected in listOf(
            "says: RTU-2, mca 34",
            "asks: RTU-2: mca 34, right?",
            "right: RTU-2 nameplate.mca_a",
            "says: RTU-2, condenser coil dirty",
            "photo plate.jpg",
            "not taken in: list.txt",
            "missing: RTU-2",
            "sent thumbnail of",
            "sent original of",
            "from the office: 1 new changes",
        )) {
            assertTrue(lines.any { it.startsWith(expected) }, "$expected in $lines")
        }
        val (_, office) = server.enrol("desk", "office")
        val held = Exemplar.json(office.read("/v1/surveys/shed/survey"))
        assertEquals("RTU-2", held["equipment"].single().text("tag"))
        assertEquals(1, held["photos"].size())
        Device.open(folder.resolve("store"), Identity("console-1", "ana")).use { day ->
            assertEquals("Pier 9", Exemplar.json(day.survey("shed").read())["site"].text("address"))
        }
        colleague.close()
    }
}
