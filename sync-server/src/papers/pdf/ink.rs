//! Puts laid-out strips on pages: glyphs, rules, photos, the plan, and what stands on every page.

use super::face::{font, for_drawings, glyphs, known, width};
use super::lines::Style;
use super::strip::{Area, BOTTOM, Ink, LEFT, Mark, Strip, TOP, pages};
use super::tree::Tree;
use crate::papers::pictures::Pictures;
use crate::papers::size::points;
use chrono::{Datelike, NaiveDate};
use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};
use krilla_svg::{SurfaceExt, SvgSettings};
use scupper_core::quote::PaperSize;
use std::sync::Arc;

const FOOT: Style = Style::new(8.0, false);

/// What a paper is called and says on every page.
pub(super) struct Title<'a> {
    pub(super) title: &'a str,
    pub(super) day: Option<NaiveDate>,
    pub(super) foot: &'a str,
    pub(super) paper: PaperSize,
}

/// The finished file. `strict` asks for PDF/UA-1 and fails where the content does not allow it.
pub(super) fn write(
    strips: &[Strip],
    mut tree: Tree,
    title: &Title<'_>,
    pictures: &Pictures,
    strict: bool,
) -> Result<Vec<u8>, String> {
    let mut settings = SerializeSettings::default();
    if strict {
        let builder = ConfigurationBuilder::new();
        settings.configuration = builder
            .with_accessibility_validator(Accessibility::UA1)
            .finish()
            .map_err(|error| format!("{error:?}"))?;
    }
    let mut document = Document::new_with(settings);
    let mut outline = Outline::new();
    let pages = pages(strips, Area::of(title.paper).depth);
    let (width, height) = points(title.paper);
    let size = PageSettings::from_wh(width, height).ok_or("the page has no size")?;
    let mut pen = Pen {
        tree: &mut tree,
        pictures,
    };
    for (number, placed) in pages.iter().enumerate() {
        let mut page = document.start_page_with(size.clone());
        let mut surface = page.surface();
        for here in placed {
            let at = (LEFT, TOP + here.y);
            for mark in &here.strip.marks {
                pen.mark(&mut surface, at, mark, here.again);
            }
            if let Some((level, words)) = &here.strip.heading
                && *level <= 2
                && !here.again
            {
                let to = XyzDestination::new(number, Point::from_xy(0.0, at.1));
                outline.push_child(OutlineNode::new(words.clone(), to));
            }
        }
        foot(&mut surface, title, number + 1, pages.len());
        surface.finish();
        page.finish();
    }
    document.set_outline(outline);
    document.set_tag_tree(tree.finish());
    let mut about = Metadata::new()
        .title(title.title.to_owned())
        .language("en".to_owned())
        .creator("Scupper".to_owned());
    if let Some(day) = title.day {
        let part = |n: u32| u8::try_from(n).unwrap_or(1);
        let date = DateTime::new(u16::try_from(day.year()).unwrap_or(2000))
            .month(part(day.month()))
            .day(part(day.day()));
        about = about.creation_date(date);
    }
    document.set_metadata(about);
    document.finish().map_err(|error| format!("{error:?}"))
}

fn artifact(kind: ArtifactType) -> ContentTag<'static> {
    ContentTag::Artifact(Artifact::with_kind(kind))
}

/// Title and page number below every page.
fn foot(surface: &mut Surface<'_>, title: &Title<'_>, page: usize, of: usize) {
    let room = Area::of(title.paper).room;
    let y = points(title.paper).1 - BOTTOM + 26.0;
    surface.start_tagged(artifact(ArtifactType::Footer));
    let number = format!("{page} / {of}");
    let wide = width(&number, FOOT.bold, FOOT.size);
    words(surface, (LEFT + room - wide, y), &number, FOOT);
    let mut left = known(title.foot);
    while width(&left, FOOT.bold, FOOT.size) > room - wide - 20.0 && left.pop().is_some() {}
    words(surface, (LEFT, y), &left, FOOT);
    surface.end_tagged();
}

fn words(surface: &mut Surface<'_>, (x, y): (f32, f32), text: &str, style: Style) {
    if let Some(font) = font(style.bold) {
        surface.set_fill(Some(Fill::default()));
        surface.set_stroke(None);
        let start = Point::from_xy(x, y);
        surface.draw_glyphs(
            start,
            &glyphs(text, style.bold),
            font,
            text,
            style.size,
            false,
        );
    }
}

