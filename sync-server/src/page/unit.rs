//! One unit in full: nameplate beside its photos, what is wrong, verdicts, parts, evidence.

use super::settle::{Item, flat, input};
use super::sheet::{Sheet, unsettled};
use super::words;
use maud::{Markup, html};
use scupper_core::survey::{Draft, Equipment};
use serde_json::{Map, Value};

/// Fields in the order a person reads them off, by heading. What is in none of them comes last.
const GROUPS: &[(&str, &[&str])] = &[
    (
        "Nameplate",
        &[
            "nameplate.make",
            "nameplate.model",
            "nameplate.serial",
            "nameplate.manufactured_year",
            "nameplate.voltage_v",
            "nameplate.phase",
            "nameplate.hertz",
            "nameplate.mca_a",
            "nameplate.mocp_a",
            "nameplate.loads.largest_motor_rla_a",
            "nameplate.loads.other_a",
            "nameplate.refrigerant",
            "nameplate.charge_lb",
            "nameplate.capacity_tons",
            "nameplate.gas_input_btuh",
        ],
    ),
    (
        "Disconnect",
        &[
            "disconnect.rating_a",
            "disconnect.voltage_v",
            "disconnect.fuse_a",
            "disconnect.distance_ft",
            "disconnect.in_sight",
        ],
    ),
    ("Filters and belts", &["filters", "belts"]),
];

