//! Writes the Kotlin, Swift and Python sources from the built library.
fn main() {
    uniffi::uniffi_bindgen_main()
}
