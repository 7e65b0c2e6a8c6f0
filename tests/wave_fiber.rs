//! Fiber as a volume in the wave solver: a tube with a layer at its end against exact complex modes, whatever the grid; energy.

use std::f64::consts::TAU;

use glam::DVec3;
use roomwright::progress::Progress;
use roomwright::scene::Scene;
use roomwright::wave::dispersion::in_air;
use roomwright::wave::{Admittance, Driving, Fiber, Fill, Listening, Stencil};

use super::room::scene;
use super::wave::{SPEED, Sounding, alike, attic, cells};

/// A box of fiber of 10 kPa s/m2.
fn fiber(low: DVec3, high: DVec3) -> Fiber {
    let faces = DVec3::AXES.iter().enumerate().flat_map(|(axis, unit)| [(-*unit, -low[axis]), (*unit, high[axis])]);
    Fiber::new(faces.collect(), 10_000.0)
}

/// A tube of 3 m of air before 100 mm of something, along x.
fn tube() -> Scene {
    scene(&[(0.0, 0.0), (3.1, 0.0), (3.1, 0.2), (0.0, 0.2)], &[(0.2, (0.0, 0.0))])
}

/// Amplitude and phase near a frequency of a stretch of a record, Blackman-Harris window (F. J. Harris, Proc. IEEE 66 (1978) 51, from memory).
fn tone(record: &[f64], step: f64, frequency: f64, (from, len): (usize, usize)) -> (f64, f64) {
    let (mut re, mut im) = (0.0, 0.0);
    for (index, value) in record[from..from + len].iter().enumerate() {
        let share = TAU * (index as f64 + 0.5) / len as f64;
        let window = 0.358_75 - 0.488_29 * share.cos() + 0.141_28 * (2.0 * share).cos() - 0.011_68 * (3.0 * share).cos();
        let (sine, cosine) = (TAU * frequency * step * (from + index) as f64).sin_cos();
        re += window * value * cosine;
        im -= window * value * sine;
    }
    (re.hypot(im), im.atan2(re))
}

