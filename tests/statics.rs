//! Loads of plumb wires: closed forms, and equilibrium recomputed for any set of points.

use glam::DVec2;
use proptest::prelude::{Strategy, prop_assert, prop_assert_eq, prop_assume, proptest};
use roomwright::workshop::statics::{alone, one_lost, shared};

fn grid(xs: &[f64], ys: &[f64]) -> Vec<DVec2> {
    ys.iter().flat_map(|y| xs.iter().map(|x| DVec2::new(*x, *y))).collect()
}

#[track_caller]
fn expect_shares(ours: Option<&Vec<f64>>, theirs: &[f64]) {
    let ours = ours.expect("it holds");
    assert!(
        ours.len() == theirs.len() && ours.iter().zip(theirs).all(|(one, other)| (one - other).abs() < 1e-12),
        "{ours:?} instead of {theirs:?}"
    );
}

/// Weight and both moments, in shares and share meters.
fn imbalance(points: &[DVec2], center: DVec2, shares: &[f64]) -> (f64, f64) {
    let moment: DVec2 = points.iter().zip(shares).map(|(point, share)| (*point - center) * *share).sum();
    (shares.iter().sum::<f64>() - 1.0, moment.length())
}

#[test]
fn exact_rectangle() {
    let points = grid(&[0.3, 0.9], &[0.1, 0.5]);
    let center = DVec2::new(0.6, 0.3);
    expect_shares(shared(&points, center).as_ref(), &[0.25; 4]);
    // One lost: half each on the diagonal that is left whole, nothing on the fourth.
    let lost = one_lost(&points, center);
    expect_shares(lost[0].as_ref(), &[0.0, 0.5, 0.5, 0.0]);
    expect_shares(lost[1].as_ref(), &[0.5, 0.0, 0.0, 0.5]);
    expect_shares(lost[2].as_ref(), &[0.5, 0.0, 0.0, 0.5]);
    expect_shares(lost[3].as_ref(), &[0.0, 0.5, 0.5, 0.0]);
    for index in 0..4 {
        assert!((alone(&points, center, index) - 0.5).abs() < 1e-12, "a stiff panel rests on a diagonal");
    }
}

#[test]
fn exact_center_of_mass_off_the_middle() {
    // Lever arms: x a quarter of the way from the left wires to the right ones gives these a quarter.
    let points = grid(&[0.0, 2.0], &[0.0, 1.0]);
    let center = DVec2::new(0.5, 0.5);
    expect_shares(shared(&points, center).as_ref(), &[0.375, 0.125, 0.375, 0.125]);
    // Without one on the left, the center lies outside the triangle of the rest; without one on the right, the triangle gives the loads.
    let lost = one_lost(&points, center);
    assert!(lost[0].is_none() && lost[2].is_none(), "it tips");
    expect_shares(lost[1].as_ref(), &[0.5, 0.0, 0.25, 0.25]);
    expect_shares(lost[3].as_ref(), &[0.25, 0.25, 0.5, 0.0]);
    // The most on a left wire: with the other left one and the right one across, or by lever on its diagonal.
    assert!((alone(&points, center, 0) - 0.5).abs() < 1e-12);
    assert!((alone(&points, center, 1) - 0.25).abs() < 1e-12);
}

#[test]
fn exact_six_points() {
    // 2 x 3 about the middle: a sixth each.
    let points = grid(&[-1.0, 1.0], &[-1.0, 0.0, 1.0]);
    expect_shares(shared(&points, DVec2::ZERO).as_ref(), &[1.0 / 6.0; 6]);
    // Without the lower left: f = a + b x + c y over the other five, whose sums are n = 5, x 1, y 1, xx 5, yy 3, xy -1:
    // 5 a + b + c = 1, a + 5 b - c = 0, a - b + 3 c = 0.
    let (a, b, c) = (7.0 / 30.0, -1.0 / 15.0, -0.1);
    let expected: Vec<f64> = points.iter().enumerate().map(|(index, at)| if index == 0 { 0.0 } else { a + b * at.x + c * at.y }).collect();
    expect_shares(one_lost(&points, DVec2::ZERO)[0].as_ref(), &expected);
    // A middle one bears half with the one across; a corner half with the corner across.
    for index in 0..6 {
        assert!((alone(&points, DVec2::ZERO, index) - 0.5).abs() < 1e-12);
    }
}

#[test]
fn exact_a_wire_cannot_push() {
    // Least squares for (0, 0), (1, 0), (0, 1), (3, 3) about (0.1, 0.1) would have the far one push; the near three hold it by their triangle.
    let points = [DVec2::ZERO, DVec2::X, DVec2::Y, DVec2::splat(3.0)];
    expect_shares(shared(&points, DVec2::splat(0.1)).as_ref(), &[0.8, 0.1, 0.1, 0.0]);
}

