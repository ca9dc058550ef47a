//! The list of surveys: which came in, from whom, how complete, what waits for a person.

use super::layout;
use super::settle::Waits;
use super::view::Session;
use super::words;
use chrono::{DateTime, FixedOffset, NaiveDate};
use maud::{Markup, html};

/// One survey in the list.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ListRow {
    /// Identity of the survey.
    pub id: String,
    /// Name of the site.
    pub name: String,
    /// Its address.
    pub address: Option<String>,
    /// Day of the visit.
    pub surveyed_on: Option<NaiveDate>,
    /// Names of those who entered something.
    pub authors: Vec<String>,
    /// When the last change came in.
    pub changed_at: Option<DateTime<FixedOffset>>,
    /// Who made it.
    pub changed_by: Option<String>,
    /// Units.
    pub units: usize,
    /// Checks that could be made, of all.
    pub checks: (usize, usize),
    /// Hazards.
    pub hazards: usize,
    /// Hazards that nobody in the office has read.
    pub unread: usize,
    /// What waits for a person.
    pub waits: Waits,
    /// Missing fields.
    pub missing: usize,
    /// Photos here, of all that the survey names.
    pub photos: (usize, usize),
    /// Words around what was searched for.
    pub found: Option<String>,
}

/// Everything that the list shows.
#[derive(Debug, Clone, Copy)]
pub struct ListView<'a> {
    /// Who is looking.
    pub session: Session<'a>,
    /// The surveys, the one to look at first coming first.
    pub rows: &'a [ListRow],
    /// What was searched for with `/?q=`, if a search was made; none hides the search field when
    /// `searchable` is false.
    pub query: Option<&'a str>,
    /// Whether `/?q=` is answered.
    pub searchable: bool,
    /// Whether `POST /surveys` with `name` and `address` begins a survey.
    pub may_begin: bool,
}

/// The page of all surveys.
pub fn list(view: &ListView<'_>) -> Markup {
    let body = html! {
        h1 { "Surveys" }
        @if view.searchable { (search(view)) }
        @if view.rows.is_empty() { (nothing(view)) } @else { (table(view.rows)) }
        @if let Some(csrf) = view.session.csrf.filter(|_| view.may_begin) { (begin(csrf)) }
    };
    layout::frame("Surveys", Some(view.session), body)
}

fn search(view: &ListView<'_>) -> Markup {
    html! {
        form.line role="search" method="get" action="/" {
            label for="q" { "Find in notes, models, serials" }
            input id="q" name="q" type="search" value=(view.query.unwrap_or(""));
            button { "Find" }
            @if view.query.is_some_and(|q| !q.is_empty()) { a href="/" { "Show all" } }
        }
    }
}

fn nothing(view: &ListView<'_>) -> Markup {
    html! {
        @if let Some(query) = view.query.filter(|q| !q.is_empty()) {
            p.lead { "No survey holds \u{201c}" (query) "\u{201d}." }
            p { "Try a part of a word, or three characters of a serial number. " a href="/" { "Show all surveys" } }
        } @else {
            p.lead { "No survey has come in yet." }
            p { "A survey appears here as soon as a technician's device exchanges it. To let a \
                 device in, make a code on the server's machine:" }
            pre { code { "scupper admit technician NAME --data DIR" } }
        }
    }
}

fn table(rows: &[ListRow]) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label="Surveys" { table.surveys {
            thead { tr {
                th scope="col" { "Site" }
                th scope="col" { "Waits for you" }
                th scope="col" { "Hazards" }
                th scope="col" { "Complete" }
                th scope="col" { "From" }
                th scope="col" { "Came in" }
            } }
            tbody { @for row in rows { (one(row)) } }
        } }
    }
}

