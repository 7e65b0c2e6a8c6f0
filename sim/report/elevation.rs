//! A surface seen from inside, drawn true to scale: outline, openings, what must stay clear, and what stands against it.
//!
//! Position on the paper = corner + scale x (position on the chart, second coordinate upward).
//!
//! *Limits.* Clearances given as boxes show where they come nearer to the surface than a panel is deep ([`REACH`]); bodies where they touch,
//! which is all of the footprint on a floor.

use glam::{DVec2, DVec3};

use crate::room::{Room, Surface};
use crate::scene::{ClearanceRegion, Scene};

use super::paper;
use super::svg::{Area, Drawing, Lettering, Look};

/// A box that must stay clear shows on surfaces nearer than this, meters.
pub const REACH: f64 = 0.2;

/// A body touches a surface nearer than this, meters.
const TOUCH: f64 = 0.03;

/// So many places farther on a name may go to stand clear.
const STEPS_FOR_CLEAR_GROUND: usize = 9;

/// A surface on the paper.
#[derive(Clone, Copy, Debug)]
pub struct Elevation<'a> {
    /// The surface.
    pub surface: &'a Surface,
    /// Its index in the room.
    pub index: usize,
    /// Lowest corner of its outline on its chart, meters.
    pub low: DVec2,
    /// Highest corner, meters.
    pub high: DVec2,
    /// Millimeters of paper in a meter.
    pub scale: f64,
    /// Where its upper left corner comes, mm.
    pub at: DVec2,
}

impl<'a> Elevation<'a> {
    /// The surface with this index, its upper left corner at `at`.
    #[must_use]
    pub fn new(room: &'a Room, index: usize, scale: f64, at: DVec2) -> Self {
        let surface = &room.surfaces[index];
        let (low, high) = surface.outline.bounds();
        Self { surface, index, low, high, scale, at }
    }

    /// Where a position on the chart comes on the paper, mm.
    #[must_use]
    pub fn paper(&self, position: DVec2) -> DVec2 {
        self.at + self.scale * DVec2::new(position.x - self.low.x, self.high.y - position.y)
    }

    /// Positions on the paper, mm.
    #[must_use]
    pub fn all(&self, positions: &[DVec2]) -> Vec<DVec2> {
        positions.iter().map(|position| self.paper(*position)).collect()
    }

    /// The outline on the paper, mm.
    #[must_use]
    pub fn outline(&self) -> Vec<DVec2> {
        self.all(&self.surface.outline.corners)
    }

    /// The rectangle round the outline on the paper, mm.
    #[must_use]
    pub fn area(&self) -> Area {
        Area { low: self.at, high: self.at + self.scale * (self.high - self.low) }
    }

    /// Draws openings, what must stay clear and bodies against the surface, without their names; returns names and where they belong. On a dark
    /// ground, a `rim` of this color keeps the lines visible.
    pub fn draw_parts(&self, page: &mut Drawing, scene: &Scene, rim: Option<paper::Color>) -> Vec<(String, Area)> {
        let mut names = Vec::new();
        for body in bodies(scene) {
            let touching: Vec<DVec2> = body
                .corners
                .iter()
                .filter(|corner| self.surface.chart.height(**corner).abs() < TOUCH)
                .map(|corner| self.surface.chart.position(*corner))
                .collect();
            if touching.len() >= 3 {
                let shape = self.all(&hull(touching));
                // A body may go on beyond the surface, as a beam past the corner of a wall.
                let frame = self.outline();
                page.clipped(&frame, |page| page.polygon(&shape, Look::fill(paper::LINE).opacity(0.45).edged(paper::SOFT, 0.2)));
                names.push((body.name, self.shown(&shape)));
            }
        }
        for lining in &self.surface.linings {
            let shape = self.all(&lining.region.corners);
            match rim {
                Some(color) => {
                    page.polygon(&shape, Look::line(color, 0.7));
                    page.polygon(&shape, Look::line(paper::INK, 0.25));
                }
                None => page.polygon(&shape, Look::line(paper::INK, 0.25).dashed(1.2, 0.8)),
            }
            names.push((lining.name.clone(), Area::round(&shape)));
        }
        for (name, shape) in self.clearances(scene) {
            let shape = self.all(&shape);
            let area = Area::round(&shape);
            if let Some(color) = rim {
                page.polygon(&shape, Look::line(color, 0.6));
            }
            page.polygon(&shape, Look::line(paper::SOFT, 0.22).dashed(0.6, 0.6));
            if shape.len() == 4 && area.size().min_element() > 0.5 {
                let look = Look::line(rim.unwrap_or(paper::LINE), 0.18);
                page.line(area.low, area.high, look);
                page.line(DVec2::new(area.low.x, area.high.y), DVec2::new(area.high.x, area.low.y), look);
            }
            names.push((format!("{name}: keep clear"), area));
        }
        names
    }

