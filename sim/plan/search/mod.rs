//! Hangs the stock where it earns: hot spots first, then corners, then wherever it shortens the decay most; then exchanges panels as long as the whole score gets better (`exchange`).
//!
//! Candidates are ranked by the derivative maps; the leaders are weighed exactly through the index of early paths. A panel is hung if
//! it earns more than the error of what it earns. Decay panels stop before the mid-band T30 would fall below its target band, and
//! within it where the next one would earn too little to be heard.
//!
//! Places are compared without the margins that draw sound into panels (`hanging`): in the octaves that early sound is judged in they are small. The decay that is reached, which says when
//! to stop, is weighed with them.
//!
//! *Limits.* Corner panels go where waves say, but the score knows no bass: without waves they stand by common practice. Where no move of one panel, or of several that are good by themselves, makes a layout better, it may not be
//! the best there is.

use glam::DVec2;

use crate::absorbers::Finish;
use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::findings::reflections::early_excess;
use crate::hotspots::{self, Spot};
use crate::layout::candidates::{Candidate, candidates};
use crate::layout::free::Free;
use crate::progress::{Cancelled, Progress};
use crate::response::{Resampled, Response};
use crate::scene::{Panel, PanelPlace, PanelType, Scene, StockKind, Terms};
use crate::weigh::early::{Change, EarlyEnergy};
use crate::weigh::{Linings, Traced, flat_weights};

use super::decay::{mid_decay, responses};
use super::flush::Flush;
use super::integral::{Integral, MapIntegral};
use super::score::{DECAY_STEP, Ground};
use super::stock::Stock;

mod bear;
mod corner_places;
mod displace;
mod exchange;
mod hot_spots;
mod owned;
mod swaps;
mod tidy;
mod worth;

pub use corner_places::{CornerStep, Corners};

/// Distance of the grid of candidates, meters.
pub(super) const STEP: f64 = 0.1;

/// Leaders on one surface keep this distance, so that they are not one place tried many times; meters.
const LEADER_DISTANCE: f64 = 0.15;

/// A decay panel is worth its early level in these: 1 dB counts as this many percent of T30 (both about one just-noticeable
/// difference; ISO 3382-1 gives 1 dB for G and 5 % for EDT, for concert halls).
const PERCENT_PER_DB: f64 = 100.0 * DECAY_STEP;

/// Where the decay is as short as asked, a panel is hung for it if it takes off this much: a tenth of what is just heard.
const LEAST_PERCENT: f64 = 0.1 * PERCENT_PER_DB;

/// Why a search stops that has nothing left to hang.
const USED_UP: &str = "the stock is used up";

/// Why a search stops that has nowhere left to hang it.
const NO_PLACE: &str = "what is left of the stock has no place (clouds are tried over the way from the sources to the seats)";

/// Why a search stops that somebody has waited for long enough.
pub const BY_HAND: &str = "it was stopped by hand: this is the best plan found until then";

/// Why a panel hangs that takes a reflection.
pub const HOT_SPOT: &str = "hot spot";

/// Why a panel hangs that takes none, or earns less by that than by the decay.
pub const DECAY: &str = "decay";

/// What a panel serves that hangs for the decay.
pub const SHORTENS: &str = "shortens the decay";

/// Why a corner panel hangs, and what it serves where no waves were run.
const CORNER: (&str, &str) = ("corner", "low end, by common practice: its bass is not computed");

/// A panel that the search hung, and why.
#[derive(Clone, Debug, PartialEq)]
pub struct Hung {
    /// The panel.
    pub panel: Panel,
    /// `hot spot`, `corner`, `decay`.
    pub reason: &'static str,
    /// What it serves, in words.
    pub serves: String,
}

/// What the search found.
#[derive(Clone, Debug)]
pub struct Found {
    /// In hanging order.
    pub hung: Vec<Hung>,
    /// Left of each type in the stock.
    pub left: Vec<u32>,
    /// Why it stopped.
    pub stopped_because: String,
    /// Where there is money to spend: the piece that would bring most for its price beside all that hangs.
    pub next: Option<Panel>,
}

