//! The plan explained panel by panel: what each panel serves, what it earns by itself and what last of all, and how much is wrong after so many panels.
//!
//! | question | layouts on the fresh trace | answer |
//! | --- | --- | --- |
//! | last | the plan without that panel, against the plan | steps lost, by term of the score; T30 gained, by octave |
//! | alone | that panel in the room as it stands, against the room as it stands | steps won |
//! | how many | the first 0, 1, 2 ... panels in the order of greatest gain | steps that are left |
//!
//! Neither what panels earn alone nor what they earn last adds up to what the plan earns: the score bends (a decay in its range has nothing to gain, a decay time falls with one over the
//! absorption), and panels meet the same paths. In between stands the order: what each adds in it does add up, but in this order only.
//!
//! *The order* is made on the paths that panels are exchanged by ([`order`]), not on those that it is judged by: of many panels nearly alike the one that chance favors would come first,
//! and its gain be told as too large, the last as too small. So no figure of the curve was picked for its value, and its errors are those of any other layout.
//!
//! *Limits.* Greedy, and in blocks after the first few: the first of the order need not be the best few there are, and panels were hung to go together; a plan for a smaller stock may be better than the first panels of
//! this one. Corner panels and clouds count as what they cover, see `flush`. The low end has a part in what corner panels earn last, where waves were run; in nothing else of this: not in what panels earn alone, nor in the
//! curve.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Placed;
use super::decay::{BothRanges, SideBySide};
use super::score::{Faults, Ground, Heard, LEAST_STEPS, Weighed, faults, faults_of};
use super::search::{DECAY, Goal, HOT_SPOT, Hung, SHORTENS};
use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::layout;
use crate::layout::free::Free;
use crate::progress::{Cancelled, Progress};
use crate::response::Resampled;
use crate::scene::{Panel, PanelPlace, Scene, StockKind, Term, Terms};

/// In what steps it is told what a panel earns of the early level, dB.
const EARNING_STEP_DB: f64 = 0.01;

/// Layouts that are weighed in one walk at most: each holds a curve for every pair until it is read.
const TOGETHER: usize = 24;

/// What a panel is worth in the score; earnings do not add up, see [`Curve`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Earnings {
    /// By how many just noticed steps the room is worse without this panel alone, all others hung; of corner panels with their bass, where waves were run.
    pub last_steps: Estimate,
    /// The same term by term, each times its weight; `null` where a term is not asked for or cannot be told.
    pub last_terms_steps: Terms<Option<Estimate>>,
    /// By how many steps this panel by itself makes the room better than it stands.
    pub alone_steps: Estimate,
    /// By how many percent T30 grows without it, octave by octave, mean of the judged pairs; `null` in octaves that are not judged. Of corner panels also in those of `bass_octaves`, by waves.
    pub decay_octaves_percent: Bands<Option<Estimate>>,
}

impl Earnings {
    /// What it earns last with its bass, by what is wrong with the plan and with the plan without it, and by how many percent decays grow without it.
    pub(super) fn with_bass(&mut self, plan: &Faults, without: &Faults, grown: impl Iterator<Item = (Band, Estimate)>) {
        self.last_steps = plan.better_by(without).error();
        self.last_terms_steps = plan.better_by_term(without);
        for (band, grown) in grown {
            self.decay_octaves_percent[band] = Some(grown);
        }
    }

    /// The octave in which it does most for the decay, and by how many percent T30 grows there without it; `None` where it shortens none by more than the error.
    #[must_use]
    pub fn most_octave(&self) -> Option<(Band, Estimate)> {
        let told = |band: Band| Some((band, self.decay_octaves_percent[band].filter(|grown| grown.value > grown.half_width_95())?));
        Band::ALL.into_iter().filter_map(told).reduce(|most, one| if one.1.value > most.1.value { one } else { most })
    }
}

/// How much is wrong after so many panels.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AfterPanels {
    /// Panels that hang.
    pub panels: u32,
    /// The one that was hung last, by its number in hanging order; `null` before the first.
    pub number: Option<u32>,
    /// What is wrong then, in just noticed steps, without bass.
    pub left_steps: Estimate,
    /// By how many steps that panel made the room better, on the same rays; `null` before the first.
    pub adds_steps: Option<Estimate>,
    /// Share of what all panels earn together; `null` where that is no more than its error.
    pub share_percent: Option<Estimate>,
}

