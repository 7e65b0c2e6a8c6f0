//! The part of the low end's page about panels across corners, and its chart: how far each place's prediction lies from its run, and what all that hang in the end change by third octave.
//!
//! A row for each place that was run, under its number in the tables: a ring where first order says, a dot where the run ended, a line from one to the other. Below, changes of level and of decay time at the
//! receiver, third octave by third octave, with all panels that were hung. All charts count what is taken away to the left or down.
//!
//! *References.* None of its own.
//!
//! *Limits.* As in `findings::bass::corners`. Places that were not run are in the tables alone. A third octave whose filter rings as long as the room has no decay, and its place is marked.

use glam::DVec2;

use super::axis::Marks;
use super::html::{list, table};
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look, escape};
use super::text::bass::hertz;
use super::text::bass_corners::{HEADING, blocks, named, scored, sure, what};
use super::text::figures::length;
use crate::findings::bass::BassCorners;
use crate::scene::Scene;

/// The section, with the chart's figure in it.
pub(super) fn section(scene: &Scene, corners: &BassCorners, figure: &str) -> String {
    let mut body = format!("<h2>{HEADING}</h2>\n<p class=\"quiet\">{}</p>\n{figure}", escape(&what(scene, corners)));
    for block in blocks(scene, corners) {
        // On pages it is columns of numbers that are marked, on terminals those of words.
        let heads: Vec<String> =
            block.heads.iter().map(|head| head.strip_prefix('<').map_or_else(|| format!("#{head}"), str::to_owned)).collect();
        let rows: Vec<Vec<String>> = block.rows.iter().map(|row| row.iter().map(|cell| escape(cell)).collect()).collect();
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        body += &format!("<p>{}</p>\n<div class=\"scroll\">{}</div>\n", escape(&block.title), table(&heads, &rows));
    }
    body + &list(&sure(scene, corners))
}

/// Left edge and width of the frame of places, mm; left of it stand their names.
const PLACES: [f64; 2] = [66.0, 96.0];
/// Top of it.
const TOP: f64 = 20.0;
/// From one place to the next, mm.
const ROW: f64 = 5.4;
/// Below a frame until the legend, or the next frame's heading.
const BELOW: f64 = 14.0;
/// Height of the frames of third octaves, their width, and left edges.
const THIRDS: [f64; 2] = [34.0, 62.0];
const LEFT: [f64; 2] = [22.0, 100.0];
/// Share of its place that a bar takes.
const BAR: f64 = 0.62;

/// The chart; nothing where no place was run.
pub(super) fn svg(scene: &Scene, corners: &BassCorners) -> Option<String> {
    let run: Vec<(String, [f64; 2])> = corners
        .candidates
        .iter()
        .enumerate()
        .filter_map(|(index, told)| Some((format!("{}  {}", index + 1, named(scene, &told.place)), [told.predicted_db, told.verified_db?])))
        .collect();
    if run.is_empty() {
        return None;
    }
    let bottom = TOP + ROW * run.len() as f64;
    let settled = corners.settled.as_ref();
    let more = if settled.is_some() { 13.0 + THIRDS[0] + BELOW } else { 0.0 };
    let mut page = Drawing::new(170.0, bottom + BELOW + 3.0 + more, paper::CARD);
    plot::title(
        &mut page,
        &format!("{}: panels across corners", scene.name),
        "what each takes from what rings, all who hear together; numbers as in the tables, heights over the floor",
    );
    places(&mut page, &run);
    if let Some(settled) = settled {
        let heading = Lettering::new(paper::SUBHEAD, paper::INK).bold();
        let hung: usize = corners.steps.iter().map(|step| step.place.bottoms_m.len()).sum();
        let panels = if hung == 1 { "panel that hangs".to_owned() } else { format!("{hung} panels that hang") };
        let line = format!("What the {panels} in the end change at {}, in cells of {}", corners.receiver, length(settled.cell_m, scene));
        page.text(DVec2::new(8.0, bottom + BELOW + 9.0), &heading.fit(&line, 154.0), heading);
        let thirds = scored(corners, &settled.change);
        let names: Vec<String> = thirds.iter().map(|third| hertz(third.band_hz)).collect();
        let levels: Vec<Option<f64>> = thirds.iter().map(|third| Some(third.level_change_db)).collect();
        let decays: Vec<Option<f64>> = thirds.iter().map(|third| third.decay_change_s).collect();
        let charts = [(levels, "change of level, dB"), (decays, "change of decay time, s")];
        for ((values, name), left) in charts.into_iter().filter(|(values, _)| values.iter().any(Option::is_some)).zip(LEFT) {
            bars(&mut page, Area::new(left, bottom + BELOW + 13.0, THIRDS[1], THIRDS[0]), name, &names, &values);
        }
    }
    Some(page.finish())
}

