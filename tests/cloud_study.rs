//! How high a cloud hangs: zones and shadows against closed forms, parts of the early level by hand, what does not fit, the same bytes on any number of threads, pages.
//!
//! Zones are checked by the length of the way over points of their border, shares by areas that are known: a half plane, a square, the whole.

use expect_test::expect_file;
use roomwright::bands::{Band, Bands};
use roomwright::findings::Estimate;
use roomwright::plan::Figures;
use roomwright::plan::cloud::{Besides, CloudVariant, LeftOut, NOW, Without};
use roomwright::progress::{Cancelled, Progress};
use roomwright::report::{self, cloud, raster, text};
use roomwright::response::widths_together;
use roomwright::room::{Bodies, build};
use roomwright::scene::{self, PanelPlace, Scene, Term, Terms, with_cloud};
use roomwright::study::{self, CannotHang, CloudAsked, CloudError, CloudStudy};
use roomwright::units::{Length, LengthUnit};
use roomwright::weigh::flat_weights;

use super::edit::read;
use super::invented::{figures as invented_figures, scene as scene_in};
use super::schema::check as check_schema;
use super::support::{Folder, even_box, on_threads, run};
use super::text as pages;
use crate::validation::{Check, hold};

/// A box of 5 x 4 x 2.7 m of a material that takes 0.2 and scatters 0.1 at every angle; a source and a microphone, both to all sides, 2 m apart 1.2 m over the floor.
const TEXT: &str = concat!(
    even_box!("voice", "[5, 4, 2.7]", 2000, 1, 0.1),
    r#"[[voice]]
name = "voice"
position = [1.5, 2, 1.2]
directivity = "omni"
[[microphone]]
name = "microphone"
position = [3.5, 2, 1.2]
[[stock]]
name = "cloud"
kind = "cloud"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
count = 2
[[stock]]
name = "wall panel"
kind = "panel"
size = [0.6, 1.2]
thickness = "50 mm"
flow_resistivity = 12000
count = 4
"#
);

/// Few heights, quick.
fn few(heights: u32) -> CloudAsked {
    CloudAsked { heights, ..CloudAsked::default() }
}

fn study_of(text: &str, asked: &CloudAsked) -> Result<CloudStudy, CloudError> {
    study::cloud(&Progress::new(), &read(text), asked)
}

#[track_caller]
fn done(text: &str, asked: &CloudAsked) -> CloudStudy {
    study_of(text, asked).unwrap_or_else(|why| panic!("{why}"))
}

/// What is said where no cloud can be studied.
#[track_caller]
fn refused(text: &str, asked: &CloudAsked) -> String {
    match study_of(text, asked) {
        Err(CloudError::Cannot(why)) => why.to_string(),
        Err(CloudError::Stopped(_)) => panic!("nobody stops it"),
        Ok(study) => panic!("studied at {:?}", study.center_m),
    }
}

