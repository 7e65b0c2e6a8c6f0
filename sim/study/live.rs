//! The early window of a traced room, again and again, while flat panels are moved about in it: no path is traced anew.
//!
//! [`Live`] keeps the early energy of the last layout that it weighed whole. A layout that differs from that one by a few panels costs
//! only the paths that meet the places where they differ, before and after ([`EarlyIndex::after`], exact); one that differs by many
//! is weighed whole and becomes the one that is kept.
//!
//! *Limits.* What is a body of the room (corner panels, clouds, what stands) is geometry: a layout in which those differ is another
//! room, see [`same_room`].

use crate::findings::pairs::early_level as level_of_pair;
use crate::findings::reflections::{EarlyReflections, early_reflections};
use crate::findings::{Estimate, Reflection, strongest_db};
use crate::hanging::{self, Hanging};
use crate::plan::place::judged_pairs;
use crate::plan::search::{Goal, early_level, told_gain};
use crate::progress::{Cancelled, Progress};
use crate::room::{Bodies, Room, bodies};
use crate::scene::{Panel, PanelPlace, PanelType, Scene, Terms};
use crate::units::LengthUnit;
use crate::weigh::early::{Change, EarlyEnergy, EarlyIndex};
use crate::weigh::{Linings, Traced};

/// Layouts that differ in more places than this are weighed whole.
const PLACES_MOST: usize = 12;

/// The early window of one layout.
#[derive(Clone, Debug, PartialEq)]
pub struct EarlyFindings {
    /// Early reflected level re direct, mean energy of the judged pairs, zone-averaged, 1-8 kHz, dB.
    pub level_db: Estimate,
    /// Sum of excess over the criterion, worst of the judged pairs, dB.
    pub excess_db: f64,
    /// Every source at every receiver, receivers within sources, as in [`crate::findings::Findings::pairs`].
    pub pairs: Vec<EarlyPair>,
}

/// What one source does early at one receiver; each field as in [`crate::findings::Pair`].
#[derive(Clone, Debug, PartialEq)]
pub struct EarlyPair {
    /// Index of the source.
    pub source: usize,
    /// Index of the receiver.
    pub receiver: usize,
    /// Energy of all reflections in the early window, 1-8 kHz, zone-averaged, re direct, dB.
    pub level_db: Estimate,
    /// Sum over reflections of the excess over the criterion, at the worst head position of the zone, dB.
    pub excess_db: f64,
    /// Early reflections at that position, by delay.
    pub reflections: Vec<Reflection>,
    /// That position, meters: where the paths of these reflections end.
    pub point_m: [f64; 3],
}

impl EarlyPair {
    /// Level of the strongest of its reflections, as [`crate::findings::Pair::strongest_db`].
    #[must_use]
    pub fn strongest_db(&self) -> Option<f64> {
        strongest_db(&self.reflections)
    }
}

/// Whether paths traced for one scene hold for the other: they differ in nothing but flat panels, what does not sound, and what the room is
/// for and judged by.
#[must_use]
pub fn same_room(traced: &Scene, other: &Scene) -> bool {
    let bare = |scene: &Scene| Scene {
        name: String::new(),
        question: None,
        unit: LengthUnit::Meter,
        panels: Vec::new(),
        clearances: Vec::new(),
        stock: scene
            .stock
            .iter()
            .map(|kind| PanelType { count: 0, instead_of: None, price: None, drill: None, mass: None, ..kind.clone() })
            .collect(),
        ..judged_as(scene, traced)
    };
    bodies_of(traced) == bodies_of(other) && bare(traced) == bare(other)
}

/// Whether findings of one scene hold for another in the same room, hung alike: both are for the same use, judged by the same levels and
/// measured by the same tape.
#[must_use]
pub fn same_judgement(one: &Scene, other: &Scene) -> bool {
    judged_as(one, other) == *one
}

/// A scene for the use of another, with its levels and its tape.
fn judged_as(scene: &Scene, other: &Scene) -> Scene {
    Scene {
        activity: other.activity,
        noise_level: other.noise_level,
        speech_level: other.speech_level,
        tape_tolerance: other.tape_tolerance,
        goals: other.goals.clone(),
        ..scene.clone()
    }
}

/// The panels that are bodies of the room, by their number: faces of the room point to them.
fn bodies_of(scene: &Scene) -> Vec<(usize, &Panel)> {
    let is_body = |panel: &Panel| {
        let kind = scene.stock.iter().find(|kind| kind.name == panel.kind);
        let is_flat = matches!(panel.place, PanelPlace::Surface { .. });
        !is_flat || kind.is_some_and(|kind| !bodies::is_patch(kind.kind, Bodies::Standing))
    };
    scene.panels.iter().enumerate().filter(|(_, panel)| is_body(panel)).collect()
}

/// A layout as weighed.
struct Kept {
    hanging: Hanging,
    linings: Linings,
    early: EarlyEnergy,
}

