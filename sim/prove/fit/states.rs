//! The materials of a room that are not surely known, and its decays with other values of them: weighed along the paths that are stored, nothing traced.
//!
//! *Bounds.* A row of a table, or a material of one's own, may absorb half or twice what it is said to, or anything in its own range ([`Finish::absorption_range`]) where that is wider, at most
//! 0.99. What is computed from layers may be off by two of its own standard uncertainties, at most by the
//! factor of 2.
//!
//! *Which.* Each material is set to either end of its bounds, all octaves at once. Those that move a decay by less than a hundredth in every octave are left as they are, and of
//! the others all but the [`MOST`] that move it most; what these may change is an uncertainty of every decay.
//!
//! *Design.* Beside both ends of each, points drawn by lot, more of them near the borders (as the roots of Chebyshev's polynomials lie), half as many again as the polynomial of
//! [`super::emulator`] has coefficients; then [`KEPT`] points drawn as the materials are believed to lie, which tell its error. All of them are weighed in a few walks along the rays
//! ([`crate::weigh::variants::shares`]), each octave with points of its own.
//!
//! *Reading.* The filter of an octave lets through some of its neighbors ([`crate::prove::read`]). Where a neighbor rings longer, that is what is left in the end, and the decay that is read hardly moves with the octave's own materials: so
//! the polynomial is that of decays as they are read, beside neighbors as they are believed to be ([`Beside`]).
//!
//! *Limits.* All finishes of a name are off by one factor: a panel with two gaps, a door with rough edges. Scattering stays. Octaves in which waves have a part are left out: weighing
//! rays anew does not change waves.

use rayon::prelude::*;

use crate::absorbers::{Finish, impedance};
use crate::bands::{Band, Bands};
use crate::dsp::filter::Filter;
use crate::metrics::decay::{DecayCurve, Range, Tail};
use crate::progress::{Cancelled, Progress};
use crate::random::{Purpose, Stream};
use crate::response::Response;
use crate::scene::{Core, Scene};
use crate::weigh::variants::shares;
use crate::weigh::{Linings, RayCurve, Traced};

use super::emulator::{Emulator, coefficients};
use super::posterior::Unknown;
use crate::prove::read;

/// A material may absorb half or twice as much as it is said to.
pub const FACTOR: f64 = 2.0;
/// So many materials are fitted at most.
pub const MOST: usize = 12;
/// Points that tell the error of an emulator.
pub const KEPT: usize = 24;
/// A material counts that moves the logarithm of a decay by so much between its bounds.
const COUNTS: f64 = 0.01;
/// What absorbs less than this is as hard as can be.
const HARD: f64 = 1e-4;

/// What absorbs in a room, by its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name of a material or a type of panel.
    pub name: String,
    /// Whether the scene cannot say another absorption of it: it is a panel computed from layers, or of a row whose sample's edges are counted apart.
    pub is_kept: bool,
    /// Random-incidence absorption as the scene says it, and between what it may be.
    pub octaves: Bands<Unknown>,
}

impl Material {
    fn new(scene: &Scene, finish: &Finish) -> Self {
        let is_layers = scene.stock.iter().any(|kind| kind.name == finish.name && !matches!(kind.core, Core::Material(_)));
        let is_panel = scene.stock.iter().any(|kind| kind.name == finish.name);
        let is_kept = is_layers || (is_panel && finish.is_turned_back);
        Self { name: finish.name.clone(), is_kept, octaves: Bands::from_fn(|band| bounds(finish, is_layers, band)) }
    }
}

fn bounds(finish: &Finish, is_layers: bool, band: Band) -> Unknown {
    let (absorption, (less, more)) = (finish.absorption[band], finish.absorption_range(band));
    let (less, more) = (absorption - 2.0 * (absorption - less), absorption + 2.0 * (more - absorption));
    let (half, twice) = (absorption / FACTOR, absorption * FACTOR);
    let own = finish.absorption_range(band);
    let (low, high) = if is_layers { (less.max(half), more.min(twice)) } else { (half.min(own.0), twice.max(own.1)) };
    let low = low.max(HARD);
    Unknown { absorption, low, high: high.min(impedance::GREATEST_KEPT.max(absorption)).max(low) }
}

/// All that absorbs, each name once.
#[must_use]
pub fn materials(scene: &Scene, linings: &Linings) -> Vec<Material> {
    let mut found: Vec<Material> = Vec::new();
    for finish in linings.in_use() {
        if !found.iter().any(|known| known.name == finish.name) {
            found.push(Material::new(scene, finish));
        }
    }
    // What is as hard as can be everywhere has no factor.
    found.retain(|material| material.octaves.0.iter().any(|one| one.absorption > HARD && !one.is_known()));
    found
}

