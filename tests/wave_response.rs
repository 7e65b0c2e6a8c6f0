//! What is heard of a source re free field: transfer functions against the exact solution of a box (`shoebox`), image sources arrival by arrival, free field, places between cells.

use std::f64::consts::{PI, TAU};

use glam::{DVec2, DVec3};
use num_complex::Complex64;
use roomwright::progress::Progress;
use roomwright::random::{Purpose, Stream};
use roomwright::room::{self, Bodies};
use roomwright::scene::{Block, Scene};
use roomwright::wave::dispersion::{in_air, in_cells, left};
use roomwright::wave::{
    Admittance, Branch, Cells, Cost, Driving, Field, Grid, Lattice, Layout, Listening, Port, Pulse, Real, Record, Stencil,
};
use roomwright::wave::{cost, lattice, listener, source, spread};

use super::room::scene;
use super::shoebox::{ROOM, SPEED, Shoebox};

/// Small grids are over sooner than threads have found each other.
fn threads(grid: &Grid) -> usize {
    if grid.len() < 200_000 { 1 } else { 2 }
}

/// A box ready to sound.
struct Stage<T> {
    grid: Grid,
    stencil: Stencil,
    field: Field<T>,
}

fn scene_of(size: DVec3) -> Scene {
    scene(&[(0.0, 0.0), (size.x, 0.0), (size.x, size.y), (0.0, size.y)], &[(size.z, (0.0, 0.0))])
}

impl<T: Real> Stage<T> {
    /// A box in cells of `spacing` meters.
    fn new(shoebox: Shoebox, spacing: f64) -> Self {
        Self::of(&scene_of(shoebox.size), &Admittance::real(shoebox.admittance), spacing)
    }

    /// A room with walls of one kind.
    fn of(scene: &Scene, wall: &Admittance, spacing: f64) -> Self {
        let room = room::build(scene, Bodies::All);
        let cells = Cells::new(&room, Grid::over(&room, spacing));
        let stencil = Stencil::new(&cells, SPEED, &vec![wall.clone(); room.finishes.len()]);
        let field = Field::new(Layout::new(&cells.grid, &stencil));
        Self { grid: cells.grid, stencil, field }
    }

    /// What is heard of the pulse up to `top` Hz, every so many steps.
    fn heard(mut self, pulse: &Pulse, every: usize, seconds: f64, from: DVec3, ears: &[DVec3]) -> Vec<Record> {
        let layout = self.field.layout();
        let drive = source(&self.grid, layout, &self.stencil, from, 0).expect("the source is in air");
        let ports = |(index, at): (usize, &DVec3)| listener(&self.grid, layout, &self.stencil, *at, index).expect("the ear is in air");
        let listened: Vec<_> = ears.iter().enumerate().flat_map(ports).collect();
        let driving = Driving { ports: &drive, signals: &[pulse.signal()] };
        let steps = (seconds / self.stencil.step) as usize;
        let listening = Listening { ports: &listened, every };
        let heard = self.field.run(&Progress::new(), threads(&self.grid), driving, listening, steps).expect("nobody cancels");
        heard.iter().map(|heard| Record::new(pulse, every, heard)).collect()
    }

    fn transfers(self, top: f64, seconds: f64, from: DVec3, ears: &[DVec3]) -> Vec<(Record, Pulse)> {
        let pulse = Pulse::new(top, self.stencil.step);
        let every = pulse.every();
        self.heard(&pulse, every, seconds, from, ears).into_iter().map(|record| (record, pulse.clone())).collect()
    }
}

fn level(pressure: Complex64) -> f64 {
    20.0 * pressure.norm().log10()
}

/// A place by chance, 20 mm off the walls at least.
fn somewhere(size: DVec3, index: u64) -> DVec3 {
    let mut chance = Stream::new(1, Purpose::Search, index);
    let share = DVec3::from_array([0, 1, 2].map(|_| chance.unit()));
    0.02 + (size - 0.04) * share
}

