//! Flutter between facing surfaces: closed forms, what is bare, what stands between, where to clap.

use glam::{DVec2, DVec3};
use roomwright::absorbers::Finish;
use roomwright::air::Medium;
use roomwright::bands::{Band, Bands};
use roomwright::findings::Flutter;
use roomwright::findings::flutter::flutter;
use roomwright::geometry::{Chart, Polygon};
use roomwright::hanging::{Hanging, Patch};
use roomwright::room::{Bodies, Contact, Lining, Role, Room, Surface};

use crate::validation::{Check, hold};

/// Absorbs the same at every angle and scatters nothing.
fn uniform(absorption: f64) -> Finish {
    Finish::uniform("uniform", Bands::splat(absorption), Bands::splat(0.0))
}

fn surface(name: &str, role: Role, chart: Chart, corners: &[DVec3], finish: usize) -> Surface {
    let outline = Polygon::new(corners.iter().map(|&corner| chart.position(corner)).collect());
    Surface { name: name.to_owned(), role, chart, outline, finish, linings: Vec::new(), edge_scattering: Bands::splat(0.0) }
}

/// A room with upright walls over a counterclockwise floor plan: walls `wall 0`..., `floor`, `ceiling`. Surface `i` has finish `i`.
fn prism(plan: &[(f64, f64)], height: f64, absorption: impl Fn(usize) -> f64) -> Room {
    let corners: Vec<DVec3> = plan.iter().map(|&(x, y)| DVec3::new(x, y, 0.0)).collect();
    let top = DVec3::Z * height;
    let n = corners.len();
    let mut surfaces = Vec::new();
    for index in 0..n {
        let (a, b) = (corners[index], corners[(index + 1) % n]);
        let chart = Chart::new(b, (a - b).try_normalize().expect("a wall has a length"), DVec3::Z);
        surfaces.push(surface(&format!("wall {index}"), Role::Wall(index), chart, &[a, b, b + top, a + top], index));
    }
    surfaces.push(surface("floor", Role::Floor, Chart::new(DVec3::ZERO, DVec3::X, DVec3::Y), &corners, n));
    let raised: Vec<DVec3> = corners.iter().map(|&corner| corner + top).collect();
    surfaces.push(surface("ceiling", Role::Ceiling(0), Chart::new(top, DVec3::X, -DVec3::Y), &raised, n + 1));
    Room {
        finishes: (0..n + 2).map(|index| uniform(absorption(index))).collect(),
        surfaces,
        volume: 0.0,
        sources: Vec::new(),
        receivers: Vec::new(),
        medium: Medium { speed: 343.0, density: 1.2041, attenuation: Bands::splat(0.0) },
        solids: Vec::new(),
        contacts: Vec::new(),
        bodies: Bodies::Standing,
        takes_patches: false,
        is_shell_convex: true,
        patches: std::sync::Arc::new(roomwright::room::PatchGrid::new(&[], 0.1)),
    }
}

/// `x` by 4 m and 2.4 m high; walls 1 and 3 face each other along x.
fn shoebox(x: f64, absorption: impl Fn(usize) -> f64) -> Room {
    prism(&[(0.0, 0.0), (x, 0.0), (x, 4.0), (0.0, 4.0)], 2.4, absorption)
}

fn block(room: &mut Room, low: DVec3, high: DVec3) {
    let (x, y, z) = (DVec3::X, DVec3::Y, DVec3::Z);
    let faces =
        [("top", low.with_z(high.z), x, y), ("west", low, -y, z), ("east", high, y, z), ("south", low, x, z), ("north", high, -x, z)];
    let corners: Vec<DVec3> =
        (0..8).map(|i| DVec3::new([low.x, high.x][i & 1], [low.y, high.y][i >> 1 & 1], [low.z, high.z][i >> 2])).collect();
    for (name, origin, right, up) in faces {
        let chart = Chart::new(origin, right, up);
        let mut on: Vec<DVec2> =
            corners.iter().filter(|&&corner| chart.height(corner).abs() < 1e-9).map(|&corner| chart.position(corner)).collect();
        on.swap(2, 3);
        room.surfaces.push(Surface {
            name: format!("block, {name}"),
            role: Role::Block(0),
            chart,
            outline: Polygon::new(on),
            finish: 0,
            linings: Vec::new(),
            edge_scattering: Bands::splat(0.0),
        });
    }
}

