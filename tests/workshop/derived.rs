//! What follows from the plan, reckoned anew: rows, marks, cloth, cuts, frames, sums, wires, rails, cables, gaps.

use glam::DVec2;
use roomwright::scene::prices::PriceList;
use roomwright::scene::{ClearanceRegion, Construction, PanelPlace, PanelType, Scene};
use roomwright::study::Building;
use roomwright::workshop::{CutPiece, MarkKind, MarkedPanel, Verdict};

use super::{kind, step};

/// Spaces and widths of a row add up to the wall, and are those between the panels as they are marked.
#[track_caller]
pub(super) fn rows_fill_their_walls(scene: &Scene, building: &Building) {
    let corners = &scene.outline;
    let mut rows = 0;
    for surface in building.build.surfaces.iter().filter(|surface| !surface.is_overhead) {
        let wall = scene.walls.iter().position(|wall| wall.name == surface.surface).expect("a wall of the scene");
        let length = corners[wall].distance(corners[(wall + 1) % corners.len()]);
        for row in &surface.rows {
            rows += 1;
            let panel =
                |number: &u32| surface.panels.iter().find(|panel| panel.number == *number).expect("a row's panel is on its surface");
            let members: Vec<&MarkedPanel> = row.panels.iter().map(panel).collect();
            let widths: f64 = members.iter().map(|panel| panel.width_m).sum();
            let spaces: f64 = row.spaces_m.iter().sum();
            assert!((widths + spaces - length).abs() < 1e-9, "{}: {widths} + {spaces} is not {length}", scene.name);
            assert_eq!(row.spaces_m.len(), members.len() + 1);
            let mut at = 0.0;
            for (panel, space) in members.iter().zip(&row.spaces_m) {
                at += space;
                assert!((panel.left_m - at).abs() < 1e-9, "{}: panel {} at {}, by its row {at}", scene.name, panel.number, panel.left_m);
                at += panel.width_m;
            }
            let gaps = &row.spaces_m[1..members.len()];
            let alike = gaps.iter().all(|gap| (gap - gaps[0]).abs() < 0.5 * step(scene));
            assert_eq!(row.is_even, alike, "{}: {gaps:?}", scene.name);
            for panel in &members {
                assert!(
                    panel.moved_m.abs() <= scene.making.even_within + 1e-9,
                    "{}: panel {} moved by {}",
                    scene.name,
                    panel.number,
                    panel.moved_m
                );
                // Where the plan had it, plus how far it was moved.
                let PanelPlace::Surface { left, .. } = scene.panels[panel.number as usize - 1].place else {
                    panic!("rows are of flat panels")
                };
                assert!((left + panel.moved_m - panel.left_m).abs() < 1e-9);
            }
            // Gaps that differ by at most 12 mm at places up to 25 mm off are made equal.
            let small: f64 = members.len() as f64 * 0.012;
            assert!(row.is_even || small > scene.making.even_within, "{}: {} gaps that differ by up to 12 mm", scene.name, gaps.len());
        }
    }
    assert!(rows > 0, "{}: no row", scene.name);
}

