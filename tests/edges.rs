//! Edges: the line integral against exact solutions, and what of a room is an edge that a point sees.

use std::f64::consts::TAU;

use glam::{DVec2, DVec3};
use roomwright::images::Prepared;
use roomwright::images::edges::{Edge, EdgePath, edge_paths, edges};
use roomwright::images::wedge::Wedge;
use roomwright::room::Room;
use serde::Deserialize;

use crate::images::build;
use crate::room::{block, shoebox};

/// Exact fields of a rigid half-plane.
#[derive(Deserialize)]
struct HalfPlanes {
    c: f64,
    cases: Vec<HalfPlane>,
}

#[derive(Deserialize)]
struct HalfPlane {
    case: String,
    #[serde(rename = "rS")]
    source_m: f64,
    #[serde(rename = "thetaS_deg")]
    source_deg: f64,
    #[serde(rename = "rR")]
    point_m: f64,
    #[serde(rename = "thetaR_deg")]
    point_deg: f64,
    dz: f64,
    f: Vec<f64>,
    total_re_im: Vec<[f64; 2]>,
}

fn half_plane_cases() -> HalfPlanes {
    serde_json::from_str(include_str!("cases/edges/half_plane.json")).expect("the cases can be read")
}

/// The edge of a half-plane, as good as endless.
fn long_edge() -> Wedge {
    Wedge::new([DVec3::new(0.0, 0.0, -500.0), DVec3::new(0.0, 0.0, 500.0)], DVec3::Y, TAU)
}

/// A point at a distance from that edge and an angle about it.
fn about(wedge: &Wedge, radius: f64, degrees: f64, z: f64) -> DVec3 {
    let (sine, cosine) = degrees.to_radians().sin_cos();
    wedge.into * (radius * cosine) + wedge.normal * (radius * sine) + DVec3::Z * z
}

fn free(distance: f64, wavenumber: f64) -> DVec2 {
    DVec2::from_angle(-wavenumber * distance) / distance
}

impl HalfPlane {
    /// The field by our edge, with the direct sound and the mirror image where they are.
    fn ours(&self, speed: f64) -> Vec<DVec2> {
        let wedge = long_edge();
        let (source, point) = (about(&wedge, self.source_m, self.source_deg, 0.0), about(&wedge, self.point_m, self.point_deg, self.dz));
        let image = about(&wedge, self.source_m, -self.source_deg, 0.0);
        let diffraction = wedge.diffraction(source, point, &[[0.0, wedge.length]]);
        let apart = self.point_deg - self.source_deg;
        let boundary = (apart - 180.0).abs() < 1e-9;
        let field = |&frequency: &f64| {
            let wavenumber = TAU * frequency / speed;
            let mut field = diffraction.pressure(wavenumber, [1.0, 1.0]);
            if boundary {
                // Neither side of the boundary: half of the direct sound, and the edge without its share of the jump.
                return None;
            }
            if apart < 180.0 {
                field += free(source.distance(point), wavenumber);
            }
            if self.source_deg + self.point_deg < 180.0 {
                field += free(image.distance(point), wavenumber);
            }
            Some(field)
        };
        self.f.iter().filter_map(field).collect()
    }
}

/// Case, frequency in Hz, our level and the exact one in dB re 1 m in free field; on the boundary of the shadow itself there is none of ours.
pub(crate) fn half_planes() -> Vec<(String, f64, f64, f64)> {
    let HalfPlanes { c, cases } = half_plane_cases();
    let level = |field: DVec2| 20.0 * field.length().log10();
    let of = |case: &HalfPlane| -> Vec<_> {
        let ours = case.ours(c).into_iter().zip(&case.f).zip(&case.total_re_im);
        ours.map(|((ours, &frequency), &exact)| (case.case.clone(), frequency, level(ours), level(DVec2::from_array(exact)))).collect()
    };
    cases.iter().flat_map(of).collect()
}

/// The exact solution of Macdonald, in light and shadow, oblique, grazing, a third of a degree beside either boundary: within 0.05 dB.
#[test]
fn exact_half_planes() {
    let all = half_planes();
    assert!(all.len() >= 80, "{}", all.len());
    for (case, frequency, ours, exact) in all {
        assert!((ours - exact).abs() < 0.05, "{case}, {frequency} Hz: {ours:.3} and {exact:.3} dB");
    }
}

/// On the boundary of the shadow the field goes over from either side, though direct sound comes and goes there.
#[test]
fn exact_at_the_boundary_of_the_shadow() {
    let HalfPlanes { c, cases } = half_plane_cases();
    let case = cases.iter().find(|case| case.case.starts_with("at the shadow boundary")).expect("it is among the cases");
    for (side, degrees) in [("lit", -1e-7), ("dark", 1e-7)] {
        let beside =
            HalfPlane { point_deg: case.point_deg + degrees, case: side.to_owned(), f: case.f.clone(), total_re_im: Vec::new(), ..*case };
        for ((ours, frequency), [re, im]) in beside.ours(c).into_iter().zip(&case.f).zip(&case.total_re_im) {
            let difference = 20.0 * (ours.length() / re.hypot(*im)).log10();
            assert!(difference.abs() < 0.05, "{side}, {frequency} Hz: {difference:+.3} dB");
        }
    }
}

