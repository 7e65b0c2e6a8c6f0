//! Where the wires of a cloud go, and the members that their anchors are in.
//!
//! A grid of at least 2 x 2, mirrored at the middle as `layout::places` spreads it: neighbors at most 1.2 m apart, outer insets a fifth to a
//! quarter of the side. Wires are plumb, so anchors lie over them, on center lines of members: the side that members cross takes its places from them, those with insets nearest to a fifth to
//! a quarter, a tenth to a third at the outside. Structural members go before all others, then fewer wires, then better insets. Wires on members that lie off
//! the middle let a cloud on four tip when one is lost (`statics`); it then gets another row.
//!
//! *References.* Common practice, no source: spacing, insets, and how far a secondary wire goes sideways.
//!
//! *Limits.* Members are straight lines without end on the ceiling, and nothing says what they carry. All have one direction under one cloud.

use std::ops::RangeInclusive;

use glam::DVec2;

use super::statics;
use crate::layout::fixings::SIDE_MOST;
use crate::layout::places::{Axis, Place, ROUNDING, count_least, off_rule, on_members, spread, widest};

/// Widest spacing of wires, meters; common practice, no source.
pub const WIRES_APART_MOST: f64 = 1.2;
/// Insets on members as shares of the side, where a fifth to a quarter has none; common practice, no source.
const INSETS_ON_MEMBERS: RangeInclusive<f64> = 0.1..=1.0 / 3.0;
/// Farthest that a secondary wire goes sideways, meters; common practice, no source.
const SIDEWAYS_MOST: f64 = 1.2;
/// Most that a secondary wire may be longer than its rise: more slant would have it bear more than this many times the weight; common practice, no source.
const SLANT_MOST: f64 = 4.0;
/// Nearer than this between their faces, in meters, two members are as one for a secondary wire.
const FACES_APART: f64 = 0.01;
/// Rows that are added at most so that nothing tips.
const ROWS_ADDED: usize = 2;

/// A cloud, or several side by side on one rigid frame. Plan coordinates as the room's x and y, meters.
#[derive(Clone, Debug, PartialEq)]
pub struct Hang {
    /// Middle in plan, meters; taken for the center of mass.
    pub center: DVec2,
    /// Size in plan along x and y, meters.
    pub size: DVec2,
    /// Height of the underside plumb below the middle, meters.
    pub underside: f64,
    /// Rise per meter along x and y, at most 1 together.
    pub tilt: DVec2,
    /// Thickness at right angles to its face, meters.
    pub thickness: f64,
    /// Mass with frame and fittings, kg, where known.
    pub mass_kg: Option<f64>,
}

/// A line on the ceiling that something might hang from: joist, beam, or what must not carry.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// What it is called; without a name it does not count as structural.
    pub name: String,
    /// Axis along which it runs.
    pub along: Axis,
    /// Its center line: y where it runs along x, else x, meters.
    pub center: f64,
    /// Width, meters.
    pub width: f64,
    /// Part of the structure; a door track, pipe or lamp rail is not.
    pub structural: bool,
}

impl Hang {
    /// Height of the top at a place in plan, meters.
    #[must_use]
    pub fn top(&self, place: DVec2) -> f64 {
        self.underside + self.thickness * self.steepness() + self.tilt.dot(place - self.center)
    }

    /// Where a plumb line through a place in plan meets the back, along the back from its edges at the lower x and y, meters.
    ///
    /// `size / (2 cos a) + d / cos a + thickness tan a`, a the tilt along that axis and d the way from the middle in plan.
    pub(crate) fn on_back(&self, place: DVec2) -> DVec2 {
        let stretch = (DVec2::ONE + self.tilt * self.tilt).map(f64::sqrt);
        (0.5 * self.size + place - self.center) * stretch + self.thickness * self.tilt
    }

    /// Length on the slope over length in plan, up the steepest way.
    pub(crate) fn steepness(&self) -> f64 {
        (1.0 + self.tilt.length_squared()).sqrt()
    }

    /// Size of what top and underside share in plan; insets count from its edges.
    pub(crate) fn shared(&self) -> DVec2 {
        self.size - self.tilt.abs() * self.thickness / self.steepness()
    }

    pub(crate) fn is_usable(&self) -> bool {
        let within = |value: f64, low: f64, high: f64| value >= low && value <= high;
        let sides = [self.size, self.shared()].iter().flat_map(DVec2::to_array).all(|side| side > 0.0 && side <= SIDE_MOST);
        let flat = self.tilt.length() <= 1.0 && within(self.thickness, 0.0, 1.0);
        sides && flat && self.center.is_finite() && within(self.underside.abs(), 0.0, 100.0)
    }
}

impl Member {
    fn is_named(&self) -> bool {
        !self.name.trim().is_empty()
    }

    pub(crate) fn is_structural(&self) -> bool {
        self.structural && self.is_named()
    }

    /// The place on its center line nearest to another.
    fn nearest(&self, place: DVec2) -> DVec2 {
        match self.along {
            Axis::X => DVec2::new(place.x, self.center),
            Axis::Y => DVec2::new(self.center, place.y),
        }
    }

    /// Whether another runs apart from it or crosses it.
    fn is_other(&self, other: &Self) -> bool {
        let faces = (self.center - other.center).abs() - (self.width.max(0.0) + other.width.max(0.0)) / 2.0;
        self.along != other.along || faces >= FACES_APART
    }
}

/// Places of wires: all of `xs` with all of `ys`, meters from the low corner of [`Hang::shared`].
pub(crate) struct Grid {
    pub(crate) xs: Vec<Place>,
    pub(crate) ys: Vec<Place>,
    /// It has more rows than the spacing asks for, so that nothing tips.
    pub(crate) row_added: bool,
}

