//! No specular path is missed and none is made up: random rooms against searches that share nothing with ours but corners of surfaces.
//!
//! A path to a point along a sequence of surfaces is decided here by planes fitted to corners, turns round outlines, and everything in the
//! way from either side. Rooms of up to 10 polygons are searched to sixth order and of up to 25 to fourth through every sequence that could
//! mirror at all: a sequence ends where the last image lies behind the next surface, which no path survives. Larger rooms are searched
//! to third order leaving out pairs of surfaces that lie behind one another, and to fifth along the ways of rays, each verified.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use glam::{DVec2, DVec3};
use rayon::prelude::*;
use roomwright::directivity::{Directivity, Pattern};
use roomwright::geometry::Polygon;
use roomwright::images::ImagePath;
use roomwright::random::{Purpose, Stream};
use roomwright::room::{Room, Surface};
use roomwright::scene::{self, Cloud, Microphone, Panel, PanelPlace, Scene, Source, SourceKind, StockKind};

use crate::images::{build, furnished_attic, paths};
use crate::room::{block, l_shape, panel_type, scene};

/// A leg that ends nearer to a plane than this, meters, ends on it.
const ON_PLANE: f64 = 1e-9;

/// A surface by its corners in space.
struct Facet {
    corners: Vec<DVec3>,
    normal: DVec3,
    offset: f64,
}

impl Facet {
    /// Plane through the corners of an outline (Newell's sum of edges).
    fn new(surface: &Surface) -> Self {
        let corners: Vec<DVec3> = surface.outline.corners.iter().map(|&corner| surface.chart.point(corner)).collect();
        let after = |i: usize| corners[(i + 1) % corners.len()];
        let sum: DVec3 = corners.iter().enumerate().map(|(i, &corner)| (corner - corners[0]).cross(after(i) - corners[0])).sum();
        let normal = sum / sum.length();
        let offset = corners.iter().map(|&corner| normal.dot(corner)).sum::<f64>() / corners.len() as f64;
        Self { corners, normal, offset }
    }

    fn height(&self, point: DVec3) -> f64 {
        self.normal.dot(point) - self.offset
    }

    /// Whether the outline goes round a point of the plane, counted by its edges that pass to the left and to the right of it, seen along the
    /// axis that the normal is nearest to.
    fn goes_round(&self, point: DVec3) -> bool {
        let size = self.normal.abs();
        let flat = |at: DVec3| {
            if size.x >= size.y && size.x >= size.z {
                DVec2::new(at.y, at.z)
            } else if size.y >= size.z {
                DVec2::new(at.z, at.x)
            } else {
                DVec2::new(at.x, at.y)
            }
        };
        let here = flat(point);
        let mut rounds = 0;
        for (i, &corner) in self.corners.iter().enumerate() {
            let (a, b) = (flat(corner) - here, flat(self.corners[(i + 1) % self.corners.len()]) - here);
            if a.y <= 0.0 && b.y > 0.0 && a.perp_dot(b) > 0.0 {
                rounds += 1;
            } else if a.y > 0.0 && b.y <= 0.0 && a.perp_dot(b) < 0.0 {
                rounds -= 1;
            }
        }
        rounds != 0
    }

    /// Where a leg from before the plane to behind it, or back, goes through the facet.
    fn pierced(&self, from: DVec3, to: DVec3) -> Option<DVec3> {
        let (a, b) = (self.height(from), self.height(to));
        let crosses = (a > ON_PLANE && b < -ON_PLANE) || (a < -ON_PLANE && b > ON_PLANE);
        let point = from.lerp(to, a / (a - b));
        (crosses && self.goes_round(point)).then_some(point)
    }
}

/// A way of reflection: the surfaces in order, and how long it is.
type Way = (Vec<usize>, f64);

/// A room as facets, and two places in it.
struct Plain {
    facets: Vec<Facet>,
    /// What can see what, by half spaces alone; empty where every sequence is tried.
    sees: Vec<Vec<bool>>,
    from: DVec3,
    to: DVec3,
}