/// How far a transfer function is off in level (dB) and in phase (radians) at worst, from 20 to 250 Hz where the exact level is within 30 dB of its maximum.
fn worst(record: &Record, pulse: &Pulse, exact: &dyn Fn(f64) -> Complex64) -> [f64; 2] {
    let frequencies = || (80..=1000).map(|quarter| 0.25 * f64::from(quarter));
    let wanted: Vec<Complex64> = frequencies().map(exact).collect();
    let loudest = wanted.iter().map(|wanted| level(*wanted)).fold(f64::NEG_INFINITY, f64::max);
    let loud = frequencies().zip(&wanted).filter(|(_, wanted)| level(**wanted) > loudest - 30.0);
    loud.fold([0.0, 0.0], |[levels, phases]: [f64; 2], (frequency, wanted)| {
        let ratio = record.transfer(pulse, frequency) / wanted;
        [levels.max(level(ratio).abs()), phases.max(ratio.arg().abs())]
    })
}

/// Level of a third octave, dB, from 40 tones within it.
fn third(center: f64, transfer: &dyn Fn(f64) -> Complex64) -> f64 {
    let tone = |index: i32| center * 2.0_f64.powf((f64::from(index) / 40.0 - 0.4875) / 3.0);
    10.0 * ((0..40).map(|index| transfer(tone(index)).norm_sqr()).sum::<f64>() / 40.0).log10()
}

const SMALL: DVec3 = DVec3::new(2.0, 1.6, 1.3);

/// Places of source and ear, as shares of the sides.
const FROM: DVec3 = DVec3::new(0.131, 0.173, 0.217);
const TO: DVec3 = DVec3::new(0.721, 0.587, 0.459);
const OTHER: DVec3 = DVec3::new(0.931, 0.387, 0.859);

/// Cells of 33 mm in a box of 2 m hold half a decibel line by line. `SLOW=1`: so do cells of 25 mm in a room of 5.1 m with walls of admittance 0.05. The error falls with the square of the cells.
#[test]
fn exact_box_is_heard_line_by_line() {
    let mut cases = vec![(SMALL, 1.0 / 30.0, 0.05, 0.25), (SMALL, 1.0 / 30.0, 0.01, 1.0)];
    if std::env::var_os("SLOW").is_some() {
        cases.extend([(ROOM, 0.025, 0.05, 0.5), (SMALL, 0.02, 0.005, 2.0)]);
    }
    for (size, spacing, admittance, seconds) in cases {
        let shoebox = Shoebox { size, admittance };
        let ears = [TO * size, OTHER * size];
        for ((record, pulse), to) in Stage::<f32>::new(shoebox, spacing).transfers(250.0, seconds, FROM * size, &ears).iter().zip(ears) {
            assert!(record.fallen_db() > 55.0, "it rings on: {} dB", record.fallen_db());
            let [levels, phases] = worst(record, pulse, &|frequency| shoebox.transfer(frequency, FROM * size, to));
            assert!(levels < 0.5 && phases < 0.1, "{size}, {spacing} m, {admittance}: {levels} dB, {phases} rad");
        }
    }
}

/// Mean square of what is wrong with a transfer function from 20 to 250 Hz, re that of the exact one.
fn wrong(record: &Record, pulse: &Pulse, exact: &dyn Fn(f64) -> Complex64) -> f64 {
    let tones = || (80..=1000).map(|quarter| 0.25 * f64::from(quarter));
    let off: f64 = tones().map(|tone| (record.transfer(pulse, tone) - exact(tone)).norm_sqr()).sum();
    off / tones().map(|tone| exact(tone).norm_sqr()).sum::<f64>()
}

/// By which power of the cells' size what is wrong with a box falls, over six sizes, wherever walls cut them: the slope of the logarithms.
pub(crate) fn order() -> f64 {
    let shoebox = Shoebox { size: SMALL, admittance: 0.05 };
    let (from, to) = (FROM * SMALL, TO * SMALL);
    let points: Vec<[f64; 2]> = [0.1, 0.083, 0.071, 0.059, 0.05, 0.041]
        .map(|spacing| {
            let (record, pulse) = &Stage::<f64>::new(shoebox, spacing).transfers(250.0, 0.25, from, &[to])[0];
            let error = wrong(record, pulse, &|frequency| shoebox.transfer(frequency, from, to)).sqrt();
            [f64::ln(spacing), error.ln()]
        })
        .to_vec();
    let mean = |axis: usize| points.iter().map(|point| point[axis]).sum::<f64>() / points.len() as f64;
    let [x, y] = [0, 1].map(mean);
    let product = |of: usize| points.iter().map(|point| (point[0] - x) * (point[of] - [x, y][of])).sum::<f64>();
    product(1) / product(0)
}

