//! The one page of the roof notebook, before its script has filled it.
//!
//! Every part is here and hidden; the script shows one at a time and fills lists with text.

use crate::page::document;
use maud::{Markup, html};
use scupper_core::assess::CAUTION;
use scupper_core::survey::SITE;
use scupper_core::survey::codes::EquipmentKind;

/// Letters of one note.
const NOTE: u32 = 20_000;

pub(super) fn page() -> Markup {
    let head = html! {
        meta name="theme-color" content="#ffffff";
        meta name="apple-mobile-web-app-capable" content="yes";
        link rel="manifest" href="manifest.webmanifest";
        link rel="icon" href="icon.svg";
        link rel="apple-touch-icon" href="icon-192.png";
        link rel="stylesheet" href="walk.css";
        script type="module" src="main.js" {}
    };
    let body = html! {
        header.top {
            b { "Roof notebook" }
            span #waiting-all {}
        }
        main id="main" tabindex="-1" {
            div.telling {
                p #word role="status" {}
                div #alarm-box hidden {
                    p #alarm role="alert" {}
                    button.plain id="heeded" { "Close" }
                }
            }
            noscript { p.box { "This page works by its script. Allow JavaScript for it, then load it again." } }
            section #enrol hidden aria-labelledby="enrol-t" { (enrol()) }
            section #roofs hidden aria-labelledby="roofs-t" { (roofs()) }
            section #roof hidden aria-labelledby="roof-t" { (roof()) }
        }
    };
    document("Roof notebook", &head, &body)
}

fn enrol() -> Markup {
    html! {
        h1 id="enrol-t" tabindex="-1" { "Enrol this phone" }
        p id="enrol-why" {
            "The office gives you a code. It works once, within 15 minutes. If the Scupper app is on \
             this phone, scan the code in the app instead." }
        form id="enrol-form" {
            label for="code" { "Code" }
            input id="code" required autocomplete="off" autocapitalize="characters" spellcheck="false";
            label for="device-name" { "What to call this phone" }
            input id="device-name" required maxlength="60" value="browser" autocomplete="off";
            button { "Enrol" }
        }
        button.plain id="stay" hidden { "Leave it as it is" }
        p.quiet {
            "Was this phone enrolled here before, and nothing is left? Then the browser has cleared what \
             this page kept, and what was not exchanged by then is gone from it. Tell the office, and \
             see there what arrived." }
    }
}

fn roofs() -> Markup {
    html! {
        h1 id="roofs-t" tabindex="-1" { "Choose a survey" }
        ul.plain id="roof-list" {}
        p id="roof-none" hidden {
            "No survey is here yet. Ask for the list while there is signal; if it stays empty, the office \
             has to open one for you." }
        button id="look" { "Ask the office for the list" }
        section aria-labelledby="ready-t" {
            h2 id="ready-t" { "Before you go up" }
            ul id="ready" {}
        }
        section aria-labelledby="phone-t" {
            h2 id="phone-t" { "This phone" }
            p id="whose" {}
            button.plain id="anew" { "Enrol it for someone else" }
        }
    }
}

fn roof() -> Markup {
    html! {
        button.plain id="back" { "All surveys" }
        h1 id="roof-t" tabindex="-1" {}
        div.wide {
            div {
                div.hand { (hand_over()) }
                div id="gone" hidden { (gone()) }
                (hazards())
            }
            div { (take_down()) }
        }
        section aria-labelledby="waiting-t" {
            h2 id="waiting-t" { "Waiting on this phone" }
            ul.plain id="waiting" {}
        }
        section aria-labelledby="told-t" {
            h2 id="told-t" { "What the office made of it" }
            p.quiet { "Drafts, until someone confirms them. The words themselves are always kept." }
            ul.plain id="told" {}
        }
        p.caution id="caution" { (CAUTION) }
    }
}

fn hand_over() -> Markup {
    html! {
        button.main id="exchange" { "Exchange" }
        p id="exchanged" {}
        p.box id="clock" hidden {}
    }
}

fn gone() -> Markup {
    html! {
        p.box {
            "The office does not show you this survey any more. Nothing is lost: all of it is still on \
             this phone. Ask the office, or put it into another survey." }
        label for="other-roof" { "Survey to put it into" }
        select id="other-roof" {}
        button id="move" { "Put all of it there" }
    }
}

fn hazards() -> Markup {
    html! {
        section.hazards aria-labelledby="hazards-t" {
            h2 id="hazards-t" { "Hazards" }
            p id="hazards-of" {}
            ul.plain id="hazards-here" {}
            details id="hazards-else" hidden {
                summary id="hazards-else-t" { "At units" }
                ul.plain id="hazards-there" {}
            }
            p.stand { b { "Stand still, away from edges, to use this phone." } }
        }
    }
}

fn take_down() -> Markup {
    html! {
        h2 { "Take down" }
        label for="about" { "What it is about" }
        select id="about" {
            option value="" { "Not said" }
            option value=(SITE) { "The roof or the building" }
        }
        details id="new-unit" {
            summary { "A unit that is not listed" }
            form id="unit-form" {
                label for="kind" { "What it is" }
                select id="kind" {
                    @for kind in EquipmentKind::ALL {
                        option value=(kind.code()) data-letters=(kind.tag_prefix()) {
                            (kind.words()) " (" (kind.tag_prefix()) ")" }
                    }
                }
                label for="number" { "Its number" }
                input id="number" inputmode="numeric" pattern="[0-9]{1,4}" required autocomplete="off";
                button { "Add the unit" }
            }
        }
        label for="note" { "Note" }
        textarea id="note" rows="5" maxlength=(NOTE) aria-describedby="note-how" {}
        p.quiet id="note-how" { "Type, or use the microphone key of the keyboard." }
        p id="hearing" hidden {}
        div.pair {
            button.plain id="dictate" hidden aria-pressed="false" { "Speak" }
            button.main id="keep-note" { "Keep the note" }
        }
        p.quiet id="dictate-where" hidden {}
        label for="caption" { "What the next photo shows, and where" }
        input id="caption" maxlength="300" autocomplete="off";
        div.pair {
            (picture("shot", "Take a photo", true))
            (picture("album", "Photos taken before", false))
        }
        div id="unkept" hidden { button id="keep-photo" { "Try again to keep the photo" } }
        figure id="last" hidden {
            img id="last-photo" alt="" width="96" height="96";
            p.box id="last-none" hidden {}
            figcaption id="last-t" {}
        }
    }
}

/// A button that opens the camera, or the photos on the phone.
fn picture(id: &str, text: &str, camera: bool) -> Markup {
    html! {
        span.picture {
            input.unseen id=(id) type="file" accept="image/*" capture=[camera.then_some("environment")]
                multiple[!camera];
            label.button for=(id) { (text) }
        }
    }
}