/// What is asked of a plan.
pub struct Goal<'a> {
    /// Source and receiver of each pair that is judged.
    pub pairs: &'a [(usize, usize)],
    /// Octaves that the decay is judged in.
    pub bands: &'a [Band],
    /// Target band of the mid-band T30 in seconds, if the use has one.
    pub target: Option<(f64, f64)>,
    /// What a just noticed step of each term of the score counts.
    pub weights: Terms<f64>,
}

/// Early reflected level over all judged pairs (mean of energies re direct), dB.
#[must_use]
pub fn early_level(traced: &Traced, goal: &Goal<'_>, early: &EarlyEnergy) -> Estimate {
    let batches = relative_batches(traced, goal.pairs, flat_weights(), early);
    let energy = Estimate::mean(&batches).told_of(&batches);
    Estimate::level(energy)
}

/// Early reflected energy re direct, the octaves weighted like this, mean over the pairs, one value a batch.
#[must_use]
pub fn relative_batches(traced: &Traced, pairs: &[(usize, usize)], weights: Bands<f64>, early: &EarlyEnergy) -> Vec<f64> {
    let batches = early.rays.first().and_then(|row| row.first()).map_or(0, Vec::len);
    let mut sums = vec![0.0; batches];
    for &(source, receiver) in pairs {
        let direct = (traced.direct_energy(source, traced.room.receivers[receiver].position) * weights).sum();
        let images = (early.images[source][receiver] * weights).sum();
        for (sum, &batch) in sums.iter_mut().zip(&early.rays[source][receiver]) {
            *sum += (images + (batch * weights).sum()) / direct / pairs.len() as f64;
        }
    }
    sums
}

/// How far the early level falls when `difference` is added to `early`, dB, positive when it falls.
#[must_use]
pub fn early_gain(traced: &Traced, goal: &Goal<'_>, early: &EarlyEnergy, difference: &EarlyEnergy) -> Estimate {
    gain(traced, (goal.pairs, flat_weights()), early, difference)
}

/// The same as it is told in a finished plan.
#[must_use]
pub fn told_gain(traced: &Traced, goal: &Goal<'_>, early: &EarlyEnergy, difference: &EarlyEnergy) -> Estimate {
    resampled_gain(traced, (goal.pairs, flat_weights()), early, difference).error()
}

/// How far the early level falls for these pairs, with the octaves weighted like this; of 1-8 kHz, which a difference is weighed in.
#[must_use]
pub fn gain(traced: &Traced, (pairs, weights): (&[(usize, usize)], Bands<f64>), early: &EarlyEnergy, difference: &EarlyEnergy) -> Estimate {
    let Resampled { whole, without } = resampled_gain(traced, (pairs, weights), early, difference);
    Estimate::jackknife(whole, &without)
}

/// The same without each batch.
fn resampled_gain(
    traced: &Traced,
    (pairs, weights): (&[(usize, usize)], Bands<f64>),
    early: &EarlyEnergy,
    difference: &EarlyEnergy,
) -> Resampled<f64> {
    let before = relative_batches(traced, pairs, weights, early);
    let change = relative_batches(traced, pairs, weights, difference);
    let gain = |level: f64, change: f64| if level > 0.0 { 10.0 * (level / (level + change).max(1e-6 * level)).log10() } else { 0.0 };
    let (level, changed) = (before.iter().sum::<f64>(), change.iter().sum::<f64>());
    // The level has an error too, and shares its rays with the change.
    let without = before.iter().zip(&change).map(|(own, change)| gain(level - own, changed - change)).collect();
    Resampled { whole: gain(level, changed), without }
}

/// Surface and bounds of what a panel covers, as far as it is weighed as patches.
#[must_use]
pub fn places(flush: &Flush<'_>, panel: &Panel) -> Vec<(usize, DVec2, DVec2)> {
    flush
        .covers(panel)
        .iter()
        .map(|cover| {
            let (low, high) = cover.region.bounds();
            (cover.surface, low, high)
        })
        .collect()
}

/// A way to hang a type: with one of its gaps.
struct Way {
    /// Index of the type.
    kind: usize,
    /// The type with this gap alone.
    hung: PanelType,
}

