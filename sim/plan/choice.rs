//! Which of the types in stock that exclude one another: each alternative planned whole, all of them weighed on one fresh trace, so that they differ by nothing else.
//!
//! **The score** says how much better than bare the room becomes, in steps that are just noticed. A step is
//! - 1 dB of the early reflected level, mean of the judged pairs;
//! - 1 dB of the sum by which reflections exceed the criterion, worst source;
//! - 5 % of the mean decay towards the range that the use asks for, or, where nothing asks, of a shorter decay: `ln(T / T_high) / ln 1.05`;
//! - 5 % by which the octaves of that mean depart from it, in the mean.
//!
//! These are what the search goes by, with its exchange of 1 dB for 5 %, and the evenness of the octaves. Octaves below Schroeder's frequency take no part.
//!
//! **The rule**: the highest score is hung. Two scores are not told apart if their difference, taken batch by batch on the same rays, is within its interval of 95 % or under
//! a tenth of a step. Of those that are not told apart from the highest the cheapest is hung, by the prices of what they hang differently; at the same cost, or where a price
//! is not known, the one with fewer panels; then the one that the scene names first. Panels that are not hung cost nothing.
//!
//! *Limits.* Corner panels and clouds are weighed as flush, as in the comparison of layouts. The error is that of the tracing: what a material may be off by moves all alternatives, but
//! not quite alike. Absorption areas of corner panels and clouds are those of faces without edges; what the walls behind absorbed is not taken off.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::findings::reflections::early_excess;
use crate::progress::{Cancelled, Progress};
use crate::response::{Resampled, Response};
use crate::room::{Bodies, build};
use crate::scene::{Panel, PanelPlace, Scene};
use crate::settings::Settings;
use crate::weigh::early::{EarlyEnergy, EarlyIndex};
use crate::weigh::{Linings, Traced, flat_weights};

use super::decay::{SideBySide, responses};
use super::flush::Flush;
use super::place::record_length;
use super::reasons;
use super::search::{Found, Goal, PERCENT_PER_DB, early_level, relative_batches};

/// Scores nearer to each other than this are not told apart, steps: the last digit that is printed.
pub(super) const LEAST_STEPS: f64 = 0.1;

/// Costs nearer to each other than this are the same, in the currency of the prices.
const LEAST_COST: f64 = 0.005;

/// Types in stock that exclude one another: what each alternative is worth, and which is hung.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    /// Range that the use asks the mean decay to lie in; `null` where nothing asks.
    pub asked_decay_s: Option<[f64; 2]>,
    /// The room with what hangs in it already.
    pub bare: Figures,
    /// In the order of the scene.
    pub alternatives: Vec<Alternative>,
    /// Number of the one that is hung.
    pub chosen: usize,
    /// Number of the one that came nearest to being hung.
    pub rival: usize,
    /// Score of the chosen less that of the rival, on the same rays.
    pub lead_steps: Estimate,
    /// The same term by term.
    pub lead: Gains,
    /// What decided between these two.
    pub decided_by: Decision,
    /// Why, in sentences made from these figures; lengths in the scene's unit.
    pub reasons: Vec<String>,
}

/// What decides between two alternatives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Decision {
    /// The scores are told apart.
    Score,
    /// They are not, and one is cheaper.
    Cost,
    /// Nor does one cost less, as far as is known, but it takes fewer panels.
    Panels,
    /// The scene names it first.
    Order,
}

/// One of the alternatives, planned whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Alternative {
    /// Its number, from 1.
    pub number: usize,
    /// Types that it chooses.
    pub types: Vec<String>,
    /// Panels that it hangs, by type.
    pub hung: Vec<(String, u32)>,
    /// Stock that it has no use for, by type.
    pub left_over: Vec<(String, u32)>,
    /// What the hung panels cost, in the currency of the prices; `null` where one has no price.
    pub cost: Option<f64>,
    /// Area of the hung panels.
    pub area_m2: f64,
    /// What they absorb in a diffuse field, by octave.
    pub absorption_m2: Bands<f64>,
    /// The room with them.
    pub figures: Figures,
    /// By how much better that is than bare, term by term.
    pub gains: Gains,
    /// All terms together.
    pub score_steps: Estimate,
}

