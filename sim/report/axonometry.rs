//! The room as one looks into it from above and outside: surfaces towards the eye left out, the rest with its heat, its panels and its people.
//!
//! Parallel projection along `t = (cos e cos a, cos e sin a, sin e)` (towards the eye), elevation `e` = 33 degrees; a surface is shown if its
//! normal into the air points towards the eye. The azimuth `a` is the one of eight that shows most of the map (without one, of the walls),
//! not counting what another wall that is seen would hide.
//!
//! *Limits.* Walls and bodies are drawn far to near by their middles, which can put one before another wrongly where they interlock.

use glam::{DVec2, DVec3};

use crate::geometry::Polygon;
use crate::plan::{HotSpot, SurfaceMap};
use crate::room::{Role, Room, Surface};
use crate::scene::{Scene, SourceKind};

use super::axis::Marks;
use super::elevation::{Body, bodies, hull};
use super::heatmap::{self, Heat};
use super::hung::{How, Hung};
use super::paper;
use super::plot;
use super::svg::{Area, Drawing, Lettering, Look};

/// What the picture shows.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// The scene.
    pub scene: &'a Scene,
    /// The room.
    pub room: &'a Room,
    /// Panels as hung.
    pub hung: &'a [Hung],
    /// Hot spots.
    pub hot_spots: &'a [HotSpot],
    /// Heat by surface; may be empty.
    pub maps: &'a [SurfaceMap],
    /// What the heat is.
    pub heat: Heat,
}

/// Elevation of the eye over the horizon, radians.
const ELEVATION: f64 = 33.0 * std::f64::consts::PI / 180.0;

/// A direction of sight and the paper.
#[derive(Clone, Copy, Debug)]
pub(super) struct Eye {
    toward: DVec3,
    right: DVec3,
    up: DVec3,
    scale: f64,
    at: DVec2,
}

impl Eye {
    /// Looking from this azimuth (radians), not yet fitted to the paper.
    fn from(azimuth: f64) -> Self {
        let (sin, cos) = azimuth.sin_cos();
        let toward = DVec3::new(ELEVATION.cos() * cos, ELEVATION.cos() * sin, ELEVATION.sin());
        let right = DVec3::new(-sin, cos, 0.0);
        Self { toward, right, up: toward.cross(right), scale: 1.0, at: DVec2::ZERO }
    }

    /// The one that shows most of these maps.
    pub(super) fn best(scene: &Scene, room: &Room, maps: &[SurfaceMap]) -> Self {
        best_eye(scene, room, maps)
    }

    /// Where a point comes on the paper, mm.
    fn paper(&self, point: DVec3) -> DVec2 {
        self.at + self.scale * DVec2::new(point.dot(self.right), -point.dot(self.up))
    }

    fn all(&self, points: &[DVec3]) -> Vec<DVec2> {
        points.iter().map(|point| self.paper(*point)).collect()
    }

    fn sees(&self, surface: &Surface) -> bool {
        surface.chart.normal.dot(self.toward) > 1e-3
    }

    /// Fitted into an area of the paper.
    fn fitted(mut self, points: &[DVec3], area: Area) -> Self {
        let box_ = Area::round(&self.all(points));
        let size = box_.size().max(DVec2::splat(1e-6));
        self.scale = (area.size() / size).min_element();
        self.at = area.middle() - self.scale * box_.middle();
        self
    }
}

/// Height of the picture between headline and color scale, mm.
const HEIGHT: f64 = 122.0;

/// Cells along either side of a wall by which its visible part is counted.
const CELLS: usize = 12;