/// Second order: cells half as large leave a quarter of the error.
#[test]
fn exact_box_is_met_to_the_second_order() {
    let order = order();
    assert!((1.8..2.2).contains(&order), "order {order}");
}

/// In cells of 50 mm lines do not hold half a decibel, and all of that is what is left of dispersion: what cells should hear they hear within a tenth of a decibel.
#[test]
fn exact_cells_are_heard_line_by_line() {
    let shoebox = Shoebox { size: ROOM, admittance: 0.05 };
    let (from, ears) = (FROM * ROOM, [TO * ROOM, OTHER * ROOM]);
    for ((record, pulse), to) in Stage::<f32>::new(shoebox, 0.05).transfers(250.0, 0.5, from, &ears).iter().zip(ears) {
        let cells = |frequency: f64| in_cells(Complex64::new(0.0, TAU * frequency), pulse.step).im / TAU;
        let [levels, phases] = worst(record, pulse, &|frequency| shoebox.in_cells(0.05, cells(frequency), from, to));
        assert!(levels < 0.1 && phases < 0.02, "what cells should hear is off by {levels} dB, {phases} rad");
    }
}

/// The default cells, 65 mm for 250 Hz, in a room of 5.2 x 3.9 x 2.6 m: third octaves hold half a decibel.
#[test]
fn exact_box_is_heard_by_third_octaves_with_default_cells() {
    let size = DVec3::new(5.2, 3.9, 2.6);
    let shoebox = Shoebox { size, admittance: 0.05 };
    let spacing = 0.065;
    assert!((cost::spacing(250.0, SPEED) / spacing - 1.0).abs() < 0.01);
    let (from, ears) = (FROM * size, [TO * size, OTHER * size]);
    for ((record, pulse), to) in Stage::<f32>::new(shoebox, spacing).transfers(250.0, 0.5, from, &ears).iter().zip(ears) {
        let exact = |frequency| shoebox.transfer(frequency, from, to);
        for step in -17..=-6 {
            let center = 1_000.0 * 10.0_f64.powf(f64::from(step) / 10.0);
            let off = third(center, &|frequency| record.transfer(pulse, frequency)) - third(center, &exact);
            assert!(off.abs() < 0.5, "{center:.0} Hz: {off} dB");
        }
        let [levels, _] = worst(record, pulse, &exact);
        assert!((0.5..2.5).contains(&levels), "lines are off by {levels} dB at worst");
        // Which shift makes the lines of 200 to 250 Hz fit best: none beyond what is left at the top along an axis and along a diagonal (`dispersion`).
        let lines: Vec<(f64, f64)> = (400..=500).map(|half| 0.5 * f64::from(half)).map(|tone| (tone, level(exact(tone)))).collect();
        let misfit = |share: f64| {
            let off = |(tone, wanted): &(f64, f64)| level(record.transfer(pulse, tone * (1.0 - share))) - wanted;
            lines.iter().map(|line| off(line).powi(2)).sum::<f64>()
        };
        let shares = (-40..=40).map(|step| 5e-5 * f64::from(step));
        let best = shares.min_by(|a, b| misfit(*a).total_cmp(&misfit(*b))).expect("there are shares");
        let turn = (TAU * 250.0 / SPEED * spacing).powi(2);
        assert!((-turn / 90.0..turn / 60.0).contains(&best), "modes lie too low by {best}");
    }
}

