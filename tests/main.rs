//! The one test binary. This file is its table of contents: a `mod` line and a comment for each topic, in the order of the line.

mod support; // what the tests share: scenes, folders, the program, threads
mod tidy; // house rules: layers, invariants, headers, top level, documents

mod geometry; // plane geometry: areas, containment, cuts, overlaps, triangles
mod room; // the room built from a scene: charts, facets, volume, bodies, contacts
mod images; // specular arrivals: closed forms, a search without pruning, symmetries
mod rays; // traced rays: exact decay rates, energy balance, the classes of path
mod flutter; // flutter between facing surfaces: closed forms, what is bare, where to clap
mod targets; // targets of each use, verdicts and ranges; likeness of left and right
mod layout; // where panels may hang, tidy rows, the rules of thumb
mod report; // pages, drawings, pictures
mod text; // text pages of survey, hear and place
mod files; // read whole, all or nothing, edits kept, failures at every step
mod cli; // the program as it is run: output, diagnostics, exit codes, nothing written on errors

mod determinism; // same scene and seed: same bytes whatever the number of threads
mod schema; // the JSON: its committed schema, real output against it, units in its keys
mod validation; // the public evidence: published values and closed forms
