//! How long quote and papers of a large survey take: 500 units, 3,000 findings, 1,000 photos of
//! thumbnail size, or with `--originals` of 12 million pixels. Run with
//! `cargo run --release -p scupper-server --example papers_speed [-- --originals]`; peak memory is
//! the process's own (`VmHWM`, Linux only).

use scupper_core::assess::{AssessOptions, assess};
use scupper_core::quote::{RateBook, quote};
use scupper_core::survey::codes::{Certainty, Component, Condition, EquipmentKind, Severity};
use scupper_core::survey::units::{Feet, Inches, PointFt, SizeFt};
use scupper_core::survey::{Belt, Equipment, Filter, Finding, Origin, Photo, Roof, Survey};
use scupper_server::papers::{Material, Pictures, Shelf, make_all};
use std::error::Error;
use std::time::Instant;

/// Every photo is the same noisy picture, with a comment of its own, so that no paper can keep it
/// once for all.
struct Alike(Vec<u8>);

impl Shelf for Alike {
    fn bytes(&self, photo: &Photo) -> Result<Vec<u8>, String> {
        let (start, rest) = self.0.split_at_checked(2).ok_or("no picture")?;
        let length = u16::try_from(photo.id.len() + 2).map_err(|error| error.to_string())?;
        let comment = [
            &[0xff, 0xfe],
            length.to_be_bytes().as_slice(),
            photo.id.as_bytes(),
        ]
        .concat();
        Ok([start, &comment, rest].concat())
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let survey = survey(500, 3000, 1000)?;
    let bytes = match std::env::args().any(|arg| arg == "--originals") {
        true => original()?,
        false => thumbnail()?,
    };
    println!("one photo: {} bytes", bytes.len());

    let start = Instant::now();
    let assessment = assess(&survey, &AssessOptions::default());
    println!("assess: {:?}", start.elapsed());
    let book = RateBook::builtin_example();
    let mut best = None;
    for _ in 0..5 {
        let start = Instant::now();
        let priced = quote(&survey, &assessment, &book);
        println!(
            "quote: {:?}, {} task lines",
            start.elapsed(),
            priced.tasks.len()
        );
        best = Some(priced);
    }
    let priced = best.ok_or("no quote")?;

    let start = Instant::now();
    let pictures = Pictures::prepare(&survey, &Alike(bytes), &|_| {});
    println!("photos made small: {:?}", start.elapsed());
    let material = Material {
        survey: &survey,
        assessment: &assessment,
        quote: &priced,
        book: &book,
        pictures: &pictures,
        paper: book.paper,
        from: "Ada Quill <ada@example.org>".parse()?,
        to: None,
    };
    let mut last = Instant::now();
    make_all(&material, &mut |name, bytes| {
        println!("{name}: {:?}, {} bytes", last.elapsed(), bytes.len());
        last = Instant::now();
        Ok(())
    })?;
    println!("all, photos included: {:?}", start.elapsed());
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    for line in status.lines().filter(|line| line.starts_with("VmHWM")) {
        println!("{line}");
    }
    Ok(())
}

fn noise(x: u32, y: u32) -> u8 {
    ((x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)) >> 13) as u8
}

/// 512 x 384 pixels.
fn thumbnail() -> image::ImageResult<Vec<u8>> {
    let picture = image::RgbImage::from_fn(512, 384, |x, y| {
        image::Rgb([(x / 2) as u8, (y / 2) as u8, noise(x, y)])
    });
    jpeg(&picture, 80)
}

/// 4000 x 3000 pixels: soft shapes with a grain that brings the file to what a phone's has, about
/// 3 MB.
fn original() -> image::ImageResult<Vec<u8>> {
    let picture = image::RgbImage::from_fn(4000, 3000, |x, y| {
        let (across, down) = ((f64::from(x) / 97.0).sin(), (f64::from(y) / 61.0).cos());
        let shape = ((across * down + 1.0) * 100.0) as u8;
        let grain = noise(x, y) / 6;
        let blue = ((y / 12) as u8).saturating_add(grain);
        image::Rgb([shape.saturating_add(grain), (x / 16) as u8, blue])
    });
    jpeg(&picture, 85)
}

fn jpeg(picture: &image::RgbImage, quality: u8) -> image::ImageResult<Vec<u8>> {
    let mut bytes = Vec::new();
    let to = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, quality);
    picture.write_with_encoder(to)?;
    Ok(bytes)
}

fn survey(units: usize, findings: usize, photos: usize) -> Result<Survey, Box<dyn Error>> {
    let kinds = EquipmentKind::ALL;
    let mut survey = Survey {
        survey_id: "large".to_owned(),
        ..Survey::default()
    };
    survey.site.name = "A large roof".to_owned();
    let corner = |x: f64, y: f64| PointFt { x, y };
    survey.site.roof = Some(Roof {
        outline_ft: vec![
            corner(0.0, 0.0),
            corner(1000.0, 0.0),
            corner(1000.0, 500.0),
            corner(0.0, 500.0),
        ],
        height_ft: Feet::new(30.0).ok(),
        ..Roof::default()
    });
    let feet = |ft: f64| Feet::new(ft);
    for i in 0..units {
        let kind = kinds
            .get(i % kinds.len())
            .copied()
            .unwrap_or(EquipmentKind::Other);
        let tag = format!("{}-{}", kind.tag_prefix(), i + 1);
        let mut unit = Equipment::new(format!("id-{i}"), tag, kind);
        unit.at_ft = Some(corner(
            20.0 + (i % 32) as f64 * 30.0,
            20.0 + (i / 32) as f64 * 28.0,
        ));
        unit.size_ft = Some(SizeFt {
            x: feet(8.0)?,
            y: feet(5.0)?,
        });
        unit.filters = vec![Filter {
            width_in: Inches::new(20.0)?,
            height_in: Inches::new(25.0)?,
            depth_in: Inches::new(2.0)?,
            quantity: 4,
        }];
        unit.belts = vec![Belt {
            designation: format!("A{}", 40 + i % 20),
            quantity: 1,
        }];
        survey.equipment.push(unit);
    }
    let tag = |i: usize| {
        survey
            .equipment
            .get(i % units)
            .map_or_else(String::new, |unit| unit.tag.clone())
    };
    let pick = |i: usize, n: usize| i % n;
    let findings = (0..findings).map(|i| Finding {
        id: format!("f-{i}"),
        about: tag(i),
        component: Component::ALL
            .get(pick(i, Component::ALL.len()))
            .copied()
            .unwrap_or(Component::Belt),
        condition: Condition::ALL
            .get(pick(i, Condition::ALL.len()))
            .copied()
            .unwrap_or(Condition::Worn),
        certainty: Certainty::Observed,
        severity: Severity::ALL
            .get(pick(i, Severity::ALL.len()))
            .copied()
            .unwrap_or(Severity::Minor),
        action: None,
        remark: Some("seen from outside, panel shut".to_owned()),
        origin: Origin {
            photos: if i < photos {
                vec![format!("p-{i}")]
            } else {
                Vec::new()
            },
            ..Origin::default()
        },
    });
    let findings: Vec<Finding> = findings.collect();
    let photos = (0..photos).map(|i| Photo {
        id: format!("p-{i}"),
        about: Some(tag(i)),
        caption: Some(format!("Photo number {i}")),
        ..Photo::default()
    });
    let photos: Vec<Photo> = photos.collect();
    survey.findings = findings;
    survey.photos = photos;
    Ok(survey)
}
