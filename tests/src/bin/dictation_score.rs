//! Prints how well dictation reads the fixtures: `cargo run -p scupper-tests --bin
//! dictation-score [-- --show [GROUP|FILE.json...]] [-- --say TEXT...]`. `--show` lists what disagrees;
//! a file is a set of one's own in the fixtures' shape; `--say` reads the given texts (segments, parted by `|`, half a second apart) and prints the interpretation.

use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::survey::spoken::{Evidence, Segment, Transcript};
use scupper_tests::dictation_score::{GROUPS, HELD_OUT, load, score};

fn main() -> Result<(), String> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    if args.first().is_some_and(|a| a == "--say") {
        args.iter().skip(1).for_each(|text| say(text));
        return Ok(());
    }
    let show = args.iter().any(|a| a == "--show");
    let mut groups: Vec<&str> = args
        .iter()
        .map(String::as_str)
        .filter(|a| !a.starts_with("--"))
        .collect();
    if groups.is_empty() {
        groups.extend(GROUPS.iter().chain(&HELD_OUT));
    }
    for group in groups {
        let dictations = load(group)?;
        let score = score(&dictations);
        println!(
            "{group}: {} dictations, {} words",
            dictations.len(),
            score.words
        );
        for (name, count) in &score.counts {
            println!(
                "  {name:<11} P {:.3}  R {:.3}  F1 {:.3}   ({} right, {} false, {} missed)",
                count.precision(),
                count.recall(),
                count.f1(),
                count.right,
                count.wrong,
                count.missed
            );
        }
        println!(
            "  false findings {} (one in {:.0} words); sure and wrong values {} of {}",
            score.false_findings,
            score.words_per_false_finding(),
            score.sure_and_wrong,
            score.facts
        );
        if show && !HELD_OUT.contains(&group) {
            score.notes.iter().for_each(|note| println!("{note}"));
        }
    }
    Ok(())
}

fn say(text: &str) {
    let segments: Vec<Segment> = text
        .split('|')
        .zip(0..)
        .map(|(t, n)| Segment {
            start_ms: n * 3000,
            end_ms: n * 3000 + 2500,
            text: t.to_owned(),
            ..Segment::default()
        })
        .collect();
    let transcript = Transcript {
        note_id: "said".into(),
        author: None,
        recorded_at: None,
        segments,
    };
    let heard = interpret(&transcript, Lexicon::builtin());
    let cut = |e: Evidence| {
        transcript
            .segments
            .get(e.segment)
            .and_then(|s| s.text.get(e.start..e.end))
            .unwrap_or("?")
    };
    println!("\n> {text}");
    let tags: Vec<&str> = heard.equipment.iter().map(|m| m.tag.as_str()).collect();
    println!("  units {}", tags.join(" "));
    for f in &heard.facts {
        let why = f.needs_confirmation.as_deref().unwrap_or("");
        println!(
            "  {} {} = {} [{}] {} {why}",
            f.about,
            f.field,
            f.value,
            cut(f.evidence),
            f.confidence
        );
    }
    for f in &heard.findings {
        let action = f.action.map_or("-", |a| a.code());
        let why = f.needs_confirmation.as_deref().unwrap_or("");
        println!(
            "  {} {} {} {} {} {action} [{}] {} {why}",
            f.about,
            f.component,
            f.condition,
            f.certainty,
            f.severity,
            cut(f.evidence),
            f.confidence
        );
    }
    for h in &heard.hazards {
        println!("  ! {} {:?} [{}]", h.kind, h.about, cut(h.evidence));
    }
    for f in &heard.follow_ups {
        println!("  later {} {} [{}]", f.about, f.what, cut(f.evidence));
    }
    for e in &heard.unparsed {
        println!("  ? {}", cut(*e));
    }
}
