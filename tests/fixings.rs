//! Fixings of flat panels: cases by hand, and what holds for any panel and any members.

use glam::DVec2;
use proptest::prelude::{Just, Strategy, prop_assert, prop_assert_eq, prop_assume, prop_oneof, proptest};
use roomwright::layout::fixings::{Fixings, Members, Note, Rule, SIDE_MOST, SPACING_MOST, fixings};
use roomwright::layout::places::{Axis, count_least, on_members, spread};

const INCH: f64 = 0.0254;
const USUAL: Rule = Rule::Usual { rated_kg: None, factor: 1.0 };
const UNCHECKED: Note = Note::MassUnchecked { mass_known: false, rating_known: false };

fn studs(centers: &[f64]) -> Members {
    Members { upright: true, centers: centers.to_vec(), width: 0.038 }
}

fn joists(centers: &[f64]) -> Members {
    Members { upright: false, ..studs(centers) }
}

fn plain(width: f64, height: f64, rule: &Rule, members: Option<&Members>) -> Fixings {
    fixings(DVec2::ZERO, DVec2::new(width, height), None, rule, members)
}

#[track_caller]
fn expect_points(found: &Fixings, expected: &[(f64, f64)]) {
    let at: Vec<(f64, f64)> = found.points.iter().map(|point| (point.at.x, point.at.y)).collect();
    assert_eq!(at.len(), expected.len(), "{at:?}");
    for (ours, theirs) in at.iter().zip(expected) {
        assert!((ours.0 - theirs.0).abs() < 1e-12 && (ours.1 - theirs.1).abs() < 1e-12, "{at:?} instead of {expected:?}");
    }
}

fn members_of(found: &Fixings) -> Vec<Option<usize>> {
    found.points.iter().map(|point| point.on_member).collect()
}

// The usual rule.

#[test]
fn exact_four_points_just_reach_a_common_panel() {
    // 1200 mm: a quarter at each end leaves exactly 600 mm; 600 mm: a fifth leaves 360 mm.
    let found = plain(0.6, 1.2, &USUAL, None);
    expect_points(&found, &[(0.12, 0.9), (0.48, 0.9), (0.12, 0.3), (0.48, 0.3)]);
    assert_eq!(found.notes, [UNCHECKED]);
    // Elsewhere on the wall the same, moved along.
    let moved = fixings(DVec2::new(1.0, 0.5), DVec2::new(0.6, 1.2), None, &USUAL, None);
    expect_points(&moved, &[(1.12, 1.4), (1.48, 1.4), (1.12, 0.8), (1.48, 0.8)]);
}

#[test]
fn exact_a_larger_panel_needs_six() {
    // 1220 mm less two quarters is 610 mm: a third row, which may then lie a fifth from the ends.
    let found = plain(0.61, 1.22, &USUAL, None);
    let (left, right) = (0.122, 0.488);
    expect_points(&found, &[(left, 0.976), (right, 0.976), (left, 0.61), (right, 0.61), (left, 0.244), (right, 0.244)]);
    assert_eq!(plain(24.0 * INCH, 48.0 * INCH, &USUAL, None).points.len(), 6, "24 x 48 in: 24 in are 609.6 mm");
}

#[test]
fn exact_the_inset_goes_only_as_far_as_it_must() {
    // 1100 mm: 600 mm of spacing leave 250 mm at each end, between a fifth (220) and a quarter (275).
    expect_points(&plain(0.5, 1.1, &USUAL, None), &[(0.1, 0.85), (0.4, 0.85), (0.1, 0.25), (0.4, 0.25)]);
}

#[test]
fn exact_density_above_three_quarters_of_a_square_meter() {
    // 1.2 x 1.2 m: ceil(4 x 1.44 / 0.75) = 8, and 2 x 4 is the least grid of so many.
    assert_eq!(plain(1.2, 1.2, &USUAL, None).points.len(), 8);
    // 0.75 m2 exactly: four would do, 1250 mm ask for a third row.
    assert_eq!(plain(0.6, 1.25, &USUAL, None).points.len(), 6);
    assert_eq!(plain(0.75, 1.0, &USUAL, None).points.len(), 4);
    // ceil(4 x 0.76 / 0.75) = 5: the least grid of five or more has six.
    assert_eq!(plain(0.76, 1.0, &USUAL, None).points.len(), 6);
}

