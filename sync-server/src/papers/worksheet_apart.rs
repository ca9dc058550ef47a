//! The sheets of the quote worksheet that stand apart from the price: options, repairs, what is
//! not known, what moves the price most, and what it rests on. Figures only, no formulas.

use super::sheet::{Cell, Paper, Written};
use scupper_core::quote::Quote;

/// Sheets of what is apart from the price.
pub(super) fn apart(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Options", &[70.0, 16.0, 16.0, 16.0, 16.0])?;
    paper.header(&["Instead, or besides", "Low", "Likely", "High", "Adds"])?;
    for option in &quote.options {
        let price = option.price_cents_per_year;
        paper.row([
            Cell::from(&option.words),
            price.low.into(),
            price.likely.into(),
            price.high.into(),
            option.adds_cents_per_year.into(),
        ])?;
    }
    paper.sheet("Repairs", &[10.0, 10.0, 22.0, 18.0, 50.0, 14.0, 60.0])?;
    paper.header(&[
        "Severity",
        "At",
        "Part",
        "Condition",
        "Seen",
        "Price",
        "How it was priced",
    ])?;
    for repair in &quote.repairs {
        paper.row([
            Cell::from(repair.severity.words()),
            Cell::from(&repair.about),
            repair.component.words().into(),
            repair.condition.words().into(),
            Cell::from(&repair.seen),
            repair.price_cents.into(),
            Cell::from(&repair.because),
        ])?;
    }
    paper.sheet("Not known", &[10.0, 28.0, 90.0, 20.0])?;
    paper.header(&[
        "At",
        "Field",
        "What the price reckons with",
        "Could move the price by",
    ])?;
    for gap in &quote.missing {
        paper.row([
            Cell::from(&gap.about),
            Cell::from(&gap.field),
            Cell::from(&gap.why),
            gap.could_move_price_by_cents.into(),
        ])?;
    }
    paper.sheet("Moves it most", &[60.0, 18.0, 18.0, 16.0])?;
    paper.header(&[
        "Input",
        "Price at its low end",
        "Price at its high end",
        "Swing",
    ])?;
    for line in &quote.sensitivities {
        paper.row([
            Cell::from(&line.input),
            line.price_cents_at_low.into(),
            line.price_cents_at_high.into(),
            line.swing_cents.into(),
        ])?;
    }
    paper.sheet("Rests on", &[95.0])?;
    for (title, list) in [
        ("Why so many people come", &quote.crew.because),
        ("Assumed", &quote.assumptions),
        ("Not in the price", &quote.exclusions),
    ] {
        paper.header(&[title])?;
        for text in list {
            paper.row([Cell::from(text)])?;
        }
        paper.down()?;
    }
    Ok(())
}
