//! axe-core on whatever page a browser shows, fetched once with npm; without npm it says that it did
//! not run and finds nothing.

use crate::webdriver::Browser;
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;

fn script() -> Option<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/axe");
    let script = folder.join("package/axe.min.js");
    if !script.exists() {
        std::fs::create_dir_all(&folder).unwrap();
        let packing = "npm pack --silent axe-core@4.11.0 && tar xzf axe-core-4.11.0.tgz";
        let packed = Command::new("sh")
            .args(["-c", packing])
            .current_dir(&folder)
            .status();
        if !packed.is_ok_and(|status| status.success()) {
            crate::not_run::not_run("axe", "axe-core could not be fetched with npm");
            return None;
        }
    }
    Some(std::fs::read_to_string(script).unwrap())
}

/// Findings of these impacts, each in one line; of every impact when none is named.
pub(crate) fn findings(browser: &Browser, impacts: &[&str]) -> Vec<String> {
    let Some(script) = script() else {
        return Vec::new();
    };
    browser.run(&format!("{script}; window.axe = axe; return true"));
    let found = browser.run(&format!(
        "const impacts = {}; return axe.run({{resultTypes: ['violations']}}).then(r => r.violations \
         .filter(v => !impacts.length || impacts.includes(v.impact)) \
         .map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(' | ')))",
        json!(impacts)
    ));
    let lines = found.as_array().unwrap().iter();
    lines
        .map(Value::as_str)
        .map(|line| line.unwrap().to_owned())
        .collect()
}
