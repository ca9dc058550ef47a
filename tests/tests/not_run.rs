//! Says that something was not tried on this machine, so that no green line hides it.

use std::io::Write;
use std::path::Path;
use std::process::Command;

/// Prints it, and adds it to the list that the closing line of `tests/run` is made from. `what` is
/// one word, by which `.ci/run` knows it.
pub(crate) fn not_run(what: &str, why: &str) {
    println!("NOT RUN: {what}: {why}");
    let Some(list) = std::env::var_os("SCUPPER_NOT_RUN") else {
        return;
    };
    let thread = std::thread::current();
    let line = format!("{what}: {why} [{}]\n", thread.name().unwrap_or("a test"));
    let list = std::fs::File::options()
        .create(true)
        .append(true)
        .open(list);
    list.unwrap().write_all(line.as_bytes()).unwrap();
}

/// Runs `tests/closing` on what runners printed and what was not run; its line, and whether it
/// passed.
fn close(list: &str, status: &str, env: &[(&str, &str)]) -> (String, bool) {
    let dir = tempfile::tempdir().unwrap();
    let (log, missed) = (dir.path().join("log"), dir.path().join("missed"));
    let printed = "test result: ok. 40 passed; 0 failed; 0 ignored\nKotlin: 5 passed, 0 failed\n";
    std::fs::write(&log, printed).unwrap();
    std::fs::write(&missed, list).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("closing");
    let output = Command::new(script)
        .args([log.as_os_str(), missed.as_os_str(), status.as_ref()])
        .env_remove("CI")
        .env_remove("SCUPPER_CANNOT")
        .envs(env.iter().copied())
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    (said.trim_end().to_owned(), output.status.success())
}

#[test]
fn the_closing_line_names_what_was_not_run_and_ci_does_not_pass_over_it() {
    let whole = "Scupper: 45 passed, 0 failed".to_owned();
    assert_eq!(close("", "0", &[("CI", "true")]), (whole.clone(), true));
    assert_eq!(close("", "1", &[]), (whole, false));
    let missed = "browser: no chromedriver [page::one]\nbrowser: no chromedriver [page::two]\n\
                  kotlin: mvn is missing\n";
    let named = "Scupper: 43 passed, 0 failed, NOT RUN: browser (2), kotlin (1)".to_owned();
    assert_eq!(close(missed, "0", &[]), (named.clone(), true));
    assert_eq!(
        close(missed, "0", &[("CI", "true")]),
        (named.clone(), false)
    );
    let half = [("CI", "true"), ("SCUPPER_CANNOT", "kotlin")];
    assert_eq!(close(missed, "0", &half), (named.clone(), false));
    let both = [("CI", "true"), ("SCUPPER_CANNOT", "kotlin browser")];
    assert_eq!(close(missed, "0", &both), (named, true));
}
