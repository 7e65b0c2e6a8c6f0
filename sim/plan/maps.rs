//! Maps of one layout as they are drawn: values on patches, and what one panel earns wherever it fits.
//!
//! *Limits.* What a panel earns is weighed exactly where the derivative, integrated over the panel, promises 0.01 dB or more; below that the
//! derivative is shown.

use glam::DVec2;
use rayon::prelude::*;

use crate::bands::Bands;
use crate::findings::Estimate;
use crate::hotspots::PatchMap;
use crate::layout::candidates::{Candidate, centered};
use crate::layout::free::Free;
use crate::progress::{Cancelled, Progress};
use crate::room::{PatchGrid, Role, Room};
use crate::scene::{Panel, PanelType, Scene};
use crate::weigh::early::{Change, EarlyEnergy, EarlyIndex};
use crate::weigh::{Linings, Traced};

use super::SurfaceMap;
use super::integral::MapIntegral;
use super::search::gain;

/// Distance of the points at which one panel is weighed, meters.
const EARNING_STEP: f64 = 0.3;

/// Earnings under this, in dB, are not worth an exact weighing: they are told by the derivative.
const EARNING_LEAST_DB: f64 = 0.01;

/// Side of the patches of the late map that is drawn, meters.
const LATE_PATCH: f64 = 0.3;

/// The patches that late maps are drawn on: whole numbers of the room's own.
#[must_use]
pub fn late_patches(room: &Room) -> PatchGrid {
    let fine = room.patches.side;
    PatchGrid::new(&room.surfaces, fine * (LATE_PATCH / fine).round().max(1.0))
}

impl SurfaceMap {
    /// Values by patch as one map a surface.
    #[must_use]
    pub fn of_patches(grid: &PatchGrid, value: impl Fn(usize) -> Estimate) -> Vec<Self> {
        let of_surface = |(surface, own): (usize, &crate::room::SurfaceGrid)| {
            let estimates: Vec<Estimate> = (own.first..own.first + own.len()).map(&value).collect();
            let (values, errors) = estimates.iter().map(|estimate| (estimate.value, estimate.se)).unzip();
            Self { surface, patch_m: grid.side, origin: own.low, columns: own.columns, rows: own.rows, values, errors }
        };
        grid.surfaces.iter().enumerate().map(of_surface).collect()
    }

    /// A map on patches as one map a surface.
    #[must_use]
    pub fn of_map(grid: &PatchGrid, map: &PatchMap) -> Vec<Self> {
        Self::of_patches(grid, |patch| Estimate { value: map.value[patch], se: map.se[patch] })
    }

    /// The value at a position of the surface's chart, with its standard error; `None` where there is none.
    #[must_use]
    pub fn at(&self, position: DVec2) -> Option<Estimate> {
        let place = ((position - self.origin) / self.patch_m).floor();
        let is_inside = place.cmpge(DVec2::ZERO).all() && place.x < self.columns as f64 && place.y < self.rows as f64;
        let patch = is_inside.then(|| place.y as usize * self.columns + place.x as usize)?;
        let (&value, &se) = (self.values.get(patch)?, self.errors.get(patch)?);
        (!value.is_nan()).then_some(Estimate { value, se })
    }
}

/// Surface and bounds of each place where the finishes change.
pub type Places = Vec<(usize, DVec2, DVec2)>;

/// One panel of a type, weighed wherever it fits among what hangs.
pub struct Trials<'a> {
    /// The scene.
    pub scene: &'a Scene,
    /// Its paths.
    pub traced: &'a Traced,
    /// Their early part.
    pub index: &'a EarlyIndex<'a>,
    /// Pairs of source and receiver, and the weights of the octaves.
    pub asked: (&'a [(usize, usize)], Bands<f64>),
    /// The surfaces as they are.
    pub standing: &'a Linings,
    /// The early energy as it is.
    pub early: &'a EarlyEnergy,
    /// How much the early level falls for each square meter of that absorber: the early map.
    pub slope: &'a MapIntegral,
    /// The surfaces with one more panel, and where they differ then.
    pub with: &'a (dyn Fn(&Panel) -> (Linings, Places) + Sync),
}