/// The picture as an SVG document.
#[must_use]
pub fn svg(look: View<'_>) -> String {
    let View { scene, room, hung, maps, heat, .. } = look;
    let mut page = Drawing::new(196.0, HEIGHT + if maps.is_empty() { 32.0 } else { 44.0 }, paper::CARD);
    let line = if maps.is_empty() {
        "surfaces towards the eye left out".to_owned()
    } else {
        format!("{}; surfaces towards the eye left out", heat.meaning())
    };
    plot::title(&mut page, &scene.name, &line);
    let shell: Vec<&Surface> = room.surfaces.iter().filter(|surface| surface.role.is_shell()).collect();
    let points: Vec<DVec3> = shell.iter().flat_map(|surface| corners(surface)).collect();
    let eye = best_eye(scene, room, maps).fitted(&points, Area::new(12.0, 22.0, page.size.x - 24.0, HEIGHT));
    // Colors for what is painted: walls that are seen.
    let painted = |map: &&SurfaceMap| {
        room.surfaces.get(map.surface).is_some_and(|surface| matches!(surface.role, Role::Wall(_)) && eye.sees(surface))
    };
    let marks = heatmap::scale(maps.iter().filter(painted));
    draw_shell(&mut page, &eye, look, marks);
    draw_bodies(&mut page, &eye, look);
    draw_hidden(&mut page, &eye, room, hung);
    draw_standing(&mut page, &eye, hung);
    let names = draw_people(&mut page, &eye, room);
    write_people(&mut page, &names);
    write_numbers(&mut page, &eye, scene, hung);
    write_names(&mut page, &eye, room);
    if !maps.is_empty() {
        let brightest = heatmap::brightest(maps.iter().filter(painted), marks);
        draw_scale(&mut page, heat, marks, brightest);
    }
    page.finish()
}

/// The room in a part of a page, without heat and hot spots, numbers and names of people.
pub(super) fn bare_room(page: &mut Drawing, eye: Eye, look: View<'_>, area: Area) {
    let shell = look.room.surfaces.iter().filter(|surface| surface.role.is_shell());
    let eye = eye.fitted(&shell.flat_map(corners).collect::<Vec<_>>(), area);
    draw_shell(page, &eye, look, Marks { low: 0.0, high: 1.0, step: 1.0 });
    draw_bodies(page, &eye, look);
    draw_hidden(page, &eye, look.room, look.hung);
    draw_standing(page, &eye, look.hung);
    draw_people(page, &eye, look.room);
    write_names(page, &eye, look.room);
}

/// Outline of a surface in the room.
fn corners(surface: &Surface) -> Vec<DVec3> {
    surface.outline.corners.iter().map(|corner| surface.chart.point(*corner)).collect()
}

/// The azimuth that shows most.
fn best_eye(scene: &Scene, room: &Room, maps: &[SurfaceMap]) -> Eye {
    let base = match scene.outline.as_slice() {
        [a, b, ..] => (*b - *a).to_angle(),
        _ => 0.0,
    };
    let cells: Vec<(usize, DVec3, f64)> = (0..room.surfaces.len())
        .filter(|index| matches!(room.surfaces[*index].role, Role::Wall(_)))
        .flat_map(|index| cells(room, index, maps).into_iter().map(move |(at, worth)| (index, at, worth)))
        .collect();
    let score = |eye: &Eye| {
        let shown = cells.iter().filter(|(index, at, _)| eye.sees(&room.surfaces[*index]) && !is_hidden(room, eye, *index, *at));
        shown.map(|(index, _, worth)| worth * room.surfaces[*index].chart.normal.dot(eye.toward)).sum::<f64>()
    };
    let quarter = std::f64::consts::FRAC_PI_2;
    let first = Eye::from(base + 0.6);
    let mut best = (first, score(&first));
    for index in 0..4 {
        for tilt in [0.6, quarter - 0.6] {
            let eye = Eye::from(base + quarter * f64::from(index) + tilt);
            let worth = score(&eye);
            if worth > best.1 * (1.0 + 1e-9) {
                best = (eye, worth);
            }
        }
    }
    best.0
}

/// Points of a wall with what showing them is worth: the heat round them, or their area without a map.
fn cells(room: &Room, index: usize, maps: &[SurfaceMap]) -> Vec<(DVec3, f64)> {
    let surface = &room.surfaces[index];
    if maps.is_empty() {
        let (low, high) = surface.outline.bounds();
        let step = (high - low) / CELLS as f64;
        let middle = |cell: usize| low + step * (DVec2::new((cell % CELLS) as f64, (cell / CELLS) as f64) + 0.5);
        let inside = (0..CELLS * CELLS).map(middle).filter(|at| surface.outline.contains(*at));
        return inside.map(|at| (surface.chart.point(at), step.x * step.y)).collect();
    }
    let values = maps.iter().filter(|map| map.surface == index).flat_map(|map| {
        map.values.iter().enumerate().filter(|(_, value)| value.is_finite()).map(|(cell, value)| {
            let place = DVec2::new((cell % map.columns.max(1)) as f64, (cell / map.columns.max(1)) as f64) + 0.5;
            (surface.chart.point(map.origin + map.patch_m * place), value.max(0.0) * map.patch_m.powi(2))
        })
    });
    values.collect()
}