/// A state of a room: by which factor each material absorbs more than the scene says.
pub type State = Vec<Bands<f64>>;

/// The same finishes with each material off by a factor.
#[must_use]
pub fn refinished(linings: &Linings, materials: &[Material], state: &State) -> Linings {
    linings.refinished(|finish| {
        let index = materials.iter().position(|material| material.name == finish.name)?;
        let most = |band: Band| impedance::GREATEST_KEPT.max(finish.absorption[band]);
        Some(finish.with_absorption(Bands::from_fn(|band| (finish.absorption[band] * state[index][band]).min(most(band)))))
    })
}

/// A room that is heard at some pairs of source and receiver.
pub struct Heard<'a> {
    /// The room.
    pub traced: &'a Traced,
    /// What lies on its surfaces.
    pub linings: &'a Linings,
    /// What rays bring so, by source and receiver.
    pub curves: &'a [Vec<RayCurve>],
    /// Pairs that were recorded, each once.
    pub pairs: Vec<(usize, usize)>,
    /// Their responses.
    pub responses: Vec<&'a Response>,
}

/// Curves of all octaves in each state, `[pair][state]`.
type Curves = Vec<Vec<Bands<Vec<f64>>>>;

/// T30 and T20.
type Times = [Option<f64>; 2];

/// What the filters of all octaves read at one place: neighbors as they are believed to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// Shares of all octaves in what the filter of each lets through.
    shares: Bands<Bands<f64>>,
    /// Curves of all octaves.
    pub curves: Bands<Vec<f64>>,
}

impl Beside {
    /// Filters at a rate in Hz; one that the rate does not hold reads its octave alone.
    #[must_use]
    pub fn new(rate_hz: f64, curves: Bands<Vec<f64>>) -> Self {
        let of = |band: Band| Filter::octave(band, rate_hz).map_or_else(|| alone(band), |filter| read::shares(&filter, rate_hz));
        Self { shares: Bands::from_fn(of), curves }
    }

    /// Octaves that nothing is read beside.
    #[must_use]
    pub fn alone(curves: Bands<Vec<f64>>) -> Self {
        Self { shares: Bands::from_fn(alone), curves }
    }

    /// The same filters beside other neighbors.
    #[must_use]
    pub fn with(&self, curves: Bands<Vec<f64>>) -> Self {
        Self { shares: self.shares, curves }
    }

    /// What is read of an octave that has this curve itself.
    #[must_use]
    pub fn read(&self, band: Band, own: &[f64]) -> Vec<f64> {
        let shares = self.shares[band];
        let neighbors: Vec<(f64, &Vec<f64>)> =
            self.curves.iter().filter(|(other, _)| *other != band).map(|(other, curve)| (shares[other], curve)).collect();
        let at = |(bin, own): (usize, &f64)| {
            let beside = neighbors.iter().map(|(share, curve)| share * curve.get(bin).copied().unwrap_or(0.0));
            shares[band] * own + beside.sum::<f64>()
        };
        own.iter().enumerate().map(at).collect()
    }

    /// By how much longer an octave is read than it rings, as a logarithm.
    #[must_use]
    pub fn more(&self, band: Band, bin_s: f64) -> Option<f64> {
        moved(times(&self.curves[band], bin_s), times(&self.read(band, &self.curves[band]), bin_s))
    }

    /// By how much what is read of an octave may be off since its neighbors' decays are known to a share each, as a logarithm.
    #[must_use]
    pub fn unsure(&self, band: Band, sure: &Bands<f64>, bin_s: f64) -> f64 {
        let own = times(&self.read(band, &self.curves[band]), bin_s);
        let with = |neighbor: Band| {
            let mut curves = self.curves.clone();
            curves[neighbor] = stretched(&self.curves[neighbor], 1.0 + sure[neighbor]);
            moved(own, times(&self.with(curves).read(band, &self.curves[band]), bin_s)).unwrap_or(0.0)
        };
        Band::ALL.into_iter().filter(|other| *other != band).map(|other| with(other).powi(2)).sum::<f64>().sqrt()
    }
}

/// The filter that reads one octave alone.
fn alone(band: Band) -> Bands<f64> {
    Bands::from_fn(|other| if other == band { 1.0 } else { 0.0 })
}

/// A curve that takes so many times as long.
#[must_use]
pub fn stretched(curve: &[f64], factor: f64) -> Vec<f64> {
    let at = |bin: usize| {
        let place = bin as f64 / factor;
        let (below, part) = (place as usize, place.fract());
        let value = |bin: usize| curve.get(bin).copied().unwrap_or(0.0);
        value(below) + part * (value(below + 1) - value(below))
    };
    (0..curve.len()).map(at).collect()
}

