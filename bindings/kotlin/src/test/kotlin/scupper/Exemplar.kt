package scupper

import com.fasterxml.jackson.databind.JsonNode
import com.fasterxml.jackson.databind.ObjectMapper
import scupper.core.Identity
import java.io.File

/** The exemplar that Rust, Python, Kotlin and Swift read, and helpers to read JSON with. */
internal object Exemplar {
    val ana = Identity(deviceId = "phone-1", author = "ana")

    private val root by lazy { File(System.getProperty("repository.root")) }
    private val folder by lazy { root.resolve("fixtures/exemplar") }

    val survey: String by lazy { folder.resolve("survey.json").readText() }
    val expected: JsonNode by lazy { json(folder.resolve("expected.json").readText()) }
    private val photos by lazy {
        root.resolve("fixtures/bakery/photos").listFiles()!!
            .filter { it.extension == "jpg" }
            .sortedBy { it.name }
    }
    val photo: File get() = photos[0]
    val otherPhoto: File get() = photos[1]

    fun transcript(name: String): String = folder.resolve(name).readText()

    fun json(text: String): JsonNode = ObjectMapper().readTree(text)
}

/** An enum's value as the contracts write it. */
internal val Enum<*>.code: String get() = name.lowercase()

internal fun JsonNode.text(field: String): String? = get(field)?.takeUnless { it.isNull }?.asText()
