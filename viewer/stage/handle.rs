//! Handles of the chosen cloud: what stands where to pull at, and the cloud that pulling means.
//!
//! An arrow below its middle raises and lowers it. A ring on an edge tilts it: the edge follows the hand up or down, in whole degrees; a cloud
//! leans one way, so that while it does only the two edges of that way have rings. A square beyond a side makes it larger or smaller by
//! whole panels, the opposite side staying where it is. All is reckoned from the cloud as it was when it was taken, in the upright
//! plane through the handle that faces the eye.
//!
//! *Limits.* Straight from above no height shows, so only the squares are there; a side that is seen end on has none.

use bevy::math::{DVec2, DVec3, Vec2};
use roomwright::layout::measure_step;
use roomwright::scene::cloud::{Cloud, SIDE_BY_SIDE_MOST, TILT_MOST};
use roomwright::scene::{PanelPlace, PanelType, Scene};
use roomwright::units::Length;

use super::camera::Sight;
use super::drag::{Desk, Guide, Meant, meet, on_tape, plane};
use crate::command::Command;
use crate::view::Thing;

/// How near the pointer must be to take a handle, logical pixels.
const NEAR: f32 = 11.0;
/// How far squares stand beyond their side, and the arrow below the middle, logical pixels.
const OFF: f64 = 24.0;
/// A way of the room this nearly along the line of sight is seen end on.
const END_ON: f64 = 0.95;
/// Sums of tilted panels fall between the steps of a tape: they are held to millimeters.
const MILLIMETERS: f64 = 1000.0;

/// A side of a cloud: along x (0) or y (1), at its smaller (-1) or greater (1) end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Side {
    /// 0 for x, 1 for y.
    pub(super) axis: usize,
    /// -1 or 1.
    pub(super) sign: f64,
}

/// What can be pulled at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Handle {
    /// Its height.
    Height,
    /// Its tilt, by the edge of this side.
    Tilt(Side),
    /// How many panels it is made of, by this side.
    Size(Side),
}

impl Handle {
    /// What pulling does.
    pub(super) fn hint(self) -> &'static str {
        match self {
            Self::Height => "drag up or down: its height",
            Self::Tilt(_) => "drag the edge up or down: its tilt",
            Self::Size(_) => "drag outward or inward: more or fewer panels",
        }
    }
}

/// The chosen cloud, its number, and its type.
fn chosen_cloud(scene: &Scene, chosen: Option<Thing>) -> Option<(usize, &Cloud, &PanelType)> {
    let Some(Thing::Panel(index)) = chosen else { return None };
    let panel = scene.panels.get(index)?;
    let PanelPlace::Cloud(cloud) = &panel.place else { return None };
    Some((index, cloud, scene.stock.iter().find(|kind| kind.name == panel.kind)?))
}

/// The way of the room that a side lies in, along the cloud; unit.
fn outward(cloud: &Cloud, side: Side) -> DVec3 {
    let chart = cloud.chart();
    side.sign * if side.axis == 0 { chart.right } else { chart.up }
}

/// The middle of the edge of a side, on its underside, meters.
fn edge(cloud: &Cloud, kind: &PanelType, side: Side) -> DVec3 {
    cloud.center.extend(cloud.underside) + outward(cloud, side) * (0.5 * cloud.size(kind)[side.axis])
}

/// The handles of the chosen cloud, and where they stand in the room, meters.
pub(super) fn handles(scene: &Scene, chosen: Option<Thing>, sight: &Sight) -> Vec<(Handle, DVec3)> {
    let Some((_, cloud, kind)) = chosen_cloud(scene, chosen) else { return Vec::new() };
    let middle = cloud.center.extend(cloud.underside);
    let off = OFF * sight.pixel(middle);
    let shows_height = plane(sight, true).is_some();
    let mut all = Vec::new();
    if shows_height {
        all.push((Handle::Height, middle - DVec3::Z * off));
    }
    for axis in 0..2 {
        for sign in [-1.0, 1.0] {
            let side = Side { axis, sign };
            let (edge, way) = (edge(cloud, kind, side), outward(cloud, side));
            if sight.pose.forward.dot(way).abs() > END_ON {
                continue;
            }
            if shows_height && cloud.tilt[1 - axis] == 0.0 {
                all.push((Handle::Tilt(side), edge));
            }
            all.push((Handle::Size(side), edge + way * off));
        }
    }
    all
}

/// The handle under the pointer.
pub(super) fn under(scene: &Scene, chosen: Option<Thing>, sight: &Sight, at: Vec2) -> Option<Handle> {
    let near = |(handle, place): (Handle, DVec3)| sight.screen(place).map(|screen| (screen.distance(at), handle));
    let all = handles(scene, chosen, sight).into_iter().filter_map(near).filter(|(near, _)| *near <= NEAR);
    all.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, handle)| handle)
}

/// A handle in the hand.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pull {
    /// Index into the scene's panels.
    panel: usize,
    /// The cloud as it was taken.
    cloud: Cloud,
    handle: Handle,
    /// Where the hand took it.
    anchor: DVec3,
}

impl Pull {
    /// Takes hold of a handle of the chosen cloud.
    pub(super) fn take(desk: &Desk<'_>, chosen: Option<Thing>, handle: Handle, at: Vec2) -> Option<Self> {
        let (panel, cloud, _) = chosen_cloud(desk.scene, chosen)?;
        let place = handles(desk.scene, chosen, desk.sight).into_iter().find(|(other, _)| *other == handle)?.1;
        let anchor = meet(desk.sight, at, place, facing(desk.sight, cloud, handle)?)?;
        Some(Self { panel, cloud: *cloud, handle, anchor })
    }

    /// The panel whose handle it is.
    pub(super) fn thing(&self) -> Thing {
        Thing::Panel(self.panel)
    }

