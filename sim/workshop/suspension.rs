//! How a cloud hangs: where its wires are, how long, what each bears and must bear, and why it must not be hung like this.
//!
//! A rigid panel, level or tilted, hangs by plumb wires from anchors on center lines of members above. Its top at a place `p` of the plan is
//! `underside + thickness sqrt(1 + |tilt|^2) + tilt . (p - center)`; a wire is the ceiling there less that. Loads are shares (`statics`) of the weight
//! `9.80665 m/s2 mass`: with all wires sharing, with one other lost, and alone, the most that equilibrium allows, since a stiff panel may rest on two
//! wires of four. `needed = factor x` the largest of these over all wires, `factor = ` strength of the weakest part `/` that load.
//!
//! `anchors` says where wires go. One closed *secondary wire*, two above 0.75 m2 or where a side is longer than 0.75 m, goes from a fitting of its own beside a wire to another member
//! than that wire's, to one that carries no wire if it can; slanting by an angle `a` from plumb it is asked to hold the whole weight alone,
//! `factor W / cos a`.
//!
//! *References.* Standard gravity: ISO 80000-3 (from memory). All else is common practice, no source: spacing and insets, factor 5, secondary wires
//! and their slack, least wire.
//!
//! *Limits.* No permit and no proof: figures assume sound members that run through as drawn, parts fitted as their makers say, a panel that does not bend
//! and whose center of mass is in its middle, and wires so alike that only plumb forces act. The blow when a wire breaks and the secondary catches, swinging,
//! earthquakes and people who pull are not figured; the factor has to cover them. What the members carry besides is not known. Local codes hold before this,
//! and where they ask for a licensed person, that person decides. Whether the panel itself touches the ceiling or a lamp is `layout`'s question.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::anchors::{Grid, Hang, Member, WIRES_APART_MOST, grid, outer_share, second_anchor};
use super::statics;
use crate::layout::fixings::AREA_OF_FOUR;
use crate::layout::places::{Axis, ROUNDING, widest};

/// Standard gravity, m/s2; ISO 80000-3.
pub const GRAVITY: f64 = 9.80665;
/// Up to this length of a side one secondary wire does, meters; common practice, no source.
pub const SIDE_OF_ONE: f64 = 0.75;
/// Least factor of strength over load; common practice, no source.
pub const FACTOR_LEAST: f64 = 5.0;

/// A part that every load passes through: wire, fitting, anchor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// What it is.
    pub name: String,
    /// Load that breaks it or pulls it out, newtons; what is no number counts as 0.
    pub breaking_n: f64,
}

/// What is asked of a suspension.
#[derive(Clone, Debug, PartialEq)]
pub struct Demands {
    /// Strength over load; [`FACTOR_LEAST`] where it is less or no number.
    pub factor: f64,
    /// Known parts of one hanging point.
    pub parts: Vec<Part>,
    /// Shortest wire that the fittings leave room for, meters.
    pub wire_least: f64,
    /// What the loop at one end of a wire takes, meters.
    pub wire_loop: f64,
    /// Most that a secondary wire may be longer than straight, meters.
    pub slack_most: f64,
}

impl Default for Demands {
    fn default() -> Self {
        Self { factor: FACTOR_LEAST, parts: Vec::new(), wire_least: 0.1, wire_loop: 0.15, slack_most: 0.025 }
    }
}

/// A cloud's wires, loads and verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Suspension {
    /// Mass of all that hangs, kg.
    pub mass_kg: Option<f64>,
    /// Its weight, newtons.
    pub weight_n: Option<f64>,
    /// Wires: highest y first, then from low x to high.
    pub points: Vec<Point>,
    /// Largest load that any wire may have to bear, newtons.
    pub largest_n: Option<f64>,
    /// Factor of strength over load that is asked for.
    pub factor_wanted: f64,
    /// Breaking load that each part of every point must have at least, newtons.
    pub needed_n: Option<f64>,
    /// The weakest of the known parts.
    pub weakest: Option<Part>,
    /// Its breaking load over the largest load.
    pub factor: Option<f64>,
    /// Secondary wires.
    pub secondary: Vec<Secondary>,
    /// What the person on the ladder must know.
    pub remarks: Vec<Remark>,
    /// Whether anything speaks against it.
    pub verdict: Verdict,
}

