//! The code lists of a survey: what a thing is, what is wrong with it, what could hurt someone.
//!
//! A code is written as its snake_case name everywhere: JSON, document, lexicon, page. Those that a
//! record or call of the door carries are derived for it; the others reach a phone as JSON.

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident { $($variant:ident = $code:tt,)* })*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[derive(serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $(#[doc = $code] #[serde(rename = $code)] $variant,)*
        }

        impl $name {
            /// Every code of the list, in its published order.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The code as written in JSON.
            pub const fn code(self) -> &'static str {
                match self { $(Self::$variant => $code,)* }
            }

            /// The value a code stands for, if it is in the list.
            pub fn from_code(code: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|v| v.code() == code)
            }

            /// The code as words, for people.
            pub fn words(self) -> String {
                self.code().replace('_', " ")
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.code())
            }
        }
    )*};
}

codes! {
    /// What a piece of equipment is.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    EquipmentKind {
        PackagedRooftopUnit = "packaged_rooftop_unit",
        CondensingUnit = "condensing_unit",
        HeatPump = "heat_pump",
        ExhaustFan = "exhaust_fan",
        SupplyFan = "supply_fan",
        MakeupAirUnit = "makeup_air_unit",
        EvaporativeCooler = "evaporative_cooler",
        AirCooledChiller = "air_cooled_chiller",
        CoolingTower = "cooling_tower",
        DedicatedOutdoorAirUnit = "dedicated_outdoor_air_unit",
        DuctlessOutdoorUnit = "ductless_outdoor_unit",
        Other = "other",
    }

    /// The part that a finding is about.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    Component {
        Cabinet = "cabinet",
        AccessPanel = "access_panel",
        ControlCover = "control_cover",
        Nameplate = "nameplate",
        OutdoorAirScreen = "outdoor_air_screen",
        OutdoorAirDamper = "outdoor_air_damper",
        Economizer = "economizer",
        Filter = "filter",
        FilterRack = "filter_rack",
        CondenserCoil = "condenser_coil",
        EvaporatorCoil = "evaporator_coil",
        CondenserFan = "condenser_fan",
        FanGuard = "fan_guard",
        Blower = "blower",
        Belt = "belt",
        Sheave = "sheave",
        Bearing = "bearing",
        Motor = "motor",
        Compressor = "compressor",
        RefrigerantLine = "refrigerant_line",
        LineInsulation = "line_insulation",
        CondensateDrain = "condensate_drain",
        CondensateTrap = "condensate_trap",
        DrainPan = "drain_pan",
        GasPiping = "gas_piping",
        GasRegulator = "gas_regulator",
        HeatExchanger = "heat_exchanger",
        FlueCap = "flue_cap",
        Disconnect = "disconnect",
        Conduit = "conduit",
        Wiring = "wiring",
        ControlWiring = "control_wiring",
        Receptacle = "receptacle",
        Curb = "curb",
        Flashing = "flashing",
        Duct = "duct",
        DuctInsulation = "duct_insulation",
        VibrationIsolator = "vibration_isolator",
        RoofMembrane = "roof_membrane",
        RoofDrain = "roof_drain",
        RoofSurface = "roof_surface",
        Hatch = "hatch",
        Ladder = "ladder",
        Parapet = "parapet",
        Guardrail = "guardrail",
        Skylight = "skylight",
        WalkwayPad = "walkway_pad",
        WaterSource = "water_source",
        Lighting = "lighting",
    }

    /// What is the matter with a component, or that nothing is.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    Condition {
        Torn = "torn",
        Missing = "missing",
        Cracked = "cracked",
        Split = "split",
        Rusted = "rusted",
        Bent = "bent",
        HailDented = "hail_dented",
        Dirty = "dirty",
        Clogged = "clogged",
        Leaking = "leaking",
        Loose = "loose",
        Unsupported = "unsupported",
        Exposed = "exposed",
        Disconnected = "disconnected",
        WrongSize = "wrong_size",
        Worn = "worn",
        Glazed = "glazed",
        Frayed = "frayed",
        Broken = "broken",
        Noisy = "noisy",
        Vibrating = "vibrating",
        NotRunning = "not_running",
        Ponding = "ponding",
        Unsecured = "unsecured",
        Damaged = "damaged",
        Obstructed = "obstructed",
        Unlabelled = "unlabelled",
        Debris = "debris",
        LooseFasteners = "loose_fasteners",
        OilStained = "oil_stained",
        Frosted = "frosted",
        Burnt = "burnt",
        Weathered = "weathered",
        Good = "good",
    }

    /// How sure the speaker was.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    Certainty {
        Observed = "observed",
        Suspected = "suspected",
        Absent = "absent",
    }

    /// How much a finding matters, gravest first.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    Severity {
        Danger = "danger",
        Urgent = "urgent",
        Repair = "repair",
        Minor = "minor",
        Note = "note",
    }

    /// What a finding asks for.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    Action {
        Replace = "replace",
        Repair = "repair",
        Clean = "clean",
        Clear = "clear",
        Tighten = "tighten",
        Secure = "secure",
        Adjust = "adjust",
        Install = "install",
        Label = "label",
        Inspect = "inspect",
        Monitor = "monitor",
    }

    /// What could hurt the next person on the roof.
    #[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
    HazardKind {
        UnprotectedEdge = "unprotected_edge",
        UnguardedOpening = "unguarded_opening",
        LadderAccess = "ladder_access",
        LiveElectrical = "live_electrical",
        ExposedWiring = "exposed_wiring",
        Trip = "trip",
        SlipperySurface = "slippery_surface",
        HotSurface = "hot_surface",
        GasLeak = "gas_leak",
        RefrigerantRelease = "refrigerant_release",
        OverheadLine = "overhead_line",
        WeatherHeat = "weather_heat",
        StingingInsects = "stinging_insects",
        ConfinedSpace = "confined_space",
        Structural = "structural",
        Other = "other",
    }

    /// A hole a person could fall through.
    OpeningKind {
        Skylight = "skylight",
        Hatch = "hatch",
        Hole = "hole",
    }

    /// How a person gets up.
    AccessKind {
        PortableLadder = "portable_ladder",
        FixedLadder = "fixed_ladder",
        Hatch = "hatch",
        Stair = "stair",
    }

    /// Where air or fumes leave the building.
    AirPointKind {
        PlumbingVent = "plumbing_vent",
        ExhaustClass1 = "exhaust_class_1",
        ExhaustClass2 = "exhaust_class_2",
        ExhaustClass3 = "exhaust_class_3",
        ExhaustClass4 = "exhaust_class_4",
        Flue = "flue",
        CoolingTower = "cooling_tower",
    }

    /// A side of a unit on the plan, by compass.
    Side {
        North = "N",
        East = "E",
        South = "S",
        West = "W",
    }
}

impl EquipmentKind {
    /// The letters before the number of a tag: `RTU` in RTU-2.
    pub const fn tag_prefix(self) -> &'static str {
        match self {
            Self::PackagedRooftopUnit => "RTU",
            Self::CondensingUnit => "CU",
            Self::HeatPump => "HP",
            Self::ExhaustFan => "EF",
            Self::SupplyFan => "SF",
            Self::MakeupAirUnit => "MAU",
            Self::EvaporativeCooler => "EC",
            Self::AirCooledChiller => "CH",
            Self::CoolingTower => "CT",
            Self::DedicatedOutdoorAirUnit => "DOAS",
            Self::DuctlessOutdoorUnit => "DU",
            Self::Other => "EQ",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_reads_back() {
        for component in Component::ALL {
            let json = serde_json::to_string(component).unwrap_or_default();
            assert_eq!(json, format!("\"{component}\""));
            assert_eq!(Component::from_code(component.code()), Some(*component));
        }
        assert_eq!(Condition::from_code("sparkling"), None);
    }
}
