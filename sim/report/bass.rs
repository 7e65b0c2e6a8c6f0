//! The page of the low end: curves of each response and how it dies away, third octaves, dips, modes and their shapes, the room's box by published criteria, panels across corners.

use glam::DVec2;

use super::axis::Marks;
use super::html::{self, figure, list, table};
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look, escape};
use super::text::bass::{
    BOX, COLUMNS, FLOOR, MODES, criteria, dips, heading, heads, mode_heads, modes, modes_heading, places, sure, thirds, what,
};
use super::{bass_corners, bass_map, bass_modes, bass_time};
use crate::findings::bass::{BassFields, BassStudy, DEEP_DB, LOWEST};
use crate::scene::Scene;

/// What `bass` writes beside the JSON: file name and bytes, the page first; shapes of modes where fields are given.
#[must_use]
pub fn bass_files(scene: &Scene, study: &BassStudy, fields: Option<&BassFields>) -> Vec<(String, Vec<u8>)> {
    let with_bare = |(index, response)| (index, response, study.bare.as_ref().and_then(|bare| bare.responses.get(index)));
    let responses = || study.stands.responses.iter().enumerate().map(with_bare);
    let charts = (0..study.stands.responses.len()).filter_map(|index| Some((file(index), chart(study, &frame(study, index)?))));
    let times = responses().filter_map(|(index, response, bare)| Some((time_file(index), bass_time::svg(response, bare)?)));
    let map = study.stands.floor.iter().map(|floor| (MAP.to_owned(), bass_map::svg(scene, floor)));
    let shapes = fields.and_then(|fields| bass_modes::svg(scene, study, fields)).map(|drawn| (SHAPES.to_owned(), drawn));
    let places = study.corners.as_ref().and_then(|corners| bass_corners::svg(scene, corners)).map(|drawn| (CORNERS.to_owned(), drawn));
    let pictures: Vec<(String, String)> = charts.chain(times).chain(map).chain(shapes).chain(places).collect();
    let names: Vec<&str> = pictures.iter().map(|(name, _)| name.as_str()).collect();
    let page = ("bass.html".to_owned(), page(scene, study, &names));
    std::iter::once(page).chain(pictures).map(|(name, text)| (name, text.into_bytes())).collect()
}

/// The map over the floor.
const MAP: &str = "bass-floor.svg";
/// Shapes of modes.
const SHAPES: &str = "bass-modes.svg";
/// What panels across corners take.
const CORNERS: &str = "bass-corners.svg";

fn file(index: usize) -> String {
    format!("bass-{}.svg", index + 1)
}

fn time_file(index: usize) -> String {
    format!("bass-time-{}.svg", index + 1)
}

fn page(scene: &Scene, study: &BassStudy, names: &[&str]) -> String {
    let drawn = |name: &str, caption| if names.contains(&name) { figure(name, caption) } else { String::new() };
    let cells =
        |rows: Vec<Vec<String>>| rows.into_iter().map(|row| row.iter().map(|cell| escape(cell)).collect()).collect::<Vec<Vec<String>>>();
    let sharp = |heads: Vec<String>| heads.into_iter().map(|head| format!("#{head}")).collect::<Vec<_>>();
    let tabled = |heads: Vec<String>, rows| {
        let heads = sharp(heads);
        format!("<div class=\"scroll\">{}</div>\n", table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &cells(rows)))
    };
    let mut body = format!("<h1>{}: the low end</h1>\n<p class=\"quiet\">{}</p>\n", escape(&scene.name), escape(&what(study)));
    for (index, response) in study.stands.responses.iter().enumerate() {
        let bare = study.bare.as_ref().and_then(|bare| bare.responses.get(index));
        body += &format!("<h2>{}</h2>\n", escape(&heading(response)));
        body += &drawn(&file(index), "Level over frequency re the free field");
        body += &drawn(&time_file(index), "How it dies away: level over time and frequency");
        body += &tabled(heads(study), thirds(response, bare));
        body += &list(&dips(response));
    }
    body += &format!("<p class=\"quiet\">{}</p>\n", escape(COLUMNS));
    if let Some(floor) = &study.stands.floor {
        body += &format!("<h2>{FLOOR}</h2>\n{}{}", drawn(MAP, "How even the low end is at ear height"), list(&places(scene, floor)));
    }
    body += &format!("<h2>{}</h2>\n", escape(&modes_heading(study)));
    body += &tabled(mode_heads(study), modes(study));
    body += &format!("<p class=\"quiet\">{}</p>\n", escape(MODES));
    body += &drawn(SHAPES, "Where the first modes are loud, and where they are not heard");
    if let Some(spread) = &study.box_spread {
        body += &format!("<h2>{BOX}</h2>\n{}", list(&criteria(scene, spread)));
    }
    if let Some(corners) = &study.corners {
        body += &bass_corners::section(scene, corners, &drawn(CORNERS, "What a panel across each corner takes from the ring"));
    }
    body += &format!("<h2>How sure this is, and what it took</h2>\n{}", list(&sure(scene, study)));
    let json = vec![vec!["<a href=\"bass.json\">bass.json</a>".to_owned(), escape("every number of this page, and the curves")]];
    body += &format!("<h2>Files beside this page</h2>\n{}", table(&["file", "what it is"], &json));
    html::page(&format!("{}: the low end", scene.name), &body)
}

