//! The score: its figures are those of the findings, its terms those of a reckoning by hand, its weights count; what rings is counted by area.

use roomwright::bands::Band;
use roomwright::findings::flutter::{ringing_ended, ringing_share};
use roomwright::findings::judge::judge;
use roomwright::findings::reflections::excesses;
use roomwright::findings::survey::survey;
use roomwright::findings::{Findings, Pair};
use roomwright::hanging::{Hanging, from_panels};
use roomwright::plan::flush::Flush;
use roomwright::plan::integral::Integral;
use roomwright::plan::place::{judged_bands, judged_pairs, trace};
use roomwright::plan::score::{Faults, Ground, Weighed, clarity_slopes, faults_of, likeness_slopes};
use roomwright::plan::search::Goal;
use roomwright::progress::Progress;
use roomwright::room::{Bodies, build};
use roomwright::scene::{self, Activity, Scene, Term, Terms};
use roomwright::settings::Settings;
use roomwright::weigh::early::EarlyIndex;

const BASEMENT: &str = include_str!("../scenes/basement-mix-room.toml");

fn read(text: &str) -> Scene {
    let (mut scene, _) = scene::read(text).unwrap_or_else(|found| panic!("{found:?}"));
    scene.settings = Settings { rays: 4_000, rounds: 1, ..scene.settings };
    scene
}

/// A scene as it stands: what is wrong with it by these weights, and its findings, on the same rays.
fn scored(scene: &Scene, target: Option<(f64, f64)>, weights: Terms<f64>) -> (Faults, Findings) {
    let progress = Progress::new();
    let traced = trace(&progress, scene).expect("nobody cancels");
    let survey = survey(scene, &traced.room);
    let (pairs, bands) = (judged_pairs(scene, &traced.room), judged_bands(survey.schroeder_hz));
    let goal = Goal { pairs: &pairs, bands: &bands, target, weights };
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let flush = Flush::new(scene, &traced.room);
    let ground = Ground { traced: &traced, index: &index, flush: &flush, goal: &goal };
    let weighed = Weighed::new(&progress, ground, &scene.panels).expect("nobody cancels");
    let faults = faults_of(&traced, &goal, &[&weighed]).swap_remove(0);
    let hanging = from_panels(scene, &traced.room, &scene.panels);
    (faults, judge(&progress, scene, (&traced, None), &hanging, survey).expect("nobody cancels"))
}

fn all(weight: f64) -> Terms<f64> {
    Terms::from_fn(|_| weight)
}

fn close(own: f64, other: f64, what: &str) {
    assert!((own - other).abs() < 1e-9 * other.abs().max(1.0), "{what}: {own} and {other}");
}

/// The worst of the pairs that a scene is judged by.
fn worst(findings: &Findings, of: impl Fn(&Pair) -> f64) -> f64 {
    findings.pairs.iter().filter(|pair| !pair.at_microphone).map(of).fold(f64::NEG_INFINITY, f64::max)
}

#[test]
fn keeps_figures_to_the_findings() {
    let scene = read(BASEMENT);
    let (faults, findings) = scored(&scene, Some((0.2, 0.3)), all(1.0));
    let figures = &faults.figures;
    close(figures.early_excess_db, worst(&findings, |pair| pair.early_excess_db), "excess");
    let energies: Vec<f64> =
        findings.pairs.iter().filter(|pair| !pair.at_microphone).map(|pair| 10.0_f64.powf(0.1 * pair.early_level_db.value)).collect();
    close(figures.early_level_db.value, 10.0 * (energies.iter().sum::<f64>() / energies.len() as f64).log10(), "early level");
    let likeness = &findings.likeness[0];
    close(figures.likeness_db.unwrap().value, likeness.early_difference_db.0[4..].iter().map(|db| db.abs()).sum::<f64>() / 4.0, "likeness");
    for band in Band::ALL {
        let times: Vec<f64> = (findings.pairs.iter().filter(|pair| !pair.at_microphone))
            .filter_map(|pair| pair.octaves[band.index()].t30_s.map(|time| time.value))
            .collect();
        if let Some(time) = figures.t30_s[band].filter(|_| !times.is_empty()) {
            close(time.value, times.iter().sum::<f64>() / times.len() as f64, band.label());
        }
    }
    // Term by term.
    let told = faults.told().map(|term| term.map(|term| term.value));
    let octaves = figures.octave_excess_db.0;
    close(told.reflections.unwrap(), octaves[4..].iter().sum::<f64>() / 4.0, "reflections");
    assert_eq!(octaves[..4], [0.0; 4]);
    close(told.early_level.unwrap(), figures.early_level_db.value + 10.0, "early level over its limit");
    close(told.decay.unwrap(), (figures.t_mid_s.unwrap().value / 0.3).ln() / 1.05_f64.ln(), "decay");
    let over: f64 = likeness.early_difference_db.0[4..].iter().map(|db| (db.abs() - 1.0).max(0.0)).sum();
    close(told.likeness.unwrap(), over / 4.0, "likeness over a decibel");
    close(told.flutter.unwrap(), 10.0 * figures.ringing_share.unwrap(), "flutter");
    assert!(told.speech.is_none() && figures.speech_c50_db.is_none(), "nobody speaks");
    close(faults.together().whole, Term::ALL.into_iter().filter_map(|term| told[term]).sum(), "together");
}

