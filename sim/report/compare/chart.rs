//! Versions of a room in one frame: how long each rings, octave by octave, and what arrives when in each.
//!
//! A version is told by its letter, its line (solid, dashed, dotted) and its shade; nothing hangs on hue alone. Marks of an octave are set aside
//! from its middle so that whiskers stand beside each other; hollow ones are a statistical reading, judged by nothing.
//!
//! *Limits.* Lines between octaves join them and say nothing about what lies between. Arrivals are those of the first pair that a version has.

use glam::DVec2;

use crate::bands::Band;
use crate::findings::Estimate;
use crate::report::absorption::LINES;
use crate::report::axis::Marks;
use crate::report::chart::{CRITERION_DB, whisker};
use crate::report::paper;
use crate::report::plot::{self, Plot};
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::text::compare::letter;
use crate::study::compare::{Comparison, Kind};

/// How much of what arrives is shown, ms.
const SHOWN_MS: f64 = 60.0;
/// Lowest level shown, dB.
const LOWEST_DB: f64 = -50.0;
/// Height of a frame of arrivals, mm, and from one to the next.
const STRIP: [f64; 2] = [26.0, 35.0];

/// Decay time by octave, a line for each version.
#[must_use]
pub fn decays(comparison: &Comparison) -> String {
    let mut page = Drawing::new(190.0, 100.0 + 4.6 * comparison.versions.len() as f64, paper::CARD);
    plot::title(
        &mut page,
        "How long it rings",
        "T30 (or T20) by octave, mean over all pairs; whiskers: error of the tracing; hollow: statistical, judged by nothing",
    );
    let figures: Vec<_> = comparison.figures.iter().filter(|figure| figure.kind == Kind::Decay).collect();
    let ends = |value: Estimate| value.value + whisker(value);
    let highest = figures.iter().flat_map(|figure| figure.cells.iter().filter_map(|cell| cell.value)).map(ends).fold(0.1, f64::max);
    let frame = Plot {
        area: Area::new(20.0, 20.0, 162.0, 60.0),
        x: Marks { low: 0.0, high: 8.0, step: 1.0 },
        y: Marks::round(0.0, 1.06 * highest, 6),
    };
    frame.draw_y(&mut page, "seconds");
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    for band in Band::ALL {
        page.text(frame.at(band.index() as f64 + 0.5, 0.0) + DVec2::new(0.0, 4.0), band.label(), letters);
    }
    page.text(
        DVec2::new(frame.area.middle().x, frame.area.high.y + 8.0),
        "octave, Hz",
        Lettering::new(paper::SMALL, paper::QUIET).middle(),
    );
    let count = comparison.versions.len() as f64;
    for index in 0..comparison.versions.len() {
        let aside = (index as f64 - 0.5 * (count - 1.0)) * 0.09;
        let places: Vec<(DVec2, Estimate, bool)> = figures
            .iter()
            .filter_map(|figure| {
                let band = Band::ALL.into_iter().find(|band| Some(band.nominal()) == figure.frequency_hz)?;
                let value = figure.cells.get(index)?.value?;
                Some((frame.at(band.index() as f64 + 0.5 + aside, value.value), value, figure.statistical))
            })
            .collect();
        page.polyline(&places.iter().map(|(at, ..)| *at).collect::<Vec<_>>(), look(index, 0.4));
        for (at, value, is_statistical) in places {
            let half = frame.at(0.0, 0.0).y - frame.at(0.0, whisker(value)).y;
            page.line(at - DVec2::new(0.0, half), at + DVec2::new(0.0, half), Look::line(LINES[index % LINES.len()].0, 0.22));
            let inside = if is_statistical { paper::CARD } else { LINES[index % LINES.len()].0 };
            page.circle(at, 0.8, Look::fill(inside).edged(LINES[index % LINES.len()].0, 0.3));
        }
    }
    frame.draw_base(&mut page);
    legend(&mut page, DVec2::new(20.0, 94.0), comparison);
    page.finish()
}

/// What arrives, and when: a strip for each version.
#[must_use]
pub fn arrivals(comparison: &Comparison) -> String {
    let count = comparison.versions.len();
    let mut page = Drawing::new(190.0, 22.0 + STRIP[1] * count as f64 + 12.0, paper::CARD);
    let bin = comparison.versions.iter().find_map(|version| version.findings.pairs.first()).map_or(0.0, |pair| pair.energy_time.bin_ms);
    plot::title(
        &mut page,
        "What arrives, and when",
        &format!("energy in 1-8 kHz, dB re direct sound, in bins of {bin} ms; rings: early reflections"),
    );
    for (index, version) in comparison.versions.iter().enumerate() {
        let frame = Plot {
            area: Area::new(20.0, 24.0 + STRIP[1] * index as f64, 162.0, STRIP[0]),
            x: Marks { low: 0.0, high: SHOWN_MS, step: 10.0 },
            y: Marks { low: LOWEST_DB, high: 0.0, step: 10.0 },
        };
        frame.draw_y(&mut page, "dB");
        let limit = Look::line(paper::ACCENT, 0.25).dashed(1.6, 0.9);
        page.line(frame.at(0.0, CRITERION_DB), frame.at(SHOWN_MS, CRITERION_DB), limit);
        if let Some(pair) = version.findings.pairs.first() {
            let bin = pair.energy_time.bin_ms.max(1e-3);
            let levels = pair.energy_time.level_db.iter().enumerate().map(|(place, level)| (place as f64 * bin, *level));
            let shapes = levels.take_while(|(ms, _)| *ms < SHOWN_MS).filter(|(_, level)| *level > LOWEST_DB);
            let shape = |(ms, level): (f64, f64)| {
                let to = ms + 0.8 * bin;
                vec![frame.at(ms, LOWEST_DB), frame.at(to, LOWEST_DB), frame.at(to, level), frame.at(ms, level)]
            };
            page.cells(&shapes.map(shape).collect::<Vec<_>>(), Look::fill(paper::SOFT));
            for reflection in pair.reflections.iter().filter(|one| one.delay_ms < SHOWN_MS && one.level_db > LOWEST_DB) {
                let at = frame.at(reflection.delay_ms, reflection.level_db);
                page.circle(at, 0.8, Look::fill(paper::CARD).edged(paper::ACCENT, 0.3));
            }
        }
        frame.draw_base(&mut page);
        let bold = Lettering::new(paper::SMALL, paper::INK).bold().rim(paper::CARD);
        let head = format!("{}: {}", letter(index), version.name);
        page.text(DVec2::new(frame.area.low.x, frame.area.low.y - 1.4), &bold.fit(&head, 160.0), bold);
        if index + 1 == count {
            frame.draw_x(&mut page, "ms after the direct sound");
        }
    }
    page.finish()
}

/// The line of a version.
fn look(index: usize, width: f64) -> Look {
    let (color, [dash, gap]) = LINES[index % LINES.len()];
    Look::line(color, width).dashed(dash, gap)
}

/// Lines with the names of their versions, one below the other.
fn legend(page: &mut Drawing, at: DVec2, comparison: &Comparison) {
    let letters = Lettering::new(paper::SMALL, paper::INK);
    for (index, version) in comparison.versions.iter().enumerate() {
        let at = at + DVec2::new(0.0, 4.6 * index as f64);
        page.line(at - DVec2::new(0.0, 0.8), at + DVec2::new(14.0, -0.8), look(index, 0.5));
        page.text(at + DVec2::new(17.0, 0.0), &letters.fit(&format!("{}: {}", letter(index), version.name), 150.0), letters);
    }
}
