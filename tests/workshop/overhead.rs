//! What hangs over heads: loads of what lies flat, what is told before the first page, what goes up first, distances, anchors in a slope. Every figure by hand.

use glam::DVec2;
use roomwright::scene::prices;
use roomwright::study::Building;
use roomwright::workshop::flat::FlatLoads;
use roomwright::workshop::{MarkKind, MarkedPanel, Overhead, Trouble};

use super::{built, read, with};

/// Standard gravity, m/s2.
const GRAVITY: f64 = 9.80665;
/// In front of this the scenes of these tests get what else hangs in them.
const CLOUD: &str = "[[panel]]\ntype = \"cloud\"";
/// What lies flat overhead has to have wood.
const FRAMED: (&str, &str) = ("mass = 4", "mass = 4\nmade = \"wooden frame\"\nfixing = \"clips\"");

/// Half a roof: it rises from 1.2 m at the west wall to 2.4 m over 1.6 m, a triangle of 3, 4 and 5. The rafters run up it every 400 mm, the joists of the level
/// ceiling go on from them.
const ROOF: &str = r#"format = 1
name = "roof"
use = "mixing"
[room]
outline = [[0, 0], [4, 0], [4, 5], [0, 5]]
floor = "Wood floor (on joists)"
wall_material = "Plaster on solid wall"
[[room.wall]]
edge = 4
name = "knee wall"
[[room.ceiling]]
name = "slope"
material = "Plaster on solid wall"
from = "knee wall"
height = 1.2
reaches = 2.4
after = 1.6
[[room.ceiling]]
name = "ceiling"
material = "Plaster on solid wall"
height = 2.4
[[loudspeaker]]
position = [2.6, 0.6, 1.2]
toward = "seat"
[[seat]]
ear = [2.6, 1.6, 1.2]
direction = [0, -1, 0]
[[stock]]
name = "flat"
kind = "panel"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
mass = 4
made = "wooden frame"
fixing = "screws"
[[stock]]
name = "cloud"
kind = "cloud"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
mass = 5
[[structure]]
name = "rafters"
kind = "rafters"
surface = "slope"
runs = "up"
first = 0.3
spacing = 0.4
[[structure]]
name = "joists"
kind = "joists"
surface = "ceiling"
runs = "across"
first = 0.3
spacing = 0.4
"#;

/// The room under the roof with more in it.
fn under_the_roof(more: &str) -> Building {
    built(&read(&format!("{ROOF}{more}")), &prices::example())
}

/// The plain room with other words for some of it.
fn plain(changes: &[(&str, &str)]) -> Building {
    built(&with(changes), &prices::example())
}

/// A flat panel under the level ceiling of the plain room, from the left edge and from the lower edge; the cloud comes after it.
fn under_the_ceiling(left: f64, bottom: f64, lying: bool) -> String {
    format!("[[panel]]\ntype = \"flat\"\nsurface = \"ceiling\"\nleft = {left}\nbottom = {bottom}\nlying = {lying}\n{CLOUD}")
}

fn of(building: &Building, number: u32) -> &Overhead {
    building.build.overhead.iter().find(|overhead| overhead.number == number).expect("it hangs overhead")
}

fn loads(building: &Building, number: u32) -> &FlatLoads {
    of(building, number).flat.as_ref().expect("it lies flat")
}

fn marked<'a>(building: &'a Building, surface: &str, number: u32) -> &'a MarkedPanel {
    let on = building.build.surfaces.iter().find(|marked| marked.surface == surface).expect("something is marked there");
    on.panels.iter().find(|panel| panel.number == number).expect("the panel is marked there")
}

fn trouble<'a>(building: &'a Building, id: &str) -> Option<&'a Trouble> {
    building.build.troubles.iter().find(|trouble| trouble.id == id)
}

#[track_caller]
fn close(found: Option<f64>, by_hand: f64) {
    let found = found.expect("the mass is known");
    assert!((found - by_hand).abs() < 1e-9 * by_hand, "{found} is not {by_hand}");
}

