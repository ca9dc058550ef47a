//! The project manager's worksheet: a spreadsheet whose formulas recompute the price.
//!
//! Every amount is whole cents and every formula rounds where `docs/quote.md` rounds, so a
//! spreadsheet program comes to the same cent. Values are written beside the formulas too, for
//! programs that do not calculate. It shows costs: it stays in the office.

use super::sheet::{Paper, Written};
use super::worksheet_apart::apart;
use super::worksheet_rates::{range, rates};
use scupper_core::quote::{
    AccessLine, BuildUp, Cents, PaperSize, Quote, RateBook, TaskLine, ThreePoint,
};

/// The worksheet as bytes of an XLSX file.
pub fn worksheet_xlsx(
    quote: &Quote,
    book: &RateBook,
    made_on: Option<chrono::NaiveDate>,
    size: PaperSize,
) -> Written {
    let mut paper = Paper::new("Quote worksheet", made_on, size)?;
    price(&mut paper, quote)?;
    rates(&mut paper, quote, book)?;
    work(&mut paper, quote)?;
    materials(&mut paper, quote)?;
    apart(&mut paper, quote)?;
    range(&mut paper, quote)?;
    paper.finish()
}

/// Sheet "Price": the ladder at the low, likely and high end, as money and, beside it, in the
/// whole cents that it is worked in.
fn price(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Price", &[46.0, 15.0, 15.0, 15.0, 4.0, 13.0, 13.0, 13.0])?;
    paper.title(&format!("Quote worksheet, survey {}", quote.survey_id))?;
    paper.note(&format!("Rate book: {}", quote.rate_book))?;
    if let Some(note) = &quote.rate_book_note {
        paper.note(note)?;
    }
    paper.note(&format!(
        "In {}, a year. Each step is worked in whole cents, half a cent up, in the columns to the right.",
        quote.currency
    ))?;
    paper.header(&[
        "",
        "Low",
        "Likely",
        "High",
        "",
        "Low, cents",
        "Likely, cents",
        "High, cents",
    ])?;
    let first = paper.next_row();
    let (minutes, steps) = (quote.labour_minutes_per_year, quote.build_up);
    let line = |n: u32| first + n;
    let columns = [
        ("F", minutes.low, steps.low),
        ("G", minutes.likely, steps.likely),
        ("H", minutes.high, steps.high),
    ];
    let (m, labour) = (line(0), line(1));
    paper.label("Hours, and minutes of all people")?;
    for (i, (c, value, _)) in columns.iter().enumerate() {
        let formula = match *c {
            "F" => format!("=MIN(G{m},MAX(G{m}-away,SUM(Work!N:N)))"),
            "H" => format!("=MAX(G{m},MIN(G{m}+away,SUM(Work!O:O)))"),
            _ => "=SUM(Work!I:I)".to_owned(),
        };
        paper.formula(i + 5, &formula, *value as f64)?;
        let hours = (*value as f64 * 100.0 / 60.0).round() / 100.0;
        paper.money(i + 1, &format!("=ROUND({c}{m}*100/60,0)/100"), hours)?;
    }
    paper.down()?;
    for (n, (label, value)) in (0..).zip(&LADDER) {
        paper.label(label)?;
        for (i, (c, _, up)) in columns.iter().enumerate() {
            let at = |n: u32| format!("{c}{}", line(n));
            let formula = match (n, *c) {
                (0, "G") => "=ROUND(SUM(Work!P:P)*technician_rate/60,0)+ROUND(SUM(Work!Q:Q)*second_person_rate/60,0)".to_owned(),
                (0, _) => format!("=IF(G{m}=0,0,ROUND(G{labour}*{c}{m}/G{m},0))"),
                (1, _) => percent(&at(1), "labour_markup"),
                (2, _) => "=SUM(Materials!E:E)".to_owned(),
                (3, _) => percent(&at(3), "materials_markup"),
                (4, _) => "=SUM(Work!R:R)".to_owned(),
                (5, _) => percent(&at(5), "hire_markup"),
                (6, _) => percent(&format!("SUM({}:{})", at(1), at(6)), "contingency"),
                (7, _) => percent(
                    &format!(
                        "IF(tax_on=\"everything\",SUM({}:{}),IF(tax_on=\"materials\",{}+{},0))",
                        at(1), at(7), at(3), at(4)
                    ),
                    "tax",
                ),
                _ => format!("=SUM({}:{})", at(1), at(8)),
            };
            let cents = value(up).get() as f64;
            paper.formula(i + 5, &formula, cents)?;
            paper.money(i + 1, &format!("={}/100", at(n + 1)), cents / 100.0)?;
        }
        paper.down()?;
    }
    paper.down()?;
    for (label, value) in [
        ("Visits a year", "=visits"),
        ("People on each visit", "=crew"),
    ] {
        let known = match value {
            "=visits" => quote.visits_per_year,
            _ => quote.crew.size,
        };
        paper.label(label)?;
        paper.formula(1, value, f64::from(known))?;
        paper.down()?;
    }
    paper.note(
        "Why so many people come, and what else this rests on, is told on the sheet “Rests on”.",
    )
}

