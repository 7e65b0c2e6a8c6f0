//! A cloud from above and in section, to scale: where its wires and secondary wires go up, how long they are, how high it hangs.
//!
//! From above: x to the right and y upward as on the floor plan, the cloud with its full outline, members as dashed lines, a ring for a wire that carries, a square for a secondary wire.
//! In section: along the axis that it tilts along, else the one that the ceiling slopes along, else its longer side; ceiling over the middle of the cloud.
//!
//! *Limits.* The section shows all wires in one plane, and the ceiling as it is over the middle: where it rises across the section, wires end above or below the line that is drawn.

use glam::DVec2;

use crate::report::dimension::{self, Along};
use crate::report::html::plain;
use crate::report::paper;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::room::{Role, Room, Surface};
use crate::scene::{Cloud, Scene};
use crate::workshop::lines;
use crate::workshop::marking::{self, mark_name};
use crate::workshop::{MarkedPanel, MarkedSurface, Suspension};

use super::cut_plans::{chain, chains, scale};
use crate::report::leaf::{Voice, Writer};

/// Shown round the cloud in plan, meters.
const ROUND: f64 = 0.25;
/// Planes of a ceiling that are nearer than this meet, meters.
const MEETS: f64 = 0.002;
/// Places for a name along a line are this far apart, mm.
const STEP: f64 = 1.5;

/// What is drawn.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// The scene.
    pub scene: &'a Scene,
    /// Its room.
    pub room: &'a Room,
    /// The surface above.
    pub surface: &'a MarkedSurface,
    /// The cloud as it is marked there.
    pub panel: &'a MarkedPanel,
    /// Where it hangs.
    pub cloud: &'a Cloud,
    /// Its thickness, meters.
    pub thickness: f64,
    /// Its wires.
    pub suspension: &'a Suspension,
}

impl View<'_> {
    /// Corners of the cloud on the floor plan: lowest and highest.
    fn outline(&self) -> (DVec2, DVec2) {
        let chart = &self.room.surfaces[self.surface.facet].chart;
        let low = DVec2::new(self.panel.left_m, self.panel.bottom_m);
        let size = DVec2::new(self.panel.width_m, self.panel.height_m);
        let corners = [low, low + size].map(|corner| chart.point(corner).truncate());
        (corners[0].min(corners[1]), corners[0].max(corners[1]))
    }

    fn slope(&self) -> DVec2 {
        DVec2::from_array(self.cloud.tilt.to_array().map(|degrees| degrees.to_radians().tan()))
    }

    fn name(&self, index: usize) -> String {
        mark_name(self.panel.number, index)
    }

    /// Lines of members on the floor plan, of every part of the ceiling as far as it goes; without those that an opening cuts.
    fn members(&self) -> Vec<(DVec2, DVec2, String)> {
        let mut all = Vec::new();
        for (index, facet) in self.room.surfaces.iter().enumerate().filter(|(_, facet)| matches!(facet.role, Role::Ceiling(_))) {
            for members in marking::members(self.scene, self.room, index) {
                for (number, at) in members.carrying() {
                    let Some((from, to)) = lines::crossed(&facet.outline.corners, members.upright, at) else { continue };
                    let ends = [from, to].map(|along| if members.upright { DVec2::new(at, along) } else { DVec2::new(along, at) });
                    let [from, to] = ends.map(|end| facet.chart.point(end).truncate());
                    all.push((from, to, members.name_of(number)));
                }
            }
        }
        all
    }

    /// Where one plane of the ceiling meets another, on the floor plan.
    fn bends(&self) -> Vec<(DVec2, DVec2)> {
        let is_ceiling = |facet: &&Surface| matches!(facet.role, Role::Ceiling(_));
        let facets: Vec<&Surface> = self.room.surfaces.iter().filter(is_ceiling).collect();
        let mut all: Vec<(DVec2, DVec2)> = Vec::new();
        for (index, facet) in facets.iter().enumerate() {
            for (from, to) in facet.outline.edges() {
                let ends = [from, to].map(|end| facet.chart.point(end));
                let middle = 0.5 * (ends[0] + ends[1]);
                let meets = |other: &&Surface| {
                    other.chart.normal.dot(facet.chart.normal) < 1.0 - 1e-6
                        && other.chart.height(middle).abs() < MEETS
                        && other.outline.distance_to(other.chart.position(middle)) < MEETS
                };
                // Of two that meet along the whole of an edge, the first tells it.
                if facets[index + 1..].iter().any(meets) {
                    all.push((ends[0].truncate(), ends[1].truncate()));
                }
            }
        }
        all
    }
}