/// The only bounce on the ceiling: 2 m by the straight way, `sqrt(4 + 9)` m by the mirror, 0.9 x 0.8 of it kept.
#[test]
fn exact_part_of_the_ceiling() {
    let study = done(TEXT, &few(2));
    let medium = build(&read(TEXT), Bodies::Standing).medium;
    let (direct, way) = (2.0, 13.0_f64.sqrt());
    let arrives = |length: f64| medium.attenuation.map(|attenuation| (-attenuation * length).exp() / (length * length));
    let weights = flat_weights();
    let share = 0.72 * (arrives(way) * weights).sum() / (arrives(direct) * weights).sum();
    let told = study.without.ceiling_db.expect("the ceiling mirrors");
    // Tables of directions and angles are kept in single precision.
    assert!((told - 10.0 * share.log10()).abs() < 1e-4, "{told} for {}", 10.0 * share.log10());
    for band in Band::ALL {
        let expected = 10.0 * (0.72 * arrives(way)[band] / arrives(direct)[band]).log10();
        assert!((study.without.ceiling_by_octave_db[band].expect("it mirrors") - expected).abs() < 1e-4);
    }
    let depth = 20.0 * ((1.0 + share.sqrt()) / (1.0 - share.sqrt())).log10();
    assert!((study.without.comb_depth_db.expect("a comb") - depth).abs() < 1e-3);
    assert_eq!(study.center_m, [2.5, 2.0]);
    // Over the mirror point, its longer side along the way, it stands in both ways of that bounce at every height, and mirrors by its own underside.
    let along = done(&format!("{TEXT}[[panel]]\ntype = \"cloud\"\ncenter = [2.5, 2]\nunderside = 2.3\n"), &few(2));
    assert_eq!(along.without, study.without, "taken down it is the same room");
    assert_eq!(along.heights.len(), 3);
    for one in &along.heights {
        assert_eq!(one.ceiling_db, None, "at {}", one.underside_m);
        let below = one.underside_m - 1.2;
        let own = one.cloud_db.expect("its underside mirrors");
        let hard = 10.0 * (direct * direct / (4.0 + 4.0 * below * below)).log10();
        assert!(own < hard - 3.0, "{own}, were it hard {hard}");
    }
    // Far aside it neither shades nor mirrors.
    let aside = done(TEXT, &CloudAsked { center_m: Some([2.5, 0.5]), ..few(2) });
    for one in &aside.heights {
        assert!((one.ceiling_db.expect("it mirrors") - told).abs() < 1e-9 && one.cloud_db.is_none());
        // Sectors of a polygon outside cancel to the last bit or nearly.
        assert!(one.zone_share.expect("there is a zone")[Band::new(7)] < 1e-12);
    }
}

/// From the headroom to the ceiling, in marks of a tape; touching it the cloud covers its own outline and gains nothing.
#[test]
fn keeps_heights_between_headroom_and_ceiling() {
    let study = done(TEXT, &few(6));
    let heights: Vec<f64> = study.heights.iter().map(|one| one.underside_m).collect();
    let expected = [2.0, 2.13, 2.26, 2.39, 2.52, 2.65];
    assert!(heights.len() == 6 && heights.iter().zip(expected).all(|(height, expected)| (height - expected).abs() < 1e-9), "{heights:?}");
    for one in &study.heights {
        assert!((one.headroom_m - one.underside_m).abs() < 1e-9 && (one.air_above_m - (2.65 - one.underside_m)).abs() < 1e-9);
        assert!(one.rays_per_source == 2000 && one.panels == [1, 1] && one.tilt_deg == [0.0; 2]);
        let sum: f64 = Term::ALL.into_iter().filter_map(|term| one.gains_steps[term]).map(|gain| gain.value).sum();
        assert!((sum - one.score_steps.value).abs() < 1e-9, "the score is the sum of its terms");
        assert!(one.behind_steps.value >= 0.0 && (one.number != study.best || one.behind_steps.value == 0.0));
    }
    let (lowest, touching) = (&study.heights[0], &study.heights[5]);
    for band in Band::ALL {
        assert!(touching.gained_m2[band].abs() < 0.02 * touching.absorption_m2[band], "{} at {}", touching.gained_m2[band], band.label());
        assert!(lowest.gained_m2[band] > 0.0, "both sides take something");
    }
    assert!(touching.zone_share.expect("a zone")[Band::new(7)] > 1.0 - 1e-6);
    let best = study.best().expect("one is the best");
    assert!(study.heights.iter().all(|one| one.score_steps.value <= best.score_steps.value));
    for [low, high] in [study.alike_m, study.half_step_m] {
        assert!(low <= best.underside_m && best.underside_m <= high);
    }
    assert!(study.errors_met || study.rays_per_source == [2000, 2000]);
    // Two in stock: one more along either side; tilts that keep their lowest edge up.
    let of = |what: &str| study.besides.iter().find(|besides| besides.what == what).expect("a group");
    assert_eq!(of("size").variants.iter().map(|one| one.panels).collect::<Vec<_>>(), [[2, 1], [1, 2]]);
    assert!(of("tilt").variants.iter().chain(&of("place").variants).all(|one| one.headroom_m >= 2.0 - 1e-9));
    assert_eq!(of("tilt").variants.len() + of("tilt").left_out.len(), 8);
    assert_eq!(of("place").variants.len() + of("place").left_out.len(), 8);
    // The way from the source to the microphone runs along +x; who faces the source from there has +y to the right.
    let right = of("place").variants.iter().find(|one| one.what == "0.3 m to the right").expect("it fits");
    assert!((right.center_m[1] - 2.3).abs() < 1e-9 && (right.center_m[0] - 2.5).abs() < 1e-9);
}

