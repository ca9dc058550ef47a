//! The price in short: range, hours, crew and why, materials, repairs apart, what it rests on.

use super::sheet::Sheet;
use super::view::Part;
use super::words;
use maud::{Markup, html};
use scupper_core::quote::{Cents, Quote, Repair};
use std::collections::BTreeMap;

/// How many lines of each list the page shows before the others wait behind a link.
const SHOWN: usize = 12;

/// Tasks of one name over all units.
#[derive(Default)]
struct Total {
    units: usize,
    per_year: u64,
    minutes: u64,
}

impl Sheet<'_> {
    pub(super) fn has_quote(&self) -> bool {
        self.view.quote.is_some()
    }

    pub(super) fn quote_part(&self) -> Markup {
        let (Some(quote), Some(room)) = (self.view.quote, self.room(Part::Quote, SHOWN)) else {
            return html! {};
        };
        let lists = [
            quote.crew.because.len(),
            quote.access.because.len(),
            quote.materials.len(),
            quote.repairs.len(),
            quote.assumptions.len(),
            quote.exclusions.len(),
            quote.missing.len(),
        ];
        html! {
            section id="quote" data-part aria-labelledby="quote-t" {
                h2 id="quote-t" { "Price" }
                @if let Some(why) = &quote.empty {
                    p.lead { (why) }
                } @else {
                    (headline(quote))
                    div.columns {
                        div {
                            h3 { "Crew of " (quote.crew.size) }
                            (list(&quote.crew.because, room))
                            h3 { (quote.access.minutes_per_visit) " minutes to get up and set up, each visit" }
                            (list(&quote.access.because, room))
                        }
                        div {
                            h3 { "What moves it most" }
                            ul { @for s in &quote.sensitivities {
                                li { (s.input) ": " b { (money(quote, s.swing_cents)) } }
                            } }
                        }
                    }
                    (tasks(quote))
                    (self.materials(quote, room))
                    (options(quote))
                }
                (self.repairs(quote, room))
                div.columns {
                    div { h3 { "Taken for granted" } (list(&quote.assumptions, room)) }
                    div { h3 { "Not in the price" } (list(&quote.exclusions, room)) }
                }
                (self.quote_gaps(quote, room))
                @if let Some(locked) = self.view.locked {
                    p { "Locked last: " a href={ (self.base) "/price?version=" (locked.seq) } { (locked.title) }
                        ", by " (locked.who) ", " (words::day(locked.at)) "." }
                }
                p { a.press href={ (self.base) "/price" } { "Adjust rates, lock a version, compare" } }
                @if lists.iter().any(|n| *n > room) {
                    p.rest { a href={ "?all=quote#quote" } { "Show the price in full" } }
                }
                p.small.quiet {
                    "Rate book: " (quote.rate_book) "."
                    @if let Some(note) = &quote.rate_book_note { " " (note) }
                }
            }
        }
    }

    fn materials(&self, quote: &Quote, room: usize) -> Markup {
        html! {
            @if !quote.materials.is_empty() {
                details id="materials" {
                    summary { (words::count(quote.materials.len(), "material")) }
                    div.wide tabindex="0" role="region" aria-label="Materials" { table {
                        thead { tr {
                            th scope="col" { "Item" }
                            th.n scope="col" { "A round" }
                            th.n scope="col" { "A year" }
                            th.n scope="col" { "Each" }
                            th.n scope="col" { "Cost a year" }
                            th scope="col" { "For" }
                        } }
                        tbody { @for line in quote.materials.iter().take(room) { tr {
                            th scope="row" { (line.item)
                                @for note in &line.notes { span.small.quiet { (note) } } }
                            td.n { (line.per_round) }
                            td.n { (line.per_year) }
                            td.n { (money(quote, line.unit_cost_cents)) }
                            td.n { (money(quote, line.cost_cents_per_year)) }
                            td { @if line.refs.len() > room { (line.refs.len()) " units" }
                                @else { @for (i, tag) in line.refs.iter().enumerate() {
                                    @if i > 0 { ", " } (self.link(tag)) } } }
                        } } }
                    } }
                }
            }
        }
    }

    fn repairs(&self, quote: &Quote, room: usize) -> Markup {
        let listed: i64 = quote
            .repairs
            .iter()
            .filter_map(|r| r.price_cents)
            .map(Cents::get)
            .sum();
        html! {
            h3 { "Repairs, priced apart" }
            @if quote.repairs.is_empty() {
                p { "No finding asks for money of its own." }
            } @else {
                p { (words::count(quote.repairs.len(), "repair")) ", "
                    (words::money(listed, &quote.currency)) " for those the rate book prices. \
                     None of it is in the price above." }
                details id="repairs" { summary { "List of repairs" }
                    ul.cards { @for repair in quote.repairs.iter().take(room) { (self.repair(quote, repair)) } } }
            }
        }
    }

    fn repair(&self, quote: &Quote, repair: &Repair) -> Markup {
        html! {
            li.card {
                p { b { (self.link(&repair.about)) } " "
                    (words::sentence(&repair.component.words())) " " (repair.condition.words())
                    @if let Some(action) = repair.action { ". To do: " (action.words()) } }
                p { @match repair.price_cents {
                    Some(price) => { b { (money(quote, price)) } ". " }
                    None => { span.sign.unknown { "no price" } " " }
                } (repair.because) }
            }
        }
    }

    fn quote_gaps(&self, quote: &Quote, room: usize) -> Markup {
        html! {
            @if !quote.missing.is_empty() {
                details id="gaps" {
                    summary { (quote.missing.len()) " unknowns that could move the price" }
                    div.wide tabindex="0" role="region" aria-label="Unknowns" { table {
                        thead { tr {
                            th scope="col" { "Unit" }
                            th scope="col" { "What" }
                            th scope="col" { "Reckoned with" }
                            th.n scope="col" { "Could add" }
                        } }
                        tbody { @for gap in quote.missing.iter().take(room) { tr {
                            th scope="row" { (self.link(&gap.about)) }
                            td { (words::sentence(&words::field(&gap.field))) }
                            td { (gap.why) }
                            td.n { (money(quote, gap.could_move_price_by_cents)) }
                        } } }
                    } }
                }
            }
        }
    }
}

