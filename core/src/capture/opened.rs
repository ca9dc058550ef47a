//! A document that is open, and what was read of it last.
//!
//! A screen asks for the same survey many times between two changes. What was read is kept with
//! the heads it was read at, which name everything that is in the document: no change, whoever
//! made it, can leave it in use.

use crate::document::{ChangeHash, SurveyDoc};
use crate::survey::Survey;
use std::sync::Arc;

/// An open document.
pub(super) struct Opened {
    pub(super) doc: SurveyDoc,
    read: Option<(Vec<ChangeHash>, Arc<Survey>)>,
}

impl Opened {
    pub(super) fn new(doc: SurveyDoc) -> Self {
        Self { doc, read: None }
    }

    /// The survey as it stands.
    pub(super) fn survey(&mut self) -> Arc<Survey> {
        let heads = self.doc.heads();
        match &self.read {
            Some((at, survey)) if *at == heads => Arc::clone(survey),
            _ => {
                let survey = Arc::new(self.doc.survey());
                self.read = Some((heads, Arc::clone(&survey)));
                survey
            }
        }
    }
}
