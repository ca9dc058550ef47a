//! The house rules that a machine can check: layout, headers, sizes, and what core may not do.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

fn rust_files(below: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders: Vec<PathBuf> = below
        .exists()
        .then(|| below.to_owned())
        .into_iter()
        .collect();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() && name != "target" && !name.starts_with('.') {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

fn shown(path: &Path) -> String {
    path.strip_prefix(root()).unwrap().display().to_string()
}

/// The lines before the test module at the end of a file.
fn without_tests(text: &str) -> &str {
    text.split("#[cfg(test)]\nmod ").next().unwrap()
}

#[test]
fn top_level_holds_what_was_agreed_and_nothing_else() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "CHANGELOG.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "core",
        "bindings",
        "sync-server",
        "fixtures",
        "tests",
        "docs",
    ];
    let tracked = std::process::Command::new("git")
        .args(["ls-tree", "--name-only", "HEAD"])
        .current_dir(root())
        .output()
        .unwrap();
    let names = String::from_utf8(tracked.stdout).unwrap();
    let strangers: Vec<&str> = names
        .lines()
        .filter(|name| !name.starts_with('.') && !allowed.contains(name))
        .collect();
    assert_eq!(strangers, Vec::<&str>::new());
}

#[test]
fn every_rust_file_says_what_lives_there() {
    let silent: Vec<String> = rust_files(&root())
        .into_iter()
        .filter(|path| !fs::read_to_string(path).unwrap().starts_with("//! "))
        .map(|path| shown(&path))
        .collect();
    assert_eq!(silent, Vec::<String>::new(), "open these files with `//! `");
}

#[test]
fn files_are_short_enough_to_read_in_one_sitting() {
    let long: Vec<String> = rust_files(&root())
        .into_iter()
        .filter(|path| !path.ends_with("tests.rs"))
        .filter_map(|path| {
            let text = fs::read_to_string(&path).unwrap();
            let lines = without_tests(&text).lines().count();
            let limit = if path.ends_with("src/lib.rs") {
                120
            } else {
                500
            };
            (lines > limit).then(|| format!("{} has {lines} of {limit} lines", shown(&path)))
        })
        .collect();
    assert_eq!(long, Vec::<String>::new(), "split these by concept");
}

#[test]
fn core_reads_no_clock_network_environment_or_terminal() {
    let banned = [
        "SystemTime::now",
        "Instant::now",
        "Utc::now",
        "Local::now",
        "std::env",
        "std::net",
        "println!",
        "thread_rng",
        "Uuid::now",
    ];
    let mut broken = Vec::new();
    for path in rust_files(&root().join("core/src")) {
        let text = fs::read_to_string(&path).unwrap();
        let code = without_tests(&text);
        for word in banned {
            if code
                .lines()
                .any(|l| l.contains(word) && !l.trim_start().starts_with("//"))
            {
                broken.push(format!("{} uses {word}", shown(&path)));
            }
        }
    }
    assert_eq!(broken, Vec::<String>::new(), "pass it in as an argument");
}

#[test]
fn rooms_only_look_down() {
    // Room, and the rooms it may name; `document` alone may know Automerge.
    let rooms: [(&str, &[&str]); 6] = [
        ("survey", &[]),
        ("document", &["survey"]),
        ("trade", &["survey"]),
        ("plan", &["survey", "trade"]),
        ("dictation", &["survey"]),
        ("assess", &["survey", "trade", "plan"]),
    ];
    let mut broken = Vec::new();
    for (room, may) in rooms {
        let folder = root().join("core/src").join(room);
        for path in rust_files(&folder) {
            let text = fs::read_to_string(&path).unwrap();
            for line in without_tests(&text).lines() {
                let code = line.split("//").next().unwrap();
                for (_, after) in code
                    .match_indices("crate::")
                    .map(|(at, m)| code.split_at(at + m.len()))
                {
                    let named: String = after
                        .chars()
                        .take_while(|c| c.is_alphanumeric() || *c == '_')
                        .collect();
                    if named != room && !may.contains(&named.as_str()) {
                        broken.push(format!("{} names crate::{named}", shown(&path)));
                    }
                }
                if room != "document" && code.contains("automerge") {
                    broken.push(format!("{} names automerge", shown(&path)));
                }
            }
        }
    }
    assert_eq!(broken, Vec::<String>::new());
}