/// A stiff panel that two of its sides hold rests on three points, and one of them may get all that comes on its side.
#[test]
fn exact_loads_of_what_lies_flat() {
    let building = plain(&[(CLOUD, &under_the_ceiling(0.85, 1.0, false)), FRAMED]);
    // Joists 50 and 450 mm from its left edge, 600 mm wide: the middle is 250 mm from one and 150 from the other. Four points would tip without one of them,
    // so there are six, 240, 600 and 960 mm up.
    let points: Vec<(i64, i64)> = marked(&building, "ceiling", 4)
        .marks
        .iter()
        .filter(|mark| mark.what == MarkKind::Fixing)
        .map(|mark| ((1000.0 * mark.left_m).round() as i64, (1000.0 * mark.bottom_m).round() as i64))
        .collect();
    assert_eq!(points, [(900, 1960), (1300, 1960), (900, 1600), (1300, 1600), (900, 1240), (1300, 1240)]);
    let (flat, weight) = (loads(&building, 4), 4.0 * GRAVITY);
    // About the left joist: 250 of 400 mm of lever, so 5/8 of the weight is on the right one, and the middle point of it may get all of that: 24.5 N.
    close(flat.load_alone_n, weight * 5.0 / 8.0);
    // With all of them sharing it is a third of that each: the three are as high as the middle in the mean.
    close(flat.load_n, weight * 5.0 / 24.0);
    // Without the upper right one, h = 360 mm: equal springs bear a + c y on the right and b + c y on the left. 2a - ch = 5/8, 3b = 3/8, and about the level
    // line through the middle a - ch = 2ch: ch = 1/8, so that the middle one on the right bears a = 3/8. Without any other one it is less.
    close(flat.load_one_lost_n, weight * 3.0 / 8.0);
    // Five times the worst, which is the one alone: 122.6 N.
    close(flat.needed_n, 5.0 * weight * 5.0 / 8.0);
    // Four points at the corners of a rectangle about the middle: two on one diagonal may hold it, half each.
    let building = plain(&[(CLOUD, &under_the_ceiling(0.85, 1.0, false)), FRAMED, ("kind = \"joists\"", "kind = \"solid\"")]);
    let flat = loads(&building, 4);
    close(flat.load_alone_n, weight / 2.0);
    close(flat.load_n, weight / 4.0);
    close(flat.needed_n, 5.0 * weight / 2.0);
}

/// Nobody's head reaches what is 2 m over the floor, by the lowest edge.
#[test]
fn exact_what_is_in_the_way_of_heads() {
    let told = |underside: &str, tilt: &str| {
        let building = plain(&[("underside = 2.2", &format!("underside = {underside}\ntilt = [{tilt}]"))]);
        trouble(&building, "in-the-way-of-heads").map(|trouble| (trouble.panels.clone(), trouble.message.clone()))
    };
    let one = Some((vec![4], "panel 4 reaches down below 2000 mm, where heads are".to_owned()));
    assert_eq!(told("1.999", "0, 0"), one);
    assert_eq!(told("2.0", "0, 0"), None);
    // 1.2 m along x, lowest edge 0.6 m x sin 10 degrees = 104.2 mm under the middle.
    assert_eq!(told("2.103", "10, 0"), one);
    assert_eq!(told("2.105", "10, 0"), None);
    // 0.6 m along y: 52.1 mm.
    assert_eq!(told("2.051", "0, 10"), one);
    assert_eq!(told("2.053", "0, 10"), None);
    // What lies flat under a ceiling of 2.04 m is 50 mm thick; a panel on a wall is in nobody's way.
    let flat = under_the_ceiling(0.85, 1.0, false);
    let low = |size: &str| plain(&[("size = [5.0, 4.0, 2.6]", size), (CLOUD, &flat), ("underside = 2.2", "underside = 1.5")]);
    let panels = |building: &Building| trouble(building, "in-the-way-of-heads").map(|trouble| trouble.panels.clone());
    assert_eq!(panels(&low("size = [5.0, 4.0, 2.04]")), Some(vec![4, 5]));
    assert_eq!(panels(&low("size = [5.0, 4.0, 2.06]")), Some(vec![5]));
}

