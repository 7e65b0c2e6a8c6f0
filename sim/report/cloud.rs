//! A cloud against its height: score, early level and its parts, combs and what is too loud, what it covers, what it absorbs, the decay, all over one axis; and the page beside it.
//!
//! The lower axis is the height of the underside over the floor, which is the clear height below a level cloud; the upper one the air between its back and the ceiling. Lines are told apart by
//! dash and shade. The best height is a line through all frames, heights not told apart from it are shaded, heights at which it does not fit are hatched.
//!
//! *Limits.* Straight lines between heights join them and say nothing about what lies between.

use glam::DVec2;

use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::plan::cloud::{Besides, CloudStudy, CloudVariant};
use crate::scene::Scene;
use crate::units::LengthUnit;

use super::absorption::LINES;
use super::axis::Marks;
use super::html::{self, estimate, list, maybe, plain, table};
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look, escape};
use super::text::cloud::{by_reason, columns, flush, heading, octave_heads, rays, what};
use super::text::figures::{area_cell, area_unit, length, length_cell, length_head};

/// Left edge and width of the frames, mm.
const ACROSS: [f64; 2] = [22.0, 128.0];

/// From one frame to the next, mm.
const BETWEEN: f64 = 9.0;

/// Top of the first frame, mm.
const TOP: f64 = 29.0;

/// Left edge of the names of lines, mm, and their width.
const NAMES: [f64; 2] = [156.0, 50.0];

/// Octaves whose zones are drawn.
const ZONES: [u32; 4] = [1000, 2000, 4000, 8000];

/// Octaves whose absorption is drawn.
const ABSORBS: [u32; 5] = [125, 250, 500, 1000, 4000];

/// One line of a frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What it shows.
    pub name: String,
    /// A value for each height, with half the width of its interval; 0 where that is not known or nothing is traced for it.
    pub values: Vec<Option<(f64, f64)>>,
    /// Its value without the cloud.
    pub without: Option<f64>,
}

/// One of the frames that stand over each other above one axis of heights.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// What it shows.
    pub name: &'static str,
    /// In which unit.
    pub unit: &'static str,
    /// How high it is drawn, mm.
    pub height: f64,
    /// Its lines.
    pub lines: Vec<Line>,
}

/// What `cloud` writes beside the scene and the JSON: file name and bytes, the page first.
#[must_use]
pub fn cloud_files(scene: &Scene, study: &CloudStudy) -> Vec<(String, Vec<u8>)> {
    vec![("cloud.html".to_owned(), page(scene, study).into_bytes()), ("cloud-heights.svg".to_owned(), svg(scene, study).into_bytes())]
}

/// Heights on a tape of the scene's unit: its numbers, inches for feet.
#[must_use]
pub fn on_tape(meters: f64, unit: LengthUnit) -> f64 {
    if unit == LengthUnit::Foot { LengthUnit::Inch.from_meters(meters) } else { unit.from_meters(meters) }
}

/// The unit of these.
#[must_use]
pub fn tape_symbol(unit: LengthUnit) -> &'static str {
    if unit == LengthUnit::Foot { LengthUnit::Inch.symbol() } else { unit.symbol() }
}

