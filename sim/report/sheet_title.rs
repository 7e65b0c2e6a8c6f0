//! The head of a sheet: what the surface is, from which edges it is measured, and how to find out whether it is what the scene says.
//!
//! A measure runs level from the leftmost point of the outline and upward from its lowest. Where an edge lies there, it is named with the
//! wall that it runs along; where only a corner does (a ceiling that narrows), the corner is.
//!
//! *Limits.* Diagonals are those that run inside the surface, as many as the line holds.

use glam::DVec2;

use crate::geometry::Polygon;
use crate::room::{Role, Room};

use super::elevation::Elevation;
use super::heatmap::{heading, seen_from};
use super::hung::How;
use super::paper;
use super::sheet::{Job, MARGIN};
use super::svg::{Drawing, Lettering};
use super::tape::Tape;

/// From where a surface is measured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// What measures to the right begin at: `the left edge`, `corner A`.
    pub left: String,
    /// What measures upward begin at: `the floor`, `the lower edge`, `corner B`.
    pub lower: String,
    /// Walls along those edges: ` (south wall)`; empty for a wall.
    walls: [String; 2],
}

impl Origin {
    /// That of a surface.
    #[must_use]
    pub fn of(room: &Room, view: &Elevation<'_>) -> Self {
        let outline = &view.surface.outline;
        let is_wall = matches!(view.surface.role, Role::Wall(_));
        let [left, lower] = [0, 1].map(|axis| edge_at(outline, axis, view.low[axis]));
        let named = |edge: Option<DVec2>, axis: usize, name: &str| {
            if edge.is_some() { name.to_owned() } else { format!("corner {}", letter(extreme(outline, axis))) }
        };
        let wall = |edge: Option<DVec2>| match edge {
            Some(middle) if !is_wall => format!(" ({})", beside(room, view, middle)),
            _ => String::new(),
        };
        let walls = [wall(left), wall(lower)];
        let lower = if is_wall { "the floor".to_owned() } else { named(lower, 1, "the lower edge") };
        Self { left: named(left, 0, "the left edge"), lower, walls }
    }

    /// Headings of the columns of measures to the right and upward: `from left` and `from floor`, `left edge` and `lower edge`, `from A`.
    #[must_use]
    pub fn heads(&self) -> [String; 2] {
        let on_wall = self.lower == "the floor";
        let short = |from: &str| match from {
            "the left edge" if on_wall => "from left".to_owned(),
            "the floor" => "from floor".to_owned(),
            edge => {
                edge.strip_prefix("corner ").map_or_else(|| edge.trim_start_matches("the ").to_owned(), |letter| format!("from {letter}"))
            }
        };
        [short(&self.left), short(&self.lower)]
    }
}

/// The middle of the edge of an outline along which this coordinate is lowest, if one runs there.
fn edge_at(outline: &Polygon, axis: usize, lowest: f64) -> Option<DVec2> {
    let near = |corner: DVec2| (corner[axis] - lowest).abs() < 0.001;
    let corners = &outline.corners;
    (0..corners.len())
        .map(|index| (corners[index], corners[(index + 1) % corners.len()]))
        .find(|(from, to)| near(*from) && near(*to))
        .map(|(from, to)| 0.5 * (from + to))
}

/// The corner with the lowest coordinate.
fn extreme(outline: &Polygon, axis: usize) -> usize {
    let corners = &outline.corners;
    (0..corners.len()).min_by(|a, b| corners[*a][axis].total_cmp(&corners[*b][axis])).unwrap_or(0)
}

/// The surface of the shell that meets this one at a position on its chart.
fn beside(room: &Room, view: &Elevation<'_>, position: DVec2) -> String {
    let point = view.surface.chart.point(position);
    room.surfaces
        .iter()
        .enumerate()
        .filter(|(index, surface)| *index != view.index && surface.role.is_shell())
        .map(|(_, surface)| (surface.chart.height(point).abs(), heading(&surface.name, surface.role).to_lowercase()))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or_else(String::new, |(_, name)| name)
}

/// Headline, what the numbers are, and how to check the surface itself; `part`: which page of the sheet, from 1.
pub fn draw(page: &mut Drawing, job: Job<'_>, view: &Elevation<'_>, tape: Tape, part: usize) {
    let width = page.size.x - 2.0 * MARGIN;
    let title = Lettering::new(paper::HEAD, paper::INK).bold();
    let work = if view.surface.role == Role::Floor { "mark and lay" } else { "mark and hang" };
    let more = if part > 1 { ", continued" } else { "" };
    let head = format!("{}: {work}{more}", heading(&view.surface.name, view.surface.role));
    page.text(DVec2::new(MARGIN, 12.0), &title.fit(&head, width), title);
    let quiet = Lettering::new(paper::BODY, paper::QUIET);
    let Origin { left, lower, walls: [beside_left, beside_lower] } = Origin::of(job.room, view);
    let planned = job.planned;
    let text = format!(
        ", plan of {planned} panel{}, sheet {} of {}. Seen from {}. {} from {left}{beside_left} and from {lower}{beside_lower}.",
        if planned == 1 { "" } else { "s" },
        job.sheet,
        job.sheets,
        seen_from(view.surface.role),
        tape.heading(),
    );
    // From where to measure stays whole; a long name of the room gives way.
    let text = quiet.fit(&job.scene.name, width - quiet.length(&text)) + &text;
    page.text(DVec2::new(MARGIN, 17.4), &quiet.fit(text.trim_start_matches(", "), width), quiet);
    let notes = overhangs(job, view, tape) + &plumb_clouds(job, view);
    let check = check_line(&view.surface.outline, tape, quiet, width - quiet.length(&notes)) + &notes;
    page.text(DVec2::new(MARGIN, 22.4), &quiet.fit(&check, width), quiet);
}

