//! The answers of `absorbers`: what is listed and found, build-ups as typed, figures of samples, what is compared, its page and its chart.

use std::slice::from_ref;

use roomwright::absorbers::resistivity::Fiber;
use roomwright::absorbers::sized::sample::Sample as Measured;
use roomwright::absorbers::{BuildUp, Finish, Layer, impedance, table};
use roomwright::bands::{Band, Bands};
use roomwright::report::{self, svg::Lettering};
use roomwright::room::panel_finish;
use roomwright::scene::{self, Core, Editor, Facing, Scene, StockKind};
use roomwright::study::absorbers::{
    Absorbers, Asked, Choice, LayerKind, Mistake, Same, Sample, SampleKind, absorbers, panel_type, typed_name, unit,
};
use roomwright::units::LengthUnit;

use crate::report::collisions;

const BASEMENT: &str = include_str!("../scenes/basement-mix-room.toml");

fn basement() -> Scene {
    scene::read(BASEMENT).expect("a shipped scene reads").0
}

fn texts(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|&text| text.to_owned()).collect()
}

#[track_caller]
fn compared(panels: &[&str]) -> Absorbers {
    answered(&[], panels, None, None)
}

#[track_caller]
fn answered(rows: &[&str], panels: &[&str], budget: Option<f64>, scene: Option<&Scene>) -> Absorbers {
    let (rows, panels) = (texts(rows), texts(panels));
    absorbers(&Asked { words: "", rows: &rows, panels: &panels, budget }, scene)
        .unwrap_or_else(|mistakes| panic!("{}", rendered(&mistakes)))
}

fn rendered(mistakes: &[Mistake]) -> String {
    mistakes.iter().map(Mistake::render).collect()
}

#[track_caller]
fn only(panel: &str) -> Sample {
    compared(&[panel]).samples.remove(0)
}

fn mistakes(panels: &[&str]) -> Vec<Mistake> {
    absorbers(&Asked { panels: &texts(panels), ..Asked::default() }, None).err().unwrap_or_default()
}

#[test]
fn keeps_the_whole_table_in_its_list() {
    let answer = absorbers(&Asked::default(), None).expect("nothing can be wrong");
    assert_eq!((answer.listed.len(), answer.samples.len(), answer.search), (table::rows().len(), 0, None));
    for row in table::rows() {
        let listed = answer.listed.iter().find(|listed| listed.name == row.name).unwrap_or_else(|| panic!("{} is not listed", row.name));
        assert_eq!((listed.absorption, listed.status.as_str()), (row.published, row.status.label()));
    }
    // Categories stand together, each once.
    let mut categories: Vec<&str> = answer.listed.iter().map(|listed| listed.category.as_str()).collect();
    categories.dedup();
    assert_eq!(categories.len(), table::Category::ALL.len());
}

#[test]
fn keeps_a_search_honest() {
    let search = |words: &str| absorbers(&Asked { words, ..Asked::default() }, None).expect("nothing can be wrong");
    let found = search("rockwol 50");
    assert!(!found.listed.is_empty() && found.listed.iter().all(|row| row.name.starts_with("Rock wool 50 mm")) && found.notes.is_empty());
    let lost = search("xylophone");
    assert!(lost.listed.len() < 5 && lost.notes[0].contains("No row is called \"xylophone\""), "{:?}", lost.notes);
}

