//! The page of `place`: the plan first, then before and after of every finding and what rules of thumb would have brought.

use super::choice;
use super::columns::{Page, Table};
use super::figures::{
    ERRORS, STATISTICAL, area, asked, estimate, extent, inputs_cell, inputs_to, is_statistical, length, length_cell, length_head, number,
    octave_heads, octave_label, optional, optional_estimate, pair_label, percent, standing, verdict,
};
use super::findings::{capitalized, longest, loud_reflections, notes, signed};
use super::{bass_short, explain, owned, score, suspended};
use crate::bands::Band;
use crate::findings::stock::thickness;
use crate::findings::targets::too_loud;
use crate::findings::{Basis, Findings, Flutter, Octave, Pair, SuspendedPanel, Target};
use crate::plan::search::DECAY;
use crate::plan::{Placed, Plan};
use crate::report::chart::decay_target;
use crate::report::{HOT_SPOTS, as_built};
use crate::room::{Role, Room};
use crate::scene::Scene;

/// Lines on work that can hurt someone; each fits a line of the page.
pub const CAUTIONS: [&str; 3] = [
    "Ladders, overhead: rated parts and anchors, a second wire on each cloud; local codes come first.",
    "Before drilling find cables and pipes; keep clear of lamps, detectors, sprinklers, exits, heaters.",
    "Mineral fiber: mask (FFP2 or N95), gloves, goggles, fresh air, full wrap; ask for its fire class.",
];

/// The octave that stands for the whole of a flutter's decay: 1 kHz.
const FLUTTER_OCTAVE: usize = 4;

/// The whole page.
pub(in crate::report) fn page(scene: &Scene, room: &Room, plan: &Plan) -> Page {
    let mut page = Page::new(&format!("{}: where the panels go", scene.name));
    answer(&mut page, scene, room, plan);
    targets(&mut page, plan);
    placed(&mut page, scene, plan);
    owned::print(&mut page, scene, plan);
    page.section("Cautions");
    for caution in CAUTIONS {
        page.paragraph(caution);
    }
    page.rest();
    hot_spots(&mut page, scene, plan);
    earnings(&mut page, plan);
    choice::print(&mut page, scene, plan);
    let hung: Vec<&SuspendedPanel> = plan.after.survey.suspended.iter().filter(|panel| panel.hung).collect();
    suspended::section(&mut page, scene, &hung, plan.after.survey.schroeder_hz);
    if let Some(study) = &plan.after.bass {
        bass_short::print(&mut page, study);
    }
    page.section("How to read the tables");
    page.paragraph(ERRORS);
    if Band::ALL.into_iter().any(|band| is_statistical(&plan.before, band)) {
        page.paragraph(STATISTICAL);
    }
    for pair in &plan.before.pairs {
        before_after(&mut page, pair, plan.after.pairs.iter().find(|after| same(pair, after)));
    }
    still_loud(&mut page, scene, &plan.after);
    flutter(&mut page, plan);
    likeness(&mut page, plan);
    layouts(&mut page, plan);
    notes(&mut page, &plan.notes);
    page
}

fn same(a: &Pair, b: &Pair) -> bool {
    a.source == b.source && a.receiver == b.receiver
}

