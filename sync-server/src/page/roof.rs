//! Where the work is done: the drawn roof in the middle, what waits for a person on one side of it,
//! the unit that was chosen on the other. Where there is no room for that they follow each other.

use super::settle::Item;
use super::sheet::Sheet;
use super::words;
use maud::{Markup, PreEscaped, html};
use scupper_core::plan::DrawOptions;
use scupper_core::survey::{Equipment, SITE};

/// How the plan is to be drawn for `SurveyView::plan_svg`, so that its units lead to their panel.
pub fn plan_options(survey_id: &str) -> DrawOptions {
    DrawOptions {
        link: Some(format!("/surveys/{}?unit=", words::query(survey_id))),
        ..DrawOptions::default()
    }
}

/// A drawing up to so many bytes stands in the page itself; a larger one is fetched apart, so
/// that the words do not wait for it.
const IN_PAGE: usize = 120_000;

/// The drawing with links that keep the panel in view, and open to those who hear the page: an
/// image would hide them.
fn linked(svg: &str) -> String {
    svg.replacen("role=\"img\"", "role=\"group\"", 1)
        .replace("\" data-unit=\"", "#unit\" data-unit=\"")
}

/// Up to so many units are listed beside the plan; beyond, the register does it.
const LISTED: usize = 60;

impl<'a> Sheet<'a> {
    /// Queue, plan and unit. Each side moves by itself and keeps its place when what is in it is
    /// exchanged.
    pub(super) fn work_part(&self, items: &[Item<'a>]) -> Markup {
        html! {
            div.work {
                @if self.may_settle() { div.queue { (self.settle_part(items)) } }
                (self.roof_part())
                div.about { (self.unit_part(items)) }
            }
        }
    }

    fn roof_part(&self) -> Markup {
        html! {
            section.roof id="roof" aria-labelledby="roof-t" {
                h2 id="roof-t" { "Roof plan" }
                div.plan id="plan" data-part role="region" aria-labelledby="roof-t" tabindex="0" {
                    @if self.view.plan_svg.is_empty() {
                        p { "No outline was recorded, so there is nothing to draw. The units \
                             are in the register below." }
                    } @else if self.view.plan_svg.len() <= IN_PAGE {
                        (PreEscaped(linked(self.view.plan_svg)))
                    } @else {
                        @let apart = format!("{}/plan.svg", self.base);
                        img src=(apart) data-plan alt="Roof plan" loading="lazy";
                        p { a href=(apart) { "The plan alone, its units as links" } }
                    }
                }
            }
        }
    }

    /// What is laid open beside the plan.
    pub(super) fn unit_part(&self, items: &[Item<'a>]) -> Markup {
        html! {
            section.chosen id="unit" data-part tabindex="-1" aria-labelledby="unit-t" {
                (self.chosen(items))
            }
        }
    }

    fn chosen(&self, items: &[Item<'a>]) -> Markup {
        let units = &self.view.survey.equipment;
        match self.view.asked.unit.map(|about| (about, self.unit(about))) {
            Some((SITE, _)) => self.site_panel(items),
            Some((_, Some(unit))) => self.unit_panel(unit, items),
            Some((about, None)) => html! {
                h2 id="unit-t" { "Unit" }
                p.lead { "There is no unit " b { (about) } " in this survey." }
                p { "Its tag may have been corrected, or it was joined to another one." }
                (self.index())
            },
            None if units.is_empty() => html! {
                h2 id="unit-t" { "Units" }
                p { "No unit was entered yet." }
            },
            None => html! {
                h2 id="unit-t" { "Units" }
                p { "Choose one on the plan" @if units.len() <= LISTED { " or here." }
                    @else { ", or in the register below." } }
                (self.index())
            },
        }
    }

    fn index(&self) -> Markup {
        let units = &self.view.survey.equipment;
        html! {
            @if units.len() <= LISTED {
                ul.index { li { (self.link(SITE)) } @for unit in units { li { (self.index_line(unit)) } } }
            }
        }
    }

    fn index_line(&self, unit: &Equipment) -> Markup {
        let rows = &self.view.assessment.register;
        let row = rows.iter().find(|row| {
            if unit.id.is_empty() {
                row.tag == unit.tag
            } else {
                row.id == unit.id
            }
        });
        html! {
            a href=(self.unit_href(unit)) { b { (unit.tag) } " " (unit.kind.words()) }
            @if let Some(worst) = row.and_then(|row| row.worst) { " " (words::severity(worst)) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_on_the_plan_are_links_that_keep_the_panel_in_view() {
        let options = plan_options("s 1");
        assert_eq!(options.link.as_deref(), Some("/surveys/s%201?unit="));
        let drawn =
            "<svg role=\"img\"><a href=\"/surveys/s?unit=EF-2\" data-unit=\"EF-2\">y</a></svg>";
        assert_eq!(
            linked(drawn),
            "<svg role=\"group\"><a href=\"/surveys/s?unit=EF-2#unit\" data-unit=\"EF-2\">y</a></svg>"
        );
        assert_eq!(linked("<svg/>"), "<svg/>");
    }
}
