//! Hazards and follow-ups: what could hurt the next person, and what to come back for.

use super::items::Item;
use super::lexicon::meaning::{Field, Measure, Role};
use super::sentence::{Break, Sentence};
use crate::survey::codes::{Component, Condition, HazardKind};

/// A hazard as drafted.
#[derive(Debug, Clone)]
pub(crate) struct HazardDraft {
    pub(crate) kind: HazardKind,
    /// The subject it is about, or the site at large.
    pub(crate) who: Option<usize>,
    pub(crate) first: usize,
    pub(crate) next: usize,
    pub(crate) confidence: f64,
}

/// A follow-up as drafted.
#[derive(Debug, Clone)]
pub(crate) struct FollowDraft {
    pub(crate) who: usize,
    pub(crate) what: &'static str,
    pub(crate) first: usize,
    pub(crate) next: usize,
}

/// Distance from an edge that is worth a warning, feet.
const NEAR_EDGE_FT: f64 = 15.0;

/// Drafts the hazards of a sentence.
pub(crate) fn hazards(s: &mut Sentence<'_>) -> Vec<HazardDraft> {
    let mut out: Vec<HazardDraft> = Vec::new();
    for at in 0..s.items.len() {
        if s.is_muted(at) {
            continue;
        }
        let Some(item) = s.get(at) else { break };
        let found = item
            .meaning
            .danger
            .filter(|kind| counts(s, at, *kind))
            .or_else(|| composed(s, at));
        let Some(kind) = found else { continue };
        if denied(s, at) && item.meaning.danger.is_some() && !negative(item) {
            continue;
        }
        if out
            .iter()
            .rev()
            .take(20)
            .any(|h| h.kind == kind && at.saturating_sub(h.first) < 14)
        {
            continue;
        }
        let start = s.clause_start(at, Break::Hard);
        let end = s.clause_end(at, Break::Hard);
        let named = (start..end).any(|i| s.is_name(i));
        let of_unit = matches!(
            kind,
            HazardKind::LiveElectrical
                | HazardKind::ExposedWiring
                | HazardKind::GasLeak
                | HazardKind::RefrigerantRelease
                | HazardKind::HotSurface
                | HazardKind::StingingInsects
        );
        let distance = kind == HazardKind::UnprotectedEdge && edge_distance(s, at).is_some();
        let who = (named || of_unit || distance).then(|| s.who.get(at).copied().unwrap_or(0));
        s.use_up(at, at + 1);
        out.push(HazardDraft {
            kind,
            who,
            first: at,
            next: at + 1,
            confidence: 0.85 * f64::from(item.trust),
        });
    }
    out
}

/// The phrase itself denies ("no parapet"), so a "no" before it is its own.
fn negative(item: &Item) -> bool {
    matches!(
        item.meaning.danger,
        Some(HazardKind::UnprotectedEdge | HazardKind::LadderAccess | HazardKind::UnguardedOpening)
    )
}

/// Whether a danger word is meant as one here.
fn counts(s: &Sentence<'_>, at: usize, kind: HazardKind) -> bool {
    if kind != HazardKind::UnprotectedEdge {
        return true;
    }
    // "six feet from the edge" is near, "forty feet from the edge" is not.
    let length = s.get(at).map_or(0, |i| i.last - i.first);
    let word = length == 1 || s.get(at).is_some_and(|i| i.is(Role::Site));
    match edge_distance(s, at) {
        Some(feet) => feet < NEAR_EDGE_FT,
        None => !word && !bare_edge(s, at),
    }
}

/// How far from the edge something was said to be, feet.
fn edge_distance(s: &Sentence<'_>, at: usize) -> Option<f64> {
    (at.saturating_sub(6)..at).rev().find_map(|i| {
        let number = s.get(i)?.number?;
        let measure = s.get(i + 1)?.meaning.measure;
        (measure == Some(Measure::Foot)).then_some(number.value)
    })
}

/// "from the edge" without a distance says nothing; the lexicon marks such phrases as places.
fn bare_edge(s: &Sentence<'_>, at: usize) -> bool {
    s.get(at).is_some_and(|i| i.is(Role::At))
}