/// How many panels, what they bring together, what is left over and why it stopped.
fn answer(page: &mut Page, scene: &Scene, room: &Room, plan: &Plan) {
    page.section("The plan in short");
    let panels = plan.placed.iter().filter(|placed| !plan.hangs_already(placed.number)).count();
    page.paragraph(&format!("{panels} panel{} to hang. It stopped because {}.", if panels == 1 { "" } else { "s" }, plan.stopped_because));
    if let Some(sentence) = held_back(plan) {
        page.paragraph(&sentence);
    }
    let both = [&plan.before, &plan.after];
    if let [Some(before), Some(after)] = both.map(|findings| as_built::early_level(scene, room, findings)) {
        page.paragraph(&format!(
            "Early reflections, mean of the sources: {} dB re direct before, {} dB after.",
            estimate(before, 1),
            estimate(after, 1)
        ));
    }
    if let [Some(before), Some(after)] = both.map(decay_target) {
        let question = capitalized(&after.question);
        let (was, is) = (standing(before), standing(after));
        page.paragraph(&format!("{question}: {was} before, {is} after; asked {}: {}.", asked(after), verdict(after)));
    }
    page.paragraph("After: traced anew with every panel as built.");
    if let Some(sentence) = against_rules(plan) {
        page.paragraph(&sentence);
    }
    if let Some(sentence) = meanwhile(scene, room, plan) {
        page.paragraph(&sentence);
    }
    for sentence in what_is_left(room, plan) {
        page.paragraph(&sentence);
    }
    let (before, after) = (&plan.before.survey, &plan.after.survey);
    page.paragraph(&format!(
        "Treated share of floor, walls and ceiling: {} % ({}) before, {} % ({}) after.",
        number(100.0 * before.treated_share, 1),
        area(before.treated_area_m2, scene),
        number(100.0 * after.treated_share, 1),
        area(after.treated_area_m2, scene),
    ));
    let left: Vec<String> =
        plan.left_over.iter().filter(|(_, count)| *count > 0).map(|(kind, count)| format!("{count} x {kind}")).collect();
    page.paragraph(&format!("Left over: {}.", if left.is_empty() { "nothing".to_owned() } else { left.join(", ") }));
}

/// Which panels stay down until what holds them is known; nothing where all may be hung.
#[must_use]
pub fn held_back(plan: &Plan) -> Option<String> {
    // Each with its own reasons: one near a lamp is no reason against another.
    let mut reasons: Vec<&[String]> = plan.held_back.iter().map(|held| held.why.as_slice()).collect();
    reasons.dedup();
    reasons = reasons.iter().enumerate().filter(|(index, why)| !reasons[..*index].contains(why)).map(|(_, why)| *why).collect();
    let told = |why: &[String]| {
        let numbers: Vec<String> = plan.held_back.iter().filter(|held| held.why == why).map(|held| held.number.to_string()).collect();
        let (who, verb) = match numbers.as_slice() {
            [most @ .., last] if !most.is_empty() => (format!("Panels {} and {last}", most.join(", ")), "are"),
            _ => (format!("Panel {}", numbers.join("")), "is"),
        };
        format!("{who} {verb} overhead and NOT TO BE HUNG as the scene stands: {}.", why.join("; "))
    };
    let told: Vec<String> = reasons.into_iter().map(told).collect();
    (!told.is_empty()).then(|| format!("{} What is said here counts them; the sheets of build say what each takes.", told.join(" ")))
}

/// How the plan stands against the better of the rules of thumb with the same pieces; nothing where there is none.
#[must_use]
pub fn against_rules(plan: &Plan) -> Option<String> {
    let rules = plan.layouts.iter().filter(|layout| !["plan", "bare", "as it hangs"].contains(&layout.name.as_str()));
    let best = rules.min_by(|a, b| a.plan_better_steps.value.total_cmp(&b.plan_better_steps.value))?;
    let ours = plan.layouts.iter().find(|layout| layout.name == "plan")?;
    Some(format!("{} That is the better of the rules of thumb, with the same pieces.", score::verdict(ours, best)))
}

/// What is heard while the panels that are held back stay down; nothing where there are none.
#[must_use]
pub fn meanwhile(scene: &Scene, room: &Room, plan: &Plan) -> Option<String> {
    let meanwhile = plan.meanwhile.as_ref()?;
    let level = as_built::early_level(scene, room, meanwhile).map(|level| format!("early reflections {} dB", estimate(level, 1)));
    let decay = decay_target(meanwhile).map(|decay| format!("{} {}", decay.question, standing(decay)));
    let told: Vec<String> = level.into_iter().chain(decay).collect();
    (!told.is_empty()).then(|| format!("With only what may be hung as the scene stands, by images and rays: {}.", told.join("; ")))
}

