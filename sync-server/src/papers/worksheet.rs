//! The project manager's worksheet: a spreadsheet whose formulas recompute the price.
//!
//! Every amount is whole cents and every formula rounds where `docs/quote.md` rounds, so a
//! spreadsheet program comes to the same cent. Values are written beside the formulas too, for
//! programs that do not calculate. It shows costs: it stays in the office.

use super::sheet::{Paper, Written};
use scupper_core::quote::{AccessLine, Quote, RateBook, TaxOn};
use std::collections::BTreeSet;

/// The worksheet as bytes of an XLSX file.
pub fn worksheet_xlsx(
    quote: &Quote,
    book: &RateBook,
    made_on: Option<chrono::NaiveDate>,
) -> Written {
    let mut paper = Paper::new("Quote worksheet", made_on)?;
    price(&mut paper, quote)?;
    work(&mut paper, quote)?;
    materials(&mut paper, quote)?;
    rates(&mut paper, quote, book)?;
    range(&mut paper, quote)?;
    apart(&mut paper, quote)?;
    paper.finish()
}

/// Sheet "Price": the ladder at the low, likely and high end.
fn price(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Price", &[46.0, 16.0, 16.0, 16.0])?;
    paper.title(&format!("Quote worksheet, survey {}", quote.survey_id))?;
    paper.note(&format!("Rate book: {}", quote.rate_book))?;
    if let Some(note) = &quote.rate_book_note {
        paper.note(note)?;
    }
    paper.note(&format!(
        "Amounts are cents of {}; each step is rounded to the cent, half a cent up.",
        quote.currency
    ))?;
    paper.header(&["A year, whole cents", "Low", "Likely", "High"])?;
    let first = paper.next_row();
    let (minutes, steps) = (quote.labour_minutes_per_year, quote.build_up);
    let line = |n: u32| first + n;
    let columns = [
        ("B", minutes.low, steps.low),
        ("C", minutes.likely, steps.likely),
        ("D", minutes.high, steps.high),
    ];
    let (m, labour) = (line(0), line(1));
    paper.label("Person-minutes")?;
    for (i, (column, value, _)) in columns.iter().enumerate() {
        let formula = match *column {
            "B" => format!("=MIN(C{m},MAX(C{m}-away,SUM(Work!L:L)))"),
            "D" => format!("=MAX(C{m},MIN(C{m}+away,SUM(Work!M:M)))"),
            _ => "=SUM(Work!J:J)".to_owned(),
        };
        paper.formula(i + 1, &formula, *value as f64)?;
    }
    paper.down()?;
    let percent = |of: &str, name: &str| format!("=ROUND({of}*ROUND({name}*100,0)/10000,0)");
    type Step = (&'static str, fn(&scupper_core::quote::BuildUp) -> i64);
    let ladder: [Step; 9] = [
        ("Labour", |up| up.labour_cents.get()),
        ("Mark-up on labour", |up| up.labour_markup_cents.get()),
        ("Materials", |up| up.materials_cents.get()),
        ("Mark-up on materials", |up| up.materials_markup_cents.get()),
        ("Vehicle, gear and hire", |up| up.hire_cents.get()),
        ("Mark-up on vehicle, gear and hire", |up| {
            up.hire_markup_cents.get()
        }),
        ("Contingency", |up| up.contingency_cents.get()),
        ("Tax", |up| up.tax_cents.get()),
        ("Price in cents", |up| up.price_cents.get()),
    ];
    for (n, (label, value)) in ladder.iter().enumerate() {
        paper.label(label)?;
        for (i, (c, _, up)) in columns.iter().enumerate() {
            let at = |n: u32| format!("{c}{}", line(n));
            let formula = match (n, *c) {
                (0, "C") => "=ROUND(SUM(Work!N:N)*technician_rate/60,0)+ROUND(SUM(Work!O:O)*second_person_rate/60,0)".to_owned(),
                (0, _) => format!("=IF(C{m}=0,0,ROUND(C{labour}*{c}{m}/C{m},0))"),
                (1, _) => percent(&at(1), "labour_markup"),
                (2, _) => "=SUM(Materials!E:E)".to_owned(),
                (3, _) => percent(&at(3), "materials_markup"),
                (4, _) => "=SUM(Work!Q:Q)".to_owned(),
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
            paper.formula(i + 1, &formula, value(up) as f64)?;
        }
        paper.down()?;
    }
    paper.label(&format!("Price in {}", quote.currency))?;
    for (i, (c, _, up)) in columns.iter().enumerate() {
        paper.money(
            i + 1,
            &format!("={c}{}/100", line(9)),
            up.price_cents.get() as f64 / 100.0,
        )?;
    }
    paper.down()?;
    paper.label("Hours")?;
    for (i, (c, value, _)) in columns.iter().enumerate() {
        paper.money(
            i + 1,
            &format!("=ROUND({c}{m}*100/60,0)/100"),
            (*value as f64 * 100.0 / 60.0).round() / 100.0,
        )?;
    }
    paper.down()?;
    Ok(())
}

/// Sheet "Work": one row a task, then what every visit needs.
fn work(paper: &mut Paper, quote: &Quote) -> Written<()> {
    let mut widths = vec![9.0; 18];
    widths.splice(..3, [10.0, 24.0, 32.0]);
    widths.splice(17.., [60.0]);
    paper.sheet("Work", &widths)?;
    paper.header(&[
        "At",
        "Work",
        "Rate-book entry",
        "Times a year",
        "Low min",
        "Likely min",
        "High min",
        "Minutes",
        "People",
        "Person-minutes",
        "Width",
        "Low sum",
        "High sum",
        "First person",
        "Second person",
        "Cents each time",
        "Cents a year",
        "Why",
    ])?;
    let visit = quote
        .access
        .lines
        .iter()
        .chain([&quote.travel])
        .filter(|_| quote.visits_per_year > 0);
    let visit = visit.map(|line: &AccessLine| {
        let item = line.item.clone();
        let times = format!("=visits*{}", line.times);
        (
            "every visit".to_owned(),
            item.clone(),
            item,
            Some(times),
            line.times * quote.visits_per_year,
            line.three_point,
            quote.crew.size,
            line.cents.get(),
            line.because.join("; "),
        )
    });
    let tasks = quote.tasks.iter().map(|line| {
        (
            line.tag.clone(),
            line.task.clone(),
            line.entry.clone(),
            None,
            line.per_year,
            line.three_point,
            line.people,
            0,
            line.because.join("; "),
        )
    });
    for (at, work, entry, formula, times, time, people, cents, why) in tasks.chain(visit) {
        let r = paper.next_row();
        let (n, p, mean) = (f64::from(times), f64::from(people), time.mean() as f64);
        paper.row(&[
            at.as_str().into(),
            work.as_str().into(),
            entry.as_str().into(),
        ])?;
        paper.up();
        match formula {
            Some(formula) => {
                paper.formula(3, &formula, n)?;
                paper.formula(8, "=crew", p)?;
            }
            None => {
                paper.number(3, n)?;
                paper.number(8, p)?;
            }
        }
        for (column, value) in [(4, time.low), (5, time.likely), (6, time.high)] {
            paper.number(column, f64::from(value))?;
        }
        let width = time.width() as f64;
        paper.formula(7, &format!("=ROUND((E{r}+4*F{r}+G{r})/6,0)"), mean)?;
        paper.formula(9, &format!("=D{r}*H{r}*I{r}"), n * mean * p)?;
        paper.formula(10, &format!("=D{r}*I{r}*(G{r}-E{r})"), n * p * width)?;
        paper.formula(11, &format!("=D{r}*I{r}*E{r}"), n * p * f64::from(time.low))?;
        paper.formula(
            12,
            &format!("=D{r}*I{r}*G{r}"),
            n * p * f64::from(time.high),
        )?;
        paper.formula(13, &format!("=D{r}*H{r}"), n * mean)?;
        paper.formula(14, &format!("=D{r}*H{r}*(I{r}-1)"), n * mean * (p - 1.0))?;
        paper.number(15, cents as f64)?;
        paper.formula(16, &format!("=D{r}*P{r}"), n * cents as f64)?;
        paper.text(17, &why)?;
        paper.down()?;
    }
    Ok(())
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

/// Sheet "Rates": what the formulas take from the rate book, each cell with a name.
fn rates(paper: &mut Paper, quote: &Quote, book: &RateBook) -> Written<()> {
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
fn range(paper: &mut Paper, quote: &Quote) -> Written<()> {
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
        paper.formula(1, &format!("=SUMIF(Work!C:C,A{r},Work!K:K)"), width)?;
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

/// Sheets of what is apart from the price.
fn apart(paper: &mut Paper, quote: &Quote) -> Written<()> {
    paper.sheet("Options", &[70.0, 16.0, 16.0, 16.0, 16.0])?;
    paper.header(&[
        "Instead, or besides",
        "Low cents",
        "Likely cents",
        "High cents",
        "Adds cents",
    ])?;
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
            paper.number(i + 1, amount.get() as f64)?;
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
        "Cents",
        "How it was priced",
    ])?;
    for repair in &quote.repairs {
        paper.text(0, &repair.severity.words())?;
        paper.text(1, &repair.about)?;
        paper.text(2, &repair.component.words())?;
        paper.text(3, &repair.condition.words())?;
        paper.text(4, &repair.seen)?;
        if let Some(price) = repair.price_cents {
            paper.number(5, price.get() as f64)?;
        }
        paper.text(6, &repair.because)?;
        paper.down()?;
    }
    paper.sheet("Not known", &[10.0, 28.0, 90.0, 20.0])?;
    paper.header(&[
        "At",
        "Field",
        "What the price reckons with",
        "Could move cents",
    ])?;
    for gap in &quote.missing {
        paper.text(0, &gap.about)?;
        paper.text(1, &gap.field)?;
        paper.text(2, &gap.why)?;
        paper.number(3, gap.could_move_price_by_cents.get() as f64)?;
        paper.down()?;
    }
    paper.sheet("Moves it most", &[60.0, 18.0, 18.0, 16.0])?;
    paper.header(&[
        "Input",
        "Cents at its low end",
        "Cents at its high end",
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
            paper.number(i + 1, end.get() as f64)?;
        }
        paper.down()?;
    }
    paper.sheet("Rests on", &[95.0])?;
    for (title, list) in [
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
