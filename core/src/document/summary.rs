//! What a list shows of a survey, read from its document at the cost of a few fields.

use super::doc::SurveyDoc;
use super::schema::Table;
use super::stamp::{Message, Stamp};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// A survey in a list. Derived from the document, never edited.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Summary {
    /// Name of the site; empty as long as it has none.
    pub name: String,
    /// Its address.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// When the last change was made, by the server's clock as far as its device knew it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed_at: Option<DateTime<FixedOffset>>,
    /// Who made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changed_by: Option<String>,
}

impl SurveyDoc {
    /// What a list shows of this survey.
    pub fn summary(&self) -> Summary {
        let site = self.only(Table::Site);
        let text = |field: &str| site.and_then(|site| site.text(field));
        let last = self.last_stamp();
        Summary {
            name: text("name").unwrap_or_default().to_owned(),
            address: text("address").map(str::to_owned),
            changed_at: last.as_ref().map(Stamp::at_server),
            changed_by: last.map(|stamp| stamp.author),
        }
    }

    /// The latest stamp among the changes that nothing builds on yet.
    fn last_stamp(&self) -> Option<Stamp> {
        let heads = self.am.get_heads().into_iter();
        let stamps = heads.filter_map(|head| {
            let meta = self.am.get_change_meta_by_hash(&head)?;
            Some(Message::parse(meta.message.as_deref())?.stamp)
        });
        stamps.max_by_key(Stamp::at_server)
    }
}
