//! Condensate: a trap deep enough for the fan's suction, a drain wide enough for the coil.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::{HandbookTrap, MechanicalCode};
use super::source::Verdict::{Advise, Fail, Pass};
use crate::survey::units::{Feet, InWg, Inches, Tons};

/// Is the trap's water seal deep enough?
pub const TRAP_DEPTH: Rule = Rule {
    id: "trap-depth",
    title: "Water seal of the condensate trap",
    cite: Cite::published(HandbookTrap, "draw-through trap"),
    applies: "packaged rooftop and dedicated outdoor air units, and any unit with a drain recorded",
    formula: "draw-through: seal >= (suction in wg + 1 in) / 2; the outlet lies suction + 1 in \
              below the pan; blow-through: seal >= pressure in wg + 1 in",
    note: "The recorded depth is the water seal. The suction is the worst, with dirty filter and \
           coil. The blow-through figure is from memory, so it is advised on, never failed.",
    examples: || {
        vec![
            (
                "seal 2.0 in, suction 1.5 in wg",
                trap_depth(Some(Inches::of(2.0)), Some(InWg::of(-1.5))),
            ),
            (
                "seal 1.0 in, suction 1.5 in wg",
                trap_depth(Some(Inches::of(1.0)), Some(InWg::of(-1.5))),
            ),
            (
                "seal 2.0 in, pressure 1.5 in wg",
                trap_depth(Some(Inches::of(2.0)), Some(InWg::of(1.5))),
            ),
            (
                "static pressure not known",
                trap_depth(Some(Inches::of(2.0)), None),
            ),
        ]
    },
};

/// A trap for a coil on the suction side of the fan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trap {
    /// From the pan's outlet down to the trap's outlet.
    pub drop: Inches,
    /// Depth of the water seal.
    pub seal: Inches,
}

/// Least trap for a suction, given as a positive or negative pressure.
pub fn draw_through_trap(suction: InWg) -> Trap {
    let drop = suction.get().abs() + 1.0;
    Trap {
        drop: Inches::of(drop),
        seal: Inches::of(drop / 2.0),
    }
}

/// The rule [`TRAP_DEPTH`].
pub fn trap_depth(seal: Option<Inches>, pressure: Option<InWg>) -> Outcome {
    let (Some(seal), Some(pressure)) = (seal, pressure) else {
        let mut needs = Vec::new();
        if seal.is_none() {
            needs.push("condensate.trap_depth_in");
        }
        if pressure.is_none() {
            needs.push("condensate.static_in_wg");
        }
        let outcome = Outcome::unknown(
            "The trap's depth and the static pressure at the pan are both needed.",
            &needs,
        );
        return match (seal, pressure) {
            (Some(seal), None) => outcome.measured(seal.get(), "in"),
            (None, Some(p)) if p.get() <= 0.0 => {
                outcome.at_least(draw_through_trap(p).seal.get(), "in")
            }
            _ => outcome,
        };
    };
    let seal = settle(seal.get());
    if pressure.get() > 0.0 {
        let asked = settle(pressure.get() + 1.0);
        let (verdict, verb) = if seal >= asked {
            (Pass, "meets")
        } else {
            (Advise, "is below")
        };
        return Outcome::new(
            verdict,
            format!(
                "The seal of {} in {verb} the {} in usual for a pan at {} in wg of pressure.",
                num(seal),
                num(asked),
                num(pressure.get())
            ),
        )
        .measured(seal, "in")
        .at_least(asked, "in")
        .citing(Cite::memory(HandbookTrap, "blow-through trap"));
    }
    let trap = draw_through_trap(pressure);
    let (verdict, verb) = if seal >= settle(trap.seal.get()) {
        (Pass, "meets")
    } else {
        (Fail, "is below")
    };
    Outcome::new(
        verdict,
        format!(
            "The seal of {} in {verb} the {} in asked for {} in wg of suction, with the outlet {} in below the pan.",
            num(seal),
            num(trap.seal.get()),
            num(pressure.get().abs()),
            num(trap.drop.get())
        ),
    )
    .measured(seal, "in")
    .at_least(trap.seal.get(), "in")
}