#[test]
fn published_values_of_layers_stand_in_octaves_and_curves() {
    // Miki (1990), computed independently, normal incidence and diffuse field at 1 kHz: 10,000 Pa s/m2, 50 mm, gap 50 mm; and 20,000 Pa s/m2, 100 mm.
    for (text, normal, diffuse) in [("50 mm, 10000, gap 50 mm", 0.9657, 0.9030), ("10 cm, 20 kPa s/m2", 0.8802, 0.9138)] {
        let sample = only(text);
        let curve = sample.curve.as_ref().expect("layers have a curve");
        let at = curve.frequency_hz.iter().position(|frequency| (frequency - 1000.0).abs() < 1e-9).expect("1 kHz is one of them");
        assert!((curve.absorption_normal[at] - normal).abs() < 1e-4, "{text}: {}", curve.absorption_normal[at]);
        assert!((curve.absorption_diffuse[at] - diffuse).abs() < 1e-4, "{text}: {}", curve.absorption_diffuse[at]);
        assert!(curve.frequency_hz[0] <= 50.2 && *curve.frequency_hz.last().expect("not empty") >= 9_999.0);
        // An octave is the mean of its curve: by another rule, the trapezoids over the curve's steps, which meet the edges of the octaves that lie on it whole.
        for band in &Band::ALL[1..7] {
            let inside = |frequency: f64| (band.lower() * 0.9999..=band.upper() * 1.0001).contains(&frequency);
            let steps: Vec<usize> = (0..curve.frequency_hz.len()).filter(|index| inside(curve.frequency_hz[*index])).collect();
            assert_eq!(steps.len(), 25);
            for (values, octave) in [(&curve.absorption_normal, sample.absorption_normal), (&curve.absorption_diffuse, sample.absorption)] {
                let mean = steps.windows(2).map(|two| 0.5 * (values[two[0]] + values[two[1]])).sum::<f64>() / 24.0;
                assert!((mean - octave[*band]).abs() < 0.002, "{text}, {}: {mean} is not {}", band.label(), octave[*band]);
            }
        }
    }
}

#[test]
fn exact_build_up_however_it_is_written() {
    let wanted = |layers: &[Layer]| BuildUp::new(layers);
    let gap = Layer::Air { thickness: 0.05 };
    for (text, build_up) in [
        ("50 mm, 12000, gap 50 mm", BuildUp::panel(12_000.0, 0.05, 0.05)),
        ("  5 cm ,12 kPa s/m2,  GAP 0.05 m", BuildUp::panel(12_000.0, 0.05, 0.05)),
        ("2 in, 12000 Pa\u{b7}s/m\u{b2}", wanted(&[Layer::fiber(12_000.0, 0.0508)])),
        ("1/2 in, 8000, 1 1/2\", 20000", wanted(&[Layer::fiber(8_000.0, 0.0127), Layer::fiber(20_000.0, 0.0381)])),
        ("thin: 50 mm, 12000", wanted(&[Layer::fiber(12_000.0, 0.05)])),
        (
            "cloth 200 Pa s/m, 50 mm, 12000",
            wanted(&[Layer::Cloth { resistance: 200.0, mass: f64::INFINITY }, Layer::fiber(12_000.0, 0.05)]),
        ),
        ("cloth 200 Pa s/m 0.3 kg/m2, gap 50 mm", wanted(&[Layer::Cloth { resistance: 200.0, mass: 0.3 }, gap])),
        ("membrane 2.5 kg/m2, gap 50 mm", wanted(&[Layer::Membrane { mass: 2.5, resistance: 0.0 }, gap])),
        (
            "perforated 3 mm with 20 % of 5 mm holes, gap 50 mm",
            wanted(&[Layer::Perforated { hole: 0.005, open: 0.2, thickness: 0.003 }, gap]),
        ),
        ("slotted 16 mm with 15 % of 6 mm, gap 50 mm", wanted(&[Layer::Slotted { slot: 0.006, open: 0.15, thickness: 0.016 }, gap])),
        ("50 mm, 12000, suspended", wanted(&[Layer::fiber(12_000.0, 0.05)]).suspended()),
        ("50 mm, 12000, gap 50 mm, cells", BuildUp::panel(12_000.0, 0.05, 0.05).in_cells()),
    ] {
        let sample = only(text);
        let finish = Finish::of("", &build_up, Bands::splat(0.1));
        // What hangs free counts with both sides, alike here.
        let sides = if sample.suspended { 2.0 } else { 1.0 };
        assert!(Band::ALL.iter().all(|&band| (sample.absorption[band] - sides * finish.absorption[band]).abs() < 1e-9), "{text}");
        assert_eq!(sample.kind, SampleKind::Layers);
        assert!((sample.depth_m.expect("layers have a depth") - build_up.depth()).abs() < 1e-12, "{text}");
        assert_eq!(
            (sample.suspended, sample.cells),
            (build_up.backing == roomwright::absorbers::Backing::FreeAir, build_up.cells),
            "{text}"
        );
    }
    // What is told of the layers is what was typed.
    let told = only("slotted 16 mm with 15 % of 6 mm slots, 50 mm, 12000, gap 50 mm").layers;
    assert_eq!(told.iter().map(|layer| layer.what).collect::<Vec<_>>(), [LayerKind::Slotted, LayerKind::Fiber, LayerKind::Air]);
    assert!((told[0].open_percent.expect("slots") - 15.0).abs() < 1e-9 && told[1].flow_resistivity_pa_s_per_m2 == Some(12_000.0));
    // The name is what stands before the colon, or what it is made of, without its price.
    assert_eq!(only("thin: 50 mm, 12000, price 60 per m2").name, "thin");
    assert_eq!(only("50  mm,12000, size 60 x 120 cm, gap 50 mm, price 45").name, "50 mm, 12000, gap 50 mm");
}