/// What panels earn together, and how many of them earn most of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Curve {
    /// After 0, 1, 2 ... panels, in the order of greatest gain.
    pub points: Vec<AfterPanels>,
    /// By how many steps the plan is better than the room as it stands, without its bass.
    pub gain_steps: Estimate,
    /// Sum of what each panel earns last, without its bass.
    pub last_sum_steps: Estimate,
    /// Sum of what each panel earns alone.
    pub alone_sum_steps: Estimate,
    /// Panels after which each further one adds less than a tenth of a step.
    pub enough_panels: u32,
}

impl Curve {
    /// The fewest panels in this order that earn this share of what all earn; `None` where that is no more than its error.
    #[must_use]
    pub fn earning(&self, share_percent: f64) -> Option<&AfterPanels> {
        self.points.iter().find(|point| point.share_percent.is_some_and(|share| share.value >= share_percent))
    }
}

/// The panels in the order of greatest gain, by their number from 0: of those that are left those come next that add most to those that hang. The first two are chosen one by one, later
/// ones as many at once as hang already; all that are left at once where somebody has waited long enough.
///
/// # Errors
/// [`Cancelled`].
pub fn order(progress: &Progress, ground: Ground<'_>, standing: &[Panel], hung: &[Hung]) -> Result<Vec<usize>, Cancelled> {
    progress.begin("ordering the panels", hung.len() as u64);
    let panels: Vec<Panel> = hung.iter().map(|hung| hung.panel.clone()).collect();
    let mut order: Vec<usize> = Vec::new();
    let mut left: Vec<usize> = (0..panels.len()).collect();
    while left.len() > 1 {
        let next = if progress.is_enough() { left.len() } else { order.len().clamp(1, left.len()) };
        let now = Weighed::new(progress, ground, &with(standing, &panels, &order))?;
        let more = |&one: &usize| with(standing, &panels, &[&order[..], &[one]].concat());
        let others = now.others(progress, ground, &left.iter().map(more).collect::<Vec<_>>())?;
        let faults = faults_of(ground.traced, ground.goal, &std::iter::once(&now).chain(&others).collect::<Vec<_>>());
        let mut adds: Vec<(usize, f64)> =
            left.iter().zip(&faults[1..]).map(|(&one, with)| (one, with.better_by(&faults[0]).whole)).collect();
        adds.sort_by(|a, b| b.1.total_cmp(&a.1));
        order.extend(adds[..next].iter().map(|(one, _)| one));
        left.retain(|one| !order.contains(one));
        progress.step(next as u64)?;
    }
    order.extend(left);
    Ok(order)
}

/// The room as it stands with some of the panels, always in hanging order.
fn with(standing: &[Panel], panels: &[Panel], some: &[usize]) -> Vec<Panel> {
    let hangs = |number: &usize| some.contains(number);
    standing.iter().cloned().chain((0..panels.len()).filter(hangs).map(|number| panels[number].clone())).collect()
}

/// What is kept of a layout once it is weighed.
pub(super) struct Kept {
    heard: Heard,
    ranges: BothRanges,
}

impl Kept {
    pub(super) fn of(ground: Ground<'_>, weighed: &Weighed) -> Self {
        Self { heard: weighed.heard(ground), ranges: BothRanges::of(&weighed.responses, ground.goal) }
    }
}

/// Layouts side by side: what is wrong with each, its early level and its decay.
pub(super) struct Judged {
    pub(super) faults: Vec<Faults>,
    kept: Vec<Kept>,
    decays: Vec<SideBySide>,
}

impl Judged {
    pub(super) fn new(goal: &Goal<'_>, kept: Vec<Kept>) -> Self {
        let decays = SideBySide::among(&kept.iter().map(|kept| &kept.ranges).collect::<Vec<_>>());
        let faults = faults(goal, &kept.iter().map(|kept| &kept.heard).collect::<Vec<_>>(), &decays);
        Self { faults, kept, decays }
    }
}

/// The layouts that a plan is explained by: some of its panels hang, the others do not.
pub(super) struct Parts<'a> {
    panels: Vec<Panel>,
    order: &'a [usize],
    /// Where the plan is among the layouts that are judged.
    plan: usize,
    /// Which hang, ascending, and where that layout stands among those that are judged.
    places: BTreeMap<Vec<usize>, usize>,
}