impl Grid {
    /// Wires in plan, each with its member: highest y first, then from low x to high.
    pub(crate) fn wires(&self, hang: &Hang) -> Vec<(DVec2, Option<usize>)> {
        let low = hang.center - hang.shared() / 2.0;
        let row = |y: &Place| self.xs.iter().map(|x| (low + DVec2::new(x.0, y.0), x.1.or(y.1))).collect::<Vec<_>>();
        self.ys.iter().rev().flat_map(row).collect()
    }

    /// Whether the cloud is still held when any one wire is lost.
    fn bears_a_loss(&self, hang: &Hang) -> bool {
        let points: Vec<DVec2> = self.wires(hang).iter().map(|wire| wire.0).collect();
        statics::one_lost(&points, hang.center).iter().all(Option::is_some)
    }

    /// Shares of the sides by which the outer wires depart from their insets, together.
    fn off_rule(&self, shared: DVec2) -> f64 {
        outer_share(&self.xs, shared.x).1 + outer_share(&self.ys, shared.y).1
    }
}

/// The outer inset that departs most from a fifth to a quarter, and by how much, in shares of the side.
pub(crate) fn outer_share(places: &[Place], side: f64) -> (f64, f64) {
    let (low, high) = (places[0].0 / side, 1.0 - places[places.len() - 1].0 / side);
    let share = if off_rule(low) >= off_rule(high) { low } else { high };
    (share, off_rule(share))
}

/// The grid of wires: on structural members, else on others, else by the rule alone, on no members.
pub(crate) fn grid(hang: &Hang, members: &[Member]) -> Grid {
    let shared = hang.shared();
    let better = |one: &Grid, other: &Grid| {
        let wires = |grid: &Grid| grid.xs.len() * grid.ys.len();
        wires(one).cmp(&wires(other)).then(one.off_rule(shared).total_cmp(&other.off_rule(shared)))
    };
    let best =
        |structural: bool| [Axis::Y, Axis::X].into_iter().filter_map(|along| crossed(hang, members, along, structural)).min_by(better);
    best(true).or_else(|| best(false)).unwrap_or_else(|| {
        let evenly = |side: f64| bare(spread(side, count_least(side, WIRES_APART_MOST), WIRES_APART_MOST));
        Grid { xs: evenly(shared.x), ys: evenly(shared.y), row_added: false }
    })
}

fn bare(places: Vec<f64>) -> Vec<Place> {
    places.into_iter().map(|at| (at, None)).collect()
}

/// The grid on named members that run along one axis, where two of them are in place.
fn crossed(hang: &Hang, members: &[Member], along: Axis, structural: bool) -> Option<Grid> {
    let low = hang.center - hang.shared() / 2.0;
    let size = hang.shared();
    let (low, side, free) = if along == Axis::Y { (low.x, size.x, size.y) } else { (low.y, size.y, size.x) };
    let fits = |member: &Member| member.along == along && member.is_named() && (!structural || member.is_structural());
    let lines = members.iter().enumerate().filter(|(_, member)| fits(member) && member.center.is_finite());
    let lines: Vec<(usize, f64)> = lines.map(|(index, member)| (index, member.center - low)).collect();
    let insets = INSETS_ON_MEMBERS.start() * side..=INSETS_ON_MEMBERS.end() * side;
    let gap = |set: &Vec<(usize, f64)>| widest(set.iter().map(|line| line.1)).max(WIRES_APART_MOST + ROUNDING);
    let set = on_members(side, &lines, &insets).into_iter().min_by(|one, other| gap(one).total_cmp(&gap(other)))?;
    let on: Vec<Place> = set.into_iter().map(|(index, at)| (at, Some(index))).collect();
    let least = count_least(free, WIRES_APART_MOST);
    let with = |count: usize| {
        let rows = bare(spread(free, count, WIRES_APART_MOST));
        let (xs, ys) = if along == Axis::Y { (on.clone(), rows) } else { (rows, on.clone()) };
        Grid { xs, ys, row_added: count > least }
    };
    let held = (least..=least + ROWS_ADDED).map(with).find(|grid| grid.bears_a_loss(hang));
    Some(held.unwrap_or_else(|| with(least)))
}

/// Where a secondary wire from `fitting` (plan) at `height` goes: the anchor in plan, its height, and the member. The nearest on a structural member other than
/// `own`, one that carries no wire (`used`) before those that do.
pub(crate) fn second_anchor(
    (fitting, height): (DVec2, f64),
    own: Option<usize>,
    used: &[usize],
    members: &[Member],
    ceiling: &dyn Fn(DVec2) -> f64,
) -> Option<(DVec2, f64, usize)> {
    let other = |member: &Member| own.is_none_or(|own| member.is_other(&members[own]));
    let anchor = |(index, member): (usize, &Member)| {
        let place = member.nearest(fitting);
        (place, ceiling(place), index)
    };
    let length = |(place, top, _): &(DVec2, f64, usize)| place.distance(fitting).hypot(top - height);
    let reached = |anchor: &(DVec2, f64, usize)| {
        let (sideways, rise) = (anchor.0.distance(fitting), anchor.1 - height);
        sideways <= SIDEWAYS_MOST + ROUNDING && rise.is_finite() && rise > 0.0 && length(anchor) <= SLANT_MOST * rise
    };
    let all = members.iter().enumerate().filter(|(_, member)| member.is_structural() && other(member)).map(anchor).filter(reached);
    all.min_by(|one, two| used.contains(&one.2).cmp(&used.contains(&two.2)).then(length(one).total_cmp(&length(two))))
}
