//! Table of contents of the tests.

mod geometry; // plane geometry: areas, containment, cuts, overlaps, triangles
mod validation; // the public evidence: published values and closed forms
