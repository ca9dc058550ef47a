package scupper.walk

import scupper.Device
import scupper.Moved
import scupper.Office
import scupper.ScupperException
import scupper.Stopper
import scupper.Survey
import scupper.core.Header
import scupper.core.Identity
import scupper.core.NoteEvent
import scupper.core.PhotoAbout
import scupper.core.Segment
import scupper.core.Upload
import scupper.enrol
import java.io.File
import java.net.URI
import java.net.http.HttpClient
import java.net.http.HttpRequest
import java.net.http.HttpRequest.BodyPublishers
import java.net.http.HttpResponse
import java.net.http.HttpResponse.BodyHandlers
import kotlin.system.exitProcess

/**
 * A whole walk on the console: each line of stdin is what a recogniser heard, and what the note has to
 * say to it is printed as it would be spoken back. Photos of a folder are taken in at the end, hazards
 * and gaps are listed, and if a server is given the survey is exchanged and the photos are sent. With
 * `--stay` it then takes in what others enter, until so many changes came.
 */
fun main(args: Array<String>) {
    val options = args.toList().chunked(2).associate { it.first() to it.getOrNull(1) }
    val store = File(options["--store"] ?: usage())
    val device = options["--device"] ?: "console-1"
    try {
        val server = options["--server"]
        val enrolled = server?.let { enrol(it, options["--code"] ?: usage(), device, "Console") }
        val identity = Identity(device, enrolled?.author ?: options["--author"] ?: "console")
        Device.open(store, identity).use { day ->
            val survey = options["--survey"]?.let(day::joinSurvey)
                ?: day.createSurvey(options["--site"] ?: "Console walk")
            println("survey ${survey.id()}")
            speak(survey)
            options["--photos"]?.let { takePhotos(survey, File(it)) }
            survey.hazards().forEach { println("hazard: ${it.about ?: "somewhere"}: ${it.because}") }
            survey.missing().forEach { println("missing: ${it.about} ${it.field}: ${it.why}") }
            if (enrolled != null) {
                Wire(server, enrolled.token).level(day, survey)
                options["--stay"]?.toIntOrNull()?.let { stay(Office.at(server, enrolled.token), survey, it) }
            }
        }
    } catch (problem: ScupperException) {
        System.err.println("walk: ${problem.message}")
        exitProcess(2)
    }
}

private fun usage(): Nothing {
    System.err.println(
        "walk --store DIR [--device ID] [--author ID] [--survey ID | --site NAME] " +
            "[--photos DIR] [--server URL --code CODE [--stay CHANGES]]",
    )
    exitProcess(2)
}

/** One note for the whole walk, so that "the condenser coil" is the unit's that was named before. */
private fun speak(survey: Survey) = survey.beginNote().use { note ->
    note.listen { event ->
        when (event) {
            is NoteEvent.ReadBack -> println("says: ${event.line}")
            is NoteEvent.Question -> println("asks: ${event.text}")
            is NoteEvent.Confirmed -> println("right: ${event.about} ${event.field}")
            is NoteEvent.MarkPhoto -> println("photo wanted of ${event.about ?: "this"}")
            else -> Unit
        }
    }
    generateSequence(::readlnOrNull).filter(String::isNotBlank).forEach { note.hear(Segment(text = it)) }
    note.end()
}

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

/** Waits for word from the office, over lost connections too, and exchanges at each. */
private fun stay(office: Office, survey: Survey, changes: Int) = Stopper().use { stopper ->
    var left = changes
    println("staying")
    office.watch(
        survey,
        { _, what ->
            if (what == Moved.SURVEY && left > 0) {
                val came = office.exchange(survey).newChanges
                if (came > 0) println("from the office: $came new changes")
                left -= came
                if (left <= 0) stopper.stop()
            }
        },
        stopper,
    )
}

/** The office over the platform's own HTTP, as a phone does it: core says what to send. */
private class Wire(server: String, private val token: String) {
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
