//! Where absorber earns: a map of one surface, true to scale, seen from inside, with its color scale, axes and hot spots.
//!
//! All maps of a kind share one color scale, so that two walls can be held side by side.
//!
//! *Limits.* The map is painted in 64 steps of color. Patches whose middle lies outside the outline take the mean of their neighbors where
//! a part of them lies inside.

use glam::DVec2;

use crate::geometry::Polygon;
use crate::plan::{HotSpot, SurfaceMap};
use crate::room::{Role, Room};
use crate::scene::Scene;

use super::axis::{self, Marks};
use super::elevation::Elevation;
use super::hung::Hung;
use super::paper::{self, Colormap};
use super::sheet_title::Origin;
use super::svg::{Area, Drawing, Lettering, Look};

/// What a map shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heat {
    /// What one panel centered here takes off the early level.
    Earning,
    /// The early derivative.
    Early,
    /// The derivative of clarity.
    Clarity,
    /// The late derivative.
    Late,
    /// The late derivative over what one panel covers.
    LateEarning,
    /// The energy that has landed by a moment.
    Landed,
}

impl Heat {
    /// Color scale.
    #[must_use]
    pub fn colors(self) -> Colormap {
        match self {
            Self::Earning | Self::Early => Colormap::Viridis,
            Self::Clarity => Colormap::Cividis,
            Self::Late | Self::LateEarning | Self::Landed => Colormap::Magma,
        }
    }

    /// What the color means.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Earning => "what one panel of the stock, centered here, takes off the early level",
            Self::Early => "what absorber takes off the early level, for its area",
            Self::Clarity => "what absorber adds to clarity (C50), for its area",
            Self::Late => "what absorber takes off the decay time, for its area",
            Self::LateEarning => "what one panel of the stock, centered here, takes off the decay time, by the derivative",
            Self::Landed => "energy that has landed here so far, for its area",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Earning => "dB per panel",
            Self::Early => "dB per m2",
            Self::Clarity => "dB of C50 per m2",
            Self::Late => "% of T30 per m2",
            Self::LateEarning => "% of T30 per panel",
            Self::Landed => "dB re the direct sound at 1 m",
        }
    }

    /// First word of its file name.
    #[must_use]
    pub fn file_word(self) -> &'static str {
        match self {
            Self::Earning => "heat",
            Self::Early => "derivative",
            Self::Clarity => "clarity",
            Self::Late => "late",
            Self::LateEarning => "late-panel",
            Self::Landed => "landed",
        }
    }
}

/// Steps of color.
const LEVELS: usize = 64;

/// The color scale that all these maps share: from 0, or below it where values are clearly negative. Without the half percent at either
/// end, so that one noisy patch does not take the colors from all others; what lies beyond takes the color of the end.
#[must_use]
pub fn scale<'m>(maps: impl IntoIterator<Item = &'m SurfaceMap>) -> Marks {
    let mut values: Vec<f64> = maps.into_iter().flat_map(|map| map.values.iter().copied()).filter(|value| value.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    let cut = values.len() / 200;
    let high = values.iter().rev().nth(cut).copied().unwrap_or(0.0).max(0.0);
    let low = values.get(cut).copied().unwrap_or(0.0).min(0.0);
    Marks::round(if low < -0.05 * high { low } else { 0.0 }, high, 6)
}

/// What the end of the color scale stands for, where a map goes beyond it.
#[must_use]
pub fn brightest<'m>(maps: impl IntoIterator<Item = &'m SurfaceMap>, marks: Marks) -> Option<String> {
    let beyond = maps.into_iter().flat_map(|map| &map.values).any(|value| value.is_finite() && *value > marks.high * (1.0 + 1e-9));
    beyond.then(|| format!("brightest: {} and more", marks.print(marks.high)))
}

/// How sure the largest value of a map is, where it rests on rays.
#[must_use]
pub fn sureness(map: &SurfaceMap) -> Option<String> {
    let finite = map.values.iter().zip(&map.errors).filter(|(value, _)| value.is_finite());
    let (_, &error) = finite.max_by(|a, b| a.0.total_cmp(b.0))?;
    // Two digits, as everywhere that an error is printed.
    let digits = if error > 0.0 { (1.0 - error.log10().floor()).clamp(0.0, 4.0) as usize } else { return None };
    Some(format!("largest value +- {error:.digits$} (standard error)"))
}