/// `ln` of one decay over another, of the longer range that both have.
fn moved(from: Times, to: Times) -> Option<f64> {
    (0..from.len()).find_map(|range| Some((to[range]? / from[range]?).ln()))
}

impl Heard<'_> {
    /// Curves of all octaves in other states.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn in_states(&self, progress: &Progress, materials: &[Material], states: &[State]) -> Result<Curves, Cancelled> {
        let others: Vec<Linings> = states.par_iter().map(|state| refinished(self.linings, materials, state)).collect();
        let weighed = shares(progress, self.traced, (self.linings, self.curves), &others.iter().collect::<Vec<_>>(), &self.pairs)?;
        let of_pair = |pair: usize| {
            let shares: Vec<_> = weighed.iter().map(|of_pairs| &of_pairs[pair]).collect();
            self.responses[pair].in_states(self.traced, (self.linings, &others), &shares, self.pairs[pair])
        };
        Ok((0..self.pairs.len()).map(of_pair).collect())
    }

    /// Its pairs as filters at these rates in Hz read them, as the scene has them.
    #[must_use]
    pub fn beside(&self, rates_hz: &[f64]) -> Vec<Beside> {
        let of = |(response, rate_hz): (&&Response, &f64)| Beside::new(*rate_hz, Bands::from_fn(|band| response.curve(band)));
        self.responses.iter().zip(rates_hz).map(of).collect()
    }
}

/// T30 and T20 of a curve.
#[must_use]
pub fn times(curve: &[f64], bin_s: f64) -> Times {
    let curve = DecayCurve::new(curve, bin_s, Tail::Exponential).ok();
    [Range::Thirty, Range::Twenty].map(|range| Some(curve.as_ref()?.fit(range).ok()?.time_s))
}

/// How decays of a room go with its materials.
#[derive(Clone, Debug)]
pub struct Described {
    /// What absorbs and is fitted.
    pub materials: Vec<Material>,
    /// What filters read in the scene as it is, by pair.
    pub scene: Vec<Beside>,
    /// Whether an octave is one of rays alone, `[pair]`.
    by_rays: Vec<Bands<bool>>,
    /// Bins of curves, seconds.
    bin_s: f64,
    /// States that were weighed, and the curves there.
    weighed: Vec<State>,
    curves: Curves,
    /// By how much materials that are not fitted may move a decay, one standard uncertainty, as a logarithm.
    pub left_out: Bands<f64>,
    /// How many states were weighed.
    pub states: usize,
}

impl Described {
    /// Weighs a room in as many states as it takes; `beside` is what filters read of it as it is, by pair.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(progress: &Progress, scene: &Scene, heard: &Heard<'_>, beside: Vec<Beside>) -> Result<Self, Cancelled> {
        progress.begin("weighing other materials", 2);
        let all = materials(scene, heard.linings);
        let ends = ends(&all);
        let bin_s = heard.responses.first().map_or(1.0, |response| response.bin_s);
        let at_ends = heard.in_states(progress, &all, &ends)?;
        progress.step(1)?;
        let (chosen, left_out) = chosen(&all, &at_ends, (&beside, bin_s));
        let materials: Vec<Material> = chosen.iter().map(|&index| all[index].clone()).collect();
        let own_ends = || chosen.iter().flat_map(|index| [2 * index, 2 * index + 1]);
        let lots = lots(&materials, scene.settings.seed, 2 * chosen.len());
        let by_lot = heard.in_states(progress, &materials, &lots)?;
        progress.step(1)?;
        let weighed = own_ends().map(|end| chosen.iter().map(|&index| ends[end][index]).collect()).chain(lots.iter().cloned()).collect();
        let both = |(at_ends, by_lot): (Vec<Bands<Vec<f64>>>, Vec<_>)| own_ends().map(|end| at_ends[end].clone()).chain(by_lot).collect();
        let curves = at_ends.into_iter().zip(by_lot).map(both).collect();
        let by_rays = heard.responses.iter().map(|response| Bands::from_fn(|band| response.rays_share(band) >= 1.0)).collect();
        let states = ends.len() + lots.len();
        Ok(Self { materials, scene: beside, by_rays, bin_s, weighed, curves, left_out, states })
    }

    /// How decays as they are read go with the materials of each octave beside such neighbors, `[pair]`; `None` where an octave has no decay, or waves have a part in it.
    #[must_use]
    pub fn emulators(&self, beside: &[Beside]) -> Vec<Bands<Option<Emulator>>> {
        let of_pair = |pair: usize| {
            let of_bands: Vec<Option<Emulator>> =
                Band::ALL.into_par_iter().map(|band| self.emulator((pair, band), &beside[pair])).collect();
            Bands::from_fn(|band: Band| of_bands[band.index()].clone())
        };
        (0..beside.len()).map(of_pair).collect()
    }

    fn emulator(&self, (pair, band): (usize, Band), beside: &Beside) -> Option<Emulator> {
        if !self.by_rays[pair][band] {
            return None;
        }
        let scene = &self.scene[pair];
        let own = times(&scene.read(band, &scene.curves[band]), self.bin_s);
        let read: Vec<Times> = self.curves[pair].iter().map(|curves| times(&beside.read(band, &curves[band]), self.bin_s)).collect();
        // One range for all, that of T30 where each reaches it.
        let rates = |range: usize| read.iter().map(|times| Some(own[range]? / times[range]?)).collect::<Option<Vec<f64>>>();
        let point =
            |state: &State| self.materials.iter().zip(state).map(|(one, factor)| scaled(&one.octaves[band], factor[band])).collect();
        Emulator::new(&self.weighed.iter().map(point).collect::<Vec<_>>(), &rates(0).or_else(|| rates(1))?, KEPT)
    }
}

