//! Broken rate books and programmes: each is refused with the line to go to and what to write there.
#![allow(clippy::unwrap_used)]

use super::programme::Programme;
use super::ratebook_read::EXAMPLE;
use super::*;
use crate::survey::InputError;

const PROGRAMME: &str = include_str!("../../programme/standard-180.toml");

/// One thing in the file is written otherwise; the error must name the line that holds `at`.
#[track_caller]
fn refused<T: std::fmt::Debug>(
    text: &str,
    read: fn(&str) -> Result<T, InputError>,
    [from, to, at, mend]: [&str; 4],
) {
    assert!(text.contains(from), "nothing says {from:?}");
    let text = text.replacen(from, to, 1);
    let error = read(&text).unwrap_err();
    let line = text.lines().position(|line| line.contains(at)).unwrap() + 1;
    let named = error.place.split(' ').nth(1).unwrap_or_default();
    assert_eq!(named, line.to_string(), "{to:?}: {error}");
    assert!(error.problem.contains(mend), "{to:?}: {error}");
    for jargon in ["u32", "i64", "f64", "expected a boolean"] {
        assert!(!error.problem.contains(jargon), "{to:?}: {error}");
    }
}

#[test]
fn a_broken_rate_book_is_refused_with_line_and_mend() {
    for case in [
        ["[labour]", "[labour", "[labour", "unclosed table"],
        [
            "usual = 1",
            "usual = 1\nusual = 2",
            "usual = 2",
            "duplicate key",
        ],
        [
            "currency = \"USD\"",
            "",
            "# An example",
            "missing field `currency`; add it",
        ],
        [
            "currency = \"USD\"",
            "currency = \" \"",
            "currency = ",
            "is empty",
        ],
        [
            "currency = \"USD\"",
            "curency = \"USD\"",
            "curency",
            "unknown field `curency`",
        ],
        ["[travel]", "[traval]", "[traval]", "unknown field `traval`"],
        [
            "hatch]",
            "hatchway]",
            "hatchway]",
            "unknown field `hatchway`",
        ],
        ["= 5200", "= 52.5", "= 52.5", "give whole cents"],
        ["= 5200", "= \"5200\"", "= \"5200\"", "give whole cents"],
        [
            "= 5200",
            "= 0",
            "technician_cents",
            "an hour of work costs something",
        ],
        ["= 3800", "= -1", "second_person", "give 0 to 1000000000"],
        [
            "= 38000",
            "= 99000000000",
            "= 99000000000",
            "give 0 to 1000000000",
        ],
        [
            "percent = 8.25",
            "percent = 8.255",
            "8.255",
            "at most two decimals",
        ],
        [
            "labour_percent = 55",
            "labour_percent = -55",
            "-55",
            "from 0 to 10000",
        ],
        [
            "labour_percent = 55",
            "labour_percent = \"55\"",
            "\"55\"",
            "give a number",
        ],
        [
            "{ low = 30, likely = 40, high = 70 }",
            "{ low = 50, likely = 40, high = 70 }",
            "low = 50",
            "low <= likely <= high",
        ],
        [
            "{ low = 30, likely = 40, high = 70 }",
            "{ low = 30, likely = 40, high = 130 }",
            "high = 130",
            "over three times likely",
        ],
        [
            "{ low = 30, likely = 40, high = 70 }",
            "{ low = 30, likely = 40 }",
            "{ low = 30, likely = 40 }",
            "missing field `high`; add it",
        ],
        [
            "{ low = 30, likely = 40, high = 70 }",
            "{ low = 3.5, likely = 40, high = 70 }",
            "low = 3.5",
            "give whole minutes",
        ],
        [
            "{ low = 30, likely = 40, high = 70 }",
            "{ low = -3, likely = 40, high = 70 }",
            "low = -3",
            "give whole minutes",
        ],
        [
            "{ low = 15, likely = 25, high = 45 }",
            "{ low = 0, likely = 25, high = 45 }",
            "low = 0",
            "unprotected at an edge",
        ],
        [
            "{ low = 15, likely = 25, high = 40 }",
            "45",
            "minutes = 45",
            "invalid type",
        ],
        [
            "\"ladder_access\"",
            "\"ladders\"",
            "\"ladders\"",
            "unknown variant `ladders`",
        ],
        ["usual = 1", "usual = 3", "usual = 3", "give 1 or 2"],
        [
            "usual = 1",
            "usual = -1",
            "usual = -1",
            "give a whole number, 0 or more",
        ],
        [
            "# visits_per_year = 4",
            "visits_per_year = 0",
            "visits_per_year = 0",
            "give 1 to 366",
        ],
        ["[2, 4, 12]", "[2, 400]", "[2, 400]", "give 1 to 366"],
        [
            "correlation_percent = 30",
            "correlation_percent = 101",
            "= 101",
            "give 0 to 100",
        ],
        ["sigmas = 1.28", "sigmas = 3", "sigmas = 3", "give 0 to 2"],
        [
            "trials = 1000",
            "trials = 10",
            "trials = 10",
            "give 100 to 20000",
        ],
        [
            "on = \"materials\"",
            "on = \"nothing\"",
            "on = \"nothing\"",
            "say what the tax is levied on",
        ],
        [
            "on = \"materials\"",
            "on = \"labour\"",
            "on = \"labour\"",
            "unknown variant `labour`",
        ],
        [
            "coil_cleaning = false",
            "coil_cleaning = \"no\"",
            "\"no\"",
            "give true or false",
        ],
        [
            "filters_per_unit = 4",
            "filters_per_unit = 4000",
            "4000",
            "give 0 to 1000",
        ],
        [
            "\"20x25x2\" = 900",
            "\"25x20x2\" = 900",
            "25x20x2",
            "smaller face side first",
        ],
        [
            "\"20x25x2\" = 900",
            "\"19.5x25x2\" = 900",
            "19.5x25x2",
            "whole inches",
        ],
        [
            "\"20x25x2\" = 900",
            "\"20x25x2\" = 9.00",
            "9.00",
            "give whole cents",
        ],
        [
            "\"4\" = 2200",
            "\"4in\" = 2200",
            "4in",
            "depth in whole inches",
        ],
        [
            "\"A44\" = 1380",
            "\"a-42\" = 1380",
            "a-42",
            "same belt as \"A42\"",
        ],
        [
            "task = \"look_over\"",
            "task = \"look_around\"",
            "look_around",
            "is no task",
        ],
        [
            "per = \"filter\"",
            "per = \"filters\"",
            "per = \"filters\"",
            "unknown variant `filters`",
        ],
        [
            "up_to_tons = 13",
            "up_to_tons = 13.5",
            "up_to_tons = 13.5",
            "give a whole number",
        ],
        [
            "[[minutes]]",
            "[[minutes]]\ntask = \"look_over\"\nminutes = { low = 1, likely = 2, high = 3 }\n\n[[minutes]] # hidden",
            "# hidden",
            "never used: the entry of line",
        ],
        [
            "component = \"conduit\"",
            "component = \"disconnect\"",
            "never",
            "never used",
        ],
        [
            "component = \"conduit\"",
            "component = \"pipe\"",
            "\"pipe\"",
            "unknown variant `pipe`",
        ],
        [
            "name = \"Example",
            "paper = \"legal\"\nname = \"Example",
            "legal",
            "unknown variant `legal`",
        ],
    ] {
        // The entry that comes too late is named by its head, which has no words of its own.
        let text = EXAMPLE.replacen(
            "[[repairs]]\ncomponent = \"conduit\"",
            "[[repairs]] # never\ncomponent = \"conduit\"",
            1,
        );
        refused(&text, RateBook::from_toml, case);
    }
    // However it is written: as a dotted key, as an inline list.
    let dotted = "[crew]\nusual = 1";
    refused(
        EXAMPLE,
        RateBook::from_toml,
        [dotted, "[crew]\nusual = 9", "usual = 9", "1 or 2"],
    );
}

