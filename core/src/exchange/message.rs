//! The two messages of an exchange: CBOR, compressed with zstd, limited when unfolded.

use super::error::ExchangeError;
use super::seal::Seal;
use crate::document::{Change, ChangeHash, DocumentError};
use serde::de::{DeserializeOwned, Error as _, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::io::Read;

/// The version of the protocol that this program speaks.
pub const PROTOCOL: u32 = 1;

/// How much goes into one message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of changes after which a message says that there is more.
    pub chunk_bytes: usize,
    /// Most bytes a message may unfold to.
    pub message_bytes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            chunk_bytes: 1 << 20,
            message_bytes: 16 << 20,
        }
    }
}

/// What a device posts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Request {
    /// Newest version that the device speaks.
    pub protocol: u32,
    /// The survey.
    pub survey_id: String,
    /// Heads of what the device last knew both sides to have.
    pub shared: Hashes,
    /// Changes that build on those, parents first, one after another.
    pub changes: Blob,
    /// When it was sent, by the device's clock, in milliseconds since 1970.
    pub sent_at_ms: i64,
    /// The server's word for changes of others that the device gives back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seal: Option<Seal>,
}

/// What became of a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// The changes are kept, and these are the server's.
    Level,
    /// The server does not know the shared heads: say what you have beyond `heads`.
    UnknownHeads,
}

/// What the server answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// The version that this answer is in.
    pub protocol: u32,
    /// The survey.
    pub survey_id: String,
    /// What became of the request.
    pub status: Status,
    /// The server's heads.
    pub heads: Hashes,
    /// Heads of what both sides have before `changes`.
    pub shared: Hashes,
    /// Changes beyond that, parents first, one after another.
    pub changes: Blob,
    /// Whether the server has more than is in `changes`.
    pub more: bool,
    /// The server's word for all that both sides have after `changes`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seal: Option<Seal>,
    /// `sent_at_ms` of the request.
    pub sent_at_ms: i64,
    /// When it was answered, by the server's clock.
    pub answered_at_ms: i64,
    /// Photos whose original the server does not have, as BLAKE3s.
    pub want_originals: Hashes,
    /// Photos whose thumbnail the server does not have.
    pub want_thumbnails: Hashes,
}

impl Request {
    /// The message as sent.
    pub fn encode(&self) -> Result<Vec<u8>, ExchangeError> {
        pack(self)
    }

    /// Reads a message that was sent.
    pub fn decode(bytes: &[u8], limits: Limits) -> Result<Self, ExchangeError> {
        unpack(bytes, limits)
    }
}

impl Answer {
    /// The message as sent.
    pub fn encode(&self) -> Result<Vec<u8>, ExchangeError> {
        pack(self)
    }

    /// Reads a message that was sent.
    pub fn decode(bytes: &[u8], limits: Limits) -> Result<Self, ExchangeError> {
        unpack(bytes, limits)
    }
}

/// zstd level: within a tenth of the best ratio at a phone's price.
const LEVEL: i32 = 9;
/// Largest window a frame may ask for, as a power of two.
const WINDOW_LOG: u32 = 24;

fn pack<T: Serialize>(message: &T) -> Result<Vec<u8>, ExchangeError> {
    let mut plain = Vec::new();
    ciborium::into_writer(message, &mut plain).map_err(unreadable)?;
    zstd::bulk::compress(&plain, LEVEL).map_err(unreadable)
}

fn unpack<T: DeserializeOwned>(bytes: &[u8], limits: Limits) -> Result<T, ExchangeError> {
    let most = limits.message_bytes;
    let mut decoder = zstd::stream::read::Decoder::new(bytes).map_err(unreadable)?;
    decoder.window_log_max(WINDOW_LOG).map_err(unreadable)?;
    let mut plain = Vec::new();
    let taken = decoder.take(most as u64 + 1).read_to_end(&mut plain);
    taken.map_err(unreadable)?;
    if plain.len() > most {
        return Err(ExchangeError::TooLarge { most });
    }
    let mut rest = plain.as_slice();
    let message = ciborium::from_reader(&mut rest).map_err(unreadable)?;
    if rest.is_empty() {
        Ok(message)
    } else {
        Err(unreadable("there is more after its end"))
    }
}

