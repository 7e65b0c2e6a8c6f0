//! Panels of finite size: shapes against sums over points, one panel and rows of four, tables turned back into materials, the motion solved piece by piece, and how rays
//! carry it.

use std::f64::consts::{PI, TAU};

use glam::DVec2;
use num_complex::Complex64;
use proptest::prelude::{prop_assert, proptest};
use roomwright::absorbers::sized::capture::{Bounce, Capture, Group, MARGIN, MARGIN_MOST};
use roomwright::absorbers::sized::sample::Sample;
use roomwright::absorbers::sized::{
    Array, Covariance, Octaves, Rectangle, disjoint, endless_absorption, mutual_impedance, pairs, union_area,
};
use roomwright::absorbers::{BuildUp, COSINE_BINS, Finish, bin_weight, table};
use roomwright::bands::{Band, Bands};
use roomwright::geometry::Polygon;

use super::validation::sized::{SPEED, layer};

fn panel(left: f64, bottom: f64) -> Rectangle {
    Rectangle::sized(0.6, 1.2).expect("a size").moved(DVec2::new(left, bottom))
}

/// Four panels side by side with gaps between them, meters.
fn row(gap: f64) -> Vec<Rectangle> {
    (0..4).map(|index| panel(f64::from(index) * (0.6 + gap), 0.0)).collect()
}

fn array(rectangles: &[Rectangle]) -> Array {
    Array::new(rectangles).expect("rectangles with an area")
}

/// 50 mm of 20 kPa s/m2 on the wall, locally reacting.
fn wool(frequency: f64, _cosine: f64) -> Complex64 {
    layer(frequency, 20_000.0, 0.05, 0.0)
}

// Shapes.

#[test]
fn exact_union_of_rectangles() {
    let crossed = [Rectangle::new(DVec2::new(0.0, 1.0), DVec2::new(3.0, 2.0)), Rectangle::new(DVec2::new(1.0, 0.0), DVec2::new(2.0, 3.0))];
    let crossed = crossed.map(|one| one.expect("a size"));
    assert!((union_area(&crossed) - 5.0).abs() < 1e-12);
    let parts = disjoint(&crossed);
    assert_eq!(parts.len(), 3);
    for (index, one) in parts.iter().enumerate() {
        for other in &parts[index + 1..] {
            let overlap = one.high.min(other.high) - one.low.max(other.low);
            assert!(overlap.min_element() <= 1e-12, "{one:?} and {other:?}");
        }
    }
    assert_eq!(disjoint(&row(0.0)).len(), 1, "touching panels are one");
    assert_eq!(disjoint(&row(0.1)).len(), 4);
    assert!(disjoint(&[]).is_empty());
}

#[test]
fn keeps_bad_sizes_out() {
    for (width, height) in [(0.0, 1.0), (-1.0, 1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)] {
        assert!(
            Rectangle::sized(width, height).is_none() && Array::single(width, height).is_none() && Sample::new(width, height).is_none()
        );
    }
    assert!(Array::new(&[]).is_none());
}

#[test]
fn exact_covariance_of_separated_rectangles() {
    // Against the area shared with the set moved in 2,000 directions, rectangle by rectangle.
    let set = [panel(0.0, 0.0), panel(0.9, 0.3), Rectangle::sized(0.4, 0.5).expect("a size").moved(DVec2::new(-0.7, 1.0))];
    let covariance = Covariance::of(&set);
    let shared =
        |one: &Rectangle, other: &Rectangle| (one.high.min(other.high) - one.low.max(other.low)).max(DVec2::ZERO).element_product();
    for distance in [0.05, 0.31, 0.6, 0.9, 1.2, 1.5, 1.9, 2.3, 2.9] {
        let mean = (0..2000).map(|step| TAU * (f64::from(step) + 0.5) / 2000.0).map(|angle| {
            let by = distance * DVec2::from_angle(angle);
            set.iter().map(|one| set.iter().map(|other| shared(one, &other.moved(by))).sum::<f64>()).sum::<f64>()
        });
        let mean = mean.sum::<f64>() / 2000.0;
        assert!((covariance.at(distance) - mean).abs() < 2e-5, "{distance} m: {} is not {mean}", covariance.at(distance));
    }
    let area: f64 = set.iter().map(|one| one.area()).sum();
    assert!((covariance.at(0.0) - area).abs() < 1e-12);
    // The first slope is the perimeter by pi.
    let slope = (area - covariance.at(1e-6)) / 1e-6;
    assert!((slope - (3.6 + 3.6 + 1.8) / PI).abs() < 1e-4, "{slope}");
    assert!(covariance.at(covariance.bends[covariance.bends.len() - 1] + 1e-9).abs() < 1e-12);
}

