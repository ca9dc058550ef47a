//! What a quote is made of: tasks, materials, crew, hours, price, and all that is not in it.
//! Plain data in the shape of the contracts; derived, never stored.

use super::money::{Cents, Percent};
use super::ratebook::Scope;
use super::times::{Range, ThreePoint};
use crate::survey::codes::{Action, Certainty, Component, Condition, Severity};
use crate::trade::Source;
use serde::Serialize;

/// What the project manager needs to price the agreement.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quote {
    /// Identity of the survey.
    pub survey_id: String,
    /// Name of the rate book.
    pub rate_book: String,
    /// What to know about the rate book's figures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_book_note: Option<String>,
    /// Currency of every `_cents`.
    pub currency: String,
    /// Why there is nothing to price, when there is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub empty: Option<String>,
    /// Visits a year.
    pub visits_per_year: u32,
    /// What is in the price.
    pub scope: Scope,
    /// Work at the units.
    pub tasks: Vec<TaskLine>,
    /// Filters, belts, cleaner.
    pub materials: Vec<MaterialLine>,
    /// How many people come, and why.
    pub crew: Crew,
    /// Getting up and setting up.
    pub access: Access,
    /// The way to the site.
    pub travel: AccessLine,
    /// Vehicle, gear and hire a year.
    pub hire_cents_per_year: Cents,
    /// Paid hours a year of all people, travel and set-up included.
    pub labour_hours_per_year: Range<Hours>,
    /// The same in whole minutes.
    pub labour_minutes_per_year: Range<u64>,
    /// Minutes a year of the first and of the second person, as expected.
    pub people_minutes_per_year: People,
    /// The price, step by step.
    pub build_up: Range<BuildUp>,
    /// The price a year, with contingency and tax.
    pub price_cents_per_year: Range<Cents>,
    /// A seeded simulation of the hours, to hold against the range.
    pub simulation: Simulation,
    /// The five inputs that move the price most.
    pub sensitivities: Vec<Sensitivity>,
    /// Alternatives, each against the price above.
    pub options: Vec<OptionLine>,
    /// Findings that need money of their own; never in the price.
    pub repairs: Vec<Repair>,
    /// What was taken for granted.
    pub assumptions: Vec<String>,
    /// What is not in the price.
    pub exclusions: Vec<String>,
    /// What the survey does not say, and what that could move the price by.
    pub missing: Vec<Gap>,
}

/// Hours to two decimals.
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, Serialize)]
#[serde(transparent)]
pub struct Hours(f64);

impl Hours {
    /// So many minutes as hours, to the nearest hundredth, half up.
    pub fn of_minutes(minutes: u64) -> Self {
        let hundredths = super::money::divide(i128::from(minutes) * 100, 60);
        Self(hundredths as f64 / 100.0)
    }

    /// The bare number of hours.
    pub const fn get(self) -> f64 {
        self.0
    }
}

/// A task at a unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TaskLine {
    /// Tag.
    #[serde(rename = "ref")]
    pub tag: String,
    /// Code of the task.
    pub task: String,
    /// What is done, for people.
    pub words: String,
    /// Times a year.
    pub per_year: u32,
    /// Expected minutes each time: the PERT mean of `three_point`.
    pub minutes: u64,
    /// Minutes at best, most often and at worst.
    pub three_point: ThreePoint,
    /// People who are paid for these minutes: 2 where a second one stands by.
    pub people: u32,
    /// Why the time or the frequency is other than usual.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub because: Vec<String>,
    /// Where the frequency comes from.
    pub source: Source,
    /// Which of the units, in tag order; two may share a tag.
    #[serde(skip)]
    pub unit: usize,
    /// What adjustments added to the time.
    #[serde(skip)]
    pub added: Percent,
    /// Rate-book entry of the time, such as `minutes 3 look_over` for the fourth `[[minutes]]`.
    pub entry: String,
}