/// A plane wave in cells: `sin^2(w' dt / 2) = l^2 (sum of sin^2(k_i h / 2))`. What records read at the wanted frequency is slow along an axis by what is told, fast along a space diagonal by two thirds
/// of it, right on the mean over directions, all to the fourth order in the cells.
#[test]
fn exact_dispersion_of_cells_is_halved_and_its_mean_is_none() {
    for turn in [0.05, 0.15, 0.3_f64] {
        // Lengths in cells, times in steps: h = 1, dt = 1, c = 1/2.
        let slow = |direction: DVec3| {
            let sines: f64 = (0.5 * turn * direction).to_array().iter().map(|half| half.sin().powi(2)).sum();
            let has = 2.0 * (0.5 * sines.sqrt()).asin();
            let wanted = 0.5 * turn;
            // Where air's frequency is sought that cells have as `has`.
            1.0 - TAU * in_air(has / TAU, 1.0) / wanted
        };
        let fourth = turn.powi(4) / 300.0;
        assert!((slow(DVec3::X) - left(turn)).abs() < fourth, "{}, {}", slow(DVec3::X), left(turn));
        let diagonal = DVec3::splat(3.0_f64.sqrt().recip());
        assert!((slow(diagonal) + left(turn) / 1.5).abs() < fourth, "{}", slow(diagonal));
        // Directions evenly over an eighth of the sphere.
        let count = 60;
        let all = (0..count).flat_map(|up| (0..count).map(move |round| (up, round)));
        let direction = |(up, round): (i32, i32)| {
            let share = |index: i32| (f64::from(index) + 0.5) / f64::from(count);
            let (z, angle) = (share(up), 0.25 * TAU * share(round));
            DVec3::new((1.0 - z * z).sqrt() * angle.cos(), (1.0 - z * z).sqrt() * angle.sin(), z)
        };
        let mean = all.map(|at| slow(direction(at))).sum::<f64>() / f64::from(count * count);
        assert!(mean.abs() < fourth + 1e-3 * left(turn), "{mean}");
        let there = in_cells(Complex64::new(0.0, TAU * 0.01), 2.0 * turn).im / TAU;
        assert!((in_air(there, 2.0 * turn) / 0.01 - 1.0).abs() < 1e-9, "it goes there and back");
    }
}

/// The pulse's formula.
fn ricker(pulse: &Pulse, time: f64) -> f64 {
    let a = (PI * pulse.top / 1.8 * (time - pulse.middle())).powi(2);
    (1.0 - 2.0 * a) * (-a).exp()
}

/// Every image by itself: up to 20 ms from the source within 1 % of the direct sound's peak; later, as ever more of them are late by their dispersion, within 4 %; and both fall with the square
/// of the cells.
#[test]
fn exact_images_arrive_one_by_one() {
    let rigid = Shoebox { size: ROOM, admittance: 0.0 };
    let (from, to) = (FROM * ROOM, TO * ROOM);
    let direct = 1.0 / (from - to).length();
    let off = |spacing: f64| {
        let stage = Stage::<f32>::new(rigid, spacing);
        let pulse = Pulse::new(250.0, stage.stencil.step);
        let seconds = pulse.middle() + 0.04;
        let record = &stage.heard(&pulse, 1, seconds, from, &[to])[0];
        let ways = rigid.images(from, to, SPEED * (seconds + pulse.middle()));
        assert!(ways.iter().filter(|way| **way < SPEED * 0.02).count() > 15, "too few arrive");
        let mut worst = [0.0_f64; 2];
        for (index, pressure) in record.pressures.iter().enumerate() {
            let time = (index + 1) as f64 * record.interval;
            let wanted: f64 = ways.iter().map(|way| ricker(&pulse, time - way / SPEED) / way).sum();
            let which = usize::from(time > pulse.middle() + 0.02);
            worst[which] = worst[which].max((pressure - wanted).abs() / direct);
        }
        worst
    };
    let (coarse, fine) = (off(0.1), off(0.05));
    assert!(fine[0] < 0.01 && fine[1] < 0.04, "{fine:?} of the direct peak");
    assert!(coarse[0] > 3.0 * fine[0] && coarse[1] > 2.5 * fine[1], "{coarse:?}, then {fine:?}");
}

