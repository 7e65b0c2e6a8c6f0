//! What fiber changes to first order, in a rigid duct: against transfer matrices of a layer, along the cells and across them, before a cavity, and beside what hangs.

use std::f64::consts::{PI, TAU};

use glam::{DQuat, DVec2, DVec3};
use num_complex::Complex64;
use roomwright::progress::Progress;
use roomwright::wave::adjoint::Sheet;
use roomwright::wave::fiber::HEATS;
use roomwright::wave::{Admittance, Cells, Exchange, Fiber, Seen, Sounding, Tones};

use super::room::scene;

/// Air of the scenes of tests, and porosity of fiber.
const POROSITY: f64 = 0.98;
/// Both sides of the duct, meters: the first wave across it that the middle sends begins at 858 Hz.
const SIDE: f64 = 0.4;

/// So many meters of air, or of fiber of so many Pa s/m2, along a duct.
#[derive(Clone, Copy, Debug)]
struct Layer {
    length: f64,
    flow_resistivity: Option<f64>,
}

fn air(length: f64) -> Layer {
    Layer { length, flow_resistivity: None }
}

fn fiber(length: f64, flow_resistivity: f64) -> Layer {
    Layer { length, flow_resistivity: Some(flow_resistivity) }
}

/// The air of a duct: speed and density.
#[derive(Clone, Copy, Debug)]
struct Air {
    speed: f64,
    density: f64,
}

impl Air {
    /// `[A, B; C, D]` of a layer, pressure and velocity before it from those behind it.
    fn matrix(self, s: Complex64, layer: Layer) -> [Complex64; 4] {
        let (inertia, compressibility) =
            layer.flow_resistivity.map_or((Complex64::ONE, 1.0), |flow| (1.0 / POROSITY + flow / (self.density * s), POROSITY * HEATS));
        let turn = s / self.speed * (inertia * compressibility).sqrt() * layer.length;
        let impedance = self.density * self.speed * (inertia / compressibility).sqrt();
        [turn.cosh(), impedance * turn.sinh(), turn.sinh() / impedance, turn.cosh()]
    }

    /// Admittance of layers before a closed end, the last of them at that end.
    fn looking(self, s: Complex64, layers: &[Layer]) -> Complex64 {
        layers.iter().rev().fold(Complex64::ZERO, |behind, layer| {
            let [a, b, c, d] = self.matrix(s, *layer);
            (c + d * behind) / (a + b * behind)
        })
    }

    /// Pressure re free field at 1 m: of a source with `before` behind it (the last at the end of the duct), heard through `between`, with `behind` the ear.
    fn heard(self, s: Complex64, before: &[Layer], between: &[Layer], behind: &[Layer]) -> Complex64 {
        let after = [between, behind].concat();
        let sent = 4.0 * PI / (SIDE * SIDE * self.density * s);
        let at_source = sent / (self.looking(s, before) + self.looking(s, &after));
        between.iter().enumerate().fold(at_source, |pressure, (index, layer)| {
            let [a, b, ..] = self.matrix(s, *layer);
            pressure / (a + b * self.looking(s, &after[index + 1..]))
        })
    }
}

/// A closed duct, turned about in plan.
struct Duct {
    seen: Seen,
    way: DVec3,
    start: DVec3,
}

impl Duct {
    fn new(length: f64, turn: f64) -> Self {
        let (along, across) = (DVec2::from_angle(turn), DVec2::from_angle(turn).perp());
        let corner = |(x, y): (f64, f64)| {
            let at = DVec2::splat(1.0) + along * x + across * (y - 0.5) * SIDE;
            (at.x, at.y)
        };
        let outline = [(0.0, 0.0), (length, 0.0), (length, 1.0), (0.0, 1.0)].map(corner);
        let seen = Seen::new(&scene(&outline, &[(SIDE, (0.0, 0.0))]));
        Self { seen, way: along.extend(0.0), start: DVec3::new(1.0, 1.0, 0.5 * SIDE) }
    }

    fn air(&self) -> Air {
        Air { speed: self.seen.room.medium.speed, density: self.seen.room.medium.density }
    }

    fn at(&self, along: f64) -> DVec3 {
        self.start + self.way * along
    }

    /// Fiber all across it.
    fn piece(&self, from: f64, layer: Layer) -> Fiber {
        let side = DQuat::from_rotation_z(PI / 2.0) * self.way;
        let faces =
            [self.way, side, DVec3::Z].into_iter().zip([[from, from + layer.length], [-0.5 * SIDE, 0.5 * SIDE], [-0.5 * SIDE, 0.5 * SIDE]]);
        let faces = faces.flat_map(|(unit, [low, high])| {
            let middle = unit.dot(self.start);
            [(-unit, -middle - low), (unit, middle + high)]
        });
        Fiber::new(faces.collect(), layer.flow_resistivity.expect("it is fiber"))
    }

