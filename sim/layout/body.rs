//! A panel as a solid: the space it takes where it hangs, stands or lies.
//!
//! Flat on a surface it is a box as deep as gap and thickness. Across a corner of inner angle `t` its back edges touch both walls
//! `(w / 2) / sin(t / 2)` from the corner, `w` its width, and its front is its thickness before them. A cloud is a box, level or tilted.
//!
//! *Limits.* Corner panels are taken to close the corner behind them.

use std::cmp::Ordering;

use glam::{DVec2, DVec3};

use super::free::{EDGE_MARGIN, Free};
use super::refusal::Refusal;
use crate::geometry::{Chart, Polygon, Solid};
use crate::room::Role;
use crate::scene::{Panel, PanelPlace, PanelType, StockKind};

/// Widest inner angle of two walls that still counts as a corner to hang across, radians.
pub const CORNER_ANGLE_MAX: f64 = 2.0 * std::f64::consts::FRAC_PI_3 - 1e-9;
/// Distance from a plane within which something touches it, meters.
const TOUCH: f64 = 0.005;

/// A panel as a solid, and where it touches.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// The space it takes, its gap included.
    pub solid: Solid,
    /// Index into the room's surfaces of the surface it hangs on; for a corner panel the wall left of the corner, for a cloud the
    /// ceiling facet above its middle.
    pub surface: Option<usize>,
    /// Lowest and highest chart coordinates, for what hangs flat; meters.
    pub span: Option<(DVec2, DVec2)>,
    /// Middle of its front, meters.
    pub front: DVec3,
    /// Middle on the chart of its surface; for corner panels and clouds on the floor plan. Meters.
    pub center: DVec2,
}

impl Free {
    /// A panel as a solid, whether or not it fits.
    ///
    /// # Errors
    /// Its surface or corner is not in the room.
    pub fn body(&self, panel: &Panel, kind: &PanelType) -> Result<Body, Refusal> {
        match &panel.place {
            PanelPlace::Surface { surface, left, bottom, lying, gap } => {
                let low = DVec2::new(*left, *bottom);
                let high = low + size_as_hung(kind, *lying);
                self.flat_body(surface, low, high, gap + kind.thickness)
            }
            PanelPlace::Corner { corner, bottom } => self.corner_body(*corner, *bottom, kind),
            PanelPlace::Cloud(cloud) => Ok(Body {
                solid: cloud.solid(kind),
                surface: self.facet_above(cloud.center),
                span: None,
                front: cloud.center.extend(cloud.underside),
                center: cloud.center,
            }),
        }
    }

    fn flat_body(&self, surface: &str, low: DVec2, high: DVec2, depth: f64) -> Result<Body, Refusal> {
        let center = (low + high) / 2.0;
        let named = || self.faces.iter().enumerate().filter(|(_, face)| face.as_ref().is_some_and(|face| face.name == surface));
        // A ceiling plane may show in several facets on one chart: the one that the panel lies on.
        let facet = named().find(|(_, face)| face.as_ref().is_some_and(|face| face.outline.contains(center))).or_else(|| named().next());
        let Some((index, Some(face))) = facet else { return Err(Refusal::NoSurface(surface.to_owned())) };
        Ok(Body {
            solid: Solid::before(&face.chart, low, high, depth),
            surface: Some(index),
            span: Some((low, high)),
            front: face.chart.point(center) + face.chart.normal * depth,
            center,
        })
    }

    fn corner_body(&self, corner: usize, bottom: f64, kind: &PanelType) -> Result<Body, Refusal> {
        let missing = || Refusal::NoSurface(format!("corner {corner}"));
        let bisector = Corner::of(self.outline(), corner).ok_or_else(missing)?;
        let reach = kind.size.x / (2.0 * (bisector.angle / 2.0).sin());
        if bisector.angle > CORNER_ANGLE_MAX || reach + EDGE_MARGIN > bisector.shorter_wall {
            return Err(Refusal::Edge(format!("corner {corner}")));
        }
        let (right, left) = (bisector.point + bisector.to_next * reach, bisector.point + bisector.to_previous * reach);
        let forward = bisector.inward * kind.thickness;
        let footprint = [bisector.point, right, right + forward, left + forward, left];
        let center = (right + left) / 2.0;
        Ok(Body {
            solid: Solid::column(&footprint, bottom, bottom + kind.size.y),
            surface: self.faces.iter().position(|face| face.as_ref().is_some_and(|face| face.role == Role::Wall(corner))),
            span: None,
            front: (center + forward).extend(bottom + kind.size.y / 2.0),
            center,
        })
    }

