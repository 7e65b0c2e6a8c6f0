//! What is known of the scene as it is, and how sure that is. Every field is a value of `roomwright::study`.
//!
//! Each result carries the generation of the scene it was computed for: [`Results::is_fresh`] tells whether that is the scene on screen.
//! An older result stays on screen, marked, until a newer one takes its place; it never replaces a newer one.

use std::collections::BTreeMap;
use std::sync::Arc;

use bevy::prelude::Resource;
use roomwright::bands::Band;
use roomwright::findings::{Estimate, Findings, Survey};
use roomwright::plan::{HotSpot, SurfaceMap};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::study::{self, Building, CannotBuild, CloudStudy, EarlyFindings, Landing, MapChoice, Placement, same_judgement, same_room};

use crate::comparison::Figures;
use crate::compute::{Has, Report};
use crate::errand::{LowEnd, OfScene, Outcome, Positions, Running};
use crate::lesson::Difference;
use crate::low_end::{Effort, PlaceEffort, Slice};
use crate::proving::{Fault, Proven, Refusal};
use crate::reporting::PlanOf;
use crate::sheets::Prices;

/// Counts the scenes that were on screen; a later one is greater.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Generation(pub(crate) u64);

/// A result, for which scene, from how many rays a source.
#[derive(Debug)]
pub(crate) struct Known<T> {
    /// The scene it is for.
    pub(crate) generation: Generation,
    /// Rays traced per source; 0 where none were needed.
    pub(crate) rays: u32,
    /// The result.
    pub(crate) value: Arc<T>,
}

impl<T> Clone for Known<T> {
    fn clone(&self) -> Self {
        Self { value: self.value.clone(), ..*self }
    }
}

impl<T> Known<T> {
    /// Takes the place of `slot` unless that is newer, or as new and from more rays. Whether it did.
    pub(crate) fn settle(self, slot: &mut Option<Self>) -> bool {
        let newer = slot.as_ref().is_none_or(|old| (self.generation, self.rays) >= (old.generation, old.rays));
        if newer {
            *slot = Some(self);
        }
        newer
    }
}

/// What the machine is doing.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Status {
    /// What is under way, `tracing`; `None` when all is done.
    pub(crate) stage: Option<&'static str>,
    /// How far that is, 0 to 1.
    pub(crate) done: f32,
    /// Rays a source that the findings on screen rest on.
    pub(crate) rays: u32,
    /// Rays a source that the scene asks for.
    pub(crate) rays_wanted: u32,
    /// The errand that is run.
    pub(crate) errand: Option<Running>,
}