#[test]
fn a_broken_programme_is_refused_with_line_and_mend() {
    for case in [
        [
            "per_year = 4",
            "per_year = 0",
            "per_year = 0",
            "give 1 to 366",
        ],
        [
            "task = \"look_over\"",
            "task = \"Look over\"",
            "Look over",
            "small letters",
        ],
        [
            "task = \"look_over\"",
            "task = \"bring_water\"",
            "bring_water",
            "leave it out",
        ],
        [
            "kinds = [\"exhaust_fan\", \"supply_fan\"]",
            "kinds = []",
            "kinds = []",
            "at least one kind",
        ],
        [
            "task = \"clean_fan\"",
            "task = \"inspect_fans\" # again",
            "# again",
            "given twice",
        ],
        [
            "[[tasks]]\ntask = \"clean_water_side\"",
            "[[tasks]] # nameless",
            "# nameless",
            "missing field `task`",
        ],
        [
            "needs = \"gas\"",
            "needs = \"oil\"",
            "\"oil\"",
            "unknown variant `oil`",
        ],
        [
            "add_percent = 50",
            "add_percent = -50",
            "-50",
            "from 0 to 10000",
        ],
        [
            "[[adjustments]]\npast_median_life = true",
            "[[adjustments]] # age\ntasks = []",
            "# age",
            "component and its conditions",
        ],
        [
            "tasks = [\"inspect_belts\"]",
            "tasks = [\"inspect_belt\"]",
            "[\"inspect_belt\"]",
            "is no task",
        ],
        [
            "at_least_per_year = 4",
            "at_least_per_year = 999",
            "999",
            "give 1 to 366",
        ],
    ] {
        refused(PROGRAMME, Programme::from_toml, case);
    }
}

