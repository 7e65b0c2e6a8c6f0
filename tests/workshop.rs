//! From plan to workshop: every dimension on paper derived anew from the plan, over random walls; what cannot be made, marked or hung is told.
//!
//! Nothing here calls what it judges but `study::build`: sizes, sums and lengths are reckoned from the scene by other code.

use glam::{DVec2, DVec3};
use roomwright::scene::prices::{self, PriceList};
use roomwright::scene::{PanelType, Scene};
use roomwright::study::{self, Building};

mod counted; // battens, stock of slanted sides and points off every member, by hand
mod derived; // what follows from a plan, reckoned by other code
mod invented; // rooms with rows of panels, a cloud and a corner, drawn by chance
mod overhead; // loads, troubles, order, distances and slopes over heads, by hand

use derived::{
    cables_are_told, cloth_covers, frames_close, gaps_are_told, marks_lie_in_their_panels, pieces_fit_their_sheets,
    rails_carry_their_points, rows_fill_their_walls, sums_are_sums, wire_on_the_roll_suffices, wires_reach_from_cloud_to_ceiling,
};
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

/// On a slope an edge comes down plumb, not square to the slope: found here by halving, in three dimensions.
#[test]
fn keeps_secondary_wires_of_a_slope_to_what_gravity_does() {
    let attic = include_str!("../scenes/attic-voice-room.toml");
    let panel = "[[panel]]\ntype = \"wall panel\"\nsurface = \"slope\"\nleft = 3.6\nbottom = 1.08\nlying = true\ngap = \"50 mm\"\n";
    let building = built(&read(&format!("{attic}\n{panel}")), &prices::example());
    let flat = building.build.overhead[0].flat.as_ref().expect("it lies flat");
    let slope = building.build.surfaces.iter().find(|surface| surface.surface == "slope").unwrap();
    let (sine, cosine) = (2.4_f64 - 1.1).atan2(1.9).sin_cos();
    let point = |[left, bottom]: [f64; 2], off: f64| DVec3::new(bottom * cosine + off * sine, left, 1.1 + bottom * sine - off * cosine);
    assert!(!flat.secondary.is_empty());
    for wire in &flat.secondary {
        let mark = slope.panels.iter().flat_map(|panel| &panel.marks).find(|mark| mark.name == wire.mark).unwrap();
        let (anchor, edge) = (point([mark.left_m, mark.bottom_m], 0.0), point(wire.from_m, 0.05));
        let taut = |long: f64| {
            let (mut low, mut high) = (0.0, 2.0);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if (edge - DVec3::Z * middle).distance(anchor) < long { low = middle } else { high = middle }
            }
            low
        };
        assert!((wire.drop_m - taut(wire.longest_m)).abs() < 0.002, "{wire:?}: {}", taut(wire.longest_m));
        let shorter = wire.longest_m - 0.005;
        let below = anchor.z - edge.z + taut(shorter);
        let needed = 5.0 * 4.2 * 9.80665 * shorter / below;
        assert!((wire.needed_n.unwrap() - needed).abs() < 0.02 * needed, "{wire:?}: {needed}");
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

/// Members and masses may be told once the plan is made: it is still of this room, and the sheets are by what is told now.
#[test]
fn keeps_what_carries_told_after_the_plan() {
    let (whole, prices) = (with(&[]), prices::example());
    let room = Scene { panels: Vec::new(), ..whole.clone() };
    let known = study::build(Some(&room), &whole, &prices).unwrap().build;
    assert!(known.overhead.iter().all(|one| one.not_to_be_hung.is_empty()) && !known.overhead.is_empty(), "{:?}", known.overhead);
    assert!(known.troubles.iter().all(|trouble| trouble.id != "members-after-plan"));
    let mut plan = whole;
    plan.making.structure.clear();
    plan.stock.iter_mut().for_each(|kind| kind.mass = None);
    let mut now = study::build(Some(&room), &plan, &prices).unwrap().build;
    assert_eq!(now.troubles.pop().unwrap().id, "members-after-plan");
    assert_eq!(now, known);
    // The plan by itself knows of none.
    let alone = study::build(None, &plan, &prices).unwrap().build;
    assert!(alone.overhead.iter().any(|one| !one.not_to_be_hung.is_empty()));
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
    // Its joints dry for 12 h more, screwed, while the cloth goes on.
    assert!((schedule.until_dry_h - (48.0 + 15.0 / 60.0 + 12.0)).abs() < 1e-9, "{}", schedule.until_dry_h);
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
