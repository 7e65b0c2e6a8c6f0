//! From a hand on the mouse to the command it means: where the thing that is held goes when the pointer is here.
//!
//! What lies on a surface follows the pointer over the surfaces that can carry it, and keeps the place under the hand where it was taken.
//! What stands or hangs in the room follows it in the level plane through the place where it was taken, or, while its height is
//! changed or the room is seen level, in the upright plane there that faces the eye. Measures are those of a tape; a panel falls
//! into line with its neighbors and with hot spots (`snap`) unless it is told not to.
//!
//! *Limits.* Seen straight from above no height can be changed.

use bevy::math::{DVec2, DVec3, Vec2};
use roomwright::geometry::Chart;
use roomwright::layout::measure_step;
use roomwright::plan::HotSpot;
use roomwright::room::{Role, Room, hung_size};
use roomwright::scene::{Panel, PanelPlace, PanelType, Scene, StockKind};
use roomwright::units::Length;

use super::camera::{Lens, Sight};
use super::handle::{Handle, Pull};
use super::picking::{OnSurface, surface_along};
use super::snap::{Around, Line, Span, snapped};
use super::thing::{Spot, goes_on, moved, placed, size_on_surface, spot, stands, upward_hold, usual_place};
use crate::command::Command;
use crate::view::Thing;

/// How far a panel is moved to fall into line, logical pixels.
const REACH: f64 = 9.0;
/// Seen flatter than this (upward part of the way of sight) a level plane is seen edge on.
const EDGE_ON: f64 = 0.15;
/// Air over a cloud that is hung by hand, meters.
const CLOUD_AIR: f64 = 0.15;
/// No pointer means a place farther away than this, meters.
const FARTHEST: f64 = 80.0;

/// What the keys that are held make of the mouse.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Held {
    /// Nothing falls into line.
    pub(super) is_free: bool,
    /// The height is changed instead of the place.
    pub(super) is_upright: bool,
}

/// What a drag is decided by.
#[derive(Clone, Copy)]
pub(super) struct Desk<'a> {
    /// The scene as it is.
    pub(super) scene: &'a Scene,
    /// Its room.
    pub(super) room: &'a Room,
    /// How it is looked at.
    pub(super) sight: &'a Sight,
    /// Hot spots to fall into line with.
    pub(super) spots: &'a [HotSpot],
}

/// How a thing is held.
#[derive(Clone, Debug, PartialEq)]
enum Hold {
    /// On a surface: from its left lower corner to the hand, meters.
    On(DVec2),
    /// Across a corner: from its lower edge up to the hand, meters.
    Across(f64),
    /// In space: where it was, where the hand took it, and how.
    At { start: DVec3, anchor: DVec3, is_upright: bool },
    /// By a handle.
    By(Pull),
}

/// A thing in the hand.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Grip {
    /// The thing; a panel that does not hang yet has the number that it will have.
    pub(super) thing: Thing,
    /// Where it was.
    start: Option<Spot>,
    hold: Hold,
    /// The type of a panel that does not hang yet.
    fresh: Option<PanelType>,
}

/// A line to what a panel fell into line with, and its measure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Guide {
    /// Its ends in the room, meters.
    pub(super) ends: [DVec3; 2],
    /// Its measure; empty where it has none.
    pub(super) words: String,
}

/// What the hand means.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Meant {
    /// The command.
    pub(super) command: Command,
    /// What the thing fell into line with.
    pub(super) guides: Vec<Guide>,
}

/// Where a line of sight meets a plane, before the eye.
pub(super) fn meet(sight: &Sight, at: Vec2, through: DVec3, normal: DVec3) -> Option<DVec3> {
    let (from, way) = sight.ray(at);
    let fall = way.dot(normal);
    let distance = if fall.abs() < 1e-6 { f64::INFINITY } else { (through - from).dot(normal) / fall };
    (0.0..FARTHEST).contains(&distance).then(|| from + way * distance)
}

/// The plane through a point in which the hand moves: its normal. `None` seen straight from above, where no height shows.
pub(super) fn plane(sight: &Sight, is_upright: bool) -> Option<DVec3> {
    let forward = sight.pose.forward;
    let is_level = !is_upright && forward.z.abs() >= EDGE_ON;
    if is_level { Some(DVec3::Z) } else { forward.with_z(0.0).try_normalize().filter(|_| forward.z.abs() < 0.995) }
}

/// A measure on the steps of the tape, unless it did not change.
pub(super) fn on_tape(now: f64, start: f64, step: f64) -> f64 {
    if (now - start).abs() < 0.5 * step { start } else { (now / step).round() * step }
}