/// Everything that is known of the scene.
#[derive(Debug, Default, Resource)]
pub(crate) struct Results {
    /// The scene on screen.
    pub(crate) generation: Generation,
    /// The scene that the room below was built from: the last one without mistakes, or a sketch.
    pub(crate) scene: Option<Arc<Scene>>,
    /// The text has mistakes and never had none: what is drawn is what could be read of it, and nothing is computed.
    pub(crate) is_sketch: bool,
    /// The room as built, at once after every edit; flat panels are not in it (see `roomwright::report::hung`).
    pub(crate) room: Option<Known<Room>>,
    /// Sizes and areas.
    pub(crate) survey: Option<Known<Survey>>,
    /// The early window with what hangs, refreshed while a panel is dragged.
    pub(crate) early: Option<Known<EarlyFindings>>,
    /// The early window with nothing hung.
    pub(crate) bare_early: Option<Known<EarlyFindings>>,
    /// All findings with what hangs.
    pub(crate) findings: Option<Known<Findings>>,
    /// All findings with nothing hung.
    pub(crate) bare: Option<Known<Findings>>,
    /// What each hung panel takes off the early level, dB: what is lost when it alone is removed; parallel to the scene's panels, `None` for what is not flat.
    pub(crate) earnings: Option<Known<Vec<Option<Estimate>>>>,
    /// The same of the panel that was moved last, by its number, refreshed while it is dragged.
    pub(crate) earning: Option<Known<(usize, Option<Estimate>)>>,
    /// Where absorber earns most, the loudest reflection first.
    pub(crate) hot_spots: Option<Known<Vec<HotSpot>>>,
    /// Maps that were asked for so far, one value a surface of the room.
    pub(crate) maps: BTreeMap<MapChoice, Known<Vec<SurfaceMap>>>,
    /// The energy that lands on the surfaces, of the source and octave that were asked for last.
    pub(crate) landing: Option<Known<Landing>>,
    /// The plan, while the scene it was made for is on screen or was until the last edit.
    pub(crate) plan: Option<Known<Placement>>,
    /// The plan that was hung last, and the scene with it.
    pub(crate) hung_plan: Option<(PlanOf, Arc<Scene>)>,
    /// The cloud against its height, of the scene that it was studied in.
    pub(crate) cloud: Option<Arc<OfScene<CloudStudy>>>,
    /// Places for the set, of the scene that they were studied in.
    pub(crate) positions: Option<Arc<OfScene<Positions>>>,
    /// The low end, of the scene that it was studied in.
    pub(crate) low_end: Option<Arc<LowEnd>>,
    /// Two layouts side by side, as they were when that was asked.
    pub(crate) difference: Option<Arc<Difference>>,
    /// What recordings said, beside the scene that they were compared with.
    pub(crate) proof: Option<Arc<Proven>>,
    /// Why nothing came of recordings when they were listened to last.
    pub(crate) faults: Vec<Fault>,
    /// Why no materials were fitted when that was asked for last.
    pub(crate) no_fit: Option<String>,
    /// The low end that all findings are joined with, with what hangs and with nothing hung; `None`: their low octaves are a statistical reading.
    pub(crate) joined: [Option<Arc<LowEnd>>; 2],
    /// What studying it would take; kept up while it is looked at.
    pub(crate) effort: Option<Effort>,
    /// What the waves of plan and places would take; likewise.
    pub(crate) place_effort: Option<PlaceEffort>,
    /// The slice of its field that is drawn; kept up while it is looked at.
    pub(crate) slice: Option<Slice>,
    /// What is to be built of what hangs, or why nothing is; kept up while it is looked at.
    pub(crate) build: Option<Known<Result<Building, CannotBuild>>>,
    /// The prices that it was figured by.
    pub(crate) prices: Prices,
    /// What stands side by side absorbs; kept up while it is looked at.
    pub(crate) absorbers: Figures,
    /// What the machine is doing.
    pub(crate) status: Status,
}

/// Whether both are one, or none.
pub(crate) fn is_same_low_end(one: Option<&Arc<LowEnd>>, other: Option<&Arc<LowEnd>>) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => Arc::ptr_eq(one, other),
        (one, other) => one.is_none() && other.is_none(),
    }
}

impl Results {
    /// The low end of the scene on screen, where waves have told it.
    pub(crate) fn low_end(&self) -> Option<&Arc<LowEnd>> {
        self.low_end.as_ref().filter(|of| of.found.is_ok() && !self.is_sketch && self.shows(&of.scene))
    }

    /// Whether findings, with what hangs or with nothing hung, are joined with the low end of the scene on screen, if it has one.
    pub(crate) fn is_joined(&self, bare: bool) -> bool {
        is_same_low_end(self.joined[usize::from(bare)].as_ref(), self.low_end())
    }

    /// A hot spot by its number.
    pub(crate) fn hot_spot(&self, index: usize) -> Option<&HotSpot> {
        self.hot_spots.as_ref()?.value.get(index)
    }

    /// What a panel takes off the early level, dB, and whether that is of the scene on screen.
    pub(crate) fn earning_of(&self, panel: usize) -> (Option<Estimate>, bool) {
        let of_all = self.earnings.as_ref().map(|known| (known.value.get(panel).copied().flatten(), self.is_fresh(known)));
        let moved = self.earning.as_ref().filter(|known| known.value.0 == panel && self.is_fresh(known)).map(|known| (known.value.1, true));
        of_all.filter(|(_, is_fresh)| *is_fresh).or(moved).or(of_all).unwrap_or_default()
    }

