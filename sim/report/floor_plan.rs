//! A floor plan on the paper: from room coordinates to the place on a drawing, true to scale, y of the room up the sheet.

use glam::DVec2;

use super::elevation::hull;
use super::hung::{How, Hung};
use super::svg::{Area, Drawing, Look};
use crate::room::Room;

/// Where a floor plan lies on the paper.
pub(super) struct FloorPlan {
    /// Lowest corner of what it shows, meters.
    pub(super) low: DVec2,
    /// Highest corner, meters.
    pub(super) high: DVec2,
    /// Millimeters of paper to a meter.
    pub(super) scale: f64,
    /// Its upper left corner on the paper, mm.
    pub(super) at: DVec2,
}

impl FloorPlan {
    /// A point of the room on the paper, mm.
    pub(super) fn paper(&self, point: DVec2) -> DVec2 {
        self.at + self.scale * DVec2::new(point.x - self.low.x, self.high.y - point.y)
    }

    /// Points of the room on the paper, mm.
    pub(super) fn all(&self, points: &[DVec2]) -> Vec<DVec2> {
        points.iter().map(|&point| self.paper(point)).collect()
    }

    /// What it takes of the paper.
    pub(super) fn area(&self) -> Area {
        Area { low: self.at, high: self.at + self.scale * (self.high - self.low) }
    }

    /// A panel as it is seen from above, dashed where it hangs overhead; what it takes of the paper, and which way it faces there, zero overhead.
    pub(super) fn draw_panel(&self, page: &mut Drawing, room: &Room, panel: &Hung, look: Look) -> (Area, DVec2) {
        let chart = &room.surfaces[panel.surface].chart;
        let back = panel.outline.iter().map(|corner| chart.point(*corner).truncate());
        let front = panel.front.iter().map(|corner| corner.truncate());
        let shape = if matches!(panel.how, How::Cloud { .. }) { hull(front.collect()) } else { hull(back.chain(front).collect()) };
        let is_over = chart.normal.z.abs() > 0.1;
        let shape = self.all(&shape);
        page.polygon(&shape, if is_over { look.opacity(0.4).dashed(1.4, 0.7) } else { look });
        (Area::round(&shape), if is_over { DVec2::ZERO } else { chart.normal.truncate() })
    }
}