#[derive(Deserialize)]
struct Plates {
    half_size_m: f64,
    cases: Vec<Plate>,
}

#[derive(Deserialize)]
struct Plate {
    case: String,
    source: [f64; 3],
    receiver: [f64; 3],
    k_half: Vec<f64>,
    total_re_im: Vec<[f64; 2]>,
    first_order_re_im: Vec<[f64; 2]>,
}

/// The field about a square plate in the middle of a large room, from its edges and what is free; of single bends alone, and of double ones too.
struct AboutPlate {
    prepared: Prepared,
    room: Room,
    edges: Vec<Edge>,
    half: f64,
}

/// Where its middle is, meters.
const MIDDLE: DVec3 = DVec3::splat(15.0);

impl AboutPlate {
    fn new(half: f64) -> Self {
        let mut scene = shoebox(30.0, 30.0, 30.0);
        // Thinner than any wave, thicker than what counts as touching.
        let size = (2.0 * half, 2.0 * half, 2e-5);
        scene.blocks = vec![block("plate", (MIDDLE.x - half, MIDDLE.y - half, MIDDLE.z - 1e-5), size, 0.0)];
        let room = build(&scene);
        Self { prepared: Prepared::new(&room), edges: edges(&room), room, half }
    }

    fn bends(&self, source: DVec3, point: DVec3) -> Vec<EdgePath> {
        edge_paths(&self.prepared, &self.room, &self.edges, source + MIDDLE, point + MIDDLE, 9.0)
    }

    /// Direct sound and mirror image, where they are.
    fn geometric(&self, source: DVec3, point: DVec3, k: f64) -> DVec2 {
        let mirrored = source * DVec3::new(1.0, 1.0, -1.0);
        let within = |from: DVec3| {
            let at = from + (point - from) * (from.z / (from.z - point.z));
            at.x.abs() < self.half && at.y.abs() < self.half
        };
        let same_side = source.z * point.z > 0.0;
        let direct = if same_side || !within(source) { free(source.distance(point), k) } else { DVec2::ZERO };
        direct + if same_side && within(mirrored) { free(mirrored.distance(point), k) } else { DVec2::ZERO }
    }
}

fn plate_cases() -> Plates {
    serde_json::from_str(include_str!("cases/edges/plate.json")).expect("the cases can be read")
}

/// Case, `k x half the side`, our level and that by boundary elements in dB re 1 m in free field.
pub(crate) fn plates() -> Vec<(String, f64, f64, f64)> {
    let plates = plate_cases();
    let about = AboutPlate::new(plates.half_size_m);
    let level = |field: DVec2| 20.0 * field.length().log10();
    let of = |case: &Plate| -> Vec<_> {
        let (source, point) = (DVec3::from_array(case.source), DVec3::from_array(case.receiver));
        let bends = about.bends(source, point);
        let field =
            |k: f64| about.geometric(source, point, k) + bends.iter().map(|bend| bend.diffraction.pressure(k, [1.0; 2])).sum::<DVec2>();
        let rows = case.k_half.iter().zip(&case.total_re_im);
        rows.map(|(&k_half, &exact)| {
            (case.case.clone(), k_half, level(field(k_half / plates.half_size_m)), level(DVec2::from_array(exact)))
        })
        .collect()
    };
    plates.cases.iter().flat_map(of).collect()
}

/// A rigid square plate, against boundary elements (how: in the file of the cases): within 1 dB wherever `k x half the side` is 3 or more, lit and dark, low and
/// oblique, near and far.
#[test]
fn exact_field_about_a_rigid_plate() {
    let all: Vec<_> = plates().into_iter().filter(|plate| plate.1 >= 3.0).collect();
    assert_eq!(all.len(), 63);
    for (case, k_half, ours, exact) in all {
        assert!((ours - exact).abs() < 1.0, "{case}, {k_half}: {ours:.2} and {exact:.2} dB");
    }
}

/// Single bends alone, which miss by up to 5 dB where what arrives is weak, equal the line integral of an independent program.
#[test]
fn exact_single_bends_about_a_plate() {
    let plates = plate_cases();
    let about = AboutPlate::new(plates.half_size_m);
    for case in &plates.cases {
        let (source, point) = (DVec3::from_array(case.source), DVec3::from_array(case.receiver));
        let bends = about.bends(source, point);
        for (&k_half, first) in case.k_half.iter().zip(&case.first_order_re_im) {
            let k = k_half / plates.half_size_m;
            let once = bends.iter().filter(|bend| bend.bends == 1);
            let field = about.geometric(source, point, k) + once.map(|bend| bend.diffraction.pressure(k, [1.0; 2])).sum::<DVec2>();
            assert!(field.distance(DVec2::from_array(*first)) < 2e-3, "{}, {k_half}: {field}", case.case);
        }
    }
}

