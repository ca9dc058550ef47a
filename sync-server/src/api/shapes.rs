//! What is read of a survey, as OpenAPI is told of it: the keys at the top and of what kind each
//! is. Only described; what answers is core's own types. `docs/document.md`, `docs/rules.md` and
//! `docs/quote.md` tell what is inside.
#![allow(dead_code, reason = "only described")]

use serde_json::Value;
use utoipa::ToSchema;

/// A survey in plain form.
#[derive(ToSchema)]
pub(super) struct SurveyShape {
    survey_id: String,
    #[schema(format = Date)]
    surveyed_on: Option<String>,
    /// The survey of the last visit.
    parent: Option<String>,
    /// The building and its roofs.
    #[schema(value_type = Object)]
    site: Value,
    #[schema(value_type = Vec<Object>)]
    equipment: Vec<Value>,
    #[schema(value_type = Vec<Object>)]
    findings: Vec<Value>,
    #[schema(value_type = Vec<Object>)]
    hazards: Vec<Value>,
    /// Things to come back for; absent when there are none.
    #[schema(value_type = Option<Vec<Object>>, nullable = false)]
    follow_ups: Option<Vec<Value>>,
    /// Dictated values that wait for a word; absent when there are none.
    #[schema(value_type = Option<Vec<Object>>, nullable = false)]
    drafts: Option<Vec<Value>>,
    #[schema(value_type = Vec<Object>)]
    notes: Vec<Value>,
    #[schema(value_type = Vec<Object>)]
    photos: Vec<Value>,
}

/// What was found out about a survey.
#[derive(ToSchema)]
pub(super) struct AssessmentShape {
    survey_id: String,
    /// Which editions of the codes were applied.
    profile: String,
    /// A row for each unit.
    #[schema(value_type = Vec<Object>)]
    register: Vec<Value>,
    /// Rules with their verdicts: `pass`, `fail`, `advise`, `unknown`.
    #[schema(value_type = Vec<Object>)]
    checks: Vec<Value>,
    hazards: Vec<HazardShape>,
    /// Inputs that are missing, and what for.
    #[schema(value_type = Vec<Object>)]
    missing: Vec<Value>,
    #[schema(value_type = Vec<Object>)]
    findings: Vec<Value>,
    /// Units and rules that nothing was checked of.
    not_checked: Vec<String>,
    /// The standing caution.
    caution: String,
}

/// A hazard, reported or found from the plan.
#[derive(ToSchema)]
pub(super) struct HazardShape {
    kind: String,
    /// Tag of the unit, `site`, or null.
    #[schema(required)]
    r#ref: Option<String>,
    zone: Option<String>,
    distance_ft: Option<f64>,
    because: String,
    control: String,
    caution: String,
    /// Whether a person reported it.
    reported: bool,
    #[schema(value_type = Option<Object>)]
    evidence: Option<Value>,
    note_id: Option<String>,
    #[schema(value_type = Object)]
    source: Value,
}

/// What a maintenance quote is made from. Money is whole cents, a range has `low`, `likely` and
/// `high`.
#[derive(ToSchema)]
pub(super) struct QuoteShape {
    survey_id: String,
    rate_book: String,
    rate_book_note: Option<String>,
    currency: String,
    /// Why there is nothing to price, if so.
    empty: Option<String>,
    visits_per_year: u32,
    #[schema(value_type = Object)]
    scope: Value,
    #[schema(value_type = Vec<Object>)]
    tasks: Vec<Value>,
    #[schema(value_type = Vec<Object>)]
    materials: Vec<Value>,
    #[schema(value_type = Object)]
    crew: Value,
    #[schema(value_type = Object)]
    access: Value,
    #[schema(value_type = Object)]
    travel: Value,
    hire_cents_per_year: i64,
    #[schema(value_type = Object)]
    labour_hours_per_year: Value,
    #[schema(value_type = Object)]
    labour_minutes_per_year: Value,
    #[schema(value_type = Object)]
    people_minutes_per_year: Value,
    #[schema(value_type = Object)]
    build_up: Value,
    #[schema(value_type = Object)]
    price_cents_per_year: Value,
    #[schema(value_type = Object)]
    simulation: Value,
    #[schema(value_type = Vec<Object>)]
    sensitivities: Vec<Value>,
    #[schema(value_type = Vec<Object>)]
    options: Vec<Value>,
    /// Priced apart, never in the price above.
    #[schema(value_type = Vec<Object>)]
    repairs: Vec<Value>,
    assumptions: Vec<String>,
    exclusions: Vec<String>,
    #[schema(value_type = Vec<Object>)]
    missing: Vec<Value>,
}
