//! The list of surveys: which came in, from whom, how complete, what waits for a person.

use super::layout;
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
    /// Units.
    pub units: usize,
    /// Hazards.
    pub hazards: usize,
    /// What waits for a person.
    pub to_settle: usize,
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
            p { "Try a part of the word, or a piece of the serial number." }
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
                th.n scope="col" { "To settle" }
                th.n scope="col" { "Hazards" }
                th.n scope="col" { "Units" }
                th.n scope="col" { "Missing" }
                th.n scope="col" { "Photos here" }
                th scope="col" { "From" }
                th scope="col" { "Visit" }
                th scope="col" { "Last change" }
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
                @if let Some(found) = &row.found { span.small { "\u{2026} " (found) " \u{2026}" } }
            }
            td.n { @if row.to_settle > 0 { b { (row.to_settle) } } @else { "none" } }
            td.n { @if row.hazards > 0 { span.sign.danger { (row.hazards) } } @else { "none" } }
            td.n { (row.units) }
            td.n { (row.missing) }
            td.n { (row.photos.0) " of " (row.photos.1) }
            td { (row.authors.join(", ")) }
            td { @if let Some(day) = row.surveyed_on { (day.format("%-d %b %Y")) } }
            td { @if let Some(at) = &row.changed_at { (words::moment(at)) } }
        }
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
            to_settle: 3,
            hazards: 2,
            photos: (1, 4),
            ..ListRow::default()
        };
        let page = view(&[row], None);
        assert!(page.contains("href=\"/surveys/a%2Fb\""));
        assert!(page.contains("&lt;b&gt;Mill&lt;/b&gt;") && !page.contains("<b>Mill"));
        assert!(page.contains("1 of 4"));
    }
}
