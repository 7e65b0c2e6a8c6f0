//! What arrives and when, how long it rings, what each panel earns: charts of findings, before and after in one frame.
//!
//! The level of a bin is `10 lg(E / E_direct)`, octaves 1-8 kHz. The decay time shown for an octave is that of `findings::decay_times`. Whiskers are half widths of the 95 % interval, as the figures have them everywhere.
//!
//! *Limits.* Bars of bands that are a statistical reading (below Schroeder's frequency) are gray: nothing is judged by them.

use glam::DVec2;

use crate::bands::Band;
use crate::findings::decay_times::{DecayTime, decay_times};
use crate::findings::{Basis, Estimate, Findings, Pair, Reflection, Target};
use crate::plan::Placed;

use super::axis::Marks;
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look};

/// Level above which a reflection in the window counts, dB re direct.
pub const CRITERION_DB: f64 = -10.0;

/// How much of the curve is shown, ms.
const SHOWN_MS: f64 = 60.0;

/// Rows of the list of reflections.
const LISTED: usize = 9;

/// Energy-time curve of one source at one receiver; `after` is drawn dark over a pale `before`.
#[must_use]
pub fn energy_time(before: &Pair, after: Option<&Pair>, window_ms: f64) -> String {
    let mut page = Drawing::new(230.0, 104.0, paper::CARD);
    let head = format!("{} at {}: what arrives, and when", before.source, before.receiver);
    let what = if after.is_some() { "; pale: as it stands, dark: with the plan" } else { "" };
    plot::title(&mut page, &head, &format!("energy in 1-8 kHz, dB re direct sound, in bins of {} ms{what}", before.energy_time.bin_ms));
    let tallest = [Some(before), after].into_iter().flatten().flat_map(|pair| &pair.reflections).map(|r| r.level_db).fold(0.0, f64::max);
    let frame = Plot {
        area: Area::new(20.0, 20.0, 124.0, 68.0),
        x: Marks { low: 0.0, high: SHOWN_MS, step: 10.0 },
        y: Marks { low: -50.0, high: (tallest / 10.0 - 0.05).ceil().max(0.0) * 10.0, step: 10.0 },
    };
    let window = window_ms.clamp(0.0, SHOWN_MS);
    page.rect(frame.box_between((0.0, frame.y.low), (window, frame.y.high)), Look::fill(paper::ACCENT_SHADE));
    frame.draw_y(&mut page, "dB re direct");
    bars(&mut page, &frame, before, if after.is_some() { paper::PALE } else { paper::INK }, 0.86);
    if let Some(after) = after {
        bars(&mut page, &frame, after, paper::INK, 0.5);
    }
    let limit = Look::line(paper::ACCENT, 0.3).dashed(1.6, 0.9);
    page.line(frame.at(0.0, CRITERION_DB), frame.at(window, CRITERION_DB), limit);
    frame.draw_base(&mut page);
    frame.draw_x(&mut page, "ms after the direct sound");
    let accent = Lettering::new(paper::SMALL, paper::ACCENT).rim(paper::CARD);
    let bars: Vec<&Pair> = [Some(before), after].into_iter().flatten().collect();
    for (level, down, text) in
        [(frame.y.high, 2.6, format!("first {} ms", super::svg::number(window_ms))), (CRITERION_DB, 0.9, format!("{CRITERION_DB:.0} dB"))]
    {
        let at = frame.at(window, level) + DVec2::new(1.0, down);
        // Neither over bars nor instead of them: the axis and the line below it say the same.
        if !bars.iter().any(|pair| reaches(pair, &frame, accent.area(at, &text))) {
            page.text(at, &text, accent);
        }
    }
    let listed = strongest(before, SHOWN_MS);
    mark(&mut page, &frame, &listed);
    list(&mut page, DVec2::new(151.0, 22.0), &listed, before, after, window_ms);
    page.finish()
}

/// Bars of a curve.
fn bars(page: &mut Drawing, frame: &Plot, pair: &Pair, color: paper::Color, share: f64) {
    let bin = pair.energy_time.bin_ms.max(1e-3);
    let shapes: Vec<Vec<DVec2>> = pair
        .energy_time
        .level_db
        .iter()
        .enumerate()
        .take_while(|(index, _)| (*index as f64) * bin < SHOWN_MS)
        .filter(|(_, level)| **level > frame.y.low)
        .map(|(index, level)| {
            let start = index as f64 * bin;
            let (from, to) = (start, start + share * bin);
            vec![frame.at(from, frame.y.low), frame.at(to, frame.y.low), frame.at(to, *level), frame.at(from, *level)]
        })
        .collect();
    page.cells(&shapes, Look::fill(color));
}

