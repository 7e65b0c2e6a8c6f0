//! The sheet that one takes to the wall: one treated surface, true to scale, with every measure from two edges and the cautions beside it.
//!
//! A4 landscape, or US Letter where the scene counts in feet or inches; the scale is the largest of the list that fits.
//!
//! *Limits.* Measures are those of the scene: what a tape says on the day wins. Cautions defer to local codes and are not complete.

use glam::{DVec2, DVec3};

use crate::plan::{HeldBack, HotSpot};
use crate::room::{Role, Room};
use crate::scene::cloud::Lean;
use crate::scene::{PanelType, Scene};
use crate::workshop::caution;

use super::dimension::{self, Along, Chain};
use super::elevation::Elevation;
use super::heatmap::main_spots;
use super::hung::{How, Hung};
use super::paper;
use super::sheet_title::{self, Origin};
use super::svg::{Area, Drawing, Lettering, Look, number};
use super::tape::Tape;

/// What a sheet is made from.
#[derive(Clone, Copy, Debug)]
pub struct Job<'a> {
    /// The scene.
    pub scene: &'a Scene,
    /// The room.
    pub room: &'a Room,
    /// Every panel on every surface.
    pub hung: &'a [Hung],
    /// Hot spots of the room.
    pub hot_spots: &'a [HotSpot],
    /// This sheet's number, from 1.
    pub sheet: usize,
    /// How many sheets there are.
    pub sheets: usize,
    /// Panels that the plan hangs.
    pub planned: usize,
    /// Those of them that are not to be hung as the scene stands.
    pub held_back: &'a [HeldBack],
    /// The command that draws it.
    pub command: &'static str,
}

/// Page, margins and scales for a tape.
#[derive(Clone, Copy, Debug)]
pub(super) struct Format {
    /// What the paper is called.
    pub(super) name: &'static str,
    /// Its width and height, mm.
    pub(super) size: DVec2,
    /// Scales that people use, the largest first.
    pub(super) scales: &'static [f64],
    /// Distance of the chain below the drawing.
    pub(super) chain: f64,
    /// Length of the running measures.
    pub(super) running: f64,
    /// Width of the table.
    pub(super) table: f64,
    /// Where its columns end: from left, from floor, size.
    pub(super) columns: [f64; 3],
}

/// A surface on its sheet: where it is drawn, where table and cautions go.
#[derive(Clone, Copy, Debug)]
struct Arrangement<'a> {
    view: Elevation<'a>,
    scale: f64,
    /// Upper left corner of the table.
    table: DVec2,
    /// Room for the cautions; their box is no taller than needed.
    cautions: Area,
}

pub(super) const A4: Format = Format {
    name: "A4",
    size: DVec2::new(297.0, 210.0),
    scales: &[5.0, 10.0, 20.0, 25.0, 30.0, 40.0, 50.0, 100.0, 200.0],
    chain: 9.0,
    running: 11.0,
    table: 92.0,
    columns: [22.0, 38.0, 58.0],
};
pub(super) const LETTER: Format = Format {
    name: "US Letter",
    size: DVec2::new(279.4, 215.9),
    // 2, 1 1/2, 1, 3/4, 1/2, 3/8, 1/4, 3/16, 1/8 and 1/16 of an inch to the foot.
    scales: &[6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 48.0, 64.0, 96.0, 192.0],
    chain: 13.0,
    running: 16.0,
    table: 106.0,
    columns: [23.0, 41.0, 73.0],
};

/// Free space at every side of the page, mm.
pub const MARGIN: f64 = 8.0;
/// Where the drawing begins below the upper edge, mm.
pub(super) const TOP: f64 = 27.0;
/// Room for the chain and running measures at the left, mm.
pub(super) const LEFT: f64 = 32.0;
/// Table and cautions need at least this height, mm.
const LOWER: f64 = 38.0;
/// Room for ruler and footer, mm.
pub(super) const FOOT: f64 = 15.0;
/// Height of a row of the table, mm.
pub(super) const ROW: f64 = 3.7;

