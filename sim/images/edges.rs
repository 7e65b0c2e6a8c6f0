//! The edges of a room that sound bends round: of blocks, clouds, panels that stand free, and of walls that turn outward.
//!
//! Where two faces meet and the air about the edge is more than half a turn, there is a wedge (`wedge`). A body no thicker than [`THIN`] and a quarter of its
//! lesser side is a sheet without thickness: in the plane of its face for two points on the same side of it, and between points on either side
//! in the plane of that face whose rim reaches farther into the straight way, so that it hides what the body hides; for a point between the planes of both faces, in that
//! of the face towards the other point, on all its sides alike. Edges that lie on another surface have no air about them, and are none.
//!
//! What of an edge a point sees is found exactly: what is seen changes only where the plane through the point and a side of something in between
//! cuts the edge.
//!
//! *Limits.* One bend, on sheets two, and no mirrors before or behind them. A thick body's two edges side by side bend sound twice, which is left out. Within a fraction
//! of a wavelength of a corner, where two edges end, what is heard hangs on the side that one comes from: what bends there more often is missing. The rim of a panel
//! that is hung on a wall is not an edge: its front counts as a part of the wall.

use glam::DVec3;

use crate::room::{CONTACT, Role, Room, Surface};

use super::mirrors::Mirrors;
use super::twice::{Rim, twice};
use super::wedge::{Diffraction, Wedge};
use super::{Position, Prepared};

/// The thickest sheet, meters.
pub const THIN: f64 = 0.2;

/// One edge, or the rim of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// The two faces that meet there, by index into [`Room::surfaces`]; of a sheet its two sides.
    pub faces: [usize; 2],
    /// Of a sheet the rim of either side, the second face's turned as the first one's.
    wedges: [Wedge; 2],
    is_sheet: bool,
}

/// The sound that comes to a point by way of an edge.
#[derive(Clone, Debug)]
pub struct EdgePath {
    /// Which edge it meets first, by its number among those of the room.
    pub edge: usize,
    /// The two faces that meet there, by index into [`Room::surfaces`].
    pub faces: [usize; 2],
    /// Bends on the way: 1, or 2 from edge to edge of the same sheet.
    pub bends: u32,
    /// Where the way bends first and last, where it is shortest of what both ends see, meters: the same point, or one on another edge of the same sheet.
    pub points: [DVec3; 2],
    /// That way in meters.
    pub length: f64,
    /// Unit vector along which it leaves the source.
    pub departure: DVec3,
    /// Unit vector from the point towards where the sound comes from.
    pub arrival: DVec3,
    /// Cosine of incidence on either face, as of a mirror image at the boundary where it ends.
    pub cosines: [f64; 2],
    /// The pressure, by frequency.
    pub diffraction: Diffraction,
}

/// The edges of a room.
#[must_use]
pub fn edges(room: &Room) -> Vec<Edge> {
    let sheets = sheets(room);
    let is_sheet = |surface: usize| {
        let role = room.surfaces[surface].role;
        sheets.iter().any(|sheet| room.surfaces[sheet[0]].role == role)
    };
    let mut edges: Vec<Edge> = sheets.iter().flat_map(|&faces| rims(room, faces)).collect();
    for (first, one) in room.surfaces.iter().enumerate().filter(|(index, _)| !is_sheet(*index)) {
        for side in sides(one) {
            let other = room.surfaces.iter().enumerate().skip(first + 1).find(|(second, other)| {
                other.role.is_shell() == one.role.is_shell()
                    && !is_sheet(*second)
                    && sides(other).any(|[from, to]| near(from, side[1]) && near(to, side[0]))
            });
            let Some((second, other)) = other else { continue };
            let wedge = Wedge::new(side, one.chart.normal, 0.0);
            // Turned away from the first face: the air goes on round the edge.
            if other.chart.normal.dot(wedge.into) < -1e-6 && !is_covered(room, &wedge, [first, second]) {
                let open = std::f64::consts::PI + one.chart.normal.angle_between(other.chart.normal);
                edges.push(Edge { faces: [first, second], wedges: [Wedge { open, ..wedge }; 2], is_sheet: false });
            }
        }
    }
    edges
}

/// The sides of a surface's outline in space, counterclockwise seen from the air.
fn sides(surface: &Surface) -> impl Iterator<Item = [DVec3; 2]> {
    let corners = &surface.outline.corners;
    (0..corners.len()).map(move |k| [corners[k], corners[(k + 1) % corners.len()]].map(|corner| surface.chart.point(corner)))
}

fn near(one: DVec3, other: DVec3) -> bool {
    one.distance_squared(other) < CONTACT * CONTACT
}