    /// The part of a shape's box that lies on the drawing, mm.
    #[must_use]
    pub fn shown(&self, shape: &[DVec2]) -> Area {
        let (area, frame) = (Area::round(shape), self.area());
        Area { low: area.low.clamp(frame.low, frame.high), high: area.high.clamp(frame.low, frame.high) }
    }

    /// Writes names into or beside their areas where no other text stands: best within the outline and clear of the panels.
    pub fn write_names(&self, page: &mut Drawing, names: &[(String, Area)], panels: &[Area], lettering: Lettering) {
        let lettering = lettering.middle();
        for (name, area) in names {
            let text = lettering.fit(name, self.area().size().x.max(20.0));
            let half = 0.5 * lettering.length(&text);
            let x = area.middle().x.clamp(self.at.x + half + 0.5, (self.area().high.x - half - 0.5).max(self.at.x + half + 0.5));
            let middle = DVec2::new(x, area.middle().y + 0.9);
            // What is smaller than its name gets it below or above, so that it stays visible.
            let small = area.size().x < 2.0 * half || area.size().y < 4.0;
            let start = if small { DVec2::new(x, area.high.y + 2.6) } else { middle };
            let mut places = vec![start];
            if small {
                places.push(DVec2::new(x, area.low.y - 1.0));
            }
            places.extend((1..14).flat_map(|step| [1.0, -1.0].map(|side| start + DVec2::new(0.0, side * 1.6 * f64::from(step)))));
            // A few steps away are better than letters on a panel or past the edge; far away they would name something else.
            let faults = |at: &DVec2| {
                let ground = lettering.area(*at, &text);
                panels.iter().filter(|panel| panel.overlaps(&ground, 0.0)).count() + usize::from(!self.holds(&ground))
            };
            let mut ranked: Vec<(usize, DVec2)> =
                places.into_iter().enumerate().map(|(rank, at)| (rank + STEPS_FOR_CLEAR_GROUND * faults(&at), at)).collect();
            ranked.sort_by_key(|(cost, _)| *cost);
            let places: Vec<DVec2> = ranked.into_iter().map(|(_, at)| at).collect();
            page.text_where_free(&places, &text, lettering);
        }
    }

    /// Whether a box on the paper lies within the outline.
    fn holds(&self, area: &Area) -> bool {
        let corners = [area.low, DVec2::new(area.high.x, area.low.y), area.high, DVec2::new(area.low.x, area.high.y)];
        corners.iter().all(|corner| self.surface.outline.contains(self.position(*corner)))
    }

    /// The position on the chart that comes to a place on the paper, meters.
    #[must_use]
    pub fn position(&self, place: DVec2) -> DVec2 {
        let offset = (place - self.at) / self.scale;
        DVec2::new(self.low.x + offset.x, self.high.y - offset.y)
    }

