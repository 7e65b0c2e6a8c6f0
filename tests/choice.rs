//! Types of panel that exclude one another: which is hung, by what rule, and that the reasons stand on every page.

use std::sync::LazyLock;

use expect_test::expect_file;
use roomwright::bands::{Band, Bands};
use roomwright::findings::Estimate;
use roomwright::plan::choice::{Alternative, Choice, Decision, lead, pick};
use roomwright::plan::score::{outside_ratio, unevenness_ratio};
use roomwright::plan::{Figures, Plan};
use roomwright::progress::Progress;
use roomwright::report;
use roomwright::response::Resampled;
use roomwright::scene::{self, FORMAT, Scene, Term, Terms, with_plan};
use roomwright::settings::Settings;
use roomwright::study::{self, Asked, Placement};
use roomwright::units::LengthUnit;

use super::edit::read;
use super::schema::check as check_schema;
use super::support::{on_threads, quick, small_scene, small_scene_text};
use super::{invented, text};

const BASEMENT: &str = include_str!("../scenes/basement-thin-or-thick.toml");

/// A small room whose walls are of this, with these types in stock.
fn room(walls: &str, stock: &str) -> String {
    let text = small_scene_text();
    let (room, _) = text.split_once("# What you have or would buy or build.").expect("the starter has a stock");
    let room = room.replace("Plasterboard on frame, 100 mm air space", walls);
    // Absorbs little below 500 Hz, so that what rings is low.
    let felt = "[[material]]\nname = \"felt\"\nabsorption = [0.05, 0.08, 0.12, 0.75, 0.85, 0.9]\n";
    quick(&format!("{room}\n{felt}{stock}"), 4_000)
}

/// A type in stock: its name, thickness and gap in mm, count, price, and what it stands instead of.
fn kind(name: &str, [thickness, gap]: [u32; 2], (count, price): (u32, u32), instead_of: &str) -> String {
    let instead_of = if instead_of.is_empty() { String::new() } else { format!("instead_of = \"{instead_of}\"\n") };
    // The space before `count` keeps it from `quick`, which leaves one of everything.
    format!(
        "[[stock]]\nname = \"{name}\"\nkind = \"panel\"\nsize = [\"600 mm\", \"1200 mm\"]\nthickness = \"{thickness} mm\"\nflow_resistivity = 12000\ngap = \"{gap} mm\"\n \
         count = {count}\nprice = {price}\n{instead_of}"
    )
}

fn place(text: &str) -> (Scene, Placement) {
    let scene = read(text);
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    (scene, placement)
}

fn choice(plan: &Plan) -> &Choice {
    plan.choice.as_ref().expect("the stock leaves a choice")
}

/// Thin panels against half as many thick ones of twice the price.
fn thin_or_thick() -> String {
    kind("thin", [50, 0], (6, 40), "") + &kind("thick", [100, 0], (3, 80), "thin")
}

/// A hard room with these.
static HARD: LazyLock<(Scene, Placement)> = LazyLock::new(|| place(&room("Smooth brickwork, flush pointing, painted", &thin_or_thick())));

/// A hard room wants its many first reflections covered, one that rings low wants depth.
#[test]
fn keeps_the_choice_to_what_the_room_needs() {
    let hard = choice(&HARD.1.plan);
    assert_eq!((hard.chosen, hard.decided_by), (1, Decision::Score), "{:#?}", hard.reasons);
    let deep = kind("thin", [20, 0], (4, 40), "") + &kind("thick", [150, 50], (2, 80), "thin");
    // With fewer rays the two may not be told apart.
    let (_, low) = place(&room("felt", &deep).replace("rays = 4000", "rays = 12000"));
    let low = choice(&low.plan);
    assert_eq!((low.chosen, low.decided_by), (2, Decision::Score), "{:#?}", low.reasons);
}

/// Of two types that are the same in everything but their price the cheaper one is hung, whichever comes first; at the same price the first.
#[test]
fn keeps_to_the_cheaper_of_equals() {
    for (prices, chosen, decided_by) in [([40, 35], 2, Decision::Cost), ([35, 40], 1, Decision::Cost), ([40, 40], 1, Decision::Order)] {
        let stock = kind("one", [50, 0], (2, prices[0]), "") + &kind("other", [50, 0], (2, prices[1]), "one");
        // Equals are equal by any rays.
        let text = room("Smooth brickwork, flush pointing, painted", &stock).replace("rays = 4000", "rays = 1000");
        let (_, placement) = place(&text);
        let choice = choice(&placement.plan);
        assert_eq!((choice.chosen, choice.decided_by), (chosen, decided_by), "{:#?}", choice.reasons);
        assert_eq!(choice.lead_steps, Estimate::exact(0.0));
        let hung = |one: &Alternative| one.hung.iter().map(|(_, count)| *count).sum::<u32>();
        assert_eq!(hung(&choice.alternatives[0]), hung(&choice.alternatives[1]));
        assert!(choice.reasons[0].contains("are not told apart"), "{:?}", choice.reasons);
    }
}