/// Whether a bar of a curve reaches into an area of the paper.
fn reaches(pair: &Pair, frame: &Plot, area: Area) -> bool {
    let bin = pair.energy_time.bin_ms.max(1e-3);
    let tops = pair.energy_time.level_db.iter().enumerate().map(|(index, level)| frame.at(index as f64 * bin, *level));
    tops.filter(|top| top.x < frame.area.high.x).any(|top| (area.low.x - 1.0..=area.high.x).contains(&top.x) && top.y < area.high.y)
}

/// The strongest reflections shown, by delay.
fn strongest(pair: &Pair, until_ms: f64) -> Vec<&Reflection> {
    let mut all: Vec<&Reflection> = pair.reflections.iter().filter(|r| r.delay_ms <= until_ms && r.level_db.is_finite()).collect();
    all.sort_by(|a, b| b.level_db.total_cmp(&a.level_db).then(a.delay_ms.total_cmp(&b.delay_ms)));
    all.truncate(LISTED);
    all.sort_by(|a, b| a.delay_ms.total_cmp(&b.delay_ms));
    all
}

/// Rings and numbers at reflections.
fn mark(page: &mut Drawing, frame: &Plot, listed: &[&Reflection]) {
    let letters = Lettering::new(paper::SMALL, paper::ACCENT).bold().middle().rim(paper::CARD);
    for (index, reflection) in listed.iter().enumerate() {
        let at = frame.at(reflection.delay_ms, reflection.level_db);
        page.circle(at, 0.8, Look::fill(paper::CARD).edged(paper::ACCENT, 0.3));
        let places = [(0.0, -1.6), (2.2, -1.2), (-2.2, -1.2), (0.0, -4.2), (3.0, 0.9), (-3.0, 0.9), (2.6, -3.8), (0.0, -6.8), (0.0, -9.4)];
        page.text_where_free(&places.map(|(x, y)| at + DVec2::new(x, y)), &(index + 1).to_string(), letters);
    }
}

/// The same reflection with the plan hung: as many bounces, on the same surfaces or on panels before them, at about the same time (a
/// panel's front is up to 0.2 m nearer: 1.2 ms).
#[must_use]
pub fn same_reflection<'a>(before: &Pair, after: &'a Pair, reflection: &Reflection) -> Option<&'a Reflection> {
    let known = |name: &String| before.reflections.iter().any(|other| other.surfaces.contains(name));
    let alike = |other: &&Reflection| {
        other.surfaces.len() == reflection.surfaces.len()
            && (other.delay_ms - reflection.delay_ms).abs() < 1.2
            && other.surfaces.iter().zip(&reflection.surfaces).all(|(now, then)| now == then || !known(now))
    };
    let off = |other: &&Reflection| (other.delay_ms - reflection.delay_ms).abs();
    after.reflections.iter().filter(alike).min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// List of reflections beside the chart.
