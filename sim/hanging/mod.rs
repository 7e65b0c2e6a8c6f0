//! What hangs flat on the surfaces: the only thing that a trial changes.
//!
//! A patch carries the finish of its whole build-up (core and the air behind it) and is taken to lie in the plane of its
//! surface; [`Finish::depth`] says how far its front really stands off. A panel that lies over the seam of two facets of one ceiling
//! plane becomes a patch on each. Patches come in the order of their panels. Round panels lies a margin that draws sound into them (`margins`), also where they are
//! built as bodies.
//!
//! **Statistical estimate.** [`eyring`]: `T = (24 ln 10 / c) V / (-S ln(1 - a) + 4 m V)`, `a` the area-weighted random-incidence absorption of
//! all that meets air, `m` the attenuation of the air. It fixes how long a trace runs, where Schroeder's frequency lies, and by
//! what a decay time moves with the tape (`findings::inputs`); no finding else.
//!
//! *References.* C. F. Eyring, "Reverberation time in 'dead' rooms", J. Acoust. Soc. Am. 1 (1930) 217 (from memory).
//!
//! *Limits.* A flush patch has no sides; the body of a panel has, and they absorb beside its margin. Build-ups deeper than 200 mm should be traced as bodies (`room::Bodies::All`).

mod margins;

use glam::DVec2;

pub use margins::{Flat, Neighbors, margins};

use crate::absorbers::Finish;
use crate::absorbers::sized::Rectangle;
use crate::absorbers::sized::capture::Capture;
use crate::bands::Bands;
use crate::geometry::Polygon;
use crate::room::{Room, bodies, hung_size, panel_finish};
use crate::scene::{Panel, PanelPlace, Scene, StockKind};

/// Flush panels, as regions on the charts of surfaces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hanging {
    /// Finishes that the patches point to.
    pub finishes: Vec<Finish>,
    /// The panels.
    pub patches: Vec<Patch>,
    /// What lies round them, one for each finish on each surface.
    pub margins: Vec<Margin>,
}

/// One flush panel on a surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Patch {
    /// Index into [`crate::room::Room::surfaces`].
    pub surface: usize,
    /// Outline in chart coordinates.
    pub region: Polygon,
    /// Index into [`Hanging::finishes`].
    pub finish: usize,
}

/// What the flat panels of one finish draw in round them on a surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Margin {
    /// Index into [`crate::room::Room::surfaces`].
    pub surface: usize,
    /// Index of the panels' finish into [`Hanging::finishes`].
    pub finish: usize,
    /// How it captures.
    pub capture: Capture,
    /// Where it lies on the chart, in pieces that overlap neither one another nor panels, openings, what stands against the surface, and other margins.
    pub pieces: Vec<Polygon>,
    /// The backs of its panels that are built as bodies: what rays meet beside them is the mean with what lies here.
    pub beneath: Vec<Polygon>,
}

impl Margin {
    /// Its area in m2.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.pieces.iter().map(Polygon::area).sum()
    }
}

impl Hanging {
    /// Surface and bounds of every place where a bounce may meet something else than with `other`.
    #[must_use]
    pub fn differing(&self, other: &Self) -> Vec<(usize, DVec2, DVec2)> {
        let mut places = self.not_in(other);
        places.extend(other.not_in(self));
        places
    }

    /// Surface and bounds of every patch and margin that another one does not have, or has with another finish.
    fn not_in(&self, other: &Self) -> Vec<(usize, DVec2, DVec2)> {
        let same = |one: usize, twin: usize| other.finishes[twin] == self.finishes[one];
        let has_patch = |patch: &Patch| {
            let is_twin = |twin: &Patch| twin.surface == patch.surface && twin.region == patch.region && same(patch.finish, twin.finish);
            other.patches.iter().any(is_twin)
        };
        let has_margin = |margin: &Margin| {
            let is_twin = |twin: &Margin| {
                twin.surface == margin.surface
                    && (&twin.capture, &twin.pieces) == (&margin.capture, &margin.pieces)
                    && same(margin.finish, twin.finish)
            };
            other.margins.iter().any(is_twin)
        };
        let patches = self.patches.iter().filter(|patch| !has_patch(patch)).map(|patch| (patch.surface, patch.region.bounds()));
        // A margin with its panels, whose share of their loss is the margin's.
        let around = |margin: &Margin| {
            let is_own = |patch: &&Patch| (patch.surface, patch.finish) == (margin.surface, margin.finish);
            let regions = margin.pieces.iter().chain(self.patches.iter().filter(is_own).map(|patch| &patch.region));
            regions
                .map(Polygon::bounds)
                .reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))
                .map(|bounds| (margin.surface, bounds))
        };
        let margins = self.margins.iter().filter(|margin| !has_margin(margin)).filter_map(around);
        patches.chain(margins).map(|(surface, (low, high))| (surface, low, high)).collect()
    }
}

