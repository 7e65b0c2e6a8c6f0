//! What hangs over heads: loads, strengths, distances, and what speaks against hanging it.
//!
//! Clouds hang by wires (`suspension`); what lies flat under a ceiling or a slope is held by its fixing points (`flat`).
//!
//! *References.* Distances from what is on the ceiling: `layout::free`.
//!
//! *Limits.* No permit and no proof: see `suspension`. Distances are those between the outlines that the scene gives.

use glam::{DVec2, DVec3};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::anchors::{Hang, Member};
use super::flat::{self, FlatLoads};
use super::lines::{self, Line};
use super::marking::{self, Mark, MarkKind, MarkedMembers, MarkedPanel, MarkedSurface, mark_name, on_tape};
use super::suspension::{self, Demands, Part, Point, Secondary, Suspension, Verdict};
use super::trouble::Trouble;
use super::words;
use crate::geometry::Polygon;
use crate::layout::free::kept_free;
use crate::room::{Role, Room};
use crate::scene::making::Construction;
use crate::scene::{ClearanceRegion, Cloud, Panel, PanelPlace, PanelType, Scene};

/// What hangs lower is in the way of heads, meters (common practice, no source).
const HEADS: f64 = 2.0;
/// Steeper than this a ceiling slopes, degrees: an eye screwed into it square is bent by a plumb wire.
pub(super) const SLOPES: f64 = 5.0;
/// Its anchor is at least this far from every panel, meters.
pub(super) const BESIDE: f64 = 0.03;

/// What hangs over heads, panel by panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Overhead {
    /// Number in hanging order.
    pub number: u32,
    /// Type.
    pub kind: String,
    /// The surface above it.
    pub surface: String,
    /// Wires and their loads; none for what lies flat.
    pub suspension: Option<Suspension>,
    /// Loads on the fixing points of what lies flat; none for clouds.
    pub flat: Option<FlatLoads>,
    /// Its lowest point over the floor, meters.
    pub lowest_m: f64,
    /// Distances from what must stay free.
    pub distances: Vec<Distance>,
    /// What speaks against hanging it; nothing: nothing that was figured does.
    pub not_to_be_hung: Vec<String>,
    /// What else the person on the ladder must know.
    pub remarks: Vec<String>,
}

/// How far something overhead is from what must stay free.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Distance {
    /// What must stay free.
    pub name: String,
    /// How far, meters: along the surface from what is on the same one, else level, as on the floor plan.
    pub distance_m: f64,
    /// How far it is kept at least, meters; none where nothing is known of it.
    pub kept_m: Option<f64>,
}

