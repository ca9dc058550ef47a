//! The trade's vocabulary, loaded from the data files in `core/lexicon`.
//!
//! A [`Lexicon`] answers two questions: which phrase do these words begin with, and what can
//! that phrase mean. It never looks at grammar. Adding a word is one line in a data file.

mod heard;
mod load;
pub(crate) mod meaning;
pub(crate) mod near;
mod sounds;
mod spellings;
pub(crate) mod trie;
pub(crate) mod words;

use crate::survey::codes::{Action, Component, Condition, Severity};
use heard::Heard;
use meaning::{Meaning, Part};
use near::NearMiss;
use sounds::Sounds;
use spellings::spellings;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use trie::{Trie, UNKNOWN, Word};
use words::{WordTable, Worth};

/// Measures that are written onto their number.
const MEASURES: [&str; 10] = [
    "amp", "amps", "volt", "volts", "ton", "tons", "inch", "feet", "foot", "pounds",
];

/// Why a lexicon cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LexiconError {
    /// A file is not TOML.
    #[error("{file}: {reason}")]
    Unreadable {
        /// Name of the file.
        file: &'static str,
        /// What the parser said, with the line.
        reason: String,
    },
    /// A key that is in no code list.
    #[error("{file}: {code:?} is not a known code")]
    UnknownCode {
        /// Name of the file.
        file: &'static str,
        /// The key.
        code: String,
    },
    /// One phrase was given two meanings of the same sort.
    #[error("{file}: {phrase:?} already means something else")]
    Clash {
        /// Name of the file.
        file: &'static str,
        /// The phrase.
        phrase: String,
    },
}

/// A general part word: `insulation`, `cover`.
#[derive(Debug)]
pub(crate) struct Head {
    pub(crate) default: Component,
    pub(crate) site: Option<Component>,
    pub(crate) fan_unit: Option<Component>,
    pub(crate) beside: BTreeMap<Component, Component>,
    pub(crate) fastener: bool,
}

impl Head {
    /// Whether this word may mean that part.
    pub(crate) fn can_be(&self, part: Component) -> bool {
        let sole = [Some(self.default), self.site, self.fan_unit];
        sole.contains(&Some(part)) || self.beside.values().any(|p| *p == part)
    }
}

/// What a finding is worth when the speaker does not say.
#[derive(Debug, Default)]
pub(crate) struct Defaults {
    pub(crate) of_fault: BTreeMap<Condition, (Severity, Option<Action>)>,
    pub(crate) of_part: BTreeMap<(Condition, Component), (Severity, Option<Action>)>,
    pub(crate) implies: BTreeMap<Action, Condition>,
}

/// The vocabulary of a rooftop technician.
#[derive(Debug)]
pub struct Lexicon {
    trie: Trie,
    table: WordTable,
    worth: Vec<Worth>,
    as_digits: Vec<Word>,
    meanings: Vec<Meaning>,
    phrases: Vec<Box<str>>,
    near: NearMiss,
    heard: Heard,
    sounds: Sounds,
    pub(crate) heads: Vec<Head>,
    pub(crate) site_parts: Vec<Component>,
    /// Parts that a unit has one of.
    pub(crate) once_parts: Vec<Component>,
    pub(crate) implied: BTreeMap<Condition, Component>,
    /// What a condition means of a part; a pair that is not here makes no sense.
    pub(crate) plausible: BTreeMap<(Condition, Component), Condition>,
    pub(crate) named: Vec<Box<str>>,
    pub(crate) defaults: Defaults,
}

