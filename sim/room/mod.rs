//! The room: every surface as a polygon on a chart with its finish, built once from a checked scene or a closed mesh and never edited.
//!
//! **Charts** (position on a surface <-> point in space; always seen from the air, `right x up` = normal into the air):
//! - *Wall*: origin at its left end on the floor as seen from inside (wall `i` runs from corner `i` to corner `i + 1`
//!   counterclockwise, so its left end is corner `i + 1`), `right` horizontal, `up` vertical.
//! - *Floor*: as on the plan; origin at the lowest x and y of the outline, `right` = +x, `up` = +y.
//! - *Ceiling plane*: `up` along its steepest rise (+y where it is flat), `right` so that the normal points down; origin at the lowest
//!   and leftmost corner of the bounds of all its facets, which share the chart, so that positions are positive. Lengths are
//!   measured along the slope.
//! - *Sides of a body*: as walls, origin at the left end of the lower edge. *Top*: as the floor, along the body's own axes.
//!   *Underside*: seen from below, `up` along the body's own y. A panel's *front* is its surface's chart, moved to the panel.
//!
//! **Facets.** The ceiling is the lower envelope of its planes; each cell of it over the outline is one facet (a plane may have
//! several). Walls follow the envelope exactly, kinks included. A wall on which the ceiling meets the floor has no area and no surface.
//!
//! **Volume** `V = sum over facets of (plan area x height over the plan area's centroid)`, exact for planes, less blocks and bodies.
//!
//! **Edges** (the one model of finite faces). A face of a body mirrors no more than the share of the first Fresnel zone that it
//! fills: `1 - min(1, A / A_F)` of the energy is scattered instead, with `A_F = pi lambda l / 2` and both legs the mean free
//! path `l = 4 V / S`. Walls, floor and ceiling, and the fronts of panels hung on them (the wall goes on round these), count as large.
//!
//! *References.* H. Kuttruff, "Room Acoustics", chapter on the sound field in enclosures (mean free path `4 V / S`) and on reflections
//! from finite surfaces (Fresnel zones) (from memory).
//!
//! *Limits.* Bodies are taken to lie wholly inside the room and apart from one another; what `scene` checks is not checked again.

pub(crate) mod bodies;
mod finishes;
mod footing;
mod mesh;
mod open;
mod patches;
mod shell;

use std::sync::Arc;

use glam::{DVec2, DVec3};

use crate::absorbers::Finish;
use crate::air::Medium;
use crate::bands::Bands;
use crate::directivity::{Directivity, Pattern};
use crate::geometry::{Chart, Polygon};
use crate::scene::{PanelPlace, PanelType, Scene, SourceKind};

pub use bodies::edge_scattering;
pub(crate) use finishes::material_finish;
pub use finishes::{build_up, panel_finish};
pub use footing::{Footing, Footings, SPREAD};
pub use mesh::of_mesh;
pub use open::{Face, OpenArea, open_area, open_finish, open_gap};
pub use patches::{PatchGrid, SurfaceGrid};

/// Planes closer than this, in meters, are one plane; faces of bodies on it touch.
pub const CONTACT: f64 = 1e-6;

/// Which hung panels become geometry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bodies {
    /// What lies flat on a surface stays a patch (see [`crate::hanging`]); corner panels, clouds and what stands are bodies.
    Standing,
    /// Flat panels and diffusers too are boxes as deep as they are; only curtains and rugs stay patches. For the last judgement.
    All,
}

