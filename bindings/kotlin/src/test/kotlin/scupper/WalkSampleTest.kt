package scupper

import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.io.TempDir
import java.io.ByteArrayOutputStream
import java.io.File
import java.io.PrintStream

/** The console sample does what its text says: reads back, takes photos, lists what is missing. */
class WalkSampleTest {
    @TempDir
    lateinit var folder: File

    @Test
    fun `the console walk reads back what it hears`() {
        val photos = folder.resolve("photos").apply { mkdir() }
        Exemplar.photo.copyTo(photos.resolve("plate.jpg"))
        photos.resolve("list.txt").writeText("not a photo")
        val said = "Package unit two, MCA 34.\nThe condenser coil is dirty.\n"
        val printed = ByteArrayOutputStream()
        val (stdin, stdout) = System.`in` to System.out
        try {
            System.setIn(said.byteInputStream())
            System.setOut(PrintStream(printed, true))
            val store = folder.resolve("store").path
            scupper.walk.main(arrayOf("--store", store, "--photos", photos.path))
        } finally {
            System.setIn(stdin)
            System.setOut(stdout)
        }
        val lines = printed.toString().lines()
        for (expected in listOf(
            "heard: RTU-2 nameplate.mca_a 34",
            "photo plate.jpg",
            "not taken in: list.txt",
            "missing: RTU-2",
        )) {
            assertTrue(lines.any { it.startsWith(expected) }, "$expected in $lines")
        }
        assertTrue(lines.any { "condenser coil dirty" in it }, "$lines")
    }
}