/// The sheet of the surface with this index, as an SVG document.
#[must_use]
pub fn svg(job: Job<'_>, index: usize) -> String {
    let tape = Tape::of(job.scene.unit);
    let format = if tape.is_inch() { LETTER } else { A4 };
    let mut hung: Vec<&Hung> = job.hung.iter().filter(|panel| panel.surface == index).collect();
    hung.sort_by_key(|panel| panel.number.map_or((0, 0), |number| (1, number)));
    let arrangement = arrange(job.room, index, format, hung.len());
    let view = arrangement.view;
    let mut page = Drawing::new(format.size.x, format.size.y, paper::WHITE);
    sheet_title::draw(&mut page, job, &view, tape, 1);
    let origin = Origin::of(job.room, &view);
    let names = view.draw_parts(&mut page, job.scene, None);
    page.polygon(&view.outline(), Look::line(paper::INK, 0.55));
    let level = level_line(&mut page, &view, &hung);
    for panel in &hung {
        draw_panel(&mut page, &view, panel);
    }
    // What hangs over another is drawn over it; numbers last, where nothing covers their panel.
    for (index, panel) in hung.iter().enumerate() {
        draw_lean(&mut page, &view, panel, tape);
        name_panel(&mut page, &view, panel, &hung[index + 1..], tape);
    }
    draw_chains(&mut page, &view, &hung, tape, format, &origin);
    sheet_title::draw_corners(&mut page, &view);
    if let Some(level) = level {
        name_level(&mut page, &view, &hung, level, tape);
    }
    let panels: Vec<Area> = hung.iter().map(|panel| view.shown(&view.all(&panel.outline))).collect();
    view.write_names(&mut page, &names, &panels, Lettering::new(paper::SMALL, paper::QUIET).rim(paper::WHITE));
    draw_table(&mut page, job, &hung, tape, format, (arrangement.table, &origin));
    draw_cautions(&mut page, job, &view, &hung, arrangement.cautions);
    draw_foot(&mut page, job, &view, tape, format, (arrangement.scale, &origin));
    page.finish()
}

/// The surface at the largest scale that fits, with table and cautions below it, or beside it where that makes the drawing larger.
fn arrange(room: &Room, index: usize, format: Format, panels: usize) -> Arrangement<'_> {
    let view = Elevation::new(room, index, 1.0, DVec2::new(LEFT, TOP));
    let size = 1000.0 * (view.high - view.low);
    let under = format.chain + format.running + 5.0;
    let lower = (12.0 + ROW * panels as f64).clamp(LOWER, 64.0);
    let width = format.size.x - LEFT - MARGIN - 2.0;
    let height = format.size.y - TOP - under - FOOT;
    let largest = |room: DVec2| {
        let fits = |scale: &&f64| (size / **scale).cmple(room).all();
        format.scales.iter().find(fits).copied().unwrap_or_else(|| (size / room).max_element().ceil().max(1.0))
    };
    let (below, beside) = (largest(DVec2::new(width, height - lower)), largest(DVec2::new(width - format.table - 8.0, height)));
    let foot = format.size.y - FOOT - 2.0;
    let right = format.size.x - MARGIN;
    if below <= beside {
        let view = Elevation { scale: 1000.0 / below, ..view };
        let top = view.area().high.y + under;
        let cautions = Area { low: DVec2::new(MARGIN + format.table + 8.0, top), high: DVec2::new(right, foot) };
        Arrangement { view, scale: below, table: DVec2::new(MARGIN, top), cautions }
    } else {
        let view = Elevation { scale: 1000.0 / beside, ..view };
        let left = right - format.table;
        let top = (TOP + 14.0 + ROW * panels as f64).min(foot - 70.0);
        Arrangement {
            view,
            scale: beside,
            table: DVec2::new(left, TOP),
            cautions: Area { low: DVec2::new(left, top), high: DVec2::new(right, foot) },
        }
    }
}

