//! Geometry: areas, containment, cuts, overlaps, triangles, solids apart; which flat piece a ray meets first.

use std::sync::LazyLock;

use glam::{DVec2, DVec3, Vec3};
use proptest::prelude::*;
use roomwright::geometry::instructions::Instructions;
use roomwright::geometry::packets::{Packets, Piece};
use roomwright::geometry::{Chart, Polygon, Solid, hilbert};
use roomwright::random::{Purpose, Stream};

fn polygon(corners: &[(f64, f64)]) -> Polygon {
    Polygon { corners: corners.iter().map(|&(x, y)| DVec2::new(x, y)).collect() }
}

/// A star-shaped polygon round the origin: simple, rarely convex.
fn star() -> impl Strategy<Value = Polygon> {
    prop::collection::vec(0.3_f64..3.0, 5..12).prop_map(|radii| {
        let n = radii.len() as f64;
        let corner = |(i, radius): (usize, &f64)| DVec2::from_angle(std::f64::consts::TAU * i as f64 / n) * *radius;
        Polygon { corners: radii.iter().enumerate().map(corner).collect() }
    })
}

fn comb() -> Polygon {
    polygon(&[
        (0.0, 0.0),
        (5.0, 0.0),
        (5.0, 2.0),
        (4.0, 2.0),
        (4.0, 1.0),
        (3.0, 1.0),
        (3.0, 2.0),
        (2.0, 2.0),
        (2.0, 1.0),
        (1.0, 1.0),
        (1.0, 2.0),
        (0.0, 2.0),
    ])
}

#[test]
fn exact_area_and_centroid_of_an_l() {
    let l = polygon(&[(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)]);
    assert!((l.area() - 6.0).abs() < 1e-12);
    // Two rectangles: 4 x 1 round (2, 0.5) and 1 x 2 round (0.5, 2).
    assert!(l.centroid().distance(DVec2::new((8.0 + 1.0) / 6.0, (2.0 + 4.0) / 6.0)) < 1e-12);
    assert!(!l.is_convex() && l.is_simple() && !l.is_rectangle(1e-6));
    assert!(l.contains(DVec2::new(0.5, 2.0)) && !l.contains(DVec2::new(2.0, 2.0)));
    assert!(l.contains(DVec2::new(1.0, 1.0)) && l.contains(DVec2::new(2.0, 1.0 + 0.5e-9)) && !l.contains(DVec2::new(2.0, 1.0 + 3e-9)));
}

#[test]
fn exact_cut_of_a_comb_falls_into_its_teeth() {
    let teeth = comb().clip(DVec2::new(0.0, -1.0), -1.5);
    assert_eq!(teeth.len(), 3);
    for tooth in &teeth {
        assert!((tooth.area() - 0.5).abs() < 1e-12 && tooth.is_rectangle(1e-9));
    }
    // A cut along the gaps' floors, edges lying on the line.
    let teeth = comb().clip(DVec2::new(0.0, -1.0), -1.0);
    assert_eq!(teeth.len(), 3);
    assert!((teeth.iter().map(Polygon::area).sum::<f64>() - 3.0).abs() < 1e-12);
    assert_eq!(comb().clip(DVec2::new(0.0, -20.0), -30.0).len(), 3, "normals of any length");
    assert_eq!((comb().clip(DVec2::ZERO, 1.0).len(), comb().clip(DVec2::ZERO, -1.0).len()), (1, 0));
    let base = comb().clip(DVec2::new(0.0, 1.0), 1.0);
    assert_eq!(base.len(), 1);
    assert!((base[0].area() - 5.0).abs() < 1e-12);
}

