//! Lays the paper's elements out as strips: headings, text, facts, lists, photos, the plan.
//!
//! Follows the paper's stylesheet in looks, not by reading it. Tables are `table`'s.

use super::face::known;
use super::lines::{Line, Style, Words};
use super::read::{Element, Node};
use super::strip::{Area, Ink, Mark, Strip};
use super::tree::{Kind, NodeId, Tree};
use std::rc::Rc;

pub(super) const BODY: Style = Style::new(10.0, false);
pub(super) const SMALL: f32 = 8.8;
const TITLE: f32 = 20.0;
/// Room between photos, and how tall one may be.
const GUTTER: f32 = 8.5;
const TALLEST: f32 = 130.0;
const PHOTOS_ACROSS: usize = 4;

/// The paper being laid out.
pub(super) struct Flow {
    pub(super) tree: Tree,
    pub(super) strips: Vec<Strip>,
    pub(super) area: Area,
    /// Whether the next strip begins a page.
    fresh: bool,
}

impl Flow {
    pub(super) fn new(area: Area) -> Self {
        Self {
            tree: Tree::new(),
            strips: Vec::new(),
            area,
            fresh: false,
        }
    }

    /// Adds a strip, on a page of its own if that was asked for.
    pub(super) fn add(&mut self, mut strip: Strip) {
        strip.fresh |= std::mem::take(&mut self.fresh);
        self.strips.push(strip);
    }

    /// Lays out what an element holds, under a node.
    pub(super) fn within(&mut self, element: &Element, node: NodeId) {
        for child in &element.children {
            match child {
                Node::Element(e) => self.element(e, node),
                Node::Drawing(svg) => self.drawing(svg, node),
                Node::Text(text) if !text.trim().is_empty() => {
                    let p = self.tree.add(node, Kind::Paragraph);
                    self.text(&Words::plain(text, BODY), 0.0, self.area.room, p, 0.0);
                }
                Node::Text(_) => {}
            }
        }
    }

    fn element(&mut self, e: &Element, node: NodeId) {
        match e.name.as_str() {
            "section" => {
                let section = self.tree.add(node, Kind::Section);
                let alone = e.is("plan");
                self.fresh |= alone || e.is("agreement");
                self.within(e, section);
                self.fresh |= alone;
            }
            "h1" => self.heading(e, node, (1, Style::new(TITLE, true)), 2.0),
            "h2" => self.heading(e, node, (2, Style::new(14.0, true)), 20.0),
            "h3" => self.heading(e, node, (3, Style::new(11.0, true)), 14.0),
            "p" => {
                let p = self.tree.add(node, Kind::Paragraph);
                let size = if e.is("small") { SMALL } else { BODY.size };
                let words = Words::of(e, Style::new(size, e.is("kind")));
                self.text(&words, 0.0, self.area.room, p, 5.0);
            }
            "dl" => self.facts(e, node),
            "ul" => self.list(e, node),
            "aside" => self.framed(e, node),
            "table" => self.table(e, node),
            "div" if e.is("photos") => self.photos(e, node, 0.0, self.area.room),
            _ => self.within(e, node),
        }
    }

    fn heading(&mut self, e: &Element, node: NodeId, (level, style): (u16, Style), gap: f32) {
        let title = known(&e.text());
        let h = self.tree.add(node, Kind::Heading(level, title.clone()));
        let mut strip = Strip {
            gap,
            keep: true,
            heading: Some((level, title)),
            ..Strip::default()
        };
        let lines = Words::of(e, style).lines(self.area.room);
        strip.height = strip.lines(&lines, 0.0, 0.0, Some(h)) + 3.0;
        if level == 2 {
            strip.rule(strip.height, self.area.room, 1.2);
            strip.height += 7.0;
        }
        self.add(strip);
    }

    /// Text, a strip a line, so that a page may end within it, though not after its first line
    /// nor before its last.
    pub(super) fn text(&mut self, words: &Words, x: f32, room: f32, node: NodeId, gap: f32) {
        let lines = words.lines(room);
        let last = lines.len().saturating_sub(1);
        for (i, line) in lines.iter().enumerate() {
            let mut strip = Strip {
                gap: if i == 0 { gap } else { 0.0 },
                height: line.height(),
                keep: i < last && (i == 0 || i + 1 == last),
                ..Strip::default()
            };
            strip.line(line, x, 0.0, Some(node));
            self.add(strip);
        }
    }

    /// Pairs of a name and a value, four across.
    fn facts(&mut self, e: &Element, node: NodeId) {
        let list = self.tree.add(node, Kind::List);
        let items: Vec<&Element> = e.elements().collect();
        let column = self.area.room / 4.0;
        for (row, items) in items.chunks(4).enumerate() {
            let mut strip = Strip {
                gap: if row == 0 { 8.0 } else { 6.0 },
                ..Strip::default()
            };
            for (k, item) in items.iter().enumerate() {
                let li = self.tree.add(list, Kind::Item);
                let mut down = 0.0;
                for part in item.elements() {
                    let (kind, style) = match part.name.as_str() {
                        "dt" => (Kind::Label, Style::new(SMALL, false)),
                        _ => (Kind::Body, Style::new(10.0, true)),
                    };
                    let part_node = self.tree.add(li, kind);
                    let lines = Words::of(part, style).lines(column - 10.0);
                    down += strip.lines(&lines, k as f32 * column, down, Some(part_node));
                }
                strip.height = strip.height.max(down);
            }
            self.add(strip);
        }
    }