/// Joists at 0.1, 0.5, 0.9, 1.3 and 1.7 m. A panel 1.2 m long that begins 50 mm from the wall has its fixings in those at 0.5 and 0.9, whose insets of 450 and
/// 350 mm are nearest to a fifth to a quarter; the one at 0.1 is behind it, so that all second anchors are beyond one end.
#[test]
fn exact_one_secondary_wire() {
    let hung = |size: &str, left: f64| plain(&[("size = [0.6, 1.2]", size), (CLOUD, &under_the_ceiling(left, 1.0, true)), FRAMED]);
    let at_the_wall = hung("size = [0.6, 1.2]", 0.05);
    // From the right edge at 1.25 m straight to the joist at 1.3.
    assert_eq!(
        loads(&at_the_wall, 4).secondary.iter().map(|wire| (wire.from_m, wire.straight_m)).collect::<Vec<_>>(),
        [([1.25, 1.3], 0.05)]
    );
    let told = trouble(&at_the_wall, "one-secondary-wire").expect("its far end swings down");
    assert_eq!((&told.panels[..], told.message.split(':').next()), (&[4][..], Some("panel 4 has one secondary wire only")));
    assert!(of(&at_the_wall, 4).remarks.iter().any(|remark| remark.contains("up to 1200 mm deep")));
    // In the middle of the room there are joists beyond both ends.
    let amid = hung("size = [0.6, 1.2]", 1.45);
    assert_eq!(loads(&amid, 4).secondary.len(), 2);
    assert_eq!(trouble(&amid, "one-secondary-wire"), None);
    // One is enough of what is no longer than 750 mm.
    let short = hung("size = [0.6, 0.75]", 0.05);
    assert_eq!(loads(&short, 4).secondary.len(), 1);
    assert_eq!(trouble(&short, "one-secondary-wire"), None);
    assert!(trouble(&hung("size = [0.6, 0.751]", 0.05), "one-secondary-wire").is_some());
}

#[test]
fn exact_strengths_that_nobody_has_checked() {
    let told = |changes: &[(&str, &str)]| trouble(&plain(changes), "strengths-not-checked").map(|trouble| trouble.panels.clone());
    let strong = ("kerf = \"3 mm\"", "breaks_at = { \"wire\" = 2000, \"anchor\" = 1500 }");
    let flat = under_the_ceiling(0.85, 1.0, false);
    // Four panels: three on a wall and a cloud.
    assert_eq!(told(&[]), Some(vec![4]));
    assert_eq!(told(&[strong]), None);
    // What the parts of a cloud's wires break at says nothing of the screws of what lies flat.
    assert_eq!(told(&[(CLOUD, &flat)]), Some(vec![4, 5]));
    assert_eq!(told(&[(CLOUD, &flat), strong]), Some(vec![4]));
}

