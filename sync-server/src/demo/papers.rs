//! What the office hands out, fetched from the server and written to files.

use super::device::DemoDevice;
use super::office::DemoOffice;
use crate::cli::Failure;
use crate::client::Client;
use crate::papers::{Pictures, Shelf, assessment_html, register_csv};
use scupper_core::assess::{Assessment, HazardEntry};
use scupper_core::quote::{Quote, quote};
use scupper_core::survey::read::from_json;
use scupper_core::survey::{Photo, Survey};
use serde::de::DeserializeOwned;
use std::path::Path;

/// What was read back from the server.
pub(super) struct Read {
    pub(super) survey: Survey,
    pub(super) assessment: Assessment,
    pub(super) quote: serde_json::Value,
}

/// Fetches everything over HTTP and writes the six files.
pub(super) fn write(
    office: &DemoOffice,
    devices: &[DemoDevice],
    survey: &str,
    out: &Path,
) -> Result<Read, Failure> {
    let client = devices
        .first()
        .map(|device| &device.client)
        .ok_or_else(|| Failure::Other("the scenario has no device".to_owned()))?;
    let get = |what: &str| -> Result<String, Failure> {
        let bytes = client
            .get(&format!("/v1/surveys/{survey}/{what}"))
            .map_err(|error| Failure::other(&format!("fetching {what}"), error))?;
        String::from_utf8(bytes).map_err(|error| Failure::other(&format!("fetching {what}"), error))
    };
    for what in ["survey", "assessment", "hazards", "quote"] {
        save(out, &format!("{what}.json"), &get(what)?)?;
    }
    let plain: Survey = parsed(&get("survey")?)?;
    let assessment: Assessment = parsed(&get("assessment")?)?;
    let priced: Quote = quote(&plain, &assessment, office.book());
    let pictures = Pictures::prepare(&plain, &OverHttp(client), &|_| {});
    save(
        out,
        "assessment.html",
        &assessment_html(
            &plain,
            &assessment,
            Some(&priced),
            &pictures,
            office.book().paper,
        ),
    )?;
    save(out, "register.csv", &register_csv(&assessment))?;
    let quote = parsed(&get("quote")?)?;
    let _: Vec<HazardEntry> = parsed(&get("hazards")?)?;
    Ok(Read {
        survey: plain,
        assessment,
        quote,
    })
}

/// Photos as the server hands them out.
struct OverHttp<'a>(&'a Client);

impl Shelf for OverHttp<'_> {
    fn bytes(&self, photo: &Photo) -> Result<Vec<u8>, String> {
        self.0
            .get(&format!("/v1/photos/{}", photo.hash))
            .map_err(|error| error.to_string())
    }
}

fn parsed<T: DeserializeOwned>(text: &str) -> Result<T, Failure> {
    from_json(text).map_err(|error| Failure::other("the server's answer", error))
}

fn save(out: &Path, name: &str, text: &str) -> Result<(), Failure> {
    let path = out.join(name);
    std::fs::write(&path, text)
        .map_err(|error| Failure::Other(format!("{}: {error}", path.display())))
}
