//! What hangs over heads: loads, strengths, distances, and what speaks against hanging it.
//!
//! Clouds hang by wires (`suspension`); what lies flat under a ceiling or a slope is held by its fixing points, whose shares of the weight are those of wires at the same
//! places (`statics`): all sharing, and with any one of them lost.
//!
//! ```text
//! needed = factor x largest share x g x mass;  factor of a part = its breaking load / (largest share x g x mass)
//! ```
//!
//! *References.* 18 in (457 mm) free below a sprinkler's deflector: NFPA 13 (from memory). The distances kept from lamps and detectors are common practice without a source.
//!
//! *Limits.* No permit and no proof: see `suspension`. Distances are those between the outlines that the scene gives.

use glam::{DVec2, DVec3};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::anchors::{Hang, Member};
use super::lines::{self, Line};
use super::marking::{self, Mark, MarkKind, MarkedMembers, MarkedPanel, MarkedSurface, mark_name, on_tape};
use super::statics;
use super::suspension::{self, Demands, GRAVITY, Part, Point, Secondary, Suspension, Verdict};
use super::words;
use crate::room::Room;
use crate::scene::making::{Construction, StructureKind};
use crate::scene::{ClearanceRegion, Cloud, Panel, PanelPlace, PanelType, Scene};

/// Farthest that the secondary wire of a flat panel goes, meters (common practice, no source).
const SECONDARY_MOST: f64 = 0.8;
/// Nearer to each other two anchors split the wood that they are in, meters (common practice, no source).
const APART: f64 = 0.1;
/// A wire is made this much shorter at most than it is said, meters.
const SHORTER: f64 = 0.005;
/// What hangs lower is in the way of heads, meters (common practice, no source).
const HEADS: f64 = 2.0;
/// Steeper than this a ceiling slopes, degrees: an eye screwed into it square is bent by a plumb wire.
const SLOPES: f64 = 5.0;
/// Its anchor is at least this far from every panel, meters.
const BESIDE: f64 = 0.03;

/// What a thing on the ceiling is called by, and how far it is kept free, meters.
const KEPT_FREE: [(&str, f64); 6] =
    [("sprinkler", 0.457), ("detector", 0.3), ("alarm", 0.3), ("lamp", 0.1), ("light", 0.1), ("track", 0.1)];

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

/// Loads on fixing points.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlatLoads {
    /// Mass, kg.
    pub mass_kg: Option<f64>,
    /// Weight, newtons.
    pub weight_n: Option<f64>,
    /// Largest load of a point with all of them sharing, newtons.
    pub load_n: Option<f64>,
    /// Largest load of a point with any other one lost, newtons.
    pub load_one_lost_n: Option<f64>,
    /// Breaking load, anchor's pull-out included, that each part must have at least, newtons.
    pub needed_n: Option<f64>,
    /// Factor that is asked for.
    pub factor_wanted: f64,
    /// Wires that hold it when its fixings fail: two on what is long, as far as members are in reach.
    pub secondary: Vec<FlatSecondary>,
}

/// A closed wire from the edge of a panel that lies flat to another member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlatSecondary {
    /// Name of its mark.
    pub mark: String,
    /// Its fitting at the edge of the panel: from the left and from the lower edge of the surface, meters.
    pub from_m: [f64; 2],
    /// The member that its anchor is in.
    pub member: String,
    /// From the back edge of the panel straight to the anchor, meters: no shorter.
    pub straight_m: f64,
    /// The same with the slack: no longer, meters.
    pub longest_m: f64,
    /// What is cut off the roll for it: the longest and a loop at both ends, meters.
    pub cut_m: f64,
    /// How far that edge of the panel comes down before the longest one is taut, meters.
    pub drop_m: f64,
    /// Breaking load that each of its parts must have at least, newtons: that of the whole weight on it alone, as slanted as it is when it is taut.
    pub needed_n: Option<f64>,
}

