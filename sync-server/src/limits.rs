//! Every limit the server keeps, in one place. Plain numbers; nothing here acts.

use std::time::Duration;

/// What a server takes in, at most. All sizes in bytes.
#[derive(Debug, Clone)]
pub struct Limits {
    /// Body of a JSON request or a form.
    pub small_body: usize,
    /// Body of an exchange, as it comes over the wire.
    pub exchange_body: usize,
    /// One photo, thumbnail or original.
    pub photo: u64,
    /// What one survey's document may take on the disk before nothing more is taken into it.
    pub document: u64,
    /// All photos of one contractor: originals, thumbnails, and uploads under way.
    pub contractor_photos: u64,
    /// Exchange messages worked on at once; more wait their turn.
    pub exchanges_at_once: usize,
    /// How long an enrolment code or sign-in link is good.
    pub code_life: Duration,
    /// How long a reviewer stays signed in.
    pub session_life: Duration,
    /// Tries to enrol or sign in per minute and address.
    pub tries_per_minute: u32,
    /// Other requests per minute and caller.
    pub requests_per_minute: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            small_body: 256 << 10,
            exchange_body: 16 << 20,
            photo: 64 << 20,
            document: 64 << 20,
            contractor_photos: 200 << 30,
            exchanges_at_once: 8,
            code_life: Duration::from_secs(15 * 60),
            session_life: Duration::from_secs(12 * 3600),
            tries_per_minute: 10,
            requests_per_minute: 3000,
        }
    }
}
