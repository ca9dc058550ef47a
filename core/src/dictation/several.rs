//! Notes that speak of several units: whose each finding is.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::said::{note, told};
use super::{Lexicon, interpret};

/// What is said, and "unit part condition" of every finding.
#[rustfmt::skip]
const NOTES: &[(&str, &str)] = &[
    ("RTU-1 has a torn screen. The next one, RTU-2, is fine except the belt is worn.", "RTU-1 outdoor_air_screen torn; RTU-2 belt worn"),
    ("Rooftop units one, two and three all have dirty filters. Only two has a bent rack.", "RTU-1 filter dirty; RTU-2 filter dirty; RTU-3 filter dirty; RTU-2 filter_rack bent"),
    ("On exhaust fan one the belt is loose, and on exhaust fan two it is cracked.", "EF-1 belt loose; EF-2 belt cracked"),
    ("CU-1 and CU-2: dirty coils on both. CU-2 also has a loose fan guard.", "CU-1 condenser_coil dirty; CU-2 condenser_coil dirty; CU-2 fan_guard loose"),
    ("Heat pump one, fine. Heat pump two, coil is clogged. Heat pump three, missing access panel.", "HP-2 condenser_coil clogged; HP-3 access_panel missing"),
    ("The first package unit, that's RTU-4, has a rusted curb. The second, RTU-5, has a leaking drain pan.", "RTU-4 curb rusted; RTU-5 drain_pan leaking"),
    ("RTU six and RTU seven both have frayed belts. Six has a noisy bearing too.", "RTU-6 belt frayed; RTU-7 belt frayed; RTU-6 bearing noisy"),
    ("Moving on to makeup air unit one. Flue cap is missing.", "MAU-1 flue_cap missing"),
    ("This is condensing unit number four. Its disconnect is rusted. Its line insulation is gone.", "CU-4 disconnect rusted; CU-4 line_insulation missing"),
    ("Exhaust fans 1 through 3 have good belts.", "EF-1 belt good; EF-2 belt good; EF-3 belt good"),
    ("RTU 8: bearing noisy. Same on RTU 9.", "RTU-8 bearing noisy; RTU-9 bearing noisy"),
    ("RTU-10's belt is cracked; RTU-11's is fine.", "RTU-10 belt cracked; RTU-11 belt good"),
    ("Back to RTU-1, I forgot, the nameplate is missing.", "RTU-1 nameplate missing"),
    ("Supply fan 2, then. The motor is noisy. Next is supply fan 3, where the sheave is worn.", "SF-2 motor noisy; SF-3 sheave worn"),
    ("The chiller, CH-1, has oil stains on the refrigerant line.", "CH-1 refrigerant_line oil_stained"),
    ("For unit five the coil is dirty. For unit six the coil is clean.", "RTU-5 condenser_coil dirty; RTU-6 condenser_coil good"),
    ("Evaporative cooler one drips from the pan. Cooler two does not leak.", "EC-1 drain_pan leaking"),
    ("RTU 1 is okay. RTU 2 is not running, the compressor is off.", "RTU-2 compressor not_running"),
    ("Cooling tower two has a rusted drain pan and the fan guard on tower one is loose.", "CT-2 drain_pan rusted; CT-1 fan_guard loose"),
    ("DU-1 and DU-2 have no supports under their line sets.", "DU-1 refrigerant_line unsupported; DU-2 refrigerant_line unsupported"),
    ("DOAS one. Evaporator coil frosted. Filters dirty. On to DOAS two. Economizer stuck.", "DOAS-1 evaporator_coil frosted; DOAS-1 filter dirty; DOAS-2 economizer broken"),
    ("Unit 12 has hail damage on the coil, unit 13 does not.", "RTU-12 condenser_coil hail_dented"),
    ("The disconnects on RTU-1, RTU-2 and RTU-3 are not labeled.", "RTU-1 disconnect unlabelled; RTU-2 disconnect unlabelled; RTU-3 disconnect unlabelled"),
    ("At EF-9 the curb is cracked. Two feet away at EF-10 the curb is fine.", "EF-9 curb cracked; EF-10 curb good"),
    ("RTU 2's drain is clogged, RTU 3's trap is cracked, and RTU 4 has no trap.", "RTU-2 condensate_drain clogged; RTU-3 condensate_trap cracked; RTU-4 condensate_trap missing"),
    ("The belts on EF 1, EF 2, EF 3, EF 4 and EF 5 are cracked.", "EF-1 belt cracked; EF-2 belt cracked; EF-3 belt cracked; EF-4 belt cracked; EF-5 belt cracked"),
    ("RTU 14 nameplate weathered. RTU 15 nameplate weathered. fourteen conduit loose at the whip fifteen conduit disconnected fourteen receptacle broken", "RTU-14 nameplate weathered; RTU-15 nameplate weathered; RTU-14 conduit loose; RTU-15 conduit disconnected; RTU-14 receptacle broken"),
    ("RTU no. 2 curb is rusted. Exhaust fan no. 3, belt is worn.", "RTU-2 curb rusted; EF-3 belt worn"),
    ("Heat pumps nine, ten and eleven, all in a row. Nine: cabinet loose. Ten: coil clean. Eleven: frost on the outdoor coil. Nine again: conduit broken.", "HP-9 cabinet loose; HP-10 condenser_coil good; HP-11 condenser_coil frosted; HP-9 conduit broken"),
    ("Exhaust fans. One: bearing howling. Two: belt worn.", "EF-1 bearing noisy; EF-2 belt worn"),
    ("CU-7. Fan guard bent. Eight next to it, coil fins flattened by hail.", "CU-7 fan_guard bent; CU-8 condenser_coil hail_dented"),
    ("EF-3. Belt is frayed. On five the belt is gone completely.", "EF-3 belt frayed; EF-5 belt missing"),
    ("RTU ten through twelve, filters are two inch. Dirty on ten, eleven and twelve.", "RTU-10 filter dirty; RTU-11 filter dirty; RTU-12 filter dirty"),
    ("The flashing on unit seven's curb is split.", "RTU-7 flashing split"),
    ("RTU-1 and RTU-2. Going to two, the filter rack is bent.", "RTU-2 filter_rack bent"),
    ("Chiller one. Fan four isn't turning and fan seven's guard is bent.", "CH-1 condenser_fan not_running; CH-1 fan_guard bent"),
    ("RTU 3. RTU 4. on for the coil is hail dented", "RTU-4 condenser_coil hail_dented"),
    ("Unit eleven next door, the belt is glazed.", "RTU-11 belt glazed"),
    ("RTU-6 and RTU-7. Max breaker thirty | six has a leak in the condensate pan | seven's drain is fine", "RTU-6 drain_pan leaking; RTU-7 condensate_drain good"),
    ("RTU six and RTU seven. | on seven only the belt is cracked", "RTU-7 belt cracked"),
    ("RTU-7 takes four filters, 20 by 25 by 2. RTU-8 takes six filters, 16 by 20 by 2. Both are dirty.", "RTU-7 filter dirty; RTU-8 filter dirty"),
];

#[test]
fn each_finding_is_of_its_unit() {
    for (said, wanted) in NOTES {
        let heard = interpret(&note(said), Lexicon::builtin());
        let mut findings: Vec<String> = heard.findings.iter().map(told).collect();
        let mut wanted: Vec<&str> = wanted.split("; ").collect();
        findings.sort();
        wanted.sort_unstable();
        assert_eq!(findings, wanted, "{said}");
    }
}
