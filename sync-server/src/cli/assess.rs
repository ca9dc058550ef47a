//! `scupper assess`: a survey in, its assessment out, as JSON or as text a person reads.

use super::{Failure, files};
use chrono::{Local, NaiveDate};
use scupper_core::assess::{AssessOptions, Assessment, Check, assess};
use scupper_core::survey::codes::{Certainty, Condition};
use scupper_core::survey::{SITE, Survey};
use scupper_core::trade::{Profile, Quantity, Requirement, Source, Verdict};
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Assess a survey: register, checks with their sources, hazards, what is missing, findings.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The survey as JSON; `-` reads stdin.
    survey: PathBuf,
    /// Print the assessment as JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    by: By,
}

/// What an assessment goes by besides the survey.
#[derive(Debug, clap::Args)]
pub(super) struct By {
    /// Day from which ages are counted; without it the survey's own day, or else today.
    #[arg(long, value_name = "YYYY-MM-DD")]
    on: Option<NaiveDate>,
    /// Codes that the place has adopted: a built-in profile or a file like those in core/profiles;
    /// without it the profile that the survey names.
    #[arg(long, value_name = "ID|FILE.toml")]
    codes: Option<String>,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let survey = files::survey(&args.survey)?;
    let assessment = args.by.assess(&survey)?;
    if args.json {
        files::answer_json(&assessment)
    } else {
        files::answer(&text(&assessment))
    }
}

impl By {
    /// The assessment of a survey.
    pub(super) fn assess(&self, survey: &Survey) -> Result<Assessment, Failure> {
        let day = self
            .on
            .or_else(|| crate::readings::day(survey))
            .unwrap_or_else(|| Local::now().date_naive());
        let brought = match &self.codes {
            Some(id) if Profile::find(id).is_none() => Some(profile_file(id)?),
            _ => None,
        };
        let named = self.codes.as_deref().and_then(Profile::find);
        let options = AssessOptions {
            as_of: Some(day),
            profile: named.or(brought.as_ref()),
        };
        Ok(assess(survey, &options))
    }
}

fn profile_file(name: &str) -> Result<Profile, Failure> {
    let path = Path::new(name);
    if !path.exists() {
        let known: Vec<&str> = Profile::all().iter().map(Profile::id).collect();
        return Err(Failure::Input(format!(
            "--codes {name}: is neither a file nor one of {}",
            known.join(", ")
        )));
    }
    Profile::from_toml(&files::text(path)?).map_err(|error| files::in_file(path, &error))
}

fn text(assessment: &Assessment) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "HAZARDS ({})", assessment.hazards.len());
    if assessment.hazards.is_empty() {
        out.push_str("  none recorded; that does not say that the roof is safe\n");
    }
    for hazard in &assessment.hazards {
        let about = hazard.about.as_deref().map_or("somewhere", place);
        let zone = hazard
            .zone
            .as_deref()
            .map(|z| format!(", {}", z.replace('_', " ")));
        let _ = writeln!(
            out,
            "  {about}: {}{}",
            hazard.kind.words(),
            zone.unwrap_or_default()
        );
        let _ = writeln!(out, "      {}", hazard.because);
        let _ = writeln!(
            out,
            "      control: {} [{}]",
            hazard.control,
            cite(&hazard.source)
        );
    }
    for (verdict, title) in [
        (Verdict::Fail, "FAILED CHECKS"),
        (Verdict::Advise, "FOR A QUALIFIED PERSON TO LOOK AT"),
        (Verdict::Unknown, "COULD NOT BE CHECKED"),
    ] {
        let checks: Vec<&Check> = assessment
            .checks
            .iter()
            .filter(|check| check.verdict == verdict)
            .collect();
        let _ = writeln!(out, "\n{title} ({})", checks.len());
        for check in checks {
            let _ = writeln!(
                out,
                "  {}: {}{}",
                place(&check.about),
                check.rule,
                numbers(check)
            );
            let _ = writeln!(out, "      {} [{}]", check.because, cite(&check.source));
        }
    }
    let passed = assessment
        .checks
        .iter()
        .filter(|check| check.verdict == Verdict::Pass)
        .count();
    let _ = writeln!(out, "\nPASSED CHECKS ({passed}), as recorded");
    let _ = writeln!(out, "\nMISSING ({})", assessment.missing.len());
    for gap in &assessment.missing {
        let how = gap
            .how
            .as_deref()
            .map(|how| format!("; {how}"))
            .unwrap_or_default();
        let _ = writeln!(
            out,
            "  {}: {} — {}{how}",
            place(&gap.about),
            gap.field,
            gap.why
        );
    }
    let work = assessment
        .findings
        .iter()
        .filter(|f| f.condition != Condition::Good && f.certainty != Certainty::Absent);
    let work: Vec<_> = work.filter(|f| f.origin.withdrawn_by.is_none()).collect();
    let _ = writeln!(out, "\nFINDINGS ({})", work.len());
    for finding in work {
        let unsure = if finding.certainty == Certainty::Suspected {
            ", suspected"
        } else {
            ""
        };
        let action = finding
            .action
            .map(|a| format!(" -> {}", a.words()))
            .unwrap_or_default();
        let _ = writeln!(
            out,
            "  [{}] {}: {} {}{unsure}{action}",
            finding.severity,
            place(&finding.about),
            finding.component.words(),
            finding.condition.words(),
        );
    }
    let _ = writeln!(out, "\nUNITS ({})", assessment.register.len());
    for row in &assessment.register {
        let _ = writeln!(
            out,
            "  {}\t{}\t{} {}\tserial {}",
            row.tag,
            row.kind.words(),
            row.make.as_deref().unwrap_or("make unknown,"),
            row.model.as_deref().unwrap_or("model unknown"),
            row.serial.as_deref().unwrap_or("unknown"),
        );
    }
    for line in &assessment.not_checked {
        let _ = writeln!(out, "\nNot checked: {line}");
    }
    let _ = writeln!(out, "\nCode editions: {}", assessment.profile);
    let _ = writeln!(out, "\n{}", assessment.caution);
    out
}

fn place(about: &str) -> &str {
    if about == SITE { "Site" } else { about }
}

fn numbers(check: &Check) -> String {
    match (&check.measured, &check.required) {
        (Some(found), Some(asked)) => format!(": {}, asked {}", amount(found), bound(asked)),
        (Some(found), None) => format!(": {}", amount(found)),
        (None, Some(asked)) => format!(": asked {}", bound(asked)),
        (None, None) => String::new(),
    }
}

fn amount(quantity: &Quantity) -> String {
    crate::words::quantity(quantity)
}

fn bound(requirement: &Requirement) -> String {
    crate::words::requirement(requirement)
}

fn cite(source: &Source) -> String {
    crate::words::source(source)
}