#[test]
fn exact_cut_through_a_corner_that_touches() {
    // A notch whose tip touches the cut from above: two pieces that meet in a point.
    let notched = polygon(&[(0.0, -1.0), (4.0, -1.0), (4.0, 2.0), (2.0, 0.0), (0.0, 2.0)]);
    let pieces = notched.clip(DVec2::new(0.0, -1.0), 0.0);
    assert_eq!(pieces.len(), 2);
    for piece in &pieces {
        assert!((piece.area() - 2.0).abs() < 1e-12 && piece.is_simple());
    }
    // A spike whose tip touches the cut stays whole.
    let spike = polygon(&[(0.0, 0.0), (1.0, 1.0), (-1.0, 1.0)]);
    let pieces = spike.clip(DVec2::new(0.0, -1.0), 0.0);
    assert_eq!(pieces.len(), 1);
    assert!((pieces[0].area() - 1.0).abs() < 1e-12);
}

#[test]
fn exact_simplicity() {
    assert!(!polygon(&[(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0)]).is_simple());
    assert_eq!(polygon(&[(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0)]).crossing(), Some((0, 2)));
    assert!(!polygon(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.0), (0.0, 1.0)]).is_simple(), "an edge without length");
    assert!(!polygon(&[(0.0, 0.0), (2.0, 0.0), (1.0, 0.0), (0.0, 1.0)]).is_simple(), "an edge that folds back");
    assert!(!polygon(&[(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (1.0, 0.0), (0.0, 2.0)]).is_simple(), "a corner on an edge");
    assert!(!polygon(&[(0.0, 0.0), (1.0, 0.0)]).is_simple());
    assert!(polygon(&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (1.0, 1.0)]).is_simple(), "a corner on a straight line is none too many");
}

#[test]
fn exact_distance_between_rectangles() {
    let a = Polygon::rectangle(DVec2::ZERO, DVec2::new(1.0, 2.0));
    let b = a.moved(DVec2::new(4.0, 6.0));
    assert!((a.distance(&b) - 5.0).abs() < 1e-12);
    assert_eq!(a.distance(&a.moved(DVec2::new(1.0, 0.0))), 0.0);
    assert_eq!(a.distance(&Polygon::rectangle(DVec2::new(-1.0, 0.5), DVec2::new(3.0, 1.0))), 0.0, "a cross without corners inside");
    assert!(!a.overlaps(&a.moved(DVec2::new(1.0, 0.0)), 1e-6));
    assert!(a.overlaps(&a.moved(DVec2::new(0.99, 0.0)), 1e-6));
    assert!(a.covers(&a, 1e-6) && !a.covers(&a.moved(DVec2::new(0.01, 0.0)), 1e-6));
}

#[test]
fn exact_rectangles() {
    let turned = Polygon {
        corners: Polygon::rectangle(DVec2::ZERO, DVec2::new(3.0, 1.0)).corners.iter().map(|c| DVec2::from_angle(0.7).rotate(*c)).collect(),
    };
    assert!(turned.is_rectangle(1e-9));
    assert!(polygon(&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)]).is_rectangle(1e-9));
    assert!(!polygon(&[(0.0, 0.0), (2.0, 0.0), (2.5, 1.0), (0.5, 1.0)]).is_rectangle(1e-3));
}

/// A point of a cube of 4 m round the origin.
fn point(random: &mut Stream) -> DVec3 {
    DVec3::from_array(std::array::from_fn(|_| 4.0 * random.unit() - 2.0))
}

/// Loose pieces of this size, so many that the last packet of eight is not full; of many, a hundred have their middle in one place.
fn loose_pieces(count: u16, size: f64) -> Vec<Piece> {
    let mut random = Stream::new(1, Purpose::Search, 0);
    (0..count)
        .map(|surface| {
            let (a, b) = (size * point(&mut random), size * point(&mut random));
            let corner = if surface > 1000 && surface <= 1100 { -0.5 * (a + b) } else { point(&mut random) };
            Piece { surface, corner, a, b, parallelogram: surface % 2 == 0 }
        })
        .collect()
}

fn rays() -> impl Iterator<Item = (Vec3, Vec3)> {
    (0..5000).filter_map(|index| {
        let mut random = Stream::new(2, Purpose::Search, index);
        let (origin, direction) = (point(&mut random), point(&mut random).try_normalize()?);
        Some((origin.as_vec3(), direction.as_vec3()))
    })
}