/// Whether the middle of an edge lies on a surface that is none of its own.
fn is_covered(room: &Room, wedge: &Wedge, own: [usize; 2]) -> bool {
    let middle = wedge.point(0.5 * wedge.length);
    let role = room.surfaces[own[0]].role;
    room.surfaces.iter().enumerate().any(|(index, surface)| {
        !own.contains(&index)
            && (surface.role != role || role.is_shell())
            && surface.chart.height(middle).abs() < CONTACT
            && surface.outline.contains(surface.chart.position(middle))
    })
}

/// Both sides of every thin body.
fn sheets(room: &Room) -> Vec<[usize; 2]> {
    let mut sheets: Vec<(Role, f64, [usize; 2])> = Vec::new();
    for (first, one) in room.surfaces.iter().enumerate().filter(|(_, surface)| !surface.role.is_shell()) {
        let (low, high) = one.outline.bounds();
        let least = (high - low).min_element();
        for (second, other) in room.surfaces.iter().enumerate().skip(first + 1).filter(|(_, other)| other.role == one.role) {
            let thickness = -one.chart.height(other.chart.origin);
            let is_back =
                one.chart.normal.dot(other.chart.normal) < -1.0 + 1e-9 && (one.outline.area() - other.outline.area()).abs() < CONTACT;
            if is_back && thickness > 0.0 && thickness <= THIN && 4.0 * thickness <= least {
                sheets.push((one.role, thickness, [first, second]));
            }
        }
    }
    sheets.into_iter().map(|sheet| sheet.2).collect()
}

/// The rims of a sheet.
fn rims(room: &Room, faces: [usize; 2]) -> Vec<Edge> {
    let [front, back] = faces.map(|face| &room.surfaces[face]);
    if front.edge_scattering.0.iter().all(|&share| share == 0.0) && !front.role.is_shell() && is_hung(room, faces) {
        return Vec::new();
    }
    let depth = front.chart.normal * front.chart.height(back.chart.origin);
    let rim = |side: [DVec3; 2]| {
        let wedges = [side, side.map(|end| end + depth)].map(|ends| Wedge::new(ends, front.chart.normal, std::f64::consts::TAU));
        (!wedges.iter().any(|wedge| is_covered(room, wedge, faces))).then_some(Edge { faces, wedges, is_sheet: true })
    };
    sides(front).filter_map(rim).collect()
}

/// Whether a side of a body lies on another surface.
fn is_hung(room: &Room, faces: [usize; 2]) -> bool {
    room.contacts.iter().any(|contact| faces.contains(&contact.surface))
}

impl Edge {
    /// The wedge that counts between two points; none where one of them lies in no air that its faces bound.
    fn between(&self, source: DVec3, point: DVec3) -> Option<Wedge> {
        let [front, back] = self.wedges;
        let mut wedge = front;
        if self.is_sheet {
            let height = |wedge: &Wedge, at: DVec3| (at - wedge.begin).dot(front.normal);
            let [over, under] = [height(&front, source), height(&front, point)];
            let lower = if over < under { source } else { point };
            if over <= 0.0 && under <= 0.0 {
                wedge = back;
            } else if over * under < 0.0 && height(&back, lower) < 0.0 {
                // Where the straight way passes each rim: whichever reaches farther into it.
                let within = |wedge: &Wedge| {
                    let (one, other) = (height(wedge, source), height(wedge, point));
                    let share = if one == other { 0.5 } else { (one / (one - other)).clamp(0.0, 1.0) };
                    (source + (point - source) * share - wedge.begin).dot(wedge.into)
                };
                if within(&back) > within(&front) {
                    wedge = back;
                }
            }
        }
        (wedge.faces(source) && wedge.faces(point)).then_some(wedge)
    }
}

/// An edge between two points, with what of it each of them sees.
struct Between {
    number: usize,
    wedge: Wedge,
    from: Vec<[f64; 2]>,
    to: Vec<[f64; 2]>,
}

/// The sound that comes from a source to a point by way of one edge, or of two of the same sheet, no longer than `most` meters; single bends first.
#[must_use]
pub fn edge_paths(prepared: &Prepared, room: &Room, edges: &[Edge], source: DVec3, point: DVec3, most: f64) -> Vec<EdgePath> {
    let search = Search { room, edges, source: Position::new(&prepared.0, source), point: Position::new(&prepared.0, point), most };
    let between = |(number, edge): (usize, &Edge)| {
        let wedge = edge.between(search.source.moved, search.point.moved)?;
        let [from, to] = [search.source, search.point].map(|end| seen(&prepared.0, room, &wedge, edge.faces[0], end.moved));
        Some(Between { number, wedge, from, to })
    };
    let all: Vec<Between> = edges.iter().enumerate().filter_map(between).collect();
    let once = all.iter().filter_map(|edge| search.once(edge));
    once.chain(all.iter().filter_map(|edge| search.twice(edge, &all))).collect()
}

