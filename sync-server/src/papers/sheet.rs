//! A thin pen for spreadsheets: one sheet at a time, one row after another.
//!
//! Text is always written as text, so nothing a person said is run as a formula. The file's
//! dates are the survey's, so the same input gives the same bytes.

use super::size::number;
use chrono::{Datelike, NaiveDate};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula, Workbook, XlsxError,
};
use scupper_core::quote::{Cents, PaperSize};

/// What writing comes to: bytes, or why not.
pub type Written<T = Vec<u8>> = Result<T, XlsxError>;

/// A spreadsheet being written.
pub(super) struct Paper {
    book: Workbook,
    size: PaperSize,
    sheet: Option<(usize, String)>,
    row: u32,
    /// Widths of the sheet's columns, in characters.
    widths: Vec<f64>,
    /// Lines that the texts of the current row take.
    lines: u32,
    bold: Format,
    head: Format,
    amount: Format,
    /// For numbers, beside texts that begin at the top of a tall row.
    top: Format,
    wrap: Format,
}

/// What a cell holds.
pub(super) enum Cell {
    /// A text, never a formula.
    Text(String),
    /// A number.
    Number(f64),
    /// Money, shown with two decimals.
    Amount(Cents),
    /// Nothing.
    Empty,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<&String> for Cell {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl From<Cents> for Cell {
    fn from(cents: Cents) -> Self {
        Self::Amount(cents)
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Empty, Into::into)
    }
}

impl Paper {
    /// A spreadsheet without a sheet.
    pub(super) fn new(title: &str, made_on: Option<NaiveDate>, size: PaperSize) -> Written<Self> {
        let mut book = Workbook::new();
        let day = made_on.and_then(|day| {
            let (month, dom) = (
                u8::try_from(day.month()).ok()?,
                u8::try_from(day.day()).ok()?,
            );
            ExcelDateTime::from_ymd(u16::try_from(day.year()).ok()?, month, dom).ok()
        });
        let day = match day {
            Some(day) => day,
            None => ExcelDateTime::from_ymd(2000, 1, 1)?,
        };
        book.set_properties(
            &DocProperties::new()
                .set_title(title)
                .set_creation_datetime(&day),
        );
        Ok(Self {
            book,
            size,
            sheet: None,
            row: 0,
            widths: Vec::new(),
            lines: 1,
            bold: Format::new().set_bold().set_font_size(14),
            head: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_indent(1)
                .set_border_bottom(FormatBorder::Thin)
                .set_align(FormatAlign::Top),
            amount: Format::new()
                .set_num_format("#,##0.00")
                .set_align(FormatAlign::Top),
            top: Format::new().set_align(FormatAlign::Top),
            wrap: Format::new()
                .set_text_wrap()
                .set_indent(1)
                .set_align(FormatAlign::Top),
        })
    }

    /// Begins a sheet with columns of these widths.
    pub(super) fn sheet(&mut self, name: &str, widths: &[f64]) -> Written<()> {
        let index = self.book.worksheets().len();
        let size = number(self.size);
        let sheet = self.book.add_worksheet();
        sheet
            .set_name(name)?
            .set_landscape()
            .set_paper_size(size)
            .set_print_fit_to_pages(1, 0);
        for (column, width) in (0_u16..).zip(widths) {
            sheet.set_column_width(column, *width)?;
        }
        self.sheet = Some((index, name.to_owned()));
        self.row = 0;
        self.widths = widths.to_vec();
        self.lines = 1;
        Ok(())
    }

    fn here(&mut self) -> Written<&mut rust_xlsxwriter::Worksheet> {
        let index = self.sheet.as_ref().map_or(0, |(index, _)| *index);
        self.book.worksheet_from_index(index)
    }

    /// The number of the row written next, as formulas count it.
    pub(super) const fn next_row(&self) -> u32 {
        self.row + 1
    }

    /// Ends the row, tall enough for its texts: not every program finds that out by itself.
    pub(super) fn down(&mut self) -> Written<()> {
        let (row, lines) = (self.row, std::mem::replace(&mut self.lines, 1));
        if lines > 1 {
            self.here()?.set_row_height(row, 15.0 * f64::from(lines))?;
        }
        self.row += 1;
        Ok(())
    }

    /// Lines that a text takes in its column, as wide as letters usually are.
    fn lines_of(&self, column: usize, text: &str) -> u32 {
        let width = self.widths.get(column).copied().unwrap_or(8.0).max(1.0);
        let each = |line: &str| (line.chars().count() as f64 * 1.08 / width).ceil().max(1.0);
        text.lines().map(each).sum::<f64>().clamp(1.0, 20.0) as u32
    }

