//! What is counted off the marks for the bench and the shop: cross-battens, stock for slanted sides, points that no member lies behind. Every figure by hand.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_3};

use glam::DVec2;
use roomwright::scene::prices;
use roomwright::workshop::{battens, pieces};

use super::{built, with};

/// A panel across the corner of west and south, 100 mm thick.
const ACROSS: &str = "[[stock]]\nname = \"across\"\nkind = \"corner\"\nsize = [0.6, 1.2]\nthickness = \"100 mm\"\nflow_resistivity = 12000\nmade = \"wooden frame\"\n\
                      [[panel]]\ntype = \"across\"\ncorner = [\"west\", \"south\"]\nbottom = 0\n";
/// Before this the plain room gets what else is in it.
const CLOUD: &str = "[[panel]]\ntype = \"cloud\"";

/// One batten under each row of points along the longer side, from the end that is named.
#[test]
fn exact_places_of_cross_battens() {
    let table = |changes: &[(&str, &str)]| -> Vec<(u32, String, &'static str, Vec<i64>)> {
        let building = built(&with(changes), &prices::example());
        let places = battens::of_panels(&building.panels, &building.build);
        let mm = |meters: &f64| (1000.0 * meters).round() as i64;
        places.into_iter().map(|one| (one.panel, one.kind, one.from, one.middles_m.iter().map(mm).collect())).collect()
    };
    let row = |panel: u32, kind: &str, from: &'static str, middles: &[i64]| (panel, kind.to_owned(), from, middles.to_vec());
    // The cloud is 1.9 to 3.1 m in x. Joists lie 2.1, 2.5, 2.9 m from the east wall, so at 2.9, 2.5 and 2.1 in x: the outer two are 200 mm in from its edges.
    // Boards with hardened edges have no battens.
    assert_eq!(table(&[]), [row(4, "cloud", "edge at lower x", &[200, 1000])]);
    // Turned it is 1.4 to 2.6 m in y, along the joists: a fifth of 1.2 m in.
    let turned = ("center = [2.5, 2.0]", "center = [2.3, 2.0]\nturned = true");
    assert_eq!(table(&[turned]), [row(4, "cloud", "edge at lower y", &[240, 960])]);
    // Two points up an upright panel of 1.2 m, 600 mm apart at most: 300 mm in. Lying it has them along its width, from the left. A corner panel has none.
    let framed = ("mass = 4", "mass = 4\nmade = \"wooden frame\"");
    let lying = format!("{ACROSS}[[panel]]\ntype = \"flat\"\nsurface = \"north\"\nleft = 1.0\nbottom = 0.6\nlying = true\n{CLOUD}");
    assert_eq!(
        table(&[framed, (CLOUD, &lying)]),
        [
            row(1, "flat", "lower end", &[300, 900]),
            row(2, "flat", "lower end", &[300, 900]),
            row(3, "flat", "lower end", &[300, 900]),
            row(5, "flat", "left end", &[300, 900]),
            row(6, "cloud", "edge at lower x", &[200, 1000]),
        ]
    );
    // A cloud of two on one frame is no frame of one panel.
    assert_eq!(table(&[("underside = 2.2", "underside = 2.2\npanels = [1, 2]")]), []);
    // Rows within 20 mm of each other share a batten.
    assert_eq!(battens::middles(&[0.9, 0.3, 0.315, 0.325]), [0.3, 0.325, 0.9]);
}

/// Both edges of a side are sawn to the slant of the wall, so that the board is as wide as its longer face and once more the slant.
#[test]
fn exact_stock_of_a_slanted_side() {
    let board = |thickness: f64, angle: f64, board: f64| {
        pieces::corner_cut(DVec2::new(0.6, 1.2), thickness, angle).expect("it goes across").board(thickness, board)
    };
    // A right angle, 100 mm thick, out of 18 mm: 100 x 1.41421 + 18 x 1 = 159.4 mm.
    assert!((board(0.1, FRAC_PI_2, 0.018) - 0.159_421_356).abs() < 1e-9);
    // Walls at 60 degrees, 50 mm thick: the slant is 30, 50 / 0.866025 + 18 x 0.577350 = 57.735 + 10.392 = 68.1 mm.
    assert!((board(0.05, FRAC_PI_3, 0.018) - 0.068_127_331).abs() < 1e-9);
    // Boards are 50, 100 and 195 mm wide: 50 mm thick it takes 50 x 1.41421 + 18 = 88.7 mm.
    let timber = |across: &str| {
        let building = built(&with(&[(CLOUD, &format!("{across}{CLOUD}"))]), &prices::example());
        let made = building.build.types.iter().find(|made| made.kind == "across").expect("it is made");
        made.frame[0].timber.clone()
    };
    assert_eq!(timber(ACROSS), "planed board 18 x 195 mm");
    assert_eq!(timber(&ACROSS.replace("100 mm", "50 mm")), "planed board 18 x 100 mm");
}

/// Three flat panels on the south wall have four points each; the corner panel has two on either wall, 20 mm inside its edges, 600 / sqrt 2 - 20 = 404 mm from the
/// corner, which is the right end of the south wall and the left one of the west wall.
#[test]
fn exact_points_that_no_member_lies_behind() {
    let asked = |structure: &str| -> (f64, Option<u32>) {
        let building = built(&with(&[(CLOUD, &format!("{ACROSS}{structure}{CLOUD}"))]), &prices::example());
        let line = building.build.purchases.iter().find(|line| line.name.starts_with("screw for the wall")).expect("walls take screws");
        let words = " of them where no member lies: a fixing made for that wall, rated as much, in place of the screw";
        let count = line.ask_for.split("; ").find_map(|part| part.strip_suffix(words));
        (line.needed, count.map(|count| count.parse().expect("a count")))
    };
    let stud = |wall: &str, first: &str| {
        format!(
            "[[structure]]\nname = \"studs of {wall}\"\nkind = \"studs\"\nsurface = \"{wall}\"\nruns = \"up\"\nfirst = {first}\nwidth = \"50 mm\"\n"
        )
    };
    // Of walls of which nothing is said nothing is known.
    assert_eq!(asked(""), (16.0, None));
    // One post 50 mm wide. The corner's points at 4.596 m are on it 24 mm off its middle and beside it at 26, those of the flat panels are not.
    assert_eq!(asked(&stud("south", "4.62")), (16.0, Some(12)));
    assert_eq!(asked(&stud("south", "4.622")), (16.0, Some(14)));
    assert_eq!(asked(&stud("south", "4.572")), (16.0, Some(12)));
    assert_eq!(asked(&stud("south", "4.57")), (16.0, Some(14)));
    assert_eq!(asked(&stud("west", "0.4")), (16.0, None));
    assert_eq!(asked(&stud("west", "2.0")), (16.0, Some(2)));
    // Everything carries in a wall of bricks; and between two posts the flat panels hang on rails.
    assert_eq!(asked(&stud("south", "2.0").replace("\"studs\"", "\"solid\"")), (16.0, None));
    assert_eq!(asked(&stud("south", "0.3\nspacing = 3")), (16.0, Some(2)));
}