impl Trials<'_> {
    /// What one panel takes off the early level, centered at each point of walls and ceilings, dB; NaN where it does not fit.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn earning(&self, progress: &Progress, kind: &PanelType) -> Result<Vec<SurfaceMap>, Cancelled> {
        everywhere(progress, self.scene, &self.traced.room, kind, |candidate| self.earns(candidate))
    }

    /// What one panel hung like this takes off, dB.
    fn earns(&self, candidate: &Candidate) -> Estimate {
        let about = of_derivative(self.slope, candidate);
        if let Some(about) = about.filter(|about| about.value < EARNING_LEAST_DB) {
            return about;
        }
        let (after, places) = (self.with)(&candidate.panel);
        let change = Change { before: self.standing, after: &after, places: &places };
        gain(self.traced, self.asked, self.early, &self.index.difference(self.early, &change))
    }
}

/// What one panel of a type takes off by a derivative alone, centered at each point of walls and ceilings: `slope` times the area that it
/// covers; NaN where it does not fit.
///
/// # Errors
/// [`Cancelled`].
pub fn by_derivative(
    progress: &Progress,
    scene: &Scene,
    room: &Room,
    kind: &PanelType,
    slope: &MapIntegral,
) -> Result<Vec<SurfaceMap>, Cancelled> {
    everywhere(progress, scene, room, kind, |candidate| of_derivative(slope, candidate).unwrap_or(NOWHERE))
}

/// The derivative over what a panel covers, if that lies on one surface.
fn of_derivative(slope: &MapIntegral, candidate: &Candidate) -> Option<Estimate> {
    let (surface, region) = candidate.surface.zip(candidate.region.as_ref())?;
    let (low, high) = region.bounds();
    Some(slope.over(&[(surface, low, high)]))
}

/// Where no panel fits.
const NOWHERE: Estimate = Estimate { value: f64::NAN, se: f64::NAN };

/// A value of one panel of a type, centered at each point of walls and ceilings where it fits.
fn everywhere(
    progress: &Progress,
    scene: &Scene,
    room: &Room,
    kind: &PanelType,
    value: impl Fn(&Candidate) -> Estimate + Sync,
) -> Result<Vec<SurfaceMap>, Cancelled> {
    let free = Free::new(scene, room);
    let surfaces: Vec<usize> =
        (0..room.surfaces.len()).filter(|&index| matches!(room.surfaces[index].role, Role::Wall(_) | Role::Ceiling(_))).collect();
    progress.begin("drawing maps", surfaces.len() as u64);
    let hung = |surface: usize, center: DVec2| {
        let fitting = |lying: bool| centered(scene, &free, kind, surface, center, lying);
        fitting(false).or_else(|_| fitting(true)).map_or(NOWHERE, |candidate| value(&candidate))
    };
    let map = |surface: usize| {
        let (origin, high) = room.surfaces[surface].outline.bounds();
        let size = ((high - origin) / EARNING_STEP).ceil().max(DVec2::ONE);
        let (columns, rows) = (size.x as usize, size.y as usize);
        let at = |patch: usize| origin + EARNING_STEP * (DVec2::new((patch % columns) as f64, (patch / columns) as f64) + 0.5);
        let one = |patch: usize| progress.step(0).map(|()| hung(surface, at(patch)));
        let estimates = (0..columns * rows).into_par_iter().map(one).collect::<Result<Vec<_>, Cancelled>>()?;
        progress.step(1)?;
        let (values, errors) = estimates.iter().map(|estimate| (estimate.value, estimate.se)).unzip();
        Ok(SurfaceMap { surface, patch_m: EARNING_STEP, origin, columns, rows, values, errors })
    };
    surfaces.into_iter().map(map).collect()
}
