//! Soups of triangles: what is mended, what is refused and in which words, and that a room drawn so is the room of a scene.

use glam::DVec3;
use roomwright::absorbers::Finish;
use roomwright::air::Medium;
use roomwright::bands::Bands;
use roomwright::geometry::Polygon;
use roomwright::mesh::diagnostic::IDS;
use roomwright::mesh::{Diagnostic, Mesh, Severity, Triangle, VolumeSum, close};
use roomwright::progress::Progress;
use roomwright::random::{Purpose, Stream};
use roomwright::room::{Room, of_mesh};
use roomwright::settings::Settings;

pub(crate) mod same; // a room of a scene and the same room as a soup

/// Air as in the closed forms: 343 m/s, nothing absorbed.
pub(crate) fn plain_air() -> Medium {
    let mut medium = Medium::new(20.0, 50.0, 101.325);
    medium.speed = 343.0;
    medium.attenuation = Bands::splat(0.0);
    medium
}

/// The twelve triangles of a box, seen from outside.
pub(crate) fn cuboid(low: DVec3, high: DVec3, finish: usize) -> Vec<Triangle> {
    let mut soup = Vec::new();
    for axis in 0..3 {
        let size = high - low;
        let (one, other) = (DVec3::AXES[(axis + 1) % 3] * size, DVec3::AXES[(axis + 2) % 3] * size);
        let far = low + DVec3::AXES[axis] * size;
        soup.extend(quad([far, far + one, far + one + other, far + other], finish));
        soup.extend(quad([low, low + other, low + one + other, low + one], finish));
    }
    soup
}

/// Two triangles.
pub(crate) fn quad([a, b, c, d]: [DVec3; 4], finish: usize) -> [Triangle; 2] {
    [[a, b, c], [a, c, d]].map(|corners| Triangle { corners, finish })
}

/// A box of 5 x 4 x 3 m.
fn room_box() -> Vec<Triangle> {
    cuboid(DVec3::ZERO, DVec3::new(5.0, 4.0, 3.0), 0)
}

/// Every triangle in four, so many times.
pub(crate) fn split(soup: &[Triangle], times: u32) -> Vec<Triangle> {
    let quarter = |triangle: &Triangle| {
        let [a, b, c] = triangle.corners;
        let (ab, bc, ca) = (a.midpoint(b), b.midpoint(c), c.midpoint(a));
        [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]].map(|corners| Triangle { corners, ..*triangle })
    };
    (0..times).fold(soup.to_vec(), |soup, _| soup.iter().flat_map(quarter).collect())
}

/// In another order, each begun at another corner, and, if asked for, turned at random.
fn shuffled(soup: &[Triangle], seed: u64, turn: bool) -> Vec<Triangle> {
    let mut random = Stream::new(seed, Purpose::Search, 0);
    let mut below = |count: usize| (random.unit() * count as f64) as usize;
    let mut soup = soup.to_vec();
    for last in (1..soup.len()).rev() {
        soup.swap(last, below(last + 1));
    }
    for triangle in &mut soup {
        triangle.corners.rotate_left(below(3));
        if turn && below(2) == 1 {
            triangle.corners.swap(1, 2);
        }
    }
    soup
}

#[track_caller]
fn closed(soup: &[Triangle], finishes: usize) -> Mesh {
    close(soup, finishes).unwrap_or_else(|found| panic!("{}", told(&found)))
}

fn told(found: &[Diagnostic]) -> String {
    found.iter().map(|one| format!("{one}\n")).collect()
}

fn ids(found: &[Diagnostic]) -> Vec<&'static str> {
    found.iter().map(|one| one.id).collect()
}

fn note<'a>(mesh: &'a Mesh, id: &str) -> &'a Diagnostic {
    mesh.notes.iter().find(|note| note.id == id).unwrap_or_else(|| panic!("no {id} in {}", told(&mesh.notes)))
}

fn area(mesh: &Mesh) -> f64 {
    mesh.faces.iter().map(|face| face.outline.area()).sum()
}

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b}");
}

/// The same faces, wherever they stand in the list that was given.
fn alike(a: &Mesh, b: &Mesh) {
    assert_eq!((a.faces.len(), a.volume, a.is_shell_convex), (b.faces.len(), b.volume, b.is_shell_convex));
    for (a, b) in a.faces.iter().zip(&b.faces) {
        assert_eq!((a.chart, &a.outline, a.shell, a.finish), (b.chart, &b.outline, b.shell, b.finish));
    }
}