/// Every fixing is inside its panel and away from its edges, on a mark of the tape; corner marks are inside the strip.
#[track_caller]
pub(super) fn marks_lie_in_their_panels(scene: &Scene, building: &Building) {
    for surface in &building.build.surfaces {
        for panel in &surface.panels {
            let area = panel.width_m * panel.height_m;
            let fixings = panel.marks.iter().filter(|mark| mark.what == MarkKind::Fixing);
            for mark in fixings.clone() {
                let (x, y) = (mark.left_m - panel.left_m, mark.bottom_m - panel.bottom_m);
                let least = 0.018;
                assert!(
                    x >= least && x <= panel.width_m - least && y >= least && y <= panel.height_m - least,
                    "{}: mark {}",
                    scene.name,
                    mark.name
                );
                for measure in [mark.left_m, mark.bottom_m] {
                    let marks = measure / step(scene);
                    assert!((marks - marks.round()).abs() < 1e-6, "{}: {measure} is on no mark", scene.name);
                }
                assert!(mark.name.starts_with(&panel.number.to_string()));
            }
            let flat = kind(scene, &panel.kind).kind == roomwright::scene::StockKind::Panel;
            let least = ((4.0 * area / 0.75 - 1e-9).ceil() as usize).max(4);
            assert!(!flat || fixings.count() >= least, "{}: panel {} has too few fixings", scene.name, panel.number);
            let mut names: Vec<&str> = panel.marks.iter().map(|mark| mark.name.as_str()).collect();
            names.dedup();
            assert_eq!(names.len(), panel.marks.len(), "{}: marks of one name", scene.name);
            if let Some(members) = surface.members.first().filter(|members| members.upright) {
                for mark in panel.marks.iter().filter(|mark| mark.member.is_some() && mark.what == MarkKind::Fixing) {
                    let off = members.at_m.iter().map(|at| (at - mark.left_m).abs()).fold(f64::INFINITY, f64::min);
                    assert!(off <= 0.5 * step(scene) + 1e-9, "{}: mark {} is {off} off its stud", scene.name, mark.name);
                }
            }
        }
    }
}

/// The cloth goes over the face and the sides and as far onto the back as the scene says.
#[track_caller]
pub(super) fn cloth_covers(scene: &Scene, building: &Building) {
    for made in building.build.types.iter().filter(|made| made.construction != Construction::Bought) {
        let kind = kind(scene, &made.kind);
        let cloth = made.cloth.as_ref().expect("the example list has cloth wide enough");
        let over = |face: f64, side: f64| face + 2.0 * side + 2.0 * scene.making.cloth_return;
        // Across a right angle the sides stand at 45 degrees.
        let side = if made.corner.is_some() { kind.thickness * 2.0_f64.sqrt() } else { kind.thickness };
        let wanted = [over(kind.size.x, side), over(kind.size.y, kind.thickness)];
        assert!((cloth.size_m[0] - wanted[0]).abs() < 1e-9 && (cloth.size_m[1] - wanted[1]).abs() < 1e-9, "{}: {cloth:?}", scene.name);
        assert!(scene.making.cloth_return >= 0.05);
    }
}

