// Of androidx.work what the sample calls, to compile it against; nothing here runs.
package androidx.work

import android.content.Context
import java.util.concurrent.TimeUnit

public enum class BackoffPolicy { EXPONENTIAL, LINEAR }
public enum class ExistingWorkPolicy { REPLACE, KEEP, APPEND, APPEND_OR_REPLACE }
public enum class NetworkType { NOT_REQUIRED, CONNECTED, UNMETERED, NOT_ROAMING, METERED }

public class Constraints private constructor() {
    public class Builder {
        public fun setRequiredNetworkType(networkType: NetworkType): Builder = also { networkType.name }
        public fun build(): Constraints = Constraints()
    }
}

public class WorkerParameters private constructor()

public abstract class ListenableWorker {
    public val isStopped: Boolean get() = false

    public abstract class Result {
        public companion object {
            @JvmStatic public fun success(): Result = throw NotImplementedError()
            @JvmStatic public fun retry(): Result = throw NotImplementedError()
            @JvmStatic public fun failure(): Result = throw NotImplementedError()
        }
    }
}

public abstract class Worker(context: Context, workerParams: WorkerParameters) : ListenableWorker() {
    public val applicationContext: Context = context.applicationContext.also { workerParams.hashCode() }

    public abstract fun doWork(): Result
}

public class OneTimeWorkRequest private constructor() {
    public class Builder {
        public fun setConstraints(constraints: Constraints): Builder = also { constraints.hashCode() }
        public fun setBackoffCriteria(policy: BackoffPolicy, delay: Long, unit: TimeUnit): Builder =
            also { "$policy $delay $unit" }
        public fun build(): OneTimeWorkRequest = OneTimeWorkRequest()
    }
}

public inline fun <reified W : ListenableWorker> OneTimeWorkRequestBuilder(): OneTimeWorkRequest.Builder =
    OneTimeWorkRequest.Builder().also { W::class.java }

public interface Operation

public abstract class WorkManager {
    public abstract fun enqueueUniqueWork(
        uniqueWorkName: String, existingWorkPolicy: ExistingWorkPolicy, request: OneTimeWorkRequest,
    ): Operation

    public companion object {
        @JvmStatic public fun getInstance(context: Context): WorkManager = throw NotImplementedError("$context")
    }
}