fn list(lines: &[String], room: usize) -> Markup {
    html! {
        @if lines.is_empty() { p.quiet { "Nothing." } }
        @else { ul { @for line in lines.iter().take(room) { li { (line) } }
            @if lines.len() > room { li { "and " (lines.len() - room) " more" } } } }
    }
}

pub(super) fn money(quote: &Quote, cents: Cents) -> String {
    words::money(cents.get(), &quote.currency)
}

pub(super) fn headline(quote: &Quote) -> Markup {
    let (price, hours) = (&quote.price_cents_per_year, &quote.labour_hours_per_year);
    html! {
        dl.price {
            div { dt { "Low" } dd { (money(quote, price.low)) }
                dd.small { (words::number(hours.low.get())) " h a year" } }
            div.likely { dt { "Likely" } dd { (money(quote, price.likely)) }
                dd.small { (words::number(hours.likely.get())) " h a year" } }
            div { dt { "High" } dd { (money(quote, price.high)) }
                dd.small { (words::number(hours.high.get())) " h a year" } }
        }
        p { "A year, with " (quote.visits_per_year) " visits. In a thousand-fold trial of the hours \
             one year in ten came out over " (words::number(quote.simulation.p90_hours.get())) " h." }
    }
}

fn tasks(quote: &Quote) -> Markup {
    let mut totals: BTreeMap<&str, Total> = BTreeMap::new();
    for line in &quote.tasks {
        let total = totals.entry(line.words.as_str()).or_default();
        total.units += 1;
        total.per_year += u64::from(line.per_year);
        total.minutes += u64::from(line.per_year) * line.minutes;
    }
    html! {
        details id="tasks" {
            summary { (words::count(totals.len(), "task")) " at the units" }
            div.wide tabindex="0" role="region" aria-label="Tasks" { table {
                thead { tr {
                    th scope="col" { "Task" }
                    th.n scope="col" { "Units" }
                    th.n scope="col" { "Times a year" }
                    th.n scope="col" { "Hours a year" }
                } }
                tbody { @for (name, total) in totals { tr {
                    th scope="row" { (words::sentence(name)) }
                    td.n { (total.units) }
                    td.n { (total.per_year) }
                    td.n { (words::number((total.minutes as f64 / 6.0).round() / 10.0)) }
                } } }
            } }
        }
    }
}

pub(super) fn options(quote: &Quote) -> Markup {
    html! {
        @if !quote.options.is_empty() {
            details id="options" {
                summary { (words::count(quote.options.len(), "alternative")) }
                ul { @for option in &quote.options { li {
                    (words::sentence(&option.words)) ": "
                    b { (money(quote, option.price_cents_per_year.likely)) } " likely, "
                    (money(quote, option.adds_cents_per_year)) " against the price above"
                } } }
            }
        }
    }
}