/// Everything overhead, in hanging order; anchors of clouds become marks of the surface that they are in.
#[must_use]
pub fn overhead(scene: &Scene, room: &Room, panels: &[Panel], surfaces: &mut Vec<MarkedSurface>) -> Vec<Overhead> {
    let mut all = Vec::new();
    let mut anchors: Vec<(usize, u32, Mark)> = Vec::new();
    let is_cloud =
        |marked: &MarkedPanel| panels.get(marked.number as usize - 1).is_some_and(|panel| matches!(panel.place, PanelPlace::Cloud(_)));
    // Clouds first: what lies flat finds anchors beside theirs.
    for clouds in [true, false] {
        for (surface, marked) in surfaces
            .iter()
            .filter(|surface| surface.is_overhead)
            .flat_map(|surface| surface.panels.iter().map(move |marked| (surface, marked)))
            .filter(|(_, marked)| is_cloud(marked) == clouds)
        {
            let Some(panel) = panels.get(marked.number as usize - 1) else { continue };
            let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
            let mut found = match &panel.place {
                PanelPlace::Cloud(cloud) => {
                    let (found, marks) = hang(scene, room, surfaces, &surface.members, cloud, kind, marked.number);
                    anchors.extend(marks.into_iter().map(|(facet, mark)| (facet, marked.number, mark)));
                    found
                }
                _ => {
                    let mut found = flat::lie(scene, &surface.members, kind, marked);
                    let set: Vec<DVec2> = anchors
                        .iter()
                        .filter(|(facet, ..)| *facet == surface.facet)
                        .map(|(_, _, mark)| DVec2::new(mark.left_m, mark.bottom_m))
                        .collect();
                    let wires = flat::secondary(scene, room, surface, (marked, panel), &set);
                    if wires.is_empty() && surface.members.iter().any(|members| members.kind.is_structural()) {
                        found.not_to_be_hung.push(words::reason(&suspension::Reason::NoSecondMember, scene.unit));
                    }
                    let long = marked.width_m.max(marked.height_m);
                    if wires.len() == 1 && long > suspension::SIDE_OF_ONE {
                        found.remarks.push(words::one_secondary(long, scene.unit));
                    }
                    if wires.iter().any(|(_, wire)| wire.cut_m.is_none()) {
                        found.remarks.push(words::short_wires(2.0 * scene.making.wire_loop, scene.unit));
                    }
                    if kind.construction() == Construction::HardenedBoard {
                        found.not_to_be_hung.push(words::NO_WOOD.to_owned());
                    }
                    found.not_to_be_hung.extend(wires.iter().filter_map(|(_, wire)| flat::weak_part(scene, wire)));
                    for (mark, wire) in wires {
                        anchors.push((surface.facet, marked.number, mark));
                        found.flat.iter_mut().for_each(|flat| flat.secondary.push(wire.clone()));
                    }
                    found
                }
            };
            found.surface.clone_from(&surface.surface);
            found.lowest_m = on_tape(lowest(room, surface.facet, marked, panel, kind), scene.unit);
            if found.lowest_m < HEADS {
                found.remarks.push(words::low(found.lowest_m, scene.unit));
            }
            found.distances = distances(scene, room, surface.facet, marked);
            found.not_to_be_hung.extend(too_near(scene, &found.distances));
            if !kind.held_by().is_positive() {
                found.not_to_be_hung.push(words::held_by_alone(kind.held_by()));
            }
            all.push(found);
        }
    }
    for (facet, number, mark) in anchors {
        let Some(panel) = panels.get(number as usize - 1) else { continue };
        let at = DVec2::new(mark.left_m, mark.bottom_m);
        if let Some(what) = taken(scene, room, facet, at).map(|what| format!("\"{what}\"")).or_else(|| under(surfaces, facet, number, at))
            && let Some(found) = all.iter_mut().find(|found: &&mut Overhead| found.number == number)
        {
            found.not_to_be_hung.push(format!("the anchor of mark {} would be in {what}", mark.name));
        }
        marking::panel_on(surfaces, scene, room, facet, number, panel).marks.push(mark);
    }
    all.sort_by_key(|overhead| overhead.number);
    before_clouds(surfaces, &mut all);
    all
}

/// What everybody should know before the first page is turned: what heads reach, what one wire alone would catch, what nobody knows the strength of.
#[must_use]
pub fn to_look_at(scene: &Scene, all: &[Overhead]) -> Vec<Trouble> {
    let numbers = |wanted: &dyn Fn(&Overhead) -> bool| -> Vec<u32> {
        all.iter().filter(|overhead| wanted(overhead)).map(|overhead| overhead.number).collect()
    };
    let is_alone = |overhead: &Overhead| {
        let long = scene
            .stock
            .iter()
            .find(|kind| kind.name == overhead.kind)
            .is_some_and(|kind| kind.size.max_element() > suspension::SIDE_OF_ONE);
        long && overhead.flat.as_ref().is_some_and(|flat| flat.secondary.len() == 1)
    };
    let is_unchecked =
        |overhead: &Overhead| overhead.flat.is_some() || overhead.suspension.as_ref().is_some_and(|hung| hung.weakest.is_none());
    let found = [
        ("in-the-way-of-heads", numbers(&|overhead| overhead.lowest_m < HEADS)),
        ("one-secondary-wire", numbers(&is_alone)),
        ("strengths-not-checked", numbers(&is_unchecked)),
    ];
    let trouble = |(id, numbers): (&str, Vec<u32>)| {
        (!numbers.is_empty()).then(|| {
            let (message, hint) = words::to_look_at(id, &numbers, HEADS, scene.unit);
            Trouble { panels: numbers, ..Trouble::new(id, message, hint) }
        })
    };
    found.into_iter().filter_map(trouble).collect()
}

