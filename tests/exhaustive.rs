//! The search against the best that there is: few panels, few places, and every way to choose among them weighed on the same paths.

use rayon::prelude::*;
use roomwright::findings::survey::survey;
use roomwright::layout::{Candidate, Free, candidates};
use roomwright::plan::flush::Flush;
use roomwright::plan::place::{asked_range, judged_bands, judged_pairs, spots, trace};
use roomwright::plan::score::{Ground, Weighed, faults_of};
use roomwright::plan::search::{Corners, Goal, search};
use roomwright::plan::stock::Stock;
use roomwright::progress::Progress;
use roomwright::room::Room;
use roomwright::scene::{self, Panel, PanelPlace, PanelType, Scene};
use roomwright::settings::Settings;
use roomwright::weigh::Linings;
use roomwright::weigh::early::EarlyIndex;

/// Layouts weighed together.
const TOGETHER: usize = 256;

/// The text of a shoebox of 3.6 x 2.9 x 2.4 m of which so much of some walls and of the ceiling is left: a strip just high enough for one row of panels.
fn shoebox(strip_cm: f64, strips: usize) -> String {
    let strip = |surface: &str, length: f64, height: f64, bottom: f64, is_left: bool| {
        let (side, top) = (0.5 * (length - strip_cm), bottom + 60.5);
        let taken = |left: f64, bottom: f64, width: f64, height: f64| {
            format!(
                "[[clearance]]\nname = \"{surface} {left} {bottom}\"\nsurface = \"{surface}\"\nleft = {left}\nbottom = {bottom}\nwidth = {width}\nheight = {height}\n"
            )
        };
        if !is_left {
            return taken(0.0, 0.0, length, height);
        }
        [
            taken(0.0, 0.0, length, bottom),
            taken(0.0, top, length, height - top),
            taken(0.0, bottom, side, 60.5),
            taken(length - side, bottom, side, 60.5),
        ]
        .concat()
    };
    let mut text = String::from(
        r#"
format = 1
name = "Shoebox"
unit = "cm"
use = "mixing"
[room]
size = [360, 290, 240]
floor = "Wood floor (on joists)"
wall_material = "Plasterboard on frame, 100 mm air space"
ceiling_material = "Plasterboard on frame, 100 mm air space"
[[loudspeaker]]
name = "left"
position = [120, 230, 120]
toward = "seat"
[[loudspeaker]]
name = "right"
position = [240, 230, 120]
toward = "seat"
[[seat]]
name = "seat"
ear = [180, 125, 120]
[[stock]]
name = "panel"
kind = "panel"
size = [60, 60]
thickness = 5
flow_resistivity = 12000
count = 3
"#,
    );
    let surfaces = [
        ("east", 290.0, 240.0, 90.0),
        ("west", 290.0, 240.0, 90.0),
        ("ceiling", 360.0, 290.0, 150.0),
        ("north", 360.0, 240.0, 90.0),
        ("south", 360.0, 240.0, 90.0),
    ];
    for (number, (surface, length, height, bottom)) in surfaces.into_iter().enumerate() {
        text += &strip(surface, length, height, bottom, number < strips);
    }
    text
}

fn read(text: &str) -> Scene {
    let (mut scene, _) = scene::read(text).unwrap_or_else(|found| panic!("{found:?}"));
    scene.settings = Settings { rays: 2_000, rounds: 1, ..scene.settings };
    scene
}

/// The same with walls that take as good as nothing, so that depth pays.
fn hard(strip_cm: f64, strips: usize) -> String {
    shoebox(strip_cm, strips).replace("Plasterboard on frame, 100 mm air space", "Smooth brickwork, flush pointing, painted")
}

/// All threes of places at which three panels hang beside one another.
fn threes(scene: &Scene, free: &Free, places: &[Candidate]) -> Vec<[usize; 3]> {
    let kind = &scene.stock[0];
    let fits = |first: usize| -> Vec<bool> {
        let mut hung = free.clone();
        hung.hang(&places[first].panel, kind).expect("it fits an empty room");
        places.iter().map(|place| hung.fits_panel(&place.panel, kind).is_ok()).collect()
    };
    let fits: Vec<Vec<bool>> = (0..places.len()).map(fits).collect();
    let mut threes = Vec::new();
    for first in 0..places.len() {
        for second in (first + 1..places.len()).filter(|&second| fits[first][second]) {
            threes.extend(
                (second + 1..places.len()).filter(|&third| fits[first][third] && fits[second][third]).map(|third| [first, second, third]),
            );
        }
    }
    threes
}

