//! From plan to workshop: every dimension on paper derived anew from the plan, over random walls; what cannot be made, marked or hung is told.
//!
//! Nothing here calls what it judges but `study::build`: sizes, sums and lengths are reckoned from the scene by other code.

use glam::DVec2;
use roomwright::scene::prices::{self, PriceList};
use roomwright::scene::{ClearanceRegion, Construction, PanelPlace, PanelType, Scene};
use roomwright::study::{self, Building};
use roomwright::workshop::{CutPiece, MarkKind, MarkedPanel, Verdict};

mod invented; // rooms with rows of panels, a cloud and a corner, drawn by chance

use invented::invented;

/// Rooms of the long test.
const ROOMS: u64 = 500;

fn read(text: &str) -> Scene {
    match roomwright::scene::read(text) {
        Ok((scene, _)) => scene,
        Err(mistakes) => panic!("{}\n{text}", mistakes.iter().map(|one| one.render(text, "scene")).collect::<Vec<_>>().join("\n")),
    }
}

fn built(scene: &Scene, prices: &PriceList) -> Building {
    study::build(None, scene, prices).unwrap_or_else(|why| panic!("{}: {why}", scene.name))
}

fn kind<'a>(scene: &'a Scene, name: &str) -> &'a PanelType {
    scene.stock.iter().find(|kind| kind.name == name).expect("types of panels are in stock")
}

/// A millimeter, or a sixteenth of an inch.
fn step(scene: &Scene) -> f64 {
    if scene.unit == roomwright::units::LengthUnit::Foot { 0.0254 / 16.0 } else { 0.001 }
}

#[test]
fn locked_every_dimension_follows_from_the_plan() {
    let prices = prices::example();
    for seed in 0..ROOMS {
        let scene = read(&invented(seed));
        let building = built(&scene, &prices);
        rows_fill_their_walls(&scene, &building);
        marks_lie_in_their_panels(&scene, &building);
        cloth_covers(&scene, &building);
        pieces_fit_their_sheets(&scene, &building, &prices);
        frames_close(&scene, &building, &prices);
        sums_are_sums(&scene, &building, &prices);
        wires_reach_from_cloud_to_ceiling(&scene, &building);
        wire_on_the_roll_suffices(&scene, &building, &prices);
        rails_carry_their_points(&scene, &building);
        cables_are_told(&scene, &building);
        gaps_are_told(&scene, &building);
    }
}

