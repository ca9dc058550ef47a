//! Tables: columns as wide as their words need, a head that comes again on every page.

use super::flow::{Flow, depth};
use super::lines::{Line, Style, Words};
use super::read::Element;
use super::strip::{Ink, Strip};
use super::tree::{Kind, NodeId};
use std::rc::Rc;

const CELL: Style = Style::new(9.4, false);
/// Room between columns, and above and below the words of a row.
const GAP: f32 = 7.0;
const PAD: f32 = 3.2;
/// What is no wider than this part of the page is not broken.
const SHORT: f32 = 0.13;
/// A row deeper than this part of a page is cut between lines.
const DEEPEST: f32 = 0.45;

/// Where a column begins and how wide it is.
#[derive(Debug, Clone, Copy)]
struct Column {
    x: f32,
    width: f32,
}

impl Flow {
    pub(super) fn table(&mut self, e: &Element, node: NodeId) {
        let table = self.tree.add(node, Kind::Table);
        let columns = columns(e, self.area.room);
        let mut head: Option<Rc<Strip>> = None;
        for part in e.elements() {
            let heads = part.name == "thead";
            let kind = if heads {
                Kind::TableHead
            } else {
                Kind::TableBody
            };
            let group = self.tree.add(table, kind);
            let mut rows = part.elements().peekable();
            while let Some(row) = rows.next() {
                let begun = self.strips.len();
                self.row(row, group, &columns);
                // Photos in a row of their own belong to the row above.
                if rows.peek().copied().and_then(only_photos).is_some()
                    && let Some(strip) = self.strips.last_mut()
                {
                    strip.keep = true;
                    strip.marks.retain(|m| !matches!(m.ink, Ink::Rule { .. }));
                }
                for strip in self.strips.iter_mut().skip(begun) {
                    strip.again = head.clone();
                }
                if heads && let Some(strip) = self.strips.last_mut() {
                    strip.rule(strip.height, self.area.room, 1.0);
                    strip.height += 1.0;
                    strip.keep = true;
                    strip.gap = 3.0;
                    head = Some(Rc::new(strip.clone()));
                }
            }
        }
    }

    fn row(&mut self, row: &Element, group: NodeId, columns: &[Column]) {
        let tr = self.tree.add(group, Kind::Row);
        let cells: Vec<&Element> = row.elements().collect();
        if let Some(only) = only_photos(row) {
            let td = self.tree.add(tr, Kind::Cell(span(only)));
            for photos in only.elements() {
                self.photos(photos, td, 0.0, self.area.room);
            }
            if let Some(last) = self.strips.last_mut() {
                last.height += PAD;
                last.rule(last.height, self.area.room, 0.4);
            }
            return;
        }
        let group_head = cells.iter().any(|c| c.is("rule"));
        let mut at = 0;
        let mut set: Vec<(f32, f32, bool, Vec<Line>, NodeId)> = Vec::new();
        for cell in cells {
            let over = span(cell);
            let (x, width) = extent(columns, at, over as usize, self.area.room);
            at += over as usize;
            let bold = cell.name == "th";
            let kind = match (bold, cell.attribute("scope")) {
                (true, "rowgroup") => Kind::RowGroup(over),
                (true, _) => Kind::Column,
                (false, _) => Kind::Cell(over),
            };
            let words = Words::of(cell, Style::new(CELL.size, bold));
            let id = self.tree.add(tr, kind);
            set.push((x, width, cell.is("n"), words.lines(width), id));
        }
        let mut first = true;
        while first || set.iter().any(|(.., lines, _)| !lines.is_empty()) {
            let mut strip = Strip::default();
            let mut deepest = 0.0_f32;
            for (x, width, right, lines, id) in &mut set {
                let now = take(lines, self.area.depth);
                let mut down = PAD;
                for line in &now {
                    let shift = if *right { *width - line.width } else { 0.0 };
                    strip.line(line, *x + shift.max(0.0), down, Some(*id));
                    down += line.height();
                }
                deepest = deepest.max(down);
            }
            strip.height = deepest + PAD;
            strip.keep = group_head;
            if !group_head && set.iter().all(|(.., lines, _)| lines.is_empty()) {
                strip.rule(strip.height, self.area.room, 0.4);
            }
            self.add(strip);
            first = false;
        }
    }
}

/// The one cell of a row that holds nothing but photos.
fn only_photos(row: &Element) -> Option<&Element> {
    let mut cells = row.elements();
    let first = cells.next()?;
    let photos = first.elements().any(|e| e.is("photos"));
    (photos && cells.next().is_none()).then_some(first)
}

/// As many lines as one strip of a row may hold.
fn take(lines: &mut Vec<Line>, page: f32) -> Vec<Line> {
    let mut count = lines.len();
    while count > 1 && depth(lines.get(..count).unwrap_or_default()) > page * DEEPEST {
        count -= 1;
    }
    lines.drain(..count).collect()
}

fn span(cell: &Element) -> u32 {
    let over = cell.attribute("colspan").parse().unwrap_or(1);
    over.clamp(1, 20)
}

fn extent(columns: &[Column], at: usize, over: usize, page: f32) -> (f32, f32) {
    let mut within = columns.iter().skip(at).take(over);
    let Some(first) = within.next() else {
        return (0.0, page);
    };
    let last = within.next_back().unwrap_or(first);
    (first.x, last.x + last.width - first.x)
}

/// Widths by what the columns hold: each at least its longest word, or all of it where it is
/// short or a number; the rest by need.
fn columns(e: &Element, page: f32) -> Vec<Column> {
    let mut needs: Vec<(f32, f32)> = Vec::new();
    for row in e.elements().flat_map(Element::elements) {
        for (k, cell) in row.elements().enumerate() {
            if span(cell) > 1 {
                break;
            }
            let bold = cell.name == "th";
            let (mut least, most) = Words::of(cell, Style::new(CELL.size, bold)).widths();
            if cell.is("n") && !bold || most <= page * SHORT {
                least = most;
            }
            if needs.len() <= k {
                needs.push((0.0, 0.0));
            }
            if let Some(need) = needs.get_mut(k) {
                *need = (need.0.max(least), need.1.max(most));
            }
        }
    }
    let room = page - GAP * needs.len().saturating_sub(1) as f32;
    let least: f32 = needs.iter().map(|n| n.0).sum();
    let most: f32 = needs.iter().map(|n| n.1).sum();
    let widths = needs.iter().map(|(low, high)| {
        if most <= room {
            high + (room - most) * high / most.max(1.0)
        } else if least <= room {
            low + (room - least) * (high - low) / (most - least).max(1.0)
        } else {
            low * room / least
        }
    });
    let mut x = 0.0;
    widths
        .map(|width| {
            let column = Column { x, width };
            x += width + GAP;
            column
        })
        .collect()
}
