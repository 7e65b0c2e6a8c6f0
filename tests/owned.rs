//! What a person owns, may buy and may drill: panels that hang already, a budget, walls that must stay whole; and what is said where nothing can be done.

use roomwright::plan::stock::{Fate, MOVING_STEPS, Stock, fates};
use roomwright::plan::{Becomes, Layout, Plan};
use roomwright::progress::Progress;
use roomwright::report::text;
use roomwright::scene::{self, Cloud, Drilling, Panel, PanelPlace, Scene};
use roomwright::settings::Settings;
use roomwright::study::handout::{Beside, StoredPlan, gather};
use roomwright::study::{self, Placement};
use roomwright::workshop::bearing;

use super::edit::read;
use super::schema::check as check_schema;
use super::support::{on_threads, quick, small_scene_text};

/// A small hard room with these types in stock, with what hangs, and with these goals.
fn room(stock: &str, goals: &str) -> String {
    let text = small_scene_text();
    let (room, _) = text.split_once("# What you have or would buy or build.").expect("the starter has a stock");
    let room = room.replace("Plasterboard on frame, 100 mm air space", "Smooth brickwork, flush pointing, painted");
    let text = quick(&format!("{room}\n{stock}"), 2_000);
    format!("{text}\n[goals]\n{goals}\n")
}

/// A type in stock; its count keeps a space before it, which keeps it from `quick`.
fn kind(name: &str, kind: &str, thickness: u32, more: &str) -> String {
    format!(
        "[[stock]]\nname = \"{name}\"\nkind = \"{kind}\"\nsize = [\"600 mm\", \"1200 mm\"]\nthickness = \"{thickness} mm\"\nflow_resistivity = 12000\n {}\n",
        more.replace('\n', "\n ")
    )
}

/// A panel that hangs on a wall.
fn hung(kind: &str, surface: &str, left: f64, bottom: f64) -> String {
    format!("[[panel]]\ntype = \"{kind}\"\nsurface = \"{surface}\"\nleft = \"{left} m\"\nbottom = \"{bottom} m\"\n")
}

fn place(text: &str) -> (Scene, Placement) {
    let scene = read(text);
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    (scene, placement)
}

fn layout<'a>(plan: &'a Plan, name: &str) -> &'a Layout {
    plan.layouts.iter().find(|layout| layout.name == name).unwrap_or_else(|| panic!("no layout {name}"))
}

/// What the plan hangs, all of it.
fn planned(scene: &Scene, placement: &Placement) -> Vec<Panel> {
    placement.pictures.panels[study::planned(scene).panels.len()..].to_vec()
}

/// The plan written into the text and read again.
fn taken(text: &str, scene: &Scene, placement: &Placement) -> String {
    let plan = &placement.plan;
    let panels = plan.to_hang(&planned(scene, placement));
    let rest = plan.purchase.as_ref().map(|purchase| purchase.rest);
    scene::with_moves(text, &plan.leaving(), &panels, (&plan.out(), rest)).expect("a plan is a scene")
}

/// What hangs is heard as it is built, whoever asks: a plan's after is what `hear` says of it, and its before what it says of the scene.
#[test]
fn keeps_one_figure_for_what_hangs() {
    let stock = kind("panel", "panel", 50, "gap = \"50 mm\"\n count = 6");
    let (scene, placement) = place(&room(&stock, ""));
    let fresh = |scene: Scene| Scene { settings: Settings { seed: scene.settings.seed + 1, ..scene.settings.clone() }, ..scene };
    let hangs = Scene { panels: placement.pictures.panels.clone(), ..scene };
    let (heard, _) = study::hear(&Progress::new(), &fresh(hangs.clone())).expect("nobody cancels");
    assert!(placement.plan.placed.len() > 3);
    assert_eq!((&heard.pairs, &heard.targets), (&placement.plan.after.pairs, &placement.plan.after.targets));
    let again = study::place(&Progress::new(), &hangs).expect("nobody cancels").plan.before;
    let (heard, _) = study::hear(&Progress::new(), &hangs).expect("nobody cancels");
    assert_eq!((&heard.pairs, &heard.targets), (&again.pairs, &again.targets));
}