/// Some, and more than eight times eight of them.
fn few_and_many() -> [Vec<Piece>; 2] {
    [loose_pieces(37, 0.7), loose_pieces(3003, 0.1)]
}

/// What rays meet with the widest vector instructions of this machine and with those of the build's target alone.
pub(crate) struct BothInstructions {
    /// Of how many pieces, looked at one after the other or by a tree of boxes.
    pub(crate) pieces: usize,
    pub(crate) by_tree: bool,
    /// Rays that meet the same piece; that meet another one, or are blocked by one way only.
    pub(crate) hits: usize,
    pub(crate) others: usize,
    /// Of the hits, those whose distances are more than 8e-6 m apart; the farthest apart, meters.
    pub(crate) flat: usize,
    pub(crate) farthest: f64,
}

/// Few pieces and many, by the list and by the tree.
pub(crate) static BOTH_INSTRUCTIONS: LazyLock<Vec<BothInstructions>> =
    LazyLock::new(|| few_and_many().iter().flat_map(|pieces| with_both_instructions(pieces)).collect());

/// Where products and sums are fused and where they are not distances differ by rounding: 2e-6 of the room's size, some of them more where
/// a ray is nearly in the plane of a piece. Which piece is met may differ where a ray passes an edge as closely as that: of one ray in 2000.
#[test]
fn keeps_hits_the_same_with_all_instructions() {
    for BothInstructions { hits, others, flat, farthest, .. } in &*BOTH_INSTRUCTIONS {
        assert!((1000..4900).contains(hits), "some rays meet a piece and some meet none: {hits}");
        assert!(*others <= 2 && *flat <= 25, "{others} rays meet another piece, {flat} are off by more than rounding");
        assert!(*farthest < 1e-3, "{farthest} m apart");
    }
}

fn with_both_instructions(pieces: &[Piece]) -> [BothInstructions; 2] {
    [false, true].map(|by_tree| {
        let [widest, portable] = [Instructions::Widest, Instructions::Portable].map(|with| Packets::forced(with, pieces, by_tree));
        let (mut hits, mut others, mut flat, mut farthest) = (0, 0, 0, 0.0_f64);
        for (origin, direction) in rays() {
            let both = [&widest, &portable].map(|packets| packets.first_hit(origin, direction, f32::INFINITY));
            let blocked = [&widest, &portable].map(|packets| packets.is_blocked(origin, direction, 1.0));
            match both {
                [Some((surface, distance)), Some((other, portable))] if surface == other => {
                    flat += usize::from((distance - portable).abs() > 8e-6);
                    farthest = farthest.max(f64::from((distance - portable).abs()));
                    hits += 1;
                }
                [None, None] => {}
                _ => others += 1,
            }
            others += usize::from(blocked[0] != blocked[1]);
        }
        BothInstructions { pieces: pieces.len(), by_tree, hits, others, flat, farthest }
    })
}

/// A box of six faces, each cut into `n x n` rectangles.
fn cut_box(n: u16) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for axis in 0..3 {
        let (one, other) = (DVec3::AXES[(axis + 1) % 3] * 4.0 / f64::from(n), DVec3::AXES[(axis + 2) % 3] * 4.0 / f64::from(n));
        for (start, a, b) in [(DVec3::ZERO, one, other), (DVec3::AXES[axis] * 4.0, other, one)] {
            for (i, j) in (0..n * n).map(|index| (f64::from(index % n), f64::from(index / n))) {
                let corner = start + i * one + j * other;
                pieces.push(Piece { surface: pieces.len() as u16, corner, a, b, parallelogram: true });
            }
        }
    }
    pieces
}

