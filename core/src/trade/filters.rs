//! Filters: face area and velocity, actual sizes, and the list to order.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::source::Verdict::{Advise, Pass};
use crate::survey::Filter;
use crate::survey::units::{Cfm, Fpm, Inches, Tons};
use std::collections::BTreeMap;

/// Is the air through the filters slow enough?
pub const FACE_VELOCITY: Rule = Rule {
    id: "filter-face-velocity",
    title: "Velocity of the air through the filters",
    cite: Cite::practice("filter face velocity"),
    applies: "units that filter air: packaged rooftop, makeup air and dedicated outdoor air units, \
              and any unit with filters recorded",
    formula: "air flow / (width x height x quantity / 144): at most 500 fpm, or 300 fpm if any \
              filter is 1 in deep or less",
    note: "Nominal sizes. The limits are common practice, so more is advised on, never failed. \
           Without an air flow the verdict is unknown; 400 cfm a ton is only shown.",
    examples: || {
        let set = |width: f64, height: f64, depth: f64, quantity| {
            vec![Filter {
                width_in: Inches::of(width),
                height_in: Inches::of(height),
                depth_in: Inches::of(depth),
                quantity,
            }]
        };
        vec![
            (
                "4 of 20 x 25 x 2, 2000 cfm",
                face_velocity(&set(20.0, 25.0, 2.0, 4), Some(Cfm::of(2000.0)), None),
            ),
            (
                "2 of 20 x 20 x 2, 3000 cfm",
                face_velocity(&set(20.0, 20.0, 2.0, 2), Some(Cfm::of(3000.0)), None),
            ),
            (
                "4 of 20 x 25 x 2, 5 tons, air flow not known",
                face_velocity(&set(20.0, 25.0, 2.0, 4), None, Some(Tons::of(5.0))),
            ),
        ]
    },
};

/// Usual limit for pleated filters.
pub const PLEATED_LIMIT: Fpm = Fpm::of(500.0);
/// Usual limit for throwaway filters of 1 in.
pub const THROWAWAY_LIMIT: Fpm = Fpm::of(300.0);

/// Face area of a set of filters in square feet.
pub fn face_area_ft2(filters: &[Filter]) -> f64 {
    let area = |f: &Filter| f.width_in.get() * f.height_in.get() * f64::from(f.quantity);
    filters.iter().map(area).sum::<f64>() / 144.0
}

/// Velocity of this air flow through these filters; none if they have no area.
pub fn velocity(filters: &[Filter], airflow: Cfm) -> Option<Fpm> {
    let area = face_area_ft2(filters);
    (area > 0.0).then(|| Fpm::of(settle(airflow.get() / area)))
}

/// Usual air flow of a cooling capacity: 400 cfm a ton.
pub fn usual_airflow(capacity: Tons) -> Cfm {
    Cfm::of(400.0 * capacity.get())
}

/// The rule [`FACE_VELOCITY`].
pub fn face_velocity(filters: &[Filter], airflow: Option<Cfm>, capacity: Option<Tons>) -> Outcome {
    let thin = filters.iter().any(|f| f.depth_in.get() <= 1.0);
    let limit = if thin { THROWAWAY_LIMIT } else { PLEATED_LIMIT }.get();
    let mut needs = Vec::new();
    if face_area_ft2(filters) <= 0.0 {
        needs.push("filters");
    }
    if airflow.is_none() {
        needs.push("airflow_cfm");
    }
    if let (Some(airflow), []) = (airflow, needs.as_slice())
        && let Some(velocity) = velocity(filters, airflow).map(Fpm::get)
    {
        let (verdict, words) = if velocity <= limit {
            (Pass, "within")
        } else {
            (Advise, "above")
        };
        return Outcome::new(
            verdict,
            format!(
                "{} cfm through {} ft2 of filters is {} fpm, {words} the usual {} fpm.",
                num(airflow.get()),
                num(face_area_ft2(filters)),
                num(velocity),
                num(limit)
            ),
        )
        .measured(velocity, "fpm")
        .at_most(limit, "fpm");
    }
    let usual = capacity.and_then(|tons| velocity(filters, usual_airflow(tons)));
    let because = match usual {
        Some(usual) => format!(
            "The air flow was not recorded; at the usual 400 cfm a ton it would be {} fpm.",
            num(usual.get())
        ),
        None => "The filters and the air flow are both needed.".to_owned(),
    };
    Outcome::unknown(because, &needs).at_most(limit, "fpm")
}

/// One line of a filter order: nominal size and how many.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderLine {
    /// Nominal width, the shorter side.
    pub width: Inches,
    /// Nominal height, the longer side.
    pub height: Inches,
    /// Nominal depth.
    pub depth: Inches,
    /// How many.
    pub quantity: u32,
}

/// What to order for a roof: equal nominal sizes together (20 x 16 is 16 x 20), smallest first.
/// Order by nominal size; measure the slot, never the old filter.
pub fn order_list<'a>(filters: impl IntoIterator<Item = &'a Filter>) -> Vec<OrderLine> {
    let thousandths = |side: Inches| (side.get() * 1000.0).round() as u64;
    let mut lines: BTreeMap<(u64, u64, u64), u32> = BTreeMap::new();
    for filter in filters {
        let (a, b) = (thousandths(filter.width_in), thousandths(filter.height_in));
        let key = (a.min(b), a.max(b), thousandths(filter.depth_in));
        let count = lines.entry(key).or_default();
        *count = count.saturating_add(filter.quantity);
    }
    let inches = |thousandths: u64| Inches::of(thousandths as f64 / 1000.0);
    lines
        .into_iter()
        .map(|((width, height, depth), quantity)| OrderLine {
            width: inches(width),
            height: inches(height),
            depth: inches(depth),
            quantity,
        })
        .collect()
}

/// Thickness of a filter as made, for the nominal depths that are sold: a 2 in filter is 1 3/4 in.
pub fn actual_depth(nominal: Inches) -> Option<Inches> {
    const TABLE: &[(f64, f64)] = &[(1.0, 0.75), (2.0, 1.75), (4.0, 3.75)];
    let row = TABLE.iter().find(|(n, _)| *n == nominal.get())?;
    Some(Inches::of(row.1))
}