#[test]
fn keeps_the_doubt_of_a_density_in_the_range() {
    let estimate = Fiber::Mineral.resistivity(45.0, None).expect("a plausible density");
    let (by_density, by_value) = (only("50 mm, 45 kg/m3 mineral"), only(&format!("50 mm, {}", estimate.likely)));
    assert_eq!(by_density.absorption, by_value.absorption);
    for band in Band::ALL {
        let (wide, narrow) = (by_density.absorption_range[band], by_value.absorption_range[band]);
        assert!(wide.low <= narrow.low + 1e-12 && wide.high >= narrow.high - 1e-12, "{}: {wide:?}, {narrow:?}", band.label());
        for end in [estimate.low, estimate.high] {
            let value = BuildUp::panel(end, 0.05, 0.0).octaves(roomwright::absorbers::Incidence::Diffuse)[band];
            assert!((wide.low - 1e-12..=wide.high + 1e-12).contains(&value), "{}: {value} is not in {wide:?}", band.label());
        }
    }
    assert!(
        by_density.absorption_range[Band::new(2)].low < by_value.absorption_range[Band::new(2)].low - 0.01,
        "the doubt is more than nothing"
    );
}

#[test]
fn keeps_every_mistake_in_view() {
    // Text, and for each mistake its id and what the carets stand under.
    for (text, expected) in [
        ("", &[("key-missing", "")][..]),
        ("50, 12000", &[("out-of-range", "50"), ("key-missing", "12000")]),
        ("50 mm", &[("key-missing", "50 mm")]),
        ("50 mm, gap 50 mm", &[("key-missing", "50 mm")]),
        ("gap 50 mm", &[("key-missing", "gap 50 mm")]),
        ("50 mm, 12,000", &[("out-of-range", "12"), ("out-of-range", "000")]),
        ("-50 mm, 12000", &[("out-of-range", "-50 mm"), ("key-missing", "12000")]),
        ("50 mm, 12e9", &[("key-missing", "50 mm"), ("not-a-length", "12e9")]),
        ("50 mm, 9000000, gap 9 m", &[("out-of-range", "9000000"), ("out-of-range", "9 m")]),
        ("50 mm, 12000, gap 5", &[("not-a-length", "5")]),
        ("50 mm, 12000, gop 50 mm", &[("unknown-word", "gop")]),
        ("50 mm, 12000, price much, size 60 cm", &[("wrong-type", "much"), ("wrong-count", "60 cm")]),
        ("50 mm, 12000, price 45", &[("key-missing", "50 mm, 12000, price 45")]),
        ("50 mm, 12000, price 0 per m2", &[("out-of-range", "0 per m2")]),
        ("50 mm, 12000, price 45 per foot", &[("unknown-word", "per foot")]),
        ("50 mm, 45 kg/m3", &[("unknown-word", "45 kg/m3")]),
        ("50 mm, 4500 kg/m3 mineral", &[("out-of-range", "4500 kg/m3 mineral")]),
        ("perforated 3 mm with 130 % of 5 mm holes, gap 50 mm", &[("out-of-range", "130 %")]),
        ("perforated 3 mm with 20 of 5 holes, gap 50 mm", &[("wrong-type", "20"), ("not-a-length", "5")]),
        ("perforated 20 %, gap 50 mm", &[("wrong-type", "20 %")]),
        ("membrane 2.5, cloth thick, gap 50 mm", &[("wrong-type", "2.5"), ("wrong-type", "thick")]),
        ("50 mm, 12000,, gap 50 mm", &[("key-missing", "")]),
        ("50 mm, 12000, suspended high", &[("unknown-word", "high")]),
        ("50 \u{65e5} mm, 12000", &[("not-a-length", "50 \u{65e5} mm"), ("key-missing", "12000")]),
    ] {
        let found = mistakes(&[text]);
        let seen: Vec<(&str, &str)> = found.iter().map(|one| (one.diagnostic.id, &text[one.diagnostic.span.clone()])).collect();
        assert_eq!(seen, expected, "{text}:\n{}", rendered(&found));
        assert!(found.iter().all(|one| one.diagnostic.hint.as_ref().is_some_and(|hint| !hint.is_empty())), "{text}: each with a hint");
    }
    // Of all texts at once, each under its place.
    let rows = texts(&["Rock wol 50 mm"]);
    let panels = texts(&["50, 12000", "50 mm, 12000", "50 mm"]);
    let found = absorbers(&Asked { words: "", rows: &rows, panels: &panels, budget: None }, None).expect_err("three texts are wrong");
    let places: Vec<&str> = found.iter().map(|one| one.place.as_str()).collect();
    assert_eq!(places, ["row 1", "panel 1", "panel 1", "panel 3"]);
    assert!(found[0].render().contains("Rock wool 50 mm"), "the nearest are named: {}", found[0].render());
    assert!(found[1].render().contains("--> panel 1:1:1"), "{}", found[1].render());
    // A budget needs a price and must be money.
    for (panel, budget) in [("50 mm, 12000", 100.0), ("50 mm, 12000, price 60 per m2", -1.0), ("50 mm, 12000, price 60 per m2", f64::NAN)] {
        let panels = texts(&[panel]);
        let found = absorbers(&Asked { panels: &panels, budget: Some(budget), ..Asked::default() }, None).expect_err("it buys nothing");
        assert_eq!(found[0].place, "budget");
    }
}

