//! Where a price is worked at: the main rates as a form, what they come to beside it, what moves
//! it, and the versions that were locked.

use super::forms::{Figure, RATES, every};
use super::view::{Live, Session};
use super::{layout, quote as figures, words};
use crate::accounts::Version;
use maud::{Markup, html};
use scupper_core::quote::{Quote, RateBook};
use scupper_core::survey::InputError;

/// What the page of a price is made from.
#[derive(Debug, Clone, Copy)]
pub struct PriceView<'a> {
    /// Who is looking.
    pub session: Session<'a>,
    /// The survey.
    pub survey: &'a str,
    /// Name of the site.
    pub name: &'a str,
    /// The rates that are shown.
    pub book: &'a RateBook,
    /// What they come to.
    pub quote: &'a Quote,
    /// The office's rates.
    pub office: &'a RateBook,
    /// What those come to.
    pub by_office: &'a Quote,
    /// Whether the rates shown are kept for this survey, are the office's, or were only tried.
    pub standing: Standing<'a>,
    /// Versions, newest first.
    pub versions: &'a [Version],
    /// What was wrong with what was sent.
    pub error: Option<&'a InputError>,
    /// What was sent as a whole rate book, to be mended.
    pub toml: Option<&'a str>,
    /// What was typed into the form and could not be read.
    pub typed: &'a [(String, String)],
    /// Where news of changes comes from.
    pub live: Live<'a>,
}

/// What the rates on the page are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing<'a> {
    /// The office's own.
    Office,
    /// Kept for this survey.
    Kept,
    /// Tried, and kept nowhere.
    Tried,
    /// Those of a locked version; whether it still comes to what it came to then.
    Locked(&'a Version, bool),
}

/// The page.
pub fn price(view: &PriceView<'_>) -> Markup {
    let base = format!("/surveys/{}", words::query(view.survey));
    // What was only tried is nowhere but on this page, so news must not take it away.
    let kept = view.standing != Standing::Tried && view.error.is_none();
    let body = html! {
        p { a href={ (base) "#quote" } { "Back to " (view.name) } }
        h1 { "Price" }
        div id="now" data-part data-live=(view.live.href) data-heads=(view.live.heads)
            data-office=(view.live.office) {}
        div id="standing" data-part[kept] { (standing(view, &base)) }
        @if let Some(error) = view.error { (problem(error)) }
        div.bench {
            section id="rates" data-part[kept] aria-labelledby="rates-t" {
                h2 id="rates-t" { "Rates" }
                (rates(view, &base))
            }
            section id="figures" data-part[kept] tabindex="-1" aria-labelledby="figures-t" aria-live="polite" {
                (outcome(view))
            }
        }
        (versions(view, &base))
        (whole_book(view, &base))
    };
    layout::frame(&format!("Price: {}", view.name), Some(view.session), body)
}

fn problem(error: &InputError) -> Markup {
    html! {
        p.wrong role="alert" { b { (error.place) ": " } (error.problem) ". Nothing was kept; mend it below." }
    }
}

fn standing(view: &PriceView<'_>, base: &str) -> Markup {
    html! {
        @match view.standing {
            Standing::Office => p.lead { "By the office's rates, \u{201c}" (view.office.name) "\u{201d}." },
            Standing::Kept => p.lead { "By rates kept for this survey alone." },
            Standing::Tried => p.lead { "Tried out: nothing is kept until you press \u{201c}Keep these rates\u{201d}." },
            Standing::Locked(version, holds) => {
                p.lead { "Locked: \u{201c}" (version.title) "\u{201d}, by " (version.who) ", "
                    (words::day(version.at)) ". " a href={ (base) "/price" } { "Back to the price as it is now" } }
                @if !holds {
                    p.wrong { b { "Its figures are not what they were. " }
                        @if version.programme.is_some() {
                            "The roof, the rates and the maintenance programme are those that were \
                             locked, but this program reckons otherwise than the one that locked it. "
                        } @else {
                            "The roof and the rates are those that were locked, but the office's \
                             maintenance programme has changed since, or this program reckons \
                             otherwise than the one that locked it. "
                        }
                        "Compare before you rely on either." }
                }
            },
        }
    }
}

/// The main rates. Typing shows what they come to at once; without the script there is a button.
fn rates(view: &PriceView<'_>, base: &str) -> Markup {
    let Some(csrf) = view.session.csrf else {
        return html! { ul { @for rate in every() {
        li { (rate.label) ": " (rate.of(view.book).text()) " " (rate.unit) } } } };
    };
    html! {
        form.rates method="post" action={ (base) "/price" } data-try="figures" {
            input type="hidden" name="csrf" value=(csrf);
            input type="hidden" name="boxes" value="1";
            @if let Standing::Locked(version, _) = view.standing {
                input type="hidden" name="version" value=(version.seq);
            }
            @for (heading, rates) in RATES {
                fieldset {
                    legend { (heading) }
                    @for rate in *rates { (one_rate(view, rate.name, rate.label, rate.unit, rate.of(view.book))) }
                }
            }
            p.answers {
                button name="do" value="keep" { "Keep these rates" }
                button.lesser name="do" value="try" { "Only reckon" }
                @if view.standing != Standing::Office {
                    button.lesser name="do" value="office" { "Back to the office's rates" }
                }
            }
        }
    }
}