    fn list(&mut self, e: &Element, node: NodeId) {
        let list = self.tree.add(node, Kind::List);
        let size = if e.is("small") { SMALL } else { BODY.size };
        for item in e.elements() {
            let li = self.tree.add(list, Kind::Item);
            let (label, body) = (
                self.tree.add(li, Kind::Label),
                self.tree.add(li, Kind::Body),
            );
            let first = self.strips.len();
            let words = Words::of(item, Style::new(size, false));
            self.text(&words, 14.0, self.area.room - 14.0, body, 2.0);
            let dot = Words::plain("•", Style::new(size, false)).lines(14.0);
            if let (Some(strip), Some(dot)) = (self.strips.get_mut(first), dot.first()) {
                strip.line(dot, 4.0, 0.0, Some(label));
            }
        }
    }

    /// An aside in a frame, on one page.
    fn framed(&mut self, e: &Element, node: NodeId) {
        let inside = self.tree.add(node, Kind::Section);
        let mut strip = Strip {
            gap: 14.0,
            ..Strip::default()
        };
        let mut down = 8.0;
        for part in e.elements() {
            let (kind, style) = match part.name.as_str() {
                "h2" => {
                    let title = known(&part.text());
                    (Kind::Heading(2, title), Style::new(11.0, true))
                }
                _ => (Kind::Paragraph, BODY),
            };
            let part_node = self.tree.add(inside, kind);
            let lines = Words::of(part, style).lines(self.area.room - 24.0);
            down += strip.lines(&lines, 12.0, down, Some(part_node)) + 3.0;
        }
        strip.height = down + 6.0;
        strip.marks.push(Mark {
            x: 0.0,
            y: 0.0,
            ink: Ink::Frame {
                size: (self.area.room, strip.height),
                weight: 1.6,
                dashed: false,
            },
            node: None,
        });
        self.add(strip);
    }

    /// Photos side by side with their captions.
    pub(super) fn photos(&mut self, e: &Element, node: NodeId, x: f32, room: f32) {
        let across = PHOTOS_ACROSS as f32;
        let column = (room - GUTTER * (across - 1.0)) / across;
        let figures: Vec<&Element> = e.elements().collect();
        for row in figures.chunks(PHOTOS_ACROSS) {
            let mut strip = Strip {
                gap: 7.0,
                ..Strip::default()
            };
            for (k, figure) in row.iter().enumerate() {
                let left = x + k as f32 * (column + GUTTER);
                let deep = self.figure(figure, node, &mut strip, left, column);
                strip.height = strip.height.max(deep);
            }
            self.add(strip);
        }
    }

    fn figure(&mut self, e: &Element, node: NodeId, strip: &mut Strip, x: f32, room: f32) -> f32 {
        let small = Style::new(8.4, false);
        let mut down = 0.0;
        for part in e.elements() {
            match part.name.as_str() {
                "img" => {
                    let figure = self
                        .tree
                        .add(node, Kind::Figure(known(part.attribute("alt"))));
                    let pixels = |name| part.attribute(name).parse::<f32>().unwrap_or(1.0).max(1.0);
                    let (w, h) = (pixels("width"), pixels("height"));
                    let scale = (room / w).min(TALLEST / h);
                    let size = (w * scale, h * scale);
                    let id = part
                        .attribute("src")
                        .trim_start_matches("photo:")
                        .to_owned();
                    strip.marks.push(Mark {
                        x,
                        y: down,
                        ink: Ink::Photo { id, size },
                        node: Some(figure),
                    });
                    down += size.1 + 2.0;
                }
                "figcaption" => {
                    let caption = self.tree.add(node, Kind::Caption);
                    let lines = Words::of(part, small).lines(room);
                    down += strip.lines(&lines, x, down, Some(caption));
                }
                _ => {
                    let p = self.tree.add(node, Kind::Paragraph);
                    let lines = Words::of(part, small).lines(room - 14.0);
                    let deep = strip.lines(&lines, x + 7.0, down + 10.0, Some(p)) + 20.0;
                    strip.marks.push(Mark {
                        x,
                        y: down,
                        ink: Ink::Frame {
                            size: (room, deep),
                            weight: 0.8,
                            dashed: true,
                        },
                        node: None,
                    });
                    down += deep + 2.0;
                }
            }
        }
        down
    }

    /// A drawing as large as the page lets it be below its heading.
    fn drawing(&mut self, svg: &str, node: NodeId) {
        let number = |name: &str| -> Option<f32> {
            let (_, after) = svg.split_once(&format!(" {name}=\""))?;
            after.split('"').next()?.parse().ok()
        };
        let (Some(w), Some(h)) = (number("width"), number("height")) else {
            return;
        };
        let scale = (self.area.room / w.max(1.0)).min((self.area.depth - 60.0) / h.max(1.0));
        let size = (w * scale, h * scale);
        let title = svg
            .split_once("<title>")
            .and_then(|(_, t)| t.split_once("</title>"));
        let alt = title.map_or("Drawing", |(title, _)| title);
        let alt = format!("{}. What it shows is also told in words.", known(alt));
        let figure = self.tree.add(node, Kind::Figure(alt));
        self.add(Strip {
            gap: 4.0,
            height: size.1,
            marks: vec![Mark {
                x: (self.area.room - size.0) / 2.0,
                y: 0.0,
                ink: Ink::Drawing {
                    svg: Rc::from(svg),
                    size,
                },
                node: Some(figure),
            }],
            ..Strip::default()
        });
    }
}

/// Depth of some lines.
pub(super) fn depth(lines: &[Line]) -> f32 {
    lines.iter().map(Line::height).sum()
}