/// A decay under its range is as wrong as one over it; without a range the bare room is what it is held against.
#[test]
fn keeps_both_ends_of_the_range() {
    let scene = read(BASEMENT);
    let decay = |target| {
        let (faults, _) = scored(&scene, target, all(1.0));
        (faults.told().decay.unwrap().value, faults.figures.t_mid_s.unwrap().value)
    };
    let (_, time) = decay(None);
    close(decay(Some((1.2 * time, 2.0 * time))).0, 1.2_f64.ln() / 1.05_f64.ln(), "too dead");
    close(decay(Some((0.5 * time, 2.0 * time))).0, 0.0, "in its range");
    close(decay(None).0, 0.0, "against itself");
}

#[test]
fn keeps_weights() {
    let scene = read(BASEMENT);
    let usual = Terms { likeness: 0.0, decay: 2.0, ..all(1.0) };
    let ((plain, _), (weighted, _)) = (scored(&scene, Some((0.2, 0.3)), all(1.0)), scored(&scene, Some((0.2, 0.3)), usual));
    let (plain, told) = (plain.told(), weighted.told());
    close(told.decay.unwrap().value, 2.0 * plain.decay.unwrap().value, "twice");
    close(told.decay.unwrap().se, 2.0 * plain.decay.unwrap().se, "and its error");
    assert!(told.likeness.is_none() && plain.likeness.is_some());
    close(told.evenness.unwrap().value, plain.evenness.unwrap().value, "once");
    // What the scene says goes before the use.
    let text = format!("{BASEMENT}\n[goals]\ndecay = 3\nspeech = 0.25\ndecay_range = [0.25, 0.35]\n");
    let asked = read(&text).goals;
    assert_eq!(asked.decay_s, Some((0.25, 0.35)));
    assert_eq!(asked.weights(Activity::Mixing), Terms { decay: 3.0, speech: 0.25, ..all(1.0) });
    let lesson = scene.goals.weights(Activity::Lesson);
    assert_eq!((lesson.reflections, lesson.early_level, lesson.likeness, lesson.speech, lesson.decay), (0.0, 0.0, 0.0, 1.0, 1.0));
}

/// C50 of a voice: octaves weighted, as the findings tell them; what is missing of 7 dB counts.
#[test]
fn keeps_speech_to_the_clarity_of_the_findings() {
    let text = BASEMENT.replace("use = \"mixing\"", "use = \"lesson\"").replace("[[loudspeaker]]", "[[voice]]");
    let hard =
        text.replace("directivity = \"piston\"\n", "").lines().filter(|line| !line.starts_with("radius")).collect::<Vec<_>>().join("\n");
    let (faults, findings) = scored(&read(&hard), Some((0.2, 0.3)), all(1.0));
    let clarity = |pair: &Pair| -> f64 {
        [(3, 0.15), (4, 0.25), (5, 0.35), (6, 0.25)].iter().map(|&(band, weight)| weight * pair.octaves[band].c50_db.unwrap().value).sum()
    };
    let least = -worst(&findings, |pair| -clarity(pair));
    close(faults.figures.speech_c50_db.unwrap().value, least, "C50");
    close(faults.told().speech.unwrap().value, (7.0 - least).max(0.0) / 1.1, "what is missing");
}

