//! Who made a change, on which device, when: carried in the message of every change.

use chrono::{DateTime, Duration, FixedOffset};
use serde::{Deserialize, Serialize};

/// How a value came about; decides what a later dictation may overwrite.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Means {
    /// Entered or chosen by a person.
    #[default]
    Typed,
    /// Understood from speech, not yet confirmed.
    Dictated,
}

/// Who makes an edit, where and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Stamp {
    /// The person.
    #[serde(rename = "by")]
    pub author: String,
    /// The device.
    #[serde(rename = "on")]
    pub device: String,
    /// When, by the device's clock.
    pub at: DateTime<FixedOffset>,
    /// Server clock minus device clock as last measured; absent before the first exchange.
    #[serde(rename = "off", default, skip_serializing_if = "Option::is_none")]
    pub clock_offset_ms: Option<i64>,
}

impl Stamp {
    /// When, by the server's clock as far as it is known.
    pub fn at_server(&self) -> DateTime<FixedOffset> {
        let offset = Duration::milliseconds(self.clock_offset_ms.unwrap_or(0));
        self.at.checked_add_signed(offset).unwrap_or(self.at)
    }

    pub(super) fn at_ms(&self) -> i64 {
        self.at.timestamp_millis()
    }
}

/// The message of a change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Message {
    #[serde(flatten)]
    pub(super) stamp: Stamp,
    #[serde(rename = "how", default, skip_serializing_if = "is_typed")]
    pub(super) means: Means,
}

fn is_typed(means: &Means) -> bool {
    *means == Means::Typed
}

impl Message {
    pub(super) fn parse(text: Option<&str>) -> Option<Self> {
        serde_json::from_str(text?).ok()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_message_is_pinned_and_both_clocks_are_kept() {
        let message = Message {
            stamp: Stamp {
                author: "tech-1".into(),
                device: "phone-1".into(),
                at: DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap(),
                clock_offset_ms: Some(-90_000),
            },
            means: Means::Dictated,
        };
        let text = serde_json::to_string(&message).unwrap();
        assert_eq!(
            text,
            r#"{"by":"tech-1","on":"phone-1","at":"2026-04-14T08:00:00-05:00","off":-90000,"how":"dictated"}"#
        );
        assert_eq!(Message::parse(Some(&text)).unwrap(), message);
        let server = message.stamp.at_server().to_rfc3339();
        assert_eq!(server, "2026-04-14T07:58:30-05:00");
        assert_eq!(Message::parse(Some("not ours")), None);
    }
}
