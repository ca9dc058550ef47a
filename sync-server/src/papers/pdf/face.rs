//! The typeface of the PDF: measures words and turns them into glyphs.
//!
//! Liberation Sans, regular and bold, is built in (SIL Open Font License, `sync-server/fonts`),
//! so a paper looks the same everywhere and embeds what it uses. Letters that it lacks become a
//! question mark.

use krilla::text::{Font, GlyphId, KrillaGlyph};
use std::sync::{Arc, LazyLock};
use usvg::fontdb::{Database, Source};

const REGULAR: &[u8] = include_bytes!("../../../fonts/LiberationSans-Regular.ttf");
const BOLD: &[u8] = include_bytes!("../../../fonts/LiberationSans-Bold.ttf");
/// What stands for a letter that the typeface lacks.
const LACKING: char = '?';

/// One weight.
struct Weight {
    font: Option<Font>,
    face: Option<ttf_parser::Face<'static>>,
}

impl Weight {
    fn new(bytes: &'static [u8]) -> Self {
        Self {
            font: Font::new(bytes.into(), 0),
            face: ttf_parser::Face::parse(bytes, 0).ok(),
        }
    }

    fn glyph(&self, c: char) -> Option<ttf_parser::GlyphId> {
        self.face.as_ref()?.glyph_index(c)
    }

    /// Advance in ems.
    fn advance(&self, glyph: ttf_parser::GlyphId) -> f32 {
        let face = self.face.as_ref();
        face.map_or(0.5, |face| {
            let units = f32::from(face.glyph_hor_advance(glyph).unwrap_or(0));
            units / f32::from(face.units_per_em().max(1))
        })
    }
}

/// Both weights, parsed once.
struct Typeface {
    regular: Weight,
    bold: Weight,
    drawing: Arc<Database>,
}

static TYPEFACE: LazyLock<Typeface> = LazyLock::new(|| {
    let mut drawing = Database::new();
    for bytes in [REGULAR, BOLD] {
        drawing.load_font_source(Source::Binary(Arc::new(bytes)));
    }
    drawing.set_sans_serif_family("Liberation Sans");
    Typeface {
        regular: Weight::new(REGULAR),
        bold: Weight::new(BOLD),
        drawing: Arc::new(drawing),
    }
});

fn weight(bold: bool) -> &'static Weight {
    if bold {
        &TYPEFACE.bold
    } else {
        &TYPEFACE.regular
    }
}

/// The font for drawing with.
pub(super) fn font(bold: bool) -> Option<Font> {
    weight(bold).font.clone()
}

/// The same typeface for words within drawings.
pub(super) fn for_drawings() -> Arc<Database> {
    Arc::clone(&TYPEFACE.drawing)
}

/// Text of letters that the typeface has.
pub(super) fn known(text: &str) -> String {
    let has = |c: char| weight(false).glyph(c).is_some() && weight(true).glyph(c).is_some();
    text.chars()
        .filter(|c| !matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}' | '\u{fe0f}' | '\u{ad}'))
        .map(|c| match c {
            c if c.is_whitespace() && c != '\u{a0}' => ' ',
            '\u{a0}' => '\u{a0}',
            c if c.is_control() || !has(c) => LACKING,
            c => c,
        })
        .collect()
}

/// Width of some words at a size, in the size's unit.
pub(super) fn width(text: &str, bold: bool, size: f32) -> f32 {
    let weight = weight(bold);
    let glyphs = text.chars().filter_map(|c| weight.glyph(c));
    glyphs.map(|g| weight.advance(g)).sum::<f32>() * size
}

/// The glyphs of some words.
pub(super) fn glyphs(text: &str, bold: bool) -> Vec<KrillaGlyph> {
    let weight = weight(bold);
    text.char_indices()
        .filter_map(|(at, c)| {
            let glyph = weight.glyph(c)?;
            let id = GlyphId::new(u32::from(glyph.0));
            let range = at..at + c.len_utf8();
            Some(KrillaGlyph::new(
                id,
                weight.advance(glyph),
                0.0,
                0.0,
                0.0,
                range,
                None,
            ))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_typeface_reads_and_measures() {
        assert!(font(false).is_some() && font(true).is_some());
        // Arial's metrics: A is 1366 of 2048 units, bold 1479.
        assert!((width("A", false, 2048.0) - 1366.0).abs() < 0.5);
        assert!((width("A", true, 2048.0) - 1479.0).abs() < 0.5);
        assert_eq!(
            known("Škoda \u{1f525}\u{202e} 東 ½\tx\u{a0}y"),
            "Škoda ? ? ½ x\u{a0}y"
        );
        assert_eq!(glyphs("aé", false).len(), 2);
    }
}