type Step = (&'static str, fn(&BuildUp) -> Cents);

const LADDER: [Step; 9] = [
    ("Labour", |up| up.labour_cents),
    ("Mark-up on labour", |up| up.labour_markup_cents),
    ("Materials", |up| up.materials_cents),
    ("Mark-up on materials", |up| up.materials_markup_cents),
    ("Vehicle, gear and hire", |up| up.hire_cents),
    ("Mark-up on vehicle, gear and hire", |up| {
        up.hire_markup_cents
    }),
    ("Contingency", |up| up.contingency_cents),
    ("Tax", |up| up.tax_cents),
    ("Price", |up| up.price_cents),
];

fn percent(of: &str, name: &str) -> String {
    format!("=ROUND({of}*ROUND({name}*100,0)/10000,0)")
}

/// A row of the sheet "Work".
struct Row<'a> {
    at: &'a str,
    work: String,
    entry: &'a str,
    /// On every visit so many times; none for what is done so often a year.
    on_visit: Option<u32>,
    per_year: u32,
    time: ThreePoint,
    people: u32,
    cents: Cents,
    why: String,
}

fn task_row(line: &TaskLine) -> Row<'_> {
    Row {
        at: &line.tag,
        work: line.task.replace('_', " "),
        entry: &line.entry,
        on_visit: None,
        per_year: line.per_year,
        time: line.three_point,
        people: line.people,
        cents: Cents::ZERO,
        why: line.because.join("; "),
    }
}

fn visit_row<'a>(quote: &Quote, line: &'a AccessLine) -> Row<'a> {
    Row {
        at: "every visit",
        work: line.item.replace('_', " "),
        entry: &line.item,
        on_visit: Some(line.times),
        per_year: line.times * quote.visits_per_year,
        time: line.three_point,
        people: quote.crew.size,
        cents: line.cents,
        why: line.because.join("; "),
    }
}

/// Sheet "Work": what every visit needs, then one row a task. What only formulas read stands to
/// the right of what is printed.
fn work(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet(
        "Work",
        &[
            12.0, 24.0, 8.0, 8.0, 8.0, 8.0, 9.0, 8.0, 10.0, 10.0, 70.0, 32.0, 9.0, 9.0, 9.0, 9.0,
            9.0, 10.0,
        ],
    )?;
    paper.header(&[
        "At",
        "Work",
        "Times a year",
        "Low min",
        "Likely min",
        "High min",
        "Minutes",
        "People",
        "Person-minutes",
        "Cents each time",
        "Why",
        "Rate-book entry",
        "Width",
        "Low sum",
        "High sum",
        "First person",
        "Second person",
        "Cents a year",
    ])?;
    let visit = quote.access.lines.iter().chain([&quote.travel]);
    let visit = visit.filter(|_| quote.visits_per_year > 0);
    let rows = visit.map(|line| visit_row(quote, line));
    let mut before = String::new();
    for mut row in rows.chain(quote.tasks.iter().map(task_row)) {
        // What holds for the whole unit is told at its first row.
        let why = std::mem::replace(&mut before, format!("{}: {}", row.at, row.why));
        if !row.why.is_empty() && why == before {
            row.why = "as above".to_owned();
        }
        work_row(paper, &row)?;
    }
    paper.print_only(10)
}

fn work_row(paper: &mut Paper, row: &Row<'_>) -> Written<()> {
    let r = paper.next_row();
    let (n, p, mean) = (
        f64::from(row.per_year),
        f64::from(row.people),
        row.time.mean() as f64,
    );
    paper.text(0, row.at)?;
    paper.text(1, &row.work)?;
    match row.on_visit {
        Some(times) => {
            paper.formula(2, &format!("=visits*{times}"), n)?;
            paper.formula(7, "=crew", p)?;
        }
        None => {
            paper.number(2, n)?;
            paper.number(7, p)?;
        }
    }
    for (column, value) in [(3, row.time.low), (4, row.time.likely), (5, row.time.high)] {
        paper.number(column, f64::from(value))?;
    }
    let cents = row.cents.get() as f64;
    let width = row.time.width() as f64;
    let (low, high) = (f64::from(row.time.low), f64::from(row.time.high));
    paper.formula(6, &format!("=ROUND((D{r}+4*E{r}+F{r})/6,0)"), mean)?;
    paper.formula(8, &format!("=C{r}*G{r}*H{r}"), n * mean * p)?;
    if cents != 0.0 {
        paper.number(9, cents)?;
    }
    paper.text(10, &row.why)?;
    paper.text(11, row.entry)?;
    paper.formula(12, &format!("=C{r}*H{r}*(F{r}-D{r})"), n * p * width)?;
    paper.formula(13, &format!("=C{r}*H{r}*D{r}"), n * p * low)?;
    paper.formula(14, &format!("=C{r}*H{r}*F{r}"), n * p * high)?;
    paper.formula(15, &format!("=C{r}*G{r}"), n * mean)?;
    paper.formula(16, &format!("=C{r}*G{r}*(H{r}-1)"), n * mean * (p - 1.0))?;
    paper.formula(17, &format!("=C{r}*J{r}"), n * cents)?;
    paper.down()
}

/// Sheet "Materials".
fn materials(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Materials", &[26.0, 12.0, 12.0, 14.0, 14.0, 40.0, 60.0])?;
    paper.header(&[
        "Item",
        "Each round",
        "A year",
        "Cents each",
        "Cents a year",
        "For",
        "Notes",
    ])?;
    for line in &quote.materials {
        let r = paper.next_row();
        paper.text(0, &line.item)?;
        paper.number(1, line.per_round as f64)?;
        paper.number(2, line.per_year as f64)?;
        paper.number(3, line.unit_cost_cents.get() as f64)?;
        paper.formula(
            4,
            &format!("=C{r}*D{r}"),
            line.cost_cents_per_year.get() as f64,
        )?;
        paper.text(5, &line.refs.join(", "))?;
        paper.text(6, &line.notes.join("; "))?;
        paper.down()?;
    }
    Ok(())
}