/// Pieces lie on their sheet or roll, apart by the cut, each as often as it is needed.
#[track_caller]
pub(super) fn pieces_fit_their_sheets(scene: &Scene, building: &Building, prices: &PriceList) {
    let build = &building.build;
    let apart = |pieces: &[CutPiece], size: DVec2, cut: f64| {
        for (index, piece) in pieces.iter().enumerate() {
            let (low, high) = (DVec2::from_array(piece.low_m), DVec2::from_array(piece.low_m) + DVec2::from_array(piece.size_m));
            assert!(low.min_element() >= -1e-9 && (high - size).max_element() <= 1e-9, "{}: {piece:?} is not on {size}", scene.name);
            for other in &pieces[index + 1..] {
                let (from, to) = (DVec2::from_array(other.low_m), DVec2::from_array(other.low_m) + DVec2::from_array(other.size_m));
                assert!((from - high).max(low - to).max_element() >= cut - 1e-9, "{}: {piece:?} and {other:?} overlap", scene.name);
            }
        }
    };
    for cut in &build.boards {
        let size = DVec2::from_array(cut.sheet_m);
        let board = prices.boards.iter().find(|board| board.name == cut.board).expect("a board of the list");
        assert!((board.size - size).length() < 1e-12);
        cut.sheets.iter().for_each(|sheet| apart(&sheet.pieces, size, scene.making.kerf));
        let used: f64 = cut.sheets.iter().flat_map(|sheet| &sheet.pieces).map(|piece| piece.size_m[0] * piece.size_m[1]).sum();
        let all = size.x * size.y * cut.sheets.len() as f64;
        assert!((cut.waste_share - (1.0 - used / all)).abs() < 1e-9);
        assert!(cut.least_sheets as usize <= cut.sheets.len());
    }
    for cut in &build.cloths {
        apart(&cut.pieces, DVec2::new(cut.width_m, cut.length_m), 0.0);
        let farthest = cut.pieces.iter().map(|piece| piece.low_m[1] + piece.size_m[1]).fold(0.0, f64::max);
        assert!((farthest - cut.length_m).abs() < 1e-9 && cut.least_m <= cut.length_m + 1e-9);
    }
    for cut in &build.timbers {
        for length in &cut.lengths {
            let sum: f64 = length.pieces.iter().map(|piece| piece.length_m).sum();
            let cuts = scene.making.kerf * length.pieces.len().saturating_sub(1) as f64;
            assert!(sum + cuts <= cut.length_m + 1e-9, "{}: {length:?}", scene.name);
        }
    }
    for made in &build.types {
        let on_sheets =
            build.boards.iter().flat_map(|cut| &cut.sheets).flat_map(|sheet| &sheet.pieces).filter(|piece| piece.kind == made.kind).count();
        let refused = build.troubles.iter().any(|trouble| trouble.id == "board-too-small" && trouble.kind.as_ref() == Some(&made.kind));
        let wanted: u32 = made.cores.iter().map(|core| core.layers * made.count).sum();
        assert!(on_sheets == wanted as usize || refused, "{}: {on_sheets} of {wanted} cores of {}", scene.name, made.kind);
        let sides = made.frame.iter().map(|side| side.count * made.count).sum::<u32>() - made.battens_spare;
        let cut = build
            .timbers
            .iter()
            .flat_map(|cut| &cut.lengths)
            .flat_map(|length| &length.pieces)
            .filter(|piece| piece.kind == made.kind)
            .count();
        assert_eq!(cut, sides as usize, "{}: sides of {}", scene.name, made.kind);
    }
}

/// Frame and core together are as large as the face.
#[track_caller]
pub(super) fn frames_close(scene: &Scene, building: &Building, prices: &PriceList) {
    for made in building.build.types.iter().filter(|made| made.construction == Construction::WoodenFrame) {
        let [long, short] = &made.frame[..] else { panic!("{}: a frame has two kinds of sides", scene.name) };
        let timber = prices.timbers.iter().find(|timber| timber.name == long.timber).expect("timber of the list");
        let side = if made.corner.is_some() { timber.section.x * 2.0_f64.sqrt() } else { timber.section.x };
        assert!((long.length_m - made.face_m[1]).abs() < 1e-9 && (short.length_m + 2.0 * side - made.face_m[0]).abs() < 1e-9);
        assert_eq!((long.count, short.count), (2, 2 + battens(building, &made.kind)), "{}: cross-battens of {}", scene.name, made.kind);
        for core in &made.cores {
            assert!((core.size_m[0] + 2.0 * side - made.face_m[0]).abs() < 1e-9);
            assert!((core.size_m[1] + 2.0 * timber.section.x - made.face_m[1]).abs() < 1e-9);
            let board = prices.boards.iter().find(|board| board.name == core.board).expect("a board of the list");
            assert!((f64::from(core.layers) * board.thickness - made.thickness_m).abs() < 0.001);
        }
    }
}

/// As many cross-battens as the panel of this type with most rows of points along its longer side needs.
fn battens(building: &Building, kind: &str) -> u32 {
    let build = &building.build;
    let distinct = |mut all: Vec<i64>| {
        all.sort_unstable();
        all.dedup_by(|a, b| (*a - *b).abs() < 20);
        all.len() as u32
    };
    let mm = |meters: f64| (1000.0 * meters).round() as i64;
    match kind {
        // Its screws are in its long sides.
        "across" => 0,
        "cloud" => {
            let hung = build.overhead.iter().filter_map(|overhead| overhead.suspension.as_ref());
            hung.map(|hung| distinct(hung.points.iter().map(|point| mm(point.on_back_m[0].max(0.0))).collect())).max().unwrap_or(2)
        }
        _ => {
            let panels = build.surfaces.iter().flat_map(|surface| &surface.panels).filter(|panel| panel.kind == kind);
            panels.map(|panel| distinct(panel.marks.iter().map(|mark| mm(mark.bottom_m)).collect())).max().unwrap_or(2)
        }
    }
}

