//! Table of contents of the tests.

mod absorbers; // the command `absorbers`: list, search, build-ups as typed, samples side by side, page and chart
mod arrivals; // the direct sound and what edges bend, one by one: where the way bends, what makes the level, what hides what
mod awkward; // on walls, edges, corners and in panels: refused, or one answer, the same from either end
mod bass; // the low end as it is told: modes and decays of a box in closed form, corner stacks, what cannot be computed, threads, pages
mod bass_corners; // corners ranked by two fields: first order against fresh runs, order and signs in a small basement, one after the other
mod bass_fields; // the low end all over the room and over time: shapes, pressures, a lone mode dying away, boxes counted by hand, pictures
mod bass_refused; // rooms with a hole, whatever its place and size; things smaller than a cell, and what smaller cells would cost
mod bass_slice; // slices of the low end's field: cells on places and between them, in air alone; what a study takes, told beforehand
mod build_up; // what panels are made of: read, printed, edited, computed, told
mod choice; // types of panel that exclude one another: which is hung, by what rule, the reasons on every page
mod classes; // every path belongs to one class: nothing depends on the order of the images, octaves decay as alone
mod cli; // the program as it is run: output, diagnostics, exit codes, nothing written on errors
mod cliff; // decays that end at once, and a response of the program's own through a sweep: read as if nothing had happened
mod cloud; // clouds tilted and of several panels: corners, body, counts, edits, refusals, sheets
mod cloud_study; // how high a cloud hangs: zones, shadows, parts of the early level, what does not fit, threads, pages
mod compare; // scenes side by side: what differs in texts and figures, threads, the command and its page
mod completeness; // no specular path missed or made up: random rooms against every sequence, large ones against two other searches
mod coupled; // two rooms with an opening between them: both rates of decay
mod cutting; // cutting plans: sheets, roll and lengths against instances whose least is known by how they were made
mod determinism; // same scene and seed: same bytes whatever the number of threads
mod dsp; // signals: convolution against sums and transforms in f64; sines at another rate
mod early_response; // the first sound summed with its phases: closed form of a box, no jump where images end, what makes a level
mod edges; // sound bent round edges: exact half-planes, a rigid plate by boundary elements, what a room's edges are and who sees them
mod edit; // changes of a scene text: what was meant and nothing else
mod engine; // the engine against itself and closed forms: derivative, hot spots, re-weighing, free path, image orders
mod enough; // a plan stopped by hand: legal, told as such; what is cancelled all the same
mod exhaustive; // the search beside all layouts that there are
mod explain; // the plan panel by panel: earned alone and last, against layouts weighed apart; the curve, the order, the words
mod files; // read whole, all or nothing, edits kept, failures at every step
mod fit; // materials fitted to measured decays: posteriors in closed form, polynomials beside weighings, how often intervals hold, what cannot be told apart, the variant, the command
mod fixings; // fixing points of a panel: counts, insets, spacings, members, a user's own rule
mod flutter; // flutter between facing surfaces: closed forms, what is bare, where to clap
mod footing; // what a ray's bounce stands for: middle, spread and the whole are kept on any outline
mod fresnel; // zones of a ceiling's bounce and what a cloud hides of them, against closed forms
mod gaps; // several gaps of one type: read, chosen panel by panel, told on every page
mod geometry; // plane geometry: areas, containment, cuts, overlaps, triangles
mod handout; // the report: nothing lost, nothing needed beside it, gaps in their place, the room as data, the command
mod head; // a measured head: the sphere out of its own filters, Woodworth's delays, level, time zero, low octaves, what makes no head
mod images; // specular arrivals: closed forms, every sequence in rooms that are named, symmetries
mod impulse; // the impulse response as samples: delays, octaves that add up, levels of noise and pulse, pairs in a diffuse field, waves beside images, figures read back
mod inputs; // what materials and tape may move a decay time by: closed forms, a second weighing
mod invented; // a scene, findings and a plan that were never computed, for pages
pub(crate) mod join; // low and high joined: energies across the crossover, octaves of known records, exact sums and patterns of walls, findings and plans with waves
mod landing; // energy that lands on surfaces: solid angles, time of flight, the sum of all bounces
mod layout; // where panels may hang, tidy rows, the rules of thumb
mod leaving; // which way rays leave a source: means over the sphere, beams, walls that face each other
mod lessons; // lessons: texts and what is changed in them, by hand beside the program, what each claims, the command
mod listen; // what it sounds like: a rigid sphere by sums computed elsewhere, pickups, dry sounds
mod live; // the early window of one layout after the other, against the same weighed whole
mod long_sounds; // an hour of sound: read, played and written in pieces of one size, stopped on the way, gone on the way
mod loudness; // how loud a sound is: sines and gated sequences of the standards, versions made comparable, in pieces and of parts
mod margins; // what flat panels draw in round them: the total on a wall, in a corner, beside doors; images and differences
mod measured; // from a recording to figures: band filters against their standard, decays and clarity in closed form, in noise, by bands, hints; sweeps through known rooms
mod measures; // things and ceilings by typed measures: the keys that are meant and nothing else
mod mesh; // rooms from triangles: what is mended, what is refused, the same findings as from a scene
mod owned; // what hangs already, what money buys, where nothing may be drilled; what cannot be done is said
mod plan; // plans of the shipped scenes: legal, within the stock, better than bare
mod playing; // sounds through responses, whole and in blocks; versions in turns
mod positions; // where seat and loudspeakers stand: mirrored places, image sources by hand, what does not fit, what moves along, threads, pages
mod positions_bass; // the low end of a set: modes of a box in closed form, the figures of the floor, beside the score, threads, pages
mod prove; // measured beside predicted: scatter of a place, reflections that stand out, matched, missing, new; what is refused; the two commands
mod rays; // rooms for tests of the traced rays; free paths; the Lambertian cube and sphere
mod reciprocity; // from A to B is from B to A: lengths, ways, energies; 500 boxes in closed form
mod report; // pages, drawings, pictures
mod room; // the room built from a scene: charts, facets, volume, bodies, contacts
mod rounds; // more rays, round after round: joined, replayed, stopped when sure; the length of the record
mod scene; // broken scenes and all that is wrong with them
mod scenes; // the scenes of the repository, the starter and the reference: read, print, read again
mod schema; // the JSON: its committed schema, real output against it, units in its keys
mod score; // what is wrong with a layout in steps: against the findings, by hand, weights, what rings
mod score_bass; // bass in the score: corner stacks in a hard box by hand, nothing without waves, what layouts rest on, threads
mod sensitivity; // how early level, clarity and decay change with every patch: differences, octaves, all in one pass
mod sheets; // the printed pages of a build: nothing on anything, true to size, lists that read back
mod shoebox; // a box with walls that give way, exactly: pressures, damped modes, images, and as cells have it
mod sized; // panels of finite size: shapes, limits, arrays, samples, boundary elements, how rays carry it
#[cfg(feature = "sofa")]
mod sofa; // measured heads out of files: one of another program, what is damaged, of another kind, or no head
mod sound; // what it sounds like: a predicted response through a sweep and back, bare beside what hangs, files, what is refused
mod statics; // what each of several wires bears: equilibrium of forces and moments, one lost
mod support; // what the tests share: scenes, folders, the program, threads
mod survey; // sizes, areas, treated share, Schroeder's frequency, axial modes
mod suspended; // what hangs open on both sides: where power goes, ceilings behind, faces, figures; rules of scattering
mod suspension; // clouds on wires: lengths, loads, strengths, what speaks against hanging them
mod targets;
mod text;
mod tidy; // house rules: layers, invariants, headers, top level, documents
mod units; // lengths, levels: reading and printing
mod validation; // the public evidence: published values and closed forms, and how often the intervals hold
mod variance; // how much a traced ray tells: links and crossings against plain crossings, in the mean and in their variance
mod variants; // decays in several states at once: each as weighed alone; what a panel earns of the decay
mod voice; // a voice before and after: shares of known rooms, what recorders do, the command line
mod watertight; // no ray slips through a closed surface, however it is cut into pieces
mod wav; // WAV files against another writer and reader, the chunk of broadcasters, pieces, broken ones by the thousand
mod wave; // the low end: cells cut by surfaces, against volumes and areas in closed form; steps against energy
mod wave_adjoint; // what fiber changes to first order, in a duct: transfer matrices of a layer, a cavity behind it, beside what hangs
mod wave_energy; // whatever the room, its walls and its fiber: no energy is ever made
mod wave_fiber; // fiber as a volume: a tube with a layer against exact complex modes on any grid, volumes, energy
mod wave_modes; // modes out of what was heard: sums of known modes, several sources, solver's rooms against closed forms
mod wave_response; // what is heard re free field: a box with soft walls exactly, image sources, free field, places between cells, lattices, what a run takes
mod wave_walls; // walls of the wave solver: rows, panels and boards as passive branches, ensembles of them, modes of a box that decay
mod wavefront; // the wavefront as curves: length of the way, circles, shadows, what it leaves out
mod workshop; // from plan to workshop: every dimension derived anew over random walls, what cannot be made or hung, costs, evenings
