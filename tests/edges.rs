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
#[allow(non_snake_case)]
struct HalfPlane {
    case: String,
    rS: f64,
    thetaS_deg: f64,
    rR: f64,
    thetaR_deg: f64,
    dz: f64,
    f: Vec<f64>,
    total_re_im: Vec<[f64; 2]>,
}

fn half_planes() -> HalfPlanes {
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
        let (source, point) = (about(&wedge, self.rS, self.thetaS_deg, 0.0), about(&wedge, self.rR, self.thetaR_deg, self.dz));
        let image = about(&wedge, self.rS, -self.thetaS_deg, 0.0);
        let diffraction = wedge.diffraction(source, point, &[[0.0, wedge.length]]);
        let apart = self.thetaR_deg - self.thetaS_deg;
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
            if self.thetaS_deg + self.thetaR_deg < 180.0 {
                field += free(image.distance(point), wavenumber);
            }
            Some(field)
        };
        self.f.iter().filter_map(field).collect()
    }
}

/// The exact solution of Macdonald, in light and shadow, oblique, grazing, a third of a degree beside either boundary: within 0.05 dB of the
/// field where something free arrives or the field is not deep in the shadow, 0.1 dB wherever.
#[test]
fn exact_half_planes() {
    let HalfPlanes { c, cases } = half_planes();
    let mut compared = 0;
    for case in &cases {
        for ((ours, frequency), [re, im]) in case.ours(c).into_iter().zip(&case.f).zip(&case.total_re_im) {
            let difference = 20.0 * (ours.length() / re.hypot(*im)).log10();
            println!("{} {frequency} {difference:+.4}", case.case);
            assert!(difference.abs() < 0.1, "{}, {frequency} Hz: {difference:+.3} dB", case.case);
            compared += 1;
        }
    }
    assert!(compared >= 80, "{compared}");
}

/// On the boundary of the shadow the field goes over from either side, though direct sound comes and goes there.
#[test]
fn exact_at_the_boundary_of_the_shadow() {
    let HalfPlanes { c, cases } = half_planes();
    let case = cases.iter().find(|case| case.case.starts_with("at the shadow boundary")).expect("it is among the cases");
    for (side, degrees) in [("lit", -1e-7), ("dark", 1e-7)] {
        let beside =
            HalfPlane { thetaR_deg: case.thetaR_deg + degrees, case: side.to_owned(), f: case.f.clone(), total_re_im: Vec::new(), ..*case };
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

fn plates() -> Plates {
    serde_json::from_str(include_str!("cases/edges/plate.json")).expect("the cases can be read")
}

fn decibels(one: DVec2, other: [f64; 2]) -> f64 {
    20.0 * (one.length() / DVec2::from_array(other).length()).log10()
}

/// A rigid square plate, against boundary elements (how: in the file of the cases): within 1 dB wherever `k x half the side` is 3 or more, lit and dark, low and
/// oblique, near and far. Single bends alone equal the line integral of an independent program; they miss by up to 5 dB where what arrives is weak.
#[test]
fn exact_field_about_a_rigid_plate() {
    let plates = plates();
    let about = AboutPlate::new(plates.half_size_m);
    let (mut worst, mut compared) = (0.0_f64, 0);
    for case in &plates.cases {
        let (source, point) = (DVec3::from_array(case.source), DVec3::from_array(case.receiver));
        let bends = about.bends(source, point);
        for ((&k_half, bem), first) in case.k_half.iter().zip(&case.total_re_im).zip(&case.first_order_re_im) {
            let k = k_half / plates.half_size_m;
            let of = |twice: bool| -> DVec2 {
                bends
                    .iter()
                    .filter(|bend| twice != (bend.points[0] == bend.points[1]))
                    .map(|bend| bend.diffraction.pressure(k, [1.0; 2]))
                    .sum()
            };
            let once = about.geometric(source, point, k) + of(false);
            assert!(once.distance(DVec2::from_array(*first)) < 2e-3 * first[0].hypot(first[1]).max(0.1), "{}, {k_half}: {once}", case.case);
            let difference = decibels(once + of(true), *bem);
            println!("{} {k_half}: {difference:+.2} dB, once {:+.2} dB", case.case, decibels(once, *bem));
            if k_half >= 3.0 {
                worst = worst.max(difference.abs());
                compared += 1;
            }
        }
    }
    assert!(compared >= 63 && worst < 1.0, "{compared} compared, worst {worst:.2} dB");
}

#[test]
fn exact_reciprocity_of_bends() {
    let about = AboutPlate::new(0.5);
    for case in &plates().cases {
        let (source, point) = (DVec3::from_array(case.source), DVec3::from_array(case.receiver));
        for k in [2.0, 20.0, 100.0] {
            let [there, back]: [DVec2; 2] = [about.bends(source, point), about.bends(point, source)].map(|bends| {
                bends.iter().filter(|bend| bend.points[0] == bend.points[1]).map(|bend| bend.diffraction.pressure(k, [0.9, 0.4])).sum()
            });
            assert!(there.distance(back) < 1e-9, "{}, {k}: {there} and {back}", case.case);
        }
    }
}