    /// What fiber from `at` on changes of the way from place to place, to first order, for cavities of these depths behind its middle.
    fn changes(
        &self,
        spacing: f64,
        [from, to]: [f64; 2],
        (at, layer): (f64, Layer),
        behind: &[f64],
        tones: &[Complex64],
    ) -> Vec<Vec<Complex64>> {
        let (piece, medium) = (self.piece(at, layer), &self.seen.room.medium);
        let walls = vec![Admittance::RIGID; self.seen.room.finishes.len()];
        let sounding = Sounding::new(&self.seen, &walls, spacing, TOP);
        let cut = Cells::new(&self.seen.room, sounding.grid);
        let exchange = |behind: f64| {
            let sheet = Sheet { normal: self.way, thickness: layer.length, behind };
            Exchange::new(&cut, &sounding.stencil, medium, &piece, sheet)
        };
        let cells: Vec<usize> = exchange(0.0).cells().into_iter().collect();
        let field = |place: f64| {
            let heard = sounding.hear_in(&Progress::new(), self.at(place), &[self.at(0.1)], &cells);
            Tones::new(&heard.unwrap_or_else(|why| panic!("{why}")), (&cells, 0), tones)
        };
        let [source, seat] = [field(from), field(to)];
        let of = |exchange: Exchange| tones.iter().enumerate().map(|(tone, s)| exchange.change((&source, &seat), (tone, *s))).collect();
        behind.iter().map(|behind| of(exchange(*behind))).collect()
    }
}

/// Highest frequency of the pulses.
const TOP: f64 = 200.0;

/// How far a prediction is off, root mean squares over tones; what is low counts no more than what is high, though fiber resists it the more.
fn wrong(predicted: &[Complex64], exact: &[Complex64], tones: &[Complex64]) -> f64 {
    let sum = |of: &dyn Fn(usize) -> Complex64| tones.iter().enumerate().map(|(tone, s)| (of(tone) * s).norm_sqr()).sum::<f64>();
    (sum(&|tone| predicted[tone] - exact[tone]) / sum(&|tone| exact[tone])).sqrt()
}

/// Length of the duct, and where source and ear are.
const LENGTH: f64 = 3.0;
const ENDS: [f64; 2] = [0.6, 2.5];
/// Fiber of the tests: flow resistivity.
const FLOW: f64 = 12_000.0;

/// Tones that die out within a record of a duct that does not, up to 150 Hz.
fn tones() -> Vec<Complex64> {
    (0..14).map(|tone| Complex64::new(20.0, TAU * (20.0 + 10.0 * f64::from(tone)))).collect()
}

/// What 0.1 m of fiber from `at` on change, by the slope of the exact answer where their thickness is next to nothing; with as much of them hung right before them, or not.
fn slope(air_in: Air, at: f64, is_hung: bool) -> Vec<Complex64> {
    const HAIR: f64 = 1e-5;
    let [from, to] = ENDS;
    let start = if is_hung { vec![air(at - 0.1 - from), fiber(0.1, FLOW)] } else { vec![air(at - from)] };
    let heard = |s: Complex64, rest: &[Layer]| air_in.heard(s, &[air(from)], &[&start, rest].concat(), &[air(LENGTH - to)]);
    let one = |s: Complex64| {
        let without = heard(s, &[air(to - at)]);
        // The mean over where it may be.
        let parts = (0..8).map(|part| 0.1 * (f64::from(part) + 0.5) / 8.0);
        let with = parts.map(|part| heard(s, &[air(part), fiber(HAIR, FLOW), air(to - at - part - HAIR)]));
        with.map(|with| (with - without) * 0.1 / HAIR).sum::<Complex64>() / 8.0
    };
    tones().into_iter().map(one).collect()
}

/// How far first order is off in a duct that is turned about, in cells of so many meters, with fiber hung or not.
fn off(turn: f64, at: f64, spacing: f64, is_hung: bool) -> f64 {
    let mut duct = Duct::new(LENGTH, turn);
    if is_hung {
        duct.seen.fibers.push(duct.piece(at - 0.1, fiber(0.1, FLOW)));
    }
    let changes = duct.changes(spacing, ENDS, (at, fiber(0.1, FLOW)), &[0.0], &tones());
    wrong(&changes[0], &slope(duct.air(), at, is_hung), &tones())
}

/// Changes of the complex frequencies of the first three modes of a duct of 8 m by a thin sheet before a cavity of `behind` meters at its end: as predicted with the cavity, without, and exactly, 1/s.
fn moved(behind: f64, spacing: f64) -> [[Complex64; 3]; 3] {
    // As much resistance as 0.1 m of the fiber of corner panels, so thin that the air in it hardly counts.
    let (length, layer) = (8.0, fiber(0.02, 5.0 * FLOW));
    let duct = Duct::new(length, 0.0);
    let (air_in, at) = (duct.air(), length - behind - layer.length);
    let rigid = [1.0, 2.0, 3.0].map(|number| Complex64::new(0.0, PI * number * air_in.speed / length));
    // Near its pole a mode is heard as `a / (s - pole)`: moved by a little it changes by `a moved / (s - pole)^2`. Twice as far off twice as much of the others is heard.
    let near: Vec<Complex64> = rigid.iter().flat_map(|pole| [4.0, 8.0].map(|off| pole + off)).collect();
    let [from, to] = [1.0, 0.4];
    let heard = |s: Complex64| air_in.heard(s, &[air(to)], &[air(from - to)], &[air(length - from)]);
    let changes = duct.changes(spacing, [from, to], (at, layer), &[behind + 0.5 * layer.length, 0.0], &near);
    let both_ways = |s: Complex64| air_in.looking(s, &[air(at)]) + air_in.looking(s, &[layer, air(behind)]);
    [0, 1, 2].map(|mode| {
        let predicted = |changes: &[Complex64]| {
            let [one, two] = [2 * mode, 2 * mode + 1].map(|tone| changes[tone] / heard(near[tone]) * (near[tone] - rigid[mode]));
            2.0 * one - two
        };
        // By the secant.
        let mut two = [rigid[mode], rigid[mode] - 0.1];
        for _ in 0..40 {
            let [one, other] = two.map(both_ways);
            if one != other {
                two = [two[0] - one * (two[0] - two[1]) / (one - other), two[0]];
            }
        }
        [predicted(&changes[0]), predicted(&changes[1]), two[0] - rigid[mode]]
    })
}