/// Where a factor lies between the bounds, -1 to 1.
fn scaled(one: &Unknown, factor: f64) -> f64 {
    one.scaled((one.absorption * factor).clamp(one.low, one.high))
}

/// By which factor a material absorbs more at a share of the way between its bounds.
fn factor(one: &Unknown, absorption: f64) -> f64 {
    if one.absorption > HARD { absorption / one.absorption } else { 1.0 }
}

/// Each material at the lower and at the upper bound, in turn.
fn ends(materials: &[Material]) -> Vec<State> {
    let at = |moved: usize, share: f64| {
        let of = |(index, material): (usize, &Material)| match index == moved {
            true => material.octaves.map(|one| factor(&one, one.at(share))),
            false => Bands::splat(1.0),
        };
        materials.iter().enumerate().map(of).collect()
    };
    (0..materials.len()).flat_map(|index| [at(index, 0.0), at(index, 1.0)]).collect()
}

/// Points by lot; with so many others they fill walks of 32, the last [`KEPT`] of them as materials are believed to lie.
fn lots(materials: &[Material], seed: u64, others: usize) -> Vec<State> {
    let wanted = (3 * coefficients(materials.len())).div_ceil(2).saturating_sub(others) + KEPT;
    let count = wanted.next_multiple_of(32);
    let mut stream = Stream::new(seed, Purpose::Search, 3);
    let mut state = |is_kept: bool| -> State {
        let mut of = |one: &Unknown| {
            let share = stream.unit();
            let absorption = match is_kept {
                true => one.at(share),
                false => one.low + (one.high - one.low) * 0.5 * (1.0 - (std::f64::consts::PI * share).cos()),
            };
            factor(one, absorption)
        };
        materials.iter().map(|material| Bands::from_fn(|band| of(&material.octaves[band]))).collect()
    };
    (0..count).map(|number| state(number + KEPT >= count)).collect()
}

/// The numbers of the materials that are fitted, and what the others may move decays by, as one standard uncertainty: that of a logarithm spread evenly between both ends.
fn chosen(all: &[Material], at_ends: &Curves, (beside, bin_s): (&[Beside], f64)) -> (Vec<usize>, Bands<f64>) {
    let moves: Vec<Bands<f64>> = (0..all.len())
        .into_par_iter()
        .map(|index| {
            Bands::from_fn(|band| {
                let of_pair = |(curves, beside): (&Vec<Bands<Vec<f64>>>, &Beside)| {
                    let [low, high] = [0, 1].map(|end| times(&beside.read(band, &curves[2 * index + end][band]), bin_s));
                    moved(low, high).map(f64::abs)
                };
                at_ends.iter().zip(beside).filter_map(of_pair).fold(0.0, f64::max)
            })
        })
        .collect();
    let moves = |index: usize, band: Band| moves[index][band];
    let most = |index: usize| Band::ALL.into_iter().map(|band| moves(index, band)).fold(0.0, f64::max);
    let mut order: Vec<usize> = (0..all.len()).filter(|&index| most(index) >= COUNTS).collect();
    order.sort_by(|&a, &b| most(b).total_cmp(&most(a)));
    order.truncate(MOST);
    order.sort_unstable();
    let others = (0..all.len()).filter(|index| !order.contains(index));
    let left_out = Bands::from_fn(|band| others.clone().map(|index| moves(index, band).powi(2) / 12.0).sum::<f64>().sqrt());
    (order, left_out)
}
