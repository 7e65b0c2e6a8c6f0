//! What of a surface the bounce of a ray stands for: not a point but its footing, a spread of [`SPREAD`] each way.
//!
//! A path is not heard through a point but through a footprint, so a ray meets the mean of the finishes that lie round its bounce. What lies
//! where is known patch by patch, `c_j`; the mean at `x` is `u(x) = sum over i, j of w_i(x) M_ij c_j`:
//! - `w_i(x)` is the integral over patch `i` of a hat as wide as a patch each way round `x`, thrown back at the borders of the surface's
//!   bounds. Its mean is `x` itself and its variance, `side^2 / 6` each way, is the same wherever in a patch the bounce lies.
//! - `M_ij = d_i g_ij d_j A_j` adds what lacks of the spread by a bell `g = (1 - (x / r)^2)^3 (1 - (y / r)^2)^3` over the patches. `d`
//!   balances it: every row adds up to 1, so that finishes share out the whole, and `A_i M_ij = A_j M_ji`, so that what a wall absorbs in
//!   all is kept up to its edges, whatever its outline; for the same reason the map of what patches are worth is the same `M` of what
//!   bounces are worth.
//!
//! Middle and spread are exact wherever a bounce lies, so a map is the same on patches half as wide (`tests/engine.rs`).
//!
//! *References.* R. W. Hockney, J. W. Eastwood, Computer Simulation Using Particles, ch. 5 (the hat, there "triangular-shaped cloud"; from
//! memory). R. Sinkhorn, Ann. Math. Statist. 35 (1964) 876 (the balance; symmetric as in P. A. Knight et al., SIAM J. Matrix Anal. Appl.
//! 35 (2014) 931; from memory).
//!
//! *Limits.* The spread is the same for all bands, distances and angles. In a patch that the outline cuts, the hat is cut in the same
//! proportion. Where a whole decay is weighed, a bounce meets the spread of its patch, without the hat (`weigh::patchwork`).

use glam::{DVec2, Vec2};

use super::patches::{PatchGrid, SurfaceGrid};

/// Standard deviation of the footing each way, meters: that of a disc of 0.2 m, about the first Fresnel zone at 4 kHz over the ways of a
/// small room, and the listening zone of 0.3 m thrown back onto a wall half way.
pub const SPREAD: f64 = 0.1;

/// Halvings that find `r`.
const HALVINGS: u32 = 50;

/// Rows add up to 1 within this.
const BALANCED: f64 = 1e-7;

/// Rounds of balancing; each closes most of what lacks.
const ROUNDS: usize = 60;

/// The footings of all surfaces.
#[derive(Clone, Debug, PartialEq)]
pub struct Footings {
    surfaces: Vec<SurfaceFootings>,
    /// `g` along one axis, from its middle on.
    bell: Vec<f64>,
    side: f64,
    per_meter: f64,
}

#[derive(Clone, Debug, PartialEq)]
struct SurfaceFootings {
    low: DVec2,
    /// Size of the surface's bounds, in patches.
    size: Vec2,
    columns: usize,
    rows: usize,
    /// `d`; 0 in patches beyond the outline.
    balance: Vec<f64>,
    /// Share of each patch, as far as it lies in the surface's bounds, that lies in its outline; empty where the surface fills its bounds.
    share: Vec<f32>,
}

/// The patches that the hat round one bounce touches, with `w` of each: three rows of three, fewer on a narrow surface.
#[derive(Clone, Copy, Debug)]
pub struct Footing {
    first: usize,
    columns: usize,
    /// Patches of a row, and rows, that the surface has: up to three.
    count: [usize; 2],
    /// `[row][column]`
    weights: [[f32; 3]; 3],
}

impl Footings {
    /// On these patches of a room's surfaces.
    #[must_use]
    pub fn new(grid: &PatchGrid) -> Self {
        let side = grid.side;
        let lacking = (SPREAD * SPREAD - side * side / 6.0).max(0.0).sqrt() / side;
        let bell = bell(lacking);
        let surfaces = grid.surfaces.iter().map(|own| SurfaceFootings::new(own, side, &bell)).collect();
        Self { surfaces, bell, side, per_meter: 1.0 / side }
    }