/// Draws the line that the upper edges of most flat panels share, or that of the only one; its height on the chart. None close below the
/// upper edge of the wall, which is a line by itself.
pub(super) fn level_line(page: &mut Drawing, view: &Elevation<'_>, hung: &[&Hung]) -> Option<f64> {
    if !matches!(view.surface.role, Role::Wall(_)) {
        return None;
    }
    let flat = |panel: &&&Hung| panel.number.is_some() && matches!(panel.how, How::Flat { .. });
    let tops: Vec<f64> = hung.iter().filter(flat).map(|panel| panel.high().y).collect();
    let sharing = |top: f64| tops.iter().filter(|other| (**other - top).abs() < 0.001).count();
    let top = tops.iter().copied().max_by(|a, b| sharing(*a).cmp(&sharing(*b)).then(a.total_cmp(b)))?;
    if (sharing(top) < 2 && tops.len() > 1) || view.high.y - top < 0.05 {
        return None;
    }
    let (from, to) = (view.paper(DVec2::new(view.low.x, top)), view.paper(DVec2::new(view.high.x, top)));
    page.clipped(&view.outline(), |page| page.line(from, to, Look::line(paper::ACCENT, 0.22).dashed(2.2, 1.1)));
    Some(top)
}

/// Writes the height of the level line above it, else below it, where nothing else stands.
pub(super) fn name_level(page: &mut Drawing, view: &Elevation<'_>, hung: &[&Hung], level: f64, tape: Tape) {
    let letters = Lettering::new(paper::SMALL, paper::ACCENT).rim(paper::WHITE);
    let text = format!("level line {}", tape.read(level));
    let line = view.paper(DVec2::new(view.low.x, level)).y;
    let area = view.area();
    let panels: Vec<Area> = hung.iter().map(|panel| Area::round(&view.all(&panel.outline))).collect();
    let open = |at: &DVec2| {
        let ground = letters.area(*at, &text);
        let corners = [ground.low, DVec2::new(ground.high.x, ground.low.y)];
        let on_wall = |corner: &DVec2| {
            view.surface.outline.contains(view.low + DVec2::new(corner.x - area.low.x, area.high.y - corner.y) / view.scale)
        };
        corners.iter().all(on_wall) && !panels.iter().any(|panel| panel.overlaps(&ground, 0.0))
    };
    let count = ((area.size().x - letters.length(&text)) / 2.0).max(0.0) as usize;
    let row = |y: f64| (0..=count).map(move |step| DVec2::new(area.low.x + 1.5 + 2.0 * step as f64, y));
    let places: Vec<DVec2> = row(line - 1.0).chain(row(line + 2.8)).filter(open).collect();
    page.text_where_free(&places, &text, letters);
}

/// One panel.
pub(super) fn draw_panel(page: &mut Drawing, view: &Elevation<'_>, panel: &Hung) {
    let look = match (panel.number, panel.how) {
        (None, _) => Look::fill(paper::LINE).opacity(0.5).edged(paper::SOFT, 0.3),
        (Some(_), How::Flat { .. }) => Look::fill(paper::PANEL).opacity(0.8).edged(paper::INK, 0.4),
        (Some(_), How::Corner { .. } | How::Cloud { .. }) => Look::fill(paper::PANEL).opacity(0.55).edged(paper::INK, 0.4).dashed(1.8, 0.8),
    };
    // A cloud may reach beyond the facet that it is measured on: what lies there is not on this sheet.
    let area = view.area();
    let frame = [area.low, DVec2::new(area.high.x, area.low.y), area.high, DVec2::new(area.low.x, area.high.y)];
    page.clipped(&frame, |page| page.polygon(&view.all(&panel.outline), look));
}