/// A part that is too weak for the wire that would catch a panel bars it as it bars a cloud. A track bars what is screwed into it, not what hangs beside it. A box that stays clear keeps anchors out.
#[test]
fn exact_what_bars_what_lies_flat() {
    let flat = under_the_ceiling(0.85, 1.0, false);
    let with_first = |more: &str| plain(&[(CLOUD, &format!("{more}{flat}")), FRAMED]);
    let alone = with_first("");
    assert_eq!(of(&alone, 4).not_to_be_hung, [""; 0]);
    let weak = plain(&[(CLOUD, &flat), FRAMED, ("kerf = \"3 mm\"", "breaks_at = { \"wire\" = 20 }")]);
    assert!(of(&weak, 4).not_to_be_hung.iter().any(|why| why.contains("too weak for the secondary wire")), "{:?}", of(&weak, 4));
    let marks = &marked(&alone, "ceiling", 4).marks;
    let track = |at: f64| {
        with_first(&format!(
            "[[structure]]\nname = \"track\"\nkind = \"door track\"\nsurface = \"ceiling\"\nruns = \"up\"\nfirst = {at}\nwidth = \"30 mm\"\n"
        ))
    };
    let (through, beside) = (track(marks[0].left_m), track(marks[0].left_m + 2.0));
    assert!(of(&through, 4).not_to_be_hung.iter().any(|why| why.contains("rates it")), "{:?}", of(&through, 4));
    assert_eq!(of(&beside, 4).not_to_be_hung, [""; 0]);
    assert!(of(&beside, 4).remarks.iter().any(|remark| remark.contains("\"track\"") && remark.contains("never an anchor")));
    // Where its second anchor was nothing may be now.
    let second = |building: &Building| {
        let marks = &marked(building, "ceiling", 4).marks;
        let mark = marks.iter().find(|mark| mark.what == MarkKind::Secondary).expect("it has one");
        DVec2::new(mark.left_m, mark.bottom_m)
    };
    let ceiling = alone.room.named("ceiling").next().expect("it has one").1;
    let [x, y, _] = ceiling.chart.point(second(&alone)).to_array();
    let box_text =
        format!("[[clearance]]\nname = \"open door\"\nlow = [{}, {}, 2]\nhigh = [{}, {}, 2.6]\n", x - 0.02, y - 0.02, x + 0.02, y + 0.02);
    assert!(second(&with_first(&box_text)).distance(second(&alone)) > 0.05);
}

/// Of members at equal steps there is none before the first.
#[test]
fn exact_first_of_the_members() {
    let rails =
        "[[structure]]\nname = \"rails\"\nkind = \"beams\"\nsurface = \"ceiling\"\nruns = \"across\"\nfirst = 1.04\nspacing = 0.72\n";
    let building = plain(&[(CLOUD, &format!("{rails}{CLOUD}"))]);
    let ceiling = building.build.surfaces.iter().find(|marked| marked.surface == "ceiling").expect("the cloud hangs under it");
    let rails = ceiling.members.iter().find(|members| members.name == "rails").expect("they are named");
    assert!((rails.at_m[0] - 1.04).abs() < 1e-9 && (rails.at_m[1] - 1.76).abs() < 1e-9, "{:?}", rails.at_m);
}

/// The cloud is 1.9 to 3.1 m from the left edge of the ceiling and 1.7 to 2.3 m from the lower one. A flat panel that ends at 1.82 m has fixings in the joists at
/// 1.3 and 1.7 m; the joist at 2.1 m is 280 mm from it and the one at 0.9 m 320 mm, so its second anchor, its seventh mark, is in the former, half way up.
#[test]
fn exact_what_goes_up_before_a_cloud() {
    let prices = prices::example();
    let hung = |bottom: f64, is_first: bool| {
        let flat = format!("[[panel]]\ntype = \"flat\"\nsurface = \"ceiling\"\nleft = 1.22\nbottom = {bottom}\n");
        let (before, after) = if is_first { (flat.as_str(), "") } else { ("", flat.as_str()) };
        built(&with(&[(CLOUD, &format!("{before}{CLOUD}")), ("underside = 2.2\n", &format!("underside = 2.2\n{after}")), FRAMED]), &prices)
    };
    let told = |building: &Building| -> Vec<(u32, String)> {
        let all = building.build.overhead.iter().flat_map(|one| one.remarks.iter().map(|remark| (one.number, remark.clone())));
        all.filter(|(_, remark)| remark.contains("goes up before")).collect()
    };
    let building = hung(1.45, false);
    let anchor = marked(&building, "ceiling", 5).marks.iter().find(|mark| mark.name == "5g").expect("a seventh mark");
    assert_eq!(
        (anchor.what, [anchor.left_m, anchor.bottom_m].map(|meters| (1000.0 * meters).round())),
        (MarkKind::Secondary, [2100.0, 2050.0])
    );
    let words = "panel 5 goes up before cloud 4: its anchor 5g is above the cloud and out of reach once that hangs".to_owned();
    assert_eq!(told(&building), [(4, words.clone()), (5, words)], "both pages say so");
    // Half over the cloud all that holds it up there is out of reach, and is named.
    let over = built(
        &with(&[
            ("underside = 2.2\n", "underside = 2.2\n[[panel]]\ntype = \"flat\"\nsurface = \"ceiling\"\nleft = 2.0\nbottom = 1.45\n"),
            FRAMED,
        ]),
        &prices,
    );
    let all = &marked(&over, "ceiling", 5).marks;
    let above = all.iter().filter(|mark| (1.9..=3.1).contains(&mark.left_m) && (1.7..=2.3).contains(&mark.bottom_m));
    let names: Vec<&str> = above.map(|mark| mark.name.as_str()).collect();
    assert!(names.len() > 1, "{all:?}");
    let words =
        format!("panel 5 goes up before cloud 4: its anchors {} are above the cloud and out of reach once that hangs", names.join(", "));
    assert_eq!(told(&over), [(4, words.clone()), (5, words)]);
    // Before the cloud it goes up anyway; and 1.1 m lower down none of its anchors is above the cloud.
    assert_eq!(told(&hung(1.45, true)), []);
    assert_eq!(told(&hung(0.35, false)), []);
}