/// The outline of a panel on the chart of its surface, with the surface's name; `None` if it does not hang on one.
#[must_use]
pub fn outline<'a>(scene: &Scene, panel: &'a Panel) -> Option<(&'a str, Polygon)> {
    let PanelPlace::Surface { ref surface, left, bottom, .. } = panel.place else { return None };
    let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
    let low = DVec2::new(left, bottom);
    Some((surface.as_str(), Polygon::rectangle(low, low + hung_size(kind, &panel.place))))
}

/// Those of the panels that lie flat on a surface of the room and were not built as bodies of it.
#[must_use]
pub fn from_panels(scene: &Scene, room: &Room, panels: &[Panel]) -> Hanging {
    let mut hanging = Hanging::default();
    let mut known: Vec<(&str, f64)> = Vec::new();
    let mut flat: Vec<Flat<'_>> = Vec::new();
    for panel in panels {
        let PanelPlace::Surface { gap, .. } = panel.place else { continue };
        let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
        let Some((surface, region)) = outline(scene, panel) else { continue };
        let is_patch = bodies::is_patch(kind.kind, room.bodies);
        if !is_patch && stands_free(kind.kind) {
            continue;
        }
        let finish = known.iter().position(|&(name, depth)| name == kind.name && depth == gap).unwrap_or_else(|| {
            known.push((&kind.name, gap));
            hanging.finishes.push(panel_finish(scene, kind, gap));
            known.len() - 1
        });
        let (low, high) = region.bounds();
        flat.extend(Rectangle::new(low, high).map(|rectangle| Flat { surface, rectangle, finish, is_body: !is_patch }));
        if is_patch {
            for (index, host) in room.named(surface) {
                let pieces = region.intersection(&host.outline);
                hanging.patches.extend(pieces.into_iter().map(|region| Patch { surface: index, region, finish }));
            }
        }
    }
    hanging.margins = margins(room, &hanging.finishes, &flat, &[], Neighbors::Heard);
    hanging
}

/// Whether a type of panel stands before a surface and does not lie on it.
#[must_use]
pub fn stands_free(kind: StockKind) -> bool {
    matches!(kind, StockKind::FreeStanding | StockKind::Bookcase)
}

/// Every finish that meets air with its area in m2. A patch comes after what lies beneath it, which is taken out as a negative area.
#[must_use]
pub fn areas<'a>(room: &'a Room, hanging: &'a Hanging) -> Vec<(&'a Finish, f64)> {
    let mut areas: Vec<(&Finish, f64)> = room.finished_areas().into_iter().map(|(finish, area)| (&room.finishes[finish], area)).collect();
    for patch in &hanging.patches {
        let surface = &room.surfaces[patch.surface];
        let bodies = room.contacts.iter().filter(|contact| contact.surface == patch.surface);
        let covered: f64 = bodies.map(|contact| contact.region.overlap_area(&patch.region)).sum();
        let area = (patch.region.area() - covered).max(0.0);
        let mut plain = area;
        for lining in &surface.linings {
            let common = lining.region.overlap_area(&patch.region).min(plain);
            areas.push((&room.finishes[lining.finish], -common));
            plain -= common;
        }
        areas.push((&room.finishes[surface.finish], -plain));
        areas.push((&hanging.finishes[patch.finish], area));
    }
    areas
}

/// Area in m2 that meets air, and by band its area-weighted random-incidence absorption, with patches in place of what they cover and what their margins draw in.
#[must_use]
pub fn absorption(room: &Room, hanging: &Hanging) -> (f64, Bands<f64>) {
    let areas = areas(room, hanging);
    let total: f64 = areas.iter().map(|&(_, area)| area).sum();
    let absorbed = areas.iter().fold(hanging.drawn_in(room), |sum, &(finish, area)| sum + finish.absorption * area);
    (total, absorbed.map(|area| (area / total).clamp(0.0, 1.0)))
}

/// Reverberation time by Eyring's formula with the absorption of the air, by band, seconds; infinite where nothing absorbs.
#[must_use]
pub fn eyring(room: &Room, hanging: &Hanging) -> Bands<f64> {
    let (area, absorption) = absorption(room, hanging);
    absorption.zip(room.medium.attenuation, |share, attenuation| eyring_time(room.medium.speed, (room.volume, area), share, attenuation))
}

/// The formula itself, in seconds: sound travels at `speed` m/s, the size is a volume in m3 and an area in m2, `share` of the energy is absorbed at a bounce
/// and the air takes `attenuation` 1/m.
#[must_use]
pub fn eyring_time(speed: f64, size: (f64, f64), share: f64, attenuation: f64) -> f64 {
    let (volume, area) = size;
    24.0 * std::f64::consts::LN_10 / speed * volume / (-area * (-share).ln_1p() + 4.0 * attenuation * volume)
}
