//! Several gaps of one type: read and printed, chosen panel by panel, told on every page.

use roomwright::plan::Plan;
use roomwright::progress::Progress;
use roomwright::report;
use roomwright::scene::{self, PanelPlace};
use roomwright::study::{self, Placement};

use super::edit::read;
use super::enough::busy;
use super::schema::check as check_schema;

/// A small hard room with five panels that may hang at one of these gaps.
fn room(gap: &str) -> String {
    busy(5, 2_000).replace("flow_resistivity = 12000\n", &format!("flow_resistivity = 12000\ngap = {gap}\n"))
}

#[test]
fn keeps_gaps_as_written() {
    let one = read(&room("\"50 mm\""));
    assert_eq!((one.stock[0].gap, one.stock[0].other_gaps.len()), (0.05, 0));
    let several = read(&room("[\"50 mm\", 0, \"100 mm\"]"));
    let kind = &several.stock[0];
    assert_eq!(kind.gaps().collect::<Vec<_>>(), [0.05, 0.0, 0.1]);
    assert!(kind.ways().all(|way| way.other_gaps.is_empty() && way.name == kind.name && way.count == kind.count));
    assert_eq!(read(&scene::print(&several)).stock, several.stock);
    // A list of one is that one, and what hangs without a word of its gap has the first.
    assert_eq!(read(&room("[\"50 mm\"]")).stock, one.stock);
    let hung = format!("{}\n[[panel]]\ntype = \"panel\"\nsurface = \"east\"\nleft = 0.1\nbottom = 0.1\n", room("[\"50 mm\", 0]"));
    assert!(matches!(read(&hung).panels[0].place, PanelPlace::Surface { gap, .. } if (gap - 0.05).abs() < 1e-12));
    let survey = study::survey(&several);
    let told = &survey.stock[0];
    assert!(told.made_of.contains(&"50 mm or 0 mm or 100 mm air".to_owned()), "{:?}", told.made_of);
    assert!(
        told.cautions.iter().any(|caution| caution.contains("with 50 mm of air behind it, the first of its gaps")),
        "{:?}",
        told.cautions
    );
    assert_eq!(told.absorption, study::survey(&one).stock[0].absorption);
}

/// Each panel has one of the gaps, the same one on every page; together they are no more than there are.
#[test]
fn keeps_the_chosen_gap_on_every_page() {
    let (text, one_gap) = (room("[0, \"50 mm\", \"150 mm\"]"), room("\"50 mm\""));
    let scene = read(&text);
    let Placement { plan, pictures, room, .. } = study::place(&Progress::new(), &scene).expect("nobody cancels");
    assert!(!plan.placed.is_empty() && pictures.panels.len() <= 5, "{:#?}", pictures.panels);
    check_schema(&plan);
    let gaps: Vec<f64> = plan.placed.iter().map(|placed| placed.gap_m.expect("it hangs flat")).collect();
    // Air behind pays somewhere: all of them flush, as the first gap is, would be nothing chosen.
    assert!(gaps.iter().all(|gap| [0.05, 0.0, 0.15].contains(gap)) && gaps.iter().any(|gap| *gap > 0.0), "{gaps:?}");
    let again = read(&scene::with_panels(&text, &pictures.panels).unwrap_or_else(|refused| panic!("{refused}")));
    assert_eq!(again.stock[0].count + plan.placed.len() as u32, 5);
    assert_eq!(again.stock[0].other_gaps, scene.stock[0].other_gaps);
    for (panel, own) in again.panels.iter().zip(&gaps) {
        assert!(matches!(panel.place, PanelPlace::Surface { gap, .. } if (gap - own).abs() < 1e-9), "{panel:?}");
    }
    let said = report::text::place(&scene, &room, &plan, report::text::Extent::Full);
    let files = report::files(&scene, &room, &plan, &pictures);
    let page = files.iter().find(|(name, _)| name == "index.html").map(|(_, bytes)| String::from_utf8_lossy(bytes)).expect("a page");
    let with = |plan: &Plan, gap: f64| plan.placed.iter().filter(|placed| placed.gap_m == Some(gap)).count();
    for (gap, words) in [(0.05, "gap 50 mm"), (0.15, "gap 150 mm")] {
        assert_eq!(said.matches(&format!("flat, {words}")).count(), with(&plan, gap), "{said}");
        assert!(page.matches(words).count() >= with(&plan, gap), "{words}");
    }
    // Where there is no choice the page of text says nothing of it.
    let one = read(&one_gap);
    let Placement { plan, room, .. } = study::place(&Progress::new(), &one).expect("nobody cancels");
    assert!(
        !report::text::place(&one, &room, &plan, report::text::Extent::Full).contains("gap 50 mm") && plan.placed[0].gap_m == Some(0.05)
    );
}
