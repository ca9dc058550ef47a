//! What must be true at the end, and the ten lines that say it.

use super::device::DemoDevice;
use super::office::DemoOffice;
use super::papers::Read;
use super::scenario::Scenario;
use crate::cli::Failure;
use crate::words;
use scupper_core::trade::Verdict;
use std::collections::BTreeSet;
use std::path::Path;

/// What was found.
pub(super) struct Outcome {
    lines: Vec<(&'static str, String)>,
    wrong: Vec<String>,
}

impl Outcome {
    fn say(&mut self, label: &'static str, text: String) {
        self.lines.push((label, text));
    }

    /// The summary, and where to look next.
    pub(super) fn lines(&self, look: &Path) -> String {
        let mut text = String::new();
        for (label, line) in &self.lines {
            text.push_str(&format!("{label:<13} {line}\n"));
        }
        let look = look.display();
        text.push_str(&format!(
            "{:<13} open {look}; or run with --serve for the review page\n",
            "Look next"
        ));
        text
    }

    /// Failed if something that must agree does not.
    pub(super) fn verdict(self) -> Result<(), Failure> {
        if self.wrong.is_empty() {
            return Ok(());
        }
        Err(Failure::Other(format!(
            "the demo did not end as it must: {}",
            self.wrong.join("; ")
        )))
    }
}

/// Looks at everything from outside.
pub(super) fn check(
    office: &DemoOffice,
    devices: &[DemoDevice],
    scenario: &Scenario,
    survey: &str,
    read: &Read,
) -> Result<Outcome, Failure> {
    let mut outcome = Outcome {
        lines: Vec::new(),
        wrong: Vec::new(),
    };
    let Read {
        survey: plain,
        assessment,
        quote,
    } = read;
    outcome.say(
        "Survey",
        format!(
            "{}: {}, {}, {}, by {}",
            plain.site.name,
            words::count(plain.equipment.len(), "unit"),
            words::count(plain.notes.len(), "note"),
            words::count(plain.photos.len(), "photo"),
            devices
                .iter()
                .map(DemoDevice::author)
                .collect::<Vec<_>>()
                .join(" and ")
        ),
    );
    heads(&mut outcome, office, devices, survey)?;
    disagreements(&mut outcome, office, survey)?;
    photos(&mut outcome, devices, scenario, read)?;

    let first = assessment.hazards.first().map(|hazard| {
        let about = hazard.about.as_deref().map_or("", words::place);
        format!("; first: {about} {}", hazard.kind.words())
    });
    outcome.say(
        "Hazards",
        format!("{}{}", assessment.hazards.len(), first.unwrap_or_default()),
    );
    let of = |verdict: Verdict| {
        assessment
            .checks
            .iter()
            .filter(move |check| check.verdict == verdict)
    };
    let failed: Vec<String> = of(Verdict::Fail)
        .map(|check| format!("{} {}", words::place(&check.about), check.rule))
        .collect();
    outcome.say(
        "Checks",
        format!(
            "{} not met ({}), {} could not be made, {} met",
            failed.len(),
            short(&failed, 3),
            of(Verdict::Unknown).count(),
            of(Verdict::Pass).count()
        ),
    );
    outcome.say(
        "Findings",
        format!(
            "{}; {} fields missing",
            assessment.findings.len(),
            assessment.missing.len()
        ),
    );
    outcome.say("Price a year", price(quote));
    Ok(outcome)
}

fn heads(
    outcome: &mut Outcome,
    office: &DemoOffice,
    devices: &[DemoDevice],
    survey: &str,
) -> Result<(), Failure> {
    let server = office.heads(survey)?;
    let mut all = vec![("server".to_owned(), server.clone())];
    for device in devices {
        all.push((device.id().to_owned(), device.heads()?));
    }
    let level = all.iter().all(|(_, heads)| *heads == server);
    let shown = all
        .iter()
        .map(|(who, heads)| format!("{who} {}", heads.get(..8).unwrap_or(heads)))
        .collect::<Vec<_>>()
        .join(", ");
    let rounds: usize = devices.iter().map(|device| device.rounds).sum();
    let word = if level { "level" } else { "NOT LEVEL" };
    outcome.say(
        "Heads",
        format!("{shown}: {word}, after {rounds} round trips"),
    );
    if !level {
        outcome
            .wrong
            .push("devices and server hold different documents".to_owned());
    }
    Ok(())
}

fn disagreements(outcome: &mut Outcome, office: &DemoOffice, survey: &str) -> Result<(), Failure> {
    let (conflicts, offers) = office.doubts(survey)?;
    let said: Vec<String> = conflicts
        .iter()
        .map(|conflict| {
            let values: Vec<String> = conflict
                .candidates
                .iter()
                .map(|candidate| {
                    let who = candidate
                        .stamp
                        .as_ref()
                        .map_or("?", |stamp| stamp.author.as_str());
                    format!("{} by {who}", words::value(&candidate.value))
                })
                .collect();
            format!(
                "{} {}: {}",
                conflict.about,
                words::field(&conflict.field),
                values.join(", ")
            )
        })
        .collect();
    outcome.say("Two values", or_none(short(&said, 2)));
    let said: Vec<String> = offers
        .iter()
        .map(|offer| format!("{} twice ({})", offer.tags[0], offer.because.join(", ")))
        .collect();
    outcome.say("One unit?", or_none(short(&said, 2)));
    Ok(())
}

/// Every photo of the scenario must come back from the server with its own bytes.
fn photos(
    outcome: &mut Outcome,
    devices: &[DemoDevice],
    scenario: &Scenario,
    read: &Read,
) -> Result<(), Failure> {
    let mut taken: BTreeSet<String> = BTreeSet::new();
    for shot in &scenario.photos {
        let file = scenario.dir.join("photos").join(&shot.file);
        let bytes = std::fs::read(&file)
            .map_err(|error| Failure::Input(format!("{}: {error}", file.display())))?;
        taken.insert(blake3::hash(&bytes).to_hex().to_string());
    }
    let mut equal = 0;
    for photo in &read.survey.photos {
        let fetched = devices.first().and_then(|device| {
            device
                .client
                .get(&format!("/v1/photos/{}", photo.hash))
                .ok()
        });
        let hash = fetched.map(|bytes| blake3::hash(&bytes).to_hex().to_string());
        if hash.as_ref() == Some(&photo.hash) && taken.contains(&photo.hash) {
            equal += 1;
        } else {
            outcome
                .wrong
                .push(format!("photo {} is not what was taken", photo.id));
        }
    }
    if taken.len() > equal {
        outcome
            .wrong
            .push(format!("{} photos did not arrive", taken.len() - equal));
    }
    let all = scenario.photos.len();
    outcome.say(
        "Photos",
        format!("{equal} of {all} at the server, bytes equal to the BLAKE3 of the file taken"),
    );
    Ok(())
}

fn price(quote: &serde_json::Value) -> String {
    let cents = |which: &str| quote["price_cents_per_year"][which].as_i64().unwrap_or(0);
    let currency = quote["currency"].as_str().unwrap_or("");
    format!(
        "{} (from {} to {}), {} visits, crew of {}",
        words::money(cents("likely"), currency),
        words::money(cents("low"), currency),
        words::money(cents("high"), currency),
        quote["visits_per_year"],
        quote["crew"]["size"]
    )
}

fn short(all: &[String], most: usize) -> String {
    let shown = all
        .iter()
        .take(most)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    match all.len().saturating_sub(most) {
        0 => shown,
        more => format!("{shown}; and {more} more"),
    }
}

fn or_none(text: String) -> String {
    if text.is_empty() {
        "none".to_owned()
    } else {
        text
    }
}