// Arrays.

#[test]
fn keeps_mutual_impedance_the_same_both_ways() {
    let (one, other) = (panel(0.0, 0.0), Rectangle::sized(1.5, 0.4).expect("a size").moved(DVec2::new(0.7, 0.9)));
    for k in [0.5, 3.0, 20.0, 90.0] {
        for cosine in [1.0, 0.6, 0.05] {
            let (to, from) = (mutual_impedance(&one, &other, k, cosine), mutual_impedance(&other, &one, k, cosine));
            assert!((to * one.area() - from * other.area()).norm() < 1e-9, "{k} {cosine}: {to} {from}");
        }
    }
}

#[test]
fn exact_array_is_the_sum_of_its_pairs() {
    // Force on the whole by a common motion: own impedances and mutual ones, each by its area.
    let set = [panel(0.0, 0.0), panel(0.8, 0.1), panel(2.0, -0.4)];
    let (k, cosine) = (TAU * 500.0 / SPEED, 0.4);
    let of = |index: usize| -> Complex64 { set.iter().map(|other| mutual_impedance(&set[index], other, k, cosine)).sum() };
    let mean = (0..3).map(of).sum::<Complex64>() / 3.0;
    let ours = array(&set).radiation_impedance(500.0, &[cosine])[0];
    assert!((ours - mean).norm() < 1e-5 * mean.norm(), "{ours} is not {mean}");
}

#[test]
fn keeps_one_panel_a_joined_row_and_a_row_with_gaps_apart() {
    let (one, joined) = (array(&[panel(0.0, 0.0)]), Array::single(2.4, 1.2).expect("a size"));
    let of = |array: &Array| array.octaves().absorption(wool);
    let (single, touching, spaced) = (of(&one), of(&array(&row(0.0))), of(&array(&row(0.3))));
    // Touching is joined; a hair apart is hardly less.
    let (joined, hair) = (of(&joined), of(&array(&row(1e-4))));
    // So far apart that nothing is heard of one another but a ten-thousandth.
    let far = of(&array(&row(300.0)));
    for band in Band::ALL {
        let label = band.label();
        assert!((touching[band] - joined[band]).abs() < 1e-9, "{label}");
        assert!((hair[band] - joined[band]).abs() < 1e-3 * joined[band], "{label}: {} {}", hair[band], joined[band]);
        assert!((far[band] - single[band]).abs() < 2e-3 * single[band], "{label}: {} {}", far[band], single[band]);
    }
    // From 250 Hz on, where panels are no longer small against the wave, gaps pay, and a single one pays most.
    for band in &Band::ALL[2..] {
        assert!(touching[*band] < spaced[*band] && spaced[*band] < single[*band], "{}", band.label());
    }
    let at_500 = Band::new(3);
    assert!(spaced[at_500] > 1.1 * touching[at_500] && single[at_500] > 1.05 * spaced[at_500], "{spaced:?} {touching:?} {single:?}");
    let mut before = touching[at_500];
    for gap in [0.05, 0.1, 0.2, 0.4, 0.8] {
        let here = of(&array(&row(gap)))[at_500];
        assert!(here > before, "gap {gap}: {here} after {before}");
        before = here;
    }
}

#[test]
fn keeps_octaves_converged() {
    // Against ten times the frequencies, ten times the angles and a rule that shares nothing with the program's.
    for (array, z) in [(array(&[panel(0.0, 0.0)]), Complex64::new(1.4, -0.6)), (array(&row(0.2)), Complex64::new(3.0, -1.0))] {
        let ours = array.octaves().absorption(|_, _| z);
        for band in [Band::new(0), Band::new(3), Band::new(6)] {
            let mut sum = 0.0;
            let cosines: Vec<f64> = (0..200).map(|step| ((f64::from(step) + 0.5) / 200.0).powi(2)).collect();
            for tone in 0..30 {
                let frequency = band.lower() * (band.upper() / band.lower()).powf((f64::from(tone) + 0.5) / 30.0);
                for (&cosine, zr) in cosines.iter().zip(array.radiation_impedance(frequency, &cosines)) {
                    sum += 8.0 * 2.0 * cosine.sqrt() * z.re / (z + zr).norm_sqr() / (200.0 * 30.0);
                }
            }
            assert!((ours[band] - sum).abs() < 1e-3 * sum, "{}: {} is not {sum}", band.label(), ours[band]);
        }
    }
}