/// Every line is its packs times its price, the total their sum, and what is bought is enough.
#[track_caller]
pub(super) fn sums_are_sums(scene: &Scene, building: &Building, prices: &PriceList) {
    let build = &building.build;
    let mut total = 0.0;
    for line in &build.purchases {
        let bought = f64::from(line.packs) * line.pack;
        let is_panel = line.unit == "panel";
        let wanted = line.needed * if is_panel { 1.0 } else { 1.0 + scene.making.spare };
        assert!(
            bought >= wanted - 1e-5 * line.pack.max(1.0) && (bought < wanted + line.pack + 1e-9 || line.name.starts_with("rail")),
            "{}: {line:?}",
            scene.name
        );
        let cost = line.price.expect("all has a price") * f64::from(line.packs);
        assert!((line.cost.expect("all has a price") - cost).abs() < 1e-9);
        total += cost;
    }
    assert!((build.costs.total - total).abs() < 1e-6, "{}: {} is not {total}", scene.name, build.costs.total);
    assert!(build.costs.used <= total + 1e-6, "{}: more hangs than was bought", scene.name);
    assert!((build.costs.left_over_share - (1.0 - build.costs.used / total)).abs() < 1e-9);
    // Clips by the marks, counted anew.
    let marks = |kind: MarkKind| {
        build.surfaces.iter().flat_map(|surface| &surface.panels).flat_map(|panel| &panel.marks).filter(|mark| mark.what == kind).count()
    };
    let clips = prices.supplies.iter().find(|supply| supply.name.contains("panel clip")).expect("the list has clips");
    let needed = |name: &str| build.purchases.iter().find(|line| line.name.contains(name)).map_or(0.0, |line| line.needed);
    let of = |wanted: &dyn Fn(&PanelType) -> bool| {
        let panels = build.surfaces.iter().flat_map(|surface| &surface.panels).filter(|panel| wanted(kind(scene, &panel.kind)));
        panels.flat_map(|panel| &panel.marks).filter(|mark| mark.what == MarkKind::Fixing).count() as f64
    };
    assert!((needed("screw for the wall") - marks(MarkKind::Fixing) as f64).abs() < 1e-9);
    let is_corner = |kind: &PanelType| kind.kind == roomwright::scene::StockKind::Corner;
    assert!((needed("panel clip") - of(&|kind| kind.held_by() == roomwright::scene::making::HeldBy::Clips) * clips.uses).abs() < 1e-9);
    assert!((needed("keyhole plate") - of(&is_corner)).abs() < 1e-9);
}

/// Wires are as long as ceiling and cloud are apart; loads sum to the weight; with four wires each part holds five times half of it.
#[track_caller]
pub(super) fn wires_reach_from_cloud_to_ceiling(scene: &Scene, building: &Building) {
    for overhead in &building.build.overhead {
        let Some(hung) = &overhead.suspension else { continue };
        let panel = &scene.panels[overhead.number as usize - 1];
        let kind = kind(scene, &panel.kind);
        let PanelPlace::Cloud(cloud) = &panel.place else { panic!("only clouds hang by wires") };
        let weight = kind.mass.expect("masses are given") * 9.80665;
        for point in &hung.points {
            let ceiling = scene.ceiling[0].height;
            let wire = ceiling - cloud.underside - kind.thickness;
            assert!((point.wire_m - wire).abs() <= 1.01 * step(scene), "{}: {} is not {wire}", scene.name, point.wire_m);
            let half = 0.5 * cloud.size(kind);
            let off = DVec2::new(point.x_m, point.y_m) - cloud.center;
            assert!((off.abs() - half).max_element() < 0.0, "{}: wire {} is beside the cloud", scene.name, point.number);
        }
        let shared: f64 = hung.points.iter().filter_map(|point| point.load_n).sum();
        assert!((shared - weight).abs() < 1e-6 * weight, "{}: {shared} is not {weight}", scene.name);
        let needed = hung.needed_n.expect("the mass is known");
        assert!(needed >= 5.0 * weight / hung.points.len() as f64);
        assert!(hung.points.len() != 4 || needed >= 5.0 * 0.5 * weight - 1e-6, "{}: {needed}", scene.name);
        let forbidden = !overhead.not_to_be_hung.is_empty();
        assert_eq!(forbidden, !matches!(hung.verdict, Verdict::AsFigured), "{}: {:?}", scene.name, overhead.not_to_be_hung);
        assert_eq!(
            forbidden,
            building.build.troubles.iter().any(|trouble| trouble.id == "not-to-be-hung" && trouble.panels == [overhead.number])
        );
    }
}

