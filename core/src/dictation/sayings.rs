//! Single sentences behind the name of a unit, as technicians say them, and what each tells: a
//! part with its condition, or a danger.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::said::note;
use super::{Interpretation, Lexicon, interpret};

fn heard(said: &str) -> Interpretation {
    interpret(&note(&format!("RTU-1.|{said}")), Lexicon::builtin())
}

/// "part condition", with "absent" or "suspected" behind it; of RTU-1, or of the site.
#[rustfmt::skip]
const FINDINGS: &[(&str, &str)] = &[
    ("The outdoor air screen has a big rip down the middle.", "RTU-1 outdoor_air_screen torn"),
    ("Two of the access panels are missing screws.", "RTU-1 access_panel loose_fasteners"),
    ("The condenser fins are mashed flat on the lower third.", "RTU-1 condenser_coil bent"),
    ("Grease is dripping out of the bearing housing.", "RTU-1 bearing leaking"),
    ("Insulation on the suction line is completely gone.", "RTU-1 line_insulation missing"),
    ("The belt has a shine on it.", "RTU-1 belt glazed"),
    ("The belt is down to threads.", "RTU-1 belt frayed"),
    ("The belt squeals when it starts.", "RTU-1 belt noisy"),
    ("Sheave grooves are worn down to a knife edge.", "RTU-1 sheave worn"),
    ("The blower wheel is caked with flour.", "RTU-1 blower dirty"),
    ("One condenser fan blade is chipped.", "RTU-1 condenser_fan damaged"),
    ("The condenser fan wobbles on its shaft.", "RTU-1 condenser_fan vibrating"),
    ("The fan guard is held on with zip ties.", "RTU-1 fan_guard unsecured"),
    ("There is no cover on the control box.", "RTU-1 control_cover missing"),
    ("The nameplate has faded so much I cannot read it.", "RTU-1 nameplate weathered"),
    ("The nameplate is painted over.", "RTU-1 nameplate obstructed"),
    ("The economizer linkage is disconnected.", "RTU-1 economizer disconnected"),
    ("The outside air damper is rusted solid.", "RTU-1 outdoor_air_damper rusted"),
    ("The filter rack is bent so air goes round the filters.", "RTU-1 filter_rack bent"),
    ("The evaporator coil is a block of ice.", "RTU-1 evaporator_coil frosted"),
    ("The drain pan is standing full of slime.", "RTU-1 drain_pan clogged"),
    ("The condensate just runs out on the roof.", "RTU-1 condensate_drain leaking"),
    ("There is no trap on the drain.", "RTU-1 condensate_trap missing"),
    ("The trap is too shallow.", "RTU-1 condensate_trap wrong_size"),
    ("Gas pipe is not supported for about ten feet.", "RTU-1 gas_piping unsupported"),
    ("The flue cap blew off.", "RTU-1 flue_cap missing"),
    ("Soot around the flue cap.", "RTU-1 flue_cap dirty"),
    ("The disconnect handle is broken.", "RTU-1 disconnect broken"),
    ("The disconnect has no marking on it.", "RTU-1 disconnect unlabelled"),
    ("The conduit has pulled out of the box.", "RTU-1 conduit disconnected"),
    ("The flex conduit is cracked open and wires show.", "RTU-1 conduit cracked"),
    ("The thermostat wire is chewed through.", "RTU-1 control_wiring damaged"),
    ("Low voltage wiring is hanging loose.", "RTU-1 control_wiring loose"),
    ("The wire insulation is melted at the lug.", "RTU-1 wiring burnt"),
    ("The receptacle has no cover.", "RTU-1 receptacle missing"),
    ("The outlet does not work.", "RTU-1 receptacle broken"),
    ("The curb is rotted on the north side.", "RTU-1 curb damaged"),
    ("Flashing has pulled away from the curb.", "RTU-1 flashing loose"),
    ("The duct seam has opened up.", "RTU-1 duct split"),
    ("Duct wrap is hanging in strips.", "RTU-1 duct_insulation torn"),
    ("The spring isolator is collapsed.", "RTU-1 vibration_isolator broken"),
    ("Oil around the service valve.", "RTU-1 refrigerant_line oil_stained"),
    ("The suction line is sweating and iced up.", "RTU-1 refrigerant_line frosted"),
    ("Hail beat up the whole coil face.", "RTU-1 condenser_coil hail_dented"),
    ("The coil is plugged with cottonwood.", "RTU-1 condenser_coil clogged"),
    ("Cabinet has rusted through at the base.", "RTU-1 cabinet rusted"),
    ("The panel latch is broken.", "RTU-1 access_panel broken"),
    ("A leaf pile blocks the intake screen.", "RTU-1 outdoor_air_screen obstructed"),
    ("The heat exchanger shows a crack on the second tube.", "RTU-1 heat_exchanger cracked"),
    ("The bearings growl.", "RTU-1 bearing noisy"),
    ("The motor is scorched.", "RTU-1 motor burnt"),
    ("The lights on the roof are out.", "site lighting not_running"),
    ("One walkway pad has blown away.", "site walkway_pad missing"),
    ("The hatch lid will not latch.", "site hatch broken"),
    ("The hatch gasket is torn.", "site hatch torn"),
    ("The parapet coping is loose.", "site parapet loose"),
    ("Water stands in the middle of the roof.", "site roof_surface ponding"),
    ("There is a blister in the membrane.", "site roof_membrane damaged"),
    ("The membrane has come unglued at the seam.", "site roof_membrane split"),
    ("The roof drain strainer is missing.", "site roof_drain missing"),
    ("Junk all over the roof.", "site roof_surface debris"),
    ("Coil is clean.", "RTU-1 condenser_coil good"),
    ("All panels are tight.", "RTU-1 access_panel good"),
    ("The compressor is in good shape.", "RTU-1 compressor good"),
    ("No sign of oil at the compressor.", "RTU-1 compressor oil_stained absent"),
    ("There are no leaks at the drain pan.", "RTU-1 drain_pan leaking absent"),
    ("The heat exchanger may be cracked.", "RTU-1 heat_exchanger cracked suspected"),
    ("Sounds like a bearing going out.", "RTU-1 bearing noisy suspected"),
    ("I think somebody bent the fan guard.", "RTU-1 fan_guard bent suspected"),
    ("The damper seems stuck.", "RTU-1 outdoor_air_damper broken suspected"),
    ("The belt is the wrong length.", "RTU-1 belt wrong_size"),
    ("The fuses are too big for the plate.", "RTU-1 disconnect wrong_size"),
    ("Filters do not fit the rack.", "RTU-1 filter wrong_size"),
    ("The drain is held up with a brick.", "RTU-1 condensate_drain unsupported"),
    ("Conduit lies on the roof with no blocks.", "RTU-1 conduit unsupported"),
    ("The whole unit shakes.", "RTU-1 cabinet vibrating"),
    ("The fan will not run.", "RTU-1 condenser_fan not_running"),
    ("The blower is not turning.", "RTU-1 blower not_running"),
    ("The motor has seized.", "RTU-1 motor broken"),
    ("The sheave is wobbling.", "RTU-1 sheave vibrating"),
    ("The belt is slack.", "RTU-1 belt loose"),
];

