//! The sheets that the worksheet's formulas read: the rates, each cell with a name, and how far the
//! ends of the range lie from its middle.

use super::sheet::{Paper, Written};
use scupper_core::quote::{Quote, RateBook, TaxOn};
use std::collections::BTreeSet;

/// Sheet "Rates": what the formulas take from the rate book, each cell with a name.
pub(super) fn rates(paper: &mut Paper, quote: &Quote, book: &RateBook) -> Written<()> {
    paper.sheet("Rates", &[52.0, 16.0])?;
    paper.header(&[
        "From the rate book; change a figure here to try it",
        "Value",
    ])?;
    let percent = |percent: scupper_core::quote::Percent| f64::from(percent.hundredths()) / 100.0;
    for (label, name, value) in [
        (
            "First person, cents an hour",
            "technician_rate",
            book.labour.technician_cents_per_hour.get() as f64,
        ),
        (
            "Second person, cents an hour",
            "second_person_rate",
            book.labour.second_person_cents_per_hour.get() as f64,
        ),
        (
            "Mark-up on labour, percent",
            "labour_markup",
            percent(book.markup.labour_percent),
        ),
        (
            "Mark-up on materials, percent",
            "materials_markup",
            percent(book.markup.materials_percent),
        ),
        (
            "Mark-up on vehicle, gear and hire, percent",
            "hire_markup",
            percent(book.markup.hire_percent),
        ),
        (
            "Contingency, percent",
            "contingency",
            percent(book.contingency_percent),
        ),
        ("Tax, percent", "tax", percent(book.tax.percent)),
        (
            "Correlation between entries, percent",
            "correlation",
            percent(book.range.correlation_percent),
        ),
        (
            "Standard deviations to either side",
            "sigmas",
            percent(book.range.sigmas),
        ),
        ("Visits a year", "visits", f64::from(quote.visits_per_year)),
        ("People on each visit", "crew", f64::from(quote.crew.size)),
    ] {
        paper.text(0, label)?;
        paper.number(1, value)?;
        paper.name(name, 1)?;
        paper.down()?;
    }
    paper.text(0, "Tax is on: nothing, materials or everything")?;
    paper.text(
        1,
        match book.tax.on {
            TaxOn::Nothing => "nothing",
            TaxOn::Materials => "materials",
            TaxOn::Everything => "everything",
        },
    )?;
    paper.name("tax_on", 1)?;
    paper.down()?;
    Ok(())
}

/// Sheet "Range": how far the ends lie from the likely minutes.
pub(super) fn range(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Range", &[36.0, 16.0, 20.0])?;
    paper.header(&["Rate-book entry", "Width a year", "Squared"])?;
    let first = paper.next_row();
    let tasks = quote.tasks.iter().map(|line| line.entry.as_str());
    let visit = quote
        .access
        .lines
        .iter()
        .chain([&quote.travel])
        .map(|line| line.item.as_str());
    let entries: BTreeSet<&str> = tasks
        .chain(visit.filter(|_| quote.visits_per_year > 0))
        .collect();
    for entry in entries {
        let r = paper.next_row();
        let width = width(quote, entry);
        paper.text(0, entry)?;
        paper.formula(1, &format!("=SUMIF(Work!L:L,A{r},Work!M:M)"), width)?;
        paper.formula(2, &format!("=B{r}*B{r}"), width * width)?;
        paper.down()?;
    }
    let last = paper.next_row().saturating_sub(1).max(first);
    let likely = quote.labour_minutes_per_year.likely;
    let away = quote.labour_minutes_per_year.high - likely;
    paper.text(0, "Minutes to either side")?;
    paper.formula(
        1,
        &format!(
            "=INT(SQRT(INT(ROUND(sigmas*100,0)^2*((10000-ROUND(correlation*100,0))*SUM(C{first}:C{last})\
             +ROUND(correlation*100,0)*SUM(B{first}:B{last})^2)/3600000000)))"
        ),
        away as f64,
    )?;
    paper.name("away", 1)?;
    paper.down()?;
    Ok(())
}

fn width(quote: &Quote, entry: &str) -> f64 {
    let tasks = quote.tasks.iter().filter(|line| line.entry == entry);
    let tasks = tasks.map(|line| u64::from(line.per_year * line.people) * line.three_point.width());
    let visit = quote
        .access
        .lines
        .iter()
        .chain([&quote.travel])
        .filter(|line| line.item == entry);
    let visit = visit.map(|line| {
        u64::from(line.times * quote.visits_per_year * quote.crew.size) * line.three_point.width()
    });
    tasks.chain(visit).sum::<u64>() as f64
}