fn unreadable(problem: impl fmt::Display) -> ExchangeError {
    ExchangeError::Unreadable {
        problem: problem.to_string(),
    }
}

/// Bytes, written as a CBOR byte string.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct Blob(pub Vec<u8>);

impl fmt::Debug for Blob {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} bytes", self.0.len())
    }
}

impl Serialize for Blob {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_bytes(&self.0)
    }
}

impl<'de> Deserialize<'de> for Blob {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Bytes;
        impl Visitor<'_> for Bytes {
            type Value = Blob;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a byte string")
            }
            fn visit_bytes<E>(self, bytes: &[u8]) -> Result<Blob, E> {
                Ok(Blob(bytes.to_vec()))
            }
            fn visit_byte_buf<E>(self, bytes: Vec<u8>) -> Result<Blob, E> {
                Ok(Blob(bytes))
            }
        }
        from.deserialize_byte_buf(Bytes)
    }
}

/// Hashes of 32 bytes, written one after another as a CBOR byte string.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Hashes(pub Vec<[u8; 32]>);

impl Hashes {
    /// From heads of a document.
    pub fn of(heads: &[ChangeHash]) -> Self {
        Self(heads.iter().map(|hash| *hash.bytes()).collect())
    }

    /// As heads of a document.
    pub fn heads(&self) -> Vec<ChangeHash> {
        let all = self.0.iter();
        all.filter_map(|bytes| ChangeHash::from_bytes(bytes))
            .collect()
    }

    /// From names of photos; what is no BLAKE3 in hex is passed over.
    pub fn of_hex(names: &[String]) -> Self {
        let parse = |name: &String| blake3::Hash::from_hex(name).ok();
        Self(
            names
                .iter()
                .filter_map(parse)
                .map(|hash| *hash.as_bytes())
                .collect(),
        )
    }

    /// As names of photos, in hex.
    pub fn hex(&self) -> Vec<String> {
        let name = |bytes: &[u8; 32]| blake3::Hash::from_bytes(*bytes).to_hex().to_string();
        self.0.iter().map(name).collect()
    }
}

impl Serialize for Hashes {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_bytes(self.0.as_flattened())
    }
}

impl<'de> Deserialize<'de> for Hashes {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let Blob(bytes) = Blob::deserialize(from)?;
        let (whole, rest) = bytes.as_chunks::<32>();
        if rest.is_empty() {
            Ok(Self(whole.to_vec()))
        } else {
            Err(D::Error::custom("not a whole number of 32-byte hashes"))
        }
    }
}

/// Changes one after another, each behind its length as four bytes, smallest first.
pub(super) fn join(changes: &[Change]) -> Blob {
    let mut bytes = Vec::new();
    for change in changes {
        let length = u32::try_from(change.bytes().len()).unwrap_or(u32::MAX);
        bytes.extend(length.to_le_bytes());
        bytes.extend(change.bytes());
    }
    Blob(bytes)
}

/// The changes that [`join`] put together.
pub(super) fn split(blob: &Blob) -> Result<Vec<Change>, ExchangeError> {
    let mut rest = blob.0.as_slice();
    let mut changes = Vec::new();
    while !rest.is_empty() {
        let cut = rest.split_first_chunk::<4>().and_then(|(length, after)| {
            let length = usize::try_from(u32::from_le_bytes(*length)).ok()?;
            after.split_at_checked(length)
        });
        let Some((bytes, after)) = cut else {
            return Err(unreadable("a change is cut short"));
        };
        changes.push(Change::parse(bytes).map_err(|error: DocumentError| error)?);
        rest = after;
    }
    Ok(changes)
}

/// As many changes, from the first, as fit into a message; at least one.
pub(super) fn fitting(changes: &[Change], chunk_bytes: usize) -> &[Change] {
    let mut total = 0;
    let beyond = changes.iter().position(|change| {
        total += change.bytes().len() + 4;
        total > chunk_bytes
    });
    let count = beyond.unwrap_or(changes.len()).max(1);
    changes.get(..count).unwrap_or(changes)
}
