//! A jurisdiction profile: which edition of each standard a verdict quotes.
//!
//! A profile is a data file; the built-in one names the US model codes unamended. It changes
//! what is cited, never a number: an edition whose numbers differ needs a rule of its own.

use super::catalogue::Cite;
use super::source::Source;
use crate::survey::InputError;
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
}

/// Which editions a jurisdiction goes by.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    id: String,
    name: String,
    standards: BTreeMap<Standard, Named>,
    #[serde(default)]
    sections: BTreeMap<String, String>,
}

static BUILTIN: LazyLock<Profile> = LazyLock::new(|| {
    // A test proves that the file reads; should it ever not, verdicts still name no edition.
    Profile::from_toml(include_str!("../../profiles/us_model_codes.toml")).unwrap_or(Profile {
        id: String::new(),
        name: String::new(),
        standards: BTreeMap::new(),
        sections: BTreeMap::new(),
    })
});

impl Profile {
    /// The US model codes and federal rules, not amended by any state or city.
    pub fn builtin() -> &'static Self {
        &BUILTIN
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
            basis: cite.basis,
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use super::*;

    #[test]
    fn the_built_in_file_reads() {
        let text = include_str!("../../profiles/us_model_codes.toml");
        let profile = Profile::from_toml(text).expect("the file is whole");
        assert_eq!(&profile, Profile::builtin());
        assert_eq!(profile.id(), "us-model-codes");
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
