//! One unit in full: nameplate beside its photos, what is wrong, verdicts, parts, evidence.

use super::settle::{Heard, Item, flat, input};
use super::sheet::{Sheet, unsettled};
use super::words;
use maud::{Markup, html};
use scupper_core::document::says;
use scupper_core::survey::{Draft, Equipment, Photo, SITE};
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
    /// The panel beside the plan, for a unit.
    pub(super) fn unit_panel(&self, unit: &Equipment, items: &[Item<'a>]) -> Markup {
        let about = if unit.id.is_empty() {
            &unit.tag
        } else {
            &unit.id
        };
        let title = html! { (unit.tag) " " span.quiet { (unit.kind.words()) } };
        html! {
            (self.panel(&title, &self.neighbours(unit), &unit.tag, about, flat(unit), items))
        }
    }

    /// The panel beside the plan, for the site itself.
    pub(super) fn site_panel(&self, items: &[Item<'a>]) -> Markup {
        let site = &self.view.survey.site;
        let mut left = Map::new();
        for (name, words) in [
            ("site.water_source", &site.water_source),
            ("site.access", &site.access),
        ] {
            if let Some(words) = words {
                left.insert(name.to_owned(), Value::from(words.as_str()));
            }
        }
        if let Some(roof) = &site.roof {
            let height = roof.height_ft.map(|feet| Value::from(feet.get()));
            let membrane = roof.membrane.as_deref().map(Value::from);
            left.extend(height.map(|value| ("site.roof_height_ft".to_owned(), value)));
            left.extend(membrane.map(|value| ("site.roof_membrane".to_owned(), value)));
        }
        let around = html! {
            nav.around aria-label="Units" { a href={ (self.base) "#unit" } { "All units" } }
        };
        self.panel(&html! { "Site" }, &around, SITE, SITE, left, items)
    }

    fn panel(
        &self,
        title: &Markup,
        around: &Markup,
        tag: &str,
        about: &str,
        fields: Map<String, Value>,
        items: &[Item<'a>],
    ) -> Markup {
        html! {
            h2 id="unit-t" { (title) }
            (around)
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
            @let photos = self.plates_first(tag);
            div.beside {
                div { (self.fields(tag, about, fields)) }
                @if !photos.is_empty() { aside aria-label="Photos" { (self.strip(&photos)) } }
            }
            (self.unit_parts(tag))
            (self.unit_findings(tag))
            (self.unit_checks(tag))
            p { a href={ (self.base) "/history?unit=" (words::query(about)) } {
                "Who entered what, and when" } }
        }
    }

    /// Photos of a unit, those of its nameplate first.
    fn plates_first(&self, tag: &str) -> Vec<&'a Photo> {
        let mut photos = self.photos(tag).to_vec();
        let plate = |photo: &&Photo| {
            let caption = photo.caption.as_deref().unwrap_or_default();
            caption.to_lowercase().contains("plate")
        };
        photos.sort_by_key(|photo| !plate(photo));
        photos
    }

    /// What a year of maintenance takes of parts for this unit.
    fn unit_parts(&self, tag: &str) -> Markup {
        let lines = self.view.quote.map_or(&[][..], |quote| &quote.materials);
        let lines: Vec<_> = lines
            .iter()
            .filter(|line| line.refs.iter().any(|other| other == tag))
            .collect();
        html! {
            @if !lines.is_empty() {
                h3 { "Parts in the price" }
                ul { @for line in lines { li {
                    (line.item)
                    @if line.refs.len() > 1 { span.quiet { " (also for "
                        (words::count(line.refs.len() - 1, "other unit")) ")" } }
                    @for note in &line.notes { span.small.quiet { " " (note) } }
                } } }
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
                a href={ (self.base) "#unit" } { "All units" }
                @if let Some(unit) = after {
                    a rel="next" href=(self.unit_href(unit)) { (unit.tag) " \u{2192}" }
                }
            }
        }
    }

    fn fields(&self, tag: &str, about: &str, mut left: Map<String, Value>) -> Markup {
        left.remove("tag");
        left.remove("kind");
        let groups: Vec<Markup> = GROUPS
            .iter()
            .map(|(title, names)| self.group(tag, about, title, names, &mut left))
            .collect();
        let others: Vec<String> = left.keys().cloned().collect();
        let others: Vec<&str> = others.iter().map(String::as_str).collect();
        html! {
            @for group in &groups { (group) }
            (self.group(tag, about, "Place and the rest", &others, &mut left))
        }
    }

    fn group(
        &self,
        tag: &str,
        about: &str,
        title: &str,
        names: &[&str],
        left: &mut Map<String, Value>,
    ) -> Markup {
        let lacking = |name: &str| self.missing(tag).iter().any(|gap| gap.field == name);
        let lines: Vec<(&str, Option<Value>)> = names
            .iter()
            .map(|name| (*name, left.remove(*name)))
            .filter(|(name, value)| value.is_some() || lacking(name))
            .collect();
        html! {
            @if !lines.is_empty() {
                h3 { (title) }
                dl.plate { @for (name, value) in &lines {
                    (self.line(tag, about, name, value.as_ref()))
                } }
            }
        }
    }

    /// One field: its value, whether someone stands behind it, the words, and a way to mend it.
    fn line(&self, tag: &str, about: &str, name: &str, value: Option<&Value>) -> Markup {
        let short = name.split_once('.').map_or(name, |(_, rest)| rest);
        let drafts: Vec<&Draft> = self
            .drafts(tag)
            .iter()
            .filter(|d| d.field == name)
            .copied()
            .collect();
        let said = |draft: &Draft| value.is_some_and(|value| says(value, &draft.value));
        let heard = drafts.iter().any(|d| said(d) && unsettled(&d.origin));
        let fields = [
            ("choice", "set".to_owned()),
            ("about", about.to_owned()),
            ("field", name.to_owned()),
        ];
        let label = format!("{} {}", words::place(tag), words::field(name));
        html! {
            dt { (words::sentence(&words::field(short).split(" (").next().unwrap_or(short).replace("loads ", ""))) }
            dd {
                @match value {
                    Some(value) => { b { (words::with_unit(name, value)) } }
                    None => { span.sign.unknown { "not recorded" } }
                }
                @if heard { " " span.sign.draft { "heard" } }
                @if !drafts.is_empty() || self.may_settle() {
                    details {
                        summary { @if drafts.is_empty() { "Mend" } @else { "Words" }
                            span.unseen { ": " (label) } }
                        @for draft in &drafts { (self.draft(draft, said(draft))) }
                        @if drafts.is_empty() && value.is_some() {
                            p.small { "Typed, not dictated." }
                        }
                        div.typed { (self.form_of(&fields, &html! {
                            (input(name, Some(&label), "value")) button { "Set" }
                        })) }
                    }
                }
            }
        }
    }

    /// What was heard of a field.
    fn draft(&self, draft: &'a Draft, said: bool) -> Markup {
        html! {
            (self.words_of(&draft.origin))
            @if !said {
                p.small { "Heard as " b { (words::with_unit(&draft.field, &draft.value)) }
                    ", which is not what the survey says." }
            }
            @if !draft.origin.confirmed_by.is_empty() {
                p.small { "Confirmed by " (self.names(&draft.origin.confirmed_by)) }
            }
            (self.decide(Heard::Draft(draft)))
        }
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
                h3 { "Findings" }
                ul.cards.one { @for finding in all { (self.finding_card(finding, false)) } }
            }
        }
    }

    fn unit_checks(&self, tag: &str) -> Markup {
        let mut all = self.checks(tag).to_vec();
        all.sort_by_key(|check| check.verdict);
        html! {
            @if !all.is_empty() {
                h3 { "Checks" }
                ul.verdicts { @for check in &all { (self.check_line(check, false)) } }
            }
        }
    }
}