/// Where the room as it stands is among the layouts that are judged.
pub(super) const BARE: usize = 0;

impl<'a> Parts<'a> {
    /// `before`: layouts that are judged already, the room as it stands and, at `plan`, the plan among them.
    pub(super) fn new(hung: &[Hung], order: &'a [usize], plan: usize, before: usize) -> Self {
        let all: Vec<usize> = (0..hung.len()).collect();
        let mut parts = Self {
            panels: hung.iter().map(|hung| hung.panel.clone()).collect(),
            order,
            plan,
            places: BTreeMap::from([(all.clone(), plan), (Vec::new(), BARE)]),
        };
        let wanted = all.iter().flat_map(|&one| [vec![one], parts.without(one)]);
        for part in wanted.chain((0..=hung.len()).map(|count| parts.first(count))).collect::<Vec<_>>() {
            let next = before + parts.places.len() - usize::from(!hung.is_empty()) - 1;
            parts.places.entry(part).or_insert(next);
        }
        parts
    }

    /// All that hangs in the plan but one.
    pub(super) fn plan_without(&self, standing: &[Panel], one: usize) -> Vec<Panel> {
        with(standing, &self.panels, &self.without(one))
    }

    pub(super) fn without(&self, one: usize) -> Vec<usize> {
        (0..self.panels.len()).filter(|&other| other != one).collect()
    }

    fn first(&self, count: usize) -> Vec<usize> {
        let mut first = self.order[..count].to_vec();
        first.sort_unstable();
        first
    }

    /// Weighs those that are not judged yet, each by what it differs in from the room as it stands or from the plan, whichever is nearer.
    pub(super) fn weigh(
        &self,
        progress: &Progress,
        ground: Ground<'_>,
        (bare, plan): (&Weighed, &Weighed),
        standing: &[Panel],
        before: usize,
    ) -> Result<Vec<Kept>, Cancelled> {
        let wanted: Vec<(&[usize], usize)> =
            self.places.iter().filter(|(_, place)| **place >= before).map(|(part, &place)| (&part[..], place)).collect();
        progress.begin("weighing panel by panel", wanted.len() as u64);
        let (few, many): (Vec<_>, Vec<_>) = wanted.into_iter().partition(|(part, _)| 2 * part.len() < self.panels.len());
        let mut kept: Vec<(usize, Kept)> = Vec::new();
        for (base, parts) in [(bare, few), (plan, many)] {
            for parts in parts.chunks(TOGETHER) {
                let layouts: Vec<Vec<Panel>> = parts.iter().map(|(part, _)| with(standing, &self.panels, part)).collect();
                let weighed = base.others(progress, ground, &layouts)?;
                kept.extend(parts.iter().zip(&weighed).map(|((_, place), weighed)| (*place, Kept::of(ground, weighed))));
                progress.step(parts.len() as u64)?;
            }
        }
        kept.sort_by_key(|(place, _)| *place);
        Ok(kept.into_iter().map(|(_, kept)| kept).collect())
    }

    /// Where the layout with these panels stands among those that are judged.
    pub(super) fn place(&self, part: &[usize]) -> usize {
        self.places[part]
    }

    /// By how many steps each panel makes the room better, last or alone.
    fn last(&self, judged: &Judged, one: usize) -> Resampled<f64> {
        judged.faults[self.plan].better_by(&judged.faults[self.place(&self.without(one))])
    }

    fn alone(&self, judged: &Judged, one: usize) -> Resampled<f64> {
        judged.faults[self.place(&[one])].better_by(&judged.faults[BARE])
    }

    fn earnings(&self, judged: &Judged, goal: &Goal<'_>, one: usize) -> Earnings {
        let without = self.place(&self.without(one));
        let grown = |band: Band| if goal.bands.contains(&band) { self.growth(judged, one, &[band]) } else { None };
        Earnings {
            last_steps: self.last(judged, one).error(),
            last_terms_steps: judged.faults[self.plan].better_by_term(&judged.faults[without]),
            alone_steps: self.alone(judged, one).error(),
            decay_octaves_percent: Bands::from_fn(grown),
        }
    }

    /// By how many percent the decay grows without a panel.
    fn growth(&self, judged: &Judged, one: usize, bands: &[Band]) -> Option<Estimate> {
        judged.decays[self.plan].growth_to(&judged.decays[self.place(&self.without(one))], bands)
    }