/// The chart.
#[must_use]
pub fn svg(scene: &Scene, study: &CloudStudy) -> String {
    let frames = frames(scene, study);
    let height = TOP + frames.iter().map(|frame| frame.height + BETWEEN).sum::<f64>() + 14.0;
    let mut page = Drawing::new(NAMES[0] + NAMES[1] + 4.0, height, paper::CARD);
    let head = format!("{}: the cloud against its height", scene.name);
    let [width, depth] = study.size_m.map(|side| length(side, scene));
    let [right, up] = study.center_m.map(|coordinate| length(coordinate, scene));
    let line =
        format!("\"{}\", {width} x {depth}, its middle at x {right}, y {up}; whiskers hold 95 of 100 repeats of the tracing", study.kind);
    plot::title(&mut page, &head, &line);
    let x = across(scene, study);
    let mut top = TOP;
    let mut last = None;
    for (index, frame) in frames.iter().enumerate() {
        let plot = Plot { area: Area::new(ACROSS[0], top, ACROSS[1], frame.height), x, y: marks(frame) };
        behind(&mut page, scene, study, &plot);
        plot.draw_y(&mut page, frame.unit);
        draw(&mut page, scene, study, &plot, frame);
        plot.draw_base(&mut page);
        page.text(plot.area.low + DVec2::new(0.0, -1.5), frame.name, Lettering::new(paper::SMALL, paper::INK).bold());
        if index == 0 {
            air(&mut page, scene, study, &plot);
            best(&mut page, scene, study, &plot);
        }
        names(&mut page, &plot, frame);
        top += frame.height + BETWEEN;
        last = Some(plot);
    }
    if let Some(plot) = last {
        plot.draw_x(&mut page, &format!("underside over the floor, the clear height below it, {}", tape_symbol(scene.unit)));
    }
    legend(&mut page, study);
    page.finish()
}

/// The axis of heights, as on a tape.
#[must_use]
pub fn across(scene: &Scene, study: &CloudStudy) -> Marks {
    let tried = study.heights.iter().map(|one| one.underside_m).chain(study.left_out.iter().map(|out| out.underside_m));
    let (low, high) = tried.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), height| (low.min(height), high.max(height)));
    // One height alone has a little to its left and right.
    let room = if high - low < 1e-3 { 0.05 } else { 0.0 };
    Marks::round(on_tape(low - room, scene.unit), on_tape(high + room, scene.unit), 8)
}

/// Round marks round all that a frame shows.
#[must_use]
pub fn marks(frame: &Frame) -> Marks {
    let of_line = |line: &Line| {
        let ends = line.values.iter().flatten().flat_map(|&(value, half)| [value - half, value + half]);
        ends.chain(line.without).collect::<Vec<f64>>()
    };
    let ends = frame.lines.iter().flat_map(of_line).filter(|value| value.is_finite());
    let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    let least = if frame.unit == "%" { 1.0 } else { 0.1 };
    let room = (0.5 * (least - (high - low))).max(0.0);
    Marks::round(low - room, high + room, if frame.height > 35.0 { 6 } else { 4 })
}

/// What is shown, frame by frame.
#[must_use]
pub fn frames(scene: &Scene, study: &CloudStudy) -> Vec<Frame> {
    let without = &study.without;
    let line = |name: &str, without: Option<f64>, value: &dyn Fn(&CloudVariant) -> Option<Estimate>| Line {
        name: name.to_owned(),
        values: study.heights.iter().map(|one| value(one).map(told)).collect(),
        without,
    };
    let exact = |value: Option<f64>| value.map(Estimate::exact);
    let octaves = |asked: &[u32], value: &dyn Fn(&CloudVariant, Band) -> Option<f64>| -> Vec<Line> {
        let bands = Band::ALL.into_iter().filter(|band| asked.contains(&band.nominal()));
        bands.map(|band| line(&octave_name(band, study), None, &|one| exact(value(one, band)))).collect()
    };
    let per_foot = if matches!(scene.unit, LengthUnit::Foot | LengthUnit::Inch) { 1.0 / (0.3048 * 0.3048) } else { 1.0 };
    let figures = &without.figures;
    vec![
        Frame {
            name: "Better than without it: score",
            unit: "steps",
            height: 40.0,
            lines: vec![line("just-noticed steps", None, &|one| Some(one.score_steps))],
        },
        Frame {
            name: "Early level, 1-8 kHz, re direct",
            unit: "dB",
            height: 38.0,
            lines: vec![
                line("all early reflections", Some(figures.early_level_db.value), &|one| Some(one.figures.early_level_db)),
                line("by way of the ceiling", without.ceiling_db, &|one| exact(one.ceiling_db)),
                line("by the cloud's own faces", None, &|one| exact(one.cloud_db)),
            ],
        },
        Frame {
            name: "Combs, and what is too loud",
            unit: "dB",
            height: 28.0,
            lines: vec![
                line("deepest comb at an ear", without.comb_depth_db, &|one| exact(one.comb_depth_db)),
                line("sum over the criterion", Some(figures.early_excess_db), &|one| exact(Some(one.figures.early_excess_db))),
            ],
        },
        Frame {
            name: "Covered of the ceiling's first Fresnel zones",
            unit: "%",
            height: 28.0,
            lines: octaves(&ZONES, &|one, band| one.zone_share.map(|share| 100.0 * share[band])),
        },
        Frame {
            name: "Absorption area gained against flush",
            unit: area_unit(scene),
            height: 30.0,
            lines: octaves(&ABSORBS, &|one, band| Some(one.gained_m2[band] * per_foot)),
        },
        Frame {
            name: "Change of the mean decay",
            unit: "%",
            height: 28.0,
            lines: vec![line("against without it", Some(0.0), &|one| one.decay_change_percent)],
        },
    ]
}

