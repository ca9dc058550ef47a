//! Plates as technicians dictate them: every value of each, and no other.
#![allow(clippy::unwrap_used, clippy::panic)]

use crate::dictation::said::note;
use crate::dictation::{Lexicon, interpret};
use serde_json::Value;

/// The units and the values of a note.
fn read(said: &str) -> (Vec<String>, Vec<String>) {
    let heard = interpret(&note(said), Lexicon::builtin());
    let plain = |value: &Value| match value {
        Value::Object(o) if o.contains_key("designation") => {
            format!("{}x{}", o["quantity"], o["designation"].as_str().unwrap())
        }
        Value::Object(o) => format!(
            "{}x{}/{}/{}",
            o["quantity"],
            o["width_in"].as_f64().unwrap(),
            o["height_in"].as_f64().unwrap(),
            o["depth_in"].as_f64().unwrap()
        ),
        Value::String(s) => s.clone(),
        Value::Number(n) if n.is_f64() => format!("{}", n.as_f64().unwrap()),
        other => other.to_string(),
    };
    let mut facts: Vec<String> = heard
        .facts
        .iter()
        .map(|f| {
            let field = f.field.rsplit('.').next().unwrap();
            format!("{} {field} {}", f.about, plain(&f.value))
        })
        .collect();
    facts.sort();
    let units = heard.equipment.iter().map(|m| m.tag.clone()).collect();
    (units, facts)
}