/// A score of this many steps; of two with the same batches only the difference of the steps has no error.
fn score(steps: f64, scatter: f64) -> Resampled<f64> {
    Resampled { whole: steps, without: (0..20).map(|batch| steps + scatter * f64::from(batch % 2) - 0.5 * scatter).collect() }
}

#[test]
fn exact_rule_of_choice() {
    let priced = [Some(10.0), Some(25.0)];
    let pick = |scores: [Resampled<f64>; 2], hung: [[u32; 2]; 2], prices: [Option<f64>; 2]| {
        let (chosen, rival, decision) = pick(&scores, &hung.map(|hung| hung.to_vec()), &prices);
        assert_eq!(rival, 1 - chosen);
        (chosen, decision)
    };
    let apart = || [score(5.0, 0.3), score(6.0, 0.3)];
    assert_eq!(pick(apart(), [[1, 0], [0, 9]], priced), (1, Decision::Score), "the higher score, whatever it costs");
    // Errors that go together cancel; those of one alone do not: 0.2 to either side of 19 batches is an error of 0.87, and 2.1 times that is more than 1.
    assert_eq!(lead(&apart()[1], &apart()[0]), Estimate { value: 1.0, se: 0.0 });
    let alone = [score(5.0, 0.0), score(6.0, 0.4)];
    assert!((lead(&alone[1], &alone[0]).se - 19.0_f64.sqrt() * 0.2).abs() < 1e-12);
    assert_eq!(pick(alone.clone(), [[2, 0], [0, 1]], priced), (0, Decision::Cost), "20 and not 25");
    assert_eq!(pick(alone.clone(), [[5, 0], [0, 2]], priced), (1, Decision::Panels), "50 either way");
    assert_eq!(pick(alone.clone(), [[5, 0], [0, 2]], [None, Some(25.0)]), (1, Decision::Panels), "a price is not known");
    assert_eq!(pick(alone.clone(), [[2, 0], [2, 1]], [None, Some(25.0)]), (0, Decision::Cost), "what both hang alike needs no price");
    assert_eq!(pick(alone, [[2, 0], [0, 2]], [Some(1.0); 2]), (0, Decision::Order));
    assert_eq!(pick([score(5.0, 0.0), score(5.09, 0.0)], [[2, 0], [0, 1]], priced), (0, Decision::Cost), "under a tenth of a step");
    assert_eq!(pick([score(5.0, 0.0), score(5.11, 0.0)], [[2, 0], [0, 1]], priced), (1, Decision::Score), "over it");
}

/// By hand: 0.36 s is 1.2 times 0.30 s, 0.20 s is 4/3 of 0.15 s. 0.2 and 0.4 s are 3/2 and 4/3 away from their mean with 0.3 s, which is on it: the third root of 2 in the mean.
#[test]
fn exact_terms_of_the_score() {
    let outside = |time_s| outside_ratio(time_s, Some((0.2, 0.3)), 1.0);
    assert!((outside(0.36) - 1.2).abs() < 1e-12 && (outside(0.15) - 4.0 / 3.0).abs() < 1e-12);
    assert_eq!([outside(0.2), outside(0.25), outside(0.3)], [1.0; 3]);
    assert!((outside_ratio(0.3, None, 0.4) - 0.75).abs() < 1e-12);
    assert!((unevenness_ratio(&[0.2, 0.3, 0.4]) - 2.0_f64.cbrt()).abs() < 1e-12);
    assert_eq!(unevenness_ratio(&[0.3]), 1.0);
}

