//! Hazards: what could hurt the next person.

use super::items::Item;
use super::lexicon::meaning::{Field, Measure, Role};
use super::numbers::Stream;
use super::sentence::{Break, Sentence, begins_in, ends_in, says, says_any};
use super::subjects::Subject;
use super::tokens::Gap;
use crate::survey::codes::{Component, Condition, EquipmentKind, HazardKind};

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

/// Distance from an edge that is worth a warning, feet.
const NEAR_EDGE_FT: f64 = 15.0;

/// Drafts the hazards of a sentence.
pub(crate) fn hazards(
    s: &mut Sentence<'_>,
    stream: Stream<'_>,
    last: Option<Component>,
    kinds: &[Option<EquipmentKind>],
) -> Vec<HazardDraft> {
    let mut out: Vec<HazardDraft> = Vec::new();
    for at in 0..s.items.len() {
        if s.is_muted(at) {
            continue;
        }
        let Some(item) = s.get(at) else { break };
        let found = item
            .meaning
            .danger
            .and_then(|kind| meant(s, stream, at, kind, last))
            .or_else(|| composed(s, at));
        let Some(kind) = found else { continue };
        if denied(s, at) && item.meaning.danger.is_some() && !negative(item, stream) {
            continue;
        }
        // "I looked for wasps and there aren't any".
        let none = (at + 1..at + 4).any(|i| {
            s.get(i).is_some_and(|x| {
                x.is(Role::No)
                    && ends_in(stream, x, &["any", "none"])
                    && s.get(i + 1).is_none_or(|next| next.gap >= Gap::Comma)
            })
        });
        if none {
            continue;
        }
        let who = s.who.get(at).copied().unwrap_or(0);
        let own = kind == HazardKind::LadderAccess
            && Subject::is_climbed(kinds.get(who).copied().flatten());
        let who = owner(s, stream, at, kind).or(own.then_some(who));
        let again = |h: &&mut HazardDraft| h.kind == kind && at.saturating_sub(h.first) < 14;
        if let Some(before) = out.iter_mut().rev().take(20).find(again) {
            before.who = before.who.or(who);
            continue;
        }
        s.use_up(at, at + 1);
        let (first, next) = told(s, at);
        out.push(HazardDraft {
            kind,
            who,
            first,
            next,
            confidence: 0.85 * f64::from(item.trust),
        });
    }
    out
}

/// The words that tell of a danger: a phrase by itself, or a part with its condition.
fn told(s: &Sentence<'_>, at: usize) -> (usize, usize) {
    let composed = s.get(at).is_some_and(|i| i.meaning.danger.is_none());
    let end = s.clause_end(at, Break::Hard).min(at + 8);
    let fault = (at + 1..end)
        .find(|i| s.get(*i).is_some_and(|x| x.meaning.fault.is_some()))
        .filter(|_| composed);
    (at, fault.unwrap_or(at) + 1)
}

