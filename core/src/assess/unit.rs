//! The rules asked of a unit by what its plates, switch and readings say. The plan is `place`'s.

use super::asked::Asked;
use crate::survey::Equipment;
use crate::survey::codes::EquipmentKind::{
    self, AirCooledChiller, CondensingUnit, CoolingTower, DedicatedOutdoorAirUnit,
    DuctlessOutdoorUnit, EvaporativeCooler, ExhaustFan, HeatPump, MakeupAirUnit,
    PackagedRooftopUnit, SupplyFan,
};
use crate::trade::{
    Outcome, Rule, condensate, disconnect, filters, nameplate, overcurrent, refrigerant,
    service_life, supply,
};
use chrono::{Datelike, NaiveDate};

pub(super) fn ask(
    unit: &Equipment,
    index: usize,
    as_of: Option<NaiveDate>,
    asked: &mut Vec<Asked>,
) {
    let (plate, switch) = (&unit.nameplate, &unit.disconnect);
    let loads = plate.loads.as_ref();
    let compressor = has_compressor(unit);
    let mut ask = |rule: &'static Rule, outcome: Outcome| {
        asked.push(Asked::of_unit(rule, index, &unit.tag, outcome));
    };
    ask(
        &disconnect::AMPACITY,
        disconnect::ampacity(switch.rating_a, plate.mca_a, loads, compressor),
    );
    if let Some(rated) = switch.voltage_v {
        ask(
            &disconnect::VOLTAGE,
            disconnect::voltage(rated, plate.voltage_v),
        );
    }
    ask(
        &disconnect::IN_SIGHT,
        disconnect::in_sight(switch.in_sight, switch.distance_ft, compressor),
    );
    ask(
        &overcurrent::MAX,
        overcurrent::max(switch.fuse_a, plate.mocp_a, loads),
    );
    ask(
        &overcurrent::STANDARD_SIZE,
        overcurrent::standard_size(switch.fuse_a),
    );
    ask(&nameplate::MCA, nameplate::mca(plate.mca_a, loads));
    if let (Some(mocp), Some(loads)) = (plate.mocp_a, loads)
        && let Some(outcome) = nameplate::mocp(mocp, loads)
    {
        ask(&nameplate::MOCP, outcome);
    }
    let lines = &unit.readings.line_voltage_v;
    if lines.len() == 3 || plate.phase != Some(1) {
        ask(&supply::UNBALANCE, supply::unbalance(lines));
    }
    if let Some(rated) = plate.voltage_v.filter(|v| v.get() > 0.0)
        && let Some(outcome) = supply::voltage(lines, rated)
    {
        ask(&supply::VOLTAGE, outcome);
    }
    let drain = &unit.condensate;
    if drains(unit.kind) || *drain != Default::default() {
        ask(
            &condensate::TRAP_DEPTH,
            condensate::trap_depth(drain.trap_depth_in, drain.static_in_wg),
        );
        ask(
            &condensate::DRAIN_SIZE,
            condensate::drain_size(drain.drain_size_in, plate.capacity_tons),
        );
    }
    if filters_air(unit.kind) || !unit.filters.is_empty() {
        ask(
            &filters::FACE_VELOCITY,
            filters::face_velocity(&unit.filters, unit.airflow_cfm, plate.capacity_tons),
        );
    }
    let surveyed = as_of.map(|day| day.year());
    if let Some(outcome) = service_life::standing(unit.kind, plate.manufactured_year, surveyed) {
        ask(&service_life::STANDING, outcome);
    }
    if has_circuit(unit.kind) || plate.refrigerant.is_some() {
        let name = plate.refrigerant.as_deref();
        ask(
            &refrigerant::LEAK_RULE,
            refrigerant::leak_rule(unit.kind, name, plate.charge_lb, as_of),
        );
    }
}

/// Whether Article 440 applies: the unit holds a compressor, or is not known to be only a fan.
fn has_compressor(unit: &Equipment) -> bool {
    let fan = matches!(
        unit.kind,
        ExhaustFan | SupplyFan | MakeupAirUnit | EvaporativeCooler | CoolingTower
    );
    !fan || unit.nameplate.refrigerant.is_some()
}

const fn has_circuit(kind: EquipmentKind) -> bool {
    matches!(
        kind,
        PackagedRooftopUnit
            | CondensingUnit
            | HeatPump
            | AirCooledChiller
            | DedicatedOutdoorAirUnit
            | DuctlessOutdoorUnit
    )
}

/// Kinds that hold a cooling coil with a drain.
const fn drains(kind: EquipmentKind) -> bool {
    matches!(kind, PackagedRooftopUnit | DedicatedOutdoorAirUnit)
}

const fn filters_air(kind: EquipmentKind) -> bool {
    matches!(
        kind,
        PackagedRooftopUnit | DedicatedOutdoorAirUnit | MakeupAirUnit
    )
}

/// Kinds with a coil that is washed.
pub(super) const fn has_coil(kind: EquipmentKind) -> bool {
    has_circuit(kind)
}

/// Kinds that 210.63(A) means: they heat, cool or refrigerate.
pub(super) const fn wants_receptacle(kind: EquipmentKind) -> bool {
    !matches!(kind, ExhaustFan | SupplyFan)
}

/// Kinds that draw outdoor air into the building.
pub(super) const fn draws_outdoor_air(kind: EquipmentKind) -> bool {
    matches!(
        kind,
        PackagedRooftopUnit
            | DedicatedOutdoorAirUnit
            | MakeupAirUnit
            | SupplyFan
            | EvaporativeCooler
    )
}