/// What is scattered by a rigid sheet is odd across its plane, so that in the plane, outside the sheet, only the free wave is left: within 1 dB of it, by single and double
/// bends. What runs along the face and leaves it nearly in its plane changes little over the last millimeter from either side.
#[test]
fn exact_in_the_plane_of_a_plate() {
    let half = 0.5;
    let about = AboutPlate::new(half);
    let source = DVec3::new(0.1, -0.2, 1.1);
    for (x, y) in [(0.9, 0.0), (0.8, 0.3), (0.7, 0.8)] {
        for k_half in [3.0, 5.0, 10.0, 20.0] {
            let k = k_half / half;
            let field = |z: f64| {
                let point = DVec3::new(x, y, z);
                let bends = about.bends(source, point);
                let twice = bends.iter().filter(|bend| bend.points[0] != bend.points[1]);
                let twice: DVec2 = twice.map(|bend| bend.diffraction.pressure(k, [1.0; 2])).sum();
                let all: DVec2 = bends.iter().map(|bend| bend.diffraction.pressure(k, [1.0; 2])).sum();
                let free = free(source.distance(point), k);
                (twice.length() / free.length(), twice / free.length(), 20.0 * ((free + all).length() / free.length()).log10())
            };
            let (size, in_plane, level) = field(0.0);
            assert!(level.abs() < 1.0, "at {x}, {y}, {k_half}: {level:.2} dB re the free wave");
            for near in [-1e-3, -1e-4, 1e-4, 1e-3].map(field) {
                // Odd across the plane, so of either sign beside it.
                let off = near.1.distance(in_plane).min(near.1.distance(-in_plane));
                assert!(off < 0.01, "at {x}, {y}, {k_half}: {off} of {size}");
            }
        }
    }
}

/// What hides a part of an edge from a point takes that part away, exactly: a board before half of a screen's upper edge.
#[test]
fn exact_part_of_an_edge_that_is_seen() {
    let mut scene = shoebox(12.0, 12.0, 12.0);
    scene.blocks = vec![block("screen", (5.99, 5.0, 4.0), (0.02, 2.0, 2.0), 0.0), block("board", (4.99, 5.0, 4.0), (0.02, 1.0, 4.0), 0.0)];
    let room = build(&scene);
    // The straight way rises, so that the plane of the nearer face counts.
    let (source, point) = (DVec3::new(4.0, 6.5, 4.8), DVec3::new(7.0, 6.5, 5.0));
    let upper = |bend: &&EdgePath| bend.bends == 1 && (bend.points[0].z - 6.0).abs() < 1e-9;
    let (prepared, edges) = (Prepared::new(&room), edges(&room));
    let bends = edge_paths(&prepared, &room, &edges, source, point, 9.0);
    let found: Vec<_> = bends.iter().filter(|bend| bend.points.iter().all(|at| (at.x - 6.0).abs() < 0.05)).collect();
    let partly = found.iter().copied().find(|bend| upper(bend)).expect("some of the upper edge is seen");
    let wedge = Wedge::new([DVec3::new(5.99, 5.0, 6.0), DVec3::new(5.99, 7.0, 6.0)], DVec3::NEG_X, TAU);
    let k = 20.0;
    let expected = |hidden_to: f64| wedge.diffraction(source, point, &[[hidden_to - 5.0, 2.0]]).pressure(k, [1.0; 2]);
    let ours = partly.diffraction.pressure(k, [1.0; 2]);
    // Sight passes the nearer side of the board, x = 4.99, and the farther, x = 5.01: the farther hides more.
    let hidden_to = 6.5 - 0.5 * (5.99 - 4.0) / (5.01 - 4.0);
    assert!(ours.distance(expected(hidden_to)) < 1e-6, "{ours} and {}", expected(hidden_to));
    assert!(ours.distance(expected(hidden_to - 0.02)) > 1e-4, "the nearer side of the board hides less");
}

#[test]
fn exact_reciprocity_of_bends() {
    let about = AboutPlate::new(0.5);
    for case in &plate_cases().cases {
        let (source, point) = (DVec3::from_array(case.source), DVec3::from_array(case.receiver));
        for k in [2.0, 20.0, 100.0] {
            let [there, back]: [DVec2; 2] = [about.bends(source, point), about.bends(point, source)]
                .map(|bends| bends.iter().filter(|bend| bend.bends == 1).map(|bend| bend.diffraction.pressure(k, [0.9, 0.4])).sum());
            assert!(there.distance(back) < 1e-9, "{}, {k}: {there} and {back}", case.case);
        }
    }
}