/// The room as the solvers see it.
#[derive(Clone, Debug)]
pub struct Room {
    /// Walls in outline order, then the floor, then ceiling facets, then faces of bodies; of a mesh, its faces.
    pub surfaces: Vec<Surface>,
    /// Finishes that surfaces and linings point to.
    pub finishes: Vec<Finish>,
    /// Air volume in m3 (blocks and panels taken out).
    pub volume: f64,
    /// What sends.
    pub sources: Vec<Emitter>,
    /// Who listens: seats first, then microphones.
    pub receivers: Vec<Receiver>,
    /// The air.
    pub medium: Medium,
    /// Blocks and bodies of panels as solids.
    pub solids: Vec<Solid>,
    /// Where bodies stand against surfaces; no air there.
    pub contacts: Vec<Contact>,
    /// Which panels of the scene were built as bodies.
    pub bodies: Bodies,
    /// Whether anything hangs or may be hung: then both ways on after a bounce must be traced on every wall, whatever it scatters.
    pub takes_patches: bool,
    /// Whether walls, floor and ceiling hide nothing from one another: so over a convex floor, since the ceiling is a lower envelope of
    /// planes.
    pub is_shell_convex: bool,
    /// Its surfaces cut into patches: one for each of [`Self::surfaces`].
    pub patches: Arc<PatchGrid>,
}

/// A convex solid without air inside.
#[derive(Clone, Debug, PartialEq)]
pub struct Solid {
    /// What it belongs to.
    pub role: Role,
    /// Outward unit normal and offset in meters of each face; inside is where `normal . point < offset` for all.
    pub faces: Vec<(DVec3, f64)>,
    /// Volume in m3.
    pub volume: f64,
}

/// A part of a surface that a body covers.
#[derive(Clone, Debug, PartialEq)]
pub struct Contact {
    /// Index into [`Room::surfaces`].
    pub surface: usize,
    /// Outline in chart coordinates.
    pub region: Polygon,
}

/// Index into [`Room::finishes`].
pub type FinishIndex = usize;

/// One flat surface, seen from the air.
#[derive(Clone, Debug)]
pub struct Surface {
    /// Name as in the scene; faces of a body are named `desk, top`.
    pub name: String,
    /// What it belongs to.
    pub role: Role,
    /// Position on the surface <-> point in space; the normal points into the air.
    pub chart: Chart,
    /// Outline in chart coordinates.
    pub outline: Polygon,
    /// Finish where no lining lies.
    pub finish: FinishIndex,
    /// Doors, windows, hatches: parts with another finish.
    pub linings: Vec<Lining>,
    /// Share of the energy that the face, being small, cannot mirror and scatters instead, by band; 0 for walls, floor, ceiling.
    pub edge_scattering: Bands<f64>,
}

/// A part of a surface with another finish.
#[derive(Clone, Debug)]
pub struct Lining {
    /// Name.
    pub name: String,
    /// Outline in chart coordinates.
    pub region: Polygon,
    /// Its finish.
    pub finish: FinishIndex,
}

/// What a surface belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Wall with this index.
    Wall(usize),
    /// The floor.
    Floor,
    /// Facet of the ceiling plane with this index.
    Ceiling(usize),
    /// Face of the block with this index.
    Block(usize),
    /// Face of a panel built as a body; index into the panels given to `build`.
    Panel(usize),
    /// Face of a mesh's closed shell with this number: 0 is the room's own, others are solids in it.
    Face(usize),
}

impl Role {
    /// Whether it is part of the room's shell.
    #[must_use]
    pub fn is_shell(self) -> bool {
        matches!(self, Self::Wall(_) | Self::Floor | Self::Ceiling(_) | Self::Face(0))
    }
}

impl Surface {
    /// Area with its finish, doors, windows and hatches taken out; m2.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.outline.area() - self.linings.iter().map(|lining| lining.region.area()).sum::<f64>()
    }

    /// The finish at a position on the chart.
    #[must_use]
    pub fn finish_at(&self, position: DVec2) -> FinishIndex {
        self.linings.iter().find(|lining| lining.region.contains(position)).map_or(self.finish, |lining| lining.finish)
    }
}

impl Solid {
    /// Whether a point lies inside and not on its faces.
    #[must_use]
    pub fn contains(&self, point: DVec3) -> bool {
        self.faces.iter().all(|&(normal, offset)| normal.dot(point) < offset - CONTACT)
    }
}

