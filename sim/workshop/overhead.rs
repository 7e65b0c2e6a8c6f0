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

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::anchors::{Hang, Member};
use super::marking::{Mark, MarkKind, MarkedMembers, MarkedPanel, MarkedSurface, mark_name, on_tape};
use super::statics;
use super::suspension::{self, Demands, GRAVITY, Part, Point, Secondary, Suspension, Verdict};
use super::words;
use crate::layout::places::Axis;
use crate::room::Room;
use crate::scene::making::StructureKind;
use crate::scene::{ClearanceRegion, Cloud, Panel, PanelPlace, PanelType, Scene};

/// Lines that stand for what carries everywhere, meters apart.
const EVERYWHERE: f64 = 0.1;

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
    /// The weakest of the known parts.
    pub weakest: Option<Part>,
    /// Its breaking load over the largest load.
    pub factor: Option<f64>,
    /// Factor that is asked for.
    pub factor_wanted: f64,
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

/// Everything overhead, in hanging order; anchors of clouds become marks on their surface.
#[must_use]
pub fn overhead(scene: &Scene, room: &Room, panels: &[Panel], surfaces: &mut [MarkedSurface]) -> Vec<Overhead> {
    let mut all = Vec::new();
    for surface in surfaces.iter_mut().filter(|surface| surface.is_overhead) {
        let (members, name, facet) = (surface.members.clone(), surface.surface.clone(), surface.facet);
        for marked in &mut surface.panels {
            let Some(panel) = panels.get(marked.number as usize - 1) else { continue };
            let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
            let mut found = match &panel.place {
                PanelPlace::Cloud(cloud) => hang(scene, room, facet, &members, cloud, kind, marked),
                _ => lie(scene, &members, kind, marked),
            };
            found.surface.clone_from(&name);
            found.distances = distances(scene, room, facet, marked);
            found.not_to_be_hung.extend(too_near(scene, &found.distances));
            if !kind.held_by().is_positive() {
                found.not_to_be_hung.push(words::held_by_alone(kind.held_by()));
            }
            all.push(found);
        }
    }
    all.sort_by_key(|overhead| overhead.number);
    all
}

/// What the scene asks of everything overhead.
fn demands(scene: &Scene) -> Demands {
    let making = &scene.making;
    Demands {
        factor: making.design_factor,
        parts: making.breaks_at.iter().map(|(name, breaking_n)| Part { name: name.clone(), breaking_n: *breaking_n }).collect(),
        wire_least: making.least_wire,
        slack_most: making.slack,
    }
}

/// A cloud on wires.
fn hang(
    scene: &Scene,
    room: &Room,
    facet: usize,
    members: &[MarkedMembers],
    cloud: &Cloud,
    kind: &PanelType,
    marked: &mut MarkedPanel,
) -> Overhead {
    let chart = &room.surfaces[facet].chart;
    let radians = cloud.tilt.to_array().map(f64::to_radians);
    let hang = Hang {
        center: cloud.center,
        size: cloud.size(kind) * DVec2::new(radians[0].cos(), radians[1].cos()),
        underside: cloud.underside,
        tilt: DVec2::new(radians[0].tan(), radians[1].tan()),
        thickness: kind.thickness,
        mass_kg: kind.mass.map(|mass| mass * f64::from(cloud.count())),
    };
    let in_plan = members_in_plan(room, facet, members);
    let ceiling = |place: DVec2| scene.ceiling_height(place);
    let mut suspension = suspension::suspend(&hang, &ceiling, in_plan.as_deref().unwrap_or(&[]), &demands(scene));
    on_the_tape(&mut suspension, scene);
    let anchors = suspension.points.iter().map(|point| (DVec2::new(point.x_m, point.y_m), MarkKind::Wire, point.member.clone()));
    let secondary =
        suspension.secondary.iter().map(|wire| (DVec2::new(wire.x_m, wire.y_m), MarkKind::Secondary, Some(wire.member.clone())));
    marked.marks = anchors
        .chain(secondary)
        .enumerate()
        .map(|(index, (place, what, member))| {
            let at = chart.position(chart.plumb(place));
            let name = mark_name(marked.number, index);
            Mark { name, left_m: on_tape(at.x, scene.unit), bottom_m: on_tape(at.y, scene.unit), what, member }
        })
        .collect();
    let mut not_to_be_hung = match &suspension.verdict {
        Verdict::AsFigured => Vec::new(),
        Verdict::NotToBeHung(reasons) => reasons.iter().map(|reason| words::reason(reason, scene.unit)).collect(),
    };
    if in_plan.is_none() {
        not_to_be_hung.push("its members run askew to the room's axes, so nothing was figured".to_owned());
    }
    let mut remarks: Vec<String> = suspension.remarks.iter().map(|remark| words::remark(remark, scene.unit)).collect();
    if suspension.weakest.is_none() {
        remarks.push(words::strength_unknown(suspension.needed_n));
    }
    Overhead {
        number: marked.number,
        kind: kind.name.clone(),
        surface: String::new(),
        suspension: Some(suspension),
        flat: None,
        distances: Vec::new(),
        not_to_be_hung,
        remarks,
    }
}