    /// The patches round a position on a surface, `w` of each.
    #[must_use]
    #[inline]
    pub fn footing(&self, surface: usize, position: DVec2) -> Footing {
        let own = &self.surfaces[surface];
        let place = ((position - own.low) * self.per_meter).as_vec2();
        let (column, across) = hat(place.x, own.columns, own.size.x);
        let (row, along) = hat(place.y, own.rows, own.size.y);
        let mut footing = Footing {
            first: row * own.columns + column,
            columns: own.columns,
            count: [own.columns.min(3), own.rows.min(3)],
            weights: along.map(|along| across.map(|across| along * across)),
        };
        if !own.share.is_empty() {
            footing.cut(&own.share);
        }
        footing
    }

    /// `M` of a density by patch of one surface.
    pub fn spread(&self, surface: usize, grid: &SurfaceGrid, density: &mut [f64]) {
        let own = &self.surfaces[surface];
        for ((density, &area), &balance) in density.iter_mut().zip(&grid.area).zip(&own.balance) {
            *density *= area * balance;
        }
        own.convolve(&self.bell, density);
        for (density, &balance) in density.iter_mut().zip(&own.balance) {
            *density *= balance;
        }
    }

    /// How many patches beyond its own the footing of a bounce can reach.
    #[must_use]
    pub fn reach(&self) -> usize {
        self.bell.len()
    }

    /// Lowest and highest corner of all places whose footing a change within these bounds can touch.
    #[must_use]
    pub fn touched(&self, surface: usize, low: DVec2, high: DVec2) -> (DVec2, DVec2) {
        let (origin, reach) = (self.surfaces[surface].low, self.reach() as f64);
        let first = ((low - origin) / self.side + 1e-9).floor() - reach;
        let end = ((high - origin) / self.side - 1e-9).ceil() + reach;
        (origin + self.side * first, origin + self.side * end)
    }
}

impl SurfaceFootings {
    fn new(grid: &SurfaceGrid, side: f64, bell: &[f64]) -> Self {
        let (columns, rows) = (grid.columns, grid.rows);
        let size = (grid.high - grid.low) / side;
        let width = |index: usize, count: usize, size: f64| if index + 1 == count { size - index as f64 } else { 1.0 };
        let share: Vec<f32> = (0..grid.len())
            .map(|slot| {
                let whole = width(slot % columns, columns, size.x) * width(slot / columns, rows, size.y) * side * side;
                if whole > 1e-12 { (grid.area[slot] / whole) as f32 } else { 0.0 }
            })
            .collect();
        let fills = share.iter().all(|&share| share > 1.0 - 1e-6);
        let mut own =
            Self { low: grid.low, size: size.as_vec2(), columns, rows, balance: Vec::new(), share: if fills { Vec::new() } else { share } };
        own.balance = own.balanced(&grid.area, bell);
        own
    }

    /// `d` of `d_i sum over j of g_ij A_j d_j = 1`.
    fn balanced(&self, area: &[f64], bell: &[f64]) -> Vec<f64> {
        let mut balance: Vec<f64> = area.iter().map(|&area| if area > 0.0 { 1.0 } else { 0.0 }).collect();
        let mut sums = vec![0.0; area.len()];
        for _ in 0..ROUNDS {
            for ((sum, &area), &balance) in sums.iter_mut().zip(area).zip(&balance) {
                *sum = area * balance;
            }
            self.convolve(bell, &mut sums);
            let mut off = 0.0_f64;
            for (balance, &sum) in balance.iter_mut().zip(&sums).filter(|(balance, _)| **balance > 0.0) {
                off = off.max((*balance * sum - 1.0).abs());
                // The root of the step: the plain step would swing between two states.
                *balance = (*balance / sum).sqrt();
            }
            if off < BALANCED {
                break;
            }
        }
        balance
    }

    /// `g` along both axes; nothing lies beyond the surface's bounds.
    fn convolve(&self, bell: &[f64], values: &mut [f64]) {
        if bell.len() < 2 {
            return;
        }
        let longest = self.columns.max(self.rows);
        let mut line = vec![0.0; longest];
        for row in values.chunks_exact_mut(self.columns) {
            line[..row.len()].copy_from_slice(row);
            along(bell, &line[..row.len()], row.iter_mut());
        }
        for column in 0..self.columns {
            for (line, &value) in line.iter_mut().zip(values[column..].iter().step_by(self.columns)) {
                *line = value;
            }
            along(bell, &line[..self.rows], values[column..].iter_mut().step_by(self.columns));
        }
    }
}

impl Footing {
    /// How many rows of patches it touches.
    #[must_use]
    #[inline]
    pub fn rows(&self) -> usize {
        self.count[1]
    }