/// A wire from beside a corner of a panel begins where the frame has no joint.
#[test]
fn exact_fittings_off_the_joints() {
    // The panel at the wall, 1.0 to 1.6 m up. What must stay clear goes up to 1.45 m, and an anchor keeps 30 mm off it: of the places tried, a quarter of the height
    // apart, the joist at 1.3 m has the upper corner's left. From there it is 50 mm across to the panel and 60 along it: 78.1 mm.
    let clear = "[[clearance]]\nname = \"grille\"\nsurface = \"ceiling\"\nleft = 1.28\nbottom = 0.9\nwidth = 0.1\nheight = 0.55\n";
    let building = plain(&[(CLOUD, &format!("{clear}{}", under_the_ceiling(0.05, 1.0, true))), FRAMED]);
    let wire = &loads(&building, 4).secondary[0];
    let mark = marked(&building, "ceiling", 4).marks.iter().find(|mark| mark.name == wire.mark).expect("its anchor is marked");
    let mm = |meters: f64| (1000.0 * meters).round();
    assert_eq!(
        [mark.left_m, mark.bottom_m, wire.from_m[0], wire.from_m[1], wire.straight_m].map(mm),
        [1300.0, 1600.0, 1250.0, 1540.0, 78.0]
    );
}

/// Along the surface from what is on the same one, level from everything else.
#[test]
fn exact_distances_from_what_stays_free() {
    let free = "[[clearance]]\nname = \"lamp\"\nsurface = \"slope\"\nleft = 2.0\nbottom = 1.25\nwidth = 0.5\nheight = 0.5\n\
                [[clearance]]\nname = \"sprinkler\"\nsurface = \"ceiling\"\nleft = 0.3\nbottom = 3.9\nwidth = 0.5\nheight = 0.1\n\
                [[clearance]]\nname = \"swing of the door\"\nlow = [3.5, 0, 0]\nhigh = [4, 2.1, 2]\n\
                [[opening]]\nname = \"window\"\nkind = \"window\"\nsurface = \"east\"\nleft = 2\nbottom = 1\nwidth = 1\nheight = 1\nmaterial = \"Double glazing 2-3 mm glass, 10 mm gap\"\n\
                [[panel]]\ntype = \"cloud\"\ncenter = [2.3, 3.2]\nunderside = 2.1\n\
                [[panel]]\ntype = \"flat\"\nsurface = \"slope\"\nleft = 2.0\nbottom = 0.2\nlying = true\n";
    let building = under_the_roof(free);
    let told = |number: u32| -> Vec<(&str, f64, Option<f64>)> {
        of(&building, number).distances.iter().map(|one| (one.name.as_str(), (1e6 * one.distance_m).round() / 1e6, one.kept_m)).collect()
    };
    // The cloud is 1.7 to 2.9 m in x and 2.9 to 3.5 m in y. The lamp reaches 1.75 m up the slope, which is 1.4 m in x, and 2.5 m in y: 0.3 and 0.4 m. The sprinkler's
    // left is counted from the east wall, so it begins at 3.2 m in x and 3.9 in y: 0.3 and 0.4 m. The door: 0.6 and 0.8 m. A window is on a wall.
    assert_eq!(told(1), [("lamp", 0.5, Some(0.1)), ("sprinkler", 0.5, Some(0.457)), ("swing of the door", 1.0, None)]);
    // Along the slope from 0.8 to 1.25 m, 0.36 m in plan. From the panel's upper edge at 0.64 m in x and left end at 3.2 m in y it is 2.56 and 0.7 m to the sprinkler, 2.86 m to the door
    // past its lower end, none in y: both are beside each other from 2.0 to 2.1 m.
    let far = 2.56_f64.hypot(0.7);
    assert_eq!(
        told(2),
        [("lamp", 0.45, Some(0.1)), ("sprinkler", (1e6 * far).round() / 1e6, Some(0.457)), ("swing of the door", 2.86, None)]
    );
}

