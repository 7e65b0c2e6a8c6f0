//! Panels on the hot spots: which place takes most off the early level, and when none is worth a panel any more.
//!
//! A map promises what a panel would take off, as if each of its patches were exchanged alone: no less than there is to earn, since a path that loses
//! at several bounces loses less than the sum, `1 - (1 - a)(1 - b) <= a + b`. So leaders are weighed exactly in the order of what
//! they promise, and only while the next one promises more than the best one earns.
//!
//! *Limits.* Holds while what hangs takes energy from every path and gives none back; a diffuser may give some, for which there is slack.

use glam::DVec2;
use rayon::prelude::*;

use crate::findings::Estimate;
use crate::hotspots::Spot;
use crate::layout::candidates::Candidate;
use crate::plan::integral::Integral;
use crate::progress::Cancelled;
use crate::scene::Panel;
use crate::weigh::Linings;

use super::{HOT_SPOT, Search, early_level, places};

/// Leaders weighed exactly before it is asked again whether the next can be better.
const LEADERS_TOGETHER: usize = 4;

/// Leaders weighed exactly by a map that is older than the panel hung last; then it is made anew.
const TRIED_WITH_OLD_MAP: usize = 12;

/// A candidate earns at most this much more than its map promises, as energy.
const PROMISE_SLACK: f64 = 1.1;

/// The least early level that a panel must earn to be hung for a hot spot, dB.
const EARLY_LEAST_DB: f64 = 0.1;

/// The same where no reflection exceeds the criterion any more, dB.
const EARLY_WORTH_DB: f64 = 0.2;

/// What a square meter of each type, hung each way, takes off the early level, when that was `level_db`.
struct Promise {
    /// By index into the ways.
    maps: Vec<(usize, Integral)>,
    level_db: f64,
}

impl Search<'_> {
    /// Panels on the hot spots, as long as the next one earns more than its error and enough: less is enough while a reflection exceeds
    /// the criterion.
    ///
    /// What hangs takes energy from every path and gives none back, so a square meter can take off no more energy than before it hung: a map
    /// goes on promising at least what there is to earn, and is made anew when that says too little.
    pub(super) fn hot_spots(&mut self, spots: &[Spot]) -> Result<(), Cancelled> {
        let mut known: Option<Promise> = None;
        while !self.progress.is_enough() {
            let is_new = known.is_none();
            let promise = match known.take() {
                Some(promise) => promise,
                None => self.promise()?,
            };
            let least = if self.excess() > 0.0 { EARLY_LEAST_DB } else { EARLY_WORTH_DB };
            let leaders = self.promised(&promise);
            let most = if is_new { leaders.len() } else { TRIED_WITH_OLD_MAP };
            let found = self.best(leaders, most).filter(|(gain, ..)| gain.value >= least.max(gain.half_width_95()));
            match found {
                Some((_, way, leader)) => {
                    let serves = self.served(spots, &leader.panel).unwrap_or_else(|| "many weak early reflections".to_owned());
                    self.hang(way, leader.panel, HOT_SPOT, serves)?;
                    known = Some(promise);
                }
                None if is_new => return Ok(()),
                None => {}
            }
        }
        Ok(())
    }

    /// What each type promises everywhere, as things stand, hung each way.
    fn promise(&self) -> Result<Promise, Cancelled> {
        let ways = self.flat_ways();
        let everywhere: Vec<Linings> = ways.iter().map(|&way| self.everywhere(way)).collect();
        let maps = self.early_maps(&everywhere.iter().collect::<Vec<_>>())?;
        Ok(Promise { maps: ways.into_iter().zip(maps).collect(), level_db: self.early_level() })
    }

    /// The leaders of all types that are left, with what they promise re the early energy as it is now, dB.
    fn promised(&self, promise: &Promise) -> Vec<(f64, usize, Candidate)> {
        let since = 10.0_f64.powf(0.1 * (promise.level_db - self.early_level()));
        let mut leaders: Vec<(f64, usize, Candidate)> = Vec::new();
        for (way, map) in promise.maps.iter().filter(|(way, _)| self.has(self.ways[*way].kind)) {
            let own = self.leaders(self.ranked(*way, |places| since * map.over_all(places)));
            leaders.extend(own.into_iter().map(|(worth, candidate)| (worth, *way, candidate)));
        }
        leaders.sort_by(|a, b| b.0.total_cmp(&a.0));
        leaders.truncate(self.ground.traced.settings.leaders as usize);
        leaders
    }

    fn early_level(&self) -> f64 {
        early_level(self.ground.traced, self.ground.goal, &self.early).value
    }

    /// The leader that takes most off the early level, weighed exactly; they come with what the map promises, the best first.
    ///
    /// What a path loses at several bounces is at most the sum of what it loses at each, so no candidate earns more than it promises, taken as
    /// energy; leaders that promise less than the best one earns need not be weighed. The integral over a panel's edges is linear
    /// within patches, hence some slack. `None` where more than `limit` would have to be weighed.
    fn best(&self, leaders: Vec<(f64, usize, Candidate)>, limit: usize) -> Option<(Estimate, usize, Candidate)> {
        let most = |promised: f64| -10.0 * (1.0 - (PROMISE_SLACK * promised * std::f64::consts::LN_10 / 10.0).min(1.0)).log10();
        let mut best: Option<(Estimate, usize, Candidate)> = None;
        let (mut leaders, mut tried) = (leaders.into_iter().peekable(), 0);
        while leaders.peek().is_some_and(|next| best.as_ref().is_none_or(|best| most(next.0) > best.0.value)) {
            if tried >= limit {
                return None;
            }
            tried += LEADERS_TOGETHER;
            let together: Vec<_> = leaders.by_ref().take(LEADERS_TOGETHER).collect();
            let gains: Vec<Estimate> = together.par_iter().map(|(_, _, leader)| self.early_gain(&leader.panel)).collect();
            for (gain, (_, kind, leader)) in gains.into_iter().zip(together) {
                if best.as_ref().is_none_or(|best| gain.value > best.0.value) {
                    best = Some((gain, kind, leader));
                }
            }
        }
        best
    }

    /// The reflection whose hot spot a panel covers most of, loud ones counting for more, in words; `None` where it covers none.
    pub(super) fn served(&self, spots: &[Spot], panel: &Panel) -> Option<String> {
        let covered = places(self.ground.flush, panel);
        let worth = |spot: &Spot| {
            let half = 0.5 * spot.extent;
            let (spot_low, spot_high) = (spot.center - half, spot.center + half);
            let common: f64 = covered
                .iter()
                .filter(|&&(surface, ..)| surface == spot.surface)
                .map(|&(_, low, high)| (high.min(spot_high) - low.max(spot_low)).max(DVec2::ZERO))
                .map(|overlap| overlap.x * overlap.y)
                .sum();
            common / (spot.extent.x * spot.extent.y) * 10.0_f64.powf(0.1 * spot.level_db)
        };
        let best = spots.iter().map(|spot| (worth(spot), spot)).filter(|(worth, _)| *worth > 0.0).max_by(|a, b| a.0.total_cmp(&b.0));
        best.map(|(_, spot)| {
            let source = &self.ground.traced.room.sources[spot.source].name;
            format!("{source}: bounce {:.1} ms after the direct sound, {:.0} dB", spot.delay_s * 1000.0, spot.level_db)
        })
    }
}