/// What is said, the units named, and the values.
type Case = (&'static str, &'static str, &'static str);

fn check(cases: &[Case]) {
    let mut wrong = String::new();
    for (said, units, facts) in cases {
        let (got_units, got) = read(said);
        let list = |text: &str, by: &str| {
            let parts = text.split(by).map(|t| t.trim().to_owned());
            let mut out: Vec<String> = parts.filter(|t| !t.is_empty()).collect();
            out.sort();
            out
        };
        let mut got_units = got_units;
        got_units.sort();
        if got_units != list(units, " ") || got != list(facts, ";") {
            wrong += &format!("{said}\n  {got_units:?}\n  {}\n", got.join("; "));
        }
    }
    assert!(wrong.is_empty(), "read otherwise:\n{wrong}");
}

#[rustfmt::skip]
const CASES: &[Case] = &[
    ("RTU 1. The disconnect is rated a hundred amps, fuses in the disconnect are 40.", "RTU-1", "RTU-1 rating_a 100; RTU-1 fuse_a 40"),
    ("RTU 1. Takes two belts, B a hundred and twelve.", "RTU-1", "RTU-1 belts 2xB112"),
    ("RTU 1. I've got forty for max fuse", "RTU-1", "RTU-1 mocp_a 40"),
    ("RTU 1. MCA would be 24, max breaker is going to be 40", "RTU-1", "RTU-1 mca_a 24; RTU-1 mocp_a 40"),
    ("RTU 1. MCA is listed as 24", "RTU-1", "RTU-1 mca_a 24"),
    ("RTU 1. four sixty three sixty", "RTU-1", "RTU-1 voltage_v 460; RTU-1 phase 3; RTU-1 hertz 60"),
    ("RTU 1. two thirty three sixty", "RTU-1", "RTU-1 voltage_v 230; RTU-1 phase 3; RTU-1 hertz 60"),
    ("RTU 1. 115 V", "RTU-1", "RTU-1 voltage_v 115"),
    ("chiller one eighty tonnes four sixty mca one forty eight max fuse two hundred", "CH-1", "CH-1 capacity_tons 80; CH-1 voltage_v 460; CH-1 mca_a 148; CH-1 mocp_a 200"),
    ("RTU 4 and RTU 24. 24 MCA 30 MOCP", "RTU-4 RTU-24", "RTU-4 mca_a 24; RTU-24 mca_a 24; RTU-4 mocp_a 30; RTU-24 mocp_a 30"),
    ("unit RTU 14 three phase two thirty mca twenty six point four", "RTU-14", "RTU-14 phase 3; RTU-14 voltage_v 230; RTU-14 mca_a 26.4"),
    ("RTU 1. Cooling capacity is 90,000 BTU, so seven and a half tons.", "RTU-1", "RTU-1 capacity_tons 7.5"),
    ("RTU 1. The disconnect has three 25s in it.", "RTU-1", "RTU-1 fuse_a 25"),
    ("RTU 1. Belts are two 5VX900s.", "RTU-1", "RTU-1 belts 2x5VX900"),
    ("RTU 1. I said 10 tons but the plate says 12 and a half.", "RTU-1", "RTU-1 capacity_tons 12.5"),
    ("RTU 1. Phase three, hertz sixty, volts four sixty.", "RTU-1", "RTU-1 hertz 60; RTU-1 phase 3; RTU-1 voltage_v 460"),
    ("RTU 1. Charged with 22 ounces of R-290.", "RTU-1", "RTU-1 charge_lb 1.375; RTU-1 refrigerant R-290"),
    ("RTU 1. Switch is rated 200 amps at 600 volts.", "RTU-1", "RTU-1 rating_a 200; RTU-1 voltage_v 600"),
    ("RTU six, Marlowe and Finch, model M F P 0 4 8 dash B, serial 1 7 K 2 2 0 9 1. 460 volts three phase 60 hertz. MCA 11.2, MOCP 15. Four ton, R-410A, six pounds four ounces. Built 2017.",
     "RTU-6",
     "RTU-6 model MFP048-B; RTU-6 serial 17K22091; RTU-6 voltage_v 460; RTU-6 phase 3; RTU-6 hertz 60; RTU-6 mca_a 11.2; RTU-6 mocp_a 15; RTU-6 capacity_tons 4; RTU-6 refrigerant R-410A; RTU-6 charge_lb 6.25; RTU-6 manufactured_year 2017"),
    ("okay package unit seven | model t k four eight zero z | serial two zero one four h three three one nine | two thirty single phase | min circuit amps thirty one | max fuse forty five | five ton twenty fourteen",
     "RTU-7",
     "RTU-7 model TK480Z; RTU-7 serial 2014H3319; RTU-7 voltage_v 230; RTU-7 phase 1; RTU-7 mca_a 31; RTU-7 mocp_a 45; RTU-7 capacity_tons 5; RTU-7 manufactured_year 2014"),
    ("Exhaust fan four. Serial 88123 and the motor's noisy. 115 volt single phase, MCA 6, max 15. Belt A thirty two, just the one.",
     "EF-4",
     "EF-4 serial 88123; EF-4 voltage_v 115; EF-4 phase 1; EF-4 mca_a 6; EF-4 mocp_a 15; EF-4 belts 1xA32"),
    ("alright next to the chiller is heat pump two, that's a three and a half ton, two oh eight two thirty single phase, minimum circuit twenty three point four, max breaker thirty five, twenty nineteen",
     "HP-2",
     "HP-2 capacity_tons 3.5; HP-2 voltage_v 208; HP-2 phase 1; HP-2 mca_a 23.4; HP-2 mocp_a 35; HP-2 manufactured_year 2019"),
    ("condensing unit three and condensing unit four, same on both: 208 three phase, MCA 33, MOCP 50, R-404A. serial on three is C 4 4 D 1 0 and serial on four is C 4 4 D 1 1",
     "CU-3 CU-4",
     "CU-3 voltage_v 208; CU-4 voltage_v 208; CU-3 phase 3; CU-4 phase 3; CU-3 mca_a 33; CU-4 mca_a 33; CU-3 mocp_a 50; CU-4 mocp_a 50; CU-3 refrigerant R-404A; CU-4 refrigerant R-404A; CU-3 serial C44D10; CU-4 serial C44D11"),
    ("RTU-12 nameplate: 575/3/60, MCA 19.4, MOCP 25, 10 tons, 2022.",
     "RTU-12",
     "RTU-12 voltage_v 575; RTU-12 phase 3; RTU-12 hertz 60; RTU-12 mca_a 19.4; RTU-12 mocp_a 25; RTU-12 capacity_tons 10; RTU-12 manufactured_year 2022"),
    ("supply fan one two belts b ninety seven both look good filters eight of twenty four by twenty four by four",
     "SF-1",
     "SF-1 belts 2xB97; SF-1 filters 8x24/24/4"),
    ("filters on rtu two are twenty by twenty by two and there's six of them",
     "RTU-2",
     "RTU-2 filters 6x20/20/2"),
    ("rooftop unit nine thirty ton unit serial number w w one nine four four eight three phase four sixty",
     "RTU-9",
     "RTU-9 capacity_tons 30; RTU-9 serial WW19448; RTU-9 phase 3; RTU-9 voltage_v 460"),
    ("chiller two four eighty three phase a hundred and fifty ton r one thirty four a two circuits disconnect is four hundred amp fused at three fifty",
     "CH-2",
     "CH-2 voltage_v 480; CH-2 phase 3; CH-2 capacity_tons 150; CH-2 refrigerant R-134a; CH-2 rating_a 400; CH-2 fuse_a 350"),
    ("EF-5: no plate on it. Disconnect 30 amp non fused, within sight, six feet away.",
     "EF-5",
     "EF-5 rating_a 30; EF-5 distance_ft 6"),
    ("R T U eleven, twelve and a half ton, four eighty, three phase, em see a twenty eight point six mocp forty",
     "RTU-11",
     "RTU-11 capacity_tons 12.5; RTU-11 voltage_v 480; RTU-11 phase 3; RTU-11 mca_a 28.6; RTU-11 mocp_a 40"),
    ("heat pump four, the disconnect's about ten feet off to the left, sixty amp, fused with forty fives. MCA thirty six. No, sorry, thirty eight.",
     "HP-4",
     "HP-4 distance_ft 10; HP-4 rating_a 60; HP-4 fuse_a 45; HP-4 mca_a 38"),
    ("makeup air unit two gas input six hundred thousand two belts five v x seven ten filters are two inch pleated twelve of them sixteen by twenty five",
     "MAU-2",
     "MAU-2 gas_input_btuh 600000; MAU-2 belts 2x5VX710; MAU-2 filters 12x16/25/2"),
    ("DOAS two says 480 3 phase, MCA 52, max fuse 70, heating input 300 MBH, 2018",
     "DOAS-2",
     "DOAS-2 voltage_v 480; DOAS-2 phase 3; DOAS-2 mca_a 52; DOAS-2 mocp_a 70; DOAS-2 gas_input_btuh 300000; DOAS-2 manufactured_year 2018"),
    ("mini split five, one and a half ton, two thirty single phase, M C A 15, max breaker 20, R 410 A, three pounds two ounces",
     "DU-5",
     "DU-5 capacity_tons 1.5; DU-5 voltage_v 230; DU-5 phase 1; DU-5 mca_a 15; DU-5 mocp_a 20; DU-5 refrigerant R-410A; DU-5 charge_lb 3.125"),
    ("package unit three two belts a fifty one. scratch that, it's one belt. a fifty one",
     "RTU-3",
     "RTU-3 belts 1xA51"),
    ("unit four. it's a twenty twelve, uh, seven and a half ton, R twenty two, eight pounds. Filters four 16 by 25 by 2. make that three.",
     "RTU-4",
     "RTU-4 manufactured_year 2012; RTU-4 capacity_tons 7.5; RTU-4 refrigerant R-22; RTU-4 charge_lb 8; RTU-4 filters 3x16/25/2"),
    ("RTU 1, RTU 2, RTU 3, all three are two oh eight three phase, five ton, R-410A",
     "RTU-1 RTU-2 RTU-3",
     "RTU-1 voltage_v 208; RTU-2 voltage_v 208; RTU-3 voltage_v 208; RTU-1 phase 3; RTU-2 phase 3; RTU-3 phase 3; RTU-1 capacity_tons 5; RTU-2 capacity_tons 5; RTU-3 capacity_tons 5; RTU-1 refrigerant R-410A; RTU-2 refrigerant R-410A; RTU-3 refrigerant R-410A"),
    ("rooftop one is a two thousand nine and rooftop two is a two thousand eleven, both are twenty ton",
     "RTU-1 RTU-2",
     "RTU-1 manufactured_year 2009; RTU-2 manufactured_year 2011; RTU-1 capacity_tons 20; RTU-2 capacity_tons 20"),
    ("cooling tower one, fan motor's fifteen horse, four sixty three phase, belts three of b x eighty",
     "CT-1",
     "CT-1 voltage_v 460; CT-1 phase 3; CT-1 belts 3xBX80"),
    ("evap cooler two. one twenty volt. Motor's three quarter horse. Belt four L five fifty. Pads are shot.",
     "EC-2",
     "EC-2 voltage_v 120; EC-2 belts 1x4L550"),
    ("we're on CU five, it's a split for the walk in, model number's K B 2 2 X dash 1, serial's 0 6 0 3 7 7 1 2. 2006. 208 to 230, single phase. MCA 17.8. Max fuse 30. R404A, 9 pounds.",
     "CU-5",
     "CU-5 model KB22X-1; CU-5 serial 06037712; CU-5 manufactured_year 2006; CU-5 voltage_v 208; CU-5 phase 1; CU-5 mca_a 17.8; CU-5 mocp_a 30; CU-5 refrigerant R-404A; CU-5 charge_lb 9"),
    ("package unit eight disconnect is a sixty amp fused at fifty, mca forty one point two, mocp fifty, ser number on it is seven seven four one b",
     "RTU-8",
     "RTU-8 rating_a 60; RTU-8 fuse_a 50; RTU-8 mca_a 41.2; RTU-8 mocp_a 50; RTU-8 serial 7741B"),
    ("RTU fifteen. Serial number couldn't read. Model's H K 1 5 0 A. Three phase. Two oh eight. Fifteen ton.",
     "RTU-15",
     "RTU-15 model HK150A; RTU-15 phase 3; RTU-15 voltage_v 208; RTU-15 capacity_tons 15"),
    ("roof top unit 3, 200 and 8 volt, 3 phase, MCA 20 4, Max fuse 30 5",
     "RTU-3",
     "RTU-3 voltage_v 208; RTU-3 phase 3; RTU-3 mca_a 24; RTU-3 mocp_a 35"),
    ("our to you two, mc a eighteen, mock p twenty five, two hundred eight volt three phase",
     "RTU-2",
     "RTU-2 mca_a 18; RTU-2 mocp_a 25; RTU-2 voltage_v 208; RTU-2 phase 3"),
    ("exhaust van three, one fifteen single face, belt is a 38, thirty am disconnect",
     "EF-3",
     "EF-3 voltage_v 115; EF-3 phase 1; EF-3 belts 1xA38; EF-3 rating_a 30"),
    ("rtu four disconnect thirty amp fused at twenty five and rtu five disconnect sixty amp fused at fifty",
     "RTU-4 RTU-5",
     "RTU-4 rating_a 30; RTU-4 fuse_a 25; RTU-5 rating_a 60; RTU-5 fuse_a 50"),
    ("unit two's at the north end, four ton, and unit three's a five ton, both of 'em R-22, both 2008",
     "RTU-2 RTU-3",
     "RTU-2 capacity_tons 4; RTU-3 capacity_tons 5; RTU-2 refrigerant R-22; RTU-3 refrigerant R-22; RTU-2 manufactured_year 2008; RTU-3 manufactured_year 2008"),
    ("heat pump six manufactured oh seven of twenty thirteen charge is seven pounds eight ounces of r four ten a",
     "HP-6",
     "HP-6 manufactured_year 2013; HP-6 charge_lb 7.5; HP-6 refrigerant R-410A"),
    ("RTU ten. 460 volt. Fifty feet from the edge. Disconnect's on the unit, one hundred amp, eighty amp fuses.",
     "RTU-10",
     "RTU-10 voltage_v 460; RTU-10 rating_a 100; RTU-10 fuse_a 80"),
    ("makeup air unit two gas input six hundred thousand two belts five v x seven ten",
     "MAU-2",
     "MAU-2 gas_input_btuh 600000; MAU-2 belts 2x5VX710"),
    ("rooftop one is a two thousand nine and rooftop two is a two thousand eleven, both are twenty ton",
     "RTU-1 RTU-2",
     "RTU-1 manufactured_year 2009; RTU-2 manufactured_year 2011; RTU-1 capacity_tons 20; RTU-2 capacity_tons 20"),
    ("unit two's at the north end, four ton, and unit three's a five ton, both of 'em R-22, both 2008",
     "RTU-2 RTU-3",
     "RTU-2 capacity_tons 4; RTU-3 capacity_tons 5; RTU-2 refrigerant R-22; RTU-3 refrigerant R-22; RTU-2 manufactured_year 2008; RTU-3 manufactured_year 2008"),
    ("are tea for over here two oh eight three phase ~ r t u four over here two oh eight three phase",
     "RTU-4",
     "RTU-4 voltage_v 208; RTU-4 phase 3"),
    ("exhaust fan won ~ exhaust fan one | to belts b sixty two both cracked ~ two belts b sixty two both cracked",
     "EF-1",
     "EF-1 belts 2xB62"),
    ("exhaust fan one | to belts b sixty two both cracked",
     "EF-1",
     "EF-1 belts 2xB62"),
    ("lost fan three belt is cracked ~ exhaust fan three belt is cracked",
     "EF-3",
     ""),
    ("package unit two, MCA twenty ~ package unit two, MCA thirty",
     "RTU-2",
     "RTU-2 mca_a 20"),
    ("he pump for is a three ton | two thirty single phase",
     "HP-4",
     "HP-4 capacity_tons 3; HP-4 voltage_v 230; HP-4 phase 1"),
    ("rooftop unit aid, serial one two three, and, model's T B six",
     "RTU-8",
     "RTU-8 serial 123; RTU-8 model TB6"),
    ("this is R T U number nine. It's a ton and a half, made oh six slash twenty eighteen.",
     "RTU-9",
     "RTU-9 capacity_tons 1.5; RTU-9 manufactured_year 2018"),
    ("RTU-7: Model# QV-090-3A, Serial# QV2208114. 208-230V/3PH/60Hz, MCA: 35.2A, MOCP: 50A.",
     "RTU-7",
     "RTU-7 model QV-090-3A; RTU-7 serial QV2208114; RTU-7 voltage_v 208; RTU-7 phase 3; RTU-7 hertz 60; RTU-7 mca_a 35.2; RTU-7 mocp_a 50"),
    ("RTU seven, forty feet of gas pipe's rusted. disconnect is three feet from the unit.",
     "RTU-7",
     "RTU-7 distance_ft 3"),
    ("EF-2, belt's an A38. There's two of them. Fan runs one fifteen.",
     "EF-2",
     "EF-2 belts 2xA38"),
    ("okay chiller one model number r c h zero six zero l e serial number g seven dash four one four. four sixty three phase m c a one thirty four max fuse one seventy five",
     "CH-1",
     "CH-1 model RCH060LE; CH-1 serial G7-414; CH-1 voltage_v 460; CH-1 phase 3; CH-1 mca_a 134; CH-1 mocp_a 175"),
    ("unit eight uses six filters, sixteen by twenty five by two, and one belt, b forty eight",
     "RTU-8",
     "RTU-8 filters 6x16/25/2; RTU-8 belts 1xB48"),
    ("on the RTU four the date's twenty oh eight",
     "RTU-4",
     "RTU-4 manufactured_year 2008"),
    ("the max breaker on package unit one is thirty and min circuit's twenty two point five, 2021 model",
     "RTU-1",
     "RTU-1 mocp_a 30; RTU-1 mca_a 22.5; RTU-1 manufactured_year 2021"),
    ("the roof hatch is by RTU two about ten feet away. RTU two disconnect thirty amp.",
     "RTU-2",
     "RTU-2 rating_a 30"),
    ("package unit two belts are two b x fifty fours. filters, four of 'em, twenty by twenty five by two.",
     "RTU-2",
     "RTU-2 belts 2xBX54; RTU-2 filters 4x20/25/2"),
    ("right this is the F two, one motor one belt, 4L 460. Twenty sixteen.",
     "EF-2",
     "EF-2 belts 1x4L460; EF-2 manufactured_year 2016"),
    ("supply fan three, one belt a sixty eight, no wait, a sixty six",
     "SF-3",
     "SF-3 belts 1xA66"),
    ("HP-1. 208 single phase, disconnect's a thirty amp, four foot away, fused at twenty five. 2015.",
     "HP-1",
     "HP-1 voltage_v 208; HP-1 phase 1; HP-1 rating_a 30; HP-1 distance_ft 4; HP-1 fuse_a 25; HP-1 manufactured_year 2015"),
    ("condensing unit 2, B T 3 6 H P is the model, two thirty single phase, two ton, R22",
     "CU-2",
     "CU-2 model BT36HP; CU-2 voltage_v 230; CU-2 phase 1; CU-2 capacity_tons 2; CU-2 refrigerant R-22"),
    ("condensing units one and two side by side, same model b k r six l | one is serial b one one d two zero four one eight and two is b one one d two zero four one nine | both of them two oh eight three phase m c a forty two m o c p sixty | disconnects are sixty amp fused at sixty on the pair of them",
     "CU-1 CU-2",
     "CU-1 model BKR6L; CU-2 model BKR6L; CU-1 serial B11D20418; CU-2 serial B11D20419; CU-1 voltage_v 208; CU-2 voltage_v 208; CU-1 phase 3; CU-2 phase 3; CU-1 mca_a 42; CU-2 mca_a 42; CU-1 mocp_a 60; CU-2 mocp_a 60; CU-1 rating_a 60; CU-2 rating_a 60; CU-1 fuse_a 60; CU-2 fuse_a 60"),
    ("Chiller one. Model V C H 0 3 0 dash 4, serial 1 2 V C 8 8 4 0 dash B. | 460, three phase, MCA seventy one, max overcurrent one hundred. Thirty ton, 2012. | Hundred amp disconnect, fused at a hundred, it's eight foot off the end.",
     "CH-1",
     "CH-1 model VCH030-4; CH-1 serial 12VC8840-B; CH-1 voltage_v 460; CH-1 phase 3; CH-1 mca_a 71; CH-1 mocp_a 100; CH-1 capacity_tons 30; CH-1 manufactured_year 2012; CH-1 rating_a 100; CH-1 fuse_a 100; CH-1 distance_ft 8"),
    ("Heat pump one. Model B H P 3 6, serial B 1 5 H 0 7 7 3 2. 208 single phase, three ton.",
     "HP-1",
     "HP-1 model BHP36; HP-1 serial B15H07732; HP-1 voltage_v 208; HP-1 phase 1; HP-1 capacity_tons 3"),
    ("RTU two serial h two two m one one two nine six | four sixty volt three phase | ten ton twenty sixteen",
     "RTU-2",
     "RTU-2 serial H22M11296; RTU-2 voltage_v 460; RTU-2 phase 3; RTU-2 capacity_tons 10; RTU-2 manufactured_year 2016"),
    ("are to you three over on the west side | h b r one zero zero c three serial h two four b zero five five three one | minimum circuit thirty eight max over current fifty | eight and a half ton",
     "RTU-3",
     "RTU-3 model HBR100C3; RTU-3 serial H24B05531; RTU-3 mca_a 38; RTU-3 mocp_a 50; RTU-3 capacity_tons 8.5"),
    ("Package unit four. Filters, two at twenty by twenty by one. No, sorry, make that three, three of them.",
     "RTU-4",
     "RTU-4 filters 3x20/20/1"),
    ("RTU one, seven and a half ton. RTU two, older, twenty eleven, same tonnage.",
     "RTU-1 RTU-2",
     "RTU-1 capacity_tons 7.5; RTU-2 manufactured_year 2011; RTU-2 capacity_tons 7.5"),
    ("package unit two one belt b x fifty four. package unit three is fine. scratch what i said about two the belt's a b x fifty two",
     "RTU-2 RTU-3",
     "RTU-2 belts 1xBX52"),
    ("RTU five four twenty by twenty by twos. RTU six filters same as five.",
     "RTU-5 RTU-6",
     "RTU-5 filters 4x20/20/2; RTU-6 filters 4x20/20/2"),
    ("RTU eight. Disconnect is 60 amp, no weight, correction, 30 amp, fuse in our 25 amp.",
     "RTU-8",
     "RTU-8 rating_a 30; RTU-8 fuse_a 25"),
    ("DOAS one. Three phase, four eighty. Next one over is rooftop unit 11. MCA 20.",
     "DOAS-1 RTU-11",
     "DOAS-1 phase 3; DOAS-1 voltage_v 480; RTU-11 mca_a 20"),
    ("okay next mid-slit can answer number two, 230 volt, single phase, MC-15, max-fused | 20",
     "DU-2",
     "DU-2 voltage_v 230; DU-2 phase 1; DU-2 mca_a 15; DU-2 mocp_a 20"),
    ("exhaust fan 2, the belt is cracked and the belt size is a 42, there is just one",
     "EF-2",
     "EF-2 belts 1xA42"),
    ("one hose bib on the west wall at grade and no water up here at all. RTU one.",
     "RTU-1",
     "site water_source hose_bib"),
];

#[test]
fn plates_are_read_whole() {
    check(CASES);
}