/// Before the first reflection: level and time of arrival by the best fit of `A (u - late du/dt)` to what is heard.
#[test]
fn exact_free_field_at_one_and_two_meters() {
    let room = Shoebox { size: DVec3::splat(8.0), admittance: 0.0 };
    let from = DVec3::new(4.013, 3.991, 4.027);
    let way = DVec3::new(0.8, 0.5, 0.33).try_normalize().expect("it has a length");
    let ears: Vec<DVec3> = [way, 2.0 * way, DVec3::X, 2.0 * DVec3::X].map(|off| from + off).to_vec();
    let stage = Stage::<f32>::new(room, 0.06);
    let step = stage.stencil.step;
    let pulse = Pulse::new(250.0, step);
    // The shortest way by a wall is 4.2 m longer than 2 m; the pulse has begun 7 ms before its middle.
    let seconds = pulse.middle() + 6.2 / SPEED - 0.007;
    let records = stage.heard(&pulse, 1, seconds, from, &ears);
    for (record, to) in records.iter().zip(&ears) {
        let distance = (to - from).length();
        let (mut uu, mut us, mut ss, mut pu, mut ps) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (index, pressure) in record.pressures.iter().enumerate() {
            let time = (index + 1) as f64 * record.interval - distance / SPEED;
            let (u, s) = (ricker(&pulse, time), (ricker(&pulse, time + step) - ricker(&pulse, time - step)) / (2.0 * step));
            (uu, us, ss, pu, ps) = (uu + u * u, us + u * s, ss + s * s, pu + pressure * u, ps + pressure * s);
        }
        let whole = uu * ss - us * us;
        let (strength, slope) = ((pu * ss - ps * us) / whole, (ps * uu - pu * us) / whole);
        let (off, late) = (20.0 * (strength * distance).log10(), -slope / strength / step);
        assert!(off.abs() < 0.1 && late.abs() < 0.1, "{distance} m: {off} dB, {late} steps late");
    }
}

/// Five sources and twenty ears anywhere, beside the same moved to the middles of their cells: off by as much of the pressure, since cells are too large for the waves, not for the places.
#[test]
fn keeps_places_between_cells_as_good_as_in_their_middles() {
    let (shoebox, spacing) = (Shoebox { size: SMALL, admittance: 0.05 }, 0.05);
    let tones = || (4..=50).map(|step| 5.0 * f64::from(step));
    let off = |from: DVec3, ears: &[DVec3]| {
        let heard = Stage::<f32>::new(shoebox, spacing).transfers(250.0, 0.25, from, ears);
        let one = |((record, pulse), to): (&(Record, Pulse), &DVec3)| {
            let (error, whole) = tones().fold((0.0, 0.0), |(error, whole), tone| {
                let exact = shoebox.transfer(tone, from, *to);
                (error + (record.transfer(pulse, tone) - exact).norm_sqr(), whole + exact.norm_sqr())
            });
            (error / whole).sqrt()
        };
        heard.iter().zip(ears).map(one).collect::<Vec<f64>>()
    };
    let middle = |point: DVec3| ((point / spacing).floor() + 0.5) * spacing;
    let (mut between, mut within) = (Vec::new(), Vec::new());
    for number in 0..5 {
        let from = somewhere(SMALL, number);
        let far = |to: &DVec3| (from - to).abs().max_element() > 0.3;
        let ears: Vec<DVec3> = (0..).map(|ear| somewhere(SMALL, 100 + 50 * number + ear)).filter(far).take(4).collect();
        between.extend(off(from, &ears));
        within.extend(off(middle(from), &ears.iter().map(|ear| middle(*ear)).collect::<Vec<_>>()));
    }
    let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
    assert!(between.iter().all(|off| *off < 0.05), "{between:?}");
    assert!(mean(&between) < 1.1 * mean(&within), "{} between, {} within", mean(&between), mean(&within));
}