impl<'a> Sheet<'a> {
    /// The panel beside the plan.
    pub(super) fn unit_panel(&self, unit: &Equipment, items: &[Item<'a>]) -> Markup {
        let tag = unit.tag.as_str();
        html! {
            (self.neighbours(unit))
            h3.unit-t id="unit-t" { (tag) " " span.quiet { (unit.kind.words()) } }
            @let waiting = self.waiting_for(items, tag);
            @if !waiting.is_empty() {
                p { "Waits for you: "
                    @for (i, item) in waiting.iter().enumerate() {
                        @if i > 0 { ", " } (self.slip_link(item))
                    }
                }
            }
            @if !self.hazards(tag).is_empty() {
                ul.near { @for hazard in self.hazards(tag) {
                    li { b { (words::sentence(&hazard.kind.words())) ": " } (hazard.because) }
                } }
            }
            (self.strip(self.photos(tag)))
            (self.fields(unit))
            (self.unit_findings(tag))
            (self.unit_checks(tag))
            @let lines = self.view.history.iter().filter(|l| l.about == tag || l.about == unit.id);
            @let lines: Vec<_> = lines.collect();
            @if !lines.is_empty() {
                h4 { "History" }
                ol.history { @for line in lines {
                    li { (words::moment(&line.at)) " " (self.name(&line.author)) ": " (line.words) }
                } }
            }
        }
    }

    fn neighbours(&self, unit: &Equipment) -> Markup {
        let units = &self.view.survey.equipment;
        let at = units.iter().position(|other| std::ptr::eq(other, unit));
        let before = at.and_then(|i| i.checked_sub(1)).and_then(|i| units.get(i));
        let after = at.and_then(|i| units.get(i + 1));
        html! {
            nav.around aria-label="Units" {
                @if let Some(unit) = before {
                    a rel="prev" href=(self.unit_href(unit)) { "\u{2190} " (unit.tag) }
                }
                a href={ (self.base) "#roof" } { "All units" }
                @if let Some(unit) = after {
                    a rel="next" href=(self.unit_href(unit)) { (unit.tag) " \u{2192}" }
                }
            }
        }
    }

    fn fields(&self, unit: &Equipment) -> Markup {
        let mut left = flat(unit);
        left.remove("tag");
        left.remove("kind");
        let groups: Vec<Markup> = GROUPS
            .iter()
            .map(|(title, names)| self.group(unit, title, names, &mut left))
            .collect();
        let others: Vec<String> = left.keys().cloned().collect();
        let others: Vec<&str> = others.iter().map(String::as_str).collect();
        html! {
            @for group in &groups { (group) }
            (self.group(unit, "Place, air and drain", &others, &mut left))
        }
    }

    fn group(
        &self,
        unit: &Equipment,
        title: &str,
        names: &[&str],
        left: &mut Map<String, Value>,
    ) -> Markup {
        let lacking = |name: &str| self.missing(&unit.tag).iter().any(|gap| gap.field == name);
        let lines: Vec<(&str, Option<Value>)> = names
            .iter()
            .map(|name| (*name, left.remove(*name)))
            .filter(|(name, value)| value.is_some() || lacking(name))
            .collect();
        html! {
            @if !lines.is_empty() {
                h4 { (title) }
                dl.plate { @for (name, value) in &lines {
                    (self.line(unit, name, value.as_ref()))
                } }
            }
        }
    }

    /// One field: its value, whether someone stands behind it, the words, and a way to mend it.
    fn line(&self, unit: &Equipment, name: &str, value: Option<&Value>) -> Markup {
        let short = name.split_once('.').map_or(name, |(_, rest)| rest);
        let draft = value.and_then(|value| self.draft_of(&unit.tag, name, value));
        let fields = [
            ("choice", "set".to_owned()),
            (
                "about",
                if unit.id.is_empty() {
                    unit.tag.clone()
                } else {
                    unit.id.clone()
                },
            ),
            ("field", name.to_owned()),
        ];
        let label = format!("{} {}", unit.tag, words::field(name));
        html! {
            dt { (words::sentence(&words::field(short).split(" (").next().unwrap_or(short).replace("loads ", ""))) }
            dd {
                @match value {
                    Some(value) => { b { (words::with_unit(name, value)) } }
                    None => { span.sign.unknown { "not recorded" } }
                }
                @if draft.is_some_and(|draft| unsettled(&draft.origin)) {
                    " " span.sign.draft { "heard" }
                }
                details {
                    summary { @if draft.is_some() { "Words" } @else { "Mend" }
                        span.unseen { ": " (label) } }
                    @if let Some(draft) = draft {
                        (self.words_of(&draft.origin))
                        @if !draft.origin.confirmed_by.is_empty() {
                            p.small { "Confirmed by " (self.names(&draft.origin.confirmed_by)) }
                        }
                    } @else if value.is_some() {
                        p.small { "Typed, not dictated." }
                    }
                    div.typed { (self.form_of(&fields, &html! {
                        (input(name, &label, "value", None)) button { "Set" }
                    })) }
                }
            }
        }
    }

    /// The dictated entry that says what a field holds.
    fn draft_of(&self, tag: &str, name: &str, value: &Value) -> Option<&'a Draft> {
        let alike = |draft: &&&Draft| {
            draft.field == name
                && (same(&draft.value, value)
                    || value
                        .as_array()
                        .is_some_and(|all| all.iter().any(|v| same(v, &draft.value))))
        };
        self.drafts(tag).iter().find(alike).copied()
    }

    /// People by name.
    pub(super) fn names(&self, authors: &[String]) -> String {
        let names: Vec<&str> = authors.iter().map(|author| self.name(author)).collect();
        names.join(", ")
    }

    fn unit_findings(&self, tag: &str) -> Markup {
        let all = self.findings(tag);
        html! {
            @if !all.is_empty() {
                h4 { "Findings" }
                ul.cards.one { @for finding in all { (self.finding_card(finding, false)) } }
            }
        }
    }

    fn unit_checks(&self, tag: &str) -> Markup {
        let all = self.checks(tag);
        html! {
            @if !all.is_empty() {
                h4 { "Checks" }
                ul.verdicts { @for check in all { (self.check_line(check, false)) } }
            }
        }
    }
}

/// Whether two values are one; 24 and 24.0 are.
fn same(one: &Value, other: &Value) -> bool {
    match (one.as_f64(), other.as_f64()) {
        (Some(one), Some(other)) => (one - other).abs() < 1e-9,
        _ => {
            let (Some(one_map), Some(other_map)) = (one.as_object(), other.as_object()) else {
                return one == other;
            };
            one_map.len() == other_map.len()
                && one_map
                    .iter()
                    .all(|(key, value)| other_map.get(key).is_some_and(|o| same(o, value)))
        }
    }
}