/// The shipped scene: its figures are those of the layouts, its score and areas those of a reckoning by hand, its plan a scene that asks nothing more.
#[test]
fn keeps_the_basement_to_a_reckoning_by_hand() {
    let mut scene = read(BASEMENT);
    scene.settings = Settings { rays: 4_000, leaders: 6, rounds: 1, ..scene.settings };
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    let plan = &placement.plan;
    let choice = choice(plan);
    check_schema(plan);
    assert_eq!(choice.types(), ["thin panel", "thick panel"]);

    // The same trace, weighed apart.
    for (name, figures) in [("bare", &choice.bare), ("plan", &choice.chosen().unwrap().figures)] {
        let layout = plan.layouts.iter().find(|layout| layout.name == name).unwrap();
        let other = &layout.figures;
        assert_eq!((figures.early_level_db, figures.early_excess_db), (other.early_level_db, other.early_excess_db), "{name}");
        // One layout or another may not reach as far down: then all are told by T20, and the layouts of the plan are others than the alternatives.
        let octaves = figures.t30_s.0.iter().zip(&other.t30_s.0).chain([(&figures.t_mid_s, &other.t_mid_s)]);
        for (own, other) in octaves {
            let (Some(own), Some(other)) = (own, other) else { panic!("{name}: no decay") };
            assert!((own.value - other.value).abs() <= own.se.hypot(other.se), "{name}: {own:?} {other:?}");
        }
    }

    let samples = study::absorbers(&Asked::default(), Some(&scene)).unwrap().samples;
    let middle = |figures: &Figures| {
        let known: Vec<f64> =
            Band::ALL.into_iter().filter(|band| plan.decay_octaves_hz.contains(&band.nominal())).map(|band| band.index() as f64).collect();
        let (low, high) = (known[0] as usize, known[1] as usize);
        let times: Vec<f64> = (low..=high).map(|band| figures.t30_s.0[band].unwrap().value).collect();
        let mean = times.iter().sum::<f64>() / times.len() as f64;
        (mean, times.iter().map(|time| (time / mean).ln().abs()).sum::<f64>() / times.len() as f64)
    };
    let [low, high] = choice.asked_decay_s.unwrap();
    let lack = |figures: &Figures| {
        let (mean, uneven) = middle(figures);
        let outside = (mean / high).max(low / mean).max(1.0).ln();
        let reflections = figures.octave_excess_db.0[4..].iter().sum::<f64>() / 4.0;
        let flutter = figures.ringing_share.unwrap() / 0.1;
        (figures.early_level_db.value + 10.0).max(0.0) + reflections + (outside + uneven) / 1.05_f64.ln() + flutter
    };
    for one in &choice.alternatives {
        let gains = &one.gains_steps;
        assert!(gains.speech.is_none(), "nobody speaks");
        // What is noticed of left against right is not told by its mean.
        let by_hand = lack(&choice.bare) - lack(&one.figures) + gains.likeness.unwrap().value;
        assert!((one.score_steps.value - by_hand).abs() < 1e-9, "{} against {by_hand} by hand", one.score_steps.value);
        let together: f64 = Term::ALL.into_iter().filter_map(|term| gains[term]).map(|gain| gain.value).sum();
        assert!((together - by_hand).abs() < 1e-9);
        // 60 x 120 cm each; only this type is in stock.
        let [(name, count)] = &one.hung[..] else { panic!("{:?}", one.hung) };
        let kind = scene.stock.iter().find(|kind| kind.name == *name).unwrap();
        let sample = samples.iter().find(|sample| sample.name == *name).unwrap();
        let count = f64::from(*count);
        assert!((one.area_m2 - 0.72 * count).abs() < 1e-9);
        // More than without edges, and no more than as many panels by themselves.
        let (found, endless) = (one.absorption_m2, sample.absorption * (0.72 * count));
        let alone = sample.absorption_alone.expect("fiber of a known size") * (0.72 * count);
        let is_between = |band: Band| endless[band] < found[band] && found[band] < 1.001 * alone[band];
        assert!(Band::ALL.into_iter().all(is_between), "{endless:?} < {found:?} < {alone:?}");
        assert_eq!(one.cost, Some(kind.price.unwrap() * count));
        let left: u32 = one.left_over.iter().map(|(_, left)| left).sum();
        assert_eq!(one.hung[0].1 + left, kind.count);
    }
    let [chosen, rival] = [choice.chosen, choice.rival].map(|number| choice.numbered(number).unwrap().score_steps.value);
    assert!((choice.lead_steps.value - (chosen - rival)).abs() < 1e-9);

    // Nobody is asked to buy the others as well.
    let placed = &placement.pictures.panels[scene.panels.len()..];
    let written = read(&with_plan(BASEMENT, placed, &plan.out()).unwrap());
    let count = |name: &str| written.stock.iter().find(|kind| kind.name == name).unwrap().count;
    assert_eq!(plan.out().len(), 1);
    assert_eq!(count(plan.out()[0]), 0);
    assert_eq!(written.alternatives(), [Vec::<usize>::new()]);
}