/// The search under way.
struct Search<'a> {
    progress: &'a Progress,
    stock: &'a Stock,
    scene: &'a Scene,
    /// Every type with each of its gaps, in the order of the stock.
    ways: Vec<Way>,
    ground: Ground<'a>,
    free: Free,
    left: Vec<u32>,
    hung: Vec<Hung>,
    corner_places: &'a Corners,
    /// Why no more corner panels were hung.
    corners_stopped: Option<String>,
    linings: Linings,
    early: EarlyEnergy,
}

/// Hangs the stock.
///
/// # Errors
/// [`Cancelled`].
pub fn search(progress: &Progress, stock: &Stock, ground: Ground<'_>, (spots, corners): (&[Spot], &Corners)) -> Result<Found, Cancelled> {
    let scene = &stock.scene;
    let linings = ground.flush.without_margins(&scene.panels);
    let early = ground.index.weigh(progress, &linings)?;
    let mut search = Search {
        progress,
        stock,
        scene,
        ways: scene.stock.iter().enumerate().flat_map(|(kind, stock)| stock.ways().map(move |hung| Way { kind, hung })).collect(),
        ground,
        free: Free::new(scene, &ground.traced.room),
        left: scene.stock.iter().map(|kind| kind.count).collect(),
        hung: Vec::new(),
        corner_places: corners,
        corners_stopped: None,
        linings,
        early,
    };
    progress.begin("placing panels", u64::from(search.left.iter().sum::<u32>()));
    let (stopped, begun) = search.begin(spots)?;
    let before = search.hung.clone();
    search.exchange(begun)?;
    let is_as_begun = search.hung == before;
    search.tell(spots);
    search.tidy()?;
    search.bear()?;
    let stopped_because = if progress.is_enough() {
        BY_HAND.to_owned()
    } else if is_as_begun {
        stopped
    } else {
        search.stopped(stopped)
    };
    let next = search.next_purchase()?;
    Ok(Found { hung: search.hung, left: search.left, stopped_because, next })
}