/// What may not hang yet is not heard yet: the plan says what the rest of it brings, as `hear` would.
#[test]
fn keeps_what_is_heard_while_a_panel_stays_down() {
    let stock = kind("panel", "panel", 50, "gap = \"50 mm\"\n count = 2") + &kind("cloud", "cloud", 50, "count = 1");
    let (scene, placement) = place(&room(&stock, ""));
    let plan = &placement.plan;
    let held: Vec<u32> = plan.held_back.iter().map(|held| held.number).collect();
    assert!(!held.is_empty() && held.len() < plan.placed.len(), "no member is entered that would carry the cloud: {held:?}");
    let hangs: Vec<Panel> = plan
        .placed
        .iter()
        .zip(planned(&scene, &placement))
        .filter(|(placed, _)| !held.contains(&placed.number))
        .map(|(_, panel)| panel)
        .collect();
    let fresh = Settings { seed: scene.settings.seed + 1, ..scene.settings.clone() };
    let (heard, room) = study::hear(&Progress::new(), &Scene { panels: hangs, settings: fresh, ..scene.clone() }).expect("nobody cancels");
    let meanwhile = plan.meanwhile.as_ref().expect("something is held back");
    assert_eq!((&meanwhile.pairs, &meanwhile.targets), (&heard.pairs, &heard.targets));
    assert_ne!(meanwhile.pairs, plan.after.pairs);
    let page = text::place(&scene, &room, plan, text::Extent::Short);
    assert!(page.contains("With only what may be hung as the scene stands"), "{page}");
}

/// A cloud is planned where the joists that the scene names carry it, not where it would be left down for want of them.
#[test]
fn keeps_what_hangs_overhead_under_what_carries_it() {
    let stock = kind("cloud", "cloud", 50, "count = 1\nmass = 5");
    let joists = "[[structure]]\nname = \"joists\"\nkind = \"joists\"\nsurface = \"ceiling\"\nruns = \"up\"\nfirst = \"300 mm\"\n spacing = \"450 mm\"\nwidth = \"50 mm\"\n";
    let (scene, placement) = place(&room(&(stock.clone() + joists), ""));
    let (unnamed, by_sound) = place(&room(&stock, ""));
    let cloud = |scene: &Scene, placement: &Placement| match planned(scene, placement).swap_remove(0).place {
        PanelPlace::Cloud(cloud) => cloud,
        other => panic!("{other:?}"),
    };
    let (is, was) = (cloud(&scene, &placement), cloud(&unnamed, &by_sound));
    // Where sound alone has it no two joists are where its wires need them; beside it they are.
    let reasons =
        |cloud: Cloud| bearing::against(&scene, &placement.room, &[Panel { kind: "cloud".to_owned(), place: PanelPlace::Cloud(cloud) }])[0];
    assert!(reasons(was) > 0 && reasons(is) == 0, "{was:?}, {is:?}");
    assert!(
        (is.center - was.center).abs().max_element() < 0.201 && (-1e-9..0.101).contains(&(was.underside - is.underside)),
        "{was:?}, {is:?}"
    );
    assert!(placement.plan.held_back.is_empty(), "{:?}", placement.plan.held_back);
    // Where nothing is named it stays where it sounds best, and the sheets say what is missing.
    assert_eq!(by_sound.plan.held_back.len(), 1);
    let says = |placement: &Placement| placement.plan.notes.iter().any(|note| note.starts_with("Overhead"));
    assert_eq!((says(&placement), says(&by_sound)), (true, false));
}