impl Room {
    /// Whether a point lies in the air: within the shell (or on it) and in no body.
    #[must_use]
    pub fn contains(&self, point: DVec3) -> bool {
        if let Some(Role::Face(_)) = self.surfaces.first().map(|surface| surface.role) {
            return mesh::contains(self, point);
        }
        self.surfaces.iter().all(|surface| match surface.role {
            Role::Floor => point.z >= 0.0 && surface.outline.contains(surface.chart.position(point)),
            Role::Ceiling(_) => surface.chart.height(point) >= 0.0,
            Role::Wall(_) | Role::Block(_) | Role::Panel(_) | Role::Face(_) => true,
        }) && !self.solids.iter().any(|solid| solid.contains(point))
    }

    /// Surfaces with this name in the scene (a ceiling plane may have several facets), by index.
    pub fn named<'a>(&'a self, name: &'a str) -> impl Iterator<Item = (usize, &'a Surface)> {
        self.surfaces.iter().enumerate().filter(move |(_, surface)| surface.role.is_shell() && surface.name == name)
    }

    /// The shell surface of this name; where several share it, the one that holds the position on its chart, else the first.
    #[must_use]
    pub fn surface_at(&self, name: &str, position: DVec2) -> Option<usize> {
        let named = || self.named(name);
        named().find(|(_, surface)| surface.outline.contains(position)).or_else(|| named().next()).map(|(index, _)| index)
    }

    /// The ceiling facet over a point of the floor, else the highest-lying ceiling.
    #[must_use]
    pub fn ceiling_over(&self, point: DVec2) -> Option<usize> {
        let ceilings = || (0..self.surfaces.len()).filter(|index| matches!(self.surfaces[*index].role, Role::Ceiling(_)));
        ceilings()
            .find(|index| {
                let surface = &self.surfaces[*index];
                surface.outline.contains(surface.chart.position(surface.chart.plumb(point)))
            })
            .or_else(|| ceilings().max_by(|a, b| self.surfaces[*a].chart.origin.z.total_cmp(&self.surfaces[*b].chart.origin.z)))
    }

    /// Area of a surface that meets air: outline less what bodies cover, linings included; m2.
    #[must_use]
    pub fn open_area(&self, surface: usize) -> f64 {
        let covered: f64 = self.contacts.iter().filter(|contact| contact.surface == surface).map(|contact| contact.region.area()).sum();
        (self.surfaces[surface].outline.area() - covered).max(0.0)
    }

    /// Floor, walls and ceiling as built, openings included and bodies ignored; m2.
    #[must_use]
    pub fn shell_area(&self) -> f64 {
        self.surfaces.iter().filter(|surface| surface.role.is_shell()).map(|surface| surface.outline.area()).sum()
    }

    /// Mean free path `4 V / S` in meters.
    #[must_use]
    pub fn mean_free_path(&self) -> f64 {
        4.0 * self.volume / (0..self.surfaces.len()).map(|index| self.open_area(index)).sum::<f64>()
    }

    /// Every finish that meets air and its area in m2: surfaces less linings less what bodies cover, then linings.
    #[must_use]
    pub fn finished_areas(&self) -> Vec<(FinishIndex, f64)> {
        let mut areas = Vec::new();
        for (index, surface) in self.surfaces.iter().enumerate() {
            let covered: Vec<&Polygon> = self.contacts.iter().filter(|c| c.surface == index).map(|c| &c.region).collect();
            let mut base = self.open_area(index);
            for lining in &surface.linings {
                let hidden: f64 = covered.iter().map(|region| region.overlap_area(&lining.region)).sum();
                let open = (lining.region.area() - hidden).max(0.0);
                base -= open;
                areas.push((lining.finish, open));
            }
            areas.push((surface.finish, base.max(0.0)));
        }
        areas
    }
}

/// A source as the solvers see it.
#[derive(Clone, Debug, PartialEq)]
pub struct Emitter {
    /// Name.
    pub name: String,
    /// Kind.
    pub kind: SourceKind,
    /// Acoustic center, meters.
    pub position: DVec3,
    /// Unit vector it points along.
    pub aim: DVec3,
    /// How it sends.
    pub directivity: Directivity,
}

