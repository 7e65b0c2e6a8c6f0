//! Which way faces look, and which closed shell is the room.
//!
//! Two faces that share an edge run along it in opposite directions if they look to the same side, so one face turns all that hang together
//! with it. A closed shell is then turned by the sign of its volume. The shell that holds all others is the room, whose normals point
//! inwards; a shell in it is a solid, whose normals point outwards: into the air, both. What lies in a solid hears nothing and is left out.
//!
//! Whether one shell lies in another is told by the solid angle of the other, seen from points just inside the faces of the one: `4 pi` inside, 0
//! outside; sums over whole shells, so that no single edge or corner decides.
//!
//! *References.* A. van Oosterom, J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125 (from memory).
//!
//! *Limits.* Where more than two faces share an edge it is not guessed which belong together.

use glam::DVec3;

use super::weld::{Facet, Skin, numbers};
use super::{Diagnostic, WELD};

/// Which faces meet in which edge.
pub(super) struct Seams {
    /// Edges (lower point first) of two faces, in order.
    pairs: Vec<((usize, usize), [usize; 2])>,
    /// Edges of one face, in order.
    pub(super) open: Vec<((usize, usize), usize)>,
}

/// Shells before it is known which is the room; normals of closed ones point out of what they enclose.
pub(super) struct Shells {
    /// Shell of each face.
    of: Vec<usize>,
    /// What each encloses, m3.
    volume: Vec<f64>,
}

/// Shells in their places.
pub(super) struct Order {
    /// Shell of each face: 0 is the room, then the solids; `None` for what lies within a solid.
    pub(super) shell_of: Vec<Option<usize>>,
    /// Volume of the air, m3.
    pub(super) volume: f64,
}

impl Seams {
    pub(super) fn new(skin: &Skin, found: &mut Vec<Diagnostic>) -> Self {
        let mut uses: Vec<((usize, usize), usize)> = Vec::with_capacity(3 * skin.facets.len());
        for (index, facet) in skin.facets.iter().enumerate() {
            uses.extend(facet.edges().map(|(a, b)| ((a.min(b), a.max(b)), index)));
        }
        uses.sort_unstable();
        let mut seams = Self { pairs: Vec::with_capacity(uses.len() / 2), open: Vec::new() };
        let mut crowded = Vec::new();
        for same in uses.chunk_by(|a, b| a.0 == b.0) {
            match *same {
                [(edge, facet)] => seams.open.push((edge, facet)),
                [(edge, one), (_, other)] => seams.pairs.push((edge, [one, other])),
                _ => crowded.push(same),
            }
        }
        if let Some(&&[((a, b), _), ..]) = crowded.first() {
            let length: f64 = crowded.iter().map(|same| skin.points[same[0].0.0].distance(skin.points[same[0].0.1])).sum();
            let mut faces: Vec<usize> = crowded.iter().flat_map(|same| same.iter().map(|&(_, facet)| skin.facets[facet].number)).collect();
            faces.sort_unstable();
            faces.dedup();
            let message = format!("three or more faces meet in one edge, along {length:.3} m; a closed surface has two");
            let hint = "leave out faces inside walls or solids; move solids that touch along an edge apart, by a millimeter or more";
            found.push(Diagnostic::error("mesh-edge-shared", faces, Some(skin.points[a].midpoint(skin.points[b])), message, hint));
        }
        seams
    }

    /// The face on the other side of an edge.
    pub(super) fn across(&self, facet: usize, a: usize, b: usize) -> Option<usize> {
        let place = self.pairs.binary_search_by_key(&(a.min(b), a.max(b)), |pair| pair.0).ok()?;
        let [one, other] = self.pairs[place].1;
        Some(if one == facet { other } else { one })
    }
}

/// Turns neighbors alike and closed shells outwards.
pub(super) fn turned(skin: &mut Skin, seams: &Seams, found: &mut Vec<Diagnostic>) -> Shells {
    let count = skin.facets.len();
    let mut of = vec![usize::MAX; count];
    let mut shells = 0;
    let mut clashes = Vec::new();
    for first in 0..count {
        if of[first] != usize::MAX {
            continue;
        }
        of[first] = shells;
        let mut waiting = vec![first];
        while let Some(facet) = waiting.pop() {
            for (a, b) in skin.facets[facet].edges().collect::<Vec<_>>() {
                let Some(other) = seams.across(facet, a, b) else { continue };
                let runs_alike = skin.facets[other].edges().any(|edge| edge == (a, b));
                if of[other] == usize::MAX {
                    if runs_alike {
                        skin.facets[other].turn();
                    }
                    of[other] = shells;
                    waiting.push(other);
                } else if runs_alike && facet < other {
                    clashes.push((facet, other, a, b));
                }
            }
        }
        shells += 1;
    }
    if let Some(&(one, other, a, b)) = clashes.first() {
        let faces = vec![skin.facets[one].number, skin.facets[other].number];
        let message = "a surface has no inside and outside: going round it, faces come back the other way round".to_owned();
        let at = Some(skin.points[a].midpoint(skin.points[b]));
        found.push(Diagnostic::error(
            "mesh-one-sided",
            faces,
            at,
            message,
            "draw this part anew: it is twisted, or its faces pass through each other",
        ));
    }
    let volume = outwards(skin, seams, &of, shells, found);
    Shells { of, volume }
}