/// Student's t of any table with 19 degrees of freedom: two-sided 5 %, 1 % and 0.1 %.
pub(crate) fn widths() -> Vec<Check> {
    let row = |(count, t): (usize, f64)| Check {
        what: format!("intervals that hold together in 95 of 100, figures: {count}; half width in standard errors"),
        ours: widths_together(count),
        expected: t,
        tolerance: 0.0005,
        why: "printed digits",
        source: "Student's t, 19 degrees of freedom, two-sided 5 % over so many, any table (from memory)",
    };
    [(1, 2.093), (5, 2.861), (50, 3.883)].map(row).into()
}

#[test]
fn published_widths_of_many_figures_together() {
    hold(&widths());
    assert!((widths_together(1) - Estimate { value: 0.0, se: 1.0 }.half_width_95()).abs() < 1e-6);
    assert_eq!(widths_together(0), widths_together(1));
}

#[test]
fn keeps_what_hangs_already() {
    let hung = "[[panel]]\ntype = \"wall panel\"\nsurface = \"north\"\nleft = 1\nbottom = 1\n[[panel]]\ntype = \"cloud\"\ncenter = [2.3, 2.1]\nunderside = 2.25\npanels = [2, 1]\n";
    let text = format!("{}{hung}", TEXT.replace("count = 2", "count = 0"));
    let study = done(&text, &few(2));
    assert_eq!((study.hung_panel_number, study.center_m, study.panels), (Some(2), [2.3, 2.1], [2, 1]));
    let now = study.heights.iter().find(|one| one.what == NOW).expect("its own height is among them");
    assert!((now.underside_m - 2.25).abs() < 1e-9 && study.heights.len() == 3);
    assert!(study.reasons.iter().any(|reason| reason.starts_with("Where it hangs now, at 2.25 m")), "{:?}", study.reasons);
    let sizes = study.besides.iter().find(|besides| besides.what == "size").expect("a group");
    assert_eq!(sizes.variants.iter().map(|one| one.panels).collect::<Vec<_>>(), [[1, 1], [1, 2]], "its own two are the stock");
    // The written scene has it moved, and the other panel as it was.
    let panel = study.panel().expect("a best height");
    let written = read(&with_cloud(&text, Some(1), &panel).expect("it reads"));
    assert_eq!(written.panels[0], read(&text).panels[0]);
    let PanelPlace::Cloud(cloud) = written.panels[1].place else { panic!("a cloud") };
    assert!((cloud.underside - study.best().expect("one").underside_m).abs() < 1e-9 && cloud.panels == [2, 1]);
    // Of a type that does not hang, one from the stock; that with none is refused though another hangs.
    let other = text.replace("name = \"cloud\"", "name = \"cloud\"\nprice = 3").replace("[[panel]]\ntype = \"wall", "[[stock]]\nname = \"felt cloud\"\nkind = \"cloud\"\nsize = [0.5, 0.5]\nthickness = \"30 mm\"\nflow_resistivity = 9000\n[[panel]]\ntype = \"wall");
    assert_eq!(
        refused(&other, &CloudAsked { kind: Some("felt cloud".into()), ..few(2) }),
        "none of \"felt cloud\" is left in stock: raise its `count`"
    );
}