/// The surface of the shell under the pointer that takes the thing.
fn carrier(desk: &Desk<'_>, at: Vec2, goes: impl Fn(Role) -> bool) -> Option<OnSurface> {
    let (from, way) = desk.sight.ray(at);
    let shell = |role: Role| role.is_shell();
    let (_, hit) = surface_along(desk.room, from, way, shell)?;
    goes(desk.room.surfaces[hit.surface].role).then_some(hit)
}

impl Grip {
    /// Takes hold of a thing, the pointer at `at` and on it at `point`.
    pub(super) fn take(desk: &Desk<'_>, thing: Thing, at: Vec2, point: DVec3, held: Held) -> Option<Self> {
        let start = spot(desk.scene, thing)?;
        let hold = match &start {
            Spot::On(surface, low) => {
                let chart = desk.scene.chart(desk.scene.surface(surface)?);
                let hand = meet(desk.sight, at, chart.origin, chart.normal)?;
                Hold::On(chart.position(hand) - *low)
            }
            Spot::Across(_, bottom) => Hold::Across(point.z - bottom),
            Spot::At(start) => Self::in_space(desk, at, *start, point, held.is_upright)?,
        };
        Some(Self { thing, start: Some(start), hold, fresh: None })
    }

    /// Takes hold of a handle of the chosen cloud.
    pub(super) fn pull(desk: &Desk<'_>, chosen: Option<Thing>, handle: Handle, at: Vec2) -> Option<Self> {
        let pull = Pull::take(desk, chosen, handle, at)?;
        Some(Self { thing: pull.thing(), start: None, hold: Hold::By(pull), fresh: None })
    }

    /// The handle that is held.
    pub(super) fn handle(&self) -> Option<Handle> {
        match &self.hold {
            Hold::By(pull) => Some(pull.handle()),
            _ => None,
        }
    }

    fn in_space(desk: &Desk<'_>, at: Vec2, start: DVec3, near: DVec3, is_upright: bool) -> Option<Hold> {
        let anchor = meet(desk.sight, at, near, plane(desk.sight, is_upright)?)?;
        Some(Hold::At { start, anchor, is_upright })
    }

    /// A panel of this type in the hand, about to be hung.
    pub(super) fn fresh(desk: &Desk<'_>, kind: &PanelType, at: Vec2) -> Option<Self> {
        let hold = match kind.kind {
            StockKind::Corner => Hold::Across(0.5 * kind.size.y),
            StockKind::Cloud => {
                let start = under_ceiling(desk, kind, at)?;
                let anchor = meet(desk.sight, at, start, plane(desk.sight, false)?)?;
                Hold::At { start, anchor, is_upright: false }
            }
            _ => Hold::On(0.5 * kind.size),
        };
        Some(Self { thing: Thing::Panel(desk.scene.panels.len()), start: None, hold, fresh: Some(kind.clone()) })
    }

    /// Whether the height is changed instead of the place, or the other way round: takes hold of it anew.
    pub(super) fn held(self, desk: &Desk<'_>, at: Vec2, held: Held) -> Self {
        let Hold::At { anchor, is_upright, start } = self.hold else { return self };
        let now = spot(desk.scene, self.thing);
        let Some(Spot::At(now)) = now.filter(|_| is_upright != held.is_upright) else { return self };
        match Self::in_space(desk, at, now, anchor + (now - start), held.is_upright) {
            Some(hold) => Self { hold, ..self },
            None => self,
        }
    }

    /// What it means that the pointer is here; `None` where it means nothing.
    pub(super) fn meant(&self, desk: &Desk<'_>, at: Vec2, held: Held) -> Option<Meant> {
        let (to, guides) = match &self.hold {
            Hold::On(hand) => self.on_surface(desk, at, *hand, held)?,
            Hold::Across(hand) => (self.across(desk, at, *hand)?, Vec::new()),
            Hold::By(pull) => return pull.meant(desk, at),
            Hold::At { start, anchor, is_upright } => (Spot::At(in_room(desk, at, *start, *anchor, *is_upright)?), Vec::new()),
        };
        // A hand that lies on a thing means nothing yet.
        Some(Meant { command: self.command(desk.scene, to)?, guides })
    }

    fn command(&self, scene: &Scene, to: Spot) -> Option<Command> {
        match &self.fresh {
            Some(kind) if !self.thing.is_in(scene) => {
                Some(Command::AddPanel(Panel { kind: kind.name.clone(), place: placed(&usual_place(kind), to)? }))
            }
            _ => moved(scene, self.thing, to),
        }
    }

    /// Width and height on a surface, meters.
    fn size(&self, scene: &Scene) -> Option<DVec2> {
        size_on_surface(scene, self.thing).or_else(|| self.fresh.as_ref().map(|kind| hung_size(kind, &usual_place(kind))))
    }

