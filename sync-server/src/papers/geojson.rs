//! The roof plan as GeoJSON (RFC 7946), for map and drawing programs.
//!
//! The plan is in feet on local axes, GeoJSON in degrees. The plan is laid down where the photos
//! with a position were taken, as a whole and north up; that is only as good as a phone's
//! position. Without such photos it lies at 0 degrees north, 0 east, true in shape and placed
//! nowhere. Each feature also carries its feet.

use super::pictures::shown;
use scupper_core::survey::units::{PointFt, SizeFt};
use scupper_core::survey::{Equipment, Roof, Survey};
use serde_json::{Value, json};

/// Mean radius of the earth (IUGG) in feet: 6,371,008.8 m at 0.3048 m.
const EARTH_FT: f64 = 6_371_008.8 / 0.3048;

/// Where the plan's origin lies.
struct Ground {
    latitude: f64,
    longitude: f64,
    photos: usize,
}

/// The plan as a feature collection.
pub fn survey_geojson(survey: &Survey) -> String {
    let ground = Ground::of(survey);
    let mut features = Vec::new();
    for (i, roof) in survey.site.roofs().enumerate() {
        roof_features(&ground, roof, i, &mut features);
    }
    for unit in &survey.equipment {
        features.extend(unit_feature(&ground, unit));
    }
    let placed = match ground.photos {
        0 => "nowhere: no photo has a position; true in shape only".to_owned(),
        n => format!("by the mean position of {n} photos; only as good as a phone's position"),
    };
    let collection = json!({
        "type": "FeatureCollection",
        "name": survey.site.name,
        "survey_id": survey.survey_id,
        "placed": placed,
        "features": features,
    });
    let mut text = serde_json::to_string_pretty(&collection).unwrap_or_default();
    text.push('\n');
    text
}

impl Ground {
    /// The mean position of the photos is taken to be the middle of the plan.
    fn of(survey: &Survey) -> Self {
        let positions: Vec<(f64, f64)> = shown(survey)
            .filter_map(|photo| Some((photo.latitude_deg?, photo.longitude_deg?)))
            .filter(|(lat, lon)| lat.abs() < 85.0 && lon.abs() <= 180.0)
            .collect();
        let count = positions.len() as f64;
        let mean = |pick: fn(&(f64, f64)) -> f64| positions.iter().map(pick).sum::<f64>() / count;
        let mut ground = Self {
            latitude: 0.0,
            longitude: 0.0,
            photos: positions.len(),
        };
        if !positions.is_empty() {
            (ground.latitude, ground.longitude) = (mean(|p| p.0), mean(|p| p.1));
            let middle = middle(survey);
            let [longitude, latitude] = ground.place(PointFt {
                x: -middle.x,
                y: -middle.y,
            });
            (ground.latitude, ground.longitude) = (latitude, longitude);
        }
        ground
    }

    /// Longitude and latitude of a point of the plan, to seven decimals (about a centimetre).
    fn place(&self, at: PointFt) -> [f64; 2] {
        let north = at.y / EARTH_FT;
        let east = at.x / (EARTH_FT * self.latitude.to_radians().cos());
        let round = |degrees: f64| (degrees * 1e7).round() / 1e7;
        [
            round(self.longitude + east.to_degrees()),
            round(self.latitude + north.to_degrees()),
        ]
    }

    fn point(&self, at: PointFt) -> Value {
        json!({"type": "Point", "coordinates": self.place(at)})
    }

    /// A polygon whose ring is closed and runs against the clock, as RFC 7946 3.1.6 asks.
    fn polygon(&self, corners: &[PointFt]) -> Value {
        let mut ring: Vec<PointFt> = corners.to_vec();
        let next = corners.iter().cycle().skip(1);
        let twice_area: f64 = corners
            .iter()
            .zip(next)
            .map(|(a, b)| a.x * b.y - b.x * a.y)
            .sum();
        if twice_area < 0.0 {
            ring.reverse();
        }
        let mut ring: Vec<[f64; 2]> = ring.into_iter().map(|at| self.place(at)).collect();
        ring.extend(ring.first().copied());
        json!({"type": "Polygon", "coordinates": [ring]})
    }

    fn rectangle(&self, at: PointFt, size: SizeFt) -> Value {
        let (w, h) = (size.x.get() / 2.0, size.y.get() / 2.0);
        let corner = |x: f64, y: f64| PointFt {
            x: at.x + x,
            y: at.y + y,
        };
        self.polygon(&[corner(-w, -h), corner(w, -h), corner(w, h), corner(-w, h)])
    }

