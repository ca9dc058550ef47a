package scupper.walk

import scupper.Device
import scupper.ScupperException
import scupper.Survey
import scupper.core.Header
import scupper.core.Identity
import scupper.core.Interpretation
import scupper.core.PhotoAbout
import scupper.core.Segment
import scupper.core.Upload
import java.io.File
import java.net.URI
import java.net.http.HttpClient
import java.net.http.HttpRequest
import java.net.http.HttpRequest.BodyPublishers
import java.net.http.HttpResponse
import java.net.http.HttpResponse.BodyHandlers
import kotlin.system.exitProcess

/**
 * A whole walk on the console: each line of stdin is what a recogniser heard, and what is new in
 * the note is printed as it would be read back. Photos of a folder are taken in at the end, hazards
 * and gaps are listed, and if a server is given the survey is exchanged and the photos are sent.
 */
fun main(args: Array<String>) {
    val options = args.toList().chunked(2).associate { it.first() to it.getOrNull(1) }
    val store = options["--store"] ?: usage()
    val identity = Identity(
        deviceId = options["--device"] ?: "console-1",
        author = options["--author"] ?: "console",
    )
    try {
        Device.open(File(store), identity).use { device ->
            val survey = options["--survey"]?.let(device::joinSurvey)
                ?: device.createSurvey(options["--site"] ?: "Console walk")
            println("survey ${survey.id()}")
            speak(survey)
            options["--photos"]?.let { takePhotos(survey, File(it)) }
            survey.hazards().forEach { println("hazard: ${it.about ?: "somewhere"}: ${it.because}") }
            survey.missing().forEach { println("missing: ${it.about} ${it.field}: ${it.why}") }
            val server = options["--server"]
            val token = options["--token"]
            if (server != null && token != null) Office(server, token).level(device, survey)
        }
    } catch (problem: ScupperException) {
        System.err.println("walk: ${problem.message}")
        exitProcess(2)
    }
}

private fun usage(): Nothing {
    System.err.println(
        "walk --store DIR [--device ID] [--author ID] [--survey ID | --site NAME] " +
            "[--photos DIR] [--server URL --token TOKEN]",
    )
    exitProcess(2)
}

/** One note for the whole walk, so that "the condenser coil" is the unit's that was named before. */
private fun speak(survey: Survey) {
    val lines = generateSequence(::readlnOrNull).filter(String::isNotBlank)
    survey.beginNote().use { note ->
        val said = mutableSetOf<String>()
        for (line in lines) {
            readBack(note.hear(Segment(text = line))).filter(said::add).forEach(::println)
        }
        note.end()
    }
}

private fun readBack(heard: Interpretation): List<String> =
    heard.facts.map { "heard: ${it.about} ${it.field} ${it.value}" } +
        heard.findings.map { "heard: ${it.about} ${words(it.component)} ${words(it.condition)}" } +
        heard.hazards.map { "heard a danger: ${words(it.kind)}" } +
        heard.followUps.map { "to come back for: ${it.about} ${it.what}" }

private fun words(code: Enum<*>): String = code.name.lowercase().replace('_', ' ')

private fun takePhotos(survey: Survey, folder: File) {
    for (file in folder.listFiles().orEmpty().sorted()) {
        try {
            survey.takePhoto(file, PhotoAbout(caption = file.nameWithoutExtension))
            println("photo ${file.name}")
        } catch (problem: ScupperException.BadPhoto) {
            println("not taken in: ${file.name}: ${problem.message}")
        }
    }
}

/** The office over plain HTTP: core says what to send, the platform sends it. */
private class Office(server: String, private val token: String) {
    private val base = server.trimEnd('/')
    private val http = HttpClient.newHttpClient()

    fun level(device: Device, survey: Survey) {
        do {
            val post = request("/v1/surveys/${survey.id()}/exchange")
                .header("content-type", "application/octet-stream")
                .POST(BodyPublishers.ofByteArray(survey.prepareExchange()))
            val done = survey.acceptExchange(send(post).body())
            println("exchanged: ${done.newChanges} new changes")
        } while (done.again)
        var tries = 0
        while (tries < 3) {
            val upload = device.nextUpload() ?: break
            val whole = send(upload)
            if (!whole) tries += 1
            device.uploadResult(upload.hash, upload.part, whole)
        }
    }

    /** Creates the upload, then sends what the server does not have yet. */
    private fun send(upload: Upload): Boolean {
        val created = send(upload.headers.fold(request(upload.createPath)) { begun, header: Header ->
            begun.header(header.name, header.value)
        }.POST(BodyPublishers.noBody()))
        if (created.header("upload-complete") == "?1") return true
        val place = created.header("location") ?: return false
        val offset = created.header("upload-offset")?.toLong() ?: 0
        val rest = upload.path.inputStream().use { it.skipNBytes(offset); it.readAllBytes() }
        val sent = send(
            request(place)
                .header("content-type", "application/partial-upload")
                .header("upload-offset", "$offset")
                .header("upload-complete", "?1")
                .method("PATCH", BodyPublishers.ofByteArray(rest)),
        )
        println("sent ${upload.part.name.lowercase()} of ${upload.hash.take(8)}, ${rest.size} bytes")
        return sent.statusCode() in 200..299
    }

    private fun request(path: String) =
        HttpRequest.newBuilder(URI.create(base + path)).header("authorization", "Bearer $token")

    private fun send(request: HttpRequest.Builder): HttpResponse<ByteArray> {
        val answer = http.send(request.build(), BodyHandlers.ofByteArray())
        check(answer.statusCode() in 200..299) {
            "the server answered ${answer.statusCode()}: ${answer.body().decodeToString().take(200)}"
        }
        return answer
    }

    private fun HttpResponse<*>.header(name: String): String? = headers().firstValue(name).orElse(null)
}