proptest! {
    #[test]
    fn keeps_absorption_within_what_radiation_allows(re in 0.01..50.0_f64, im in -50.0..50.0_f64, width in 0.2..4.0_f64, height in 0.2..3.0_f64, frequency in 20.0..4_000.0_f64) {
        // Most is absorbed where z is the conjugate of zr: 2 Int dc / Re zr. Nothing is negative.
        let array = Array::single(width, height).expect("a size");
        let absorption = array.absorption(frequency, |_| Complex64::new(re, im));
        let cosines: Vec<f64> = (0..100).map(|step| ((f64::from(step) + 0.5) / 100.0).powi(2)).collect();
        let most: f64 = cosines.iter().zip(array.radiation_impedance(frequency, &cosines)).map(|(c, zr)| 4.0 * c.sqrt() / zr.re / 100.0).sum();
        prop_assert!(absorption >= 0.0 && absorption <= 1.001 * most, "{absorption} {most}");
    }
}

// The motion solved piece by piece.

/// Absorption coefficient of a rectangle whose pieces of `side` meters move each for itself: boundary elements with one unknown a piece, the same mean over all directions.
fn by_pieces(width: f64, height: f64, side: f64, frequency: f64, z: Complex64) -> f64 {
    let (columns, rows) = ((width / side).round() as usize, (height / side).round() as usize);
    let k = TAU * frequency / SPEED;
    let radiated: Vec<Complex64> = (0..columns * rows).map(|at| of_piece(k, side, (at % columns) as f64, (at / columns) as f64)).collect();
    let place = |piece: usize| ((piece % columns), (piece / columns));
    let count = columns * rows;
    let matrix: Vec<Vec<Complex64>> = (0..count)
        .map(|one| {
            let (x, y) = place(one);
            (0..count).map(place).map(|(u, v)| radiated[x.abs_diff(u) + columns * y.abs_diff(v)]).collect::<Vec<_>>()
        })
        .enumerate()
        .map(|(one, mut row)| {
            row[one] += z;
            row
        })
        .collect();
    let (mut waves, mut weights) = (Vec::new(), Vec::new());
    for step in 0..40 {
        // Squares of places in the cosine, midpoints: half a per mille.
        let root = (f64::from(step) + 0.5) / 40.0;
        let sine = (1.0 - root.powi(4)).sqrt();
        for turn in 0..6 {
            let along = k * sine * side * DVec2::from_angle(PI * (f64::from(turn) + 0.5) / 6.0);
            let wave = |piece| Complex64::from_polar(2.0, -along.dot(DVec2::new(place(piece).0 as f64, place(piece).1 as f64)));
            waves.push((0..count).map(wave).collect::<Vec<_>>());
            weights.push(2.0 * root / 40.0 / 6.0);
        }
    }
    let moved = solve(matrix, waves);
    let mean = |motion: &Vec<Complex64>| motion.iter().map(Complex64::norm_sqr).sum::<f64>() / count as f64;
    2.0 * z.re * moved.iter().zip(weights).map(|(motion, weight)| weight * mean(motion)).sum::<f64>()
}

/// `j k / 2 pi Int e^(-j k R) / R` over a square piece so many sides away.
fn of_piece(k: f64, side: f64, columns: f64, rows: f64) -> Complex64 {
    let steps = if columns + rows < 3.0 { 24 } else { 4 };
    let own = columns + rows == 0.0;
    let size = side / f64::from(steps);
    let mut sum = if own { Complex64::from(4.0 * side * 1.0_f64.asinh()) } else { Complex64::ZERO };
    for step in 0..steps * steps {
        let off = |step: i32| (f64::from(step) + 0.5) * size - 0.5 * side;
        let distance = (columns * side + off(step % steps)).hypot(rows * side + off(step / steps));
        // On the piece itself the part that is not bounded has a closed form.
        let wave = Complex64::from_polar(1.0, -k * distance) - if own { 1.0 } else { 0.0 };
        sum += wave / distance * size * size;
    }
    Complex64::i() * k / TAU * sum
}

