package scupper

import org.junit.jupiter.api.Assertions.assertEquals
import org.junit.jupiter.api.Test
import org.junit.jupiter.api.io.TempDir
import scupper.core.EquipmentKind
import scupper.core.Identity
import java.io.File
import java.util.concurrent.Callable
import java.util.concurrent.Executors

/** Eight threads type into one survey at once; every edit that returned is kept, in its order. */
class ThreadsTest {
    @TempDir
    lateinit var folder: File

    private val ben = Identity(deviceId = "phone-2", author = "ben")

    @Test
    fun `what eight threads enter at once is all there`() {
        val threads = 8
        val edits = System.getProperty("scupper.edits").toInt() / threads
        Device.open(folder, ben).use { device ->
            val survey = device.createSurvey("Shed")
            val started = System.nanoTime()
            val pool = Executors.newFixedThreadPool(threads)
            val work = (1..threads).map { number ->
                Callable {
                    survey.addUnit("EF-$number", EquipmentKind.EXHAUST_FAN)
                    for (edit in 1..edits) {
                        survey.setNumber("EF-$number", "airflow_cfm", edit.toDouble())
                    }
                }
            }
            for (done in pool.invokeAll(work)) done.get()
            pool.shutdown()
            val each = (System.nanoTime() - started) / 1e6 / (threads * edits)
            println("Kotlin: $threads threads made ${threads * edits} edits, %.1f ms each".format(each))
        }
        Device.open(folder, ben).use { device ->
            val survey = device.survey(device.surveys().single().id)
            for (number in 1..threads) {
                val steps = Exemplar.json(survey.history("EF-$number", "airflow_cfm"))
                assertEquals((1..edits).toList(), steps.map { it["value"].asInt() })
            }
        }
    }
}
