//! Tidy rows: equal gaps, round measures, moves that line panels up.

use roomwright::layout::rows::tidy_within;

use super::*;

#[test]
fn exact_equal_gaps_and_round_measures() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let panels = vec![hung("wall 1", 0.5031, 0.604), hung("wall 1", 1.46, 0.698), hung("wall 1", 2.337, 0.62), hung("wall 1", 3.3, 0.62)];
    let tidied = tidy(&scene, &room, &free, panels);
    let lefts: Vec<f64> = tidied.iter().map(|panel| corner_of(panel).0).collect();
    let gaps: Vec<f64> = lefts.windows(2).map(|pair| pair[1] - pair[0] - 0.6).collect();
    assert!(gaps.iter().all(|gap| (gap - gaps[0]).abs() < 1e-9), "{gaps:?}");
    for value in tidied.iter().flat_map(|panel| [corner_of(panel).0, corner_of(panel).1]) {
        assert!((value * 100.0 - (value * 100.0).round()).abs() < 1e-6, "{value}");
    }
    assert!(tidied.iter().all(|panel| (corner_of(panel).1 - 0.62).abs() < 1e-9), "the level that moves the row least");
    // In a scene measured in inches: half inches.
    let mut inches = scene.clone();
    inches.unit = LengthUnit::Inch;
    for panel in tidy_within(&inches, &room, &free, vec![hung("wall 1", 0.5031, 0.604), hung("wall 2", 1.46, 0.698)], 0.15) {
        let (left, bottom) = corner_of(&panel);
        assert!((left / 0.0127 - (left / 0.0127).round()).abs() < 1e-6 && (bottom / 0.0127 - (bottom / 0.0127).round()).abs() < 1e-6);
    }
    // Nothing to tidy within: stays.
    let apart = vec![hung("wall 1", 0.5, 0.3), hung("wall 1", 2.4, 1.0)];
    assert_eq!(tidy(&scene, &room, &free, apart.clone()), apart);
}

#[test]
fn exact_places_in_an_inch_room_are_half_inches() {
    let foot = 0.3048;
    let mut scene = shoebox(15.0 * foot, 12.0 * foot, 8.0 * foot);
    scene.unit = LengthUnit::Foot;
    scene.stock = stock();
    scene.stock[0].size = DVec2::new(2.0 * foot, 4.0 * foot);
    let (room, free) = built(&scene);
    let found = candidates(&scene, &room, &free, &scene.stock[0], 0.1);
    assert!(found.len() > 1000);
    for candidate in found {
        let (left, bottom) = corner_of(&candidate.panel);
        assert!((left / 0.0127 - (left / 0.0127).round()).abs() < 1e-6 && (bottom / 0.0127 - (bottom / 0.0127).round()).abs() < 1e-6);
    }
}

#[test]
fn exact_moves_offer_level_column_and_middle() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let panels = vec![hung("wall 1", 0.5, 0.6), hung("wall 1", 1.5, 0.66), hung("wall 1", 2.3, 0.6)];
    let offered = moves(&scene, &room, &free, &panels, 0.15);
    let has = |index: usize, left: f64, bottom: f64| {
        offered
            .iter()
            .any(|(i, panel)| *i == index && (corner_of(panel).0 - left).abs() < 1e-9 && (corner_of(panel).1 - bottom).abs() < 1e-9)
    };
    assert!(has(1, 1.5, 0.6), "level with its neighbors");
    assert!(has(1, 1.4, 0.66), "midway between its neighbors");
    assert!(offered.iter().all(|(index, panel)| *panel != panels[*index]));
}