/// How far something overhead is from what must stay free.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Distance {
    /// What must stay free.
    pub name: String,
    /// How far, along the surface, meters.
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
                    let mut found = lie(scene, &surface.members, kind, marked);
                    let set: Vec<DVec2> = anchors
                        .iter()
                        .filter(|(facet, ..)| *facet == surface.facet)
                        .map(|(_, _, mark)| DVec2::new(mark.left_m, mark.bottom_m))
                        .collect();
                    let wires = secondary(scene, room, surface, (marked, panel), &set);
                    if wires.is_empty() && surface.members.iter().any(|members| members.kind.is_structural()) {
                        found.not_to_be_hung.push(words::reason(&suspension::Reason::NoSecondMember, scene.unit));
                    }
                    let long = marked.width_m.max(marked.height_m);
                    if wires.len() == 1 && long > suspension::SIDE_OF_ONE {
                        found.remarks.push(words::one_secondary(long, scene.unit));
                    }
                    if wires.iter().any(|(_, wire)| wire.longest_m < 2.0 * scene.making.wire_loop) {
                        found.remarks.push(words::short_wires(2.0 * scene.making.wire_loop, scene.unit));
                    }
                    if kind.construction() == Construction::HardenedBoard {
                        found.not_to_be_hung.push(words::NO_WOOD.to_owned());
                    }
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
        let name = room.surfaces[facet].name.as_str();
        if let Some(what) = taken(scene, name, at).map(|what| format!("\"{what}\"")).or_else(|| under(surfaces, facet, number, at))
            && let Some(found) = all.iter_mut().find(|found: &&mut Overhead| found.number == number)
        {
            found.not_to_be_hung.push(format!("the anchor of mark {} would be in {what}", mark.name));
        }
        marking::panel_on(surfaces, scene, room, facet, number, panel).marks.push(mark);
    }
    all.sort_by_key(|overhead| overhead.number);
    all
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
fn demands(scene: &Scene) -> Demands {
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
            taken(scene, &room.surfaces[facet].name, at).is_some() || under(surfaces, facet, number, at).is_some()
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
        let off = room.surfaces[*facet].chart.normal.z.abs().clamp(0.0, 1.0).acos().to_degrees();
        (off > SLOPES).then_some((mark.name.as_str(), off))
    });
    let sloped: Vec<(&str, f64)> = sloped.collect();
    if let Some((_, steepest)) = sloped.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)) {
        remarks.push(words::sloped_anchors(&sloped.iter().map(|(name, _)| *name).collect::<Vec<_>>(), steepest));
    }
    if suspension.points.iter().any(|point| point.wire_m < 2.0 * scene.making.wire_loop) {
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
        point.cut_m = point.wire_m + loops;
        point.on_back_m.iter_mut().for_each(round);
    }
    let wires = |wire: &mut Secondary| {
        [&mut wire.x_m, &mut wire.y_m, &mut wire.anchor_m, &mut wire.straight_m, &mut wire.longest_m].into_iter().for_each(round);
    };
    suspension.secondary.iter_mut().for_each(wires);
    suspension.secondary.iter_mut().for_each(|wire| wire.cut_m = wire.longest_m + loops);
}

/// A panel that lies flat overhead.
fn lie(scene: &Scene, members: &[MarkedMembers], kind: &PanelType, marked: &MarkedPanel) -> Overhead {
    let points: Vec<DVec2> = marked.marks.iter().map(|mark| DVec2::new(mark.left_m, mark.bottom_m)).collect();
    let middle = DVec2::new(marked.left_m + 0.5 * marked.width_m, marked.bottom_m + 0.5 * marked.height_m);
    let largest = |shares: &[f64]| shares.iter().copied().fold(0.0, f64::max);
    let share = statics::shared(&points, middle).map(|shares| largest(&shares));
    let lost: Option<Vec<f64>> =
        statics::one_lost(&points, middle).iter().map(|shares| shares.as_ref().map(|shares| largest(shares))).collect();
    let share_one_lost = lost.filter(|_| points.len() > 1).map(|shares| largest(&shares));
    let weight_n = kind.mass.map(|mass| mass * GRAVITY);
    let load = |share: Option<f64>| share.zip(weight_n).map(|(share, weight)| share * weight);
    let (load_n, load_one_lost_n) = (load(share), load(share_one_lost));
    let worst = load_n.zip(load_one_lost_n).map(|(all, lost)| all.max(lost));
    let demands = demands(scene);
    let mut reasons = Vec::new();
    let structural = |members: &&MarkedMembers| members.kind.is_structural();
    if !members.iter().any(|members| structural(&members)) {
        reasons.push(words::reason(&suspension::Reason::NoMember, scene.unit));
    }
    for members in members.iter().filter(|members| !members.kind.is_structural()) {
        reasons.push(words::reason(&suspension::Reason::NotStructural { name: members.name.clone() }, scene.unit));
    }
    let is_solid = members.iter().any(|members| members.kind == StructureKind::Solid);
    if members.iter().any(|members| structural(&members)) && !is_solid && marked.marks.iter().any(|mark| mark.member.is_none()) {
        reasons.push(words::reason(&suspension::Reason::MemberMisses, scene.unit));
    }
    if kind.mass.is_none() {
        reasons.push(words::reason(&suspension::Reason::MassUnknown, scene.unit));
    }
    if share_one_lost.is_none() && !points.is_empty() {
        reasons.push("with one of its points lost the others do not hold it".to_owned());
    }
    let needed_n = worst.map(|worst| worst * demands.factor);
    let remarks = vec![words::flat_strength_unknown(needed_n, scene.unit)];
    Overhead {
        number: marked.number,
        kind: kind.name.clone(),
        surface: String::new(),
        suspension: None,
        flat: Some(FlatLoads {
            mass_kg: kind.mass,
            weight_n,
            load_n,
            load_one_lost_n,
            needed_n,
            factor_wanted: demands.factor,
            secondary: Vec::new(),
        }),
        lowest_m: 0.0,
        distances: Vec::new(),
        not_to_be_hung: reasons,
        remarks,
    }
}

