//! The test signal: what it is, how to play it without harm, how to record it.

use super::columns::Page;
use super::figures::number;
use crate::study::sweep::TestSignal;

/// What full scale stands for.
#[must_use]
pub fn level(signal: &TestSignal) -> String {
    format!("peak {} dB re full scale", number(signal.level_db, 1))
}

/// What it is.
fn what(signal: &TestSignal) -> String {
    let (times, each) = match signal.repeats {
        1 => ("once".to_owned(), "it"),
        repeats => (format!("{repeats} times"), "each"),
    };
    format!(
        "{} Hz to {} Hz in {} s, {times} with {} s of silence after {each}: {} s in all, {}, {} samples a second.",
        number(signal.low_hz, 0),
        number(signal.high_hz, 0),
        number(signal.length_s, 1),
        number(signal.silence_s, 1),
        number(signal.whole_s, 0),
        level(signal),
        number(signal.rate_hz, 0)
    )
}

/// The page.
#[must_use]
pub fn print(signal: &TestSignal) -> String {
    let mut page = Page::new("Sweep: the signal that a room is measured with");
    page.paragraph(&what(signal));
    page.section("Before it sounds");
    for caution in &signal.cautions {
        page.hanging("-", caution);
    }
    page.section("How to record it");
    for (index, step) in signal.steps.iter().enumerate() {
        page.hanging(&format!("{}.", index + 1), step);
    }
    page.section("What was written");
    page.hanging("-", "sweep.wav is what to play.");
    page.hanging(
        "-",
        "sweep-inverse.wav undoes one sweep by convolution, for whoever wants to see the response elsewhere; prove does not need it.",
    );
    page.finish()
}