/// What alternatives are judged by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Figures {
    /// Early reflected level re direct, mean energy of the judged pairs, zone-averaged, 1-8 kHz.
    pub early_level_db: Estimate,
    /// Sum of excess over the criterion, worst source.
    pub early_excess_db: f64,
    /// T30 by octave, mean over the pairs (T20 where one of the layouts does not reach that far).
    pub t30_s: Bands<Option<Estimate>>,
    /// Mean of the octaves of [`super::Plan::decay_octaves_hz`].
    pub t_mid_s: Option<Estimate>,
    /// By how much that mean lies outside the range that is asked; `null` where nothing asks.
    pub outside_percent: Option<Estimate>,
    /// By how much the octaves depart from that mean, in the mean.
    pub unevenness_percent: Option<Estimate>,
}

/// What is better than bare, in steps that are just noticed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Gains {
    /// Early level.
    pub early_steps: Estimate,
    /// Sum of excess over the criterion.
    pub excess_steps: Estimate,
    /// Mean decay; `null` where none can be read.
    pub decay_steps: Option<Estimate>,
    /// Evenness of the octaves; `null` where none can be read.
    pub evenness_steps: Option<Estimate>,
}

impl Choice {
    /// The alternative that is hung.
    #[must_use]
    pub fn chosen(&self) -> Option<&Alternative> {
        self.numbered(self.chosen)
    }

    /// The alternative of a number.
    #[must_use]
    pub fn numbered(&self, number: usize) -> Option<&Alternative> {
        self.alternatives.iter().find(|alternative| alternative.number == number)
    }

    /// Types that are at stake, each once.
    #[must_use]
    pub fn types(&self) -> Vec<&str> {
        let mut types: Vec<&str> = Vec::new();
        for name in self.alternatives.iter().flat_map(|alternative| &alternative.types) {
            if !types.contains(&name.as_str()) {
                types.push(name);
            }
        }
        types
    }

    /// Types that were decided against.
    #[must_use]
    pub fn out(&self) -> Vec<&str> {
        let chosen = self.chosen();
        let is_in = |name: &str| chosen.is_some_and(|chosen| chosen.types.iter().any(|own| own == name));
        self.types().into_iter().filter(|name| !is_in(name)).collect()
    }

    /// How alternatives are judged, in words.
    #[must_use]
    pub fn rule(&self) -> String {
        let decay =
            if self.asked_decay_s.is_some() { "of the decay towards the range that is asked" } else { "by which the decay is shorter" };
        format!(
            "Score: steps, each just noticed, by which the room is better than bare: 1 dB of early level, 1 dB of the sum over the criterion, {PERCENT_PER_DB} % {decay}, \
             {PERCENT_PER_DB} % by which the octaves are more even. The highest is hung. Those not told apart from it (the difference on the same rays within its \
             interval of 95 %, or under {LEAST_STEPS} steps) give way to the cheapest of them, then to fewer panels, then to the order of the scene."
        )
    }
}

/// A plan of one of the alternatives.
#[derive(Clone, Copy)]
pub struct Tried<'a> {
    /// The scene with that alternative in stock.
    pub scene: &'a Scene,
    /// Numbers of the types that it chooses.
    pub types: &'a [usize],
    /// What the search hung.
    pub found: &'a Found,
}

impl Tried<'_> {
    /// How many of each type in stock it hangs.
    fn hung(&self) -> Vec<u32> {
        self.scene.stock.iter().zip(&self.found.left).map(|(kind, left)| kind.count - left).collect()
    }
}

