package scupper

import scupper.core.Identity
import java.io.File

/** The office as a process of its own: `scupper serve` on a free port of this machine. */
internal class OfficeServer(private val data: File) : AutoCloseable {
    private val process = ProcessBuilder(
        command, "serve", "--listen", "127.0.0.1:0", "--data", data.path,
    ).redirectError(ProcessBuilder.Redirect.DISCARD).start()

    val address: String = process.inputStream.bufferedReader().readLine().substringBefore("/sign-in/")

    /** A one-time code from the command line. */
    fun code(name: String): String {
        val admit = ProcessBuilder(command, "admit", "technician", name, "--data", data.path).start()
        return admit.inputStream.bufferedReader().readText().trim()
    }

    fun enrol(deviceId: String, name: String): Pair<Identity, Office> {
        val made = enrol(address, code(name), deviceId, "Phone of $name")
        return Identity(deviceId, made.author) to Office.at(address, made.token)
    }

    override fun close() {
        process.destroyForcibly().waitFor()
    }

    private companion object {
        val command: String = File(System.getProperty("native.library")).resolve("scupper").path
    }
}
