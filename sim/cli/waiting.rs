//! Waiting: a progress bar on standard error for whatever takes longer than a second, and Ctrl-C.
//!
//! The computation knows nothing of either: it counts steps into a `Progress`, which is polled here.

use std::io::{self, IsTerminal as _};
use std::process::exit;
use std::sync::Mutex;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use roomwright::progress::{Cancelled, Progress};

use super::say;

/// How long a computation may take before a bar appears.
const PATIENCE: Duration = Duration::from_secs(1);
/// What is said when a computation is to end with what it has.
const ENDING: &str = "finishing with the best plan so far; once more to stop";
/// What is said when a computation was not waited for; files may have been put in place just before.
const STOPPED: &str = "stopped";
/// How often the bar looks.
const GLANCE: Duration = Duration::from_millis(100);

/// Held while files are put in place, so that no Ctrl-C ends the program between two of them.
static WRITING: Mutex<()> = Mutex::new(());

/// Runs `body`, which writes, without being interrupted.
pub(super) fn uninterrupted<T>(body: impl FnOnce() -> T) -> T {
    let _writing = WRITING.lock();
    body()
}

/// Runs `body`, shows how far it is, and lets Ctrl-C stop it, or end it with what it has where it offers that.
pub(super) fn wait<T: Send>(body: impl FnOnce(&Progress) -> Result<T, Cancelled> + Send) -> Result<T, Cancelled> {
    wait_and_write(|progress| {
        let result = body(progress);
        // A Ctrl-C that came after the last step still means: do not write.
        progress.step(0)?;
        result
    })
}

/// The same of one that also writes: what stands in its place at the end was not stopped.
pub(super) fn wait_and_write<T: Send, E: Send>(body: impl FnOnce(&Progress) -> Result<T, E> + Send) -> Result<T, E> {
    let progress = Progress::new();
    stop_on_interrupt(&progress);
    if io::stderr().is_terminal() { with_bar(&progress, body) } else { body(&progress) }
}

/// Where there is something to end with the first Ctrl-C asks for that. The next, or the first where there is nothing, asks the computation to stop at its next step; one more does not wait
/// for it, only for files being written.
fn stop_on_interrupt(progress: &Progress) {
    let progress = progress.clone();
    let handler = ctrlc::set_handler(move || {
        if progress.step(0).is_err() {
            let _writing = WRITING.lock();
            say(STOPPED);
            exit(2);
        }
        if !progress.is_enough() && progress.enough() {
            // The bar stands on a line of its own.
            let line_end = if io::stderr().is_terminal() { "\n" } else { "" };
            say(&format!("{line_end}{ENDING}"));
            return;
        }
        progress.cancel();
    });
    // Without a handler Ctrl-C ends the program the usual way, which is just as safe: files are renamed into place only when whole.
    drop(handler);
}

/// The body on this thread (and its pool), the bar on another.
fn with_bar<T: Send, E: Send>(progress: &Progress, body: impl FnOnce(&Progress) -> Result<T, E> + Send) -> Result<T, E> {
    std::thread::scope(|scope| {
        let (done, over) = mpsc::channel::<()>();
        let shown = progress.clone();
        scope.spawn(move || show(&shown, &over));
        let result = body(progress);
        drop(done);
        result
    })
}

fn show(progress: &Progress, over: &mpsc::Receiver<()>) {
    if over.recv_timeout(PATIENCE) != Err(RecvTimeoutError::Timeout) {
        return;
    }
    let bar = ProgressBar::with_draw_target(Some(1), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{msg:28} [{bar:40}] {percent:>3}%") {
        bar.set_style(style.progress_chars("=> "));
    }
    loop {
        let (stage, done, total) = progress.state();
        bar.set_message(stage);
        bar.set_length(total.max(1));
        bar.set_position(done.min(total));
        if over.recv_timeout(GLANCE) != Err(RecvTimeoutError::Timeout) {
            break;
        }
    }
    bar.finish_and_clear();
}