/// The root mean square over tones evenly up to the highest of what two central differences leave: `(k h)^2 / 3` of the highest, its root mean square `1 / sqrt(5)` of that.
fn left(wave_number: f64, spacing: f64) -> f64 {
    (wave_number * spacing).powi(2) / 3.0 / 5.0_f64.sqrt()
}

/// Wave number of the highest tone.
fn highest(duct: &Duct) -> f64 {
    tones().last().expect("there are tones").im / duct.air().speed
}

/// What is off, and what two central differences may leave: in a duct along the cells and one that is turned by 45 degrees, in cells of 50 mm; and right behind as much that hangs already.
pub(crate) fn first_orders() -> [[f64; 2]; 3] {
    let duct = Duct::new(LENGTH, 0.0);
    let (k, in_fiber) = (highest(&duct), highest_in_fiber(&duct));
    let free = [0.0, PI / 4.0].map(|turn| [off(turn, 1.55, 0.05, false), left(k, 0.05)]);
    [free[0], free[1], [off(0.0, 1.5, 0.05, true), left(in_fiber, 0.05)]]
}

/// Wave number of the highest tone in fiber.
fn highest_in_fiber(duct: &Duct) -> f64 {
    let last = *tones().last().expect("there are tones");
    highest(duct) * ((1.0 / POROSITY + FLOW / (duct.air().density * last)) * POROSITY * HEATS).sqrt().norm()
}

/// Fiber of 12 kPa s/m2 across a rigid duct, the slope of the exact answer by transfer matrices (M. L. Munjal, *Acoustics of Ducts and Mufflers*, chapter 2; a layer that resists flow: J. F. Allard,
/// N. Atalla, *Propagation of Sound in Porous Media*; both from memory): along the cells, in cells that end in the middle of the fiber, in walls that cut them, in ducts that are turned about.
/// What is off falls by the square of the cells.
#[test]
fn exact_first_order_of_a_layer_in_a_duct() {
    let k = highest(&Duct::new(LENGTH, 0.0));
    let [coarse, fine] = [0.1, 0.05].map(|spacing| off(0.0, 1.55, spacing, false));
    assert!(coarse < left(k, 0.1) && fine < left(k, 0.05) && fine < coarse / 3.0, "{coarse}, {fine} in cells half as large");
    for (turn, spacing) in [(0.0, 0.11), (0.3, 0.1), (PI / 4.0, 0.1)] {
        let off = off(turn, 1.55, spacing, false);
        assert!(off < left(k, spacing), "{off} where the duct is turned by {turn}, in cells of {spacing} m");
    }
}

/// The same right behind as much that hangs already, which takes nearly all flow at low frequencies: waves in fiber are shorter, and errors fall by the square of cells re these.
#[test]
fn exact_first_order_beside_what_hangs() {
    let in_fiber = highest_in_fiber(&Duct::new(LENGTH, 0.0));
    let [coarse, fine] = [0.1, 0.05].map(|spacing| off(0.0, 1.5, spacing, true));
    assert!(coarse < left(in_fiber, 0.1) && fine < left(in_fiber, 0.05) && fine < coarse / 3.0, "{coarse}, {fine} in cells half as large");
}

/// Decay and frequency of modes that a sheet before a closed cavity changes, beside the complex roots of `Y before + Y behind = 0` (Munjal as above). A mode moves by up to the cavity's part of the duct, which is
/// of second order in both fields, and a cavity is taken for a spring: `coth(k b)` is `1 / (k b)` but for `k b / 3`. Without the cavity the decay is told up to three times too fast.
#[test]
fn exact_decays_before_a_cavity() {
    for behind in [0.24, 0.44] {
        for ([with, without, exact], number) in moved(behind, 0.1).into_iter().zip(1..) {
            let bound = 2.0 * behind / 8.0 + (PI * f64::from(number) / 8.0 * behind).powi(2) / 3.0;
            let [with, without] = [with, without].map(|predicted| (predicted - exact).norm() / exact.norm());
            assert!(with < bound && without > 3.0 * with, "mode {number}, {behind} m: {with} and {without} without the cavity");
        }
    }
}