    /// A footprint, or a point when the size is unknown or nothing.
    fn footprint(&self, at: PointFt, size: Option<SizeFt>) -> Value {
        match size {
            Some(size) if size.x.get() > 0.0 && size.y.get() > 0.0 => self.rectangle(at, size),
            _ => self.point(at),
        }
    }
}

/// The middle of all that is on the plan.
fn middle(survey: &Survey) -> PointFt {
    let roofs = survey
        .site
        .roofs()
        .flat_map(|roof| roof.outline_ft.iter().copied());
    let units = survey.equipment.iter().filter_map(|unit| unit.at_ft);
    let points: Vec<PointFt> = roofs.chain(units).collect();
    let between = |pick: fn(&PointFt) -> f64| {
        let low = points.iter().map(pick).fold(f64::MAX, f64::min);
        let high = points.iter().map(pick).fold(f64::MIN, f64::max);
        if points.is_empty() {
            0.0
        } else {
            (low + high) / 2.0
        }
    };
    PointFt {
        x: between(|p| p.x),
        y: between(|p| p.y),
    }
}

fn feature(geometry: Value, what: &str, mut properties: Value) -> Value {
    properties["what"] = json!(what);
    json!({"type": "Feature", "geometry": geometry, "properties": properties})
}

fn roof_features(ground: &Ground, roof: &Roof, index: usize, features: &mut Vec<Value>) {
    let id = roof
        .id
        .clone()
        .unwrap_or_else(|| format!("roof {}", index + 1));
    if roof.outline_ft.len() >= 3 {
        let properties =
            json!({"roof": id, "height_ft": roof.height_ft, "membrane": roof.membrane});
        features.push(feature(
            ground.polygon(&roof.outline_ft),
            "roof",
            properties,
        ));
        for edge in &roof.edges {
            let from = roof.outline_ft.get(edge.from);
            let to = roof.outline_ft.get((edge.from + 1) % roof.outline_ft.len());
            if let (Some(from), Some(to)) = (from, to) {
                let line = json!({"type": "LineString", "coordinates": [ground.place(*from), ground.place(*to)]});
                let properties =
                    json!({"roof": id, "parapet_in": edge.parapet_in, "drop_ft": edge.drop_ft});
                features.push(feature(line, "edge", properties));
            }
        }
    }
    for opening in &roof.openings {
        let properties = json!({"roof": id, "kind": opening.kind, "guarded": opening.guarded, "at_ft": opening.at_ft});
        let shape = ground.footprint(opening.at_ft, opening.size_ft);
        features.push(feature(shape, "opening", properties));
    }
    for obstacle in roof
        .obstacles
        .iter()
        .filter(|obstacle| obstacle.outline_ft.len() >= 3)
    {
        let shape = ground.polygon(&obstacle.outline_ft);
        features.push(feature(shape, "obstacle", json!({"roof": id})));
    }
    if let Some((way, at)) = roof.access.as_ref().and_then(|way| Some((way, way.at_ft?))) {
        let properties =
            json!({"roof": id, "kind": way.kind, "climb_ft": way.climb_ft, "at_ft": at});
        features.push(feature(ground.point(at), "access", properties));
    }
    for water in &roof.water_sources {
        let properties = json!({"roof": id, "at_grade": water.at_grade, "at_ft": water.at_ft});
        features.push(feature(
            ground.point(water.at_ft),
            "water source",
            properties,
        ));
    }
    for outlet in &roof.receptacles {
        let properties = json!({"roof": id, "gfci": outlet.gfci, "at_ft": outlet.at_ft});
        features.push(feature(
            ground.point(outlet.at_ft),
            "receptacle",
            properties,
        ));
    }
    for outlet in &roof.air_points {
        let properties = json!({"roof": id, "kind": outlet.kind, "height_ft": outlet.height_ft, "at_ft": outlet.at_ft});
        features.push(feature(
            ground.point(outlet.at_ft),
            "air outlet",
            properties,
        ));
    }
}

fn unit_feature(ground: &Ground, unit: &Equipment) -> Option<Value> {
    let at = unit.at_ft?;
    let properties = json!({
        "ref": unit.tag,
        "kind": unit.kind,
        "model": unit.nameplate.model,
        "serial": unit.nameplate.serial,
        "at_ft": at,
        "at_accuracy_ft": unit.at_accuracy_ft,
        "size_ft": unit.size_ft,
    });
    Some(feature(
        ground.footprint(at, unit.size_ft),
        "equipment",
        properties,
    ))
}