/// In a box anywhere; under a slope, in cells that it cuts, with walls that have mass and spring.
#[test]
fn keeps_source_and_listener_exchangeable() {
    let attic = scene(&[(0.0, 0.0), (4.4, 0.0), (4.4, 5.2), (0.0, 5.2)], &[(2.4, (0.0, 0.0)), (1.1, (1.3 / 1.9, 0.0))]);
    let board = Admittance { branches: vec![Branch { mass: 0.02, resistance: 4.0, spring: 5_000.0 }, Branch::real(0.02)] };
    let below_slope = [DVec3::new(0.013, 2.2, 1.07), DVec3::new(0.94, 4.3, 1.72), DVec3::new(2.9, 0.02, 2.39)];
    let in_box = |index: u64| (scene_of(SMALL), somewhere(SMALL, 5 * index), somewhere(SMALL, 5 * index + 2));
    let under_slope = |[from, to]: [usize; 2]| (attic.clone(), below_slope[from], below_slope[to]);
    for (scene, from, to) in (0..4).map(in_box).chain([[0, 1], [1, 2]].map(under_slope)) {
        let heard = |from, to| {
            let stage = Stage::<f64>::of(&scene, &board, 0.07);
            let pulse = Pulse::new(200.0, stage.stencil.step);
            stage.heard(&pulse, 2, 0.1, from, &[to]).remove(0).pressures
        };
        let (there, back) = (heard(from, to), heard(to, from));
        let loudest = there.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
        let most = there.iter().zip(&back).fold(0.0_f64, |most, (a, b)| most.max((a - b).abs()));
        assert!(loudest > 0.1 && most < 1e-11 * loudest, "{most} of {loudest}");
    }
}

/// What lattices make of the pressure at places between theirs, beside what is heard there: share of the pressure, a meter and more from the source, away from walls and near them.
#[test]
fn keeps_lattice_between_its_places() {
    let size = DVec3::new(3.4, 2.7, 2.3);
    let Stage { grid, stencil, mut field } = Stage::<f32>::new(Shoebox { size, admittance: 0.05 }, 0.05);
    let lattices = [0.25, 0.16].map(|apart| Lattice::new(&grid, &stencil, apart));
    assert_eq!(lattices.clone().map(|lattice| lattice.every), [5, 3]);
    let counts = lattices.clone().map(|lattice| lattice.cells.len());
    for (count, apart) in counts.iter().zip([0.25, 0.15]) {
        let guess = lattice::places(size.element_product(), apart);
        assert!((*count as f64 / guess as f64 - 1.0).abs() < 0.15, "{count} places, {guess} foretold");
    }
    let pulse = Pulse::new(250.0, stencil.step);
    let (every, steps) = (pulse.every(), (0.2 / stencil.step) as usize);
    let from = FROM * size;
    let points: Vec<DVec3> = (0..).map(|index| somewhere(size, index)).filter(|point| (point - from).length() > 1.0).take(100).collect();
    let mut ports = lattices[0].ports(&grid, field.layout());
    let shifted = |port: Port<f32>| Port { signal: port.signal + counts[0], ..port };
    ports.extend(lattices[1].ports(&grid, field.layout()).into_iter().map(shifted));
    let heard_from = counts[0] + counts[1];
    for (index, point) in points.iter().enumerate() {
        ports.extend(listener(&grid, field.layout(), &stencil, *point, heard_from + index).expect("it is in air"));
    }
    let drive = source(&grid, field.layout(), &stencil, from, 0).expect("the source is in air");
    let driving = Driving { ports: &drive, signals: &[pulse.signal()] };
    let heard = field.run(&Progress::new(), threads(&grid), driving, Listening { ports: &ports, every }, steps).expect("nobody cancels");
    assert_eq!(lattices[0].bytes(heard[0].len()), 4 * (counts[0] * (steps / every)) as u64);
    for (which, bars) in [[0.05, 0.09], [0.005, 0.02]].into_iter().enumerate() {
        let lattice = &lattices[which];
        for frequency in [63.0, 125.0, 200.0, 250.0] {
            let (mut errors, mut powers) = ([0.0; 2], [0.0; 2]);
            for (index, point) in points.iter().enumerate() {
                let of = |signal: usize| Record::new(&pulse, every, &heard[signal]).transfer(&pulse, frequency);
                let round = lattice.round(&grid, &stencil, *point).expect("it is in air");
                let between: Complex64 = round.iter().map(|(place, weight)| of(which * counts[0] + place) * *weight).sum();
                let near = usize::from(point.min(size - *point).min_element() < lattice.every as f64 * grid.spacing);
                let direct = of(heard_from + index);
                errors[near] += (between - direct).norm_sqr();
                powers[near] += direct.norm_sqr();
            }
            let shares = [0, 1].map(|near| f64::sqrt(errors[near] / powers[near]));
            assert!(shares[0] < bars[0] && shares[1] < bars[1], "{frequency} Hz, {which}: {shares:?} of the pressure");
        }
    }
}

