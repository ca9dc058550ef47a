//! Writes `docs/rules.md` from the rules themselves, so that the page cannot say otherwise.

use super::catalogue::{RULES, Rule};
use super::facts::FACTS;
use super::profile::Profile;
use super::source::{Basis, Requirement, Source, Verdict};
use std::fmt::Write;

/// The page of all rules in a profile's editions.
pub fn rules_page(profile: &Profile) -> String {
    let mut page = String::new();
    let _ = writeln!(
        page,
        "# Rules\n\nWritten by `cargo run -p scupper-core --example rules_page > docs/rules.md`; do not edit."
    );
    let _ = writeln!(page, "\n{}", INTRODUCTION.trim());
    let _ = writeln!(page, "\nEditions: {} (`{}`).", profile.name(), profile.id());
    profiles(&mut page);
    let _ = writeln!(
        page,
        "\n| Rule | Looks at | Source | Known |\n|---|---|---|---|"
    );
    for rule in RULES {
        let source = rule.cite.source(profile);
        let _ = writeln!(
            page,
            "| [{id}](#{id}) | {} | {} | {} |",
            rule.title,
            source_words(&source),
            basis_words(source.basis),
            id = rule.id,
        );
    }
    for rule in RULES {
        section(&mut page, rule, profile);
    }
    let _ = writeln!(
        page,
        "\n# Facts without a verdict\n\n{}\n",
        FACTS_INTRODUCTION.trim()
    );
    let _ = writeln!(
        page,
        "| Fact | How | Source | Known | Example |\n|---|---|---|---|---|"
    );
    for fact in FACTS {
        let source = fact.cite.source(profile);
        let _ = writeln!(
            page,
            "| {} | {} | {} | {} | {} |",
            fact.title,
            fact.formula,
            source_words(&source),
            basis_words(source.basis),
            (fact.example)().unwrap_or_default(),
        );
    }
    page
}

/// The built-in profiles, with the numbers that they set.
fn profiles(page: &mut String) {
    let _ = writeln!(page, "\n{}\n", PROFILES_INTRODUCTION.trim());
    let _ = writeln!(
        page,
        "| Profile | Stands for | Working space table to | Receptacle | Guard within, above, height | Access above |\n|---|---|---|---|---|---|"
    );
    for profile in Profile::all() {
        let limits = profile.limits();
        let _ = writeln!(
            page,
            "| `{}` | {} | {} to ground | {} | {}, {}, {} | {} |",
            profile.id(),
            profile.name(),
            limits.working_space_up_to_v,
            limits.receptacle_within_ft,
            limits.guard_within_ft,
            limits.guard_drop_above_in,
            limits.guard_height_in,
            limits.access_above_ft
        );
    }
}

const PROFILES_INTRODUCTION: &str = "
A survey names the codes of its place (`site.code_profile`), or the command does (`--codes ID` or
`--codes FILE`). A profile is a file like those in `core/profiles`: editions, what they call a
section, and the numbers that editions and amendments set otherwise. Where what an edition asks was
not read, its profile says `basis = \"memory\"` and so does every verdict.
";

const FACTS_INTRODUCTION: &str = "
Used in the words of hazards, in quotes and by people; they judge nothing. Examples are computed.
";

const INTRODUCTION: &str = "
A verdict compares what was recorded with what a text asks. It never says that a place or a unit
is safe. `pass`: the requirement is met by what was recorded. `fail`: it is not met. `advise`:
worth a qualified person's look, though the source does not make it a plain failure. `unknown`: an
input is missing, or the accuracy of a position spans a boundary; both readings are then given and
`missing` says how to settle it. Codes are adopted by states and cities with amendments: the local
authority decides, and licensed, qualified people do the work.

Known: `published` means that the requirement was seen in a published text, mostly a public
restatement of the code; `memory` that it is remembered and was not reread; `common practice` that
the trade knows it and no source prints it. The edition shown is the one that the profile names; the
restatements seen were of various editions. Examples are computed by the rules themselves.
";

fn section(page: &mut String, rule: &Rule, profile: &Profile) {
    let source = rule.cite.source(profile);
    let _ = writeln!(page, "\n## {}\n\n{}.\n", rule.id, rule.title);
    let _ = writeln!(page, "* Asks: {}.", rule.formula);
    let _ = writeln!(page, "* Applies to: {}.", rule.applies);
    let _ = writeln!(
        page,
        "* Source: {} ({}).",
        source_words(&source),
        basis_words(source.basis)
    );
    let _ = writeln!(page, "* Note: {}\n", rule.note);
    let _ = writeln!(
        page,
        "| Example | Verdict | Measured | Required | Because |\n|---|---|---|---|---|"
    );
    for (words, outcome) in (rule.examples)() {
        let measured = outcome
            .measured
            .as_ref()
            .map_or("-".to_owned(), |q| format!("{} {}", q.value, q.unit));
        let required = outcome
            .required
            .as_ref()
            .map_or("-".to_owned(), requirement_words);
        let _ = writeln!(
            page,
            "| {words} | {} | {measured} | {required} | {} |",
            verdict_word(outcome.verdict),
            outcome.because
        );
    }
}

fn source_words(source: &Source) -> String {
    format!(
        "{} ({}) {}",
        source.standard, source.edition, source.section
    )
}

fn requirement_words(requirement: &Requirement) -> String {
    let bound = [
        ("at least", requirement.at_least),
        ("at most", requirement.at_most),
        ("more than", requirement.more_than),
        ("less than", requirement.less_than),
    ];
    bound
        .iter()
        .find_map(|(words, value)| Some(format!("{words} {} {}", (*value)?, requirement.unit)))
        .unwrap_or_default()
}

const fn basis_words(basis: Basis) -> &'static str {
    match basis {
        Basis::Published => "published",
        Basis::Memory => "memory",
        Basis::CommonPractice => "common practice",
    }
}

const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fail => "fail",
        Verdict::Advise => "advise",
        Verdict::Unknown => "unknown",
        Verdict::Pass => "pass",
    }
}
