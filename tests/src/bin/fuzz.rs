//! `fuzz [TARGET…] [--seconds N] [--seed N]`: bends good bytes and hands them to what reads them.
//!
//! Without a target all of them, one after another. An input that makes one panic goes to
//! `target/fuzz/` and the exit code is 1; keep it as a plain test.

use scupper_tests::fuzz::{TARGETS, named, run};
use std::time::{Duration, Instant};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let (mut seconds, mut seed, mut chosen) = (60, 1, Vec::new());
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--seconds" => seconds = words.next().unwrap_or_default().parse()?,
            "--seed" => seed = words.next().unwrap_or_default().parse()?,
            name => chosen.push(*named(name).ok_or(format!("{name}: no such target"))?),
        }
    }
    if chosen.is_empty() {
        chosen = TARGETS.to_vec();
    }
    // Findings are told in one line each, below.
    std::panic::set_hook(Box::new(|_| {}));
    let mut found = 0;
    for target in chosen {
        let until = Instant::now() + Duration::from_secs(seconds);
        let report = run(&target, seed, |_| Instant::now() < until);
        println!(
            "{}: {} inputs in {seconds} s with seed {seed}, {} taken, slowest {} ms, {} findings",
            target.name,
            report.tried,
            report.taken,
            report.slowest.as_millis(),
            report.findings.len()
        );
        for (input, said) in &report.findings {
            found += 1;
            let name = format!("{}-{}", target.name, blake3::hash(input).to_hex());
            std::fs::create_dir_all("target/fuzz")?;
            std::fs::write(format!("target/fuzz/{name}"), input)?;
            println!("  target/fuzz/{name}: {said}");
        }
    }
    match found {
        0 => Ok(()),
        _ => Err(format!("{found} findings").into()),
    }
}
