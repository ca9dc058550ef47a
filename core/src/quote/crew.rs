//! How many people come and what each visit needs before work begins, each with its reason.
//!
//! The floor that no rate book can lower: near an unprotected edge, and where nobody could
//! measure how near, fall protection is set up and two people come.

use super::ratebook::{Extra, RateBook};
use super::types::{Access, AccessLine, Crew};
use super::view::{Nearness, View, Zone, said};
use crate::survey::Roof;
use crate::survey::codes::{AccessKind, HazardKind};
use std::collections::BTreeSet;

/// Crew and set-up of one visit. An empty roof needs neither.
pub(crate) fn plan(view: &View<'_>, book: &RateBook) -> (Crew, Access) {
    if view.units.is_empty() {
        return (Crew::default(), Access::default());
    }
    let mut plan = Plan {
        book,
        two_because: Vec::new(),
        lines: Vec::new(),
    };
    plan.ways_up(view);
    plan.edges(view);
    plan.openings(view);
    plan.other_hazards(view);
    plan.finish()
}

struct Plan<'a> {
    book: &'a RateBook,
    two_because: Vec<String>,
    lines: Vec<AccessLine>,
}

impl Plan<'_> {
    fn add(&mut self, item: &str, extra: Extra, times: u32, because: Vec<String>) {
        if extra.two_people {
            self.two_because.extend(because.iter().cloned());
        }
        self.lines.push(AccessLine {
            item: item.to_owned(),
            times,
            minutes: extra.minutes.mean(),
            three_point: extra.minutes,
            cents: extra.cents_per_visit,
            because,
        });
    }

    fn ways_up(&mut self, view: &View<'_>) {
        let roofs: Vec<&Roof> = view.survey.site.roofs().collect();
        let mut by_kind: Vec<(AccessKind, Vec<String>)> = Vec::new();
        for kind in AccessKind::ALL {
            let mut reasons: Vec<String> = roofs
                .iter()
                .filter(|roof| roof.access.as_ref().is_some_and(|way| way.kind == *kind))
                .map(|roof| format!("{} is reached by {}", name(roof), kind.words()))
                .collect();
            reasons.sort();
            if !reasons.is_empty() {
                by_kind.push((*kind, reasons));
            }
        }
        if by_kind.is_empty() {
            let why = vec!["nobody recorded how the roof is reached".to_owned()];
            self.add("access unknown", self.book.access.of(None), 1, why);
        }
        for (kind, reasons) in by_kind {
            let times = u32::try_from(reasons.len()).unwrap_or(u32::MAX);
            let item = format!("access {}", kind.code());
            self.add(&item, self.book.access.of(Some(kind)), times, reasons);
        }
        let limit = self.book.lift.above_climb_ft;
        let mut high: Vec<String> = roofs
            .iter()
            .filter_map(|roof| {
                let way = roof.access.as_ref()?;
                let climb = way.climb_ft.or(roof.height_ft)?.get();
                let tall = way.kind == AccessKind::PortableLadder && climb > f64::from(limit);
                tall.then(|| {
                    format!(
                        "{} is a {climb} ft climb by portable ladder; over {limit} ft the rate book hires a lift",
                        name(roof)
                    )
                })
            })
            .collect();
        high.sort();
        if !high.is_empty() {
            let lift = Extra {
                minutes: self.book.lift.minutes,
                cents_per_visit: self.book.lift.cents_per_visit,
                two_people: true,
            };
            let times = u32::try_from(high.len()).unwrap_or(u32::MAX);
            self.add("lift", lift, times, high);
        }
    }

    fn edges(&mut self, view: &View<'_>) {
        let mut because = Vec::new();
        for unit in &view.units {
            match view.nearness(unit) {
                Nearness::Close(why) | Nearness::Near(why) => because.push(why),
                Nearness::Away => {}
                Nearness::Unknown => because.push(format!(
                    "nobody could tell how far {} is from an unprotected edge",
                    unit.tag
                )),
            }
        }
        let at_site = view.site_hazards().filter(|hazard| {
            hazard.kind == HazardKind::UnprotectedEdge && Zone::of(hazard) != Zone::Away
        });
        because.extend(at_site.map(said));
        if !because.is_empty() {
            let extra = Extra {
                two_people: true,
                ..self.book.fall_protection
            };
            self.add("fall protection", extra, 1, unique(because));
        }
    }

    fn openings(&mut self, view: &View<'_>) {
        let at_units = view
            .units
            .iter()
            .flat_map(|unit| view.hazards(&unit.tag).iter().copied());
        let because: Vec<String> = at_units
            .chain(view.site_hazards())
            .filter(|hazard| hazard.kind == HazardKind::UnguardedOpening)
            .map(said)
            .collect();
        if !because.is_empty() {
            self.add("open holes", self.book.openings, 1, unique(because));
        }
    }

    /// Any hazard on one of the rate book's lists brings a second person, wherever it is.
    fn other_hazards(&mut self, view: &View<'_>) {
        let crew = &self.book.crew;
        let at_units = view
            .units
            .iter()
            .flat_map(|unit| view.hazards(&unit.tag).iter().copied());
        let reasons = at_units.chain(view.site_hazards()).filter(|hazard| {
            crew.two_people_for.contains(&hazard.kind) || crew.stand_by_for.contains(&hazard.kind)
        });
        self.two_because.extend(reasons.map(said));
    }

    fn finish(self) -> (Crew, Access) {
        let usual = self.book.crew.usual;
        let because = unique(self.two_because);
        let crew = Crew {
            size: if because.is_empty() {
                usual
            } else {
                usual.max(2)
            },
            because: if because.is_empty() {
                vec![format!("the rate book's usual crew is {usual}")]
            } else {
                because
            },
        };
        let reasons = self
            .lines
            .iter()
            .flat_map(|line| line.because.iter().cloned());
        let access = Access {
            minutes_per_visit: self
                .lines
                .iter()
                .map(|line| line.minutes * u64::from(line.times))
                .sum(),
            because: unique(reasons.collect()),
            lines: self.lines,
        };
        (crew, access)
    }
}

fn name(roof: &Roof) -> String {
    roof.id
        .as_ref()
        .map_or_else(|| "the roof".to_owned(), |id| format!("roof {id}"))
}

/// The same reasons, each once, in the order given.
fn unique(reasons: Vec<String>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    reasons
        .into_iter()
        .filter(|reason| seen.insert(reason.clone()))
        .collect()
}