impl Plain {
    fn new(room: &Room, from: DVec3, to: DVec3) -> Self {
        Self { facets: room.surfaces.iter().map(Facet::new).collect(), sees: Vec::new(), from, to }
    }

    /// The same with pairs of surfaces left out of which one lies wholly behind the other.
    fn pruned(room: &Room, from: DVec3, to: DVec3) -> Self {
        let mut plain = Self::new(room, from, to);
        let facets = &plain.facets;
        let before = |a: &Facet, b: &Facet| b.corners.iter().any(|&corner| a.height(corner) > ON_PLANE);
        plain.sees = facets.iter().map(|a| facets.iter().map(|b| before(a, b) && before(b, a)).collect()).collect();
        plain
    }

    /// Length of the path along a sequence, if there is one.
    fn way(&self, sequence: &[usize]) -> Option<f64> {
        let mut images = vec![self.from];
        for &index in sequence {
            let (facet, last) = (&self.facets[index], images[images.len() - 1]);
            images.push(last - 2.0 * facet.height(last) * facet.normal);
        }
        self.back(sequence, &images)
    }

    /// The same with the images at hand: back from the end, then every leg free of everything.
    fn back(&self, sequence: &[usize], images: &[DVec3]) -> Option<f64> {
        let (mut target, mut corners) = (self.to, vec![self.to]);
        for (depth, &index) in sequence.iter().enumerate().rev() {
            let (facet, image) = (&self.facets[index], images[depth + 1]);
            let (above, below) = (facet.height(target), facet.height(image));
            if above <= 0.0 || below >= 0.0 {
                return None;
            }
            target = target.lerp(image, above / (above - below));
            if !facet.goes_round(target) {
                return None;
            }
            corners.push(target);
        }
        corners.push(self.from);
        let free = corners.windows(2).all(|leg| self.facets.iter().all(|facet| facet.pierced(leg[0], leg[1]).is_none()));
        free.then(|| corners.windows(2).map(|leg| leg[0].distance(leg[1])).sum())
    }

    /// Every path up to an order through every sequence that is not left out.
    fn all(&self, order: usize) -> Vec<Way> {
        let direct = self.back(&[], &[self.from]).map(|length| (Vec::new(), length));
        let from_first = |first: usize| {
            let mut found = Vec::new();
            self.grow(first, order, &mut Vec::new(), &mut vec![self.from], &mut found);
            found
        };
        let firsts: Vec<Vec<Way>> = (0..self.facets.len()).into_par_iter().map(from_first).collect();
        direct.into_iter().chain(firsts.into_iter().flatten()).collect()
    }

    fn grow(&self, next: usize, order: usize, sequence: &mut Vec<usize>, images: &mut Vec<DVec3>, found: &mut Vec<Way>) {
        let (facet, last) = (&self.facets[next], images[images.len() - 1]);
        let height = facet.height(last);
        let left_out = sequence.last().is_some_and(|&before| !self.sees.is_empty() && !self.sees[before][next]);
        if height <= 0.0 || left_out || order == 0 {
            return;
        }
        sequence.push(next);
        images.push(last - 2.0 * height * facet.normal);
        found.extend(self.back(sequence, images).map(|length| (sequence.clone(), length)));
        (0..self.facets.len()).for_each(|after| self.grow(after, order - 1, sequence, images, found));
        sequence.pop();
        images.pop();
    }