// What is mended.

#[test]
fn exact_shoebox_of_ten_thousand_triangles() {
    let soup = split(&room_box(), 5);
    assert_eq!(soup.len(), 12 * 1024);
    let mesh = closed(&soup, 1);
    assert_eq!(mesh.faces.len(), 6);
    near(mesh.volume, 60.0, 1e-9);
    near(area(&mesh), 94.0, 1e-9);
    assert!(mesh.is_shell_convex && mesh.faces.iter().all(|face| !face.protrudes && face.shell == 0 && face.outline.corners.len() == 4));
    for face in &mesh.faces {
        // Seen from the middle of the air, every face looks to it; positions are positive.
        assert!(face.chart.height(DVec3::new(2.5, 2.0, 1.5)) > 0.0);
        assert!(face.outline.bounds().0.length() < 1e-12);
        near(face.chart.right.cross(face.chart.up).dot(face.chart.normal), 1.0, 1e-12);
        near(face.outline.area(), face.whole_area, 1e-9);
    }
    for seed in 1..4 {
        alike(&mesh, &closed(&shuffled(&soup, seed, true), 1));
    }
}

#[test]
fn keeps_count_of_what_has_no_area_and_of_what_is_twice_there() {
    let mut soup = split(&room_box(), 1);
    let whole = closed(&soup, 1);
    let [a, b, c] = soup[5].corners;
    // A point, a line, a needle thinner than a weld; one face again, and once more turned and 17 micrometers off.
    soup.push(Triangle { corners: [a, a, a], finish: 0 });
    soup.push(Triangle { corners: [a, b, a.midpoint(b)], finish: 0 });
    soup.push(Triangle { corners: [a, b, a.midpoint(b) + 1.5e-5 * DVec3::ONE.cross(b - a).normalize_or(DVec3::Z)], finish: 0 });
    soup.push(soup[5]);
    soup.push(Triangle { corners: [b + 1e-5, a, c + 1e-5], finish: 0 });
    let mesh = closed(&soup, 1);
    alike(&mesh, &whole);
    assert_eq!(note(&mesh, "mesh-zero-area").faces, [48, 49, 50]);
    assert_eq!(note(&mesh, "mesh-duplicate").faces.len(), 2);
    assert!(mesh.notes.iter().all(|note| note.severity == Severity::Note));
}

#[test]
fn keeps_normals_into_the_air_whichever_way_faces_were_given() {
    let table = cuboid(DVec3::new(1.0, 1.0, 0.7), DVec3::new(2.0, 1.6, 0.75), 0);
    let soup = [room_box(), table].concat();
    let mesh = closed(&soup, 1);
    assert_eq!(
        note(&mesh, "mesh-turned").faces,
        (0..12).collect::<Vec<_>>(),
        "the room's faces were given outwards, the table's into the air"
    );
    near(mesh.volume, 60.0 - 0.03, 1e-9);
    assert_eq!(mesh.faces.iter().map(|face| face.shell).collect::<Vec<_>>(), [[0; 6], [1; 6]].concat());
    for face in &mesh.faces {
        let middle = face.chart.point(face.outline.centroid());
        let way = if face.shell == 0 { DVec3::new(2.5, 2.0, 1.5) - middle } else { middle - DVec3::new(1.5, 1.3, 0.725) };
        assert!(way.dot(face.chart.normal) > 0.0);
        assert_eq!(face.protrudes, face.shell == 1);
    }
    for seed in 1..6 {
        alike(&mesh, &closed(&shuffled(&soup, seed, true), 1));
    }
}

#[test]
fn exact_corners_on_the_edges_of_others() {
    // Floor whole, one wall in three strips, the next in a fan, the ceiling in small triangles.
    let (x, y, z) = (DVec3::X * 5.0, DVec3::Y * 4.0, DVec3::Z * 3.0);
    let mut soup: Vec<Triangle> = quad([DVec3::ZERO, x, x + y, y], 0).to_vec();
    for (from, to) in [(0.0, 0.3), (0.3, 0.35), (0.35, 1.0)] {
        soup.extend(quad([x * from, x * to, x * to + z, x * from + z], 0));
    }
    for step in 0..7 {
        let at = |step: i32| x + y * (f64::from(step) / 7.0);
        soup.push(Triangle { corners: [at(step), at(step + 1), x + y + z], finish: 0 });
    }
    soup.push(Triangle { corners: [x, x + z, x + y + z], finish: 0 });
    soup.extend(quad([y, x + y, x + y + z, y + z], 0));
    soup.extend(quad([DVec3::ZERO, y, y + z, z], 0));
    soup.extend(split(&quad([z, x + z, x + y + z, y + z], 0), 3));
    let mesh = closed(&shuffled(&soup, 1, true), 1);
    assert_eq!(mesh.faces.len(), 6);
    near(mesh.volume, 60.0, 1e-9);
    assert!(mesh.faces.iter().all(|face| face.outline.corners.len() == 4));
}