/// One plumb wire.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Point {
    /// From 1.
    pub number: u32,
    /// In plan, meters.
    pub x_m: f64,
    /// In plan, meters.
    pub y_m: f64,
    /// Height of the top of the panel there, meters.
    pub attachment_m: f64,
    /// Height of the ceiling there, meters.
    pub anchor_m: f64,
    /// Length of the wire from one to the other, meters.
    pub wire_m: f64,
    /// What is cut off the roll for it: that and a loop at both ends, meters; none of what is too short for two loops, where a chain or a link takes its place.
    pub cut_m: Option<f64>,
    /// Where its eye goes on the back of the cloud: from the edges at the lower x and at the lower y, along the back, meters.
    pub on_back_m: [f64; 2],
    /// Load with all wires sharing, newtons.
    pub load_n: Option<f64>,
    /// Worst load when any other wire is lost, newtons; none where the cloud tips by one of these losses.
    pub load_one_lost_n: Option<f64>,
    /// Most that equilibrium allows on this wire, newtons.
    pub load_alone_n: Option<f64>,
    /// Member that the anchor is in.
    pub member: Option<String>,
}

/// A closed wire that holds when a main wire, its parts or its member fails.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Secondary {
    /// Number of the wire beside which it begins, at a fitting of its own.
    pub beside_number: u32,
    /// Anchor in plan, meters.
    pub x_m: f64,
    /// Anchor in plan, meters.
    pub y_m: f64,
    /// Height of the anchor, meters.
    pub anchor_m: f64,
    /// Straight from fitting to anchor, meters: no shorter.
    pub straight_m: f64,
    /// The same with the slack: no longer, meters.
    pub longest_m: f64,
    /// What is cut off the roll for it: the longest and a loop at both ends, meters; none of what is too short for two loops, where a chain or a link takes its place.
    pub cut_m: Option<f64>,
    /// How far the panel comes down there, plumb, before the longest one is taut, meters.
    pub drop_m: f64,
    /// Breaking load that each of its parts must have at least, newtons.
    pub needed_n: Option<f64>,
    /// Member that the anchor is in.
    pub member: String,
}

/// What is unusual and does not forbid it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Remark {
    /// Outer wires nearer to the edge than a fifth of that side or farther than a quarter.
    InsetOffRule {
        /// The side.
        axis: Axis,
        /// As a share of the side.
        share: f64,
    },
    /// Members leave wires farther apart than [`WIRES_APART_MOST`].
    SpacingOver {
        /// The side.
        axis: Axis,
        /// Widest spacing, meters.
        spacing_m: f64,
    },
    /// More wires than the spacing asks for, so that nothing tips when one is lost.
    RowAdded,
    /// A secondary wire goes to a member that carries other wires of this cloud: none else is in reach.
    SharedMember {
        /// The member.
        name: String,
    },
}

/// Whether anything speaks against hanging it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Nothing that was figured does. This does not say safe: it holds for sound members and parts of at least `needed_n`, subject to local codes
    /// and, where they ask for it, a licensed person's look.
    AsFigured,
    /// All of these do.
    NotToBeHung(Vec<Reason>),
}

/// Why it must not be hung like this.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Reason {
    /// A size, height, tilt or ceiling that is no number or that no cloud has: nothing was figured.
    OutOfRange,
    /// No structural member with a name is known above.
    NoMember,
    /// No two structural members cross where wires may be; a rated rail across two members is the usual answer. The
    /// wires are then where the rule has them.
    MemberMisses,
    /// A member is no structure: its maker or a licensed person must rate it for this.
    NotStructural {
        /// The member.
        name: String,
    },
    /// No second member for a secondary wire is in reach.
    NoSecondMember,
    /// Too little room between panel and ceiling.
    CeilingTooLow {
        /// Number of the wire.
        number: u32,
        /// What there is, meters; below zero the panel is in the ceiling.
        wire_m: f64,
        /// What fittings need, meters.
        least_m: f64,
    },
    /// Nobody knows what it weighs.
    MassUnknown,
    /// Strength over load is less than asked for.
    TooWeak {
        /// The weakest part.
        part: String,
        /// What there is.
        factor: f64,
        /// What is asked for.
        factor_wanted: f64,
    },
    /// The rest does not hold it in equilibrium when this wire is lost. Rows are added so that it should not come to this.
    Tips {
        /// Number of the wire.
        number: u32,
    },
}

