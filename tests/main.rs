//! Table of contents of the tests.

/// Plane geometry: areas, containment, cuts, overlaps, triangles.
mod geometry;
/// Flutter between facing surfaces: closed forms, what is bare, where to clap.
mod flutter;
/// Targets of each use, verdicts and ranges; likeness of left and right.
mod targets;
/// Pages, drawings, pictures.
mod report;