/// A floor with blocks standing on it has as many holes: cut so that every part is simple and nothing is lost or doubled.
#[test]
fn exact_floor_with_holes() {
    let mut random = Stream::new(7, Purpose::Search, 0);
    for trial in 0..20 {
        let cells = 1 + trial % 4;
        let (mut soup, mut taken, mut filled) = (Vec::new(), 0.0, 0.0);
        // A grid over the floor, in some of whose cells a block stands; around it the floor in four strips.
        let (width, depth) = (5.0 / f64::from(cells), 4.0 / f64::from(cells));
        for cell in 0..cells * cells {
            let low = DVec3::new(f64::from(cell % cells) * width, f64::from(cell / cells) * depth, 0.0);
            let high = low + DVec3::new(width, depth, 0.0);
            let flat = |x0: f64, y0: f64, x1: f64, y1: f64| {
                let at = |x, y| DVec3::new(x, y, 0.0);
                quad([at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)], 0)
            };
            if random.unit() < 0.3 {
                soup.extend(flat(low.x, low.y, high.x, high.y));
                continue;
            }
            let share = |random: &mut Stream| 0.1 + 0.35 * random.unit();
            let a = low + DVec3::new(width * share(&mut random), depth * share(&mut random), 0.0);
            let b = high - DVec3::new(width * share(&mut random), depth * share(&mut random), 0.0);
            soup.extend(flat(low.x, low.y, high.x, a.y));
            soup.extend(flat(low.x, b.y, high.x, high.y));
            soup.extend(flat(low.x, a.y, a.x, b.y));
            soup.extend(flat(b.x, a.y, high.x, b.y));
            let top = b + DVec3::Z * 0.8;
            soup.extend(cuboid(a, top, 0).into_iter().filter(|face| face.corners.iter().any(|corner| corner.z > 0.0)));
            taken += (b.x - a.x) * (b.y - a.y);
            filled += (b.x - a.x) * (b.y - a.y) * 0.8;
        }
        let ceiling = room_box().into_iter().filter(|face| face.corners.iter().any(|corner| corner.z > 0.0));
        soup.extend(ceiling);
        let mesh = closed(&shuffled(&split(&soup, 2), trial as u64, true), 1);
        near(mesh.volume, 60.0 - filled, 1e-9);
        let floor: Vec<&Polygon> =
            mesh.faces.iter().filter(|face| face.chart.point(face.outline.centroid()).z.abs() < 1e-9).map(|face| &face.outline).collect();
        near(floor.iter().map(|outline| outline.area()).sum(), 20.0 - taken, 1e-9);
        assert!(mesh.faces.iter().all(|face| face.outline.is_simple() && face.outline.area() > 0.0), "trial {trial}");
        // Without blocks one piece, else as few as cuts need: never back to triangles.
        assert!(floor.len() <= 1 + 2 * (cells * cells) as usize, "{} parts of the floor", floor.len());
        // Points of the air, and of what is not, as the blocks tell.
        let room = of_mesh(&mesh, &[even(0.1)], plain_air(), 0.1);
        assert!(
            room.contains(DVec3::new(1.0, 1.0, 2.0))
                && !room.contains(DVec3::new(1.0, 1.0, 3.1))
                && !room.contains(DVec3::new(-0.1, 1.0, 1.0))
        );
        let solid = |point: DVec3| point.z < 0.8 && !floor_holds(&mesh, point);
        for _ in 0..200 {
            let point = DVec3::new(5.0 * random.unit(), 4.0 * random.unit(), 3.0 * random.unit());
            assert_eq!(room.contains(point), !solid(point), "{point}");
        }
    }
}