#[test]
fn exact_pulse_leaves_nothing_in_the_room() {
    let pulse = Pulse::new(250.0, 0.05 / (2.0 * SPEED));
    let (sum, moment) = pulse.values.iter().enumerate().fold((0.0, 0.0), |(sum, moment), (index, value)| {
        let steps = index as f64 - pulse.middle() / pulse.step;
        (sum + value, moment + steps * value)
    });
    assert!(sum.abs() < 1e-11 && moment.abs() < 1e-9, "{sum}, {moment}");
    let peak = level(pulse.spectrum(250.0 / 1.8));
    for (frequency, down) in [(15.0, -30.1), (250.0, -9.2), (500.0, -81.6), (750.0, -215.3)] {
        let share: f64 = (frequency / (250.0 / 1.8_f64)).powi(2);
        let formula = 20.0 * (share * (1.0 - share).exp()).log10();
        let found = level(pulse.spectrum(frequency)) - peak;
        assert!((found - formula).abs() < 1e-3 && (found - down).abs() < 0.1, "{frequency} Hz: {found}, {formula}, {down} dB");
    }
    let kept = 1.0 / (pulse.every() as f64 * pulse.step);
    assert!((1_000.0..1_100.0).contains(&kept), "{kept} Hz");
}

/// `f32` beside `f64` in a room whose walls take next to nothing, after ten thousand steps.
#[test]
fn keeps_rounding_below_what_is_heard() {
    let shoebox = Shoebox { size: SMALL, admittance: 0.005 };
    let ears = [TO * SMALL, OTHER * SMALL];
    let short = Stage::<f32>::new(shoebox, 0.1).transfers(250.0, 1.5, FROM * SMALL, &ears);
    let long = Stage::<f64>::new(shoebox, 0.1).transfers(250.0, 1.5, FROM * SMALL, &ears);
    for ((one, pulse), (other, _)) in short.iter().zip(&long) {
        for frequency in [15.0, 20.0, 40.0, 107.0, 160.0, 250.0] {
            let [a, b] = [one, other].map(|record| record.transfer(pulse, frequency));
            assert!((a - b).norm() < 1e-3 * b.norm(), "{frequency} Hz: {a}, {b}");
        }
    }
}

/// A ring `exp(-d t) sin(w t)` of a pulse sent at time zero on: its transfer function is `w / ((j w' + d)^2 + w^2)`.
#[test]
fn exact_ring_is_told_from_its_record() {
    let (frequency, seconds) = (100.0, 1.0);
    let pulse = Pulse::new(250.0, 2e-5);
    let every = pulse.every();
    for damping in [0.5, 2.0, 7.0] {
        let moments = (seconds / pulse.step) as usize / every;
        let turn = Complex64::new(-damping, TAU * frequency) * pulse.step;
        let one = turn.exp();
        let (mut state, mut heard) = (Complex64::ZERO, Vec::new());
        for step in 0..moments * every {
            // The ring at the next step of all that was sent up to now.
            state = (state + pulse.values.get(step).copied().unwrap_or(0.0) * pulse.step) * one;
            if (step + 1) % every == 0 {
                heard.push(state.im);
            }
        }
        let record = Record::new(&pulse, every, &heard);
        let exact = |tone: f64| TAU * frequency / (Complex64::new(damping, TAU * tone).powi(2) + (TAU * frequency).powi(2));
        let off = |tone: f64| (record.transfer(&pulse, tone) / exact(tone) - 1.0).norm();
        // Energies of the first and of the last fifth of a ring that the pulse's middle begins, as if it were short.
        let energy = |from: f64, to: f64| (-2.0 * damping * from).exp() - (-2.0 * damping * to).exp();
        let fallen = 10.0 * (energy(0.0, 0.2 - pulse.middle()) / energy(0.8 - pulse.middle(), 1.0 - pulse.middle())).log10();
        assert!((record.fallen_db() - fallen).abs() < 0.2, "{} for {fallen} dB", record.fallen_db());
        let bound = 10.0_f64.powf(-fallen / 20.0);
        assert!(off(frequency) < bound + 1e-4 && off(frequency) > 0.3 * bound, "{} of {bound}", off(frequency));
        let band = record.band(&pulse, 70.0, 140.0);
        let power = |from: f64| band.iter().skip((from / record.interval) as usize).take(100).map(|value| value * value).sum::<f64>();
        let fell = 10.0 * (power(0.2) / power(0.6)).log10();
        assert!((fell / (0.4 * damping * 20.0 / 10.0_f64.ln()) - 1.0).abs() < 0.03, "{fell} dB in the band");
    }
}

