//! What a contractor's hour, mile, filter and risk cost: plain types of the rate book.
//!
//! A rate book is a TOML file, read by [`super::RateBook::from_toml`], which refuses what it
//! does not understand: a misspelt price that is silently ignored would lose money. Money is
//! whole cents, times are three-point minutes of one person.

use super::money::{Cents, Percent};
use super::programme::Programme;
use super::times::ThreePoint;
use crate::survey::codes::{AccessKind, Component, Condition, EquipmentKind, HazardKind};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::str::FromStr;

/// Everything a quote takes from the contractor rather than from the roof.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RateBook {
    /// Name of the book, printed on the quote.
    pub name: String,
    /// What to know about its figures.
    #[serde(default)]
    pub note: Option<String>,
    /// Currency code, such as `USD`.
    pub currency: String,
    /// What papers are printed on.
    #[serde(default)]
    pub paper: PaperSize,
    /// Visits a year, when agreed beforehand; tasks due more often are held to it.
    #[serde(default)]
    pub visits_per_year: Option<u32>,
    /// Hourly costs.
    pub labour: Labour,
    /// How the low and high ends are made.
    pub range: RangeRule,
    /// The way to the site.
    pub travel: Travel,
    /// Getting up and setting up, by the way up.
    pub access: AccessTimes,
    /// Set-up where someone would work near an unprotected edge.
    pub fall_protection: Extra,
    /// Set-up where a hole stands open.
    pub openings: Extra,
    /// A lift instead of a long portable ladder.
    pub lift: Lift,
    /// When one person is not enough.
    pub crew: CrewRules,
    /// Water for washing coils.
    pub water: Water,
    /// Filter prices.
    pub filters: FilterPrices,
    /// Belt prices.
    pub belts: BeltPrices,
    /// What is in the price and what is priced apart.
    pub scope: Scope,
    /// Which alternatives to price.
    #[serde(default)]
    pub options: Options,
    /// Percentages on top.
    pub markup: Markup,
    /// For what nobody could foresee, on cost and mark-up.
    pub contingency_percent: Percent,
    /// Sales tax.
    #[serde(default)]
    pub tax: Tax,
    /// What to reckon with where the survey does not say.
    pub unknown: Unknowns,
    /// Times by task, kind and size; the first that fits is used.
    #[serde(default)]
    pub minutes: Vec<TaskTime>,
    /// Time for a task that `minutes` does not list.
    pub unlisted_minutes: ThreePoint,
    /// Repair prices by part and condition; the first that fits is used.
    #[serde(default)]
    pub repairs: Vec<RepairPrice>,
    /// The maintenance programme; the built-in one unless another is set.
    #[serde(skip, default = "Programme::builtin_owned")]
    pub programme: Programme,
}

/// A size of paper; letter where nothing is said.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PaperSize {
    /// 8 1/2 by 11 in.
    #[default]
    Letter,
    /// 210 by 297 mm.
    A4,
}

impl FromStr for PaperSize {
    type Err = String;
    fn from_str(name: &str) -> Result<Self, String> {
        match name.to_ascii_lowercase().as_str() {
            "letter" => Ok(Self::Letter),
            "a4" => Ok(Self::A4),
            _ => Err("give letter or a4".to_owned()),
        }
    }
}

/// Hourly costs to the contractor, before mark-up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Labour {
    /// The first person.
    pub technician_cents_per_hour: Cents,
    /// The second person, where one is needed.
    pub second_person_cents_per_hour: Cents,
}

/// How far the low and high ends lie from the expected hours.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RangeRule {
    /// Correlation between the times of different rate-book entries.
    pub correlation_percent: Percent,
    /// Standard deviations to either side, such as 1.28 for eight times in ten.
    pub sigmas: Percent,
    /// Trials of the simulation that checks the range.
    #[serde(default = "trials")]
    pub trials: u32,
    /// Seed of that simulation.
    #[serde(default)]
    pub seed: u32,
}

fn trials() -> u32 {
    1000
}

/// The way to the site, there and back.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Travel {
    /// Minutes of each person on each visit.
    pub minutes: ThreePoint,
    /// Vehicle cost of each visit.
    pub vehicle_cents_per_visit: Cents,
}

/// Getting up and setting up, by the way up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AccessTimes {
    /// A ladder brought along.
    pub portable_ladder: Extra,
    /// A ladder fixed to the wall.
    pub fixed_ladder: Extra,
    /// A hatch from inside.
    pub hatch: Extra,
    /// A stair.
    pub stair: Extra,
    /// Nobody said how the roof is reached.
    pub unknown: Extra,
}

