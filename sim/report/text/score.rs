//! What is wrong with each layout, term by term, in steps that are just noticed: columns and words that text, page and viewer share.

use super::columns::{Page, Table};
use super::figures::{estimate, number, optional_estimate};
use crate::bands::Band;
use crate::findings::Estimate;
use crate::plan::{BassOctave, Layout, Plan};
use crate::scene::{Term, Terms};

/// What a step is.
pub const STEPS: &str = "A step is just noticed: 1 dB that reflections are over the criterion, octave by octave, or that all of them together are over -10 dB re direct; 5 % of the decay outside its range, or \
                         of its octaves off their mean; 1 dB of left against right beyond the first; 1.1 dB that clarity of speech (C50) is under 7 dB; a tenth of all facing surfaces that rings over twice as long as the decay may be. \
                         The fewer the better. Octaves below Schroeder's frequency have no part but in bass, where that is told: 5 % of the decay of an octave that waves bring.";

/// The terms that at least one of these tells.
#[must_use]
pub fn known<'a>(steps: impl Iterator<Item = &'a Terms<Option<Estimate>>>) -> Vec<Term> {
    let steps: Vec<&Terms<Option<Estimate>>> = steps.collect();
    Term::ALL.into_iter().filter(|&term| steps.iter().any(|steps| steps[term].is_some())).collect()
}

/// The weights that are not 1, in words; nothing where there are none.
#[must_use]
pub fn weights(plan: &Plan) -> Option<String> {
    let told = |term: &Term| plan.layouts.iter().any(|layout| layout.faults_steps[*term].is_some());
    let unlike: Vec<String> = Term::ALL
        .into_iter()
        .filter(|term| told(term) && (plan.weights[*term] - 1.0).abs() > 1e-9)
        .map(|term| format!("{} {}", term.words(), number(plan.weights[term], 2)))
        .collect();
    (!unlike.is_empty()).then(|| format!("A step counts 1, but for: {}.", unlike.join(", ")))
}

/// What the bass of layouts is held against, or that it is not told; nothing where nobody asks for it.
#[must_use]
pub fn bass(plan: &Plan) -> Option<String> {
    let label = |octave: &BassOctave| Band::ALL.into_iter().find(|band| band.nominal() == octave.frequency_hz).map_or("", Band::label);
    let asked = |octave: &BassOctave| match octave.longest_s {
        Some(longest) => format!("{} over {} s", label(octave), number(longest, 2)),
        None => format!("{} re bare, since nothing is asked of it", label(octave)),
    };
    let octaves: Vec<String> = plan.bass_octaves.iter().map(asked).collect();
    match (plan.weights.bass > 0.0, octaves.is_empty()) {
        (false, _) => None,
        (true, true) if plan.after.bass.is_none() => Some("Bass is not told and counts in none of them: it takes waves.".to_owned()),
        (true, true) => Some("Bass is not told and counts in none of them: no octave of the waves has a decay that can be read in all of them (see the notes; where a room rings long, the waves were not computed to the end of it).".to_owned()),
        (true, false) => Some(format!(
            "Bass: T30 by waves, mean of {}. It was unknown while places were sought, and has no part in what flat panels and clouds earn.",
            octaves.join(", ")
        )),
    }
}

/// The table of a plan's layouts, beside each other.
pub(super) fn print(page: &mut Page, plan: &Plan) {
    let heads: Vec<String> =
        std::iter::once("<what is wrong, steps".to_owned()).chain(plan.layouts.iter().map(|layout| short(&layout.name))).collect();
    let mut table = Table::new(&heads);
    for term in known(plan.layouts.iter().map(|layout| &layout.faults_steps)) {
        let cells = plan.layouts.iter().map(|layout| optional_estimate(layout.faults_steps[term], 1));
        table.row(std::iter::once(term.words().to_owned()).chain(cells));
    }
    table.row(std::iter::once("together".to_owned()).chain(plan.layouts.iter().map(|layout| estimate(layout.together_steps, 1))));
    table.row(std::iter::once("the plan is better by".to_owned()).chain(plan.layouts.iter().map(better)));
    page.table(&table);
    page.paragraph(STEPS);
    for words in bass(plan).into_iter().chain(weights(plan)) {
        page.paragraph(&words);
    }
}

/// A layout's name without what follows its first words: `first reflection points`.
fn short(name: &str) -> String {
    name.split(',').next().unwrap_or(name).to_owned()
}

/// By how much the plan is better than a layout; a dash for the plan itself.
#[must_use]
pub fn better(layout: &Layout) -> String {
    if layout.name == "plan" { "-".to_owned() } else { estimate(layout.plan_better_steps, 1) }
}

/// Whether the plan and a rule of thumb can be told apart by the score.
#[must_use]
pub fn verdict(ours: &Layout, rule: &Layout) -> String {
    let lead = rule.plan_better_steps;
    let is_apart = lead.value.abs() > lead.half_width_95().max(0.05);
    let apart = if is_apart {
        let word = if lead.value > 0.0 { "better" } else { "worse" };
        format!("{} steps {word}", estimate(Estimate { value: lead.value.abs(), ..lead }, 1))
    } else {
        "no difference in the score that the tracing can tell".to_owned()
    };
    let more = |own: f64, other: f64, what: &str| {
        let difference = own - other;
        let word = if difference < 0.0 { "less" } else { "more" };
        // What speaks against the score does not read as a gain.
        let but = if is_apart && (difference > 0.0) == (lead.value > 0.0) { "but " } else { "" };
        (difference.abs() >= 0.05).then(|| format!(", {but}{} dB {word} {what}", number(difference.abs(), 1)))
    };
    let level = more(ours.figures.early_level_db.value, rule.figures.early_level_db.value, "early level");
    let excess = more(ours.figures.early_excess_db, rule.figures.early_excess_db, "over the criterion");
    let parts: String = [level, excess].into_iter().flatten().collect();
    format!("Against {}: {apart}{parts}.", rule.name)
}
