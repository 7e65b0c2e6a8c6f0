//! What a recording tells of reflections, in the room: every predicted one as its path, drawn as what became of it - a pen for each, so that they are told apart without color -, and outlines of the surfaces
//! that one could come by which nothing predicts.
//!
//! Paths are those of the scene that was compared: the source, bounces, the middle of the head. Where that is not the scene on screen all of it is pale, and the legend says so: a path may leave the room that is drawn.

use bevy::math::DVec3;
use bevy_egui::egui::Color32;
use roomwright::prove::Found;

use super::ink::{Pen, Strip, around, ring};
use crate::proving::{Told, in_front};
use crate::results::Results;
use crate::ui::tokens;
use crate::view::{Step, View};

/// All that may become of a reflection.
pub(super) const STATES: [Found; 5] = [Found::AsPredicted, Found::Louder, Found::Weaker, Found::NotToldApart, Found::Missing];

/// Whether what was compared is the scene on screen.
pub(super) fn is_now(view: &View, results: &Results) -> bool {
    in_front(view, results).is_some_and(|(proven, _)| results.shows(&proven.scene))
}

/// The color of a line, of the scene on screen or of it as it was.
pub(super) fn color(own: Color32, is_now: bool) -> Color32 {
    if is_now { own } else { tokens::PALE }
}

/// What one is drawn with.
pub(super) fn pen(found: Found) -> (Pen, Color32) {
    match found {
        Found::AsPredicted => (Pen::AsPredicted, tokens::INK),
        Found::Louder => (Pen::Louder, tokens::ACCENT),
        Found::Weaker => (Pen::Weaker, tokens::INK),
        Found::NotToldApart => (Pen::NotToldApart, tokens::QUIET),
        Found::Missing => (Pen::Missing, tokens::QUIET),
    }
}

/// What surfaces are outlined with that a new one could come by: of the one in front fully.
pub(super) fn candidate(view: &View) -> (Pen, Color32) {
    let pen = if matches!(view.proving.told, Some(Told::New(_))) { Pen::Chosen } else { Pen::Missing };
    (pen, tokens::ACCENT)
}

/// How far an outline is drawn in, as a share of the way to the middle of its surface.
const INSET: f64 = 0.06;

/// Predicted reflections of the recording in front, what became of them, and their ways, while it is asked whether it worked.
pub(super) fn paths(view: &View, results: &Results) -> Vec<(Told, Found, Vec<DVec3>)> {
    let Some((proven, one)) = in_front(view, results).filter(|_| view.step == Step::Prove) else { return Vec::new() };
    let path = |(row, matched): (usize, &roomwright::prove::Matched)| {
        let way = proven.way(one, matched)?;
        Some((Told::Predicted(row), matched.found, way))
    };
    one.reflections.iter().enumerate().filter_map(path).collect()
}

/// Surfaces of the compared room that new reflections could come by: of the one in front, else of all where no reflection is.
pub(super) fn candidates(view: &View, results: &Results) -> Vec<Vec<DVec3>> {
    let Some((proven, one)) = in_front(view, results).filter(|_| view.step == Step::Prove) else { return Vec::new() };
    let is_meant = |row: usize| view.proving.told.is_none_or(|told| told == Told::New(row));
    let meant = one.new_reflections.iter().enumerate().filter(|(row, _)| is_meant(*row));
    let mut surfaces: Vec<usize> = meant.flat_map(|(_, new)| proven.candidates(new)).collect();
    surfaces.sort_unstable();
    surfaces.dedup();
    let within = |index: usize| {
        let surface = &proven.room.surfaces[index];
        let corners = around(surface, &surface.outline);
        let middle = corners.iter().sum::<DVec3>() / corners.len().max(1) as f64;
        // Off the edges, which it shares with others.
        corners.into_iter().map(|corner| corner.lerp(middle, INSET)).collect()
    };
    surfaces.into_iter().map(within).collect()
}

/// All of it as lines. The one in front is in the accent and before everything; one that is not there stays dashed, and is seen through everything.
pub(super) fn lines(view: &View, results: &Results) -> Vec<Strip> {
    if view.step != Step::Prove {
        return Vec::new();
    }
    let (told, is_now) = (view.proving.told, is_now(view, results));
    let mut strips: Vec<Strip> = Vec::new();
    for (own, found, points) in paths(view, results) {
        let (pen, ink) = match (told == Some(own), found) {
            (false, _) => pen(found),
            (true, Found::NotToldApart | Found::Missing) => (Pen::Refused, tokens::ACCENT),
            (true, _) => (Pen::Chosen, tokens::ACCENT),
        };
        strips.push(Strip { pen, color: color(ink, is_now), points });
    }
    let (pen, ink) = candidate(view);
    strips.extend(candidates(view, results).into_iter().map(|corners| ring(pen, color(ink, is_now), corners)));
    strips
}