/// What no panel of the plan ends: flutter that is heard with it, and what comes off furniture.
#[must_use]
pub fn what_is_left(room: &Room, plan: &Plan) -> Vec<String> {
    new_flutter(plan).into_iter().chain(off_furniture(room, plan)).collect()
}

/// What is loudest yet where that bounces off what stands there, on which nothing hangs; nothing where it does not.
fn off_furniture(room: &Room, plan: &Plan) -> Option<String> {
    let (_, loudest) = *too_loud(&plan.after.pairs).first()?;
    let stands = |name: &&String| room.surfaces.iter().any(|surface| surface.name == **name && matches!(surface.role, Role::Block(_)));
    let off = loudest.surfaces.iter().find(stands)?;
    Some(format!(
        "The loudest reflection that is left, {} dB, bounces off {off}, where nothing hangs: another place of loudspeakers, seat or furniture may end it, and positions tries them.",
        number(loudest.level_db, 1)
    ))
}

/// Flutter that is heard with the plan and was not before; nothing where there is none.
fn new_flutter(plan: &Plan) -> Option<String> {
    let heard = |findings: &Findings, between: &[String; 2]| findings.flutter.iter().any(|pair| pair.audible && pair.between == *between);
    let new: Vec<String> = plan
        .after
        .flutter
        .iter()
        .filter(|pair| pair.audible && !heard(&plan.before, &pair.between))
        .map(|pair| format!("{} and {}", pair.between[0], pair.between[1]))
        .collect();
    (!new.is_empty()).then(|| {
        format!(
            "Flutter between {} is heard with the plan and was not before: it rings as it did, but the room dies away sooner now and no longer hides it. It runs to and fro where both are left bare; a panel on one of them ends it.",
            new.join(", between ")
        )
    })
}

fn hot_spots(page: &mut Page, scene: &Scene, plan: &Plan) {
    page.section("Hot spots of the room as it stands");
    if plan.hot_spots.is_empty() {
        let has_stock = scene.stock.iter().any(|kind| kind.count > 0);
        page.paragraph(if has_stock {
            "None."
        } else {
            "They are told for a type of panel, and nothing is in stock: write a [[stock]] with a `count` into the scene."
        });
        return;
    }
    let heads = [
        "<surface".to_owned(),
        length_head("from left", scene),
        length_head("from below", scene),
        length_head("<size", scene),
        "<from".to_owned(),
        "<to".to_owned(),
        "ms".to_owned(),
        "dB".to_owned(),
        "share %".to_owned(),
    ];
    let mut table = Table::new(&heads);
    for spot in plan.hot_spots.iter().take(HOT_SPOTS) {
        table.row([
            spot.center.surface.clone(),
            length_cell(spot.center.left_m, scene),
            length_cell(spot.center.bottom_m, scene),
            extent(spot.extent_m, scene),
            spot.source.clone(),
            spot.receiver.clone(),
            number(spot.delay_ms, 1),
            number(spot.level_db, 1),
            number(100.0 * spot.share, 0),
        ]);
    }
    page.table(&table);
    let weaker = plan.hot_spots.len().saturating_sub(HOT_SPOTS);
    if weaker > 0 {
        page.paragraph(&format!("And {weaker} weaker ones: plan.json has them all."));
    }
    page.paragraph(
        "Lengths are to the middle of the spot, as seen from inside (on a ceiling from its lower edge); share: of this source's early \
         reflected energy there. Each spot is one bounce by itself; a reflection in the tables is all that arrives within 1 ms.",
    );
}

/// The gap of a panel whose type leaves a choice.
fn chosen_gap(panel: &Placed, scene: &Scene) -> String {
    let has_choice = scene.stock.iter().any(|kind| kind.name == panel.kind && !kind.other_gaps.is_empty());
    panel.gap_m.filter(|_| has_choice).map_or_else(String::new, |gap| format!(", gap {}", thickness(gap, scene.unit)))
}