/// Frequency and decay constant of the mode near a frequency, from two stretches of what rings.
fn rung(record: &[f64], step: f64, near: f64) -> (f64, f64) {
    let (len, apart) = ((0.5 / step) as usize, (0.05 / step) as usize);
    let (first, second) = (tone(record, step, near, (apart, len)), tone(record, step, near, (2 * apart, len)));
    let seconds = apart as f64 * step;
    let turned = (second.1 - first.1 + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
    (near + turned / TAU / seconds, (first.0 / second.0).ln() / seconds)
}

/// Complex roots of `tanh(s L / c) / (rho c) + tanh(k d) / Z = 0`, `Z` and `k` those of 100 mm of fiber of 10 kPa s/m2, porosity 0.98, tortuosity 1, adiabatic, behind 3 m of air at
/// 343.2 m/s and 1.2041 kg/m3, both ends closed; found by Newton's method.
pub(crate) const ADIABATIC: [(f64, f64); 4] =
    [(55.402_97, 0.873_97), (110.876_47, 3.399_38), (166.474_46, 7.326_82), (222.226_75, 12.344_10)];
/// The same with the bulk modulus of 101.325 kPa in the fiber.
pub(crate) const ISOTHERMAL: [(f64, f64); 4] =
    [(54.734_47, 1.629_43), (109.661_25, 6.137_02), (164.891_53, 12.651_77), (220.445_40, 20.299_92)];

/// Frequencies and decay constants of the first modes of the tube in cells of `spacing` meters, near the exact ones.
pub(crate) fn tube_modes(spacing: f64, compressibility: f64) -> Vec<(f64, f64)> {
    let layer = Fiber { compressibility, ..fiber(DVec3::new(3.0, 0.0, 0.0), DVec3::new(3.1, 0.2, 0.2)) };
    let mut sounding: Sounding<f64> = Sounding::filled(&tube(), spacing, &alike(Admittance::RIGID), 343.2, &[layer]);
    let step = sounding.stencil.step;
    let width = 0.0009;
    let pulse = (0..(0.02 / step) as usize).map(|index| {
        let time = (index as f64 * step - 5.0 * width) / width;
        (time * time - 1.0) * (-0.5 * time * time).exp()
    });
    let ports = [sounding.port(DVec3::new(0.03, 0.1, 0.1), 0)];
    let (driving, listening) = (Driving { ports: &ports, signals: &[pulse.collect()] }, Listening { ports: &ports, every: 1 });
    let heard = sounding.field.run(&Progress::new(), 2, driving, listening, (0.65 / step) as usize).expect("nobody cancels");
    let told = |(frequency, decay): (f64, f64)| (in_air(frequency, step), decay);
    ADIABATIC.iter().map(|(frequency, _)| told(rung(&heard[0], step, *frequency))).collect()
}

/// Half a percent of the decay where walls lie along the cells; where walls all round cut them, down to slivers of a twentieth, the one in twenty that is asked for.
#[test]
fn exact_modes_of_a_tube_with_a_layer_of_fiber() {
    let along = [(0.025, ADIABATIC, 1.0), (0.04, ADIABATIC, 1.0), (0.05, ADIABATIC, 1.0), (0.05, ISOTHERMAL, 1.399_7)];
    let cut = [0.045, 0.047, 0.0525, 0.055, 0.0653, 0.07].map(|spacing| (spacing, ADIABATIC, 1.0));
    for ((spacing, modes, compressibility), bar) in along.map(|case| (case, 0.005)).into_iter().chain(cut.map(|case| (case, 0.05))) {
        for ((frequency, decay), (found, constant)) in modes.into_iter().zip(tube_modes(spacing, compressibility)) {
            assert!((found / frequency - 1.0).abs() < 0.002, "cells of {spacing} m: {found} Hz for {frequency} Hz");
            assert!((constant / decay - 1.0).abs() < bar, "cells of {spacing} m: {constant} for {decay} 1/s at {frequency} Hz");
        }
    }
}

#[test]
fn keeps_the_volume_of_fiber_wherever_it_lies() {
    let turn = glam::DQuat::from_euler(glam::EulerRot::XYZ, 0.3, -0.5, 1.1);
    let (middle, half) = (DVec3::new(2.4, 2.5, 1.0), DVec3::new(0.6, 0.3, 0.05));
    let faces = DVec3::AXES.iter().enumerate().flat_map(|(axis, unit)| {
        let unit = turn * *unit;
        [(unit, unit.dot(middle) + half[axis]), (-unit, -unit.dot(middle) + half[axis])]
    });
    let fibers = [Fiber::new(faces.collect(), 20_000.0), fiber(DVec3::new(1.0, 1.0, 0.0), DVec3::new(1.31, 1.57, 0.83))];
    let volume = 8.0 * half.element_product() + 0.31 * 0.57 * 0.83;
    for spacing in [0.05, 0.13] {
        let (_, cells) = cells(&attic(), spacing);
        let fill = Fill::new(&cells, &Stencil::new(&cells, SPEED, &[]), &fibers);
        let found = fill.compressibility.iter().sum::<f64>() * spacing.powi(3) / (0.98 * 1.4 - 1.0);
        assert!((found / volume - 1.0).abs() < 1e-9, "{volume} m3 of fiber are {found} in cells");
    }
}

#[test]
fn keeps_fiber_from_giving_energy() {
    let fibers =
        [fiber(DVec3::new(0.0, 4.9, 0.0), DVec3::new(0.33, 5.2, 1.05)), fiber(DVec3::new(3.02, 1.31, 0.71), DVec3::new(3.17, 2.44, 1.33))];
    let after = |threads: usize| {
        let mut sounding: Sounding<f32> = Sounding::filled(&attic(), 0.17, &alike(Admittance::RIGID), 343.0, &fibers);
        sounding.stir(5);
        sounding.run(threads, 45);
        sounding.pressures()
    };
    assert!(after(1) == after(2) && after(1) == after(3), "threads change what fiber takes");
    let mut sounding: Sounding<f64> = Sounding::filled(&attic(), 0.17, &alike(Admittance::RIGID), 343.0, &fibers);
    sounding.stir(4);
    sounding.run(2, 1);
    let first = sounding.energy();
    let mut before = first;
    for _ in 0..10 {
        sounding.run(2, 400);
        let after = sounding.energy();
        assert!(after < before, "{before} becomes {after}");
        before = after;
    }
    assert!(before < 0.1 * first, "{first} has only fallen to {before}");
}
