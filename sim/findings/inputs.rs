//! How far off may a decay time be because of what went in: absorption values and the tape?
//!
//! ```text
//! T_E = (24 ln 10 / c) V / (-S ln(1 - A / S) + 4 m V)        A = sum of area x absorption, S area, V volume, m air
//! ```
//!
//! *Materials.* One after the other is set to either end of its own range ([`crate::absorbers::Finish::absorption_range`]) wherever it lies or hangs, the
//! others kept, and Eyring's formula is evaluated: no derivative, so that hard rooms, where it would fail, are served too. A traced time `T` answers to a
//! change of absorption in proportion to itself, `dT / T = -dA / A` with the absorption that it has itself measured, `A = (24 ln 10 / c) V / T`: so the
//! logarithm of each factor counts `T / T_E` times. Where absorption lies on few surfaces the decay is longer than Eyring's and hangs on the hard ones.
//!
//! *Tape.* All lengths are longer or shorter together, as with one tape: each by the share `tolerance S / (6 V)`, which in a cube is the tolerance over the edge.
//!
//! Materials and tape are independent of one another: the logarithms of their factors are added in squares, upward and downward apart. For one material alone in a
//! room that mixes, that is Eyring's time at either end of its range.
//!
//! *One standard uncertainty*, which two of three rooms keep to; the standard error of the tracing is not in it. A wider promise (95 of 100) is not made: how tables
//! disagree is known as a typical difference, not as a distribution.
//!
//! *References.* Propagation: JCGM 100:2008 (GUM), 5.1.2 (from memory). Ranges: common practice, no source, see `absorbers::table`.
//!
//! *Limits.* Set against traces of the shipped scenes, one material at a time at either end, mean of 250 Hz to 4 kHz: the share of hard walls is met within a
//! tenth in an evenly hard attic and within a half either way in a furnished basement and an L, where Eyring's factor by itself is half of it; that of strong
//! absorbers, which late sound avoids there, is several times too wide. The octaves of a material are off together, materials are not. A box is not scaled by a tape
//! but longer by it: for 5 x 4 x 2.5 m that is 8 % more than the small share taken here. Levels, clarity and speech carry no such range.

use crate::absorbers::Finish;
use crate::bands::{Band, Bands};
use crate::hanging::{self, Hanging};
use crate::room::Room;

use super::Span;

/// No tape is so far off: the share of its lengths is held at this.
const SHARE_MAX: f64 = 0.5;

/// What materials and tape may do to the decay times of an octave, as logarithms of factors, all 0 or more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// Eyring's time, seconds.
    eyring_s: f64,
    /// Of Eyring's time by materials: downward, upward.
    materials: Span,
    /// By the tape: downward, upward.
    tape: Span,
}

impl Doubt {
    /// Where a traced decay time may lie; seconds in, seconds out.
    #[must_use]
    pub fn range(&self, time_s: f64) -> Span {
        let weight = time_s / self.eyring_s;
        let spread = |materials: f64, tape: f64| (weight * materials).hypot(tape);
        Span {
            low: time_s * (-spread(self.materials.low, self.tape.low)).exp(),
            high: time_s * spread(self.materials.high, self.tape.high).exp(),
        }
    }
}

/// The doubt of each octave with a tape that is off by `tolerance` meters; `None` where Eyring's formula gives no decay.
#[must_use]
pub fn decay_doubt(room: &Room, hanging: &Hanging, tolerance: f64) -> Bands<Option<Doubt>> {
    let areas = hanging::areas(room, hanging);
    let materials = materials(&areas);
    let area: f64 = areas.iter().map(|&(_, area)| area).sum();
    let absorbed = areas.iter().fold(Bands::splat(0.0), |sum, &(finish, area)| sum + finish.absorption * area);
    let share = (tolerance * area / (6.0 * room.volume)).clamp(0.0, SHARE_MAX);
    Bands::from_fn(|band| {
        // Eyring's time with this much more absorption in m2, all lengths longer by this factor.
        let time = |more: f64, scale: f64| {
            let mean = ((absorbed[band] + more) / area).clamp(0.0, 1.0);
            let size = (room.volume * scale.powi(3), area * scale.powi(2));
            hanging::eyring_time(room.medium.speed, size, mean, room.medium.attenuation[band])
        };
        let eyring_s = time(0.0, 1.0);
        let log = |moved: f64| (moved / eyring_s).ln().abs();
        let sum = |end: fn(&Material<'_>) -> Bands<f64>| {
            materials.iter().map(|material| log(time(end(material)[band], 1.0)).powi(2)).sum::<f64>().sqrt()
        };
        (eyring_s > 0.0 && eyring_s.is_finite()).then(|| Doubt {
            eyring_s,
            materials: Span { low: sum(|material| material.more), high: sum(|material| material.less) },
            tape: Span { low: log(time(0.0, 1.0 - share)), high: log(time(0.0, 1.0 + share)) },
        })
    })
}

/// A material and what its absorption may be off by in the whole room, m2 by band.
struct Material<'a> {
    name: &'a str,
    less: Bands<f64>,
    more: Bands<f64>,
}

/// One entry a name: a panel type hung with two gaps, or a desk of the floor's material, is off together.
fn materials<'a>(areas: &[(&'a Finish, f64)]) -> Vec<Material<'a>> {
    let mut materials: Vec<Material<'_>> = Vec::new();
    for &(finish, area) in areas {
        let end =
            |end: fn((f64, f64)) -> f64| Bands::from_fn(|band: Band| (end(finish.absorption_range(band)) - finish.absorption[band]) * area);
        let (less, more) = (end(|range| range.0), end(|range| range.1));
        match materials.iter_mut().find(|material| material.name == finish.name) {
            Some(known) => (known.less, known.more) = (known.less + less, known.more + more),
            None => materials.push(Material { name: &finish.name, less, more }),
        }
    }
    materials
}
