//! What the pages are made from: plain data that the handlers gather.

use crate::accounts::{Link, Seen, Settled, Version};
use scupper_core::assess::{Assessment, OddValue};
use scupper_core::document::{Conflict, SameUnitOffer};
use scupper_core::quote::Quote;
use scupper_core::survey::Survey;
use scupper_core::survey::spoken::Evidence;
use std::collections::{BTreeMap, BTreeSet};

/// Who is signed in.
#[derive(Debug, Clone, Copy)]
pub struct Session<'a> {
    /// Their name.
    pub name: &'a str,
    /// Goes into every form as `csrf`. Without it someone may read and nothing more: no form is
    /// drawn, and the queue is left out.
    pub csrf: Option<&'a str>,
}

/// Everything that one survey's page shows. [`SurveyView::new`] gives a page that works; fill in
/// the other fields where there is something to fill in.
#[derive(Debug, Clone)]
pub struct SurveyView<'a> {
    /// The merged survey.
    pub survey: &'a Survey,
    /// What was made of it.
    pub assessment: &'a Assessment,
    /// Who is looking.
    pub session: Session<'a>,
    /// What part of the page was asked for.
    pub asked: Asked<'a>,
    /// The price, if a rate book was given.
    pub quote: Option<&'a Quote>,
    /// Fields with several values at once.
    pub contested: &'a [Conflict],
    /// Units that may be one.
    pub offers: &'a [SameUnitOffer],
    /// Values that are hard to believe.
    pub odd: &'a [OddValue],
    /// Who in the office read which hazard.
    pub seen: &'a BTreeMap<String, Seen>,
    /// Words of each note, by note id, that nothing was made of.
    pub unparsed: &'a BTreeMap<String, Vec<Evidence>>,
    /// Hashes of the photos whose bytes are here.
    pub arrived: &'a BTreeSet<String>,
    /// Of these the ones without a thumbnail.
    pub bare: &'a BTreeSet<String>,
    /// Names of the people by author id; an author without one is shown by id.
    pub people: &'a BTreeMap<String, String>,
    /// The drawn roof, an SVG element. It is put into the page as it is, so it must come from
    /// `plan::draw`, which escapes what people typed.
    pub plan_svg: &'a str,
    /// What of the document could not be read, each in one line.
    pub problems: &'a [String],
    /// Papers that can be opened or downloaded.
    pub papers: &'a [Paper<'a>],
    /// What reviewers settled, newest first.
    pub settled: &'a [Settled],
    /// Links for the customer, newest first.
    pub links: &'a [Link],
    /// The price that was locked last.
    pub locked: Option<&'a Version>,
    /// Where news of changes comes from.
    pub live: Option<Live<'a>>,
    /// The server's time in Unix seconds.
    pub now: i64,
}

static NOTHING_UNPARSED: BTreeMap<String, Vec<Evidence>> = BTreeMap::new();
static NONE_SEEN: BTreeMap<String, Seen> = BTreeMap::new();
static NO_HASHES: BTreeSet<String> = BTreeSet::new();
/// No names: every author is shown by id.
pub static NO_NAMES: BTreeMap<String, String> = BTreeMap::new();

impl<'a> SurveyView<'a> {
    /// A page of a survey and nothing else.
    pub fn new(survey: &'a Survey, assessment: &'a Assessment, session: Session<'a>) -> Self {
        Self {
            survey,
            assessment,
            session,
            asked: Asked::default(),
            quote: None,
            contested: &[],
            offers: &[],
            odd: &[],
            seen: &NONE_SEEN,
            unparsed: &NOTHING_UNPARSED,
            arrived: &NO_HASHES,
            bare: &NO_HASHES,
            people: &NO_NAMES,
            plan_svg: "",
            problems: &[],
            papers: &[],
            settled: &[],
            links: &[],
            locked: None,
            live: None,
            now: 0,
        }
    }
}

/// What part of a survey's page was asked for, from the address's query.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Asked<'a> {
    /// `?unit=TAG`: the unit to lay open beside the plan, by tag or id.
    pub unit: Option<&'a str>,
    /// `?all=PART`: one part in full length, without the others.
    pub all: Option<Part>,
    /// `?only=PARTS`: no page but these of its parts, by element id with commas between, for a
    /// page that has the others.
    pub only: Option<&'a str>,
}

impl Asked<'_> {
    /// Whether the part with this element id is to be drawn.
    pub fn wants(&self, part: &str) -> bool {
        self.only
            .is_none_or(|only| only.split(',').any(|one| one == part))
    }
}

/// A part of the page that is cut short when it is long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What waits for a person.
    Settle,
    /// Verdicts.
    Checks,
    /// Equipment register.
    Register,
    /// Findings.
    Findings,
    /// Photos.
    Photos,
    /// Voice notes.
    Notes,
    /// Missing fields.
    Missing,
    /// The price.
    Quote,
    /// What nobody could look at.
    Limits,
}

impl Part {
    /// Every part.
    pub const ALL: &'static [Self] = &[
        Self::Settle,
        Self::Checks,
        Self::Register,
        Self::Findings,
        Self::Photos,
        Self::Notes,
        Self::Missing,
        Self::Quote,
        Self::Limits,
    ];

    /// The word for it in `?all=` and in element ids.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Settle => "settle",
            Self::Checks => "checks",
            Self::Register => "register",
            Self::Findings => "findings",
            Self::Photos => "photos",
            Self::Notes => "notes",
            Self::Missing => "missing",
            Self::Quote => "quote",
            Self::Limits => "limits",
        }
    }

    /// The part that a word names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|part| part.word() == word)
    }
}

/// A paper that can be opened or downloaded.
#[derive(Debug, Clone, Copy)]
pub struct Paper<'a> {
    /// Where it is.
    pub href: &'a str,
    /// What it is.
    pub words: &'a str,
}

/// Where a page hears that the survey changed.
#[derive(Debug, Clone, Copy)]
pub struct Live<'a> {
    /// Address of the server-sent events. The data of those named `heads` is the state of the
    /// document as one word, of those named `office` that of the office's work beside it.
    pub href: &'a str,
    /// The state of the document that this page was made from, written the same way.
    pub heads: &'a str,
    /// The state of the office's work that this page was made from.
    pub office: i64,
}