/// Panels of the plan that reach beyond the surface and are drawn only as far as it goes: how far, and past which edge.
fn overhangs(job: Job<'_>, view: &Elevation<'_>, tape: Tape) -> String {
    let mut text = String::new();
    for panel in job.hung.iter().filter(|panel| panel.surface == view.index) {
        let Some(number) = panel.number else { continue };
        let (under, over) = (view.low - panel.low(), panel.high() - view.high);
        let edges = [("left", under.x), ("lower", under.y), ("right", over.x), ("upper", over.y)];
        for (edge, reach) in edges.into_iter().filter(|(_, reach)| tape.mark(*reach) > 0) {
            text += &format!("; panel {number} reaches {} past the {edge} edge, drawn to the edge", tape.read(reach));
        }
    }
    text
}

/// That a cloud below a slope hangs level or another one tilts, so that its outline on the surface is not its own size.
fn plumb_clouds(job: Job<'_>, view: &Elevation<'_>) -> String {
    let is_sloped = view.surface.chart.normal.z.abs() < 0.9999;
    let (mut hangs_level, mut tilts) = (false, false);
    for panel in job.hung.iter().filter(|panel| panel.surface == view.index) {
        if let How::Cloud { lean, .. } = panel.how {
            (hangs_level, tilts) = (hangs_level || lean.is_none(), tilts || lean.is_some());
        }
    }
    match (is_sloped && hangs_level, tilts) {
        (_, true) => "; a tilted cloud is marked plumb above its underside, shorter than it is; edge: its height over the floor".to_owned(),
        (true, false) => "; a cloud hangs level, marked plumb above it".to_owned(),
        (false, false) => String::new(),
    }
}

/// Sides and diagonals, to find out whether the surface is what the scene says; as many diagonals as `room` mm hold.
fn check_line(outline: &Polygon, tape: Tape, letters: Lettering, room: f64) -> String {
    let corners = &outline.corners;
    let count = corners.len();
    let length = |a: usize, b: usize| tape.read(corners[a].distance(corners[b]));
    if outline.is_rectangle(0.001) {
        let (low, high) = outline.bounds();
        let [across, up] = (high - low).to_array().map(|side| tape.read(side));
        return format!("{across} x {up}; diagonals {} both ways if it is square", length(0, 2));
    }
    let named = |(a, b): (usize, usize)| format!("{}{} {}", letter(a), letter(b), length(a, b));
    let sides: Vec<String> = (0..count).map(|a| named((a, (a + 1) % count))).collect();
    let mut text = format!("Sides {}", sides.join(", "));
    let across = (0..count).flat_map(|a| (a + 2..count).map(move |b| (a, b))).filter(|(a, b)| !(*a == 0 && *b == count - 1));
    let mut between = "; diagonals ";
    for pair in across.filter(|(a, b)| runs_inside(outline, corners[*a], corners[*b])) {
        let longer = format!("{text}{between}{}", named(pair));
        if letters.length(&longer) > room {
            break;
        }
        (text, between) = (longer, ", ");
    }
    text
}

/// Whether the line between two corners lies inside the outline.
fn runs_inside(outline: &Polygon, from: DVec2, to: DVec2) -> bool {
    (1..20).all(|step| outline.contains(from.lerp(to, f64::from(step) / 20.0)))
}

/// The letter of a corner.
fn letter(index: usize) -> char {
    char::from(b'A' + (index % 26) as u8)
}

/// Letters at the corners of what is no rectangle, outside it where there is room.
pub fn draw_corners(page: &mut Drawing, view: &Elevation<'_>) {
    let outline = &view.surface.outline;
    if outline.is_rectangle(0.001) {
        return;
    }
    let letters = Lettering::new(paper::SMALL, paper::QUIET).middle();
    let corners = view.outline();
    for (index, corner) in corners.iter().enumerate() {
        let (before, after) = (corners[(index + corners.len() - 1) % corners.len()], corners[(index + 1) % corners.len()]);
        let toward = |other: DVec2| (other - corner).try_normalize().unwrap_or(DVec2::ZERO);
        // The half of the angle between the edges, turned outward.
        let half = (toward(before) + toward(after)).try_normalize().unwrap_or_else(|| toward(after).perp());
        let inside = outline.contains(view.position(*corner + 0.5 * half));
        let out = if inside { -half } else { half };
        let places = [2.4, 3.4, 4.4, -3.0].map(|far| *corner + out * far + DVec2::new(0.0, 0.9));
        page.text_where_free(&places, &letter(index).to_string(), letters);
    }
}