/// Places of a type hung one way.
fn places(scene: &Scene, room: &Room, way: &PanelType) -> Vec<Candidate> {
    candidates(scene, room, &Free::new(scene, room), way, 0.1)
}

/// All pairs of places, the first for one way and the second for the other, at which both panels hang beside one another.
fn pairs(scene: &Scene, room: &Room, ways: [&PanelType; 2]) -> Vec<Vec<Panel>> {
    let [first, second] = ways.map(|way| places(scene, room, way));
    let both = |one: &Candidate| -> Vec<Vec<Panel>> {
        let mut hung = Free::new(scene, room);
        hung.hang(&one.panel, ways[0]).expect("it fits an empty room");
        let others = second.iter().filter(|other| hung.fits_panel(&other.panel, ways[1]).is_ok());
        others.map(|other| vec![one.panel.clone(), other.panel.clone()]).collect()
    };
    first.par_iter().flat_map_iter(both).collect()
}

/// What the search found, and the layouts that it is held against.
struct Held {
    found: Vec<Panel>,
    layouts: Vec<Vec<Panel>>,
    best: Vec<Panel>,
}

/// Holds what the search finds against all of these layouts: within a hundredth of the best.
fn hold(scene: &Scene, layouts: impl Fn(&Room) -> Vec<Vec<Panel>>) -> Held {
    let progress = Progress::new();
    let traced = trace(&progress, scene).expect("nobody cancels");
    let standing = survey(scene, &traced.room);
    let (pairs, bands) = (judged_pairs(scene, &traced.room), judged_bands(standing.schroeder_hz));
    let weights = scene.goals.weights(scene.activity);
    let goal = Goal { pairs: &pairs, bands: &bands, target: asked_range(scene, &standing), weights };
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let flush = Flush::for_trials(scene, &traced.room);
    let ground = Ground { traced: &traced, index: &index, flush: &flush, goal: &goal };
    let exchanged = Linings::everywhere(&traced.room, &flush.finish(0, scene.stock[0].gap));
    let spots = spots(&traced, &flush.linings(&scene.panels), &exchanged, &pairs);
    let found = search(&progress, &Stock::of(scene), ground, (&spots, &Corners::default())).expect("nobody cancels");
    let found: Vec<Panel> = found.hung.into_iter().map(|hung| hung.panel).collect();

    let bare = Weighed::new(&progress, ground, &[]).expect("nobody cancels");
    let steps = |layouts: &[Vec<Panel>]| -> Vec<f64> {
        let others = bare.others(&progress, ground, layouts).expect("nobody cancels");
        let all: Vec<&Weighed> = std::iter::once(&bare).chain(&others).collect();
        faults_of(&traced, &goal, &all)[1..].iter().map(|faults| faults.together().whole).collect()
    };
    let layouts = layouts(&traced.room);
    let all: Vec<f64> = layouts.chunks(TOGETHER).flat_map(steps).collect();
    let (place, best) = all.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1)).expect("there are layouts");
    let own = steps(std::slice::from_ref(&found))[0];
    let better = all.iter().filter(|&&other| other < own).count();
    let bare = faults_of(&traced, &goal, &[&bare])[0].together().whole;
    assert!(own <= 1.01 * best, "{own:.2} steps, the best of {} has {best:.2}, {better} are better; bare {bare:.2}: {found:#?}", all.len());
    Held { found, best: layouts[place].clone(), layouts }
}

/// The search finds a layout within a hundredth of the best of all. `SLOW=1` has it among some sixty places, over thirty thousand layouts.
#[test]
fn finds_the_best_of_all() {
    let (strip_cm, strips, some) = if std::env::var_os("SLOW").is_some() { (105.0, 5, 50..=70) } else { (70.0, 3, 15..=32) };
    let scene = read(&shoebox(strip_cm, strips));
    hold(&scene, |room| {
        let places = places(&scene, room, &scene.stock[0]);
        assert!(some.contains(&places.len()), "{} places", places.len());
        let threes = threes(&scene, &Free::new(&scene, room), &places);
        threes.par_iter().map(|three| three.map(|place| places[place].panel.clone()).to_vec()).collect()
    });
}