/// Both views side by side, or a word why there is none.
pub fn draw(page: &mut Writer, view: View<'_>) {
    if view.suspension.points.is_empty() {
        page.boxed("No drawing", &["No wire was found a place: see above.".to_owned()], Voice::Plain);
        return;
    }
    let half = 0.5 * page.width() - 3.0;
    let tape = page.tape();
    let (plan, cut) = (Plan::of(view, half, tape), Cut::of(view, half));
    let height = (plan.drawn.y + chains(tape) + 9.0).max(cut.drawn.y + 32.0);
    page.section("From above and in section", height + 10.0);
    page.note(
        "From above as on the floor plan, measures from its origin. Ring: wire that carries. Square: secondary wire, its slanting run drawn thin. Dashed: members. In section: heights over the floor, wires with \
         their lengths.",
    );
    page.figure(height, true, |page, area| {
        let bold = Lettering::new(paper::BODY, paper::INK).bold();
        let right = area.low.x + half + 6.0;
        page.text(area.low + DVec2::new(0.0, 3.0), &format!("From above, 1:{}", plain(plan.scale, 0)), bold);
        let seen = ["along x, y away from you", "along y, x toward you"][cut.axis];
        page.text(DVec2::new(right, area.low.y + 3.0), &format!("In section {seen}, 1:{}", plain(cut.scale, 0)), bold);
        plan.draw(page, view, tape, Area::new(area.low.x, area.low.y + 5.0, half, height - 5.0));
        cut.draw(page, view, tape, Area::new(right, area.low.y + 5.0, half, height - 5.0));
    });
}

/// The part of a line within a box, if there is one (Liang and Barsky 1984, from memory).
fn within(from: DVec2, to: DVec2, low: DVec2, high: DVec2) -> Option<(DVec2, DVec2)> {
    let along = to - from;
    let (mut start, mut end) = (0.0_f64, 1.0_f64);
    for axis in 0..2 {
        if along[axis].abs() < 1e-12 {
            if from[axis] < low[axis] || from[axis] > high[axis] {
                return None;
            }
            continue;
        }
        let (a, b) = ((low[axis] - from[axis]) / along[axis], (high[axis] - from[axis]) / along[axis]);
        start = start.max(a.min(b));
        end = end.min(a.max(b));
    }
    (start < end).then(|| (from + along * start, from + along * end))
}

/// The view from above: what it shows, and its scale.
struct Plan {
    cloud: (DVec2, DVec2),
    low: DVec2,
    high: DVec2,
    scale: f64,
    drawn: DVec2,
    points: Vec<DVec2>,
    secondary: Vec<DVec2>,
}

impl Plan {
    /// Within `room` mm across.
    fn of(view: View<'_>, room: f64, tape: Tape) -> Self {
        let cloud = view.outline();
        let points: Vec<DVec2> = view.suspension.points.iter().map(|point| DVec2::new(point.x_m, point.y_m)).collect();
        let secondary: Vec<DVec2> = view.suspension.secondary.iter().map(|wire| DVec2::new(wire.x_m, wire.y_m)).collect();
        let all = || points.iter().chain(&secondary);
        let low = all().fold(cloud.0, |low, point| low.min(*point)) - DVec2::splat(ROUND);
        let high = all().fold(cloud.1, |high, point| high.max(*point)) + DVec2::splat(ROUND);
        let scale = scale(high - low, DVec2::new(room - chains(tape) - 2.0, 90.0));
        Self { cloud, low, high, scale, drawn: (high - low) * 1000.0 / scale, points, secondary }
    }

    fn all(&self) -> impl Iterator<Item = &DVec2> {
        self.points.iter().chain(&self.secondary)
    }

