//! Table of contents of the tests.

/// Plane geometry: areas, containment, cuts, overlaps, triangles.
mod geometry;
/// The room built from a scene: charts, facets, volume, bodies, contacts.
mod room;
/// Pages, drawings, pictures.
mod report;
/// The public evidence: published values and closed forms.
mod validation;
