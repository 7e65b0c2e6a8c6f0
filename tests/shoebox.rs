//! A box with walls that give way, exactly: what a receiver hears of a point source, its damped modes, its image sources.
//!
//! In a box where `dp/dn = -j k b p` on all walls (`n` out of the air, `b` the admittance re that of air, time as `exp(+j w t)`), `lap p + k^2 p = -4 pi delta(x - x0)` has products
//! of axis solutions. An axis of length `L`, measured from its middle, has `cos(q x)` with `q tan(q L / 2) = j k b` and `sin(q x)` with `q cot(q L / 2) = -j k b`; their roots follow from the rigid
//! ones `q = n pi / L` by Newton's method while `b` grows from 0. They are orthogonal without conjugation, with `integral of their square = L / 2 +- sin(q L) / (2 q)`. Two axes in these leave for the third
//! `g'' + a^2 g = -delta`, `a^2 = k^2 - q_y^2 - q_z^2`, in closed form, with `R = (a - k b) / (a + k b)` and `Im a <= 0`:
//!
//! ```text
//! g = exp(-j a |x - x0|) (1 + R exp(-2 j a x_low)) (1 + R exp(-2 j a (L - x_high))) / (2 j a (1 - R^2 exp(-2 j a L)))
//! ```
//!
//! The sum over pairs falls like `exp(-|a| |x - x0|)`, so the axis along which the two points lie farthest apart is taken for it.
//!
//! **In cells.** On a grid along the box the same products solve the differences, with `q^2` become `(2 / h)^2 sin^2(q h / 2)`, `k^2` become `(2 / c dt)^2 sin^2(k c dt / 2)`, and the `2 a` below the line `2 sin(a h) / h`.
//! What then still differs from what is heard is due to source, ear, walls and record; what differs between the two solutions is the dispersion of the cells.
//!
//! *References.* P. M. Morse, K. U. Ingard, *Theoretical Acoustics*, chapter 9; H. Kuttruff, *Room Acoustics*, chapter 3 (both from memory).

use std::f64::consts::{PI, TAU};

use glam::DVec3;
use num_complex::Complex64;

pub(crate) const SPEED: f64 = 343.0;
const J: Complex64 = Complex64::I;

/// A box and its walls.
#[derive(Clone, Copy)]
pub(crate) struct Shoebox {
    pub(crate) size: DVec3,
    pub(crate) admittance: f64,
}

/// What waves run through.
#[derive(Clone, Copy)]
enum Medium {
    Air,
    /// Cells of so many meters.
    Cells(f64),
}

impl Medium {
    /// What a second difference makes of a wave of wave number `q` along an axis, re the wave, turned about.
    fn square(self, q: Complex64) -> Complex64 {
        match self {
            Self::Air => q * q,
            Self::Cells(h) => (2.0 / h * (0.5 * h * q).sin()).powi(2),
        }
    }

    /// The same for steps in time, `k` the frequency over the speed.
    fn time(self, k: Complex64) -> Complex64 {
        match self {
            Self::Air => k * k,
            Self::Cells(h) => (4.0 / h * (0.25 * h * k).sin()).powi(2),
        }
    }

    /// The wave number that makes it so, falling away from its source, and the slope of half of it.
    fn root(self, square: Complex64) -> (Complex64, Complex64) {
        let falling = |a: Complex64| if a.im > 0.0 { -a } else { a };
        match self {
            Self::Air => (falling(square.sqrt()), falling(square.sqrt())),
            Self::Cells(h) => {
                let a = falling(2.0 / h * (0.5 * h * square.sqrt()).asin());
                (a, (a * h).sin() / h)
            }
        }
    }
}

/// A solution along an axis.
#[derive(Clone, Copy)]
struct Along {
    number: Complex64,
    is_even: bool,
    square: Complex64,
}

impl Along {
    /// Solution `n` of an axis.
    fn new(length: f64, n: usize, k: Complex64, admittance: f64) -> Self {
        const PARTS: i32 = 8;
        let is_even = n.is_multiple_of(2);
        let rigid = n as f64 * PI / length;
        let mut number = Complex64::from(rigid);
        for part in 1..=PARTS {
            let kb = J * k * admittance * f64::from(part) / f64::from(PARTS);
            if n == 0 && part == 1 {
                number = (2.0 * kb / length).sqrt();
            }
            for _ in 0..20 {
                let half = 0.5 * length * number;
                let (sine, cosine) = (half.sin(), half.cos());
                let (value, slope) = if is_even {
                    (number * sine - kb * cosine, sine + 0.5 * length * (number * cosine + kb * sine))
                } else {
                    (number * cosine + kb * sine, cosine + 0.5 * length * (kb * cosine - number * sine))
                };
                if slope.norm() > 0.0 {
                    number -= value / slope;
                }
            }
        }
        let turned = if number.norm() > 0.0 { (number * length).sin() / (2.0 * number) } else { Complex64::from(0.5 * length) };
        Self { number, is_even, square: 0.5 * length + if is_even { turned } else { -turned } }
    }

    /// Its value at a place from the middle.
    fn at(&self, place: f64) -> Complex64 {
        if self.is_even { (self.number * place).cos() } else { (self.number * place).sin() }
    }
}

