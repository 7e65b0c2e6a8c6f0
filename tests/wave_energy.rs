//! Energy in the wave solver: whatever the room, its walls and its fiber, nothing of it is ever made.
//!
//! Walls and fiber begin at rest, so all the energy there ever is lies in the field at the beginning; what is in the field later, measured in double precision, is never more.

use rayon::prelude::*;
use roomwright::scene::Scene;
use roomwright::wave::{Admittance, Branch, Fiber, Real};

use super::room::scene;
use super::wave::{Sounding, block};
use super::wave_modes::Chance;

/// A room of any four walls under a slope, a turned block in it, its walls of any three branches, and a turned piece of fiber.
fn any_room(seed: u64) -> (Scene, Vec<Admittance>, Vec<Fiber>, f64) {
    let mut chance = Chance(seed);
    let outline: Vec<(f64, f64)> = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]
        .map(|(x, y)| (x + chance.between(-0.4, 0.4), y + chance.between(-0.4, 0.4)))
        .to_vec();
    let mut scene = scene(&outline, &[(2.6, (chance.between(-0.2, 0.2), chance.between(-0.2, 0.2)))]);
    let mut desk = block(glam::DVec3::new(1.5, 1.0, 0.0), glam::DVec3::new(0.9, 0.6, chance.between(0.3, 0.9)));
    desk.rotation = chance.between(0.0, 3.0);
    scene.blocks = vec![desk];
    let mut branch = || {
        let (mass, resonance) = (chance.of_size(1e-4, 1e-1), chance.of_size(60.0, 3_000.0));
        match (chance.next() * 4.0) as usize {
            0 => Branch::real(chance.of_size(1e-3, 1.0)),
            1 => Branch { mass, resistance: 0.0, spring: mass * resonance * resonance },
            2 => Branch { mass: 0.0, resistance: chance.of_size(0.1, 100.0), spring: chance.of_size(1.0, 1e5) },
            _ => Branch { mass, resistance: chance.of_size(0.1, 100.0), spring: mass * resonance * resonance },
        }
    };
    let walls = (0..4).map(|_| Admittance { branches: (0..3).map(|_| branch()).collect() }).collect();
    let turn = glam::DQuat::from_euler(glam::EulerRot::XYZ, chance.next(), chance.next(), chance.next());
    let (middle, half) = (glam::DVec3::new(2.0, 2.2, 1.6), glam::DVec3::new(0.5, 0.3, chance.between(0.02, 0.3)));
    let faces = glam::DVec3::AXES.iter().enumerate().flat_map(|(axis, unit)| {
        let unit = turn * *unit;
        [(unit, unit.dot(middle) + half[axis]), (-unit, half[axis] - unit.dot(middle))]
    });
    let fibers = vec![Fiber::new(faces.collect(), chance.of_size(1e3, 1e6))];
    (scene, walls, fibers, chance.between(0.12, 0.25))
}

/// The most by which the energy of a field is over that of its beginning, re that, looked at ten times.
fn most_over<T: Real>(seed: u64, steps: usize) -> f64 {
    let (scene, walls, fibers, spacing) = any_room(seed);
    let of_room = |room: &roomwright::room::Room| walls.iter().cycle().take(room.finishes.len()).cloned().collect();
    let mut sounding: Sounding<T> = Sounding::filled(&scene, spacing, &of_room, 343.0, &fibers);
    sounding.stir(seed as u32);
    let first = sounding.energy();
    assert!(first > 0.0);
    let over = |_| {
        sounding.run(1, steps / 10);
        sounding.energy() / first - 1.0
    };
    (0..10).map(over).fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn keeps_any_room_from_making_energy() {
    let steps = if std::env::var_os("SLOW").is_some() { 1_000_000 } else { 10_000 };
    (0..50).into_par_iter().for_each(|seed| {
        let over = most_over::<f64>(seed, steps);
        assert!(over < 1e-12 * steps as f64, "room {seed} in double precision: {over} over");
        let over = most_over::<f32>(seed, steps);
        assert!(over < 1e-3, "room {seed} in single precision: {over} over");
    });
}

#[test]
fn exact_factors_lift_no_pressure_that_is_the_same_everywhere() {
    // Factors in single precision whose sum is a ten-millionth too much make a force that grows with the pressure: over a million steps it grew tenfold between walls that resist.
    for seed in 0..10 {
        let (scene, _, fibers, spacing) = any_room(seed);
        let resisting = |room: &roomwright::room::Room| vec![Admittance::real(0.013); room.finishes.len()];
        let sounding: Sounding<f32> = Sounding::filled(&scene, spacing, &resisting, 343.0, &fibers);
        let mut cut = 0;
        for factors in &sounding.field.layout().factors {
            for lane in (0..factors.own.len()).filter(|lane| factors.before[*lane] > 0.0) {
                let neighbors: f64 = factors.neighbors.iter().map(|side| f64::from(side[lane])).sum();
                let sum = f64::from(factors.own[lane]) + neighbors - f64::from(factors.before[lane]);
                assert!(sum <= 1.0 && sum > 1.0 - 3e-7, "room {seed}: {sum}");
                cut += 1;
            }
        }
        assert!(cut > 100, "room {seed} has {cut} cut cells");
    }
}

#[test]
fn exact_walls_that_resist_nothing_gain_nothing() {
    let branch = |mass: f64, resonance: f64| Branch { mass, resistance: 0.0, spring: mass * resonance * resonance };
    let walls: Vec<Admittance> =
        (1..40).map(|index| Admittance { branches: vec![branch(1e-3 * f64::from(index), 90.0 * f64::from(index))] }).collect();
    let (scene, _, _, spacing) = any_room(3);
    for wall in walls {
        let of_room = |room: &roomwright::room::Room| vec![wall.clone(); room.finishes.len()];
        let sounding: Sounding<f32> = Sounding::filled(&scene, spacing, &of_room, 343.0, &[]);
        let met = sounding.field.layout().slabs.iter().flat_map(|slab| &slab.walls.met);
        for branch in met.flat_map(|met| met.parts.iter().flatten()) {
            let sum = f64::from(branch.swing) + f64::from(branch.pull);
            assert!(sum <= 2.0 && sum > 2.0 - 5e-7, "{wall:?}: {sum}");
        }
    }
}