/// A low room with a door that goes up under its ceiling, joists every 600 mm, and three clouds in stock.
const LOW_ROOM: &str = r#"format = 1
name = "low room"
use = "mixing"
[room]
size = [4.1, 2.7, 2.35]
floor = "Smooth unpainted concrete"
wall_material = "Plasterboard on frame, 100 mm air space"
ceiling_material = "Plasterboard ceiling on battens, large air space above"
[[clearance]]
name = "where the door goes"
low = [0, 0.2, 2.0]
high = [2.2, 2.5, 2.35]
[[structure]]
name = "joists"
kind = "joists"
surface = "ceiling"
runs = "up"
first = "300 mm"
spacing = "600 mm"
[[loudspeaker]]
name = "left"
position = [3.5, 1.96, 1.2]
toward = "seat"
[[loudspeaker]]
name = "right"
position = [3.5, 0.74, 1.2]
toward = "seat"
[[seat]]
name = "seat"
ear = [2.44, 1.35, 1.2]
[[stock]]
name = "cloud"
kind = "cloud"
size = ["60 cm", "120 cm"]
thickness = "5 cm"
density = 60
fiber = "mineral"
count = 3
mass = 5
made = "wooden frame"
fixing = "wires"
[settings]
rays = 4000
rounds = 1
patch = "300 mm"
"#;

/// Clouds of which each is in the way of where another is carried are hung anew together.
#[test]
fn keeps_clouds_out_of_the_way_of_what_carries_others() {
    let (scene, placement) = place(LOW_ROOM);
    let panels = planned(&scene, &placement);
    assert_eq!(panels.len(), 3);
    assert_eq!(bearing::against(&scene, &placement.room, &panels), [0, 0, 0], "{panels:?}");
}

/// A report takes a plan for what its scene says now, and no other: a door swing that was forgotten is reason enough for a new one.
#[test]
fn keeps_a_plan_with_the_scene_that_it_was_made_of() {
    let text = room(&kind("panel", "panel", 50, "count = 2"), "");
    let (scene, placement) = place(&text);
    let stored = StoredPlan { plan: placement.plan.clone(), scene: read(&taken(&text, &scene, &placement)) };
    let plan_of = |scene: &Scene| {
        let beside = Beside { plan: Some(Ok(stored.clone())), ..Beside::default() };
        gather(&Progress::new(), scene, beside, None).expect("nobody cancels").plan
    };
    assert_eq!(plan_of(&scene).map(|plan| plan.placed.len()), Ok(placement.plan.placed.len()));
    let swing = "\n[[clearance]]\nname = \"door swing\"\nlow = [\"1 m\", \"0 m\", \"0 m\"]\nhigh = [\"1.8 m\", \"0.8 m\", \"2 m\"]\n";
    let why = plan_of(&read(&format!("{text}{swing}"))).expect_err("it knew nothing of the swing");
    assert!(why.contains("older than this scene") && why.contains("roomwright place"), "{why}");
    // What carries may be told after it, as for the sheets: the plan stays, and the page says that it knows none of that.
    let joists = "\n[[structure]]\nname = \"joists\"\nkind = \"joists\"\nsurface = \"ceiling\"\nruns = \"up\"\nfirst = \"0.3 m\"\n";
    let beside = Beside { plan: Some(Ok(stored.clone())), ..Beside::default() };
    let gathered = gather(&Progress::new(), &read(&format!("{text}{joists}")), beside, None).expect("nobody cancels");
    assert!(gathered.plan.is_ok() && gathered.doubt.is_some_and(|doubt| doubt.contains("does not know them")));
}

