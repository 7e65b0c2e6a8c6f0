//! The plan: made, stopped, hung; what it does to the low end; and what it buys against the rules of thumb at the same number of panels.

use bevy_egui::egui::{Button, Label, Ui};
use roomwright::findings::Basis;
use roomwright::plan::{Layout, Plan};
use roomwright::report::text::bass_short::{rests_on, told};
use roomwright::report::text::choice::{counted, name};
use roomwright::report::text::explain;
use roomwright::report::text::figures::{
    estimate, inputs_cell, length_cell, length_head, number, octave_label, optional, optional_estimate, pair_label,
};
use roomwright::report::text::plan::{CAUTIONS, against_rules, held_back, meanwhile, what_is_left, why};
use roomwright::report::text::score::{STEPS, bass, known, verdict};
use roomwright::room::Room;
use roomwright::scene::{Scene, Term};

use super::errand::errand;
use super::low_end::by_waves;
use super::say::{folded, pair, remark, section};
use super::table::Table;
use super::tokens::{INK, QUIET, wrong};
use super::{Asked, Shown, plots};
use crate::command::Command;
use crate::errand::Errand;
use crate::reason::without_options;

/// The section.
pub(crate) fn plan(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    section(ui, "The plan");
    let can = !shown.document.is_broken();
    by_waves(ui, shown, shown.results.place_effort.as_ref().map(|effort| &effort.plan), asked);
    errand(ui, shown, "Plan where the stock hangs", Errand::Plan(shown.view.low_end.waves()), asked);
    let Some(known) = shown.results.plan.as_ref() else {
        remark(ui, "The planner takes half a minute and more; the scene stays as it is until you take what it hangs.");
        return;
    };
    let plan = &known.value.plan;
    let is_fresh = shown.results.is_fresh(known);
    in_short(ui, (scene, &known.value.room), plan);
    choice(ui, plan);
    let take = ui.add_enabled(can && is_fresh && !plan.placed.is_empty(), Button::new("Hang what the plan hangs"));
    if take.on_disabled_hover_text("The scene has changed since, or the plan hangs nothing.").clicked() {
        asked.push(Command::TakePlan);
    }
    if !is_fresh {
        remark(ui, "The plan is for the scene as it was; plan again.");
    }
    placed(ui, scene, plan);
    curve(ui, plan);
    decay(ui, shown, plan);
    low_end(ui, plan);
    layouts(ui, plan);
    folded(ui, "Cautions", |ui| {
        for caution in CAUTIONS {
            remark(ui, caution);
        }
    });
    folded(ui, "Notes of the plan", |ui| {
        for note in &plan.notes {
            remark(ui, format!("- {}", without_options(note)));
        }
    });
}

fn in_short(ui: &mut Ui, (scene, room): (&Scene, &Room), plan: &Plan) {
    let panels = plan.placed.len();
    let plural = if panels == 1 { "" } else { "s" };
    ui.add(Label::new(format!("{panels} panel{plural} to hang. It stopped because {}.", plan.stopped_because)).wrap());
    for sentence in held_back(plan).into_iter().chain(meanwhile(scene, room, plan)) {
        ui.add(Label::new(wrong(without_options(&sentence))).wrap());
    }
    for sentence in against_rules(plan).into_iter().chain(what_is_left(room, plan)) {
        ui.add(Label::new(without_options(&sentence)).wrap());
    }
    let left: Vec<String> =
        plan.left_over.iter().filter(|(_, count)| *count > 0).map(|(kind, count)| format!("{count} x {kind}")).collect();
    remark(ui, format!("Left over: {}.", if left.is_empty() { "nothing".to_owned() } else { left.join(", ") }));
}