/// The page of the plan: the reasons, both curves, the areas.
#[test]
fn keeps_reasons_and_curves_on_the_page() {
    let (scene, Placement { plan, pictures, room }) = &*HARD;
    let files = report::files(scene, room, plan, pictures);
    let file = |wanted: &str| {
        let bytes = files.iter().find(|(name, _)| name == wanted).map(|(_, bytes)| bytes.clone());
        String::from_utf8(bytes.unwrap_or_else(|| panic!("{wanted} is written"))).unwrap()
    };
    let chart = file("alternatives.svg");
    // Two types in two frames, in a diffuse field and at normal incidence; a curve has 185 points.
    let curves = chart.lines().filter(|line| line.starts_with("<polyline") && line.matches(',').count() > 150).count();
    assert_eq!(curves, 4, "{chart}");
    assert!(chart.contains(">thin</text>") && chart.contains(">thick</text>"));
    let found = super::report::collisions("alternatives.svg", &chart);
    assert!(found.is_empty(), "{}", found.join("\n"));
    let page = file("index.html");
    assert!(page.contains("<img src=\"alternatives.svg\""));
    let choice = choice(plan);
    assert!(choice.reasons.len() >= 3, "{:?}", choice.reasons);
    for reason in &choice.reasons {
        let words = report::svg::escape(reason).replace("+-", "\u{b1} ");
        assert!(page.contains(&words), "{words}");
        let short: String = reason.split_whitespace().take(4).collect::<Vec<_>>().join(" ");
        assert!(report::text::place(scene, room, plan, report::text::Extent::Full).contains(&short), "{short}");
    }
}

#[test]
fn keeps_the_choice_whatever_the_threads() {
    let (scene, placement) = &*HARD;
    let on_three = on_threads(3, || study::place(&Progress::new(), scene).expect("nobody cancels"));
    let [one, other] = [placement, &on_three].map(|placement| serde_json::to_string(&placement.plan).expect("a plan is plain data"));
    assert!(one == other, "the plan differs with the number of threads");
}

#[test]
fn keeps_silent_where_nothing_is_to_choose() {
    let plan = study::place(&Progress::new(), &small_scene(2_000)).expect("nobody cancels").plan;
    assert!(plan.choice.is_none() && plan.out().is_empty());
    assert!(serde_json::to_value(&plan).unwrap().get("choice").is_none(), "no field where there is no choice");
    // Of a type that is used up none can be hung instead: there is nothing to ask.
    let used_up = room(
        "Smooth brickwork, flush pointing, painted",
        &(kind("thin", [50, 0], (0, 40), "") + &kind("thick", [100, 0], (2, 80), "thin")),
    );
    let (_, placement) = place(&used_up);
    assert!(placement.plan.choice.is_none());
    assert!(placement.plan.placed.iter().all(|placed| placed.kind == "thick"));
}

/// Groups are independent: each of one goes with each of the other, types outside of them with all.
#[test]
fn exact_alternatives_of_two_groups() {
    let stock = thin_or_thick()
        + &kind("alone", [50, 0], (1, 40), "")
        + &kind("a", [50, 0], (1, 40), "")
        + &kind("b", [50, 0], (1, 40), "a")
        + &kind("c", [50, 0], (0, 40), "a");
    let scene = read(&room("felt", &stock));
    assert_eq!(scene.groups(), [vec![0, 1], vec![3, 4]]);
    assert_eq!(scene.alternatives(), [[0, 3], [0, 4], [1, 3], [1, 4]]);
    let counts = |scene: &Scene| scene.stock.iter().map(|kind| kind.count).collect::<Vec<_>>();
    assert_eq!(counts(&scene.with_alternative(&[1, 3])), [0, 3, 1, 1, 0, 0]);
}

