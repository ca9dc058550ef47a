//! Lists for spreadsheet programs: the equipment register and the order list, as CSV.
//!
//! RFC 4180 with a byte order mark, so that programs take it for UTF-8. A text that a
//! spreadsheet would run as a formula gets an apostrophe in front.

use super::sheet::{Cell, Paper, Written};
use scupper_core::assess::{Assessment, RegisterRow};
use scupper_core::quote::{PaperSize, Quote};
use scupper_core::survey::{Belt, Filter};

const MARK: &str = "\u{feff}";

/// The columns of the register, in order.
const COLUMNS: [&str; 18] = [
    "Tag",
    "Kind",
    "Make",
    "Model",
    "Serial",
    "Year made",
    "Supply",
    "Minimum circuit ampacity (A)",
    "Maximum overcurrent protection (A)",
    "Disconnect rating (A)",
    "Refrigerant",
    "Capacity (tons)",
    "Filters",
    "Belts",
    "Gravest finding",
    "Findings",
    "Photos",
    "Not confirmed yet",
];

/// The cells of one unit, in the order of [`COLUMNS`].
fn cells(row: &RegisterRow) -> [Cell; COLUMNS.len()] {
    [
        Cell::from(&row.tag),
        row.kind.words().into(),
        row.make.as_ref().into(),
        row.model.as_ref().into(),
        row.serial.as_ref().into(),
        row.manufactured_year.map(f64::from).into(),
        row.supply.as_ref().into(),
        row.mca_a.into(),
        row.mocp_a.into(),
        row.disconnect_a.into(),
        row.refrigerant.as_ref().into(),
        row.capacity_tons.into(),
        joined(&row.filters, filter).into(),
        joined(&row.belts, belt).into(),
        row.worst.map(|worst| worst.words()).into(),
        (row.findings as f64).into(),
        (row.photos as f64).into(),
        row.unconfirmed.join(", ").into(),
    ]
}

/// A set of filters in words: `4 of 20 x 25 x 2 in`.
pub(super) fn filter(set: &Filter) -> String {
    let (w, h, d) = (set.width_in.get(), set.height_in.get(), set.depth_in.get());
    format!("{} of {w} x {h} x {d} in", set.quantity)
}

/// A set of belts in words: `2 of A42`.
pub(super) fn belt(set: &Belt) -> String {
    format!("{} of {}", set.quantity, set.designation)
}

fn joined<T>(sets: &[T], words: fn(&T) -> String) -> String {
    sets.iter().map(words).collect::<Vec<_>>().join("; ")
}

/// The equipment register, one row a unit.
pub fn register_csv(assessment: &Assessment) -> String {
    let rows = assessment.register.iter().map(|row| {
        cells(row).map(|cell| match cell {
            Cell::Text(text) => harmless(&text),
            Cell::Number(number) => number.to_string(),
            Cell::Amount(cents) => cents.to_string(),
            Cell::Empty => String::new(),
        })
    });
    csv(&COLUMNS, rows)
}

/// The same register as an XLSX file.
pub fn register_xlsx(
    assessment: &Assessment,
    made_on: Option<chrono::NaiveDate>,
    size: PaperSize,
) -> Written {
    let widths = [
        10.0, 24.0, 16.0, 18.0, 18.0, 10.0, 16.0, 14.0, 14.0, 14.0, 14.0, 12.0, 26.0, 16.0, 12.0,
        10.0, 8.0, 40.0,
    ];
    let mut paper = Paper::new("Equipment register", made_on, size)?;
    paper.sheet("Equipment", &widths)?;
    paper.header(&COLUMNS)?;
    for row in &assessment.register {
        paper.row(cells(row))?;
    }
    paper.finish()
}

/// What to order for a year, one row an item.
pub fn order_csv(quote: &Quote) -> String {
    let columns = ["Item", "Each round", "A year", "For", "Notes"];
    let rows = quote.materials.iter().map(|line| {
        [
            harmless(&line.item),
            line.per_round.to_string(),
            line.per_year.to_string(),
            harmless(&line.refs.join(", ")),
            harmless(&line.notes.join("; ")),
        ]
    });
    csv(&columns, rows)
}

fn csv<const N: usize>(columns: &[&str; N], rows: impl Iterator<Item = [String; N]>) -> String {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(MARK.as_bytes().to_vec());
    // Writing to memory cannot fail, and every row has the same length.
    let _ = writer.write_record(columns);
    for row in rows {
        let _ = writer.write_record(&row);
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}

/// A text that no spreadsheet program runs as a formula.
fn harmless(text: &str) -> String {
    if text.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ]) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_made_harmless() {
        for text in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1"] {
            assert_eq!(harmless(text), format!("'{text}"));
        }
        assert_eq!(harmless("RTU-2"), "RTU-2");
    }
}
