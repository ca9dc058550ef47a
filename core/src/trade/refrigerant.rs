//! Refrigerants: what they are, which leak rule they fall under, and how leaks are counted.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::{Gwp, Hfc, Ods};
use super::source::Basis;
use super::source::Verdict::{Advise, Pass};
use crate::survey::codes::EquipmentKind;
use crate::survey::units::{Percent, Pounds};
use chrono::NaiveDate;

/// Safety class by ASHRAE 34: toxicity letter and flammability.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SafetyClass {
    /// Lower toxicity, no flame propagation.
    A1,
    /// Lower toxicity, mildly flammable.
    A2L,
    /// Lower toxicity, highly flammable.
    A3,
    /// Higher toxicity, no flame propagation.
    B1,
    /// Higher toxicity, mildly flammable.
    B2L,
}

/// What is known of a refrigerant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Refrigerant {
    /// Designation, such as `R-410A`.
    pub name: &'static str,
    /// Global warming potential, the AR4 values that US rules use.
    pub gwp: f64,
    /// Safety class.
    pub class: SafetyClass,
    /// Whether it depletes ozone.
    pub ozone_depleting: bool,
    /// How its GWP is known.
    pub basis: Basis,
}

const fn known(
    name: &'static str,
    gwp: f64,
    class: SafetyClass,
    ozone_depleting: bool,
) -> Refrigerant {
    Refrigerant {
        name,
        gwp,
        class,
        ozone_depleting,
        basis: Basis::Published,
    }
}

const fn remembered(
    name: &'static str,
    gwp: f64,
    class: SafetyClass,
    ozone_depleting: bool,
) -> Refrigerant {
    Refrigerant {
        name,
        gwp,
        class,
        ozone_depleting,
        basis: Basis::Memory,
    }
}

use SafetyClass::{A1, A2L, A3, B1, B2L};

/// Refrigerants met on roofs. GWP: 40 CFR 98 Table A-1 (AR4) for and R-134a and the
/// blends computed from them; the rest, and all classes, from memory.
pub const REFRIGERANTS: &[Refrigerant] = &[
    remembered("R-12", 10900.0, A1, true),
    remembered("R-22", 1810.0, A1, true),
    remembered("R-32", 675.0, A2L, false),
    remembered("R-123", 77.0, B1, true),
    known("R-134a", 1430.0, A1, false),
    remembered("R-290", 3.0, A3, false),
    known("R-404A", 3922.0, A1, false),
    known("R-407A", 2107.0, A1, false),
    known("R-407C", 1774.0, A1, false),
    known("R-410A", 2088.0, A1, false),
    remembered("R-438A", 2265.0, A1, false),
    remembered("R-448A", 1387.0, A1, false),
    remembered("R-449A", 1397.0, A1, false),
    remembered("R-454A", 239.0, A2L, false),
    known("R-454B", 466.0, A2L, false),
    remembered("R-502", 4657.0, A1, true),
    remembered("R-507A", 3985.0, A1, false),
    remembered("R-513A", 631.0, A1, false),
    remembered("R-717", 0.0, B2L, false),
    remembered("R-744", 1.0, A1, false),
];

/// Where the potentials come from.
pub const GWP: Cite = Cite::published(Gwp, "Table A-1");

/// Finds a refrigerant by what a plate or a person calls it: `R-410A`, `r410a`, `HFC-410A`.
pub fn find(name: &str) -> Option<&'static Refrigerant> {
    let key = |text: &str| {
        let text = text.to_ascii_uppercase();
        let digits = text.find(|c: char| c.is_ascii_digit())?;
        let tail = text.get(digits..)?;
        Some(
            tail.chars()
                .filter(char::is_ascii_alphanumeric)
                .collect::<String>(),
        )
    };
    let wanted = key(name)?;
    REFRIGERANTS
        .iter()
        .find(|r| key(r.name).as_deref() == Some(wanted.as_str()))
}

/// GWP of a blend from mass fractions and the potentials of its parts, rounded to a whole number.
pub fn blend_gwp(parts: &[(f64, f64)]) -> f64 {
    let sum = parts.iter().map(|(share, gwp)| share * gwp).sum::<f64>();
    // Table values of blends are rounded half up: 2087.5 is printed as 2088.
    (sum + 0.5 + 1e-9).floor()
}

/// Kind of use, which sets the rate that must not be exceeded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// Cooling of people.
    ComfortCooling,
    /// Refrigeration in shops and stores.
    CommercialRefrigeration,
    /// Refrigeration in industry.
    IndustrialProcess,
}

impl Use {
    /// The rate that a leak must not exceed.
    pub const fn limit(self) -> Percent {
        match self {
            Self::ComfortCooling => Percent::of(10.0),
            Self::CommercialRefrigeration => Percent::of(20.0),
            Self::IndustrialProcess => Percent::of(30.0),
        }
    }

    /// Whether a rate exceeds the limit; the limit itself does not.
    pub fn exceeded_by(self, rate: Percent) -> bool {
        settle(rate.get()) > self.limit().get()
    }
}

/// Where [`annualized_rate`] and [`rolling_rate`] come from.
pub const LEAK_RATE: Cite = Cite::published(Ods, "82.152");

/// Leak rate by the annualizing method; none without a charge or a day passed.
pub fn annualized_rate(
    added: Pounds,
    full_charge: Pounds,
    days_since_last: u32,
) -> Option<Percent> {
    let days = f64::from(days_since_last.min(365));
    rate(added.get() * 365.0, full_charge.get() * days)
}

