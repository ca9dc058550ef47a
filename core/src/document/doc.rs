//! The survey document itself: making, loading, saving, and taking in changes from elsewhere.
//!
//! The first change of a survey is the same bytes on every device that knows the survey's id,
//! so two devices can begin the same survey apart, and changes of another survey can never be
//! applied: what they build on is not there.

use super::change::{Change, ChangeHash};
use super::error::DocumentError;
use super::guard;
use super::held::Held;
use super::ids::Actor;
use super::schema::{MAIN_ROOF, Table};
use super::units::Units;
use super::view::Tables;
use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, ObjType, ROOT, ReadDoc};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

/// Changes are applied in batches of this many, which bounds the memory one apply takes.
const BATCH: usize = 512;

/// One survey that any number of people edit, and that always merges.
pub struct SurveyDoc {
    pub(super) am: Automerge,
    pub(super) tables: Tables,
    /// Which entries make up which unit, as long as no edit changes that and nothing more is held.
    index: OnceLock<Arc<Units>>,
    pub(super) held: Held,
    survey_id: String,
    /// Highest change number of each actor.
    seqs: BTreeMap<Vec<u8>, u64>,
}

impl std::fmt::Debug for SurveyDoc {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "SurveyDoc({})", self.survey_id)
    }
}

impl SurveyDoc {
    /// The empty survey with this id. Every device makes the same one.
    pub fn create(survey_id: &str, actor: Actor) -> Result<Self, DocumentError> {
        if survey_id.is_empty() {
            return Err(DocumentError::NotAllowed {
                about: "survey".to_owned(),
                problem: "its id is empty; give it one, such as a UUID".to_owned(),
            });
        }
        let (mut am, first) = first_change(survey_id)?;
        am.set_actor(actor.to_automerge());
        Self::wrap(am, survey_id, first)
    }

    /// Reads a document from what was saved of it: a snapshot from [`SurveyDoc::save`] and the
    /// bytes of changes after it, in order. Where the snapshot or changes are missing, those
    /// that build on them wait; see [`SurveyDoc::waiting`].
    ///
    /// # Errors
    /// [`DocumentError::Unreadable`] if a chunk is not what was saved, or of another survey.
    pub fn load(survey_id: &str, chunks: &[Vec<u8>], actor: Actor) -> Result<Self, DocumentError> {
        let unreadable = |problem: String| DocumentError::Unreadable {
            what: "survey document",
            problem,
        };
        let whole = chunks.concat();
        let (mut begun, first) = first_change(survey_id)?;
        let am = match guard(|| Automerge::load(&whole)) {
            Some(Ok(am)) if am.get_change_meta_by_hash(&first).is_some() => am,
            // The beginning is missing: begin anew, every device can, and let the rest wait.
            Some(_) => {
                guard(|| begun.load_incremental(&whole))
                    .ok_or_else(|| unreadable("malformed".to_owned()))?
                    .map_err(|error| unreadable(error.to_string()))?;
                begun
            }
            None => return Err(unreadable("malformed".to_owned())),
        };
        Self::wrap(am.with_actor(actor.to_automerge()), survey_id, first)
    }

    /// Whether changes are held that build on others which are not here. An exchange from
    /// nothing fetches those.
    pub fn waiting(&self) -> bool {
        !self.am.get_missing_deps(&[]).is_empty()
    }

    fn wrap(
        am: Automerge,
        survey_id: &str,
        first: automerge::ChangeHash,
    ) -> Result<Self, DocumentError> {
        let tables = Tables::find(&am, first).ok_or_else(|| DocumentError::Unreadable {
            what: "survey document",
            problem: "it does not begin as a survey".to_owned(),
        })?;
        Ok(Self {
            seqs: last_numbers(&am),
            am,
            tables,
            index: OnceLock::new(),
            held: Held::nothing(),
            survey_id: survey_id.to_owned(),
        })
    }

    /// Identity of the survey.
    pub fn survey_id(&self) -> &str {
        &self.survey_id
    }

    /// Signs the edits that follow as this actor: a server that makes them for a device which has
    /// no document of its own.
    pub fn sign_as(&mut self, actor: Actor) {
        self.am.set_actor(actor.to_automerge());
    }

    /// The whole document as bytes; [`SurveyDoc::load`] reads them back.
    pub fn save(&self) -> Vec<u8> {
        self.am.save()
    }

    /// The changes that nothing builds on yet, in order. They name the whole history.
    pub fn heads(&self) -> Vec<ChangeHash> {
        let heads = self.am.get_heads();
        heads.into_iter().map(|hash| ChangeHash(hash.0)).collect()
    }

    /// Whether this change is part of the document.
    pub fn has(&self, hash: &ChangeHash) -> bool {
        let hash = hash.to_automerge();
        self.am.get_change_meta_by_hash(&hash).is_some()
    }

    /// How many changes the document holds.
    pub fn change_count(&self) -> u64 {
        self.am.stats().num_changes
    }

    /// The changes that are not behind `known`, parents first; none if a head of `known` is not
    /// in this document.
    pub fn changes_since(&self, known: &[ChangeHash]) -> Option<Vec<Change>> {
        if !known.iter().all(|hash| self.has(hash)) {
            return None;
        }
        let known: Vec<_> = known.iter().map(|hash| hash.to_automerge()).collect();
        let changes = self.am.get_changes(&known).into_iter();
        Some(changes.map(Change::from_automerge).collect())
    }

