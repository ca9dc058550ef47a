package scupper.sample

import android.app.Activity
import android.content.Intent
import android.os.Bundle
import android.widget.Button
import android.widget.EditText
import android.widget.LinearLayout
import android.widget.TextView
import java.io.IOException

/**
 * Once, before anything is entered: the office's address and a one-time code, as the office gives them.
 * An invitation, `SERVER/enrol#CODE`, may be pasted as the address. NOT BUILT where this was written.
 */
class EnrolActivity : Activity() {
    private val app get() = application as SampleApp

    override fun onCreate(state: Bundle?) {
        super.onCreate(state)
        val address = EditText(this).apply { hint = "Address of the office" }
        val code = EditText(this).apply { hint = "One-time code" }
        val told = TextView(this)
        val enrol = Button(this).apply { text = "Enrol this phone" }
        enrol.setOnClickListener {
            enrol.isEnabled = false
            val (server, invited) = address.text.split("/enrol#", limit = 2).let { it[0] to it.getOrNull(1) }
            val typed = invited ?: code.text.toString()
            app.work.execute {
                val problem = try {
                    app.enrol(server, typed)
                    null
                } catch (problem: IOException) {
                    problem.message ?: "The office cannot be reached."
                }
                runOnUiThread {
                    told.text = problem.orEmpty()
                    enrol.isEnabled = true
                    if (problem == null) walk()
                }
            }
        }
        setContentView(
            LinearLayout(this).apply {
                orientation = LinearLayout.VERTICAL
                listOf(address, code, enrol, told).forEach(::addView)
            },
        )
    }

    private fun walk() {
        startActivity(Intent(this, WalkActivity::class.java))
        finish()
    }
}
