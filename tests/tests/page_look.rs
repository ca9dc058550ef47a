//! The page of the bakery, written to `target/page-look` so that a person can look at it, and
//! held to what any page must keep.

use crate::page_kit::Sample;
use scupper_server::page::{self, Asked, Part, Session, SurveyView};
use std::fs;
use std::path::{Path, PathBuf};

pub(crate) fn view(sample: &Sample) -> SurveyView<'_> {
    SurveyView {
        quote: Some(&sample.quote),
        contested: &sample.conflicts,
        offers: &sample.offers,
        unparsed: &sample.unparsed,
        people: &sample.people,
        arrived: &sample.arrived,
        plan_svg: &sample.plan,
        ..SurveyView::new(
            &sample.survey,
            &sample.assessment,
            Session {
                name: "Maren Tull",
                csrf: Some("csrf-1"),
            },
        )
    }
}

/// A page as a file: its assets and photos beside it.
fn file(html: &str, photos: &[(String, PathBuf)]) -> String {
    let mut html = html
        .replace("/assets/", "")
        .replace(" loading=\"lazy\"", "");
    for (hash, path) in photos {
        let path = format!("file://{}", path.display());
        html = html.replace(&format!("/v1/photos/{hash}/thumbnail"), &path);
    }
    html
}

#[test]
fn the_bakery_is_written_out_to_be_looked_at() {
    let sample = Sample::bakery();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/page-look");
    fs::create_dir_all(&folder).unwrap();
    for name in ["page.css", "page.js"] {
        fs::write(folder.join(name), page::asset(name).unwrap().text).unwrap();
    }
    let photos: Vec<(String, PathBuf)> = fs::read_dir(crate::page_kit::fixtures().join("photos"))
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            (blake3::hash(&fs::read(&path).unwrap()).to_string(), path)
        })
        .collect();
    let mut view = view(&sample);
    let whole = page::survey(&view).into_string();
    fs::write(folder.join("survey.html"), file(&whole, &photos)).unwrap();
    view.asked = Asked {
        unit: Some("RTU-2"),
        ..Asked::default()
    };
    let unit = page::survey(&view).into_string();
    fs::write(folder.join("unit.html"), file(&unit, &photos)).unwrap();
    view.asked = Asked {
        all: Some(Part::Settle),
        ..Asked::default()
    };
    let queue = page::survey(&view).into_string();
    fs::write(folder.join("settle.html"), file(&queue, &photos)).unwrap();
    println!(
        "survey {} bytes, with a unit {} bytes, whole queue {} bytes",
        whole.len(),
        unit.len(),
        queue.len()
    );
}

#[test]
fn five_hundred_units_and_a_thousand_photos_stay_light() {
    let sample = Sample::huge();
    assert_eq!(
        (sample.survey.equipment.len(), sample.survey.photos.len()),
        (500, 1000)
    );
    let begun = std::time::Instant::now();
    let page = page::survey(&view(&sample)).into_string();
    let took = begun.elapsed();
    println!(
        "500 units, 1,000 photos: {} bytes, of them {} the plan; {} hazards; {} ms in this build",
        page.len(),
        sample.plan.len(),
        sample.assessment.hazards.len(),
        took.as_millis()
    );
    for part in page.split("<section").skip(1) {
        let id = part
            .split("id=\"")
            .nth(1)
            .and_then(|id| id.split('"').next());
        println!("  {} {} bytes", id.unwrap_or(""), part.len());
    }
    assert!(page.len() < 300_000, "{} bytes", page.len());
}