impl Emitter {
    /// Unit vector along its axis; `None` where it sends alike to all sides, so that where it points makes no difference and may never have been said.
    #[must_use]
    pub fn axis(&self) -> Option<DVec3> {
        (self.directivity != Directivity::Omni).then_some(self.aim)
    }
}

/// A seat or a microphone as the solvers see it.
#[derive(Clone, Debug, PartialEq)]
pub struct Receiver {
    /// Name.
    pub name: String,
    /// Middle of the head, or the microphone; meters.
    pub position: DVec3,
    /// Unit vector of the facing or the aim.
    pub facing: DVec3,
    /// Radius of the zone for which findings hold, meters; `None` for a microphone, which is a point.
    pub zone_radius: Option<f64>,
    /// Pattern of a microphone; omni for seats.
    pub pattern: Pattern,
}

/// Width and height of a panel as it hangs in its chart, meters; for a cloud its extent along x and y before it is tilted.
#[must_use]
pub fn hung_size(kind: &PanelType, place: &PanelPlace) -> DVec2 {
    let lies = match *place {
        PanelPlace::Surface { lying, .. } => lying,
        PanelPlace::Corner { .. } => false,
        PanelPlace::Cloud(cloud) => return cloud.size(kind),
    };
    if lies { DVec2::new(kind.size.y, kind.size.x) } else { kind.size }
}

/// The room of a checked scene with those of its panels that become geometry.
#[must_use]
pub fn build(scene: &Scene, panels: Bodies) -> Room {
    let mut palette = finishes::Palette::new(scene);
    let mut surfaces = shell::walls(scene, &mut palette);
    surfaces.push(shell::floor(scene, &mut palette));
    surfaces.extend(shell::ceiling(scene, &mut palette));
    shell::add_openings(scene, &mut palette, &mut surfaces);

    let bodies = bodies::of(scene, &surfaces, panels);
    let volume = shell::volume(scene) - bodies.iter().map(|body| body.solid.volume).sum::<f64>();
    debug_assert!(volume > 0.0, "a checked scene has air in it");
    let mut room = Room {
        surfaces,
        finishes: Vec::new(),
        volume,
        sources: emitters(scene),
        receivers: receivers(scene),
        medium: finishes::medium(scene),
        solids: bodies.iter().map(|body| body.solid.clone()).collect(),
        contacts: Vec::new(),
        bodies: panels,
        takes_patches: !scene.stock.is_empty() || !scene.panels.is_empty(),
        is_shell_convex: Polygon::new(scene.outline.clone()).is_convex(),
        patches: Arc::new(PatchGrid::new(&[], scene.settings.patch_m)),
    };
    bodies::add(&mut room, bodies, &mut palette);
    room.finishes = palette.finishes;
    room.patches = Arc::new(PatchGrid::new(&room.surfaces, scene.settings.patch_m));
    room
}

fn emitters(scene: &Scene) -> Vec<Emitter> {
    let emitter = |source: &crate::scene::Source| Emitter {
        name: source.name.clone(),
        kind: source.kind,
        position: source.position,
        aim: source.aim,
        directivity: source.directivity,
    };
    scene.sources.iter().map(emitter).collect()
}

fn receivers(scene: &Scene) -> Vec<Receiver> {
    let seats = scene.seats.iter().map(|seat| Receiver {
        name: seat.name.clone(),
        position: seat.ear,
        facing: seat.facing,
        zone_radius: Some(seat.zone_radius),
        pattern: Pattern { omni: 1.0 },
    });
    let microphones = scene.microphones.iter().map(|microphone| Receiver {
        name: microphone.name.clone(),
        position: microphone.position,
        facing: microphone.aim,
        zone_radius: None,
        pattern: microphone.pattern,
    });
    seats.chain(microphones).collect()
}