fn between<'a>(found: &'a [Flutter], a: &str, b: &str) -> Option<&'a Flutter> {
    found.iter().find(|one| one.between == [a.to_owned(), b.to_owned()] || one.between == [b.to_owned(), a.to_owned()])
}

fn unknown() -> Bands<Option<f64>> {
    Bands::splat(None)
}

/// A panel on a surface of the room, in meters along x or y and z of the room.
fn panel(room: &Room, surface: usize, low: DVec3, high: DVec3) -> Patch {
    let chart = room.surfaces[surface].chart;
    let (a, b) = (chart.position(low), chart.position(high));
    Patch { surface, region: Polygon::rectangle(a.min(b), a.max(b)), finish: 0 }
}

/// Distances of two walls, m, what they absorb, and how long their flutter takes to fall by 60 dB, ms.
const RINGING: [(f64, f64, f64); 6] =
    [(3.0, 0.05, 2356.0), (3.0, 0.1, 1147.0), (3.0, 0.2, 542.0), (4.0, 0.05, 3141.0), (4.0, 0.1, 1529.0), (4.0, 0.2, 722.0)];

/// Flutter of a box where all but the two walls swallow everything.
fn of_two_walls(distance: f64, absorption: f64) -> Vec<Flutter> {
    flutter(&shoebox(distance, |index| if index == 1 || index == 3 { absorption } else { 1.0 }), &Hanging::default(), unknown())
}

/// Decay of flutter between two walls, the octave farthest off.
pub(crate) fn decays() -> Vec<Check> {
    let row = |(distance, absorption, t_ms): (f64, f64, f64)| {
        let found = of_two_walls(distance, absorption);
        let pair = between(&found, "wall 1", "wall 3").expect("the walls face each other");
        let octaves = pair.t_s.0.into_iter().map(|value| 1e3 * value);
        Check {
            what: format!("flutter between walls {distance} m apart that take {absorption}: decay time, ms"),
            ours: octaves.max_by(|a, b| (a - t_ms).abs().total_cmp(&(b - t_ms).abs())).expect("eight octaves"),
            expected: t_ms,
            tolerance: 0.5,
            why: "printed digits",
            source: "plane waves: 6 ln 10 L / (-c ln(1 - a)), c = 343 m/s, computed independently",
        }
    };
    RINGING.map(row).into()
}

/// How often flutter comes back.
pub(crate) fn periods() -> Vec<Check> {
    let row = |(distance, period): (f64, f64)| {
        let found = flutter(&shoebox(distance, |_| 0.1), &Hanging::default(), unknown());
        Check {
            what: format!("flutter between walls {distance} m apart: period, ms"),
            ours: between(&found, "wall 1", "wall 3").expect("the walls face each other").period_ms,
            expected: period,
            tolerance: 0.0005,
            why: "printed digits",
            source: "there and back, 2 L / c, c = 343 m/s, computed independently",
        }
    };
    [(2.4, 13.994), (3.0, 17.493), (4.0, 23.324), (5.0, 29.155)].map(row).into()
}

#[test]
fn exact_two_walls_decay_as_their_absorption_says() {
    hold(&decays());
    for (distance, absorption, _) in RINGING {
        let found = of_two_walls(distance, absorption);
        let pair = between(&found, "wall 1", "wall 3").expect("the walls face each other");
        assert!((pair.distance_m - distance).abs() < 1e-12);
        assert!((pair.period_ms - 2000.0 * distance / 343.0).abs() < 0.0005, "{} ms", pair.period_ms);
        // The other pairs swallow everything.
        assert_eq!(found.len(), 3);
        assert_eq!(between(&found, "floor", "ceiling").expect("they face each other").t_s, Bands::splat(0.0));
    }
}

#[test]
fn exact_periods() {
    hold(&periods());
}

#[test]
fn exact_air_shortens_the_chain() {
    let mut room = shoebox(3.0, |_| 0.1);
    room.medium.attenuation = Bands::from_fn(|band| 1e-3 * band.index() as f64);
    let found = flutter(&room, &Hanging::default(), unknown());
    let pair = between(&found, "wall 1", "wall 3").expect("the walls face each other");
    for (band, &t) in pair.t_s.iter() {
        // Energy after the time t: exp(-(c m + c (-ln 0.9) / L) t) = 1e-6.
        let rate = 343.0 * (room.medium.attenuation[band] - 0.9_f64.ln() / 3.0);
        let expected = 6.0 * 10.0_f64.ln() / rate;
        assert!((t / expected - 1.0).abs() < 1e-6, "{}: {t} s, expected {expected}", band.label());
    }
}