/// What is cut off the roll is every wire with its loops; each eye on the back is plumb below its anchor.
#[track_caller]
pub(super) fn wire_on_the_roll_suffices(scene: &Scene, building: &Building, prices: &PriceList) {
    let (mut cut, mut short) = (0.0, 0);
    // Two loops have room on a wire that is as long as both, and a chain takes the place of a shorter one.
    let mut one = |long: f64, cut_m: Option<f64>| {
        let loops = 2.0 * scene.making.wire_loop;
        match cut_m {
            Some(meters) => {
                assert!(
                    long >= loops - 1.01 * step(scene) && (meters - long - loops).abs() <= 1.01 * step(scene),
                    "{}: {meters} of {long}",
                    scene.name
                );
                cut += meters;
            }
            None => {
                assert!(long < loops + 1.01 * step(scene), "{}: {long} has room for loops", scene.name);
                short += 1;
            }
        }
    };
    for overhead in &building.build.overhead {
        let Some(hung) = &overhead.suspension else { continue };
        let panel = &scene.panels[overhead.number as usize - 1];
        let kind = kind(scene, &panel.kind);
        let PanelPlace::Cloud(cloud) = &panel.place else { panic!("only clouds hang by wires") };
        let chart = cloud.chart();
        for point in &hung.points {
            one(point.wire_m, point.cut_m);
            let [x, y] = point.on_back_m;
            // From the middle of the underside to the eye, along both sides and through the panel.
            let along = DVec2::new(x, y) - 0.5 * cloud.size(kind);
            let eye = chart.point(along) + chart.normal * kind.thickness;
            let off = (eye.truncate() - DVec2::new(point.x_m, point.y_m)).length();
            assert!(off <= 1.5 * step(scene), "{}: the eye of wire {} is {off} off its plumb line", scene.name, point.number);
            assert!((eye.z - point.attachment_m).abs() <= 1.5 * step(scene), "{}: {} is not {}", scene.name, eye.z, point.attachment_m);
        }
        hung.secondary.iter().for_each(|wire| one(wire.longest_m, wire.cut_m));
        assert!(hung.secondary.iter().all(|wire| wire.longest_m > wire.straight_m));
    }
    for wire in building.build.overhead.iter().filter_map(|overhead| overhead.flat.as_ref()).flat_map(|flat| &flat.secondary) {
        one(wire.longest_m, wire.cut_m);
    }
    let wire = prices.supplies.iter().find(|supply| supply.name == "steel wire").expect("the list has wire");
    let needed = |name: &str| building.build.purchases.iter().find(|line| line.name.starts_with(name)).map_or(0.0, |line| line.needed);
    assert!((needed(&wire.name) - cut).abs() < 1e-9, "{}: {} m on the list, {cut} m are cut", scene.name, needed(&wire.name));
    assert_eq!(needed("rated chain"), f64::from(short), "{}: chains for short wires", scene.name);
}