/// Turns each closed shell so that its volume is positive; the volumes.
fn outwards(skin: &mut Skin, seams: &Seams, of: &[usize], shells: usize, found: &mut Vec<Diagnostic>) -> Vec<f64> {
    let (mut volume, mut area, mut closed) = (vec![0.0; shells], vec![0.0; shells], vec![true; shells]);
    // From a point of the shell itself, so that little is lost by rounding.
    let mut base: Vec<Option<DVec3>> = vec![None; shells];
    for (facet, &shell) in skin.facets.iter().zip(of) {
        let base = *base[shell].get_or_insert(skin.points[facet.ring[0]]);
        let vector = skin.area(facet);
        volume[shell] += (skin.points[facet.ring[0]] - base).dot(vector) / 3.0;
        area[shell] += vector.length();
        closed[shell] &= facet.edges().all(|(a, b)| seams.across(usize::MAX, a, b).is_some());
    }
    let mut flat = Vec::new();
    for shell in (0..shells).filter(|&shell| closed[shell]) {
        if volume[shell].abs() < WELD * area[shell] {
            flat.push(shell);
        }
    }
    for (facet, &shell) in skin.facets.iter_mut().zip(of) {
        if closed[shell] && volume[shell] < 0.0 {
            facet.turn();
        }
    }
    if let Some(&first) = flat.first() {
        let faces: Vec<Facet> = skin.facets.iter().zip(of).filter(|(_, shell)| **shell == first).map(|(facet, _)| facet.clone()).collect();
        let message = format!("{} closed shells enclose no volume; {:.3} m2 of faces lie on one another", flat.len(), area[first] / 2.0);
        let hint = "give a sheet a thickness of a millimeter or more, or leave it out";
        found.push(Diagnostic::error("mesh-no-volume", numbers(&faces), Some(skin.middle(&faces[0])), message, hint));
    }
    volume.iter().map(|volume| volume.abs()).collect()
}

/// What comes this near, in meters, only touches.
const TOUCH: f64 = 2.0 * WELD;

/// Two faces lie in one plane if the cosine between them is above this.
const FLAT: f64 = 1.0 - 1e-6;

/// How a shell lies to a larger one.
#[derive(Clone, Copy, PartialEq)]
enum Place {
    Inside,
    Outside,
    Across,
}

/// Sorts closed shells into the room, solids in it, and what lies within solids; turns the room's normals inwards.
pub(super) fn nested(skin: &Skin, seams: &Seams, shells: &Shells, found: &mut Vec<Diagnostic>) -> Option<Order> {
    let count = shells.volume.len();
    let mut by_size: Vec<usize> = (0..count).collect();
    by_size.sort_by(|&a, &b| shells.volume[b].total_cmp(&shells.volume[a]).then(a.cmp(&b)));
    let members: Vec<Vec<usize>> =
        (0..count).map(|shell| (0..skin.facets.len()).filter(|&facet| shells.of[facet] == shell).collect()).collect();
    let bodies: Vec<Body<'_>> = members.iter().map(|members| Body::new(skin, seams, members)).collect();
    let mut depth = vec![0; count];
    let mut crossing = Vec::new();
    for (rank, &inner) in by_size.iter().enumerate() {
        for &outer in &by_size[..rank] {
            match bodies[inner].place_in(&bodies[outer]) {
                Place::Inside => depth[inner] += 1,
                Place::Outside => {}
                Place::Across => crossing.push([inner, outer]),
            }
        }
    }
    let numbers_of = |shell: usize| members[shell].iter().map(|&facet| skin.facets[facet].number).min().unwrap_or(0);
    if let Some(&[inner, outer]) = crossing.first() {
        let message = format!("closed shells cross each other, {} pairs of them", crossing.len());
        let hint = "make one solid of two that cross, or move them apart; a leg that goes into the floor must end on it";
        let faces = vec![numbers_of(inner), numbers_of(outer)];
        found.push(Diagnostic::error("mesh-shells-cross", faces, Some(bodies[inner].middle()), message, hint));
    }
    let outside: Vec<usize> = by_size.iter().copied().filter(|&shell| depth[shell] == 0).collect();
    if crossing.is_empty() && outside.len() > 1 {
        let volumes: Vec<String> = outside.iter().take(4).map(|&shell| format!("{:.3} m3", shells.volume[shell])).collect();
        let message = format!("{} closed shells lie outside one another ({}): which is the room?", outside.len(), volumes.join(", "));
        let faces = outside.iter().map(|&shell| numbers_of(shell)).collect();
        let hint = "leave out what is not in the room; rooms that hear each other share an opening";
        found.push(Diagnostic::error("mesh-apart", faces, Some(bodies[outside[1]].middle()), message, hint));
    }
    if !crossing.is_empty() || outside.len() != 1 {
        return None;
    }
    let sealed: Vec<Facet> =
        (0..skin.facets.len()).filter(|&facet| depth[shells.of[facet]] > 1).map(|facet| skin.facets[facet].clone()).collect();
    if !sealed.is_empty() {
        let message = format!("{} faces lie within a solid, where no sound comes, and were left out", sealed.len());
        found.push(Diagnostic::note("mesh-sealed", numbers(&sealed), Some(skin.middle(&sealed[0])), message));
    }
    Some(order(skin, shells, (&by_size, &depth), found))
}