#[test]
fn keeps_walls_that_absorb_nothing_finite() {
    let found = flutter(&shoebox(3.0, |_| 0.0), &Hanging::default(), Bands::splat(Some(0.4)));
    assert_eq!(found.len(), 3);
    assert!(found.iter().all(|pair| pair.audible && pair.t_s.0.iter().all(|t| *t == 100.0)));
}

#[test]
fn keeps_audible_for_pairs_more_than_twice_slower_from_500_hz_up() {
    // T of the pair is 1.147 s in every octave.
    let room = shoebox(3.0, |index| if index == 1 || index == 3 { 0.1 } else { 1.0 });
    let audible = |of_room: Bands<Option<f64>>| {
        let found = flutter(&room, &Hanging::default(), of_room);
        between(&found, "wall 1", "wall 3").expect("the walls face each other").audible
    };
    assert!(!audible(unknown()), "nothing to compare with");
    assert!(audible(Bands::splat(Some(0.57))));
    assert!(!audible(Bands::splat(Some(0.58))));
    let only = |index: usize| Bands::from_fn(|band: Band| (band.index() == index).then_some(0.3));
    assert!(!audible(only(2)), "250 Hz is too low to be heard as flutter");
    assert!(audible(only(3)));
    assert!(audible(only(7)));
}

#[test]
fn keeps_flutter_where_both_walls_are_bare() {
    let room = shoebox(3.0, |_| 0.1);
    let hang = |low: f64, high: f64| Hanging {
        finishes: vec![uniform(0.9)],
        patches: vec![panel(&room, 3, DVec3::new(0.0, low, 0.0), DVec3::new(0.0, high, 2.4))],
        ..Hanging::default()
    };
    let t = |hanging: &Hanging| {
        let found = flutter(&room, hanging, unknown());
        let pair = between(&found, "wall 1", "wall 3").expect("the walls face each other");
        (pair.t_s[Band::new(4)], DVec3::from_array(pair.clap_at_m))
    };
    let (bare, middle) = t(&Hanging::default());
    assert!((bare - 1.147).abs() < 0.0005);
    assert!(middle.distance(DVec3::new(1.5, 2.0, 1.35)) < 0.16, "{middle}");
    let (half, at) = t(&hang(0.0, 2.0));
    assert!((half - bare).abs() < 1e-9, "the bare half rings as before");
    assert!((2.25..3.75).contains(&at.y) && (1.2..=1.5).contains(&at.z), "{at}");
    let (covered, _) = t(&hang(0.0, 4.0));
    // 6 ln10 (2 L / c) / -ln(0.9 x 0.1)
    assert!((covered - 6.0 * 10.0_f64.ln() * 6.0 / 343.0 / -(0.09_f64.ln())).abs() < 1e-6, "{covered}");
}

#[test]
fn keeps_a_slit_narrower_than_half_a_meter_from_ringing_as_if_bare() {
    let room = shoebox(3.0, |_| 0.1);
    let strip = |low: f64, high: f64| panel(&room, 3, DVec3::new(0.0, low, 0.0), DVec3::new(0.0, high, 2.4));
    let hanging = Hanging { finishes: vec![uniform(0.9)], patches: vec![strip(0.0, 1.9), strip(2.1, 4.0)], ..Hanging::default() };
    let found = flutter(&room, &hanging, unknown());
    let pair = between(&found, "wall 1", "wall 3").expect("the walls face each other");
    // Two of five columns bare: the mean round trip leaves 0.4 x 0.81 + 0.6 x 0.09.
    let mirrored: f64 = 0.4 * 0.81 + 0.6 * 0.09;
    let expected = 6.0 * 10.0_f64.ln() * 6.0 / 343.0 / -mirrored.ln();
    assert!((pair.t_s[Band::new(4)] / expected - 1.0).abs() < 1e-6, "{} s, expected {expected}", pair.t_s[Band::new(4)]);
}

