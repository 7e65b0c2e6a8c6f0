//! What the first sound does to the tone: level over frequency at each ear or at the microphone, before and after in one frame.
//!
//! *Limits.* Below Schroeder's frequency, shaded, and after the window other sound fills what is drawn here.

use glam::DVec2;

use crate::bands::Band;
use crate::findings::{BoundaryDip, EarlyResponse, Pair};

use super::axis::Marks;
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Drawing, Lettering, Look, number};

/// Levels drawn, dB re direct.
const LEVELS: Marks = Marks { low: -30.0, high: 20.0, step: 10.0 };

/// Height of one frame with its numbers, mm.
const FRAME: f64 = 62.0;

/// The early response of one source at one receiver; `after` is drawn dark over a pale `before`.
#[must_use]
pub fn early_response(before: &Pair, after: Option<&Pair>, window_ms: f64, schroeder_hz: f64) -> String {
    let ears = before.early_responses.len();
    let mut page = Drawing::new(200.0, 18.0 + FRAME * ears.max(1) as f64, paper::CARD);
    let what = if after.is_some() { "; pale: as it stands, dark: with the plan" } else { "" };
    let head = format!("{} at {}: the tone of the first sound", before.source, before.receiver);
    let line = format!("first {} ms summed with their phases, dB re direct sound, by frequency in Hz{what}", number(window_ms));
    plot::title(&mut page, &head, &line);
    for (index, ear) in before.early_responses.iter().enumerate() {
        let top = 22.0 + FRAME * index as f64;
        let frame = Plot {
            area: super::svg::Area::new(20.0, top, 170.0, FRAME - 18.0),
            x: Marks { low: 0.0, high: Band::ALL.len() as f64, step: 1.0 },
            y: LEVELS,
        };
        axes(&mut page, &frame, &ear.at, schroeder_hz);
        let later = after.and_then(|after| after.early_responses.get(index));
        curve(&mut page, &frame, ear, if later.is_some() { paper::PALE } else { paper::INK });
        if let Some(later) = later {
            curve(&mut page, &frame, later, paper::INK);
        }
        dips(&mut page, &frame, &later.unwrap_or(ear).boundary_dips);
        frame.draw_base(&mut page);
    }
    page.finish()
}

/// Octaves from the lower end of the lowest octave up to a frequency in Hz.
#[must_use]
pub fn place(frequency: f64) -> f64 {
    let [first, last] = [Band::ALL[0].lower(), Band::ALL[Band::ALL.len() - 1].upper()];
    Band::ALL.len() as f64 * (frequency / first).ln() / (last / first).ln()
}

/// The inverse of that, Hz.
#[must_use]
pub fn frequency(place: f64) -> f64 {
    let [first, last] = [Band::ALL[0].lower(), Band::ALL[Band::ALL.len() - 1].upper()];
    first * (last / first).powf(place / Band::ALL.len() as f64)
}

fn axes(page: &mut Drawing, frame: &Plot, name: &str, schroeder_hz: f64) {
    let waves = place(schroeder_hz).clamp(0.0, frame.x.high);
    page.rect(frame.box_between((0.0, frame.y.low), (waves, frame.y.high)), Look::fill(paper::LINE).opacity(0.4));
    frame.draw_y(page, "dB re direct");
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    for band in Band::ALL {
        let at = frame.at(place(band.center()), frame.y.low);
        page.line(at, at + DVec2::new(0.0, 1.0), Look::line(paper::INK, 0.2));
        page.text(at + DVec2::new(0.0, 3.9), &band.nominal().to_string(), letters);
    }
    let under = DVec2::new(frame.area.middle().x, frame.area.high.y + 8.0);
    page.text(under, "Hz", Lettering::new(paper::SMALL, paper::QUIET).middle());
    page.line(frame.at(0.0, 0.0), frame.at(frame.x.high, 0.0), Look::line(paper::SOFT, 0.25));
    page.text(frame.area.low + DVec2::new(0.0, -1.4), name, Lettering::new(paper::SMALL, paper::INK).bold());
    if waves > 1.0 {
        page.text(frame.at(0.0, frame.y.high) + DVec2::new(1.0, 3.2), "waves rule here", Lettering::new(2.2, paper::QUIET));
    }
}

fn curve(page: &mut Drawing, frame: &Plot, ear: &EarlyResponse, color: paper::Color) {
    let points: Vec<DVec2> =
        ear.frequency_hz.iter().zip(&ear.level_db).map(|(&frequency, &level)| frame.at(place(frequency), level)).collect();
    page.polyline(&points, Look::line(color, 0.4));
}

/// Names at the dips of walls, floor and ceiling, at the foot of the frame.
fn dips(page: &mut Drawing, frame: &Plot, dips: &[BoundaryDip]) {
    for dip in dips {
        let (foot, at) = (frame.at(place(dip.frequency_hz), frame.y.low), frame.at(place(dip.frequency_hz), dip.level_db));
        page.line(foot, at, Look::line(paper::ACCENT, 0.2).dashed(1.0, 0.8));
        page.circle(at, 0.7, Look::fill(paper::CARD).edged(paper::ACCENT, 0.3));
        let text = format!("{}, {:.0} Hz", dip.surface, dip.frequency_hz);
        let letters = Lettering::new(2.2, paper::ACCENT).rim(paper::CARD);
        let places = [1.6, 4.4, 7.2, 10.0, 12.8, 15.6, 18.4].map(|up| foot + DVec2::new(0.8, -up));
        page.text_where_free(&places, &text, letters);
    }
}
