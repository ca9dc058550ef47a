//! The quote in short: what a year costs, what that rests on, what is left out.

use crate::words::{self, money};
use maud::{Markup, html};
use scupper_core::quote::Quote;

pub(super) fn section(quote: &Quote) -> Markup {
    let (price, hours) = (&quote.price_cents_per_year, &quote.labour_hours_per_year);
    let paid = |cents: i64| money(cents, &quote.currency);
    html! {
        section id="price" {
            h2 { "Quote inputs" }
            @if let Some(why) = &quote.empty { p { b { (why) } } }
            div.price {
                p { "A year, likely " b { (paid(price.likely.get())) }
                    span.small { "from " (paid(price.low.get())) " to " (paid(price.high.get())) } }
                p { "Labour a year, likely " b { (hours.likely.get()) " h" }
                    span.small { "from " (hours.low.get()) " to " (hours.high.get()) " h" } }
                p { "Visits a year " b { (quote.visits_per_year) }
                    span.small { (quote.access.minutes_per_visit) " min to get up and set up" } }
                p { "People a visit " b { (quote.crew.size) } }
            }
            @if !quote.crew.because.is_empty() {
                p { b { "Why " (quote.crew.size) ": " } (quote.crew.because.join("; ")) }
            }
            p.small.quiet {
                "Rate book: " (quote.rate_book)
                @if let Some(note) = &quote.rate_book_note { ". " (note) }
            }
            @if !quote.sensitivities.is_empty() {
                h3 { "What moves it most" }
                div.wide { table {
                    thead { tr { th scope="col" { "Input" } th.n scope="col" { "At its low end" }
                        th.n scope="col" { "At its high end" } th.n scope="col" { "Swing" } } }
                    tbody { @for s in &quote.sensitivities { tr {
                        td { (s.input) }
                        td.n { (paid(s.price_cents_at_low.get())) }
                        td.n { (paid(s.price_cents_at_high.get())) }
                        td.n { (paid(s.swing_cents.get())) }
                    } } }
                } }
            }
            (repairs(quote))
            (lines("Tasks", "task", quote.tasks.len(), html! { div.wide { table {
                thead { tr { th scope="col" { "Unit" } th scope="col" { "Task" }
                    th.n scope="col" { "Times a year" } th.n scope="col" { "Minutes each" }
                    th.n scope="col" { "People" } th scope="col" { "Source of the frequency" } } }
                tbody { @for task in &quote.tasks { tr {
                    td { (words::place_link(&task.tag)) }
                    td { (task.words) @if !task.because.is_empty() { br; span.small.quiet { (task.because.join("; ")) } } }
                    td.n { (task.per_year) } td.n { (task.minutes) } td.n { (task.people) }
                    td.small { (words::source(&task.source)) }
                } } }
            } } }))
            (lines("Materials", "item", quote.materials.len(), html! { div.wide { table {
                thead { tr { th scope="col" { "Item" } th.n scope="col" { "A year" }
                    th.n scope="col" { "Each" } th.n scope="col" { "Cost a year" } th scope="col" { "For" } } }
                tbody { @for line in &quote.materials { tr {
                    td { (line.item) @if !line.notes.is_empty() { br; span.small.quiet { (line.notes.join("; ")) } } }
                    td.n { (line.per_year) } td.n { (paid(line.unit_cost_cents.get())) }
                    td.n { (paid(line.cost_cents_per_year.get())) } td { (line.refs.join(", ")) }
                } } }
            } } }))
            (texts("Assumptions", &quote.assumptions))
            (texts("Not in the price", &quote.exclusions))
        }
    }
}

fn repairs(quote: &Quote) -> Markup {
    html! {
        @if !quote.repairs.is_empty() {
            h3 { "Repairs, priced apart" }
            div.wide { table {
                thead { tr { th scope="col" { "" } th scope="col" { "Unit" } th scope="col" { "What" }
                    th scope="col" { "Seen" } th.n scope="col" { "Price" } } }
                tbody { @for repair in &quote.repairs { tr {
                    td { (words::severity(repair.severity)) }
                    td { (words::place_link(&repair.about)) }
                    td { (words::sentence(&repair.component.words())) " " (repair.condition.words())
                        (words::certainty(repair.certainty))
                        @if let Some(action) = repair.action { " → " b { (action.words()) } } }
                    td.small { (repair.seen) }
                    td.n { @match repair.price_cents {
                        Some(cents) => (money(cents.get(), &quote.currency)),
                        None => "no price listed",
                    } }
                } } }
            } }
        }
    }
}

fn lines(title: &str, noun: &str, count: usize, table: Markup) -> Markup {
    html! { details { summary { (title) ": " (words::count(count, noun)) } (table) } }
}

fn texts(title: &str, texts: &[String]) -> Markup {
    html! {
        @if !texts.is_empty() {
            details {
                summary { (title) ": " (texts.len()) }
                ul { @for text in texts { li { (text) } } }
            }
        }
    }
}
