//! The low end of a listening set at the places of a search, by waves: over the grid in large cells, at the present place and the best ones in those of a study.
//!
//! At each place the least even of the judged receivers counts (`findings::bass::evenness`), of all judged loudspeakers together, of the first judged source where there are fewer than two.
//!
//! **Over the grid** the room is the same for all places: what moves along (the desk) is left out of it, and one run from a receiver tells of sources in all facings and wherever they stand. **At the
//! present place, the finalists and the evenest of the grid** each room is run by itself, all that moves in it: only these figures are compared with one another. How far both ways are apart where both were
//! gone is told.
//!
//! *References.* As `findings::bass`.
//!
//! *Limits.* Those of `findings::bass::evenness`. How much a decibel of evenness is worth in steps of the score nobody has published: it orders what rays cannot tell apart, and nothing else.

use std::collections::BTreeMap;

use glam::DVec3;

use crate::findings::bass::{BassAsked, BassEffort, BassError, BassEvenness, BassPlaces, Cells, effort_over_places};
use crate::progress::Progress;
use crate::scene::{Block, Scene, SourceKind};

use super::set::{ListeningSet, receiver_at};
use super::{EvenestPlace, PositionsBass, SetPlace, TriedFigures};

/// Places of the grid that are run again by themselves, the evenest first, so many steps apart at least in one facing.
const AGAIN: usize = 2;
const AGAIN_STEPS: f64 = 2.5;

/// Points closer than this are one, meters.
const SAME: f64 = 1e-6;

/// Who hears whom at a place: runs are sent from the first point of each.
type Tasks = Vec<(DVec3, Vec<DVec3>)>;

/// A run from one point, and who is heard in it at which places.
struct Run {
    from: DVec3,
    /// Indices of the places.
    places: Vec<usize>,
    /// Points that are heard together, a group for each of these.
    groups: Vec<Vec<DVec3>>,
}

/// How the low end of a set is heard.
pub(super) struct Waves<'a> {
    pub(super) progress: &'a Progress,
    pub(super) scene: &'a Scene,
    pub(super) set: &'a ListeningSet,
    /// The judged pairs of source and receiver.
    pub(super) pairs: &'a [(usize, usize)],
    pub(super) asked: BassAsked,
    /// Of the grid, meters.
    pub(super) step: f64,
}

/// What was heard of it.
pub(super) struct LowEnds {
    pub(super) told: PositionsBass,
    /// In large cells: where it stands now, and over the grid.
    pub(super) tried_present: Option<BassEvenness>,
    pub(super) tried: Vec<Option<BassEvenness>>,
    /// By themselves: where it stands now, and the finalists.
    pub(super) present: Option<BassEvenness>,
    pub(super) finalists: Vec<Option<BassEvenness>>,
}

/// What it would take at most where so many receivers are judged: so many finalists, so many places of the grid.
pub(super) fn effort(
    scene: &Scene,
    asked: &BassAsked,
    receivers: usize,
    (finalists, places): (usize, usize),
) -> Result<BassEffort, BassError> {
    // The present place is one of both.
    effort_over_places(scene, asked, [1 + finalists + AGAIN, 1 + places].map(|places| receivers * places))
}