/// List or tree: whichever is reckoned to cost less, for the very pieces that there are. A bare box is looked at one piece after the other, a room of
/// some hundreds of pieces never is; they cross once, and what a ray is reckoned to cost does not jump there.
#[test]
fn keeps_to_what_costs_less_list_or_tree() {
    let mut crossed = Vec::new();
    let mut least_before = 0.0;
    for n in 1..=12 {
        let pieces = cut_box(n);
        let [list, tree] = Packets::costs(&pieces);
        assert!(list > 0.0 && tree > 0.0);
        let packets = Packets::new(&pieces);
        assert_eq!(packets.is_tree(), tree < list, "{} pieces: list {list}, tree {tree}", pieces.len());
        if crossed.last() != Some(&packets.is_tree()) {
            crossed.push(packets.is_tree());
        }
        let least = list.min(tree);
        assert!(least > least_before, "{} pieces cost {least}, fewer {least_before}", pieces.len());
        least_before = least;
        // Either way finds the same.
        let forced = Packets::forced(Instructions::Widest, &pieces, !packets.is_tree());
        for (origin, direction) in rays().take(500) {
            let (origin, direction) = (origin * 0.49 + 2.0, direction);
            let met = [&packets, &forced].map(|packets| packets.first_hit(origin, direction, f32::INFINITY).map(|hit| hit.1));
            let [Some(one), Some(other)] = met else { panic!("{origin} {direction}: {met:?}") };
            assert!((one - other).abs() < 1e-4, "{origin} {direction}: {one} and {other}");
        }
    }
    assert_eq!(crossed, [false, true], "list first, then tree");
    let [list, tree] = Packets::costs(&cut_box(12));
    assert!(list > 3.0 * tree, "864 pieces: list {list}, tree {tree}");
    for pieces in few_and_many() {
        let [list, tree] = Packets::costs(&pieces);
        assert_eq!(Packets::new(&pieces).is_tree(), tree < list);
    }
}

/// So many that the tree's tables lie in large pages, and do in a copy of it too. Of two pieces met at nearly one distance rounding decides.
#[test]
fn tables_in_large_pages_hold_what_was_put_there() {
    let pieces = loose_pieces(10_003, 0.05);
    let [list, tree] = [false, true].map(|by_tree| Packets::forced(Instructions::Widest, &pieces, by_tree));
    let copy = tree.clone();
    let (mut hits, mut others) = (0, 0);
    for (origin, direction) in rays() {
        let first = tree.first_hit(origin, direction, f32::INFINITY);
        assert_eq!(first, copy.first_hit(origin, direction, f32::INFINITY));
        hits += usize::from(first.is_some());
        others += usize::from(first.map(|hit| hit.0) != list.first_hit(origin, direction, f32::INFINITY).map(|hit| hit.0));
    }
    assert!((1000..4900).contains(&hits), "some rays meet a piece and some meet none: {hits}");
    assert!(others <= 2, "{others} rays meet another piece");
}

#[test]
fn exact_first_hit_among_loose_pieces() {
    few_and_many().iter().for_each(|pieces| exact_first_hit(pieces));
}

/// In double precision and one piece at a time; a ray that passes an edge closer than single precision resolves may go either way.
fn exact_first_hit(pieces: &[Piece]) {
    let both = [false, true].map(|by_tree| Packets::forced(Instructions::Widest, pieces, by_tree));
    let mut compared = 0;
    'rays: for (origin, direction) in rays() {
        let (from, along) = (origin.as_dvec3(), direction.as_dvec3());
        let mut first: Option<(u16, f64)> = None;
        for piece in pieces {
            let normal = piece.a.cross(piece.b);
            let distance = normal.dot(piece.corner - from) / normal.dot(along);
            let place = from + distance * along - piece.corner;
            let (u, v) =
                (place.cross(piece.b).dot(normal) / normal.length_squared(), piece.a.cross(place).dot(normal) / normal.length_squared());
            let inside = u.min(v).min(if piece.parallelogram { (1.0 - u).min(1.0 - v) } else { 1.0 - u - v });
            // A piece reaches some hairs beyond its edges, the more the flatter the ray.
            let reach = (6e-6 * normal.length() / normal.dot(along).abs()).min(1.5e-4);
            let least_height = normal.length() / piece.a.length().max(piece.b.length());
            if inside.abs() < 1e-4 + reach / least_height || distance.abs() < 1e-4 {
                continue 'rays;
            }
            if normal.dot(along) < 0.0 && distance > 0.0 && inside > 0.0 && first.is_none_or(|(_, nearest)| distance < nearest) {
                first = Some((piece.surface, distance));
            }
        }
        for packets in &both {
            let ours = packets.first_hit(origin, direction, f32::INFINITY);
            assert_eq!(ours.map(|hit| hit.0), first.map(|hit| hit.0), "{origin} {direction}");
            if let (Some(ours), Some(first)) = (ours, first) {
                assert!((f64::from(ours.1) - first.1).abs() < 1e-4, "{origin} {direction}");
                compared += 1;
            }
        }
    }
    assert!(compared > 1000, "{compared}");
}

