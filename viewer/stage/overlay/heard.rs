//! What a recording tells, in the step prove: what the lines of reflections mean, and a label at the one in front.

use bevy::math::Vec2;
use bevy_egui::egui::Color32;
use roomwright::report::text::prove::{found, heading, new, reflection};

use super::super::ink::Pen;
use super::super::proved::{STATES, candidate, candidates, color, is_now, paths, pen};
use super::{Anchor, LETTERS, Layout, MARGIN, Mark, SCALE_THICK, SCALE_WORDS, Seen, folded, middle, named_at, width};
use crate::proving::{Told, in_front};
use crate::ui::tokens;

/// What is said where the scene on screen is another than the compared one.
const AS_IT_WAS: &str = "of the scene as it was";

/// Length of a piece of line, logical pixels, and from there to its words.
const SAMPLE: f32 = 44.0;
const BESIDE: f32 = 8.0;
/// From one row to the next.
const ROW: f32 = 1.45 * LETTERS;

/// A row for each of what became of reflections, with how many; and one for what new ones could come by.
pub(super) fn legend(layout: &mut Layout, seen: &Seen<'_>) {
    let drawn = paths(seen.view, seen.results);
    let count = |state| drawn.iter().filter(|(_, found, _)| *found == state).count();
    let mut rows: Vec<((Pen, Color32), String)> = STATES
        .into_iter()
        .filter(|state| count(*state) > 0)
        .map(|state| (pen(state), format!("{} ({})", found(state), count(state))))
        .collect();
    if !candidates(seen.view, seen.results).is_empty() {
        rows.push((candidate(seen.view), "what a new one could come by".to_owned()));
    }
    let Some((_, one)) = in_front(seen.view, seen.results).filter(|_| !rows.is_empty()) else { return };
    let is_now = is_now(seen.view, seen.results);
    let title = format!("measured reflections, {}{}", heading(one), if is_now { String::new() } else { format!(", {AS_IT_WAS}") });
    let long = rows.iter().map(|(_, words)| SAMPLE + BESIDE + width(words)).fold(width(&title), f32::max);
    // Above the color scale, where there is one.
    let scale = if seen.marks.is_some() || seen.results.slice.is_some() { SCALE_WORDS[0] + SCALE_THICK + SCALE_WORDS[1] } else { 0.0 };
    let tall = ROW * (rows.len() + 1) as f32;
    let low = Vec2::new(layout.low.x + MARGIN, layout.high.y - MARGIN - scale - tall);
    let card = (low - 8.0, low + Vec2::new(long + 14.0, tall + 6.0));
    layout.marks.push(Mark::Fill { low: card.0, high: card.1, color: tokens::CARD });
    layout.taken.push(card);
    layout.text(low + Vec2::new(0.0, 0.5 * LETTERS), Anchor::Left, &title, tokens::SOFT, false);
    for (number, ((pen, ink), words)) in rows.iter().enumerate() {
        let at = low + Vec2::new(0.0, 0.5 * LETTERS + ROW * (number + 1) as f32);
        sample(layout, at, *pen, color(*ink, is_now));
        layout.text(at + Vec2::new(SAMPLE + BESIDE, 0.0), Anchor::Left, words, tokens::INK, false);
    }
}

/// A piece of the line that a pen draws.
fn sample(layout: &mut Layout, at: Vec2, pen: Pen, color: Color32) {
    let long = pen.width();
    let [on, off] = pen.dashes().map_or([SAMPLE, 0.0], |dashes| dashes.map(|part| part * long));
    let mut from = 0.0;
    while from < SAMPLE {
        let points = [from, (from + on).min(SAMPLE)].map(|x| at + Vec2::new(x, 0.0)).to_vec();
        layout.marks.push(Mark::Line { points, color, width: long });
        from += on + off;
    }
}

/// What is in front, in words.
pub(super) fn label(layout: &mut Layout, seen: &Seen<'_>) {
    let Some(told) = seen.view.proving.told else { return };
    let Some((_, one)) = in_front(seen.view, seen.results) else { return };
    let (at, words) = match told {
        Told::Predicted(row) => {
            let Some(((_, _, way), matched)) =
                paths(seen.view, seen.results).into_iter().find(|(own, ..)| *own == told).zip(one.reflections.get(row))
            else {
                return;
            };
            let [delay, measured_delay, level, _, measured, state, surfaces] = reflection(matched);
            let first = format!("off {surfaces}: {state}");
            let second = format!("predicted {delay} ms, {level} dB; measured {measured_delay} ms, {measured} dB");
            (named_at(&way), [first, second])
        }
        Told::New(row) => {
            let (Some(corners), Some(one)) = (candidates(seen.view, seen.results).into_iter().next(), one.new_reflections.get(row)) else {
                return;
            };
            let [delay, level, _, ways] = new(one);
            (middle(&corners), [format!("new: {delay} ms, {level} dB"), format!("could come by {ways}")])
        }
    };
    let is_now = is_now(seen.view, seen.results);
    let ink = if is_now { tokens::ACCENT } else { tokens::SOFT };
    let then = (!is_now).then(|| AS_IT_WAS.to_owned());
    let lines: Vec<(String, Color32)> = words.iter().flat_map(|words| folded(words)).chain(then).map(|line| (line, ink)).collect();
    if let Some(at) = seen.sight.screen(at) {
        layout.label(at, &lines, 22.0, true);
    }
}