    /// What must stay clear on this surface, on its chart.
    fn clearances(&self, scene: &Scene) -> Vec<(String, Vec<DVec2>)> {
        let mut all = Vec::new();
        for clearance in &scene.clearances {
            match &clearance.region {
                ClearanceRegion::Surface { surface, place } if *surface == self.surface.name => {
                    let low = DVec2::new(place.left, place.bottom);
                    let (right, up) = (DVec2::new(place.width, 0.0), DVec2::new(0.0, place.height));
                    if self.surface.outline.contains(low + 0.5 * (right + up)) {
                        all.push((clearance.name.clone(), vec![low, low + right, low + right + up, low + up]));
                    }
                }
                ClearanceRegion::Surface { .. } => {}
                ClearanceRegion::Space { low, high } => {
                    if let Some(shape) = self.shadow(*low, *high) {
                        all.push((clearance.name.clone(), shape));
                    }
                }
            }
        }
        all
    }

    /// The shadow of a box on this surface, if a part of it is nearer than a panel is deep.
    fn shadow(&self, low: DVec3, high: DVec3) -> Option<Vec<DVec2>> {
        let corners: Vec<DVec3> = box_corners(low, high);
        let heights = || corners.iter().map(|corner| self.surface.chart.height(*corner));
        let nearest = heights().fold(f64::INFINITY, f64::min);
        let farthest = heights().fold(f64::NEG_INFINITY, f64::max);
        if nearest > REACH || farthest < 0.0 {
            return None;
        }
        let shape = hull(corners.iter().map(|corner| self.surface.chart.position(*corner)).collect());
        let (from, to) = bounds(&shape);
        // Only what lies over the surface: a box beside it is somebody else's.
        let (from, to) = (from.max(self.low), to.min(self.high));
        let size = to - from;
        let middle = 0.5 * (from + to);
        (size.min_element() > 0.01 && self.surface.outline.contains(middle))
            .then(|| vec![from, DVec2::new(to.x, from.y), to, DVec2::new(from.x, to.y)])
    }
}

/// A solid body.
#[derive(Clone, Debug)]
pub struct Body {
    /// Name.
    pub name: String,
    /// Its eight corners, lower four first, counterclockwise from above; meters.
    pub corners: Vec<DVec3>,
}

/// The scene's blocks.
#[must_use]
pub fn bodies(scene: &Scene) -> Vec<Body> {
    scene
        .blocks
        .iter()
        .map(|block| {
            let turn = DVec2::from_angle(block.rotation);
            let half = 0.5 * block.size.truncate();
            let foot = [-half, DVec2::new(half.x, -half.y), half, DVec2::new(-half.x, half.y)];
            let corners = [block.base, block.base + block.size.z]
                .iter()
                .flat_map(|z| foot.map(|corner| (block.center + turn.rotate(corner)).extend(*z)))
                .collect();
            Body { name: block.name.clone(), corners }
        })
        .collect()
}

/// The eight corners of a box along the axes.
fn box_corners(low: DVec3, high: DVec3) -> Vec<DVec3> {
    (0..8)
        .map(|index| {
            let pick = |bit: usize, a: f64, b: f64| if index >> bit & 1 == 0 { a } else { b };
            DVec3::new(pick(0, low.x, high.x), pick(1, low.y, high.y), pick(2, low.z, high.z))
        })
        .collect()
}

/// Lowest and highest corner; zero without any.
#[must_use]
pub fn bounds(corners: &[DVec2]) -> (DVec2, DVec2) {
    let Some(first) = corners.first() else { return (DVec2::ZERO, DVec2::ZERO) };
    corners.iter().fold((*first, *first), |(low, high), corner| (low.min(*corner), high.max(*corner)))
}

/// Convex hull, counterclockwise (Andrew's monotone chain, 1979).
#[must_use]
pub fn hull(mut points: Vec<DVec2>) -> Vec<DVec2> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup_by(|a, b| a.distance_squared(*b) < 1e-12);
    if points.len() < 3 {
        return points;
    }
    let half = |order: &mut dyn Iterator<Item = DVec2>| {
        let mut chain: Vec<DVec2> = Vec::new();
        for point in order {
            while chain.len() >= 2 && (chain[chain.len() - 1] - chain[chain.len() - 2]).perp_dot(point - chain[chain.len() - 1]) <= 1e-12 {
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut around = half(&mut points.iter().copied());
    around.extend(half(&mut points.iter().rev().copied()));
    around
}
