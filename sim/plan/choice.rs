//! Which of the types in stock that exclude one another: each alternative planned whole, all of them weighed on one fresh trace, so that they differ by nothing else.
//!
//! **The score** says how much better than bare the room becomes, in steps that are just noticed: see `score`. Octaves below Schroeder's frequency take no part.
//!
//! **The rule**: the highest score is hung. Two scores are not told apart if their difference, taken batch by batch on the same rays, is within its interval of 95 % or under
//! a tenth of a step. Of those that are not told apart from the highest the cheapest is hung, by the prices of what they hang differently; at the same cost, or where a price
//! is not known, the one with fewer panels; then the one that the scene names first. Panels that are not hung cost nothing, nor do those that hang in the room already.
//!
//! *Limits.* Corner panels and clouds are weighed as flush, as in the comparison of layouts. The error is that of the tracing: what a material may be off by moves all alternatives, but
//! not quite alike. Absorption areas of corner panels and clouds are those of faces without edges; what the walls behind absorbed is not taken off.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::Bands;
use crate::findings::Estimate;
use crate::progress::{Cancelled, Progress};
use crate::response::Resampled;
use crate::room::{Bodies, build};
use crate::scene::{Panel, PanelPlace, Scene, Terms};
use crate::settings::Settings;
use crate::weigh::Traced;
use crate::weigh::early::EarlyIndex;

use super::flush::Flush;
use super::place::record_length;
use super::reasons;
use super::score::{Faults, Figures, Ground, LEAST_STEPS, Weighed, faults_of};
use super::search::{Found, Goal, Hung};
use super::stock::Stock;

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
    pub lead_by_term_steps: Terms<Option<Estimate>>,
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
    /// What the panels cost that it hangs beside those that hang in the room already, in the currency of the prices; `null` where one has no price.
    pub cost: Option<f64>,
    /// Area of the hung panels.
    pub area_m2: f64,
    /// What they absorb in a diffuse field, by octave.
    pub absorption_m2: Bands<f64>,
    /// The room with them.
    pub figures: Figures,
    /// By how much better that is than bare, term by term.
    pub gains_steps: Terms<Option<Estimate>>,
    /// All terms together.
    pub score_steps: Estimate,
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
        format!(
            "Score: by how many steps, each just noticed, the room is better than bare. The highest is hung. Those not told apart from it (the difference on the same rays within its \
             interval of 95 %, or under {LEAST_STEPS} steps) give way to the cheapest of them, then to fewer panels, then to the order of the scene."
        )
    }
}

/// A plan of one of the alternatives.
#[derive(Clone, Copy)]
pub struct Tried<'a> {
    /// The stock with that alternative.
    pub stock: &'a Stock,
    /// Numbers of the types that it chooses.
    pub types: &'a [usize],
    /// What the search hung.
    pub found: &'a Found,
}

impl Tried<'_> {
    /// How many of each type in stock it hangs.
    fn hung(&self) -> Vec<u32> {
        self.stock.used(&self.found.left)
    }

    /// How many of each type it hangs beside those that hang in the room already.
    fn still_to_hang(&self) -> Vec<u32> {
        let before: Vec<Panel> = self.stock.hangs.iter().map(|(_, panel)| panel.clone()).collect();
        self.hung().iter().zip(self.stock.counted(&before)).map(|(hung, before)| hung.saturating_sub(before)).collect()
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
    let ground = Ground { traced: &traced, index: &index, flush: &flush, goal };
    let hung = std::iter::once(&[][..]).chain(tried.iter().map(|one| &one.found.hung[..]));
    let all = |hung: &[Hung]| -> Vec<Panel> { scene.panels.iter().chain(hung.iter().map(|hung| &hung.panel)).cloned().collect() };
    let weighed: Vec<Weighed> = hung.map(|hung| Weighed::new(progress, ground, &all(hung))).collect::<Result<_, _>>()?;
    let faults = faults_of(&traced, goal, &weighed.iter().collect::<Vec<_>>());
    let (bare, others) = faults.split_first().expect("the bare room is weighed first");
    let scores: Vec<Resampled<f64>> = others.iter().map(|other| other.better_by(bare)).collect();
    let alternatives: Vec<Alternative> = tried
        .iter()
        .zip(others)
        .zip(&scores)
        .enumerate()
        .map(|(index, ((tried, faults), score))| alternative(index + 1, &flush, tried, (bare, faults), score))
        .collect();
    let hung: Vec<Vec<u32>> = tried.iter().map(Tried::still_to_hang).collect();
    let prices: Vec<Option<f64>> = scene.stock.iter().map(|kind| kind.price).collect();
    let (chosen, rival, decided_by) = pick(&scores, &hung, &prices);
    let mut choice = Choice {
        asked_decay_s: goal.target.map(|(low, high)| [low, high]),
        bare: bare.figures.clone(),
        alternatives,
        chosen: chosen + 1,
        rival: rival + 1,
        lead_steps: lead(&scores[chosen], &scores[rival]),
        lead_by_term_steps: others[chosen].better_by_term(&others[rival]),
        decided_by,
        reasons: Vec::new(),
    };
    choice.reasons = reasons::reasons(&choice, goal.bands, schroeder_hz, scene.unit);
    Ok(choice)
}

/// The figures of one alternative.
fn alternative(
    number: usize,
    flush: &Flush<'_>,
    tried: &Tried<'_>,
    (bare, with): (&Faults, &Faults),
    score: &Resampled<f64>,
) -> Alternative {
    let scene = &tried.stock.scene;
    let named = |counts: &[u32]| -> Vec<(String, u32)> {
        scene.stock.iter().zip(counts).filter(|(_, count)| **count > 0).map(|(kind, &count)| (kind.name.clone(), count)).collect()
    };
    let hung = tried.hung();
    let prices = scene
        .stock
        .iter()
        .zip(tried.still_to_hang())
        .filter(|(_, count)| *count > 0)
        .map(|(kind, count)| Some(kind.price? * f64::from(count)));
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
        gains_steps: with.better_by_term(bare),
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
