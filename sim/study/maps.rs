//! Maps and hot spots of one layout, asked one at a time: by what they show, and from which source.
//!
//! All are for the pairs of source and receiver that the use is judged by ([`judged_pairs`]), or for those of one source alone.
//!
//! *Limits.* The early map shows how the level of these pairs together falls; maps of single sources do not add up to it.

use std::sync::Arc;

use super::live::Live;
use crate::bands::{Band, Bands};
use crate::findings::survey::survey;
use crate::hanging;
use crate::hotspots::{self, Octaves};
use crate::plan::decay::responses;
use crate::plan::integral::MapIntegral;
use crate::plan::maps::{Trials, by_derivative, late_patches};
use crate::plan::place::{hot_spot, judged_bands, judged_pairs, spots};
use crate::plan::{HotSpot, SurfaceMap};
use crate::progress::{Cancelled, Progress};
use crate::response::Response;
use crate::room::{PatchGrid, panel_finish};
use crate::scene::{Panel, PanelType, Scene};
use crate::weigh::early::EarlyEnergy;
use crate::weigh::{Linings, early_bands, flat_weights, sensitivity};

/// What a map shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Quantity {
    /// What one panel of a type, centered here, takes off the early level, dB; none where it does not fit.
    Earning,
    /// How much the early level falls per square meter of that absorber here, dB/m2.
    Early,
    /// How much clarity (C50) rises per square meter of that absorber here, dB/m2; below 0 where it takes more of the early sound than of
    /// the late.
    Clarity,
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
    /// The octaves that a quantity can be mapped in: 1-8 kHz of the early window, of clarity and the decay those of 250 Hz-4 kHz
    /// that lie above Schroeder's frequency.
    #[must_use]
    pub fn octaves(quantity: Quantity, schroeder_hz: f64) -> Vec<Band> {
        match quantity {
            Quantity::Earning | Quantity::Early => early_bands().collect(),
            Quantity::Clarity | Quantity::Late | Quantity::LateEarning => judged_bands(schroeder_hz),
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
        Ok(self.maps(progress, scene, kind, &[choice])?.swap_remove(0))
    }

    /// Several maps of a layout for a type of panel, in the order asked, each surface by surface. Those for area come from one pass over the
    /// rays, whatever they show, from whichever source, in whichever octave.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn maps(
        &self,
        progress: &Progress,
        scene: &Scene,
        kind: &PanelType,
        choices: &[MapChoice],
    ) -> Result<Vec<Vec<SurfaceMap>>, Cancelled> {
        let room = &self.traced.room;
        let standing = Linings::new(room, &hanging::from_panels(scene, room, &scene.panels));
        let exchanged = Linings::everywhere(room, &panel_finish(scene, kind, kind.gap));
        let any = |asked: &[Quantity]| choices.iter().any(|choice| asked.contains(&choice.quantity));
        let early = any(&[Quantity::Earning, Quantity::Early]).then(|| self.index.weigh(progress, &standing)).transpose()?;
        let late = [Quantity::Clarity, Quantity::Late, Quantity::LateEarning];
        let responses = any(&late).then(|| responses(progress, self.traced, &standing)).transpose()?;
        // Late arrivals come from everywhere: on small patches their map would be noise.
        let (fine, coarse) = (room.patches.as_ref(), late_patches(room));
        let layout = Layout { live: self, scene, standing: &standing, early, responses };

        let mut by_area: Vec<Group> = Vec::new();
        let mut maps = vec![Vec::new(); choices.len()];
        for (index, &choice) in choices.iter().enumerate() {
            match choice.quantity {
                Quantity::Earning => maps[index] = layout.earning(progress, kind, &exchanged, choice)?,
                Quantity::LateEarning => maps[index] = layout.late_earning(progress, kind, &exchanged, &coarse, choice)?,
                Quantity::Early | Quantity::Clarity | Quantity::Late => Group::join(&mut by_area, index, choice),
            }
        }
        let (mut quantities, mut grids, mut whose) = (Vec::new(), Vec::new(), Vec::new());
        for group in &by_area {
            if let Some(quantity) = layout.quantity(group) {
                grids.push(if quantity.early { fine } else { &coarse });
                whose.push(group);
                quantities.push(quantity);
            }
        }
        let found = hotspots::maps(progress, self.traced, &standing, &exchanged, &quantities, &grids)?;
        for ((group, found), grid) in whose.into_iter().zip(found).zip(grids) {
            for (&(index, _), map) in group.members.iter().zip(&found) {
                maps[index] = SurfaceMap::of_map(grid, map);
            }
        }
        Ok(maps)
    }
}