/// Its number and how it hangs, where the panels drawn over it leave room.
pub(super) fn name_panel(page: &mut Drawing, view: &Elevation<'_>, panel: &Hung, over: &[&Hung], tape: Tape) {
    let shown = |panel: &Hung| view.shown(&view.all(&panel.outline));
    let area = shown(panel);
    let above: Vec<Area> = over.iter().map(|other| shown(other)).collect();
    let name = panel.number.map_or_else(|| "hung".to_owned(), |number| number.to_string());
    let size =
        if panel.number.is_some() { paper::HEAD.min(0.8 * area.size().x).min(0.5 * area.size().y).max(paper::SMALL) } else { paper::SMALL };
    let letters = Lettering { bold: panel.number.is_some(), ..Lettering::new(size, paper::INK).middle().rim(paper::PANEL) };
    let drop = DVec2::new(0.0, 0.35 * size);
    let at = name_within(page, area, &above, &name, letters).unwrap_or_else(|| {
        let corners = [area.low, DVec2::new(area.high.x, area.low.y), area.high, DVec2::new(area.low.x, area.high.y)];
        let mut places: Vec<DVec2> =
            std::iter::once(area.middle()).chain(corners.map(|corner| area.middle().lerp(corner, 0.6))).map(|at| at + drop).collect();
        let covered = |at: &DVec2| above.iter().filter(|other| other.overlaps(&letters.area(*at, &name), 0.0)).count();
        places.sort_by_key(covered);
        let beside = [1.0, -1.0, 2.0, -2.0].map(|step| area.middle() + drop + DVec2::new(0.0, step * (size + 0.6)));
        let _ = page.text_where_free(&places, &name, letters) || page.text_where_free(&beside, &name, letters);
        area.middle() + drop
    });
    let small = Lettering::new(2.2, paper::QUIET).middle();
    for (line, text) in how_lines(panel, tape).iter().enumerate() {
        let at = at + DVec2::new(0.0, 3.6 + 2.8 * line as f64);
        let ground = small.area(at, text);
        let fits = ground.low.x - 0.3 > area.low.x && ground.high.x + 0.3 < area.high.x && at.y + 0.8 < area.high.y;
        if !fits || !page.is_free(&ground, 0.2) || above.iter().any(|other| other.overlaps(&ground, 0.0)) {
            break;
        }
        page.text(at, text, small);
    }
}

/// Sets a name within an area where no mark, no letters and nothing drawn `above` it stands: in the middle, at the quarter points, near the
/// corners, then anywhere; in smaller letters before it stands on anything. Where it stands, if it does.
pub(super) fn name_within(page: &mut Drawing, area: Area, above: &[Area], name: &str, letters: Lettering) -> Option<DVec2> {
    let quarters = [0.25, 0.75].into_iter();
    let parts: Vec<DVec2> = std::iter::once(DVec2::splat(0.5))
        .chain(quarters.clone().flat_map(|part| [DVec2::new(0.5, part), DVec2::new(part, 0.5)]))
        .chain(quarters.clone().flat_map(|y| quarters.clone().map(move |x| DVec2::new(x, y))))
        .chain((0..=12).flat_map(|y| (0..=12).map(move |x| DVec2::new(f64::from(x), f64::from(y)) / 12.0)))
        .collect();
    for share in [1.0, 0.85, 0.7, 0.55] {
        let letters = Lettering { size: (share * letters.size).max(paper::SMALL), ..letters };
        // The smallest may come near the edge: better there than outside.
        let margin = if letters.size > paper::SMALL { 0.4 } else { 0.1 };
        let half = 0.5 * letters.area(DVec2::ZERO, name).size() + margin;
        let room = Area { low: area.low + half, high: area.high - half };
        if room.low.cmpgt(room.high).any() {
            continue;
        }
        // Base line below the middle, as far as the letters rise over it.
        let place = |part: &DVec2| (area.low + area.size() * *part).clamp(room.low, room.high) + DVec2::new(0.0, 0.35 * letters.size);
        let is_open = |at: &DVec2| {
            let ground = letters.area(*at, name);
            // Its rim covers what it reaches.
            page.is_free(&ground, 0.15 * letters.size) && !above.iter().any(|other| other.overlaps(&ground, 0.0))
        };
        if let Some(at) = parts.iter().map(place).find(is_open) {
            page.text(at, name, letters);
            return Some(at);
        }
    }
    None
}