/// Says at both what has to go up before a cloud of a lower number: what has an anchor above that cloud.
fn before_clouds(surfaces: &[MarkedSurface], all: &mut [Overhead]) {
    let mut told: Vec<(u32, String)> = Vec::new();
    for surface in surfaces {
        for cloud in surface.panels.iter().filter(|panel| panel.marks.iter().any(|mark| mark.what == MarkKind::Wire)) {
            let is_above = |mark: &&Mark| {
                (cloud.left_m..=cloud.left_m + cloud.width_m).contains(&mark.left_m)
                    && (cloud.bottom_m..=cloud.bottom_m + cloud.height_m).contains(&mark.bottom_m)
            };
            for panel in surface.panels.iter().filter(|panel| panel.number > cloud.number) {
                let above: Vec<&str> = panel.marks.iter().filter(is_above).map(|mark| mark.name.as_str()).collect();
                if !above.is_empty() {
                    let words = words::before_the_cloud(panel.number, &above, cloud.number);
                    told.extend([(cloud.number, words.clone()), (panel.number, words)]);
                }
            }
        }
    }
    for (number, words) in told {
        all.iter_mut().filter(|overhead| overhead.number == number).for_each(|overhead| overhead.remarks.push(words.clone()));
    }
}

/// The other panel that lies flat over a place of a facet.
fn under(surfaces: &[MarkedSurface], facet: usize, number: u32, at: DVec2) -> Option<String> {
    let on = surfaces.iter().find(|surface| surface.facet == facet)?;
    let flat = |panel: &&MarkedPanel| panel.number != number && panel.marks.iter().any(|mark| mark.what == MarkKind::Fixing);
    let covers = |panel: &&MarkedPanel| {
        at.x > panel.left_m && at.x < panel.left_m + panel.width_m && at.y > panel.bottom_m && at.y < panel.bottom_m + panel.height_m
    };
    on.panels.iter().filter(flat).find(covers).map(|panel| format!("panel {}", panel.number))
}

/// What the scene asks of everything overhead.
pub(super) fn demands(scene: &Scene) -> Demands {
    let making = &scene.making;
    Demands {
        factor: making.design_factor,
        parts: making.breaks_at.iter().map(|(name, breaking_n)| Part { name: name.clone(), breaking_n: *breaking_n }).collect(),
        wire_least: making.least_wire,
        wire_loop: making.wire_loop,
        slack_most: making.slack,
    }
}

