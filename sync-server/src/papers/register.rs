//! Lists for spreadsheet programs: the equipment register and the order list, as CSV.
//!
//! RFC 4180 with a byte order mark, so that programs take it for UTF-8. A text that a
//! spreadsheet would run as a formula gets an apostrophe in front.

use super::sheet::{Paper, Written};
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

/// A cell of the register.
enum Cell {
    Text(String),
    Number(f64),
    Empty,
}

/// The cells of one unit, in the order of [`COLUMNS`].
fn cells(row: &RegisterRow) -> [Cell; COLUMNS.len()] {
    let text = |value: &Option<String>| value.clone().map_or(Cell::Empty, Cell::Text);
    let number = |value: Option<f64>| value.map_or(Cell::Empty, Cell::Number);
    [
        Cell::Text(row.tag.clone()),
        Cell::Text(row.kind.words()),
        text(&row.make),
        text(&row.model),
        text(&row.serial),
        number(row.manufactured_year.map(f64::from)),
        text(&row.supply),
        number(row.mca_a),
        number(row.mocp_a),
        number(row.disconnect_a),
        text(&row.refrigerant),
        number(row.capacity_tons),
        Cell::Text(filters(&row.filters)),
        Cell::Text(belts(&row.belts)),
        row.worst
            .map_or(Cell::Empty, |worst| Cell::Text(worst.words())),
        Cell::Number(row.findings as f64),
        Cell::Number(row.photos as f64),
        Cell::Text(row.unconfirmed.join(", ")),
    ]
}

pub(super) fn filters(filters: &[Filter]) -> String {
    let sets = filters.iter().map(|set| {
        let (w, h, d) = (set.width_in.get(), set.height_in.get(), set.depth_in.get());
        format!("{} of {w} x {h} x {d} in", set.quantity)
    });
    sets.collect::<Vec<_>>().join("; ")
}

pub(super) fn belts(belts: &[Belt]) -> String {
    let sets = belts
        .iter()
        .map(|set| format!("{} of {}", set.quantity, set.designation));
    sets.collect::<Vec<_>>().join("; ")
}

/// The equipment register, one row a unit.
pub fn register_csv(assessment: &Assessment) -> String {
    let rows = assessment.register.iter().map(|row| {
        cells(row).map(|cell| match cell {
            Cell::Text(text) => harmless(&text),
            Cell::Number(number) => number.to_string(),
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
        for (column, cell) in cells(row).into_iter().enumerate() {
            match cell {
                Cell::Text(text) => paper.text(column, &text)?,
                Cell::Number(number) => paper.number(column, number)?,
                Cell::Empty => {}
            }
        }
        paper.down()?;
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
