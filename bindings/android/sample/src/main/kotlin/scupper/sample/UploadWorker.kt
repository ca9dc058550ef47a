package scupper.sample

import android.content.Context
import androidx.work.BackoffPolicy
import androidx.work.Constraints
import androidx.work.ExistingWorkPolicy
import androidx.work.NetworkType
import androidx.work.OneTimeWorkRequestBuilder
import androidx.work.WorkManager
import androidx.work.Worker
import androidx.work.WorkerParameters
import scupper.core.Upload
import java.io.IOException
import java.net.HttpURLConnection
import java.net.URL
import java.util.concurrent.TimeUnit

/**
 * Exchanges the survey and sends the photos when there is a network, over the system's own HTTP; the
 * system starts it again after the app or the phone went down. NOT BUILT where this was written.
 */
class UploadWorker(context: Context, parameters: WorkerParameters) : Worker(context, parameters) {
    private val app = context.applicationContext as SampleApp

    override fun doWork(): Result {
        val (server, token) = app.office ?: return Result.success()
        return try {
            exchange(server, token)
            while (!isStopped) {
                val upload = app.device.nextUpload() ?: return Result.success()
                val whole = send(server, token, upload)
                app.device.uploadResult(upload.hash, upload.part, whole)
                if (!whole) return Result.retry()
            }
            Result.retry()
        } catch (_: IOException) {
            Result.retry()
        }
    }

    private fun exchange(server: String, token: String) {
        do {
            val call = call("$server/v1/surveys/${app.survey.id()}/exchange", "POST", token)
            call.setRequestProperty("content-type", "application/octet-stream")
            call.doOutput = true
            call.outputStream.use { it.write(app.survey.prepareExchange()) }
            val answer = call.inputStream.use { it.readBytes() }
        } while (app.survey.acceptExchange(answer).again)
    }

    /** Creates the upload, then sends what the server does not have yet. */
    private fun send(server: String, token: String, upload: Upload): Boolean {
        val create = call(server + upload.createPath, "POST", token)
        upload.headers.forEach { create.setRequestProperty(it.name, it.value) }
        create.doOutput = true
        create.setFixedLengthStreamingMode(0)
        create.outputStream.close()
        if (create.responseCode !in 200..299) return false
        if (create.getHeaderField("upload-complete") == "?1") return true
        val place = create.getHeaderField("location") ?: return false
        val offset = create.getHeaderField("upload-offset")?.toLong() ?: 0

        // Android's HttpURLConnection knows PATCH; that of a desktop's JDK does not.
        val append = call(server + place, "PATCH", token)
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

    private fun call(url: String, method: String, token: String) =
        (URL(url).openConnection() as HttpURLConnection).apply {
            requestMethod = method
            connectTimeout = 10_000
            readTimeout = 120_000
            setRequestProperty("authorization", "Bearer $token")
        }

    companion object {
        /** Asks for one run as soon as there is a network; one that is waiting stays. */
        fun soon(context: Context) {
            val network = Constraints.Builder().setRequiredNetworkType(NetworkType.CONNECTED).build()
            val request = OneTimeWorkRequestBuilder<UploadWorker>()
                .setConstraints(network)
                .setBackoffCriteria(BackoffPolicy.EXPONENTIAL, 30, TimeUnit.SECONDS)
                .build()
            WorkManager.getInstance(context)
                .enqueueUniqueWork("upload", ExistingWorkPolicy.KEEP, request)
        }
    }
}