/// Whose danger it is: that of the unit being talked about, or of the site at large.
fn owner(s: &Sentence<'_>, stream: Stream<'_>, at: usize, kind: HazardKind) -> Option<usize> {
    let who = s.who.get(at).copied().unwrap_or(0);
    let start = s.clause_start(at, Break::Hard);
    let end = s.clause_end(at, Break::Hard);
    let beside = |i: usize| s.beside.get(i).copied().flatten();
    // A hole, a soft deck and a line overhead are the roof's, whatever stands near.
    let of_roof = matches!(
        kind,
        HazardKind::UnguardedOpening
            | HazardKind::OverheadLine
            | HazardKind::WeatherHeat
            | HazardKind::Structural
    );
    let this = (at.saturating_sub(14)..at + 6).any(|i| s.any(i, &[Role::This, Role::ByUnit]));
    if kind == HazardKind::WeatherHeat {
        return None;
    }
    if of_roof {
        // "a skylight next to EF 6" is the roof's; "an open hole at EF 6" is that unit's.
        let at_unit = (start..end).any(|i| {
            s.is_name(i)
                && beside(i).is_none()
                && (i.saturating_sub(2)..i).any(|b| {
                    s.get(b)
                        .is_some_and(|x| says_any(stream, x, &["at", "on", "in"]))
                })
        });
        let near = (kind == HazardKind::Structural)
            .then(|| (start..end).find_map(beside))
            .flatten();
        return near.or((this || at_unit).then_some(who));
    }
    if (start..end).any(|i| s.is_name(i) && beside(i).is_none()) {
        return Some(who);
    }
    if kind != HazardKind::Trip
        && let Some(near) = (start..end).find_map(beside)
    {
        return Some(near);
    }
    // "down wind of it", "all round it", "this one's": said of the unit.
    let pointed = s.role(at + 1, Role::It)
        || (at.saturating_sub(10)..at + 6).any(|i| {
            s.any(i, &[Role::This, Role::ByUnit])
                || i > 0 && s.role(i, Role::It) && s.any(i - 1, &[Role::At, Role::Near])
                || kind == HazardKind::Other
                    && s.get(i).is_some_and(|x| {
                        stream.is(x.first as usize, "on") && ends_in(stream, x, &["it"])
                    })
        });
    let landmark = (start.max(at.saturating_sub(6))..end.min(at + 7)).any(|i| {
        matches!(
            s.known_part(i),
            Some(
                Component::Hatch
                    | Component::Ladder
                    | Component::Skylight
                    | Component::Parapet
                    | Component::RoofDrain
                    | Component::WalkwayPad
            )
        )
    });
    // "conduits everywhere, trip hazard all over": the whole roof's.
    let wide = (at.saturating_sub(8)..at + 4).any(|i| {
        s.get(i).is_some_and(|x| {
            says(stream, x, "everywhere")
                || stream.is(x.first as usize, "all") && ends_in(stream, x, &["over"])
        })
    });
    let mine = match kind {
        HazardKind::LadderAccess => false,
        HazardKind::LiveElectrical
        | HazardKind::ExposedWiring
        | HazardKind::GasLeak
        | HazardKind::RefrigerantRelease
        | HazardKind::HotSurface
        | HazardKind::ConfinedSpace => true,
        HazardKind::StingingInsects => !landmark,
        HazardKind::UnprotectedEdge => pointed || edge_distance(s, at).is_some(),
        HazardKind::Trip => !wide && pointed && !landmark,
        HazardKind::SlipperySurface => {
            !landmark && !wide && !of_roof_there(s, stream, at)
                || (at + 1..at + 5).any(|i| {
                    s.get(i).is_some_and(|x| ends_in(stream, x, &["around"]))
                        && s.get(i + 1)
                            .is_some_and(|x| x.is(Role::It) || says_any(stream, x, &["here", "to"]))
                })
                || (at + 1..at + 7).any(|i| {
                    s.known_part(i)
                        .is_some_and(|part| !stream.lexicon.site_parts.contains(&part))
                })
        }
        _ => pointed && !landmark,
    };
    mine.then_some(who)
}