#[test]
fn keeps_openings_and_panels_over_them_in_account() {
    let mut room = shoebox(3.0, |_| 0.5);
    room.finishes.push(uniform(0.05));
    let glass = room.finishes.len() - 1;
    let region = panel(&room, 3, DVec3::new(0.0, 1.0, 0.9), DVec3::new(0.0, 2.0, 1.9)).region;
    room.surfaces[3].linings.push(Lining { name: "window".to_owned(), region, finish: glass });
    let pair = |hanging: &Hanging| between(&flutter(&room, hanging, unknown()), "wall 1", "wall 3").expect("they face each other").clone();
    let over_glass = pair(&Hanging::default());
    let expected = 6.0 * 10.0_f64.ln() * 6.0 / 343.0 / -((0.95_f64 * 0.5).ln());
    assert!((over_glass.t_s[Band::new(4)] / expected - 1.0).abs() < 1e-6, "the window is barer than the wall");
    assert!((1.2..=1.8).contains(&over_glass.clap_at_m[1]), "before the window: {:?}", over_glass.clap_at_m);
    let curtain = panel(&room, 3, DVec3::new(0.0, 0.9, 0.8), DVec3::new(0.0, 2.1, 2.0));
    let covered = pair(&Hanging { finishes: vec![uniform(0.9)], patches: vec![curtain], ..Hanging::default() });
    let expected = 6.0 * 10.0_f64.ln() * 6.0 / 343.0 / -(0.25_f64.ln());
    assert!((covered.t_s[Band::new(4)] / expected - 1.0).abs() < 1e-6, "the panel before it takes the window out");
}

#[test]
fn exact_scattering_leaves_the_chain() {
    let mut room = shoebox(3.0, |_| 0.1);
    room.finishes[1] = room.finishes[1].with_edge(Bands::splat(0.5));
    let found = flutter(&room, &Hanging::default(), unknown());
    let t = between(&found, "wall 1", "wall 3").expect("they face each other").t_s[Band::new(4)];
    let expected = 6.0 * 10.0_f64.ln() * 6.0 / 343.0 / -((0.81_f64 * 0.5).ln());
    assert!((t / expected - 1.0).abs() < 1e-6);
}

#[test]
fn keeps_pairs_that_overlap_by_half_a_meter() {
    // A plan with a niche: wall 1 (x = 3) from y = 0 to 4; opposite, wall 5 (x = 0) of the given width, the rest stepping back.
    let listed = |width: f64| {
        let plan = [(0.0, 0.0), (3.0, 0.0), (3.0, 4.0), (-1.0, 4.0), (-1.0, width), (0.0, width)];
        let room = prism(&plan, 2.4, |_| 0.1);
        between(&flutter(&room, &Hanging::default(), unknown()), "wall 1", "wall 5").is_some()
    };
    assert!(!listed(0.4));
    assert!(listed(0.5));
    assert!(listed(1.0));
}

#[test]
fn keeps_pairs_within_five_degrees_of_parallel() {
    let listed = |degrees: f64| {
        let lean = 4.0 * degrees.to_radians().tan();
        let room = prism(&[(0.0, 0.0), (3.0, 0.0), (3.0 + lean, 4.0), (0.0, 4.0)], 2.4, |_| 0.1);
        between(&flutter(&room, &Hanging::default(), unknown()), "wall 1", "wall 3").is_some()
    };
    assert!(listed(0.0));
    assert!(listed(4.9));
    assert!(!listed(5.1));
}

/// Decay of flutter between walls that are not quite parallel and absorb little.
///
/// A straight line across the fan of mirrored wedges meets walls at multiples of the angle, from the far end of the overlap through its narrow end and back,
/// `2 acos(r / (r + W)) / w` times, `r = L / w` the distance of the narrow end from the apex.
pub(crate) fn splayed() -> Vec<Check> {
    let row = |degrees: f64| {
        let angle = degrees.to_radians();
        let room = prism(&[(0.0, 0.0), (3.0, 0.0), (3.0 + 4.0 * angle.tan(), 4.0), (0.0, 4.0)], 2.4, |_| 0.02);
        let found = flutter(&room, &Hanging::default(), unknown());
        let pair = between(&found, "wall 1", "wall 3").expect("they face each other");
        let apex = 3.0 / angle;
        let meetings = 2.0 * (apex / (apex + 4.0)).acos() / angle;
        let expected = 2.0 * meetings * pair.distance_m / 343.0;
        Check {
            what: format!("flutter between walls {degrees} degrees off parallel, 3 m apart, that take 0.02: decay time, s"),
            ours: pair.t_s[Band::new(4)],
            expected,
            tolerance: 0.04 * expected,
            why: "the short form uses one distance for the whole overlap, and whole cells",
            source: "a straight line across the fan of mirrored wedges, closed form",
        }
    };
    [0.2, 1.0, 3.0].map(row).into()
}