/// What nobody has said of walls, ceiling and making stands in the survey, and no more of it once it is said; a door is taken to open into the room.
#[test]
fn keeps_what_a_scene_does_not_say_of_hanging() {
    let text = room(&kind("cloud", "cloud", 50, "count = 1"), "");
    let door = "\n[[opening]]\nname = \"door\"\nkind = \"door\"\nsurface = \"south\"\nleft = \"1 m\"\nbottom = 0\nwidth = \"0.8 m\"\nheight = \"2 m\"\nmaterial = \"Solid wooden door\"\n";
    let joists = "\n[[structure]]\nname = \"joists\"\nkind = \"joists\"\nsurface = \"ceiling\"\nruns = \"across\"\nfirst = \"0.3 m\"\nspacing = \"0.4 m\"\n";
    let said = |text: &str| {
        let scene = read(text);
        let survey = study::survey(&scene);
        (survey.unsaid.join("\n"), text::survey(&scene, &survey))
    };
    let (unsaid, _) = said(&text);
    for sentence in
        ["holds behind ceiling: until a [[structure]] does", "holds behind south, east, north, west: ", "cloud is taken as wooden frame"]
    {
        assert!(unsaid.contains(sentence), "{unsaid}");
    }
    let text = text.replace("flow_resistivity = 12000", "flow_resistivity = 12000\nmade = \"wooden frame\"");
    let (unsaid, page) = said(&format!("{text}{joists}{door}"));
    assert!(
        unsaid.contains("holds behind south, east, north, west: ") && !unsaid.contains("ceiling") && !unsaid.contains("is taken as"),
        "{unsaid}"
    );
    assert!(page.contains("joists running across (from east to west, along x)") && page.contains("taken to open into the room"), "{page}");
}

/// The warnings of a text, by id.
fn warnings(text: &str) -> Vec<&'static str> {
    let (_, warnings) = scene::read(text).unwrap_or_else(|found| panic!("{found:?}"));
    warnings.iter().map(|warning| warning.id).collect()
}