#[test]
fn exact_one_and_two_wires() {
    let center = DVec2::new(1.0, 1.0);
    assert!(shared(&[], center).is_none());
    expect_shares(shared(&[center], center).as_ref(), &[1.0]);
    assert!(shared(&[DVec2::ZERO], center).is_none());
    // By levers on a slanting line; half a millimeter beside it is still on it, two are not.
    let pair = [DVec2::ZERO, DVec2::splat(4.0)];
    expect_shares(shared(&pair, center).as_ref(), &[0.75, 0.25]);
    assert!(shared(&pair, center + DVec2::new(0.000_5, 0.0)).is_some());
    assert!(shared(&pair, center + DVec2::new(0.003, 0.0)).is_none());
    assert!(shared(&pair, DVec2::splat(-1.0)).is_none(), "beyond its end");
    // Upright and level lines.
    expect_shares(shared(&[DVec2::ZERO, DVec2::Y], DVec2::new(0.0, 0.25)).as_ref(), &[0.75, 0.25]);
    expect_shares(shared(&[DVec2::ZERO, DVec2::X], DVec2::new(0.25, 0.0)).as_ref(), &[0.75, 0.25]);
}

#[test]
fn exact_wires_in_line_with_the_center_count_once() {
    // 3 x 3: the middle wire alone may hold all; middle row: no sham triangle of three in line.
    let points = grid(&[-0.3, 0.0, 0.3], &[-0.7, 0.0, 0.7]);
    assert!((alone(&points, DVec2::ZERO, 4) - 1.0).abs() < 1e-12);
    assert!((alone(&points, DVec2::ZERO, 3) - 0.5).abs() < 1e-12);
}

fn any_points() -> impl Strategy<Value = Vec<DVec2>> {
    proptest::collection::vec((-1.0..1.0_f64, -1.0..1.0_f64).prop_map(DVec2::from), 3..9)
}

proptest! {
    #[test]
    fn keeps_equilibrium(points in any_points(), weights in proptest::collection::vec(0.05..1.0_f64, 9)) {
        // A center that the points do hold: a mean with weights above zero.
        let sum: f64 = weights.iter().take(points.len()).sum();
        let center = points.iter().zip(&weights).map(|(point, weight)| *point * (*weight / sum)).sum::<DVec2>();
        let all = std::iter::once(shared(&points, center)).chain(one_lost(&points, center));
        for shares in all.flatten() {
            let (weight, moment) = imbalance(&points, center, &shares);
            prop_assert!(weight.abs() < 1e-6 && moment < 0.001 + 1e-6, "{} {}", weight, moment);
            prop_assert!(shares.iter().all(|share| *share >= 0.0));
            // Where the center is not a hair beside a line of wires, no load is above the most that equilibrium allows.
            let exact = moment < 1e-9;
            prop_assert!(!exact || shares.iter().enumerate().all(|(index, share)| *share <= alone(&points, center, index) + 1e-6));
        }
    }

    #[test]
    fn exact_levers_on_a_line(origin in (-5.0..5.0_f64, -5.0..5.0_f64), line in (0.1..1.0_f64, -1.0..1.0_f64), center in -0.9..0.2_f64, inner in 0.3..0.9_f64) {
        // Three wires in line with the center, one beside it: rounding makes no sham triangle of the three.
        let (origin, line) = (DVec2::from(origin), DVec2::from(line));
        let at = |along: f64| origin + line * along;
        let points = [at(-1.0), at(inner), at(1.0), at(0.1) + line.perp()];
        for (index, lever) in [(0, (1.0 - center) / 2.0), (1, (center + 1.0) / (inner + 1.0)), (2, (center + 1.0) / 2.0), (3, 0.0)] {
            prop_assert!((alone(&points, at(center), index) - lever).abs() < 1e-6, "{}", index);
        }
    }

    #[test]
    fn keeps_the_least_squares(points in any_points(), weights in proptest::collection::vec(0.05..1.0_f64, 9)) {
        let sum: f64 = weights.iter().take(points.len()).sum();
        let weights: Vec<f64> = weights.iter().take(points.len()).map(|weight| weight / sum).collect();
        let center = points.iter().zip(&weights).map(|(point, weight)| *point * *weight).sum::<DVec2>();
        let found = shared(&points, center);
        prop_assume!(found.as_ref().is_some_and(|shares| shares.iter().all(|share| *share > 0.0)));
        // The weights are another equilibrium about the same center, so they cannot have less.
        let squares = |shares: &[f64]| shares.iter().map(|share| share * share).sum::<f64>();
        prop_assert!(squares(&found.expect("assumed")) <= squares(&weights) + 1e-9);
    }

    #[test]
    fn keeps_a_grid_held_without_any_one(
        left in 0.05..0.9_f64, right in 0.05..0.9_f64, inner in proptest::collection::vec(0.1..0.9_f64, 0..3), half in 0.1..1.0_f64, rows in 3..6_u32,
    ) {
        // Columns on both sides of the center, rows mirrored, three or more: no single loss tips it.
        let xs: Vec<f64> = std::iter::once(-left).chain(inner.iter().map(|share| (left + right) * share - left)).chain(std::iter::once(right)).collect();
        let ys: Vec<f64> = (0..rows).map(|row| half * (2.0 * f64::from(row) / f64::from(rows - 1) - 1.0)).collect();
        let points = grid(&xs, &ys);
        let lost = one_lost(&points, DVec2::ZERO);
        prop_assert!(lost.iter().all(Option::is_some));
        for (index, shares) in lost.iter().flatten().enumerate() {
            let (weight, moment) = imbalance(&points, DVec2::ZERO, shares);
            prop_assert!(weight.abs() < 1e-6 && moment < 0.001 + 1e-6);
            prop_assert_eq!(shares[index].to_bits(), 0);
        }
    }
}