#[test]
fn keeps_what_cannot_be_hung_to_a_sentence() {
    let of = |name: &str| CloudAsked { kind: Some(name.to_owned()), ..few(2) };
    let bare = TEXT.replace("name = \"cloud\"\nkind = \"cloud\"", "name = \"cloud\"\nkind = \"panel\"");
    let lamp = "[[clearance]]\nname = \"everything\"\nlow = [0, 0, 1.9]\nhigh = [5, 4, 2.7]\n";
    let duct = "[[block]]\nname = \"duct\"\ncenter = [2.5, 2]\nbase = 1.9\nsize = [0.2, 0.2, 0.3]\nmaterial = \"even\"\n";
    for (text, asked, said) in [
        (bare.clone(), few(2), "there is no cloud to hang: the scene needs a [[stock]] with `kind = \"cloud\"`"),
        (TEXT.replace("count = 2", "count = 0"), few(2), "none of \"cloud\" is left in stock: raise its `count`"),
        (TEXT.to_owned(), of("clowd"), "there is no \"clowd\" in stock; did you mean \"cloud\"?"),
        (TEXT.to_owned(), of("sail of linen"), "there is no \"sail of linen\" in stock; clouds are \"cloud\""),
        (TEXT.to_owned(), of("wall panel"), "\"wall panel\" is no cloud; clouds are \"cloud\""),
        (bare, of("cloud"), "\"cloud\" is no cloud, and no cloud either"),
        (
            TEXT.replace("2.7]", "2.03]"),
            few(2),
            "the ceiling is too low: even where it is highest there it is at 2.03 m, and a cloud 0.05 m thick that leaves 2 m of headroom needs 2.05 m",
        ),
        (
            TEXT.replace("2.7]", "2.03]"),
            CloudAsked { center_m: Some([2.5, 2.0]), ..few(2) },
            "the ceiling is too low: over [2.5 m, 2 m] it is at 2.03 m",
        ),
        (
            format!("{TEXT}{lamp}"),
            few(2),
            "\"cloud\" fits nowhere within 3 m of the ceiling's first reflection points: `everything` must stay clear",
        ),
        (
            format!("{TEXT}{lamp}"),
            CloudAsked { center_m: Some([2.5, 2.0]), ..few(3) },
            "at [2.5 m, 2 m] \"cloud\" fits at none of 3 heights from 2 m to 2.65 m: `everything` must stay clear",
        ),
        (
            TEXT.to_owned(),
            CloudAsked { center_m: Some([9.0, 2.0]), ..few(3) },
            "at [9 m, 2 m] \"cloud\" fits at none of 3 heights from 2 m to 2.65 m: it reaches over the edge of `floor`",
        ),
        (
            TEXT.to_owned(),
            CloudAsked { from_m: Some(1.6), to_m: Some(1.8), ..few(2) },
            "fits at none of 2 heights from 1.6 m to 1.8 m: under a clear height of 2.0 m",
        ),
        (TEXT.to_owned(), CloudAsked { from_m: Some(2.4), to_m: Some(2.1), ..few(2) }, "there are no heights from 2.4 m to 2.1 m"),
        (TEXT.to_owned(), CloudAsked { from_m: Some(f64::NAN), ..few(2) }, "there are no heights from"),
        (TEXT.to_owned(), few(0), "0 heights were asked for; 1 to 200 can be"),
    ] {
        let words = refused(&text, &asked);
        assert!(words.contains(said), "{words}\nfor {said}");
    }
    // Single heights that do not fit are left out with their reason: over the duct it hangs, below and beside it does not.
    let study = done(&format!("{TEXT}{duct}"), &CloudAsked { center_m: Some([2.5, 2.0]), ..few(6) });
    let out: Vec<(f64, &str)> = study.left_out.iter().map(|out| (out.underside_m, out.reason.as_str())).collect();
    assert_eq!(out.iter().map(|out| out.1).collect::<Vec<_>>(), ["`duct` is in the way"; 2], "{out:?}");
    assert!(study.heights.len() == 4 && study.heights[0].underside_m >= 2.2 && out.iter().all(|out| out.0 < 2.2));
    assert!(text::cloud(&read(TEXT), &study, text::Extent::Full).contains("2 m, 2.13 m: `duct` is in the way."));
    // The place over the mirror point is taken: it moves aside, and says by how much.
    let lamp = "[[clearance]]\nname = \"lamp\"\nsurface = \"ceiling\"\nleft = 2.4\nbottom = 1.9\nwidth = 0.2\nheight = 0.2\n";
    let study = done(&format!("{TEXT}{lamp}"), &few(1));
    assert!(
        study.centered.ends_with("the nearest place where it fits at enough heights") && study.heights.len() == 1,
        "{}",
        study.centered
    );
    // Whoever stops it is told so.
    let progress = Progress::new();
    progress.cancel();
    assert_eq!(study::cloud(&progress, &read(TEXT), &few(2)), Err(CloudError::Stopped(Cancelled)));
    assert_eq!(CannotHang::NoCloud.to_string().lines().count(), 1);
}