/// A row for each place: ring predicted, dot verified.
fn places(page: &mut Drawing, run: &[(String, [f64; 2])]) {
    let ends = |pick: fn(f64, f64) -> f64| run.iter().flat_map(|(_, values)| *values).filter(|value| value.is_finite()).fold(0.0, pick);
    let frame = Plot {
        area: Area::new(PLACES[0], TOP, PLACES[1], ROW * run.len() as f64),
        x: Marks::round(ends(f64::min), ends(f64::max), 8),
        y: Marks { low: run.len() as f64, high: 0.0, step: 1.0 },
    };
    let (low, high) = (frame.y.low, frame.y.high);
    for value in frame.x.values() {
        page.line(frame.at(value, low), frame.at(value, high), Look::line(paper::LINE, 0.15));
    }
    page.line(frame.at(0.0, low), frame.at(0.0, high), Look::line(paper::INK, 0.3).dashed(1.6, 0.9));
    let letters = Lettering::new(paper::SMALL, paper::INK);
    for (index, (name, [predicted, verified])) in run.iter().enumerate() {
        let [ring, dot] = [predicted, verified].map(|value| frame.at(*value, index as f64 + 0.5));
        page.text(DVec2::new(8.0, ring.y + 0.9), &letters.fit(name, PLACES[0] - 10.0), letters);
        page.line(ring, dot, Look::line(paper::SOFT, 0.4));
        page.circle(ring, 1.2, Look::fill(paper::CARD).edged(paper::INK, 0.4));
        page.circle(dot, 1.0, Look::fill(paper::INK));
    }
    frame.draw_base(page);
    frame.draw_x(page, "change of the ring, dB");
    let below = frame.area.high.y + BELOW;
    let key = [("predicted, first order", Look::fill(paper::CARD).edged(paper::INK, 0.4)), ("verified by a run", Look::fill(paper::INK))];
    let mut x = PLACES[0];
    for (text, look) in key {
        page.circle(DVec2::new(x + 1.2, below - 0.9), 1.1, look);
        page.text(DVec2::new(x + 3.8, below), text, letters);
        x += 3.8 + letters.length(text) + 6.0;
    }
    page.text(DVec2::new(8.0, below), "left of the dashes: taken away", Lettering::new(paper::SMALL, paper::QUIET));
}

/// A bar for each third octave, from zero on; a dash where nothing is told.
fn bars(page: &mut Drawing, area: Area, name: &str, thirds: &[String], values: &[Option<f64>]) {
    let told = || values.iter().flatten().copied().filter(|value| value.is_finite());
    let frame = Plot {
        area,
        x: Marks { low: 0.0, high: thirds.len() as f64, step: 1.0 },
        y: Marks::round(told().fold(0.0, f64::min), told().fold(0.0, f64::max), 5),
    };
    frame.draw_y(page, name);
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    for (index, (third, value)) in thirds.iter().zip(values).enumerate() {
        let middle = index as f64 + 0.5;
        let zero = frame.at(middle, 0.0);
        match value.filter(|value| value.is_finite()) {
            Some(value) => {
                page.rect(frame.box_between((middle - 0.5 * BAR, 0.0), (middle + 0.5 * BAR, value)), Look::fill(paper::INK));
            }
            None => page.text(zero + DVec2::new(0.0, -1.0), "-", letters),
        }
        page.text(DVec2::new(zero.x, area.high.y + 3.9), third, letters);
    }
    page.line(frame.at(0.0, 0.0), frame.at(frame.x.high, 0.0), Look::line(paper::INK, 0.3));
    let is_told = values.iter().all(Option::is_some);
    let below = if is_told { "third octave, Hz" } else { "third octave, Hz (-: the filter rings as long)" };
    page.text(DVec2::new(area.middle().x, area.high.y + 8.0), below, Lettering::new(paper::SMALL, paper::QUIET).middle());
}