/// Which of the types that exclude one another is hung, and why.
fn choice(ui: &mut Ui, plan: &Plan) {
    let Some(choice) = &plan.choice else { return };
    section(ui, "Which of the stock, and why");
    let mut table = Table::new(&["<alternative", "<hangs", "cost", "early, dB", "too loud, dB", "decay, s", "score"]);
    for one in &choice.alternatives {
        let figures = &one.figures;
        table
            .row([
                name(choice, one),
                counted(&one.hung),
                optional(one.cost, 2),
                estimate(figures.early_level_db, 1),
                number(figures.early_excess_db, 1),
                optional_estimate(figures.t_mid_s, 3),
                estimate(one.score_steps, 1),
            ])
            .chosen(one.number == choice.chosen);
    }
    table.show(ui);
    for reason in &choice.reasons {
        ui.add(Label::new(reason).wrap());
    }
    folded(ui, "How they are judged", |ui| remark(ui, choice.rule()));
}

fn placed(ui: &mut Ui, scene: &Scene, plan: &Plan) {
    if plan.placed.is_empty() {
        remark(ui, "None: no panel of the stock earns more than its error here.");
        return;
    }
    section(ui, "The panels, in the order to hang them");
    let heads = [
        "no".to_owned(),
        "<type".to_owned(),
        "<surface".to_owned(),
        length_head("from left", scene),
        length_head("from below", scene),
        "early, dB".to_owned(),
        "alone, steps".to_owned(),
        "last, steps".to_owned(),
    ];
    let mut table = Table::new(&heads);
    for panel in &plan.placed {
        let earns = &panel.earns;
        let cells = [
            panel.number.to_string(),
            panel.kind.clone(),
            panel.place.surface.clone(),
            length_cell(panel.place.left_m, scene),
            length_cell(panel.place.bottom_m, scene),
            estimate(panel.earns_early_db, 2),
            estimate(earns.alone_steps, 1),
            estimate(earns.last_steps, 1),
        ];
        let decay = optional_estimate(panel.earns_decay_percent, 1);
        let more = format!("decay, %: {decay}, most in {}\nlast, steps: {}", explain::most(earns), explain::terms(earns));
        table.row(cells).hint(format!("{}\n{more}", why(panel)));
    }
    table.show(ui);
    remark(ui, "Lengths are to the panel's lower left corner as seen from inside, on a ceiling from its lower edge.");
    for panel in plan.placed.iter().filter(|panel| panel.reason == "corner") {
        ui.add(Label::new(format!("{}, {}: {}.", panel.number, panel.kind, panel.serves)).wrap());
    }
    folded(ui, "What alone and last mean", |ui| remark(ui, explain::ALONE_AND_LAST));
    corners(ui, plan);
    if let Some(sums) = plan.curve.as_ref().and_then(explain::sums) {
        ui.add(Label::new(sums).wrap());
    }
}

/// What corner panels do for the bass.
fn corners(ui: &mut Ui, plan: &Plan) {
    let (heads, rows) = explain::corners(plan);
    if rows.is_empty() {
        return;
    }
    section(ui, "What each corner panel does for the bass");
    let mut table = Table::new(&heads);
    for row in rows {
        table.row(row);
    }
    table.show(ui);
    remark(ui, explain::CORNERS);
}

/// How much is wrong after so many panels.
fn curve(ui: &mut Ui, plan: &Plan) {
    let Some(curve) = plan.curve.as_ref().filter(|curve| curve.points.len() > 1) else { return };
    section(ui, "How many panels it takes");
    for sentence in explain::how_many(curve) {
        ui.add(Label::new(sentence).wrap());
    }
    plots::how_many(ui, curve);
    folded(ui, "In which order", |ui| {
        let mut table = Table::new(&explain::ORDER_HEADS);
        for point in &curve.points {
            table.row(explain::order_row(point));
        }
        table.show(ui);
        remark(ui, explain::IN_ORDER);
    });
}

