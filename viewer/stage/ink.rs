//! The lines of the picture, with a pen for each rank: edges of the room and of what stands in it, panels, hot spots, paths.
//!
//! Surfaces that face away from the eye are left out, and their edges dashed.

use bevy::math::{DVec2, DVec3};
use bevy_egui::egui::Color32;
use roomwright::geometry::Polygon;
use roomwright::plan::HotSpot;
use roomwright::report::heatmap;
use roomwright::report::hung::How;
use roomwright::room::{Emitter, Role, Room, Surface};
use roomwright::scene::shell::FLOOR;
use roomwright::scene::{Clearance, ClearanceRegion, Scene};
use roomwright::study::Building;
use roomwright::workshop::{MarkKind, MarkedSurface};

use super::camera::Pose;
use super::hand::Hand;
use super::mesh::{hung_of, is_body};
use super::thing;
use crate::arrival;
use crate::comparison::Target;
use crate::marks::{self, Marked};
use crate::results::Results;
use crate::ui::tokens;
use crate::view::{ArrivalChoice, Step, Strip as Beneath, Thing, View, Which};

/// What a line is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Pen {
    /// Edges of surfaces that are seen.
    Edge,
    /// What stands and hangs.
    Fine,
    /// Edges of what is left out, dashed.
    Dashed,
    /// Hot spots.
    Spot,
    /// What is chosen.
    Chosen,
    /// What was refused, where it was wanted: seen through everything.
    Refused,
    /// Arrivals that could be chosen.
    Fan,
    /// The wavefront.
    Wave,
    /// A reflection that was measured, as it was predicted.
    AsPredicted,
    /// One that is louder.
    Louder,
    /// One that is weaker.
    Weaker,
    /// One that nothing stands out of.
    NotToldApart,
    /// One that is missing; and what a new one could come by.
    Missing,
}

impl Pen {
    pub(super) const ALL: [Self; 13] = [
        Self::Edge,
        Self::Fine,
        Self::Dashed,
        Self::Spot,
        Self::Chosen,
        Self::Refused,
        Self::Fan,
        Self::Wave,
        Self::AsPredicted,
        Self::Louder,
        Self::Weaker,
        Self::NotToldApart,
        Self::Missing,
    ];

    /// Its width, logical pixels.
    pub(super) fn width(self) -> f32 {
        match self {
            Self::Edge => 1.8,
            Self::Fine | Self::Dashed | Self::Fan => 1.2,
            Self::Spot | Self::Wave | Self::AsPredicted | Self::Weaker | Self::NotToldApart => 2.0,
            Self::Chosen | Self::Refused => 3.0,
            Self::Louder => 4.5,
            Self::Missing => 2.2,
        }
    }

    /// What is drawn and left out of it by turns, in its widths; `None`: all is drawn.
    pub(super) fn dashes(self) -> Option<[f32; 2]> {
        match self {
            Self::Dashed => Some([4.0, 4.0]),
            Self::Refused => Some([3.0, 2.0]),
            Self::Weaker => Some([8.0, 3.0]),
            Self::NotToldApart => Some([3.0, 3.0]),
            Self::Missing => Some([1.0, 3.0]),
            _ => None,
        }
    }
}

/// A line through points of the room, meters.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Strip {
    /// Its pen.
    pub(super) pen: Pen,
    /// Its color.
    pub(super) color: Color32,
    /// Its points.
    pub(super) points: Vec<DVec3>,
}

pub(super) fn ring(pen: Pen, color: Color32, mut points: Vec<DVec3>) -> Strip {
    points.extend(points.first().copied());
    Strip { pen, color, points }
}

/// Which surfaces face the eye.
pub(super) fn seen(room: &Room, pose: &Pose) -> Vec<bool> {
    room.surfaces.iter().map(|surface| pose.is_before(surface.chart.origin, surface.chart.normal)).collect()
}

pub(super) fn around(surface: &Surface, outline: &Polygon) -> Vec<DVec3> {
    outline.corners.iter().map(|corner| surface.chart.point(*corner)).collect()
}

