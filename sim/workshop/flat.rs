//! What lies flat under a ceiling or a slope: what its fixing points bear, and the wires that hold it when they fail.
//!
//! Shares of the weight are those of wires at the same places (`statics`): all sharing, with any one of them lost, and the most that equilibrium allows on one.
//!
//! ```text
//! needed = factor x largest share x g x mass
//! needed of a secondary wire = factor x g x mass x longest / rise below its anchor when it is taut
//! ```
//!
//! *References.* Statics of a rigid body; distances are common practice without a source.
//!
//! *Limits.* No permit and no proof: see `suspension`. The jerk when a falling panel is caught is not figured.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::marking::{Mark, MarkKind, MarkedMembers, MarkedPanel, MarkedSurface, mark_name, on_tape};
use super::overhead::{BESIDE, Overhead, demands, taken};
use super::statics;
use super::suspension::{self, GRAVITY};
use super::words;
use crate::room::Room;
use crate::scene::making::StructureKind;
use crate::scene::{Panel, PanelPlace, PanelType, Scene};

/// Farthest that the secondary wire of a flat panel goes, meters (common practice, no source).
const SECONDARY_MOST: f64 = 0.8;
/// Nearer to each other two anchors split the wood that they are in, meters (common practice, no source).
const APART: f64 = 0.1;
/// A wire is made this much shorter at most than it is said, meters.
const SHORTER: f64 = 0.005;
/// The fitting of a secondary wire goes through a side of the frame no nearer to its ends, where the joints are, meters (common practice, no source).
const OFF_JOINT: f64 = 0.06;

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
    /// Most that equilibrium allows on one point, newtons: a stiff panel may rest on two.
    pub load_alone_n: Option<f64>,
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
    /// What is cut off the roll for it: the longest and a loop at both ends, meters; none of what is too short for two loops, where a chain or a link takes its place.
    pub cut_m: Option<f64>,
    /// How far that edge of the panel comes down before the longest one is taut, meters.
    pub drop_m: f64,
    /// Breaking load that each of its parts must have at least, newtons: that of the whole weight on it alone, as slanted as it is when it is taut.
    pub needed_n: Option<f64>,
}

/// A panel that lies flat overhead.
pub(super) fn lie(scene: &Scene, members: &[MarkedMembers], kind: &PanelType, marked: &MarkedPanel) -> Overhead {
    let points: Vec<DVec2> = marked.marks.iter().map(|mark| DVec2::new(mark.left_m, mark.bottom_m)).collect();
    let middle = DVec2::new(marked.left_m + 0.5 * marked.width_m, marked.bottom_m + 0.5 * marked.height_m);
    let largest = |shares: &[f64]| shares.iter().copied().fold(0.0, f64::max);
    let share = statics::shared(&points, middle).map(|shares| largest(&shares));
    let lost: Option<Vec<f64>> =
        statics::one_lost(&points, middle).iter().map(|shares| shares.as_ref().map(|shares| largest(shares))).collect();
    let share_one_lost = lost.filter(|_| points.len() > 1).map(|shares| largest(&shares));
    let weight_n = kind.mass.map(|mass| mass * GRAVITY);
    let load = |share: Option<f64>| share.zip(weight_n).map(|(share, weight)| share * weight);
    let share_alone = (0..points.len()).map(|index| statics::alone(&points, middle, index)).reduce(f64::max);
    let (load_n, load_one_lost_n, load_alone_n) = (load(share), load(share_one_lost), load(share_alone));
    let worst = load_n.zip(load_one_lost_n).zip(load_alone_n).map(|((all, lost), alone)| all.max(lost).max(alone));
    let demands = demands(scene);
    let mut reasons = Vec::new();
    let structural = |members: &&MarkedMembers| members.kind.is_structural();
    if !members.iter().any(|members| structural(&members)) {
        reasons.push(words::reason(&suspension::Reason::NoMember, scene.unit));
    }
    let (unrated, beside): (Vec<&MarkedMembers>, Vec<&MarkedMembers>) =
        members.iter().filter(|members| !members.kind.is_structural()).partition(|members| is_in(members, &points));
    reasons
        .extend(unrated.iter().map(|members| words::reason(&suspension::Reason::NotStructural { name: members.name.clone() }, scene.unit)));
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
    let mut remarks = vec![words::flat_strength_unknown(needed_n, scene.unit)];
    remarks.extend(beside.iter().map(|members| words::no_anchor(&members.name)));
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
            load_alone_n,
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

/// Whether one of some points is in one of these members.
fn is_in(members: &MarkedMembers, points: &[DVec2]) -> bool {
    let across = usize::from(!members.upright);
    let reach = 0.5 * members.width_m + BESIDE;
    points.iter().any(|point| members.at_m.iter().any(|at| (point[across] - at).abs() <= reach))
}

/// The secondary wires of a panel that lies flat: each from its edge to the nearest member that none of its fixings is in, where no panel covers the anchor; of what is
/// long one for each half, as far as there are such places.
pub(super) fn secondary(
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
        outline.contains(at) && !is_crowded && !surface.panels.iter().any(covers) && taken(scene, room, surface.facet, at).is_none()
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
                let apart = edge(low, high, at).distance(at);
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
        let edge = edge(low, high, at);
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
            cut_m: suspension::cut(longest_m, 2.0 * on_tape(scene.making.wire_loop, scene.unit)),
            drop_m: on_tape((rise + below(longest_m)).max(0.0), scene.unit),
            needed_n: weight.filter(|_| taut > 0.0).map(|weight| factor * weight * (longest_m - SHORTER) / taut),
        };
        (mark, wire)
    };
    first.into_iter().chain(other.filter(|_| is_long)).enumerate().map(wire).collect()
}

/// The place on the edge of a panel where a wire to `at`, beside it, begins: the nearest that is off the joints of its frame.
fn edge(low: DVec2, high: DVec2, at: DVec2) -> DVec2 {
    let inset = DVec2::splat(OFF_JOINT).min(0.5 * (high - low));
    let nearest = at.clamp(low + inset, high - inset);
    let beyond = (low - at).max(at - high);
    let axis = usize::from(beyond.y > beyond.x);
    let mut edge = nearest;
    edge[axis] = at.clamp(low, high)[axis];
    edge
}

/// The weakest of the parts that the scene names, where a secondary wire asks for more.
pub(super) fn weak_part(scene: &Scene, wire: &FlatSecondary) -> Option<String> {
    let needed = wire.needed_n?;
    let (name, breaking_n) = scene.making.breaks_at.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    (*breaking_n < needed * (1.0 - 1e-9)).then(|| words::too_weak_there(name, *breaking_n, &wire.mark, needed, scene.unit))
}