impl Lexicon {
    /// The lexicon that ships with the program.
    pub fn builtin() -> &'static Self {
        static BUILTIN: OnceLock<Lexicon> = OnceLock::new();
        BUILTIN.get_or_init(|| {
            Self::load_builtin().unwrap_or_else(|_| Self::empty(WordTable::default()))
        })
    }

    /// Loads the built-in files; a test proves that this succeeds.
    pub(crate) fn load_builtin() -> Result<Self, LexiconError> {
        load::load(&load::Sources {
            equipment: include_str!("../../../lexicon/equipment.toml"),
            parts: include_str!("../../../lexicon/parts.toml"),
            conditions: include_str!("../../../lexicon/conditions.toml"),
            actions: include_str!("../../../lexicon/actions.toml"),
            hazards: include_str!("../../../lexicon/hazards.toml"),
            values: include_str!("../../../lexicon/values.toml"),
            speech: include_str!("../../../lexicon/speech.toml"),
            numbers: include_str!("../../../lexicon/numbers.toml"),
            garbles: include_str!("../../../lexicon/garbles.toml"),
            sounds: include_str!("../../../lexicon/sounds.toml"),
            defaults: include_str!("../../../lexicon/defaults.toml"),
            plausible: include_str!("../../../lexicon/plausible.toml"),
        })
    }

    /// Every phrase, lower case, its words parted by spaces: for showing the vocabulary and for
    /// measuring against it.
    pub fn phrases(&self) -> impl Iterator<Item = &str> {
        self.phrases.iter().map(|phrase| &**phrase)
    }

    fn empty(table: WordTable) -> Self {
        Self {
            trie: Trie::new(),
            table,
            worth: Vec::new(),
            as_digits: Vec::new(),
            meanings: Vec::new(),
            phrases: Vec::new(),
            near: NearMiss::default(),
            heard: Heard::default(),
            sounds: Sounds::default(),
            heads: Vec::new(),
            site_parts: Vec::new(),
            once_parts: Vec::new(),
            implied: BTreeMap::new(),
            plausible: BTreeMap::new(),
            named: Vec::new(),
            defaults: Defaults::default(),
        }
    }

    /// Adds a meaning to a phrase and to each of its spellings; false on a clash.
    fn define(&mut self, phrase: &str, fill: impl Fn(&mut Meaning) -> bool) -> bool {
        let mut fits = true;
        for words in spellings(phrase) {
            let ids: Vec<Word> = words.iter().map(|word| self.intern(word)).collect();
            let number = self.meanings.len() as u32;
            let number = match self.trie.insert(&ids, number) {
                Some(old) => old,
                None => {
                    self.meanings.push(Meaning::default());
                    self.phrases.push(words.join(" ").into());
                    number
                }
            };
            if let Some(meaning) = self.meanings.get_mut(number as usize) {
                fits &= fill(meaning);
            }
        }
        fits
    }

    fn intern(&mut self, word: &str) -> Word {
        let folded = self.table.fold(word);
        match self.table.canonical(folded) {
            Some(digits) => self.trie.intern(&digits),
            None => self.trie.intern(folded),
        }
    }

    /// The meaning of a phrase as written in a data file.
    fn meaning_of(&mut self, phrase: &str) -> Option<Meaning> {
        let words = spellings(phrase).into_iter().next()?;
        let ids: Vec<Word> = words.iter().map(|word| self.intern(word)).collect();
        match self.longest(ids.iter().copied()) {
            Some((meaning, taken)) if taken == ids.len() => Some(meaning),
            _ => None,
        }
    }

    /// `sounds`: a word of the trade, or none, and a common word that is heard for it.
    fn finish(&mut self, sounds: &[(Word, String)]) {
        for word in self.table.words().map(str::to_owned).collect::<Vec<_>>() {
            self.intern(&word);
            self.trie.intern(&word);
        }
        // Before the common words come in: none of them is what anybody meant.
        self.near = NearMiss::new(&self.trie);
        for (meant, heard) in sounds {
            let heard = self.intern(heard);
            self.sounds.add(heard, *meant);
        }
        self.worth = (0..self.trie.len())
            .map(|id| self.table.worth(self.trie.spelling(id as Word)))
            .collect();
        self.as_digits = (0..self.trie.len() as Word)
            .map(|id| match self.table.canonical(self.trie.spelling(id)) {
                Some(digits) => self.trie.word(&digits),
                None => id,
            })
            .collect();
        self.heard = Heard::new(&self.phrases, &self.meanings);
    }

    /// The number of a lower-case word without apostrophes, its plural taken off.
    pub(crate) fn word(&self, word: &str) -> Word {
        self.trie.word(self.table.fold(word))
    }

    /// Whether `word` has this number. Most words differ in their first letters, so this is much
    /// cheaper than to look its number up.
    pub(crate) fn is_word(&self, number: Word, word: &str) -> bool {
        let known = self.trie.spelling(number);
        // The first letter, before the call that compares all of them.
        word.bytes().next() == known.bytes().next()
            && word.starts_with(known)
            && self.table.fold(word) == known
    }

    /// The word that phrases hold in place of this one: digits for a number word.
    pub(crate) fn in_phrase(&self, word: Word) -> Word {
        self.as_digits.get(word as usize).copied().unwrap_or(word)
    }

    /// What a word is worth as a number or letter.
    pub(crate) fn worth(&self, word: Word) -> Worth {
        self.worth.get(word as usize).copied().unwrap_or_default()
    }

    /// The known word nearest to an unknown one, if one is near enough to believe.
    pub(crate) fn nearest(&self, word: &str) -> Option<Word> {
        self.near.nearest(&self.trie, word)
    }

    /// The two words that were written as one, and the bytes of the first: "twentyfive", "fortyamp",
    /// "draintrap". Nobody knows the word as it stands.
    pub(crate) fn glued(&self, word: &str) -> Option<(Word, Word, usize)> {
        let number = |word: Word| self.worth(word).numeral.is_some();
        (2..word.len().saturating_sub(1)).find_map(|at| {
            let (first, second) = word.split_at_checked(at)?;
            let (one, two) = (self.word(first), self.word(second));
            let counted = || number(two) || MEASURES.contains(&second);
            let phrase = || {
                let meant = self.longest([one, two].into_iter());
                meant.is_some_and(|(m, taken)| taken == 2 && m.of_trade() && !m.garbled)
            };
            let fits = one != UNKNOWN && two != UNKNOWN && (number(one) && counted() || phrase());
            fits.then_some((one, two, at))
        })
    }

    /// The meaning of the phrase that these words sound like when run together.
    pub(crate) fn sounds_like<'w>(
        &self,
        words: impl Iterator<Item = &'w str> + Clone,
    ) -> Option<Meaning> {
        let number = self.heard.phrase(words)?;
        self.meanings.get(number as usize).copied()
    }

    /// What a word that means nothing here may be: words of the trade that sound like it, or that it
    /// is the stem of ("clog" for "clogged").
    pub(crate) fn alike(&self, word: &str) -> Vec<Meaning> {
        let word = word.to_ascii_lowercase();
        let last = word.chars().last().map(String::from).unwrap_or_default();
        let stems = ["ed", "d"].map(|tail| format!("{word}{tail}"));
        let doubled = format!("{word}{last}ed");
        let stems = stems
            .iter()
            .chain([&doubled])
            .filter_map(|stem| self.alone(self.trie.word(stem)));
        let sounds = self.heard.word(&word);
        let sounds = sounds.filter_map(|number| self.meanings.get(number as usize).copied());
        stems.chain(sounds).collect()
    }

    /// The word that phrases hold for a number.
    pub(crate) fn digits(&self, number: u8) -> Word {
        self.trie.word(&number.to_string())
    }

    /// The words of the trade that `word` may have been heard for.
    pub(crate) fn meant(&self, word: Word) -> &[Word] {
        self.sounds.of(word)
    }

    /// Words of the trade that these two sound like when run together.
    pub(crate) fn torn(&self, words: [&str; 2]) -> Vec<Meaning> {
        let found = self.heard.torn(words).into_iter();
        let meaning = |number| self.meanings.get(number as usize).copied();
        found.filter_map(meaning).collect()
    }

    /// The meaning of the longest phrase that `words` begins with, and its length in words.
    pub(crate) fn longest(&self, words: impl Iterator<Item = Word>) -> Option<(Meaning, usize)> {
        let (phrase, taken) = self.trie.longest(words)?;
        self.meanings
            .get(phrase as usize)
            .map(|meaning| (*meaning, taken))
    }

    /// The meaning of a word that is a phrase by itself.
    pub(crate) fn alone(&self, word: Word) -> Option<Meaning> {
        let (meaning, _) = self.longest(std::iter::once(self.in_phrase(word)))?;
        Some(meaning)
    }

    /// The part that a head stands for beside another part, on the site, or on a fan.
    pub(crate) fn head(&self, part: Part) -> Option<&Head> {
        match part {
            Part::Known(_) => None,
            Part::Head(number) => self.heads.get(number as usize),
        }
    }

    /// The condition that a word for `fault` means of this part, if it can mean one at all.
    pub(crate) fn sense(&self, part: Component, fault: Condition) -> Option<Condition> {
        self.plausible.get(&(fault, part)).copied()
    }

    /// Severity and action that a finding gets when none is spoken.
    pub(crate) fn consequence(
        &self,
        part: Component,
        fault: Condition,
    ) -> (Severity, Option<Action>) {
        let found = self
            .defaults
            .of_part
            .get(&(fault, part))
            .or(self.defaults.of_fault.get(&fault));
        found.copied().unwrap_or((Severity::Note, None))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]
    use super::*;
    use crate::survey::codes::EquipmentKind;

    #[test]
    fn builtin_files_load_without_a_clash() {
        let lexicon = Lexicon::load_builtin().unwrap_or_else(|e| panic!("{e}"));
        assert!(lexicon.meanings.len() > 4000, "{}", lexicon.meanings.len());
    }

    #[test]
    fn capitals_are_read_whole_and_by_letter() {
        let lexicon = Lexicon::builtin();
        for words in [vec!["rtu"], vec!["r", "t", "u"], vec!["rooftop", "units"]] {
            let ids = words.iter().map(|w| lexicon.word(w));
            let (meaning, taken) = lexicon.longest(ids).unwrap();
            assert_eq!(meaning.kind, Some(EquipmentKind::PackagedRooftopUnit));
            assert_eq!(taken, words.len());
        }
    }

    #[test]
    fn a_clash_is_named() {
        let mut lexicon = Lexicon::load_builtin().unwrap();
        let fits = lexicon.define("belt", |m| {
            m.part.replace(Part::Known(Component::Motor)) == Some(Part::Known(Component::Motor))
        });
        assert!(!fits);
    }
}