/// Whether another wall that is seen stands between a point of a surface and the eye.
fn is_hidden(room: &Room, eye: &Eye, own: usize, at: DVec3) -> bool {
    let walls =
        room.surfaces.iter().enumerate().filter(|(index, wall)| *index != own && matches!(wall.role, Role::Wall(_)) && eye.sees(wall));
    walls.map(|(_, wall)| wall).any(|wall| {
        let far = -wall.chart.height(at) / wall.chart.normal.dot(eye.toward);
        far > 1e-6 && wall.outline.contains(wall.chart.position(at + far * eye.toward))
    })
}

/// Floor and far walls with their heat and what hangs flat on them, so that a nearer wall covers it; outlines of near ones dashed.
fn draw_shell(page: &mut Drawing, eye: &Eye, look: View<'_>, marks: Marks) {
    let View { room, maps, heat, hung, hot_spots, .. } = look;
    let mut seen: Vec<(usize, &Surface)> =
        room.surfaces.iter().enumerate().filter(|(_, surface)| surface.role.is_shell() && eye.sees(surface)).collect();
    let depth = |surface: &Surface| {
        let all = corners(surface);
        all.iter().map(|corner| corner.dot(eye.toward)).sum::<f64>() / all.len().max(1) as f64
    };
    seen.sort_by(|a, b| (a.1.role != Role::Floor).cmp(&(b.1.role != Role::Floor)).then(depth(a.1).total_cmp(&depth(b.1))));
    for (index, surface) in &seen {
        let shape = eye.all(&corners(surface));
        let ground = if surface.role == Role::Floor { paper::PANEL } else { paper::WHITE };
        page.polygon(&shape, Look::fill(ground));
        if surface.role != Role::Floor {
            for map in maps.iter().filter(|map| map.surface == *index) {
                paint(page, eye, surface, (map, heat), marks);
            }
        }
        for lining in &surface.linings {
            let region: Vec<DVec2> = lining.region.corners.iter().map(|corner| eye.paper(surface.chart.point(*corner))).collect();
            page.polygon(&region, Look::line(paper::CARD, 0.6));
            page.polygon(&region, Look::line(paper::INK, 0.2));
        }
        page.polygon(&shape, Look::line(paper::INK, 0.4));
        let flat = |panel: &&Hung| panel.surface == *index && matches!(panel.how, How::Flat { .. });
        for panel in hung.iter().filter(flat) {
            page.polygon(&eye.all(&panel.front), Look::fill(paper::PANEL).opacity(0.55).edged(paper::INK, 0.35));
        }
        draw_spots(page, eye, room, *index, hot_spots);
    }
    // An edge that two of the surfaces left out share is drawn once: two dashed lines make a full one.
    let mut drawn: Vec<[DVec3; 2]> = Vec::new();
    for surface in room.surfaces.iter().filter(|surface| surface.role.is_shell() && !eye.sees(surface)) {
        let around = corners(surface);
        for (index, from) in around.iter().enumerate() {
            let to = around[(index + 1) % around.len()];
            let same = |edge: &[DVec3; 2]| {
                let near = |a: DVec3, b: DVec3| a.distance_squared(b) < 1e-8;
                (near(edge[0], *from) && near(edge[1], to)) || (near(edge[0], to) && near(edge[1], *from))
            };
            if !drawn.iter().any(same) {
                drawn.push([*from, to]);
                page.line(eye.paper(*from), eye.paper(to), Look::line(paper::SOFT, 0.22).dashed(1.0, 0.9));
            }
        }
    }
    // Last, over the dashes of edges that both share.
    for (_, surface) in &seen {
        page.polygon(&eye.all(&corners(surface)), Look::line(paper::INK, 0.4));
    }
}

