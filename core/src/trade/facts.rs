//! Facts that give no verdict of their own but that hazards, quotes and people use, listed with
//! their sources and with examples that their own functions compute.

use super::catalogue::Cite;
use super::outcome::num;
use super::{
    air, belts, conductor, conduit, disconnect, filters, hail, ladders, refrigerant, supply,
};
use crate::survey::Filter;
use crate::survey::units::{Amps, Feet, Inches, Percent, Pounds, RiseIn12, Tons, Volts};

/// A fact: what it is, how it is found, where it comes from.
#[derive(Debug, Clone, Copy)]
pub struct Fact {
    /// What it is, in a few words.
    pub title: &'static str,
    /// Where it comes from.
    pub cite: Cite,
    /// The formula or the table, and its limits.
    pub formula: &'static str,
    /// A worked example.
    pub example: fn() -> Option<String>,
}

/// Every fact.
pub const FACTS: &[Fact] = &[
    Fact {
        title: "Smallest switch frame",
        cite: Cite::practice("safety switch frames"),
        formula: "the first of 30, 60, 100, 200, 400, 600 A that carries 115 % of the loads",
        example: || {
            let frame = disconnect::smallest_frame(&[Amps::of(24.0), Amps::of(3.0)])?;
            Some(format!("24 + 3 A: {frame}"))
        },
    },
    Fact {
        title: "Copper conductor for a current",
        cite: conductor::AMPACITY,
        formula: "75 C column, 30 C air, at most three current-carrying conductors; less in warmer air; a hint only, for no conductor is seen",
        example: || {
            let size = conductor::smallest_copper(Amps::of(30.0))?;
            let hot = conductor::ampacity(size, 45.0)?;
            Some(format!(
                "30 A: {size} AWG, which carries {hot} in air of 45 C"
            ))
        },
    },
    Fact {
        title: "Shock boundaries",
        cite: supply::SHOCK,
        formula: "by volts between phases: 50 to 150 V limited 42 in fixed and 10 ft movable, avoid contact (from memory); 151 to 750 V the same and restricted 12 in",
        example: || {
            let found = supply::shock_boundaries(Volts::of(208.0))?;
            Some(format!(
                "208 V: limited {}, movable {}, restricted {}",
                found.limited_fixed, found.limited_movable, found.restricted?
            ))
        },
    },
    Fact {
        title: "Support of metal whips",
        cite: conduit::METAL,
        formula: "within 12 in of each end, then every 54 in; where it must flex, unsecured up to 36 in (trade size 1/2 to 1 1/4), 48 in (1 1/2 to 2), 60 in (2 1/2 and up)",
        example: || {
            let most = conduit::longest_flexible_whip(Inches::of(0.75))?;
            Some(format!(
                "trade size 3/4: {most}; 40 in within it: {}",
                conduit::whip_within_limit(Inches::of(0.75), Inches::of(40.0))
            ))
        },
    },
    Fact {
        title: "Support of nonmetallic whips",
        cite: conduit::NONMETALLIC,
        formula: "within 12 in of each end, then every 36 in",
        example: || {
            Some(format!(
                "first at 12 in, then every 36 in: {}",
                conduit::nonmetallic_supported(Inches::of(12.0), Inches::of(36.0))
            ))
        },
    },
    Fact {
        title: "Setting of a portable ladder",
        cite: ladders::SET_BACK,
        formula: "feet out a quarter of the working length; rails 3 ft above the landing",
        example: || {
            let found = ladders::setting(Feet::of(16.0));
            Some(format!(
                "16 ft eave: working length {} ft, feet {} ft out, rails {} ft, {} degrees",
                num(found.working_length.get()),
                num(found.set_back.get()),
                num(found.rail_length.get()),
                num(found.angle_deg)
            ))
        },
    },
    Fact {
        title: "Height of a gas vent",
        cite: air::GAS_VENT,
        formula: "by slope of the roof, listed cap, at most 12 in, 8 ft or more from a wall; packaged units go by their listing",
        example: || {
            Some(format!(
                "6.5 in 12: {}",
                air::gas_vent_height(RiseIn12::of(6.5))?
            ))
        },
    },
    Fact {
        title: "Intake clear of a noxious source by the mechanical code",
        cite: air::CODE_INTAKE,
        formula: "10 ft or more horizontally, or at least 3 ft below it",
        example: || {
            Some(format!(
                "8 ft away and 2.5 ft below: {}",
                air::code_intake_clear(Feet::of(8.0), Feet::of(2.5))
            ))
        },
    },
    Fact {
        title: "Belt lengths and exchanges",
        cite: belts::LENGTHS,
        formula: "datum = number + 1.3 (A), 1.8 (B), 2.9 (C), 3.3 (D) up to 210; outside = number + 2, 3, 4, 5; light duty is numbered by outside length in tenths and is for fractional horsepower",
        example: || {
            let belt = belts::Designation::read("A42")?;
            Some(format!(
                "{belt}: datum {}, outside {}, same outside as {}",
                belt.datum_length()?,
                belt.outside_length(),
                belt.cross()?
            ))
        },
    },
    Fact {
        title: "Belt tension",
        cite: belts::TENSION,
        formula: "length 2C + pi/2 (D + d) + (D - d)^2 / 4C; deflect by 1/64 of the free span",
        example: || {
            let drive = belts::Drive {
                large: Inches::of(12.0),
                small: Inches::of(4.0),
                center: Inches::of(24.0),
            };
            let span = drive.span()?;
            Some(format!(
                "sheaves 12 and 4 in, 24 in apart: length {} in, span {} in, deflect {} in",
                num(drive.belt_length()?.get()),
                num(span.get()),
                num(belts::deflection(span).get())
            ))
        },
    },
    Fact {
        title: "Refrigerants",
        cite: refrigerant::GWP,
        formula: "GWP of a blend = sum of mass share x GWP of each part, AR4; safety classes by ASHRAE 34, from memory",
        example: || {
            let found = refrigerant::find("R-454B")?;
            Some(format!(
                "{}: GWP {}, {:?}; from its parts {}",
                found.name,
                found.gwp,
                found.class,
                refrigerant::blend_gwp(&[(0.689, 675.0), (0.311, 4.0)])
            ))
        },
    },
    Fact {
        title: "Leak rate",
        cite: refrigerant::LEAK_RATE,
        formula: "annualized: 100 x added / charge x 365 / days since the last addition, at most 365; rolling: 100 x all added in 365 days / charge; exactly the limit does not exceed it",
        example: || {
            let rate = refrigerant::annualized_rate(Pounds::of(10.0), Pounds::of(100.0), 180)?;
            Some(format!(
                "10 lb into 100 lb after 180 days: {} %",
                num(rate.get())
            ))
        },
    },
    Fact {
        title: "Filters to order",
        cite: Cite::practice("filter sizes"),
        formula: "equal nominal sizes together, 20 x 16 as 16 x 20; made 1/4 in thinner than nominal",
        example: || {
            let one = |w: f64, h: f64, quantity| Filter {
                width_in: Inches::of(w),
                height_in: Inches::of(h),
                depth_in: Inches::of(2.0),
                quantity,
            };
            let order = filters::order_list(&[one(20.0, 16.0, 2), one(16.0, 20.0, 4)]);
            let line = order.first()?;
            Some(format!(
                "2 of 20 x 16 x 2 and 4 of 16 x 20 x 2: {} of {} x {}, {} deep",
                line.quantity,
                line.width.get(),
                line.height.get(),
                filters::actual_depth(line.depth)?
            ))
        },
    },
    Fact {
        title: "Usual air flow",
        cite: Cite::practice("air flow a ton"),
        formula: "400 cfm a ton, 350 in humid and 450 in dry places",
        example: || {
            Some(format!(
                "7.5 tons: {}",
                filters::usual_airflow(Tons::of(7.5))
            ))
        },
    },
    Fact {
        title: "Extent of hail damage",
        cite: hail::CLASSES,
        formula: "minor: dents under 1/8 in; severe: 1/4 in or more over 30 % or more of the coil; moderate: between",
        example: || {
            Some(format!(
                "1/4 in over 30 %: {:?}",
                hail::class(Inches::of(0.25), Percent::of(30.0))
            ))
        },
    },
];