/// A cloud on wires, and its anchors with the facet that each is in.
fn hang(
    scene: &Scene,
    room: &Room,
    surfaces: &[MarkedSurface],
    members: &[MarkedMembers],
    cloud: &Cloud,
    kind: &PanelType,
    number: u32,
) -> (Overhead, Vec<(usize, Mark)>) {
    let radians = cloud.tilt.to_array().map(f64::to_radians);
    let hang = Hang {
        center: cloud.center,
        size: cloud.size(kind) * DVec2::new(radians[0].cos(), radians[1].cos()),
        underside: cloud.underside,
        tilt: DVec2::new(radians[0].tan(), radians[1].tan()),
        thickness: kind.thickness,
        mass_kg: kind.mass.map(|mass| mass * f64::from(cloud.count())),
    };
    let lines = lines::over(scene, room, hang.center, 0.5 * hang.size);
    let in_plan: Vec<Member> = lines.iter().flatten().map(Line::member).collect();
    // A secondary wire finds no ceiling where its anchor would be in a window or under a panel.
    let ceiling = |place: DVec2| {
        let is_beside = ((place - hang.center).abs() - 0.5 * hang.size).max_element() > 0.0;
        let is_taken = |facet: usize| {
            let chart = &room.surfaces[facet].chart;
            let at = chart.position(chart.plumb(place));
            taken(scene, room, facet, at).is_some() || under(surfaces, facet, number, at).is_some()
        };
        if is_beside && room.ceiling_over(place).is_some_and(is_taken) { f64::NAN } else { scene.ceiling_height(place) }
    };
    let mut suspension = suspension::suspend(&hang, &ceiling, &in_plan, &demands(scene));
    let called = |name: &str, place: DVec2| {
        let line = lines.iter().flatten().find(|line| line.member().name == name);
        line.map_or_else(|| name.to_owned(), |line| line.name_at(place).to_owned())
    };
    for point in &mut suspension.points {
        let place = DVec2::new(point.x_m, point.y_m);
        point.member = point.member.as_ref().map(|name| called(name, place));
    }
    for wire in &mut suspension.secondary {
        wire.member = called(&wire.member, DVec2::new(wire.x_m, wire.y_m));
    }
    on_the_tape(&mut suspension, scene);
    let wires = suspension.points.iter().map(|point| (DVec2::new(point.x_m, point.y_m), MarkKind::Wire, point.member.clone()));
    let secondary =
        suspension.secondary.iter().map(|wire| (DVec2::new(wire.x_m, wire.y_m), MarkKind::Secondary, Some(wire.member.clone())));
    let marks = wires.chain(secondary).enumerate().filter_map(|(index, (place, what, member))| {
        let facet = room.ceiling_over(place)?;
        let chart = &room.surfaces[facet].chart;
        let at = chart.position(chart.plumb(place));
        let name = mark_name(number, index);
        Some((
            facet,
            Mark { name, left_m: on_tape(at.x, scene.unit), bottom_m: on_tape(at.y, scene.unit), what, member, in_line_with: None },
        ))
    });
    let marks: Vec<(usize, Mark)> = marks.collect();
    let mut not_to_be_hung = match &suspension.verdict {
        Verdict::AsFigured => Vec::new(),
        Verdict::NotToBeHung(reasons) => reasons.iter().map(|reason| words::reason(reason, scene.unit)).collect(),
    };
    let hardest = suspension.secondary.iter().filter_map(|wire| wire.needed_n).fold(0.0, f64::max);
    if let Some(part) = suspension.weakest.as_ref().filter(|part| part.breaking_n < hardest * (1.0 - 1e-9)) {
        not_to_be_hung.push(words::secondary_too_weak(&part.name, part.breaking_n, hardest, scene.unit));
    }
    if lines.is_none() {
        not_to_be_hung.push("its members run askew to the room's axes, so nothing was figured".to_owned());
    }
    // A rail of lamps that ends beside the cloud is no less a thing that somebody might take for an anchor.
    let unrated = members.iter().filter(|members| !members.kind.is_structural());
    for reason in unrated.map(|members| words::reason(&suspension::Reason::NotStructural { name: members.name.clone() }, scene.unit)) {
        if !not_to_be_hung.contains(&reason) {
            not_to_be_hung.push(reason);
        }
    }
    let mut remarks: Vec<String> = suspension.remarks.iter().map(|remark| words::remark(remark, scene.unit)).collect();
    let sloped = marks.iter().filter_map(|(facet, mark)| {
        let slope = room.surfaces[*facet].chart.slope_deg();
        (slope > SLOPES).then_some((mark.name.as_str(), slope))
    });
    let sloped: Vec<(&str, f64)> = sloped.collect();
    if let Some((_, steepest)) = sloped.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)) {
        remarks.push(words::sloped_anchors(&sloped.iter().map(|(name, _)| *name).collect::<Vec<_>>(), steepest));
    }
    let cuts = suspension.points.iter().map(|point| point.cut_m).chain(suspension.secondary.iter().map(|wire| wire.cut_m));
    if cuts.into_iter().any(|cut| cut.is_none()) {
        remarks.push(words::short_wires(2.0 * scene.making.wire_loop, scene.unit));
    }
    if suspension.weakest.is_none() {
        remarks.push(words::strength_unknown(suspension.needed_n, scene.unit));
    }
    let found = Overhead {
        number,
        kind: kind.name.clone(),
        surface: String::new(),
        suspension: Some(suspension),
        flat: None,
        lowest_m: 0.0,
        distances: Vec::new(),
        not_to_be_hung,
        remarks,
    };
    (found, marks)
}

/// Lengths and places of wires as a tape shows them.
fn on_the_tape(suspension: &mut Suspension, scene: &Scene) {
    let round = |meters: &mut f64| *meters = on_tape(*meters, scene.unit);
    let points =
        |point: &mut Point| [&mut point.x_m, &mut point.y_m, &mut point.attachment_m, &mut point.anchor_m].into_iter().for_each(round);
    suspension.points.iter_mut().for_each(points);
    // A wire is as long as its ends are apart, as printed.
    let loops = 2.0 * on_tape(scene.making.wire_loop, scene.unit);
    for point in &mut suspension.points {
        point.wire_m = point.anchor_m - point.attachment_m;
        point.cut_m = suspension::cut(point.wire_m, loops);
        point.on_back_m.iter_mut().for_each(round);
    }
    let wires = |wire: &mut Secondary| {
        [&mut wire.x_m, &mut wire.y_m, &mut wire.anchor_m, &mut wire.straight_m, &mut wire.longest_m].into_iter().for_each(round);
    };
    suspension.secondary.iter_mut().for_each(wires);
    suspension.secondary.iter_mut().for_each(|wire| wire.cut_m = suspension::cut(wire.longest_m, loops));
}

