// Of androidx.core what the sample calls, to compile it against; nothing here runs.
package androidx.core.content

import android.content.BroadcastReceiver
import android.content.Context
import android.content.Intent
import android.content.IntentFilter
import android.net.Uri
import java.io.File

public object ContextCompat {
    public const val RECEIVER_NOT_EXPORTED: Int = 4

    @JvmStatic
    public fun registerReceiver(
        context: Context, receiver: BroadcastReceiver?, filter: IntentFilter, flags: Int,
    ): Intent? = throw NotImplementedError("$context $receiver $filter $flags")
}

public object FileProvider {
    @JvmStatic
    public fun getUriForFile(context: Context, authority: String, file: File): Uri =
        throw NotImplementedError("$context $authority $file")
}