/// Every page of a plan can be written, and says why it stopped.
fn keeps_a_page(scene: &Scene, placement: &Placement) {
    let planned = study::planned(scene);
    let page = text::place(&planned, &placement.room, &placement.plan, text::Extent::Full);
    assert!(page.contains("It stopped because"), "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 100), "{page}");
    check_schema(&placement.plan);
    let files = roomwright::report::files(&planned, &placement.room, &placement.plan, &placement.pictures);
    assert!(files.iter().any(|(name, bytes)| name == "index.html" && bytes.len() > 2_000));
}

const MOVABLE: &str = "move_hung = true";

/// Whether two panels are one, but for the last digits of a measure.
fn is_same(panel: &Panel, other: &Panel) -> bool {
    match (&panel.place, &other.place) {
        (
            PanelPlace::Surface { surface, left, bottom, lying, gap },
            PanelPlace::Surface { surface: on, left: from_left, bottom: up, lying: lies, gap: off },
        ) => {
            let near = [(left, from_left), (bottom, up), (gap, off)].iter().all(|(own, read)| (*own - *read).abs() < 1e-9);
            panel.kind == other.kind && surface == on && lying == lies && near
        }
        _ => panel == other,
    }
}

/// Two panels in a far corner, low, and one on another wall: what is moved makes the room better by more than it costs, and written, read and asked again all stay.
#[test]
fn keeps_what_hangs_where_it_is_good() {
    let stock = kind("panel", "panel", 100, "count = 1")
        + &hung("panel", "east", 0.05, 0.05)
        + &hung("panel", "east", 0.7, 0.05)
        + &hung("panel", "south", 1.4, 0.6);
    let text = room(&stock, MOVABLE);
    let (scene, placement) = place(&text);
    let plan = &placement.plan;
    keeps_a_page(&scene, &placement);
    assert_eq!(plan.hung_before.len(), 3);
    let all = planned(&scene, &placement);
    assert_eq!(all.len(), plan.placed.len());
    for before in &plan.hung_before {
        let own = &scene.panels[before.panel as usize - 1];
        let number = before.number.map(|number| &all[number as usize - 1]);
        match before.becomes {
            Becomes::Stays => assert_eq!(number, Some(own)),
            Becomes::Moves => assert!(number.is_some_and(|now| now != own && now.kind == own.kind)),
            Becomes::ComesDown => assert_eq!(number, None),
        }
    }
    let (hangs, ours) = (layout(plan, "as it hangs"), layout(plan, "plan"));
    assert_eq!((hangs.panels, ours.panels), (3, plan.placed.len() as u32));
    let moved = plan.leaving().len() as f64;
    let lead = hangs.plan_better_steps;
    assert!(lead.value > MOVING_STEPS * moved - lead.half_width_95(), "{moved} were moved for {lead:?}");
    // Written, read and asked again, it stands as it is: the same room, the same rays.
    let text = taken(&text, &scene, &placement);
    let again = read(&text);
    assert_eq!(again.panels.len(), all.len());
    assert!(all.iter().all(|panel| again.panels.iter().any(|read| is_same(panel, read))), "{all:?} and {:?}", again.panels);
    let in_stock = |scene: &Scene| scene.stock[0].count as usize + scene.panels.len();
    assert_eq!(in_stock(&again), in_stock(&scene), "none is lost");
    let (_, second) = place(&text);
    let stay = second.plan.hung_before.iter().filter(|before| before.becomes == Becomes::Stays).count();
    assert_eq!(stay, all.len(), "{:#?}", second.plan.hung_before);
}

/// Without the word nothing that hangs is touched, and no layout stands beside.
#[test]
fn keeps_what_hangs_unless_it_may_be_moved() {
    let text = room(&(kind("panel", "panel", 100, "count = 1") + &hung("panel", "east", 0.05, 0.05)), "decay = 1");
    let scene = read(&text);
    let stock = Stock::of(&scene);
    assert!(stock.hangs.is_empty() && stock.scene == scene);
    let free = Stock::of(&read(&text.replace("decay = 1", MOVABLE)));
    assert_eq!((free.hangs.len(), free.scene.panels.len(), free.scene.stock[0].count), (1, 0, 2));
}

/// The same plan with any number of threads, bought and moved.
#[test]
fn keeps_a_purchase_whatever_the_threads() {
    let text = room(
        &(kind("panel", "panel", 50, "count = \"budget\"\nprice = 40")
            + &kind("deep", "panel", 100, "count = 2\nprice = 70")
            + &hung("panel", "east", 0.05, 0.05)),
        "budget = 120\nmove_hung = true",
    );
    let plan = |threads: usize| on_threads(threads, || serde_json::to_string(&place(&text).1.plan).expect("a plan is plain data"));
    assert!(plan(1) == plan(3), "the plan differs with the number of threads");
}

#[test]
fn exact_fates() {
    let panel = |kind: &str, left: f64| Panel {
        kind: kind.to_owned(),
        place: PanelPlace::Surface { surface: "north".to_owned(), left, bottom: 0.5, lying: false, gap: 0.0 },
    };
    let left = |panel: &Panel| if let PanelPlace::Surface { left, .. } = panel.place { left } else { 0.0 };
    let distance = |a: &Panel, b: &Panel| (left(a) - left(b)).abs();
    let before = [panel("a", 0.0), panel("a", 1.0), panel("a", 2.0), panel("b", 3.0)];
    let after = [panel("a", 1.9), panel("a", 1.0), panel("c", 3.0)];
    assert_eq!(fates(&before, &after, distance), [Fate::ComesDown, Fate::Stays(1), Fate::Moves(0), Fate::ComesDown]);
    assert_eq!(fates(&[], &after, distance), []);
    assert_eq!(fates(&before[..1], &[], distance), [Fate::ComesDown]);
}

fn shop(budget: &str) -> String {
    let stock = kind("thin", "panel", 50, "count = \"budget\"\nprice = 40")
        + &kind("thick", "panel", 100, "count = 3\nprice = 70")
        + &kind("old", "panel", 50, "count = 1");
    room(&stock, budget)
}

/// The plan and the rules never spend more than there is; what is bought, its cost and the rest add up; what is owned is hung before it is bought.
#[test]
fn keeps_to_the_budget() {
    let text = shop("budget = 200");
    let (scene, placement) = place(&text);
    let plan = &placement.plan;
    keeps_a_page(&scene, &placement);
    let purchase = plan.purchase.as_ref().expect("there is a budget");
    let cost: f64 = purchase.bought.iter().map(|bought| bought.cost).sum();
    assert!(cost > 0.0 && (cost - purchase.cost).abs() < 1e-9 && cost <= 200.0, "{purchase:?}");
    assert!((purchase.rest + cost - 200.0).abs() < 1e-9);
    for bought in &purchase.bought {
        let hung = plan.placed.iter().filter(|placed| placed.kind == bought.kind).count() as u32;
        assert_eq!((hung, bought.cost), (bought.count, bought.price * f64::from(bought.count)));
        assert_ne!(bought.kind, "old");
    }
    for layout in &plan.layouts {
        assert!(layout.cost.is_some_and(|cost| cost <= 200.0), "{}", layout.name);
    }
    for rule in ["first reflection points, corners, even spread", "even spread"] {
        let lead = layout(plan, rule).plan_better_steps;
        assert!(layout(plan, rule).cost.is_some_and(|cost| cost > 0.0), "{rule} buys nothing");
        assert!(lead.value >= -lead.half_width_95(), "{rule} is better, {lead:?}");
    }
    let next = purchase.next.as_ref().expect("a hard room wants more");
    assert!(next.kind == "thin" || next.kind == "thick");
    let again = read(&taken(&text, &scene, &placement));
    assert_eq!(again.goals.budget, Some(purchase.rest));
}

/// By hand: of 200 five thin ones or two thick ones and one thin; a type without a price is owned.
#[test]
fn exact_costs() {
    let stock = Stock::of(&read(&shop("budget = 200")));
    assert_eq!(stock.scene.stock[0].count, 5);
    assert!((stock.cost(&[1, 2, 1]) - 180.0).abs() < 1e-12);
    assert!(stock.affords(&[5, 0, 1]) && !stock.affords(&[4, 1, 0]));
    assert!(stock.has(&[1, 3, 1], 0) && !stock.has(&[1, 3, 1], 1) && stock.has(&[1, 3, 1], 2) && !stock.has(&[0, 3, 1], 0));
    assert_eq!(stock.left_over(&[5, 3, 1]), [("old".to_owned(), 1)], "what is not bought is not left over");
    let reason = stock.spent(&[0, 3, 0]).expect("the rest buys nothing");
    assert!(reason.contains("only 0 of the money") && reason.contains("\"thick\", costs 70"), "{reason}");
    // What hangs already is owned, though its type has a price.
    let text = shop("budget = 200\nmove_hung = true") + &hung("thick", "east", 0.05, 0.05);
    let stock = Stock::of(&read(&text));
    assert!((stock.cost(&[0, 2, 1]) - 70.0).abs() < 1e-12 && stock.scene.stock[1].count == 4);
}

/// No money, too little money: what is owned is hung, and the page says what the cheapest costs.
#[test]
fn keeps_a_plan_without_money() {
    for budget in ["budget = 0", "budget = 39.99"] {
        let text = shop(budget);
        assert_eq!(warnings(&text), ["budget-unused"], "{budget}");
        let (scene, placement) = place(&text);
        let plan = &placement.plan;
        keeps_a_page(&scene, &placement);
        assert!(plan.placed.iter().all(|placed| placed.kind == "old") && plan.placed.len() == 1, "{:?}", plan.placed);
        assert!(plan.stopped_because.contains("the cheapest piece more, \"thin\", costs 40"), "{}", plan.stopped_because);
        let purchase = plan.purchase.as_ref().expect("there is a budget");
        assert!(purchase.bought.is_empty() && purchase.cost.abs() < 1e-12);
    }
    // Nothing is owned either.
    let text = room(&kind("thin", "panel", 50, "count = \"budget\"\nprice = 40"), "budget = 10");
    let (scene, placement) = place(&text);
    keeps_a_page(&scene, &placement);
    assert!(
        placement.plan.placed.is_empty() && placement.plan.stopped_because.contains("only 10 of the money is left"),
        "{}",
        placement.plan.stopped_because
    );
}

/// Where a wall must stay whole, nothing is screwed to it, by the plan or by a rule of thumb; what stands may stand before it.
#[test]
fn keeps_walls_whole() {
    let stock = kind("panel", "panel", 100, "count = 3") + &kind("screen", "free-standing", 100, "count = 2");
    let (scene, placement) = place(&room(&stock, "no_drill = [\"north\", \"south\"]"));
    keeps_a_page(&scene, &placement);
    assert_eq!(scene.goals.drilling, Drilling::NotInto(vec!["north".to_owned(), "south".to_owned()]));
    let screwed: Vec<_> = placement.plan.placed.iter().filter(|placed| placed.kind == "panel").collect();
    assert!(
        !screwed.is_empty() && screwed.iter().all(|placed| !["north", "south"].contains(&placed.place.surface.as_str())),
        "{screwed:#?}"
    );
    let (scene, placement) = place(&room(&stock, "drill = false"));
    keeps_a_page(&scene, &placement);
    let plan = &placement.plan;
    assert!(!plan.placed.is_empty() && plan.placed.iter().all(|placed| placed.mount == "stands"), "{:?}", plan.placed);
    let files = roomwright::report::files(&scene, &placement.room, plan, &placement.pictures);
    let page =
        files.iter().find(|(name, _)| name == "index.html").map(|(_, bytes)| String::from_utf8_lossy(bytes)).expect("there is a page");
    assert!(page.contains("Before you set it up") && page.contains("can tip over") && !page.contains("Before you drill"));
    assert!(
        plan.notes.iter().any(|note| note.starts_with("\"panel\" has no place") && note.contains("nothing may be screwed to")),
        "{:?}",
        plan.notes
    );
    assert!(plan.layouts.iter().all(|layout| layout.panels <= 2), "the rules keep to it, too");
    // A panel that leans or hangs from what is there needs no drill.
    let leaning = kind("panel", "panel", 100, "count = 1\ndrill = false");
    assert!(warnings(&room(&leaning, "drill = false")).is_empty());
}

/// Nothing but screwed panels and no drill; clearances over everything; both with a budget: nothing hangs, and it is said why.
#[test]
fn keeps_saying_why_nothing_hangs() {
    let stock = kind("panel", "panel", 100, "count = 2");
    let everywhere = "[[clearance]]\nname = \"pictures\"\nlow = [\"0 m\", \"0 m\", \"0 m\"]\nhigh = [\"3.6 m\", \"2.9 m\", \"2.4 m\"]\n";
    let cases = [
        (stock.clone(), "drill = false", vec!["drill-needed"], "nothing may be screwed to"),
        (stock.clone() + everywhere, "decay = 1", vec![], "`pictures` must stay clear"),
        (
            stock.replace("count = 2", "count = 2\n price = 10") + everywhere,
            "budget = 100\nmove_hung = true",
            vec![],
            "`pictures` must stay clear",
        ),
    ];
    for (stock, goals, ids, why) in cases {
        let text = room(&stock, goals);
        assert_eq!(warnings(&text), ids, "{goals}");
        let (scene, placement) = place(&text);
        let plan = &placement.plan;
        keeps_a_page(&scene, &placement);
        assert!(plan.placed.is_empty() && plan.stopped_because.contains("has no place"), "{goals}: {}", plan.stopped_because);
        assert!(plan.notes.iter().any(|note| note.contains(why)), "{goals}: {:?}", plan.notes);
        let survey = study::survey(&scene);
        assert!(survey.without_place.len() == 1 && survey.without_place[0].contains(why), "{:?}", survey.without_place);
        assert!(text::survey(&scene, &survey).contains("has no place in this room"));
    }
}
