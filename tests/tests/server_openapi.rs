//! `GET /v1/openapi.json` is true: schemathesis makes requests out of it, good and bad, and holds
//! the answers of a real server against it.
//!
//! Needs schemathesis, which `tests/run` puts under `target/`; says NOT RUN where it is not.

use super::server_kit::{Server, Stand, level, photo, send_next, take};
use std::path::{Path, PathBuf};
use std::process::Command;

fn schemathesis() -> Option<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let ours = root.join("target/schemathesis/bin/schemathesis");
    let asked = std::env::var_os("SCUPPER_SCHEMATHESIS").map(PathBuf::from);
    [asked, Some(ours)]
        .into_iter()
        .flatten()
        .find(|path| path.exists())
}

/// Examples of each operation; `SCUPPER_EXAMPLES` makes the run longer.
fn examples() -> String {
    std::env::var("SCUPPER_EXAMPLES").unwrap_or_else(|_| "15".to_owned())
}

/// Runs it with a configuration; what it said, and whether all was well.
fn run(program: &Path, server: &Server, token: &str, config: &str) -> (bool, String) {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("schemathesis.toml");
    let hooks = concat!(env!("CARGO_MANIFEST_DIR"), "/openapi/hooks.py");
    let head = format!("hooks = {hooks:?}\ncolor = false\n");
    std::fs::write(&file, head + config).unwrap();
    let output = Command::new(program)
        .arg("--config-file")
        .arg(&file)
        .arg("run")
        .arg(format!("{}/v1/openapi.json", server.base))
        .args(["-H", &format!("Authorization: Bearer {token}")])
        .args([
            "--max-examples",
            &examples(),
            "--seed",
            "7",
            "--request-timeout",
            "20",
        ])
        // The token must stay what it is; news never end by themselves.
        .args([
            "--exclude-path",
            "/v1/token",
            "--exclude-path-regex",
            "/events$",
        ])
        .current_dir(dir.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let wrong = String::from_utf8_lossy(&output.stderr);
    (output.status.success(), said + &wrong)
}

#[test]
fn the_description_of_the_interface_is_true() {
    let Some(program) = schemathesis() else {
        let why = "schemathesis is not there; tests/run installs it where pip can";
        crate::not_run::not_run("openapi", why);
        return;
    };
    let stand = Stand::new();
    let (client, server) = (&stand.client, &stand.server);
    let mut day = stand.day(1);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let hash = take(&mut day, &survey, &photo("", 0));
    level(&mut day, client, &survey).unwrap();
    while send_next(&mut day, client).unwrap().is_some() {}

    // What OpenAPI cannot say: any bytes are a message to it, and that an original's two hashes
    // are one. And a body that is too large may be told so.
    let beyond = "[checks]\nnegative_data_rejection.expected-statuses = \
                  ['400', '401', '403', '404', '405', '406', '409', '413', '415', '422', '429']\n\
                  [[operations]]\ninclude-path = '/v1/surveys/{id}/exchange'\n\
                  checks.positive_data_acceptance.enabled = false\n\
                  [[operations]]\ninclude-path-regex = '^/v1/photos/'\n\
                  checks.positive_data_acceptance.expected-statuses = ['2xx', '404', '416']\n\
                  [[operations]]\ninclude-path = '/v1/uploads'\n\
                  checks.positive_data_acceptance.expected-statuses = ['2xx', '404', '422']\n";
    let known = format!(
        "[[operations]]\ninclude-path-regex = '^/v1/surveys/'\n\
         parameters = {{ 'path.id' = '{survey}' }}\n\
         [[operations]]\ninclude-path-regex = '^/v1/photos/'\n\
         parameters = {{ 'path.hash' = '{hash}' }}\n\
         [[operations]]\ninclude-path-regex = '^/v1/uploads/'\n\
         parameters = {{ 'path.id' = 'original-{hash}' }}\n\
         [[operations]]\ninclude-path = '/v1/uploads'\n\
         parameters = {{ 'header.Scupper-Survey' = '{survey}' }}\n\
         checks.negative_data_rejection.enabled = false\n"
    );
    // Raw entries have one shape of many parts: asked about once, of a survey that is there.
    let once = "[[operations]]\ninclude-path = '/v1/surveys/{id}/entries'\nenabled = false\n";
    for config in [format!("{beyond}{once}"), format!("{beyond}{known}")] {
        let (well, said) = run(&program, server, client.token(), &config);
        let counted = |line: &&str| line.contains(" generated, ");
        let cases = said.lines().find(counted);
        println!("schemathesis: {}", cases.unwrap_or("no count").trim());
        assert!(well, "{said}");
        assert!(
            cases.is_some_and(|line| !line.trim().starts_with("0 ")),
            "{said}"
        );
    }
    // It was asked everything, and still does its work.
    level(&mut day, client, &survey).unwrap();
}