impl Shoebox {
    /// Pressure re the free field at 1 m, the third axis in closed form being `axis`.
    fn along(&self, medium: Medium, axis: usize, k: Complex64, from: DVec3, to: DVec3) -> Complex64 {
        let apart = (from - to)[axis].abs();
        assert!(apart > 0.05, "the sum would not end");
        let most = k.re + 30.0 / apart;
        let solutions = |side: usize| {
            let length = self.size[side];
            let whole = (most * length / PI).ceil() as usize + 1;
            let count = if let Medium::Cells(h) = medium { whole.min((length / h) as usize) } else { whole };
            let one = move |n: usize| {
                let along = Along::new(length, n, k, self.admittance);
                let [a, b] = [from, to].map(|point| along.at(point[side] - 0.5 * length));
                (medium.square(along.number), a * b / along.square)
            };
            (0..count).map(one).collect::<Vec<_>>()
        };
        let [first, second] = [(axis + 1) % 3, (axis + 2) % 3].map(solutions);
        let (low, high, length) = (from[axis].min(to[axis]), from[axis].max(to[axis]), self.size[axis]);
        let third = |square: Complex64| {
            let (a, slope) = medium.root(square);
            let kb = k * self.admittance;
            let back = (a - kb) / (a + kb);
            let far = |way: f64| (-J * a * way).exp();
            far(apart) * (1.0 + back * far(2.0 * low)) * (1.0 + back * far(2.0 * (length - high)))
                / (2.0 * J * slope * (1.0 - back * back * far(2.0 * length)))
        };
        let pairs = first.iter().flat_map(|a| second.iter().map(move |b| (a, b)));
        4.0 * PI * pairs.map(|(a, b)| a.1 * b.1 * third(medium.time(k) - a.0 - b.0)).sum::<Complex64>()
    }

    fn at(&self, medium: Medium, k: Complex64, from: DVec3, to: DVec3) -> Complex64 {
        let apart = (from - to).abs();
        let axis = if apart.x >= apart.y.max(apart.z) { 0 } else { 1 + usize::from(apart.z > apart.y) };
        self.along(medium, axis, k, from, to)
    }

    pub(crate) fn transfer(&self, frequency: f64, from: DVec3, to: DVec3) -> Complex64 {
        self.at(Medium::Air, Complex64::from(TAU * frequency / SPEED), from, to)
    }

    /// As cells of this size would have it if they had no other fault than their dispersion.
    pub(crate) fn in_cells(&self, spacing: f64, frequency: f64, from: DVec3, to: DVec3) -> Complex64 {
        self.at(Medium::Cells(spacing), Complex64::from(TAU * frequency / SPEED), from, to)
    }

    /// Complex wave number of a resonance: what is left of `k^2` after all three axes vanishes.
    fn resonance(&self, modes: [usize; 3]) -> Complex64 {
        let rigid = (0..3).map(|axis| (modes[axis] as f64 * PI / self.size[axis]).powi(2)).sum::<f64>().sqrt();
        let next = |k: Complex64| {
            let squares = (0..3).map(|axis| Along::new(self.size[axis], modes[axis], k, self.admittance).number.powi(2));
            squares.sum::<Complex64>().sqrt()
        };
        (0..200).fold(Complex64::from(rigid), |k, _| next(k))
    }

    /// Ways of all image sources of a rigid box up to `longest` meters.
    pub(crate) fn images(&self, from: DVec3, to: DVec3, longest: f64) -> Vec<f64> {
        let along = |axis: usize| {
            let (length, count) = (self.size[axis], (longest / self.size[axis]).ceil() as i32 + 1);
            (-count..=count).flat_map(move |n| [1.0, -1.0].map(|side| 2.0 * f64::from(n) * length + side * from[axis] - to[axis])).collect()
        };
        let [x, y, z]: [Vec<f64>; 3] = [0, 1, 2].map(along);
        let ways = x.iter().flat_map(|x| y.iter().flat_map(|y| z.iter().map(|z| DVec3::new(*x, *y, *z).length())));
        ways.filter(|way| *way <= longest).collect()
    }
}

pub(crate) const ROOM: DVec3 = DVec3::new(5.1, 3.9, 2.6);

#[test]
fn exact_box_is_itself_right() {
    let (from, to) = (DVec3::new(0.7, 0.9, 0.6), DVec3::new(3.9, 2.8, 1.7));
    let soft = Shoebox { size: ROOM, admittance: 0.05 };
    for frequency in [20.0, 63.0, 121.0, 250.0] {
        let k = Complex64::from(TAU * frequency / SPEED);
        let [x, y, z] = [0, 1, 2].map(|axis| soft.along(Medium::Air, axis, k, from, to));
        let back = soft.along(Medium::Air, 0, k, to, from);
        for other in [y, z, back] {
            assert!((x - other).norm() < 1e-9 * x.norm(), "{frequency} Hz: {x} is {other}");
        }
        // Sound that dies out by itself on its way (complex k) makes the sum of the images end; walls next to rigid are rigid.
        let k = k - 0.35 * J;
        let rigid = Shoebox { size: ROOM, admittance: 0.0 };
        let images: Complex64 = rigid.images(from, to, 90.0).iter().map(|way| (-J * k * way).exp() / way).sum();
        for (admittance, bar) in [(0.0, 1e-8), (1e-7, 1e-5)] {
            let modes = Shoebox { size: ROOM, admittance }.at(Medium::Air, k, from, to);
            assert!((modes - images).norm() < bar * images.norm(), "{frequency} Hz: modes {modes}, images {images}");
        }
    }
}

/// Frequencies and damping of two modes of this box with walls of admittance 0.02 at 343 m/s, from complex roots found without this program.
#[test]
fn exact_box_has_the_damped_modes_that_others_found() {
    let soft = Shoebox { size: ROOM, admittance: 0.02 };
    for (modes, frequency, damping) in [([1, 0, 0], 33.6157, 7.090_45), ([1, 1, 1], 86.1147, 11.4895)] {
        let found = soft.resonance(modes) * SPEED;
        assert!((found.re / TAU - frequency).abs() < 1e-4 && (found.im - damping).abs() < 1e-4, "{modes:?}: {found}");
    }
}
