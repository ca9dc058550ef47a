//! Plain speech must always be understood: every part in every condition, in the shapes that
//! technicians use most, and sentences that were once misread.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::said::{note, told};
use super::{Lexicon, interpret};
use crate::survey::codes::{Component, Condition};

/// Findings as "unit part condition certainty", and the units named.
fn heard(said: &str) -> (Vec<String>, Vec<String>) {
    let heard = interpret(&note(said), Lexicon::builtin());
    let findings = heard.findings.iter();
    let findings = findings.map(|f| format!("{} {}", told(f), f.certainty.code()));
    let units = heard.equipment.iter().map(|m| m.tag.clone());
    (findings.collect(), units.collect())
}

/// Where `{p}` is a part and `{c}` a condition.
const SHAPES: [&str; 22] = [
    "RTU 2. The {p} is {c}.",
    "RTU 2. {p}'s {c}.",
    "rtu 2 the {p} is {c}",
    "The {p} on RTU 2 is {c}.",
    "RTU 2's {p} is {c}.",
    "On unit 2 the {p} is {c}.",
    "RTU 2. Oh, the {p} is {c}.",
    "RTU 2. Oh and the {p} is {c}.",
    "RTU 2. Okay, {p} is {c}.",
    "RTU 2. Looking at the {p}. It's {c}.",
    "RTU 2. I noticed the {p} was {c}.",
    "RTU 2. You can see the {p} is {c}.",
    "RTU 2. The {p} on the north side is {c}.",
    "RTU 2. The {p} is pretty {c}, get a photo of that.",
    "RTU 2. The {p} is {c}, replace it.",
    "RTU 2. Everything looks good except the {p}, that's {c}.",
    "RTU 2. {p}: {c}.",
    "RTU 2. {p}, {c}.",
    "RTU 1 looks fine. On RTU 2 the {p} is {c}.",
    "RTU 2. The {p} is {c} where it comes out of the wall.",
    "RTU 2. Believe it or not, the {p} is {c}.",
    "RTU 2. The {p}, though, is {c}.",
];

/// The first of these say it of nothing else.
const PLAINEST: usize = 3;

