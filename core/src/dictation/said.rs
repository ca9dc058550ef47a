//! What short notes say, a line each: the slips of recognisers, and talk that must not count.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::{Lexicon, Transcript, interpret};
use crate::survey::spoken::{Segment, SpokenFinding};

/// A note of segments parted by `|`, three seconds each; another guess of a segment stands behind `~`.
pub(super) fn note(said: &str) -> Transcript {
    let segments = said.split('|').zip(0..).map(|(text, n)| {
        let mut guesses = text.split('~').map(|guess| guess.trim().to_owned());
        Segment {
            start_ms: n * 3000,
            end_ms: n * 3000 + 2000,
            text: guesses.next().unwrap_or_default(),
            alternatives: guesses.collect(),
            ..Segment::default()
        }
    });
    Transcript {
        note_id: "n".into(),
        author: None,
        recorded_at: None,
        segments: segments.collect(),
    }
}

/// A finding as "unit part condition".
pub(super) fn told(finding: &SpokenFinding) -> String {
    let (part, fault) = (finding.component.code(), finding.condition.code());
    format!("{} {part} {fault}", finding.about)
}

/// Values and findings of one note, each as a line.
fn said(text: &str) -> Vec<String> {
    let heard = interpret(&note(text), Lexicon::builtin());
    let facts = heard
        .facts
        .iter()
        .map(|f| format!("{} {} {}", f.about, f.field, f.value));
    facts.chain(heard.findings.iter().map(told)).collect()
}

fn check(cases: &[(&str, &[&str])]) {
    for (text, wanted) in cases {
        assert_eq!(said(text), *wanted, "{text}");
    }
}

#[test]
fn words_heard_as_others_are_made_out_by_their_place() {
    check(&[
        ("rtu two the belts or glazed", &["RTU-2 belt glazed"]),
        (
            "ef four the motor his not running",
            &["EF-4 motor not_running"],
        ),
        ("rtu two the curb is crack", &["RTU-2 curb cracked"]),
        (
            "rtu two the fan guard is rusted in the belt is worn",
            &["RTU-2 fan_guard rusted", "RTU-2 belt worn"],
        ),
        (
            "rtu six as a sixty amp disconnect",
            &["RTU-6 disconnect.rating_a 60.0"],
        ),
        (
            "condense in units one two and three the coils are dirty on all three",
            &[
                "CU-1 condenser_coil dirty",
                "CU-2 condenser_coil dirty",
                "CU-3 condenser_coil dirty",
            ],
        ),
        (
            "chiller too four sixty volt",
            &["CH-2 nameplate.voltage_v 460.0"],
        ),
        ("rtu one the hatch is shut", &[]),
    ]);
}

#[test]
fn numbers_run_together_are_parted_by_what_they_measure() {
    check(&[
        (
            "rtu one max fuse forty ten ton",
            &[
                "RTU-1 nameplate.mocp_a 40.0",
                "RTU-1 nameplate.capacity_tons 10.0",
            ],
        ),
        (
            "rtu one max breaker is thirty three ton",
            &[
                "RTU-1 nameplate.mocp_a 30.0",
                "RTU-1 nameplate.capacity_tons 3.0",
            ],
        ),
        (
            "RTU one, MCA fifteen. Not fifteen, fifty.",
            &["RTU-1 nameplate.mca_a 50.0"],
        ),
    ]);
}

#[test]
fn units_are_known_by_their_number_once_they_were_named() {
    check(&[
        (
            "Exhaust fans one, two and three. Three, the flashing is cracked. Two's curb is good.",
            &["EF-3 flashing cracked", "EF-2 curb good"],
        ),
        (
            "Exhaust fan three, the belt is worn. Fan four, the belt is split.",
            &["EF-3 belt worn", "EF-4 belt split"],
        ),
        (
            "package unit eight and package unit nine are ten ton",
            &[
                "RTU-8 nameplate.capacity_tons 10.0",
                "RTU-9 nameplate.capacity_tons 10.0",
            ],
        ),
    ]);
}

