//! The room from above: who sends, who listens, and where the early reflections touch on their way.
//!
//! *Limits.* Paths over floor and ceiling lie on the direct path when seen from above; the list says which surface they meet.

use glam::DVec2;

use crate::findings::targets::judged;
use crate::findings::{Findings, Pair, Reflection};
use crate::room::{Role, Room};
use crate::scene::{Scene, SourceKind};

use super::axis;
use super::elevation::bodies;
use super::floor_plan::FloorPlan;
use super::hung;
use super::paper;
use super::plot;
use super::svg::{Area, Drawing, Lettering, Look};

/// Length of the arrow along which somebody looks or sends, mm.
const ARROW: f64 = 6.0;

/// The paper's y runs down.
const FLIP: DVec2 = DVec2::new(1.0, -1.0);

/// Reflections listed at most.
const LISTED: usize = 12;

/// Plan view with the strongest early reflections at the first receiver that the use is judged at, from every source that it is judged by.
#[must_use]
pub fn svg(scene: &Scene, room: &Room, findings: &Findings, window_ms: f64) -> String {
    let (low, high) = super::elevation::bounds(&scene.outline);
    let size = (high - low).max(DVec2::splat(0.01));
    let scale = (122.0 / size.x).min(128.0 / size.y);
    let plan = FloorPlan { low, high, scale, at: DVec2::new(18.0, 24.0) };
    let area = plan.area();
    let receiver = receivers(findings).first().copied().unwrap_or_default();
    let reflections = strongest(findings, receiver, window_ms);
    let bottom = area.high.y.max(30.0 + 4.6 * reflections.len() as f64 + 16.0);
    let mut page = Drawing::new(area.high.x + 12.0 + 86.0, bottom + 16.0, paper::CARD);
    let panels = if scene.panels.is_empty() { "" } else { "; filled: panels, dashed: overhead" };
    let head = format!("Where the first bounces touch, {}", scene.name);
    plot::title(
        &mut page,
        &head,
        &format!("seen from above; paths to the {receiver} within {} ms, strongest first{panels}", super::svg::number(window_ms)),
    );
    let outline = plan.all(&scene.outline);
    page.polygon(&outline, Look::fill(paper::WHITE).edged(paper::INK, 0.7));
    for body in bodies(scene) {
        let foot: Vec<DVec2> = body.corners[..4].iter().map(|corner| plan.paper(corner.truncate())).collect();
        page.polygon(&foot, Look::fill(paper::PANEL).opacity(0.6).edged(paper::SOFT, 0.2));
    }
    for panel in hung::panels(scene, room, &[], &scene.panels) {
        plan.draw_panel(&mut page, room, &panel, Look::fill(paper::PANEL).edged(paper::INK, 0.2));
    }
    let openings = draw_openings(&mut page, &plan, room);
    draw_paths(&mut page, &plan, room, receiver, &reflections);
    draw_people(&mut page, &plan, room);
    let letters = Lettering::new(2.2, paper::QUIET).middle().rim(paper::WHITE);
    for (places, name) in openings {
        page.text_where_free(&places, &name, letters);
    }
    draw_names(&mut page, &plan, scene, room);
    list(&mut page, DVec2::new(area.high.x + 12.0, 26.0), &reflections);
    let bar = [1.0, 0.5, 0.2]
        .into_iter()
        .map(|part| axis::step(scene.unit.from_meters(part) * 0.999))
        .find(|bar| scene.unit.to_meters(*bar) * scale < 50.0);
    if let Some(bar) = bar {
        let start = DVec2::new(18.0, bottom + 9.0);
        let end = start + DVec2::new(scene.unit.to_meters(bar) * scale, 0.0);
        page.line(start, end, Look::line(paper::INK, 0.5));
        for at in [start, end] {
            page.line(at - DVec2::new(0.0, 1.2), at + DVec2::new(0.0, 1.2), Look::line(paper::INK, 0.3));
        }
        let text = format!("{} {}", axis::print(bar, bar), scene.unit.symbol());
        page.text(end + DVec2::new(2.0, 0.9), &text, Lettering::new(paper::SMALL, paper::INK));
    }
    page.finish()
}

