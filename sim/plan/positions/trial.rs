//! The room with its listening set in one place: early terms with few rays, or every term until it is sure.
//!
//! Images are exact and carry most of the early sound; the rays bring what is scattered, and for voices the late sound that clarity is held against. Of the first two rounds only what is judged
//! takes part: sources and receivers of no judged pair are left out, and the rays end with the early part where no voice is judged.
//!
//! *Limits.* Decay and evenness hardly change with the place and have no part in the first two rounds.

use crate::hanging;
use crate::plan::decay::{BothRanges, SideBySide, responses};
use crate::plan::score::{Faults, Heard, faults};
use crate::plan::search::Goal;
use crate::progress::{Cancelled, Progress};
use crate::rays::early_part;
use crate::room::{Bodies, build};
use crate::scene::{Scene, SourceKind};
use crate::settings::Settings;
use crate::weigh::early::early_energy;
use crate::weigh::{Linings, Traced};

use super::set::receiver_name;

/// The judged pairs of a scene, and the same once all that is not judged is left out.
pub(super) struct Judged {
    /// Numbers of its sources and receivers.
    sources: Vec<usize>,
    receivers: Vec<usize>,
    /// The pairs among these.
    pub(super) pairs: Vec<(usize, usize)>,
}

impl Judged {
    pub(super) fn of(pairs: &[(usize, usize)]) -> Self {
        let sorted = |mut list: Vec<usize>| {
            list.sort_unstable();
            list.dedup();
            list
        };
        let sources = sorted(pairs.iter().map(|pair| pair.0).collect());
        let receivers = sorted(pairs.iter().map(|pair| pair.1).collect());
        let place = |list: &[usize], index: usize| list.iter().position(|&own| own == index).unwrap_or(0);
        let own = pairs.iter().map(|&(source, receiver)| (place(&sources, source), place(&receivers, receiver))).collect();
        Self { pairs: own, sources, receivers }
    }

    /// A scene with these alone.
    fn alone(&self, scene: &Scene) -> Scene {
        let mut alone = scene.clone();
        let seats = scene.seats.len();
        alone.sources = self.sources.iter().map(|&source| scene.sources[source].clone()).collect();
        alone.seats = self.receivers.iter().filter(|&&receiver| receiver < seats).map(|&receiver| scene.seats[receiver].clone()).collect();
        let microphones = self.receivers.iter().filter(|&&receiver| receiver >= seats);
        alone.microphones = microphones.map(|&receiver| scene.microphones[receiver - seats].clone()).collect();
        alone
    }
}

/// What the early terms of one place come to.
pub(super) struct Early {
    pub(super) heard: Heard,
    /// Whether the direct sound of each judged pair is free.
    sees: Vec<bool>,
}

/// What places are tried with.
pub(super) struct Setup<'a> {
    pub(super) judged: &'a Judged,
    /// The goal of the judged pairs alone, without an octave of the decay.
    pub(super) goal: &'a Goal<'a>,
    pub(super) settings: &'a Settings,
    /// How long paths are followed where a voice is judged, seconds.
    pub(super) end_s: f64,
}

impl Setup<'_> {
    /// Traces and weighs a place with so many rays from each source.
    pub(super) fn early(&self, progress: &Progress, scene: &Scene, rays: u32) -> Result<Early, Cancelled> {
        let scene = self.judged.alone(scene);
        let room = build(&scene, Bodies::Standing);
        let hanging = hanging::from_panels(&scene, &room, &scene.panels);
        let settings = Settings { rays, rounds: 1, ..self.settings.clone() };
        let speaks = self.goal.pairs.iter().any(|pair| room.sources[pair.0].kind == SourceKind::Voice);
        let end_s = if speaks { self.end_s } else { early_part(&room, &settings) };
        let traced = Traced::new(progress, room, settings, end_s)?;
        let linings = Linings::new(&traced.room, &hanging);
        let weighed = early_energy(progress, &traced, &linings)?;
        // Only the clarity of voices asks for them.
        let responses = if speaks { responses(progress, &traced, &linings)? } else { Vec::new() };
        let heard = Heard::new(&traced, self.goal, (&hanging, &linings), &weighed, &responses);
        let is_direct = |&(source, receiver): &(usize, usize)| {
            traced.images[source][receiver].points[0].iter().any(|path| path.path.bounces.is_empty())
        };
        Ok(Early { heard, sees: self.goal.pairs.iter().map(is_direct).collect() })
    }

    /// What is wrong at each of these places, early terms alone.
    pub(super) fn faults(&self, places: &[&Early]) -> Vec<Faults> {
        let unknown = BothRanges::unknown();
        let decays = SideBySide::among(&vec![&unknown; places.len()]);
        faults(self.goal, &places.iter().map(|place| &place.heard).collect::<Vec<_>>(), &decays)
    }
}

impl Early {
    /// What stands in the way of the direct sound here and does not at the present place.
    pub(super) fn hidden(&self, scene: &Scene, present: &Self, pairs: &[(usize, usize)]) -> Option<String> {
        let lost = pairs.iter().zip(self.sees.iter().zip(&present.sees)).find(|(_, (here, there))| **there && !**here)?;
        let (source, receiver) = *lost.0;
        let kind = scene.sources[source].kind.word();
        let what = receiver_name(scene, receiver);
        Some(format!("the direct sound of the {kind} \"{}\" would not reach \"{what}\"", scene.sources[source].name))
    }
}