/// How high the underside of a cloud hangs.
fn underside(panel: &Placed, scene: &Scene) -> String {
    panel.underside_m.map_or_else(String::new, |height| format!(", underside {}", length(height, scene)))
}

fn placed(page: &mut Page, scene: &Scene, plan: &Plan) {
    page.section("The panels, in the order to hang them");
    if plan.placed.is_empty() {
        page.paragraph(&format!("None: {}.", plan.stopped_because));
        return;
    }
    let heads = [
        "no".to_owned(),
        "<type".to_owned(),
        "<hung".to_owned(),
        "<surface".to_owned(),
        length_head("from left", scene),
        length_head("from below", scene),
        length_head("<size", scene),
    ];
    let mut table = Table::new(&heads);
    for panel in &plan.placed {
        table.row([
            panel.number.to_string(),
            panel.kind.clone(),
            panel.mount.clone() + &chosen_gap(panel, scene) + &underside(panel, scene) + owned::is_there(plan, panel.number),
            panel.place.surface.clone(),
            length_cell(panel.place.left_m, scene),
            length_cell(panel.place.bottom_m, scene),
            extent(panel.size_m, scene),
        ]);
    }
    page.table(&table);
    page.paragraph(
        "Lengths are to the panel's lower left corner as seen from inside (on a ceiling from its lower edge); a corner panel's surface \
         is the wall left of the corner, a cloud's the ceiling plumb above it.",
    );
}

/// What a panel hangs for: its reason, and what of that it serves, which may say it by itself.
pub fn why(panel: &Placed) -> String {
    let says_so = panel.serves.starts_with(&panel.reason) || panel.reason == DECAY;
    if says_so { panel.serves.clone() } else { format!("{}: {}", panel.reason, panel.serves) }
}

/// What each panel is for, what it earns, and how many it takes.
fn earnings(page: &mut Page, plan: &Plan) {
    if plan.placed.is_empty() {
        return;
    }
    page.section("What each panel is for and earns");
    let mut table = Table::new(&["no", "<why", "early, dB", "decay, %"]);
    for panel in &plan.placed {
        table.row([
            panel.number.to_string(),
            why(panel),
            estimate(panel.earns_early_db, 2),
            optional_estimate(panel.earns_decay_percent, 1),
        ]);
    }
    page.table(&table);
    page.paragraph("Early and decay: what the room loses when this panel alone is taken down again.");
    explain::earnings(page, plan);
    explain::curve(page, plan);
}

fn targets(page: &mut Page, plan: &Plan) {
    page.section("Targets, before and after");
    let mut table = Table::new(&["<what is asked", "<asked", "<before", "<after", "<verdict"]);
    for before in &plan.before.targets {
        let after = plan.after.targets.iter().find(|after| asks(after) == asks(before));
        let verdict = match after.map(verdict) {
            None => verdict(before),
            Some(after) if after == verdict(before) => after,
            Some(after) => match (after.split_once("; "), verdict(before).split_once("; ")) {
                (Some((is, rooms)), Some((was, others))) if rooms == others => format!("{is}, was {was}; {rooms}"),
                _ => format!("{after}, was {}", verdict(before)),
            },
        };
        table.row([before.question.clone(), asked(before), standing(before), after.map_or_else(|| "-".to_owned(), standing), verdict]);
    }
    page.table(&table);
}

/// What a target asks, without the octaves that its mean happens to rest on: these may differ before and after.
#[must_use]
pub fn asks(target: &Target) -> (&str, &str) {
    (target.question.split(", mean of").next().unwrap_or_default(), &target.source)
}