/// Leak rate by the rolling method: all that was added in the last 365 days.
pub fn rolling_rate(added_in_year: &[Pounds], full_charge: Pounds) -> Option<Percent> {
    rate(
        added_in_year.iter().map(|p| p.get()).sum(),
        full_charge.get(),
    )
}

fn rate(part: f64, whole: f64) -> Option<Percent> {
    (whole > 0.0).then(|| Percent::of(settle(100.0 * part / whole)))
}

/// Which leak repair rule may hold?
pub const LEAK_RULE: Rule = Rule {
    id: "refrigerant-leak-rule",
    title: "Leak repair rule by refrigerant and charge",
    cite: Cite::memory(Hfc, "84.106"),
    applies: "units with a refrigerant circuit",
    formula: "ozone-depleting and at least 50 lb: 40 CFR 82.157; otherwise GWP above 53 and at \
              least 15 lb, from 2026-01-01: 40 CFR 84.106; the rule is advised on where it may hold",
    note: "The charge is that of one circuit; a plate's total can only be more. 84.106 leaves out \
           residential and light commercial air conditioning, in which most packaged and split \
           comfort cooling falls; the exact wording was not read, so such a unit at 15 lb or more \
           is advised on. Rates that must not be exceeded: 10 % comfort cooling, 20 % commercial \
           refrigeration, 30 % industrial process.",
    examples: || {
        let on = NaiveDate::from_ymd_opt(2026, 4, 14);
        let rtu = EquipmentKind::PackagedRooftopUnit;
        vec![
            (
                "R-22, 60 lb",
                leak_rule(rtu, Some("R-22"), Some(Pounds::of(60.0)), on),
            ),
            (
                "R-22, 30 lb",
                leak_rule(rtu, Some("R-22"), Some(Pounds::of(30.0)), on),
            ),
            (
                "R-410A, 14 lb",
                leak_rule(rtu, Some("R-410A"), Some(Pounds::of(14.0)), on),
            ),
            (
                "R-410A, 30 lb",
                leak_rule(rtu, Some("R-410A"), Some(Pounds::of(30.0)), on),
            ),
            (
                "R-134a chiller, 200 lb",
                leak_rule(
                    EquipmentKind::AirCooledChiller,
                    Some("R-134a"),
                    Some(Pounds::of(200.0)),
                    on,
                ),
            ),
        ]
    },
};

/// Least charge under 40 CFR 82.157.
pub const ODS_CHARGE: Pounds = Pounds::of(50.0);
/// Least charge under 40 CFR 84.106.
pub const HFC_CHARGE: Pounds = Pounds::of(15.0);
/// GWP that 40 CFR 84.106 begins above.
pub const HFC_GWP: f64 = 53.0;

/// The rule [`LEAK_RULE`].
pub fn leak_rule(
    kind: EquipmentKind,
    name: Option<&str>,
    charge: Option<Pounds>,
    on: Option<NaiveDate>,
) -> Outcome {
    let Some(name) = name else {
        return Outcome::unknown(
            "The refrigerant was not recorded.",
            &["nameplate.refrigerant"],
        );
    };
    let Some(refrigerant) = find(name) else {
        return Outcome::unknown(
            format!("{name} is not a refrigerant known here; read the plate again."),
            &["nameplate.refrigerant"],
        );
    };
    let name = refrigerant.name;
    let (least, cite) = if refrigerant.ozone_depleting {
        (ODS_CHARGE.get(), Cite::published(Ods, "82.157"))
    } else if refrigerant.gwp > HFC_GWP {
        (HFC_CHARGE.get(), LEAK_RULE.cite)
    } else {
        return Outcome::new(
            Pass,
            format!(
                "{name} does not deplete ozone and its GWP of {} is not above 53, so neither leak repair rule holds.",
                num(refrigerant.gwp)
            ),
        );
    };
    let Some(charge) = charge.map(Pounds::get) else {
        return Outcome::unknown(
            format!(
                "The charge of {name} was not recorded; the rule begins at {} lb.",
                num(least)
            ),
            &["nameplate.charge_lb"],
        )
        .citing(cite);
    };
    let outcome = if settle(charge) < least {
        Outcome::new(
            Pass,
            format!(
                "{} lb of {name} is less than {} lb, so the leak repair rule does not hold.",
                num(charge),
                num(least)
            ),
        )
    } else if refrigerant.ozone_depleting {
        Outcome::new(
            Advise,
            format!(
                "{} lb of ozone-depleting {name} is at least 50 lb in all: if one circuit holds that much, additions are logged and a leak above the limit is repaired in 30 days.",
                num(charge)
            ),
        )
    } else if on.is_some_and(|day| Some(day) < NaiveDate::from_ymd_opt(2026, 1, 1)) {
        Outcome::new(
            Pass,
            format!(
                "{} lb of {name} (GWP {}) was surveyed before the rule began on 2026-01-01.",
                num(charge),
                num(refrigerant.gwp)
            ),
        )
    } else {
        let which = match kind {
            EquipmentKind::AirCooledChiller => "a chiller is not left out of it",
            EquipmentKind::CondensingUnit => {
                "a unit that refrigerates is in it, one for comfort cooling is probably left out; check which this is"
            }
            _ => {
                "residential and light commercial air conditioning is left out of it; check whether this unit is"
            }
        };
        Outcome::new(
            Advise,
            format!(
                "{} lb of {name} (GWP {}) is at least 15 lb, where the leak repair rule may hold: {which}.",
                num(charge),
                num(refrigerant.gwp)
            ),
        )
    };
    let outcome = outcome.measured(charge, "lb").citing(cite);
    let mut asked = outcome;
    asked.required = Some(super::source::Requirement {
        less_than: Some(least),
        unit: "lb".to_owned(),
        ..Default::default()
    });
    asked
}