#[test]
fn every_part_in_every_condition_is_understood() {
    let lexicon = Lexicon::builtin();
    let nouns = [
        Condition::Ponding,
        Condition::Debris,
        Condition::LooseFasteners,
        Condition::Good,
    ];
    let mut wrong = Vec::new();
    for part in Component::ALL.iter().copied() {
        for fault in Condition::ALL.iter().copied() {
            if nouns.contains(&fault) {
                continue;
            }
            // What is seldom said of a part counts where it is said plainly.
            let shapes = match lexicon.sense(part, fault) == Some(fault) {
                true => &SHAPES[..],
                false => &SHAPES[..PLAINEST],
            };
            let word = match fault {
                Condition::WrongSize => "the wrong size".into(),
                _ => fault.code().replace('_', " "),
            };
            let unit = if lexicon.site_parts.contains(&part) {
                "site"
            } else {
                "RTU-2"
            };
            let wanted = format!("{unit} {} {} observed", part.code(), fault.code());
            for shape in shapes {
                let name = part.code().replace('_', " ");
                let said = shape.replace("{p}", &name).replace("{c}", &word);
                let found = heard(&said).0;
                if !found.contains(&wanted) {
                    wrong.push(format!("{said} -> {found:?}"));
                }
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} wrong:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

/// Sentences that were once misread, with the units and the findings that they hold.
const MISREAD: [(&str, &str, &str); 22] = [
    (
        "RTU 1. Oh, the belt is cracked.",
        "RTU-1",
        "RTU-1 belt cracked observed",
    ),
    (
        "RTU 1. There's rust along the bottom of the cabinet.",
        "RTU-1",
        "RTU-1 cabinet rusted observed",
    ),
    (
        "MAU 3. A bird nest is blocking the outdoor air screen.",
        "MAU-3",
        "MAU-3 outdoor_air_screen obstructed observed",
    ),
    (
        "SF 3. Bearing on the drive end might be noisy, monitor it.",
        "SF-3",
        "SF-3 bearing noisy suspected",
    ),
    (
        "RTU 4. All I saw was a dirty condenser coil.",
        "RTU-4",
        "RTU-4 condenser_coil dirty observed",
    ),
    (
        "Membrane is EPDM. It's split at the seam by the parapet.",
        "",
        "site roof_membrane split observed",
    ),
    (
        "No damage to the parapet.",
        "",
        "site parapet damaged absent",
    ),
    (
        "CU 1. Motor bearings? Could be worn.",
        "CU-1",
        "CU-1 bearing worn suspected",
    ),
    (
        "RTU 4. Evaporator coil clean? Yep, coil's good.",
        "RTU-4",
        "RTU-4 evaporator_coil good observed",
    ),
    (
        "RTU 2. The motor and the belt are both worn.",
        "RTU-2",
        "RTU-2 belt worn observed; RTU-2 motor worn observed",
    ),
    (
        "RTU 2. Motor is worn, and so is the belt.",
        "RTU-2",
        "RTU-2 motor worn observed; RTU-2 belt worn observed",
    ),
    (
        "HP 12. HP 13. Both fan guards are good.",
        "HP-12 HP-13",
        "HP-12 fan_guard good observed; HP-13 fan_guard good observed",
    ),
    (
        "RTU 3. Drain pan's rusted and it's dripping on the curb.",
        "RTU-3",
        "RTU-3 drain_pan rusted observed; RTU-3 drain_pan leaking observed",
    ),
    (
        "our tea you seven the curb has a crack",
        "RTU-7",
        "RTU-7 curb cracked observed",
    ),
    (
        "RTU 9. All the flashing on the north face has pulled loose.",
        "RTU-9",
        "RTU-9 flashing loose observed",
    ),
    (
        "RTU 1. Compressor's knocking on this one, not on RTU 2.",
        "RTU-1 RTU-2",
        "RTU-1 compressor noisy observed",
    ),
    (
        "CU 1 is old. Line insulation's gone on CU 1 and CU 2 both.",
        "CU-1 CU-2",
        "CU-1 line_insulation missing observed; CU-2 line_insulation missing observed",
    ),
    (
        "EF 3. The bearings are howling. Same with the bearings on four and five.",
        "EF-3 EF-4 EF-5",
        "EF-3 bearing noisy observed; EF-4 bearing noisy observed; EF-5 bearing noisy observed",
    ),
    (
        "SF 2. The blower's vibrating so hard I could hear it down at the truck.",
        "SF-2",
        "SF-2 blower vibrating observed",
    ),
    (
        "RTU 5. Line set lies across the roof with nothing supporting it.",
        "RTU-5",
        "RTU-5 refrigerant_line unsupported observed",
    ),
    (
        "EF 5. Every belt is fine. Next unit.",
        "EF-5",
        "EF-5 belt good observed",
    ),
    (
        "Roof drain by the hatch is fine. The trap line RTU 2 through RTU 5 share is fine.",
        "RTU-2 RTU-3 RTU-4 RTU-5",
        "site roof_drain good observed",
    ),
];

#[test]
fn what_was_once_misread_is_read() {
    let mut wrong = Vec::new();
    for (said, units, findings) in MISREAD {
        let found = heard(said);
        if found.0.join("; ") != findings || found.1.join(" ") != units {
            wrong.push(format!("{said} -> {found:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Parts as a recogniser wrote them, by hand: in every condition that they can be in.
const PARTS_HEARD: [(Component, &[&str]); 27] = [
    (Component::Belt, &["built", "bell"]),
    (Component::Sheave, &["sheath", "chief"]),
    (Component::Bearing, &["bare ring", "barring", "baring"]),
    (Component::Blower, &["blow her"]),
    (Component::Motor, &["mower", "mortar"]),
    (Component::Compressor, &["compress her", "compress or"]),
    (
        Component::CondenserCoil,
        &["condense her coil", "condenser coal", "condenser call"],
    ),
    (
        Component::EvaporatorCoil,
        &["evaporate or coil", "evaporator call"],
    ),
    (
        Component::CondenserFan,
        &["condense her fan", "condenser van"],
    ),
    (Component::FanGuard, &["fan card", "fan gourd"]),
    (Component::Economizer, &["economize her", "e con a miser"]),
    (
        Component::OutdoorAirScreen,
        &["out door air screen", "outdoor air scream"],
    ),
    (
        Component::DrainPan,
        &["drain pen", "rain pan", "drained pan"],
    ),
    (
        Component::CondensateDrain,
        &["condense eight drain", "condensate train"],
    ),
    (Component::CondensateTrap, &["condensate rap"]),
    (Component::GasPiping, &["gas pipe in", "gas typing"]),
    (
        Component::HeatExchanger,
        &["heat ex changer", "heat exchange her"],
    ),
    (Component::FlueCap, &["flew cap"]),
    (Component::Disconnect, &["this connect", "disc connect"]),
    (Component::Conduit, &["con do it", "condo it"]),
    (Component::ControlWiring, &["control wire in"]),
    (Component::Receptacle, &["receptor call", "re sept a call"]),
    (Component::Curb, &["curve", "kerb"]),
    (Component::Duct, &["duck"]),
    (Component::LineInsulation, &["line installation"]),
    (Component::Cabinet, &["cabin it"]),
    (Component::AccessPanel, &["axis panel"]),
];

/// Conditions as a recogniser wrote them: of every part that can be in them.
const FAULTS_HEARD: [(Condition, &[&str]); 16] = [
    (Condition::Missing, &["miss in", "miss sing"]),
    (Condition::Cracked, &["cract", "crack it"]),
    (Condition::Rusted, &["rust it", "rust did", "rest id"]),
    (Condition::Bent, &["bench", "bend it"]),
    (Condition::Dirty, &["dirt tea", "dirt e"]),
    (Condition::Clogged, &["clog", "clog it"]),
    (Condition::Leaking, &["leek in", "lee king"]),
    (Condition::Loose, &["lose", "loos"]),
    (Condition::Worn, &["warn"]),
    (Condition::Frayed, &["afraid", "freight"]),
    (Condition::Broken, &["broke in", "broke un"]),
    (Condition::Noisy, &["noise he", "nosy"]),
    (Condition::Vibrating, &["vibe rating", "vie brating"]),
    (Condition::NotRunning, &["not run in", "knot running"]),
    (Condition::Unsecured, &["un secured", "on secured"]),
    (Condition::Weathered, &["whether did", "weather did"]),
];

#[test]
fn parts_and_conditions_are_known_as_recognisers_write_them() {
    let lexicon = Lexicon::builtin();
    let mut wrong = Vec::new();
    let mut check = |part: Component, fault: Condition, said: String| {
        let site = lexicon.site_parts.contains(&part);
        let unit = if site { "site" } else { "RTU-2" };
        let wanted = format!("{unit} {} {} observed", part.code(), fault.code());
        let found = heard(&said).0;
        if !found.contains(&wanted) {
            wrong.push(format!("{said} -> {found:?}"));
        }
    };
    let plain = |fault: Condition| {
        let noun = [
            Condition::Ponding,
            Condition::Debris,
            Condition::LooseFasteners,
            Condition::WrongSize,
        ];
        !noun.contains(&fault)
    };
    let pairs = Component::ALL.iter().flat_map(|part| {
        let faults = Condition::ALL.iter().copied();
        let said = faults.filter(|f| plain(*f) && lexicon.sense(*part, *f) == Some(*f));
        said.map(|fault| (*part, fault))
    });
    for (part, fault) in pairs {
        let (name, word) = (
            part.code().replace('_', " "),
            fault.code().replace('_', " "),
        );
        let known = PARTS_HEARD.iter().filter(|(of, _)| *of == part);
        for heard in known.flat_map(|(_, heard)| *heard) {
            check(part, fault, format!("RTU 2. The {heard} is {word}."));
        }
        let known = FAULTS_HEARD.iter().filter(|(of, _)| *of == fault);
        for heard in known.flat_map(|(_, heard)| *heard) {
            check(part, fault, format!("rtu two the {name} is {heard}"));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} wrong:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}
