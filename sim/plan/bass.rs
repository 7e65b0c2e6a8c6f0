//! The bass of layouts: each run through waves, and what is wrong with it there, in steps that are just noticed.
//!
//! ```text
//! T = T_larger * (T_bare / T_bare_larger)^(1 - f) * (T_plan / T_plan_larger)^f   where a layout was not run in the usual cells;   f = share of the plan's panels that hang in it
//! steps of an octave = max(0, ln(T / T_asked) / ln 1.05), or ln(T / T_bare) / ln 1.05 where nothing is asked;   bass = their mean
//! ```
//!
//! *Which layouts.* Those that a plan is compared with, and those that it is explained by ([`super::explain`]): without one panel, with one alone, the first ones of the order.
//!
//! *Which octaves.* Those whose basis is waves, or waves and rays joined (`findings::pairs`), and that the term `decay` does not hold already. Each is read as in findings: T30, or T20 where one of the
//! layouts does not reach that far, the mean over the judged pairs; an octave whose filter rings as long as one of the rooms counts in none.
//!
//! *Which cells.* The plan and the room as it stands, or without panels, were run in the usual cells: theirs are the figures of findings, but for the rays of an octave that is joined. Other layouts are
//! run in cells twice as large (`findings::bass::larger`), and so are the plan and the bare room; the ratio of both cells there leads back to the usual ones. A rule of thumb hangs what the plan hangs and
//! takes the plan's ratio: of the ratio of the bare basement to its plan larger cells make 7 % too much at 63 Hz, so the bare room would lead it as far astray. Some of the plan's panels lie
//! between both, and so does their ratio: what all panels together are off by is laid on them in equal parts, so that what they earn one after the other adds up to what the plan earns. Where the
//! bare room was not run in the usual cells it takes the plan's ratio, too.
//!
//! *What is asked.* For mixing the bounds of `findings::targets` at 63 Hz and 125 Hz. The ranges of other uses are those of octaves from 250 Hz on: of what lies below nothing is asked, and it is held
//! against the bare room.
//!
//! *References.* As `score` and `findings::bass`.
//!
//! *Limits.* Waves have no error of the tracing, so neither has an octave that is theirs alone; walls that tables do not tell move all layouts together and are not told here, nor is what larger cells do to
//! one panel otherwise than to another: in the basement a panel taken down from the plan, run in the usual cells, leaves T30 where it is told within 0.6 % at 63 Hz and 5 % at 125 Hz, one panel alone within
//! 1.2 % and 16 % (two panels, one of them across a corner). The search does not know this term, nor does the order of the panels.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::decay::{BothRanges, SideBySide};
use super::score::{BARE, DECAY_STEP, Faults, Weighed};
use super::search::Goal;
use crate::bands::Band;
use crate::findings::bass::{BassAsked, BassError, in_larger_cells};
use crate::findings::pairs::{basis, rings};
use crate::findings::targets::longest_asked;
use crate::findings::{Basis, Survey};
use crate::progress::{Cancelled, Progress};
use crate::response::{LowEnd, Resampled, Response};
use crate::scene::{Activity, Panel, Scene};

/// An octave that the term `bass` counts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassOctave {
    /// Its center.
    pub frequency_hz: u32,
    /// The longest decay time that is asked of it; `null` where nothing is and it is held against the bare room.
    pub longest_s: Option<f64>,
}

/// By what waves layouts are judged.
#[derive(Clone)]
pub struct ByWaves<'a> {
    /// How waves are run.
    pub asked: &'a BassAsked,
    /// What they bring in the planned room, in the usual cells.
    pub planned: &'a LowEnd,
    /// The same of other rooms that were run in them, by what hangs there.
    pub others: Vec<(&'a [Panel], &'a LowEnd)>,
    /// The bare room: its Schroeder frequency, and what is asked of one of its size.
    pub survey: &'a Survey,
}