    /// What each panel is and earns.
    pub(super) fn placed(&self, judged: &Judged, goal: &Goal<'_>, scene: &Scene, free: &Free, hung: &[Hung]) -> Vec<Placed> {
        let of_one = |(one, hung): (usize, &Hung)| {
            let kind = scene.stock.iter().find(|kind| kind.name == hung.panel.kind)?;
            let (place, size) = layout::place(free, &hung.panel, kind).ok()?;
            let without = &judged.kept[self.place(&self.without(one))];
            let earns = self.earnings(judged, goal, one);
            let (reason, serves) = why(hung, &earns);
            Some(Placed {
                number: one as u32 + 1,
                kind: hung.panel.kind.clone(),
                place,
                size_m: size.to_array(),
                gap_m: if let PanelPlace::Surface { gap, .. } = hung.panel.place { Some(gap) } else { None },
                underside_m: if let PanelPlace::Cloud(cloud) = &hung.panel.place { Some(cloud.underside) } else { None },
                mount: mount(kind.kind, &hung.panel.place).to_owned(),
                reason: reason.to_owned(),
                serves,
                earns_early_db: without.heard.louder_than(&judged.kept[self.plan].heard).told_in_steps_of(EARNING_STEP_DB),
                earns_decay_percent: self.growth(judged, one, goal.bands),
                earns,
            })
        };
        hung.iter().enumerate().filter_map(|(one, hung)| of_one((one, hung))).collect()
    }

    /// How much is wrong after so many panels, and what panels earn in sum.
    pub(super) fn curve(&self, judged: &Judged) -> Curve {
        let (bare, gain) = (&judged.faults[BARE], judged.faults[self.plan].better_by(&judged.faults[BARE]));
        let told = gain.error();
        let point = |count: usize| {
            let now = &judged.faults[self.place(&self.first(count))];
            let last = count.checked_sub(1).map(|before| (self.order[before], &judged.faults[self.place(&self.first(before))]));
            let share = now.better_by(bare).with(&gain, |won, gain| 100.0 * won / gain);
            AfterPanels {
                panels: count as u32,
                number: last.map(|(number, _)| number as u32 + 1),
                left_steps: now.together().error(),
                adds_steps: last.map(|(_, before)| now.better_by(before).error()),
                share_percent: (told.value > told.half_width_95()).then(|| share.error()),
            }
        };
        let points: Vec<AfterPanels> = (0..=self.panels.len()).map(point).collect();
        let sum = |earned: &dyn Fn(usize) -> Resampled<f64>| {
            let all = (0..self.panels.len()).map(earned).reduce(|sum, one| sum.with(&one, |sum, one| sum + one));
            all.map_or(Estimate::exact(0.0), |sum| sum.error())
        };
        let adds = |point: &&AfterPanels| point.adds_steps.is_some_and(|adds| adds.value >= LEAST_STEPS);
        Curve {
            enough_panels: points.iter().rev().find(adds).map_or(0, |point| point.panels),
            gain_steps: told,
            last_sum_steps: sum(&|one| self.last(judged, one)),
            alone_sum_steps: sum(&|one| self.alone(judged, one)),
            points,
        }
    }
}

/// What a panel hangs for, and that in words. One on a hot spot that earns more by the decay than by all that is early hangs for the decay, whatever it covers.
fn why(hung: &Hung, earns: &Earnings) -> (&'static str, String) {
    let earned = |terms: &[Term]| terms.iter().filter_map(|&term| earns.last_terms_steps[term]).map(|steps| steps.value).sum::<f64>();
    let early = earned(&[Term::Reflections, Term::EarlyLevel, Term::Likeness]);
    if hung.reason == HOT_SPOT && earned(&[Term::Decay, Term::Evenness]) > early.max(0.0) {
        return (DECAY, format!("{SHORTENS}; and {}", hung.serves));
    }
    (hung.reason, hung.serves.clone())
}

/// How a piece of stock is put up.
fn mount(kind: StockKind, place: &PanelPlace) -> &'static str {
    match (kind, place) {
        (StockKind::FreeStanding | StockKind::Bookcase, _) => "stands",
        (StockKind::Rug, _) => "lies",
        (_, PanelPlace::Surface { .. }) => "flat",
        (_, PanelPlace::Corner { .. }) => "corner",
        (_, PanelPlace::Cloud { .. }) => "cloud",
    }
}