proptest! {
    #[test]
    fn keeps_area_under_cuts(star in star(), angle in 0.0_f64..std::f64::consts::TAU, offset in -2.0_f64..2.0) {
        let normal = DVec2::from_angle(angle);
        let (below, above) = (star.clip(normal, offset), star.clip(-normal, -offset));
        let sum: f64 = below.iter().chain(&above).map(Polygon::area).sum();
        prop_assert!((sum - star.area()).abs() < 1e-9, "{sum} {}", star.area());
        for piece in below.iter().chain(&above) {
            prop_assert!(piece.is_simple() && piece.area() > 0.0, "{piece:?} {:?}", piece.crossing());
        }
    }

    #[test]
    fn keeps_area_in_triangles(star in star()) {
        let triangles = star.triangles();
        prop_assert_eq!(triangles.len(), star.tidied().corners.len() - 2);
        let sum: f64 = triangles.iter().map(|t| Polygon { corners: t.to_vec() }.area()).sum();
        prop_assert!((sum - star.area()).abs() < 1e-9);
    }

    #[test]
    fn keeps_overlap_symmetric_and_inside(a in star(), b in star(), x in -2.0_f64..2.0, y in -2.0_f64..2.0) {
        let b = b.moved(DVec2::new(x, y));
        let (ab, ba) = (a.overlap_area(&b), b.overlap_area(&a));
        prop_assert!((ab - ba).abs() < 1e-8, "{ab} {ba}");
        prop_assert!(ab <= a.area().min(b.area()) + 1e-9);
        for piece in a.intersection(&b) {
            let middle = Polygon { corners: piece.triangles()[0].to_vec() }.centroid();
            prop_assert!(a.contains(middle) && b.contains(middle));
        }
        if ab > 1e-6 {
            prop_assert!(a.distance(&b) == 0.0);
        }
    }

    #[test]
    fn keeps_containment_with_area(star in star(), x in -3.0_f64..3.0, y in -3.0_f64..3.0) {
        // A point is inside if and only if some triangle holds it (points on edges between triangles have measure zero).
        let point = DVec2::new(x, y);
        let held = star.triangles().iter().any(|t| Polygon { corners: t.to_vec() }.contains(point));
        prop_assert_eq!(held, star.contains(point));
        prop_assert_eq!(star.contains(point), star.winds(point));
    }

    #[test]
    fn keeps_points_in_one_of_the_triangles(star in star(), share in 0.0_f64..1.0) {
        // Half open: exactly one triangle winds round a point on an edge that two share, or on any other.
        let triangles: Vec<_> = star.triangles().iter().map(|t| Polygon { corners: t.to_vec() }).collect();
        for triangle in &triangles {
            for (a, b) in triangle.edges() {
                let point = a.lerp(b, share);
                let count = triangles.iter().filter(|other| other.winds(point)).count();
                prop_assert_eq!(count, usize::from(star.winds(point)));
            }
        }
    }

    #[test]
    fn keeps_distance_to_the_nearest_point(a in star(), b in star(), x in 6.5_f64..9.0) {
        let b = b.moved(DVec2::new(x, 0.3));
        let distance = a.distance(&b);
        let sampled = a.edges().flat_map(|(p, q)| (0..=50).map(move |i| p.lerp(q, f64::from(i) / 50.0)))
            .map(|point| b.distance_to(point)).fold(f64::INFINITY, f64::min);
        prop_assert!(distance <= sampled + 1e-12 && sampled - distance < 0.1);
    }
}

