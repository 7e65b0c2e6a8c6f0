//! Table of contents of the tests.

/// Plane geometry: areas, containment, cuts, overlaps, triangles.
mod geometry;
/// The room built from a scene: charts, facets, volume, bodies, contacts.
mod room;
/// Flutter between facing surfaces: closed forms, what is bare, where to clap.
mod flutter;
/// Targets of each use, verdicts and ranges; likeness of left and right.
mod targets;
/// Pages, drawings, pictures.
mod report;
/// The public evidence: published values and closed forms.
mod validation;