/// Those who listen in the pairs that the use is judged by, in the order of the scene.
pub(super) fn receivers(findings: &Findings) -> Vec<&str> {
    let mut names: Vec<&str> = judged(&findings.pairs).into_iter().map(|pair| pair.receiver.as_str()).collect();
    names.sort_by_key(|name| findings.pairs.iter().position(|pair| pair.receiver == *name));
    names.dedup();
    names
}

/// The strongest reflections of the judged pairs at this receiver within the window: single bounces, and any that are over the line.
pub(super) fn strongest<'a>(findings: &'a Findings, receiver: &str, window_ms: f64) -> Vec<(&'a Pair, &'a Reflection)> {
    let mut all: Vec<(&Pair, &Reflection)> = judged(&findings.pairs)
        .into_iter()
        .filter(|pair| pair.receiver == receiver)
        .flat_map(|pair| pair.reflections.iter().map(move |reflection| (pair, reflection)))
        .filter(|(_, reflection)| reflection.delay_ms <= window_ms && reflection.level_db.is_finite())
        .filter(|(_, reflection)| reflection.order == 1 || reflection.is_too_loud())
        .collect();
    all.sort_by(|a, b| b.1.level_db.total_cmp(&a.1.level_db).then(a.1.delay_ms.total_cmp(&b.1.delay_ms)).then(a.0.source.cmp(&b.0.source)));
    all.truncate(LISTED);
    all
}

/// Doors, windows and hatches in walls, as gaps in the line; where their names may stand, to be written over the paths.
pub(super) fn draw_openings(page: &mut Drawing, plan: &FloorPlan, room: &Room) -> Vec<([DVec2; 2], String)> {
    let mut names = Vec::new();
    for surface in room.surfaces.iter().filter(|surface| matches!(surface.role, Role::Wall(_))) {
        for lining in &surface.linings {
            let (low, high) = lining.region.bounds();
            let ends = [low.x, high.x].map(|x| plan.paper(surface.chart.point(DVec2::new(x, 0.0)).truncate()));
            page.line(ends[0], ends[1], Look::line(paper::CARD, 1.1));
            page.line(ends[0], ends[1], Look::line(paper::SOFT, 0.3));
            let inward = surface.chart.normal.truncate() * DVec2::new(1.0, -1.0);
            let middle = 0.5 * (ends[0] + ends[1]) + DVec2::new(0.0, 0.8);
            let far = 2.0 + 0.5 * Lettering::new(2.2, paper::QUIET).length(&lining.name) * inward.x.abs();
            names.push(([middle + inward * far, middle + inward * (far + 3.0)], lining.name.clone()));
        }
    }
    names
}

/// Has texts that look for a place stay off marks and arrows of people, microphones and loudspeakers.
pub(super) fn keep_people_free(page: &mut Drawing, plan: &FloorPlan, room: &Room) {
    let sources = room.sources.iter().map(|source| (source.position, source.axis()));
    let receivers = room.receivers.iter().map(|receiver| (receiver.position, Some(receiver.facing)));
    for (position, aim) in sources.chain(receivers) {
        let at = plan.paper(position.truncate());
        page.keep_free(Area::new(at.x - 2.0, at.y - 2.0, 4.0, 4.0));
        let along = aim.map_or(DVec2::ZERO, |aim| aim.truncate() * FLIP * ARROW);
        // Small boxes along it: a box round a slanting arrow would take far more.
        for step in 1..=8 {
            let at = at + along * f64::from(step) / 8.0;
            page.keep_free(Area::new(at.x - 0.6, at.y - 0.6, 1.2, 1.2));
        }
    }
}

