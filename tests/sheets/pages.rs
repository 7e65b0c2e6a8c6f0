//! The list pages: nothing lies on anything, nothing is left out, sums are sums.

use super::{FEET, METERS, built};
use resvg::usvg;
use roomwright::report::build::shop_pages::{Job, leaves, pages};
use roomwright::report::leaf::{Format, Leaf, Voice, Writer};
use roomwright::report::leaf_table::Table;
use roomwright::report::svg::Area;
use roomwright::study::Building;
use roomwright::workshop::Trouble;
use roomwright::workshop::caution::Place;

fn job<'a>(built: &'a Building, sheets: &'a [String]) -> Job<'a> {
    Job { scene: &built.scene, room: &built.room, build: &built.build, panels: &built.panels, sheets }
}

/// Everything that is printed on these pages, lines joined.
fn words(leaves: &[(String, Leaf)]) -> String {
    let all: Vec<&str> = leaves.iter().flat_map(|(_, leaf)| leaf.drawing.labels.iter().map(|label| label.text.as_str())).collect();
    all.join(" ")
}

fn one_space(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn nothing_lies_on_anything_or_runs_off_the_page() {
    for text in [METERS, FEET] {
        let built = built(text);
        for (stem, leaf) in leaves(job(&built, &[])) {
            assert_eq!(leaf.faults(), Vec::<String>::new(), "{stem}");
        }
    }
}

#[test]
fn a_fault_is_found() {
    let format = Format::of(&built(METERS).scene);
    let mut page = Writer::new(&format, "A page");
    page.figure(10.0, false, |page, area| {
        let letters = roomwright::report::svg::Lettering::new(3.0, roomwright::report::paper::INK);
        page.text(area.low + glam::DVec2::splat(5.0), "one", letters);
        page.text(area.low + glam::DVec2::splat(5.0), "other", letters);
        page.text(area.low - glam::DVec2::new(20.0, 0.0), "out", letters);
    });
    let chapter = page.finish("page");
    // One lies on the other; one is off the page, and so outside its block.
    assert_eq!(chapter.leaves[0].faults().len(), 3, "{:?}", chapter.leaves[0].faults());
}

/// As the renderer lays letters out, not as our own widths have them.
#[test]
fn letters_as_they_are_drawn_stay_on_the_page() {
    fn texts(group: &usvg::Group, found: &mut Vec<usvg::Rect>) {
        for node in group.children() {
            match node {
                usvg::Node::Text(text) => found.push(text.abs_bounding_box()),
                usvg::Node::Group(group) => texts(group, found),
                _ => {}
            }
        }
    }
    for text in [METERS, FEET] {
        let built = built(text);
        for (stem, svg) in pages(job(&built, &[])) {
            let tree = roomwright::report::raster::lay_out(&svg).expect("a drawing");
            let mut found = Vec::new();
            texts(tree.root(), &mut found);
            assert!(found.len() > 5, "{stem} is empty");
            let (edge, size) = (5.0 * 96.0 / 25.4, tree.size());
            for area in &found {
                assert!(
                    area.left() > edge && area.top() > edge && area.right() < size.width() - edge && area.bottom() < size.height() - edge,
                    "{stem}: {area:?}"
                );
            }
        }
    }
}

#[test]
fn letters_are_not_tiny() {
    let built = built(METERS);
    for (stem, svg) in pages(job(&built, &[])) {
        for size in svg.split("font-size=\"").skip(1) {
            let size: f64 = size.split('"').next().unwrap().parse().unwrap();
            assert!(size >= 2.4, "{stem}: {size} mm");
        }
    }
}

#[test]
fn every_trouble_and_every_caution_is_printed() {
    for text in [METERS, FEET] {
        let built = built(text);
        let printed = one_space(&words(&leaves(job(&built, &[]))));
        assert!(text == FEET || !built.build.troubles.is_empty(), "one of the clouds has no member above");
        for trouble in &built.build.troubles {
            // The first letter is a capital in print, lines begin anew, and a line of a scene stands between quotes.
            let [message, hint] = [&trouble.message, &trouble.hint].map(|told| one_space(told).replace('`', "'"));
            assert!(printed.contains(&message[1..]), "{message}");
            assert!(printed.contains(hint.trim_end_matches('.')), "{hint}");
        }
        let overhead =
            |facet: Option<usize>| built.build.surfaces.iter().any(|surface| surface.is_overhead && Some(surface.facet) == facet);
        let here = built.build.cautions.iter().filter(|cautions| cautions.place != Place::Surface || overhead(cautions.facet));
        let mut count = 0;
        for line in here.flat_map(|cautions| &cautions.lines) {
            assert!(printed.contains(&one_space(line)), "{line}");
            count += 1;
        }
        assert!(count > 15);
    }
}

/// Brackets name what the sentence before them does not.
#[test]
fn a_trouble_names_its_panels_once() {
    let mut built = built(METERS);
    let printed = |built: &Building| one_space(&words(&leaves(job(built, &[]))));
    // Panel 4 lies flat, and no part of a cloud's wires is named in the scene. Of the clouds one hangs 1.9 m over the floor.
    let text = printed(&built);
    assert!(text.contains("Nothing is known of how strong the fixings or parts are that hold panels 1, 4 and 6. To do: compare"), "{text}");
    assert!(text.contains("Panel 6 reaches down below 2000 mm, where heads are. To do: let nobody"), "{text}");
    for (message, panels, line) in [
        ("panels 2 and 6 are askew", vec![2, 6], "Panels 2 and 6 are askew (north). To do: mend."),
        ("panels 2, 3 and 6 on north are askew", vec![2, 3, 6], "Panels 2, 3 and 6 on north are askew. To do: mend."),
        ("panel 6 on north is askew", vec![6], "Panel 6 on north is askew. To do: mend."),
        ("a core is larger than 2 sheets", vec![2, 6], "A core is larger than 2 sheets (panels 2, 6, north). To do: mend."),
        ("a core on north is larger than 2 sheets", vec![2], "A core on north is larger than 2 sheets (panel 2). To do: mend."),
        // 3 is not 30, and what is 3 mm is no panel.
        ("panels 2 and 30 are askew by 3 mm", vec![2, 3], "Panels 2 and 30 are askew by 3 mm (panels 2, 3, north). To do: mend."),
    ] {
        built.build.troubles = vec![Trouble::new("askew", message.to_owned(), "mend").on("north", panels)];
        assert!(printed(&built).contains(&format!("Look at these first - {line}")), "{line}: {}", printed(&built));
    }
}

#[test]
fn what_is_not_to_be_hung_says_so_and_no_page_says_safe() {
    let built = built(METERS);
    let all = leaves(job(&built, &[]));
    let bad: Vec<_> = built.build.overhead.iter().filter(|overhead| !overhead.not_to_be_hung.is_empty()).collect();
    assert!(!bad.is_empty());
    for overhead in &built.build.overhead {
        let stem = format!("build-overhead-panel-{}", overhead.number);
        let first: Vec<_> = all.iter().filter(|(name, _)| *name == stem).cloned().collect();
        let text = words(&first);
        assert_eq!(text.contains("NOT TO BE HUNG"), !overhead.not_to_be_hung.is_empty(), "{stem}");
        for reason in &overhead.not_to_be_hung {
            assert!(one_space(&text).contains(&one_space(reason).replace('`', "'")[1..]), "{reason}");
        }
    }
    let plain: Vec<String> = words(&all).to_lowercase().split(|letter: char| !letter.is_alphabetic()).map(str::to_owned).collect();
    // "Safety data sheet" is a term of the trade.
    assert!(plain.iter().all(|word| !["safe", "safely"].contains(&word.as_str())));
}

/// A member that is named for a point beyond its surface is not known to be there: the page says so, whatever the figures say.
#[test]
fn a_point_beyond_its_surface_is_told() {
    let mut built = built(METERS);
    let told = |built: &Building| words(&leaves(job(built, &[]))).contains("Beyond the edge of ceiling");
    assert!(!told(&built));
    let ceiling = built.build.surfaces.iter_mut().find(|surface| surface.surface == "ceiling").expect("a ceiling");
    let mark = &mut ceiling.panels[0].marks[0];
    (mark.left_m, mark.bottom_m) = (-0.1, mark.bottom_m);
    assert!(told(&built));
}

#[test]
fn the_total_is_the_sum_of_the_lines_as_printed() {
    for text in [METERS, FEET] {
        let built = built(text);
        let all = leaves(job(&built, &[]));
        // Costs are the last column: those texts that end at its right edge, page by page, as far as the list goes.
        let mut column: Vec<f64> = Vec::new();
        for (_, page) in all.iter().filter(|(stem, _)| stem.starts_with("build-shopping")) {
            let labels = &page.drawing.labels;
            let Some(head) = labels.iter().find(|label| label.text == "cost") else { break };
            let section = labels.iter().find(|label| label.text == "Made against bought");
            let end = section.map_or(page.drawing.size.y, |label| label.area.low.y);
            let in_column =
                |area: &Area| (area.high.x - head.area.high.x).abs() < 0.01 && area.low.y > head.area.low.y + 1.0 && area.high.y < end;
            column.extend(labels.iter().filter(|label| in_column(&label.area)).filter_map(|label| label.text.parse::<f64>().ok()));
            if section.is_some() {
                break;
            }
        }
        let (total, lines) = column.split_last().expect("costs");
        assert_eq!(lines.len(), built.build.purchases.iter().filter(|line| line.cost.is_some()).count());
        // Printed to the hundredth: their sum to one more rounding.
        assert!((lines.iter().sum::<f64>() - total).abs() < 0.0051 * lines.len() as f64 && *total > 0.0, "{lines:?} {total}");
        let cents = |sum: f64| (sum * 100.0).round();
        assert_eq!(cents(*total), cents(built.build.purchases.iter().filter_map(|line| line.cost).sum()));
    }
}

#[test]
fn numbers_count_every_page_and_the_sheets_between() {
    let built = built(METERS);
    let sheets = ["North wall: mark and hang".to_owned(), "Ceiling: mark and hang".to_owned()];
    let all = leaves(job(&built, &sheets));
    let of = all.len() + sheets.len();
    let numbers: Vec<usize> = all
        .iter()
        .map(|(stem, leaf)| {
            let line = leaf.drawing.labels.iter().find(|label| label.text.contains("| roomwright build")).expect("a foot line");
            let mut words = line.text.split("page ").nth(1).expect("a number").split(' ');
            let number = words.next().unwrap().parse().unwrap();
            assert_eq!(words.nth(1).unwrap(), of.to_string(), "{stem}");
            number
        })
        .collect();
    let left_out: Vec<usize> = (1..=of).filter(|number| !numbers.contains(number)).collect();
    assert_eq!(left_out.len(), 2);
    assert_eq!(left_out[0] + 1, left_out[1]);
    assert!(numbers.windows(2).all(|pair| pair[0] < pair[1]));
    // The first pages name each with its number.
    let first = one_space(&words(&all[..2]));
    assert!(first.contains(&format!("North wall: mark and hang {}", left_out[0])), "{first}");
}

#[test]
fn both_papers() {
    use roomwright::scene::making::Paper;
    let mut built = built(METERS);
    let size = |built: &Building| Format::of(&built.scene).size.to_array();
    assert_eq!(size(&built), [210.0, 297.0]);
    built.scene.making.paper = Some(Paper::Letter);
    assert_eq!(size(&built), [215.9, 279.4]);
    assert!(leaves(job(&built, &[])).iter().all(|(_, leaf)| leaf.faults().is_empty() && leaf.drawing.size.to_array() == [215.9, 279.4]));
    let mut feet = super::built(FEET);
    assert_eq!(size(&feet), [215.9, 279.4]);
    feet.scene.making.paper = Some(Paper::A4);
    assert!(leaves(job(&feet, &[])).iter().all(|(_, leaf)| leaf.faults().is_empty()));
}

#[test]
fn what_is_drawn_to_scale_has_a_ruler() {
    let built = built(METERS);
    for (stem, leaf) in leaves(job(&built, &[])) {
        let has = leaf.drawing.labels.iter().any(|label| label.text == "100 mm on a true print");
        assert_eq!(has, leaf.to_scale, "{stem}");
    }
    assert!(leaves(job(&built, &[])).iter().any(|(stem, leaf)| stem == "build-cutting" && leaf.to_scale));
}

/// Names of any length, many rows, long boxes: all of it is there, none of it lies on anything.
#[test]
fn whatever_things_are_called_it_fits() {
    let format = Format::of(&built(METERS).scene);
    let mut page = Writer::new(&format, &"Heading ".repeat(60));
    let long = "x".repeat(500);
    page.paragraph(&long);
    page.section(&long, 20.0);
    let mut table = Table::new(&["what", "#how many", "where"]);
    for row in 0..90 {
        table.row(vec![format!("{row} {long}"), row.to_string(), "here and there ".repeat(row)]);
    }
    page.table(&table);
    page.boxed("Box", &vec!["a sentence that is not short at all ".repeat(9); 60], Voice::Heavy);
    page.list(&(0..80).map(|item| (format!("{item}."), format!("item {item} {}", "word ".repeat(40)))).collect::<Vec<_>>());
    let chapter = page.finish("page");
    assert!(chapter.leaves.len() > 10);
    let printed: String = chapter.leaves.iter().flat_map(|leaf| &leaf.drawing.labels).map(|label| label.text.as_str()).collect();
    // The paragraph, the section, 90 rows: every letter of every one of them.
    assert_eq!(
        printed.matches('x').count(),
        92 * 500 + chapter.leaves.iter().filter(|leaf| leaf.drawing.labels.iter().any(|label| label.text.contains("Box"))).count()
    );
    for leaf in &chapter.leaves {
        assert_eq!(leaf.faults(), Vec::<String>::new());
    }
}
