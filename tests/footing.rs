//! What the bounce of a ray stands for: the footing keeps middle, spread and the whole, on any outline.

use glam::DVec2;
use roomwright::bands::Bands;
use roomwright::room::{Footing, Footings, PatchGrid, SPREAD};

use crate::rays::uniform_box;

/// The attic's surfaces: rectangles and gable walls whose tops slope, on which patches are cut.
fn attic() -> roomwright::room::Room {
    let (scene, _) = roomwright::scene::read(include_str!("../scenes/attic-voice-room.toml")).expect("a shipped scene reads");
    roomwright::room::build(&scene, roomwright::room::Bodies::Standing)
}

/// The patches of a footing, each with its weight.
fn patches(footing: &Footing) -> impl Iterator<Item = (usize, f32)> {
    (0..footing.rows()).flat_map(|row| {
        let (first, weights) = footing.row(row);
        (first..).zip(weights.iter().copied())
    })
}

/// A bounce at a place, as a density by patch after spreading.
fn spread_from(footings: &Footings, grid: &PatchGrid, surface: usize, position: DVec2) -> Vec<f64> {
    let own = &grid.surfaces[surface];
    let mut density = vec![0.0; own.len()];
    for (slot, weight) in patches(&footings.footing(surface, position)) {
        density[slot] += if own.area[slot] > 1e-9 { f64::from(weight) / own.area[slot] } else { 0.0 };
    }
    footings.spread(surface, own, &mut density);
    density
}

/// Nothing is lost or made on the way, wherever the bounce lies and whatever the outline.
#[test]
fn keeps_the_whole_on_every_surface() {
    let room = attic();
    for side in [0.1, 0.05] {
        let grid = PatchGrid::new(&room.surfaces, side);
        let footings = Footings::new(&grid);
        for (surface, own) in grid.surfaces.iter().enumerate() {
            for slot in (0..own.len()).filter(|&slot| own.area[slot] > 0.2 * side * side).step_by(7) {
                let place = own.middle(slot) + 0.3 * side * DVec2::new(0.7, -1.0);
                if !room.surfaces[surface].outline.contains(place) {
                    continue;
                }
                let weights: f32 = patches(&footings.footing(surface, place)).map(|(_, weight)| weight).sum();
                assert!((weights - 1.0).abs() < 1e-5, "surface {surface}: the weights add up to {weights}");
                let density = spread_from(&footings, &grid, surface, place);
                let whole: f64 = density.iter().zip(&own.area).map(|(density, area)| density * area).sum();
                assert!((whole - 1.0).abs() < 1e-5, "surface {surface}, side {side}: {whole} of one bounce is left");
            }
            // What is the same everywhere stays so: the finishes share out the whole.
            let mut even = vec![1.0; own.len()];
            footings.spread(surface, own, &mut even);
            for (slot, value) in even.iter().enumerate().filter(|(slot, _)| own.area[*slot] > 1e-9) {
                assert!((value - 1.0).abs() < 1e-6, "surface {surface}, patch {slot}: {value}");
            }
        }
    }
}

/// Far from the edges, the middle of a footing is the bounce itself and its spread is [`SPREAD`] each way, wherever in a patch it lies.
#[test]
fn keeps_middle_and_spread_wherever_the_bounce_lies() {
    let at = glam::DVec3::new(1.0, 1.0, 1.0);
    let room = uniform_box([5.0, 4.0, 3.0], 0.1, Bands::splat(0.5), at, at + 0.5);
    for side in [0.1, 0.05, 0.0731] {
        let grid = PatchGrid::new(&room.surfaces, side);
        let footings = Footings::new(&grid);
        for step in 0..40 {
            let share = f64::from(step) * 0.618_034;
            let place = DVec2::new(1.3 + 0.1 * share.fract(), 1.2 + 0.1 * (7.0 * share).fract());
            let (own, density) = (&grid.surfaces[0], spread_from(&footings, &grid, 0, place));
            let mean = |of: &dyn Fn(DVec2) -> f64| -> f64 {
                density.iter().enumerate().map(|(slot, density)| density * own.area[slot] * of(own.middle(slot))).sum()
            };
            let middle = DVec2::new(mean(&|at| at.x), mean(&|at| at.y));
            assert!(middle.distance(place) < 1e-5, "side {side}: {middle} for {place}");
            // Measured by the patches' middles; the mean over a patch adds the variance of a patch.
            for (axis, expected) in [(0, SPREAD), (1, SPREAD)] {
                let variance = mean(&|at| (at[axis] - place[axis]).powi(2)) - side * side / 12.0;
                assert!((variance.sqrt() - expected).abs() < 1e-4, "side {side}, axis {axis}: {} m", variance.sqrt());
            }
        }
    }
}