/// Elimination with the greatest of each column, all right sides at once.
fn solve(mut matrix: Vec<Vec<Complex64>>, mut right: Vec<Vec<Complex64>>) -> Vec<Vec<Complex64>> {
    let count = matrix.len();
    for column in 0..count {
        let best = (column..count).max_by(|&a, &b| matrix[a][column].norm().total_cmp(&matrix[b][column].norm())).expect("rows are left");
        matrix.swap(column, best);
        right.iter_mut().for_each(|one| one.swap(column, best));
        let (upper, lower) = matrix.split_at_mut(column + 1);
        let pivot = &upper[column];
        for (below, row) in lower.iter_mut().enumerate() {
            let factor = row[column] / pivot[column];
            row[column..].iter_mut().zip(&pivot[column..]).for_each(|(value, above)| *value -= factor * above);
            for one in &mut right {
                let above = one[column];
                one[column + 1 + below] -= factor * above;
            }
        }
    }
    for one in &mut right {
        for row in (0..count).rev() {
            let known: Complex64 = (row + 1..count).map(|later| matrix[row][later] * one[later]).sum();
            one[row] = (one[row] - known) / matrix[row][row];
        }
    }
    right
}

#[test]
fn exact_motion_of_small_panels_and_what_one_amplitude_misses() {
    // Small against the wave the panel has one amplitude; above, the head of `sized` says by how much one is too few.
    for (frequency, thickness, least, most) in [
        (125.0, 0.05, 0.995, 1.005),
        (250.0, 0.05, 1.005, 1.025),
        (500.0, 0.05, 1.14, 1.20),
        (250.0, 0.1, 1.03, 1.07),
        (500.0, 0.1, 1.05, 1.10),
    ] {
        let z = layer(frequency, 20_000.0, thickness, 0.0);
        let pieces = by_pieces(0.6, 1.2, 0.1, frequency, z);
        let ours = array(&[panel(0.0, 0.0)]).absorption(frequency, |_| z);
        assert!((least..most).contains(&(pieces / ours)), "{frequency} Hz, {thickness} m: by pieces {pieces}, with one amplitude {ours}");
    }
}

// Samples.

#[test]
fn exact_round_trip_of_materials_and_samples() {
    let sample = Sample::usual();
    assert_eq!(sample.to_string(), "sample of 3.6 x 3.0 m");
    for band in Band::ALL {
        let mut before = -1.0;
        for step in 0..=94 {
            let material = f64::from(step) / 100.0;
            let tabled = sample.absorption(band, material);
            assert!(tabled > before, "{}: {material}: {tabled} after {before}", band.label());
            before = tabled;
            let found = sample.material(Bands::splat(tabled))[band];
            assert!(!found.capped && (found.absorption - material).abs() < 1e-6, "{}: {material}: {found:?}", band.label());
        }
    }
    // Mosaics from 1 kHz on.
    for band in &Band::ALL[4..] {
        let found = sample.material(Bands::splat(sample.absorption(*band, 0.98)))[*band];
        assert!(!found.capped && (found.absorption - 0.98).abs() < 1e-6, "{}: {found:?}", band.label());
    }
}

#[test]
fn keeps_a_word_about_what_no_material_reaches() {
    for sample in [Sample::usual(), &Sample::new(4.0, 3.0).expect("a size"), &Sample::new(1.2, 0.6).expect("a size")] {
        for (asked, capped) in [(0.0, false), (-1.0, false), (f64::NAN, false), (9.0, true), (f64::INFINITY, true)] {
            let found = sample.material(Bands::splat(asked));
            assert!(found.0.iter().all(|one| one.capped == capped && (0.0..=0.99).contains(&one.absorption)), "{asked}: {found:?}");
        }
    }
    // Hard surfaces have no edges to speak of: 8 / z both ways, the edge beyond as 1 / z more.
    let hard = Sample::usual().material(Bands::splat(0.01));
    assert!(hard.0.iter().all(|one| (one.absorption - 0.01).abs() < 2e-4), "{hard:?}");
}

#[test]
fn keeps_table_rows_within_materials() {
    for row in table::rows() {
        let tabled = row.absorption().0;
        let found = Sample::usual().material(tabled);
        for band in Band::ALL {
            assert!(
                found[band].absorption <= tabled[band].min(0.99) + 0.03,
                "{}, {}: {:?} of {}",
                row.name,
                band.label(),
                found[band],
                tabled[band]
            );
        }
    }
}