#[test]
fn exact_separation_of_solids() {
    let cube = Solid::upright(DVec3::ZERO, DVec3::ONE);
    let beside = |gap: f64| Solid::upright(DVec3::new(1.0 + gap, 0.0, 0.0), DVec3::new(2.0 + gap, 1.0, 1.0));
    assert!(cube.apart(&beside(0.0), 0.0) && !cube.apart(&beside(0.0), 0.001));
    assert!(cube.apart(&beside(0.02), 0.02) && !cube.apart(&beside(0.0199), 0.02));
    assert!(!cube.apart(&beside(-0.002), -0.001) && cube.apart(&beside(-0.002), -0.003));
    // A cube turned by 45 degrees whose edge points at the face: half its diagonal is sqrt(2)/2.
    let turned = |x: f64| Solid::turned(DVec2::new(x, 0.5), 0.0, DVec3::ONE, std::f64::consts::FRAC_PI_4);
    let touching = 1.0 + 0.5_f64.sqrt();
    assert!(turned(touching + 1e-6).apart(&cube, 0.0) && !turned(touching - 1e-3).apart(&cube, 0.0));
    // Two cubes that stand on an edge, edge crossing edge: only the cross product of the edges parts them, over half a diagonal each.
    // All in a frame askew to the axes, where bounds say nothing.
    let third = DVec3::new(1.0, 2.0, 3.0).try_normalize().expect("length");
    let (first, second) = third.any_orthonormal_pair();
    let half = 0.5_f64.sqrt();
    let on_edge = |height: f64, edge: DVec3| {
        let up = (third.cross(edge) + third) * half;
        let normal = edge.cross(up);
        let chart = Chart::new(third * height - normal * 0.5, edge, up);
        Solid::before(&chart, DVec2::splat(-0.5), DVec2::splat(0.5), 1.0)
    };
    let lower = on_edge(0.0, first);
    assert!(on_edge(2.0 * half + 0.0201, second).apart(&lower, 0.02) && !on_edge(2.0 * half + 0.0199, second).apart(&lower, 0.02));
    assert!(on_edge(2.0 * half, second).apart(&lower, 0.0) && !on_edge(2.0 * half - 0.001, second).apart(&lower, 0.0));
}

#[test]
fn exact_slope_of_a_plane() {
    // A triangle of 3, 4 and 5: its sines are 3/5 and 4/5 whichever side is up, seen from above or from below.
    for (up, sine) in [(DVec3::new(0.8, 0.0, 0.6), 0.6_f64), (DVec3::new(-0.6, 0.0, 0.8), 0.8)] {
        for right in [DVec3::Y, DVec3::NEG_Y] {
            assert!((Chart::new(DVec3::ONE, right, up).slope_deg() - sine.asin().to_degrees()).abs() < 1e-12);
        }
    }
    assert_eq!(Chart::new(DVec3::ZERO, DVec3::X, DVec3::Y).slope_deg(), 0.0, "a floor");
    assert_eq!(Chart::new(DVec3::Z, DVec3::Y, DVec3::X).slope_deg(), 0.0, "a ceiling");
    assert!((Chart::new(DVec3::ZERO, DVec3::X, DVec3::Z).slope_deg() - 90.0).abs() < 1e-12, "a wall");
}

#[test]
fn exact_curve_through_every_cell_in_steps_to_the_side() {
    let cells = 64_u64;
    let cell = |place: u64| hilbert::position(place * (hilbert::PLACES / (cells * cells))).map(|part| (part * cells as f64) as i64);
    let all: Vec<[i64; 2]> = (0..cells * cells).map(cell).collect();
    for pair in all.windows(2) {
        assert_eq!((pair[0][0] - pair[1][0]).abs() + (pair[0][1] - pair[1][1]).abs(), 1);
    }
    let mut sorted = all.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(sorted.len(), all.len());
}
