//! Table of contents of the one bench binary: throughput in the units of the job, on scenes of `scenes/`.
//!
//! `cargo bench` runs everything but `convergence` (a few minutes on two cores); `cargo bench -- reweigh` whatever has that word in its name. Where a bench
//! counts, its name says in brackets what criterion calls an element. Figures go to `benches/RESULTS.md` by hand, with machine and commit.
//!
//! *Limits.* Times are wall-clock: on a busy machine they are upper bounds. Whole commands print processor time beside it.

mod absorbers; // build-ups and table rows -> finishes by angle
mod attic; // the room that all figures are for: bare, hung, furnished
mod convergence; // what aimed rays save, by more and more of them: only when asked for by name
mod convolve; // half a minute of stereo through a response of two seconds, whole and live
mod crowd; // ten thousand triangles: read, built, traced, heard
#[path = "../viewer/crowd.rs"]
mod crowd_scene; // the hall of boxes that the viewer is timed with
mod drag; // a panel dragged: text, room and early window, from the command to the findings
mod gain; // what a second thread brings, beside what it brings the peer, and what more rays cost
mod images; // mirror sources to third order, bare and furnished
mod kernel; // closest hits in rooms of more and more triangles
mod maps; // where absorber earns: early level, decay, clarity
mod peer_program; // the ray kernel that ours is timed beside
mod place; // whole commands as a person runs them, the search for places and its candidates
mod rays; // rays and bounces traced, bytes stored
mod reweigh; // a flush panel moved: early window, everything
mod survey; // reading, checking and measuring a scene
mod wave; // steps of the wave solver beside the memory stream

use criterion::Criterion;

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    survey::benches(&mut criterion);
    absorbers::benches(&mut criterion);
    images::benches(&mut criterion);
    kernel::benches(&mut criterion);
    gain::benches(&mut criterion);
    rays::benches(&mut criterion);
    convergence::benches(&mut criterion);
    reweigh::benches(&mut criterion);
    maps::benches(&mut criterion);
    drag::benches(&mut criterion);
    crowd::benches(&mut criterion);
    wave::benches(&mut criterion);
    convolve::benches(&mut criterion);
    place::benches(&mut criterion);
    place::searches();
    place::commands();
    criterion.final_summary();
}