/// What is known of a layout in the usual cells, and in larger ones; each where it was run in them.
type InCells<T> = [Option<T>; 2];

/// Decay times of a layout's octaves, joined with what waves bring.
pub(super) type LowTimes = InCells<BothRanges>;

/// Layouts that were run through waves, the plan one of them.
pub(super) struct Sounded<'a> {
    waves: ByWaves<'a>,
    layouts: Vec<InCells<LowEnd>>,
    plan: usize,
}

/// The bass of layouts side by side.
pub(super) struct Bass {
    /// What is counted.
    pub(super) octaves: Vec<BassOctave>,
    /// Decay times of each layout in these octaves, seconds.
    times: Vec<Vec<Decay>>,
}

/// An octave's decay time, seconds.
type Decay = (Band, Resampled<f64>);

impl<'a> ByWaves<'a> {
    /// Runs what was not run yet of these layouts, the bare room first; or says why it cannot.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(super) fn run(
        self,
        progress: &Progress,
        scene: &Scene,
        layouts: &[Vec<Panel>],
        plan: usize,
    ) -> Result<Result<Sounded<'a>, String>, Cancelled> {
        let usual = |(number, panels): (usize, &Vec<Panel>)| if number == plan { Some(self.planned) } else { self.other(panels) };
        let usual: Vec<Option<&LowEnd>> = layouts.iter().enumerate().map(usual).collect();
        let is_run = |number: usize| usual[number].is_none() || [BARE, plan].contains(&number);
        let run = layouts.iter().enumerate().filter(|(number, _)| is_run(*number));
        let rooms: Vec<Scene> = run.map(|(_, panels)| Scene { panels: panels.clone(), ..scene.clone() }).collect();
        let larger = match in_larger_cells(progress, &rooms, self.asked, self.planned.crossover) {
            Ok(larger) => larger,
            Err(BassError::Stopped(stopped)) => return Err(stopped),
            Err(why) => return Ok(Err(why.to_string())),
        };
        let mut larger = larger.into_iter();
        let in_cells = |number: usize| [usual[number].cloned(), if is_run(number) { larger.next() } else { None }];
        Ok(Ok(Sounded { layouts: (0..layouts.len()).map(in_cells).collect(), waves: self, plan }))
    }

    /// What waves bring in the usual cells where just these panels hang; `None` where that was not run.
    fn other(&self, panels: &[Panel]) -> Option<&'a LowEnd> {
        let is_same = |other: &[Panel]| other.len() == panels.len() && other.iter().all(|panel| panels.contains(panel));
        self.others.iter().find(|(other, _)| is_same(other)).map(|(_, low)| *low)
    }
}