/// Sources, seats and microphones.
pub(super) fn draw_people(page: &mut Drawing, plan: &FloorPlan, room: &Room) {
    let mut names = Vec::new();
    for source in &room.sources {
        let at = plan.paper(source.position.truncate());
        if let Some(axis) = source.axis() {
            page.arrow(at, at + axis.truncate() * FLIP * ARROW, paper::INK, 0.3);
        }
        match source.kind {
            SourceKind::Loudspeaker => page.rect(Area::new(at.x - 1.4, at.y - 1.4, 2.8, 2.8), Look::fill(paper::INK)),
            SourceKind::Voice | SourceKind::Instrument => page.circle(at, 1.5, Look::fill(paper::INK)),
        }
        // Beside its mark where its arrow does not point.
        names.push((at, source.name.clone(), if source.aim.y > 0.3 { 4.6 } else { -2.8 }));
    }
    for receiver in &room.receivers {
        let at = plan.paper(receiver.position.truncate());
        if let Some(radius) = receiver.zone_radius {
            page.circle(at, radius * plan.scale, Look::line(paper::ACCENT, 0.2).dashed(0.8, 0.6));
        }
        page.arrow(at, at + receiver.facing.truncate() * FLIP * ARROW, paper::ACCENT, 0.3);
        page.circle(at, 1.4, Look::fill(paper::CARD).edged(paper::ACCENT, 0.45));
        names.push((at, receiver.name.clone(), if receiver.facing.y < -0.3 { -2.8 } else { 4.6 }));
    }
    let letters = Lettering::new(paper::SMALL, paper::INK).rim(paper::CARD).middle();
    for (at, name, first) in names {
        let half = 0.5 * letters.length(&name) + 2.4;
        let places = [(0.0, first), (half, 0.9), (-half, 0.9), (0.0, 1.8 - first), (0.0, -6.0), (0.0, 7.6), (half, -3.0), (-half, -3.0)];
        page.text_where_free(&places.map(|(x, y)| at + DVec2::new(x, y)), &name, letters);
    }
}

/// Paths, thin; where they touch, numbered.
fn draw_paths(page: &mut Drawing, plan: &FloorPlan, room: &Room, receiver: &str, reflections: &[(&Pair, &Reflection)]) {
    let Some(ear) = room.receivers.iter().find(|candidate| candidate.name == receiver) else { return };
    let mut numbers = Vec::new();
    for (index, (pair, reflection)) in reflections.iter().enumerate() {
        let Some(source) = room.sources.iter().find(|source| source.name == pair.source) else { continue };
        let color = if reflection.is_too_loud() { paper::ACCENT } else { paper::SOFT };
        let touches = reflection.points_m.iter().map(|point| DVec2::new(point[0], point[1]));
        let path: Vec<DVec2> = std::iter::once(source.position.truncate())
            .chain(touches.clone())
            .chain([ear.position.truncate()])
            .map(|point| plan.paper(point))
            .collect();
        page.polyline(&path, Look::line(color, 0.22));
        for touch in touches {
            let at = plan.paper(touch);
            page.circle(at, 0.8, Look::fill(paper::CARD).edged(color, 0.3));
            numbers.push((at, (index + 1).to_string(), color));
        }
    }
    for (at, text, color) in numbers {
        let letters = Lettering::new(paper::SMALL, color).bold().middle().rim(paper::CARD);
        let places =
            [(0.0, -1.5), (2.4, 0.9), (-2.4, 0.9), (0.0, 3.4), (2.4, -2.2), (-2.4, -2.2), (2.4, 3.8), (-2.4, 3.8), (5.4, 0.9), (-5.4, 0.9)];
        page.text_where_free(&places.map(|(x, y)| at + DVec2::new(x, y)), &text, letters);
    }
}