#[test]
fn exact_figures_of_a_row() {
    let name = "Rigid glass-fiber board 48 kg/m3 100 mm, A mount";
    let row = table::find(name).expect("in the table");
    let sample = answered(&[" rigid glass-fiber BOARD 48 kg/m3 100 mm, A mount"], &[], None, None).samples.remove(0);
    assert_eq!((sample.name.as_str(), sample.source.as_deref(), sample.status.as_deref()), (name, Some(row.source), Some("from memory")));
    assert_eq!(sample.absorption, row.absorption().0);
    assert_eq!(sample.extrapolated.0, [true, false, false, false, false, false, false, true]);
    // As published it passes 1, and its range with it; rooms get the endless surface of which a sample absorbs so much.
    let quarter = Band::new(2);
    let turned_back = Measured::usual().material(row.absorption().0);
    assert!((sample.absorption[quarter] - 1.24).abs() < 1e-12 && sample.absorption_used == turned_back.map(|found| found.absorption));
    assert!(sample.absorption_used.0.iter().zip(sample.absorption.0).all(|(&used, published)| used < published && used <= 0.99));
    assert!((sample.absorption_range[quarter].low - 1.14).abs() < 1e-12 && (sample.absorption_range[quarter].high - 1.34).abs() < 1e-12);
    // The law over the angle: the impedance has the value in a diffuse field, and absorbs 4 z / (1 + z)^2 straight on.
    for band in Band::ALL.into_iter().filter(|band| sample.absorption_used[*band] < impedance::GREATEST_ABSORPTION) {
        let z = sample.impedance.expect("a material")[band].expect("it absorbs");
        assert!((impedance::random_incidence_absorption(z) - sample.absorption_used[band]).abs() < 1e-9);
        assert!((sample.absorption_normal[band] - 4.0 * z / ((1.0 + z) * (1.0 + z))).abs() < 1e-12);
    }
    let shares = sample.deep_share.expect("a material");
    for (share, used) in shares.0.into_iter().zip(sample.absorption_used.0) {
        assert!((share - ((used - 0.951_22) / (1.0 - 0.951_22)).max(0.0)).abs() < 1e-9, "{share} of {used}");
    }
    // What the finish does at its last bin of cosines is the same law, averaged over it.
    let finish = row.finish();
    for band in Band::ALL {
        let kept = f64::from(finish.specular[63][band]) + f64::from(finish.diffuse[63][band]);
        assert!((1.0 - kept - sample.absorption_normal[band]).abs() < 0.005, "{}", band.label());
    }
}