    /// What is to be built of the scene on screen, if anything is.
    pub(crate) fn building(&self) -> Option<&Building> {
        self.build.as_ref().filter(|known| self.is_fresh(known))?.value.as_ref().as_ref().ok()
    }

    /// Whether a result is of the scene on screen.
    pub(crate) fn is_fresh<T>(&self, known: &Known<T>) -> bool {
        known.generation == self.generation
    }

    /// Whether this is the scene on screen, be it read anew: after a change that was taken back it is.
    pub(crate) fn shows(&self, scene: &Arc<Scene>) -> bool {
        self.scene.as_ref().is_some_and(|own| Arc::ptr_eq(own, scene) || own == scene)
    }

    /// The plan that is of the room on screen: found for it, or hung in it.
    pub(crate) fn plan_here(&self) -> Option<PlanOf> {
        let found = self.plan.as_ref().filter(|known| self.is_fresh(known)).zip(self.scene.clone());
        let hung = || self.hung_plan.as_ref().filter(|(_, hung)| self.shows(hung)).map(|(plan, _)| plan.clone());
        found.map(|(known, scene)| PlanOf { scene, placement: known.value.clone() }).or_else(hung)
    }

    /// Puts another scene on screen, its room at once. What does not depend on what was changed stays fresh; what speaks of
    /// surfaces, sources or receivers by number goes when these are others.
    pub(crate) fn show(&mut self, generation: Generation, scene: &Arc<Scene>) {
        if self.is_sketch {
            *self = Self::default();
        }
        self.generation = generation;
        let before = self.scene.replace(scene.clone());
        let is_same = before.as_ref().is_some_and(|before| same_room(before, scene));
        match &mut self.room {
            Some(room) if is_same => room.generation = generation,
            room => *room = Some(Known { generation, rays: 0, value: Arc::new(study::room(scene)) }),
        }
        let Some(before) = before else { return };
        let bare = |scene: &Scene| Scene { panels: Vec::new(), ..scene.clone() };
        if same_judgement(&before, scene) && same_room(&bare(&before), &bare(scene)) {
            self.bare.iter_mut().for_each(|known| known.generation = generation);
            self.bare_early.iter_mut().for_each(|known| known.generation = generation);
        }
        if !is_same {
            self.maps.clear();
            (self.hot_spots, self.plan, self.landing) = (None, None, None);
        }
        let names = |scene: &Scene| -> Vec<String> {
            let sources = scene.sources.iter().map(|source| source.name.clone());
            let seats = scene.seats.iter().map(|seat| seat.name.clone());
            sources.chain(seats).chain(scene.microphones.iter().map(|microphone| microphone.name.clone())).collect()
        };
        if names(&before) != names(scene) {
            (self.early, self.bare_early, self.findings, self.bare) = (None, None, None, None);
            self.joined = [None, None];
        }
        if before.panels.len() != scene.panels.len() {
            (self.earnings, self.earning) = (None, None);
        }
    }

    /// Draws what could be read of a text with mistakes.
    pub(crate) fn show_sketch(&mut self, generation: Generation, scene: Arc<Scene>) {
        let room = Known { generation, rays: 0, value: Arc::new(study::room(&scene)) };
        *self = Self { generation, scene: Some(scene), is_sketch: true, room: Some(room), ..Self::default() };
    }

