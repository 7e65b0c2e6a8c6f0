//! The low end: cells cut by the room's surfaces, against volumes and areas that the room has in closed form; steps in time against energy.

use std::f64::consts::TAU;

use glam::DVec3;
use proptest::prelude::*;
use roomwright::progress::Progress;
use roomwright::room::{self, Bodies, Room};
use roomwright::scene::{Block, Scene};
use roomwright::wave::{Admittance, Branch, Cells, Driving, Fiber, Field, Fill, Grid, Layout, Listening, Port, Real, Stencil};

use super::room::scene;

pub(crate) fn cells(scene: &Scene, spacing: f64) -> (Room, Cells) {
    let room = room::build(scene, Bodies::All);
    let grid = Grid::over(&room, spacing);
    let cells = Cells::new(&room, grid);
    (room, cells)
}

/// The attic of the check values: a knee wall of 1.1 m under a slope.
pub(crate) fn attic() -> Scene {
    scene(&[(0.0, 0.0), (4.4, 0.0), (4.4, 5.2), (0.0, 5.2)], &[(2.4, (0.0, 0.0)), (1.1, (1.3 / 1.9, 0.0))])
}

pub(crate) fn block(corner: DVec3, size: DVec3) -> Block {
    Block {
        name: "desk".to_owned(),
        center: corner.truncate() + 0.5 * size.truncate(),
        base: corner.z,
        size,
        rotation: 0.0,
        material: "soft".to_owned(),
        scattering: None,
    }
}

/// Air, every finish's area, and for each cell: the open faces and the surfaces in it close.
#[track_caller]
fn holds_together(room: &Room, cells: &Cells) {
    assert!((cells.volume() - room.volume).abs() < 1e-9 * room.volume, "{} m3 are {} in cells", room.volume, cells.volume());
    let spacing = cells.grid.spacing;
    for finish in 0..room.finishes.len() {
        let asked: f64 = room.finished_areas().iter().filter(|(index, _)| *index == finish).map(|(_, area)| area).sum();
        let found: f64 = cells.facets.iter().filter(|facet| facet.finish == finish).map(|facet| facet.area).sum();
        assert!((asked - found).abs() < 1e-6 * (1.0 + asked), "{asked} m2 of finish {finish} are {found} in cells");
    }
    let strides = cells.grid.strides();
    for facets in cells.facets.chunk_by(|a, b| a.cell == b.cell) {
        let cell = facets[0].cell;
        if cells.parted.iter().any(|(parted, axis)| [*parted, parted + strides[*axis]].contains(&cell)) {
            continue;
        }
        // The length of the sum of area vectors is at most the sum of areas.
        let gap = DVec3::from_array([0, 1, 2].map(|axis| cells.open[axis][cell + strides[axis]] - cells.open[axis][cell]));
        let area: f64 = facets.iter().map(|facet| facet.area).sum::<f64>() / spacing.powi(2);
        assert!(gap.length() <= area + 1e-6, "cell {cell}: {gap} through {area}");
    }
    assert!(cells.air.iter().chain(cells.open.iter().flatten()).all(|share| (0.0..=1.0).contains(share)));
    // Every cell has the mass that its open faces ask for (Gershgorin's bound with `c dt / h` of a half), and no air is lost by it.
    let stencil = Stencil::new(cells, SPEED, &[]);
    for (cell, mass) in stencil.mass.iter().enumerate() {
        let ties = stencil.ties(cell, strides);
        assert!(*mass >= 0.125 * ties, "cell {cell} of {mass} holds {ties} open faces");
    }
    let mass = stencil.mass.iter().sum::<f64>() * spacing.powi(3);
    assert!((mass - room.volume).abs() < 1e-6 * room.volume, "{} m3 have a mass of {mass}", room.volume);
}

#[test]
fn keeps_air_and_areas_of_a_box_on_and_off_its_grid() {
    for size in [(5.1, 3.9, 2.6), (4.0, 3.0, 2.0)] {
        let scene = scene(&[(0.0, 0.0), (size.0, 0.0), (size.0, size.1), (0.0, size.1)], &[(size.2, (0.0, 0.0))]);
        for spacing in [0.05, 0.1, 0.173, 0.25] {
            let (room, cells) = cells(&scene, spacing);
            holds_together(&room, &cells);
        }
    }
}

#[test]
fn keeps_air_and_areas_under_a_slope() {
    for spacing in [0.05, 0.1, 0.137] {
        let (room, cells) = cells(&attic(), spacing);
        assert!((room.volume - 48.49).abs() < 1e-9);
        holds_together(&room, &cells);
        assert!(cells.parted.is_empty());
    }
}