/// A traced room whose early window is weighed again and again.
pub struct Live<'a> {
    pub(super) traced: &'a Traced,
    pub(super) index: EarlyIndex<'a>,
    /// The one that was weighed whole last.
    kept: Option<Kept>,
    /// The one that was weighed last of all, where that is another.
    near: Option<Kept>,
}

impl<'a> Live<'a> {
    /// Indexes the early part of the paths.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(progress: &Progress, traced: &'a Traced) -> Result<Self, Cancelled> {
        Ok(Self { traced, index: EarlyIndex::new(progress, traced)?, kept: None, near: None })
    }

    /// The early window with the flat panels of `scene`, whose room is the traced one ([`same_room`]).
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn early(&mut self, progress: &Progress, scene: &Scene) -> Result<EarlyFindings, Cancelled> {
        let hanging = hanging::from_panels(scene, &self.traced.room, &scene.panels);
        let linings = Linings::new(&self.traced.room, &hanging);
        let near = self.kept.as_ref().and_then(|kept| {
            let places = kept.hanging.differing(&hanging);
            (places.len() <= PLACES_MOST).then_some((kept, places))
        });
        if let Some((kept, places)) = near {
            let change = Change { before: &kept.linings, after: &linings, places: &places };
            let early = self.index.after(&kept.early, &change);
            let findings = self.findings(scene, &linings, &early);
            self.near = Some(Kept { hanging, linings, early });
            return Ok(findings);
        }
        let early = self.index.weigh(progress, &linings)?;
        let findings = self.findings(scene, &linings, &early);
        (self.kept, self.near) = (Some(Kept { hanging, linings, early }), None);
        Ok(findings)
    }

    /// What each panel of `scene` takes off the early level of the judged pairs, dB: what is lost when it alone is removed. `None` for
    /// those that are bodies of the room.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn earnings(&self, progress: &Progress, scene: &Scene) -> Result<Vec<Option<Estimate>>, Cancelled> {
        let hanging = hanging::from_panels(scene, &self.traced.room, &scene.panels);
        let linings = Linings::new(&self.traced.room, &hanging);
        let early = self.index.weigh(progress, &linings)?;
        let whole = Kept { hanging, linings, early };
        let of_one = |number: usize| {
            progress.step(1)?;
            Ok(self.takes_off(scene, &whole, number))
        };
        (0..scene.panels.len()).map(of_one).collect()
    }

    /// The same of one panel of the scene whose early window was asked for last, without weighing that anew: quick enough while it is dragged.
    #[must_use]
    pub fn earning(&self, scene: &Scene, number: usize) -> Option<Estimate> {
        let whole = self.near.as_ref().or(self.kept.as_ref())?;
        (number < scene.panels.len()).then(|| self.takes_off(scene, whole, number)).flatten()
    }

    /// What a panel takes off the early level of a layout.
    fn takes_off(&self, scene: &Scene, whole: &Kept, number: usize) -> Option<Estimate> {
        let room = &self.traced.room;
        let mut panels = scene.panels.clone();
        panels.remove(number);
        let without = hanging::from_panels(scene, room, &panels);
        let places = whole.hanging.differing(&without);
        (!places.is_empty()).then(|| {
            let change = Change { before: &whole.linings, after: &Linings::new(room, &without), places: &places };
            let pairs = judged_pairs(scene, room);
            let gain = told_gain(self.traced, &early_goal(&pairs), &whole.early, &self.index.difference(&whole.early, &change));
            // What the panel takes off is what its removal adds.
            Estimate { value: -gain.value, se: gain.se }
        })
    }

    fn findings(&self, scene: &Scene, linings: &Linings, early: &EarlyEnergy) -> EarlyFindings {
        let room: &Room = &self.traced.room;
        let judged = judged_pairs(scene, room);
        let all = (0..room.sources.len()).flat_map(|source| (0..room.receivers.len()).map(move |receiver| (source, receiver)));
        let pairs: Vec<EarlyPair> = all
            .map(|(source, receiver)| {
                let table = early_reflections(self.traced, linings, source, receiver);
                let level_db = level_of_pair(self.traced, early, source, receiver);
                let EarlyReflections { reflections, excess_db, point } = table;
                EarlyPair { source, receiver, level_db, excess_db, reflections, point_m: point.to_array() }
            })
            .collect();
        let is_judged = |pair: &&EarlyPair| judged.contains(&(pair.source, pair.receiver));
        EarlyFindings {
            level_db: early_level(self.traced, &early_goal(&judged), early),
            excess_db: pairs.iter().filter(is_judged).map(|pair| pair.excess_db).fold(0.0, f64::max),
            pairs,
        }
    }
}

/// What the early level of these pairs asks for: nothing but them.
fn early_goal(pairs: &[(usize, usize)]) -> Goal<'_> {
    Goal { pairs, bands: &[], target: None, weights: Terms::default() }
}