/// Edges of the shell, what is seen of openings and blocks, stems and aims; but for the receiver whose eye we look through.
pub(super) fn room_lines(room: &Room, seen: &[bool], own: Option<usize>) -> Vec<Strip> {
    let mut strips = Vec::new();
    let mut solid: Vec<[DVec3; 2]> = Vec::new();
    let is_shell = |surface: &Surface| surface.role.is_shell();
    for (surface, _) in room.surfaces.iter().zip(seen).filter(|(_, seen)| **seen) {
        match surface.role {
            Role::Wall(_) | Role::Floor | Role::Ceiling(_) | Role::Face(0) => {
                let corners = around(surface, &surface.outline);
                solid.extend((0..corners.len()).map(|i| [corners[i], corners[(i + 1) % corners.len()]]));
                strips.push(ring(Pen::Edge, tokens::INK, corners));
                let parts = surface.linings.iter().map(|lining| ring(Pen::Fine, tokens::SOFT, around(surface, &lining.region)));
                strips.extend(parts);
            }
            Role::Block(_) | Role::Face(_) => strips.push(ring(Pen::Fine, tokens::SOFT, around(surface, &surface.outline))),
            Role::Panel(_) => strips.push(ring(Pen::Fine, tokens::INK, around(surface, &surface.outline))),
        }
    }
    for (surface, _) in room.surfaces.iter().zip(seen).filter(|(surface, seen)| !**seen && is_shell(surface)) {
        let corners = around(surface, &surface.outline);
        for (i, from) in corners.iter().enumerate() {
            let to = corners[(i + 1) % corners.len()];
            let near = |a: DVec3, b: DVec3| a.distance_squared(b) < 1e-8;
            // Two dashed lines would make a full one.
            if !solid.iter().any(|edge| (near(edge[0], *from) && near(edge[1], to)) || (near(edge[0], to) && near(edge[1], *from))) {
                solid.push([*from, to]);
                strips.push(Strip { pen: Pen::Dashed, color: tokens::SOFT, points: vec![*from, to] });
            }
        }
    }
    strips.extend(people_lines(room, own));
    strips
}

/// Edges of what a material is given to, while absorbers lie beneath the stage.
pub(super) fn target_lines(scene: &Scene, room: &Room, view: &View) -> Vec<Strip> {
    let Some(target) = view.comparison.target.as_ref().filter(|_| view.strip == Beneath::Absorbers) else { return Vec::new() };
    let is_it = |name: &str| matches!(target, Target::One(wanted) if wanted == name);
    let is_meant = |role: Role| match role {
        Role::Wall(wall) => *target == Target::Walls || scene.walls.get(wall).is_some_and(|wall| is_it(&wall.name)),
        Role::Ceiling(plane) => scene.ceiling.get(plane).is_some_and(|plane| is_it(&plane.name)),
        Role::Floor => is_it(FLOOR),
        Role::Block(block) => scene.blocks.get(block).is_some_and(|block| is_it(&block.name)),
        Role::Panel(_) | Role::Face(_) => false,
    };
    let surfaces = room.surfaces.iter().filter(|surface| is_meant(surface.role));
    let mut strips: Vec<Strip> = surfaces.map(|surface| ring(Pen::Chosen, tokens::ACCENT, around(surface, &surface.outline))).collect();
    if let Some(opening) = scene.openings.iter().position(|opening| is_it(&opening.name)) {
        let outlines = thing::outlines(scene, room, Thing::Opening(opening)).into_iter();
        strips.extend(outlines.map(|points| Strip { pen: Pen::Chosen, color: tokens::ACCENT, points }));
    }
    strips
}

/// How far the arrow of a source reaches, its head from the tip back, and the head to either side, meters.
const ARROW: [f64; 3] = [0.35, 0.08, 0.035];

/// Where the arrow of a source ends, if it has one.
pub(super) fn arrow_tip(source: &Emitter) -> Option<DVec3> {
    Some(source.position + ARROW[0] * source.axis()?)
}

/// An arrow along a unit vector, whose head is seen from every side.
fn arrow(color: Color32, from: DVec3, along: DVec3) -> [Strip; 3] {
    let [reach, head, side] = ARROW;
    let strip = |points: Vec<DVec3>| Strip { pen: Pen::Fine, color, points };
    let tip = from + reach * along;
    let (across, up) = along.any_orthonormal_pair();
    let barbs = |aside: DVec3| strip(vec![tip - head * along + side * aside, tip, tip - head * along - side * aside]);
    [strip(vec![from, tip]), barbs(across), barbs(up)]
}

