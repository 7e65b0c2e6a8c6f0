//! Maps and hot spots of one layout, asked one at a time: by what they show, and from which source.
//!
//! All are for the pairs of source and receiver that the use is judged by ([`judged_pairs`]), or for those of one source alone.
//!
//! *Limits.* The early map shows how the level of these pairs together falls; maps of single sources do not add up to it.

use glam::DVec2;
use rayon::prelude::*;

use super::live::{Live, differing};
use crate::findings::survey::survey;
use crate::hanging;
use crate::hotspots;
use crate::layout::candidates::centered;
use crate::layout::free::Free;
use crate::plan::decay::responses;
use crate::plan::place::{EARNING_STEP, hot_spot, judged_bands, judged_pairs, late_patches, spots, surface_maps};
use crate::plan::search::{Goal, early_gain};
use crate::plan::{HotSpot, SurfaceMap};
use crate::progress::{Cancelled, Progress};
use crate::room::{Role, panel_finish};
use crate::scene::{PanelType, Scene};
use crate::weigh::Linings;
use crate::weigh::early::Change;

/// What a map shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// What one panel of a type, centered here, takes off the early level, dB; none where it does not fit.
    Earning,
    /// How much the early level falls per square meter of that absorber here, dB/m2.
    Early,
    /// How much shorter the decay gets per square meter of that absorber here, percent of T30 per m2.
    Late,
}

/// One map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct MapChoice {
    /// What it shows.
    pub quantity: Quantity,
    /// Index of the source; `None`: all judged sources together.
    pub source: Option<usize>,
}

impl Live<'_> {
    /// The hot spots of a layout for a type of panel, the loudest reflection first.
    #[must_use]
    pub fn hot_spots(&self, scene: &Scene, kind: &PanelType) -> Vec<HotSpot> {
        let room = &self.traced.room;
        let standing = Linings::new(room, &hanging::from_panels(scene, room, &scene.panels));
        let exchanged = Linings::everywhere(room, &panel_finish(scene, kind, kind.gap));
        spots(self.traced, &standing, &exchanged, &judged_pairs(scene, room)).iter().map(|spot| hot_spot(self.traced, spot)).collect()
    }

    /// One map of a layout for a type of panel, surface by surface; empty where nothing supports it.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn map(&self, progress: &Progress, scene: &Scene, kind: &PanelType, choice: MapChoice) -> Result<Vec<SurfaceMap>, Cancelled> {
        let room = &self.traced.room;
        let mut pairs = judged_pairs(scene, room);
        pairs.retain(|(source, _)| choice.source.is_none_or(|chosen| chosen == *source));
        if pairs.is_empty() {
            return Ok(Vec::new());
        }
        let standing = Linings::new(room, &hanging::from_panels(scene, room, &scene.panels));
        let exchanged = Linings::everywhere(room, &panel_finish(scene, kind, kind.gap));
        match choice.quantity {
            Quantity::Earning => self.earning(progress, scene, kind, &pairs),
            Quantity::Early => {
                let early = self.index.weigh(progress, &standing)?;
                let maps = hotspots::early_maps(progress, self.traced, &standing, &[&exchanged], &early, &pairs)?;
                Ok(maps.first().map_or_else(Vec::new, |map| surface_maps(&room.patches, &map.value)))
            }
            Quantity::Late => {
                // Late arrivals come from everywhere: on small patches their map would be noise.
                let grid = late_patches(room);
                let responses = responses(progress, self.traced, &standing)?;
                let bands = judged_bands(survey(scene, room).schroeder_hz);
                let asked = (pairs.as_slice(), bands.as_slice());
                let maps = hotspots::late_maps(progress, self.traced, &standing, &[&exchanged], &grid, &responses, asked)?;
                Ok(maps.first().map_or_else(Vec::new, |map| surface_maps(&grid, &map.value)))
            }
        }
    }

    /// What one panel takes off the early level, centered at each point of walls and ceiling, by exact re-weighing.
    fn earning(
        &self,
        progress: &Progress,
        scene: &Scene,
        kind: &PanelType,
        pairs: &[(usize, usize)],
    ) -> Result<Vec<SurfaceMap>, Cancelled> {
        let room = &self.traced.room;
        let standing = hanging::from_panels(scene, room, &scene.panels);
        let linings = Linings::new(room, &standing);
        let early = self.index.weigh(progress, &linings)?;
        let goal = Goal { pairs, bands: &[], target: None };
        let free = Free::new(scene, room);
        let value = |surface: usize, center: DVec2| {
            let fitting = |lying: bool| centered(scene, &free, kind, surface, center, lying);
            fitting(false).or_else(|_| fitting(true)).map_or(f64::NAN, |candidate| {
                let mut panels = scene.panels.clone();
                panels.push(candidate.panel);
                let hung = hanging::from_panels(scene, room, &panels);
                let change = Change { before: &linings, after: &Linings::new(room, &hung), places: &differing(&standing, &hung) };
                early_gain(self.traced, &goal, &early, &self.index.difference(&early, &change)).value
            })
        };
        let surfaces = (0..room.surfaces.len()).filter(|&index| matches!(room.surfaces[index].role, Role::Wall(_) | Role::Ceiling(_)));
        progress.begin("drawing maps", surfaces.clone().count() as u64);
        let maps = surfaces.map(|surface| {
            let (origin, high) = room.surfaces[surface].outline.bounds();
            let size = ((high - origin) / EARNING_STEP).ceil().max(DVec2::ONE);
            let (columns, rows) = (size.x as usize, size.y as usize);
            let at = |patch: usize| origin + EARNING_STEP * (DVec2::new((patch % columns) as f64, (patch / columns) as f64) + 0.5);
            let one = |patch: usize| progress.step(0).map(|()| value(surface, at(patch)));
            let values = (0..columns * rows).into_par_iter().map(one).collect::<Result<Vec<_>, Cancelled>>()?;
            progress.step(1)?;
            Ok(SurfaceMap { surface, patch_m: EARNING_STEP, origin, columns, rows, values })
        });
        maps.collect()
    }
}