/// How a panel hangs, in one or two lines, the first of which may stand alone where there is no room.
fn how_lines(panel: &Hung, tape: Tape) -> Vec<String> {
    let thickness = format!("{} thick", tape.read(panel.thickness));
    match panel.how {
        How::Flat { gap } if tape.mark(gap) == 0 => vec![thickness, "flush".to_owned()],
        How::Flat { gap } => vec![thickness, format!("gap {}", tape.read(gap))],
        How::Corner { .. } => vec!["corner".to_owned()],
        How::Cloud { underside, lean, panels: [1, 1] } => {
            vec![cloud_word(lean), format!("underside {}", middle_words(underside, lean, tape))]
        }
        How::Cloud { underside, lean, panels: [x, y] } => {
            let side_by_side = format!("{}, {} panels", cloud_word(lean), x * y);
            vec![side_by_side, format!("underside {}", middle_words(underside, lean, tape))]
        }
    }
}

/// The same in one line for the table.
fn how_line(job: Job<'_>, panel: &Hung, tape: Tape) -> String {
    match panel.how {
        How::Flat { gap } if tape.mark(gap) == 0 => format!("{}, flush", tape.say(panel.thickness)),
        How::Flat { gap } => format!("{}, gap {}", tape.say(panel.thickness), tape.read(gap)),
        How::Corner { other, .. } => format!("corner to {}", job.room.surfaces[other].name),
        How::Cloud { underside, lean: None, .. } => format!("underside {}", tape.read(underside)),
        How::Cloud { lean: Some(Lean { edges: [one, other], .. }), .. } => {
            format!("edges {} and {}", tape.read(one.min(other)), tape.read(one.max(other)))
        }
    }
}

fn cloud_word(lean: Option<Lean>) -> String {
    if lean.is_some() { "tilted cloud" } else { "cloud" }.to_owned()
}

/// Height of the middle of a cloud's underside; where that is all of it, without saying so.
fn middle_words(underside: f64, lean: Option<Lean>, tape: Tape) -> String {
    if lean.is_some() { format!("{} at its middle", tape.read(underside)) } else { tape.read(underside) }
}

/// Of a tilted cloud the heights of its two edges, each inside its edge, and an arrow up the slope between them.
pub(super) fn draw_lean(page: &mut Drawing, view: &Elevation<'_>, panel: &Hung, tape: Tape) {
    let Some(edges) = panel.edges() else { return };
    let chart = view.surface.chart;
    let on_paper = |point: DVec3| view.paper(chart.position(chart.plumb(point.truncate())));
    let [low, high] = edges.map(|(middle, _)| on_paper(middle));
    let Some(uphill) = (high - low).try_normalize() else { return };
    let small = Lettering::new(2.2, paper::INK).middle().rim(paper::PANEL);
    let mut length = 0.0_f64;
    for ((_, height), (at, inward)) in edges.into_iter().zip([(low, uphill), (high, -uphill)]) {
        let text = format!("edge {}", tape.read(height));
        // Its letters lie inside the edge, whichever way that runs on the paper.
        let reach = 1.0 + 0.5 * small.length(&text) * inward.x.abs() + 1.1 * inward.y.abs();
        length = length.max(2.0 * reach);
        let places = [0.0, 2.4, -2.0 * reach].map(|more| at + inward * (reach + more) + DVec2::new(0.0, 0.8));
        page.text_where_free(&places, &text, small);
    }
    // Beside the number in the middle, uphill.
    let (from, to) = (low.lerp(high, 0.5) + uphill * 4.0, high - uphill * (length + 0.6));
    if (to - from).dot(uphill) > 2.0 {
        page.arrow(from, to, paper::SOFT, 0.2);
    }
}