fn people_lines(room: &Room, own: Option<usize>) -> Vec<Strip> {
    let line = |color: Color32, from: DVec3, to: DVec3| Strip { pen: Pen::Fine, color, points: vec![from, to] };
    let mut strips = Vec::new();
    for source in &room.sources {
        strips.push(line(tokens::SOFT, source.position.with_z(0.0), source.position));
        strips.extend(source.axis().into_iter().flat_map(|axis| arrow(tokens::INK, source.position, axis)));
    }
    for (_, receiver) in room.receivers.iter().enumerate().filter(|(index, _)| Some(*index) != own) {
        strips.push(line(tokens::SOFT, receiver.position.with_z(0.0), receiver.position));
        strips.push(line(tokens::ACCENT, receiver.position, receiver.position + 0.25 * receiver.facing));
        if let Some(radius) = receiver.zone_radius {
            let step = |step: i32| DVec2::from_angle(std::f64::consts::TAU * f64::from(step) / 40.0) * radius;
            let points = (0..40).map(|number| receiver.position + step(number).extend(0.0)).collect();
            strips.push(ring(Pen::Fan, tokens::ACCENT, points));
        }
    }
    strips
}

/// Outlines of flat panels.
pub(super) fn panel_lines(scene: &Scene, room: &Room, seen: &[bool]) -> Vec<Strip> {
    let mut strips = Vec::new();
    for (_, panel) in scene.panels.iter().enumerate().filter(|(index, _)| !is_body(room, *index)) {
        for hung in hung_of(scene, room, panel).into_iter().filter(|hung| matches!(hung.how, How::Flat { .. })) {
            let is_seen = seen.get(hung.surface).copied().unwrap_or_default();
            strips.push(ring(if is_seen { Pen::Fine } else { Pen::Dashed }, tokens::INK, hung.front));
        }
    }
    strips
}

/// What must stay clear, thin and dashed: regions of surfaces that are seen, and boxes.
pub(super) fn clear_lines(scene: &Scene, room: &Room, seen: &[bool]) -> Vec<Strip> {
    let is_seen = |clearance: &Clearance| match &clearance.region {
        ClearanceRegion::Surface { surface, .. } => room.named(surface).any(|(index, _)| seen.get(index).copied().unwrap_or_default()),
        ClearanceRegion::Space { .. } => true,
    };
    let shown = scene.clearances.iter().enumerate().filter(|(_, clearance)| is_seen(clearance));
    let lines = shown.flat_map(|(index, _)| thing::outlines(scene, room, Thing::Clearance(index)));
    lines.map(|points| Strip { pen: Pen::Dashed, color: tokens::QUIET, points }).collect()
}

/// What is chosen, what is pointed at, where a panel from the stock would hang, and what was refused where it was wanted.
pub(super) fn hand_lines(scene: &Scene, room: &Room, view: &View, hand: &Hand) -> Vec<Strip> {
    let mut strips = Vec::new();
    let mut draw = |scene: &Scene, thing: Thing, pen: Pen, color: Color32| {
        strips.extend(thing::outlines(scene, room, thing).into_iter().map(|points| Strip { pen, color, points }));
    };
    if let Some(thing) = view.chosen {
        draw(scene, thing, Pen::Chosen, tokens::ACCENT);
    }
    if let Some(thing) = hand.pointed.filter(|thing| view.chosen != Some(*thing)) {
        // Graphite does not show on the dark end of a map.
        draw(scene, thing, Pen::Spot, tokens::ACCENT);
    }
    if let Some((wanted, thing)) = hand.offered.as_ref().and_then(|command| thing::as_wanted(scene, command)) {
        draw(&wanted, thing, Pen::Chosen, tokens::ACCENT);
    }
    if let Some((wanted, thing)) = refused(scene, view) {
        draw(&wanted, thing, Pen::Refused, tokens::ACCENT);
    }
    strips
}

/// The scene as it was wanted and refused, and the thing in it.
pub(super) fn refused(scene: &Scene, view: &View) -> Option<(Scene, Thing)> {
    thing::as_wanted(scene, &view.refused.as_ref()?.command)
}