/// Weighs alternatives on one trace with these settings, and chooses; `scene` has all of the stock.
///
/// # Errors
/// [`Cancelled`].
pub fn choose(
    progress: &Progress,
    scene: &Scene,
    settings: Settings,
    goal: &Goal<'_>,
    (schroeder_hz, tried): (f64, &[Tried<'_>]),
) -> Result<Choice, Cancelled> {
    let room = build(scene, Bodies::Standing);
    let end_s = record_length(progress, &room, &settings)?;
    let traced = Traced::new(progress, room, settings, end_s)?;
    let index = EarlyIndex::new(progress, &traced)?;
    let flush = Flush::new(scene, &traced.room);
    let weigh = Weigh { progress, scene, traced: &traced, index: &index, flush: &flush, goal };
    let layouts: Vec<Layout> = std::iter::once(&[][..])
        .chain(tried.iter().map(|one| &one.found.hung[..]))
        .map(|hung| weigh.layout(hung))
        .collect::<Result<_, _>>()?;
    let (early, responses): (Vec<Early>, Vec<_>) = layouts.into_iter().unzip();
    let decays = SideBySide::of(&responses, goal);
    let judged = judged(&early.iter().collect::<Vec<_>>(), &decays, goal);
    let (bare, others) = judged.split_first().expect("the bare room is weighed first");
    let scores: Vec<Resampled<f64>> = others.iter().map(|other| score(bare, other)).collect();
    let alternatives: Vec<Alternative> = tried
        .iter()
        .zip(others)
        .zip(&scores)
        .enumerate()
        .map(|(index, ((tried, judged), score))| alternative(index + 1, &flush, tried, (bare, judged), score))
        .collect();
    let hung: Vec<Vec<u32>> = tried.iter().map(Tried::hung).collect();
    let prices: Vec<Option<f64>> = scene.stock.iter().map(|kind| kind.price).collect();
    let (chosen, rival, decided_by) = pick(&scores, &hung, &prices);
    let mut choice = Choice {
        asked_decay_s: goal.target.map(|(low, high)| [low, high]),
        bare: bare.figures.clone(),
        alternatives,
        chosen: chosen + 1,
        rival: rival + 1,
        lead_steps: lead(&scores[chosen], &scores[rival]),
        lead: gains(&others[rival], &others[chosen]),
        decided_by,
        reasons: Vec::new(),
    };
    choice.reasons = reasons::reasons(&choice, goal.bands, schroeder_hz, scene.unit);
    Ok(choice)
}

/// Early level of a layout as it is told and batch by batch, and its excess over the criterion, dB.
pub(super) struct Early {
    pub(super) told: Estimate,
    level_db: Resampled<f64>,
    excess_db: f64,
}

impl Early {
    /// Of the judged pairs; `early` is what is weighed with these linings.
    pub(super) fn new(traced: &Traced, goal: &Goal<'_>, linings: &Linings, early: &EarlyEnergy) -> Self {
        let batches = relative_batches(traced, goal.pairs, flat_weights(), early);
        let (all, count) = (batches.iter().sum::<f64>(), batches.len() as f64);
        let level = |energy: f64| Estimate::level(Estimate::exact(energy)).value;
        let level_db =
            Resampled { whole: level(all / count), without: batches.iter().map(|batch| level((all - batch) / (count - 1.0))).collect() };
        let excess = goal.pairs.iter().map(|&(source, receiver)| early_excess(traced, linings, source, receiver));
        Self { told: early_level(traced, goal, early), level_db, excess_db: excess.fold(0.0, f64::max) }
    }
}

/// A layout as weighed.
type Layout = (Early, Vec<Vec<Response>>);

/// What layouts are weighed with.
pub(super) struct Weigh<'a> {
    pub(super) progress: &'a Progress,
    pub(super) scene: &'a Scene,
    pub(super) traced: &'a Traced,
    pub(super) index: &'a EarlyIndex<'a>,
    pub(super) flush: &'a Flush<'a>,
    pub(super) goal: &'a Goal<'a>,
}

impl Weigh<'_> {
    fn layout(&self, hung: &[super::search::Hung]) -> Result<Layout, Cancelled> {
        let Self { progress, traced, goal, .. } = *self;
        let panels: Vec<Panel> = self.scene.panels.iter().chain(hung.iter().map(|hung| &hung.panel)).cloned().collect();
        let linings = self.flush.linings(&panels);
        let early = self.index.weigh(progress, &linings)?;
        let early = Early::new(traced, goal, &linings, &early);
        Ok((early, responses(progress, traced, &linings)?))
    }
}

/// A layout as judged.
pub(super) struct Judged {
    pub(super) figures: Figures,
    /// How much there is to wish for, in steps: early level (from 0 dB), excess, decay, evenness.
    lacks: Resampled<[f64; 4]>,
    has_decay: bool,
}