/// "kind", and the unit if it is of one.
#[rustfmt::skip]
const DANGERS: &[(&str, &str)] = &[
    ("The east edge has no guardrail.", "unprotected_edge"),
    ("There is no parapet on the north side.", "unprotected_edge"),
    ("The parapet is only eight inches high on the alley side.", "unprotected_edge"),
    ("The unit sits three feet from an open edge.", "unprotected_edge RTU-1"),
    ("Nothing stops you going over the west edge.", "unprotected_edge"),
    ("Low parapet along the whole south side, watch your step.", "unprotected_edge"),
    ("The skylight has no cage or screen.", "unguarded_opening"),
    ("Two skylights are unguarded.", "unguarded_opening"),
    ("There is an open hole in the deck where a unit was removed.", "unguarded_opening"),
    ("The roof hatch has no railing around it.", "unguarded_opening"),
    ("The hatch was left open with nothing around it.", "unguarded_opening"),
    ("The ladder is not tied off.", "ladder_access"),
    ("The disconnect is live with the cover off.", "live_electrical RTU-1"),
    ("There is a live bus exposed in the control box.", "live_electrical RTU-1"),
    ("I measured voltage on the cabinet.", "live_electrical RTU-1"),
    ("The wire nuts are off and copper is showing.", "exposed_wiring RTU-1"),
    ("Conduit runs across the walkway, you could trip on it.", "trip"),
    ("Loose pavers by the hatch, easy to trip.", "trip"),
    ("Extension cords are strewn over the roof, watch your feet.", "trip"),
    ("The roof is icy by the stairs.", "slippery_surface"),
    ("The flue is too hot to touch.", "hot_surface RTU-1"),
    ("Discharge line will burn you.", "hot_surface RTU-1"),
    ("The exhaust stack is scalding hot.", "hot_surface RTU-1"),
    ("I can smell gas.", "gas_leak RTU-1"),
    ("There is a gas smell at the regulator.", "gas_leak RTU-1"),
    ("Strong odor of gas near the burner.", "gas_leak RTU-1"),
    ("A power line crosses about ten feet above the roof.", "overhead_line"),
    ("Overhead power lines are close to the ladder.", "overhead_line"),
    ("Utility lines hang low over the east side.", "overhead_line"),
    ("It is over a hundred degrees up here, take water.", "weather_heat"),
    ("The heat is brutal today, no shade.", "weather_heat"),
    ("Lightning in the distance, we need to get down.", "other"),
    ("Very windy, hard to stand.", "other"),
    ("There is a wasp nest in the disconnect.", "stinging_insects RTU-1"),
    ("Hornets under the hood.", "stinging_insects RTU-1"),
    ("Bees are swarming around the cabinet.", "stinging_insects RTU-1"),
    ("Yellow jackets by the access panel.", "stinging_insects RTU-1"),
    ("You have to crawl into the plenum, it is a confined space.", "confined_space RTU-1"),
    ("The deck is soft under foot.", "structural"),
    ("The roof deck sags near the drain.", "structural"),
    ("The roof feels spongy by the hatch.", "structural"),
];

#[test]
fn each_sentence_tells_its_finding() {
    for (said, wanted) in FINDINGS {
        let found = heard(said).findings.into_iter().map(|f| {
            let (part, fault) = (f.component.code(), f.condition.code());
            let told = format!("{} {part} {fault} {}", f.about, f.certainty.code());
            told.replace(" observed", "")
        });
        let found: Vec<String> = found.collect();
        assert!(found.iter().any(|f| f == wanted), "{said}: {found:?}");
    }
}

#[test]
fn each_sentence_tells_its_danger() {
    for (said, wanted) in DANGERS {
        let found = heard(said).hazards.into_iter().map(|h| match h.about {
            Some(unit) => format!("{} {unit}", h.kind.code()),
            None => h.kind.code().to_owned(),
        });
        assert_eq!(found.collect::<Vec<_>>(), [*wanted], "{said}");
    }
}
