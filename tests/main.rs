//! Table of contents of the tests.

mod geometry; // plane geometry: areas, containment, cuts, overlaps, triangles
mod images; // specular arrivals: closed forms, a search without pruning, symmetries
mod room; // the room built from a scene: charts, facets, volume, bodies, contacts
mod survey; // sizes, areas, treated share, Schroeder's frequency, axial modes
mod scene; // broken scenes and all that is wrong with them
mod scenes; // the scenes of the repository, the starter and the reference: read, print, read again
mod units; // lengths, levels: reading and printing
mod validation; // the public evidence: published values and closed forms