/// Maps for area that one quantity answers: the same thing shown, from the same source, in one octave or another; or in all together.
struct Group {
    choice: MapChoice,
    /// The place of each among all that are asked for, and its octave.
    members: Vec<(usize, Option<Band>)>,
}

impl Group {
    fn join(groups: &mut Vec<Self>, index: usize, choice: MapChoice) {
        let alike = |group: &&mut Self| {
            let other = group.choice;
            other.quantity == choice.quantity && other.source == choice.source && other.octave.is_some() && choice.octave.is_some()
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.members.push((index, choice.octave)),
            None => groups.push(Self { choice, members: vec![(index, choice.octave)] }),
        }
    }
}

/// A layout, with what of it the maps asked for rest on.
struct Layout<'a> {
    live: &'a Live<'a>,
    scene: &'a Scene,
    standing: &'a Linings,
    early: Option<EarlyEnergy>,
    responses: Option<Vec<Vec<Response>>>,
}

impl Layout<'_> {
    /// The pairs that a map is for.
    fn pairs(&self, choice: MapChoice) -> Vec<(usize, usize)> {
        let mut pairs = judged_pairs(self.scene, &self.live.traced.room);
        pairs.retain(|(source, _)| choice.source.is_none_or(|chosen| chosen == *source));
        pairs
    }

    /// The octaves that a map is for, of those that it can be drawn in.
    fn bands(&self, choice: MapChoice) -> Vec<Band> {
        let mut bands = MapChoice::octaves(choice.quantity, survey(self.scene, &self.live.traced.room).schroeder_hz);
        bands.retain(|&band| choice.octave.is_none_or(|octave| octave == band));
        bands
    }

    /// What is differentiated for a group of maps, a part for each of them; none where nothing supports it.
    fn quantity(&self, group: &Group) -> Option<sensitivity::Quantity> {
        let (traced, choice) = (self.live.traced, group.choice);
        let pairs = self.pairs(choice);
        if pairs.is_empty() {
            return None;
        }
        let apart: Vec<Band> = group.members.iter().filter_map(|&(_, octave)| octave).collect();
        let all = self.bands(MapChoice { octave: None, ..choice });
        let octaves = if choice.octave.is_some() { Octaves::Apart(&apart) } else { Octaves::Together(&all) };
        match choice.quantity {
            Quantity::Clarity => hotspots::clarity(traced, self.responses.as_ref()?, &pairs, octaves),
            Quantity::Late | Quantity::LateEarning => hotspots::decay(traced, self.responses.as_ref()?, &pairs, octaves),
            Quantity::Early | Quantity::Earning => Some(hotspots::early(traced, self.early.as_ref()?, &pairs, (flat_weights(), octaves))),
        }
    }

    /// What one panel takes off the decay time by the derivative, centered at each point of walls and ceiling.
    fn late_earning(
        &self,
        progress: &Progress,
        kind: &PanelType,
        exchanged: &Linings,
        grid: &PatchGrid,
        choice: MapChoice,
    ) -> Result<Vec<SurfaceMap>, Cancelled> {
        let (pairs, bands, traced) = (self.pairs(choice), self.bands(choice), self.live.traced);
        let Some(responses) = &self.responses else { return Ok(Vec::new()) };
        let maps = hotspots::late_maps(progress, traced, self.standing, &[exchanged], grid, responses, (&pairs, &bands))?;
        let Some(map) = maps.first() else { return Ok(Vec::new()) };
        by_derivative(progress, self.scene, &traced.room, kind, &MapIntegral::new(&Arc::new(grid.clone()), map))
    }

    /// What one panel takes off the early level, centered at each point of walls and ceiling, by exact re-weighing.
    fn earning(&self, progress: &Progress, kind: &PanelType, exchanged: &Linings, choice: MapChoice) -> Result<Vec<SurfaceMap>, Cancelled> {
        let (pairs, scene, traced, standing) = (self.pairs(choice), self.scene, self.live.traced, self.standing);
        let room = &traced.room;
        let Some(early) = self.early.as_ref().filter(|_| !pairs.is_empty()) else { return Ok(Vec::new()) };
        let asked = (pairs.as_slice(), choice.weights());
        let maps = hotspots::early_maps(progress, traced, standing, &[exchanged], early, asked)?;
        let Some(map) = maps.first() else { return Ok(Vec::new()) };
        let hung = hanging::from_panels(scene, room, &scene.panels);
        let with = |panel: &Panel| {
            let mut panels = scene.panels.clone();
            panels.push(panel.clone());
            let after = hanging::from_panels(scene, room, &panels);
            (Linings::new(room, &after), hung.differing(&after))
        };
        let slope = &MapIntegral::new(&room.patches, map);
        Trials { scene, traced, index: &self.live.index, asked, standing, early, slope, with: &with }.earning(progress, kind)
    }
}