#[test]
fn keeps_parts_of_a_computation_stoppable() {
    let whole = Progress::new();
    whole.begin("the whole", 7);
    let part = whole.part();
    part.begin("a part", 3);
    assert_eq!((part.step(2), whole.state()), (Ok(()), ("the whole", 0, 7)));
    whole.cancel();
    assert_eq!((part.step(1), part.part().step(1)), (Err(Cancelled), Err(Cancelled)));
    let other = Progress::new();
    other.part().cancel();
    assert_eq!(other.step(1), Ok(()), "a part stops itself alone");
}

#[test]
fn keeps_the_study_with_1_and_3_threads() {
    let text = TEXT.replace("rounds = 1", "rounds = 2\nearly_error_db = 0.05");
    let json = |threads: usize| on_threads(threads, || serde_json::to_string(&done(&text, &few(2))).expect("JSON"));
    let one = json(1);
    assert!(one == json(3), "threads show");
    let seeded = text.replace("format = 1", "format = 1\nseed = 2");
    assert_ne!(one, serde_json::to_string(&done(&seeded, &few(2))).expect("JSON"), "the seed has no effect, so this test shows nothing");
    // More rays where the early level is less sure than asked: both rounds.
    assert_eq!(done(&text, &few(1)).rays_per_source[1], 4000);
}

/// A study that was never made.
fn invented() -> CloudStudy {
    let about = |value: f64, se: f64| Estimate { value, se };
    let figures = |early: f64, time: f64| Figures {
        early_level_db: about(early, 0.03),
        early_excess_db: 2.0 * (early + 8.0).max(0.0),
        t30_s: Bands::from_fn(|band| (band.index() > 0).then(|| about(time, 0.004))),
        t_mid_s: Some(about(time, 0.004)),
        outside_percent: Some(about(400.0 * time - 100.0, 2.0)),
        unevenness_percent: Some(about(12.4, 0.4)),
        ..invented_figures(early, time)
    };
    let octaves = |base: f64, step: f64| Bands::from_fn(|band| base + step * band.index() as f64);
    let variant = |number: usize, what: &str, underside: f64, score: f64| CloudVariant {
        number,
        what: what.to_owned(),
        underside_m: underside,
        center_m: [2.4, 3.9],
        turned: false,
        tilt_deg: [0.0; 2],
        panels: [1, 1],
        headroom_m: underside,
        air_above_m: 2.35 - underside,
        figures: figures(-5.7 - 0.2 * score, 0.41 - 0.01 * score),
        ceiling_db: (number != 1).then_some(-12.4 - score),
        ceiling_by_octave_db: octaves(-10.0, -0.5).map(Some),
        cloud_db: Some(-24.0 + score),
        cloud_by_octave_db: octaves(-18.0, -1.5).map(Some),
        comb_depth_db: Some(3.1 - 0.1 * score),
        zone_share: Some(octaves(0.05, 0.11)),
        absorption_m2: octaves(0.1, 0.16),
        gained_m2: octaves(0.06, 0.05 * (2.35 - underside) / 0.35),
        decay_change_percent: Some(about(-4.0 - score, 0.4)),
        gains_steps: Terms {
            early_level: Some(about(0.2 * score, 0.02)),
            reflections: Some(about(0.1 * score, 0.0)),
            decay: Some(about(0.6 * score, 0.1)),
            evenness: Some(about(0.1 * score, 0.1)),
            ..Terms::default()
        },
        score_steps: about(score, 0.12),
        behind_steps: about(2.3 - score, 0.1),
        alike: (2.3 - score).abs() < 0.25,
        rays_per_source: 25_000,
    };
    let out = |what: &str, underside_m: f64, reason: &str| LeftOut { what: what.to_owned(), underside_m, reason: reason.to_owned() };
    let heights = [(2.0, 1.9), (2.1, 2.3), (2.15, 2.2), (2.35, 1.2)].into_iter().enumerate();
    CloudStudy {
        kind: "cloud".to_owned(),
        hung_panel_number: None,
        centered: "over the middle of the ceiling's first reflection points".to_owned(),
        center_m: [2.4, 3.9],
        panels: [1, 1],
        size_m: [1.2, 0.6],
        thickness_m: 0.05,
        asked_decay_s: Some([0.15, 0.25]),
        decay_octaves_hz: [500, 4000],
        schroeder_hz: 217.4,
        without: Without {
            figures: figures(-5.7, 0.41),
            ceiling_db: Some(-10.2),
            ceiling_by_octave_db: octaves(-9.0, -0.3).map(Some),
            comb_depth_db: Some(3.4),
        },
        heights: heights.map(|(index, (height, score))| variant(index + 1, &format!("{height} m"), height, score)).collect(),
        left_out: vec![out("2.2 m", 2.2, "`duct` is in the way"), out("2.25 m", 2.25, "`duct` is in the way")],
        best: 2,
        alike_m: [2.1, 2.15],
        half_step_m: [2.0, 2.15],
        reasons: vec!["Hang its underside 2.1 m over the floor, with 0.25 m of air above: an invented height.".to_owned()],
        besides: vec![
            Besides {
                what: "tilt".to_owned(),
                variants: vec![variant(1, "rises 7.5 degrees along x", 2.1, 2.25)],
                left_out: vec![out("falls 15 degrees along y", 2.1, "under a clear height of 2.0 m somebody would hit it")],
            },
            Besides { what: "size".to_owned(), variants: vec![variant(1, "2 x 1 panels", 2.1, 4.1)], left_out: Vec::new() },
            Besides { what: "place".to_owned(), variants: Vec::new(), left_out: Vec::new() },
        ],
        rays_per_source: [25_000, 50_000],
        errors_met: true,
        notes: vec!["An invented room is no room.".to_owned()],
    }
}

