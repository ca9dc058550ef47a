//! A jurisdiction profile: which edition of each standard a verdict quotes, and its numbers.
//!
//! A profile is a data file. Three are built in; a survey or a command names one, and a
//! contractor may bring another. It changes what is cited and the few [`Limits`] that editions
//! and local amendments are known to set otherwise; everything else is the rules' own.

use super::catalogue::Cite;
use super::source::{Basis, Source};
use crate::survey::units::{Feet, Inches, Volts};
use crate::survey::{InputError, Survey};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A body of rules that verdicts quote.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standard {
    /// The national electrical code.
    Nec,
    /// Electrical safety in the workplace.
    ElectricalSafety,
    /// Federal safety rules for work in general.
    OshaGeneral,
    /// Federal safety rules for construction.
    OshaConstruction,
    /// The international mechanical code.
    MechanicalCode,
    /// The international fuel gas code.
    FuelGasCode,
    /// Ventilation for acceptable indoor air quality.
    Ventilation,
    /// Motors and generators.
    Motors,
    /// A published guide to motor systems.
    MotorGuide,
    /// Classical V-belts.
    Belts,
    /// A published procedure for belt tension.
    BeltTension,
    /// Rules for ozone-depleting refrigerants.
    Ods,
    /// Rules for hydrofluorocarbons.
    Hfc,
    /// Published global warming potentials.
    Gwp,
    /// Published service lives.
    Handbook,
    /// A published figure of a condensate trap.
    HandbookTrap,
    /// Known to the trade, printed nowhere.
    Practice,
}

impl Standard {
    const ALL: &'static [Self] = &[
        Self::Nec,
        Self::ElectricalSafety,
        Self::OshaGeneral,
        Self::OshaConstruction,
        Self::MechanicalCode,
        Self::FuelGasCode,
        Self::Ventilation,
        Self::Motors,
        Self::MotorGuide,
        Self::Belts,
        Self::BeltTension,
        Self::Ods,
        Self::Hfc,
        Self::Gwp,
        Self::Handbook,
        Self::HandbookTrap,
        Self::Practice,
    ];
}

#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Named {
    standard: String,
    edition: String,
    /// How it is known that this edition asks what the rules say, where that is weaker.
    basis: Option<Basis>,
}

/// Numbers that editions and local amendments set otherwise. The defaults are the rules' own.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// Volts to ground up to which the table of working spaces goes.
    pub working_space_up_to_v: Volts,
    /// Farthest place of a service receptacle.
    pub receptacle_within_ft: Feet,
    /// Equipment within this of an edge needs a guard.
    pub guard_within_ft: Feet,
    /// A drop of more than this needs a guard.
    pub guard_drop_above_in: Inches,
    /// Top of that guard.
    pub guard_height_in: Inches,
    /// Equipment higher than this needs permanent access.
    pub access_above_ft: Feet,
}

impl Limits {
    /// The rules' own numbers.
    pub const USUAL: Self = Self {
        working_space_up_to_v: Volts::of(1000.0),
        receptacle_within_ft: Feet::of(25.0),
        guard_within_ft: Feet::of(10.0),
        guard_drop_above_in: Inches::of(30.0),
        guard_height_in: Inches::of(42.0),
        access_above_ft: Feet::of(16.0),
    };
}

impl Default for Limits {
    fn default() -> Self {
        Self::USUAL
    }
}

/// Which editions a jurisdiction goes by.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    id: String,
    name: String,
    standards: BTreeMap<Standard, Named>,
    #[serde(default)]
    sections: BTreeMap<String, String>,
    #[serde(default)]
    limits: Limits,
}

/// The files that are built in; the first is used where nothing else is asked for.
const FILES: [&str; 3] = [
    include_str!("../../profiles/us_model_codes.toml"),
    include_str!("../../profiles/us_older_codes.toml"),
    include_str!("../../profiles/us_newer_codes.toml"),
];

static BUILTIN: LazyLock<[Profile; 3]> = LazyLock::new(|| {
    // A test proves that the files read; should one ever not, verdicts name no edition.
    FILES.map(|text| Profile::from_toml(text).unwrap_or_default())
});

