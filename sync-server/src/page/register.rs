//! The equipment register: one row a unit, and below it what else is known of the unit.

use super::evidence::Witness;
use crate::words;
use maud::{Markup, html};
use scupper_core::assess::RegisterRow;

pub(super) fn section(rows: &[RegisterRow], witness: Witness<'_>) -> Markup {
    let amps = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    html! {
        section id="register" {
            h2 { "Equipment register" }
            @if rows.is_empty() { p { "No unit was entered yet." } }
            @else { div.wide { table {
                thead { tr {
                    th scope="col" { "Unit" } th scope="col" { "Kind" } th scope="col" { "Make, model" }
                    th scope="col" { "Serial" } th.n scope="col" { "Year" } th scope="col" { "Supply" }
                    th.n scope="col" { "MCA A" } th.n scope="col" { "MOCP A" }
                    th.n scope="col" { "Disconnect A" } th scope="col" { "Refrigerant" }
                    th scope="col" { "Filters, belts" } th scope="col" { "Worst" }
                } }
                tbody { @for row in rows {
                    tr id={ "unit-" (words::slug(&row.tag)) } {
                        th scope="row" { (row.tag) }
                        td { (row.kind.words()) }
                        td { (text(&row.make)) " " (text(&row.model)) }
                        td { (text(&row.serial)) }
                        td.n { @if let Some(year) = row.manufactured_year { (year) } }
                        td { (text(&row.supply)) }
                        td.n { (amps(row.mca_a)) }
                        td.n { (amps(row.mocp_a)) }
                        td.n { (amps(row.disconnect_a)) }
                        td { (text(&row.refrigerant)) }
                        td {
                            @for filter in &row.filters {
                                (filter.quantity) " of " (filter.width_in.get()) " x "
                                (filter.height_in.get()) " x " (filter.depth_in.get()) " in" br;
                            }
                            @for belt in &row.belts { (belt.quantity) " of " (belt.designation) br; }
                        }
                        td { @if let Some(worst) = row.worst { (words::severity(worst)) } }
                    }
                    @if row.photos > 0 || !row.unconfirmed.is_empty() {
                        tr { td {} td colspan="11" {
                            @if !row.unconfirmed.is_empty() {
                                span.sign.draft { "heard, not confirmed" } " "
                                (row.unconfirmed.iter().map(|f| words::field(f)).collect::<Vec<_>>().join(", "))
                            }
                            (witness.photos(&[], &row.tag))
                        } }
                    }
                } }
            } } }
        }
    }
}