/// Is the drain wide enough for the coil?
pub const DRAIN_SIZE: Rule = Rule {
    id: "condensate-drain-size",
    title: "Size of the condensate drain",
    cite: Cite::published(MechanicalCode, "Table 307.2.2"),
    applies: "packaged rooftop and dedicated outdoor air units, and any unit with a drain recorded",
    formula: "to 20 tons 3/4 in; over 20 to 40 tons 1 in; over 40 to 90 tons 1 1/4 in; over 90 to \
              125 tons 1 1/2 in; over 125 to 250 tons 2 in",
    note: "The table is for drains manifolded together and is never under the pan's outlet, which \
           the survey does not record. Above 250 tons it gives no size.",
    examples: || {
        vec![
            (
                "20 tons, 3/4 in",
                drain_size(Some(Inches::of(0.75)), Some(Tons::of(20.0))),
            ),
            (
                "20.1 tons, 3/4 in",
                drain_size(Some(Inches::of(0.75)), Some(Tons::of(20.1))),
            ),
            (
                "capacity not read",
                drain_size(Some(Inches::of(0.75)), None),
            ),
        ]
    },
};

/// Drain that the table asks for a capacity; none above 250 tons.
pub fn required_drain(capacity: Tons) -> Option<Inches> {
    const TABLE: &[(f64, f64)] = &[
        (20.0, 0.75),
        (40.0, 1.0),
        (90.0, 1.25),
        (125.0, 1.5),
        (250.0, 2.0),
    ];
    let tons = settle(capacity.get());
    let row = TABLE.iter().find(|(most, _)| tons <= *most)?;
    Some(Inches::of(row.1))
}

/// The rule [`DRAIN_SIZE`].
pub fn drain_size(size: Option<Inches>, capacity: Option<Tons>) -> Outcome {
    let asked = capacity.map(required_drain);
    match (size.map(Inches::get), asked) {
        (size, Some(None)) => {
            let outcome = Outcome::unknown(
                "The capacity is above the table's 250 tons; the drain has to be calculated.",
                &[],
            );
            match size {
                Some(size) => outcome.measured(size, "in"),
                None => outcome,
            }
        }
        (Some(size), Some(Some(asked))) => {
            let asked = asked.get();
            let (verdict, verb) = if settle(size) >= asked {
                (Pass, "meets")
            } else {
                (Fail, "is below")
            };
            let tons = capacity.map_or(0.0, Tons::get);
            Outcome::new(
                verdict,
                format!(
                    "The {} in drain {verb} the {} in asked for {} tons.",
                    num(size),
                    num(asked),
                    num(tons)
                ),
            )
            .measured(size, "in")
            .at_least(asked, "in")
        }
        (None, Some(Some(asked))) => Outcome::unknown(
            format!(
                "The drain's size was not recorded; {} in are asked.",
                num(asked.get())
            ),
            &["condensate.drain_size_in"],
        )
        .at_least(asked.get(), "in"),
        (Some(size), None) => Outcome::unknown(
            format!(
                "The drain is {} in, but the cooling capacity was not recorded.",
                num(size)
            ),
            &["nameplate.capacity_tons"],
        )
        .measured(size, "in"),
        (None, None) => Outcome::unknown(
            "Neither the drain's size nor the cooling capacity was recorded.",
            &["condensate.drain_size_in", "nameplate.capacity_tons"],
        ),
    }
}

/// Where [`drain_fall`] comes from.
pub const FALL: Cite = Cite::published(MechanicalCode, "307.2.1");

/// Least fall of a drain over its run: 1/8 in a foot.
pub fn drain_fall(run: Feet) -> Inches {
    Inches::of(run.get() / 8.0)
}