#[test]
fn keeps_a_row_beside_its_model() {
    let answer = answered(&["Rock wool 50 mm, 40 kg/m3"], &["50 mm, 12000", "100 mm, 12000"], None, None);
    assert_eq!(answer.against.iter().map(|pair| (pair.row, pair.layers)).collect::<Vec<_>>(), [(1, 2), (1, 3)]);
    for pair in &answer.against {
        let (row, layers) = (&answer.samples[pair.row - 1], &answer.samples[pair.layers - 1]);
        for band in Band::ALL {
            assert!((pair.difference[band] - (row.absorption[band] - layers.absorption[band])).abs() < 1e-15);
            let (one, other) = (row.absorption_range[band], layers.absorption_range[band]);
            assert_eq!(pair.apart[band], one.low > other.high || other.low > one.high);
        }
    }
}

#[test]
fn exact_comparison_at_the_same_price_depth_and_thickness() {
    // 60 x 120 cm are 0.72 m2: 50 mm for 55 each, 100 mm for 110 each.
    let panels = [
        "thin: 50 mm, 12000, size 60 x 120 cm, price 55",
        "gap: 50 mm, 12000, gap 50 mm, size 60 x 120 cm, price 55",
        "thick: 100 mm, 12000, size 60 x 120 cm, price 110",
    ];
    let answer = answered(&[], &panels, Some(660.0), None);
    let [thin, gap, thick] = &answer.samples[..] else { panic!("three samples") };
    assert!((thin.price_per_m2.expect("it has a price") - 55.0 / 0.72).abs() < 1e-9);
    let groups: Vec<(Same, Option<f64>, Vec<usize>)> = answer
        .groups
        .iter()
        .map(|group| {
            (group.same, group.size_m.map(|size| (1e6 * size).round() / 1e6), group.members.iter().map(|member| member.number).collect())
        })
        .collect();
    assert_eq!(
        groups,
        [(Same::Price, None, vec![1, 2, 3]), (Same::Depth, Some(0.1), vec![2, 3]), (Same::Thickness, Some(0.05), vec![1, 2])]
    );
    for group in &answer.groups {
        for (band, ahead) in group.ahead.iter() {
            let mut values: Vec<(f64, usize)> = group.members.iter().map(|member| (member.absorbed_m2[band], member.number)).collect();
            values.sort_by(|one, other| other.0.total_cmp(&one.0));
            assert_eq!(*ahead, (values[0].0 >= 1.1 * values[1].0).then_some(values[0].1), "{:?}, {}", group.same, band.label());
        }
    }
    let per_hundred = &answer.groups[0].members[2];
    assert!((per_hundred.absorbed_m2[Band::new(3)] - thick.absorption[Band::new(3)] * 100.0 * 0.72 / 110.0).abs() < 1e-9);
    // Twelve thin ones cost as much as six thick ones.
    for (sample, count) in [(thin, 12), (gap, 12), (thick, 6)] {
        let bought = sample.bought.expect("it has a price");
        assert_eq!(bought.panels, Some(count));
        assert!((bought.price - 660.0).abs() < 1e-9 && (bought.area_m2 - 0.72 * f64::from(count)).abs() < 1e-9);
        assert!((bought.absorption_m2[Band::new(4)] - bought.area_m2 * sample.absorption[Band::new(4)]).abs() < 1e-9);
    }
    // Of a price per square meter as much as it pays for; of too small a budget none.
    let by_area = answered(&[], &["50 mm, 12000, price 66 per m2"], Some(660.0), None).samples.remove(0).bought.expect("it has a price");
    assert!(by_area.panels.is_none() && (by_area.area_m2 - 10.0).abs() < 1e-9);
    let none = answered(&[], &panels[..1], Some(54.0), None).samples.remove(0).bought.expect("it has a price");
    assert_eq!((none.panels, none.absorption_m2), (Some(0), Bands::splat(0.0)));
    // 2 in and 50 mm count as the same.
    assert_eq!(compared(&["2 in, 12000", "50 mm, 20000"]).groups.len(), 2);
    assert!(compared(&["40 mm, 12000", "50 mm, 20000"]).groups.is_empty());
}