    fn draw(&self, page: &mut Drawing, view: View<'_>, tape: Tape, area: Area) {
        let Self { cloud: (cloud_low, cloud_high), low, high, scale, drawn, .. } = *self;
        let place = Area::new(area.low.x + chains(tape), area.low.y + 4.0, drawn.x, drawn.y);
        let at = |point: DVec2| place.low + DVec2::new(point.x - low.x, high.y - point.y) * 1000.0 / scale;
        page.rect(place, Look::line(paper::SOFT, 0.15));
        let outline = &view.scene.outline;
        for (index, corner) in outline.iter().enumerate() {
            if let Some((from, to)) = within(*corner, outline[(index + 1) % outline.len()], low, high) {
                page.line(at(from), at(to), Look::line(paper::INK, 0.8));
            }
        }
        let corners = [cloud_low, DVec2::new(cloud_high.x, cloud_low.y), cloud_high, DVec2::new(cloud_low.x, cloud_high.y)].map(at);
        page.polygon(&corners, Look::line(paper::INK, 0.6));
        let members = self.members(page, view, &at);
        let bends = self.bends(page, view, &at);
        self.wires(page, view, &at);
        let quiet = Lettering::new(paper::SMALL, paper::QUIET).rim(paper::WHITE);
        let around = (place, Area::round(&corners));
        let kind = |name: &str| name.rsplit_once(", ").map_or(name, |(kind, _)| kind).to_owned();
        let mut told: Vec<String> = Vec::new();
        for (from, to, name) in &members {
            if name_line(page, (*from, *to), name, quiet, around) {
                told.push(kind(name));
            }
        }
        // Of those that only have room for numbers, one says what they are.
        for (from, to, name) in &members {
            if !told.contains(&kind(name)) && name_line(page, (*from, *to), &kind(name), quiet, around) {
                told.push(kind(name));
            }
        }
        for (from, to) in bends {
            name_line(page, (from, to), "ceiling bends here", quiet, around);
        }
        let ends = |axis: usize| {
            let measures = self.all().map(|point| point[axis]).chain([cloud_low[axis], cloud_high[axis]]);
            let place = |meters: f64| if axis == 0 { at(DVec2::new(meters, low.y)).x } else { at(DVec2::new(low.x, meters)).y };
            dimension::distinct(tape, measures.map(|meters| (meters, place(meters))).collect())
        };
        let (below, beside) = (ends(0), ends(1));
        chain(page, tape, Along::Right, (&below, 0), (place.high.y, (area.low.x + 2.0, area.high.x - 1.0)));
        chain(page, tape, Along::Up, (&beside, 0), (place.low.x, (place.low.y, place.high.y)));
    }

    /// Draws the members that are in view; where they are on the paper, and what they are called.
    fn members(&self, page: &mut Drawing, view: View<'_>, at: &dyn Fn(DVec2) -> DVec2) -> Vec<(DVec2, DVec2, String)> {
        let seen =
            |(from, to, name): (DVec2, DVec2, String)| within(from, to, self.low, self.high).map(|(from, to)| (at(from), at(to), name));
        let all: Vec<(DVec2, DVec2, String)> = view.members().into_iter().filter_map(seen).collect();
        for (from, to, _) in &all {
            page.line(*from, *to, Look::line(paper::QUIET, 0.25).dashed(2.4, 1.4));
        }
        all
    }

    /// Draws where the ceiling bends, as far as that is in view.
    fn bends(&self, page: &mut Drawing, view: View<'_>, at: &dyn Fn(DVec2) -> DVec2) -> Vec<(DVec2, DVec2)> {
        let seen = |(from, to): (DVec2, DVec2)| within(from, to, self.low, self.high).map(|(from, to)| (at(from), at(to)));
        let all: Vec<(DVec2, DVec2)> = view.bends().into_iter().filter_map(seen).collect();
        all.iter().for_each(|(from, to)| page.line(*from, *to, Look::line(paper::QUIET, 0.15)));
        all
    }

