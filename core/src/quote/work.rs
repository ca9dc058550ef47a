//! Which task is done at which unit, how often, and how long it takes.

use super::money::Percent;
use super::programme::{Adjustment, Needs, Part, Task};
use super::ratebook::{Per, RateBook, Scope};
use super::times::ThreePoint;
use super::types::TaskLine;
use super::view::{Nearness, View, Zone, said};
use crate::survey::Equipment;
use crate::survey::codes::{Certainty, HazardKind};
use crate::trade::{Basis, Source, Verdict};

/// Filters and belts of one unit are held to this many, against slips of the tongue.
const MOST_PIECES: u32 = 1000;

/// The task of bringing water to a coil; it goes with every coil cleaning.
pub(crate) const BRING_WATER: &str = "bring_water";

/// The entry of every time that the rate book does not list; they are one entry, wrong together.
pub(crate) const UNLISTED: &str = "unlisted_minutes";

/// What can differ between a quote and its alternatives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Terms {
    pub(crate) scope: Scope,
    /// Visits a year, when they are set.
    pub(crate) visits: Option<u32>,
}

impl Terms {
    pub(crate) fn of(book: &RateBook) -> Self {
        Self {
            scope: book.scope,
            visits: book.visits_per_year,
        }
    }

    pub(crate) fn includes(&self, part: Part) -> bool {
        match part {
            Part::Programme => true,
            Part::CoilCleaning => self.scope.coil_cleaning,
            Part::Belts => self.scope.belts,
        }
    }
}

/// A task at a unit as the programme asks for it, whether or not the terms take it.
#[derive(Debug)]
pub(crate) struct Job {
    pub(crate) part: Part,
    line: TaskLine,
}

impl Job {
    /// The line, and how often a year it is done on these terms; nothing when they leave it out.
    pub(crate) fn on(&self, terms: Terms) -> Option<(&TaskLine, u32)> {
        let often = |visits: u32| self.line.per_year.min(visits);
        let per_year = terms.visits.map_or(self.line.per_year, often);
        terms.includes(self.part).then_some((&self.line, per_year))
    }
}

/// Every task of the whole scope: units in tag order, tasks in the programme's order.
pub(crate) fn jobs(view: &View<'_>, book: &RateBook) -> Vec<Job> {
    let mut jobs = Vec::new();
    for (index, unit) in view.units.iter().enumerate() {
        let (people, second) = people_at(view, book, unit);
        let reasons = reasons(view, book, unit);
        for task in &book.programme.tasks {
            if !applies(task, unit) {
                continue;
            }
            let mut line = line_for(book, unit, task, &reasons);
            line.unit = index;
            line.people = people;
            line.because.extend(second.clone());
            let coil = task.part == Part::CoilCleaning;
            let water = coil.then(|| water_line(view, book, unit, &line));
            jobs.extend([Some(line), water].into_iter().flatten().map(|line| Job {
                part: task.part,
                line,
            }));
        }
    }
    jobs
}

/// The task lines that these terms take.
pub(crate) fn tasks(jobs: Vec<Job>, terms: Terms) -> Vec<TaskLine> {
    let taken = jobs.into_iter().filter_map(|job| {
        let (_, per_year) = job.on(terms)?;
        Some(TaskLine {
            per_year,
            ..job.line
        })
    });
    taken.collect()
}

/// Visits a year: those agreed, or as many as the most frequent task asks for.
pub(crate) fn visits(jobs: &[Job], terms: Terms, any_unit: bool) -> u32 {
    if !any_unit {
        return 0;
    }
    let most = jobs.iter().filter_map(|job| job.on(terms));
    let most = most.map(|(_, per_year)| per_year).max();
    terms.visits.or(most).unwrap_or(1).max(1)
}

/// Whether a task makes sense at a unit.
pub(crate) fn applies(task: &Task, unit: &Equipment) -> bool {
    let large = match (task.from_tons, tons(unit)) {
        (Some(from), Some(tons)) => tons >= f64::from(from),
        _ => true,
    };
    let has = match task.needs {
        Needs::Nothing => true,
        Needs::Gas => unit
            .nameplate
            .gas_input_btuh
            .is_some_and(|gas| gas.get() > 0.0),
        Needs::Belts => belts(unit) > 0,
    };
    task.kinds.contains(&unit.kind) && large && has
}

/// Number of belts recorded at a unit.
pub(crate) fn belts(unit: &Equipment) -> u32 {
    let all = unit
        .belts
        .iter()
        .fold(0_u32, |n, set| n.saturating_add(set.quantity));
    all.min(MOST_PIECES)
}

/// Number of filters recorded at a unit.
pub(crate) fn filters(unit: &Equipment) -> u32 {
    let all = unit
        .filters
        .iter()
        .fold(0_u32, |n, set| n.saturating_add(set.quantity));
    all.min(MOST_PIECES)
}

/// A time of the rate book.
pub(crate) struct Timed {
    /// Which `[[minutes]]` it is; none for what the rate book does not list.
    pub(crate) entry: Option<usize>,
    pub(crate) minutes: ThreePoint,
    pub(crate) per: Per,
}