/// All layouts, the bare one first.
pub(super) fn judged(early: &[&Early], decays: &[SideBySide], goal: &Goal<'_>) -> Vec<Judged> {
    let times: Vec<Resampled<Vec<f64>>> = decays.iter().map(|decays| decays.known(goal.bands)).collect();
    let bare = times[0].map(|times| mean(times));
    let of_one = |((early, decays), times): ((&&Early, &SideBySide), &Resampled<Vec<f64>>)| {
        let has_decay = !times.whole.is_empty();
        let outside = times.with(&bare, |times, bare| outside_ratio(mean(times), goal.target, *bare));
        let unevenness = times.map(|times| unevenness_ratio(times));
        let both = outside.with(&unevenness, |outside, unevenness| [*outside, *unevenness]);
        let lacks = early.level_db.with(&both, |level, ratios| {
            let [outside, unevenness] = if has_decay { ratios.map(steps) } else { [0.0; 2] };
            [*level, early.excess_db, outside, unevenness]
        });
        let percent = |ratio: &Resampled<f64>| ratio.map(|ratio| 100.0 * (ratio - 1.0)).error();
        let figures = Figures {
            early_level_db: early.told,
            early_excess_db: early.excess_db,
            t30_s: decays.by_octave(),
            t_mid_s: decays.mean(goal.bands),
            outside_percent: (has_decay && goal.target.is_some()).then(|| percent(&outside)),
            unevenness_percent: has_decay.then(|| percent(&unevenness)),
        };
        Judged { figures, lacks, has_decay }
    };
    early.iter().zip(decays).zip(&times).map(of_one).collect()
}

/// By how much better a layout is than another, all terms together, steps.
pub(super) fn score(other: &Judged, layout: &Judged) -> Resampled<f64> {
    other.lacks.with(&layout.lacks, |other, own| other.iter().zip(own).map(|(other, own)| other - own).sum())
}