/// Numbers the shells that meet air, tells which faces were turned for it, and adds up the air.
fn order(skin: &Skin, shells: &Shells, (by_size, depth): (&[usize], &[usize]), found: &mut Vec<Diagnostic>) -> Order {
    let kept: Vec<usize> = by_size.iter().copied().filter(|&shell| depth[shell] <= 1).collect();
    let shell_of: Vec<Option<usize>> = shells.of.iter().map(|shell| kept.iter().position(|kept| kept == shell)).collect();
    let volume = shells.volume[kept[0]] - kept[1..].iter().map(|&shell| shells.volume[shell]).sum::<f64>();
    // The room's faces look outwards until they are read (`merge` reads them inwards).
    let turned: Vec<Facet> = skin
        .facets
        .iter()
        .zip(&shell_of)
        .filter(|(facet, shell)| shell.is_some_and(|shell| facet.turned != (shell == 0)))
        .map(|(facet, _)| facet.clone())
        .collect();
    if !turned.is_empty() {
        let message = format!("{} faces looked away from the air and were turned", turned.len());
        found.push(Diagnostic::note("mesh-turned", numbers(&turned), Some(skin.middle(&turned[0])), message));
    }
    Order { shell_of, volume }
}

/// A closed shell with its bounds.
struct Body<'a> {
    skin: &'a Skin,
    seams: &'a Seams,
    facets: &'a [usize],
    /// Points of edges where the surface turns, in order.
    ridges: Vec<usize>,
    low: DVec3,
    high: DVec3,
}

impl<'a> Body<'a> {
    fn new(skin: &'a Skin, seams: &'a Seams, facets: &'a [usize]) -> Self {
        let points = || facets.iter().flat_map(|&facet| &skin.facets[facet].ring).map(|&point| skin.points[point]);
        let (low, high) = (points().fold(DVec3::INFINITY, DVec3::min), points().fold(DVec3::NEG_INFINITY, DVec3::max));
        let unit = |facet: usize| skin.area(&skin.facets[facet]).try_normalize().unwrap_or(DVec3::Z);
        let mut ridges = Vec::new();
        for &facet in facets {
            for (a, b) in skin.facets[facet].edges() {
                if seams.across(facet, a, b).is_none_or(|other| unit(other).dot(unit(facet)) <= FLAT) {
                    ridges.extend([a, b]);
                }
            }
        }
        ridges.sort_unstable();
        ridges.dedup();
        Self { skin, seams, facets, ridges, low, high }
    }

    fn middle(&self) -> DVec3 {
        self.low.midpoint(self.high)
    }

    /// Whether a point lies in it.
    fn holds(&self, point: DVec3) -> bool {
        if point.cmplt(self.low).any() || point.cmpgt(self.high).any() {
            return false;
        }
        let angle = |&facet: &usize| {
            let ring = &self.skin.facets[facet].ring;
            solid_angle(point, ring.iter().map(|&corner| self.skin.points[corner]))
        };
        self.facets.iter().map(angle).sum::<f64>() > std::f64::consts::TAU
    }