/// Lengths and places of wires as a tape shows them.
fn on_the_tape(suspension: &mut Suspension, scene: &Scene) {
    let round = |meters: &mut f64| *meters = on_tape(*meters, scene.unit);
    let points =
        |point: &mut Point| [&mut point.x_m, &mut point.y_m, &mut point.attachment_m, &mut point.anchor_m].into_iter().for_each(round);
    suspension.points.iter_mut().for_each(points);
    // A wire is as long as its ends are apart, as printed.
    suspension.points.iter_mut().for_each(|point| point.wire_m = point.anchor_m - point.attachment_m);
    let wires = |wire: &mut Secondary| {
        [&mut wire.x_m, &mut wire.y_m, &mut wire.anchor_m, &mut wire.straight_m, &mut wire.longest_m].into_iter().for_each(round)
    };
    suspension.secondary.iter_mut().for_each(wires);
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
    let weakest = demands.parts.into_iter().min_by(|a, b| a.breaking_n.total_cmp(&b.breaking_n));
    let factor = weakest.as_ref().zip(worst).map(|(part, worst)| part.breaking_n / worst);
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
    if let (Some(part), Some(factor)) = (&weakest, factor)
        && factor < demands.factor - 1e-9
    {
        let weak = suspension::Reason::TooWeak { part: part.name.clone(), factor, factor_wanted: demands.factor };
        reasons.push(words::reason(&weak, scene.unit));
    }
    let needed_n = worst.map(|worst| worst * demands.factor);
    let remarks = if weakest.is_none() { vec![words::strength_unknown(needed_n)] } else { Vec::new() };
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
            weakest,
            factor,
            factor_wanted: demands.factor,
        }),
        distances: Vec::new(),
        not_to_be_hung: reasons,
        remarks,
    }
}

/// Members as lines of the floor plan; `None` where one runs askew to its axes.
fn members_in_plan(room: &Room, facet: usize, members: &[MarkedMembers]) -> Option<Vec<Member>> {
    let surface = &room.surfaces[facet];
    let chart = &surface.chart;
    let mut all = Vec::new();
    for members in members {
        let along = if members.upright { chart.up } else { chart.right };
        let flat = along.truncate();
        let axis = match (flat.x.abs() < 1e-6, flat.y.abs() < 1e-6) {
            (false, true) => Axis::X,
            (true, false) => Axis::Y,
            _ => return None,
        };
        let lines =
            if members.kind == StructureKind::Solid { everywhere(&surface.outline.corners, members.upright) } else { members.at_m.clone() };
        for (index, at) in lines.iter().enumerate() {
            let point = chart.point(if members.upright { DVec2::new(*at, 0.0) } else { DVec2::new(0.0, *at) });
            let name = if lines.len() > 1 && members.kind != StructureKind::Solid {
                format!("{}, {}", members.name, ordinal(index + 1))
            } else {
                members.name.clone()
            };
            let center = if axis == Axis::X { point.y } else { point.x };
            all.push(Member { name, along: axis, center, width: members.width_m, structural: members.kind.is_structural() });
        }
    }
    Some(all)
}

/// Lines over the whole of an outline.
fn everywhere(corners: &[DVec2], upright: bool) -> Vec<f64> {
    let along = |corner: &DVec2| if upright { corner.x } else { corner.y };
    let (low, high) = corners.iter().map(along).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
    let count = ((high - low) / EVERYWHERE).floor().max(0.0) as usize;
    (0..=count).map(|step| low + step as f64 * EVERYWHERE).collect()
}

fn ordinal(number: usize) -> String {
    let ending = match (number % 10, number % 100) {
        (1, rest) if rest != 11 => "st",
        (2, rest) if rest != 12 => "nd",
        (3, rest) if rest != 13 => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
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