#[test]
fn keeps_air_and_areas_round_a_desk_and_parts_what_is_thin() {
    let mut scene = attic();
    scene.blocks =
        vec![block(DVec3::new(2.0, 1.0, 0.0), DVec3::new(1.2, 0.6, 0.72)), block(DVec3::new(2.0, 3.0, 0.71), DVec3::new(1.2, 0.6, 0.03))];
    let (room, cells) = cells(&scene, 0.05);
    assert!((cells.volume() - room.volume).abs() < 1e-9 * room.volume);
    assert_eq!(cells.parted.len(), 24 * 12, "a board of 30 mm within cells of 50 mm");
    scene.blocks.pop();
    let (room, cells) = self::cells(&scene, 0.05);
    holds_together(&room, &cells);
    assert!(cells.parted.is_empty());
}

/// A board of 20 mm from wall to wall: nothing of what sounds below it is heard above, in cells that are larger and wherever they begin.
#[test]
fn keeps_a_thin_board_tight() {
    for spacing in [0.11, 0.13, 0.17] {
        let mut scene = scene(&[(0.0, 0.0), (2.0, 0.0), (2.0, 1.5), (0.0, 1.5)], &[(2.0, (0.0, 0.0))]);
        scene.blocks = vec![block(DVec3::new(0.0, 0.0, 0.9), DVec3::new(2.0, 1.5, 0.02))];
        let mut sounding: Sounding<f64> = Sounding::new(&scene, spacing, &alike(Admittance::RIGID));
        let (below, above) = (DVec3::new(0.7, 0.6, 0.3), DVec3::new(0.7, 0.6, 1.4));
        let (drive, ears) = ([sounding.port(below, 0)], [sounding.port(below, 0), sounding.port(above, 1)]);
        let driving = Driving { ports: &drive, signals: &[vec![1.0, -1.0]] };
        let heard = sounding.field.run(&Progress::new(), 2, driving, Listening { ports: &ears, every: 1 }, 400).expect("nobody cancels");
        let loudest = |record: &[f64]| record.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
        assert!(
            loudest(&heard[0]) > 0.1 && loudest(&heard[1]) == 0.0,
            "cells of {spacing} m: {} below, {} above",
            loudest(&heard[0]),
            loudest(&heard[1])
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 40, ..ProptestConfig::default() })]

    /// Any four walls, a slope, a turned block, any size of cell.
    #[test]
    fn keeps_air_and_areas_of_any_room(
        corners in prop::array::uniform4((-0.4_f64..0.4, -0.4_f64..0.4)),
        slope in (-0.2_f64..0.2, -0.2_f64..0.2),
        turn in 0.0_f64..3.0,
        spacing in 0.07_f64..0.3,
    ) {
        let base = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)];
        let outline: Vec<(f64, f64)> = base.iter().zip(corners).map(|(base, off)| (base.0 + off.0, base.1 + off.1)).collect();
        let mut scene = scene(&outline, &[(2.6, slope)]);
        let mut block = block(DVec3::new(1.5, 1.0, 0.0), DVec3::new(0.9, 0.6, 0.8));
        block.rotation = turn;
        scene.blocks = vec![block];
        let (room, cells) = cells(&scene, spacing);
        holds_together(&room, &cells);
    }
}

pub(crate) const SPEED: f64 = 343.0;
/// Of air in the published checks of fiber, kg/m3.
pub(crate) const DENSITY: f64 = 1.2041;

/// A room ready to sound.
pub(crate) struct Sounding<T> {
    pub(crate) grid: Grid,
    pub(crate) stencil: Stencil,
    pub(crate) field: Field<T>,
}

impl<T: Real> Sounding<T> {
    pub(crate) fn new(scene: &Scene, spacing: f64, walls: &dyn Fn(&Room) -> Vec<Admittance>) -> Self {
        Self::filled(scene, spacing, walls, SPEED, &[])
    }

    pub(crate) fn filled(scene: &Scene, spacing: f64, walls: &dyn Fn(&Room) -> Vec<Admittance>, speed: f64, fibers: &[Fiber]) -> Self {
        let (room, cells) = cells(scene, spacing);
        let stencil = Stencil::new(&cells, speed, &walls(&room));
        let fill = Fill::new(&cells, &stencil, fibers);
        let stencil = stencil.filled(&fill, cells.grid.strides(), DENSITY);
        let field = Field::new(Layout::new(&cells.grid, &stencil));
        Self { grid: cells.grid, stencil, field }
    }

    pub(crate) fn air(&self) -> impl Iterator<Item = usize> {
        (0..self.grid.len()).filter(|cell| self.stencil.mass[*cell] > 0.0)
    }