/// The same within so many mm: without the thickness, which stands on the drawing, if need be.
fn how_fitting(job: Job<'_>, panel: &Hung, tape: Tape, letters: Lettering, room: f64) -> String {
    let whole = how_line(job, panel, tape);
    match panel.how {
        How::Flat { gap } if letters.length(&whole) > room && tape.mark(gap) > 0 => letters.fit(&format!("gap {}", tape.read(gap)), room),
        _ => letters.fit(&whole, room),
    }
}

/// Chains below and beside the drawing.
pub(super) fn draw_chains(page: &mut Drawing, view: &Elevation<'_>, hung: &[&Hung], tape: Tape, format: Format, origin: &Origin) {
    let planned = || hung.iter().filter(|panel| panel.number.is_some());
    let (low, high) = (view.low, view.high);
    // Ends beyond the surface (a cloud's) have no place to be marked on it.
    let held = |measure: f64, low: f64, high: f64| (low - 1e-6..=high + 1e-6).contains(&measure);
    let x = |measure: f64| held(measure, low.x, high.x).then(|| (measure, view.paper(DVec2::new(measure, view.low.y)).x));
    let y = |measure: f64| held(measure, low.y, high.y).then(|| (measure, view.paper(DVec2::new(view.low.x, measure)).y));
    let across = planned().flat_map(|panel| [panel.low().x, panel.high().x]).chain([low.x, high.x]).filter_map(x).collect();
    let upward = planned().flat_map(|panel| [panel.low().y, panel.high().y]).chain([low.y, high.y]).filter_map(y).collect();
    let lefts = dimension::distinct(tape, planned().map(|panel| panel.low().x).chain([high.x]).filter_map(x).collect());
    let heights =
        dimension::distinct(tape, planned().flat_map(|panel| [panel.low().y, panel.high().y]).chain([high.y]).filter_map(y).collect());
    let area = view.area();
    let chains = [
        Chain {
            along: Along::Right,
            tape,
            ends: &dimension::distinct(tape, across),
            running: &lefts,
            edge: area.high.y,
            offset: format.chain,
            limits: (LEFT - 2.0, format.size.x - MARGIN - 2.0),
        },
        Chain {
            along: Along::Up,
            tape,
            ends: &dimension::distinct(tape, upward),
            running: &heights,
            edge: area.low.x,
            offset: 6.0,
            limits: (area.low.y - 1.2, area.high.y + 1.5),
        },
    ];
    for chain in &chains {
        dimension::draw(page, chain);
        draw_gaps(page, chain);
    }
    let quiet = Lettering::new(2.2, paper::QUIET);
    page.text_where_free(
        &[
            DVec2::new(MARGIN, area.high.y + format.chain + 5.6),
            DVec2::new(MARGIN, area.high.y + format.chain + 8.4),
            DVec2::new(MARGIN, area.high.y + format.chain + 12.0),
        ],
        &format!("from {}", origin.left),
        quiet,
    );
}

/// Lengths that a chain had no room for, in small letters between it and the drawing, with a thin line to each: with them it adds up.
pub(super) fn draw_gaps(page: &mut Drawing, chain: &Chain<'_>) {
    let small = Lettering::new(2.0, paper::INK);
    for pair in chain.ends.windows(2) {
        let text = chain.tape.print(chain.tape.mark(pair[1].0) - chain.tape.mark(pair[0].0));
        let middle = 0.5 * (pair[0].1 + pair[1].1);
        let (on, axis) = match chain.along {
            Along::Right => (DVec2::new(middle, chain.edge + chain.offset), 0),
            Along::Up => (DVec2::new(chain.edge - chain.offset, middle), 1),
        };
        // Between the chain and the drawing: on its other side stand running measures, which may read the same.
        let is_told = page.labels.iter().any(|label| {
            let off = label.area.middle() - on;
            let inward = if axis == 0 { -off.y } else { off.x };
            label.text == text && off[axis].abs() < 0.6 && (0.0..chain.offset).contains(&inward)
        });
        if is_told {
            continue;
        }
        let shifts = [0.0, 1.8, -1.8, 3.2, -3.2, 4.6, -4.6];
        let (letters, places): (Lettering, Vec<DVec2>) = match chain.along {
            Along::Right => (small.middle(), [3.7, 6.0].iter().flat_map(|up| shifts.map(|x| on + DVec2::new(x, -up))).collect()),
            Along::Up => (small, [1.3, 3.5].iter().flat_map(|off| shifts.map(|y| on + DVec2::new(*off, 0.7 + y))).collect()),
        };
        let is_open = |at: &&DVec2| {
            let ground = letters.area(**at, &text);
            let is_short_of_drawing = if axis == 0 { ground.low.y > chain.edge + 0.6 } else { ground.high.x < chain.edge - 0.1 };
            is_short_of_drawing && page.is_free(&ground, 0.2)
        };
        let Some(at) = places.iter().find(is_open).copied() else { continue };
        let ground = letters.area(at, &text);
        page.line(on, on.clamp(ground.low, ground.high), Look::line(paper::SOFT, 0.12));
        page.text(at, &text, letters);
    }
}