    fn on_surface(&self, desk: &Desk<'_>, at: Vec2, hand: DVec2, held: Held) -> Option<(Spot, Vec<Guide>)> {
        let scene = desk.scene;
        let size = self.size(scene)?;
        let now = spot(scene, self.thing);
        let own = match &now {
            Some(Spot::On(surface, _)) => Some(surface.as_str()),
            _ => None,
        };
        let hit = carrier(desk, at, |role| goes_on(scene, self.thing, self.fresh.as_ref(), role));
        let (surface, chart, position) = match (hit, own) {
            (Some(hit), _) => {
                let surface = &desk.room.surfaces[hit.surface];
                (surface.name.as_str(), surface.chart, hit.position)
            }
            // Beside everything that can carry it: on over the edge of where it is.
            (None, Some(own)) => {
                let chart = scene.chart(scene.surface(own)?);
                (own, chart, chart.position(meet(desk.sight, at, chart.origin, chart.normal)?))
            }
            (None, None) => return None,
        };
        let step = measure_step(scene.unit);
        let mut low = position - hand.clamp(DVec2::ZERO, size);
        if own == Some(surface) {
            // Where it is held outside its own outline it stays so: what stands off its wall is seen beside its place there.
            low = position - hand;
        }
        let start = match &self.start {
            Some(Spot::On(name, start)) if name == surface => Some(*start),
            _ => None,
        };
        let is_panel = matches!(self.thing, Thing::Panel(_));
        let (low, lines) = if is_panel && !self.is_standing(scene) {
            let reach = if held.is_free { 0.0 } else { REACH * desk.sight.pixel(chart.point(position)) };
            let around = around(desk, self.thing, surface, reach);
            snapped(low, size, &around)
        } else {
            let hold = upward_hold(scene, self.thing);
            let usual = start.unwrap_or(if self.is_standing(scene) { DVec2::ZERO } else { low });
            let left = on_tape(low.x, usual.x, step);
            let bottom = if (low.y - usual.y).abs() < hold || self.is_standing(scene) { usual.y } else { on_tape(low.y, usual.y, step) };
            (DVec2::new(left, bottom), Vec::new())
        };
        let depth = self.depth(scene);
        let guides = lines.iter().map(|line| guide(scene, &chart, depth, line)).collect();
        Some((Spot::On(surface.to_owned(), low), guides))
    }

    fn kind<'a>(&'a self, scene: &'a Scene) -> Option<&'a PanelType> {
        let Thing::Panel(index) = self.thing else { return None };
        let hung = scene.panels.get(index).and_then(|panel| scene.stock.iter().find(|kind| kind.name == panel.kind));
        hung.or(self.fresh.as_ref())
    }

    fn is_standing(&self, scene: &Scene) -> bool {
        self.kind(scene).is_some_and(|kind| stands(kind.kind))
    }

    /// From the surface to the front, meters.
    fn depth(&self, scene: &Scene) -> f64 {
        let gap = match self.thing {
            Thing::Panel(index) => scene.panels.get(index).map(|panel| &panel.place),
            _ => None,
        };
        let gap = match gap {
            Some(PanelPlace::Surface { gap, .. }) => Some(*gap),
            _ => None,
        };
        self.kind(scene).map_or(0.0, |kind| gap.unwrap_or(kind.gap) + kind.thickness)
    }

    /// Up and down a corner, or over to the one that the pointer is nearer to.
    fn across(&self, desk: &Desk<'_>, at: Vec2, hand: f64) -> Option<Spot> {
        let scene = desk.scene;
        let step = measure_step(scene.unit);
        let start = match self.start {
            Some(Spot::Across(_, bottom)) => Some(bottom),
            _ => None,
        };
        let height = |at: f64| on_tape(at - hand, start.unwrap_or(f64::INFINITY), step);
        if let Some(hit) = carrier(desk, at, |role| matches!(role, Role::Wall(_)))
            && let Role::Wall(wall) = desk.room.surfaces[hit.surface].role
        {
            // Seen from inside a wall begins where the next one does.
            let is_left = hit.position.x < 0.5 * scene.wall_length(wall);
            let corner = if is_left { (wall + 1) % scene.outline.len() } else { wall };
            return Some(Spot::Across(corner, height(hit.point.z)));
        }
        let Some(Spot::Across(corner, _)) = spot(scene, self.thing) else { return None };
        let foot = scene.outline.get(corner)?.extend(0.0);
        let point = meet(desk.sight, at, foot, plane(desk.sight, true)?)?;
        Some(Spot::Across(corner, height(point.z)))
    }
}

/// Where a thing in space goes.
fn in_room(desk: &Desk<'_>, at: Vec2, start: DVec3, anchor: DVec3, is_upright: bool) -> Option<DVec3> {
    let by = meet(desk.sight, at, anchor, plane(desk.sight, is_upright)?)? - anchor;
    let step = measure_step(desk.scene.unit);
    let to = start + by;
    Some(if is_upright {
        start.with_z(on_tape(to.z, start.z, step))
    } else {
        DVec3::new(on_tape(to.x, start.x, step), on_tape(to.y, start.y, step), start.z)
    })
}