#[test]
fn exact_count_by_mass() {
    let by = |mass: Option<f64>, rated_kg: Option<f64>, factor: f64| {
        fixings(DVec2::ZERO, DVec2::new(0.6, 1.2), mass, &Rule::Usual { rated_kg, factor }, None)
    };
    // 20 kg, factor 2, 5 kg each: eight.
    let eight = by(Some(20.0), Some(5.0), 2.0);
    assert_eq!((eight.points.len(), eight.notes.len()), (8, 0));
    assert_eq!(by(Some(20.0), Some(10.0), 2.0).points.len(), 4, "40 / 10 is four exactly");
    assert_eq!(by(Some(30.0), Some(5.0), 0.1).points.len(), 6, "a factor below 1 counts as 1");
    assert_eq!(by(Some(30.0), Some(5.0), f64::NAN).points.len(), 6);
    assert_eq!(by(Some(20.0), None, 2.0).notes, [Note::MassUnchecked { mass_known: true, rating_known: false }]);
    assert_eq!(by(None, Some(5.0), 2.0).notes, [Note::MassUnchecked { mass_known: false, rating_known: true }]);
    assert_eq!(by(Some(f64::NAN), Some(-5.0), 2.0).notes, [UNCHECKED]);
    // 20 kg on fixings for 20 g: no panel has room for that, and it says so.
    for factor in [1.0, f64::INFINITY] {
        let weak = by(Some(20.0), Some(0.02), factor);
        let told = weak
            .notes
            .iter()
            .any(|note| matches!(note, Note::TooManyNeeded { needed, given } if *needed >= 1000 && *given == weak.points.len()));
        assert!(told && weak.points.len() < 100, "{:?}", weak.notes);
    }
}

// Members.

#[test]
fn exact_studs_at_sixteen_inches() {
    // 24 in wide, studs 4 and 20 in from its left edge: insets of a sixth. 48 in high: three rows.
    let found = plain(24.0 * INCH, 48.0 * INCH, &USUAL, Some(&studs(&[-12.0 * INCH, 4.0 * INCH, 20.0 * INCH, 36.0 * INCH])));
    let (left, right) = (4.0 * INCH, 20.0 * INCH);
    let rows = [38.4 * INCH, 24.0 * INCH, 9.6 * INCH];
    expect_points(&found, &rows.map(|y| [(left, y), (right, y)]).concat());
    assert_eq!(members_of(&found), [Some(1), Some(2)].repeat(3));
    assert_eq!(found.notes.len(), 2);
    assert!(matches!(found.notes[1], Note::InsetOffRule { axis: Axis::X, share, .. } if (share - 1.0 / 6.0).abs() < 1e-12));
    // 48 in wide, 24 in high: all three studs, since the outer two are 32 in apart; two rows a fifth from the ends.
    let lying = plain(48.0 * INCH, 24.0 * INCH, &USUAL, Some(&studs(&[40.0 * INCH, 24.0 * INCH, 8.0 * INCH])));
    let columns = [8.0 * INCH, 24.0 * INCH, 40.0 * INCH];
    expect_points(&lying, &[19.2 * INCH, 4.8 * INCH].map(|y| columns.map(|x| (x, y))).concat());
    assert_eq!(members_of(&lying), [Some(2), Some(1), Some(0)].repeat(2), "numbered as told, hung from left to right");
}

#[test]
fn exact_members_choose_the_better_insets() {
    // 1200 mm, members every 400 mm. At 0, 400, 800, 1200 only two are behind it: a third from the ends.
    let third = plain(1.2, 0.6, &USUAL, Some(&studs(&[0.0, 0.4, 0.8, 1.2])));
    expect_points(&third, &[(0.4, 0.48), (0.8, 0.48), (0.4, 0.12), (0.8, 0.12)]);
    // At 50, 300, 850, 1150: 300 and 850 depart by 0 and 50 mm from the rule, 550 mm apart.
    let mixed = plain(1.2, 0.6, &USUAL, Some(&studs(&[0.05, 0.3, 0.85, 1.15])));
    expect_points(&mixed, &[(0.3, 0.48), (0.85, 0.48), (0.3, 0.12), (0.85, 0.12)]);
    // 240 and 300 mm are both within the rule: the one as far in as 900 mm is on the right.
    let alike = plain(1.2, 0.6, &USUAL, Some(&studs(&[0.24, 0.3, 0.9])));
    expect_points(&alike, &[(0.3, 0.48), (0.9, 0.48), (0.3, 0.12), (0.9, 0.12)]);
    // 600 mm high on level joists: rows on them, columns by the rule.
    let level = plain(0.6, 0.6, &USUAL, Some(&joists(&[0.1, 0.5])));
    expect_points(&level, &[(0.12, 0.5), (0.48, 0.5), (0.12, 0.1), (0.48, 0.1)]);
    assert_eq!(members_of(&level), [Some(1), Some(1), Some(0), Some(0)]);
}

