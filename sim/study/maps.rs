//! Maps and hot spots of one layout, asked one at a time: by what they show, and from which source.
//!
//! All are for the pairs of source and receiver that the use is judged by ([`judged_pairs`]), or for those of one source alone.
//!
//! *Limits.* The early map shows how the level of these pairs together falls; maps of single sources do not add up to it.

use super::live::{Live, differing};
use crate::findings::survey::survey;
use crate::hanging;
use crate::hotspots;
use crate::plan::decay::responses;
use crate::plan::integral::MapIntegral;
use crate::plan::maps::{Trials, late_patches};
use crate::plan::place::{hot_spot, judged_bands, judged_pairs, spots};
use crate::plan::search::Goal;
use crate::plan::{HotSpot, SurfaceMap};
use crate::progress::{Cancelled, Progress};
use crate::room::panel_finish;
use crate::scene::{Panel, PanelType, Scene};
use crate::weigh::Linings;

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
                Ok(maps.first().map_or_else(Vec::new, |map| SurfaceMap::of_map(&room.patches, map)))
            }
            Quantity::Late => {
                // Late arrivals come from everywhere: on small patches their map would be noise.
                let grid = late_patches(room);
                let responses = responses(progress, self.traced, &standing)?;
                let bands = judged_bands(survey(scene, room).schroeder_hz);
                let asked = (pairs.as_slice(), bands.as_slice());
                let maps = hotspots::late_maps(progress, self.traced, &standing, &[&exchanged], &grid, &responses, asked)?;
                Ok(maps.first().map_or_else(Vec::new, |map| SurfaceMap::of_map(&grid, map)))
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
        let hung = hanging::from_panels(scene, room, &scene.panels);
        let standing = Linings::new(room, &hung);
        let exchanged = Linings::everywhere(room, &panel_finish(scene, kind, kind.gap));
        let early = self.index.weigh(progress, &standing)?;
        let maps = hotspots::early_maps(progress, self.traced, &standing, &[&exchanged], &early, pairs)?;
        let Some(map) = maps.first() else { return Ok(Vec::new()) };
        let with = |panel: &Panel| {
            let mut panels = scene.panels.clone();
            panels.push(panel.clone());
            let after = hanging::from_panels(scene, room, &panels);
            (Linings::new(room, &after), differing(&hung, &after))
        };
        let (traced, index, goal) = (self.traced, &self.index, &Goal { pairs, bands: &[], target: None });
        let slope = &MapIntegral::new(&room.patches, map);
        Trials { scene, traced, index, goal, standing: &standing, early: &early, slope, with: &with }.earning(progress, kind)
    }
}