/// Whether a point stands over a part of the floor.
fn floor_holds(mesh: &Mesh, point: DVec3) -> bool {
    let parts = mesh.faces.iter().filter(|face| face.chart.normal.z > 0.5 && face.chart.origin.z.abs() < 1e-9);
    parts.into_iter().any(|face| face.outline.winds(face.chart.position(point)))
}

fn even(absorption: f64) -> Finish {
    Finish::uniform("even", Bands::splat(absorption), Bands::splat(0.3))
}

#[test]
fn keeps_faces_of_other_finishes_apart() {
    let mut soup = room_box();
    // One of the two triangles of a wall is curtain.
    soup[4].finish = 1;
    let mesh = closed(&split(&soup, 3), 2);
    assert_eq!(mesh.faces.len(), 7);
    assert_eq!(mesh.faces.iter().filter(|face| face.finish == 1).count(), 1);
    near(area(&mesh), 94.0, 1e-9);
    assert!(mesh.is_shell_convex);
}

#[test]
fn keeps_a_table_that_stands_on_the_floor_with_its_underside() {
    let table = cuboid(DVec3::new(1.0, 1.0, 0.0), DVec3::new(2.0, 1.6, 0.75), 0);
    let mesh = closed(&split(&[room_box(), table].concat(), 2), 1);
    let room = of_mesh(&mesh, &[even(0.1)], plain_air(), 0.1);
    near(room.volume, 60.0 - 0.45, 1e-9);
    // Floor and underside lie on one another: 0.6 m2 of each meets no air.
    let open: f64 = (0..room.surfaces.len()).map(|surface| room.open_area(surface)).sum();
    near(open, 94.0 + 2.0 * 1.6 * 0.75, 1e-9);
    assert!(!room.contains(DVec3::new(1.5, 1.3, 0.4)) && room.contains(DVec3::new(1.5, 1.3, 0.8)));
}

/// Corners in single precision, as files hold them.
#[test]
fn keeps_a_room_whose_corners_are_rounded() {
    let turn = glam::DQuat::from_euler(glam::EulerRot::XYZ, 0.3, 0.2, 0.7);
    let rounded = |corner: DVec3| (turn * corner + DVec3::new(13.0, 7.0, 2.0)).as_vec3().as_dvec3();
    let table = cuboid(DVec3::new(1.0, 1.0, 0.7), DVec3::new(2.0, 1.6, 0.75), 0);
    let soup: Vec<Triangle> = split(&[room_box(), table].concat(), 4)
        .into_iter()
        .map(|triangle| Triangle { corners: triangle.corners.map(rounded), ..triangle })
        .collect();
    let mesh = closed(&shuffled(&soup, 3, true), 1);
    assert_eq!(mesh.faces.len(), 12, "each plane is one face");
    assert!(mesh.faces.iter().all(|face| face.outline.corners.len() == 4));
    near(mesh.volume, 59.97, 1e-4);
    assert!(mesh.is_shell_convex);
}

// What is refused.

#[track_caller]
fn refused(soup: &[Triangle]) -> Vec<Diagnostic> {
    let found = close(soup, 1).expect_err("this must be refused");
    for one in &found {
        assert!(IDS.iter().any(|(id, _)| *id == one.id), "{} is not in the list", one.id);
        assert!(one.severity == Severity::Note || one.hint.is_some(), "{one}");
    }
    found
}

/// The leaks of a soup, each as (width in the message, what stands in it).
#[track_caller]
fn leaks(soup: &[Triangle]) -> Vec<Diagnostic> {
    refused(soup).into_iter().filter(|one| one.id == "mesh-leak").collect()
}