    /// How this one lies to a larger one: by edges of either that go through faces of the other, then by points just inside its faces, of which
    /// a hundredth may be rounding.
    fn place_in(&self, outer: &Body<'_>) -> Place {
        if self.low.cmpgt(outer.high).any() || self.high.cmplt(outer.low).any() {
            return Place::Outside;
        }
        if self.pierces(outer) || outer.pierces(self) {
            return Place::Across;
        }
        let just_inside = |facet: &usize| {
            let facet = &self.skin.facets[*facet];
            self.skin.middle(facet) - TOUCH * self.skin.area(facet).try_normalize().unwrap_or(DVec3::ZERO)
        };
        let inside = self.facets.iter().map(just_inside).filter(|&point| outer.holds(point)).count();
        let few = self.facets.len() / 100;
        if inside <= few {
            Place::Outside
        } else if self.facets.len() - inside <= few {
            Place::Inside
        } else {
            Place::Across
        }
    }

    /// Whether an edge of this one goes through a face of another, farther than they touch.
    fn pierces(&self, other: &Body<'_>) -> bool {
        let panes: Vec<Pane> = other.facets.iter().map(|&facet| other.pane(facet)).filter(|pane| self.reaches(&pane.ring)).collect();
        let edges = self.facets.iter().flat_map(|&facet| self.skin.facets[facet].edges()).filter(|(a, b)| a < b);
        let mut edges = edges.map(|(a, b)| [self.skin.points[a], self.skin.points[b]]).filter(|edge| other.reaches(edge));
        edges.any(|[a, b]| panes.iter().any(|pane| pane.is_pierced(a, b)))
    }

    /// Whether bounds of some points and its own meet.
    fn reaches(&self, points: &[DVec3]) -> bool {
        let low = points.iter().copied().fold(DVec3::INFINITY, DVec3::min);
        let high = points.iter().copied().fold(DVec3::NEG_INFINITY, DVec3::max);
        low.cmple(self.high).all() && high.cmpge(self.low).all()
    }

    fn pane(&self, facet: usize) -> Pane {
        let unit = |facet: usize| self.skin.area(&self.skin.facets[facet]).try_normalize().unwrap_or(DVec3::Z);
        let normal = unit(facet);
        let goes_on = |(a, b)| self.seams.across(facet, a, b).is_some_and(|other| unit(other).dot(normal) > FLAT);
        let own = &self.skin.facets[facet];
        Pane {
            ring: own.ring.iter().map(|&point| self.skin.points[point]).collect(),
            goes_on: own.edges().map(goes_on).collect(),
            is_ridge: own.ring.iter().map(|point| self.ridges.binary_search(point).is_ok()).collect(),
            normal,
        }
    }
}

/// A face as something to be gone through.
struct Pane {
    ring: Vec<DVec3>,
    /// Beyond which of its edges the surface goes on in its plane.
    goes_on: Vec<bool>,
    /// Which of its corners lie where the surface turns.
    is_ridge: Vec<bool>,
    normal: DVec3,
}

impl Pane {
    fn is_pierced(&self, a: DVec3, b: DVec3) -> bool {
        let (from, to) = ((a - self.ring[0]).dot(self.normal), (b - self.ring[0]).dot(self.normal));
        if from.abs() < TOUCH || to.abs() < TOUCH || (from > 0.0) == (to > 0.0) {
            return false;
        }
        let point = a + (b - a) * (from / (from - to));
        (0..self.ring.len()).all(|i| {
            // What touches a ridge in a corner of this face meets no other edge of it.
            if self.is_ridge[i] && point.distance(self.ring[i]) < 4.0 * TOUCH {
                return false;
            }
            let (start, way) = (self.ring[i], self.ring[(i + 1) % self.ring.len()] - self.ring[i]);
            let least = if self.goes_on[i] { -TOUCH } else { TOUCH };
            way.cross(point - start).dot(self.normal) > least * way.length()
        })
    }
}

/// Solid angle of a flat polygon seen from a point, steradian; positive where it is seen from behind, against its normal.
///
/// Triangles from the first corner to each edge, signed, so that the polygon need not be convex: `tan(angle / 2) = a . b x c / (|a| |b| |c| + (a . b) |c| +
/// (b . c) |a| + (c . a) |b|)`.
pub fn solid_angle(point: DVec3, corners: impl Iterator<Item = DVec3>) -> f64 {
    let mut corners = corners.map(|corner| corner - point);
    let (Some(a), Some(mut b)) = (corners.next(), corners.next()) else { return 0.0 };
    let mut sum = 0.0;
    for c in corners {
        let (la, lb, lc) = (a.length(), b.length(), c.length());
        sum += 2.0 * a.dot(b.cross(c)).atan2(la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb);
        b = c;
    }
    sum
}
