//! The equipment register: one row a unit.

use super::sheet::Sheet;
use super::view::Part;
use super::words;
use maud::{Markup, html};
use scupper_core::assess::RegisterRow;

/// How many rows the page shows before the others wait behind a link.
const SHOWN: usize = 50;

impl Sheet<'_> {
    pub(super) fn register_part(&self) -> Markup {
        let rows = &self.view.assessment.register;
        let Some(room) = self.room(Part::Register, SHOWN) else {
            return html! {};
        };
        html! {
            section id="register" data-part aria-labelledby="register-t" {
                h2 id="register-t" { "Equipment register" }
                @if rows.is_empty() {
                    p { "No unit was entered yet." }
                } @else {
                    div.wide tabindex="0" role="region" aria-labelledby="register-t" {
                        table.register {
                            thead { tr {
                                th scope="col" { "Unit" }
                                th scope="col" { "Kind" }
                                th scope="col" { "Make, model" }
                                th scope="col" { "Serial" }
                                th.n scope="col" { "Year" }
                                th scope="col" { "Supply" }
                                th.n scope="col" { "MCA" }
                                th.n scope="col" { "MOCP" }
                                th.n scope="col" { "Disconnect" }
                                th scope="col" { "Refrigerant" }
                                th scope="col" { "Filters, belts" }
                                th scope="col" { "Gravest" }
                            } }
                            tbody { @for (n, row) in rows.iter().take(room).enumerate() {
                                (self.register_row(n, row))
                            } }
                        }
                    }
                    p.small.quiet { "An empty cell was not recorded. A dotted underline marks what \
                        was heard and nobody has confirmed." }
                    (self.rest(Part::Register, room, rows.len()))
                }
            }
        }
    }

    fn register_row(&self, n: usize, row: &RegisterRow) -> Markup {
        let survey = self.view.survey;
        let unit = if row.id.is_empty() {
            self.unit(&row.tag)
        } else {
            survey.unit(&row.id)
        };
        let amps = |field: &str, value: Option<f64>| {
            cell(row, field, value.map(|v| format!("{} A", words::number(v))))
        };
        let text = |field: &str, value: &Option<String>| cell(row, field, value.clone());
        let year = row.manufactured_year.map(|year| year.to_string());
        html! {
            tr id=(self.anchor(n)) {
                th scope="row" {
                    @match unit {
                        Some(unit) => { a.tag href=(self.unit_href(unit)) { (row.tag) } }
                        None => { (row.tag) }
                    }
                }
                td { (row.kind.words()) }
                td { (text("nameplate.make", &row.make)) " " (text("nameplate.model", &row.model)) }
                td { (text("nameplate.serial", &row.serial)) }
                td.n { (cell(row, "nameplate.manufactured_year", year)) }
                td { (text("nameplate.voltage_v", &row.supply)) }
                td.n { (amps("nameplate.mca_a", row.mca_a)) }
                td.n { (amps("nameplate.mocp_a", row.mocp_a)) }
                td.n { (amps("disconnect.rating_a", row.disconnect_a)) }
                td { (text("nameplate.refrigerant", &row.refrigerant)) }
                td.parts {
                    @for filter in &row.filters {
                        div { (filter.quantity) " of " (words::number(filter.width_in.get())) " x "
                            (words::number(filter.height_in.get())) " x "
                            (words::number(filter.depth_in.get())) " in" }
                    }
                    @for belt in &row.belts { div { (belt.quantity) " of " (belt.designation) } }
                }
                td { @if let Some(worst) = row.worst { (words::severity(worst)) } }
            }
        }
    }
}

/// A cell's text, marked when nobody stands behind it yet.
fn cell(row: &RegisterRow, field: &str, text: Option<String>) -> Markup {
    let heard = row.unconfirmed.iter().any(|name| name == field);
    html! {
        @if let Some(text) = text {
            @if heard { u { (text) } } @else { (text) }
        }
    }
}