/// What is at a place of a facet that no anchor may go into: a window, a hatch, what must stay clear on it or before it.
pub(super) fn taken<'a>(scene: &'a Scene, room: &Room, facet: usize, at: DVec2) -> Option<&'a str> {
    let (surface, point) = (room.surfaces[facet].name.as_str(), room.surfaces[facet].chart.point(at));
    let holds = |place: &crate::scene::Rectangle| {
        (place.left - BESIDE..=place.left + place.width + BESIDE).contains(&at.x)
            && (place.bottom - BESIDE..=place.bottom + place.height + BESIDE).contains(&at.y)
    };
    let opening =
        scene.openings.iter().find(|opening| opening.surface == surface && holds(&opening.place)).map(|opening| opening.name.as_str());
    let clear = |clearance: &&'a crate::scene::Clearance| match &clearance.region {
        ClearanceRegion::Surface { surface: on, place } => on == surface && holds(place),
        ClearanceRegion::Space { low, high } => (*low - BESIDE).cmple(point).all() && point.cmple(*high + BESIDE).all(),
    };
    opening.or_else(|| scene.clearances.iter().find(clear).map(|clearance| clearance.name.as_str()))
}

/// The lowest point of something overhead, meters over the floor.
fn lowest(room: &Room, facet: usize, marked: &MarkedPanel, panel: &Panel, kind: &PanelType) -> f64 {
    let low = |corners: &[DVec3]| corners.iter().map(|corner| corner.z).fold(f64::INFINITY, f64::min);
    match &panel.place {
        PanelPlace::Cloud(cloud) => low(&cloud.underside_corners(kind)),
        PanelPlace::Surface { gap, .. } => {
            let chart = &room.surfaces[facet].chart;
            let size = DVec2::new(marked.width_m, marked.height_m);
            let corners = [DVec2::ZERO, DVec2::X, DVec2::ONE, DVec2::Y].map(|corner| {
                chart.point(DVec2::new(marked.left_m, marked.bottom_m) + corner * size) + chart.normal * (gap + kind.thickness)
            });
            low(&corners)
        }
        PanelPlace::Corner { .. } => f64::INFINITY,
    }
}

/// How far a panel is from everything that must stay free on the ceiling, or in the air below it.
fn distances(scene: &Scene, room: &Room, facet: usize, marked: &MarkedPanel) -> Vec<Distance> {
    let (low, high) =
        (DVec2::new(marked.left_m, marked.bottom_m), DVec2::new(marked.left_m + marked.width_m, marked.bottom_m + marked.height_m));
    let in_plan = |facet: usize, low: DVec2, high: DVec2| {
        let corners = [low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y)];
        Polygon::new(corners.map(|corner| room.surfaces[facet].chart.point(corner).truncate()).to_vec())
    };
    let panel = in_plan(facet, low, high);
    let on_surface = |name: &str, surface: &str, place: &crate::scene::Rectangle| {
        let from = DVec2::new(place.left, place.bottom);
        let to = from + DVec2::new(place.width, place.height);
        let distance_m = if surface == room.surfaces[facet].name {
            (from - high).max(low - to).max(DVec2::ZERO).length()
        } else {
            let other = room.named(surface).map(|(index, _)| index).find(|index| matches!(room.surfaces[*index].role, Role::Ceiling(_)))?;
            panel.distance(&in_plan(other, from, to))
        };
        Some(Distance { name: name.to_owned(), distance_m, kept_m: kept_free(name) })
    };
    let clearances = scene.clearances.iter().filter_map(|clearance| match &clearance.region {
        ClearanceRegion::Surface { surface, place } => on_surface(&clearance.name, surface, place),
        ClearanceRegion::Space { low: from, high: to } => {
            let distance_m = panel.distance(&Polygon::rectangle(from.truncate(), to.truncate()));
            Some(Distance { name: clearance.name.clone(), distance_m, kept_m: None })
        }
    });
    let hatches = scene.openings.iter().filter_map(|opening| on_surface(&opening.name, &opening.surface, &opening.place));
    clearances.chain(hatches).collect()
}

/// What is nearer than it is kept.
fn too_near(scene: &Scene, distances: &[Distance]) -> Vec<String> {
    distances
        .iter()
        .filter_map(|distance| {
            let kept = distance.kept_m?;
            (distance.distance_m < kept - 1e-6).then(|| words::too_near(&distance.name, distance.distance_m, kept, scene.unit))
        })
        .collect()
}