/// What is at a place of a surface that no anchor may go into: a window, a hatch, what must stay clear.
fn taken<'a>(scene: &'a Scene, surface: &str, at: DVec2) -> Option<&'a str> {
    let holds = |place: &crate::scene::Rectangle| {
        (place.left - BESIDE..=place.left + place.width + BESIDE).contains(&at.x)
            && (place.bottom - BESIDE..=place.bottom + place.height + BESIDE).contains(&at.y)
    };
    let opening =
        scene.openings.iter().find(|opening| opening.surface == surface && holds(&opening.place)).map(|opening| opening.name.as_str());
    let clear = |clearance: &&'a crate::scene::Clearance| match &clearance.region {
        ClearanceRegion::Surface { surface: on, place } => on == surface && holds(place),
        ClearanceRegion::Space { .. } => false,
    };
    opening.or_else(|| scene.clearances.iter().find(clear).map(|clearance| clearance.name.as_str()))
}

/// The secondary wires of a panel that lies flat: each from its edge to the nearest member that none of its fixings is in, where no panel covers the anchor; of what is
/// long one for each half, as far as there are such places.
fn secondary(
    scene: &Scene,
    room: &Room,
    surface: &MarkedSurface,
    (marked, panel): (&MarkedPanel, &Panel),
    set: &[DVec2],
) -> Vec<(Mark, FlatSecondary)> {
    let low = DVec2::new(marked.left_m, marked.bottom_m);
    let high = low + DVec2::new(marked.width_m, marked.height_m);
    let outline = &room.surfaces[surface.facet].outline;
    let is_open = |at: DVec2| {
        // A cloud hangs below: a wire goes over it.
        let covers = |panel: &MarkedPanel| {
            panel.marks.iter().any(|mark| mark.what == MarkKind::Fixing)
                && at.x > panel.left_m - BESIDE
                && at.x < panel.left_m + panel.width_m + BESIDE
                && at.y > panel.bottom_m - BESIDE
                && at.y < panel.bottom_m + panel.height_m + BESIDE
        };
        let is_set = |other: DVec2| other.distance(at) < APART;
        let marks = surface.panels.iter().flat_map(|panel| &panel.marks).map(|mark| DVec2::new(mark.left_m, mark.bottom_m));
        let is_crowded = set.iter().copied().chain(marks).any(is_set);
        outline.contains(at) && !is_crowded && !surface.panels.iter().any(covers) && taken(scene, &surface.surface, at).is_none()
    };
    let mut found: Vec<(f64, DVec2, String)> = Vec::new();
    for members in surface.members.iter().filter(|members| members.kind.is_structural()) {
        let across = usize::from(!members.upright);
        let is_solid = members.kind == StructureKind::Solid;
        let solid = || vec![(0, low[across] - 0.1), (1, high[across] + 0.1)];
        let centers: Vec<(usize, f64)> = if is_solid { solid() } else { members.carrying().collect() };
        for (index, center) in centers {
            let used = |mark: &Mark| (DVec2::new(mark.left_m, mark.bottom_m)[across] - center).abs() < 0.01;
            if marked.marks.iter().any(used) {
                continue;
            }
            for share in [0.5, 0.25, 0.75, 0.0, 1.0] {
                let mut at = low.lerp(high, share);
                at[across] = center;
                let apart = (at - high).max(low - at).max(DVec2::ZERO).length();
                if apart <= SECONDARY_MOST && is_open(at) {
                    found.push((apart, at, if is_solid { members.name.clone() } else { members.name_of(index) }));
                }
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let size = high - low;
    let along = usize::from(size.y > size.x);
    let is_long = size[along] > suspension::SIDE_OF_ONE;
    // The nearest, and the nearest that holds the other half.
    let half = |at: DVec2| at.clamp(low, high)[along] > low[along] + 0.5 * size[along];
    let first = found.first().cloned();
    let other = first.clone().and_then(|(_, first, _)| found.iter().find(|(_, at, _)| half(*at) != half(first)).cloned());
    let gap = if let PanelPlace::Surface { gap, .. } = panel.place { gap } else { 0.0 };
    let weight = scene.stock.iter().find(|kind| kind.name == marked.kind).and_then(|kind| kind.mass).map(|mass| mass * GRAVITY);
    let factor = demands(scene).factor;
    let wire = |(index, (apart, at, member)): (usize, (f64, DVec2, String))| {
        let name = mark_name(marked.number, marked.marks.len() + index);
        let mark = Mark {
            name: name.clone(),
            left_m: on_tape(at.x, scene.unit),
            bottom_m: on_tape(at.y, scene.unit),
            what: MarkKind::Secondary,
            member: Some(member.clone()),
            in_line_with: None,
        };
        let edge = at.clamp(low, high);
        let chart = &room.surfaces[surface.facet].chart;
        let rise = (chart.point(edge) + chart.normal * gap - chart.point(at)).z;
        let straight_m = on_tape(apart.hypot(gap), scene.unit);
        let longest_m = straight_m + on_tape(scene.making.slack, scene.unit);
        // The edge comes down plumb until the wire is taut: then it lies this far below the anchor.
        let below = |long: f64| (rise.powi(2) + long.powi(2) - apart.powi(2) - gap.powi(2)).max(0.0).sqrt();
        let taut = below(longest_m - SHORTER);
        let wire = FlatSecondary {
            mark: name,
            from_m: edge.to_array().map(|meters| on_tape(meters, scene.unit)),
            member,
            straight_m,
            longest_m,
            cut_m: longest_m + 2.0 * on_tape(scene.making.wire_loop, scene.unit),
            drop_m: on_tape((rise + below(longest_m)).max(0.0), scene.unit),
            needed_n: weight.filter(|_| taut > 0.0).map(|weight| factor * weight * (longest_m - SHORTER) / taut),
        };
        (mark, wire)
    };
    first.into_iter().chain(other.filter(|_| is_long)).enumerate().map(wire).collect()
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

/// How far a panel is from everything that must stay free on or before its surface.
fn distances(scene: &Scene, room: &Room, facet: usize, marked: &MarkedPanel) -> Vec<Distance> {
    let surface = &room.surfaces[facet];
    let (low, high) =
        (DVec2::new(marked.left_m, marked.bottom_m), DVec2::new(marked.left_m + marked.width_m, marked.bottom_m + marked.height_m));
    let apart = |from: DVec2, to: DVec2| (from - high).max(low - to).max(DVec2::ZERO).length();
    let on_surface = |name: &str, place: &crate::scene::Rectangle| {
        let from = DVec2::new(place.left, place.bottom);
        Distance {
            name: name.to_owned(),
            distance_m: apart(from, from + DVec2::new(place.width, place.height)),
            kept_m: KEPT_FREE.iter().find(|(word, _)| name.to_lowercase().contains(word)).map(|(_, kept)| *kept),
        }
    };
    let clearances = scene.clearances.iter().filter_map(|clearance| match &clearance.region {
        ClearanceRegion::Surface { surface: on, place } if *on == surface.name => Some(on_surface(&clearance.name, place)),
        ClearanceRegion::Surface { .. } => None,
        ClearanceRegion::Space { low: from, high: to } => {
            let plan = |corner: DVec2| surface.chart.position(surface.chart.plumb(corner));
            let (a, b) = (plan(from.truncate()), plan(to.truncate()));
            let distance_m = apart(a.min(b), a.max(b));
            Some(Distance { name: clearance.name.clone(), distance_m, kept_m: None })
        }
    });
    let hatches = scene.openings.iter().filter(|opening| opening.surface == surface.name);
    clearances.chain(hatches.map(|opening| on_surface(&opening.name, &opening.place))).collect()
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