/// Names of walls outside, of bodies inside.
pub(super) fn draw_names(page: &mut Drawing, plan: &FloorPlan, scene: &Scene, room: &Room) {
    let count = scene.outline.len();
    let letters = Lettering::new(paper::SMALL, paper::QUIET).middle();
    for (index, wall) in scene.walls.iter().enumerate().take(count) {
        let (from, to) = (plan.paper(scene.outline[index]), plan.paper(scene.outline[(index + 1) % count]));
        let Some(along) = (to - from).try_normalize() else { continue };
        // Counterclockwise on the plan is clockwise on the paper: outside is to the left of the way.
        let out = DVec2::new(along.y, -along.x) * -1.0;
        let name = letters.fit(&wall.name, from.distance(to).max(12.0));
        // Along a wall that runs up the paper; level beside one that slants, as far off as its letters reach toward it.
        let upright = out.x.abs() > 0.99;
        let reach = if upright { 0.0 } else { 0.5 * letters.length(&name) * out.x.abs() };
        let at = 0.5 * (from + to) + out * (2.6 + reach) + if upright { DVec2::new(0.9, 0.0) } else { DVec2::new(0.0, 0.9) };
        let style = if upright { letters.upright() } else { letters };
        page.text_where_free(&[at, at + out * 2.6], &name, style);
    }
    // Names of bodies keep off the marks of people, which lie over them.
    let marks: Vec<Area> = room
        .sources
        .iter()
        .map(|source| source.position)
        .chain(room.receivers.iter().map(|receiver| receiver.position))
        .map(|point| plan.paper(point.truncate()))
        .map(|at| Area::new(at.x - 1.8, at.y - 1.8, 3.6, 3.6))
        .collect();
    for body in bodies(scene) {
        let corners: Vec<DVec2> = body.corners[..4].iter().map(|corner| plan.paper(corner.truncate())).collect();
        let area = Area::round(&corners);
        let letters = Lettering::new(2.2, paper::QUIET).middle().rim(paper::CARD);
        let flat = letters.length(&body.name) + 0.6 < area.size().x;
        let letters = if flat { letters } else { letters.upright() };
        let middle = area.middle() + if flat { DVec2::new(0.0, 0.8) } else { DVec2::new(0.8, 0.0) };
        let (along, across) = if flat { (DVec2::X, DVec2::Y) } else { (DVec2::Y, DVec2::X) };
        let far = 0.25 * area.size().dot(along);
        let shifts = [DVec2::ZERO, 3.0 * across, -3.0 * across, far * along, -far * along, 1.6 * far * along, -1.6 * far * along];
        let places: Vec<DVec2> = shifts
            .iter()
            .map(|shift| middle + *shift)
            .filter(|at| !marks.iter().any(|mark| mark.overlaps(&letters.area(*at, &body.name), 0.0)))
            .collect();
        page.text_where_free(&places, &body.name, letters);
    }
}

/// The list beside the plan.
fn list(page: &mut Drawing, at: DVec2, reflections: &[(&Pair, &Reflection)]) {
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    for (text, x) in [("ms", 14.0), ("dB", 25.0)] {
        page.text(at + DVec2::new(x, 0.0), text, quiet.end());
    }
    page.text(at + DVec2::new(28.0, 0.0), "from, via", quiet);
    let room = page.size.x - at.x - 28.0 - 4.0;
    for (index, (pair, reflection)) in reflections.iter().enumerate() {
        let y = at.y + 4.6 * (index as f64 + 1.0);
        let ink = Lettering::new(paper::SMALL, if reflection.is_too_loud() { paper::ACCENT } else { paper::INK });
        page.text(DVec2::new(at.x, y), &(index + 1).to_string(), ink.bold());
        page.text(DVec2::new(at.x + 14.0, y), &format!("{:.1}", reflection.delay_ms), ink.end());
        page.text(DVec2::new(at.x + 25.0, y), &format!("{:.1}", reflection.level_db), ink.end());
        page.text(DVec2::new(at.x + 28.0, y), &ink.fit(&format!("{}, {}", pair.source, reflection.surfaces.join(" > ")), room), ink);
    }
    let y = at.y + 4.6 * (reflections.len() as f64 + 1.0) + 2.0;
    for (index, line) in quiet.wrap("level re direct sound, 1-8 kHz; red: over -10 dB", page.size.x - at.x - 4.0).iter().enumerate() {
        page.text(DVec2::new(at.x, y + 3.4 * index as f64), line, quiet);
    }
}