/// Hangs a cloud. `ceiling` is its height over a place in plan, no number where there is none; `members` are lines on it. Never panics: what speaks against hanging is in
/// the verdict.
#[must_use]
pub fn suspend(hang: &Hang, ceiling: &dyn Fn(DVec2) -> f64, members: &[Member], demands: &Demands) -> Suspension {
    let wanted = if demands.factor.is_finite() { demands.factor.max(FACTOR_LEAST) } else { FACTOR_LEAST };
    let mass_kg = hang.mass_kg.filter(|mass| mass.is_finite() && *mass > 0.0);
    let mut found = Suspension {
        mass_kg,
        weight_n: mass_kg.map(|mass| mass * GRAVITY),
        points: Vec::new(),
        largest_n: None,
        factor_wanted: wanted,
        needed_n: None,
        weakest: None,
        factor: None,
        secondary: Vec::new(),
        remarks: Vec::new(),
        verdict: Verdict::NotToBeHung(vec![Reason::OutOfRange]),
    };
    if !hang.is_usable() {
        return found;
    }
    let mut reasons = Vec::new();
    let grid = grid(hang, members);
    let wires = grid.wires(hang);
    if !wires.iter().all(|(place, _)| ceiling(*place).is_finite()) {
        return found;
    }
    found.remarks = remarks(&grid, hang.shared());
    against_members(&wires, members, &mut reasons);
    found.bear(hang, &wires, ceiling, members, &mut reasons);
    let loops = 2.0 * if demands.wire_loop.is_finite() { demands.wire_loop.max(0.0) } else { Demands::default().wire_loop };
    found.points.iter_mut().for_each(|point| point.cut_m = cut(point.wire_m, loops));
    found.compare(&demands.parts, &mut reasons);
    let least = if demands.wire_least.is_finite() { demands.wire_least.max(0.0) } else { Demands::default().wire_least };
    found.points.iter().filter(|point| point.wire_m < least).for_each(|point| {
        reasons.push(Reason::CeilingTooLow { number: point.number, wire_m: point.wire_m, least_m: least });
    });
    let slack = if demands.slack_most.is_finite() { demands.slack_most.max(0.0) } else { Demands::default().slack_most };
    if !found.secure(hang, &wires, ceiling, members, slack) {
        reasons.push(Reason::NoSecondMember);
    }
    found.secondary.iter_mut().for_each(|wire| wire.cut_m = cut(wire.longest_m, loops));
    found.verdict = if reasons.is_empty() { Verdict::AsFigured } else { Verdict::NotToBeHung(reasons) };
    found
}

/// What is cut off the roll for a wire so long, with loops that take so much together, meters; none where it is too short for them.
pub(super) fn cut(long: f64, loops: f64) -> Option<f64> {
    (long >= loops).then_some(long + loops)
}

/// What departs from the rule of insets and spacing.
fn remarks(grid: &Grid, shared: DVec2) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (axis, places, side) in [(Axis::X, &grid.xs, shared.x), (Axis::Y, &grid.ys, shared.y)] {
        let (share, off) = outer_share(places, side);
        if off > ROUNDING {
            remarks.push(Remark::InsetOffRule { axis, share });
        }
        let spacing_m = widest(places.iter().map(|place| place.0));
        if spacing_m > WIRES_APART_MOST + ROUNDING {
            remarks.push(Remark::SpacingOver { axis, spacing_m });
        }
    }
    remarks.extend(grid.row_added.then_some(Remark::RowAdded));
    remarks
}