impl Waves<'_> {
    /// At the present place, the places that were tried, and the finalists among them or beside them.
    pub(super) fn hear(&self, tried: &[(SetPlace, TriedFigures)], finalists: &[SetPlace]) -> Result<LowEnds, BassError> {
        let standing = self.scene.blocks.iter().enumerate().filter(|(index, _)| !self.set.blocks.contains(index));
        let blocks: Vec<Block> = standing.map(|(_, block)| block.clone()).collect();
        let coarse = BassPlaces::new(&Scene { blocks, ..self.scene.clone() }, &self.asked, Cells::Coarse)?;
        // What cannot be run in small cells is not run in large ones either: it is known at once.
        let fine = BassPlaces::new(self.scene, &self.asked, Cells::Fine)?;
        let places: Vec<SetPlace> = std::iter::once(self.set.present()).chain(tried.iter().map(|one| one.0)).collect();
        let over = self.over(&coarse, &places)?;
        let again = self.evenest(&places, &over);
        self.progress.begin("waves at the best places", (1 + finalists.len() + again.len()) as u64);
        let present = self.alone(self.set.present())?;
        let own = finalists.iter().map(|place| self.alone(*place)).collect::<Result<Vec<_>, _>>()?;
        let others = again.iter().map(|index| self.alone(places[*index])).collect::<Result<Vec<_>, _>>()?;
        let both = std::iter::once((0, present)).chain(again.iter().copied().zip(others.iter().copied()));
        let off = both.clone().filter_map(|(index, alone)| Some((alone?.evenness_db - over[index]?.evenness_db).abs()));
        let all = both.map(|(index, alone)| (places[index], alone)).chain(finalists.iter().copied().zip(own.iter().copied()));
        let heard = all.filter_map(|(place, alone)| Some((place, alone?)));
        let evenest = heard.reduce(|best, other| if other.1.evenness_db < best.1.evenness_db { other } else { best });
        let told = PositionsBass {
            top_hz: self.asked.top_hz,
            octaves_hz: fine.octaves_hz(),
            sources: self.together().into_iter().map(|source| self.scene.sources[source].name.clone()).collect(),
            cell_m: fine.cell_m(),
            grid_cell_m: coarse.cell_m(),
            grid_off_db: off.reduce(f64::max),
            evenest: evenest.map(|(place, bass)| EvenestPlace {
                place,
                facing: String::new(),
                moved_m: place.middle().distance(self.set.middle),
                bass,
                score_steps: tried.iter().find(|one| one.0 == place).map(|one| one.1.better_steps),
                standing: self.set.standing(&self.set.at(self.scene, place)),
            }),
        };
        let mut over = over.into_iter();
        Ok(LowEnds { told, tried_present: over.next().flatten(), tried: over.collect(), present, finalists: own })
    }

    /// Over many places in a room without what moves: places that ask from one point share a run.
    fn over(&self, room: &BassPlaces, places: &[SetPlace]) -> Result<Vec<Option<BassEvenness>>, BassError> {
        let mut runs: BTreeMap<[i64; 3], Run> = BTreeMap::new();
        for (index, place) in places.iter().enumerate() {
            for (point, group) in self.tasks(&self.set.at(self.scene, *place)) {
                let key = point.to_array().map(|meters| (meters / SAME).round() as i64);
                let run = runs.entry(key).or_insert_with(|| Run { from: point, places: Vec::new(), groups: Vec::new() });
                run.places.push(index);
                run.groups.push(group);
            }
        }
        self.progress.begin("waves over the grid", runs.len() as u64);
        let mut told: Vec<Vec<Option<BassEvenness>>> = vec![Vec::new(); places.len()];
        for Run { from, places, groups } in runs.values() {
            let heard = room.at(&self.progress.part(), *from, groups)?;
            places.iter().enumerate().for_each(|(number, index)| told[*index].push(heard.as_ref().map(|heard| heard[number])));
            self.progress.step(1)?;
        }
        Ok(told.into_iter().map(least_even).collect())
    }

    /// At one place, all that moves in the room with it.
    fn alone(&self, place: SetPlace) -> Result<Option<BassEvenness>, BassError> {
        let moved = self.set.at(self.scene, place);
        let room = BassPlaces::new(&moved, &self.asked, Cells::Fine)?;
        let mut runs: Vec<(DVec3, Vec<Vec<DVec3>>)> = Vec::new();
        for (point, group) in self.tasks(&moved) {
            match runs.iter_mut().find(|run| run.0 == point) {
                Some(run) => run.1.push(group),
                None => runs.push((point, vec![group])),
            }
        }
        let mut told = Vec::new();
        for (point, groups) in runs {
            match room.at(&self.progress.part(), point, &groups)? {
                Some(heard) => told.extend(heard.into_iter().map(Some)),
                None => told.push(None),
            }
        }
        self.progress.step(1)?;
        Ok(least_even(told))
    }

    /// Judged sources that sound together.
    fn together(&self) -> Vec<usize> {
        let mut sources: Vec<usize> = self.pairs.iter().map(|pair| pair.0).collect();
        sources.sort_unstable();
        sources.dedup();
        let is_loudspeaker = |source: &usize| self.scene.sources[*source].kind == SourceKind::Loudspeaker;
        let loudspeakers: Vec<usize> = sources.iter().copied().filter(is_loudspeaker).collect();
        if loudspeakers.len() > 1 { loudspeakers } else { sources.into_iter().take(1).collect() }
    }

    /// Who hears whom: from each receiver to all sources, from a single source to each receiver.
    fn tasks(&self, moved: &Scene) -> Tasks {
        let sources: Vec<DVec3> = self.together().into_iter().map(|source| moved.sources[source].position).collect();
        let mut receivers: Vec<usize> = self.pairs.iter().map(|pair| pair.1).collect();
        receivers.sort_unstable();
        receivers.dedup();
        let receivers = receivers.into_iter().map(|receiver| receiver_at(moved, receiver));
        match sources[..] {
            [source] => receivers.map(|receiver| (source, vec![receiver])).collect(),
            _ => receivers.map(|receiver| (receiver, sources.clone())).collect(),
        }
    }

    /// Numbers of the evenest places but the first, which is the present one, and what is near to one before it.
    fn evenest(&self, places: &[SetPlace], over: &[Option<BassEvenness>]) -> Vec<usize> {
        let mut order: Vec<(f64, usize)> =
            over.iter().enumerate().skip(1).filter_map(|(index, bass)| Some((bass.as_ref()?.evenness_db, index))).collect();
        // Stable: of equals the first of the grid.
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut chosen: Vec<usize> = Vec::new();
        for (_, index) in order {
            let place = places[index];
            let is_near = |other: &usize| {
                let other = places[*other];
                other.turned_deg == place.turned_deg && other.middle().distance(place.middle()) < AGAIN_STEPS * self.step
            };
            if chosen.len() < AGAIN && !chosen.iter().any(is_near) {
                chosen.push(index);
            }
        }
        chosen
    }
}

/// Of several receivers that which has it least even; `None` where one is not known.
fn least_even(heard: Vec<Option<BassEvenness>>) -> Option<BassEvenness> {
    let known: Option<Vec<BassEvenness>> = heard.into_iter().collect();
    known?.into_iter().reduce(|worst, other| if other.evenness_db > worst.evenness_db { other } else { worst })
}
