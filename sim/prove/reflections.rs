//! Early reflections, measured beside predicted ones: which bounce is there, which is missing, which is new and from which wall it could come.
//!
//! Both lists are in order of delay, and so are their pairs: of all ways to pair them without crossing, the one whose sum of costs is least, `(dt / 0.15 ms)^2 + (dL / 6 dB)^2` for a pair within 0.5 ms of each other, 4 for
//! one that is left alone (so that no pair is made that costs more than both alone).
//!
//! A predicted reflection with none of its own is **not told apart** where something as loud arrives round its time, else **missing**. A measured one that is left alone is **new**; it could come along any way over one or
//! two surfaces whose length fits within 0.5 ms, whether or not something stands in that way.
//!
//! *References.* Pairing in order: Needleman and Wunsch, J. Mol. Biol. 48 (1970) 443 (the algorithm). Mirror images: any handbook.
//!
//! *Limits.* Levels of single bounces scatter by some 2 dB over the size of a loudspeaker and by where a microphone stands exactly (common practice, no source); that is added to what inputs leave. A delay says how long a way is, not where it goes:
//! ways are named, not proven.

use glam::DVec3;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::findings::{Reflection, Span};
use crate::measured::early::Early;
use crate::room::Room;

/// Delays may differ by so much, ms.
const NEAR_MS: f64 = 0.5;
/// What costs one: a difference of delay, ms, and of level, dB.
const DELAY_MS: f64 = 0.15;
const LEVEL_DB: f64 = 6.0;
/// Cost of one that is left alone.
const ALONE: f64 = 4.0;
/// By how much levels of single bounces scatter, dB.
const SCATTER_DB: f64 = 2.0;
/// The weakest predicted and measured ones that are told, dB re direct.
pub const WEAKEST_DB: f64 = -20.0;
/// Ways that are named for a new one, at most.
const WAYS: usize = 4;

/// What became of a predicted reflection.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Found {
    /// At its time, as loud as predicted.
    AsPredicted,
    /// At its time, louder.
    Louder,
    /// At its time, weaker.
    Weaker,
    /// Something as loud is there and nothing stands out.
    NotToldApart,
    /// Nothing as loud arrives then.
    Missing,
}

/// A predicted reflection and what was measured of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Matched {
    /// Predicted, after the direct sound.
    pub delay_ms: f64,
    /// Predicted, 1-8 kHz re direct, at the middle of the head or at the microphone.
    pub level_db: f64,
    /// Where that may lie because of materials.
    pub level_inputs_db: Option<Span>,
    /// Surfaces on its way, from the source.
    pub surfaces: Vec<String>,
    /// Where it bounces, room coordinates.
    pub points_m: Vec<[f64; 3]>,
    /// Measured delay; `None` where nothing stands out then.
    pub measured_delay_ms: Option<f64>,
    /// Measured level; where nothing stands out the most that arrives then.
    pub measured_level_db: Option<f64>,
    /// What became of it.
    pub found: Found,
}

/// A measured reflection that nothing predicts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct New {
    /// After the direct sound.
    pub delay_ms: f64,
    /// 1-8 kHz re direct.
    pub level_db: f64,
    /// How much longer its way is than the direct one.
    pub longer_m: f64,
    /// Ways that are as long, the nearest first; none where no one or two surfaces of the room fit.
    pub ways: Vec<Way>,
}

/// A way that a reflection could take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Way {
    /// Over these surfaces, from the source.
    pub surfaces: Vec<String>,
    /// Delay along it.
    pub delay_ms: f64,
}

/// Predicted reflections with what was measured of them, and those that nobody predicted.
#[must_use]
pub fn matched(predicted: &[Reflection], early: &Early, (room, ends): (&Room, (DVec3, DVec3))) -> (Vec<Matched>, Vec<New>) {
    // Those that are too close to the direct sound are a part of it.
    let told: Vec<&Reflection> = predicted.iter().filter(|one| one.level_db >= WEAKEST_DB && one.delay_ms >= 1.0).collect();
    let pairs = paired(&told, early);
    let own = |index: usize| pairs.iter().find(|(predicted, _)| *predicted == index).map(|(_, measured)| *measured);
    let all = told.iter().enumerate().map(|(index, one)| matched_one(one, own(index), early)).collect();
    let is_new = |index: &usize| {
        let one = &early.arrivals[*index];
        let known = pairs.iter().any(|(_, measured)| measured == index);
        // One that a weaker bounce of the table explains is none, nor one that is counted with a bounce within the same millisecond.
        let explained =
            |other: &&Reflection| (other.delay_ms - one.delay_ms).abs() <= NEAR_MS && other.level_db >= one.level_db - 2.0 * SCATTER_DB;
        !known
            && one.level_db >= WEAKEST_DB
            && !predicted.iter().flat_map(|other| std::iter::once(other).chain(&other.joined_by)).any(|other| explained(&other))
    };
    let new = (0..early.arrivals.len()).filter(is_new).map(|index| {
        let one = &early.arrivals[index];
        New {
            delay_ms: one.delay_ms,
            level_db: one.level_db,
            longer_m: 0.001 * one.delay_ms * room.medium.speed,
            ways: ways(room, ends, one.delay_ms),
        }
    });
    (all, new.collect())
}