    pub(crate) fn port(&self, at: DVec3, signal: usize) -> Port<T> {
        let cell = self.grid.cell_at(at).expect("it lies in the grid");
        assert!(self.stencil.mass[cell] > 0.0, "no air at {at}");
        let (slab, cell) = self.field.layout().place(&self.grid, cell);
        Port { slab, cell, weight: T::of(1.0), signal }
    }

    /// A field of numbers that look like chance, at rest.
    pub(crate) fn stir(&mut self, seed: u32) {
        for cell in self.air().collect::<Vec<_>>() {
            let place = self.field.layout().place(&self.grid, cell);
            let noise = (cell as u32).wrapping_mul(2_654_435_761).wrapping_add(seed.wrapping_mul(40_503)) % 1_000;
            let value = T::of(f64::from(noise) / 1_000.0 - 0.5);
            self.field.set(place, [value, value]);
        }
    }

    /// `sum M (p+ - p)^2 / 2 + l^2 sum open (p+_a - p+_b)(p_a - p_b) / 2`.
    pub(crate) fn energy(&self) -> f64 {
        let strides = self.grid.strides();
        let pressure = |cell: usize| self.field.pressure(self.field.layout().place(&self.grid, cell)).map(Real::number);
        let mut energy = 0.0;
        for cell in self.air() {
            let [now, before] = pressure(cell);
            energy += 0.5 * self.stencil.mass[cell] * (now - before).powi(2);
            for (open, stride) in self.stencil.open.iter().zip(strides).map(|(open, stride)| (open[cell], stride)) {
                if open > 0.0 {
                    let [other, earlier] = pressure(cell - stride);
                    energy += 0.125 * open * (now - other) * (before - earlier);
                }
            }
        }
        energy
    }

    /// Pressures of all air now and a step before.
    pub(crate) fn pressures(&self) -> Vec<[T; 2]> {
        self.air().map(|cell| self.field.pressure(self.field.layout().place(&self.grid, cell))).collect()
    }

    pub(crate) fn run(&mut self, threads: usize, steps: usize) {
        self.field.run(&Progress::new(), threads, Driving::NONE, Listening::NONE, steps).expect("nobody cancels");
    }
}

/// All walls of one kind.
pub(crate) fn alike(wall: Admittance) -> impl Fn(&Room) -> Vec<Admittance> {
    move |room| vec![wall.clone(); room.finishes.len()]
}

/// Mass, resistance and spring as a plasterboard on studs may have them: resonance at 80 Hz.
fn board() -> Admittance {
    let mass: f64 = 9.0 / 413.0;
    Admittance { branches: vec![Branch { mass, resistance: 4.0, spring: mass * (TAU * 80.0).powi(2) }, Branch::real(0.01)] }
}

#[test]
fn keeps_steps_to_the_bit_whatever_the_threads() {
    let after = |threads: usize, parts: &[usize]| {
        let mut sounding: Sounding<f32> = Sounding::new(&attic(), 0.1, &alike(board()));
        sounding.stir(1);
        parts.iter().for_each(|steps| sounding.run(threads, *steps));
        sounding.pressures()
    };
    let whole = after(1, &[45]);
    for (threads, parts) in [(2, &[45][..]), (3, &[45]), (5, &[45]), (1, &[1, 2, 3, 39]), (2, &[17, 28])] {
        assert!(after(threads, parts) == whole, "{threads} threads, {parts:?}");
    }
}

#[test]
fn keeps_energy_between_rigid_walls() {
    let mut scene = attic();
    scene.blocks = vec![block(DVec3::new(2.03, 1.01, 0.0), DVec3::new(1.21, 0.63, 0.72))];
    for spacing in [0.2, 0.13] {
        let mut sounding: Sounding<f64> = Sounding::new(&scene, spacing, &alike(Admittance::RIGID));
        sounding.stir(2);
        sounding.run(2, 1);
        let before = sounding.energy();
        sounding.run(2, 2_000);
        let after = sounding.energy();
        assert!(before > 0.0 && (after - before).abs() < 1e-12 * 2_000.0 * before, "{before} becomes {after}");
    }
}

#[test]
fn keeps_walls_from_giving_energy() {
    for wall in [Admittance::real(0.02), Admittance::real(1.0), board()] {
        let mut sounding: Sounding<f64> = Sounding::new(&attic(), 0.17, &alike(wall.clone()));
        sounding.stir(3);
        sounding.run(2, 1);
        let mut before = sounding.energy();
        for _ in 0..12 {
            sounding.run(2, 400);
            let after = sounding.energy();
            // What a moving wall has stored comes back within a period; never more.
            assert!(
                after < before * (1.0 + 1e-12) || wall.branches.len() > 1 && after < before * 1.05,
                "{wall:?}: {before} becomes {after}"
            );
            before = after;
        }
    }
}