/// Every figure of one pair, before and after.
fn before_after(page: &mut Page, before: &Pair, after: Option<&Pair>) {
    page.section(&format!("{}, before and after", pair_label(before)));
    let mut table = Table::new(&["<what", "before", "after"]);
    for (what, read) in SINGLE {
        let (was, is) = (read(before), after.map_or_else(|| "-".to_owned(), read));
        if was != "-" || is != "-" {
            table.row([what.to_owned(), was, is]);
        }
    }
    page.table(&table);
    for columns in BY_OCTAVE {
        let mut heads = vec!["<octave".to_owned()];
        for (what, _) in columns {
            heads.extend([what.to_string(), "after".to_owned()]);
        }
        let mut table = Table::new(&heads);
        for octave in &before.octaves {
            let now = after.and_then(|after| after.octaves.iter().find(|other| other.frequency_hz == octave.frequency_hz));
            let mut row = vec![octave_label(octave.frequency_hz, octave.basis == Basis::Statistical)];
            for (_, read) in columns {
                row.extend([read(octave), now.map_or_else(|| "-".to_owned(), read)]);
            }
            table.row(row);
        }
        page.table(&table);
    }
}

/// A single figure of a pair, as printed.
pub type Single = (&'static str, fn(&Pair) -> String);

/// The figures of a pair that have one value each.
pub const SINGLE: [Single; 9] = [
    ("early reflections together, dB re direct", |pair| estimate(pair.early_level_db, 1)),
    ("sum over the criterion, dB", |pair| number(pair.early_excess_db, 1)),
    ("strongest early reflection, dB re direct", |pair| optional(pair.strongest_db(), 1)),
    ("early reflections together, inputs, dB", |pair| inputs_to(pair.early_level_inputs_db, 1)),
    ("first reflection after, ms", |pair| optional(pair.initial_delay_gap_ms, 1)),
    ("speech transmission index", |pair| optional_estimate(pair.speech_transmission_index, 3)),
    ("speech transmission index, inputs", |pair| inputs_to(pair.speech_transmission_index_inputs, 3)),
    ("direct to reverberant, dB", |pair| optional_estimate(pair.direct_to_reverberant_db, 1)),
    ("comb depth, dB", |pair| optional(pair.comb_depth_db, 1)),
];

/// A figure of an octave, as printed: head, how it is read.
type Column = (&'static str, fn(&Octave) -> String);

/// The figures of an octave, a table each.
const BY_OCTAVE: [&[Column]; 5] = [
    &[
        ("EDT s", |octave| optional_estimate(octave.edt_s, 3)),
        ("T20 s", |octave| optional_estimate(octave.t20_s, 3)),
        ("T30 s", |octave| optional_estimate(octave.t30_s, 3)),
    ],
    &[
        ("EDT inputs, s", |octave| inputs_cell(octave.edt_inputs_s)),
        ("T20 inputs, s", |octave| inputs_cell(octave.t20_inputs_s)),
        ("T30 inputs, s", |octave| inputs_cell(octave.t30_inputs_s)),
    ],
    &[
        ("C50 dB", |octave| optional_estimate(octave.c50_db, 1)),
        ("C80 dB", |octave| optional_estimate(octave.c80_db, 1)),
        ("D50 %", |octave| optional_estimate(octave.d50.map(percent), 1)),
    ],
    &[("C50 inputs, dB", |octave| inputs_to(octave.c50_inputs_db, 1)), ("C80 inputs, dB", |octave| inputs_to(octave.c80_inputs_db, 1))],
    &[("Ts ms", |octave| optional_estimate(octave.ts_ms, 1)), ("G dB", |octave| optional_estimate(octave.g_db, 1))],
];

fn still_loud(page: &mut Page, scene: &Scene, after: &Findings) {
    page.section("Reflections that stay too loud");
    let sentences = loud_reflections(scene, after);
    if sentences.is_empty() {
        page.paragraph("None.");
    }
    for sentence in sentences {
        page.hanging("-", &sentence);
    }
}

fn flutter(page: &mut Page, plan: &Plan) {
    if plan.before.flutter.is_empty() {
        return;
    }
    let octave = Band::new(FLUTTER_OCTAVE);
    page.section(&format!("Flutter at {}, before and after", octave.label()));
    let mut table = Table::new(&["<between", "rings s", "after", "<heard", "<after"]);
    let heard = |pair: &Flutter| if pair.audible { "yes" } else { "no" }.to_owned();
    let gone = || "-".to_owned();
    for before in longest(&plan.before.flutter) {
        let after = plan.after.flutter.iter().find(|after| after.between == before.between);
        table.row([
            format!("{} and {}", before.between[0], before.between[1]),
            number(before.t_s[octave], 2),
            after.map_or_else(gone, |after| number(after.t_s[octave], 2)),
            heard(before),
            after.map_or_else(gone, heard),
        ]);
    }
    page.table(&table);
}

fn likeness(page: &mut Page, plan: &Plan) {
    if plan.before.likeness.is_empty() {
        return;
    }
    page.section("Left against right: early level difference by octave (Hz), dB");
    let mut heads = vec!["<at".to_owned(), "<when".to_owned()];
    heads.extend(octave_heads(&plan.before));
    let mut table = Table::new(&heads);
    for before in &plan.before.likeness {
        let label = format!("{}: {} - {}", before.seat, before.left, before.right);
        table.row([label.clone(), "before".to_owned()].into_iter().chain(signed(before.early_difference_db)));
        let after = plan.after.likeness.iter().find(|one| one.seat == before.seat && one.left == before.left && one.right == before.right);
        if let Some(after) = after {
            table.row([label, "after".to_owned()].into_iter().chain(signed(after.early_difference_db)));
        }
    }
    page.table(&table);
}

/// The plan beside the rules of thumb, all weighed on one fresh trace.
fn layouts(page: &mut Page, plan: &Plan) {
    if plan.layouts.is_empty() {
        return;
    }
    let same = if plan.purchase.is_some() { "money spent" } else { "panels hung" };
    page.section(&format!("What the search bought: the same {same} by rules of thumb"));
    let cost = plan.purchase.is_some().then_some("cost");
    let heads = ["<layout", "panels"].into_iter().chain(cost).chain(["treated %", "early, dB", "too loud, dB", "decay, s"]);
    let mut table = Table::new(&heads.collect::<Vec<_>>());
    for layout in &plan.layouts {
        let cost = layout.cost.map(|cost| number(cost, 2));
        table.row([layout.name.clone(), layout.panels.to_string()].into_iter().chain(cost).chain([
            number(100.0 * layout.treated_share, 1),
            estimate(layout.figures.early_level_db, 1),
            number(layout.figures.early_excess_db, 1),
            optional_estimate(layout.figures.t_mid_s, 3),
        ]));
    }
    page.table(&table);
    score::print(page, plan);
    page.paragraph(&format!(
        "Early level: mean of the sources; too loud: sum over the criterion of the worst source; decay: mean of {}. Corner panels and clouds \
         are taken as flush here{}, so that the plan's row differs from the figures above. T30 by octave (Hz){}, s:",
        plan.decay_octaves(),
        suspended::flush_means(&plan.after.survey),
        if plan.bass_octaves.is_empty() { "" } else { ", where bass counts by waves" }
    ));
    let mut heads = vec!["<layout".to_owned()];
    heads.extend(octave_heads(&plan.before));
    let mut table = Table::new(&heads);
    for layout in &plan.layouts {
        let decay = layout.figures.t30_s.0.map(|value| optional(value.map(|value| value.value), 2));
        table.row(std::iter::once(layout.name.clone()).chain(decay));
    }
    page.table(&table);
    if let Some(ours) = plan.layouts.iter().find(|layout| layout.name == "plan") {
        for rule in plan.layouts.iter().filter(|layout| layout.name != "plan" && layout.name != "bare") {
            page.paragraph(&score::verdict(ours, rule));
        }
    }
}