    /// The first patch of the surface in one of these rows, and `w` of it and those beside it; of all rows these add up to 1.
    #[must_use]
    #[inline]
    pub fn row(&self, row: usize) -> (usize, &[f32]) {
        (self.first + row * self.columns, &self.weights[row][..self.count[0]])
    }

    /// The mean of what the patches of the surface hold.
    #[must_use]
    #[inline]
    pub fn mean(&self, held: &[[f32; 4]]) -> [f32; 4] {
        let mut mean = [0.0_f32; 4];
        for (row, weights) in self.weights.iter().enumerate().take(self.count[1]) {
            let begin = self.first + row * self.columns;
            for (held, weight) in held[begin..begin + self.count[0]].iter().zip(weights) {
                for (mean, held) in mean.iter_mut().zip(held) {
                    *mean += weight * held;
                }
            }
        }
        mean
    }

    /// Leaves of each patch what lies in the outline.
    fn cut(&mut self, share: &[f32]) {
        let mut all = 0.0;
        for row in 0..self.count[1] {
            for column in 0..self.count[0] {
                let weight = &mut self.weights[row][column];
                *weight *= share[self.first + row * self.columns + column];
                all += *weight;
            }
        }
        self.weights.as_flattened_mut().iter_mut().for_each(|weight| *weight /= all.max(1e-9));
    }
}

/// `g` along one axis from its middle on, its sum over both halves 1, with this standard deviation in patches.
fn bell(deviation: f64) -> Vec<f64> {
    let reaching = |reach: f64| {
        let half: Vec<f64> = (0..reach.ceil() as u32).map(|step| (1.0 - (f64::from(step) / reach).powi(2)).powi(3)).collect();
        let all = 2.0 * half.iter().sum::<f64>() - half[0];
        half.into_iter().map(|value| value / all).collect::<Vec<f64>>()
    };
    let variance = |half: &[f64]| 2.0 * (0..).zip(half).map(|(step, share)| f64::from(step * step) * share).sum::<f64>();
    let (mut low, mut high) = (1.0, 1.0 + 4.0 * deviation);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if variance(&reaching(middle)) < deviation * deviation { low = middle } else { high = middle }
    }
    reaching(high)
}

/// Convolution of one line with `g`.
fn along<'a>(bell: &[f64], line: &[f64], into: impl Iterator<Item = &'a mut f64>) {
    for (index, value) in into.enumerate() {
        let mut sum = bell[0] * line[index];
        for (step, &share) in bell.iter().enumerate().skip(1) {
            let before = if step <= index { line[index - step] } else { 0.0 };
            sum += share * (before + line.get(index + step).copied().unwrap_or(0.0));
        }
        *value = sum;
    }
}

/// First of up to three patches of a line that the hat round `place` touches, and its integral over each; `count` patches fill `size`, the
/// last perhaps in part, both in patches.
#[inline]
fn hat(place: f32, count: usize, size: f32) -> (usize, [f32; 3]) {
    let place = place.clamp(0.0, size);
    let own = (place as usize).min(count - 1);
    if own > 0 && own + 2 < count {
        let off = place - own as f32 - 0.5;
        let (before, after) = (0.5 - off, 0.5 + off);
        return (own - 1, [0.5 * before * before, 0.75 - off * off, 0.5 * after * after]);
    }
    at_border(place, own, count, size)
}

/// The same where the surface's bounds throw some of the hat back.
#[cold]
fn at_border(place: f32, own: usize, count: usize, size: f32) -> (usize, [f32; 3]) {
    let first = own.saturating_sub(1).min(count.saturating_sub(3));
    // Integral of the hat up to here.
    let up_to = |end: f32| {
        let end = (end - place).clamp(-1.0, 1.0);
        if end < 0.0 { 0.5 * (1.0 + end) * (1.0 + end) } else { 1.0 - 0.5 * (1.0 - end) * (1.0 - end) }
    };
    let between = |from: f32, to: f32| up_to(to) - up_to(from);
    let mut weights = [0.0; 3];
    for (step, weight) in weights.iter_mut().enumerate().take(count.min(3)) {
        let (from, to) = ((first + step) as f32, ((first + step + 1) as f32).min(size));
        // With what is thrown back at either end.
        *weight = between(from, to) + between(-to, -from) + between(2.0 * size - to, 2.0 * size - from);
    }
    // A surface that is narrower than a patch throws it back more than once.
    let all: f32 = weights.iter().sum();
    (first, weights.map(|weight| weight / all))
}