#[test]
fn what_ships_reads() {
    let book = RateBook::from_toml(EXAMPLE).unwrap();
    assert_eq!(book.filters.cents["20x25x2"], Cents::new(900));
    assert_eq!(book.tax.percent.hundredths(), 825);
    assert_eq!(book.paper, PaperSize::Letter);
    assert!(EXAMPLE.contains("INVENTED"));
    let programme = Programme::builtin();
    assert!(!programme.tasks.is_empty() && !programme.adjustments.is_empty());
    let written = programme.to_toml().unwrap();
    assert_eq!(&Programme::from_toml(&written).unwrap(), programme);
    // Windows line ends do no harm.
    assert!(RateBook::from_toml(&EXAMPLE.replace('\n', "\r\n")).is_ok());
}

/// A contractor's own programme: a task dropped, a task added and timed.
#[test]
fn a_programme_of_ones_own_is_priced() {
    let own = PROGRAMME.replace("task = \"clean_fan\"", "task = \"grease_fan\"");
    let own = Programme::from_toml(&own).unwrap();
    let timed = format!(
        "{EXAMPLE}\n[[minutes]]\ntask = \"grease_fan\"\nminutes = {{ low = 7, likely = 7, high = 7 }}\n"
    );
    assert!(RateBook::from_toml(&timed).is_err());
    let book = RateBook::with_programme(&timed, own).unwrap();
    let mut survey = crate::survey::Survey::default();
    let fan = crate::survey::codes::EquipmentKind::ExhaustFan;
    survey
        .equipment
        .push(crate::survey::Equipment::new("", "EF-1", fan));
    let quote = quote(&survey, &Assessment::default(), &book);
    let line = quote
        .tasks
        .iter()
        .find(|line| line.task == "grease_fan")
        .unwrap();
    assert_eq!((line.minutes, line.per_year), (7, 1));
    assert!(quote.tasks.iter().all(|line| line.task != "clean_fan"));
}
