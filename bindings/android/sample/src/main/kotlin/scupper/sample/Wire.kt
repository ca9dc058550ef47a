package scupper.sample

import org.json.JSONObject
import scupper.Survey
import scupper.core.Upload
import java.io.IOException
import java.net.HttpURLConnection
import java.net.URL

/** The office over the system's own HTTP: enrol, exchange, send a file. Core says what to send. */
class Wire(private val server: String, private val token: String?) {
    /** The office does not know this phone, or not any more. */
    class EnrolAgain : IOException("Enrol this phone again.")

    /** Answers with `token` and `author`. */
    fun enrol(code: String, deviceId: String, deviceName: String): JSONObject {
        val ask = JSONObject().put("code", code).put("device_id", deviceId).put("device_name", deviceName)
        return JSONObject(post("/v1/enrol", "application/json", ask.toString().toByteArray()).decodeToString())
    }

    fun exchange(survey: Survey) {
        do {
            val path = "/v1/surveys/${survey.id()}/exchange"
            val answer = post(path, "application/octet-stream", survey.prepareExchange())
        } while (survey.acceptExchange(answer).again)
    }

    /** Creates the upload, then sends what the server does not have yet; false when it is to be tried again. */
    fun send(upload: Upload): Boolean {
        val create = call(upload.createPath, "POST")
        upload.headers.forEach { create.setRequestProperty(it.name, it.value) }
        create.doOutput = true
        create.setFixedLengthStreamingMode(0)
        create.outputStream.close()
        if (create.responseCode !in 200..299) return false
        if (create.getHeaderField("upload-complete") == "?1") return true
        val place = create.getHeaderField("location") ?: return false
        val offset = create.getHeaderField("upload-offset")?.toLong() ?: 0

        // Android's HttpURLConnection knows PATCH; that of a desktop's JDK does not.
        val append = call(place, "PATCH")
        append.setRequestProperty("content-type", "application/partial-upload")
        append.setRequestProperty("upload-offset", "$offset")
        append.setRequestProperty("upload-complete", "?1")
        append.doOutput = true
        append.setFixedLengthStreamingMode(upload.path.length() - offset)
        upload.path.inputStream().use { file ->
            file.channel.position(offset)
            append.outputStream.use { file.copyTo(it) }
        }
        return append.responseCode in 200..299
    }

    private fun post(path: String, kind: String, bytes: ByteArray): ByteArray {
        val call = call(path, "POST")
        call.setRequestProperty("content-type", kind)
        call.doOutput = true
        call.outputStream.use { it.write(bytes) }
        val status = call.responseCode
        if (status == 401 && token != null) throw EnrolAgain()
        if (status in 200..299) return call.inputStream.use { it.readBytes() }
        val told = call.errorStream?.use { it.readBytes().decodeToString() }.orEmpty()
        throw IOException(runCatching { JSONObject(told).getString("detail") }.getOrDefault("The office answered $status."))
    }

    private fun call(path: String, method: String) = (URL(server + path).openConnection() as HttpURLConnection).apply {
        requestMethod = method
        connectTimeout = 10_000
        readTimeout = 120_000
        token?.let { setRequestProperty("authorization", "Bearer $it") }
    }
}