/// The heat of one surface.
fn paint(page: &mut Drawing, eye: &Eye, surface: &Surface, (map, heat): (&SurfaceMap, Heat), marks: Marks) {
    let levels = heatmap::levels(map, marks, &surface.outline);
    let highest = levels.iter().flatten().copied().max().unwrap_or(0);
    let mut shapes: Vec<Vec<Vec<DVec2>>> = vec![Vec::new(); highest + 1];
    for (row, line) in levels.chunks(map.columns.max(1)).enumerate() {
        let mut column = 0;
        for run in line.chunk_by(|a, b| a == b) {
            if let Some(level) = run[0] {
                let corner = |c: usize, r: usize| eye.paper(surface.chart.point(map.origin + map.patch_m * DVec2::new(c as f64, r as f64)));
                let end = column + run.len();
                shapes[level].push(vec![corner(column, row), corner(end, row), corner(end, row + 1), corner(column, row + 1)]);
            }
            column += run.len();
        }
    }
    page.clipped(&eye.all(&corners(surface)), |page| {
        page.polygon(&eye.all(&corners(surface)), Look::fill(paper::NONE));
        for (level, shapes) in shapes.iter().enumerate().filter(|(_, shapes)| !shapes.is_empty()) {
            let color = heatmap::level_color(heat, level);
            page.cells(shapes, Look::fill(color).edged(color, 0.15));
        }
    });
}

/// Frames of the main hot spots of one surface.
fn draw_spots(page: &mut Drawing, eye: &Eye, room: &Room, index: usize, hot_spots: &[HotSpot]) {
    let surface = &room.surfaces[index];
    for (_, spot) in heatmap::main_spots(room, hot_spots, index) {
        let (middle, half) = (DVec2::new(spot.center.left_m, spot.center.bottom_m), 0.5 * DVec2::from_array(spot.extent_m));
        let ring = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        let shape: Vec<DVec2> = ring.iter().map(|(x, y)| eye.paper(surface.chart.point(middle + half * DVec2::new(*x, *y)))).collect();
        page.clipped(&eye.all(&corners(surface)), |page| {
            page.polygon(&shape, Look::line(paper::CARD, 0.7));
            page.polygon(&shape, Look::line(paper::ACCENT, 0.4));
        });
    }
}

/// Blocks, far to near. What hangs shows what is below it.
fn draw_bodies(page: &mut Drawing, eye: &Eye, look: View<'_>) {
    let mut all = bodies(look.scene);
    let depth = |corners: &[DVec3]| corners.iter().map(|corner| corner.dot(eye.toward)).sum::<f64>();
    all.sort_by(|a, b| depth(&a.corners).total_cmp(&depth(&b.corners)));
    for body in all {
        let c = &body.corners;
        let (sides, top) = if is_overhead(&body) { (0.3, 0.3) } else { (0.9, 0.85) };
        page.polygon(&hull(eye.all(c)), Look::fill(paper::LINE).opacity(sides).edged(paper::SOFT, 0.3));
        page.polygon(&eye.all(&c[4..8]), Look::fill(paper::CARD).opacity(top).edged(paper::SOFT, 0.3));
        for side in 0..4 {
            let next = (side + 1) % 4;
            let outward = (c[next] - c[side]).cross(DVec3::Z);
            if outward.dot(eye.toward) > 0.0 {
                page.polygon(&eye.all(&[c[side], c[next], c[next + 4], c[side + 4]]), Look::line(paper::SOFT, 0.3));
            }
        }
    }
    let shown = |surface: &Surface| !surface.role.is_shell() && eye.sees(surface);
    for index in (0..look.room.surfaces.len()).filter(|index| shown(&look.room.surfaces[*index])) {
        draw_spots(page, eye, look.room, index, look.hot_spots);
    }
}

/// Whether a body hangs so high that the room goes on below it.
fn is_overhead(body: &Body) -> bool {
    body.corners.iter().all(|corner| corner.z > 1.5)
}

