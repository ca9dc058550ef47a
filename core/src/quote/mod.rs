//! From an assessment and a rate book to a price: tasks, materials, crew, hours, range.
//!
//! Pure and integer: money in cents, time in minutes, one rounding rule (`money`). The same
//! survey and rate book give the same bytes, in whatever order things were entered. Every
//! formula is in `docs/quote.md`. Nothing here knows the rules of the trade: what is near an
//! edge or past its life is read from the assessment.

mod crew;
mod gaps;
mod lines;
mod money;
mod pictured;
mod price;
mod programme;
mod ratebook;
mod ratebook_read;
mod repairs;
mod simulate;
mod takeoff;
mod times;
mod types;
mod variants;
mod view;
mod words;
mod work;

#[cfg(test)]
mod properties;
#[cfg(test)]
mod refusals;
#[cfg(test)]
mod tests;

pub use money::{Cents, Percent};
pub use programme::{Adjustment, Covered, Needs, Part, Programme, Task};
pub use ratebook::{
    AccessTimes, BeltPrices, CrewRules, Extra, FilterPrices, Labour, Lift, Markup, Options,
    PaperSize, Per, RangeRule, RateBook, RepairPrice, Scope, TaskTime, Tax, TaxOn, Travel,
    Unknowns, Water,
};
pub use ratebook_read::EXAMPLE;
pub use times::{Range, ThreePoint};
pub use types::{
    Access, AccessLine, BuildUp, Crew, Gap, Hours, MaterialLine, OptionLine, People, Quote, Repair,
    Sensitivity, Simulation, TaskLine,
};

use crate::assess::Assessment;
use crate::survey::Survey;
use price::Quantities;
use view::View;

pub use pictured::Pictured;
pub use repairs::seen;
pub use view::tag_order;
use work::Terms;

/// What the project manager needs to price the agreement.
pub fn quote(survey: &Survey, assessment: &Assessment, book: &RateBook) -> Quote {
    let view = View::new(survey, assessment);
    let terms = Terms::of(book);
    let ground = Ground::of(&view, book);
    let Priced {
        visits,
        materials,
        quantities,
        build_up,
    } = ground.priced(terms);
    let price = build_up.map(|at| at.price_cents);
    let minutes = quantities.minutes(book);
    let options = if view.units.is_empty() {
        Vec::new()
    } else {
        variants::alternatives(book, terms, visits)
            .into_iter()
            .map(|(code, words, other)| {
                let other = ground.priced(other).build_up.map(|at| at.price_cents);
                variants::option_line(code, words, other, price)
            })
            // Leaving out belts where there are none is no choice.
            .filter(|option| option.price_cents_per_year != price)
            .collect()
    };
    let Ground {
        jobs, crew, access, ..
    } = ground;
    let tasks = work::tasks(jobs, terms);
    Quote {
        survey_id: survey.survey_id.clone(),
        rate_book: book.name.clone(),
        rate_book_note: book.note.clone(),
        currency: book.currency.clone(),
        empty: words::empty(&view),
        visits_per_year: visits,
        scope: terms.scope,
        repairs: repairs::repairs(&view, book, &tasks),
        sensitivities: variants::sensitivities(book, &quantities, &materials),
        missing: gaps::gaps(&view, book, terms, &quantities, &tasks, (visits, crew.size)),
        assumptions: words::assumptions(&view, book, terms, &tasks),
        exclusions: words::exclusions(&view, terms),
        simulation: simulate::simulate(&quantities.spread, &book.range),
        hire_cents_per_year: quantities.hire,
        labour_hours_per_year: minutes.map(Hours::of_minutes),
        labour_minutes_per_year: minutes,
        people_minutes_per_year: quantities.people,
        price_cents_per_year: price,
        build_up,
        travel: travel(book),
        tasks,
        materials,
        crew,
        access,
        options,
    }
}

/// What a quote and its alternatives share: all that does not hang on the terms.
struct Ground<'a> {
    view: &'a View<'a>,
    book: &'a RateBook,
    jobs: Vec<work::Job>,
    sets: takeoff::Sets,
    crew: Crew,
    access: Access,
}

/// What the terms decide.
struct Priced {
    visits: u32,
    materials: Vec<MaterialLine>,
    quantities: Quantities,
    build_up: Range<BuildUp>,
}

impl<'a> Ground<'a> {
    fn of(view: &'a View<'a>, book: &'a RateBook) -> Self {
        let (crew, access) = crew::plan(view, book);
        Self {
            view,
            book,
            jobs: work::jobs(view, book),
            sets: takeoff::Sets::of(view),
            crew,
            access,
        }
    }

    fn priced(&self, terms: Terms) -> Priced {
        let (view, book) = (self.view, self.book);
        let visits = work::visits(&self.jobs, terms, !view.units.is_empty());
        let materials = takeoff::materials(view, book, terms, &self.jobs, &self.sets);
        let travel = travel(book);
        let visit = self.access.lines.iter().chain([&travel]);
        let tasks = self.jobs.iter().filter_map(|job| job.on(terms));
        let quantities = Quantities::new(tasks, &materials, visit, &self.crew, visits);
        let build_up = price::build_up(book, &quantities);
        Priced {
            visits,
            materials,
            quantities,
            build_up,
        }
    }
}

fn travel(book: &RateBook) -> AccessLine {
    AccessLine {
        item: "travel".to_owned(),
        times: 1,
        minutes: book.travel.minutes.mean(),
        three_point: book.travel.minutes,
        cents: book.travel.vehicle_cents_per_visit,
        because: vec!["there and back, each person, each visit".to_owned()],
    }
}