#[test]
fn what_was_and_what_is_elsewhere_makes_nothing() {
    check(&[
        ("Heat pump two. The drain was clogged, I blew it out.", &[]),
        (
            "Look at the roof across the alley. The membrane is torn. The ladder is broken.",
            &[],
        ),
        (
            "Look across the alley. The ladder is broken. Okay, ours. The parapet is cracked.",
            &["site parapet cracked"],
        ),
        ("The light on my hard hat is broken.", &[]),
        (
            "RTU one. The coil is dirty. I thought the fan guard was bent, never mind that.",
            &["RTU-1 condenser_coil dirty"],
        ),
        (
            "rtu one gas piping is rusted get it inspected the curb is loose",
            &["RTU-1 gas_piping rusted", "RTU-1 curb loose"],
        ),
    ]);
}

#[test]
fn words_of_the_trade_are_heard_by_sound_and_place() {
    check(&[
        (
            "rtu one the access panel is me sing",
            &["RTU-1 access_panel missing"],
        ),
        ("rtu one the bet is cracked", &["RTU-1 belt cracked"]),
        ("rtu one motor bare ring is noisy", &["RTU-1 bearing noisy"]),
        (
            "rtu one aerial number k four four one",
            &["RTU-1 nameplate.serial \"K441\""],
        ),
        (
            "rtu one medal k l four dash two two",
            &["RTU-1 nameplate.model \"KL4-22\""],
        ),
        (
            "rtu one the model number is bee dee see one two zero dash ate",
            &["RTU-1 nameplate.model \"BDC120-8\""],
        ),
        (
            "RTU 1. Model NVR048E, E as in echo",
            &["RTU-1 nameplate.model \"NVR048E\""],
        ),
        (
            "RTU 1. S/N on here, 22K-80417",
            &["RTU-1 nameplate.serial \"22K-80417\""],
        ),
        (
            "cooling towel two the motor is noisy",
            &["CT-2 motor noisy"],
        ),
        // Common words are what they are.
        ("mau one no glare on it", &[]),
        ("rtu one bring the coil cleaner", &[]),
    ]);
}

#[test]
fn numbers_heard_as_words_and_run_together_are_parted() {
    check(&[
        (
            "chiller two m c a won fifty six",
            &["CH-2 nameplate.mca_a 156.0"],
        ),
        (
            "rtu one one belt a fifty for cracked",
            &[
                "RTU-1 belts {\"designation\":\"A54\",\"quantity\":1}",
                "RTU-1 belt cracked",
            ],
        ),
        (
            "ct one drive belts are c ninety there are two both glazed",
            &[
                "CT-1 belts {\"designation\":\"C90\",\"quantity\":2}",
                "CT-1 belt glazed",
            ],
        ),
        (
            "rtu one max fuse fifty four sixty three phase",
            &[
                "RTU-1 nameplate.mocp_a 50.0",
                "RTU-1 nameplate.voltage_v 460.0",
                "RTU-1 nameplate.phase 3",
            ],
        ),
        (
            "rtu one is 2083 phase",
            &["RTU-1 nameplate.voltage_v 208.0", "RTU-1 nameplate.phase 3"],
        ),
        (
            "RTU 7. It's a 60 amp, 240 volt switch.",
            &[
                "RTU-7 disconnect.rating_a 60.0",
                "RTU-7 disconnect.voltage_v 240.0",
            ],
        ),
        (
            "DOAS one. R-454B, 22 pounds. 480... no, plate says 460.",
            &[
                "DOAS-1 nameplate.refrigerant \"R-454B\"",
                "DOAS-1 nameplate.charge_lb 22.0",
                "DOAS-1 nameplate.voltage_v 460.0",
            ],
        ),
        (
            "rtu one three forty amp fuses in the disconnect",
            &["RTU-1 disconnect.fuse_a 40.0"],
        ),
        (
            "rtu one two oh eight slash two thirty",
            &["RTU-1 nameplate.voltage_v 208.0"],
        ),
        (
            "rtu five there's a roof hydrant",
            &["site site.water_source \"roof_hydrant\""],
        ),
        (
            "RTU 1. Date code says week 22 of 2016.",
            &["RTU-1 nameplate.manufactured_year 2016"],
        ),
        ("rtu one drain pan is dry, no water standing", &[]),
    ]);
}