#[test]
fn exact_stock_of_a_scene() {
    let scene = basement();
    let answer = answered(&[], &["50 mm, 12000"], Some(660.0), Some(&scene));
    assert_eq!(answer.samples.len(), scene.stock.len() + 1);
    for (kind, sample) in scene.stock.iter().zip(&answer.samples) {
        assert_eq!(sample.name, kind.name);
        let finish = panel_finish(&scene, kind, kind.gap);
        if kind.kind == StockKind::Cloud {
            // Both sides in free air count.
            assert!(sample.suspended && sample.absorption_used[Band::new(4)] > 1.3 * finish.absorption[Band::new(4)], "{}", kind.name);
        } else {
            assert_eq!(sample.absorption_used, finish.absorption, "{}", kind.name);
        }
        assert_eq!(sample.scattering, finish.scattering, "{}", kind.name);
        assert!(
            (sample.price_per_m2.expect("all have a price") - kind.price.expect("so in the scene") / (kind.size.x * kind.size.y)).abs()
                < 1e-9
        );
        assert_eq!(sample.curve.is_some(), finish.build_up.is_some());
        assert_eq!(sample.source.is_some(), finish.build_up.is_none(), "{}", kind.name);
    }
    assert!(answer.against.is_empty(), "a rug is no model of a panel");
    assert!(answer.notes.iter().any(|note| note.contains("Corner panels, clouds")));
    assert_eq!(unit(&Asked::default(), Some(&scene)), scene.unit);
    assert_eq!(unit(&Asked { panels: &texts(&["2 in, 12000"]), ..Asked::default() }, None), LengthUnit::Inch);
    // A material of the scene has the source that the scene gives.
    let material = "[[material]]\nname = \"my rug\"\nabsorption = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6]\nsource = \"my own tube\"\n\n[[stock]]\nname = \"rug\"";
    let own = BASEMENT
        .replace("[[stock]]\nname = \"rug\"", material)
        .replace("material = \"9 mm tufted pile carpet on felt underlay\"", "material = \"my rug\"");
    let own = scene::read(&own).expect("it reads").0;
    let rug = answered(&[], &[], None, Some(&own)).samples.pop().expect("the rug is the last");
    assert_eq!((rug.name.as_str(), rug.source.as_deref(), rug.status.as_deref()), ("rug", Some("my own tube"), None));
    assert_eq!(rug.absorption.0[1..7], [0.1, 0.2, 0.3, 0.4, 0.5, 0.6]);
}

/// Answers of every kind.
fn all_answers() -> Vec<(Absorbers, LengthUnit)> {
    let long = "a long name that somebody gave to a panel because there are many of them in the shed and they all look alike: 2 in, 12000, gap 4 in";
    let panels = [
        "50 mm, 12000",
        "50 mm, 12000, gap 50 mm",
        "100 mm, 12000",
        "100 mm, 12000, gap 100 mm",
        "cloth 1000 Pa s/m 0.2 kg/m2, gap 100 mm",
        "membrane 2.5 kg/m2, gap 50 mm, 50 mm, 12000",
        "perforated 3 mm with 5 % of 5 mm holes, 50 mm, 45 kg/m3 mineral",
        long,
    ];
    let row = "Rigid glass-fiber board 48 kg/m3 100 mm, A mount";
    vec![
        (compared(&panels[..1]), LengthUnit::Millimeter),
        (compared(&panels[..4]), LengthUnit::Inch),
        (answered(&[row, "Velvet curtain, tight"], &panels, None, None), LengthUnit::Foot),
        (answered(&[row], &[], None, None), LengthUnit::Meter),
        (answered(&[], &[], Some(660.0), Some(&basement())), LengthUnit::Centimeter),
        (absorbers(&Asked::default(), None).expect("nothing can be wrong"), LengthUnit::Meter),
        (absorbers(&Asked { words: "xylophone", ..Asked::default() }, None).expect("nothing can be wrong"), LengthUnit::Meter),
    ]
}

#[test]
fn keeps_its_pages_within_a_hundred_columns() {
    for (answer, unit) in all_answers() {
        let page = report::text::absorbers(&answer, unit);
        for line in page.lines() {
            assert!(line.chars().count() <= 100 && !line.ends_with(' '), "`{line}`");
        }
        assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
        for sample in &answer.samples {
            assert!(page.contains(sample.name.split(' ').next().unwrap_or_default()), "{} is missing:\n{page}", sample.name);
        }
        for note in &answer.notes {
            assert!(page.contains(note.split(' ').next().unwrap_or_default()));
        }
    }
}

