//! The same unit entered twice: offers to join, joining, and taking it back.

use super::change::Change;
use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::held::Entry;
use super::place::missing;
use super::schema::Table;
use super::stamp::{Means, Stamp};
use super::units::{Unit, Units, compared};
use serde::Serialize;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Two units that may be one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct SameUnitOffer {
    /// The unit entered first, by id.
    pub keep: String,
    /// Its possible double, by id.
    pub other: String,
    /// Their two tags, in this order.
    pub tags: Vec<String>,
    /// Why they may be one, in words.
    pub because: Vec<String>,
}

/// Units of one tag and kind further apart than this, beyond what their places may be off, are
/// different ones with a tag used twice. Common practice, no source.
const REACH_FT: f64 = 30.0;
/// Units of one kind whose centres are this close cannot both stand there. Common practice, no
/// source.
const TOUCH_FT: f64 = 2.0;

impl SurveyDoc {
    /// Units that look like one entered twice, in the order of entry.
    pub fn same_unit_offers(&self) -> Vec<SameUnitOffer> {
        let units = &self.units().units;
        let mut because: BTreeMap<(usize, usize), Vec<String>> = BTreeMap::new();
        let tag_and_kind = |unit: &Unit| {
            let tag = compared(unit.row.text("tag")?);
            Some((tag, unit.row.text("kind")?.to_owned()))
        };
        for (i, j) in pairs(units, tag_and_kind) {
            match gap_ft(units, i, j) {
                Some(gap) if gap > REACH_FT => {}
                Some(gap) => note(
                    &mut because,
                    i,
                    j,
                    format!("same tag and kind, {gap:.0} ft apart"),
                ),
                None => note(&mut because, i, j, "same tag and kind".to_owned()),
            }
        }
        let serial = |unit: &Unit| {
            let serial = compared(unit.row.text("nameplate.serial")?);
            (serial.len() > 3).then_some(serial)
        };
        for (i, j) in pairs(units, serial) {
            note(&mut because, i, j, "same serial number".to_owned());
        }
        for (i, j) in touching(units) {
            note(&mut because, i, j, "same kind in the same place".to_owned());
        }
        let offer = |((i, j), because)| {
            let (one, other): (&Unit, &Unit) = (units.get(i)?, units.get(j)?);
            let tag = |unit: &Unit| unit.row.text("tag").unwrap_or_default().to_owned();
            (!apart(one, other)).then(|| SameUnitOffer {
                keep: one.row.id.clone(),
                other: other.row.id.clone(),
                tags: vec![tag(one), tag(other)],
                because,
            })
        };
        because.into_iter().filter_map(offer).collect()
    }

    pub(super) fn join(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        keep: &str,
        other: &str,
    ) -> Result<Option<Change>, DocumentError> {
        // Two of one tag can only be told apart by id.
        let keep_id = self.unit_id(units, keep)?;
        let other_id = self.unit_id(units, other)?;
        if keep_id == other_id {
            return Err(DocumentError::NotAllowed {
                about: other.to_owned(),
                problem: format!("is already the same unit as {keep}; give the double's id"),
            });
        }
        let double = self.object(Table::Equipment, &other_id)?;
        self.put_each(stamp, &[double], "same_as", &json!(keep_id))
    }

    pub(super) fn unjoin(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        other: &str,
    ) -> Result<Option<Change>, DocumentError> {
        let unit = units.find(other).ok_or_else(|| missing(other))?;
        let linked = |member: &&Arc<Entry>| {
            let to = member.text("same_as");
            to.is_some() && (member.id == other || to == Some(other))
        };
        let ids: Vec<String> = unit
            .members
            .iter()
            .filter(linked)
            .map(|m| m.id.clone())
            .collect();
        if ids.is_empty() {
            return Err(DocumentError::NotAllowed {
                about: other.to_owned(),
                problem: "is not joined to another unit under this id".to_owned(),
            });
        }
        self.commit(stamp, Means::Typed, |edits| {
            for id in &ids {
                if let Some(object) = edits.at(Table::Equipment, id) {
                    edits.put(&object, "same_as", &Value::Null)?;
                }
            }
            Ok(())
        })
    }
}

fn note(because: &mut BTreeMap<(usize, usize), Vec<String>>, i: usize, j: usize, reason: String) {
    because
        .entry((i.min(j), i.max(j)))
        .or_default()
        .push(reason);
}

/// Pairs of units with an equal key: each with the first that has it.
fn pairs<K: Ord>(units: &[Unit], key: impl Fn(&Unit) -> Option<K>) -> Vec<(usize, usize)> {
    let mut first: BTreeMap<K, usize> = BTreeMap::new();
    let mut found = Vec::new();
    for (i, unit) in units.iter().enumerate() {
        let Some(key) = key(unit) else { continue };
        match first.get(&key) {
            Some(&earlier) => found.push((earlier, i)),
            None => {
                first.insert(key, i);
            }
        }
    }
    found
}

/// Pairs of one kind whose centres are within [`TOUCH_FT`], found by a sweep along x.
fn touching(units: &[Unit]) -> Vec<(usize, usize)> {
    let mut placed: Vec<(f64, f64, usize)> = units
        .iter()
        .enumerate()
        .filter_map(|(i, unit)| at(unit).map(|(x, y)| (x, y, i)))
        .collect();
    placed.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
    let mut found = Vec::new();
    for (k, &(x, y, i)) in placed.iter().enumerate() {
        let near = placed
            .iter()
            .skip(k + 1)
            .take_while(|(other, ..)| other - x <= TOUCH_FT);
        for &(other_x, other_y, j) in near {
            let kind = |n: usize| units.get(n).and_then(|unit| unit.row.text("kind"));
            if (other_x - x).hypot(other_y - y) <= TOUCH_FT && kind(i) == kind(j) {
                found.push((i, j));
            }
        }
    }
    found
}

fn at(unit: &Unit) -> Option<(f64, f64)> {
    let place = unit.row.get("at_ft")?.as_array()?;
    Some((place.first()?.as_f64()?, place.get(1)?.as_f64()?))
}

/// Least distance between two units, allowing for what their places may be off.
fn gap_ft(units: &[Unit], i: usize, j: usize) -> Option<f64> {
    let (one, other) = (units.get(i)?, units.get(j)?);
    let ((x, y), (other_x, other_y)) = (at(one)?, at(other)?);
    let off = |unit: &Unit| {
        unit.row
            .get("at_accuracy_ft")
            .and_then(Value::as_f64)
            .unwrap_or(0.0)
    };
    let gap = (other_x - x).hypot(other_y - y) - off(one) - off(other);
    Some(gap.max(0.0))
}

fn apart(one: &Unit, other: &Unit) -> bool {
    let named = |unit: &Unit| -> BTreeSet<String> {
        let fields = unit
            .row
            .fields
            .iter()
            .filter(|(_, value)| **value == json!(true));
        fields
            .filter_map(|(field, _)| field.strip_prefix("apart_from.").map(str::to_owned))
            .collect()
    };
    let says = |unit: &Unit, of: &Unit| {
        let named = named(unit);
        of.members.iter().any(|member| named.contains(&member.id))
    };
    says(one, other) || says(other, one)
}