fn list(page: &mut Drawing, at: DVec2, listed: &[&Reflection], before: &Pair, after: Option<&Pair>, window_ms: f64) {
    let head = Lettering::new(paper::BODY, paper::INK).bold();
    page.text(at, "Strongest reflections", head);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let columns = [13.0, if after.is_some() { 27.0 } else { 25.0 }, 40.0];
    let names = ["ms", if after.is_some() { "now, dB" } else { "dB" }, "plan, dB"];
    for (name, column) in names.iter().zip(columns).take(if after.is_some() { 3 } else { 2 }) {
        page.text(at + DVec2::new(column, 4.4), name, quiet.end());
    }
    let via = if after.is_some() { 43.0 } else { 28.0 };
    page.text(at + DVec2::new(via, 4.4), "via", quiet);
    for (index, reflection) in listed.iter().enumerate() {
        let y = at.y + 8.6 + 4.4 * index as f64;
        let loud = reflection.delay_ms <= window_ms && reflection.is_too_loud();
        let ink = Lettering::new(paper::SMALL, if loud { paper::ACCENT } else { paper::INK });
        page.text(DVec2::new(at.x, y), &(index + 1).to_string(), ink.bold());
        page.text(DVec2::new(at.x + columns[0], y), &format!("{:.1}", reflection.delay_ms), ink.end());
        page.text(DVec2::new(at.x + columns[1], y), &format!("{:.1}", reflection.level_db), ink.end());
        if let Some(after) = after {
            let text = same_reflection(before, after, reflection).map_or_else(|| "-".to_owned(), |other| format!("{:.1}", other.level_db));
            page.text(DVec2::new(at.x + columns[2], y), &text, Lettering::new(paper::SMALL, paper::INK).end());
        }
        let surfaces = reflection.surfaces.join(" > ");
        page.text(DVec2::new(at.x + via, y), &ink.fit(&surfaces, page.size.x - at.x - via - 3.0), ink);
    }
    let y = at.y + 8.6 + 4.4 * listed.len() as f64 + 2.0;
    let gone = if after.is_some() { "; -: no longer among those found" } else { "" };
    let note =
        format!("red: over the line, within the window; rings and list: at the worst place of the head, bars: mean over its zone{gone}");
    for (index, line) in quiet.wrap(&note, page.size.x - at.x - 5.0).iter().enumerate() {
        page.text(DVec2::new(at.x, y + 3.4 * index as f64), line, quiet);
    }
}

/// The target that speaks about decay time, if any.
#[must_use]
pub fn decay_target(findings: &Findings) -> Option<&Target> {
    findings.targets.iter().find(|target| target.unit == "s" && (target.low.is_some() || target.high.is_some()))
}

/// Decay time by octave with errors and the target.
#[must_use]
pub fn decay(before: &Findings, after: Option<&Findings>) -> String {
    let mut page = Drawing::new(160.0, 100.0, paper::CARD);
    plot::title(
        &mut page,
        "How long it rings",
        "T30 by octave, mean over all sources and receivers; whiskers are the error of the tracing",
    );
    let times = [Some(decay_times(before)), after.map(decay_times)];
    let target = decay_target(before);
    let values = times.iter().flatten().flat_map(|bands| bands.0.iter().flatten().map(|time| time.time_s.value + whisker(time.time_s)));
    let highest = values.chain(target.and_then(|target| target.high)).filter(|value| value.is_finite()).fold(0.1, f64::max);
    let frame = Plot {
        area: Area::new(20.0, 20.0, 132.0, 60.0),
        x: Marks { low: 0.0, high: 8.0, step: 1.0 },
        y: Marks::round(0.0, 1.06 * highest, 6),
    };
    // Decay is judged from 250 Hz to 4 kHz, as far as it is no statistical reading.
    let first = decay_times(before)
        .iter()
        .skip(2)
        .find(|(_, time)| time.is_none_or(|time| !time.statistical))
        .map_or(7.0, |(band, _)| band.index() as f64);
    if let Some(target) = target {
        let (low, high) = (target.low.unwrap_or(0.0), target.high.unwrap_or(frame.y.high));
        page.rect(frame.box_between((first, low), (7.0, high)), Look::fill(paper::ACCENT_SHADE));
    }
    frame.draw_y(&mut page, "seconds");
    if let Some(target) = target {
        for level in [target.low, target.high].into_iter().flatten() {
            page.line(frame.at(first, level), frame.at(7.0, level), Look::line(paper::ACCENT, 0.25).dashed(1.6, 0.9));
        }
    }
    let plain = Lettering::new(paper::SMALL, paper::INK).middle();
    for band in Band::ALL {
        let middle = band.index() as f64 + 0.5;
        page.text(frame.at(middle, 0.0) + DVec2::new(0.0, 4.0), band.label(), plain);
    }
    for (layer, bands) in times.iter().enumerate() {
        let Some(bands) = bands else { continue };
        let start = if after.is_none() { 0.25 } else { 0.12 + 0.39 * layer as f64 };
        for (band, time) in bands.iter() {
            if let Some(time) = time {
                decay_bar(&mut page, &frame, band.index() as f64 + start, time, layer == 1 || after.is_none());
            }
        }
    }
    frame.draw_base(&mut page);
    let mut entries = vec![(Look::fill(if after.is_some() { paper::PALE } else { paper::INK }), "as it stands")];
    if after.is_some() {
        entries.push((Look::fill(paper::INK), "with the plan"));
    }
    if times.iter().flatten().any(|bands| bands.0.iter().flatten().any(|time| time.statistical)) {
        entries.push((Look::fill(paper::LINE).edged(paper::SOFT, 0.2), "statistical, judged by nothing"));
    }
    if let Some(target) = target {
        let wanted = if target.verdict == "outside its range" { "wanted, of other rooms" } else { "wanted" };
        entries.push((Look::fill(paper::ACCENT_SHADE).edged(paper::ACCENT, 0.2), wanted));
    }
    plot::legend(&mut page, DVec2::new(20.0, 91.0), &entries);
    if times.iter().flatten().any(|bands| bands.0.iter().flatten().any(|time| time.is_t20)) {
        page.text(DVec2::new(20.0, 96.0), "*: from T20, as the decay does not support T30", Lettering::new(paper::SMALL, paper::QUIET));
    }
    page.finish()
}