fn one_rate(view: &PriceView<'_>, name: &str, label: &str, unit: &str, figure: Figure) -> Markup {
    let typed = view.typed.iter().find(|(key, _)| key == name);
    let text = typed.map_or_else(|| figure.text(), |(_, text)| text.clone());
    let unit = match (figure, unit) {
        (Figure::Money(_), _) => view.book.currency.as_str(),
        (_, unit) => unit,
    };
    html! {
        label.rate {
            @if let Figure::Yes(yes) = figure {
                input type="checkbox" name=(name) value="yes" checked[yes]; span { (label) }
            } @else {
                span { (label) @if !unit.is_empty() { span.quiet { " (" (unit) ")" } } }
                input name=(name) value=(text) inputmode="decimal" autocomplete="off";
            }
        }
    }
}

/// What it comes to, what moves it, and what is otherwise than at the office.
fn outcome(view: &PriceView<'_>) -> Markup {
    let quote = view.quote;
    let (now, before) = (
        quote.price_cents_per_year.likely,
        view.by_office.price_cents_per_year.likely,
    );
    html! {
        h2 id="figures-t" { "What they come to" }
        @if let Some(why) = &quote.empty { p.lead { (why) } } @else {
            (figures::headline(quote))
            p { "Crew of " (quote.crew.size) "." }
            (changes(view))
            @if now != before {
                p { b { (signed(quote, now.get() - before.get())) } " a year against the office's rates ("
                    (figures::money(view.by_office, before)) " likely)." }
            }
            h3 { "What moves it most" }
            ul.moves { @for s in &quote.sensitivities {
                li { (s.input) ": " b { (figures::money(quote, s.swing_cents)) } }
            } }
            (figures::options(quote))
            details id="rests" {
                summary { "What it rests on" }
                ul { @for line in &quote.assumptions { li { (line) } } }
            }
        }
    }
}

fn signed(quote: &Quote, cents: i64) -> String {
    let sign = if cents < 0 { "\u{2212}" } else { "+" };
    format!("{sign}{}", words::money(cents.abs(), &quote.currency))
}

fn changes(view: &PriceView<'_>) -> Markup {
    let changed: Vec<_> = every()
        .filter(|rate| rate.of(view.book) != rate.of(view.office))
        .collect();
    html! {
        @if !changed.is_empty() {
            h3 { "Other than the office's" }
            ul.moves { @for rate in &changed {
                li { (rate.label) ": " (shown(rate.of(view.office))) " \u{2192} "
                    b { (shown(rate.of(view.book))) } " " (rate.unit) }
            } }
        } @else if view.book != view.office {
            p { "The rate book is another than the office's, in what this form does not show." }
        }
    }
}

fn shown(figure: Figure) -> String {
    match figure.text() {
        text if text.is_empty() => "not agreed".to_owned(),
        text => text,
    }
}

fn versions(view: &PriceView<'_>, base: &str) -> Markup {
    let last = view.versions.first();
    html! {
        section id="versions" data-part aria-labelledby="versions-t" {
            h2 id="versions-t" { "Locked versions" }
            p { "A version keeps rates, programme and the state of the survey, so that it comes to the same \
                 again however the roof or the rates change." }
            @if let Some(csrf) = view.session.csrf {
                @if matches!(view.standing, Standing::Office | Standing::Kept) {
                    form.line method="post" action={ (base) "/price" } {
                        input type="hidden" name="csrf" value=(csrf);
                        label for="title" { "Name this version" }
                        input id="title" name="title" required maxlength="80" autocomplete="off"
                            placeholder="as offered";
                        button name="do" value="lock" { "Lock what is kept" }
                    }
                }
            }
            @if view.versions.is_empty() {
                p.quiet { "None yet. Lock one before you send a price, and you can show later what it \
                           rested on." }
            } @else {
                ul.versions { @for version in view.versions { li {
                    b { (version.title) } " " span.quiet { "by " (version.who) ", " (words::day(version.at)) } " "
                    a href={ (base) "/price?version=" (version.seq) } { "Open"
                        span.unseen { " " (version.title) } } " "
                    a href={ (base) "/price/compare?one=" (version.seq) "&other=now" } {
                        "Compare with now" span.unseen { ": " (version.title) } } " "
                    @if let Some(last) = last.filter(|last| last.seq != version.seq) {
                        a href={ (base) "/price/compare?one=" (version.seq) "&other=" (last.seq) } {
                            "Compare with the newest" span.unseen { ": " (version.title) } }
                    }
                } } }
            }
        }
    }
}

/// The whole rate book as text, for what the form does not show.
fn whole_book(view: &PriceView<'_>, base: &str) -> Markup {
    let Some(csrf) = view.session.csrf else {
        return html! {};
    };
    let text = match view.toml {
        Some(sent) => sent.to_owned(),
        None => view.book.to_toml().unwrap_or_default(),
    };
    html! {
        section id="whole-book" data-part[view.toml.is_none()] aria-labelledby="book-t" {
            details id="book" open[view.toml.is_some()] {
                summary { h2.small-t id="book-t" { "The whole rate book, as TOML" } }
                p { "Everything a price goes by. Take one from a file, or change a line; what cannot \
                     be used is named by its line and nothing is kept." }
                form method="post" action={ (base) "/price" } {
                    input type="hidden" name="csrf" value=(csrf);
                    p { label { "From a file " input type="file" accept=".toml,text/plain" data-into="toml"; } }
                    label for="toml" { "Rate book" }
                    textarea id="toml" name="toml" rows="16" spellcheck="false" { (text) }
                    p.answers {
                        button name="do" value="keep-book" { "Keep this rate book" }
                        button.lesser name="do" value="try-book" { "Only reckon" }
                    }
                }
            }
        }
    }
}
