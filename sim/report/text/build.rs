//! From plan to Saturday: what needs a look first, what to buy and what it costs, what to cut, when, and every mark.

use super::columns::{Page, Table};
use super::figures::{length, length_cell, length_head, mass};
use crate::report::tape::Tape;
use crate::scene::Scene;
use crate::scene::making::{Construction, HeldBy};
use crate::scene::prices::plural;
use crate::workshop::caution::Cautions;
use crate::workshop::{Build, Made, Mark, Overhead, Purchase};

/// The page.
pub(super) fn page(scene: &Scene, build: &Build) -> Page {
    let mut page = Page::new(&format!("{}: what to cut, and where to drill", scene.name));
    page.paragraph(&what(scene, build));
    troubles(&mut page, build);
    page.section("What to buy");
    purchases(&mut page, scene, build);
    cautions(&mut page, build);
    page.rest();
    page.section("Made against bought");
    costs(&mut page, build);
    page.section("What each panel is made of");
    for made in &build.types {
        page.hanging("-", &one(scene, made));
    }
    page.section("How it is cut");
    cuts(&mut page, build);
    schedule(&mut page, build);
    for surface in &build.surfaces {
        marks(&mut page, scene, build, surface.facet);
    }
    for overhead in &build.overhead {
        page.section(&format!("Overhead: panel {}, {}, under {}", overhead.number, overhead.kind, overhead.surface));
        hung(&mut page, scene, overhead);
    }
    page
}

/// What could hurt: no part of what an answer rests on.
fn cautions(page: &mut Page, build: &Build) {
    page.section("What could hurt");
    let shared = |with: &dyn Fn(&Cautions) -> bool| -> Vec<String> {
        let mut all = build.cautions.iter().filter(|caution| with(caution));
        let first = all.next().map_or(&[][..], |caution| &caution.lines).to_vec();
        let rest: Vec<&Cautions> = all.collect();
        first.into_iter().filter(|line| !rest.is_empty() && rest.iter().all(|caution| caution.lines.contains(line))).collect()
    };
    let (always, on_all) = (shared(&|_| true), shared(&|caution| caution.facet.is_some()));
    let mut told = |heading: &str, lines: &mut dyn Iterator<Item = &String>| {
        let mut lines = lines.filter(|line| !always.contains(line)).peekable();
        if lines.peek().is_some() {
            page.paragraph(&format!("{heading}:"));
        }
        lines.for_each(|line| page.hanging("-", line));
    };
    let mut is_first = true;
    for caution in &build.cautions {
        let Some(surface) = build.surfaces.iter().find(|surface| Some(surface.facet) == caution.facet) else {
            told(&caution.heading, &mut caution.lines.iter());
            continue;
        };
        if std::mem::take(&mut is_first) {
            told(&format!("{}, on every surface", caution.heading), &mut on_all.iter());
        }
        told(&format!("{} ({})", caution.heading, surface.surface), &mut caution.lines.iter().filter(|line| !on_all.contains(line)));
    }
    if !always.is_empty() {
        page.paragraph("In all of it:");
    }
    always.iter().for_each(|line| page.hanging("-", line));
}

/// What is built, in a sentence.
#[must_use]
pub fn what(scene: &Scene, build: &Build) -> String {
    let types: Vec<String> = build.types.iter().map(|made| format!("{} {}", made.count, counted(&made.kind, made.count))).collect();
    let panels: usize = build.surfaces.iter().flat_map(|surface| &surface.panels).map(|panel| panel.number).max().unwrap_or(0) as usize;
    let evenings = build.schedule.as_ref().map_or_else(String::new, |schedule| match schedule.evenings {
        1 => ", made in one evening".to_owned(),
        evenings => format!(", made in {evenings} evenings"),
    });
    let weight = total_mass(build).map_or_else(String::new, |kilograms| format!(", {} together", mass(kilograms, scene)));
    format!(
        "{}{weight}{evenings}; {panels} {} on {} {}. The sheets to print are in build.pdf, at true scale.",
        types.join(", "),
        if panels == 1 { "place" } else { "places" },
        build.surfaces.len(),
        if build.surfaces.len() == 1 { "surface" } else { "surfaces" }
    )
}

/// `wall panel`, `wall panels`.
fn counted(kind: &str, count: u32) -> String {
    if count == 1 || kind.ends_with('s') { kind.to_owned() } else { format!("{kind}s") }
}

fn total_mass(build: &Build) -> Option<f64> {
    build.types.iter().map(|made| Some(made.mass_kg? * f64::from(made.count))).sum()
}

