//! Which corners earn a panel: places by the rules of `layout`, ranked by the waves of `findings::bass`.
//!
//! Tried are the places that a plan tries, panels stacked from the floor up and on what stands in a corner, and besides the highest one under the ceiling.
//!
//! *References.* None of its own.
//!
//! *Limits.* Those of `findings::bass::corners`.

use glam::DVec2;

use crate::findings::bass::{self, BassAsked, BassCorners, BassError};
use crate::layout::{Free, candidates, measure_step};
use crate::progress::Progress;
use crate::room::{Bodies, build};
use crate::scene::{Panel, PanelPlace, PanelType, Scene};

/// How far into the room the ceiling over a corner is looked for, meters.
const INWARD: f64 = 0.05;

/// What does a panel across each corner buy at the low end?
///
/// # Errors
/// [`BassError`]: nobody sounds or hears, it takes too much, or stopped.
pub fn bass_corners(progress: &Progress, scene: &Scene, asked: &BassAsked) -> Result<BassCorners, BassError> {
    bass::corners(progress, scene, asked, &corner_places)
}

/// Where a panel may hang across a corner, corner by corner, lowest first.
#[must_use]
pub fn corner_places(scene: &Scene, kind: &PanelType) -> Vec<Panel> {
    let room = build(scene, Bodies::Standing);
    let free = Free::new(scene, &room);
    // The step is that of flat places and has no part in those across corners.
    let mut found: Vec<Panel> =
        candidates(scene, &room, &free, kind, measure_step(scene.unit)).into_iter().map(|candidate| candidate.panel).collect();
    let under_ceiling = |corner: usize| {
        let step = measure_step(scene.unit);
        let bottom = (free.ceiling_height(inward(scene, corner))? - kind.size.y) / step;
        let panel = Panel { kind: kind.name.clone(), place: PanelPlace::Corner { corner, bottom: step * (bottom + 1e-6).floor() } };
        (bottom >= 0.0 && free.fits_panel(&panel, kind).is_ok()).then_some(panel)
    };
    for panel in (0..scene.outline.len()).filter_map(under_ceiling) {
        if found.iter().all(|other| !is_same(other, &panel)) {
            found.push(panel);
        }
    }
    found
}

/// A point before a corner of the outline.
fn inward(scene: &Scene, corner: usize) -> DVec2 {
    let (outline, count) = (&scene.outline, scene.outline.len());
    let along = |other: usize| (outline[other % count] - outline[corner]).normalize_or_zero();
    outline[corner] + INWARD * (along(corner + 1) + along(corner + count - 1)).normalize_or_zero()
}

/// Whether two panels stand in one place, within a millimeter.
fn is_same(one: &Panel, other: &Panel) -> bool {
    match (&one.place, &other.place) {
        (PanelPlace::Corner { corner, bottom }, PanelPlace::Corner { corner: there, bottom: height }) => {
            corner == there && (bottom - height).abs() < 1e-3
        }
        _ => false,
    }
}
