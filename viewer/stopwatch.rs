//! How long it takes from the start of the program until the room, and then the first findings, are on screen; and the memory at most.
//!
//! A moment counts when the frame that was the first to have the thing has been handed to the screen, with every pipeline built that it is
//! drawn with. With `--timing` the times are printed once findings are on screen, and the window closes.
//!
//! *Limits.* The clock starts in `main`: what the system needs to load the program (some milliseconds) is not in it. The memory is what
//! Linux says of the process; elsewhere none is told.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::render::render_resource::PipelineCache;
use bevy::render::{Extract, ExtractSchedule, Render, RenderApp, RenderSystems};

use crate::results::Results;

/// When the program began.
static START: OnceLock<Instant> = OnceLock::new();

/// Microseconds after the start; 0 while it has not come.
static ROOM: AtomicU64 = AtomicU64::new(0);
static FINDINGS: AtomicU64 = AtomicU64::new(0);
/// Whether the frame that is being drawn has them.
static HAS_ROOM: AtomicBool = AtomicBool::new(false);
static HAS_FINDINGS: AtomicBool = AtomicBool::new(false);

/// Starts the clock.
#[expect(clippy::disallowed_methods, reason = "it says how long the program takes; no result depends on it")]
pub(crate) fn start() {
    START.get_or_init(Instant::now);
}

fn moment(slot: &AtomicU64) -> Option<Duration> {
    Some(slot.load(Ordering::Relaxed)).filter(|&micros| micros > 0).map(Duration::from_micros)
}

fn stop(slot: &AtomicU64, has: &AtomicBool) {
    if has.load(Ordering::Relaxed) && slot.load(Ordering::Relaxed) == 0 {
        let since = START.get().map_or(0, |start| start.elapsed().as_micros() as u64);
        slot.store(since.max(1), Ordering::Relaxed);
    }
}

/// From the start to the first picture of the room.
pub(crate) fn first_picture() -> Option<Duration> {
    moment(&ROOM)
}

/// From the start to the first findings on screen.
pub(crate) fn first_findings() -> Option<Duration> {
    moment(&FINDINGS)
}

/// The memory of this process at most so far, bytes.
pub(crate) fn memory_peak() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<u64>().ok().map(|kilobytes| kilobytes * 1024)
}

/// The times as one sentence each.
pub(crate) fn report() -> String {
    let seconds = |moment: Option<Duration>| moment.map_or_else(|| "not yet".to_owned(), |moment| format!("{:.2} s", moment.as_secs_f64()));
    let memory = memory_peak().map_or_else(|| "not known".to_owned(), |bytes| format!("{:.0} MB", bytes as f64 / 1e6));
    let (picture, findings) = (seconds(first_picture()), seconds(first_findings()));
    format!("first picture after {picture}\nfirst findings after {findings}\nmemory at most {memory}")
}

/// Watches what is drawn.
pub(crate) struct StopwatchPlugin;

impl Plugin for StopwatchPlugin {
    fn build(&self, app: &mut App) {
        if let Some(render) = app.get_sub_app_mut(RenderApp) {
            render.add_systems(ExtractSchedule, begin).add_systems(Render, end.in_set(RenderSystems::Cleanup));
        }
    }
}

/// What the frame that is going to be drawn has.
fn begin(results: Extract<Res<Results>>) {
    HAS_ROOM.store(results.room.is_some(), Ordering::Relaxed);
    HAS_FINDINGS.store(results.findings.is_some(), Ordering::Relaxed);
}

/// What it had, once it is drawn whole.
fn end(pipelines: Res<PipelineCache>) {
    if pipelines.pipelines().next().is_some() && pipelines.waiting_pipelines().next().is_none() {
        stop(&ROOM, &HAS_ROOM);
        stop(&FINDINGS, &HAS_FINDINGS);
    }
}