fn troubles(page: &mut Page, build: &Build) {
    if build.troubles.is_empty() {
        return;
    }
    page.section("Look at these first");
    for trouble in &build.troubles {
        page.hanging("!", &format!("{} [{}]", trouble.message, trouble.id));
        page.hanging(" ", &trouble.hint);
    }
}

/// A sum with its currency.
#[must_use]
pub fn money(sum: f64, build: &Build) -> String {
    if build.currency.is_empty() { format!("{sum:.2}") } else { format!("{sum:.2} {}", build.currency) }
}

/// A quantity without needless decimals.
#[must_use]
pub fn quantity(amount: f64) -> String {
    if (amount - amount.round()).abs() < 1e-9 { format!("{amount:.0}") } else { format!("{amount:.2}") }
}

fn purchases(page: &mut Page, scene: &Scene, build: &Build) {
    let mut table = Table::new(&["<what", "needed", "<", "buy", "<", "price", "cost"]);
    for line in &build.purchases {
        table.row([
            line.name.clone(),
            quantity(line.needed),
            plural(&line.unit, line.needed).into_owned(),
            bought(line).0,
            bought(line).1,
            line.price
                .map_or_else(|| "-".to_owned(), |price| format!("{:.2}", if line.is_cut_to_length() { price / line.pack } else { price })),
            line.cost.map_or_else(|| "-".to_owned(), |cost| format!("{cost:.2}")),
        ]);
    }
    table.row([
        "all together".to_owned(),
        String::new(),
        String::new(),
        String::new(),
        String::new(),
        String::new(),
        format!("{:.2}", build.costs.total),
    ]);
    page.table(&table);
    for line in build.purchases.iter().filter(|line| !line.ask_for.is_empty()) {
        page.hanging("-", &format!("{}: {}", line.name, line.ask_for));
    }
    let spare = (100.0 * scene.making.spare).round();
    let mut about = format!("With {spare} % spare, in whole packs. ");
    if build.prices_are_invented {
        about.push_str("THE PRICES ARE INVENTED EXAMPLES: edit prices.toml beside the sheets, and build again. ");
    }
    if !build.costs.without_price.is_empty() {
        about.push_str(&format!("No price is known of {}.", build.costs.without_price.join(", ")));
    }
    page.paragraph(&about);
}

/// How much to buy: what is cut off a roll by its length, all else in packs.
#[must_use]
pub fn bought(line: &Purchase) -> (String, String) {
    let packs = f64::from(line.packs);
    if line.is_cut_to_length() {
        (format!("{:.1}", packs * line.pack), line.unit.clone())
    } else if (line.pack - 1.0).abs() < 1e-9 {
        (line.packs.to_string(), plural(&line.unit, packs).into_owned())
    } else {
        (line.packs.to_string(), format!("of {} {}", quantity(line.pack), plural(&line.unit, line.pack)))
    }
}

fn costs(page: &mut Page, build: &Build) {
    let mut table = Table::new(&["<panel", "pieces", "made, each", "bought, each"]);
    let cell = |price: Option<f64>| price.map_or_else(|| "-".to_owned(), |price| format!("{price:.2}"));
    for cost in &build.costs.types {
        table.row([cost.kind.clone(), cost.count.to_string(), cell(cost.made_each), cell(cost.bought_each)]);
    }
    page.table(&table);
    for line in cost_lines(build) {
        page.paragraph(&line);
    }
}

/// What the costs come to, in sentences.
#[must_use]
pub fn cost_lines(build: &Build) -> Vec<String> {
    let costs = &build.costs;
    let mut lines = vec![format!(
        "The shopping list comes to {}; {} of it hangs afterwards, {:.0} % is off-cuts, spare and rests of packs.",
        money(costs.total, build),
        money(costs.used, build),
        100.0 * costs.left_over_share
    )];
    if let Some(bought) = costs.bought_total {
        lines.push(format!("Bought ready-made, the panels that are made here would be {}, without what hangs them.", money(bought, build)));
    }
    lines
}

/// How one of a type is made.
#[must_use]
pub fn one(scene: &Scene, made: &Made) -> String {
    let size = |[width, height]: [f64; 2]| Tape::of(scene.unit).say_size(width, height);
    let mut text = format!("{} ({}), {}, {}", made.kind, made.count, size(made.face_m), made.construction.word());
    for core in &made.cores {
        text.push_str(&format!("; core {} of {}", size(core.size_m), core.board));
        if core.layers > 1 {
            text.push_str(&format!(", {} layers", core.layers));
        }
    }
    for side in &made.frame {
        text.push_str(&format!("; {} x {} of {}", side.count, length(side.length_m, scene), side.timber));
    }
    if let Some(cloth) = &made.cloth {
        text.push_str(&format!("; {} {} (face, thickness and fold on every side)", cloth.cloth, size(cloth.size_m)));
    }
    if let Some(cut) = &made.corner {
        text.push_str(&format!(
            "; long sides askew by {:.0} degrees, back {} wide, ends and core cut as trapezoids",
            cut.bevel_deg,
            length(cut.back_m, scene)
        ));
    }
    if made.construction != Construction::Bought {
        text.push_str(&made.mass_kg.map_or_else(|| "; mass unknown".to_owned(), |kilograms| format!("; {} each", mass(kilograms, scene))));
    }
    text.push_str(match made.fixing {
        HeldBy::Wires => "; hung by wires",
        _ => "; held by ",
    });
    if made.fixing != HeldBy::Wires {
        text.push_str(made.fixing.word());
    }
    text
}

