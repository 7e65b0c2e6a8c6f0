//! Modes out of what was heard: sums of damped exponentials whose rates and shapes are given, and the wave solver's rooms, against closed forms and finite elements.

use std::f64::consts::{LN_10, PI, TAU};

use glam::DVec3;
use roomwright::modes::{self, Mode};
use roomwright::progress::Progress;
use roomwright::scene::Scene;
use roomwright::wave::dispersion::in_air;
use roomwright::wave::{Admittance, Driving, Heard, Listening, Port, Resonance, Ringing, resonances};

use super::room::scene;
use super::wave::{SPEED, Sounding, alike, attic};

pub(crate) const SHOEBOX: DVec3 = DVec3::new(5.1, 3.9, 2.6);

/// Near a corner, where every mode is loud.
const CORNER: DVec3 = DVec3::new(0.2, 0.15, 0.15);

/// Modes per hertz of a box, the slope of the smoothed count.
fn density(size: DVec3) -> impl Fn(f64) -> f64 {
    let surface = 2.0 * (size.x * size.y + size.y * size.z + size.z * size.x);
    let count = move |frequency| modes::mode_count(frequency, size.element_product(), surface, 4.0 * size.element_sum(), SPEED);
    move |frequency| count(frequency + 0.5) - count(frequency - 0.5)
}

/// Pressure of a mode of a rigid box.
fn pressure(size: DVec3, mode: &Mode, at: DVec3) -> f64 {
    (0..3).map(|axis| (PI * f64::from(mode.indices[axis]) * at[axis] / size[axis]).cos()).product()
}

/// Numbers that look like chance, between 0 and 1.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as f64 + 0.5) / f64::from(1_u32 << 31)
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// Evenly over the logarithm.
    pub(crate) fn of_size(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.next().ln()).sqrt() * (TAU * self.next()).cos()
    }
}

/// A rigid box whose modes were given decays.
struct Sum<'a> {
    size: DVec3,
    sources: &'a [DVec3],
    points: usize,
    seconds: f64,
    decay: &'a dyn Fn(&Mode) -> f64,
}

const RATE: f64 = 1_000.0;

impl Sum<'_> {
    fn places(&self) -> Vec<DVec3> {
        let mut chance = Chance(1);
        (0..self.points).map(|_| self.size * DVec3::new(chance.next(), chance.next(), chance.next())).collect()
    }

    /// Records in single precision with noise of 1e-5 of the loudest value; modes to 250 Hz, fading upward as those of a short pulse do.
    fn records(&self) -> Vec<Vec<Vec<f32>>> {
        let modes = modes::shoebox(self.size, SPEED, 250.0);
        let length = (self.seconds * RATE) as usize;
        let mut chance = Chance(2);
        let mut heard = |source: DVec3| {
            let record = |at: DVec3| {
                let mut sum = vec![0.0; length];
                for mode in &modes {
                    let loudness =
                        pressure(self.size, mode, source) * pressure(self.size, mode, at) * (-(mode.frequency / 250.0).powi(2)).exp();
                    let (decay, turn) = ((self.decay)(mode), TAU * mode.frequency);
                    for (index, value) in sum.iter_mut().enumerate() {
                        let time = index as f64 / RATE;
                        *value += loudness * (-decay * time).exp() * (turn * time + 0.7 * mode.frequency).cos();
                    }
                }
                sum
            };
            let records: Vec<Vec<f64>> = self.places().into_iter().map(record).collect();
            let loudest = records.iter().flatten().fold(0.0_f64, |most, value| most.max(value.abs()));
            let noisy = |record: &Vec<f64>| record.iter().map(|value| (value + 1e-5 * loudest * chance.normal()) as f32).collect();
            records.iter().map(noisy).collect()
        };
        self.sources.iter().map(|source| heard(*source)).collect()
    }

    fn ringing(&self, highest: f64) -> Ringing {
        let heard = Heard { records: &self.records(), rate: RATE };
        resonances(&Progress::new(), &heard, 15.0..highest, &density(self.size)).expect("nobody cancels")
    }

    /// As many modes as there are, each within the bars unless its neighbor is nearer than 0.2 Hz, and all within their own uncertainty.
    #[track_caller]
    fn finds(&self, ringing: &Ringing) {
        let modes = modes::shoebox(self.size, SPEED, ringing.told_apart_to);
        let found = &ringing.resonances;
        let list: Vec<f64> = found.iter().map(|resonance| resonance.frequency).collect();
        assert_eq!(modes.len(), found.len(), "to {} Hz: {list:?}", ringing.told_apart_to);
        for (index, (mode, resonance)) in modes.iter().zip(found).enumerate() {
            let wanted = (self.decay)(mode);
            let [frequency, decay] = [resonance.frequency - mode.frequency, resonance.decay - wanted];
            let near = modes.iter().enumerate().any(|(other, at)| other != index && (at.frequency - mode.frequency).abs() < 0.2);
            let told = format!(
                "{mode:?} {wanted}/s: {} +- {} Hz, {} +- {}/s",
                resonance.frequency, resonance.frequency_error, resonance.decay, resonance.decay_error
            );
            assert!(near || frequency.abs() < 1e-4 * mode.frequency && decay.abs() < 0.01 * wanted.max(0.1), "{told}");
            assert!(frequency.abs() < 5.0 * resonance.frequency_error && decay.abs() < 5.0 * resonance.decay_error, "{told}");
        }
    }
}