impl Profile {
    /// The US model codes and federal rules, not amended by any state or city.
    pub fn builtin() -> &'static Self {
        let [first, ..] = &*BUILTIN;
        first
    }

    /// Every profile that is built in, the usual one first.
    pub fn all() -> &'static [Self] {
        BUILTIN.as_slice()
    }

    /// The built-in profile with this id.
    pub fn find(id: &str) -> Option<&'static Self> {
        Self::all().iter().find(|profile| profile.id == id.trim())
    }

    /// The profile that a survey names, if it is built in; else the usual one.
    pub fn of(survey: &Survey) -> &'static Self {
        let named = survey.site.code_profile.as_deref();
        named.and_then(Self::find).unwrap_or_else(Self::builtin)
    }

    /// Reads a profile file. The error names the line, or the standard that is missing.
    pub fn from_toml(text: &str) -> Result<Self, InputError> {
        let profile: Self = toml::from_str(text).map_err(|error| {
            let line = error.span().map_or(0, |span| {
                text.get(..span.start)
                    .map_or(0, |t| t.matches('\n').count())
                    + 1
            });
            InputError::at(format!("line {line}"), error.message().to_owned())
        })?;
        match Standard::ALL
            .iter()
            .find(|standard| !profile.standards.contains_key(standard))
        {
            Some(missing) => Err(InputError::at(
                "standards",
                format!("names no edition for {missing:?}; the built-in profile lists them all"),
            )),
            None => Ok(profile),
        }
    }

    /// Short name, as shown on an assessment.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// What it stands for, in words.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The numbers it sets.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// A citation in this profile's edition and numbering.
    pub fn source(&self, cite: &Cite) -> Source {
        let named = self.standards.get(&cite.standard);
        Source {
            standard: named.map_or(String::new(), |n| n.standard.clone()),
            edition: named.map_or(String::new(), |n| n.edition.clone()),
            section: self
                .sections
                .get(cite.section)
                .map_or_else(|| cite.section.to_owned(), Clone::clone),
            basis: match (cite.basis, named.and_then(|n| n.basis)) {
                (Basis::Published, Some(weaker)) => weaker,
                (basis, _) => basis,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use super::*;

    #[test]
    fn the_built_in_files_read() {
        for (text, profile) in FILES.iter().zip(Profile::all()) {
            assert_eq!(
                &Profile::from_toml(text).expect("the file is whole"),
                profile
            );
            assert_eq!(Profile::find(profile.id()), Some(profile));
        }
        assert_eq!(Profile::builtin().id(), "us-model-codes");
        assert_eq!(Profile::builtin().limits(), &Limits::USUAL);
        assert_eq!(Profile::find("atlantis"), None);
    }

    #[test]
    fn an_older_edition_has_its_own_numbers_and_says_what_is_from_memory() {
        let older = Profile::find("us-older-codes").unwrap();
        let nec = Cite::published(Standard::Nec, "210.63(A)").source(older);
        assert_eq!(
            (nec.edition.as_str(), nec.section.as_str(), nec.basis),
            ("2014", "210.63", Basis::Memory)
        );
        let practice = Cite::practice("hose").source(older);
        assert_eq!(practice.basis, Basis::CommonPractice);
        assert_eq!(older.limits().working_space_up_to_v, Volts::of(600.0));
    }

    #[test]
    fn a_profile_renames_editions_and_sections() {
        let text = include_str!("../../profiles/us_model_codes.toml")
            .replace("edition = \"2023\"", "edition = \"2017\"")
            .replace("[sections]", "[sections]\n\"304.11\" = \"304.10\"");
        let profile = Profile::from_toml(&text).unwrap();
        let nec = Cite::published(Standard::Nec, "440.12").source(&profile);
        assert_eq!(
            (nec.edition.as_str(), nec.section.as_str()),
            ("2017", "440.12")
        );
        let imc = Cite::published(Standard::MechanicalCode, "304.11").source(&profile);
        assert_eq!(imc.section, "304.10");
    }

    #[test]
    fn errors_name_the_place() {
        let error = Profile::from_toml("id = \"x\"\nname = 3\n").unwrap_err();
        assert_eq!(error.place, "line 2", "{error}");
        let error = Profile::from_toml("id = \"x\"\nname = \"y\"\n[standards]\n").unwrap_err();
        assert!(error.problem.contains("Nec"), "{error}");
    }
}