fn one(row: &ListRow) -> Markup {
    let name = if row.name.trim().is_empty() {
        "Site without a name"
    } else {
        row.name.as_str()
    };
    html! {
        tr {
            th scope="row" {
                a.open href={ "/surveys/" (words::query(&row.id)) } { (name) }
                @if let Some(address) = &row.address { span.quiet.small { (address) } }
                @if let Some(found) = &row.found { span.small.hit { (found) } }
            }
            td { (waiting(row)) }
            td { @if row.unread > 0 {
                    span.sign.danger { (row.unread) " not read" }
                    @if row.unread < row.hazards { span.small { "of " (row.hazards) } }
                } @else if row.hazards > 0 { (row.hazards) ", all read" } @else { "none" } }
            td { (complete(row)) }
            td { (row.authors.join(", ")) }
            td {
                @if let Some(at) = &row.changed_at { (words::moment(at)) } @else { "nothing yet" }
                span.small.quiet {
                    @if let Some(who) = &row.changed_by { "last by " (who) }
                    @if let Some(day) = row.surveyed_on { @if row.changed_by.is_some() { ", " }
                        "visit " (day.format("%-d %b %Y")) }
                }
            }
        }
    }
}

fn waiting(row: &ListRow) -> Markup {
    let waits = &row.waits;
    let told = [
        (waits.twice, "said twice"),
        (waits.doubts, "doubtful"),
        (waits.heard, "heard"),
        (waits.photos, "photos of what?"),
        (waits.gaps, "to fetch"),
    ];
    let told = told.iter().filter(|(n, _)| *n > 0);
    html! {
        @if waits.all() == 0 { "nothing" } @else {
            a href={ "/surveys/" (words::query(&row.id)) "#settle-t" } { b { (waits.all()) } " to settle" }
            span.small.quiet { @for (i, (n, what)) in told.enumerate() {
                @if i > 0 { ", " } (n) " " (what) } }
        }
    }
}

/// How many checks could be made, and photos that are here: a meter repeats the numbers.
fn complete(row: &ListRow) -> Markup {
    let ((made, checks), (here, photos)) = (row.checks, row.photos);
    html! {
        @if row.units == 0 { "no unit yet" } @else {
            (made) " of " (words::count(checks, "check")) " made "
            meter min="0" max=(checks) value=(made) aria-label={ "Checks made: " (made) " of " (checks) } {}
        }
        span.small.quiet { (words::count(row.units, "unit")) ", " (words::count(row.missing, "field"))
            " missing, " @if here < photos { (here) " of " } (words::count(photos, "photo")) " here" }
    }
}

fn begin(csrf: &str) -> Markup {
    html! {
        section aria-labelledby="begin" {
            h2 id="begin" { "Begin a survey" }
            form.begin method="post" action="/surveys" {
                input type="hidden" name="csrf" value=(csrf);
                label for="name" { "Name of the site" }
                input id="name" name="name" required autocomplete="off";
                label for="address" { "Address" }
                input id="address" name="address" autocomplete="off";
                button { "Begin" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(rows: &[ListRow], query: Option<&'static str>) -> String {
        list(&ListView {
            session: Session {
                name: "Maren",
                csrf: Some("c-1"),
            },
            rows,
            query,
            searchable: true,
            may_begin: true,
        })
        .into_string()
    }

    #[test]
    fn an_empty_list_says_what_to_do_next() {
        assert!(view(&[], None).contains("scupper admit technician NAME"));
        let none = view(&[], Some("<script>"));
        assert!(none.contains("No survey holds") && none.contains("&lt;script&gt;"));
        assert!(!none.contains("<script>"));
    }

    #[test]
    fn a_row_leads_to_its_survey_and_escapes_what_people_typed() {
        let row = ListRow {
            id: "a/b".to_owned(),
            name: "<b>Mill</b>".to_owned(),
            waits: Waits {
                heard: 3,
                ..Waits::default()
            },
            hazards: 2,
            unread: 1,
            units: 2,
            checks: (1, 2),
            photos: (1, 4),
            ..ListRow::default()
        };
        let page = view(&[row], None);
        assert!(page.contains("href=\"/surveys/a%2Fb\""));
        assert!(page.contains("&lt;b&gt;Mill&lt;/b&gt;") && !page.contains("<b>Mill"));
        assert!(page.contains("1 of 4") && page.contains("1 of 2 checks"));
    }
}
