//! Identity of entries and devices. Time and randomness come from the caller.
//!
//! Entries are named by UUIDv7 (RFC 9562 section 5.7), so that their order is the order of
//! making. An actor, which signs changes, is derived from the device's id: whoever knows the
//! device can check whose change it is.

use uuid::{Builder, Uuid};

/// Hands out identities for new entries.
pub trait Ids {
    /// A fresh identity, made at `at_ms` milliseconds since 1970.
    fn next_id(&mut self, at_ms: i64) -> String;
}

/// Where a maker of UUIDv7s stands. A counter keeps the order of ids made in one millisecond
/// (RFC 9562 section 6.2, method 1), and a clock set back does not reorder them.
#[derive(Debug, Clone, Default)]
pub struct IdClock {
    last_ms: u64,
    count: u16,
}

impl IdClock {
    /// A fresh id, made at `at_ms` milliseconds since 1970 with eight random bytes.
    pub fn next(&mut self, at_ms: i64, random: [u8; 8]) -> String {
        let now = u64::try_from(at_ms).unwrap_or(0);
        if now > self.last_ms {
            (self.last_ms, self.count) = (now, 0);
        } else if self.count == 0x0fff {
            (self.last_ms, self.count) = (self.last_ms + 1, 0);
        } else {
            self.count += 1;
        }
        let [c, d] = self.count.to_be_bytes();
        let [r0, r1, r2, r3, r4, r5, r6, r7] = random;
        let bytes = [c, d, r0, r1, r2, r3, r4, r5, r6, r7];
        let id: Uuid = Builder::from_unix_timestamp_millis(self.last_ms, &bytes).into_uuid();
        id.to_string()
    }
}

/// [`Ids`] from a source of randomness.
pub struct UuidIds<R> {
    random: R,
    clock: IdClock,
}

impl<R: FnMut() -> [u8; 8]> UuidIds<R> {
    /// `random` gives eight fresh random bytes at every call.
    pub fn new(random: R) -> Self {
        Self {
            random,
            clock: IdClock::default(),
        }
    }
}

impl<R: FnMut() -> [u8; 8]> Ids for UuidIds<R> {
    fn next_id(&mut self, at_ms: i64) -> String {
        self.clock.next(at_ms, (self.random)())
    }
}

/// Bytes of an actor that name the device.
const ROOT_LEN: usize = 10;
/// Bytes of an actor that tell one run of the device from another.
pub const INCARNATION_LEN: usize = 6;

/// Who signs changes: a device, in one of its incarnations.
///
/// A device restored from a backup must not sign on from where the backup stood, or two
/// different changes would carry the same number. So every opening of a document for editing
/// takes a fresh incarnation; it appears in the document only when something is edited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Actor([u8; ROOT_LEN + INCARNATION_LEN]);

impl Actor {
    /// The actor of a device; `incarnation` is fresh randomness.
    pub fn of_device(device_id: &str, incarnation: [u8; INCARNATION_LEN]) -> Self {
        let mut bytes = [0; ROOT_LEN + INCARNATION_LEN];
        let (root, tail) = bytes.split_at_mut(ROOT_LEN);
        root.copy_from_slice(&device_root(device_id));
        tail.copy_from_slice(&incarnation);
        Self(bytes)
    }

    /// Whether these actor bytes, from a change, are of this device in any incarnation.
    pub fn is_of_device(actor: &[u8], device_id: &str) -> bool {
        actor.len() == ROOT_LEN + INCARNATION_LEN && actor.starts_with(&device_root(device_id))
    }

    pub(super) fn to_automerge(self) -> automerge::ActorId {
        automerge::ActorId::from(self.0)
    }
}

fn device_root(device_id: &str) -> [u8; ROOT_LEN] {
    let hash = blake3::derive_key("scupper 2026 device of an actor", device_id.as_bytes());
    let mut root = [0; ROOT_LEN];
    for (to, from) in root.iter_mut().zip(hash) {
        *to = from;
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_keep_their_order_whatever_the_clock_does() {
        let mut ids = UuidIds::new(|| [7; 8]);
        let clock = [5_i64, 5, 5, 4, 9, -3, 9].into_iter();
        let made: Vec<String> = clock
            .chain(std::iter::repeat_n(9, 5000))
            .map(|ms| ids.next_id(ms))
            .collect();
        let mut sorted = made.clone();
        sorted.sort();
        sorted.dedup();
        assert_eq!(made, sorted);
        let last = Uuid::parse_str(&made[4]).unwrap_or_default();
        assert_eq!(last.get_version_num(), 7);
        assert_eq!(last.get_timestamp().map(|t| t.to_unix().0), Some(0));
    }

    #[test]
    fn an_actor_names_its_device() {
        let one = Actor::of_device("phone-1", [1; 6]);
        let again = Actor::of_device("phone-1", [2; 6]);
        assert_ne!(one, again);
        for actor in [one, again] {
            assert!(Actor::is_of_device(&actor.0, "phone-1"));
            assert!(!Actor::is_of_device(&actor.0, "phone-2"));
        }
        assert!(!Actor::is_of_device(&one.0[..12], "phone-1"));
    }
}
