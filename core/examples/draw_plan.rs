//! Draws a survey's roof plan: `draw_plan SURVEY.json [phone] > plan.svg`.

use scupper_core::plan::{DrawOptions, draw};
use scupper_core::survey::read::survey_from_json;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let path = arguments.next().ok_or("name a survey file")?;
    let options = match arguments.next().as_deref() {
        Some("phone") => DrawOptions::phone(),
        _ => DrawOptions::default(),
    };
    let survey = survey_from_json(&std::fs::read_to_string(path)?)?;
    print!("{}", draw(&survey, &options));
    Ok(())
}