    fn wires(&self, page: &mut Drawing, view: View<'_>, at: &dyn Fn(DVec2) -> DVec2) {
        for (wire, anchor) in view.suspension.secondary.iter().zip(&self.secondary) {
            if let Some(from) = self.points.get((wire.beside_number as usize).saturating_sub(1)) {
                page.line(at(*from), at(*anchor), Look::line(paper::INK, 0.2));
                // Small boxes along it, so that names stand beside it.
                let (from, to) = (at(*from), at(*anchor));
                let steps = from.distance(to).ceil().max(1.0) as u32;
                let along = (0..=steps).map(|step| from.lerp(to, f64::from(step) / f64::from(steps)));
                along.for_each(|place| page.keep_free(Area::new(place.x - 0.3, place.y - 0.3, 0.6, 0.6)));
            }
            keep_mark_free(page, at(*anchor), 1.3);
            page.rect(Area::new(at(*anchor).x - 1.1, at(*anchor).y - 1.1, 2.2, 2.2), Look::fill(paper::WHITE).edged(paper::INK, 0.35));
        }
        for point in &self.points {
            keep_mark_free(page, at(*point), 1.55);
            page.circle(at(*point), 1.3, Look::fill(paper::WHITE).edged(paper::INK, 0.45));
            page.circle(at(*point), 0.35, Look::fill(paper::INK));
        }
        let bold = Lettering::new(paper::BODY, paper::INK).bold().rim(paper::WHITE);
        let middle = 0.5 * (self.cloud.0 + self.cloud.1);
        for (index, point) in self.all().enumerate() {
            let p = at(*point);
            let length = bold.length(&view.name(index));
            // Above or below it; beside it toward the middle of the cloud first: there is no outline there.
            let (inward, outward) = if point.x < middle.x { (1.0, -1.0) } else { (-1.0, 1.0) };
            let beside = |way: f64, more: f64| if way > 0.0 { 2.0 + more } else { -2.0 - more - length };
            let over = -0.5 * length;
            let near = [(over, -2.7), (over, 4.7), (beside(inward, 0.0), -2.0), (beside(inward, 0.0), 4.0), (beside(outward, 0.0), -2.0)];
            let level = [(beside(inward, 0.2), 1.1), (beside(outward, 0.2), 1.1), (beside(outward, 0.0), 4.0)];
            let far = [(over, -5.0), (over, 7.6), (beside(inward, 1.0), -4.4), (beside(inward, 1.0), 6.6)];
            let places: Vec<DVec2> = near.into_iter().chain(level).chain(far).map(|(x, y)| p + DVec2::new(x, y)).collect();
            page.text_where_free(&places, &view.name(index), bold);
        }
        let number = Lettering::new(4.2, paper::INK).bold().middle().rim(paper::WHITE);
        let middle = at(middle);
        let downs = [0.0, 6.0, -6.0, 9.0, -9.0, 12.0, -12.0];
        let places: Vec<DVec2> = downs.iter().flat_map(|down| [0.0, 4.0, -4.0].map(|x| middle + DVec2::new(x, *down))).collect();
        page.text_where_free(&places, &view.panel.number.to_string(), number);
    }
}

/// Has names stay off a mark that reaches this far from its middle, mm.
fn keep_mark_free(page: &mut Drawing, at: DVec2, reach: f64) {
    page.keep_free(Area::new(at.x - reach, at.y - reach, 2.0 * reach, 2.0 * reach));
}

/// A name beside a line of a view from above, no farther than the line itself goes: what runs on beside it is something else. Best across no edge of the
/// cloud; where the whole name has no room, the number at its end alone. Whether the whole name stands there.
fn name_line(page: &mut Drawing, (from, to): (DVec2, DVec2), name: &str, letters: Lettering, (frame, cloud): (Area, Area)) -> bool {
    let is_upright = (from.x - to.x).abs() < (from.y - to.y).abs();
    let letters = if is_upright { letters.upright() } else { letters };
    for text in std::iter::once(name).chain(name.rsplit_once(", ").map(|(_, number)| number)) {
        let mut places = along(from, to, letters.length(text), is_upright);
        let crosses = |at: &DVec2| {
            let ground = letters.area(*at, text);
            cloud.overlaps(&ground, -0.5) && !cloud.holds(&ground)
        };
        places.sort_by_key(crosses);
        let is_open = |at: &&DVec2| {
            let ground = letters.area(**at, text);
            frame.holds(&ground) && page.is_free(&ground, 0.3)
        };
        if let Some(at) = places.iter().find(is_open) {
            page.text(*at, text, letters);
            return text == name;
        }
    }
    false
}

