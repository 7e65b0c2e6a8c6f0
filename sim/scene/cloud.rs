//! A cloud: panels of one type side by side in one frame, hung below the ceiling, level or tilted.
//!
//! It is a box of `n_x x n_y` panels, turned about the level line through the middle of its underside by `tilt` degrees, so that this middle
//! stays over `center` at the height `underside` whatever the tilt. Of an extent `l` that rises by the angle `a`, the lower edges of its two
//! sides lie at `underside -+ (l / 2) sin a`; seen from above it takes `l cos a + t sin a`, `t` its thickness.
//!
//! *Limits.* It leans one way, along x or along y; a frame that hangs from four chains of four lengths is not described.

use glam::{DVec2, DVec3};

use super::PanelType;
use crate::geometry::{Chart, Solid};

/// Steepest tilt, degrees either way.
pub const TILT_MOST: f64 = 60.0;
/// Most panels side by side, either way.
pub const SIDE_BY_SIDE_MOST: u32 = 20;

/// Panels side by side below the ceiling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cloud {
    /// Middle of its underside on the floor plan, meters.
    pub center: DVec2,
    /// Height of the middle of its underside over the floor, meters.
    pub underside: f64,
    /// The longer side of its panels along y rather than x.
    pub turned: bool,
    /// How steeply it rises along x and along y, degrees; one of them is 0.
    pub tilt: DVec2,
    /// How many panels side by side along x and along y.
    pub panels: [u32; 2],
}

/// How a tilted cloud leans: along which axis, and where its sides end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lean {
    /// 0: it rises or falls along x, 1: along y.
    pub axis: usize,
    /// Heights of the lower edge of its side at the smaller and at the greater coordinate of that axis, meters.
    pub edges: [f64; 2],
}

impl Cloud {
    /// One panel, level.
    #[must_use]
    pub fn level(center: DVec2, underside: f64, turned: bool) -> Self {
        Self { center, underside, turned, tilt: DVec2::ZERO, panels: [1, 1] }
    }

    /// How many panels it is made of.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.panels[0] * self.panels[1]
    }

    /// One of its panels along x and along y, before it is tilted; meters.
    #[must_use]
    pub fn panel_size(&self, kind: &PanelType) -> DVec2 {
        if self.turned { kind.size } else { DVec2::new(kind.size.y, kind.size.x) }
    }

    /// Its extent along x and along y, before it is tilted; meters.
    #[must_use]
    pub fn size(&self, kind: &PanelType) -> DVec2 {
        self.panel_size(kind) * DVec2::new(f64::from(self.panels[0]), f64::from(self.panels[1]))
    }

    /// Its underside as a chart from the middle, seen from above: along x, along y, and up through it.
    #[must_use]
    pub fn chart(&self) -> Chart {
        let [along_x, along_y] = self.tilt.to_array().map(f64::to_radians);
        let (right, up) = (DVec3::new(along_x.cos(), 0.0, along_x.sin()), DVec3::new(0.0, along_y.cos(), along_y.sin()));
        Chart::new(self.center.extend(self.underside), right, up)
    }

    /// Corners of its underside, counterclockwise seen from above from the lowest x and y; meters.
    #[must_use]
    pub fn underside_corners(&self, kind: &PanelType) -> [DVec3; 4] {
        let (chart, half) = (self.chart(), 0.5 * self.size(kind));
        [DVec2::new(-1.0, -1.0), DVec2::new(1.0, -1.0), DVec2::ONE, DVec2::new(-1.0, 1.0)].map(|sign| chart.point(sign * half))
    }

    /// The space it takes.
    #[must_use]
    pub fn solid(&self, kind: &PanelType) -> Solid {
        let half = 0.5 * self.size(kind);
        Solid::before(&self.chart(), -half, half, kind.thickness)
    }

    /// How it leans; `None` where it hangs level.
    #[must_use]
    pub fn lean(&self, kind: &PanelType) -> Option<Lean> {
        let axis = (0..2).find(|&axis| self.tilt[axis] != 0.0)?;
        let rise = 0.5 * self.size(kind)[axis] * self.tilt[axis].to_radians().sin();
        Some(Lean { axis, edges: [self.underside - rise, self.underside + rise] })
    }
}