/// The hot spots that are drawn: index, hot spot, its surface. Those of the map's surfaces that carry most, and the one that is chosen.
pub(super) fn spots<'a>(room: &Room, view: &View, results: &'a Results) -> Vec<(usize, &'a HotSpot, usize)> {
    let Some(all) = results.hot_spots.as_ref().map(|known| &*known.value) else { return Vec::new() };
    let mut spots: Vec<(usize, &HotSpot, usize)> = Vec::new();
    for surface in (0..room.surfaces.len()).filter(|&surface| room.surfaces[surface].role.is_shell()) {
        if view.painted_map().is_some() {
            spots.extend(heatmap::main_spots(room, all, surface).into_iter().map(|(number, spot)| (number - 1, spot, surface)));
        }
    }
    if let Some(chosen) = view.hot_spot
        && spots.iter().all(|(index, ..)| *index != chosen)
        && let Some(spot) = all.get(chosen)
    {
        let position = DVec2::new(spot.center.left_m, spot.center.bottom_m);
        let surface = room.surface_at(&spot.center.surface, position);
        spots.extend(surface.map(|surface| (chosen, spot, surface)));
    }
    spots
}

/// What a hot spot covers of its surface, on the chart; several parts where a corner of the surface cuts it.
pub(super) fn spot_outlines(room: &Room, spot: &HotSpot, surface: usize) -> Vec<Polygon> {
    let (middle, half) = (DVec2::new(spot.center.left_m, spot.center.bottom_m), 0.5 * DVec2::from_array(spot.extent_m));
    Polygon::rectangle(middle - half, middle + half).intersection(&room.surfaces[surface].outline)
}

/// Outlines of hot spots on surfaces that are seen, and of the one that is chosen.
pub(super) fn spot_lines(room: &Room, view: &View, results: &Results, seen: &[bool]) -> Vec<Strip> {
    let mut strips = Vec::new();
    for (index, spot, surface) in spots(room, view, results) {
        let is_chosen = view.hot_spot == Some(index);
        if is_chosen || seen.get(surface).copied().unwrap_or_default() {
            let pen = if is_chosen { Pen::Chosen } else { Pen::Spot };
            let host = &room.surfaces[surface];
            strips.extend(spot_outlines(room, spot, surface).iter().map(|part| ring(pen, tokens::ACCENT, around(host, part))));
        }
    }
    strips
}

/// The early arrivals that are drawn: the one that is chosen, and in the step that asks what the seat hears, of the pair in front, the direct sound at the ear
/// that is looked at and all reflections that exceed the criterion. With points of the way from the source to where it is heard.
pub(super) fn paths(room: &Room, view: &View, results: &Results) -> Vec<(ArrivalChoice, Vec<DVec3>)> {
    // Where it is asked whether it worked, paths are those of a recording.
    let mut choices: Vec<ArrivalChoice> = view.arrival.into_iter().filter(|_| view.step != Step::Prove).collect();
    if view.step == Step::Hear
        && let Some((pair, early)) = arrival::in_front(view, results)
    {
        let loud = early.reflections.iter().enumerate().filter(|(_, reflection)| reflection.is_too_loud());
        let in_front = std::iter::once(Which::Direct { ear: view.ear }).chain(loud.map(|(row, _)| Which::Reflection(row)));
        choices.extend(in_front.map(|which| ArrivalChoice { pair, which }).filter(|choice| view.arrival != Some(*choice)));
    }
    choices.into_iter().filter_map(|choice| Some((choice, arrival::way(room, results, choice)?))).collect()
}

/// Where sound of the pair in front that could be chosen bends first, at the ear that is looked at, while that is asked.
pub(super) fn bends(view: &View, results: &Results) -> Vec<(ArrivalChoice, DVec3)> {
    let found = (view.step == Step::Hear).then(|| arrival::in_front(view, results)).flatten();
    let Some((pair, response)) = found.and_then(|(pair, _)| Some((pair, arrival::response(results, pair, view.ear)?))) else {
        return Vec::new();
    };
    let bend = |(row, edge): (usize, &roomwright::findings::EdgeArrival)| {
        (ArrivalChoice { pair, which: Which::Edge { ear: view.ear, row } }, DVec3::from_array(edge.points_m[0]))
    };
    response.edges.iter().enumerate().map(bend).collect()
}

/// The marks that are drawn while it is asked where to drill: on surfaces that are seen, and overhead, where one looks in from above.
pub(super) fn marks<'a>(view: &View, results: &'a Results, pose: &Pose) -> Vec<Marked<'a>> {
    let Some(building) = results.building().filter(|_| view.step == Step::Build) else { return Vec::new() };
    let is_drawn = |marked: &Marked<'_>| is_marked_on(building, marked.surface, pose);
    marks::all(building).into_iter().filter(is_drawn).collect()
}

/// Upward part of the line of sight of an eye that looks in through the ceiling.
const LOOKS_DOWN: f64 = -0.05;