/// Where letters of this length may stand beside a line: from its lower end on, on either side, near it and clear of the marks on it.
fn along(from: DVec2, to: DVec2, length: f64, is_upright: bool) -> Vec<DVec2> {
    let axis = usize::from(is_upright);
    let (start, end) = (from[axis].min(to[axis]) + 0.8, from[axis].max(to[axis]) - 0.8 - length);
    let steps = if start <= end { ((end - start) / STEP) as usize + 1 } else { 0 };
    let place = |step: usize, side: f64| {
        let begin = start + STEP * step as f64;
        // Beside the middle of the letters.
        let line = from.lerp(to, (begin + 0.5 * length - from[axis]) / (to[axis] - from[axis]));
        if is_upright { DVec2::new(line.x + side, begin + length) } else { DVec2::new(begin, line.y + side) }
    };
    [-0.9, 2.8, -2.6, 4.2]
        .into_iter()
        .flat_map(|side| (0..steps).map(move |step| (step, side)))
        .map(|(step, side)| place(step, side))
        .collect()
}

/// The section: what it shows, and its scale.
struct Cut {
    axis: usize,
    from: f64,
    top: f64,
    /// Lower edge of the cloud at both ends: along the axis, and over the floor.
    ends: [DVec2; 2],
    /// From underside to top, plumb, meters.
    rise: f64,
    ceiling: Vec<DVec2>,
    scale: f64,
    drawn: DVec2,
}

impl Cut {
    /// Within `room` mm across.
    fn of(view: View<'_>, room: f64) -> Self {
        let (low, high) = view.outline();
        let (slope, extent, center) = (view.slope(), high - low, view.cloud.center);
        let height = |axis: usize, along: f64| {
            let mut place = center;
            place[axis] = along;
            view.scene.ceiling_height(place)
        };
        // How much the ceiling changes over the cloud along an axis: what slopes is seen from the side.
        let changes = |axis: usize| tapered(height(axis, high[axis]) - height(axis, low[axis]));
        let axis = match (slope.x.abs() > 0.0, slope.y.abs() > 0.0) {
            (true, _) => 0,
            (_, true) => 1,
            _ if changes(0) > changes(1) => 0,
            _ if changes(0) < changes(1) => 1,
            _ => usize::from(extent.x < extent.y),
        };
        let slope = slope[axis];
        let (from, to) = (low[axis] - ROUND, high[axis] + ROUND);
        let underside = |along: f64| view.cloud.underside + slope * (along - center[axis]);
        let rise = view.thickness * (1.0 + slope * slope).sqrt();
        // The ceiling is straight between its kinks: a point each centimeter shows them.
        let steps = (((to - from) / 0.01).ceil() as usize).max(1);
        let outline = crate::geometry::Polygon { corners: view.scene.outline.clone() };
        let ceiling: Vec<DVec2> = (0..=steps)
            .map(|step| from + (to - from) * step as f64 / steps as f64)
            .map(|along| DVec2::new(along, height(axis, along)))
            .filter(|point| {
                let mut place = center;
                place[axis] = point.x;
                point.y.is_finite() && outline.contains(place)
            })
            .collect();
        let ends = [low[axis], high[axis]].map(|along| DVec2::new(along, underside(along)));
        let anchors = view.suspension.points.iter().map(|point| point.anchor_m);
        let top = ceiling.iter().map(|point| point.y).chain(anchors).fold(ends[0].y.max(ends[1].y) + rise, f64::max);
        let size = DVec2::new(to - from, top - ends[0].y.min(ends[1].y));
        let scale = scale(size, DVec2::new(room, 70.0));
        Self { axis, from, top, ends, rise, ceiling, scale, drawn: size * 1000.0 / scale }
    }