/// Half the width of the 95 % interval; none where the error is no number.
pub(super) fn whisker(estimate: Estimate) -> f64 {
    let half = estimate.half_width_95();
    if half.is_finite() { half } else { 0.0 }
}

/// One bar with its error and its value.
fn decay_bar(page: &mut Drawing, frame: &Plot, start: f64, time: &DecayTime, dark: bool) {
    let (value, half) = (time.time_s.value, whisker(time.time_s));
    let width = 0.36;
    let color = if dark { paper::INK } else { paper::PALE };
    let gray = Look::fill(paper::LINE).opacity(if dark { 1.0 } else { 0.45 });
    let look = if time.statistical { gray.edged(paper::SOFT, 0.2) } else { Look::fill(color) };
    page.rect(frame.box_between((start, 0.0), (start + width, value)), look);
    let middle = start + 0.5 * width;
    let (low, high) = (frame.at(middle, value - half), frame.at(middle, value + half));
    let error = Look::line(if dark && !time.statistical { paper::ACCENT } else { paper::INK }, 0.25);
    page.line(low, high, error);
    for end in [low, high] {
        page.line(end - DVec2::new(0.8, 0.0), end + DVec2::new(0.8, 0.0), error);
    }
    let letters = Lettering::new(2.2, if time.statistical { paper::QUIET } else { paper::INK }).middle().rim(paper::CARD);
    let text = format!("{value:.2}{}", if time.is_t20 { "*" } else { "" });
    page.text_where_free(&[-1.0, -3.6, -6.2].map(|up| high + DVec2::new(0.0, up)), &text, letters);
}

/// Backward-integrated decays, one small frame an octave, of one pair.
#[must_use]
pub fn decay_curves(before: &Pair, after: Option<&Pair>) -> String {
    let mut page = Drawing::new(200.0, 112.0, paper::CARD);
    let what = if after.is_some() { "; pale: as it stands, dark: with the plan" } else { "" };
    let head = format!("{} at {}: how it dies away", before.source, before.receiver);
    plot::title(&mut page, &head, &format!("dB re its start upward, milliseconds to the right{what}"));
    let longest = [Some(before), after]
        .into_iter()
        .flatten()
        .flat_map(|pair| pair.energy_time.decay_db.0.iter().map(|curve| (curve, pair.energy_time.decay_step_ms)))
        .map(|(curve, step)| step * curve.iter().take_while(|level| **level > -60.0).count() as f64)
        .fold(50.0, f64::max);
    for band in Band::ALL {
        let (column, row) = ((band.index() % 4) as f64, (band.index() / 4) as f64);
        let mut x = Marks::round(0.0, longest, 3);
        x.high = x.high.max(x.step);
        let frame = Plot {
            area: Area::new(18.0 + 46.0 * column, 24.0 + 42.0 * row, 38.0, 30.0),
            x,
            y: Marks { low: -60.0, high: 0.0, step: 20.0 },
        };
        let gray = before.octaves.get(band.index()).is_some_and(|octave| octave.basis == Basis::Statistical);
        for value in frame.y.values() {
            let at = frame.at(0.0, value);
            page.line(at, DVec2::new(frame.area.high.x, at.y), Look::line(paper::LINE, 0.15));
            if band.index() % 4 == 0 {
                page.text(at + DVec2::new(-1.2, 0.8), &frame.y.print(value), Lettering::new(2.2, paper::INK).end());
            }
        }
        for value in frame.x.values() {
            page.text(frame.at(value, -60.0) + DVec2::new(0.0, 3.4), &frame.x.print(value), Lettering::new(2.2, paper::INK).middle());
        }
        curve(&mut page, &frame, before, band, if after.is_some() { paper::PALE } else { paper::INK });
        if let Some(after) = after {
            curve(&mut page, &frame, after, band, if gray { paper::SOFT } else { paper::INK });
        }
        frame.draw_base(&mut page);
        let name = if gray { format!("{}, statistical", band.label()) } else { band.label().to_owned() };
        let letters = Lettering::new(paper::SMALL, if gray { paper::QUIET } else { paper::INK }).bold();
        page.text(DVec2::new(frame.area.low.x, frame.area.low.y - 1.4), &name, letters);
    }
    page.finish()
}