#[test]
fn locked_cloud_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    let page = text::cloud(&scene_in(LengthUnit::Meter), &invented(), text::Extent::Full);
    pages::keeps_its_columns(&page);
    expect_file!["cases/text/cloud.txt"].assert_eq(&page);
    for unit in LengthUnit::ALL {
        pages::keeps_its_columns(&text::cloud(&scene_in(unit), &invented(), text::Extent::Full));
    }
    assert!(page.find("How high, and why") < page.find("Height by height"), "the answer first");
}

/// The reasons are made of the figures: what is told of a study stands in it.
#[test]
fn keeps_reasons_to_the_figures() {
    let study = done(TEXT, &few(3));
    let best = study.best().expect("one");
    let all = study.reasons.join(" ");
    for words in [
        Length(best.underside_m).print(LengthUnit::Meter),
        format!("{:.1}", best.score_steps.value),
        format!("{:.2} m2", best.absorption_m2[Band::new(3)]),
        format!("{:.0} % at 8 kHz", 100.0 * best.zone_share.expect("a zone")[Band::new(7)]),
    ] {
        assert!(all.contains(&words), "{words} in {all}");
    }
    assert!(!all.contains("NaN") && study.reasons.iter().all(|reason| reason.ends_with('.')), "{all}");
}

/// The chart is a drawing in every unit; nothing is written over something else, no name leaves the page.
#[test]
fn keeps_the_chart_of_heights_legible() {
    for unit in LengthUnit::ALL {
        let scene: Scene = scene_in(unit);
        let files = report::cloud_files(&scene, &invented());
        assert_eq!(files.iter().map(|file| file.0.as_str()).collect::<Vec<_>>(), ["cloud.html", "cloud-heights.svg"]);
        let drawn = cloud::svg(&scene, &invented());
        assert_eq!(drawn.as_bytes(), files[1].1);
        raster::lay_out(&drawn).expect("it is a drawing");
        for words in [
            "just-noticed steps",
            "by way of the ceiling",
            "8 kHz",
            "125 Hz, statistical",
            "without the cloud",
            "hatched: does not fit",
            "dB",
            "of air above",
        ] {
            assert!(drawn.contains(words), "{words}");
        }
        let page = String::from_utf8(files[0].1.clone()).expect("UTF-8");
        assert!(page.contains("cloud-heights.svg") && page.contains("cloud.toml") && !page.contains("NaN"));
    }
    // One height alone, and nothing that comes by ceiling or cloud.
    let mut lonely = invented();
    lonely.heights.truncate(2);
    lonely.heights.remove(0);
    lonely.left_out.clear();
    for one in &mut lonely.heights {
        (one.ceiling_db, one.cloud_db, one.zone_share, one.decay_change_percent) = (None, None, None, None);
    }
    let scene = scene_in(LengthUnit::Inch);
    raster::lay_out(&cloud::svg(&scene, &lonely)).expect("it is a drawing");
    assert!(!text::cloud(&scene, &lonely, text::Extent::Full).contains("NaN"));
}