    /// Takes a result in, unless there is a newer one. Whether anything is new on screen.
    pub(crate) fn take(&mut self, report: Report) -> bool {
        match report {
            Report::Traced(..) | Report::Done(_) => false,
            // The list holds it.
            Report::Read(_) => true,
            Report::Survey(known) => known.settle(&mut self.survey),
            Report::Early(known) => known.settle(&mut self.early),
            Report::Findings(known, low_end) => self.settle_findings(false, known, low_end),
            Report::BareEarly(known) => known.settle(&mut self.bare_early),
            Report::Bare(known, low_end) => self.settle_findings(true, known, low_end),
            // What is parallel to panels or surfaces of the scene on screen may not come from another.
            Report::Earning(known) => self.is_fresh(&known) && known.settle(&mut self.earning),
            Report::Earnings(known) => self.is_fresh(&known) && known.settle(&mut self.earnings),
            Report::HotSpots(known) => self.is_fresh(&known) && known.settle(&mut self.hot_spots),
            Report::Map(choice, known) => {
                let is_fresh = self.is_fresh(&known);
                is_fresh && self.settle_map(choice, known)
            }
            Report::Landing(known) => self.is_fresh(&known) && known.settle(&mut self.landing),
            Report::Errand(_, generation, outcome) => match outcome {
                Some(outcome) if generation == self.generation => self.keep(outcome),
                _ => false,
            },
        }
    }

    /// Keeps what came of an errand for the scene on screen.
    fn keep(&mut self, outcome: Outcome) -> bool {
        match outcome {
            Outcome::Plan(value) => return Known { generation: self.generation, rays: 0, value }.settle(&mut self.plan),
            Outcome::Cloud(study) => self.cloud = Some(study),
            Outcome::Positions(study) => self.positions = Some(study),
            Outcome::LowEnd(study) => self.low_end = Some(study),
            Outcome::Difference(difference) => self.difference = Some(difference),
            Outcome::Report(_) => return false,
            Outcome::Answer(answered) => match answered.answer {
                Ok(proven) => (self.proof, self.faults, self.no_fit) = (Some(proven), Vec::new(), None),
                Err(Refusal { faults, fit }) => (self.faults, self.no_fit) = (faults, fit),
            },
        }
        true
    }

    /// Takes findings in. Of the scene on screen those that are joined with its low end take the place of others, from however few rays, and keep it.
    fn settle_findings(&mut self, bare: bool, known: Known<Findings>, low_end: Option<Arc<LowEnd>>) -> bool {
        let is_new = is_same_low_end(low_end.as_ref(), self.low_end());
        let is_old = self.is_joined(bare);
        let generation = self.generation;
        let slot = if bare { &mut self.bare } else { &mut self.findings };
        if is_new != is_old && [Some(&known), slot.as_ref()].into_iter().flatten().all(|known| known.generation == generation) {
            if is_old && slot.is_some() {
                return false;
            }
            *slot = None;
        }
        let is_settled = known.settle(slot);
        if is_settled {
            self.joined[usize::from(bare)] = low_end;
        }
        is_settled
    }

    fn settle_map(&mut self, choice: MapChoice, known: Known<Vec<SurfaceMap>>) -> bool {
        let mut slot = self.maps.remove(&choice);
        let settled = known.settle(&mut slot);
        self.maps.extend(slot.map(|known| (choice, known)));
        settled
    }

    /// What lands of this source in this octave.
    pub(crate) fn landing_of(&self, (source, band): (usize, Band)) -> Option<&Known<Landing>> {
        self.landing.as_ref().filter(|known| (known.value.source, known.value.band) == (source, band))
    }

    /// What is known of the scene on screen.
    pub(crate) fn has(&self, map: Option<MapChoice>, landing: Option<(usize, Band)>) -> Has {
        fn rays<T>(results: &Results, known: Option<&Known<T>>) -> u32 {
            known.filter(|known| results.is_fresh(known)).map_or(0, |known| known.rays)
        }
        let joined = |bare: bool, rays: u32| if self.is_joined(bare) { rays } else { 0 };
        Has {
            survey: self.survey.as_ref().is_some_and(|known| self.is_fresh(known)),
            findings: joined(false, rays(self, self.findings.as_ref())),
            bare: joined(true, rays(self, self.bare.as_ref()).min(rays(self, self.bare_early.as_ref()))),
            hot_spots: self.hot_spots.as_ref().is_some_and(|known| self.is_fresh(known)),
            earnings: rays(self, self.earnings.as_ref()),
            map: map.map_or(u32::MAX, |choice| rays(self, self.maps.get(&choice))),
            landing: landing.map_or(u32::MAX, |choice| rays(self, self.landing_of(choice))),
        }
    }
}