/// `500 Hz`, marked where the octave is a statistical reading.
fn octave_name(band: Band, study: &CloudStudy) -> String {
    format!("{}{}", band.label(), if band.center() < study.schroeder_hz { ", statistical" } else { "" })
}

/// A value and half the width of its interval.
fn told(estimate: Estimate) -> (f64, f64) {
    let half = estimate.half_width_95();
    (estimate.value, if half.is_finite() { half } else { 0.0 })
}

/// From where to where it does not fit, half way to the heights beside each that was left out; meters.
#[must_use]
pub fn gaps(study: &CloudStudy) -> Vec<[f64; 2]> {
    let mut all: Vec<f64> =
        study.heights.iter().map(|one| one.underside_m).chain(study.left_out.iter().map(|out| out.underside_m)).collect();
    all.sort_by(f64::total_cmp);
    let gap = |height: f64| {
        let near = |other: Option<&f64>| other.map_or(height, |other| 0.5 * (height + other));
        [near(all.iter().rev().find(|other| **other < height)), near(all.iter().find(|other| **other > height))]
    };
    study.left_out.iter().map(|out| gap(out.underside_m)).collect()
}

/// What lies behind the lines: heights alike, heights at which it does not fit, the best.
fn behind(page: &mut Drawing, scene: &Scene, study: &CloudStudy, plot: &Plot) {
    let x = |meters: f64| on_tape(meters, scene.unit);
    let [low, high] = study.alike_m.map(x);
    page.rect(plot.box_between((low, plot.y.low), (high, plot.y.high)), Look::fill(paper::ACCENT_SHADE));
    for [low, high] in gaps(study) {
        hatch(page, plot.box_between((x(low), plot.y.low), (x(high), plot.y.high)));
    }
    if let Some(best) = study.best() {
        let at = x(best.underside_m);
        page.line(plot.at(at, plot.y.low), plot.at(at, plot.y.high), Look::line(paper::ACCENT, 0.35).dashed(1.8, 0.9));
    }
}

/// Oblique lines over an area.
fn hatch(page: &mut Drawing, area: Area) {
    let size = area.size();
    if size.x <= 0.0 {
        return;
    }
    let corners = [area.low, DVec2::new(area.high.x, area.low.y), area.high, DVec2::new(area.low.x, area.high.y)];
    page.clipped(&corners, |page| {
        let lines = ((size.x + size.y) / 2.2) as u32 + 1;
        for index in 0..=lines {
            let along = 2.2 * f64::from(index);
            let (from, to) = (DVec2::new(area.low.x + along, area.low.y), DVec2::new(area.low.x + along - size.y, area.high.y));
            page.line(from, to, Look::line(paper::SOFT, 0.18));
        }
    });
}

/// How a line looks.
fn look(index: usize, width: f64) -> Look {
    let (color, [dash, gap]) = LINES[index % LINES.len()];
    Look::line(color, width).dashed(dash, gap)
}