#[test]
fn keeps_its_charts_legible() {
    for (index, (answer, unit)) in all_answers().into_iter().enumerate().filter(|(_, (answer, _))| !answer.samples.is_empty()) {
        let svg = report::absorption::svg(&answer, unit);
        let found = collisions(&format!("chart {index}"), &svg);
        assert!(found.is_empty(), "{}", found.join("\n"));
        assert_eq!(svg, report::absorption::svg(&answer, unit));
        for text in ["in a diffuse field", "at normal incidence", "absorption coefficient", ">63<", ">8000<", ">Hz<"] {
            assert!(svg.contains(text), "chart {index} lacks {text}");
        }
        // Every sample is told by its number on its line in both frames and in the list.
        for sample in &answer.samples {
            let told = svg.matches(&format!(">{}</text>", sample.number)).count();
            assert!(told >= 2, "chart {index} tells {} {told} times", sample.name);
        }
        let whiskers = answer.samples.len() * 8;
        assert!(svg.matches("stroke-width=\"0.22\"").count() == 3 * whiskers, "a whisker with two ends for every octave of every sample");
    }
    let letters = Lettering::new(2.4, report::paper::INK);
    assert!(letters.length("8000") < 17.0, "octaves stand apart");
}

#[test]
fn keeps_the_same_answer_for_one_text_and_many() {
    // What stands beside a sample changes nothing in it but its number.
    let alone = only("100 mm, 12000");
    let mut among = compared(&["50 mm, 12000", "100 mm, 12000"]).samples.pop().expect("two samples");
    among.number = 1;
    assert_eq!(alone, among);
    let text = "100 mm, 12000".to_owned();
    assert_eq!(absorbers(&Asked { panels: from_ref(&text), ..Asked::default() }, None).expect("it reads").samples, [alone]);
}

#[test]
fn keeps_one_thing_picked_the_same_as_among_others() {
    let scene = basement();
    let (rows, panels) = (["Rough concrete", "Heavy carpet on concrete"], ["thin: 50 mm, 12000", "50 mm, 45 kg/m3 mineral, gap 50 mm"]);
    let all = answered(&rows, &panels, None, Some(&scene)).samples;
    let stock = scene.stock.iter().map(|kind| Choice::Stock(kind.name.clone()));
    let choices: Vec<Choice> = rows
        .map(|row| Choice::Material(row.to_owned()))
        .into_iter()
        .chain(stock)
        .chain(panels.map(|panel| Choice::Typed(panel.to_owned())))
        .collect();
    assert_eq!(choices.len(), all.len());
    for (choice, sample) in choices.iter().zip(&all) {
        assert_eq!(choice.sample(sample.number, Some(&scene)).expect("it is there"), *sample, "{choice:?}");
    }
    assert_eq!(typed_name("thin: 50 mm, 12000").expect("it reads"), "thin");
    for (choice, said) in [
        (Choice::Material("Rough concret".to_owned()), "no row of the table"),
        (Choice::Stock("Rough concrete".to_owned()), "no type of panel in stock"),
        (Choice::Typed("50 mm, 12000, gap".to_owned()), "as a gap has no unit"),
    ] {
        let found = choice.sample(1, Some(&scene)).expect_err("it is not there");
        assert!(rendered(&found).contains(said), "{}", rendered(&found));
    }
}

#[test]
fn keeps_a_material_of_the_scene_by_its_own_law() {
    let own = |angle: &str| {
        let material = format!(
            "[[material]]\nname = \"my board\"\nabsorption = [0.1, 0.2, 0.3, 0.4, 0.5, 1.1]\nscattering = 0.2\nangle = \"{angle}\"\n\n"
        );
        let scene = scene::read(&(BASEMENT.to_owned() + "\n" + &material)).expect("it reads").0;
        Choice::Material("my board".to_owned()).sample(3, Some(&scene)).expect("the scene has it")
    };
    let [local, uniform] = [own("local"), own("uniform")];
    let turned_back = Measured::usual().material(local.absorption).map(|found| found.absorption);
    for (sample, used) in [(&local, turned_back), (&uniform, uniform.absorption.map(|value| value.min(1.0)))] {
        // The octaves from 125 Hz to 4 kHz are given; what is above is filled, and nothing absorbs more than the law of it can: 1.1 holds edges, or is too much.
        assert_eq!((sample.number, sample.absorption.0[6], sample.absorption_used, sample.scattering.0[3]), (3, 1.1, used, 0.2));
        assert_eq!((sample.extrapolated.0[0], sample.extrapolated.0[1], sample.extrapolated.0[7]), (true, false, true));
    }
    assert_eq!((uniform.absorption_normal, uniform.impedance), (uniform.absorption_used, None), "alike at every angle");
    assert!((local.absorption_normal.0[3] - impedance::law(turned_back.0[3], 1.0)).abs() < 1e-12 && local.impedance.is_some());
}