#[test]
fn units_are_followed_through_talk_without_full_stops() {
    check(&[
        (
            "rtu one no trap at all it's missing and two is missing too",
            &[
                "RTU-1 condensate_trap missing",
                "RTU-2 condensate_trap missing",
            ],
        ),
        (
            "Package unit four, five and six. Plate of four: 230 volt.",
            &["RTU-4 nameplate.voltage_v 230.0"],
        ),
        (
            "hp 1 serial 90412A hp 2 serial 90415A both of them 230 volt",
            &[
                "HP-1 nameplate.serial \"90412A\"",
                "HP-2 nameplate.serial \"90415A\"",
                "HP-1 nameplate.voltage_v 230.0",
                "HP-2 nameplate.voltage_v 230.0",
            ],
        ),
        (
            "RTU-7 and RTU-9. Nine is 460, three phase. Seven has the same exact numbers.",
            &[
                "RTU-9 nameplate.voltage_v 460.0",
                "RTU-9 nameplate.phase 3",
                "RTU-7 nameplate.voltage_v 460.0",
                "RTU-7 nameplate.phase 3",
            ],
        ),
        (
            "rtu one number two condenser fan is not running",
            &["RTU-1 condenser_fan not_running"],
        ),
        (
            "RTUs one through three all have worn belts.",
            &["RTU-1 belt worn", "RTU-2 belt worn", "RTU-3 belt worn"],
        ),
        (
            "RTU one the belt is worn, two's belt is fine",
            &["RTU-1 belt worn", "RTU-2 belt good"],
        ),
        (
            "Supply fan one's belt is good but supply fan two's is cracked.",
            &["SF-1 belt good", "SF-2 belt cracked"],
        ),
        (
            "Exhaust fan one, the motor's noisy. Exhaust fan two, same thing.",
            &["EF-1 motor noisy", "EF-2 motor noisy"],
        ),
        (
            "Exhaust fan one has a noisy motor and so does exhaust fan two.",
            &["EF-1 motor noisy", "EF-2 motor noisy"],
        ),
        (
            "RTU three no trap, RTU four cracked trap",
            &[
                "RTU-3 condensate_trap missing",
                "RTU-4 condensate_trap cracked",
            ],
        ),
    ]);
}

#[test]
fn what_was_done_to_a_part_is_said_of_it() {
    check(&[
        (
            "rtu one somebody's boot bent the conduit",
            &["RTU-1 conduit bent"],
        ),
        (
            "rtu one somebody took the condenser fan",
            &["RTU-1 condenser_fan missing"],
        ),
        (
            "rtu one hail put dents all in the fan guard",
            &["RTU-1 fan_guard hail_dented"],
        ),
        (
            "rtu one oil all over the compressor",
            &["RTU-1 compressor oil_stained"],
        ),
        (
            "rtu one leaves sitting in the filter rack",
            &["RTU-1 filter_rack debris"],
        ),
        (
            "rtu one clamp bolts on the roof drain have worked loose",
            &["site roof_drain loose_fasteners"],
        ),
        (
            "rtu one couldn't get my head in there but the blower is dirty",
            &["RTU-1 blower dirty"],
        ),
        (
            "MAU-1. Filters are 20 by 20 by 2, six of them. All of them plugged solid.",
            &[
                "MAU-1 filters {\"depth_in\":2.0,\"height_in\":20.0,\"quantity\":6,\"width_in\":20.0}",
                "MAU-1 filter clogged",
            ],
        ),
        (
            "rtu four the gas pipe is rusted but it's not leaking i checked it",
            &["RTU-4 gas_piping rusted", "RTU-4 gas_piping leaking"],
        ),
    ]);
}