#[test]
fn exact_studs_too_far_apart_are_told() {
    let found = plain(48.0 * INCH, 24.0 * INCH, &USUAL, Some(&studs(&[12.0 * INCH, 36.0 * INCH])));
    assert_eq!(found.points.len(), 4);
    let told = |note: &Note| matches!(note, Note::SpacingOver { axis: Axis::X, spacing } if (spacing - 24.0 * INCH).abs() < 1e-12);
    assert!(found.notes.iter().any(told), "{:?}", found.notes);
}

#[test]
fn exact_too_few_members() {
    let free = plain(0.6, 1.2, &USUAL, None).points;
    for (centers, note) in [
        (vec![], Note::NoMemberBehind),
        (vec![-0.2, 0.02, 0.59, 0.9, f64::NAN], Note::NoMemberBehind),
        (vec![0.3], Note::FewOnMembers { behind: 1 }),
        (vec![0.05, 0.2], Note::FewOnMembers { behind: 2 }),
        (vec![0.1, 0.3], Note::FewOnMembers { behind: 2 }),
    ] {
        let found = plain(0.6, 1.2, &USUAL, Some(&studs(&centers)));
        assert!(found.notes.contains(&note), "{centers:?}: {:?}", found.notes);
        assert_eq!(found.points, free, "the rule's points, none on a member");
    }
    let narrow = plain(0.6, 1.2, &USUAL, Some(&Members { width: 0.001, ..studs(&[0.1, 0.5]) }));
    assert!(narrow.notes.contains(&Note::NarrowMembers { width: 0.001 }));
}

// The user's own rule.

#[test]
fn exact_three_clips_six_inches_in() {
    let own = Rule::Own { count: 3, inset: 6.0 * INCH };
    let found = plain(24.0 * INCH, 48.0 * INCH, &own, None);
    expect_points(&found, &[(6.0 * INCH, 42.0 * INCH), (18.0 * INCH, 42.0 * INCH), (12.0 * INCH, 6.0 * INCH)]);
    let [UNCHECKED, Note::OwnRule { count: 3, usual: 6 }, inset, spacing] = &found.notes[..] else { panic!("{:?}", found.notes) };
    assert!(matches!(inset, Note::InsetOffRule { axis: Axis::Y, share, .. } if (share - 0.125).abs() < 1e-12), "6 of 24 in is a quarter");
    assert!(matches!(spacing, Note::SpacingOver { axis: Axis::Y, spacing } if (spacing - 36.0 * INCH).abs() < 1e-12));
}

#[test]
fn exact_own_counts() {
    let own = |count: u32, width: f64, height: f64| plain(width, height, &Rule::Own { count, inset: 0.1 }, None);
    assert!(own(0, 0.6, 0.6).points.is_empty());
    expect_points(&own(1, 0.6, 0.8), &[(0.3, 0.4)]);
    expect_points(&own(2, 0.6, 0.8), &[(0.1, 0.7), (0.5, 0.7)]);
    expect_points(&own(4, 0.6, 0.8), &[(0.1, 0.7), (0.5, 0.7), (0.1, 0.1), (0.5, 0.1)]);
    // Five: upright two, two and one; lying three and two.
    expect_points(&own(5, 0.6, 1.2), &[(0.1, 1.1), (0.5, 1.1), (0.1, 0.6), (0.5, 0.6), (0.3, 0.1)]);
    expect_points(&own(5, 1.2, 0.6), &[(0.1, 0.5), (0.6, 0.5), (1.1, 0.5), (0.1, 0.1), (1.1, 0.1)]);
    assert!(own(u32::MAX, 0.6, 0.6).points.len() <= 256);
}