    /// Paths up to an order along the ways of rays that pass near the end, each verified.
    fn along_rays(&self, order: usize, rays: u64, near: f64) -> BTreeSet<Vec<usize>> {
        let of_ray = |ray: u64| {
            let mut stream = Stream::new(7, Purpose::Search, ray);
            let (z, turn) = (2.0 * stream.unit() - 1.0, std::f64::consts::TAU * stream.unit());
            let mut way = DVec3::new((1.0 - z * z).sqrt() * turn.cos(), (1.0 - z * z).sqrt() * turn.sin(), z);
            let (mut at, mut sequence, mut seen) = (self.from, Vec::new(), Vec::new());
            loop {
                let ahead = (0..self.facets.len()).filter_map(|index| {
                    let (height, slope) = (self.facets[index].height(at), self.facets[index].normal.dot(way));
                    let distance = -height / slope;
                    (slope < 0.0 && distance > 1e-9).then_some((distance, index))
                });
                let hit = ahead
                    .filter(|&(distance, index)| self.facets[index].goes_round(at + distance * way))
                    .min_by(|a, b| a.0.total_cmp(&b.0));
                let Some((distance, index)) = hit else { break };
                let along = (self.to - at).dot(way).clamp(0.0, distance);
                if (at + along * way).distance(self.to) < near {
                    seen.push(sequence.clone());
                }
                if sequence.len() == order {
                    break;
                }
                sequence.push(index);
                at += distance * way;
                way -= 2.0 * way.dot(self.facets[index].normal) * self.facets[index].normal;
            }
            seen
        };
        let seen: BTreeSet<Vec<usize>> = (0..rays).into_par_iter().flat_map_iter(of_ray).collect();
        seen.into_iter().filter(|sequence| self.way(sequence).is_some()).collect()
    }
}

/// The surfaces of a path of ours.
fn surfaces(path: &ImagePath) -> Vec<usize> {
    path.bounces.iter().map(|bounce| bounce.surface).collect()
}

/// How many paths two lists share, and how many one has that the other lacks. Lengths must agree.
fn shared(ours: &[ImagePath], theirs: &[Way]) -> (usize, usize) {
    let own: BTreeSet<Vec<usize>> = ours.iter().map(surfaces).collect();
    let other: BTreeSet<Vec<usize>> = theirs.iter().map(|way| way.0.clone()).collect();
    assert_eq!((own.len(), other.len()), (ours.len(), theirs.len()), "a way stands twice in a list");
    for (sequence, length) in theirs {
        if let Some(path) = ours.iter().find(|path| surfaces(path) == *sequence) {
            assert!((path.length / length - 1.0).abs() < 1e-9, "{sequence:?}: {} and {length}", path.length);
        }
    }
    (own.intersection(&other).count(), own.symmetric_difference(&other).count())
}

/// Holds all paths up to an order to those through every sequence.
pub(crate) fn same_as_every_sequence(room: &Room, from: DVec3, to: DVec3, order: u8) {
    let (both, unlike) = shared(&paths(room, from, to, order), &Plain::new(room, from, to).all(usize::from(order)));
    assert_eq!(unlike, 0, "beside {both} paths");
}

/// Corners of a simple polygon through random points: edges that cross are turned round until none does.
fn outline(stream: &mut Stream, count: usize) -> Vec<DVec2> {
    let mut corners: Vec<DVec2> = (0..count).map(|_| DVec2::new(6.0 * stream.unit(), 5.0 * stream.unit())).collect();
    while let Some((first, second)) = (Polygon { corners: corners.clone() }).crossing() {
        let (first, second) = (first.min(second), first.max(second));
        if second == first + 1 || (first == 0 && second == count - 1) {
            // Neighbors on one line: other points.
            corners = (0..count).map(|_| DVec2::new(6.0 * stream.unit(), 5.0 * stream.unit())).collect();
        } else {
            corners[first + 1..=second].reverse();
        }
    }
    Polygon::new(corners).corners
}

/// What can be put into a random room.
#[derive(Clone, Copy)]
enum Thing {
    Block,
    /// From the floor to the ceiling.
    Column,
    /// Tilted.
    Cloud,
    /// A panel that stands before a wall.
    Screen,
}

/// What a random room is made of.
#[derive(Clone, Copy)]
struct Kind {
    corners: usize,
    planes: usize,
    blocks: usize,
    /// From floor to ceiling, which is level then.
    columns: usize,
    clouds: usize,
    screens: usize,
}