/// The table of panels with boxes to tick.
fn draw_table(page: &mut Drawing, job: Job<'_>, hung: &[&Hung], tape: Tape, format: Format, (at, origin): (DVec2, &Origin)) {
    let head = Lettering::new(paper::SUBHEAD, paper::INK).bold();
    page.text(at + DVec2::new(0.0, 3.2), "Panels, in hanging order", head);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let y = at.y + 7.6;
    page.text(DVec2::new(at.x, y), "no.", quiet);
    let [left, lower] = origin.heads();
    for (text, column) in [left.as_str(), &lower, "size"].into_iter().zip(format.columns) {
        page.text(DVec2::new(at.x + column, y), text, quiet.end());
    }
    let start = format.columns[2] + 3.0;
    page.text(DVec2::new(at.x + start, y), "how", quiet);
    let rows: Vec<&&Hung> = hung.iter().filter(|panel| panel.number.is_some()).collect();
    let room = page.size.y - FOOT - 2.0 - y - 1.0;
    let most = (room / ROW).floor().max(1.0) as usize;
    let shown = if rows.len() > most { most - 1 } else { rows.len() };
    let ink = Lettering::new(paper::SMALL, paper::INK);
    for (index, panel) in rows.iter().take(shown).enumerate() {
        let y = y + ROW * (index + 1) as f64;
        let number = panel.number.map_or_else(String::new, |number| number.to_string());
        page.text(DVec2::new(at.x, y), &number, ink.bold());
        let size = format!("{} x {}", tape.read(panel.size.x), tape.read(panel.size.y));
        for (text, column) in [tape.read(panel.low().x), tape.read(panel.low().y), size].iter().zip(format.columns) {
            page.text(DVec2::new(at.x + column, y), text, ink.end());
        }
        if job.held_back.iter().any(|held| Some(held.number) == panel.number) {
            page.text(DVec2::new(at.x + start, y), &ink.bold().fit("NOT TO BE HUNG", format.table - start), ink.bold());
        } else {
            page.text(DVec2::new(at.x + start, y), &how_fitting(job, panel, tape, ink, format.table - start - 4.6), ink);
            page.rect(Area::new(at.x + format.table - 3.2, y - 2.4, 2.6, 2.6), Look::line(paper::INK, 0.2));
        }
        page.line(DVec2::new(at.x, y + 1.0), DVec2::new(at.x + format.table, y + 1.0), Look::line(paper::LINE, 0.15));
    }
    if shown < rows.len() {
        let text = format!("and {} more: see the plan on the summary page", rows.len() - shown);
        page.text(DVec2::new(at.x, y + ROW * (shown + 1) as f64), &text, quiet);
    }
}