/// Everything that a map is drawn with.
#[derive(Clone, Copy, Debug)]
pub struct Sheet<'a> {
    /// The scene.
    pub scene: &'a Scene,
    /// The room.
    pub room: &'a Room,
    /// Panels as hung.
    pub hung: &'a [Hung],
    /// All hot spots of the room, in the order of their numbers.
    pub hot_spots: &'a [HotSpot],
}

/// Width of a wall on the map at most, mm.
const PLOT_WIDTH: f64 = 150.0;
/// Height of a wall on the map at most, mm.
const PLOT_HEIGHT: f64 = 105.0;
/// Where the wall begins, mm.
const CORNER: DVec2 = DVec2::new(18.0, 19.0);
/// Width of the column of labels, mm.
const COLUMN: f64 = 62.0;
/// Height of one label, mm.
const LABEL: f64 = 9.0;

/// One map as an SVG document; the color scale is shared by all maps of its kind.
#[must_use]
pub fn svg(sheet: Sheet<'_>, heat: Heat, map: &SurfaceMap, marks: Marks) -> String {
    let surface = &sheet.room.surfaces[map.surface];
    let unscaled = Elevation::new(sheet.room, map.surface, 1.0, CORNER);
    let size = (unscaled.high - unscaled.low).max(DVec2::splat(0.01));
    let zoom = (PLOT_WIDTH / size.x).min(PLOT_HEIGHT / size.y);
    let view = Elevation { scale: zoom, ..unscaled };
    let spots = main_spots(sheet.room, sheet.hot_spots, map.surface);
    let plot = view.area();
    let bottom = plot.high.y.max(CORNER.y + LABEL * spots.len() as f64);
    let width = (plot.high.x + 9.0 + COLUMN).max(160.0);
    let mut page = Drawing::new(width, bottom + 31.0, paper::CARD);
    let title = Lettering::new(paper::HEAD, paper::INK).bold();
    page.text(DVec2::new(8.0, 9.0), &title.fit(&heading(&surface.name, surface.role), width - 16.0), title);
    let soft = Lettering::new(paper::BODY, paper::QUIET);
    // What the color means stays whole; a long name of the room gives way.
    let meaning = format!(", seen from {}: {}", seen_from(surface.role), heat.meaning());
    let subtitle = soft.fit(&sheet.scene.name, width - 16.0 - soft.length(&meaning)) + &meaning;
    page.text(DVec2::new(8.0, 14.2), subtitle.trim_start_matches(", "), soft);
    paint(&mut page, &view, heat, map, marks);
    let names = view.draw_parts(&mut page, sheet.scene, Some(paper::CARD));
    page.polygon(&view.outline(), Look::line(paper::INK, 0.5));
    draw_panels(&mut page, &view, sheet.hung);
    draw_spots(&mut page, &view, &spots, plot.high.x + 9.0);
    write_numbers(&mut page, &view, sheet.hung);
    draw_axes(&mut page, &view, sheet.scene, sheet.room);
    let panels: Vec<Area> =
        sheet.hung.iter().filter(|panel| panel.surface == view.index).map(|panel| Area::round(&view.all(&panel.outline))).collect();
    view.write_names(&mut page, &names, &panels, Lettering::new(paper::SMALL, paper::INK).rim(paper::CARD));
    let scale = Scale { heat, marks, beyond: brightest([map], marks), sureness: sureness(map) };
    draw_scale(&mut page, DVec2::new(CORNER.x, bottom + 16.0), &scale, sheet.scene, zoom, width);
    page.finish()
}

/// The name of a surface as a headline.
#[must_use]
pub fn heading(name: &str, role: Role) -> String {
    let mut letters = name.chars();
    let name: String = letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect());
    match role {
        Role::Wall(_) if !name.to_lowercase().contains("wall") => format!("{name} wall"),
        Role::Ceiling(_) if name.to_lowercase() != "ceiling" && !name.to_lowercase().contains("ceiling") => format!("{name} (ceiling)"),
        _ => name,
    }
}

/// From where a surface is seen.
#[must_use]
pub fn seen_from(role: Role) -> &'static str {
    match role {
        Role::Ceiling(_) => "below",
        Role::Floor => "above",
        _ => "inside",
    }
}

