//! What a size of paper is to stylesheets, pages and spreadsheet files.

use scupper_core::quote::PaperSize;

/// As stylesheets write it.
pub(super) const fn css(size: PaperSize) -> &'static str {
    match size {
        PaperSize::Letter => "letter",
        PaperSize::A4 => "A4",
    }
}

/// Width and height in points of 1/72 in: 8 1/2 by 11 in, or 210 by 297 mm (ISO 216).
pub(super) const fn points(size: PaperSize) -> (f32, f32) {
    match size {
        PaperSize::Letter => (612.0, 792.0),
        PaperSize::A4 => (595.28, 841.89),
    }
}

/// Its number in spreadsheet files (ECMA-376 Part 1, 18.3.1.63, `paperSize`).
pub(super) const fn number(size: PaperSize) -> u8 {
    match size {
        PaperSize::Letter => 1,
        PaperSize::A4 => 9,
    }
}
