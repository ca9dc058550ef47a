//! Rules and plan against texts printed elsewhere and against an independent computation.
//!
//! `fixtures/trade/published.json` holds outputs and table cells with the text each was printed
//! in; `computed.json` is written by `compute.py` there, which shares no code with this crate;
//! `odd.json` holds odd roofs and plates with verdicts worked out by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use scupper_core::assess::{AssessOptions, Check, assess};
use scupper_core::survey::codes::{AirPointKind, EquipmentKind};
use scupper_core::survey::read::survey_from_json;
use scupper_core::survey::units::*;
use scupper_core::survey::{Loads, Survey};
use scupper_core::trade::refrigerant::Use;
use scupper_core::trade::{
    Limits, Verdict, air, belts, condensate, conductor, disconnect, ladders, nameplate,
    overcurrent, refrigerant, service_life, supply, water, workspace,
};
use serde_json::Value;

fn file(name: &str) -> Value {
    let path = format!("{}/../fixtures/trade/{name}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// One check of a file: what is given, what is expected, what has been compared.
struct Given<'a> {
    given: &'a Value,
    expect: &'a Value,
    whole: &'a Value,
    compared: usize,
}

impl Given<'_> {
    fn number(&self, key: &str) -> f64 {
        self.given[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{key} in {}", self.whole))
    }

    fn text(&self, key: &str) -> &str {
        self.given[key]
            .as_str()
            .unwrap_or_else(|| panic!("{key} in {}", self.whole))
    }

    fn is(&mut self, key: &str, value: f64) {
        let expected = self.expect[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{key} in {}", self.whole));
        let within = self.expect["within"].as_f64().unwrap_or(1e-6);
        assert!(
            (value - expected).abs() <= within,
            "{key} is {value} in {}",
            self.whole
        );
        self.compared += 1;
    }

    fn says(&mut self, key: &str, value: &str) {
        assert_eq!(self.expect[key].as_str(), Some(value), "{}", self.whole);
        self.compared += 1;
    }
}

fn amps(value: f64) -> Amps {
    Amps::new(value).unwrap()
}

fn inches(value: f64) -> Inches {
    Inches::new(value).unwrap()
}

fn feet(value: f64) -> Feet {
    Feet::new(value).unwrap()
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fail => "fail",
        Verdict::Advise => "advise",
        Verdict::Unknown => "unknown",
        Verdict::Pass => "pass",
    }
}

fn loads(given: &Value) -> Loads {
    Loads {
        largest_motor_rla_a: given["largest_a"].as_f64().map(amps),
        other_a: given["others_a"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| amps(v.as_f64().unwrap()))
            .collect(),
    }
}

fn run(kind: &str, c: &mut Given<'_>) {
    match kind {
        "mca" => {
            let mca = nameplate::computed_mca(&loads(c.given)).unwrap();
            c.is("mca_a", mca.get());
            c.says("copper_awg", conductor::smallest_copper(mca).unwrap());
        }
        "protection" => {
            let raw = nameplate::protection(&loads(c.given), c.number("multiple")).unwrap();
            c.is("raw_a", raw.get());
            c.is("standard_a", overcurrent::round_down(raw).get());
        }
        "loads" => {
            let loads = loads(c.given);
            let most = nameplate::largest_protection(&loads).unwrap();
            c.is("mca_a", nameplate::computed_mca(&loads).unwrap().get());
            c.is("raw_a", most.raw.get());
            c.is("mocp_a", most.standard.get());
            let outcome = disconnect::ampacity(Some(amps(30.0)), None, Some(&loads), true);
            c.is("disconnect_a", outcome.required.unwrap().at_least.unwrap());
        }
        "unbalance" => {
            let lines = c.given["lines_v"].as_array().unwrap();
            let lines: Vec<Volts> = lines
                .iter()
                .map(|v| Volts::new(v.as_f64().unwrap()).unwrap())
                .collect();
            c.is("percent", supply::unbalance_percent(&lines).unwrap().get());
        }
        "derating" => {
            let percent = Percent::new(c.number("percent")).unwrap();
            c.is("factor", supply::derating(percent).unwrap());
        }
        "shock" => {
            let volts = Volts::new(c.number("phase_to_phase_v")).unwrap();
            let found = supply::shock_boundaries(volts).unwrap();
            c.is("limited_fixed_in", found.limited_fixed.get());
            c.is("limited_movable_ft", found.limited_movable.get());
            c.is("restricted_in", found.restricted.unwrap().get());
        }
        "belt_length" | "belt_span" => {
            let drive = belts::Drive {
                large: inches(c.number("large_in")),
                small: inches(c.number("small_in")),
                center: inches(c.number("center_in")),
            };
            if kind == "belt_length" {
                c.is("length_in", drive.belt_length().unwrap().get());
            } else {
                let span = drive.span().unwrap();
                c.is("span_in", span.get());
                c.is("deflection_in", belts::deflection(span).get());
            }
        }
        "deflection" => c.is(
            "deflection_in",
            belts::deflection(inches(c.number("span_in"))).get(),
        ),
        "belt_datum" | "belt_outside" | "belt_cross" => {
            let belt = belts::Designation::read(c.text("designation")).unwrap();
            match kind {
                "belt_datum" => c.is("length_in", belt.datum_length().unwrap().get()),
                "belt_outside" => c.is("length_in", belt.outside_length().get()),
                _ => {
                    c.says("other", &belt.cross().unwrap().to_string());
                    c.is("outside_in", belt.outside_length().get());
                }
            }
        }
        "leak_annualized" => {
            let lb = |key: &str| Pounds::new(c.number(key)).unwrap();
            let days = c.number("days") as u32;
            let rate = refrigerant::annualized_rate(lb("added_lb"), lb("charge_lb"), days).unwrap();
            c.is("percent", rate.get());
            let use_ = match c.expect["use"].as_str().unwrap() {
                "comfort_cooling" => Use::ComfortCooling,
                _ => Use::CommercialRefrigeration,
            };
            assert_eq!(
                c.expect["exceeds"].as_bool(),
                Some(use_.exceeded_by(rate)),
                "{}",
                c.whole
            );
            c.compared += 1;
        }
        "set_back" => c.is(
            "set_back_ft",
            ladders::set_back(feet(c.number("working_length_ft"))).get(),
        ),
        "ladder" => {
            let setting = ladders::setting(feet(c.number("eave_ft")));
            c.is("working_ft", setting.working_length.get());
            c.is("set_back_ft", setting.set_back.get());
            c.is("rail_ft", setting.rail_length.get());
            c.is("angle_deg", setting.angle_deg);
        }
        "standard_size" => {
            let outcome = overcurrent::standard_size(Some(amps(c.number("fuse_a"))));
            c.says("verdict", word(outcome.verdict));
        }
        "copper" => {
            let found = conductor::ampacity(c.text("awg"), c.number("ambient_c")).unwrap();
            c.is("ampacity_a", found.get());
        }
        "drain" => {
            let tons = Tons::new(c.number("tons")).unwrap();
            c.is("size_in", condensate::required_drain(tons).unwrap().get());
        }
        "intake" => {
            let outlet = air::OutletSeen {
                name: "outlet".to_owned(),
                kind: AirPointKind::from_code(c.text("kind")),
                distance: SpanFt::exact(c.number("distance_ft")),
                height: None,
                own: false,
            };
            let outcome = air::separation(&[outlet], None);
            c.says("verdict", word(outcome.verdict));
            c.is("required_ft", outcome.required.unwrap().at_least.unwrap());
        }
        "gas_vent" => {
            let slope = RiseIn12::new(c.number("rise_in_12")).unwrap();
            c.is("height_ft", air::gas_vent_height(slope).unwrap().get());
        }
        "median_life" => {
            let kind = EquipmentKind::from_code(c.text("kind")).unwrap();
            c.is(
                "years",
                f64::from(service_life::median_years(kind).unwrap().0),
            );
        }
        "working_depth" => {
            let condition = c.number("condition") as u8;
            let depth =
                workspace::required_depth(c.number("volts_to_ground_v"), condition, &Limits::USUAL)
                    .unwrap();
            c.is("depth_ft", depth.get());
        }
        "psi_per_ft" => c.is("psi", water::PSI_PER_FT),
        "inches" => c.is("feet", inches(c.number("inches")).feet().get()),
        "trap" => {
            let trap =
                condensate::draw_through_trap(InWg::new(-c.number("suction_in_wg")).unwrap());
            c.is("drop_in", trap.drop.get());
            c.is("seal_in", trap.seal.get());
        }
        other => panic!("no check is called {other}"),
    }
}

/// Runs every check of a file and answers how many there were.
fn run_all(name: &str) -> usize {
    let file = file(name);
    let checks = file["checks"].as_array().unwrap();
    for whole in checks {
        assert!(
            whole["source"].as_str().is_some_and(|s| s.len() > 3),
            "no source: {whole}"
        );
        let mut check = Given {
            given: &whole["given"],
            expect: &whole["expect"],
            whole,
            compared: 0,
        };
        run(whole["check"].as_str().unwrap(), &mut check);
        assert!(check.compared > 0, "nothing compared in {whole}");
    }
    checks.len()
}

#[test]
fn rules_give_what_published_texts_print() {
    assert!(run_all("published.json") >= 31);
}

#[test]
fn rules_give_what_exact_arithmetic_gives() {
    assert!(run_all("computed.json") >= 60);
}

#[test]
fn the_plan_measures_what_shapely_measures() {
    let file = file("computed.json");
    let mut compared = 0;
    for roof in file["roofs"].as_array().unwrap() {
        let survey: Survey = survey_from_json(&roof["survey"].to_string()).unwrap();
        let assessment = assess(&survey, &AssessOptions::default());
        for row in roof["expect"].as_array().unwrap() {
            let found = assessment
                .checks
                .iter()
                .find(|c| row["rule"] == c.rule.as_str() && row["ref"] == c.about.as_str())
                .unwrap_or_else(|| panic!("{row} in {}", survey.survey_id));
            assert_eq!(
                row["verdict"],
                word(found.verdict),
                "{row} in {}: {}",
                survey.survey_id,
                found.because
            );
            if let Some(expected) = row["measured"].as_f64() {
                let value = found.measured.as_ref().unwrap().value;
                assert!(
                    (value - expected).abs() < 1e-4,
                    "{value} for {row} in {}: {}",
                    survey.survey_id,
                    found.because
                );
            }
            compared += 1;
        }
    }
    assert!(compared >= 300, "{compared}");
}

/// Each row must be met by a verdict of its own: a roof with five openings has five.
#[test]
fn odd_surveys_give_what_was_worked_out_by_hand() {
    let file = file("odd.json");
    let mut wrong = Vec::new();
    let mut compared = 0;
    for case in file.as_array().unwrap() {
        assert!(case["by_hand"].as_str().is_some_and(|s| s.len() > 3));
        let survey: Survey = survey_from_json(&case["survey"].to_string()).unwrap();
        let mut checks = assess(&survey, &AssessOptions::default()).checks;
        for row in case["expect"].as_array().unwrap() {
            let asked =
                |c: &Check| row["rule"] == c.rule.as_str() && row["ref"] == c.about.as_str();
            let met = checks.iter().position(|c| {
                let value = c.measured.as_ref().map(|m| m.value);
                asked(c)
                    && row["verdict"] == word(c.verdict)
                    && row["measured"]
                        .as_f64()
                        .is_none_or(|m| value.is_some_and(|v| (v - m).abs() < 1e-4))
            });
            compared += 1;
            match met {
                Some(at) => drop(checks.remove(at)),
                None => {
                    let said: Vec<_> = checks.iter().filter(|c| asked(c)).collect();
                    wrong.push(format!("{}: {row}, but {said:?}", survey.survey_id));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(compared >= 160, "{compared}");
}