    /// The handle.
    pub(super) fn handle(&self) -> Handle {
        self.handle
    }

    /// What it means that the pointer is here.
    pub(super) fn meant(&self, desk: &Desk<'_>, at: Vec2) -> Option<Meant> {
        let kind = desk.scene.panels.get(self.panel).and_then(|panel| desk.scene.stock.iter().find(|kind| kind.name == panel.kind))?;
        let by = meet(desk.sight, at, self.anchor, facing(desk.sight, &self.cloud, self.handle)?)? - self.anchor;
        let cloud = match self.handle {
            Handle::Height => {
                let underside = on_tape(self.cloud.underside + by.z, self.cloud.underside, measure_step(desk.scene.unit));
                Cloud { underside, ..self.cloud }
            }
            Handle::Tilt(side) => self.tilted(kind, side, by.z),
            Handle::Size(side) => self.resized(kind, side, by),
        };
        let guides = guides(desk.scene, kind, &cloud, self.handle);
        Some(Meant { command: Command::MovePanel { panel: self.panel, place: PanelPlace::Cloud(cloud) }, guides })
    }

    /// The edge of a side goes up by so much: `sin a = rise / (l / 2)`.
    fn tilted(&self, kind: &PanelType, side: Side, up: f64) -> Cloud {
        let rise = side.sign * (edge(&self.cloud, kind, side).z + up - self.cloud.underside);
        let sine = rise / (0.5 * self.cloud.size(kind)[side.axis]);
        let degrees = sine.clamp(-1.0, 1.0).asin().to_degrees().round().clamp(-TILT_MOST, TILT_MOST);
        leaning(&self.cloud, side.axis, degrees)
    }

    /// A side goes outward by so much, in whole panels; the opposite one stays.
    fn resized(&self, kind: &PanelType, side: Side, by: DVec3) -> Cloud {
        let (way, panel) = (outward(&self.cloud, side), self.cloud.panel_size(kind)[side.axis]);
        let before = f64::from(self.cloud.panels[side.axis]);
        let count = (before + by.dot(way) / panel).round().clamp(1.0, f64::from(SIDE_BY_SIDE_MOST));
        let middle = self.cloud.center.extend(self.cloud.underside) + way * (0.5 * panel * (count - before));
        let middle = if self.cloud.tilt == DVec2::ZERO { middle } else { (middle * MILLIMETERS).round() / MILLIMETERS };
        let mut cloud = Cloud { center: middle.truncate(), underside: middle.z, ..self.cloud };
        cloud.panels[side.axis] = count as u32;
        cloud
    }
}

/// The plane through the handle in which the hand moves: its normal.
fn facing(sight: &Sight, cloud: &Cloud, handle: Handle) -> Option<DVec3> {
    let Handle::Size(side) = handle else { return plane(sight, true) };
    let (forward, way) = (sight.pose.forward, outward(cloud, side));
    (forward - way * forward.dot(way)).try_normalize()
}

/// A cloud that leans along an axis by so many degrees.
fn leaning(cloud: &Cloud, axis: usize, degrees: f64) -> Cloud {
    let mut tilt = DVec2::ZERO;
    // A rounded small fall is minus zero, which is level.
    tilt[axis] = degrees + 0.0;
    Cloud { tilt, ..*cloud }
}

/// Lines that show what was changed, with its measure.
fn guides(scene: &Scene, kind: &PanelType, cloud: &Cloud, handle: Handle) -> Vec<Guide> {
    let print = |meters: f64| Length(meters).print(scene.unit);
    let over_floor = |point: DVec3, words: String| Guide { ends: [point.with_z(0.0), point], words };
    match handle {
        Handle::Height => {
            let middle = cloud.center.extend(cloud.underside);
            vec![over_floor(middle, format!("{} over the floor", print(middle.z)))]
        }
        Handle::Tilt(Side { axis, .. }) => [-1.0, 1.0]
            .map(|sign| edge(cloud, kind, Side { axis, sign }))
            .map(|edge| over_floor(edge, format!("edge {} over the floor", print(edge.z))))
            .to_vec(),
        Handle::Size(Side { axis, .. }) => {
            let ends = [-1.0, 1.0].map(|sign| edge(cloud, kind, Side { axis, sign }));
            let count = cloud.panels[axis];
            let words = format!("{}, {count} {}", print(cloud.size(kind)[axis]), if count == 1 { "panel" } else { "panels" });
            vec![Guide { ends, words }]
        }
    }
}

/// The command that lifts the edge of a cloud which an arrow key means, by so many degrees: `arrow` is to the right and upward on the
/// screen. One that leans the other way is to be leveled first.
pub(super) fn leaned(scene: &Scene, sight: &Sight, chosen: Thing, arrow: DVec2, degrees: f64) -> Option<Command> {
    let (panel, cloud, _) = chosen_cloud(scene, Some(chosen))?;
    let right = sight.pose.right().truncate();
    let along = if right.x.abs() >= right.y.abs() { DVec2::X * right.x.signum() } else { DVec2::Y * right.y.signum() };
    let way = (along * arrow.x + along.perp() * arrow.y).try_normalize()?.round();
    let axis = usize::from(way.y.abs() > way.x.abs());
    if cloud.tilt[1 - axis] != 0.0 {
        return Some(Command::Say("A cloud leans one way only: level it first, then tilt it the other way.".to_owned()));
    }
    let degrees = (cloud.tilt[axis] + way[axis] * degrees).clamp(-TILT_MOST, TILT_MOST);
    Some(Command::MovePanel { panel, place: PanelPlace::Cloud(leaning(cloud, axis, degrees)) })
}

#[cfg(test)]
#[path = "handle_tests.rs"]
mod tests;
