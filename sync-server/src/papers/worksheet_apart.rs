//! The sheets of the quote worksheet that stand apart from the price: options, repairs, what is
//! not known, what moves the price most, and what it rests on. Figures only, no formulas.

use super::sheet::{Paper, Written};
use scupper_core::quote::Quote;

/// Sheets of what is apart from the price.
pub(super) fn apart(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Options", &[70.0, 16.0, 16.0, 16.0, 16.0])?;
    paper.header(&["Instead, or besides", "Low", "Likely", "High", "Adds"])?;
    for option in &quote.options {
        let price = option.price_cents_per_year;
        paper.text(0, &option.words)?;
        let amounts = [
            price.low,
            price.likely,
            price.high,
            option.adds_cents_per_year,
        ];
        for (i, amount) in amounts.iter().enumerate() {
            paper.amount(i + 1, *amount)?;
        }
        paper.down()?;
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
        paper.text(0, &repair.severity.words())?;
        paper.text(1, &repair.about)?;
        paper.text(2, &repair.component.words())?;
        paper.text(3, &repair.condition.words())?;
        paper.text(4, &repair.seen)?;
        if let Some(price) = repair.price_cents {
            paper.amount(5, price)?;
        }
        paper.text(6, &repair.because)?;
        paper.down()?;
    }
    paper.sheet("Not known", &[10.0, 28.0, 90.0, 20.0])?;
    paper.header(&[
        "At",
        "Field",
        "What the price reckons with",
        "Could move the price by",
    ])?;
    for gap in &quote.missing {
        paper.text(0, &gap.about)?;
        paper.text(1, &gap.field)?;
        paper.text(2, &gap.why)?;
        paper.amount(3, gap.could_move_price_by_cents)?;
        paper.down()?;
    }
    paper.sheet("Moves it most", &[60.0, 18.0, 18.0, 16.0])?;
    paper.header(&[
        "Input",
        "Price at its low end",
        "Price at its high end",
        "Swing",
    ])?;
    for line in &quote.sensitivities {
        paper.text(0, &line.input)?;
        let ends = [
            line.price_cents_at_low,
            line.price_cents_at_high,
            line.swing_cents,
        ];
        for (i, end) in ends.iter().enumerate() {
            paper.amount(i + 1, *end)?;
        }
        paper.down()?;
    }
    paper.sheet("Rests on", &[95.0])?;
    for (title, list) in [
        ("Why so many people come", &quote.crew.because),
        ("Assumed", &quote.assumptions),
        ("Not in the price", &quote.exclusions),
    ] {
        paper.header(&[title])?;
        for text in list {
            paper.row(&[text.as_str().into()])?;
        }
        paper.down()?;
    }
    Ok(())
}