/// Hot spots on this surface with their numbers: at most four, each carrying at least 0.6 of what the strongest one here carries. The
/// rest stands on the summary page: the tail of a list of reflections outlines half of every wall.
#[must_use]
pub fn main_spots<'a>(room: &Room, hot_spots: &'a [HotSpot], surface: usize) -> Vec<(usize, &'a HotSpot)> {
    let chart = room.surfaces[surface].chart;
    let name = &room.surfaces[surface].name;
    let mut spots: Vec<(usize, &HotSpot)> = hot_spots
        .iter()
        .enumerate()
        .filter(|(_, spot)| spot.center.surface == *name && chart.height(spot.point_m.into()).abs() < 0.05)
        .map(|(index, spot)| (index + 1, spot))
        .collect();
    spots.sort_by(|a, b| b.1.share.total_cmp(&a.1.share).then(a.0.cmp(&b.0)));
    let least = 0.6 * spots.first().map_or(0.0, |(_, spot)| spot.share);
    spots.retain(|(_, spot)| spot.share >= least);
    spots.truncate(4);
    spots
}

/// The colors, within the outline.
fn paint(page: &mut Drawing, view: &Elevation<'_>, heat: Heat, map: &SurfaceMap, marks: Marks) {
    let levels = levels(map, marks, &view.surface.outline);
    let mut shapes: Vec<Vec<Vec<DVec2>>> = vec![Vec::new(); LEVELS];
    for row in 0..map.rows {
        let mut column = 0;
        while column < map.columns {
            let level = levels[row * map.columns + column];
            let first = column;
            while column < map.columns && levels[row * map.columns + column] == level {
                column += 1;
            }
            if let Some(level) = level {
                let corner = |c: usize, r: usize| view.paper(map.origin + map.patch_m * DVec2::new(c as f64, r as f64));
                shapes[level].push(vec![corner(first, row), corner(column, row), corner(column, row + 1), corner(first, row + 1)]);
            }
        }
    }
    page.clipped(&view.outline(), |page| {
        page.rect(view.area(), Look::fill(paper::NONE));
        for (level, shapes) in shapes.iter().enumerate().filter(|(_, shapes)| !shapes.is_empty()) {
            page.cells(shapes, Look::fill(level_color(heat, level)));
        }
    });
}

/// Step of color by patch; patches across the outline take the mean of their neighbors, those within it without a value have none.
#[must_use]
pub fn levels(map: &SurfaceMap, marks: Marks, outline: &Polygon) -> Vec<Option<usize>> {
    let at = |column: usize, row: usize| map.values.get(row * map.columns + column).copied().filter(|value| value.is_finite());
    let level = |value: f64| (marks.share(value).clamp(0.0, 1.0) * (LEVELS - 1) as f64).round() as usize;
    (0..map.rows * map.columns)
        .map(|index| {
            let (column, row) = (index % map.columns, index / map.columns);
            at(column, row).map(level).or_else(|| {
                if outline.contains(map.origin + map.patch_m * (DVec2::new(column as f64, row as f64) + 0.5)) {
                    return None;
                }
                let (mut sum, mut count) = (0.0, 0.0);
                for r in row.saturating_sub(1)..(row + 2).min(map.rows) {
                    for c in column.saturating_sub(1)..(column + 2).min(map.columns) {
                        if let Some(value) = at(c, r) {
                            sum += value;
                            count += 1.0;
                        }
                    }
                }
                (count > 0.0).then(|| level(sum / count))
            })
        })
        .collect()
}

/// Outlines of panels.
fn draw_panels(page: &mut Drawing, view: &Elevation<'_>, hung: &[Hung]) {
    for panel in hung.iter().filter(|panel| panel.surface == view.index) {
        let shape = view.all(&panel.outline);
        page.clipped(&view.outline(), |page| {
            page.polygon(&shape, Look::line(paper::INK, 0.7));
            page.polygon(&shape, Look::line(paper::CARD, 0.35));
        });
    }
}

/// Numbers of panels in a corner that is free.
fn write_numbers(page: &mut Drawing, view: &Elevation<'_>, hung: &[Hung]) {
    for panel in hung.iter().filter(|panel| panel.surface == view.index) {
        let area = Area::round(&view.all(&panel.outline));
        let name = panel.number.map_or_else(|| "hung".to_owned(), |number| number.to_string());
        let lettering = Lettering::new(paper::BODY, paper::INK).bold().rim(paper::CARD);
        let x = area.low.x + 1.0;
        page.text_where_free(&[DVec2::new(x, area.high.y - 1.0), DVec2::new(x, area.low.y + 3.0)], &name, lettering);
    }
}