/// Decay by octave before and after, of the pair in front; gray where it is a statistical reading.
fn decay(ui: &mut Ui, shown: Shown<'_>, plan: &Plan) {
    let [Some(before), Some(after)] = [&plan.before, &plan.after].map(|findings| pair(shown, findings)) else { return };
    section(ui, &format!("{}: decay before and after", pair_label(before)));
    let mut table = Table::new(&["<octave", "T30, s", "after", "inputs, s", "after", "<by"]);
    for (was, is) in before.octaves.iter().zip(&after.octaves) {
        let is_statistical = [was, is].iter().any(|octave| octave.basis == Basis::Statistical);
        let cells = [
            octave_label(was.frequency_hz, is_statistical),
            optional_estimate(was.t30_s, 3),
            optional_estimate(is.t30_s, 3),
            inputs_cell(was.t30_inputs_s),
            inputs_cell(is.t30_inputs_s),
            basis(is.basis).to_owned(),
        ];
        table.row(cells).colored(if is_statistical { QUIET } else { INK });
    }
    table.show(ui);
}

/// What the figures of an octave rest on, in words.
fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Geometric => "rays",
        Basis::Waves => "waves",
        Basis::Joined => "both",
        Basis::Statistical => "statistical",
    }
}

/// What waves tell of the planned room, the bare one beside it.
fn low_end(ui: &mut Ui, plan: &Plan) {
    let Some(study) = &plan.after.bass else { return };
    section(ui, "The low end with all that the plan hangs");
    for line in told(study) {
        ui.add(Label::new(line).wrap());
    }
    remark(ui, rests_on(study));
}

/// What is wrong with a layout, a line a term.
fn terms(layout: &Layout) -> String {
    let line = |term: Term| layout.faults_steps[term].map(|steps| format!("\n{}: {} steps", term.words(), estimate(steps, 1)));
    Term::ALL.into_iter().filter_map(line).collect()
}

/// The plan beside the rules of thumb, all weighed on one fresh trace.
fn layouts(ui: &mut Ui, plan: &Plan) {
    if plan.layouts.is_empty() {
        return;
    }
    section(ui, "The same panels hung by rules of thumb");
    let has_bass = known(plan.layouts.iter().map(|layout| &layout.faults_steps)).contains(&Term::Bass);
    // As many panels hang in all but the bare room: where the bass takes that room the hint says how many.
    let heads =
        ["<layout"].into_iter().chain((!has_bass).then_some("panels")).chain(["early, dB", "too loud, dB", "decay, s", "wrong, steps"]);
    let mut table = Table::new(&heads.chain(has_bass.then_some("bass")).collect::<Vec<_>>());
    for layout in &plan.layouts {
        let panels = layout.panels.to_string();
        let treated = format!("panels: {panels}\ntreated: {} %{}", number(100.0 * layout.treated_share, 1), terms(layout));
        let figures = [
            estimate(layout.figures.early_level_db, 1),
            number(layout.figures.early_excess_db, 1),
            optional_estimate(layout.figures.t_mid_s, 3),
            estimate(layout.together_steps, 1),
        ];
        let bass = has_bass.then(|| optional_estimate(layout.faults_steps[Term::Bass], 1));
        table.row([layout.name.clone()].into_iter().chain((!has_bass).then_some(panels)).chain(figures).chain(bass)).hint(treated);
    }
    table.show(ui);
    remark(
        ui,
        format!(
            "Early level: mean of the sources; too loud: sum over the criterion of the worst source; decay: mean of {}. Corner panels and \
             clouds are taken as flush here.",
            plan.decay_octaves()
        ),
    );
    if let Some(ours) = plan.layouts.iter().find(|layout| layout.name == "plan") {
        for rule in plan.layouts.iter().filter(|layout| layout.name != "plan" && layout.name != "bare") {
            ui.add(Label::new(verdict(ours, rule)).wrap());
        }
    }
    if let Some(words) = bass(plan) {
        remark(ui, words);
    }
    folded(ui, "How layouts are judged", |ui| remark(ui, STEPS));
}
