//! Rails: where no member lies behind the points of a panel on a wall, a batten across the two members on both sides takes them.
//!
//! A row of points gets a level rail where members stand upright, a column an upright one where they lie level: from the nearest member outside the points on one side to that on the
//! other, and 30 mm beyond both.
//!
//! *References.* Common practice, no source.
//!
//! *Limits.* Rails of neighboring panels are not joined. Overhead none is offered: what takes one there is rated, and entered as a structure of its own.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::marking::{Mark, MarkedMembers, MarkedPanel, on_tape};
use crate::room::Room;
use crate::units::LengthUnit;

/// How far a rail goes on beyond the middle of its last member, meters (common practice, no source).
const OVER: f64 = 0.03;

/// How thick a rail is, meters: a planed batten (common practice, no source).
pub const THICK: f64 = 0.02;

/// What is left of the air behind a panel before its rails, meters.
#[must_use]
pub fn rest(gap: f64, panel: &MarkedPanel) -> f64 {
    if panel.rails.is_empty() { gap } else { (gap - THICK).max(0.0) }
}

/// A batten across members.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rail {
    /// Whether it lies level; else it stands upright.
    pub level: bool,
    /// Its middle: from the lower edge of the surface where it lies level, else from the left one, meters.
    pub at_m: f64,
    /// Where it begins: from the left edge where it lies level, else from the lower one, meters.
    pub from_m: f64,
    /// Where it ends, meters.
    pub to_m: f64,
    /// Its length, meters.
    pub length_m: f64,
    /// Where it is screwed into members, meters from the edge that it begins at.
    pub screws_m: Vec<f64>,
}

/// The rails of a panel with these marks; none where its marks lie on members, or members do not reach to both sides of them.
pub(super) fn behind(room: &Room, facet: usize, members: Option<&MarkedMembers>, marks: &[Mark], unit: LengthUnit) -> Vec<Rail> {
    let Some(members) = members.filter(|_| marks.iter().any(|mark| mark.member.is_none())) else { return Vec::new() };
    // Along the rail, and across it.
    let (along, across) = if members.upright { (0, 1) } else { (1, 0) };
    let place = |mark: &Mark| DVec2::new(mark.left_m, mark.bottom_m);
    let mut rows: Vec<f64> = marks.iter().map(|mark| place(mark)[across]).collect();
    rows.sort_by(f64::total_cmp);
    rows.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    let one = |at_m: f64| {
        let points = || marks.iter().map(place).filter(|place| (place[across] - at_m).abs() < 1e-6).map(|place| place[along]);
        let (low, high) = (points().fold(f64::INFINITY, f64::min), points().fold(f64::NEG_INFINITY, f64::max));
        let before = members.at_m.iter().copied().filter(|at| *at <= low).reduce(f64::max)?;
        let after = members.at_m.iter().copied().filter(|at| *at >= high).reduce(f64::min)?;
        let (from_m, to_m) = (on_tape(before - OVER, unit), on_tape(after + OVER, unit));
        let point = |along_m: f64| if members.upright { DVec2::new(along_m, at_m) } else { DVec2::new(at_m, along_m) };
        let is_on = [before, after].into_iter().all(|end| room.surfaces[facet].outline.contains(point(end)));
        let within = |at: &f64| (before - 1e-9..=after + 1e-9).contains(at);
        is_on.then(|| Rail {
            level: members.upright,
            at_m,
            from_m,
            to_m,
            length_m: to_m - from_m,
            screws_m: members.at_m.iter().copied().filter(within).map(|at| on_tape(at, unit)).collect(),
        })
    };
    rows.into_iter().map(one).collect::<Option<Vec<Rail>>>().unwrap_or_default()
}