fn cuts(page: &mut Page, build: &Build) {
    let mut table = Table::new(&["<from", "used", "least", "pieces", "waste, %"]);
    for cut in &build.boards {
        let pieces: usize = cut.sheets.iter().map(|sheet| sheet.pieces.len()).sum();
        table.row([
            cut.board.clone(),
            format!("{} sheets", cut.sheets.len()),
            cut.least_sheets.to_string(),
            pieces.to_string(),
            format!("{:.0}", 100.0 * cut.waste_share),
        ]);
    }
    for cut in &build.cloths {
        table.row([
            cut.cloth.clone(),
            format!("{:.2} m", cut.length_m),
            format!("{:.2}", cut.least_m),
            cut.pieces.len().to_string(),
            format!("{:.0}", 100.0 * cut.waste_share),
        ]);
    }
    for cut in &build.timbers {
        let pieces: usize = cut.lengths.iter().map(|length| length.pieces.len()).sum();
        table.row([
            cut.timber.clone(),
            format!("{} lengths", cut.lengths.len()),
            cut.least_lengths.to_string(),
            pieces.to_string(),
            format!("{:.0}", 100.0 * cut.waste_share),
        ]);
    }
    page.table(&table);
    page.paragraph("Least: no cutting plan takes less. Where each piece lies is drawn in build.pdf and listed in cuts.csv.");
}

fn schedule(page: &mut Page, build: &Build) {
    let Some(schedule) = &build.schedule else { return };
    page.section("When");
    let mut table = Table::new(&["evening", "<work", "<panels", "hours", "dries, h", "<"]);
    for task in &schedule.tasks {
        let batch = task.batch.map_or_else(String::new, |batch| format!(", batch {batch}"));
        table.row([
            task.evening.to_string(),
            task.work.clone(),
            format!("{} {}{batch}", task.panels, counted(&task.kind, task.panels)),
            format!("{:.1}", task.work_h),
            if task.dries_h > 0.0 { format!("{:.0}", task.dries_h) } else { "-".to_owned() },
            if task.critical { "decides the end".to_owned() } else { String::new() },
        ]);
    }
    page.table(&table);
    page.paragraph(&schedule_line(build));
}

/// How long it takes, in sentences.
#[must_use]
pub fn schedule_line(build: &Build) -> String {
    let Some(schedule) = &build.schedule else { return String::new() };
    let guess = if schedule.drying_is_guess {
        " Drying times are a guess: write `harden_hours` and `glue_hours` in [build] from the makers' sheets."
    } else {
        ""
    };
    format!(
        "{:.1} hours of work on {} {}, {} {} on the table; dry {:.0} hours after the first evening begins. Hours of work are a guess.{guess}",
        schedule.work_h,
        schedule.evenings,
        if schedule.evenings == 1 { "evening" } else { "evenings" },
        schedule.batches,
        if schedule.batches == 1 { "batch" } else { "batches" },
        schedule.until_dry_h
    )
}

fn marks(page: &mut Page, scene: &Scene, build: &Build, facet: usize) {
    let Some(surface) = build.surfaces.iter().find(|surface| surface.facet == facet) else { return };
    page.section(&format!("Marks: {}", surface.surface));
    let mut table = Table::new(&["<mark", length_head("left", scene).as_str(), length_head("lower", scene).as_str(), "<for", "<lies on"]);
    for panel in &surface.panels {
        table.row([
            format!("panel {}", panel.number),
            length_cell(panel.left_m, scene),
            length_cell(panel.bottom_m, scene),
            "its lower left corner".to_owned(),
            String::new(),
        ]);
        for mark in &panel.marks {
            table.row([
                mark.name.clone(),
                length_cell(mark.left_m, scene),
                length_cell(mark.bottom_m, scene),
                mark.what.word().to_owned(),
                lies_on(mark),
            ]);
        }
    }
    page.table(&table);
    for panel in surface.panels.iter().filter(|panel| !panel.notes.is_empty()) {
        page.hanging("-", &format!("panel {}: {}", panel.number, panel.notes.join("; ")));
    }
}

