//! Words into lines: gathers the text of an element with its styles and breaks it to a width.

use super::face::{known, width};
use super::read::{Element, Node};

/// How some words look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub(super) size: f32,
    pub(super) bold: bool,
}

impl Style {
    pub(super) const fn new(size: f32, bold: bool) -> Self {
        Self { size, bold }
    }
}

/// A stretch of one style on a line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Span {
    pub(super) x: f32,
    pub(super) text: String,
    pub(super) style: Style,
}

/// A line of text.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Line {
    pub(super) spans: Vec<Span>,
    pub(super) width: f32,
    pub(super) size: f32,
}

impl Line {
    /// Room that the line takes.
    pub(super) fn height(&self) -> f32 {
        self.size * 1.32
    }

    /// From the top of that room down to the feet of the letters.
    pub(super) fn baseline(&self) -> f32 {
        self.size * 1.02
    }
}

/// A word, the space before it, or the end of a line.
#[derive(Debug, Clone, PartialEq)]
enum Piece {
    Word(String, Style),
    Space(Style),
    Break,
}

/// Text as words with their styles.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Words {
    pieces: Vec<Piece>,
    size: f32,
}

impl Words {
    /// The words of an element; `small` and `b` within change the style.
    pub(super) fn of(element: &Element, style: Style) -> Self {
        let mut words = Self {
            pieces: Vec::new(),
            size: style.size,
        };
        words.gather(&element.children, style);
        words
    }

    /// The words of a text.
    pub(super) fn plain(text: &str, style: Style) -> Self {
        let mut words = Self {
            pieces: Vec::new(),
            size: style.size,
        };
        words.text(text, style);
        words
    }

    fn gather(&mut self, nodes: &[Node], style: Style) {
        for node in nodes {
            match node {
                Node::Text(text) => self.text(text, style),
                Node::Drawing(_) => {}
                Node::Element(e) => match e.name.as_str() {
                    "br" => self.pieces.push(Piece::Break),
                    "b" | "th" => self.gather(&e.children, Style::new(style.size, true)),
                    "small" => self.gather(&e.children, Style::new(style.size * 0.9, style.bold)),
                    _ => self.gather(&e.children, style),
                },
            }
        }
    }

    fn text(&mut self, text: &str, style: Style) {
        let text = known(text);
        let mut first = true;
        for word in text.split(' ') {
            if !first {
                self.pieces.push(Piece::Space(style));
            }
            first = false;
            if !word.is_empty() {
                self.pieces.push(Piece::Word(word.to_owned(), style));
            }
        }
    }

    /// Width of the longest word, and of everything on one line.
    pub(super) fn widths(&self) -> (f32, f32) {
        let (mut longest, mut word, mut line, mut widest) = (0.0_f32, 0.0, 0.0, 0.0_f32);
        for piece in &self.pieces {
            match piece {
                Piece::Word(text, style) => {
                    let w = width(text, style.bold, style.size);
                    word += w;
                    line += w;
                    longest = longest.max(word);
                }
                Piece::Space(style) => {
                    word = 0.0;
                    line += width(" ", style.bold, style.size);
                }
                Piece::Break => {
                    (word, line) = (0.0, 0.0);
                }
            }
            widest = widest.max(line);
        }
        (longest, widest)
    }

    /// The text in lines no wider than this; a word that is wider is cut.
    pub(super) fn lines(&self, room: f32) -> Vec<Line> {
        let mut setter = Setter {
            room,
            size: self.size,
            lines: Vec::new(),
            line: Line::default(),
            space: None,
        };
        // What hangs together without a space between moves to the next line as one.
        let mut group: Vec<(&str, Style)> = Vec::new();
        for piece in &self.pieces {
            match piece {
                Piece::Word(text, style) => group.push((text, *style)),
                Piece::Space(style) => {
                    setter.put(&std::mem::take(&mut group));
                    if !setter.line.spans.is_empty() {
                        setter.space.get_or_insert(*style);
                    }
                }
                Piece::Break => {
                    setter.put(&std::mem::take(&mut group));
                    setter.end();
                }
            }
        }
        setter.put(&group);
        if !setter.line.spans.is_empty() {
            setter.end();
        }
        setter.lines
    }
}

struct Setter {
    room: f32,
    size: f32,
    lines: Vec<Line>,
    line: Line,
    space: Option<Style>,
}

impl Setter {
    fn end(&mut self) {
        let mut line = std::mem::take(&mut self.line);
        line.size = self.size;
        self.space = None;
        self.lines.push(line);
    }

    /// Puts words that hang together.
    fn put(&mut self, group: &[(&str, Style)]) {
        let each = |(text, style): &(&str, Style)| width(text, style.bold, style.size);
        let all: f32 = group.iter().map(each).sum();
        let gap = self.space.map_or(0.0, |s| width(" ", s.bold, s.size));
        if group.is_empty() {
            return;
        }
        if !self.line.spans.is_empty() && self.line.width + gap + all > self.room + 0.01 {
            self.end();
        }
        if let Some(style) = self.space.take() {
            self.push(" ", style);
        }
        if all <= self.room + 0.01 {
            group
                .iter()
                .for_each(|(text, style)| self.push(text, *style));
            return;
        }
        for (text, style) in group {
            for c in text.chars() {
                let mut letter = [0; 4];
                let letter: &str = c.encode_utf8(&mut letter);
                if !self.line.spans.is_empty()
                    && self.line.width + width(letter, style.bold, style.size) > self.room
                {
                    self.end();
                }
                self.push(letter, *style);
            }
        }
    }

    fn push(&mut self, text: &str, style: Style) {
        let x = self.line.width;
        self.line.width += width(text, style.bold, style.size);
        match self.line.spans.last_mut() {
            Some(last) if last.style == style => last.text.push_str(text),
            _ => self.line.spans.push(Span {
                x,
                text: text.to_owned(),
                style,
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(words: &Words, room: f32) -> Vec<String> {
        let line = |l: Line| l.spans.iter().map(|s| s.text.as_str()).collect();
        words.lines(room).into_iter().map(line).collect()
    }

    #[test]
    fn lines_keep_to_their_room_and_lose_no_word() {
        let words = Words::plain(
            "one two three  Donaudampfschiff four",
            Style::new(10.0, false),
        );
        for room in [5.0, 20.0, 31.0, 60.0, 500.0] {
            let lines = words.lines(room);
            let widest = lines.iter().map(|l| l.width).fold(0.0, f32::max);
            assert!(widest <= room.max(10.0), "{room}: {widest}");
            let joined: String = texts(&words, room).concat().replace(' ', "");
            assert_eq!(joined, "onetwothreeDonaudampfschifffour");
        }
        assert_eq!(
            texts(&words, 1000.0),
            ["one two three Donaudampfschiff four"]
        );
        assert!(
            Words::plain("  ", Style::new(10.0, false))
                .lines(50.0)
                .is_empty()
        );
    }
}