#[test]
fn keeps_count_of_what_a_run_takes() {
    let shoebox = Shoebox { size: ROOM, admittance: 0.05 };
    let stage = Stage::<f32>::new(shoebox, 0.1);
    let volume = ROOM.element_product();
    let cost = Cost::new(&stage.grid, volume, SPEED, 1.5, 1_000);
    let steps = 1.5 / stage.stencil.step;
    assert!(cost.cells == stage.grid.len() as u64 && (cost.steps as f64 - steps).abs() < 1.0);
    let air = stage.stencil.mass.iter().filter(|mass| **mass > 0.0).count();
    assert!((cost.updates / (air as f64 * steps) - 1.0).abs() < 1e-3, "{} for {air} cells", cost.updates);
    // Air and three faces, twice in f64; two steps in f32.
    assert_eq!(cost.bytes, stage.grid.len() as u64 * 72 + 1_000);
    assert_eq!(cost.within(cost.bytes), Ok(cost));
    let refused = cost.within(cost.bytes / 8).expect_err("it is an eighth");
    assert!((refused.spacing - 0.2).abs() < 1e-3, "{refused}");
    let said = refused.to_string();
    assert!(said.contains("cells of 100.0 mm") && said.contains("cells of 200.0 mm or larger") && said.contains("0.50 times"), "{said}");
}

#[test]
fn keeps_silence_where_there_is_no_air() {
    let stage = Stage::<f32>::new(Shoebox { size: SMALL, admittance: 0.0 }, 0.1);
    for outside in [DVec3::new(-0.01, 0.5, 0.5), DVec3::new(1.0, 1.61, 0.5), DVec3::splat(40.0)] {
        let layout = stage.field.layout();
        let found = source(&stage.grid, layout, &stage.stencil, outside, 0).expect_err("it is outside");
        assert!(found.to_string().contains("no air at"), "{found}");
        assert!(listener(&stage.grid, layout, &stage.stencil, outside, 0).is_err());
        assert!(Lattice::new(&stage.grid, &stage.stencil, 0.3).round(&stage.grid, &stage.stencil, outside).is_err());
    }
}

/// Behind a screen of one cell's thickness nothing takes part in the pressure before it, neither of cells nor of a lattice.
#[test]
fn keeps_what_a_screen_hides_out_of_a_point() {
    let mut scene = scene_of(SMALL);
    scene.blocks = vec![Block {
        name: "screen".to_owned(),
        center: DVec2::new(1.05, 0.8),
        base: 0.0,
        size: DVec3::new(0.1, 1.0, 1.0),
        rotation: 0.0,
        material: "soft".to_owned(),
        scattering: None,
    }];
    let room = room::build(&scene, Bodies::All);
    let cells = Cells::new(&room, Grid::over(&room, 0.1));
    let stencil = Stencil::new(&cells, SPEED, &[]);
    let point = DVec3::new(0.93, 0.77, 0.41);
    let lattice = Lattice::new(&cells.grid, &stencil, 0.2);
    let near: Vec<DVec3> = spread::cells_round(&cells.grid, &stencil, point)
        .expect("it is in air")
        .iter()
        .map(|(cell, _)| cells.grid.middle(*cell))
        .chain(
            lattice.round(&cells.grid, &stencil, point).expect("it is in air").iter().map(|(place, _)| lattice.point(&cells.grid, *place)),
        )
        .collect();
    assert!(near.len() > 60 && near.iter().all(|place| place.x < 1.0 || place.y > 1.3 || place.z > 1.0), "{near:?}");
}