/// The first rate-book entry that fits a task at a unit, were its capacity this.
pub(crate) fn timed(book: &RateBook, task: &str, unit: &Equipment, tons: Option<f64>) -> Timed {
    let fits = book.minutes.iter().enumerate().find(|(_, entry)| {
        let size = match (entry.up_to_tons, tons) {
            (None, _) => true,
            (Some(limit), Some(tons)) => tons <= f64::from(limit),
            (Some(_), None) => false,
        };
        entry.task == task && size && (entry.kinds.is_empty() || entry.kinds.contains(&unit.kind))
    });
    match fits {
        Some((index, found)) => Timed {
            entry: Some(index),
            minutes: found.minutes,
            per: found.per,
        },
        None => Timed {
            entry: None,
            minutes: book.unlisted_minutes,
            per: Per::Unit,
        },
    }
}

/// Cooling capacity of a unit in tons, if known.
pub(crate) fn tons(unit: &Equipment) -> Option<f64> {
    unit.nameplate.capacity_tons.map(|tons| tons.get())
}

/// The line of one task at one unit, for one person, as often as the programme asks.
fn line_for(
    book: &RateBook,
    unit: &Equipment,
    task: &Task,
    reasons: &[(&Adjustment, String)],
) -> TaskLine {
    let time = timed(book, &task.task, unit, tons(unit));
    let count = match time.per {
        Per::Unit => 1,
        Per::Filter => filters(unit).max(1),
        Per::Belt => belts(unit).max(1),
    };
    let mut because = Vec::new();
    let mut add = 0_u32;
    let mut per_year = task.per_year;
    for (adjustment, reason) in reasons {
        if adjustment.tasks.is_empty() || adjustment.tasks.contains(&task.task) {
            add = add.saturating_add(adjustment.add_percent.hundredths());
            per_year = per_year.max(adjustment.at_least_per_year.unwrap_or(0));
            because.push(reason.clone());
        }
    }
    let added = Percent::from_hundredths(add);
    let three_point = time.minutes.scaled(count, added);
    let entry = match time.entry {
        Some(index) => format!("minutes {index} {}", task.task),
        None => UNLISTED.to_owned(),
    };
    TaskLine {
        tag: unit.tag.clone(),
        task: task.task.clone(),
        words: task.words.clone(),
        per_year,
        minutes: three_point.mean(),
        three_point,
        people: 1,
        because,
        source: book.programme.source(task),
        unit: 0,
        added,
        entry,
    }
}

/// The adjustments that hold at a unit, each with its reason.
fn reasons<'a>(
    view: &View<'_>,
    book: &'a RateBook,
    unit: &Equipment,
) -> Vec<(&'a Adjustment, String)> {
    let adjustments = book.programme.adjustments.iter();
    adjustments
        .filter_map(|adjustment| Some((adjustment, reason(view, unit, adjustment)?)))
        .collect()
}

/// The reason an adjustment gives at a unit, if it holds there.
fn reason(view: &View<'_>, unit: &Equipment, adjustment: &Adjustment) -> Option<String> {
    if adjustment.past_median_life {
        let old = matches!(
            view.verdict("service-life", &unit.tag),
            Some(Verdict::Advise | Verdict::Fail)
        );
        return old.then(|| adjustment.because.clone());
    }
    let component = adjustment.component?;
    let found = view.findings(&unit.tag).iter().find(|finding| {
        finding.component == component && adjustment.conditions.contains(&finding.condition)
    })?;
    Some(match found.certainty {
        Certainty::Suspected => format!("{} (suspected)", adjustment.because),
        _ => adjustment.because.clone(),
    })
}

/// People paid for work at a unit, and why a second one stands by.
fn people_at(view: &View<'_>, book: &RateBook, unit: &Equipment) -> (u32, Option<String>) {
    let because = match view.nearness(unit) {
        Nearness::Close(because) => Some(because),
        Nearness::Near(_) | Nearness::Away | Nearness::Unknown => {
            let mut hazards = view.hazards(&unit.tag).iter();
            let grave = hazards.find(|hazard| {
                hazard.kind != HazardKind::UnprotectedEdge
                    && Zone::of(hazard) == Zone::Close
                    && book.crew.stand_by_for.contains(&hazard.kind)
            });
            grave.map(|hazard| said(hazard))
        }
    };
    match because {
        Some(because) => (2, Some(format!("a second person stands by: {because}"))),
        None => (1, None),
    }
}

/// Bringing water to the coil that a line washes.
fn water_line(view: &View<'_>, book: &RateBook, unit: &Equipment, wash: &TaskLine) -> TaskLine {
    let reach = view.verdict("hose-reach", &unit.tag);
    let (entry, three_point, words) = match reach {
        Some(Verdict::Pass) => (
            "water hose",
            book.water.hose_minutes,
            "Run a hose to the coil and roll it up again",
        ),
        Some(_) | None => (
            "water carried",
            book.water.carried_minutes,
            "Carry water to the coil",
        ),
    };
    let because = match reach {
        Some(Verdict::Pass) => "a hose reaches the unit",
        Some(Verdict::Fail | Verdict::Advise) => "no hose reaches the unit",
        Some(Verdict::Unknown) | None => "nobody could tell whether a hose reaches the unit",
    };
    TaskLine {
        task: BRING_WATER.to_owned(),
        words: words.to_owned(),
        minutes: three_point.mean(),
        three_point,
        because: vec![because.to_owned()],
        source: Source {
            standard: "common practice, no source".to_owned(),
            edition: String::new(),
            section: String::new(),
            basis: Basis::CommonPractice,
        },
        entry: entry.to_owned(),
        ..wash.clone()
    }
}