/// A material, joined over all units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MaterialLine {
    /// What to order, such as `filter 20x25x2`.
    pub item: String,
    /// Pieces for one round over all units.
    pub per_round: u64,
    /// Pieces a year.
    pub per_year: u64,
    /// Price of one.
    pub unit_cost_cents: Cents,
    /// Pieces a year times price.
    pub cost_cents_per_year: Cents,
    /// Units that take it.
    pub refs: Vec<String>,
    /// What to know before ordering.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
}

/// How many people come, and why.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Crew {
    /// People on each visit.
    pub size: u32,
    /// Why that many.
    pub because: Vec<String>,
}

/// Getting up and setting up on each visit.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Access {
    /// Expected minutes of each person on each visit, travel not counted.
    pub minutes_per_visit: u64,
    /// Why.
    pub because: Vec<String>,
    /// What it is made of.
    pub lines: Vec<AccessLine>,
}

/// One thing that takes each person's time on each visit.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct AccessLine {
    /// Rate-book entry.
    pub item: String,
    /// How often on each visit.
    pub times: u32,
    /// Expected minutes each time.
    pub minutes: u64,
    /// Minutes at best, most often and at worst.
    pub three_point: ThreePoint,
    /// Gear, vehicle or hire each time.
    pub cents: Cents,
    /// Why.
    pub because: Vec<String>,
}

/// Paid minutes a year by person.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct People {
    /// The first person.
    pub technician: u64,
    /// The second person.
    pub second_person: u64,
}

/// The price, step by step; `docs/quote.md` has the formulas.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct BuildUp {
    /// Labour at cost.
    pub labour_cents: Cents,
    /// Mark-up on it.
    pub labour_markup_cents: Cents,
    /// Materials at cost.
    pub materials_cents: Cents,
    /// Mark-up on them.
    pub materials_markup_cents: Cents,
    /// Vehicle, gear and hire at cost.
    pub hire_cents: Cents,
    /// Mark-up on them.
    pub hire_markup_cents: Cents,
    /// Contingency on all above.
    pub contingency_cents: Cents,
    /// Tax.
    pub tax_cents: Cents,
    /// The sum.
    pub price_cents: Cents,
}

/// A seeded simulation of the hours a year.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Simulation {
    /// Trials.
    pub trials: u32,
    /// Seed.
    pub seed: u32,
    /// Chance in percent that two rate-book entries go well or badly together.
    pub correlation_percent: Percent,
    /// Mean hours.
    pub mean_hours: Hours,
    /// One year in ten is below this.
    pub p10_hours: Hours,
    /// Half are below this.
    pub p50_hours: Hours,
    /// One year in ten is above this.
    pub p90_hours: Hours,
}

/// How far one input moves the price.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Sensitivity {
    /// The input and the change made to it.
    pub input: String,
    /// Price with the input at its low end.
    pub price_cents_at_low: Cents,
    /// Price with the input at its high end.
    pub price_cents_at_high: Cents,
    /// The difference of the two.
    pub swing_cents: Cents,
}

/// An alternative.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OptionLine {
    /// Code, such as `coil_cleaning`.
    pub option: String,
    /// What would be different, for people.
    pub words: String,
    /// The price a year with it.
    pub price_cents_per_year: Range<Cents>,
    /// What it adds to the expected price; negative when it saves.
    pub adds_cents_per_year: Cents,
}

/// A finding that needs money of its own.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Repair {
    /// Tag, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// The part.
    pub component: Component,
    /// What is the matter with it.
    pub condition: Condition,
    /// How much it matters.
    pub severity: Severity,
    /// How sure the speaker was.
    pub certainty: Certainty,
    /// What it asks for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub action: Option<Action>,
    /// What was seen, in the words of the person who saw it where there are any.
    pub seen: String,
    /// Photos that show it.
    pub photos: Vec<String>,
    /// Price, absent when the rate book lists none.
    pub price_cents: Option<Cents>,
    /// How the price came about, or why there is none.
    pub because: String,
}

/// Something the survey does not say.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Gap {
    /// Tag, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// The field.
    pub field: String,
    /// What the price reckons with, and what it was held against.
    pub why: String,
    /// What knowing it could add to the expected price; negative when it could save.
    pub could_move_price_by_cents: Cents,
}