#[test]
fn keeps_real_studies_within_the_schema() {
    check_schema(&done(TEXT, &few(2)));
    check_schema(&invented());
}

#[test]
fn keeps_the_command_to_what_it_says() {
    let folder = Folder::new("cli-cloud");
    folder.put("box.toml", TEXT);
    let ran = run(&folder, &["cloud", "box.toml", "--heights", "2"]);
    assert_eq!(ran.code, Some(0), "{}{}", ran.out, ran.err);
    assert_eq!(folder.names("out/box"), [".cloud.sum", "cloud-heights.svg", "cloud.html", "cloud.json", "cloud.toml"]);
    for name in ["cloud.toml", "cloud.json", "cloud.html", "cloud-heights.svg"] {
        assert!(ran.out.contains(name), "{name} is written and not mentioned:\n{}", ran.out);
    }
    // The cloud hangs in the written scene, one less is in stock, and the line can be walked from it again.
    let (written, _) = scene::read(&folder.text("out/box/cloud.toml")).expect("a scene");
    assert_eq!((written.panels.len(), written.stock[0].count), (1, 1));
    assert_eq!(run(&folder, &["survey", "out/box/cloud.toml"]).code, Some(0));
    let json = run(&folder, &["cloud", "box.toml", "--heights", "2", "--json", "--threads", "1"]);
    let study: CloudStudy = serde_json::from_str(&json.out).expect("JSON alone");
    assert_eq!(folder.text("out/box/cloud.json").trim_end(), json.out.trim_end(), "the file and the output are one text");
    assert!(
        matches!(written.panels[0].place, PanelPlace::Cloud(cloud) if (cloud.underside - study.best().expect("one").underside_m).abs() < 1e-9)
    );
    // In inches: as typed.
    let typed =
        run(&folder, &["cloud", "box.toml", "--center", "8 ft, 6 ft", "--from", "7 ft", "--to", "7 ft 6 in", "--heights", "2", "--json"]);
    let typed: CloudStudy = serde_json::from_str(&typed.out).unwrap_or_else(|_| panic!("{}", typed.err));
    assert!((typed.center_m[0] - 8.0 * 0.3048).abs() < 1e-12 && (typed.heights[1].underside_m - 7.5 * 0.3048).abs() < 1e-12);

    let before = folder.names("out/box");
    folder.put("broken.toml", TEXT.replace("size = [5", "size = [\"five\""));
    for (arguments, code, said) in [
        (&["cloud", "broken.toml"][..], 1, "nothing was written"),
        (&["cloud", "box.toml", "--type", "clowd"], 2, "error: there is no \"clowd\" in stock; did you mean \"cloud\"?"),
        (&["cloud", "box.toml", "--center", "2.5"], 2, "error: --center \"2.5\": expected two lengths with a comma between them"),
        (&["cloud", "box.toml", "--center", "2.5,far"], 2, "error: --center \"far\""),
        (&["cloud", "box.toml", "--from", "low"], 2, "error: --from \"low\""),
        (&["cloud", "box.toml", "--heights", "0"], 2, "0"),
        (&["cloud", "box.toml", "--heights", "many"], 2, "many"),
        (&["cloud"], 2, "Usage"),
    ] {
        let ran = run(&folder, arguments);
        assert_eq!((ran.code, ran.out.as_str()), (Some(code), ""), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
    assert_eq!(folder.names("out/box"), before);
    assert!(run(&folder, &["cloud", "--help"]).out.contains("--center"));
}