struct Search<'a> {
    room: &'a Room,
    edges: &'a [Edge],
    source: Position,
    point: Position,
    most: f64,
}

impl Search<'_> {
    fn once(&self, Between { number, wedge, from, to }: &Between) -> Option<EdgePath> {
        let (source, point) = (self.source.given, self.point.given);
        let way = |place: f64| source.distance(wedge.point(place)) + wedge.point(place).distance(point);
        let parts = both(from, to);
        let places = parts.iter().map(|&part| wedge.shortest(source, point, part));
        let place = places.min_by(|one, other| way(*one).total_cmp(&way(*other)))?;
        (way(place) <= self.most).then(|| {
            let diffraction = wedge.diffraction(self.source.moved, self.point.moved, &parts);
            self.path(*number, 1, [wedge.point(place); 2], diffraction)
        })
    }

    /// What goes on from an edge of a sheet to the others of it.
    fn twice(&self, first: &Between, all: &[Between]) -> Option<EdgePath> {
        let faces = self.edges[first.number].faces;
        if !self.edges[first.number].is_sheet {
            return None;
        }
        let others: Vec<Rim<'_>> = all
            .iter()
            .filter(|other| other.number != first.number && self.edges[other.number].faces == faces)
            .map(|other| Rim { wedge: &other.wedge, parts: &other.to })
            .collect();
        let rim = Rim { wedge: &first.wedge, parts: &first.from };
        let twice = twice(self.source.moved, self.point.moved, rim, &others, self.most)?;
        Some(self.path(first.number, 2, [twice.first, twice.last], twice.diffraction))
    }

    fn path(&self, number: usize, bends: u32, points: [DVec3; 2], diffraction: Diffraction) -> EdgePath {
        let (source, point) = (self.source.given, self.point.given);
        let length = source.distance(points[0]) + points[0].distance(points[1]) + points[1].distance(point);
        let faces = self.edges[number].faces;
        let cosine = |face: usize| {
            let chart = &self.room.surfaces[face].chart;
            ((chart.height(source).abs() + chart.height(point).abs()) / length).clamp(0.0, 1.0)
        };
        let unit = |vector: DVec3| vector.try_normalize().unwrap_or(DVec3::X);
        EdgePath {
            edge: number,
            faces,
            bends,
            points,
            length,
            departure: unit(points[0] - source),
            arrival: unit(points[1] - point),
            cosines: faces.map(cosine),
            diffraction,
        }
    }
}

/// What of an edge a point sees, in meters from its beginning: parts in order.
fn seen(mirrors: &Mirrors, room: &Room, wedge: &Wedge, face: usize, from: DVec3) -> Vec<[f64; 2]> {
    let own = room.surfaces[face].role;
    let is_own = |index: usize| room.surfaces[index].role == own && !own.is_shell();
    let mut cuts = vec![0.0, wedge.length];
    for (index, mirror) in mirrors.obstacles().filter(|(index, _)| !is_own(*index)) {
        if mirror.chart.height(from) <= 0.0 {
            continue;
        }
        for [one, other] in sides(&room.surfaces[index]) {
            cuts.extend(cut(wedge, from, one, other));
        }
    }
    cuts.sort_by(f64::total_cmp);
    let mut parts: Vec<[f64; 2]> = Vec::new();
    for pair in cuts.windows(2).filter(|pair| pair[1] - pair[0] > super::NUDGE) {
        let to = wedge.point(0.5 * (pair[0] + pair[1]));
        if mirrors.shades(from, to, is_own) {
            continue;
        }
        match parts.last_mut() {
            Some(last) if last[1] >= pair[0] - super::NUDGE => last[1] = pair[1],
            _ => parts.push([pair[0], pair[1]]),
        }
    }
    parts
}

/// Where along an edge the line of sight from a point passes the segment between two others.
fn cut(wedge: &Wedge, from: DVec3, one: DVec3, other: DVec3) -> Option<f64> {
    let plane = (one - from).cross(other - from);
    let slope = plane.dot(wedge.along);
    let place = plane.dot(from - wedge.begin) / slope;
    if !(place > 0.0 && place < wedge.length) {
        return None;
    }
    let sight = wedge.point(place) - from;
    let share = (from - one).cross(sight).dot(plane) / (other - one).cross(sight).dot(plane);
    (-1e-9..=1.0 + 1e-9).contains(&share).then_some(place)
}

/// What lies in parts of either list.
fn both(one: &[[f64; 2]], other: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let shared = |a: &[f64; 2], b: &[f64; 2]| [a[0].max(b[0]), a[1].min(b[1])];
    one.iter().flat_map(|a| other.iter().map(move |b| shared(a, b))).filter(|part| part[1] > part[0]).collect()
}
