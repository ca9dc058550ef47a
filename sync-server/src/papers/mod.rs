//! The papers that leave the office: what customer, technician and project manager read.
//!
//! Each paper is a pure function of survey, assessment, quote and pictures, so the same input
//! gives the same bytes. Nothing here decides anything: rules and prices come from core. The
//! customer's papers show a price but no cost, rate or mark-up.

mod agreement;
mod assessment;
mod fit;
mod folder;
mod geojson;
mod hazards;
mod letter;
mod order;
mod parts;
mod pdf;
mod pictures;
mod register;
mod set;
mod sheet;
mod size;
#[cfg(test)]
mod tests;
mod words;
mod worksheet;
mod worksheet_apart;
mod worksheet_rates;

pub use assessment::assessment_html;
pub use folder::Folder;
pub use geojson::survey_geojson;
pub use letter::{Enclosure, Who, letter_eml};
pub use order::in_order;
pub use pdf::assessment_pdf;
pub use pictures::{NoPictures, Picture, Pictures, Shelf};
pub use register::{order_csv, register_csv, register_xlsx};
pub use set::{Material, Take, make_all};
pub use sheet::Written;
pub use worksheet::worksheet_xlsx;

use scupper_core::assess::Assessment;

/// The hazard list as JSON, two spaces deep.
pub fn hazards_json(assessment: &Assessment) -> String {
    let mut text = serde_json::to_string_pretty(&assessment.hazards).unwrap_or_default();
    text.push('\n');
    text
}