#[test]
fn plans_names_and_questions_make_nothing() {
    check(&[
        ("They'll swap RTU 3 for a new one, ten ton, 460 volt.", &[]),
        ("RTU 1. This spare belt I've got is a B 52.", &[]),
        ("RTU 1. Hand me that 30 amp fuse.", &[]),
        ("RTU 1. The spec calls for a hundred amp switch.", &[]),
        ("Vic says the bearing is shot on SF-3.", &[]),
        (
            "rtu two belts are good somebody put them on not long ago | plate says mca forty",
            &["RTU-2 nameplate.mca_a 40.0", "RTU-2 belt good"],
        ),
        (
            "rtu one and is the disconnect a sixty amp or a hundred",
            &[],
        ),
    ]);
}

#[test]
fn a_value_that_may_be_of_one_of_several_units_is_asked_about() {
    let doubt = |text: &str| {
        let heard = interpret(&note(text), Lexicon::builtin());
        heard.facts.iter().all(|f| f.needs_confirmation.is_some())
    };
    assert!(doubt("RTU one and RTU two. The plate gives 460 volts."));
    assert!(!doubt("RTU one and RTU two. Both are 460 volts."));
}

#[test]
fn words_written_as_one_are_parted() {
    check(&[
        (
            "rtu 1 mca is twentyfive and mocp thirtyfive",
            &["RTU-1 nameplate.mca_a 25.0", "RTU-1 nameplate.mocp_a 35.0"],
        ),
        (
            "mau 1 gas input two hundred fiftythousand btu",
            &["MAU-1 nameplate.gas_input_btuh 250000.0"],
        ),
        (
            "rtu 1 the condensercoil is dirty and its a fortyamp fuse",
            &["RTU-1 disconnect.fuse_a 40.0", "RTU-1 condenser_coil dirty"],
        ),
    ]);
}

#[test]
fn a_true_word_behind_is_no_condition() {
    check(&[
        (
            "RTU one. The disconnect is rated 60 amps.",
            &["RTU-1 disconnect.rating_a 60.0"],
        ),
        ("RTU one. The coil is facing north.", &[]),
        ("RTU one. The disconnect is situated behind it.", &[]),
    ]);
}

#[test]
fn plain_things_that_were_once_missed() {
    check(&[
        (
            "Equipment 1 is a small heater; its cabinet is damaged.",
            &["EQ-1 cabinet damaged"],
        ),
        (
            "receptacle next to rooftop unit fourteen is damaged replace it",
            &["RTU-14 receptacle damaged"],
        ),
        (
            "hose bib at grade by the meter roof drain is clogged",
            &[
                "site site.water_source \"hose_bib\"",
                "site roof_drain clogged",
            ],
        ),
        (
            "ductless outdoor unit three r thirty two",
            &["DU-3 nameplate.refrigerant \"R-32\""],
        ),
        (
            "HP 6. Refrigerant is twenty two.",
            &["HP-6 nameplate.refrigerant \"R-22\""],
        ),
        (
            "RTU 6. capacity ate and a half tons",
            &["RTU-6 nameplate.capacity_tons 8.5"],
        ),
        (
            "Leaves have gathered in the roof drain. RTU 1. Dirt has built up on the coil.",
            &["site roof_drain debris", "RTU-1 condenser_coil dirty"],
        ),
    ]);
}

#[test]
fn what_a_thing_is_like_does_not_hide_what_is_said_of_it() {
    check(&[
        (
            "RTU 2. The blower belt's glazed like a doughnut, swap that out, it's an A48, just the one.",
            &[
                "RTU-2 belts {\"designation\":\"A48\",\"quantity\":1}",
                "RTU-2 belt glazed",
            ],
        ),
        (
            "If a belt gets glazed it squeals like a pig, so RTU 2 may do that.",
            &[],
        ),
        (
            "Exhaust fan three is fine. Exhaust fan four has a bent fan guard. Back to three for a second, its curb is rusted.",
            &["EF-4 fan_guard bent", "EF-3 curb rusted"],
        ),
        ("Walking the exhaust fans now.", &[]),
    ]);
}