fn draw(page: &mut Drawing, scene: &Scene, study: &CloudStudy, plot: &Plot, frame: &Frame) {
    for (index, line) in frame.lines.iter().enumerate() {
        let color = LINES[index % LINES.len()].0;
        if let Some(without) = line.without {
            page.line(plot.at(plot.x.low, without), plot.at(plot.x.high, without), Look::line(color, 0.2).dashed(0.5, 1.1));
        }
        let points: Vec<(f64, f64, f64, f64)> = study
            .heights
            .iter()
            .zip(&line.values)
            .filter_map(|(one, value)| value.map(|(value, half)| (one.underside_m, on_tape(one.underside_m, scene.unit), value, half)))
            .collect();
        for pair in points.windows(2) {
            // Nothing is known of a height between them at which it does not fit.
            if !study.left_out.iter().any(|out| out.underside_m > pair[0].0 && out.underside_m < pair[1].0) {
                page.line(plot.at(pair[0].1, pair[0].2), plot.at(pair[1].1, pair[1].2), look(index, 0.45));
            }
        }
        for (_, x, value, half) in points {
            if half > 0.0 {
                whisker(page, plot.at(x, value - half), plot.at(x, value + half), color);
            }
            page.circle(plot.at(x, value), 0.55, Look::fill(color));
        }
    }
}

fn whisker(page: &mut Drawing, low: DVec2, high: DVec2, color: paper::Color) {
    let look = Look::line(color, 0.2);
    page.line(low, high, look);
    for end in [low, high] {
        page.line(end - DVec2::new(0.6, 0.0), end + DVec2::new(0.6, 0.0), look);
    }
}

/// The best height in words, at the foot of its line.
fn best(page: &mut Drawing, scene: &Scene, study: &CloudStudy, plot: &Plot) {
    let Some(best) = study.best() else { return };
    let text = format!("best {}", length(best.underside_m, scene));
    let letters = Lettering::new(paper::SMALL, paper::ACCENT).bold().rim(paper::CARD);
    let foot = plot.at(on_tape(best.underside_m, scene.unit), plot.y.low);
    // Left of the line where there is no room to its right.
    let places = [DVec2::new(1.2, -1.4), DVec2::new(-1.2 - letters.length(&text), -1.4)].map(|aside| foot + aside);
    let fits: Vec<DVec2> = places.into_iter().filter(|at| letters.area(*at, &text).high.x < plot.area.high.x + 4.0).collect();
    page.text_where_free(&fits, &text, letters);
}

/// The upper axis: air above, at some of the heights.
fn air(page: &mut Drawing, scene: &Scene, study: &CloudStudy, plot: &Plot) {
    let letters = Lettering::new(paper::SMALL, paper::QUIET).middle();
    let symbol = tape_symbol(scene.unit);
    let airs = || study.heights.iter().map(|one| one.air_above_m);
    let is_narrow = airs().fold(0.0, f64::max) - airs().fold(f64::INFINITY, f64::min) < 0.2;
    let digits = match scene.unit {
        LengthUnit::Meter => 2 + usize::from(is_narrow),
        LengthUnit::Centimeter | LengthUnit::Foot | LengthUnit::Inch => 1,
        LengthUnit::Millimeter | LengthUnit::Micrometer => 0,
    };
    let top = plot.area.low.y;
    for one in &study.heights {
        let at = plot.at(on_tape(one.underside_m, scene.unit), plot.y.high);
        let text = plain(on_tape(one.air_above_m, scene.unit), digits);
        if page.text_where_free(&[DVec2::new(at.x, top - 5.6)], &text, letters) {
            page.line(DVec2::new(at.x, top - 5.0), DVec2::new(at.x, top - 4.2), Look::line(paper::QUIET, 0.2));
        }
    }
    page.text(DVec2::new(NAMES[0], top - 5.6), &format!("{symbol} of air above its middle"), Lettering::new(paper::SMALL, paper::QUIET));
}