#[test]
fn finds_modes_up_to_overlap_whatever_the_decay() {
    for (decay_time, overlap) in [(0.3, 57.5), (0.5, 84.0), (1.0, 130.0), (2.0, 130.0), (5.0, 130.0), (f64::INFINITY, 130.0)] {
        let sum = Sum { size: SHOEBOX, sources: &[CORNER], points: 30, seconds: 4.0, decay: &|_| 3.0 * LN_10 / decay_time };
        // From 131.9 Hz on there are pairs at one frequency, since 3.9 m are 1.5 times 2.6 m.
        let ringing = sum.ringing(130.0);
        assert!((ringing.told_apart_to - overlap).abs() < 1.0, "{decay_time} s: {} Hz", ringing.told_apart_to);
        sum.finds(&ringing);
    }
}

#[test]
fn finds_modes_of_many_decays_side_by_side() {
    let decay = |mode: &Mode| 3.0 * LN_10 / (1.25 + 0.75 * (7.0 * mode.frequency).sin());
    let sum = Sum { size: SHOEBOX, sources: &[CORNER], points: 30, seconds: 3.0, decay: &decay };
    sum.finds(&sum.ringing(130.0));
}

/// Sources in seven places, none like another to all modes.
const AROUND: [(f64, f64, f64); 7] = [
    (0.05, 0.04, 0.03),
    (0.93, 0.12, 0.08),
    (0.12, 0.9, 0.3),
    (0.25, 0.1, 0.88),
    (0.88, 0.83, 0.05),
    (0.07, 0.92, 0.95),
    (0.73, 0.07, 0.77),
];

#[test]
fn counts_modes_of_one_frequency_by_several_sources() {
    for size in [SHOEBOX, DVec3::splat(4.0)] {
        let sources = AROUND.map(|place| size * DVec3::from(place));
        let sum = Sum { size, sources: &sources, points: 30, seconds: 3.0, decay: &|_| 3.0 * LN_10 / 2.0 };
        let ringing = sum.ringing(150.0);
        assert_eq!(ringing.told_apart_to, 150.0);
        sum.finds(&ringing);
        let single = Sum { sources: &sources[..1], ..sum }.ringing(150.0);
        assert!(single.resonances.len() < ringing.resonances.len(), "one source drives one mixture of each set");
    }
}

