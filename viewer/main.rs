//! The viewer: the room on screen, live. Arguments -> window -> exit code (0 closed, 2 it could not run).
//!
//! ```text
//! panels, stage ─Command→ session ─edit→ Document ─read→ Scene ─compute→ Results ─drawn by→ panels, stage
//! ```
//!
//! Panels and stage read three resources - [`Document`](document::Document), [`View`](view::View), [`Results`](results::Results) - and
//! send [`Command`](command::Command)s; one system applies these. The scene text is the only saved state, and every number on screen is a
//! field of a result of `roomwright::study`: there are no acoustics here.
//!
//! # Modules in reading order
//! `layouts` the text that is shown and the other one; `document` the text, its undo and redo; `view` what is chosen; `comparison` absorbers side by side; `low_end` the low end as it is looked at; `results` what is known; `arrival` the early arrivals in it; `command` all a user can do; `reason` why one is refused; `lesson` a lesson as two layouts, and two layouts side by side; `edits` those that edit the text; `errand` studies that are asked for; `recordings` those of the room, as they are listed; `proving` what they say beside the scene; `compute` studies
//! in the background; `recovery` what a crash leaves; `take` what an errand found, into the text; `marks` where is drilled, `sheets` the files to print, `pages` those of recordings, `reporting` the whole job in one document; `shelf` scene files at hand; `session` the system that joins them; `sound` what is listened to; `start` the program; `stopwatch`, `headless`, `crowd`, `bench` what it is asked on the command line; `stage` the room in three dimensions; `ui` the
//! panels.

#![expect(
    elided_lifetimes_in_paths,
    clippy::needless_pass_by_value,
    reason = "a system names its resources as parameters; the borrow is the schedule's"
)]

mod arrival;
mod bench;
#[cfg(test)]
mod box_tests;
mod command;
mod comparison;
mod compute;
mod crowd;
mod document;
mod edits;
mod errand;
mod headless;
mod layouts;
mod lesson;
mod low_end;
mod marks;
mod pages;
mod proving;
mod reason;
mod recordings;
mod recovery;
mod reporting;
mod results;
mod session;
mod sheets;
mod shelf;
#[cfg_attr(not(feature = "sound"), expect(dead_code, reason = "a build without sound output has nobody who plays"))]
mod sound;
mod stage;
mod start;
mod stopwatch;
mod take;
#[cfg(test)]
mod test_disk;
mod ui;
mod view;

use std::process::ExitCode;

fn main() -> ExitCode {
    stopwatch::start();
    start::run()
}