#[test]
fn exact_own_inset_stays_inside() {
    for (asked, given) in [(0.0, 0.025), (-1.0, 0.025), (0.3, 0.27), (9.0, 0.27), (f64::NAN, 0.12), (f64::INFINITY, 0.12)] {
        let found = plain(0.6, 0.6, &Rule::Own { count: 4, inset: asked }, None);
        assert!((found.points[2].at - DVec2::splat(given)).length() < 1e-12, "{asked}: {:?}", found.points);
        let told = found.notes.iter().filter(|note| matches!(note, Note::OwnInsetMoved { given: to, .. } if (to - given).abs() < 1e-12));
        assert_eq!(told.count(), 2, "{asked}");
    }
}

#[test]
fn exact_own_points_move_onto_members() {
    let own = Rule::Own { count: 3, inset: 0.15 };
    let found = plain(0.6, 1.2, &own, Some(&studs(&[0.1, 0.35, 0.5])));
    // Two above: 150 -> 100, 450 -> 500; the one below: 300 -> 350.
    expect_points(&found, &[(0.1, 1.05), (0.5, 1.05), (0.35, 0.15)]);
    assert_eq!(members_of(&found), [Some(0), Some(2), Some(1)]);
    assert!(found.notes.iter().any(|note| matches!(note, Note::OwnMoved { farthest } if (farthest - 0.05).abs() < 1e-12)));
    // One stud for two clips: as told, and it says so.
    let few = plain(0.6, 1.2, &own, Some(&studs(&[0.3])));
    assert_eq!(few.points, plain(0.6, 1.2, &own, None).points);
    assert!(few.notes.contains(&Note::FewOnMembers { behind: 1 }));
    // Two studs near the middle of a wide panel are too far from what was told.
    let wide = plain(1.2, 0.6, &Rule::Own { count: 2, inset: 0.1 }, Some(&studs(&[0.5, 0.7])));
    expect_points(&wide, &[(0.1, 0.5), (1.1, 0.5)]);
    assert!(wide.notes.contains(&Note::FewOnMembers { behind: 2 }));
    // Rows on level joists.
    let rows = plain(0.6, 1.2, &own, Some(&joists(&[0.2, 0.6, 1.0])));
    expect_points(&rows, &[(0.15, 1.0), (0.45, 1.0), (0.3, 0.2)]);
    assert_eq!(members_of(&rows), [Some(2), Some(2), Some(0)]);
}

// Bad and small sizes.

#[test]
fn keeps_bad_sizes_out() {
    for (width, height) in [(0.0, 1.0), (-1.0, 1.0), (1.0, f64::NAN), (f64::INFINITY, 1.0), (1.0, 2.0 * SIDE_MOST)] {
        for rule in [USUAL, Rule::Own { count: 4, inset: 0.1 }] {
            let found = plain(width, height, &rule, None);
            assert!(found.points.is_empty() && found.notes == [Note::SizeUnusable], "{width} x {height}");
        }
    }
    let nowhere = fixings(DVec2::new(f64::NAN, 0.0), DVec2::ONE, None, &USUAL, None);
    assert_eq!(nowhere.notes, [Note::SizeUnusable]);
}

#[test]
fn exact_tiny_panels() {
    // 50 mm: a quarter in, since 25 mm would be the middle. 110 mm: a quarter would be 27.5 mm, a fifth 22, so 25.
    expect_points(&plain(0.05, 0.11, &USUAL, None), &[(0.0125, 0.085), (0.0375, 0.085), (0.0125, 0.025), (0.0375, 0.025)]);
}

// Any panel.

fn any_members() -> impl Strategy<Value = Option<Members>> {
    let regular = (0.1..0.9_f64, -0.9..0.1_f64).prop_map(|(apart, first)| (0..12).map(|index| first + apart * f64::from(index)).collect());
    let loose = proptest::collection::vec(-0.3..3.0_f64, 0..7);
    let centers = prop_oneof![regular, loose];
    proptest::option::of((proptest::bool::ANY, centers).prop_map(|(upright, centers)| Members { upright, centers, width: 0.04 }))
}

fn any_rule() -> impl Strategy<Value = Rule> {
    let usual = (proptest::option::of(0.5..20.0_f64), 1.0..6.0_f64).prop_map(|(rated_kg, factor)| Rule::Usual { rated_kg, factor });
    prop_oneof![Just(USUAL), usual, (0..20_u32, -0.1..1.0_f64).prop_map(|(count, inset)| Rule::Own { count, inset })]
}

