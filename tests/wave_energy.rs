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