/// A bare scene of this kind that its rules may refuse.
fn shell(stream: &mut Stream, kind: Kind) -> Scene {
    let corners: Vec<(f64, f64)> = outline(stream, kind.corners).into_iter().map(Into::into).collect();
    let mut between = |low: f64, high: f64| low + (high - low) * stream.unit();
    let slope = if kind.columns > 0 { 0.0 } else { 0.35 };
    let planes: Vec<_> = (0..kind.planes).map(|_| (between(2.2, 3.2), (between(-slope, slope), between(-slope, slope)))).collect();
    let mut scene = scene(&corners, &planes);
    scene.stock = vec![panel_type("cloud", StockKind::Cloud), panel_type("screen", StockKind::FreeStanding)];
    let mut place = || DVec3::new(between(0.0, 6.0), between(0.0, 5.0), between(0.2, 2.2));
    let (name, aim, directivity) = ("source".to_owned(), DVec3::X, Directivity::Omni);
    scene.sources.push(Source { name, kind: SourceKind::Loudspeaker, position: place(), aim, directivity });
    scene.microphones.push(Microphone { name: "microphone".to_owned(), position: place(), aim, pattern: Pattern { omni: 1.0 } });
    scene
}

/// One thing more in a scene, somewhere, that its rules may refuse.
fn with(scene: &Scene, stream: &mut Stream, thing: Thing) -> Scene {
    let mut scene = scene.clone();
    let mut between = |low: f64, high: f64| low + (high - low) * stream.unit();
    let hung = |kind: &str, place: PanelPlace| Panel { kind: kind.to_owned(), place };
    match thing {
        Thing::Block | Thing::Column => {
            let is_column = matches!(thing, Thing::Column);
            let height = if is_column { scene.ceiling[0].height } else { between(0.3, 1.2) };
            let base = if is_column || between(0.0, 1.0) < 0.5 { 0.0 } else { between(0.2, 1.0) };
            let (low, size) = ((between(0.0, 5.0), between(0.0, 4.0), base), (between(0.3, 1.2), between(0.3, 1.0), height));
            scene.blocks.push(block(&format!("block {}", scene.blocks.len()), low, size, between(0.0, 1.5)));
        }
        Thing::Cloud => {
            let mut cloud = Cloud::level(DVec2::new(between(0.0, 6.0), between(0.0, 5.0)), between(1.3, 2.0), between(0.0, 1.0) < 0.5);
            cloud.tilt[usize::from(between(0.0, 1.0) < 0.5)] = between(-20.0, 20.0);
            scene.panels.push(hung("cloud", PanelPlace::Cloud(cloud)));
        }
        Thing::Screen => {
            let surface = format!("wall {}", between(0.0, scene.walls.len() as f64) as usize);
            let place = PanelPlace::Surface { surface, left: between(0.0, 3.0), bottom: 0.0, lying: false, gap: between(0.1, 0.5) };
            scene.panels.push(hung("screen", place));
        }
    }
    scene
}

/// Room number `index` of a kind, not convex, of at most so many polygons, with nothing that the rules of a scene refuse.
fn random_room(index: u64, kind: Kind, polygons: usize) -> Room {
    let stream = &mut Stream::new(11, Purpose::Search, index);
    let is_sound = |scene: &Scene| scene::read(&scene::print(scene)).is_ok();
    let things = [(Thing::Column, kind.columns), (Thing::Cloud, kind.clouds), (Thing::Screen, kind.screens), (Thing::Block, kind.blocks)];
    'room: for _ in 0..5000 {
        let mut scene = shell(stream, kind);
        let plan = Polygon::new(scene.outline.clone());
        let is_bare = things.iter().all(|(_, count)| *count == 0);
        let is_wanted = !(is_bare && plan.is_convex()) && plan.area() > 5.0 && plan.edges().all(|(a, b)| a.distance(b) > 0.4);
        if !is_wanted || !is_sound(&scene) {
            continue;
        }
        for (thing, count) in things {
            for _ in 0..count {
                let Some(more) = (0..100).map(|_| with(&scene, stream, thing)).find(is_sound) else { continue 'room };
                scene = more;
            }
        }
        let room = build(&scene);
        if room.surfaces.len() <= polygons {
            return room;
        }
    }
    panic!("no room of this kind in 5,000 attempts");
}