#[test]
fn finds_shapes_turned_to_be_real() {
    let sum = Sum { size: SHOEBOX, sources: &[CORNER], points: 200, seconds: 2.0, decay: &|_| 3.0 };
    let ringing = sum.ringing(90.0);
    let modes = modes::shoebox(SHOEBOX, SPEED, 90.0);
    assert_eq!(modes.len(), ringing.resonances.len());
    for (mode, resonance) in modes.iter().zip(&ringing.resonances) {
        let wanted: Vec<f64> = sum.places().iter().map(|at| pressure(SHOEBOX, mode, *at)).collect();
        let loudest = wanted.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).expect("there are points");
        for (wanted, found) in wanted.iter().zip(&resonance.shape) {
            let off = ((found.re - wanted / loudest).powi(2) + found.im.powi(2)).sqrt();
            assert!(off < 6.0 * resonance.shape_error && resonance.shape_error < 1e-3, "{mode:?}: {off}, {}", resonance.shape_error);
        }
        let loudness = (loudest * pressure(SHOEBOX, mode, CORNER) * (-(mode.frequency / 250.0).powi(2)).exp()).abs();
        assert!((resonance.loudness / loudness - 1.0).abs() < 2e-3, "{mode:?}: {} of {loudness}", resonance.loudness);
    }
}

#[test]
fn finds_nothing_in_silence_and_in_noise() {
    let mut chance = Chance(3);
    let noise: Vec<Vec<f32>> = (0..12).map(|_| (0..2_000).map(|_| chance.normal() as f32).collect()).collect();
    for records in [vec![vec![0.0; 2_000]; 12], noise, vec![vec![1.0; 20]; 3]] {
        let heard = Heard { records: &[records], rate: RATE };
        let ringing = resonances(&Progress::new(), &heard, 15.0..150.0, &density(SHOEBOX)).expect("nobody cancels");
        assert!(ringing.resonances.is_empty(), "{:?}", ringing.resonances.iter().map(|found| found.frequency).collect::<Vec<_>>());
    }
}

/// A rectangular room.
pub(crate) fn boxed(size: DVec3) -> Scene {
    scene(&[(0.0, 0.0), (size.x, 0.0), (size.x, size.y), (0.0, size.y)], &[(size.z, (0.0, 0.0))])
}

/// The modes between 15 Hz and another frequency of a room, out of what some cells all over it hear of a short pulse.
pub(crate) fn rung(scene: &Scene, wall: Admittance, spacing: f64, seconds: f64, highest: f64) -> Vec<Resonance> {
    let mut sounding: Sounding<f32> = Sounding::new(scene, spacing, &alike(wall));
    let step = sounding.stencil.step;
    // A Gaussian whose spectrum falls by 8 dB to 120 Hz and by 60 dB to 330 Hz, differentiated so that the mean pressure stays.
    let width = 0.0018;
    let silent = (11.0 * width / step) as usize;
    let value = |index: usize| {
        let time = (index as f64 * step - 5.0 * width) / width;
        (-time * (-0.5 * time * time).exp()) as f32
    };
    let drive = [sounding.port(CORNER, 0)];
    let signals = [(0..silent).map(value).collect()];
    let cells: Vec<usize> = sounding.air().step_by(997).collect();
    let port = |(signal, cell): (usize, &usize)| {
        let (slab, cell) = sounding.field.layout().place(&sounding.grid, *cell);
        Port { slab, cell, weight: 1.0, signal }
    };
    let ears: Vec<Port<f32>> = cells.iter().enumerate().map(port).collect();
    let listening = Listening { ports: &ears, every: 8 };
    let driving = Driving { ports: &drive, signals: &signals };
    let steps = silent + (seconds / step) as usize;
    let heard = sounding.field.run(&Progress::new(), 2, driving, listening, steps).expect("nobody cancels");
    let records = [heard.iter().map(|record| record[silent / 8 + 1..].to_vec()).collect()];
    let heard = Heard { records: &records, rate: 1.0 / (8.0 * step) };
    let mut found = resonances(&Progress::new(), &heard, 15.0..highest, &density(SHOEBOX)).expect("nobody cancels").resonances;
    found.iter_mut().for_each(|mode| mode.frequency = in_air(mode.frequency, step));
    found
}

