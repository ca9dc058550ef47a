//! The phone's door: UniFFI objects over the capture core.