#[test]
fn keeps_a_word_on_a_gap_of_a_millimeter() {
    // A wall that stands a millimeter off the rest: a gap all round it.
    for times in [0, 2, 5] {
        let mut soup = split(&room_box(), times);
        for triangle in &mut soup {
            if triangle.corners.iter().all(|corner| corner.x == 5.0) {
                triangle.corners = triangle.corners.map(|corner| corner + DVec3::X * 1e-3);
            }
        }
        let found = leaks(&shuffled(&soup, 5, true));
        assert_eq!(found.len(), 1, "{}", told(&found));
        let text = found[0].to_string();
        assert!(text.contains("a gap 1.00 mm wide") && text.contains("border 14.000 m long") && text.contains("140.0 cm2"), "{text}");
        near(found[0].at.expect("a place").x, 5.0, 1.1e-3);
        assert!(text.contains("hint: close it"));
    }
    // A slit of 1 mm by 0.8 m in a wall.
    let (low, high) = (DVec3::new(0.0, 1.0, 1.0), DVec3::new(0.0, 1.001, 1.8));
    let mut soup: Vec<Triangle> = room_box().into_iter().filter(|face| face.corners.iter().any(|corner| corner.x > 0.0)).collect();
    let at = |y: f64, z: f64| DVec3::new(0.0, y, z);
    for (y0, z0, y1, z1) in [(0.0, 0.0, 4.0, low.z), (0.0, high.z, 4.0, 3.0), (0.0, low.z, low.y, high.z), (high.y, low.z, 4.0, high.z)] {
        soup.extend(quad([at(y0, z0), at(y0, z1), at(y1, z1), at(y1, z0)], 0));
    }
    let found = leaks(&soup);
    assert_eq!(found.len(), 1, "{}", told(&found));
    assert!(found[0].message.contains("a hole 1.00 mm wide, its border 1.602 m long, 8.0 cm2 in area; its volume depends"), "{}", found[0]);
    near(found[0].at.expect("a place").distance(DVec3::new(0.0, 1.0, 1.4)), 0.0, 2e-3);
    // Narrower than a weld: none.
    let mut soup = room_box();
    soup[0].corners[1] += DVec3::Y * 1e-5;
    near(closed(&soup, 1).volume, 60.0, 1e-3);
}

#[test]
fn keeps_a_word_on_every_hole() {
    let mut soup = split(&room_box(), 3);
    // The first and the last triangle are missing: side lengths 5/8 and 4/8 m about a right angle and so on.
    soup.remove(0);
    soup.pop();
    let found = leaks(&soup);
    assert_eq!(found.len(), 2, "{}", told(&found));
    assert!(found.iter().all(|one| one.message.contains("a hole") && one.faces.len() >= 2));
    // Every face by itself, a tenth of a millimeter from its neighbors: twenty are told, the others counted.
    let apart: Vec<Triangle> = split(&room_box(), 4)
        .into_iter()
        .map(|triangle| {
            let middle = triangle.corners.iter().sum::<DVec3>() / 3.0;
            Triangle { corners: triangle.corners.map(|corner| corner.lerp(middle, 1e-3)), ..triangle }
        })
        .collect();
    let found = leaks(&apart);
    assert_eq!(found.len(), 21);
    assert!(found[20].message.contains("open in 3052 more places"), "{}", found[20]);
    // A wall that is not there.
    let soup: Vec<Triangle> = room_box().into_iter().filter(|face| face.corners.iter().any(|corner| corner.z > 0.0)).collect();
    let found = leaks(&split(&soup, 2));
    assert_eq!(found.len(), 1);
    assert!(found[0].message.contains("a hole 4.000 m wide, its border 18.000 m long, 20.000 m2 in area"), "{}", found[0]);
    assert!(found[0].message.contains("by 6.67e0 m3 a meter"), "a third of 20 m2: {}", found[0]);
}

/// A hole that nobody told of is seen by the rays that leave through it: of those from the middle of a cube without a lid, a sixth.
#[test]
fn exact_share_of_rays_that_leave_through_a_hole() {
    let soup = cuboid(DVec3::ZERO, DVec3::splat(3.0), 0);
    let mut room = of_mesh(&closed(&soup, 1), &[even(0.1)], plain_air(), 0.5);
    crate::rays::furnish(&mut room, &[DVec3::splat(1.5)], &[DVec3::new(1.0, 1.1, 1.2)]);
    // The record ends before any ray has met its first wall, whose distance is looked for all the same.
    let traced = |room: &Room| {
        let settings = Settings { rays: 20_000, image_order: 0, ..Settings::DEFAULT };
        let paths = roomwright::rays::trace(&Progress::new(), room, &settings, 1e-3).expect("nobody cancels");
        paths.escaped as f64 / paths.traced as f64
    };
    assert_eq!(traced(&room), 0.0);
    room.surfaces.retain(|surface| surface.chart.normal.z > -0.5);
    assert_eq!(room.surfaces.len(), 5);
    // Four standard errors of a share of 20,000.
    near(traced(&room), 1.0 / 6.0, 4.0 * (1.0 / 6.0 * 5.0 / 6.0 / 20_000.0_f64).sqrt());
}