struct Pen<'a> {
    tree: &'a mut Tree,
    pictures: &'a Pictures,
}

impl Pen<'_> {
    /// Draws a mark; `again` makes it decoration.
    fn mark(&mut self, surface: &mut Surface<'_>, at: (f32, f32), mark: &Mark, again: bool) {
        let (x, y) = (at.0 + mark.x, at.1 + mark.y);
        let node = mark.node.filter(|_| !again);
        let tag = match (&mark.ink, node) {
            (_, None) => artifact(ArtifactType::Layout),
            (Ink::Words { .. }, _) => ContentTag::Span(SpanTag::empty()),
            _ => ContentTag::Other,
        };
        let drawn = surface.start_tagged(tag);
        match &mark.ink {
            Ink::Words { text, style } => words(surface, (x, y), text, *style),
            Ink::Rule { width, weight } => rule(surface, (x, y), *width, *weight),
            Ink::Frame {
                size,
                weight,
                dashed,
            } => frame(surface, (x, y), *size, *weight, *dashed),
            Ink::Photo { id, size } => self.photo(surface, (x, y), id, *size),
            Ink::Drawing { svg, size } => drawing(surface, (x, y), svg, *size),
        }
        surface.end_tagged();
        if let Some(node) = node {
            self.tree.drawn(node, drawn);
        }
    }

    fn photo(&self, surface: &mut Surface<'_>, (x, y): (f32, f32), id: &str, size: (f32, f32)) {
        let image = self
            .pictures
            .by_id(id)
            .and_then(|picture| Image::from_jpeg(Arc::clone(&picture.jpeg).into(), true).ok());
        if let (Some(image), Some(wanted)) = (image, Size::from_wh(size.0, size.1)) {
            surface.push_transform(&Transform::from_translate(x, y));
            surface.draw_image(image, wanted);
            surface.pop();
        }
        frame(surface, (x, y), size, 0.4, false);
    }
}

fn stroke(weight: f32, dashed: bool) -> Stroke {
    Stroke {
        paint: luma::Color::black().into(),
        width: weight,
        dash: dashed.then(|| StrokeDash {
            array: vec![3.0, 2.0],
            offset: 0.0,
        }),
        ..Stroke::default()
    }
}

fn rule(surface: &mut Surface<'_>, (x, y): (f32, f32), width: f32, weight: f32) {
    let mut path = PathBuilder::new();
    path.move_to(x, y);
    path.line_to(x + width, y);
    line_up(surface, path, stroke(weight, false));
}

fn frame(
    surface: &mut Surface<'_>,
    (x, y): (f32, f32),
    size: (f32, f32),
    weight: f32,
    dashed: bool,
) {
    let mut path = PathBuilder::new();
    if let Some(rect) = Rect::from_xywh(x, y, size.0, size.1) {
        path.push_rect(rect);
    }
    line_up(surface, path, stroke(weight, dashed));
}

fn line_up(surface: &mut Surface<'_>, path: PathBuilder, stroke: Stroke) {
    if let Some(path) = path.finish() {
        surface.set_fill(None);
        surface.set_stroke(Some(stroke));
        surface.draw_path(&path);
    }
}

fn drawing(surface: &mut Surface<'_>, (x, y): (f32, f32), svg: &str, size: (f32, f32)) {
    let options = usvg::Options {
        fontdb: for_drawings(),
        font_family: "Liberation Sans".to_owned(),
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_str(&lettered(svg), &options);
    if let (Ok(tree), Some(size)) = (tree, Size::from_wh(size.0, size.1)) {
        surface.push_transform(&Transform::from_translate(x, y));
        surface.draw_svg(&tree, size, SvgSettings::default());
        surface.pop();
    }
}

/// The drawing with only such letters as the typeface has; its markup is plain ASCII.
fn lettered(svg: &str) -> String {
    let lines = svg.split('\n');
    let lines: Vec<String> = lines
        .map(|line| {
            if line.is_ascii() {
                line.to_owned()
            } else {
                known(line)
            }
        })
        .collect();
    lines.join("\n")
}