/// Dangers that need two words together.
fn composed(s: &Sentence<'_>, at: usize) -> Option<HazardKind> {
    let part = s.known_part(at)?;
    let start = s.clause_start(at, Break::Hard);
    let end = s.clause_end(at, Break::Hard);
    let near = |f: &dyn Fn(&Item) -> bool| {
        (start.max(at.saturating_sub(6))..end.min(at + 8)).any(|i| s.get(i).is_some_and(f))
    };
    let guard_denied = (start.max(at.saturating_sub(6))..end.min(at + 8)).any(|i| {
        let guard = matches!(
            s.known_part(i),
            Some(Component::Guardrail | Component::FanGuard | Component::OutdoorAirScreen)
        ) || s
            .part(i)
            .is_some_and(|p| matches!(p, super::lexicon::meaning::Part::Head(_)));
        guard
            && i != at
            && ((i.saturating_sub(3)..i).any(|b| s.role(b, Role::No))
                || (i + 1..i + 4).any(|b| {
                    s.get(b)
                        .is_some_and(|x| x.meaning.fault == Some(Condition::Missing))
                }))
    });
    match part {
        Component::Skylight | Component::Hatch => {
            let open = near(&|i| {
                matches!(i.meaning.fault, Some(Condition::Exposed))
                    || part == Component::Skylight
                        && matches!(
                            i.meaning.fault,
                            Some(Condition::Missing | Condition::Broken)
                        )
            });
            (guard_denied || open).then_some(HazardKind::UnguardedOpening)
        }
        Component::Parapet => {
            let low = near(&|i| i.measure_of_low());
            low.then_some(HazardKind::UnprotectedEdge)
        }
        Component::Guardrail => {
            let missing = near(&|i| {
                matches!(
                    i.meaning.fault,
                    Some(Condition::Missing | Condition::Broken)
                )
            });
            let no = (at.saturating_sub(3)..at).any(|b| s.role(b, Role::No));
            let hatch = near(&|i| {
                matches!(
                    i.meaning.part,
                    Some(super::lexicon::meaning::Part::Known(
                        Component::Hatch | Component::Skylight
                    ))
                )
            });
            ((missing || no) && !hatch).then_some(HazardKind::UnprotectedEdge)
        }
        Component::Ladder => {
            let bad = near(&|i| {
                matches!(
                    i.meaning.fault,
                    Some(
                        Condition::Missing
                            | Condition::Loose
                            | Condition::Unsecured
                            | Condition::Broken
                            | Condition::Bent
                            | Condition::Damaged
                            | Condition::Rusted
                            | Condition::Cracked
                            | Condition::WrongSize
                    )
                )
            });
            bad.then_some(HazardKind::LadderAccess)
        }
        Component::GasPiping | Component::GasRegulator => {
            let leaks = near(&|i| i.meaning.fault == Some(Condition::Leaking));
            leaks.then_some(HazardKind::GasLeak)
        }
        Component::Wiring => near(&|i| i.meaning.fault == Some(Condition::Exposed))
            .then_some(HazardKind::ExposedWiring),
        _ => None,
    }
}

fn denied(s: &Sentence<'_>, at: usize) -> bool {
    (at.saturating_sub(3)..at)
        .rev()
        .take_while(|i| s.cut(i + 1) < Break::Soft)
        .any(|i| s.role(i, Role::No))
}

impl Item {
    /// "low", "short", "eight inches": what makes a parapet no guard.
    fn measure_of_low(&self) -> bool {
        self.number.is_some_and(|n| n.value < 39.0)
    }
}

/// Drafts the follow-ups of a sentence.
pub(crate) fn follow_ups(s: &mut Sentence<'_>, last: Option<Component>) -> Vec<FollowDraft> {
    let mut out: Vec<FollowDraft> = Vec::new();
    for at in 0..s.items.len() {
        let Some(item) = s.get(at).filter(|i| i.is(Role::FollowUp)) else {
            continue;
        };
        if s.is_muted(at) && !item.is(Role::Past) {
            continue;
        }
        let ahead = (at + 1..at + 9)
            .take_while(|i| {
                s.get(*i).is_some_and(|x| {
                    x.gap < crate::dictation::tokens::Gap::Comma && !x.is(Role::But)
                })
            })
            .find_map(|i| Some((i, target(s, i)?)));
        let back = || {
            (at.saturating_sub(8)..at)
                .rev()
                .find_map(|i| Some((i, target(s, i)?)))
        };
        // "come back for it": what the sentence before was about.
        let before = || {
            let it = (at + 1..at + 4).any(|i| s.role(i, Role::It));
            last.filter(|_| it).map(|part| (at, part.code()))
        };
        let Some((place, what)) = ahead.or_else(back).or_else(before) else {
            continue;
        };
        let who = s.who.get(place).copied().unwrap_or(0);
        if out
            .iter()
            .rev()
            .take(20)
            .any(|f| f.what == what && f.who == who)
        {
            continue;
        }
        let (first, next) = (at.min(place), at.max(place) + 1);
        s.use_up(at, at + 1);
        s.use_up(place, place + 1);
        // "the model and serial".
        let second = place + 1 + usize::from(s.role(place + 1, Role::And));
        let second = second + usize::from(s.role(second, Role::A));
        if place > at
            && second > place + 1
            && let Some(also) = target(s, second).filter(|w| *w != what)
        {
            s.use_up(second, second + 1);
            out.push(FollowDraft {
                who,
                what: also,
                first: at,
                next: second + 1,
            });
        }
        out.push(FollowDraft {
            who,
            what,
            first,
            next,
        });
    }
    // "couldn't read the plate, come back for the serial": the closer one tells more.
    if out.iter().any(|f| f.what.starts_with("nameplate.")) {
        out.retain(|f| f.what != "nameplate");
    }
    out
}

/// What a follow-up can be about: a field or a part.
fn target(s: &Sentence<'_>, at: usize) -> Option<&'static str> {
    let meaning = &s.get(at)?.meaning;
    if let Some(field) = meaning.label.filter(|f| *f != Field::Ignored) {
        return Some(field.path());
    }
    s.known_part(at).map(Component::code)
}
