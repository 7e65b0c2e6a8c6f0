//! The same layouts in a room that is not quite the one that was planned: hung a little off, heard from beside, loudspeakers turned, materials as far off as tables disagree.
//!
//! Nothing is planned anew. Each drawing is seeded and the same for all layouts, and is traced with a seed of its own.
//!
//! | what | by how much |
//! | --- | --- |
//! | panels | each by 25 mm to one side or the other and up or down (clouds along both sides, corner panels up or down), by lot; half of that or nothing where it would not fit |
//! | seat | every seat and microphone by 50 mm in some level direction |
//! | aim | every source by 5 degrees to some side |
//! | materials | each at one end of its range, by lot: one standard uncertainty (`Finish::absorption_range`) |

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use glam::{DVec2, DVec3};
use roomwright::findings::Estimate;
use roomwright::layout::Free;
use roomwright::plan::flush::Flush;
use roomwright::plan::score::{Ground, Weighed, faults_of};
use roomwright::progress::Progress;
use roomwright::random::{Purpose, Stream};
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{Panel, PanelPlace, PanelType, Scene};
use roomwright::settings::Settings;
use roomwright::weigh::early::EarlyIndex;

use super::judged::{Case, traced};

/// How far panels and heads are off, meters, and sources, degrees.
const PANEL_OFF: f64 = 0.025;
const SEAT_OFF: f64 = 0.050;
const AIM_OFF_DEG: f64 = 5.0;

/// Added to the seed of a scene; a hundred for each kind, one for each drawing.
const DISTURBED: u64 = 2000;

/// What is off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Disturbance {
    Panels,
    Seat,
    Aim,
    Materials,
}

impl Disturbance {
    pub(super) const ALL: [Self; 4] = [Self::Panels, Self::Seat, Self::Aim, Self::Materials];

    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Panels => "panels 25 mm off",
            Self::Seat => "seat 50 mm off",
            Self::Aim => "aim 5 degrees off",
            Self::Materials => "materials off",
        }
    }
}

/// By how many steps the first layout is better than each of the others in one drawing.
pub(super) fn leads(case: &Case<'_>, (disturbance, drawing): (Disturbance, u64), rays: u32, layouts: [&[Panel]; 3]) -> [Estimate; 2] {
    let seed = case.scene.settings.seed + DISTURBED + 100 * disturbance as u64 + drawing;
    let mut chance = Stream::new(seed, Purpose::Search, 0);
    let mut scene = case.scene.clone();
    match disturbance {
        Disturbance::Seat => move_heads(&mut scene, &mut chance),
        Disturbance::Aim => turn_sources(&mut scene, &mut chance),
        Disturbance::Panels | Disturbance::Materials => {}
    }
    let mut room = build(&scene, Bodies::Standing);
    let off = if disturbance == Disturbance::Materials { alter_materials(&scene, &mut room, &mut chance) } else { Vec::new() };
    let shifted = |panels: &[Panel]| {
        if disturbance == Disturbance::Panels { shift(&scene, &room, panels, seed) } else { panels.to_vec() }
    };
    let layouts: Vec<Vec<Panel>> = std::iter::once(scene.panels.clone()).chain(layouts.map(shifted)).collect();
    let (progress, goal) = (Progress::new(), case.goal());
    let traced = traced(room, Settings { seed, rays, ..scene.settings.clone() }, 1);
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let flush = Flush::new(&scene, &traced.room).off_by(off);
    let ground = Ground { traced: &traced, index: &index, flush: &flush, goal: &goal };
    let weighed: Vec<Weighed> = layouts.iter().map(|panels| Weighed::new(&progress, ground, panels).expect("nobody cancels")).collect();
    let faults = faults_of(&traced, &goal, &weighed.iter().collect::<Vec<_>>());
    [2, 3].map(|rule| faults[1].better_by(&faults[rule]).error())
}

fn move_heads(scene: &mut Scene, chance: &mut Stream) {
    let heads = scene.seats.iter_mut().map(|seat| &mut seat.ear).chain(scene.microphones.iter_mut().map(|one| &mut one.position));
    for head in heads {
        *head += SEAT_OFF * DVec2::from_angle(TAU * chance.unit()).extend(0.0);
    }
}

fn turn_sources(scene: &mut Scene, chance: &mut Stream) {
    for source in &mut scene.sources {
        let (sine, cosine) = AIM_OFF_DEG.to_radians().sin_cos();
        let (one, other) = source.aim.any_orthonormal_pair();
        let side = DVec2::from_angle(TAU * chance.unit());
        source.aim = (cosine * source.aim + sine * (side.x * one + side.y * other)).try_normalize().unwrap_or(DVec3::X);
    }
}

/// Sets every material of the room to an end of its range, and says by which share of theirs the types of panel are off.
fn alter_materials(scene: &Scene, room: &mut Room, chance: &mut Stream) -> Vec<f64> {
    let mut drawn: BTreeMap<String, f64> = BTreeMap::new();
    let mut end = |name: &str| *drawn.entry(name.to_owned()).or_insert_with(|| if chance.unit() < 0.5 { -1.0 } else { 1.0 });
    for finish in &mut room.finishes {
        *finish = finish.off_by(end(&finish.name));
    }
    scene.stock.iter().map(|kind| end(&kind.name)).collect()
}

/// The panels of a layout, each a little off, one after the other among the others as they hang by then; those that hang in the scene stay.
fn shift(scene: &Scene, room: &Room, panels: &[Panel], seed: u64) -> Vec<Panel> {
    let kind = |panel: &Panel| -> &PanelType {
        scene.stock.iter().find(|kind| kind.name == panel.kind).expect("what hangs is of a type in stock")
    };
    let (own, planned) = panels.split_at(scene.panels.len());
    let mut free = Free::new(scene, room);
    let mut numbers: Vec<usize> = planned.iter().map(|panel| free.hang(panel, kind(panel)).expect("a layout hangs in its room")).collect();
    let mut shifted = own.to_vec();
    for (index, panel) in planned.iter().enumerate() {
        let mut chance = Stream::new(seed, Purpose::Search, 1 + index as u64);
        let mut side = || if chance.unit() < 0.5 { -PANEL_OFF } else { PANEL_OFF };
        let step = DVec2::new(side(), side());
        free.take_down(numbers[index]);
        let places = [1.0, 0.5].map(|share| moved(panel, share * step));
        let place = places.into_iter().find(|place| free.fits_panel(place, kind(panel)).is_ok()).unwrap_or_else(|| panel.clone());
        numbers[index] = free.hang(&place, kind(panel)).expect("it hung there before");
        shifted.push(place);
    }
    shifted
}

fn moved(panel: &Panel, step: DVec2) -> Panel {
    let mut panel = panel.clone();
    match &mut panel.place {
        PanelPlace::Surface { left, bottom, .. } => {
            *left += step.x;
            *bottom += step.y;
        }
        PanelPlace::Corner { bottom, .. } => *bottom += step.y,
        PanelPlace::Cloud(cloud) => cloud.center += step,
    }
    panel
}
