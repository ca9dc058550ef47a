//! What is laid out: strips across the page, one below the other, and how they fall on pages.

use super::lines::{Line, Style};
use super::tree::NodeId;
use crate::papers::size::points;
use scupper_core::quote::PaperSize;
use std::rc::Rc;

/// Margins, in points of 1/72 in; the right one is as wide as the left.
pub(super) const LEFT: f32 = 46.0;
pub(super) const TOP: f32 = 54.0;
pub(super) const BOTTOM: f32 = 58.0;

/// What may be set on within the margins of a page, in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) room: f32,
    pub(super) depth: f32,
}

impl Area {
    /// The area of a paper.
    pub(super) fn of(paper: PaperSize) -> Self {
        let (width, height) = points(paper);
        Self {
            room: width - 2.0 * LEFT,
            depth: height - TOP - BOTTOM,
        }
    }
}

/// Something to draw, at a place within its strip.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Ink {
    /// Words; `y` is their baseline.
    Words { text: String, style: Style },
    /// A line to the right.
    Rule { width: f32, weight: f32 },
    /// A box.
    Frame {
        size: (f32, f32),
        weight: f32,
        dashed: bool,
    },
    /// A photo, by its id.
    Photo { id: String, size: (f32, f32) },
    /// An SVG.
    Drawing { svg: Rc<str>, size: (f32, f32) },
}

/// Ink at a place; without a node it is decoration.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mark {
    pub(super) x: f32,
    pub(super) y: f32,
    pub(super) ink: Ink,
    pub(super) node: Option<NodeId>,
}

/// A strip across the page that is never cut.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Strip {
    /// Space above it, unless it begins a page.
    pub(super) gap: f32,
    pub(super) height: f32,
    pub(super) marks: Vec<Mark>,
    /// Whether it stays on the page of the next.
    pub(super) keep: bool,
    /// Whether it begins a page.
    pub(super) fresh: bool,
    /// Level and title, if it is a heading.
    pub(super) heading: Option<(u16, String)>,
    /// What is drawn again above it where it begins a page.
    pub(super) again: Option<Rc<Strip>>,
}

impl Strip {
    /// Adds a line of text whose room begins at a place.
    pub(super) fn line(&mut self, line: &Line, x: f32, y: f32, node: Option<NodeId>) {
        for span in &line.spans {
            self.marks.push(Mark {
                x: x + span.x,
                y: y + line.baseline(),
                ink: Ink::Words {
                    text: span.text.clone(),
                    style: span.style,
                },
                node,
            });
        }
    }

    /// Adds lines one below the other and returns how deep they go.
    pub(super) fn lines(&mut self, lines: &[Line], x: f32, y: f32, node: Option<NodeId>) -> f32 {
        let mut down = y;
        for line in lines {
            self.line(line, x, down, node);
            down += line.height();
        }
        down - y
    }

    pub(super) fn rule(&mut self, y: f32, width: f32, weight: f32) {
        self.marks.push(Mark {
            x: 0.0,
            y,
            ink: Ink::Rule { width, weight },
            node: None,
        });
    }
}

/// A strip on its page, so far below the top of what is set; `again` marks a repeated head.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed<'a> {
    pub(super) y: f32,
    pub(super) strip: &'a Strip,
    pub(super) again: bool,
}

/// The strips on their pages. A strip that must stay with the next takes it along.
pub(super) fn pages(strips: &[Strip], depth: f32) -> Vec<Vec<Placed<'_>>> {
    let mut pages: Vec<Vec<Placed<'_>>> = vec![Vec::new()];
    let mut y = 0.0;
    for (i, strip) in strips.iter().enumerate() {
        let begun = pages.last().is_some_and(|page| !page.is_empty());
        let alone = strip.gap + strip.height;
        let together = together(strips.get(i..).unwrap_or_default());
        let need = if together <= depth { together } else { alone };
        if begun && (strip.fresh || y + need > depth) {
            pages.push(Vec::new());
            y = 0.0;
        }
        let Some(page) = pages.last_mut() else {
            continue;
        };
        if page.is_empty() {
            if let Some(head) = strip.again.as_deref() {
                page.push(Placed {
                    y,
                    strip: head,
                    again: true,
                });
                y += head.height;
            }
        } else {
            y += strip.gap;
        }
        page.push(Placed {
            y,
            strip,
            again: false,
        });
        y += strip.height;
    }
    pages.retain(|page| !page.is_empty());
    pages
}

/// Height of a strip and all that must stay with it.
fn together(strips: &[Strip]) -> f32 {
    let mut height = 0.0;
    for strip in strips {
        height += strip.gap + strip.height;
        if !strip.keep {
            break;
        }
    }
    height
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEPTH: f32 = 680.0;

    fn strip(height: f32, keep: bool) -> Strip {
        Strip {
            gap: 10.0,
            height,
            keep,
            ..Strip::default()
        }
    }

    #[test]
    fn a_heading_never_ends_a_page_and_nothing_runs_off_it() {
        let mut strips: Vec<Strip> = (0..60).map(|k| strip(50.0, k % 11 == 9)).collect();
        strips.push(Strip {
            fresh: true,
            ..strip(DEPTH, false)
        });
        let pages = pages(&strips, DEPTH);
        let all: usize = pages.iter().map(Vec::len).sum();
        assert_eq!(all, strips.len());
        for page in &pages {
            assert!(page.iter().all(|p| p.y + p.strip.height <= DEPTH + 0.01));
            assert!(page.last().is_some_and(|p| !p.strip.keep));
        }
        assert!(pages.last().is_some_and(|page| page.len() == 1));
    }

    #[test]
    fn a_table_s_head_comes_again_on_its_next_page() {
        let head = Rc::new(strip(20.0, true));
        let strips: Vec<Strip> = (0..40)
            .map(|_| Strip {
                again: Some(Rc::clone(&head)),
                ..strip(40.0, false)
            })
            .collect();
        let pages = pages(&strips, DEPTH);
        assert!(pages.len() > 2);
        for page in pages {
            assert!(page.first().is_some_and(|p| p.again));
            assert_eq!(page.iter().filter(|p| p.again).count(), 1);
            assert!(page.last().is_some_and(|p| p.y + p.strip.height <= DEPTH));
        }
    }
}
