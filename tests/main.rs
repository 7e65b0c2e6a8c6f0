//! Table of contents of the tests.

mod geometry; // plane geometry: areas, containment, cuts, overlaps, triangles
mod layout; // where panels may hang, tidy rows, the rules of thumb
mod room; // the room built from a scene: charts, facets, volume, bodies, contacts
mod validation; // the public evidence: published values and closed forms
