//! A survey in one order, whatever the order it was entered in, so that its papers are the same.

use scupper_core::quote::tag_order;
use scupper_core::survey::{Roof, Survey};
use serde::Serialize;

/// Sorts every list whose order says nothing.
///
/// An outline keeps its order, for it goes round the roof, and so do the segments of a note.
pub fn in_order(survey: &mut Survey) {
    for unit in &mut survey.equipment {
        unit.filters.sort_by_cached_key(whole);
        unit.belts.sort_by_cached_key(whole);
    }
    let units = &mut survey.equipment;
    units.sort_by_cached_key(|unit| (tag_order(&unit.tag), whole(unit)));
    survey.findings.sort_by_cached_key(whole);
    survey.hazards.sort_by_cached_key(whole);
    survey.follow_ups.sort_by_cached_key(whole);
    survey.drafts.sort_by_cached_key(whole);
    let notes = &mut survey.notes;
    notes.sort_by_cached_key(|note| (note.recorded_at, whole(note)));
    let photos = &mut survey.photos;
    photos.sort_by_cached_key(|photo| (photo.taken_at, whole(photo)));
    let site = &mut survey.site;
    for roof in site.roof.iter_mut().chain(&mut site.more_roofs) {
        roof_in_order(roof);
    }
    site.more_roofs.sort_by_cached_key(whole);
}

fn roof_in_order(roof: &mut Roof) {
    roof.edges.sort_by_key(|edge| edge.from);
    roof.openings.sort_by_cached_key(whole);
    roof.obstacles.sort_by_cached_key(whole);
    roof.water_sources.sort_by_cached_key(whole);
    roof.receptacles.sort_by_cached_key(whole);
    roof.air_points.sort_by_cached_key(whole);
}

fn whole<T: Serialize>(value: &T) -> String {
    serde_json::to_string(value).unwrap_or_default()
}