/// Outlines of hot spots, each with a line to its label in the column at the right.
fn draw_spots(page: &mut Drawing, view: &Elevation<'_>, spots: &[(usize, &HotSpot)], column: f64) {
    let mut order: Vec<(usize, &HotSpot, Area)> = spots
        .iter()
        .map(|(number, spot)| {
            let middle = DVec2::new(spot.center.left_m, spot.center.bottom_m);
            let half = 0.5 * DVec2::from_array(spot.extent_m);
            // A region ends where its surface does.
            let ends = [middle - half, middle + half].map(|end| view.paper(end.clamp(view.low, view.high)));
            (*number, *spot, Area::round(&ends))
        })
        .collect();
    // Of spots at one height the rightmost has the level line: that of another would run on through it, as if it were its own.
    let row = |area: &Area| (area.middle().y / 2.0).round() as i64;
    order.sort_by(|a, b| row(&a.2).cmp(&row(&b.2)).then(b.2.high.x.total_cmp(&a.2.high.x)).then(a.0.cmp(&b.0)));
    let mut next = CORNER.y + 0.5 * LABEL;
    let mut heights: Vec<f64> = Vec::new();
    for (_, _, area) in &order {
        let y = area.middle().y.max(next);
        heights.push(y);
        next = y + LABEL;
    }
    // Pushed past the lower end: back up as far as needed.
    let mut limit = view.area().high.y.max(CORNER.y + LABEL * order.len() as f64) - 0.5 * LABEL;
    for y in heights.iter_mut().rev() {
        *y = y.min(limit);
        limit = *y - LABEL;
    }
    for ((number, spot, area), y) in order.into_iter().zip(heights) {
        page.clipped(&view.outline(), |page| {
            page.rect(area, Look::line(paper::CARD, 1.1));
            page.rect(area, Look::line(paper::INK, 0.45).dashed(1.6, 0.7));
        });
        let from = DVec2::new(area.high.x, area.middle().y);
        let path = [from, DVec2::new(column - 4.0, y), DVec2::new(column - 1.0, y)];
        page.polyline(&path, Look::line(paper::CARD, 0.8));
        page.polyline(&path, Look::line(paper::INK, 0.25));
        page.circle(from, 0.6, Look::fill(paper::INK));
        let bold = Lettering::new(paper::BODY, paper::INK).bold();
        // A bare number would be taken for a panel's.
        let head = format!("hot spot {number}, {}", spot.source);
        page.text(DVec2::new(column, y - 0.4), &bold.fit(&head, COLUMN - 4.0), bold);
        let plain = Lettering::new(paper::BODY, paper::INK);
        let line = format!("{:.1} ms later, {:.1} dB at {}", spot.delay_ms, spot.level_db, spot.receiver);
        page.text(DVec2::new(column, y + 3.2), &plain.fit(&line, COLUMN - 4.0), plain);
    }
}

/// Axes in the scene's unit.
fn draw_axes(page: &mut Drawing, view: &Elevation<'_>, scene: &Scene, room: &Room) {
    let (meters, sign) = (scene.unit.to_meters(1.0), scene.unit.symbol());
    let step = axis::step(12.0 / view.scale / meters);
    let letters = Lettering::new(paper::SMALL, paper::INK);
    let area = view.area();
    let marks = |low: f64, high: f64| {
        let (first, last) = ((low / meters / step - 1e-6).ceil() as i64, (high / meters / step + 1e-6).floor() as i64);
        (first..=last.min(first + 200)).map(move |index| index as f64 * step)
    };
    for value in marks(view.low.x, view.high.x) {
        let x = view.paper(DVec2::new(value * meters, view.low.y)).x;
        page.line(DVec2::new(x, area.high.y), DVec2::new(x, area.high.y + 1.2), Look::line(paper::INK, 0.2));
        page.text(DVec2::new(x, area.high.y + 4.0), &axis::print(value, step), letters.middle());
    }
    for value in marks(view.low.y, view.high.y) {
        let y = view.paper(DVec2::new(view.low.x, value * meters)).y;
        page.line(DVec2::new(area.low.x - 1.2, y), DVec2::new(area.low.x, y), Look::line(paper::INK, 0.2));
        page.text(DVec2::new(area.low.x - 1.8, y + 0.9), &axis::print(value, step), letters.end());
    }
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let Origin { left, lower, .. } = Origin::of(room, view);
    // Where only a corner lies outermost: maps carry no letters at corners.
    let named = |from: String, corner: &str| if from.starts_with("corner") { corner.to_owned() } else { from };
    let left = named(left, "the leftmost corner");
    page.text(DVec2::new(area.middle().x, area.high.y + 7.8), &format!("from {left}, {sign}"), quiet.middle());
    let lower = named(lower, "the lowest corner");
    let text = quiet.fit(&format!("from {lower}, {sign}"), area.size().y.max(24.0));
    page.text(DVec2::new(area.low.x - 10.5, area.middle().y), &text, quiet.middle().upright());
}