/// The names of a frame's lines, beside it.
fn names(page: &mut Drawing, plot: &Plot, frame: &Frame) {
    let letters = Lettering::new(paper::SMALL, paper::INK);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let mut y = plot.area.low.y + 2.4;
    for (index, line) in frame.lines.iter().enumerate() {
        let middle = DVec2::new(NAMES[0] + 4.0, y - 0.85);
        page.line(middle - DVec2::new(4.0, 0.0), middle + DVec2::new(4.0, 0.0), look(index, 0.45));
        page.circle(middle, 0.55, Look::fill(LINES[index % LINES.len()].0));
        page.text(DVec2::new(NAMES[0] + 10.0, y), &letters.fit(&line.name, NAMES[1] - 10.0), letters);
        y += 4.2;
    }
    if frame.lines.iter().any(|line| line.without.is_some()) {
        page.line(DVec2::new(NAMES[0], y - 0.85), DVec2::new(NAMES[0] + 8.0, y - 0.85), Look::line(paper::INK, 0.2).dashed(0.5, 1.1));
        page.text(DVec2::new(NAMES[0] + 10.0, y), "without the cloud", quiet);
    }
}

/// What the shades behind the lines mean.
fn legend(page: &mut Drawing, study: &CloudStudy) {
    let mut entries = vec![
        (Look::fill(paper::ACCENT), "best height"),
        (Look::fill(paper::ACCENT_SHADE).edged(paper::ACCENT, 0.2), "not told apart from it"),
    ];
    let at = DVec2::new(ACROSS[0], page.size.y - 4.0);
    if !study.left_out.is_empty() {
        entries.push((Look::fill(paper::CARD).edged(paper::SOFT, 0.2), "hatched: does not fit"));
    }
    plot::legend(page, at, &entries);
}

/// The page.
fn page(scene: &Scene, study: &CloudStudy) -> String {
    let mut body = format!("<h1>{}: how high the cloud hangs</h1>\n", escape(&scene.name));
    body += &format!("<p class=\"quiet\">{}</p>\n<h2>How high, and why</h2>\n", escape(&what(scene, study)));
    body += &list(&study.reasons).replace("+-", "\u{b1} ");
    body += &html::figure("cloud-heights.svg", "the cloud against its height");
    body += "<h2>Height by height</h2>\n";
    body += &heights(scene, study);
    body += &columns(study).iter().map(|line| format!("<p class=\"quiet\">{}</p>\n", escape(line))).collect::<String>();
    body += "<h2>Covered of the ceiling\u{2019}s first Fresnel zones, %</h2>\n";
    let octaves = |heads: &[String], rows: &[(String, Bands<String>)]| {
        let heads: Vec<String> =
            std::iter::once(length_head("#height", scene)).chain(heads.iter().map(|head| format!("#{head}"))).collect();
        let rows: Vec<Vec<String>> =
            rows.iter().map(|(height, cells)| std::iter::once(height.clone()).chain(cells.0.clone()).collect()).collect();
        table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
    };
    let at = |one: &CloudVariant| length_cell(one.underside_m, scene);
    let zones = study.heights.iter().filter_map(|one| Some((at(one), one.zone_share?.map(|share| plain(100.0 * share, 0)))));
    body += &octaves(&Band::ALL.map(|band| band.label().to_owned()), &zones.collect::<Vec<_>>());
    body += &format!("<h2>What it absorbs as it hangs, {}</h2>\n", area_unit(scene));
    let areas = |area: Bands<f64>| area.map(|area| area_cell(area, scene));
    let absorbs = study.heights.iter().map(|one| (at(one), areas(one.absorption_m2)));
    let flush = flush(study).map(|flush| ("flush".to_owned(), areas(flush)));
    body += &octaves(&octave_heads(study), &absorbs.chain(flush).collect::<Vec<_>>());
    for besides in &study.besides {
        body += &beside(scene, study, besides);
    }
    let out: Vec<String> = by_reason(&study.left_out).into_iter().map(|(heights, reason)| format!("{heights}: {reason}.")).collect();
    if !out.is_empty() {
        body += &format!("<h2>Heights at which it does not fit</h2>\n{}", list(&out));
    }
    let sure: Vec<String> = std::iter::once(rays(study)).chain(study.notes.iter().cloned()).collect();
    body += &format!("<h2>How sure this is</h2>\n{}", list(&sure).replace("+-", "\u{b1}"));
    body += "<h2>Files beside this page</h2>\n";
    let files = [
        ("cloud.toml", "the scene with the cloud at the best height: hear it, or place the rest"),
        ("cloud.json", "every number of this page"),
        ("cloud-heights.svg", "the chart"),
    ];
    body += &table(&["file", "what it is"], &files.map(|(name, about)| vec![format!("<a href=\"{name}\">{name}</a>"), about.to_owned()]));
    html::page(&format!("{}: how high the cloud hangs", scene.name), &body)
}

