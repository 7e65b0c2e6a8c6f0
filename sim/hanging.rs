//! What hangs flat on the surfaces: the only thing that a trial changes.

use crate::absorbers::Finish;
use crate::geometry::Polygon;

/// Flush panels, as regions on the charts of surfaces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hanging {
    /// Finishes that the patches point to.
    pub finishes: Vec<Finish>,
    /// The panels.
    pub patches: Vec<Patch>,
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