/// The member, and what it lies in line with.
fn lies_on(mark: &Mark) -> String {
    let member = mark.member.clone().unwrap_or_default();
    let Some(thing) = &mark.in_line_with else { return member };
    let warning = format!("! in line with \"{thing}\"");
    if member.is_empty() { warning } else { format!("{member}; {warning}") }
}

fn hung(page: &mut Page, scene: &Scene, overhead: &Overhead) {
    if !overhead.not_to_be_hung.is_empty() {
        page.paragraph("NOT TO BE HUNG:");
        for reason in &overhead.not_to_be_hung {
            page.hanging("!", reason);
        }
    }
    page.paragraph(&loads(scene, overhead));
    if let Some(suspension) = &overhead.suspension {
        let mut table = Table::new(&[
            "wire",
            length_head("x", scene).as_str(),
            length_head("y", scene).as_str(),
            length_head("long", scene).as_str(),
            length_head("cut", scene).as_str(),
            "<in",
        ]);
        for point in &suspension.points {
            table.row([
                point.number.to_string(),
                length_cell(point.x_m, scene),
                length_cell(point.y_m, scene),
                length_cell(point.wire_m, scene),
                point.cut_m.map_or_else(|| "link".to_owned(), |cut| length_cell(cut, scene)),
                point.member.clone().unwrap_or_default(),
            ]);
        }
        page.table(&table);
        for wire in &suspension.secondary {
            page.hanging(
                "-",
                &format!(
                    "secondary wire from beside wire {} to {}: {} straight, at most {} long",
                    wire.beside_number,
                    wire.member,
                    length(wire.straight_m, scene),
                    length(wire.longest_m, scene)
                ),
            );
        }
    }
    for wire in overhead.flat.iter().flat_map(|flat| &flat.secondary) {
        page.hanging(
            "-",
            &format!(
                "secondary wire from the edge of the panel to mark {} in {}: {} straight, at most {} long",
                wire.mark,
                wire.member,
                length(wire.straight_m, scene),
                length(wire.longest_m, scene)
            ),
        );
    }
    for distance in &overhead.distances {
        page.hanging("-", &format!("{} to \"{}\"", length(distance.distance_m, scene), distance.name));
    }
    for remark in &overhead.remarks {
        page.hanging("-", remark);
    }
}

/// What it weighs and what each point bears, in a sentence.
#[must_use]
pub fn loads(scene: &Scene, overhead: &Overhead) -> String {
    let newtons = |load: Option<f64>| load.map_or_else(|| "unknown".to_owned(), |load| format!("{load:.0} N"));
    let largest =
        |loads: &mut dyn Iterator<Item = Option<f64>>| loads.collect::<Option<Vec<f64>>>().map(|all| all.into_iter().fold(0.0, f64::max));
    let (kilograms, weight, shared, lost, alone, needed, weakest, factor, wanted) = match (&overhead.suspension, &overhead.flat) {
        (Some(hung), _) => (
            hung.mass_kg,
            hung.weight_n,
            largest(&mut hung.points.iter().map(|point| point.load_n)),
            largest(&mut hung.points.iter().map(|point| point.load_one_lost_n)),
            largest(&mut hung.points.iter().map(|point| point.load_alone_n)),
            hung.needed_n,
            &hung.weakest,
            hung.factor,
            hung.factor_wanted,
        ),
        (None, Some(flat)) => (
            flat.mass_kg,
            flat.weight_n,
            flat.load_n,
            flat.load_one_lost_n,
            flat.load_alone_n,
            flat.needed_n,
            &None,
            None,
            flat.factor_wanted,
        ),
        (None, None) => return String::new(),
    };
    let strength = match (weakest, factor) {
        (Some(part), Some(factor)) => {
            format!("; weakest part \"{}\" breaks at {:.0} N, {factor:.1} times the load", part.name, part.breaking_n)
        }
        _ => String::new(),
    };
    format!(
        "Mass {}, weight {}; a point bears {} with all sharing, {} with one lost, {} at the most, since a stiff panel may rest on two; each part of it, its anchor's pull-out included, must break at no less than {}{strength}.",
        kilograms.map_or_else(|| "unknown".to_owned(), |kilograms| mass(kilograms, scene)),
        newtons(weight),
        newtons(shared),
        newtons(lost),
        newtons(alone),
        needed.map_or_else(
            || format!("what {wanted:.0} times its load comes to"),
            |needed| format!("{:.0} N ({wanted:.0} times)", needed.ceil())
        ),
    )
}