/// A type of panel made of what is typed absorbs what was shown of it.
#[test]
fn keeps_what_is_typed_the_same_in_stock() {
    let sized = |text: &str| format!("{text}, size 120 x 60 cm, price 45");
    for (text, gap, thickness, facing) in [
        ("50 mm, 12000, gap 50 mm", 0.05, 0.05, false),
        ("100 mm, 9000", 0.0, 0.1, false),
        ("50 mm, 45 kg/m3 mineral, gap 2 in", 0.0508, 0.05, false),
        ("25 mm, 20000, 25 mm, 8000, gap 20 mm, gap 30 mm", 0.05, 0.05, false),
        ("cloth 200 Pa s/m 0.3 kg/m2, 50 mm, 12000, gap 50 mm", 0.05, 0.05, true),
        ("slotted 16 mm with 15 % of 6 mm slots, 50 mm, 12000, gap 30 mm", 0.03, 0.066, true),
        ("perforated 3 mm with 20 % of 5 mm holes, gap 10 mm, 40 mm, 12000", 0.0, 0.053, true),
        // Nothing but a membrane without its air: a box.
        ("membrane 2.5 kg/m2, gap 50 mm", 0.0, 0.05, true),
    ] {
        let text = sized(text);
        let kind = panel_type(&text, "new one").unwrap_or_else(|mistakes| panic!("{}", rendered(&mistakes)));
        assert!((kind.gap - gap).abs() < 1e-12 && (kind.thickness - thickness).abs() < 1e-12, "{text}: {kind:?}");
        assert_eq!((kind.facing.is_some(), kind.kind, kind.count, kind.price), (facing, StockKind::Panel, 1, Some(45.0)), "{text}");
        assert_eq!((kind.size.x, kind.size.y), (0.6, 1.2));
        let mut editor = Editor::new(BASEMENT).expect("a shipped scene reads");
        editor.add_stock(&kind);
        let scene = editor.finish().unwrap_or_else(|refused| panic!("{text}: {refused}")).scene;
        let stock = Choice::Stock("new one".to_owned()).sample(1, Some(&scene)).expect("it is in stock");
        let typed = Choice::Typed(text.clone()).sample(1, None).expect("it reads");
        for band in Band::ALL {
            assert!((stock.absorption[band] - typed.absorption[band]).abs() < 1e-9, "{text} at {band:?}");
            assert!((stock.absorption_normal[band] - typed.absorption_normal[band]).abs() < 1e-9, "{text} at {band:?}");
        }
        assert!((stock.price_per_m2.expect("a price") - 62.5).abs() < 1e-9);
    }
    let cloud = panel_type(&sized("50 mm, 12000, suspended"), "cloud").expect("it reads");
    assert_eq!((cloud.kind, cloud.facing), (StockKind::Cloud, None));
    assert!(matches!(cloud.core, Core::Porous(filling) if filling.flow_resistivity == Some(12_000.0)));
    let faced = panel_type(&sized("membrane 0.1 kg/m2, 50 mm, 12000"), "faced").expect("it reads");
    assert_eq!(faced.facing, Some(Facing::Membrane { mass: 0.1 }));
    for (text, said) in [
        ("50 mm, 12000".to_owned(), "size 60 x 120 cm"),
        (sized("50 mm, 12000, gap 50 mm, cells"), "cannot have cells"),
        (sized("cloth 200 Pa s/m, 50 mm, 12000"), "has a mass"),
        (sized("50 mm"), "of what?"),
    ] {
        let found = panel_type(&text, "new one").expect_err("a scene cannot say it");
        assert!(rendered(&found).contains(said), "{}", rendered(&found));
    }
}
