//! Rows level, gaps equal, left and right alike: where that costs next to nothing of the score.
//!
//! What somebody has to mark is counted: different edges on each surface, and panels that are nearly, but not quite, mirror images over the plane between the loudspeakers. A move is offered
//! that leaves fewer of these - each surface as a whole, then single panels - and made if it costs no more than a share of what the panels bring, all moves together no more than a larger one.
//!
//! *Limits.* Weighed on the paths that panels are exchanged by. Moves of a round are weighed each by itself; where all of them together cost more than they may, the round is taken back and
//! only its first is made.

use crate::findings::likeness::mirrored_loudspeakers;
use crate::layout::rows;
use crate::layout::symmetry::{self, MirrorPlane};
use crate::plan::score::{Weighed, faults_of};
use crate::progress::Cancelled;
use crate::scene::Panel;

use super::{Hung, Search, places, surface_of};

/// A tidying move may cost this share of what the panels make the room better by.
const MOVE_SHARE: f64 = 0.0025;

/// All of them together may cost this share.
const WHOLE_SHARE: f64 = 0.01;

/// Rounds of moves at most.
const ROUNDS: u32 = 4;

/// Moves weighed in a round.
const TRIED: usize = 24;

/// Panels by their number among those hung, and where each goes.
type Offer = Vec<(usize, Panel)>;

impl Search<'_> {
    /// Tidies what hangs.
    pub(super) fn tidy(&mut self) -> Result<(), Cancelled> {
        if self.hung.is_empty() || self.progress.is_enough() {
            return Ok(());
        }
        self.progress.begin("lining panels up", u64::from(ROUNDS));
        let (bare, _) = self.steps(&[])?;
        let (first, mut now) = self.steps(&self.hung)?;
        let brings = (bare - first).max(0.0);
        for _ in 0..ROUNDS {
            if self.progress.is_enough() {
                break;
            }
            let before = self.hung.clone();
            let made = self.tidy_round(&now, MOVE_SHARE * brings)?;
            let Some(only) = made.first() else { break };
            let (mut steps, mut weighed) = self.steps(&self.hung)?;
            if steps > first + WHOLE_SHARE * brings {
                self.hung = moved(&before, only);
                (steps, weighed) = self.steps(&self.hung)?;
            }
            if steps > first + WHOLE_SHARE * brings {
                self.hung = before;
                break;
            }
            now = weighed;
            self.progress.step(1)?;
        }
        Ok(())
    }

    /// What is wrong with the room with these, in steps.
    pub(super) fn steps(&self, hung: &[Hung]) -> Result<(f64, Weighed), Cancelled> {
        let weighed = Weighed::new(self.progress, self.ground, &self.all_panels(hung))?;
        Ok((faults_of(self.ground.traced, self.ground.goal, &[&weighed])[0].together().whole, weighed))
    }

    /// Makes what moves are offered and cost little enough, each of them less than `most` steps; says which.
    fn tidy_round(&mut self, now: &Weighed, most: f64) -> Result<Vec<Offer>, Cancelled> {
        let offers = self.offers_to_tidy();
        if offers.is_empty() {
            return Ok(Vec::new());
        }
        let layouts: Vec<Vec<Hung>> = offers.iter().map(|offer| moved(&self.hung, offer)).collect();
        let gains = self.gains(now, &layouts)?;
        let mut made: Vec<Offer> = Vec::new();
        for (offer, _) in offers.into_iter().zip(gains).filter(|(_, gain)| gain.whole >= -most) {
            let after = moved(&self.hung, &offer);
            let is_new = made.iter().flatten().all(|(index, _)| offer.iter().all(|(other, _)| other != index));
            if is_new && self.untidiness(&after) < self.untidiness(&self.hung) && self.are_legal(&after) {
                self.hung = after;
                made.push(offer);
            }
        }
        Ok(made)
    }

    /// Moves that leave less to mark and fit, those first that leave least.
    fn offers_to_tidy(&self) -> Vec<Offer> {
        // What stays where it hung is what the others are lined up with.
        let (kept, loose): (Vec<usize>, Vec<usize>) = (0..self.hung.len()).partition(|&number| self.stays(&self.hung[number].panel));
        let kept: Vec<Hung> = kept.into_iter().map(|number| self.hung[number].clone()).collect();
        let (free, room) = (self.free_with(&kept), &self.ground.traced.room);
        let panels: Vec<Panel> = loose.iter().map(|&number| self.hung[number].panel.clone()).collect();
        let tidied = rows::tidy(self.scene, room, &free, panels.clone());
        let mut surfaces: Vec<&str> = panels.iter().filter_map(surface_of).collect();
        surfaces.sort_unstable();
        surfaces.dedup();
        let differing = |surface: &str| -> Offer {
            let own = tidied.iter().enumerate().filter(|(_, panel)| surface_of(panel) == Some(surface));
            own.filter(|&(index, panel)| *panel != panels[index]).map(|(index, panel)| (loose[index], panel.clone())).collect()
        };
        let single = rows::moves(self.scene, room, &free, &panels, rows::TIDY_MAX);
        let single = single.into_iter().map(|(index, panel)| (loose[index], panel));
        let alike = self.nearly_alike(&self.hung).into_iter().filter(|(index, _)| loose.contains(index));
        let single = single.chain(alike).map(|one| vec![one]);
        let now = self.untidiness(&self.hung);
        let mut offers: Vec<(usize, Offer)> = surfaces
            .into_iter()
            .map(differing)
            .chain(single)
            .map(|offer| (self.untidiness(&moved(&self.hung, &offer)), offer))
            .filter(|(left, _)| *left < now)
            .collect();
        offers.sort_by_key(|(left, _)| *left);
        let fits = |(_, offer): (usize, Offer)| self.are_legal(&moved(&self.hung, &offer)).then_some(offer);
        offers.into_iter().filter_map(fits).take(TRIED).collect()
    }

    /// Panels that nearly have a twin on the other side, and where they would hang then.
    fn nearly_alike(&self, hung: &[Hung]) -> Offer {
        let room = &self.ground.traced.room;
        let panels: Vec<Panel> = hung.iter().map(|hung| hung.panel.clone()).collect();
        let planes = mirrored_loudspeakers(room).into_iter().filter_map(|(left, right, seat)| {
            MirrorPlane::between(room.sources[left].position, room.sources[right].position, room.receivers[seat].position)
        });
        let free = self.free_without_hung();
        planes.take(1).flat_map(|plane| symmetry::nearly(self.scene, room, &free, &panels, plane, rows::TIDY_MAX)).collect()
    }

    /// Different edges that somebody would have to mark on the surfaces, and panels that only nearly have a twin.
    fn untidiness(&self, hung: &[Hung]) -> usize {
        let mut lines: Vec<(usize, u8, i64)> = hung
            .iter()
            .map(|hung| &hung.panel)
            .filter(|panel| surface_of(panel).is_some())
            .flat_map(|panel| places(self.ground.flush, panel))
            .flat_map(|(surface, low, high)| {
                let edge = |side: u8, at: f64| (surface, side, (at * 1000.0).round() as i64);
                [edge(0, low.x), edge(0, high.x), edge(1, low.y), edge(1, high.y)]
            })
            .collect();
        lines.sort_unstable();
        lines.dedup();
        lines.len() + self.nearly_alike(hung).len()
    }
}

/// What hangs after a move.
fn moved(hung: &[Hung], offer: &Offer) -> Vec<Hung> {
    let mut hung = hung.to_vec();
    for (index, panel) in offer {
        hung[*index].panel = panel.clone();
    }
    hung
}