/// What the comparison of many rooms came to.
pub(crate) struct Tally {
    pub(crate) rooms: usize,
    /// Paths that every sequence gives.
    pub(crate) expected: usize,
    /// Those of them that are ours.
    pub(crate) shared: usize,
    /// In one list and not in the other.
    pub(crate) unlike: usize,
    /// Paths of the highest order.
    pub(crate) longest: usize,
}

fn tally(kinds: &[Kind], rooms: u64, polygons: usize, order: usize) -> Tally {
    let of_room = |index: u64| {
        let room = random_room(index, kinds[index as usize % kinds.len()], polygons);
        let (from, to) = (room.sources[0].position, room.receivers[0].position);
        let (ours, theirs) = (paths(&room, from, to, order as u8), Plain::new(&room, from, to).all(order));
        let (both, unlike) = shared(&ours, &theirs);
        (theirs.len(), both, unlike, theirs.iter().filter(|way| way.0.len() == order).count())
    };
    let all: Vec<_> = (0..rooms).into_par_iter().map(of_room).collect();
    Tally {
        rooms: all.len(),
        expected: all.iter().map(|room| room.0).sum(),
        shared: all.iter().map(|room| room.1).sum(),
        unlike: all.iter().map(|room| room.2).sum(),
        longest: all.iter().map(|room| room.3).sum(),
    }
}

const NOTHING: Kind = Kind { corners: 0, planes: 1, blocks: 0, columns: 0, clouds: 0, screens: 0 };

/// Rooms of up to 10 polygons, to sixth order.
pub(crate) static SMALL: LazyLock<Tally> = LazyLock::new(|| {
    let kinds = [
        Kind { corners: 5, planes: 2, ..NOTHING },
        Kind { corners: 8, ..NOTHING },
        Kind { corners: 3, blocks: 1, ..NOTHING },
        Kind { corners: 7, planes: 2, ..NOTHING },
        Kind { corners: 4, columns: 1, ..NOTHING },
    ];
    tally(&kinds, 40, 10, 6)
});

/// Rooms of up to 25 polygons, to fourth order.
pub(crate) static MEDIUM: LazyLock<Tally> = LazyLock::new(|| {
    let kinds = [
        Kind { corners: 6, planes: 2, blocks: 1, clouds: 1, ..NOTHING },
        Kind { corners: 7, blocks: 2, screens: 1, ..NOTHING },
        Kind { corners: 5, clouds: 2, screens: 1, ..NOTHING },
        Kind { corners: 6, blocks: 1, clouds: 1, screens: 1, ..NOTHING },
    ];
    tally(&kinds, 40, 25, 4)
});

#[test]
fn exact_random_rooms_of_10_polygons_to_sixth_order() {
    assert_eq!(SMALL.unlike, 0, "of {} paths", SMALL.expected);
    assert!(SMALL.rooms == 40 && SMALL.shared == SMALL.expected);
    assert!(SMALL.expected > 1000 && SMALL.longest > 100, "{} paths, {} of sixth order prove little", SMALL.expected, SMALL.longest);
}

#[test]
fn exact_random_rooms_of_25_polygons_to_fourth_order() {
    assert_eq!(MEDIUM.unlike, 0, "of {} paths", MEDIUM.expected);
    assert!(MEDIUM.rooms == 40 && MEDIUM.shared == MEDIUM.expected);
    assert!(MEDIUM.expected > 1000 && MEDIUM.longest > 100, "{} paths, {} of fourth order prove little", MEDIUM.expected, MEDIUM.longest);
}