/// Panels on surfaces that are left out.
fn draw_hidden(page: &mut Drawing, eye: &Eye, room: &Room, hung: &[Hung]) {
    for panel in hung.iter().filter(|panel| matches!(panel.how, How::Flat { .. }) && !eye.sees(&room.surfaces[panel.surface])) {
        page.polygon(&eye.all(&panel.front), Look::fill(paper::PANEL).opacity(0.25).edged(paper::INK, 0.3).dashed(1.4, 0.8));
    }
}

/// Corner panels, once each, and clouds.
fn draw_standing(page: &mut Drawing, eye: &Eye, hung: &[Hung]) {
    for panel in once(hung).filter(|panel| !matches!(panel.how, How::Flat { .. })) {
        page.polygon(&eye.all(&panel.front), Look::fill(paper::PANEL).opacity(0.6).edged(paper::INK, 0.35));
    }
}

/// Each panel once, though a corner panel touches two walls.
fn once(hung: &[Hung]) -> impl Iterator<Item = &Hung> {
    hung.iter().enumerate().filter(|(index, panel)| !hung[..*index].iter().any(|other| other.front == panel.front)).map(|(_, panel)| panel)
}

/// Sources, seats and microphones on stems; returns where each one's name goes, and whether under it.
fn draw_people<'a>(page: &mut Drawing, eye: &Eye, room: &'a Room) -> Vec<(DVec2, &'a str, bool)> {
    let mut names: Vec<(DVec2, &str, bool)> = Vec::new();
    for source in &room.sources {
        let (foot, at) = (eye.paper(source.position.with_z(0.0)), eye.paper(source.position));
        page.line(foot, at, Look::line(paper::SOFT, 0.25));
        let tip = eye.paper(source.position + 0.3 * source.axis().unwrap_or_default());
        if source.axis().is_some() {
            page.arrow(at, tip, paper::INK, 0.25);
        }
        match source.kind {
            SourceKind::Loudspeaker => page.rect(Area::new(at.x - 1.3, at.y - 1.3, 2.6, 2.6), Look::fill(paper::INK)),
            SourceKind::Voice | SourceKind::Instrument => page.circle(at, 1.4, Look::fill(paper::INK)),
        }
        names.push((at, &source.name, tip.y < at.y - 1.0));
    }
    for receiver in &room.receivers {
        let (foot, at) = (eye.paper(receiver.position.with_z(0.0)), eye.paper(receiver.position));
        page.line(foot, at, Look::line(paper::SOFT, 0.25));
        page.circle(at, 1.6, Look::fill(paper::CARD).opacity(0.6).edged(paper::ACCENT, 0.45));
        names.push((at, &receiver.name, false));
    }
    names
}

/// Names of sources, seats and microphones.
fn write_people(page: &mut Drawing, names: &[(DVec2, &str, bool)]) {
    let letters = Lettering::new(paper::SMALL, paper::INK).rim(paper::CARD);
    for &(at, name, below) in names {
        let length = letters.length(name);
        let first = if below { 4.4 } else { -2.6 };
        let places =
            [(-0.5 * length, first), (2.4, 0.9), (-2.4 - length, 0.9), (2.4, -2.2), (-2.4 - length, -2.2), (-0.5 * length, 1.8 - first)];
        page.text_where_free(&places.map(|(x, y)| at + DVec2::new(x, y)), name, letters);
    }
}

/// Numbers of panels.
fn write_numbers(page: &mut Drawing, eye: &Eye, scene: &Scene, hung: &[Hung]) {
    let blocks: Vec<Polygon> = bodies(scene).iter().map(|body| Polygon::new(hull(eye.all(&body.corners)))).collect();
    let letters = Lettering::new(paper::SUBHEAD, paper::INK).bold().middle().rim(paper::PANEL);
    for panel in once(hung) {
        let Some(number) = panel.number else { continue };
        let shape = eye.all(&panel.front);
        let middle = shape.iter().sum::<DVec2>() / shape.len().max(1) as f64;
        // Where no other panel and no block lies before or behind it: the middle, else towards a corner.
        let others: Vec<Polygon> = once(hung)
            .filter(|other| other.front != panel.front)
            .map(|other| Polygon::new(eye.all(&other.front)))
            .chain(blocks.iter().cloned())
            .collect();
        let mut places: Vec<DVec2> = std::iter::once(middle).chain(shape.iter().map(|corner| middle.lerp(*corner, 0.55))).collect();
        places.sort_by_key(|place| others.iter().filter(|other| other.contains(*place)).count());
        let nudged = [(0.0, -3.6), (0.0, 3.6), (3.0, 0.0), (-3.0, 0.0), (0.0, -7.0), (0.0, 7.0)].map(|(x, y)| middle + DVec2::new(x, y));
        places.extend(nudged);
        let places: Vec<DVec2> = places.into_iter().map(|place| place + DVec2::new(0.0, 1.2)).collect();
        page.text_where_free(&places, &number.to_string(), letters);
    }
}