#[test]
fn every_invariant_names_a_test_that_exists() {
    let page = fs::read_to_string(root().join("docs/architecture.md")).unwrap();
    assert!(
        page.lines().count() <= 150,
        "docs/architecture.md is over 150 lines"
    );
    let sources: String = rust_files(&root())
        .iter()
        .map(|path| fs::read_to_string(path).unwrap())
        .collect();
    let mut named = 0;
    for line in page.lines().filter(|l| l.contains("Test: ")) {
        for test in line
            .split("Test: ")
            .nth(1)
            .unwrap()
            .split('`')
            .skip(1)
            .step_by(2)
        {
            named += 1;
            let name = test.rsplit("::").next().unwrap();
            assert!(
                sources.contains(&format!("fn {name}(")),
                "no test is called {test}"
            );
        }
    }
    let invariants = page.matches("**Invariant ").count();
    assert!(
        invariants > 0 && named >= invariants,
        "{invariants} invariants, {named} tests named"
    );
}

#[test]
fn every_test_that_a_page_names_exists() {
    let sources: String = rust_files(&root())
        .iter()
        .map(|path| fs::read_to_string(path).unwrap())
        .collect();
    for page in ["security.md", "reliability.md"] {
        let Ok(text) = fs::read_to_string(root().join("docs").join(page)) else {
            continue;
        };
        let quoted = text.split('`').skip(1).step_by(2);
        let names = quoted.filter(|text| text.contains("::") && !text.contains(' '));
        let mut named = 0;
        for test in names.filter(|name| !name.ends_with('…')) {
            named += 1;
            let name = test.rsplit("::").next().unwrap();
            assert!(
                sources.contains(&format!("fn {name}(")),
                "{page}: no test {test}"
            );
        }
        assert!(named > 5, "{page} names {named} tests");
    }
}

/// `docs/document.md` is what a client of someone else's is written by.
#[test]
fn the_page_of_the_document_names_every_field_and_code() {
    use scupper_core::survey::codes;
    let page = fs::read_to_string(root().join("docs/document.md")).unwrap();
    let quoted = page.split('`').skip(1).step_by(2);
    let named: BTreeSet<&str> = quoted.flat_map(|words| words.split('.')).collect();
    let mut wanting = Vec::new();
    for file in ["equipment.rs", "record.rs", "site.rs"] {
        let text = fs::read_to_string(root().join("core/src/survey").join(file)).unwrap();
        for line in text.lines() {
            let field = line.trim().strip_prefix("pub ");
            let name = field.and_then(|line| Some(line.split_once(": ")?.0));
            // `origin` is flattened, `what` is written `about`.
            let name = name
                .filter(|name| !name.contains(['(', ' ']) && !["origin", "what"].contains(name));
            wanting.extend(name.filter(|name| !named.contains(name)).map(str::to_owned));
        }
    }
    macro_rules! codes {
        ($($list:ident)*) => {
            $(for code in codes::$list::ALL {
                if !named.contains(code.code()) {
                    wanting.push(code.code().to_owned());
                }
            })*
        };
    }
    codes!(EquipmentKind Component Condition Certainty Severity Action HazardKind);
    codes!(OpeningKind AccessKind AirPointKind Side);
    assert_eq!(wanting, Vec::<String>::new());
}

#[test]
fn every_test_file_is_listed() {
    let folder = root().join("tests/tests");
    let main = fs::read_to_string(folder.join("main.rs")).unwrap();
    for path in rust_files(&folder) {
        let module = path.file_stem().unwrap().to_string_lossy().into_owned();
        let listed =
            module == "main" || module == "mod" || main.contains(&format!("mod {module};"));
        assert!(
            listed || path.parent() != Some(&folder),
            "add `mod {module};` to main.rs"
        );
    }
}

#[test]
fn no_runtime_and_no_openssl_goes_to_a_phone() {
    let list = |package: &str, features: &[&str]| -> BTreeSet<String> {
        let ran = Command::new(env!("CARGO"))
            .args([
                "tree",
                "--offline",
                "--locked",
                "-e",
                "normal",
                "--prefix",
                "none",
            ])
            .args(["-p", package, "--no-default-features", "--features"])
            .arg(features.join(","))
            .current_dir(root())
            .output()
            .unwrap();
        assert!(
            ran.status.success(),
            "{}",
            String::from_utf8_lossy(&ran.stderr)
        );
        let lines = String::from_utf8(ran.stdout).unwrap();
        let name = |line: &str| line.split(' ').next().unwrap().to_owned();
        lines.lines().map(name).collect()
    };
    let unwanted = |names: &BTreeSet<String>| -> Vec<String> {
        let bad = |name: &&String| name.starts_with("tokio") || name.contains("openssl");
        names.iter().filter(bad).cloned().collect()
    };
    for features in [&[][..], &["client"], &["client", "tls"]] {
        let names = list("scupper-ffi", features);
        assert!(names.contains("scupper-core"), "{names:?}");
        assert_eq!(unwanted(&names), Vec::<String>::new(), "{features:?}");
    }
    // The look finds them where they are.
    assert!(!unwanted(&list("scupper-server", &[])).is_empty());
}