/// Rise over run is 3 to 4: 36.87 degrees, told of those anchors alone that are in the slope, and asked of what is anchored.
#[test]
fn exact_anchors_in_a_slope() {
    let hung = |x: f64, underside: f64| format!("[[panel]]\ntype = \"cloud\"\ncenter = [{x}, 2.5]\nunderside = {underside}\n");
    let asked = |building: &Building, name: &str| {
        let line = building.build.purchases.iter().find(|line| line.name.starts_with(name));
        line.unwrap_or_else(|| panic!("{name} in {:#?}", building.build.purchases)).ask_for.clone()
    };
    let is_told = |building: &Building| of(building, 1).remarks.iter().any(|remark| remark.contains("the ceiling slopes by"));
    // 1.0 to 2.2 m in x, the slope ends at 1.6: of the wires 240 mm in from the edges two are in the slope, and the secondary wire that is led on from the first.
    let building = under_the_roof(&hung(1.6, 1.4));
    let in_slope: Vec<&str> = marked(&building, "slope", 1).marks.iter().map(|mark| mark.name.as_str()).collect();
    assert_eq!(in_slope, ["1a", "1c", "1e"]);
    assert!(of(&building, 1).remarks.iter().any(|remark| remark.starts_with("the ceiling slopes by up to 37 degrees at 1a, 1c, 1e:")));
    let slope =
        "what is anchored in a slope (3 wires) is of a kind that swivels, or that its maker rates for a pull 37 degrees off its axis";
    // Four wires, each of which may come to bear half of 5 kg; five times that is 122.6 N.
    assert_eq!(asked(&building, "rated eye with nut"), format!("breaks at 123 N or more; {slope}"));
    assert!(asked(&building, "rated anchor for the secondary wire").ends_with(slope));
    // What is in the wire, or at the panel's end of it, is in no slope.
    assert_eq!(asked(&building, "rated turnbuckle"), "breaks at 123 N or more");
    let bolt = asked(&building, "rated eye bolt for the panel's end");
    assert!(bolt.starts_with("breaks at") && !bolt.contains("slope"), "{bolt}");
    // One piece a wire, four and two.
    let needed = |name: &str| building.build.purchases.iter().find(|line| line.name.starts_with(name)).map(|line| line.needed);
    assert_eq!(["rated eye with nut", "rated turnbuckle", "rated anchor", "rated eye bolt"].map(needed), [4.0, 4.0, 2.0, 2.0].map(Some));
    // Wholly under the level ceiling.
    let building = under_the_roof(&hung(2.4, 1.4));
    assert!(!is_told(&building) && asked(&building, "rated eye with nut") == "breaks at 123 N or more");
    // It begins at 5 degrees: a rise of 150 mm over 1.6 m is 5.36, one of 130 mm 4.65.
    let rising = |height: &str| built(&read(&format!("{}{}", ROOF.replace("height = 1.2\n", height), hung(0.8, 1.5))), &prices::example());
    assert!(is_told(&rising("height = 2.25\n")) && !is_told(&rising("height = 2.27\n")));
}