/// Names of the walls, outside their upper edges if seen, outside their lower edges if not, where no wall that is seen lies below them.
fn write_names(page: &mut Drawing, eye: &Eye, room: &Room) {
    let walls = || room.surfaces.iter().filter(|surface| matches!(surface.role, Role::Wall(_)));
    let painted: Vec<Polygon> = walls().filter(|wall| eye.sees(wall)).map(|wall| Polygon::new(eye.all(&corners(wall)))).collect();
    for surface in walls() {
        let seen = eye.sees(surface);
        let position = edge_middle(&surface.outline, seen);
        let at = eye.paper(surface.chart.point(position));
        let outside = eye.paper(surface.chart.point(position) - surface.chart.normal);
        let out = (outside - at).try_normalize().unwrap_or(DVec2::Y);
        let letters = Lettering::new(paper::SMALL, if seen { paper::INK } else { paper::QUIET }).middle().rim(paper::CARD);
        let far = 3.0 + 0.5 * letters.length(&surface.name) * out.x.abs();
        let mut places: Vec<DVec2> = (0..4).map(|step| at + out * (far + 3.0 * f64::from(step)) + DVec2::new(0.0, 0.9)).collect();
        let lies_on_wall = |at: &DVec2| {
            let Area { low, high } = letters.area(*at, &surface.name);
            let ground = [low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y), 0.5 * (low + high)];
            painted.iter().any(|wall| ground.iter().any(|point| wall.contains(*point)))
        };
        places.sort_by_key(lies_on_wall);
        // In a room with a corner that juts in, a wall's name may find no other ground than another wall.
        let letters = if places.first().is_some_and(lies_on_wall) { Lettering { color: paper::INK, ..letters } } else { letters };
        page.text_where_free(&places, &surface.name, letters);
    }
}

/// The point of the outline over (or under) the middle between its left and right ends.
fn edge_middle(outline: &Polygon, upper: bool) -> DVec2 {
    let (low, high) = outline.bounds();
    let x = 0.5 * (low.x + high.x);
    let corners = &outline.corners;
    let crossings = (0..corners.len()).filter_map(|index| {
        let (a, b) = (corners[index], corners[(index + 1) % corners.len()]);
        let share = (x - a.x) / (b.x - a.x);
        (0.0..=1.0).contains(&share).then_some(a.y + share * (b.y - a.y))
    });
    let y = if upper { crossings.reduce(f64::max) } else { crossings.reduce(f64::min) };
    DVec2::new(x, y.unwrap_or(if upper { high.y } else { low.y }))
}

/// The color scale below the picture.
fn draw_scale(page: &mut Drawing, heat: Heat, marks: Marks, brightest: Option<String>) {
    let at = DVec2::new(12.0, HEIGHT + 31.0);
    heatmap::color_bar(page, at, 70.0, heat, marks);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let mut key = "red frames: strongest hot spots; numbers: panels in hanging order; dashed: on a surface left out".to_owned();
    if heat == Heat::Earning {
        key += "; pale: no panel can be centered there";
    }
    if let Some(brightest) = brightest {
        key += &format!("; {brightest}");
    }
    for (index, line) in quiet.wrap(&key, page.size.x - at.x - 80.0 - 8.0).iter().enumerate() {
        page.text(at + DVec2::new(80.0, -1.4 + 3.4 * index as f64), line, quiet);
    }
}
