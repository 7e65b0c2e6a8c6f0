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
//! *Limits.* All finishes of a name are off by one factor: a panel with two gaps, a door with rough edges. Scattering stays. Octaves in which waves have a part are left out: weighing
//! rays anew does not change waves.

use rayon::prelude::*;

use crate::absorbers::{Finish, impedance};
use crate::bands::{Band, Bands};
use crate::metrics::decay::{DecayCurve, Range, Tail};
use crate::progress::{Cancelled, Progress};
use crate::random::{Purpose, Stream};
use crate::response::Response;
use crate::scene::{Core, Scene};
use crate::weigh::variants::shares;
use crate::weigh::{Linings, RayCurve, Traced};

use super::emulator::{Emulator, coefficients};
use super::posterior::Unknown;

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

/// `ln` of T30 and of T20 in each state re the scene as written.
type Decays = Vec<[Option<f64>; 2]>;

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

    /// `ln` of each octave's decay in each state re that of the scene as written, `[pair][octave][state]`; `None` where one of them has no decay time.
    fn decays(&self, progress: &Progress, materials: &[Material], states: &[State]) -> Result<Vec<Bands<Decays>>, Cancelled> {
        let curves = self.in_states(progress, materials, states)?;
        let of_pair = |(curves, response): (&Vec<Bands<Vec<f64>>>, &&Response)| {
            Bands::from_fn(|band| {
                let own = times(&response.curve(band), response.bin_s);
                let of_state = |curves: &Bands<Vec<f64>>| {
                    let now = times(&curves[band], response.bin_s);
                    std::array::from_fn(|range| Some((now[range]? / own[range]?).ln()))
                };
                curves.par_iter().map(of_state).collect()
            })
        };
        Ok(curves.iter().zip(&self.responses).map(of_pair).collect())
    }
}

/// T30 and T20 of a curve.
#[must_use]
pub fn times(curve: &[f64], bin_s: f64) -> [Option<f64>; 2] {
    let curve = DecayCurve::new(curve, bin_s, Tail::Exponential).ok();
    [Range::Thirty, Range::Twenty].map(|range| Some(curve.as_ref()?.fit(range).ok()?.time_s))
}

/// How decays of a room go with its materials.
#[derive(Clone, Debug)]
pub struct Described {
    /// What absorbs and is fitted.
    pub materials: Vec<Material>,
    /// `[pair][octave]`; `None` where an octave has no decay, or waves have a part in it.
    pub emulators: Vec<Bands<Option<Emulator>>>,
    /// By how much materials that are not fitted may move a decay, one standard uncertainty, as a logarithm.
    pub left_out: Bands<f64>,
    /// How many states were weighed.
    pub states: usize,
}

impl Described {
    /// Weighs a room in as many states as it takes; `seed` is that of the scene.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(progress: &Progress, scene: &Scene, heard: &Heard<'_>) -> Result<Self, Cancelled> {
        progress.begin("weighing other materials", 2);
        let all = materials(scene, heard.linings);
        let ends = ends(&all);
        let at_ends = heard.decays(progress, &all, &ends)?;
        progress.step(1)?;
        let (chosen, left_out) = chosen(&all, &at_ends);
        let materials: Vec<Material> = chosen.iter().map(|&index| all[index].clone()).collect();
        let own_ends = || chosen.iter().flat_map(|index| [2 * index, 2 * index + 1]);
        let lots = lots(&materials, scene.settings.seed, 2 * chosen.len());
        let weighed = heard.decays(progress, &materials, &lots)?;
        progress.step(1)?;
        let states: Vec<State> =
            own_ends().map(|end| chosen.iter().map(|&index| ends[end][index]).collect()).chain(lots.iter().cloned()).collect();
        let emulator = |pair: usize, band: Band| {
            if heard.responses[pair].rays_share(band) < 1.0 {
                return None;
            }
            let moved = |range: usize| {
                let of_ends = own_ends().map(|end| at_ends[pair][band][end][range]);
                of_ends.chain(weighed[pair][band].iter().map(|times| times[range])).collect::<Option<Vec<f64>>>()
            };
            // One range for all, that of T30 where each reaches it.
            let rates: Vec<f64> = moved(0).or_else(|| moved(1))?.into_iter().map(|moved| (-moved).exp()).collect();
            let point = |state: &State| materials.iter().zip(state).map(|(one, factor)| scaled(&one.octaves[band], factor[band])).collect();
            Emulator::new(&states.iter().map(point).collect::<Vec<_>>(), &rates, KEPT)
        };
        let emulators = (0..heard.pairs.len())
            .map(|pair| {
                let of_bands: Vec<Option<Emulator>> = Band::ALL.into_par_iter().map(|band| emulator(pair, band)).collect();
                Bands::from_fn(|band: Band| of_bands[band.index()].clone())
            })
            .collect();
        Ok(Self { materials, emulators, left_out, states: ends.len() + lots.len() })
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
fn chosen(all: &[Material], at_ends: &[Bands<Decays>]) -> (Vec<usize>, Bands<f64>) {
    let moves = |index: usize, band: Band| {
        let of_pair = |decays: &Bands<Decays>| {
            let end = |end: usize| decays[band][2 * index + end].into_iter().flatten().next();
            Some((end(1)? - end(0)?).abs())
        };
        at_ends.iter().filter_map(of_pair).fold(0.0, f64::max)
    };
    let most = |index: usize| Band::ALL.into_iter().map(|band| moves(index, band)).fold(0.0, f64::max);
    let mut order: Vec<usize> = (0..all.len()).filter(|&index| most(index) >= COUNTS).collect();
    order.sort_by(|&a, &b| most(b).total_cmp(&most(a)));
    order.truncate(MOST);
    order.sort_unstable();
    let others = (0..all.len()).filter(|index| !order.contains(index));
    let left_out = Bands::from_fn(|band| others.clone().map(|index| moves(index, band).powi(2) / 12.0).sum::<f64>().sqrt());
    (order, left_out)
}