/// Frequencies that the axis names.
pub const NAMED: [f64; 12] = [20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0];
/// Levels that curves are drawn between, dB.
pub const LEVELS: Marks = Marks { low: -30.0, high: 24.0, step: 6.0 };
/// Dips that are named at most.
const NAMED_DIPS: usize = 4;

/// A level over the frequencies of the study.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve<'a> {
    /// What it is, for the key.
    pub name: &'static str,
    /// Its color.
    pub color: paper::Color,
    /// Its width, mm.
    pub width: f64,
    /// Levels, dB re free field.
    pub level_db: &'a [f64],
}

/// What the chart of a response shows, on paper and on screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame<'a> {
    /// Who sounds, and who hears it.
    pub heading: String,
    /// As the room stands, then bare if something hangs: the last lies lowest.
    pub curves: Vec<Curve<'a>>,
    /// Where the first of them may lie with other walls, at least and at most, dB; the key's words are [`LIKELY`].
    pub likely: Option<[&'a [f64]; 2]>,
    /// Dips with the wall that makes them: frequency, level, words.
    pub dips: Vec<(f64, f64, String)>,
}

/// What the band of a frame is.
pub const LIKELY: &str = "with other walls";

/// What the chart of a response shows, by its number among those of the room as it stands.
#[must_use]
pub fn frame(study: &BassStudy, index: usize) -> Option<Frame<'_>> {
    let response = study.stands.responses.get(index)?;
    let bare = study.bare.as_ref().and_then(|bare| bare.responses.get(index));
    let name = if bare.is_some() { "with all that hangs" } else { "as it stands" };
    let stands = Curve { name, color: paper::INK, width: 0.5, level_db: &response.level_db };
    let bare = bare.map(|bare| Curve { name: "bare", color: paper::SOFT, width: 0.35, level_db: &bare.level_db });
    let named = response.dips.iter().filter_map(|dip| Some((dip, dip.surface.as_ref()?)));
    Some(Frame {
        heading: heading(response),
        curves: std::iter::once(stands).chain(bare).collect(),
        likely: (!response.level_low_db.is_empty()).then_some([&response.level_low_db, &response.level_high_db]),
        dips: named
            .take(NAMED_DIPS)
            .map(|(dip, surface)| (dip.frequency_hz, dip.level_db, format!("{:.0} Hz: {surface}", dip.frequency_hz)))
            .collect(),
    })
}

/// Where a frequency stands on the axis: octaves over the lowest one that is told.
#[must_use]
pub fn octaves(frequency: f64) -> f64 {
    (frequency / LOWEST).log2()
}

/// The frequency that stands there, Hz.
#[must_use]
pub fn frequency(octaves: f64) -> f64 {
    LOWEST * octaves.exp2()
}

/// Level over frequency, the bare room's thin behind it, dips named.
fn chart(study: &BassStudy, shown: &Frame<'_>) -> String {
    let mut page = Drawing::new(170.0, 100.0, paper::CARD);
    plot::title(&mut page, &shown.heading, "level re the same as far away in the free field (0 dB); at the middle of the zone");
    let frame = Plot { area: Area::new(22.0, 20.0, 140.0, 62.0), x: Marks { low: 0.0, high: octaves(study.top_hz), step: 1.0 }, y: LEVELS };
    frame.draw_y(&mut page, "level, dB");
    page.line(frame.at(0.0, 0.0), frame.at(frame.x.high, 0.0), Look::line(paper::INK, 0.3).dashed(1.6, 0.9));
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    for frequency in NAMED.into_iter().filter(|frequency| *frequency <= study.top_hz) {
        let at = frame.at(octaves(frequency), LEVELS.low);
        page.line(at, at + DVec2::new(0.0, 1.0), Look::line(paper::INK, 0.2));
        page.text(at + DVec2::new(0.0, 3.9), &format!("{frequency:.0}"), letters);
    }
    page.text(
        DVec2::new(frame.area.middle().x, frame.area.high.y + 8.0),
        "frequency, Hz",
        Lettering::new(paper::SMALL, paper::QUIET).middle(),
    );
    let along = |levels: &[f64]| -> Vec<DVec2> {
        study.frequencies_hz.iter().zip(levels).map(|(frequency, level)| frame.at(octaves(*frequency), *level)).collect()
    };
    if let Some([low, high]) = shown.likely {
        let band: Vec<DVec2> = along(high).into_iter().chain(along(low).into_iter().rev()).collect();
        page.polygon(&band, Look::fill(paper::LINE).opacity(0.55));
    }
    for curve in shown.curves.iter().rev() {
        page.polyline(&along(curve.level_db), Look::line(curve.color, curve.width));
    }
    for (frequency, level, text) in &shown.dips {
        let at = frame.at(octaves(*frequency), *level);
        page.text_where_free(
            &[3.0, 6.0, 9.0].map(|down| at + DVec2::new(0.0, down)),
            text,
            Lettering::new(2.4, paper::ACCENT).middle().rim(paper::CARD),
        );
    }
    frame.draw_base(&mut page);
    let mut entries: Vec<(Look, &str)> = shown.curves.iter().map(|curve| (Look::fill(curve.color), curve.name)).collect();
    if shown.likely.is_some() {
        entries.push((Look::fill(paper::LINE), LIKELY));
    }
    plot::legend(&mut page, DVec2::new(22.0, 95.0), &entries);
    let named = format!("named dips: {DEEP_DB:.0} dB and deeper where one wall's bounce cancels");
    page.text(DVec2::new(162.0, 95.0), &named, Lettering::new(paper::SMALL, paper::QUIET).end());
    page.finish()
}