/// The figures that every table of variants has.
fn figures(one: &CloudVariant) -> Vec<String> {
    let level = |level: Option<f64>| level.map_or_else(|| "\u{2013}".to_owned(), |level| plain(level, 1));
    vec![
        estimate(one.figures.early_level_db, 1),
        level(one.ceiling_db),
        level(one.cloud_db),
        level(one.comb_depth_db),
        plain(one.figures.early_excess_db, 1),
        maybe(one.figures.t_mid_s, 2),
        maybe(one.decay_change_percent, 1),
        estimate(one.score_steps, 1),
    ]
}

/// What the best height is called beside what else was tried.
const AS_ABOVE: &str = "as above";

/// Heads of these figures.
const FIGURES: [&str; 8] =
    ["#early, dB", "#ceiling, dB", "#cloud, dB", "#comb, dB", "#over the line, dB", "#decay, s", "#change, %", "#score, steps"];

fn heights(scene: &Scene, study: &CloudStudy) -> String {
    let row = |one: &CloudVariant| {
        let height = length_cell(one.underside_m, scene);
        let (height, how) =
            if one.number == study.best { (format!("<b>{height}</b>"), "<b>best</b>") } else { (height, if one.alike { "=" } else { "" }) };
        [height, how.to_owned(), length_cell(one.air_above_m, scene)].into_iter().chain(figures(one)).collect()
    };
    let rows: Vec<Vec<String>> = study.heights.iter().map(row).collect();
    let places = [length_head("#height", scene), String::new(), length_head("#air", scene)];
    let heads: Vec<&str> = places.iter().map(String::as_str).chain(FIGURES).collect();
    format!("<div class=\"scroll\">{}</div>\n", table(&heads, &rows))
}

fn beside(scene: &Scene, study: &CloudStudy, besides: &Besides) -> String {
    if besides.variants.is_empty() && besides.left_out.is_empty() {
        return String::new();
    }
    let row = |what: &str, one: &CloudVariant| {
        let mark = if one.alike && what != AS_ABOVE { "=" } else { "" };
        [escape(what), mark.to_owned(), length(one.underside_m, scene)].into_iter().chain(figures(one)).collect::<Vec<_>>()
    };
    let rows: Vec<Vec<String>> =
        study.best().map(|best| row(AS_ABOVE, best)).into_iter().chain(besides.variants.iter().map(|one| row(&one.what, one))).collect();
    let heads: Vec<&str> = ["what", "", "height"].into_iter().chain(FIGURES).collect();
    let out: Vec<String> = besides.left_out.iter().map(|out| format!("{}: {}.", out.what, out.reason)).collect();
    let out = if out.is_empty() { String::new() } else { list(&out) };
    format!(
        "<h2>{}, at the best height or as near to it as fits</h2>\n<div class=\"scroll\">{}</div>\n{out}",
        heading(besides),
        table(&heads, &rows)
    )
}
