//! Where the modes of a room lie, and where they are too many to matter one by one.
//!
//! - Rigid box with sides `lx, ly, lz`: `f = (c / 2) sqrt((nx / lx)^2 + (ny / ly)^2 + (nz / lz)^2)`; axial with one index, tangential with two, oblique with three above 0.
//! - Any room, smoothed: `N(f) = 4 pi V f^3 / (3 c^3) + pi S f^2 / (4 c^2) + L f / (8 c)` modes lie below `f`; `L` is the length of all edges (exact only for a box).
//! - Schroeder's frequency `2000 sqrt(T / V)`: above it a resonance peak covers three modes on average, and energies may be added.
//!
//! *References.* H. Kuttruff, Room Acoustics, chapter 3 (from memory). M. R. Schroeder and K. H. Kuttruff, J. Acoust. Soc. Am. 34 (1962) 76 (from memory).
//!
//! *Limits.* Rigid walls: real ones shift and damp the modes. Rooms that are not boxes have other modes, which these formulas do not know.

use std::f64::consts::PI;

use glam::DVec3;

/// No more modes than this are listed by [`shoebox`]; a request for more ends at a lower frequency.
pub const GREATEST_MODE_COUNT: usize = 100_000;

/// One mode of a rigid box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Number of half waves along each side.
    pub indices: [u32; 3],
    /// Its frequency in Hz.
    pub frequency: f64,
}

impl Mode {
    /// Along how many sides the sound of this mode runs: 1 axial, 2 tangential, 3 oblique.
    #[must_use]
    pub fn dimensions(&self) -> usize {
        self.indices.iter().filter(|&&index| index > 0).count()
    }
}

/// The modes of a rigid box with sides `size` meters where sound travels at `speed` m/s, up to `highest_hz`, lowest first; modes of one frequency in the order of
/// their indices. Empty where a side or the speed is not above zero.
#[must_use]
pub fn shoebox(size: DVec3, speed: f64, highest_hz: f64) -> Vec<Mode> {
    if !(size.min_element() > 0.0 && size.is_finite() && speed > 0.0 && speed.is_finite() && highest_hz > 0.0) {
        return Vec::new();
    }
    // Modes are points of a lattice in frequency; the box of points that holds them bounds the work.
    let step = DVec3::splat(0.5 * speed) / size;
    let mut highest = highest_hz;
    while (DVec3::splat(highest) / step + 1.0).element_product() > GREATEST_MODE_COUNT as f64 {
        highest *= 0.9;
    }
    let count = |step: f64| (highest / step) as u32;
    let mut modes = Vec::new();
    for x in 0..=count(step.x) {
        for y in 0..=count(step.y) {
            for z in 0..=count(step.z) {
                let frequency = (step * DVec3::new(f64::from(x), f64::from(y), f64::from(z))).length();
                if (x, y, z) != (0, 0, 0) && frequency <= highest {
                    modes.push(Mode { indices: [x, y, z], frequency });
                }
            }
        }
    }
    modes.sort_by(|a, b| a.frequency.total_cmp(&b.frequency).then(a.indices.cmp(&b.indices)));
    modes
}

/// The first `count` axial modes in Hz between two parallel rigid walls `distance` meters apart.
pub fn axial(distance: f64, speed: f64, count: u32) -> impl Iterator<Item = f64> {
    (1..=count).map(move |order| 0.5 * speed * f64::from(order) / distance)
}

/// Schroeder's frequency in Hz of a room of `volume` m3 whose reverberation time is `reverberation_s` seconds.
#[must_use]
pub fn schroeder(reverberation_s: f64, volume: f64) -> f64 {
    2000.0 * (reverberation_s / volume).sqrt()
}

/// How many modes lie below `frequency` Hz in a room of this volume (m3), surface (m2) and length of edges (m), smoothed.
#[must_use]
pub fn mode_count(frequency: f64, volume: f64, surface: f64, edges: f64, speed: f64) -> f64 {
    let wave = frequency / speed;
    4.0 * PI / 3.0 * volume * wave.powi(3) + PI / 4.0 * surface * wave.powi(2) + edges / 8.0 * wave
}