/// The volume of an open surface depends on where it is seen from, that of a closed one does not.
#[test]
fn exact_volume_from_anywhere() {
    let soup = split(&room_box(), 2);
    let (whole, open) = (VolumeSum::of(&soup), VolumeSum::of(&soup[1..]));
    near(whole.volume, 60.0, 1e-9);
    for reference in [DVec3::ZERO, DVec3::new(2.0, 1.0, 1.0), DVec3::new(-30.0, 70.0, 110.0)] {
        near(whole.seen_from(reference), 60.0, 1e-9);
        let moved: Vec<Triangle> =
            soup[1..].iter().map(|triangle| Triangle { corners: triangle.corners.map(|corner| corner - reference), ..*triangle }).collect();
        near(open.seen_from(reference), VolumeSum::of(&moved).volume, 1e-9);
    }
    assert!((open.seen_from(DVec3::ZERO) - open.seen_from(DVec3::X)).abs() > 0.1);
}

#[test]
fn keeps_a_word_on_every_mistake() {
    let outer = room_box();
    let with = |more: Vec<Triangle>| [room_box(), more].concat();
    let small = |x: f64, size: f64| cuboid(DVec3::new(x, 1.0, 1.0), DVec3::new(x + size, 1.0 + size, 1.0 + size), 0);
    // A strip whose ends are joined with half a turn.
    let strip = |step: i32| {
        let angle = std::f64::consts::TAU * f64::from(step) / 12.0;
        let (sin, cos) = angle.sin_cos();
        let (half_sin, half_cos) = (angle / 2.0).sin_cos();
        let middle = DVec3::new(cos, sin, 0.0);
        let side = DVec3::new(half_cos * cos, half_cos * sin, half_sin) * 0.3;
        [middle - side, middle + side]
    };
    let twisted: Vec<Triangle> = (0..12)
        .flat_map(|step| {
            let ([a, b], [c, d]) = (strip(step), if step == 11 { [strip(0)[1], strip(0)[0]] } else { strip(step + 1) });
            quad([a, b, d, c], 0)
        })
        .collect();
    let wall = quad([DVec3::ZERO, DVec3::X * 5.0, DVec3::new(5.0, 4.0, 0.0), DVec3::Y * 4.0], 0);
    let sheet = |z: f64, flip: bool| {
        let [a, b, c, d] = [(1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0)].map(|(x, y)| DVec3::new(x, y, z));
        quad(if flip { [b, c, d, a] } else { [a, b, c, d] }, 0)
    };
    let mut broken = outer.clone();
    broken[3].corners[1].y = f64::NAN;
    let mut unknown = outer.clone();
    unknown[7].finish = 4;
    let mut two = outer.clone();
    two.push(Triangle { finish: 1, ..two[2] });
    let huge: Vec<Triangle> = outer.iter().map(|one| Triangle { corners: one.corners.map(|corner| corner * 1000.0), ..*one }).collect();
    // A sheet across the room: its four edges lie on walls.
    let partition = quad([DVec3::new(2.0, 0.0, 0.0), DVec3::new(2.0, 4.0, 0.0), DVec3::new(2.0, 4.0, 3.0), DVec3::new(2.0, 0.0, 3.0)], 0);
    // A sheet within a solid, from one edge to the opposite one.
    let within =
        quad([DVec3::new(1.0, 1.0, 1.0), DVec3::new(2.0, 1.0, 1.0), DVec3::new(2.0, 2.0, 2.0), DVec3::new(1.0, 2.0, 2.0)], 0).to_vec();
    // Two bars across each other, no corner of either in the other.
    let bar = |way: DVec3, half: f64| cuboid(DVec3::new(2.0, 2.0, 1.5) - way - half, DVec3::new(2.0, 2.0, 1.5) + way + half, 0);
    let cases: [(&str, Vec<Triangle>); 14] = [
        ("mesh-empty", vec![Triangle { corners: [DVec3::ZERO; 3], finish: 0 }]),
        ("mesh-not-a-number", broken),
        ("mesh-finish-unknown", unknown),
        ("mesh-two-finishes", two),
        ("mesh-size", huge),
        ("mesh-leak", outer[1..].to_vec()),
        ("mesh-leak", with(partition.to_vec())),
        ("mesh-edge-shared", with([small(1.0, 1.0), within].concat())),
        ("mesh-one-sided", twisted),
        ("mesh-no-volume", with([sheet(1.0, false), sheet(1.0, true)].concat())),
        ("mesh-apart", with(small(7.0, 1.0))),
        ("mesh-shells-cross", with(small(4.5, 1.0))),
        ("mesh-shells-cross", with([bar(DVec3::X, 0.1), bar(DVec3::Z, 0.09)].concat())),
        ("mesh-shells-cross", with([small(1.0, 1.0), cuboid(DVec3::splat(1.5), DVec3::splat(2.5), 0)].concat())),
    ];
    for (id, soup) in cases {
        let found = close(&soup, 1).expect_err(id);
        assert!(ids(&found).contains(&id), "{id} is not among {}", told(&found));
        // In any order and turned in any way the same mistakes.
        assert_eq!(ids(&found), ids(&refused(&shuffled(&soup, 9, true))));
    }
    assert_eq!(close(&[], 1).expect_err("nothing")[0].id, "mesh-empty");
    // What is only noted.
    let sealed = closed(&with([small(1.0, 1.0), small(1.2, 0.3)].concat()), 1);
    assert_eq!(note(&sealed, "mesh-sealed").faces.len(), 12);
    near(sealed.volume, 59.0, 1e-9);
    // The floor a second time, cut along the other diagonal, is a mistake, not a duplicate.
    let [a, b, c, d] = [DVec3::ZERO, DVec3::Y * 4.0, DVec3::new(5.0, 4.0, 0.0), DVec3::X * 5.0];
    assert!(ids(&refused(&with(quad([b, c, d, a], 0).to_vec()))).contains(&"mesh-edge-shared"));
    assert_eq!(note(&closed(&with(wall.to_vec()), 1), "mesh-duplicate").faces.len(), 2);
}