/// Where points of a panel on a wall lie on no stud and studs stand on both sides of them, rails reach from one to the other.
#[track_caller]
pub(super) fn rails_carry_their_points(scene: &Scene, building: &Building) {
    let mut length = 0.0;
    for surface in &building.build.surfaces {
        for panel in &surface.panels {
            length += panel.rails.iter().map(|rail| rail.length_m).sum::<f64>();
            for rail in &panel.rails {
                assert!(rail.level && !surface.is_overhead && rail.screws_m.len() >= 2, "{}: {rail:?}", scene.name);
                for screw in &rail.screws_m {
                    assert!(*screw > rail.from_m && *screw < rail.to_m);
                    let studs = scene.making.structure.iter().find(|structure| structure.surface == surface.surface).expect("studs");
                    let step_off = ((screw - studs.first) / studs.spacing.expect("several")).fract().abs();
                    assert!(step_off.min(1.0 - step_off) < 0.01, "{}: a screw beside the stud: {rail:?}", scene.name);
                }
            }
            for mark in panel.marks.iter().filter(|_| !panel.rails.is_empty()) {
                let on = panel.rails.iter().any(|rail| {
                    (rail.at_m - mark.bottom_m).abs() < 1e-9
                        && mark.left_m >= rail.screws_m[0]
                        && mark.left_m <= rail.screws_m[rail.screws_m.len() - 1]
                });
                assert!(on && mark.member.is_none(), "{}: mark {} is on no rail", scene.name, mark.name);
            }
        }
    }
    let line = building.build.purchases.iter().find(|line| line.name.starts_with("rail"));
    assert!((line.map_or(0.0, |line| line.needed) - length).abs() < 1e-9);
    // No rail is spliced: of those longer than half a length each takes one of its own.
    if let Some(line) = line {
        let mut rails: Vec<f64> = building
            .build
            .surfaces
            .iter()
            .flat_map(|surface| &surface.panels)
            .flat_map(|panel| &panel.rails)
            .map(|rail| rail.length_m)
            .collect();
        rails.sort_by(|a, b| b.total_cmp(a));
        let whole = rails.iter().filter(|rail| 2.0 * **rail > line.pack).count();
        assert!(line.packs as usize >= whole, "{}: {} rails longer than half a length, {} lengths", scene.name, whole, line.packs);
    }
}

/// Marks in line with a socket say so, all others do not.
#[track_caller]
pub(super) fn cables_are_told(scene: &Scene, building: &Building) {
    for surface in &building.build.surfaces {
        for mark in surface.panels.iter().flat_map(|panel| &panel.marks) {
            let in_line = scene.clearances.iter().any(|clearance| match &clearance.region {
                ClearanceRegion::Surface { surface: on, place } if *on == surface.surface => {
                    let (x, y) = (mark.left_m - place.left, mark.bottom_m - place.bottom);
                    // A mark on the very border is in line.
                    let within = |at: f64, size: f64| at >= -0.05 - 1e-9 && at <= size + 0.05 + 1e-9;
                    within(x, place.width) || within(y, place.height)
                }
                _ => false,
            });
            assert_eq!(mark.in_line_with.is_some(), in_line, "{}: mark {} on {}", scene.name, mark.name, surface.surface);
        }
    }
}

/// Neighbors nearer than the least gap are told, and nobody else.
#[track_caller]
pub(super) fn gaps_are_told(scene: &Scene, building: &Building) {
    let told: Vec<&Vec<u32>> =
        building.build.troubles.iter().filter(|trouble| trouble.id == "gap-too-small").map(|trouble| &trouble.panels).collect();
    for surface in building.build.surfaces.iter().filter(|surface| !surface.is_overhead) {
        let flat: Vec<&MarkedPanel> = surface.panels.iter().filter(|panel| panel.kind == "flat").collect();
        for pair in flat.windows(2) {
            let gap = pair[1].left_m - pair[0].left_m - pair[0].width_m;
            let is_told = told.contains(&&vec![pair[0].number, pair[1].number]);
            assert_eq!(
                is_told,
                gap < scene.making.least_gap - 1e-6,
                "{}: {gap} between {} and {}",
                scene.name,
                pair[0].number,
                pair[1].number
            );
        }
    }
}