/// Whether what is marked on a surface is drawn.
fn is_marked_on(building: &Building, surface: &MarkedSurface, pose: &Pose) -> bool {
    let host = building.room.surfaces.get(surface.facet);
    let looks_down = pose.forward.z < LOOKS_DOWN;
    (surface.is_overhead && looks_down) || host.is_some_and(|host| pose.is_before(host.chart.origin, host.chart.normal))
}

/// Middles of what stands or runs behind surfaces that are seen and something is hung on, dashed, and the wires of clouds, while it is asked where to
/// drill. What is no anchor is in the accent.
pub(super) fn build_lines(view: &View, results: &Results, pose: &Pose) -> Vec<Strip> {
    let Some(building) = results.building().filter(|_| view.step == Step::Build) else { return Vec::new() };
    let mut strips = Vec::new();
    for surface in &building.build.surfaces {
        let host = building.room.surfaces.get(surface.facet).filter(|host| pose.is_before(host.chart.origin, host.chart.normal));
        let Some(host) = host else { continue };
        for members in &surface.members {
            let color = if members.kind.is_structural() { tokens::QUIET } else { tokens::ACCENT };
            let lines = members.at_m.iter().flat_map(|at| within(&host.outline, members.upright, *at));
            strips.extend(lines.map(|ends| Strip { pen: Pen::Dashed, color, points: ends.map(|end| host.chart.point(end)).to_vec() }));
        }
    }
    let wires = marks(view, results, pose).into_iter().filter_map(|marked| Some((marked.mark.what, marked.wire?)));
    strips.extend(wires.map(|(what, wire)| {
        let pen = if what == MarkKind::Secondary { Pen::Fan } else { Pen::Fine };
        Strip { pen, color: tokens::INK, points: wire.ends.to_vec() }
    }));
    strips
}

/// The parts of a line within an outline: upright at a distance from the left edge, or level at one from the lower edge.
pub(super) fn within(outline: &Polygon, upright: bool, at: f64) -> Vec<[DVec2; 2]> {
    let turned = |point: DVec2| if upright { point } else { DVec2::new(point.y, point.x) };
    let crossing = |(from, to): (DVec2, DVec2)| {
        let (from, to) = (turned(from), turned(to));
        // Half open, so that a corner counts once.
        ((from.x <= at) != (to.x <= at)).then(|| from.y + (to.y - from.y) * (at - from.x) / (to.x - from.x))
    };
    let mut crossings: Vec<f64> = outline.edges().filter_map(crossing).collect();
    crossings.sort_by(f64::total_cmp);
    crossings.chunks_exact(2).map(|ends| [turned(DVec2::new(at, ends[0])), turned(DVec2::new(at, ends[1]))]).collect()
}

/// The paths as lines.
pub(super) fn path_lines(room: &Room, view: &View, results: &Results) -> Vec<Strip> {
    let line = |(choice, points): (ArrivalChoice, Vec<DVec3>)| {
        let is_chosen = view.arrival == Some(choice);
        let (pen, color) = if is_chosen { (Pen::Chosen, tokens::ACCENT) } else { (Pen::Fan, tokens::INK) };
        Strip { pen, color, points }
    };
    paths(room, view, results).into_iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stage::samples;

    /// Every source that has an axis has one arrow along it, a third of a meter long, its head behind the tip; one that sends alike to all sides has none.
    #[test]
    fn exact_arrows_along_the_axes_of_sources() {
        let mut axes = 0;
        for (_, room) in samples::all() {
            let strips = people_lines(&room, None);
            for source in &room.sources {
                let from_it: Vec<DVec3> =
                    strips.iter().filter(|strip| strip.points[0] == source.position).map(|strip| strip.points[1]).collect();
                let Some(axis) = source.axis() else {
                    assert!(from_it.is_empty(), "{} sends to all sides", source.name);
                    continue;
                };
                axes += 1;
                let tip = source.position + ARROW[0] * axis;
                assert_eq!(from_it, [tip]);
                let barbs: Vec<&Strip> = strips.iter().filter(|strip| strip.points.len() == 3 && strip.points[1] == tip).collect();
                assert_eq!(barbs.len(), 2, "{}", source.name);
                for end in barbs.iter().flat_map(|barb| [barb.points[0], barb.points[2]]) {
                    assert!(((end - tip).dot(axis) + ARROW[1]).abs() < 1e-12, "{}", source.name);
                }
            }
        }
        assert!(axes >= 5, "{axes} sources with an axis");
    }
}