/// One decay.
fn curve(page: &mut Drawing, frame: &Plot, pair: &Pair, band: Band, color: paper::Color) {
    let step = pair.energy_time.decay_step_ms;
    let points: Vec<DVec2> = pair.energy_time.decay_db[band]
        .iter()
        .enumerate()
        .take_while(|(index, level)| **level >= -60.0 && *index as f64 * step <= frame.x.high)
        .map(|(index, level)| frame.at(index as f64 * step, *level))
        .collect();
    page.polyline(&points, Look::line(color, 0.45));
}

/// One of the things that a panel earns.
type Earning = fn(&Placed) -> Option<Estimate>;

/// What each panel earns, in the order of hanging.
#[must_use]
pub fn earnings(placed: &[Placed]) -> String {
    let count = placed.len().max(1) as f64;
    let mut page = Drawing::new((40.0 + 10.0 * count).clamp(150.0, 240.0), 158.0, paper::CARD);
    plot::title(&mut page, "What each panel earns", "lost when this panel alone is taken down; earnings do not add up");
    let width = page.size.x - 28.0;
    let rows: [(&str, Earning, Earning, f64); 3] = [
        ("score, steps", |panel| Some(panel.earns.last_steps), |panel| Some(panel.earns.alone_steps), 20.0),
        ("early level, dB", |panel| Some(panel.earns_early_db), |_| None, 63.0),
        ("decay time, %", |panel| panel.earns_decay_percent, |_| None, 106.0),
    ];
    for (name, value, alone, top) in rows {
        let both = || placed.iter().flat_map(|panel| [value(panel), alone(panel)]).flatten();
        let ends = |sign: f64| both().map(move |earned| earned.value + sign * whisker(earned));
        let high = ends(1.0).filter(|value| value.is_finite()).fold(0.1, f64::max);
        let low = ends(-1.0).filter(|value| value.is_finite()).fold(0.0, f64::min);
        let low = if low < -0.02 * high { low } else { 0.0 };
        let frame =
            Plot { area: Area::new(20.0, top, width, 32.0), x: Marks { low: 0.0, high: count, step: 1.0 }, y: Marks::round(low, high, 4) };
        frame.draw_y(&mut page, name);
        for (index, panel) in placed.iter().enumerate() {
            let middle = index as f64 + 0.5;
            let color = if panel.reason == "hot spot" { paper::ACCENT } else { paper::SOFT };
            let bars = [(alone(panel), 0.42, paper::LINE), (value(panel), 0.3, color)];
            for (earned, width, color) in bars.into_iter().filter_map(|(earned, width, color)| Some((earned?, width, color))) {
                let (value, half) = (earned.value, whisker(earned));
                page.rect(frame.box_between((middle - width, 0.0), (middle + width, value)), Look::fill(color));
                page.line(frame.at(middle, value - half), frame.at(middle, value + half), Look::line(paper::INK, 0.25));
            }
            let at = frame.at(middle, frame.y.low) + DVec2::new(0.0, 3.6);
            page.text(at, &panel.number.to_string(), Lettering::new(paper::SMALL, paper::INK).middle());
        }
        page.line(frame.at(0.0, 0.0), frame.at(count, 0.0), Look::line(paper::INK, 0.3));
    }
    plot::legend(
        &mut page,
        DVec2::new(20.0, 149.0),
        &[
            (Look::fill(paper::ACCENT), "hung for a hot spot"),
            (Look::fill(paper::SOFT), "hung for corner or decay"),
            (Look::fill(paper::LINE), "hung alone"),
        ],
    );
    page.text(DVec2::new(20.0, 153.6), "whiskers hold 95 of 100 repeats of the tracing", Lettering::new(paper::SMALL, paper::QUIET));
    page.finish()
}