    /// Takes in changes made elsewhere, parents first. Those already here are passed over.
    ///
    /// Returns the changes that were new. On an error none of the batch counts: what was applied
    /// before it is undone by loading the document again from where it was last saved.
    ///
    /// # Errors
    /// [`DocumentError::MissingChange`], [`DocumentError::Forked`] or
    /// [`DocumentError::Unreadable`], each naming the change.
    pub fn apply_changes(&mut self, changes: &[Change]) -> Result<Vec<Change>, DocumentError> {
        self.index.take();
        self.held = Held::nothing();
        let waiting = self.waiting();
        let fresh = self.check(changes)?;
        for batch in fresh.chunks(BATCH) {
            let inner: Vec<automerge::Change> = batch.iter().map(|c| c.inner().clone()).collect();
            let am = &mut self.am;
            guard(move || am.apply_changes(inner)).ok_or(DocumentError::Unreadable {
                what: "change",
                problem: "malformed".to_owned(),
            })??;
        }
        if waiting {
            self.seqs = last_numbers(&self.am);
        }
        for change in &fresh {
            self.seqs.insert(change.actor().to_vec(), change.seq());
        }
        Ok(fresh)
    }

    /// Takes in changes from someone who may mean harm, and makes sure that the document can hand
    /// each on again as it came: one that cannot would stop every later exchange.
    ///
    /// # Errors
    /// As [`SurveyDoc::apply_changes`]; after [`DocumentError::Unreadable`] this document must
    /// be dropped and loaded again.
    pub fn apply_foreign(&mut self, changes: &[Change]) -> Result<Vec<Change>, DocumentError> {
        let before = self.am.get_heads();
        let fresh = self.apply_changes(changes)?;
        let am = &self.am;
        let held = guard(|| {
            let all = am.get_changes(&before);
            all.iter()
                .map(|change| change.hash().0)
                .collect::<BTreeSet<_>>()
        });
        let held = held.unwrap_or_default();
        match fresh.iter().find(|change| !held.contains(&change.hash().0)) {
            None => Ok(fresh),
            Some(change) => Err(DocumentError::Unreadable {
                what: "change",
                problem: format!("{} refers to what is not there", change.hash()),
            }),
        }
    }

    /// The changes that are new, or why they cannot be applied.
    fn check(&self, changes: &[Change]) -> Result<Vec<Change>, DocumentError> {
        let mut fresh: Vec<Change> = Vec::new();
        let mut max_ops: BTreeMap<ChangeHash, u64> = BTreeMap::new();
        let mut seqs: BTreeMap<&[u8], u64> = BTreeMap::new();
        for change in changes {
            let hash = change.hash();
            if max_ops.contains_key(&hash) || self.has(&hash) {
                continue;
            }
            let mut reached = 0;
            for dep in change.deps() {
                let known = max_ops.get(&dep).copied().or_else(|| {
                    let meta = self.am.get_change_meta_by_hash(&dep.to_automerge());
                    meta.map(|meta| meta.max_op)
                });
                reached = reached.max(known.ok_or_else(|| DocumentError::MissingChange {
                    hash: hash.to_string(),
                    needs: dep.to_string(),
                })?);
            }
            let actor = change.actor();
            let last = seqs.get(actor).or_else(|| self.seqs.get(actor)).copied();
            if change.seq() != last.unwrap_or(0) + 1 {
                return Err(DocumentError::Forked {
                    hash: hash.to_string(),
                    actor: hex(actor),
                    seq: change.seq(),
                });
            }
            let inner = change.inner();
            if inner.start_op().get() != reached + 1 || inner.deps().is_empty() {
                return Err(DocumentError::Unreadable {
                    what: "change",
                    problem: format!("{hash} does not follow from what it builds on"),
                });
            }
            max_ops.insert(hash, inner.max_op());
            seqs.insert(actor, change.seq());
            fresh.push(change.clone());
        }
        Ok(fresh)
    }

    /// Which entries make up which unit.
    pub(super) fn index(&self) -> Arc<Units> {
        let read = || Arc::new(Units::index(&self.am, &self.tables));
        let held = self.held.units();
        Arc::clone(held.unwrap_or_else(|| self.index.get_or_init(read)))
    }

    /// Forgets the index, if an edit changed what it says or brought back what was withdrawn.
    pub(super) fn reindex(&mut self, relinked: bool) {
        if relinked || self.index.get().is_some_and(|index| index.any_hidden()) {
            self.index.take();
        }
    }

    /// Notes that this document's own actor has made a change, and hands it out.
    pub(super) fn committed(&mut self, hash: automerge::ChangeHash) -> Option<Change> {
        let change = Change::from_automerge(self.am.get_change_by_hash(&hash)?);
        self.seqs.insert(change.actor().to_vec(), change.seq());
        Some(change)
    }
}

/// The change that every replica of this survey begins with.
fn first_change(survey_id: &str) -> Result<(Automerge, automerge::ChangeHash), DocumentError> {
    let mut am = Automerge::new().with_actor(ActorId::from([0_u8; 16]));
    let mut tx = am.transaction();
    for table in Table::ALL {
        let id = tx.put_object(ROOT, table.name(), ObjType::Map)?;
        match table {
            Table::Survey => tx.put(&id, "survey_id", survey_id)?,
            Table::Roofs => {
                tx.put_object(&id, MAIN_ROOF, ObjType::Map)?;
            }
            _ => {}
        }
    }
    let (hash, _) = tx.commit_with(CommitOptions::default().with_time(0));
    let hash = hash.ok_or_else(|| DocumentError::Internal {
        problem: "the first change is empty".to_owned(),
    })?;
    Ok((am, hash))
}

fn last_numbers(am: &Automerge) -> BTreeMap<Vec<u8>, u64> {
    let mut last: BTreeMap<Vec<u8>, u64> = BTreeMap::new();
    for meta in am.get_changes_meta(&[]) {
        let number = last.entry(meta.actor.to_bytes().to_vec()).or_default();
        *number = meta.seq.max(*number);
    }
    last
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