/// Rows from the top, each as its x from the left.
fn rows(found: &Fixings) -> Vec<(f64, Vec<f64>)> {
    let mut rows: Vec<(f64, Vec<f64>)> = Vec::new();
    for point in &found.points {
        match rows.last_mut().filter(|row| (row.0 - point.at.y).abs() < 1e-9) {
            Some(row) => row.1.push(point.at.x),
            None => rows.push((point.at.y, vec![point.at.x])),
        }
    }
    rows
}

fn steps(places: &[f64]) -> impl Iterator<Item = f64> {
    places.windows(2).map(|pair| pair[1] - pair[0])
}

proptest! {
    #[test]
    fn keeps_points_inside_apart_and_in_order(
        low in (-2.0..2.0_f64, 0.0..2.0_f64), size in (0.03..2.5_f64, 0.03..2.5_f64), mass in proptest::option::of(0.2..40.0_f64),
        rule in any_rule(), members in any_members(),
    ) {
        let (low, size) = (DVec2::from(low), DVec2::from(size));
        let found = fixings(low, size, mass, &rule, members.as_ref());
        for point in &found.points {
            for (at, side) in [(point.at.x - low.x, size.x), (point.at.y - low.y, size.y)] {
                let least = 0.025_f64.min(side / 4.0) - 1e-9;
                prop_assert!(at >= least && side - at >= least, "{} of {}", at, side);
            }
            if let (Some(index), Some(members)) = (point.on_member, &members) {
                let across = if members.upright { point.at.x } else { point.at.y };
                prop_assert!((across - members.centers[index]).abs() < 1e-12);
            }
        }
        prop_assert!(members.is_some() || found.points.iter().all(|point| point.on_member.is_none()));
        let few = |note: &Note| matches!(note, Note::NoMemberBehind | Note::FewOnMembers { .. });
        if members.is_some() && !found.points.is_empty() {
            let on = found.points.iter().filter(|point| point.on_member.is_some()).count();
            prop_assert_eq!(on, if found.notes.iter().any(few) { 0 } else { found.points.len() }, "all on members or none, and told");
        }
        let rows = rows(&found);
        prop_assert!(rows.windows(2).all(|pair| pair[0].0 > pair[1].0), "from the top down");
        // Two places on one member are nowhere; members in one place count once.
        let apart = 0.001;
        prop_assert!(rows.iter().all(|row| steps(&row.1).all(|step| step > apart)), "from the left, never in one place");
    }

    #[test]
    fn keeps_the_usual_rule_or_says_so(size in (0.03..3.0_f64, 0.03..3.0_f64), mass in proptest::option::of(0.2..40.0_f64),
        rated_kg in proptest::option::of(0.5..20.0_f64), factor in 1.0..6.0_f64, members in any_members(),
    ) {
        let size = DVec2::from(size);
        let found = fixings(DVec2::ZERO, size, mass, &Rule::Usual { rated_kg, factor }, members.as_ref());
        let by_mass = mass.zip(rated_kg).map_or(0.0, |(mass, rated)| mass * 9.81 * factor / (rated * 9.81));
        let needed = by_mass.max(4.0).max(if size.x * size.y > 0.75 { 4.0 * size.x * size.y / 0.75 } else { 4.0 });
        let short = (found.points.len() as f64) < needed - 1e-6;
        let told = found.notes.iter().any(|note| matches!(note, Note::TooManyNeeded { .. }));
        prop_assert_eq!(short, told, "{} of {}: {:?}", found.points.len(), needed, found.notes);
        let rows = rows(&found);
        let upward: Vec<f64> = rows.iter().rev().map(|row| row.0).collect();
        for (axis, places, side) in [(Axis::X, &rows[0].1, size.x), (Axis::Y, &upward, size.y)] {
            let over = steps(places).any(|step| step > SPACING_MOST + 1e-9);
            prop_assert_eq!(over, found.notes.iter().any(|note| matches!(note, Note::SpacingOver { axis: of, .. } if *of == axis)));
            let share = |inset: f64| (0.2 - 1e-9..=0.25 + 1e-9).contains(&(inset / side));
            let off = !share(places[0]) || !share(side - places[places.len() - 1]);
            prop_assert_eq!(off, found.notes.iter().any(|note| matches!(note, Note::InsetOffRule { axis: of, .. } if *of == axis)));
            let on = members.as_ref().is_some_and(|members| members.upright == (axis == Axis::X)) && found.points[0].on_member.is_some();
            if !on {
                prop_assert!(!over && !off);
                let mirrored = places.iter().zip(places.iter().rev()).all(|(one, other)| (one + other - side).abs() < 1e-9);
                prop_assert!(mirrored, "{:?} of {}", places, side);
            } else {
                prop_assert!(places[0] < side / 2.0 && places[places.len() - 1] > side / 2.0, "the middle lies between");
            }
        }
    }

    #[test]
    fn keeps_spacing_on_dense_members(size in (0.3..2.4_f64, 0.3..2.4_f64), first in -0.4..0.0_f64, apart in 0.1..0.3_f64, upright in proptest::bool::ANY) {
        // A panel of 300 mm can lie with one such member behind it, or with two on one side of its middle.
        let centers: Vec<f64> = (0..40).map(|index| first + apart * f64::from(index)).collect();
        let found = plain(size.0, size.1, &USUAL, Some(&Members { upright, centers, width: 0.04 }));
        prop_assume!(found.points[0].on_member.is_some());
        prop_assert!(!found.notes.iter().any(|note| matches!(note, Note::SpacingOver { .. })), "{:?}", found.notes);
    }

    #[test]
    fn exact_inner_members_are_the_nearest_to_equal_steps(side in 0.4..3.0_f64, shares in proptest::collection::vec(0.02..0.98_f64, 2..9)) {
        let members: Vec<(usize, f64)> = shares.iter().map(|share| share * side).enumerate().collect();
        let insets = 0.0..=0.45 * side;
        let mut lines: Vec<f64> = members.iter().map(|member| member.1).collect();
        lines.sort_by(f64::total_cmp);
        lines.dedup_by(|later, kept| *later - *kept < 0.01);
        for set in on_members(side, &members, &insets) {
            let (low, high) = (set[0].1, set[set.len() - 1].1);
            let step = (high - low) / (set.len() - 1) as f64;
            let off = |places: &[f64]| places.iter().enumerate().map(|(index, at)| (at - low - step * index as f64).powi(2)).sum::<f64>();
            let ours = off(&set.iter().map(|member| member.1).collect::<Vec<_>>());
            let between: Vec<f64> = lines.iter().copied().filter(|at| *at > low && *at < high).collect();
            for chosen in (0..1_u32 << between.len()).filter(|chosen| chosen.count_ones() as usize == set.len() - 2) {
                let inner = between.iter().enumerate().filter(|(index, _)| chosen >> index & 1 == 1).map(|(_, at)| *at);
                let theirs: Vec<f64> = std::iter::once(low).chain(inner).chain(std::iter::once(high)).collect();
                prop_assert!(ours <= off(&theirs) + 1e-9, "{:?} beats {:?}", theirs, set);
            }
        }
    }

    #[test]
    fn exact_no_pair_of_outer_members_is_better(side in 0.4..3.0_f64, shares in proptest::collection::vec(0.02..0.98_f64, 0..9)) {
        let members: Vec<(usize, f64)> = shares.iter().map(|share| share * side).enumerate().collect();
        let mut lines: Vec<f64> = members.iter().map(|member| member.1).collect();
        lines.sort_by(f64::total_cmp);
        lines.dedup_by(|later, kept| *later - *kept < 0.01);
        let cost = |low: f64, high: f64| {
            let off = |inset: f64| (0.2 * side - inset).max(inset - 0.25 * side).max(0.0);
            off(low) + off(side - high)
        };
        let allowed = |inset: f64| inset <= 0.45 * side;
        let pairs = lines.iter().flat_map(|low| lines.iter().map(move |high| (*low, *high))).filter(|(low, high)| allowed(*low) && allowed(side - high));
        let least = pairs.map(|(low, high)| cost(low, high)).min_by(f64::total_cmp);
        let sets = on_members(side, &members, &(0.0..=0.45 * side));
        let ours = sets.first().map(|set| cost(set[0].1, set[set.len() - 1].1));
        prop_assert_eq!(ours.is_some(), least.is_some());
        prop_assert!(ours.zip(least).is_none_or(|(ours, least)| ours <= least + 1e-8), "{:?} over {:?}", ours, least);
    }

    #[test]
    fn keeps_the_least_count(side in 0.05..6.0_f64, spacing in 0.3..1.5_f64) {
        let least = count_least(side, spacing);
        let widest = |count: usize| steps(&spread(side, count, spacing)).fold(0.0, f64::max);
        prop_assert!(widest(least) <= spacing + 1e-9);
        prop_assert!(least == 2 || side * 0.5 / (least - 2) as f64 > spacing, "one less, a quarter in, is too wide");
    }
}