#[test]
fn exact_chain_of_a_splayed_pair_ends_where_rays_leave_it() {
    hold(&splayed());
    // A wall that absorbs falls by 30 dB before its rays leave: there the splay changes nothing but the distance.
    let room = prism(&[(0.0, 0.0), (3.0, 0.0), (3.02, 4.0), (0.0, 4.0)], 2.4, |_| 0.3);
    let found = flutter(&room, &Hanging::default(), unknown());
    let pair = between(&found, "wall 1", "wall 3").expect("they face each other");
    let expected = 6.0 * 10.0_f64.ln() * pair.distance_m / (-343.0 * 0.7_f64.ln());
    assert!((pair.t_s[Band::new(4)] / expected - 1.0).abs() < 1e-6);
}

#[test]
fn keeps_bodies_from_being_looked_through() {
    // A partition across the whole room, 0.2 m thick: the walls behind it see it, not each other.
    let mut room = shoebox(4.0, |_| 0.1);
    block(&mut room, DVec3::new(1.9, 0.0, 0.0), DVec3::new(2.1, 4.0, 2.4));
    let found = flutter(&room, &Hanging::default(), unknown());
    assert!(between(&found, "wall 1", "wall 3").is_none());
    let west = between(&found, "wall 3", "block, west").expect("the west wall sees the partition");
    assert!((west.distance_m - 1.9).abs() < 1e-9);
    assert!(between(&found, "wall 1", "block, east").is_some());
    // Its two faces look away from each other.
    assert!(between(&found, "block, west", "block, east").is_none());
}

#[test]
fn keeps_a_beam_from_wall_to_wall_from_being_looked_through() {
    // A partition from wall 1 to wall 3 has no end faces; all of both walls but 0.4 m lies behind its contacts.
    let mut room = shoebox(4.0, |_| 0.1);
    for surface in [1, 3] {
        let region = panel(&room, surface, DVec3::new(0.0, 0.4, 0.0), DVec3::new(0.0, 4.0, 2.4)).region;
        room.contacts.push(Contact { surface, region });
    }
    assert!(between(&flutter(&room, &Hanging::default(), unknown()), "wall 1", "wall 3").is_none());
}

#[test]
fn keeps_the_wall_behind_a_cabinet_out() {
    // A cabinet against wall 3 (x = 0) over its whole width and up to 2 m: only 0.4 m of wall 3 is left, too little.
    let mut room = shoebox(4.0, |_| 0.1);
    block(&mut room, DVec3::new(0.0, 0.0, 0.0), DVec3::new(0.6, 4.0, 2.0));
    let found = flutter(&room, &Hanging::default(), unknown());
    assert!(between(&found, "wall 1", "wall 3").is_none());
    let pair = between(&found, "wall 1", "block, east").expect("the cabinet faces the wall");
    assert!((pair.distance_m - 3.4).abs() < 1e-9);
    assert!(between(&found, "ceiling", "block, top").is_none(), "0.4 m above the cabinet nobody claps");
}

#[test]
fn keeps_the_clap_inside_at_ear_height() {
    // An L: the overlap of wall 1 and wall 5 lies in the lower arm.
    let plan = [(0.0, 0.0), (5.0, 0.0), (5.0, 2.0), (2.0, 2.0), (2.0, 5.0), (0.0, 5.0)];
    let found = flutter(&prism(&plan, 2.4, |_| 0.1), &Hanging::default(), unknown());
    for pair in &found {
        let [x, y, z] = pair.clap_at_m;
        let inside = (0.0..=5.0).contains(&x) && (0.0..=2.0).contains(&y) || (0.0..=2.0).contains(&x) && (0.0..=5.0).contains(&y);
        assert!(inside && (1.2..=1.5).contains(&z), "{:?} at {:?}", pair.between, pair.clap_at_m);
    }
    let long = between(&found, "wall 1", "wall 5").expect("they face each other over the lower arm");
    assert!((long.clap_at_m[0] - 2.5).abs() < 1e-9 && (long.clap_at_m[1] - 1.0).abs() < 0.06, "{:?}", long.clap_at_m);
    let upright = between(&found, "floor", "ceiling").expect("they face each other");
    assert!((upright.period_ms - 13.994).abs() < 0.0005);
}