/// The cautions that this surface calls for, in a box.
fn draw_cautions(page: &mut Drawing, job: Job<'_>, view: &Elevation<'_>, hung: &[&Hung], area: Area) {
    let types: Vec<&PanelType> =
        job.scene.stock.iter().filter(|kind| hung.iter().any(|panel| panel.number.is_some() && panel.kind == kind.name)).collect();
    let hazards = caution::Hazards {
        drilling: view.surface.role != Role::Floor && (types.is_empty() || types.iter().any(|kind| kind.is_drilled())),
        standing: types.iter().any(|kind| kind.kind.stands()),
        laid: view.surface.role == Role::Floor,
        overhead: matches!(view.surface.role, Role::Ceiling(_)),
        corner: hung.iter().any(|panel| matches!(panel.how, How::Corner { .. })),
        fiber: types.iter().any(|kind| kind.core.is_fibrous()),
        heaviest_kg: types.iter().filter_map(|kind| kind.mass).reduce(f64::max),
        pounds: Tape::of(job.scene.unit).is_inch(),
    };
    let held: Vec<String> = job
        .held_back
        .iter()
        .filter(|held| hung.iter().any(|panel| panel.number == Some(held.number)))
        .map(|held| format!("Panel {} is NOT TO BE HUNG as the scene stands: {}.", held.number, held.why.join("; ")))
        .collect();
    let texts: Vec<String> = held.into_iter().chain(caution::lines(hazards)).collect();
    let head = Lettering::new(paper::SUBHEAD, paper::INK).bold();
    let width = area.size().x - 7.0;
    let mut size = 2.6;
    let (lettering, lines) = loop {
        let lettering = Lettering::new(size, paper::INK);
        let lines: Vec<String> = texts.iter().flat_map(|text| lettering.wrap(text, width)).collect();
        if 9.0 + lines.len() as f64 * size * 1.32 <= area.size().y || size < 2.0 {
            break (lettering, lines);
        }
        size -= 0.1;
    };
    let height = 9.0 + lines.len() as f64 * size * 1.32;
    page.rect(Area::new(area.low.x, area.low.y, area.size().x, height), Look::line(paper::INK, 0.35));
    page.text(area.low + DVec2::new(3.5, 5.0), caution::heading(hazards), head);
    for (index, line) in lines.iter().enumerate() {
        page.text(area.low + DVec2::new(3.5, 9.2 + index as f64 * size * 1.32), line, lettering);
    }
}

/// The bar to check the print with, scale, seed, rays, hot spots.
pub(super) fn draw_foot(
    page: &mut Drawing,
    job: Job<'_>,
    view: &Elevation<'_>,
    tape: Tape,
    format: Format,
    (scale, origin): (f64, &Origin),
) {
    let length = dimension::ruler_length(tape);
    dimension::ruler(page, DVec2::new(format.size.x - MARGIN - length, format.size.y - FOOT + 3.0), tape);
    let settings = &job.scene.settings;
    let mut parts = vec![job.command.to_owned(), format!("1:{} on {}, printed at 100 %", number(scale), format.name)];
    // Of where marks go no ray was traced.
    if !job.hot_spots.is_empty() {
        parts.push(format!("seed {}, {} rays a source", settings.seed, grouped(settings.rays)));
    }
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let room = format.size.x - 2.0 * MARGIN - length - 8.0;
    let y = format.size.y - FOOT + 7.6;
    let mut more = format!("strongest hot spots, from {} x from {}: ", origin.left, origin.lower);
    let spots = main_spots(job.room, job.hot_spots, view.index);
    for (index, (_, spot)) in spots.iter().enumerate() {
        let place = format!("{} x {}", tape.read(spot.center.left_m), tape.read(spot.center.bottom_m));
        let longer = format!("{more}{}{} {place}", if index > 0 { ", " } else { "" }, spot.source);
        if quiet.length(&longer) <= room {
            more = longer;
        }
    }
    if !spots.is_empty() {
        page.text(DVec2::new(MARGIN, y - 3.6), &quiet.fit(&more, room), quiet);
    }
    parts.retain(|part| !part.is_empty());
    page.text(DVec2::new(MARGIN, y), &quiet.fit(&parts.join("   |   "), room), quiet);
}

/// A count with thousands set apart: `100,000`.
#[must_use]
pub fn grouped(count: u32) -> String {
    let digits = count.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}
