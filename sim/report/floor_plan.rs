//! A floor plan on the paper: from room coordinates to the place on a drawing, true to scale, y of the room up the sheet.

use glam::DVec2;

use super::svg::Area;

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
}