    fn draw(&self, page: &mut Drawing, view: View<'_>, tape: Tape, area: Area) {
        let place = area.low + DVec2::new(0.0, 15.0);
        let at = |along: f64, height: f64| place + DVec2::new(along - self.from, self.top - height) * 1000.0 / self.scale;
        let line: Vec<DVec2> = self.ceiling.iter().map(|point| at(point.x, point.y)).collect();
        page.polyline(&line, Look::line(paper::INK, 0.8));
        let [first, last] = self.ends;
        let up = DVec2::new(0.0, self.rise);
        let panel = [first, last, last + up, first + up].map(|corner| at(corner.x, corner.y));
        page.polygon(&panel, Look::fill(paper::WHITE).edged(paper::INK, 0.5));
        wires(page, view, self.axis, tape, &at, &line);
        let small = Lettering::new(paper::SMALL, paper::INK).rim(paper::WHITE);
        let middle = 0.5 * (first + last);
        let sloped = [(first, small), (last, small.end())];
        let level = [(middle, small.middle())];
        for (end, letters) in if tape.mark(first.y) == tape.mark(last.y) { &level[..] } else { &sloped[..] } {
            let text = format!("underside {}", tape.read(end.y));
            let mark = at(end.x, end.y);
            // Below all of the edge that it stands under.
            let span = letters.area(mark, &text);
            let low = lowest(&[at(first.x, first.y), at(last.x, last.y)], span.low.x, span.high.x).unwrap_or(mark.y);
            page.text_where_free(&[4.0, 7.4, 10.8].map(|down| DVec2::new(mark.x, low + down)), &text, *letters);
        }
        let (Some(left), Some(right)) = (self.ceiling.first(), self.ceiling.last()) else { return };
        for (end, letters) in [(left, small), (right, small.end())] {
            let text = format!("ceiling {}", tape.read(end.y));
            let mark = at(end.x, end.y);
            let span = letters.area(mark, &text);
            let high = highest(&line, span.low.x, span.high.x).unwrap_or(mark.y);
            page.text_where_free(&[-2.0, -5.4, -8.8].map(|down| DVec2::new(mark.x, high + down)), &text, letters);
        }
    }
}

/// The lowest place on the paper of a straight edge between these x.
fn lowest(edge: &[DVec2; 2], from: f64, to: f64) -> Option<f64> {
    let [a, b] = edge;
    let y = |x: f64| a.y + (b.y - a.y) * ((x - a.x) / (b.x - a.x)).clamp(0.0, 1.0);
    let lowest = y(from).max(y(to));
    lowest.is_finite().then_some(lowest)
}

/// The highest place on the paper of a line between these x.
fn highest(line: &[DVec2], from: f64, to: f64) -> Option<f64> {
    line.iter().filter(|point| point.x > from - 1.0 && point.x < to + 1.0).map(|point| point.y).reduce(f64::min)
}

/// The size of a difference; none where it is none of the tape's.
fn tapered(meters: f64) -> i64 {
    if meters.is_finite() { Tape::Millimeters.mark(meters.abs()) } else { 0 }
}

/// Wires that lie on one another in this view are told together.
fn wires(page: &mut Drawing, view: View<'_>, axis: usize, tape: Tape, at: &dyn Fn(f64, f64) -> DVec2, ceiling: &[DVec2]) {
    let along = |index: usize| [view.suspension.points[index].x_m, view.suspension.points[index].y_m][axis];
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for index in 0..view.suspension.points.len() {
        match groups.iter_mut().find(|group| tape.mark(along(group[0])) == tape.mark(along(index))) {
            Some(group) => group.push(index),
            None => groups.push(vec![index]),
        }
    }
    let letters = Lettering::new(paper::SMALL, paper::INK).middle().rim(paper::WHITE);
    for group in &groups {
        let mut top = f64::INFINITY;
        let mut told: Vec<(String, Vec<String>)> = Vec::new();
        for index in group {
            let point = &view.suspension.points[*index];
            let (low, high) = (at(along(*index), point.attachment_m), at(along(*index), point.anchor_m));
            page.line(low, high, Look::line(paper::INK, 0.3));
            page.circle(low, 0.7, Look::fill(paper::INK));
            page.circle(high, 1.1, Look::fill(paper::WHITE).edged(paper::INK, 0.4));
            top = top.min(high.y);
            let length = tape.read(point.wire_m);
            match told.iter_mut().find(|(other, _)| *other == length) {
                Some((_, names)) => names.push(view.name(*index)),
                None => told.push((length, vec![view.name(*index)])),
            }
        }
        let x = at(along(group[0]), 0.0).x;
        for (length, names) in told {
            let text = format!("{}: {length}", names.join(", "));
            let span = letters.area(DVec2::new(x, top), &text);
            let high = highest(ceiling, span.low.x, span.high.x).unwrap_or(top).min(top);
            page.text_where_free(&[-2.2, -5.6, -9.0, -12.4].map(|up| DVec2::new(x, high + up)), &text, letters);
        }
    }
}
