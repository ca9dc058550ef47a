//! One piece of equipment: where it stands, what its plates say, what it consumes.

use super::codes::{EquipmentKind, Side};
use super::units::{
    Amps, Btuh, Cfm, Feet, Hertz, InWg, Inches, PointFt, Pounds, SizeFt, Tons, Volts,
};
use serde::{Deserialize, Serialize};

/// A unit on the roof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Equipment {
    /// Identity that survives renaming; the document uses a UUIDv7.
    #[serde(default)]
    pub id: String,
    /// The tag a technician would write on a drawing, such as `RTU-2`.
    pub tag: String,
    /// What it is.
    pub kind: EquipmentKind,
    /// `id` of the roof it stands on; absent when its place tells, or there is one roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub roof: Option<String>,
    /// Centre of its footprint.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_ft: Option<PointFt>,
    /// How far off `at_ft` may be, when paced or from GPS.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_accuracy_ft: Option<Feet>,
    /// Footprint.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size_ft: Option<SizeFt>,
    /// Sides a person works at.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub service_sides: Vec<Side>,
    /// Side where it draws outdoor air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outdoor_air_side: Option<Side>,
    /// Height of the bottom of its outdoor air opening above the roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outdoor_air_height_ft: Option<Feet>,
    /// Supply air flow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub airflow_cfm: Option<Cfm>,
    /// What the nameplate says.
    #[serde(default, skip_serializing_if = "is_default")]
    pub nameplate: Nameplate,
    /// The switch that isolates it.
    #[serde(default, skip_serializing_if = "is_default")]
    pub disconnect: Disconnect,
    /// Values read off instruments.
    #[serde(default, skip_serializing_if = "is_default")]
    pub readings: Readings,
    /// Its condensate drain.
    #[serde(default, skip_serializing_if = "is_default")]
    pub condensate: Condensate,
    /// Filters it holds; empty when not recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub filters: Vec<Filter>,
    /// Belts it runs; empty when not recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub belts: Vec<Belt>,
}

impl Equipment {
    /// A unit of which only tag and kind are known.
    pub fn new(id: impl Into<String>, tag: impl Into<String>, kind: EquipmentKind) -> Self {
        Self {
            id: id.into(),
            tag: tag.into(),
            kind,
            roof: None,
            at_ft: None,
            at_accuracy_ft: None,
            size_ft: None,
            service_sides: Vec::new(),
            outdoor_air_side: None,
            outdoor_air_height_ft: None,
            airflow_cfm: None,
            nameplate: Nameplate::default(),
            disconnect: Disconnect::default(),
            readings: Readings::default(),
            condensate: Condensate::default(),
            filters: Vec::new(),
            belts: Vec::new(),
        }
    }
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// The maker's plate.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Nameplate {
    /// Maker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub make: Option<String>,
    /// Model number, as printed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// Serial number, as printed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// Year of manufacture.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub manufactured_year: Option<i32>,
    /// Rated voltage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<Volts>,
    /// Phases, 1 or 3.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phase: Option<u8>,
    /// Frequency.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hertz: Option<Hertz>,
    /// Minimum circuit ampacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mca_a: Option<Amps>,
    /// Maximum overcurrent protection.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mocp_a: Option<Amps>,
    /// The motor currents that the plate lists.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loads: Option<Loads>,
    /// Refrigerant, such as `R-410A`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refrigerant: Option<String>,
    /// Refrigerant charge.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub charge_lb: Option<Pounds>,
    /// Nominal cooling capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_tons: Option<Tons>,
    /// Gas input.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gas_input_btuh: Option<Btuh>,
}

/// Currents of the motors behind one supply.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Loads {
    /// Rated-load current of the largest motor or compressor.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub largest_motor_rla_a: Option<Amps>,
    /// Currents of all the others.
    pub other_a: Vec<Amps>,
}

/// A disconnect switch, with or without fuses.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Disconnect {
    /// Rating of the switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rating_a: Option<Amps>,
    /// Voltage rating of the switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voltage_v: Option<Volts>,
    /// Fuse or breaker in it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fuse_a: Option<Amps>,
    /// Distance from the unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_ft: Option<Feet>,
    /// Whether it can be seen from the unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_sight: Option<bool>,
}

/// Instrument readings, taken by a qualified person only.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Readings {
    /// Line-to-line voltages.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub line_voltage_v: Vec<Volts>,
}

/// Drain of the cooling coil.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Condensate {
    /// Depth of the trap's water seal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trap_depth_in: Option<Inches>,
    /// Static pressure at the pan; negative in a draw-through unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub static_in_wg: Option<InWg>,
    /// Nominal size of the drain pipe.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drain_size_in: Option<Inches>,
}

/// A set of equal filters, by nominal size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Filter {
    /// Nominal width.
    pub width_in: Inches,
    /// Nominal height.
    pub height_in: Inches,
    /// Nominal depth.
    pub depth_in: Inches,
    /// How many.
    pub quantity: u32,
}

/// A set of equal belts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Belt {
    /// Designation as printed, such as `A42` or `4L460`.
    pub designation: String,
    /// How many.
    pub quantity: u32,
}