    /// A line of text that runs on over the columns beside it.
    pub(super) fn note(&mut self, text: &str) -> Written<()> {
        let row = self.row;
        self.here()?.write_string(row, 0, text)?;
        self.down()
    }

    pub(super) fn title(&mut self, text: &str) -> Written<()> {
        let (row, bold) = (self.row, self.bold.clone());
        self.here()?.write_string_with_format(row, 0, text, &bold)?;
        self.down()
    }

    /// A heading row; when it is the sheet's first, it stays in view and on every page.
    pub(super) fn header(&mut self, titles: &[&str]) -> Written<()> {
        let tall = titles.iter().enumerate().map(|(k, t)| self.lines_of(k, t));
        self.lines = tall.max().unwrap_or(1);
        let (row, head) = (self.row, self.head.clone());
        let sheet = self.here()?;
        for (column, title) in (0_u16..).zip(titles) {
            sheet.write_string_with_format(row, column, *title, &head)?;
        }
        if row == 0 {
            sheet.set_freeze_panes(1, 0)?.set_repeat_rows(0, 0)?;
        }
        self.down()
    }

    /// A row of figures that no formula makes.
    pub(super) fn row(&mut self, cells: impl IntoIterator<Item = Cell>) -> Written<()> {
        for (column, cell) in cells.into_iter().enumerate() {
            match cell {
                Cell::Text(text) => self.text(column, &text)?,
                Cell::Number(number) => self.number(column, number)?,
                Cell::Amount(cents) => self.amount(column, cents)?,
                Cell::Empty => {}
            }
        }
        self.down()
    }

    pub(super) fn label(&mut self, text: &str) -> Written<()> {
        self.text(0, text)
    }

    pub(super) fn text(&mut self, column: usize, text: &str) -> Written<()> {
        let (row, wrap) = (self.row, self.wrap.clone());
        // A cell holds 32,767 characters at most.
        let text: String = text.chars().take(32_000).collect();
        if !text.is_empty() {
            self.lines = self.lines.max(self.lines_of(column, &text));
            self.here()?
                .write_string_with_format(row, at(column), text, &wrap)?;
        }
        Ok(())
    }

    pub(super) fn number(&mut self, column: usize, value: f64) -> Written<()> {
        let (row, top) = (self.row, self.top.clone());
        self.here()?
            .write_number_with_format(row, at(column), value, &top)?;
        Ok(())
    }

    /// A formula and the value it comes to.
    pub(super) fn formula(&mut self, column: usize, formula: &str, value: f64) -> Written<()> {
        let (row, top) = (self.row, self.top.clone());
        let formula = Formula::new(formula).set_result(value.to_string());
        self.here()?
            .write_formula_with_format(row, at(column), formula, &top)?;
        Ok(())
    }

    /// A formula shown with two decimals.
    pub(super) fn money(&mut self, column: usize, formula: &str, value: f64) -> Written<()> {
        let (row, amount) = (self.row, self.amount.clone());
        let formula = Formula::new(formula).set_result(value.to_string());
        self.here()?
            .write_formula_with_format(row, at(column), formula, &amount)?;
        Ok(())
    }

    fn amount(&mut self, column: usize, cents: Cents) -> Written<()> {
        let (row, amount) = (self.row, self.amount.clone());
        let value = cents.get() as f64 / 100.0;
        self.here()?
            .write_number_with_format(row, at(column), value, &amount)?;
        Ok(())
    }

    /// Prints the columns of the sheet up to this one only.
    pub(super) fn print_only(&mut self, column: usize) -> Written<()> {
        let last = self.row.saturating_sub(1);
        self.here()?.set_print_area(0, 0, last, at(column))?;
        Ok(())
    }

    /// Names a cell of the current row.
    pub(super) fn name(&mut self, name: &str, column: usize) -> Written<()> {
        let sheet = self
            .sheet
            .as_ref()
            .map(|(_, name)| name.clone())
            .unwrap_or_default();
        let letter = char::from(b'A' + u8::try_from(column).unwrap_or(0));
        let formula = format!("='{sheet}'!${letter}${}", self.next_row());
        self.book.define_name(name, &formula)?;
        Ok(())
    }

    /// The bytes of the file.
    pub(super) fn finish(mut self) -> Written {
        self.book.save_to_buffer()
    }
}

fn at(column: usize) -> u16 {
    u16::try_from(column).unwrap_or(u16::MAX)
}