#[test]
fn keeps_all_mistakes_of_a_soup_in_one_answer() {
    let mut soup = split(&room_box(), 1);
    soup[0].corners[0].x = f64::INFINITY;
    soup[30].finish = 9;
    soup.push(Triangle { finish: 0, ..soup[20] });
    soup.push(Triangle { corners: [DVec3::ZERO; 3], finish: 0 });
    let found = refused(&soup);
    assert_eq!(ids(&found), ["mesh-not-a-number", "mesh-finish-unknown", "mesh-zero-area", "mesh-duplicate", "mesh-leak"]);
    assert_eq!(found[0].faces, [0]);
    assert_eq!(found[1].faces, [30]);
    assert!(found[1].to_string().contains("face 31\n  hint: give every face one of the finishes"));
}

#[test]
fn keeps_a_list_of_ids_in_order() {
    assert!(IDS.windows(2).all(|pair| pair[0].0 < pair[1].0));
}

/// More surfaces than a stored bounce can name.
#[test]
fn keeps_a_word_on_too_many_surfaces() {
    let found = close(&sphere(6, 2.0), 1).expect_err("81,920 faces");
    let last = found.last().expect("a mistake");
    assert_eq!(last.id, "mesh-too-many");
    assert!(last.message.contains("81920 flat surfaces") && last.message.contains("65535"), "{last}");
}

/// An icosahedron, its triangles in four so many times, the corners on a sphere about the origin.
pub(crate) fn sphere(times: u32, radius: f64) -> Vec<Triangle> {
    let golden = (1.0 + 5.0_f64.sqrt()) / 2.0;
    let mut corners = Vec::new();
    for (a, b) in [(1.0, golden), (-1.0, golden), (1.0, -golden), (-1.0, -golden)] {
        corners.extend([DVec3::new(0.0, a, b), DVec3::new(a, b, 0.0), DVec3::new(b, 0.0, a)]);
    }
    let is_edge = |i: usize, j: usize| corners[i].distance(corners[j]) < 2.1;
    let mut soup = Vec::new();
    for i in 0..12 {
        for j in i + 1..12 {
            for k in j + 1..12 {
                if is_edge(i, j) && is_edge(j, k) && is_edge(k, i) {
                    soup.push(Triangle { corners: [corners[i], corners[j], corners[k]], finish: 0 });
                }
            }
        }
    }
    assert_eq!(soup.len(), 20);
    let onto = |corner: DVec3| corner * (radius / corner.length());
    for triangle in &mut soup {
        triangle.corners = triangle.corners.map(onto);
    }
    for _ in 0..times {
        soup = split(&soup, 1);
        for triangle in &mut soup {
            triangle.corners = triangle.corners.map(onto);
        }
    }
    soup
}