#[test]
fn exact_thickness_finds_the_layer_that_a_resistance_misses() {
    // 100 mm of 20 kPa s/m2 as measured, octave by octave.
    let sample = Sample::usual();
    let thick = |frequency: f64| layer(frequency, 20_000.0, 0.1, 0.0);
    let measured: Octaves = Array::single(3.6, 3.0).expect("a size").octaves();
    for index in [0, 1] {
        let band = Band::new(index);
        let tabled = measured.absorption_in(band, |frequency, _| thick(frequency));
        let (found, beyond) = sample.parameter(band, tabled, (500.0, 200_000.0), |number, frequency, _| layer(frequency, number, 0.1, 0.0));
        assert!(!beyond && (found / 20_000.0 - 1.0).abs() < 1e-6, "{}: {found}", band.label());
    }
    let (most, beyond) = sample.parameter(Band::new(1), 5.0, (500.0, 200_000.0), |number, frequency, _| layer(frequency, number, 0.1, 0.0));
    assert!(beyond && most > 20_000.0 && most < 200_000.0, "{most}");
    // What the head of `sample` says of a resistance at 125 Hz.
    let band = Band::new(1);
    let tabled = measured.absorption_in(band, |frequency, _| thick(frequency));
    let resistance = sample.material(Bands::splat(tabled))[band].absorption;
    let endless = endless_absorption(|_| thick(band.center()));
    assert!(
        (tabled - 0.90).abs() < 0.02 && (resistance - 0.63).abs() < 0.02 && (endless - 0.45).abs() < 0.01,
        "{tabled} {resistance} {endless}"
    );
}

// How rays carry it.

fn bare() -> Finish {
    Finish::from_random_incidence("plaster", Bands([0.02, 0.03, 0.04, 0.05, 0.06, 0.1, 0.3, 0.6]), Bands::splat(0.1), Bands::splat(false))
}

fn absorbent() -> Finish {
    Finish::of("panel", &BuildUp::panel(20_000.0, 0.05, 0.0), Bands::splat(0.15))
}

fn absorbed(of: impl Fn(usize) -> Bounce) -> f64 {
    (0..COSINE_BINS).map(|bin| bin_weight(bin) * of(bin).absorbed).sum()
}

fn of_finish(finish: &Finish, band: Band) -> f64 {
    (0..COSINE_BINS).map(|bin| bin_weight(bin) * (1.0 - f64::from(finish.specular[bin][band]) - f64::from(finish.diffuse[bin][band]))).sum()
}

/// What a group's panels and margin lose beyond what the bare wall would, m2.
fn gained(group: &Group<'_>, capture: &Capture, pieces: &[Polygon], wall: &Finish, band: Band) -> f64 {
    let on_panels = union_area(&group.panels) * absorbed(|bin| capture.on_panel(group.finish, bin, band));
    let around: f64 = pieces.iter().map(Polygon::area).sum();
    on_panels + around * (absorbed(|bin| capture.in_margin(group.finish, wall, bin, band)) - of_finish(wall, band))
}

fn group<'a>(panels: &[Rectangle], finish: &'a Finish) -> Group<'a> {
    Group { panels: panels.to_vec(), mirrored: Vec::new(), finish, effective: array(panels).octaves().absorption(wool) }
}

/// A wall of so many meters to either side of the origin.
fn plane(half: f64) -> Polygon {
    Polygon::rectangle(DVec2::splat(-half), DVec2::splat(half))
}

#[test]
fn exact_total_of_panel_margin_and_wall_where_nothing_is_clipped() {
    let (wall, finish) = (bare(), absorbent());
    for panels in [vec![panel(0.0, 0.0)], row(0.0), row(0.1), row(1.5), vec![panel(0.0, 0.0), panel(0.3, 0.9)]] {
        let group = group(&panels, &finish);
        let capture = group.capture(&wall);
        let pieces = group.pieces(capture.margin, &plane(20.0), &[], &[]);
        let area = union_area(&panels);
        for band in Band::ALL {
            let (wanted, ours) = (group.effective[band] * area, gained(&group, &capture, &pieces, &wall, band));
            assert!((ours - wanted).abs() < 1e-9, "{}: {ours} is not {wanted}", band.label());
            assert!(!capture.held[band] && (capture.strength[band] == 0.0 || capture.share[band] == 1.0), "{capture:?}");
        }
        assert!((MARGIN..1.0).contains(&capture.margin), "{capture:?}");
    }
}