/// The first modes of the rigid attic in Hz, by finite elements of second order, computed independently.
pub(crate) const ATTIC: [f64; 15] = [
    32.9808, 41.4449, 52.9661, 65.9615, 72.5677, 77.6241, 77.9013, 79.7108, 84.3400, 97.9109, 98.0663, 98.9423, 101.8648, 103.3163,
    107.2719,
];

/// A shoebox of 5.1 x 3.9 x 2.6 m and the attic, rigid: the first 15 modes, in closed form and by finite elements of second order (their last two meshes differ by 2e-7).
#[test]
fn published_modes_of_rigid_rooms() {
    let exact: Vec<f64> = modes::shoebox(SHOEBOX, SPEED, 109.95).iter().map(|mode| mode.frequency).collect();
    assert_eq!(exact.len(), 15);
    for (scene, wanted, bar, spacing) in [(&boxed(SHOEBOX), &exact[..], 0.001, 0.08), (&attic(), &ATTIC[..], 0.003, 0.1)] {
        let found = rung(scene, Admittance::RIGID, spacing, 1.0, 110.0);
        let told = found.iter().map(|mode| format!("{:.4} Hz {:.1e}/s", mode.frequency, mode.decay)).collect::<Vec<_>>();
        assert!(found.len() >= 15, "{told:?}");
        for (wanted, found) in wanted.iter().zip(&found) {
            assert!((found.frequency / wanted - 1.0).abs() < bar, "{wanted} Hz: {told:?}");
            assert!(found.decay.abs() < 0.01, "{wanted} Hz in a rigid room: {told:?}");
        }
    }
}

/// Frequencies and decay constants of modes of the box with walls of admittance 0.02, Hz and 1/s.
pub(crate) const DAMPED: [(f64, f64); 9] = [
    (33.6157, 7.09045),
    (43.9676, 7.50432),
    (55.3531, 8.85012),
    (65.9622, 8.38364),
    (67.2558, 7.08946),
    (74.0395, 9.72954),
    (79.2776, 10.14341),
    (86.1147, 11.4895),
    (103.9639, 11.48891),
];

/// A shoebox of 5.1 x 3.9 x 2.6 m, all walls of admittance 0.02: frequency and decay constant of separable modes, exact complex roots of `k tan` (computed independently).
#[test]
fn published_decays_of_a_room_with_an_admittance() {
    let found = rung(&boxed(SHOEBOX), Admittance::real(0.02), 0.08, 1.0, 105.0);
    let told = found.iter().map(|mode| format!("{:.4} Hz {:.4}/s", mode.frequency, mode.decay)).collect::<Vec<_>>();
    assert_eq!(found.len(), modes::shoebox(SHOEBOX, SPEED, 105.0).len(), "{told:?}");
    for (frequency, decay) in DAMPED {
        let near = |mode: &&Resonance| (mode.frequency / frequency - 1.0).abs() < 0.001 && (mode.decay / decay - 1.0).abs() < 0.02;
        assert_eq!(found.iter().filter(near).count(), 1, "{frequency} Hz {decay}/s: {told:?}");
    }
    // The rest by the first order of the admittance: `c beta / 2V` times the walls' areas, those across which the mode varies counted twice.
    let areas = [SHOEBOX.y * SHOEBOX.z, SHOEBOX.z * SHOEBOX.x, SHOEBOX.x * SHOEBOX.y];
    for (mode, found) in modes::shoebox(SHOEBOX, SPEED, 105.0).iter().zip(&found) {
        let area: f64 = (0..3).map(|axis| if mode.indices[axis] == 0 { 2.0 * areas[axis] } else { 4.0 * areas[axis] }).sum();
        let decay = SPEED * 0.02 / (2.0 * SHOEBOX.element_product()) * area;
        assert!(
            (found.frequency / mode.frequency - 1.0).abs() < 0.001 && (found.decay / decay - 1.0).abs() < 0.02,
            "{mode:?} {decay}/s: {told:?}"
        );
    }
}
