// The AAR and a sample app over it. `build-aar` builds the native part first.
pluginManagement {
    repositories {
        google()
        mavenCentral()
        gradlePluginPortal()
    }
}
dependencyResolutionManagement {
    repositories {
        google()
        mavenCentral()
    }
}
rootProject.name = "scupper-android"
include(":library", ":sample")
