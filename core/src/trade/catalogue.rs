//! What a rule is apart from its function: id, words, and the place its requirement comes from.
//!
//! Each subject file declares its rules beside their functions; [`RULES`] lists them all.

use super::outcome::Outcome;
use super::profile::{Profile, Standard};
use super::source::{Basis, Source};
use super::{
    air, condensate, disconnect, falls, filters, guards, ladders, nameplate, overcurrent,
    receptacle, refrigerant, service_life, supply, water, workspace,
};

/// Where a requirement is written, before an edition is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cite {
    /// The standard.
    pub standard: Standard,
    /// The section, as the newest edition known here numbers it.
    pub section: &'static str,
    /// How it is known.
    pub basis: Basis,
}

impl Cite {
    pub(crate) const fn published(standard: Standard, section: &'static str) -> Self {
        Self {
            standard,
            section,
            basis: Basis::Published,
        }
    }

    pub(crate) const fn memory(standard: Standard, section: &'static str) -> Self {
        Self {
            standard,
            section,
            basis: Basis::Memory,
        }
    }

    pub(crate) const fn practice(section: &'static str) -> Self {
        Self {
            standard: Standard::Practice,
            section,
            basis: Basis::CommonPractice,
        }
    }

    /// The source as it is shown, in the edition that a profile names.
    pub fn source(&self, profile: &Profile) -> Source {
        profile.source(self)
    }
}

/// A rule: what it asks, in words, and an example that its own function computes.
#[derive(Debug, Clone, Copy)]
pub struct Rule {
    /// Id, such as `disconnect-ampacity`.
    pub id: &'static str,
    /// What it looks at, in a few words.
    pub title: &'static str,
    /// Where it comes from.
    pub cite: Cite,
    /// What it applies to.
    pub applies: &'static str,
    /// The formula and the boundary words.
    pub formula: &'static str,
    /// Choices that the source leaves open, and limits.
    pub note: &'static str,
    /// Worked examples.
    pub examples: fn() -> Vec<(&'static str, Outcome)>,
}

/// Every rule, in the order of the contract, then those added to it.
pub const RULES: &[&Rule] = &[
    &disconnect::AMPACITY,
    &overcurrent::MAX,
    &overcurrent::STANDARD_SIZE,
    &nameplate::MCA,
    &disconnect::IN_SIGHT,
    &workspace::DEPTH,
    &receptacle::WITHIN_25_FT,
    &supply::UNBALANCE,
    &falls::EDGE_DISTANCE,
    &guards::EDGE_GUARD,
    &falls::OPENING_GUARDED,
    &ladders::EXTENSION,
    &ladders::FIXED_OVER_24,
    &ladders::ACCESS_OVER_16,
    &air::INTAKE_SEPARATION,
    &condensate::TRAP_DEPTH,
    &condensate::DRAIN_SIZE,
    &filters::FACE_VELOCITY,
    &service_life::STANDING,
    &refrigerant::LEAK_RULE,
    &water::HOSE_REACH,
    &nameplate::MOCP,
    &disconnect::VOLTAGE,
    &supply::VOLTAGE,
];