/// Spaces and widths of a row add up to the wall, and are those between the panels as they are marked.
#[track_caller]
fn rows_fill_their_walls(scene: &Scene, building: &Building) {
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
fn marks_lie_in_their_panels(scene: &Scene, building: &Building) {
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
fn cloth_covers(scene: &Scene, building: &Building) {
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
fn pieces_fit_their_sheets(scene: &Scene, building: &Building, prices: &PriceList) {
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
        let sides: u32 = made.frame.iter().map(|side| side.count * made.count).sum();
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
fn frames_close(scene: &Scene, building: &Building, prices: &PriceList) {
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
fn sums_are_sums(scene: &Scene, building: &Building, prices: &PriceList) {
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
fn wires_reach_from_cloud_to_ceiling(scene: &Scene, building: &Building) {
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
fn wire_on_the_roll_suffices(scene: &Scene, building: &Building, prices: &PriceList) {
    let mut cut = 0.0;
    for overhead in &building.build.overhead {
        let Some(hung) = &overhead.suspension else { continue };
        let panel = &scene.panels[overhead.number as usize - 1];
        let kind = kind(scene, &panel.kind);
        let PanelPlace::Cloud(cloud) = &panel.place else { panic!("only clouds hang by wires") };
        let chart = cloud.chart();
        for point in &hung.points {
            cut += point.cut_m;
            assert!((point.cut_m - point.wire_m - 2.0 * scene.making.wire_loop).abs() <= 1.01 * step(scene), "{}: {point:?}", scene.name);
            let [x, y] = point.on_back_m;
            // From the middle of the underside to the eye, along both sides and through the panel.
            let along = DVec2::new(x, y) - 0.5 * cloud.size(kind);
            let eye = chart.point(along) + chart.normal * kind.thickness;
            let off = (eye.truncate() - DVec2::new(point.x_m, point.y_m)).length();
            assert!(off <= 1.5 * step(scene), "{}: the eye of wire {} is {off} off its plumb line", scene.name, point.number);
            assert!((eye.z - point.attachment_m).abs() <= 1.5 * step(scene), "{}: {} is not {}", scene.name, eye.z, point.attachment_m);
        }
        cut += hung.secondary.iter().map(|wire| wire.cut_m).sum::<f64>();
        assert!(hung.secondary.iter().all(|wire| wire.cut_m > wire.longest_m && wire.longest_m > wire.straight_m));
    }
    let wire = prices.supplies.iter().find(|supply| supply.name == "steel wire").expect("the list has wire");
    let line = building.build.purchases.iter().find(|line| line.name == wire.name).expect("a cloud hangs");
    assert!((line.needed - cut).abs() < 1e-9, "{}: {} m on the list, {cut} m are cut", scene.name, line.needed);
}

/// Where points of a panel on a wall lie on no stud and studs stand on both sides of them, rails reach from one to the other.
#[track_caller]
fn rails_carry_their_points(scene: &Scene, building: &Building) {
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
fn cables_are_told(scene: &Scene, building: &Building) {
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
fn gaps_are_told(scene: &Scene, building: &Building) {
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

#[test]
fn keeps_the_size_of_cloth_of_the_trade() {
    // Common practice, no source: 24 x 48 in, 2 in thick, 4 in on the back takes 36 x 60 in.
    let inch = 0.0254;
    let size = roomwright::workshop::pieces::cloth_size(DVec2::new(24.0, 48.0) * inch, 2.0 * inch, 4.0 * inch);
    assert!((size / inch - DVec2::new(36.0, 60.0)).length() < 1e-9, "{}", size / inch);
}

#[test]
fn keeps_air_behind_a_corner_panel() {
    // A right angle: legs of 0.6 / sqrt 2; behind 0.1 m of thickness a triangle with a base of 0.4 m, half of it high.
    let cut = roomwright::workshop::pieces::corner_cut(DVec2::new(0.6, 1.2), 0.1, std::f64::consts::FRAC_PI_2).unwrap();
    assert!((cut.leg_m - 0.6 / 2.0_f64.sqrt()).abs() < 1e-12);
    assert!((cut.back_m - 0.4).abs() < 1e-12 && (cut.bevel_deg - 45.0).abs() < 1e-9);
    assert!((cut.air_m3 - 0.5 * 0.4 * 0.2 * 1.2).abs() < 1e-12, "{}", cut.air_m3);
}

/// The room of the first invented scene, with other words for some of it.
fn with(changes: &[(&str, &str)]) -> Scene {
    let text = changes.iter().fold(PLAIN.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from} is not in the scene");
        text.replacen(from, to, 1)
    });
    read(&text)
}

const PLAIN: &str = r#"format = 1
name = "plain"
use = "mixing"
[build]
kerf = "3 mm"
[room]
size = [5.0, 4.0, 2.6]
floor = "Wood floor (on joists)"
wall_material = "Plaster on solid wall"
ceiling_material = "Plaster on solid wall"
[[loudspeaker]]
position = [0.6, 1.7, 1.2]
toward = "seat"
[[seat]]
ear = [1.6, 2.0, 1.2]
direction = [-1, 0, 0]
[[stock]]
name = "flat"
kind = "panel"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
mass = 4
[[stock]]
name = "cloud"
kind = "cloud"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
mass = 5
[[structure]]
name = "joists"
kind = "joists"
surface = "ceiling"
runs = "up"
first = 0.1
spacing = 0.4
[[panel]]
type = "flat"
surface = "south"
left = 0.5
bottom = 0.6
[[panel]]
type = "flat"
surface = "south"
left = 1.2
bottom = 0.6
[[panel]]
type = "flat"
surface = "south"
left = 1.912
bottom = 0.6
[[panel]]
type = "cloud"
center = [2.5, 2.0]
underside = 2.2
"#;

/// The trouble of this name, and that everything else is still made.
#[track_caller]
fn trouble(scene: &Scene, prices: &PriceList, id: &str) -> String {
    let building = built(scene, prices);
    assert!(!building.build.purchases.is_empty() && !building.build.surfaces.is_empty(), "the rest is made");
    let found = building.build.troubles.iter().find(|trouble| trouble.id == id);
    let found = found.unwrap_or_else(|| panic!("no {id} in {:#?}", building.build.troubles));
    assert!(!found.panels.is_empty() && found.surface.is_some(), "it names panel and surface: {found:?}");
    assert!(!found.hint.is_empty());
    format!("{} / {}", found.message, found.hint)
}

#[test]
fn keeps_gaps_of_a_row_equal() {
    let building = built(&with(&[]), &prices::example());
    let south = building.build.surfaces.iter().find(|surface| surface.surface == "south").unwrap();
    // Gaps of 100 and 112 mm: 106 each, nothing left over.
    let spaces = &south.rows[0].spaces_m;
    assert!(south.rows[0].is_even && (spaces[1] - 0.106).abs() < 1e-9 && (spaces[2] - 0.106).abs() < 1e-9, "{spaces:?}");
    assert!((south.panels[1].moved_m - 0.006).abs() < 1e-9);
    // 100 and 113: 106 and a millimeter that goes outside.
    let building = built(&with(&[("left = 1.912", "left = 1.913")]), &prices::example());
    let south = building.build.surfaces.iter().find(|surface| surface.surface == "south").unwrap();
    let spaces = &south.rows[0].spaces_m;
    assert!((spaces[1] - 0.106).abs() < 1e-9 && (spaces[2] - 0.106).abs() < 1e-9, "{spaces:?}");
    assert!((spaces[0] - 0.5).abs() < 1e-9 && (spaces[3] - (5.0 - 2.512)).abs() < 1e-9, "{spaces:?}");
    // Moved farther than allowed: meant to differ.
    let building = built(&with(&[("left = 1.912", "left = 2.3")]), &prices::example());
    assert!(building.build.surfaces.iter().flat_map(|surface| &surface.panels).all(|panel| panel.moved_m.abs() < 1e-12));
}

#[test]
fn keeps_telling_what_cannot_be_made() {
    let prices = prices::example();
    let large = with(&[("size = [0.6, 1.2]", "size = [0.62, 1.25]")]);
    let told = trouble(&large, &prices, "board-too-small");
    assert!(told.contains("\"flat\"") && told.contains("larger sheet"), "{told}");
    let narrow = prices::prices(&prices::EXAMPLE.replace("width = 1.5", "width = 0.8")).unwrap().0;
    let told = trouble(&with(&[]), &narrow, "cloth-too-narrow");
    assert!(told.contains("seam") && told.contains("turn"), "{told}");
    let thin = with(&[("thickness = \"50 mm\"", "thickness = \"70 mm\"")]);
    assert!(trouble(&thin, &prices, "no-board").contains("70 mm"));
}

#[test]
fn keeps_telling_gaps_around_a_window() {
    let window = "[[opening]]\nname = \"window\"\nkind = \"window\"\nsurface = \"south\"\nleft = 2.6\nbottom = 0.9\nwidth = 0.8\nheight = 0.8\nmaterial = \"Double glazing 2-3 mm glass, 10 mm gap\"\n[[panel]]\ntype = \"flat\"\nsurface = \"south\"\nleft = 3.5\nbottom = 0.6\n[[panel]]\ntype = \"cloud\"";
    let scene = with(&[("[[panel]]\ntype = \"cloud\"", window)]);
    let told = trouble(&scene, &prices::example(), "gaps-not-equal");
    assert!(told.contains("\"window\" between 3 and 4"), "{told}");
    let building = built(&scene, &prices::example());
    let south = building.build.surfaces.iter().find(|surface| surface.surface == "south").unwrap();
    assert_eq!(south.rows.iter().map(|row| row.panels.clone()).collect::<Vec<_>>(), [vec![1, 2, 3]], "the three beside it are still a row");
}

#[test]
fn keeps_telling_what_must_not_hang() {
    let prices = prices::example();
    for (changes, words) in [
        (&[("underside = 2.2", "underside = 2.53")][..], "fittings need"),
        (&[("kind = \"joists\"", "kind = \"door track\"")], "rated it for this"),
        (&[("kind = \"joists\"", "kind = \"pipe\"")], "licensed person"),
        (&[("surface = \"ceiling\"", "surface = \"south\"")], "names no structural member"),
        (&[("mass = 5", "price = 50")], ""),
        (&[("mass = 5", "mass = 5\nfixing = \"magnets\"")], "let go without a sign"),
        (&[("kerf = \"3 mm\"", "breaks_at = { \"wire\" = 900, \"anchor\" = 100 }")], "\"anchor\" breaks at"),
        (&[("kerf = \"3 mm\"", "breaks_at = { \"wire\" = 240 }")], "which may come to hold alone"),
        (&[("kerf = \"3 mm\"", "design_factor = 10\nbreaks_at = { \"wire\" = 200 }")], "10 times is asked for"),
        (
            &[(
                "[[panel]]\ntype = \"cloud\"",
                "[[clearance]]\nname = \"sprinkler\"\nsurface = \"ceiling\"\nleft = 2.4\nbottom = 2.5\nwidth = 0.1\nheight = 0.1\n[[panel]]\ntype = \"cloud\"",
            )],
            "kept free",
        ),
    ] {
        let scene = with(changes);
        if words.is_empty() {
            // Without a mass of its own it is reckoned from what it is made of.
            let building = built(&scene, &prices);
            let hung = building.build.overhead[0].suspension.as_ref().unwrap();
            assert!(hung.mass_kg.is_some_and(|mass| (2.0..8.0).contains(&mass)), "{:?}", hung.mass_kg);
            continue;
        }
        let told = trouble(&scene, &prices, "not-to-be-hung");
        assert!(told.contains(&words.replace("rated it", "rates it")), "{words}: {told}");
    }
}

#[test]
fn keeps_fixings_overhead_in_wood_and_off_members_that_are_cut() {
    let flat = "[[panel]]\ntype = \"flat\"\nsurface = \"ceiling\"\nleft = 0.85\nbottom = 1.0\n[[panel]]\ntype = \"cloud\"";
    let hung = ("[[panel]]\ntype = \"cloud\"", flat);
    let prices = prices::example();
    assert!(trouble(&with(&[hung]), &prices, "not-to-be-hung").contains("made = \"wooden frame\""));
    let framed = ("mass = 4", "mass = 4\nmade = \"wooden frame\"\nfixing = \"clips\"");
    let building = built(&with(&[hung, framed]), &prices);
    let overhead = building.build.overhead.iter().find(|one| one.flat.is_some()).unwrap();
    assert!(overhead.not_to_be_hung.is_empty(), "{:?}", overhead.not_to_be_hung);
    assert!((overhead.lowest_m - 2.55).abs() < 1e-9, "{}", overhead.lowest_m);
    // Two secondary wires on 1.2 m: each taut it runs from its anchor to an edge that has come down.
    let wires = &overhead.flat.as_ref().unwrap().secondary;
    assert_eq!(wires.len(), 2);
    let ceiling = building.build.surfaces.iter().find(|surface| surface.surface == "ceiling").unwrap();
    for wire in wires {
        let mark = ceiling.panels.iter().flat_map(|panel| &panel.marks).find(|mark| mark.name == wire.mark).unwrap();
        let apart = DVec2::new(mark.left_m, mark.bottom_m).distance(DVec2::from_array(wire.from_m));
        assert!((wire.straight_m - apart).abs() < 0.0011 && (wire.longest_m - wire.straight_m - 0.025).abs() < 1e-9, "{wire:?}");
        let below = (wire.longest_m * wire.longest_m - apart * apart).sqrt();
        assert!((wire.drop_m - below).abs() < 0.002, "{wire:?}: {below}");
        // It may be made 5 mm shorter, and is pulled harder then.
        let shorter = wire.longest_m - 0.005;
        let needed = 5.0 * 4.0 * 9.80665 * shorter / (shorter * shorter - apart * apart).sqrt();
        assert!((wire.needed_n.unwrap() - needed).abs() < 0.02 * needed, "{wire:?}: {needed}");
    }
    // A hatch that cuts two joists: nothing hangs from them.
    let hatch = "[[opening]]\nname = \"hatch\"\nkind = \"door\"\nsurface = \"ceiling\"\nleft = 2.2\nbottom = 3.2\nwidth = 0.7\nheight = 0.6\nmaterial = \"Solid wooden door\"\n[[panel]]\ntype = \"flat\"\nsurface = \"south\"\nleft = 0.5";
    let building = built(&with(&[("[[panel]]\ntype = \"flat\"\nsurface = \"south\"\nleft = 0.5", hatch)]), &prices);
    let ceiling = building.build.surfaces.iter().find(|surface| surface.is_overhead).unwrap();
    let members = &ceiling.members[0];
    let cut: Vec<String> = (0..members.at_m.len()).filter(|index| members.is_cut[*index]).map(|index| members.name_of(index)).collect();
    assert!(!cut.is_empty() && cut.len() <= 3, "{cut:?} of {:?}", members.at_m);
    for mark in ceiling.panels.iter().flat_map(|panel| &panel.marks) {
        assert!(mark.member.as_ref().is_none_or(|member| !cut.contains(member)), "mark {} hangs from {:?}", mark.name, mark.member);
    }
}

#[test]
fn keeps_eyes_plumb_on_a_tilted_cloud() {
    for tilt in ["tilt = [12, 0]", "tilt = [0, -20]"] {
        let scene = with(&[("underside = 2.2", &format!("underside = 2.1\n{tilt}"))]);
        wire_on_the_roll_suffices(&scene, &built(&scene, &prices::example()), &prices::example());
    }
}

#[test]
fn keeps_room_to_lift_a_corner_panel() {
    let corner = "[[stock]]\nname = \"across\"\nkind = \"corner\"\nsize = [0.6, 1.3]\nthickness = \"50 mm\"\nflow_resistivity = 12000\n[[panel]]\ntype = \"across\"\ncorner = [\"west\", \"south\"]\nbottom = 0\n[[panel]]\ntype = \"across\"\ncorner = [\"west\", \"south\"]\nbottom = 1.3\n[[panel]]\ntype = \"cloud\"";
    let told = trouble(
        &with(&[
            ("[[panel]]\ntype = \"cloud\"", corner),
            ("left = 0.5", "left = 0.7"),
            ("left = 1.2", "left = 1.4"),
            ("left = 1.912", "left = 2.112"),
        ]),
        &prices::example(),
        "no-room-to-lift",
    );
    assert!(told.contains("panels 4 and 5 fill their corner from floor to ceiling") && told.contains("10 mm"), "{told}");
    let lower = corner.replace("size = [0.6, 1.3]", "size = [0.6, 1.29]");
    let scene = with(&[
        ("[[panel]]\ntype = \"cloud\"", &lower),
        ("left = 0.5", "left = 0.7"),
        ("left = 1.2", "left = 1.4"),
        ("left = 1.912", "left = 2.112"),
    ]);
    assert!(built(&scene, &prices::example()).build.troubles.iter().all(|trouble| trouble.id != "no-room-to-lift"));
}

#[test]
fn keeps_what_to_ask_for_in_the_shop() {
    let clip = "fixing_holds = 5\nkerf = \"3 mm\"";
    let building = built(&with(&[("kerf = \"3 mm\"", clip)]), &prices::example());
    let asked = |name: &str| {
        let line = building.build.purchases.iter().find(|line| line.name.starts_with(name));
        line.unwrap_or_else(|| panic!("{name} in {:#?}", building.build.purchases)).ask_for.clone()
    };
    // 2.2 kg in 0.6 x 1.2 x 0.05 m.
    assert_eq!(asked("fiber board 50"), "600 mm x 1200 mm, 50 mm thick, about 61 kg/m3; flow resistivity as planned, 12000 Pa s/m2");
    assert_eq!(asked("open cloth"), "1500 mm of usable width, selvages cut off; one can breathe through it");
    assert_eq!(asked("planed batten"), "18 mm x 50 mm, 2400 mm long, straight and dry");
    // 4 kg on four points.
    assert_eq!(asked("panel clip"), "each rated for 1.0 kg or more");
    let hung = building.build.overhead[0].suspension.as_ref().unwrap();
    assert_eq!(asked("rated eye"), format!("breaks at {:.0} N or more", hung.needed_n.unwrap().ceil()));
    let both = hung.secondary.iter().filter_map(|wire| wire.needed_n).fold(hung.needed_n.unwrap(), f64::max);
    assert_eq!(asked("steel wire"), format!("breaks at {:.0} N or more", both.ceil()));
}

#[test]
fn keeps_what_people_sit_under_well_held() {
    let bed = "[[block]]\nname = \"day bed\"\ncorner = [2.5, 0.02]\nsize = [2, 0.5, 0.4]\nmaterial = \"Solid wooden door\"\n[[panel]]\ntype = \"cloud\"";
    let glue = ("mass = 4", "mass = 4\nfixing = \"glue\"");
    let told = trouble(&with(&[glue, ("[[panel]]\ntype = \"cloud\"", bed)]), &prices::example(), "held-too-weakly");
    assert!(told.contains("day bed") && told.contains("not to be hung so"), "{told}");
    // Held by clips, or nobody below: nothing is told.
    for scene in [with(&[("[[panel]]\ntype = \"cloud\"", bed)]), with(&[glue])] {
        assert!(built(&scene, &prices::example()).build.troubles.iter().all(|trouble| trouble.id != "held-too-weakly"));
    }
}

#[test]
fn keeps_what_hangs_already_out_of_the_shop() {
    let (before, plan) = (with(&[]), with(&[("left = 1.912", "left = 3.2")]));
    let prices = prices::example();
    // One of the flat panels moves: nothing is made, one thing is hung.
    let moved = study::build(Some(&before), &plan, &prices).unwrap();
    assert!(moved.build.types.is_empty() && moved.panels.len() == 1, "{:?}", moved.build.types);
    assert_eq!(study::build(Some(&before), &before, &prices).unwrap_err(), study::CannotBuild::NothingNew);
    let other = with(&[("size = [5.0, 4.0, 2.6]", "size = [5.0, 4.0, 2.7]")]);
    assert_eq!(study::build(Some(&other), &plan, &prices).unwrap_err(), study::CannotBuild::AnotherRoom);
    let bare = Scene { panels: Vec::new(), ..before };
    assert_eq!(study::build(None, &bare, &prices).unwrap_err(), study::CannotBuild::NothingHangs);
}

#[test]
fn keeps_evenings_and_batches_reckoned() {
    // Three hardened boards on a table for three: cut 12 min, harden 24 min and 24 h, wrap 36 min and 12 h; one cloud in a frame meanwhile.
    let building = built(&with(&[]), &prices::example());
    let schedule = building.build.schedule.as_ref().unwrap();
    // The frame of the cloud waits for the table, which is dry on the third evening.
    assert_eq!((schedule.evenings, schedule.batches), (3, 2));
    assert!((schedule.work_h - (3.0 * 24.0 + 39.0) / 60.0).abs() < 1e-9, "{}", schedule.work_h);
    let wrap = schedule.tasks.iter().find(|task| task.work.contains("glue")).unwrap();
    // Cut and hardened after 0.6 h; dry a day later.
    assert!(wrap.evening == 2 && (wrap.begins_h - 0.6).abs() < 1e-9 && wrap.critical, "{wrap:?}");
    assert!((schedule.until_dry_h - (48.0 + 27.0 / 60.0)).abs() < 1e-9, "{}", schedule.until_dry_h);
    assert!(schedule.drying_is_guess);
    let told = with(&[("kerf = \"3 mm\"", "harden_hours = 2\nglue_hours = 1\nevening_hours = 4")]);
    let schedule = built(&told, &prices::example()).build.schedule.unwrap();
    assert!(!schedule.drying_is_guess && schedule.evenings <= 2);
}

#[test]
fn keeps_mistakes_of_a_price_list_together() {
    let text = "format = 1\n[[board]]\nname = \"b\"\nthickness = \"50 mm\"\nsize = [0.6]\nprice = -3\n[[cloth]]\nname = \"c\"\nwidht = 1.5\nprice = 7\n[[supply]]\nname = \"s\"\nper = \"ounce\"\nuses = 1\nunit = \"piece\"\npack = 1\nprice = 1\n";
    let mistakes = prices::prices(text).unwrap_err();
    let ids: Vec<&str> = mistakes.iter().map(|mistake| mistake.id).collect();
    assert_eq!(ids, ["wrong-count", "out-of-range", "unknown-key", "unknown-word"], "{mistakes:#?}");
    assert!(prices::prices(prices::EXAMPLE).is_ok_and(|(list, warnings)| list.invented && warnings.is_empty()));
}

#[test]
fn keeps_the_json_of_a_build_to_its_schema() {
    crate::schema::check(&built(&with(&[]), &prices::example()).build);
    crate::schema::check(&built(&read(&invented(3)), &prices::example()).build);
}