impl AccessTimes {
    /// The entry for a way up.
    pub fn of(&self, kind: Option<AccessKind>) -> Extra {
        match kind {
            Some(AccessKind::PortableLadder) => self.portable_ladder,
            Some(AccessKind::FixedLadder) => self.fixed_ladder,
            Some(AccessKind::Hatch) => self.hatch,
            Some(AccessKind::Stair) => self.stair,
            None => self.unknown,
        }
    }
}

/// Time of each person and money that something adds to each visit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Extra {
    /// Minutes of each person on each visit.
    pub minutes: ThreePoint,
    /// Gear and hire of each visit.
    #[serde(default)]
    pub cents_per_visit: Cents,
    /// Whether it takes two people.
    #[serde(default)]
    pub two_people: bool,
}

/// A lift instead of a long portable ladder.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lift {
    /// A portable ladder climb above this calls for the lift.
    pub above_climb_ft: u32,
    /// Minutes of each person on each visit.
    pub minutes: ThreePoint,
    /// Hire for each visit.
    pub cents_per_visit: Cents,
}

/// When one person is not enough. An unprotected edge always asks for two, whatever the book says.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CrewRules {
    /// People on any visit.
    pub usual: u32,
    /// Hazards that bring a second person, who shares the work.
    pub two_people_for: Vec<HazardKind>,
    /// Hazards at a unit for which the second person stands by while the first works there.
    pub stand_by_for: Vec<HazardKind>,
}

/// Water for washing coils.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Water {
    /// Added to each coil when a hose reaches.
    pub hose_minutes: ThreePoint,
    /// Added to each coil when water is carried, or nobody knows.
    pub carried_minutes: ThreePoint,
    /// Cleaner for each coil and wash.
    pub cleaner_cents: Cents,
}

/// Filter prices by nominal size.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilterPrices {
    /// Price by size, smaller face side first: `"20x25x2"`.
    #[serde(default)]
    pub cents: BTreeMap<String, Cents>,
    /// Price of a size that is not listed, by nominal depth in inches.
    #[serde(default)]
    pub unlisted_by_depth_cents: BTreeMap<String, Cents>,
    /// Price when the depth is not listed either.
    pub unlisted_cents: Cents,
}

/// Belt prices by designation.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BeltPrices {
    /// Price by designation: `"A42"`.
    #[serde(default)]
    pub cents: BTreeMap<String, Cents>,
    /// Price of one that is not listed.
    pub unlisted_cents: Cents,
}

/// What is in the price; the rest is priced apart.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scope {
    /// Washing condenser coils.
    pub coil_cleaning: bool,
    /// New belts and fitting them.
    pub belts: bool,
    /// New filters; changing them is always in.
    pub filters: bool,
}

/// Which alternatives to price.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Options {
    /// Visits a year.
    #[serde(default)]
    pub visits_per_year: Vec<u32>,
}

/// Percentages on top of cost.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Markup {
    /// On labour.
    pub labour_percent: Percent,
    /// On filters, belts and cleaner.
    pub materials_percent: Percent,
    /// On vehicle, gear and hire.
    pub hire_percent: Percent,
}

/// Sales tax.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tax {
    /// The rate.
    pub percent: Percent,
    /// What it is levied on.
    pub on: TaxOn,
}

/// What a tax is levied on.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TaxOn {
    /// Nothing.
    #[default]
    Nothing,
    /// Materials with their mark-up.
    Materials,
    /// The whole price with contingency.
    Everything,
}

/// What to reckon with where the survey does not say; it only sizes the gap, never the price.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unknowns {
    /// Filters of a unit whose filters were not recorded.
    pub filters_per_unit: u32,
    /// Belts of a unit whose belts were not recorded.
    pub belts_per_unit: u32,
}

/// What a task time is counted by.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Per {
    /// Once for the unit.
    #[default]
    Unit,
    /// For each filter recorded, or once when none is.
    Filter,
    /// For each belt recorded, or once when none is.
    Belt,
}

/// Time of a task for some kind and size of unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TaskTime {
    /// The task of the maintenance programme.
    pub task: String,
    /// Kinds it holds for; empty means all.
    #[serde(default)]
    pub kinds: Vec<EquipmentKind>,
    /// Cooling capacity it holds up to; a unit of unknown capacity never fits a limit.
    #[serde(default)]
    pub up_to_tons: Option<u32>,
    /// What it is counted by.
    #[serde(default)]
    pub per: Per,
    /// The time.
    pub minutes: ThreePoint,
}

/// Price of mending something.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RepairPrice {
    /// The part.
    pub component: Component,
    /// Conditions it holds for; empty means all.
    #[serde(default)]
    pub conditions: Vec<Condition>,
    /// Kinds it holds for; empty means all.
    #[serde(default)]
    pub kinds: Vec<EquipmentKind>,
    /// Time of one person.
    pub minutes: ThreePoint,
    /// Parts.
    #[serde(default)]
    pub parts_cents: Cents,
}