/// By how much better a layout is than another, term by term.
pub(super) fn gains(other: &Judged, layout: &Judged) -> Gains {
    let term = |index: usize| other.lacks.with(&layout.lacks, |other, own| other[index] - own[index]).error();
    let of_decay = |index: usize| layout.has_decay.then(|| term(index));
    Gains { early_steps: term(0), excess_steps: term(1), decay_steps: of_decay(2), evenness_steps: of_decay(3) }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Steps that are just noticed in a change of a decay time by this ratio.
fn steps(ratio: f64) -> f64 {
    ratio.ln() / (PERCENT_PER_DB / 100.0).ln_1p()
}

/// By what ratio a decay time lies outside a range, 1 within it; without a range its ratio to that of the bare room. Seconds.
#[must_use]
pub fn outside_ratio(time_s: f64, target: Option<(f64, f64)>, bare_s: f64) -> f64 {
    target.map_or(time_s / bare_s, |(low, high)| (time_s / high).max(low / time_s).max(1.0))
}

/// By what ratio decay times depart from their mean, either way, the geometric mean of these ratios.
#[must_use]
pub fn unevenness_ratio(times_s: &[f64]) -> f64 {
    let middle = mean(times_s);
    mean(&times_s.iter().map(|time| (time / middle).ln().abs()).collect::<Vec<_>>()).exp()
}

/// The figures of one alternative.
fn alternative(
    number: usize,
    flush: &Flush<'_>,
    tried: &Tried<'_>,
    (bare, with): (&Judged, &Judged),
    score: &Resampled<f64>,
) -> Alternative {
    let scene = tried.scene;
    let named = |counts: &[u32]| -> Vec<(String, u32)> {
        scene.stock.iter().zip(counts).filter(|(_, count)| **count > 0).map(|(kind, &count)| (kind.name.clone(), count)).collect()
    };
    let hung = tried.hung();
    let prices = scene.stock.iter().zip(&hung).filter(|(_, count)| **count > 0).map(|(kind, &count)| Some(kind.price? * f64::from(count)));
    let panels: Vec<Panel> = tried.found.hung.iter().map(|hung| hung.panel.clone()).collect();
    let (area_m2, absorption_m2) = absorbed(scene, flush, &panels);
    Alternative {
        number,
        types: tried.types.iter().map(|&kind| scene.stock[kind].name.clone()).collect(),
        hung: named(&hung),
        left_over: named(&tried.found.left),
        cost: prices.sum(),
        area_m2,
        absorption_m2,
        figures: with.figures.clone(),
        gains: gains(bare, with),
        score_steps: score.error(),
    }
}

/// Area of panels in m2, and what they absorb in a diffuse field, m2 by octave: their faces, before the air that is behind them, and what flat ones draw in round them.
#[must_use]
pub fn absorbed(scene: &Scene, flush: &Flush<'_>, panels: &[Panel]) -> (f64, Bands<f64>) {
    let (mut area, mut absorption) = (0.0, flush.hanging(panels).drawn_in(flush.room()));
    for panel in panels {
        let Some(index) = scene.stock.iter().position(|kind| kind.name == panel.kind) else { continue };
        let kind = &scene.stock[index];
        let gap = if let PanelPlace::Surface { gap, .. } = panel.place { gap } else { kind.gap };
        let own = kind.size.x * kind.size.y * f64::from(panel.count());
        area += own;
        absorption = absorption + flush.finish(index, gap).absorption * own;
    }
    (area, absorption)
}

/// By how much a score is ahead of another, both on the same rays, steps.
#[must_use]
pub fn lead(score: &Resampled<f64>, other: &Resampled<f64>) -> Estimate {
    score.with(other, |score, other| score - other).error()
}

/// The alternative that is hung, the one that came nearest to it, and what decided between them. Of each alternative its score, and how many of each type it hangs; `prices` by type.
#[must_use]
pub fn pick(scores: &[Resampled<f64>], hung: &[Vec<u32>], prices: &[Option<f64>]) -> (usize, usize, Decision) {
    let higher = |one: usize, other: usize| if scores[other].whole > scores[one].whole { other } else { one };
    let highest = (0..scores.len()).reduce(higher).unwrap_or(0);
    let is_apart = |other: usize| {
        let lead = lead(&scores[highest], &scores[other]);
        lead.value > lead.half_width_95().max(LEAST_STEPS)
    };
    let alike: Vec<usize> = (0..scores.len()).filter(|&other| other == highest || !is_apart(other)).collect();
    let chosen =
        alike.iter().copied().reduce(|one, other| if is_simpler(other, one, hung, prices) { other } else { one }).unwrap_or(highest);
    let others = |among: &[usize]| among.iter().copied().filter(|&other| other != chosen).reduce(higher);
    let nearest = others(&alike);
    let rival = nearest.or_else(|| others(&(0..scores.len()).collect::<Vec<_>>())).unwrap_or(chosen);
    let decision = match nearest {
        None => Decision::Score,
        Some(rival) => match cost_difference(&hung[chosen], &hung[rival], prices) {
            Some(difference) if difference < -LEAST_COST => Decision::Cost,
            _ if panels(&hung[chosen]) < panels(&hung[rival]) => Decision::Panels,
            _ => Decision::Order,
        },
    };
    (chosen, rival, decision)
}

/// Whether an alternative is cheaper than another, or costs the same and takes fewer panels.
fn is_simpler(one: usize, other: usize, hung: &[Vec<u32>], prices: &[Option<f64>]) -> bool {
    match cost_difference(&hung[one], &hung[other], prices) {
        Some(difference) if difference.abs() > LEAST_COST => difference < 0.0,
        _ => panels(&hung[one]) < panels(&hung[other]),
    }
}

fn panels(hung: &[u32]) -> u32 {
    hung.iter().sum()
}

/// By how much one costs more than another; `None` where a type that they hang differently often has no price.
fn cost_difference(one: &[u32], other: &[u32], prices: &[Option<f64>]) -> Option<f64> {
    let differing = one.iter().zip(other).zip(prices).filter(|((one, other), _)| one != other);
    differing.map(|((&one, &other), price)| Some((f64::from(one) - f64::from(other)) * (*price)?)).sum()
}

/// Octaves that the early level is judged in: 1-8 kHz.
#[must_use]
pub fn early_bands() -> Vec<Band> {
    Band::ALL.into_iter().filter(|&band| flat_weights()[band] > 0.0).collect()
}