/// The air behind the panels on a surface.
fn gaps(panels: &[Panel], on: &str) -> Vec<f64> {
    let of = |panel: &Panel| match &panel.place {
        PanelPlace::Surface { surface, gap, .. } if surface == on => Some(*gap),
        _ => None,
    };
    panels.iter().filter_map(of).collect()
}

/// Air behind panels pays where there is room for it: before the west wall only a flush panel has its place. Both ways take from one pool of pieces.
#[test]
fn finds_the_best_gap_of_all() {
    let tight = "[[clearance]]\nname = \"shelf\"\nlow = [10, 0, 0]\nhigh = [60, 290, 240]\n";
    let text = hard(70.0, 2).replace("count = 3", "gap = [0, 10]\ncount = 2") + tight;
    let scene = read(&text);
    let ways: Vec<PanelType> = scene.stock[0].ways().collect();
    let held = hold(&scene, |room| ways.iter().flat_map(|one| ways.iter().flat_map(|other| pairs(&scene, room, [one, other]))).collect());
    assert!(held.layouts.iter().all(|panels| gaps(panels, "west").iter().all(|gap| *gap < 0.01)), "no room for more before the west wall");
    for panels in [&held.best, &held.found] {
        assert_eq!((gaps(panels, "west"), gaps(panels, "east")), (vec![0.0], vec![0.1]), "{panels:#?}");
    }
    let alone = read(&text.replace("count = 2", "count = 1"));
    let held = hold(&alone, |room| ways.iter().flat_map(|way| places(&alone, room, way)).map(|place| vec![place.panel]).collect());
    assert!(held.found.len() == 1 && held.best.len() == 1, "{:#?}", held.found);
}

/// One thin and one thick panel, which hang where each is worth most: any two places are held against theirs.
#[test]
fn finds_the_best_thickness_of_all() {
    let stock =
        "count = 1\n[[stock]]\nname = \"thick\"\nkind = \"panel\"\nsize = [60, 60]\nthickness = 15\nflow_resistivity = 12000\ncount = 1";
    let scene = read(&hard(70.0, 3).replace("count = 3", stock).replace("ear = [180, 125, 120]", "ear = [150, 125, 120]"));
    let held = hold(&scene, |room| pairs(&scene, room, [&scene.stock[0], &scene.stock[1]]));
    assert_eq!(held.found.len(), 2, "{:#?}", held.found);
}

/// A wide panel that can hang nowhere but where a small one is worth most: the small one makes room for it.
#[test]
fn finds_room_for_what_is_left() {
    let wide =
        "count = 1\n[[stock]]\nname = \"wide\"\nkind = \"panel\"\nsize = [120, 60]\nthickness = 5\nflow_resistivity = 12000\ncount = 1";
    let ceiling = |left: f64, width: f64| format!("surface = \"ceiling\"\nleft = {left}\nbottom = 150\nwidth = {width}\n");
    let text = hard(61.0, 3).replace("count = 3", wide);
    let wider = text.replace(&ceiling(0.0, 149.5), &ceiling(0.0, 119.5)).replace(&ceiling(210.5, 149.5), &ceiling(240.5, 119.5));
    let scene = read(&wider);
    let held = hold(&scene, |room| {
        let [small, wide] = [0, 1].map(|kind| places(&scene, room, &scene.stock[kind]));
        let is_overhead = |place: &Candidate| surface_of(&place.panel) == Some("ceiling");
        assert!(wide.iter().all(is_overhead) && small.iter().any(is_overhead) && !wide.is_empty());
        let alone = small.into_iter().chain(wide).map(|place| vec![place.panel]);
        alone.chain(pairs(&scene, room, [&scene.stock[0], &scene.stock[1]])).collect()
    });
    assert_eq!(held.found.len(), 2, "{:#?}", held.found);
}

fn surface_of(panel: &Panel) -> Option<&str> {
    match &panel.place {
        PanelPlace::Surface { surface, .. } => Some(surface),
        PanelPlace::Corner { .. } | PanelPlace::Cloud(_) => None,
    }
}