impl Sounded<'_> {
    /// Decay times of one of the layouts, as weighed by rays.
    pub(super) fn times(&self, goal: &Goal<'_>, number: usize, weighed: &Weighed) -> LowTimes {
        let read = |low: &LowEnd| {
            let joined = |(&pair, response): (&(usize, usize), &Response)| (pair, response.clone().with_low(low, pair));
            BothRanges::of(&weighed.responses.iter().map(joined).collect::<BTreeMap<_, _>>(), goal)
        };
        self.layouts[number].each_ref().map(|low| low.as_ref().map(read))
    }

    /// Octaves that are those of waves, alone or joined with rays, and that no decay holds already.
    fn bands(&self, goal: &Goal<'_>, plan: &Weighed) -> Vec<Band> {
        let joined: Vec<Response> = plan.responses.iter().map(|(&pair, own)| own.clone().with_low(self.waves.planned, pair)).collect();
        let is_of_waves =
            |band: Band| joined.iter().all(|own| matches!(basis(self.waves.survey.schroeder_hz, own, band), Basis::Waves | Basis::Joined));
        Band::ALL.into_iter().filter(|band| !goal.bands.contains(band) && is_of_waves(*band)).collect()
    }

    /// The bass of all layouts, each with its decay times and the share of the plan's panels that hang in it; `plan` as weighed by rays.
    pub(super) fn bass(&self, goal: &Goal<'_>, activity: Activity, plan: &Weighed, layouts: &[(&LowTimes, f64)]) -> Bass {
        let read: Vec<&BothRanges> = layouts.iter().flat_map(|(times, _)| times.iter().flatten()).collect();
        let decays = SideBySide::among(&read);
        let mut bass = Bass { octaves: Vec::new(), times: vec![Vec::new(); layouts.len()] };
        for band in self.bands(goal, plan) {
            let Some(read) = decays.iter().map(|decays| of_octave(decays, band)).collect::<Option<Vec<_>>>() else { continue };
            let mut read = read.into_iter();
            let in_cells = |(times, _): &(&LowTimes, f64)| times.each_ref().map(|times| times.as_ref().and_then(|_| read.next()));
            let known: Vec<InCells<Resampled<f64>>> = layouts.iter().map(in_cells).collect();
            let Some(times) = self.in_usual_cells(&known, layouts.iter().map(|(_, share)| *share)) else { continue };
            if times.iter().any(|time| time.whole <= rings(band)) {
                continue;
            }
            let longest_s = longest_asked((activity, goal.target), self.waves.survey, band);
            bass.octaves.push(BassOctave { frequency_hz: band.nominal(), longest_s });
            bass.times.iter_mut().zip(times).for_each(|(layout, time)| layout.push((band, time)));
        }
        bass
    }

    /// One octave's decay time of each layout in the usual cells, by what of the plan's panels hangs in it where that was run in larger ones alone.
    fn in_usual_cells(&self, known: &[InCells<Resampled<f64>>], shares: impl Iterator<Item = f64>) -> Option<Vec<Resampled<f64>>> {
        let ratio = |number: usize| match &known[number] {
            [Some(usual), Some(larger)] => Some(usual.with(larger, |usual, larger| usual / larger)),
            _ => None,
        };
        let of_plan = ratio(self.plan)?;
        let of_bare = ratio(BARE).unwrap_or_else(|| of_plan.clone());
        let one = |(known, share): (&InCells<Resampled<f64>>, f64)| match known {
            [Some(usual), _] => Some(usual.clone()),
            [None, Some(larger)] => {
                let ratio = of_bare.with(&of_plan, |bare, plan| bare.powf(1.0 - share) * plan.powf(share));
                Some(larger.with(&ratio, |larger, ratio| larger * ratio))
            }
            [None, None] => None,
        };
        known.iter().zip(shares).map(one).collect()
    }
}

/// Mean over the pairs of one octave's decay time; `None` where it cannot be read.
fn of_octave(decays: &SideBySide, band: Band) -> Option<Resampled<f64>> {
    let known = decays.known(&[band]);
    known.measure(|times| times.first().copied())
}

impl Bass {
    /// What is wrong with a layout, its bass with the rest; the first is the bare room.
    pub(super) fn joined(&self, number: usize, faults: Faults, weight: f64) -> Faults {
        let share = 1.0 / (self.octaves.len() as f64 * DECAY_STEP.ln_1p());
        let lack = |((octave, (_, own)), (_, bare)): ((&BassOctave, &Decay), &Decay)| {
            let over = |own: &f64, bare: &f64| octave.longest_s.map_or_else(|| own / bare, |longest| (own / longest).max(1.0));
            own.with(bare, |own, bare| share * over(own, bare).ln())
        };
        let lacks = self.octaves.iter().zip(&self.times[number]).zip(&self.times[BARE]).map(lack);
        let times = self.times[number].iter().map(|(band, time)| (*band, time.error()));
        match lacks.reduce(|sum, one| sum.with(&one, |sum, one| sum + one)) {
            Some(steps) => faults.with_bass(weight, times, &steps),
            None => faults,
        }
    }
}