/// A box of 5 x 4 x 3 m, bare: three pairs of walls that mirror nearly all ring everywhere; so much as is covered does not.
#[test]
fn keeps_ringing_share_to_the_area() {
    let text = "format = 1\nname = \"box\"\nuse = \"mixing\"\n[room]\nsize = [5, 4, 3]\nfloor = \"stone\"\nwall_material = \"stone\"\nceiling_material = \"stone\"\n\
                [[material]]\nname = \"stone\"\nabsorption = [0.01, 0.01, 0.01, 0.01, 0.01, 0.01]\nscattering = 0\n\
                [[loudspeaker]]\nposition = [1, 1, 1.2]\ntoward = \"seat\"\n[[seat]]\near = [2, 2, 1.2]\n";
    let scene = read(text);
    let room = build(&scene, Bodies::Standing);
    close(ringing_share(&room, &Hanging::default(), 0.6), 1.0, "all of it");
    close(ringing_share(&room, &Hanging::default(), 60.0), 0.0, "none rings as long");
    // Half of the south wall lined from floor to ceiling: squares of 0.5 m on a grid of 0.1 m, 46 places along 5 m; those with no panel in them begin in the bare half.
    let lined = format!(
        "{text}[[stock]]\nname = \"half\"\nkind = \"panel\"\nsize = [2.5, 2.98]\nthickness = \"100 mm\"\nflow_resistivity = 12000\ncount = 0\n\
         [[panel]]\ntype = \"half\"\nsurface = \"south\"\nleft = 0.01\nbottom = 0.01\n"
    );
    let lined = read(&lined);
    let hanging = from_panels(&lined, &room, &lined.panels);
    let ringing = ringing_share(&room, &hanging, 0.6);
    // Places of a square on south and north, east and west, floor and ceiling; of the 46 along the south wall 21 lie clear of the panel.
    let (ends, sides, levels) = (46.0 * 26.0, 36.0 * 26.0, 46.0 * 36.0);
    let (clear, all) = (21.0 / 46.0 * ends, ends + sides + levels);
    let ends_of_it = |left: f64| (all - ends + left) / all;
    assert!(
        (ends_of_it(clear)..ends_of_it(1.3 * clear)).contains(&ringing),
        "{ringing}: half of one pair does not, but for the fringe of the panel"
    );
}

/// Where absorber ends ringing, against what a panel hung there ends: first order, so within a factor of two for a panel of usual size. Where the opposite wall is lined, there is nothing to end.
#[test]
fn tells_where_ringing_ends() {
    let stone = "format = 1\nname = \"box\"\nuse = \"mixing\"\n[room]\nsize = [5, 4, 3]\nfloor = \"stone\"\nwall_material = \"stone\"\nceiling_material = \"stone\"\n\
                 [[material]]\nname = \"stone\"\nabsorption = [0.03, 0.03, 0.03, 0.03, 0.03, 0.03]\nscattering = 0\n\
                 [[loudspeaker]]\nposition = [1, 1, 1.2]\ntoward = \"seat\"\n[[seat]]\near = [2, 2, 1.2]\n\
                 [[stock]]\nname = \"board\"\nkind = \"panel\"\nsize = [0.6, 1.2]\nthickness = \"100 mm\"\nflow_resistivity = 12000\ncount = 0\n\
                 [[stock]]\nname = \"wall\"\nkind = \"panel\"\nsize = [4.96, 2.96]\nthickness = \"100 mm\"\nflow_resistivity = 12000\ncount = 0\n";
    let bare = read(stone);
    let room = build(&bare, Bodies::Standing);
    let hanging = |scene: &Scene| Flush::new(scene, &room).alone(&scene.panels);
    let with = |kind: &str, surface: &str, left: f64, bottom: f64| {
        let lying = kind == "wall";
        let text =
            format!("{stone}[[panel]]\ntype = \"{kind}\"\nsurface = \"{surface}\"\nleft = {left}\nbottom = {bottom}\nlying = {lying}\n");
        hanging(&read(&text))
    };
    let longest = 0.6;
    let nothing = Hanging::default();
    let (all, map) =
        (ringing_share(&room, &nothing, longest), Integral::new(&room.patches, &ringing_ended(&room, (&nothing, &nothing), longest)));
    close(all, 1.0, "all of it rings");
    let promised = |map: &Integral, hanging: &Hanging| {
        let patch = &hanging.patches[0];
        let (low, high) = patch.region.bounds();
        map.over(patch.surface, low, high)
    };
    for (surface, left, bottom) in [("south", 2.2, 0.9), ("south", 0.3, 0.1), ("east", 1.7, 1.6), ("north", 3.9, 0.6)] {
        let board = with("board", surface, left, bottom);
        let (ends, promise) = (all - ringing_share(&room, &board, longest), promised(&map, &board));
        assert!(promise > 0.0 && (0.5..2.0).contains(&(ends / promise)), "{surface} {left} {bottom}: {promise} promised, {ends} ended");
        // What hangs there is worth the same as what might: a place is taken as it is without it.
        let with_it = Integral::new(&room.patches, &ringing_ended(&room, (&board, &nothing), longest));
        close(promised(&with_it, &board), promise, "its own place");
    }
    let lined = with("wall", "north", 0.02, 0.02);
    let map = Integral::new(&room.patches, &ringing_ended(&room, (&lined, &nothing), longest));
    let opposite = promised(&map, &with("board", "south", 2.2, 0.9));
    assert!(opposite.abs() < 1e-12, "nothing rings before a lined wall: {opposite}");
}

