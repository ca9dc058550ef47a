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
import java.io.IOException
import java.util.concurrent.TimeUnit

/**
 * Exchanges the survey and sends the photos when there is a network, over the system's own HTTP; the
 * system starts it again after the app or the phone went down. NOT BUILT where this was written.
 */
class UploadWorker(context: Context, parameters: WorkerParameters) : Worker(context, parameters) {
    private val app = context.applicationContext as SampleApp

    override fun doWork(): Result {
        val office = app.office ?: return Result.success()
        val wire = Wire(office.server, office.token)
        return try {
            wire.exchange(app.survey)
            while (!isStopped) {
                val upload = app.device.nextUpload() ?: return Result.success()
                val whole = wire.send(upload)
                app.device.uploadResult(upload.hash, upload.part, whole)
                if (!whole) return Result.retry()
            }
            Result.retry()
        } catch (_: Wire.EnrolAgain) {
            app.forgetToken()
            Result.failure()
        } catch (_: IOException) {
            Result.retry()
        }
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
