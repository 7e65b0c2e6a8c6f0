//! Maps and hot spots of one layout, asked one at a time: by what they show, and from which source.
//!
//! All are for the pairs of source and receiver that the use is judged by ([`judged_pairs`]), or for those of one source alone.
//!
//! *Limits.* The early map shows how the level of these pairs together falls; maps of single sources do not add up to it.

use std::sync::Arc;

use super::live::{Live, differing};
use crate::bands::{Band, Bands};
use crate::findings::survey::survey;
use crate::hanging;
use crate::hotspots;
use crate::plan::decay::responses;
use crate::plan::integral::MapIntegral;
use crate::plan::maps::{Trials, by_derivative, late_patches};
use crate::plan::place::{hot_spot, judged_bands, judged_pairs, spots};
use crate::plan::{HotSpot, SurfaceMap};
use crate::progress::{Cancelled, Progress};
use crate::room::panel_finish;
use crate::scene::{Panel, PanelType, Scene};
use crate::weigh::{Linings, flat_weights};

/// What a map shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// What one panel of a type, centered here, takes off the early level, dB; none where it does not fit.
    Earning,
    /// How much the early level falls per square meter of that absorber here, dB/m2.
    Early,
    /// How much shorter the decay gets per square meter of that absorber here, percent of T30 per m2.
    Late,
    /// How much shorter one panel of a type, centered here, makes the decay, percent of T30, by the derivative; none where it does not fit.
    LateEarning,
}

/// One map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct MapChoice {
    /// What it shows.
    pub quantity: Quantity,
    /// Index of the source; `None`: all judged sources together.
    pub source: Option<usize>,
    /// The octave, one of [`MapChoice::octaves`]; `None`: all of these, weighted as they are judged.
    pub octave: Option<Band>,
}

impl MapChoice {
    /// The octaves that a quantity can be mapped in: 1-8 kHz of the early window, what lies above Schroeder's frequency of the decay.
    #[must_use]
    pub fn octaves(quantity: Quantity, schroeder_hz: f64) -> Vec<Band> {
        match quantity {
            Quantity::Earning | Quantity::Early => Band::ALL.into_iter().filter(|&band| flat_weights()[band] > 0.0).collect(),
            Quantity::Late | Quantity::LateEarning => judged_bands(schroeder_hz),
        }
    }

    /// Weights of the octaves in the early energy.
    fn weights(self) -> Bands<f64> {
        let all = flat_weights();
        self.octave.map_or(all, |octave| Bands::from_fn(|band| if band == octave { all[band] } else { 0.0 }))
    }
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
            Quantity::Earning => self.earning(progress, scene, kind, (&pairs, choice.weights())),
            Quantity::Early => {
                let early = self.index.weigh(progress, &standing)?;
                let maps = hotspots::early_maps(progress, self.traced, &standing, &[&exchanged], &early, (&pairs, choice.weights()))?;
                Ok(maps.first().map_or_else(Vec::new, |map| SurfaceMap::of_map(&room.patches, map)))
            }
            Quantity::Late | Quantity::LateEarning => {
                // Late arrivals come from everywhere: on small patches their map would be noise.
                let grid = late_patches(room);
                let responses = responses(progress, self.traced, &standing)?;
                let mut bands = MapChoice::octaves(choice.quantity, survey(scene, room).schroeder_hz);
                bands.retain(|&band| choice.octave.is_none_or(|octave| octave == band));
                let asked = (pairs.as_slice(), bands.as_slice());
                let maps = hotspots::late_maps(progress, self.traced, &standing, &[&exchanged], &grid, &responses, asked)?;
                match maps.first() {
                    None => Ok(Vec::new()),
                    Some(map) if choice.quantity == Quantity::Late => Ok(SurfaceMap::of_map(&grid, map)),
                    Some(map) => by_derivative(progress, scene, room, kind, &MapIntegral::new(&Arc::new(grid), map)),
                }
            }
        }
    }

    /// What one panel takes off the early level, centered at each point of walls and ceiling, by exact re-weighing.
    fn earning(
        &self,
        progress: &Progress,
        scene: &Scene,
        kind: &PanelType,
        asked: (&[(usize, usize)], Bands<f64>),
    ) -> Result<Vec<SurfaceMap>, Cancelled> {
        let room = &self.traced.room;
        let hung = hanging::from_panels(scene, room, &scene.panels);
        let standing = Linings::new(room, &hung);
        let exchanged = Linings::everywhere(room, &panel_finish(scene, kind, kind.gap));
        let early = self.index.weigh(progress, &standing)?;
        let maps = hotspots::early_maps(progress, self.traced, &standing, &[&exchanged], &early, asked)?;
        let Some(map) = maps.first() else { return Ok(Vec::new()) };
        let with = |panel: &Panel| {
            let mut panels = scene.panels.clone();
            panels.push(panel.clone());
            let after = hanging::from_panels(scene, room, &panels);
            (Linings::new(room, &after), differing(&hung, &after))
        };
        let (traced, index) = (self.traced, &self.index);
        let slope = &MapIntegral::new(&room.patches, map);
        Trials { scene, traced, index, asked, standing: &standing, early: &early, slope, with: &with }.earning(progress, kind)
    }
}