/// Pairs of predicted and measured ones, none crossing another.
fn paired(predicted: &[&Reflection], early: &Early) -> Vec<(usize, usize)> {
    let measured = &early.arrivals;
    let cost = |i: usize, j: usize| {
        let (late, loud) = (measured[j].delay_ms - predicted[i].delay_ms, measured[j].level_db - predicted[i].level_db);
        let cost = (late / DELAY_MS).powi(2) + (loud / LEVEL_DB).powi(2);
        (late.abs() <= NEAR_MS && cost < 2.0 * ALONE).then_some(cost)
    };
    // least[i][j]: of the first i predicted and j measured ones.
    let mut least = vec![vec![0.0; measured.len() + 1]; predicted.len() + 1];
    for i in 0..=predicted.len() {
        for j in 0..=measured.len() {
            let left = |i: usize, j: usize| least[i][j] + ALONE;
            let mut best = if i == 0 && j == 0 { 0.0 } else { f64::INFINITY };
            if i > 0 {
                best = best.min(left(i - 1, j));
            }
            if j > 0 {
                best = best.min(left(i, j - 1));
            }
            if i > 0
                && j > 0
                && let Some(cost) = cost(i - 1, j - 1)
            {
                best = best.min(least[i - 1][j - 1] + cost);
            }
            least[i][j] = best;
        }
    }
    let (mut i, mut j, mut pairs) = (predicted.len(), measured.len(), Vec::new());
    while i > 0 && j > 0 {
        match cost(i - 1, j - 1) {
            Some(cost) if least[i][j] == least[i - 1][j - 1] + cost => {
                pairs.push((i - 1, j - 1));
                (i, j) = (i - 1, j - 1);
            }
            _ if least[i][j] == least[i - 1][j] + ALONE => i -= 1,
            _ => j -= 1,
        }
    }
    pairs.reverse();
    pairs
}

fn matched_one(predicted: &Reflection, measured: Option<usize>, early: &Early) -> Matched {
    let inputs = predicted.level_inputs_db.map_or(0.0, |span| 0.5 * (span.high - span.low));
    let unsure = 2.0 * SCATTER_DB.hypot(inputs);
    let own = measured.map(|index| early.arrivals[index]);
    let level = own.map(|own| own.level_db).or_else(|| early.most_db(predicted.delay_ms - NEAR_MS, predicted.delay_ms + NEAR_MS));
    let louder = level.map(|level| level - predicted.level_db);
    let found = match (own, louder) {
        (Some(_), Some(louder)) if louder > unsure => Found::Louder,
        (Some(_), Some(louder)) if louder < -unsure => Found::Weaker,
        (Some(_), _) => Found::AsPredicted,
        (None, Some(louder)) if louder >= -unsure => Found::NotToldApart,
        (None, _) => Found::Missing,
    };
    Matched {
        delay_ms: predicted.delay_ms,
        level_db: predicted.level_db,
        level_inputs_db: predicted.level_inputs_db,
        surfaces: predicted.surfaces.clone(),
        points_m: predicted.points_m.clone(),
        measured_delay_ms: own.map(|own| own.delay_ms),
        measured_level_db: level,
        found,
    }
}

/// Ways over one or two surfaces with about this delay.
fn ways(room: &Room, (source, receiver): (DVec3, DVec3), delay_ms: f64) -> Vec<Way> {
    let direct = source.distance(receiver);
    let delay = |image: DVec3| 1000.0 * (image.distance(receiver) - direct) / room.medium.speed;
    let in_front = |index: usize, point: DVec3| room.surfaces[index].chart.height(point) > 0.0;
    let mut found: Vec<(f64, Vec<usize>)> = Vec::new();
    let mut ask = |image: DVec3, surfaces: Vec<usize>| {
        let off = (delay(image) - delay_ms).abs();
        if off <= NEAR_MS && in_front(surfaces[surfaces.len() - 1], receiver) {
            found.push((off, surfaces));
        }
    };
    // Two surfaces that lie in one plane are one mirror: the first names it.
    let mirrors: Vec<usize> = (0..room.surfaces.len()).filter(|&index| is_first_of_plane(room, index)).collect();
    for &first in mirrors.iter().filter(|&&first| in_front(first, source)) {
        let image = room.surfaces[first].chart.mirror(source);
        ask(image, vec![first]);
        let shells = mirrors
            .iter()
            .filter(|&&second| second != first && room.surfaces[first].role.is_shell() && room.surfaces[second].role.is_shell());
        for &second in shells.filter(|&&second| in_front(second, image)) {
            ask(room.surfaces[second].chart.mirror(image), vec![first, second]);
        }
    }
    found.sort_by(|a, b| (a.1.len(), a.0).partial_cmp(&(b.1.len(), b.0)).unwrap_or(std::cmp::Ordering::Equal));
    found.truncate(WAYS);
    let way = |(_, surfaces): (f64, Vec<usize>)| {
        let image = surfaces.iter().fold(source, |image, &index| room.surfaces[index].chart.mirror(image));
        Way { surfaces: surfaces.iter().map(|&index| room.surfaces[index].name.clone()).collect(), delay_ms: delay(image) }
    };
    found.into_iter().map(way).collect()
}

fn is_first_of_plane(room: &Room, index: usize) -> bool {
    let own = &room.surfaces[index].chart;
    !room.surfaces[..index]
        .iter()
        .any(|other| other.chart.normal.dot(own.normal) > 1.0 - 1e-9 && other.chart.height(own.origin).abs() < 1e-6)
}