/// "the roof is slick with algae on the north side", "onto the walkway, which is slippery there".
fn of_roof_there(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> bool {
    const ROUND: [&str; 7] = ["around", "round", "under", "beside", "by", "base", "near"];
    // "slick around the base", "icy by it"; "by the stairs" is the roof's.
    let of_unit = |i: usize| {
        s.any(i, &[Role::It, Role::This, Role::Unit])
            || s.get(i).is_some_and(|x| {
                x.meaning.kind.is_some() || says_any(stream, x, &["base", "foot", "bottom"])
            })
            || s.known_part(i)
                .is_some_and(|part| !stream.lexicon.site_parts.contains(&part))
    };
    let about = (at.saturating_sub(6)..at + 6).any(|i| {
        let next = i + 1 + usize::from(s.role(i + 1, Role::A));
        s.get(i).is_some_and(|x| {
            // "around it" is one phrase.
            let it = ends_in(stream, x, &["it", "them"]);
            let first = begins_in(stream, x, &ROUND);
            first && it || ends_in(stream, x, &ROUND) && of_unit(next)
        })
    });
    let roof = (at.saturating_sub(3)..=at).any(|i| s.role(i, Role::Site))
        || s.get(at)
            .is_some_and(|x| stream.is(x.first as usize, "roof"))
        || (at.saturating_sub(6)..at).any(|i| {
            s.get(i)
                .is_some_and(|x| says_any(stream, x, &["walkway", "path"]))
        });
    // "slick as snot over here, green slime underfoot".
    let underfoot = (at..at + 6)
        .filter_map(|i| s.get(i))
        .any(|x| ends_in(stream, x, &["underfoot", "here", "feet"]));
    (roof || underfoot) && !about
}

/// The phrase itself denies ("no parapet"), so a "no" before it is its own.
fn negative(item: &Item, stream: Stream<'_>) -> bool {
    (item.first..item.last)
        .any(|token| stream.is_any(token as usize, &["no", "not", "nothing", "without"]))
}

/// Whether a danger word is meant as one here, and of which kind.
fn meant(
    s: &Sentence<'_>,
    stream: Stream<'_>,
    at: usize,
    kind: HazardKind,
    last: Option<Component>,
) -> Option<HazardKind> {
    let item = s.get(at)?;
    // "no cage": of the ladder, or of the skylight.
    if kind == HazardKind::LadderAccess && s.role(at, Role::Cage) {
        return opening_near(s, at)
            .then_some(HazardKind::UnguardedOpening)
            .or_else(|| climbing(s, at).then_some(kind));
    }
    // "two skylights, unguarded": else an edge is meant.
    if kind == HazardKind::UnguardedOpening && says(stream, item, "unguarded") {
        let told = (at.saturating_sub(6)..at)
            .any(|i| s.get(i).is_some_and(|x| x.meaning.danger == Some(kind)));
        let opening = told || opening_near(s, at) || opening_near(s, at + 3);
        return opening
            .then_some(kind)
            .or(Some(HazardKind::UnprotectedEdge));
    }
    if kind == HazardKind::UnguardedOpening && stream.is(item.first as usize, "nothing") {
        let before = matches!(last, Some(Component::Skylight | Component::Hatch)) && at < 4;
        return (opening_near(s, at) || before).then_some(kind);
    }
    if kind != HazardKind::UnprotectedEdge {
        return Some(kind);
    }
    // "no guardrail around the hatch, straight drop down the shaft".
    let falls = ["drop", "nothing", "fall"]
        .iter()
        .any(|w| (item.first..item.last).any(|t| stream.is(t as usize, w)));
    if falls && opening_near(s, at) {
        return Some(HazardKind::UnguardedOpening);
    }
    // "six feet from the edge" is near, "forty feet from the edge" is not.
    let word = item.last - item.first == 1 || item.is(Role::Site);
    let counts = match edge_distance(s, at) {
        // How far a ladder stands out over the edge is no nearness.
        Some(feet) => feet < NEAR_EDGE_FT && !climbing(s, at),
        None => !word && !bare_edge(s, at),
    };
    counts.then_some(kind)
}

/// A skylight or hatch is what is being talked about.
fn opening_near(s: &Sentence<'_>, at: usize) -> bool {
    (at.saturating_sub(14)..at + 4).any(|i| {
        let part = s.known_part(i);
        // "skylight with no screen" is one phrase.
        let told = |x: &Item| x.meaning.danger == Some(HazardKind::UnguardedOpening);
        matches!(part, Some(Component::Skylight | Component::Hatch))
            || i < at && s.get(i).is_some_and(told)
    })
}

/// A ladder is what is being talked about.
fn climbing(s: &Sentence<'_>, at: usize) -> bool {
    (at.saturating_sub(14)..at + 6).any(|i| {
        s.known_part(i) == Some(Component::Ladder)
            || s.get(i)
                .is_some_and(|x| matches!(x.meaning.value, Some((Field::Access, _))))
    })
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
        (start.max(at.saturating_sub(6))..end.min(at + 8))
            .any(|i| s.get(i).is_some_and(f) && !s.is_muted(i) && !denied(s, i))
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
            let close = (at.saturating_sub(2)..at + 5).any(|i| {
                s.get(i).is_some_and(|x| x.meaning.fault.is_some()) && s.part(i).is_none()
            });
            (guard_denied || open && close).then_some(HazardKind::UnguardedOpening)
        }
        Component::Parapet => {
            let low = (start.max(at.saturating_sub(4))..end.min(at + 5)).any(|i| low(s, i));
            low.then_some(HazardKind::UnprotectedEdge)
        }
        Component::Guardrail => {
            let missing = near(&|i| i.meaning.fault == Some(Condition::Missing));
            let no = (at.saturating_sub(3)..at).any(|b| s.role(b, Role::No));
            let edge = (at..at + 6).any(|i| {
                s.get(i)
                    .is_some_and(|x| x.meaning.danger == Some(HazardKind::UnprotectedEdge))
            });
            let kind = if opening_near(s, at) && !edge {
                HazardKind::UnguardedOpening
            } else {
                HazardKind::UnprotectedEdge
            };
            (missing || no).then_some(kind)
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
        .take_while(|i| s.cut(i + 1) < Break::Soft && !s.role(*i, Role::It))
        .any(|i| s.role(i, Role::No))
}

/// "eight inches": a height that makes a parapet no guard.
fn low(s: &Sentence<'_>, at: usize) -> bool {
    let Some(number) = s.get(at).and_then(|i| i.number) else {
        return false;
    };
    match s.get(at + 1).and_then(|i| i.meaning.measure) {
        Some(Measure::Inch) => number.value < 39.0,
        Some(Measure::Foot) => number.value < 3.25,
        _ => false,
    }
}
