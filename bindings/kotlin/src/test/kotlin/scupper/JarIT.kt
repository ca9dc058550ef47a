package scupper

import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Assertions.assertNull
import org.junit.jupiter.api.Assertions.assertTrue
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.io.TempDir
import scupper.core.Identity
import scupper.core.Segment
import java.io.File

/** The packed jar as somebody else's program has it: the library comes out of it. Run by `mvn verify`. */
class JarIT {
    @TempDir
    lateinit var folder: File

    @Test
    fun `the jar brings its own library`() {
        assertNull(System.getProperty("jna.library.path"))
        val classes = Device::class.java.protectionDomain.codeSource.location
        assertTrue(classes.path.endsWith(".jar"), "$classes")
        val library = "${com.sun.jna.Platform.RESOURCE_PREFIX}/${System.mapLibraryName("scupper")}"
        val packed = checkNotNull(Device::class.java.classLoader.getResource(library)) { library }
        assertTrue(packed.toString().startsWith("jar:$classes"), "$packed")
        Device.open(folder, Identity("phone-1", "ana")).use { device ->
            val heard = device.createSurvey("Shed").dictate(listOf(Segment(text = "EF two, the belt is cracked")))
            assertEquals("EF-2", heard.findings.single().about)
        }
    }
}
