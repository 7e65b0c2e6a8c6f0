//! The one test binary. This file is its table of contents: a comment and a `mod` line for each topic.

// What the tests share: scenes, folders, the program, threads.
mod support;

// House rules: layers, invariants, headers, top level, documents.
mod tidy;

// Files: read whole, all or nothing, edits kept, failures at every step.
mod files;

// The program as it is run: output, diagnostics, exit codes, nothing written on errors.
mod cli;

// Same scene and seed: same bytes whatever the number of threads.
mod determinism;

// The JSON: its committed schema, real output against it, units in its keys.
mod schema;

// Plane geometry: areas, containment, cuts, overlaps, triangles.
mod geometry;

// The room built from a scene: charts, facets, volume, bodies, contacts.
mod room;

// Flutter between facing surfaces: closed forms, what is bare, where to clap.
mod flutter;

// Targets of each use, verdicts and ranges; likeness of left and right.
mod targets;
mod scene; // broken scenes and all that is wrong with them
mod scenes; // the scenes of the repository, the starter and the reference: read, print, read again
mod units; // lengths, levels: reading and printing
mod validation; // the public evidence: published values and closed forms

// Pages, drawings, pictures.
mod report;