/// Reasons that lie in what the wires hang from.
fn against_members(wires: &[(DVec2, Option<usize>)], members: &[Member], reasons: &mut Vec<Reason>) {
    let on_structure = wires.iter().all(|(_, on)| on.is_some_and(|index| members[index].is_structural()));
    if !members.iter().any(Member::is_structural) {
        reasons.push(Reason::NoMember);
    } else if !on_structure {
        reasons.push(Reason::MemberMisses);
    }
    for member in wires.iter().filter_map(|(_, on)| Some(&members[(*on)?])).filter(|member| !member.is_structural()) {
        let reason = Reason::NotStructural { name: member.name.clone() };
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
}

/// Numbers as on the sheet, from 1.
fn number(index: usize) -> u32 {
    u32::try_from(index + 1).expect("a cloud has a few hundred wires at most")
}

impl Suspension {
    /// Wires, their lengths and loads.
    fn bear(
        &mut self,
        hang: &Hang,
        wires: &[(DVec2, Option<usize>)],
        ceiling: &dyn Fn(DVec2) -> f64,
        members: &[Member],
        reasons: &mut Vec<Reason>,
    ) {
        let places: Vec<DVec2> = wires.iter().map(|wire| wire.0).collect();
        let shared = statics::shared(&places, hang.center).expect("the middle lies between the outer wires of both sides");
        let lost = statics::one_lost(&places, hang.center);
        let others = |index: usize| lost.iter().enumerate().filter(move |(other, _)| *other != index);
        let worst = |index: usize| others(index).try_fold(0.0_f64, |most, (_, shares)| Some(most.max(shares.as_ref()?[index])));
        let newtons = |share: f64| self.weight_n.map(|weight| weight * share);
        let point = |(index, (place, on)): (usize, &(DVec2, Option<usize>))| {
            let (attachment_m, anchor_m) = (hang.top(*place), ceiling(*place));
            Point {
                number: number(index),
                x_m: place.x,
                y_m: place.y,
                attachment_m,
                anchor_m,
                wire_m: anchor_m - attachment_m,
                cut_m: None,
                on_back_m: hang.on_back(*place).to_array(),
                load_n: newtons(shared[index]),
                load_one_lost_n: worst(index).and_then(newtons),
                load_alone_n: newtons(statics::alone(&places, hang.center, index)),
                member: on.map(|on| members[on].name.clone()),
            }
        };
        self.points = wires.iter().enumerate().map(point).collect();
        let tips = lost.iter().enumerate().filter(|(_, shares)| shares.is_none());
        reasons.extend(tips.map(|(index, _)| Reason::Tips { number: number(index) }));
    }

    /// Loads against strengths.
    fn compare(&mut self, parts: &[Part], reasons: &mut Vec<Reason>) {
        let loads = self.points.iter().flat_map(|point| [point.load_n, point.load_one_lost_n, point.load_alone_n]);
        self.largest_n = loads.flatten().max_by(f64::total_cmp);
        self.needed_n = self.largest_n.map(|load| load * self.factor_wanted);
        let strength = |part: &Part| if part.breaking_n.is_finite() { part.breaking_n.max(0.0) } else { 0.0 };
        let known = parts.iter().map(|part| Part { name: part.name.clone(), breaking_n: strength(part) });
        self.weakest = known.min_by(|one, other| one.breaking_n.total_cmp(&other.breaking_n));
        self.factor = self.largest_n.zip(self.weakest.as_ref()).map(|(load, part)| part.breaking_n / load);
        if self.weight_n.is_none() {
            reasons.push(Reason::MassUnknown);
        }
        if let (Some(factor), Some(part)) = (self.factor, &self.weakest)
            && factor < self.factor_wanted
        {
            reasons.push(Reason::TooWeak { part: part.name.clone(), factor, factor_wanted: self.factor_wanted });
        }
    }

    /// Secondary wires; whether there are as many as there should be.
    fn secure(
        &mut self,
        hang: &Hang,
        wires: &[(DVec2, Option<usize>)],
        ceiling: &dyn Fn(DVec2) -> f64,
        members: &[Member],
        slack: f64,
    ) -> bool {
        // Of what is long, the far end would swing down as far as a head.
        let is_long = hang.size.max_element() * hang.steepness() > SIDE_OF_ONE;
        let count = if is_long || hang.size.x * hang.size.y * hang.steepness() > AREA_OF_FOUR { 2 } else { 1 };
        let used: Vec<usize> = wires.iter().filter_map(|wire| wire.1).collect();
        // From two opposite corners, so that they are far apart.
        let orders: [Vec<usize>; 2] = [(0..wires.len()).collect(), (0..wires.len()).rev().collect()];
        for order in orders.into_iter().take(count) {
            let free = order.into_iter().filter(|index| self.secondary.iter().all(|other| other.beside_number != number(*index)));
            let begun = free.map(|index| (index, wires[index].0, hang.top(wires[index].0), wires[index].1));
            let found = begun.filter_map(|(index, place, height, own)| {
                second_anchor((place, height), own, &used, members, ceiling).map(|anchor| (index, place, height, anchor))
            });
            // The first that reaches a member that carries no wire, else the first that reaches one.
            let first = found.min_by_key(|(.., (_, _, on))| used.contains(on));
            let Some((index, place, height, (anchor, anchor_m, on))) = first else { return false };
            let (sideways, rise) = (anchor.distance(place), anchor_m - height);
            let straight_m = sideways.hypot(rise);
            let longest_m = straight_m + slack;
            let name = members[on].name.clone();
            if used.contains(&on) && !self.remarks.contains(&Remark::SharedMember { name: name.clone() }) {
                self.remarks.push(Remark::SharedMember { name: name.clone() });
            }
            self.secondary.push(Secondary {
                beside_number: number(index),
                x_m: anchor.x,
                y_m: anchor.y,
                anchor_m,
                straight_m,
                longest_m,
                cut_m: None,
                drop_m: (longest_m.powi(2) - sideways.powi(2)).sqrt() - rise,
                needed_n: self.weight_n.map(|weight| self.factor_wanted * weight * straight_m / rise),
                member: name,
            });
        }
        true
    }
}