#[test]
fn keeps_every_bounce_whole_and_no_loss_above_what_comes() {
    let (wall, finish) = (bare(), absorbent());
    let black = Finish::uniform("black", Bands::splat(1.0), Bands::splat(0.0));
    for material in [&finish, &black, &wall] {
        let mut one = group(&row(0.2), material);
        for effective in [one.effective, Bands::splat(0.0), Bands::splat(0.01), Bands::splat(1.9), Bands::splat(1e6)] {
            one.effective = effective;
            for behind in [&wall, &black] {
                let capture = one.capture(behind);
                assert!((0.0..=MARGIN_MOST).contains(&capture.margin));
                for band in Band::ALL {
                    assert!((0.0..=1.0).contains(&capture.strength[band]) && (0.0..=1.0).contains(&capture.share[band]));
                    for bin in 0..COSINE_BINS {
                        for bounce in [capture.on_panel(material, bin, band), capture.in_margin(material, behind, bin, band)] {
                            let parts = [bounce.mirrored, bounce.scattered, bounce.absorbed];
                            assert!(parts.iter().all(|part| (-1e-12..=1.0 + 1e-12).contains(part)), "{bounce:?}");
                            assert!((parts.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{bounce:?}");
                        }
                    }
                }
            }
        }
    }
    // More than wall and material leave to be captured: as wide as a margin may be, and told.
    let asked = Group { effective: Bands::splat(1e6), ..group(&row(0.2), &finish) };
    let capture = asked.capture(&wall);
    assert!(capture.margin >= MARGIN_MOST && capture.held == Bands::splat(true), "{capture:?}");
}

#[test]
fn keeps_a_small_loss_in_the_panel_itself() {
    let (wall, finish) = (bare(), absorbent());
    let less = Bands::from_fn(|band| 0.9 * of_finish(&finish, band));
    let group = Group { effective: less, ..group(&[panel(0.0, 0.0)], &finish) };
    let capture = group.capture(&wall);
    let pieces = group.pieces(capture.margin, &plane(20.0), &[], &[]);
    assert!(pieces.is_empty());
    for band in Band::ALL {
        assert!((gained(&group, &capture, &pieces, &wall, band) - less[band] * 0.72).abs() < 1e-9);
    }
    // More in one octave and less in another: each as asked.
    let mixed =
        Group { effective: Bands::from_fn(|band| if band.index() < 4 { 1.2 * of_finish(&finish, band) } else { less[band] }), ..group };
    let capture = mixed.capture(&wall);
    let pieces = mixed.pieces(capture.margin, &plane(20.0), &[], &[]);
    for band in Band::ALL {
        assert!((gained(&mixed, &capture, &pieces, &wall, band) - mixed.effective[band] * 0.72).abs() < 1e-9);
    }
}

#[test]
fn exact_margins_end_at_edges_openings_and_one_another() {
    let (wall, finish) = (bare(), absorbent());
    // A panel 10 cm from the left edge and the floor, a window 5 cm to the right: what is left is the frame cut by hand.
    let one = group(&[panel(0.1, 0.1)], &finish);
    let m = one.capture(&wall).margin;
    assert!(m > 0.11 && m < 0.4, "{m}");
    let room = Polygon::rectangle(DVec2::ZERO, DVec2::new(4.0, 2.4));
    let window = Polygon::rectangle(DVec2::new(0.75, 0.3), DVec2::new(1.75, 1.0));
    let pieces = one.pieces(m, &room, &[], &[&window]);
    let area: f64 = pieces.iter().map(Polygon::area).sum();
    let frame = (0.7 + m) * (1.3 + m) - 0.72;
    let by_window = (m - 0.05) * 0.7;
    assert!((area - (frame - by_window)).abs() < 1e-9, "{area} is not {}", frame - by_window);
    for (index, piece) in pieces.iter().enumerate() {
        assert!(room.covers(piece, 1e-9) && !piece.overlaps(&window, 1e-9));
        assert!(pieces[index + 1..].iter().all(|other| !piece.overlaps(other, 1e-9)));
    }
    // A gable and a crooked window: nothing beyond, nothing in it.
    let gable = Polygon::new(vec![DVec2::ZERO, DVec2::new(2.0, 0.0), DVec2::new(2.0, 1.0), DVec2::new(0.0, 1.5)]);
    let crooked = Polygon::new([(0.8, 0.2), (1.5, 0.2), (1.5, 1.0), (1.0, 0.9), (1.1, 0.5)].map(|(x, y)| DVec2::new(x, y)).to_vec());
    let cut = one.pieces(m, &gable, &[], &[&crooked]);
    assert!(!cut.is_empty() && cut.iter().all(|piece| gable.covers(piece, 1e-9) && !piece.overlaps(&crooked, 1e-9)));
    // Another panel and its margin are kept off, nothing counts twice.
    let neighbor = panel(0.8, 0.1);
    let first = one.pieces(m, &room, &[neighbor], &[]);
    let neighbor_outline = Polygon::rectangle(neighbor.low, neighbor.high);
    assert!(first.iter().all(|piece| !piece.overlaps(&neighbor_outline, 1e-9)));
    let taken: Vec<&Polygon> = first.iter().collect();
    let second = group(&[neighbor], &finish).pieces(m, &room, &[panel(0.1, 0.1)], &taken);
    assert!(!second.is_empty() && second.iter().all(|piece| first.iter().all(|first| !piece.overlaps(first, 1e-9))));
}

#[test]
fn exact_total_at_a_wall_that_mirrors() {
    // A panel that touches a hard neighboring wall is half of the panel and its image.
    let (wall, finish) = (bare(), absorbent());
    let room = Polygon::rectangle(DVec2::ZERO, DVec2::new(20.0, 20.0));
    let (own, image) = (panel(0.0, 8.0), panel(-0.6, 8.0));
    let effective = array(&[own, image]).octaves().absorption(wool);
    let group = Group { panels: vec![own], mirrored: vec![image], finish: &finish, effective };
    let capture = group.capture(&wall);
    let pieces = group.pieces(capture.margin, &room, &[], &[]);
    for band in Band::ALL {
        let (wanted, ours) = (0.72 * effective[band], gained(&group, &capture, &pieces, &wall, band));
        assert!((ours - wanted).abs() < 1e-9, "{}: {ours} is not {wanted}", band.label());
    }
}

#[test]
fn keeps_the_clipped_margin_near_the_mirrored_one() {
    // Without images, a panel that touches the neighboring wall loses the margin beyond: right in kind, and as near as the head of `capture` says.
    let (wall, finish) = (bare(), absorbent());
    let room = Polygon::rectangle(DVec2::ZERO, DVec2::new(20.0, 20.0));
    let own = panel(0.0, 8.0);
    let mirrored = array(&[own, panel(-0.6, 8.0)]).octaves().absorption(wool);
    let group = group(&[own], &finish);
    let capture = group.capture(&wall);
    let pieces = group.pieces(capture.margin, &room, &[], &[]);
    for band in Band::ALL {
        let (ours, exact) = (gained(&group, &capture, &pieces, &wall, band), 0.72 * mirrored[band]);
        assert!((0.84..1.03).contains(&(ours / exact)), "{}: clipped {ours}, mirrored {exact}", band.label());
    }
}

#[test]
fn exact_sum_of_pairs_is_the_array() {
    // Each panel of the second field turned or moved, four of them touching.
    let turned = Rectangle::sized(1.2, 0.6).expect("a size");
    let field: Vec<Rectangle> = [(0.0, 1.4), (0.3, 2.5), (1.6, 1.4), (2.0, 2.1)].map(|(x, y)| turned.moved(DVec2::new(x, y))).to_vec();
    for panels in [vec![panel(0.0, 0.0)], row(0.0), row(0.02), row(0.1), row(0.3), row(0.8), [row(0.0), field].concat()] {
        let (ours, exact) = (pairs::octaves(&panels).expect("an area"), array(&panels).octaves());
        assert!((ours.area() - exact.area()).abs() < 1e-9);
        let (ours, exact) = (ours.absorption(wool), exact.absorption(wool));
        for band in Band::ALL {
            // Up to 500 Hz all of these are heard of one another.
            let least = if band.nominal() <= 500 { 1e-4 } else { 0.01 };
            assert!((ours[band] / exact[band] - 1.0).abs() < least, "{}: {} is not {}", band.label(), ours[band], exact[band]);
        }
    }
    // What overlaps counts once, nothing is nothing.
    let crossed = [panel(0.0, 0.0), panel(0.3, 0.3)];
    let (ours, exact) = (pairs::octaves(&crossed).expect("an area").absorption(wool), array(&crossed).octaves().absorption(wool));
    assert_eq!(ours, exact);
    assert!(pairs::octaves(&[]).is_none());
}