/// The color of a step.
#[must_use]
pub fn level_color(heat: Heat, level: usize) -> paper::Color {
    heat.colors().color(level as f64 / (LEVELS - 1) as f64)
}

/// The color scale with its marks and its unit, `length` mm long.
pub fn color_bar(page: &mut Drawing, at: DVec2, length: f64, heat: Heat, marks: Marks) {
    bar(page, at, length, (heat.unit(), marks), |share| heat.colors().color(share));
}

/// The same of any unit and colors; `color` takes 0 at the lowest mark to 1 at the highest.
pub fn bar(page: &mut Drawing, at: DVec2, length: f64, (unit, marks): (&str, Marks), color: impl Fn(f64) -> paper::Color) {
    let letters = Lettering::new(paper::SMALL, paper::INK);
    let thick = 3.6;
    page.text(at - DVec2::new(0.0, 1.6), unit, letters.bold());
    for level in 0..LEVELS {
        let step = length / LEVELS as f64;
        let cell = Area::new(at.x + step * level as f64, at.y, step, thick);
        let corners = vec![cell.low, DVec2::new(cell.high.x, cell.low.y), cell.high, DVec2::new(cell.low.x, cell.high.y)];
        page.cells(&[corners], Look::fill(color(level as f64 / (LEVELS - 1) as f64)));
    }
    page.rect(Area::new(at.x, at.y, length, thick), Look::line(paper::INK, 0.2));
    for value in marks.values() {
        let x = at.x + length * marks.share(value);
        page.line(DVec2::new(x, at.y + thick), DVec2::new(x, at.y + thick + 1.0), Look::line(paper::INK, 0.2));
        page.text(DVec2::new(x, at.y + thick + 3.8), &marks.print(value), letters.middle());
    }
}

/// What the colors of a map stand for.
struct Scale {
    heat: Heat,
    marks: Marks,
    /// What to say of values beyond the end.
    beyond: Option<String>,
    /// What to say of errors.
    sureness: Option<String>,
}

/// The color scale, what the outlines mean, and a bar of known length.
fn draw_scale(page: &mut Drawing, at: DVec2, scale: &Scale, scene: &Scene, zoom: f64, width: f64) {
    let letters = Lettering::new(paper::SMALL, paper::INK);
    let thick = 3.6;
    color_bar(page, at, 80.0, scale.heat, scale.marks);
    if let Some(sureness) = &scale.sureness {
        let quiet = Lettering::new(paper::SMALL, paper::QUIET);
        let unit = letters.bold().length(scale.heat.unit());
        page.text(at + DVec2::new(unit + 2.0, -1.6), &quiet.fit(sureness, 80.0 - unit - 2.0), quiet);
    }
    let gray = if matches!(scale.heat, Heat::Earning | Heat::LateEarning) { "; pale: no panel can be centered there" } else { "" };
    let beyond = scale.beyond.as_ref().map_or_else(String::new, |beyond| format!("; {beyond}"));
    let key = format!("dashes: strongest hot spots; light outline: panel as planned{gray}{beyond}");
    page.text(DVec2::new(at.x, at.y + thick + 8.2), &key, Lettering::new(paper::SMALL, paper::QUIET));
    let (meters, sign) = (scene.unit.to_meters(1.0), scene.unit.symbol());
    let bar = [1.0, 0.5, 0.2, 0.1].into_iter().map(|part| axis::step(part / meters * 0.999)).find(|bar| bar * meters * zoom < 45.0);
    if let Some(bar) = bar {
        let end = DVec2::new(width - 8.0, at.y + thick);
        let start = end - DVec2::new(bar * meters * zoom, 0.0);
        page.line(start, end, Look::line(paper::INK, 0.5));
        for x in [start.x, end.x] {
            page.line(DVec2::new(x, end.y - 1.2), DVec2::new(x, end.y + 1.2), Look::line(paper::INK, 0.3));
        }
        page.text(DVec2::new(0.5 * (start.x + end.x), end.y - 1.8), &format!("{} {sign}", axis::print(bar, bar)), letters.middle());
    }
}