/// The scene with someone to send and someone to listen, which its rules ask for.
pub(crate) fn heard(mut scene: Scene) -> Scene {
    let (aim, position) = (DVec3::X, DVec3::new(3.01, 0.93, 1.41));
    let (name, kind, directivity) = ("source".to_owned(), SourceKind::Loudspeaker, Directivity::Omni);
    scene.sources.push(Source { name, kind, position, aim, directivity });
    let (name, position, pattern) = ("microphone".to_owned(), DVec3::new(1.03, 1.97, 1.15), Pattern { omni: 1.0 });
    scene.microphones.push(Microphone { name, position, aim, pattern });
    scene
}

/// An L with 18 boxes at all heights, turned, and two tilted clouds.
fn crowded_l() -> Room {
    let mut scene = l_shape();
    for index in 0..18_u32 {
        let (column, row) = (index % 6, index / 6);
        let (x, y) =
            if row == 2 { (0.15 + 0.3 * f64::from(column), 3.2) } else { (0.2 + 0.8 * f64::from(column), 0.2 + 1.0 * f64::from(row)) };
        let base = [0.0, 0.5, 1.6][(index % 3) as usize];
        scene.blocks.push(block(&format!("box {index}"), (x, y, base), (0.22, 0.2, 0.3), 0.13 * f64::from(index)));
    }
    scene.stock = vec![panel_type("cloud", StockKind::Cloud)];
    for (x, tilt) in [(1.0, 8.0), (3.6, -11.0)] {
        let cloud = Cloud { tilt: DVec2::new(tilt, 0.0), ..Cloud::level(DVec2::new(x, 1.0), 2.15, false) };
        scene.panels.push(Panel { kind: "cloud".to_owned(), place: PanelPlace::Cloud(cloud) });
    }
    assert!(scene::read(&scene::print(&heard(scene.clone()))).is_ok(), "things reach into one another");
    build(&scene)
}

/// Rooms too large for every sequence.
fn large() -> [(Room, DVec3, DVec3); 2] {
    let attic = build(&furnished_attic());
    assert!(attic.surfaces.len() > 160, "{}", attic.surfaces.len());
    let crowded = crowded_l();
    assert!(crowded.surfaces.len() > 100, "{}", crowded.surfaces.len());
    [
        (attic, DVec3::new(3.01, 0.93, 1.21), DVec3::new(2.43, 2.92, 1.15)),
        (crowded, DVec3::new(4.47, 0.73, 1.12), DVec3::new(0.71, 2.81, 1.33)),
    ]
}

#[test]
fn keeps_large_rooms_like_a_search_by_half_spaces() {
    for (room, from, to) in large() {
        assert!(room.contains(from) && room.contains(to));
        let theirs = Plain::pruned(&room, from, to).all(3);
        let (both, unlike) = shared(&paths(&room, from, to, 3), &theirs);
        assert_eq!(unlike, 0, "of {both} paths");
        assert!(both > 10, "{both} paths prove little");
    }
}

#[test]
fn keeps_large_rooms_like_a_search_by_rays() {
    for (room, from, to) in large() {
        let plain = Plain::new(&room, from, to);
        let ours: BTreeSet<Vec<usize>> = paths(&room, from, to, 5).iter().map(surfaces).collect();
        let seeded = plain.along_rays(5, 100_000, 0.5);
        assert!(seeded.is_subset(&ours), "missed: {:?}", seeded.difference(&ours).collect::<Vec<_>>());
        for sequence in &ours {
            assert!(plain.way(sequence).is_some(), "made up: {sequence:?}");
        }
        // Rays find nearly all, so that what they would have found is known to be there.
        assert!(10 * seeded.len() > 8 * ours.len(), "rays find {} of {}", seeded.len(), ours.len());
    }
}
