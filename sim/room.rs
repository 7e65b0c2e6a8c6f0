//! The room: every surface as a polygon on a chart with its finish, built once from a checked scene and never edited.

use glam::DVec3;

use crate::absorbers::Finish;
use crate::air::Medium;
use crate::bands::Bands;
use crate::directivity::{Directivity, Pattern};
use crate::geometry::{Chart, Polygon};
use crate::scene::SourceKind;

/// The room as the solvers see it.
#[derive(Clone, Debug)]
pub struct Room {
    /// Walls in outline order, then the floor, then ceiling facets, then faces of bodies.
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
}

impl Role {
    /// Whether it is part of the room's shell.
    #[must_use]
    pub fn is_shell(self) -> bool {
        matches!(self, Self::Wall(_) | Self::Floor | Self::Ceiling(_))
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