/// A change of what a type stands instead of is a change of that key alone.
#[test]
fn keeps_the_key_through_the_editor() {
    let before = read(FORMAT);
    let index = before.stock.iter().position(|kind| kind.instead_of.is_some()).expect("the reference has one");
    let kind = &before.stock[index];
    let change = |instead_of: Option<&str>| {
        let mut editor = scene::Editor::new(FORMAT).unwrap();
        let changed = scene::PanelType { instead_of: instead_of.map(str::to_owned), ..kind.clone() };
        editor.change_stock(&kind.name, &changed).unwrap();
        let edited = editor.finish().unwrap();
        assert_eq!(edited.scene.stock[index], changed);
        edited.text
    };
    assert_eq!(change(Some("wall panel")), FORMAT, "no change");
    let other = change(Some("cloud"));
    let differing: Vec<(&str, &str)> = FORMAT.lines().zip(other.lines()).filter(|(was, is)| was != is).collect();
    let [(was, is)] = differing[..] else { panic!("{differing:?}") };
    assert_eq!(was.replace("\"wall panel\"", "\"cloud\""), is, "its comment stays");
    assert!(!change(None).contains("instead_of ="));
    let mut editor = scene::Editor::new(FORMAT).unwrap();
    let itself = scene::PanelType { instead_of: Some(kind.name.clone()), ..kind.clone() };
    editor.change_stock(&kind.name, &itself).unwrap();
    assert!(editor.finish().unwrap_err().to_string().contains("error[instead-unclear]"));
}

fn about(value: f64, se: f64) -> Estimate {
    Estimate { value, se }
}

/// Invented figures of thin and thick panels.
fn invented_choice() -> Choice {
    let figures = |early: f64, excess: f64, t: f64, outside: f64, uneven: f64| Figures {
        early_level_db: about(early, 0.04),
        early_excess_db: excess,
        t30_s: Bands::from_fn(|band| (band.index() > 0).then(|| about(t * (1.4 - 0.1 * band.index() as f64), 0.004))),
        t_mid_s: Some(about(t, 0.002)),
        outside_percent: Some(about(outside, 0.7)),
        unevenness_percent: Some(about(uneven, 0.4)),
        ..invented::figures(early, t)
    };
    let one = |number: usize, name: &str, (hung, left): (u32, u32), share: f64, figures: Figures, steps: [f64; 4]| Alternative {
        number,
        types: vec![name.to_owned()],
        hung: vec![(name.to_owned(), hung), ("corner panel with a long name".to_owned(), 4)],
        left_over: if left > 0 { vec![(name.to_owned(), left)] } else { Vec::new() },
        cost: (number == 1).then_some(660.0),
        area_m2: 0.72 * f64::from(hung),
        absorption_m2: Bands::from_fn(|band| 0.72 * f64::from(hung) * (share * (band.index() as f64 + 1.0)).min(1.0)),
        figures,
        gains_steps: Terms {
            early_level: Some(about(steps[0], 0.05)),
            reflections: Some(Estimate::exact(steps[1])),
            decay: Some(about(steps[2], 0.15)),
            evenness: Some(about(steps[3], 0.1)),
            ..Terms::default()
        },
        score_steps: about(steps.iter().sum(), 0.2),
    };
    Choice {
        asked_decay_s: Some([0.2, 0.3]),
        bare: figures(-6.1, 11.2, 0.61, 103.0, 14.0),
        alternatives: vec![
            one(1, "thin panel", (11, 1), 0.14, figures(-10.9, 0.4, 0.33, 10.0, 22.0), [4.8, 10.8, 18.6, -1.6]),
            one(2, "thick panel", (6, 0), 0.25, figures(-9.2, 3.3, 0.36, 20.0, 11.0), [3.1, 7.9, 16.6, 0.6]),
        ],
        chosen: 1,
        rival: 2,
        lead_steps: about(4.4, 0.18),
        lead_by_term_steps: Terms {
            early_level: Some(about(1.7, 0.03)),
            reflections: Some(Estimate::exact(2.9)),
            decay: Some(about(2.0, 0.1)),
            evenness: Some(about(-2.2, 0.1)),
            ..Terms::default()
        },
        decided_by: Decision::Score,
        reasons: vec!["\"thin panel\" is hung: an invented reason that is longer than a line of the page can be, so that it goes on below, at 250 Hz.".to_owned()],
    }
}

#[test]
fn locked_section_of_a_choice() {
    let plan = Plan { choice: Some(invented_choice()), ..invented::plan() };
    let page = text::place_page(&invented::scene(LengthUnit::Foot), &plan);
    text::keeps_its_columns(&page);
    let (_, rest) = page.split_once("Which of the stock, and why").expect("the section is there");
    let ends = ["\nWhat is open on both sides", "\nHow to read the tables"].map(|heading| rest.find(heading).unwrap_or(rest.len()));
    let section = &rest[..ends[0].min(ends[1])];
    assert!(section.len() < rest.len(), "something follows");
    expect_file!["cases/text/choice.txt"].assert_eq(&format!("Which of the stock, and why{section}\n"));
    for unit in LengthUnit::ALL {
        text::keeps_its_columns(&text::place_page(&invented::scene(unit), &plan));
    }
}