/// Where a cloud would hang under the pointer: its middle, and its underside a hand below the ceiling.
fn under_ceiling(desk: &Desk<'_>, kind: &PanelType, at: Vec2) -> Option<DVec3> {
    let scene = desk.scene;
    let step = measure_step(scene.unit);
    let half = 0.5 * hung_size(kind, &usual_place(kind));
    let corners = [DVec2::new(-1.0, -1.0), DVec2::new(1.0, -1.0), DVec2::ONE, DVec2::new(-1.0, 1.0)];
    let mut height = 2.0;
    let mut middle = DVec2::ZERO;
    // Where the pointer means depends on the height, and under a slope the height on where: a few rounds settle both.
    for _ in 0..8 {
        let point = meet(desk.sight, at, DVec3::Z * height, DVec3::Z)?;
        middle = super::snap::rounded(point.truncate(), step);
        let ceiling = corners.iter().map(|sign| scene.ceiling_height(middle + *sign * half)).fold(f64::INFINITY, f64::min);
        height = ((ceiling - CLOUD_AIR - kind.thickness) / step + 1e-6).floor() * step;
    }
    height.is_finite().then(|| middle.extend(height))
}

/// What a panel can fall into line with on a surface.
fn around(desk: &Desk<'_>, but: Thing, surface: &str, reach: f64) -> Around {
    let scene = desk.scene;
    let on = |thing: Thing| match spot(scene, thing) {
        Some(Spot::On(name, low)) if name == surface && thing != but => size_on_surface(scene, thing).map(|size| Span::new(low, size)),
        _ => None,
    };
    let outlines = desk.room.named(surface).map(|(_, found)| found.outline.bounds());
    let ends = outlines.fold([DVec2::INFINITY, DVec2::NEG_INFINITY], |ends, (low, high)| [ends[0].min(low), ends[1].max(high)]);
    let here = desk.spots.iter().filter(|spot| spot.center.surface == surface);
    Around {
        panels: (0..scene.panels.len()).filter_map(|index| on(Thing::Panel(index))).collect(),
        stops: (0..scene.openings.len()).filter_map(|index| on(Thing::Opening(index))).collect(),
        ends,
        spots: here.map(|spot| DVec2::new(spot.center.left_m, spot.center.bottom_m)).collect(),
        reach,
        step: measure_step(scene.unit),
    }
}

/// A line on the surface as one in the room, before the front of the panel.
fn guide(scene: &Scene, chart: &Chart, depth: f64, line: &super::snap::Guide) -> Guide {
    let print = |meters: f64| Length(meters).print(scene.unit);
    let words = match line.line {
        Line::Gap => print(line.from.distance(line.to)),
        Line::Level => format!("level, {}", print(line.from.y)),
        // Said once, at the line that lies.
        Line::Spot if line.from.y == line.to.y => "middle of the hot spot".to_owned(),
        Line::Spot => String::new(),
    };
    Guide { ends: [line.from, line.to].map(|end| chart.point(end) + chart.normal * depth), words }
}

/// The command for one press of an arrow key: `arrow` is to the right and upward on the screen, in meters; `rise` in meters. What lies
/// on a surface moves along it; what stands in the room along that axis of the room which the arrow means most.
pub(super) fn nudged(scene: &Scene, sight: &Sight, thing: Thing, arrow: DVec2, rise: f64) -> Option<Command> {
    let to = match spot(scene, thing)? {
        Spot::On(surface, low) => {
            let upward = if upward_hold(scene, thing).is_infinite() { 0.0 } else { arrow.y + rise };
            Spot::On(surface, low + DVec2::new(arrow.x, upward))
        }
        Spot::Across(corner, bottom) => Spot::Across(corner, bottom + arrow.y + rise),
        Spot::At(at) => {
            let right = sight.pose.right().truncate();
            let axis = if right.x.abs() >= right.y.abs() { DVec2::X * right.x.signum() } else { DVec2::Y * right.y.signum() };
            let is_level_view = matches!(sight.pose.lens, Lens::Parallel(_)) && sight.pose.forward.z.abs() < EDGE_ON;
            let (away, rise) = if is_level_view { (0.0, rise + arrow.y) } else { (arrow.y, rise) };
            let by = axis * arrow.x + axis.perp() * away;
            Spot::At(at + by.extend(rise))
        }
    };
    if spot(scene, thing) == Some(to.clone()) { None } else { moved(scene, thing, to) }
}

#[cfg(test)]
#[path = "drag_tests.rs"]
mod tests;