    /// The facet of the ceiling over a point of the floor plan.
    #[must_use]
    pub fn facet_above(&self, point: DVec2) -> Option<usize> {
        let height = |index: usize| self.ceiling_height_on(index, point);
        (0..self.faces.len())
            .filter(|&index| height(index).is_some())
            .min_by(|&a, &b| height(a).partial_cmp(&height(b)).unwrap_or(Ordering::Equal))
    }

    /// Height of the ceiling over a point of the floor plan, meters.
    #[must_use]
    pub fn ceiling_height(&self, point: DVec2) -> Option<f64> {
        self.facet_above(point).and_then(|index| self.ceiling_height_on(index, point))
    }

    fn ceiling_height_on(&self, index: usize, point: DVec2) -> Option<f64> {
        let face = self.faces.get(index)?.as_ref()?;
        let Chart { origin, normal, .. } = face.chart;
        if !matches!(face.role, Role::Ceiling(_)) || normal.z.abs() < 1e-9 {
            return None;
        }
        Some(origin.z - (point - origin.truncate()).dot(normal.truncate()) / normal.z)
    }
}

/// An outline corner as seen from inside.
pub(super) struct Corner {
    pub(super) point: DVec2,
    pub(super) to_next: DVec2,
    pub(super) to_previous: DVec2,
    pub(super) inward: DVec2,
    /// Angle between the two walls on the room's side, radians.
    pub(super) angle: f64,
    /// Length of the shorter of the two walls, meters.
    pub(super) shorter_wall: f64,
}

impl Corner {
    /// The corner with this index; `None` if there is none or it is no inner corner.
    pub(super) fn of(outline: &Polygon, index: usize) -> Option<Self> {
        let count = outline.corners.len();
        let point = *outline.corners.get(index)?;
        let next = outline.corners[(index + 1) % count] - point;
        let previous = outline.corners[(index + count - 1) % count] - point;
        let (to_next, to_previous) = (next.try_normalize()?, previous.try_normalize()?);
        // Inner corners of a counterclockwise outline turn left.
        if to_next.perp_dot(to_previous) <= 1e-9 {
            return None;
        }
        let inward = (to_next + to_previous).try_normalize()?;
        let angle = to_next.dot(to_previous).clamp(-1.0, 1.0).acos();
        Some(Self { point, to_next, to_previous, inward, angle, shorter_wall: next.length().min(previous.length()) })
    }
}

/// Whether this kind of thing goes on this part of the shell.
#[must_use]
pub fn carries(kind: StockKind, role: Role) -> bool {
    match kind {
        StockKind::Panel => matches!(role, Role::Wall(_) | Role::Ceiling(_)),
        StockKind::Curtain | StockKind::Diffuser | StockKind::FreeStanding | StockKind::Bookcase => matches!(role, Role::Wall(_)),
        StockKind::Rug => role == Role::Floor,
        StockKind::Corner | StockKind::Cloud => false,
    }
}

/// Width and height of a type as hung: its longer side upright unless `lying`. Meters.
#[must_use]
pub fn size_as_hung(kind: &PanelType, lying: bool) -> DVec2 {
    if lying { DVec2::new(kind.size.y, kind.size.x) } else { kind.size }
}

/// Bounds on a chart of a body that touches its plane.
pub(super) fn shadow_on(chart: &Chart, body: &Solid) -> Option<(DVec2, DVec2)> {
    let touches = body.corners().iter().any(|&corner| chart.height(corner).abs() <= TOUCH);
    touches.then(|| {
        body.corners()
            .iter()
            .map(|&corner| chart.position(corner))
            .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), position| (low.min(position), high.max(position)))
    })
}

/// Whether a rectangle lies inside a simple polygon (touching allowed).
pub(super) fn holds(outline: &Polygon, low: DVec2, high: DVec2) -> bool {
    const SLACK: f64 = 1e-7;
    let (low, high) = (low + SLACK, high - SLACK);
    if low.cmpge(high).any() || !outline.winds((low + high) / 2.0) {
        return false;
    }
    // Its middle is inside; so is all of it if no edge of the outline enters it.
    !outline.edges().any(|(a, b)| enters(a, b, low, high))
}

/// Whether the segment `a b` has a point in the open rectangle `low..high`.
fn enters(a: DVec2, b: DVec2, low: DVec2, high: DVec2) -> bool {
    let along = b - a;
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (start, step, low, high) in [(a.x, along.x, low.x, high.x), (a.y, along.y, low.y, high.y)] {
        if step.abs() < 1e-15 {
            if start <= low || start >= high {
                return false;
            }
            continue;
        }
        let (first, second) = ((low - start) / step, (high - start) / step);
        from = from.max(first.min(second));
        to = to.min(first.max(second));
    }
    from < to
}