impl Search<'_> {
    /// Ways to hang types that lie on or stand before a surface, all but corner panels, of which one more is there or can be paid.
    fn flat_ways(&self) -> Vec<usize> {
        self.flat_ways_of(|kind| self.has(kind))
    }

    /// The same of types that are asked for.
    fn flat_ways_of(&self, is_asked: impl Fn(usize) -> bool) -> Vec<usize> {
        (0..self.ways.len()).filter(|&way| self.ways[way].hung.kind != StockKind::Corner && is_asked(self.ways[way].kind)).collect()
    }

    /// The way that a panel hangs: with the nearest gap that its type may have.
    fn way_of(&self, panel: &Panel) -> Option<usize> {
        let off = |way: &usize| match panel.place {
            PanelPlace::Surface { gap, .. } => (gap - self.ways[*way].hung.gap).abs(),
            PanelPlace::Corner { .. } | PanelPlace::Cloud(_) => 0.0,
        };
        (0..self.ways.len()).filter(|&way| self.ways[way].hung.name == panel.kind).min_by(|one, other| off(one).total_cmp(&off(other)))
    }

    /// Panels hung this way on every surface: what the maps exchange the walls for.
    fn everywhere(&self, way: usize) -> Linings {
        Linings::everywhere(&self.ground.traced.room, &self.finish(way))
    }

    /// What panels hung this way are as a finish.
    fn finish(&self, way: usize) -> Finish {
        let Way { kind, hung } = &self.ways[way];
        self.ground.flush.finish(*kind, hung.gap)
    }

    /// All places for panels hung this way.
    fn candidates(&self, way: usize, free: &Free) -> Vec<Candidate> {
        candidates(self.scene, &self.ground.traced.room, free, &self.ways[way].hung, STEP)
    }

    /// All panels: those of the scene and those hung so far.
    fn panels(&self) -> Vec<Panel> {
        self.all_panels(&self.hung)
    }

    /// Those of the scene and these.
    fn all_panels(&self, hung: &[Hung]) -> Vec<Panel> {
        self.scene.panels.iter().chain(hung.iter().map(|hung| &hung.panel)).cloned().collect()
    }

    fn linings_with(&self, more: &Panel) -> Linings {
        let mut panels = self.panels();
        panels.push(more.clone());
        self.ground.flush.without_margins(&panels)
    }

    /// What a panel would take off the early level, weighed exactly.
    fn early_gain(&self, panel: &Panel) -> Estimate {
        let after = self.linings_with(panel);
        let places = places(self.ground.flush, panel);
        let difference = self.ground.index.difference(&self.early, &Change { before: &self.linings, after: &after, places: &places });
        early_gain(self.ground.traced, self.ground.goal, &self.early, &difference)
    }

    fn hang(&mut self, way: usize, panel: Panel, reason: &'static str, serves: String) -> Result<(), Cancelled> {
        let kind = self.ways[way].kind;
        // The candidate was asked to fit; hanging it cannot fail.
        if self.free.hang(&panel, &self.scene.stock[kind]).is_ok() {
            self.left[kind] -= 1;
            let changed = places(self.ground.flush, &panel);
            self.hung.push(Hung { panel, reason, serves });
            self.renew(&changed);
            self.progress.offer(true);
            self.progress.step(1)?;
        }
        Ok(())
    }

    /// Brings linings and early energy up to date after a change in these places.
    fn renew(&mut self, changed: &[(usize, DVec2, DVec2)]) {
        let after = self.ground.flush.without_margins(&self.panels());
        self.early = self.ground.index.after(&self.early, &Change { before: &self.linings, after: &after, places: changed });
        self.linings = after;
    }

    /// The early maps over all judged pairs, one for each way: what a square meter takes off the early level, dB/m2.
    fn early_maps(&self, everywhere: &[&Linings]) -> Result<Vec<Integral>, Cancelled> {
        let maps = hotspots::early_maps(
            self.progress,
            self.ground.traced,
            &self.linings,
            everywhere,
            &self.early,
            (self.ground.goal.pairs, flat_weights()),
        )?;
        Ok(maps.iter().map(|map| Integral::new(&self.ground.traced.room.patches, &map.value)).collect())
    }

    /// Places of one way with the value of the map over each, the best first.
    fn ranked(&self, way: usize, value: impl Fn(&[(usize, DVec2, DVec2)]) -> f64) -> Vec<(f64, Candidate)> {
        let mut ranked: Vec<(f64, Candidate)> = self
            .candidates(way, &self.free)
            .into_iter()
            .map(|candidate| (value(&places(self.ground.flush, &candidate.panel)), candidate))
            .collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        ranked
    }

    /// The first of the ranked that are not all one place.
    fn leaders(&self, ranked: Vec<(f64, Candidate)>) -> Vec<(f64, Candidate)> {
        let mut leaders: Vec<(f64, Candidate)> = Vec::new();
        for (worth, candidate) in ranked {
            let crowded = leaders.iter().any(|(_, leader)| are_nearly_one(leader, &candidate));
            if !crowded {
                leaders.push((worth, candidate));
            }
            if leaders.len() >= self.ground.traced.settings.leaders as usize {
                break;
            }
        }
        leaders
    }

    fn excess(&self) -> f64 {
        self.ground
            .goal
            .pairs
            .iter()
            .map(|&(source, receiver)| early_excess(self.ground.traced, &self.linings, source, receiver))
            .fold(0.0, f64::max)
    }

    /// Why no more hangs once panels were exchanged; `first` is why no more was hung before, which still holds for corner panels.
    fn stopped(&self, first: String) -> String {
        let ways = self.flat_ways();
        if ways.is_empty() {
            return self.all_used().unwrap_or(first);
        }
        if ways.iter().any(|&way| !self.candidates(way, &self.free).is_empty()) {
            return "no panel more, where it was tried, would make the room better by a tenth of a just noticed step".to_owned();
        }
        NO_PLACE.to_owned()
    }

    /// Says of every panel that was moved what it serves now; hot spots come first, then corners, as they are hung.
    fn tell(&mut self, spots: &[Spot]) {
        for number in 0..self.hung.len() {
            if self.hung[number].serves.is_empty() {
                let served = self.served(spots, &self.hung[number].panel);
                let hung = &mut self.hung[number];
                (hung.reason, hung.serves) = served.map_or((DECAY, SHORTENS.to_owned()), |served| (HOT_SPOT, served));
            }
        }
        self.hung.sort_by_key(|hung| match hung.reason {
            HOT_SPOT => 0,
            reason if reason == CORNER.0 => 1,
            _ => 2,
        });
    }

    /// Corner panels where waves say, those left and all where no waves were run by common practice from the floor up, the corners in turn; held to the decay they shorten like any other
    /// panel, since the score knows no bass.
    fn corners(&mut self) -> Result<(), Cancelled> {
        let ways: Vec<usize> = (0..self.ways.len()).filter(|&way| self.ways[way].hung.kind == StockKind::Corner).collect();
        for way in ways {
            if self.progress.is_enough() {
                break;
            }
            let linings = self.ground.flush.linings(&self.panels());
            let responses = responses(self.progress, self.ground.traced, &linings)?;
            let mut decay = mid_decay(&responses, self.ground.goal).map(|decay| decay.value);
            let everywhere = self.everywhere(way);
            let late = self.late_maps(&[&everywhere], &linings, &responses)?;
            let mut used = vec![0_u32; self.scene.outline.len()];
            while self.has(self.ways[way].kind) && !self.progress.is_enough() {
                let found = self.candidates(way, &self.free);
                let next = found.into_iter().min_by_key(|candidate| match candidate.panel.place {
                    PanelPlace::Corner { corner, bottom } => {
                        let step = self.corner_places.step(&candidate.panel).unwrap_or(usize::MAX);
                        (step, used[corner], (bottom * 1000.0) as i64, corner)
                    }
                    _ => (usize::MAX, u32::MAX, 0, 0),
                });
                let Some(candidate) = next else { break };
                if let (Some(before), [late]) = (decay, &late[..]) {
                    let percent = late.over(&places(self.ground.flush, &candidate.panel));
                    self.corners_stopped = self.why_not(before, percent);
                    if self.corners_stopped.is_some() {
                        break;
                    }
                    decay = Some(shortened(before, percent));
                }
                if let PanelPlace::Corner { corner, .. } = candidate.panel.place {
                    used[corner] += 1;
                }
                let serves = self.corner_places.serves(&candidate.panel);
                self.hang(way, candidate.panel, CORNER.0, serves)?;
            }
        }
        Ok(())
    }

    /// What speaks against a panel that takes so many percent off the decay.
    fn why_not(&self, decay_s: f64, percent: Estimate) -> Option<String> {
        let low = self.ground.goal.target.map_or(0.0, |target| target.0);
        let after = shortened(decay_s, percent);
        if after < low {
            return Some(format!("the next panel would bring the decay to {after:.2} s, below its target band from {low:.2} s"));
        }
        if percent.value < percent.half_width_95() {
            return Some("the next panel would earn less than the error of what it earns".to_owned());
        }
        let is_met = self.ground.goal.target.is_some_and(|(_, high)| decay_s <= high);
        (is_met && percent.value < LEAST_PERCENT)
            .then(|| format!("the next panel would take {:.1} % off a decay that is short enough", percent.value))
    }

    /// Panels that shorten the decay, until it would fall below its target band; returns why it stopped.
    fn decay(&mut self) -> Result<String, Cancelled> {
        loop {
            if self.progress.is_enough() {
                return Ok(BY_HAND.to_owned());
            }
            let ways = self.flat_ways();
            if ways.is_empty() {
                if let Some(reason) = self.all_used() {
                    return Ok(reason);
                }
                let of_corners = self.corners_stopped.take().map(|reason| format!("corner panels are left: {reason}"));
                return Ok(of_corners.unwrap_or_else(|| "the corner panels that are left have no place".to_owned()));
            }
            let linings = self.ground.flush.linings(&self.panels());
            let responses = responses(self.progress, self.ground.traced, &linings)?;
            let Some(decay) = mid_decay(&responses, self.ground.goal) else {
                return Ok("no decay time could be read, so nothing more was hung for it".to_owned());
            };
            let Some((way, candidate, percent)) = self.best_for_decay(&ways, &linings, &responses)? else {
                return Ok(NO_PLACE.to_owned());
            };
            if let Some(reason) = self.why_not(decay.value, percent) {
                return Ok(reason);
            }
            self.hang(way, candidate.panel, DECAY, SHORTENS.to_owned())?;
        }
    }

    /// What panels hung each way take off the decay, in percent of T30 per square meter; none where no decay can be read.
    fn late_maps(&self, everywhere: &[&Linings], linings: &Linings, responses: &[Vec<Response>]) -> Result<Vec<MapIntegral>, Cancelled> {
        let asked = (self.ground.goal.pairs, self.ground.goal.bands);
        let grid = &self.ground.traced.room.patches;
        let maps = hotspots::late_maps(self.progress, self.ground.traced, linings, everywhere, grid, responses, asked)?;
        Ok(maps.iter().map(|map| MapIntegral::new(grid, map)).collect())
    }

    /// The place that takes most off the decay, early level counted with it, and how much in percent of T30.
    fn best_for_decay(
        &self,
        ways: &[usize],
        linings: &Linings,
        responses: &[Vec<Response>],
    ) -> Result<Option<(usize, Candidate, Estimate)>, Cancelled> {
        let everywhere: Vec<Linings> = ways.iter().map(|&way| self.everywhere(way)).collect();
        let everywhere: Vec<&Linings> = everywhere.iter().collect();
        let (late, early) = (self.late_maps(&everywhere, linings, responses)?, self.early_maps(&everywhere)?);
        let mut best: Option<(f64, usize, Candidate, Estimate)> = None;
        for ((&way, late), early) in ways.iter().zip(&late).zip(&early) {
            // Ranked by the value less its error, or the best would be whatever chance has favored most.
            let ranked = self.ranked(way, |places| {
                let late = late.over(places);
                late.value - late.se + PERCENT_PER_DB * early.over_all(places)
            });
            let Some((worth, candidate)) = ranked.into_iter().next() else { continue };
            let percent = late.over(&places(self.ground.flush, &candidate.panel));
            if best.as_ref().is_none_or(|best| worth > best.0) {
                best = Some((worth, way, candidate, percent));
            }
        }
        Ok(best.map(|(_, way, candidate, percent)| (way, candidate, percent)))
    }

    fn free_without_hung(&self) -> Free {
        Free::new(self.scene, &self.ground.traced.room)
    }

    /// Whether every panel fits beside all others; what stays where it hung does.
    fn are_legal(&self, hung: &[Hung]) -> bool {
        let (kept, others): (Vec<Hung>, Vec<Hung>) = hung.iter().cloned().partition(|hung| self.stays(&hung.panel));
        let mut free = self.free_with(&kept);
        others.iter().all(|hung| {
            let kind = self.scene.stock.iter().find(|kind| kind.name == hung.panel.kind);
            kind.is_some_and(|kind| free.fits_panel(&hung.panel, kind).is_ok() && free.hang(&hung.panel, kind).is_ok())
        })
    }
}

/// What is left of a decay time when this many percent are taken off.
fn shortened(decay_s: f64, percent: Estimate) -> f64 {
    decay_s * (1.0 - percent.value / 100.0)
}

/// The surface that a panel hangs flat on.
fn surface_of(panel: &Panel) -> Option<&str> {
    match &panel.place {
        PanelPlace::Surface { surface, .. } => Some(surface),
        PanelPlace::Corner { .. } | PanelPlace::Cloud { .. } => None,
    }
}

/// Whether two places are so near to each other that weighing both tells little.
fn are_nearly_one(one: &Candidate, other: &Candidate) -> bool {
    one.surface == other.surface && one.center.distance(other.center) < LEADER_DISTANCE && turned(&one.panel) == turned(&other.panel)
}

fn turned(panel: &Panel) -> bool {
    match panel.place {
        PanelPlace::Surface { lying, .. } => lying,
        PanelPlace::Cloud(cloud) => cloud.turned,
        PanelPlace::Corner { .. } => false,
    }
}
