package scupper.bench

import scupper.Device
import scupper.Survey
import scupper.core.Identity
import scupper.core.Listing
import scupper.core.Segment
import java.io.File
import java.lang.management.ManagementFactory

/**
 * The calls of `bindings/examples/door_speed.rs` through JNA: `name microseconds`, medians. Run once
 * with a folder that is empty it fills a store there; run again it measures, and says how long it
 * was from the start of the JVM to the first list. `bindings/bench` does both.
 */
fun main(args: Array<String>) {
    val store = File(args[1])
    val me = Identity(deviceId = "phone-1", author = "ana")
    if (!store.exists()) return fill(store, me, File(args[0]).resolve("fixtures/bakery"))

    lateinit var device: Device
    lateinit var survey: Survey
    time("first_list", 1) { device = Device.open(store, me); device.surveys() }
    val sinceStart = System.currentTimeMillis() - ManagementFactory.getRuntimeMXBean().startTime
    println("cold_start ${sinceStart * 1000}")
    time("survey", 1) { survey = device.survey("bakery") }
    time("id", 2000) { survey.id() }
    time("surveys", 200) { device.surveys() }
    time("missing", 100) { survey.missing() }
    time("hazards", 100) { survey.hazards() }
    time("hazards_at", 100) { survey.hazards(at = "RTU-1") }
    time("arrive", 100) { survey.arriveAtUnit("RTU-1") }
    time("entries", 100) { survey.entries(Listing.EQUIPMENT, most = 20) }
    time("read", 50) { survey.read() }
    time("assessment", 50) { survey.assessment() }
    time("conflicts", 50) { survey.conflicts() }
    time("next_upload", 100) { device.nextUpload() }
    time("uploads_waiting", 100) { device.uploadsWaiting() }
    var number = 0.0
    time("set_number", 100) { survey.setNumber("RTU-1", "airflow_cfm", ++number) }
    val note = survey.beginNote()
    var word = 0
    time("hear", 100) {
        word += 1
        note.hear(Segment(text = "filter is a twenty by twenty five by ${word % 4 + 1}"))
    }
    time("end", 1) { note.end() }
    device.close()
}

private fun fill(store: File, me: Identity, fixtures: File) = Device.open(store, me).use { device ->
    val survey = device.joinSurvey("bakery")
    survey.enterPlan(fixtures.resolve("plan.json").readText())
    fixtures.resolve("notes").listFiles()!!.sorted().forEach { survey.dictateTranscript(it.readText()) }
}

private fun time(name: String, times: Int, call: () -> Unit) {
    val took = (1..times).map {
        val began = System.nanoTime()
        call()
        (System.nanoTime() - began) / 1e3
    }
    println("$name %.1f".format(took.sorted()[times / 2]))
}