/// How likeness and clarity fall off with energy, against layouts that differ by a panel.
#[test]
fn tells_slopes_of_likeness_and_clarity() {
    let progress = Progress::new();
    // A seat that is off the middle hears left and right unlike.
    let scene = read(&BASEMENT.replace("ear = [358.8, 195, 120]", "ear = [358.8, 150, 120]"));
    let traced = trace(&progress, &scene).expect("nobody cancels");
    let (pairs, bands) = (judged_pairs(&scene, &traced.room), judged_bands(250.0));
    let goal = Goal { pairs: &pairs, bands: &bands, target: Some((0.2, 0.3)), weights: all(1.0) };
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let flush = Flush::new(&scene, &traced.room);
    let ground = Ground { traced: &traced, index: &index, flush: &flush, goal: &goal };
    let panel = scene::Panel {
        kind: scene.stock.iter().find(|kind| kind.kind == scene::StockKind::Panel).unwrap().name.clone(),
        place: scene::PanelPlace::Surface { surface: "partition".to_owned(), left: 2.4, bottom: 0.7, gap: 0.0, lying: false },
    };
    let layouts = [Vec::new(), vec![panel]];
    let weighed = layouts.each_ref().map(|panels| Weighed::new(&progress, ground, panels).expect("nobody cancels"));
    let early = layouts.each_ref().map(|panels| index.weigh(&progress, &flush.linings(panels)).expect("nobody cancels"));
    let faults = faults_of(&traced, &goal, &weighed.each_ref());
    let lacks = faults.iter().map(|faults| faults.told().likeness.unwrap().value).collect::<Vec<_>>();
    let slopes = likeness_slopes(&traced, &goal, &early[0]);
    assert!(lacks[0] > 0.0 && slopes.len() == 2, "left and right are unlike: {lacks:?}");
    let along = |(pair, slope): &((usize, usize), roomwright::bands::Bands<f64>)| {
        let [before, after] = early.each_ref().map(|early| early.total(pair.0, pair.1));
        Band::ALL.into_iter().map(|band| slope[band] * (after[band] - before[band])).sum::<f64>()
    };
    let (expected, found) = (slopes.iter().map(along).sum::<f64>(), lacks[1] - lacks[0]);
    assert!((expected - found).abs() < 0.25 * found.abs().max(0.05), "{expected} expected, {found} found");

    // A voice in a box of stone lacks clarity, and octaves of it count in all as much as a decibel does; in a booth it lacks none.
    let stone = "format = 1\nname = \"box\"\nuse = \"lesson\"\n[room]\nsize = [5, 4, 3]\nfloor = \"stone\"\nwall_material = \"stone\"\nceiling_material = \"stone\"\n\
                 [[material]]\nname = \"stone\"\nabsorption = [0.03, 0.03, 0.03, 0.03, 0.03, 0.03]\nscattering = 0.2\n\
                 [[voice]]\nposition = [1, 1, 1.2]\ntoward = \"seat\"\n[[seat]]\near = [3, 3, 1.2]\n";
    for (text, lacks) in [(stone, true), (include_str!("cases/rooms/booth.toml"), false)] {
        let speaking = read(text);
        let traced = trace(&progress, &speaking).expect("nobody cancels");
        let pairs = judged_pairs(&speaking, &traced.room);
        let goal = Goal { pairs: &pairs, bands: &bands, target: Some((0.2, 0.3)), weights: all(1.0) };
        let linings = Flush::new(&speaking, &traced.room).linings(&[]);
        let responses = roomwright::plan::decay::responses(&progress, &traced, &linings).expect("nobody cancels");
        let slopes = clarity_slopes(&traced, &goal, responses.as_slice());
        assert_eq!(slopes.is_some(), lacks, "{}", speaking.name);
        if let Some((pair, slopes)) = slopes {
            assert!(pairs.contains(&pair));
            close(slopes.sum(), 1.0 / 1.1, "all octaves");
        }
    }
}

/// What is over the line octave by octave holds what is over it as a whole.
#[test]
fn keeps_the_octaves_of_reflections_apart() {
    let progress = Progress::new();
    let scene = read(BASEMENT);
    let traced = trace(&progress, &scene).expect("nobody cancels");
    let flush = Flush::new(&scene, &traced.room);
    let linings = flush.linings(&scene.panels);
    for source in 0..traced.room.sources.len() {
        let seat = traced.room.receivers.iter().position(|receiver| receiver.zone_radius.is_some()).unwrap();
        let excess = excesses(&traced, &linings, source, seat);
        close(excess.whole_db, roomwright::findings::reflections::early_excess(&traced, &linings, source, seat), "whole");
        // A level of octaves together is no higher than that of the loudest of them, so what is over the line together is no more than the sum of what each is over it.
        assert!(excess.whole_db > 0.0 && excess.whole_db <= 4.0 * excess.mean_db() + 1e-9, "{excess:?}");
    }
}
