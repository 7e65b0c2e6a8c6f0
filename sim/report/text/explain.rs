//! The plan panel by panel: what each earns of the score alone and last, and how many of them earn most of it; columns and words that text, page and viewer share.

use super::columns::{Page, Table};
use super::figures::{estimate, number, optional_estimate};
use crate::bands::Band;
use crate::findings::Estimate;
use crate::plan::{AfterPanels, Curve, Earnings, Placed, Plan};
use crate::scene::Term;

/// What alone and last mean.
pub const ALONE_AND_LAST: &str = "Alone: by how many just noticed steps this panel by itself makes the room better than it stands; last: by how many the room gets worse when it is taken down from the finished \
     plan; that term by term where it can be told from nothing; and the octave whose decay it shortens most, with the percent that T30 grows there without it. Bass is in what corner panels earn last, where waves were run.";

/// How the order of a curve came about.
pub const IN_ORDER: &str = "Next in this order comes the panel that adds most to those before it, by paths of the search; what it adds is judged on the fresh trace, which had no part in the order. The first few need \
     not be the best few that there are: for a smaller stock plan anew. Bass has no part in these steps: corner panels may come late.";

/// Heads of the order of a curve.
pub const ORDER_HEADS: [&str; 5] = ["panels", "no", "adds, steps", "wrong then, steps", "of all, %"];

/// A row of the order of a curve.
#[must_use]
pub fn order_row(point: &AfterPanels) -> [String; 5] {
    [
        point.panels.to_string(),
        point.number.map_or_else(|| "-".to_owned(), |number| number.to_string()),
        optional_estimate(point.adds_steps, 1),
        estimate(point.left_steps, 1),
        optional_estimate(point.share_percent, 0),
    ]
}

/// Share of what all panels earn of which it is told how many earn it, percent.
pub const MOST_PERCENT: f64 = 90.0;

/// Terms that are worse without a panel (or better: less than 0), the largest first, as far as they can be told from nothing: `decay 0.9, reflections 0.3`.
#[must_use]
pub fn terms(earns: &Earnings) -> String {
    let told = |term: Term| {
        let steps = earns.last_terms_steps[term]?;
        (steps.value.abs() > steps.half_width_95().max(0.05)).then_some((term, steps))
    };
    let mut terms: Vec<(Term, Estimate)> = Term::ALL.into_iter().filter_map(told).collect();
    terms.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
    let words: Vec<String> = terms.iter().map(|(term, steps)| format!("{} {}", term.words(), number(steps.value, 1))).collect();
    if words.is_empty() { "-".to_owned() } else { words.join(", ") }
}

/// The octave that a panel does most for: `2 kHz 5 %`.
#[must_use]
pub fn most(earns: &Earnings) -> String {
    earns.most_octave().map_or_else(|| "-".to_owned(), |(band, grown)| format!("{} {} %", band.label(), number(grown.value, 0)))
}

/// That earnings do not add up, with the figures of this plan; nothing where there are no two panels.
#[must_use]
pub fn sums(curve: &Curve) -> Option<String> {
    (curve.points.len() > 2).then(|| {
        format!(
            "Earnings do not add up: alone they are {} steps in sum, last {}, while all panels together earn {}. Panels meet the same bounces and shorten the same decay, so what one earns \
             depends on which others hang.",
            estimate(curve.alone_sum_steps, 1),
            estimate(curve.last_sum_steps, 1),
            estimate(curve.gain_steps, 1)
        )
    })
}

/// How many panels earn most of it, and when to stop buying.
#[must_use]
pub fn how_many(curve: &Curve) -> Vec<String> {
    let all = curve.points.len().saturating_sub(1);
    let share = |point: &AfterPanels| optional_estimate(point.share_percent, 0);
    let most = match curve.earning(MOST_PERCENT) {
        None => "What all panels earn together is no more than its error.".to_owned(),
        Some(point) if (point.panels as usize) < all => format!("{} of {all} panels get {} % of what all get.", point.panels, share(point)),
        Some(_) => format!("It takes all {all} panels to get {} % of what all get.", number(MOST_PERCENT, 0)),
    };
    let last = curve.points.last().and_then(|point| point.adds_steps);
    let stop = match (curve.enough_panels as usize, last) {
        (0, _) => "No panel adds a tenth of a step in this order: there is nothing to buy for.".to_owned(),
        (enough, Some(last)) if enough == all => {
            let unsure = if last.value > last.half_width_95() { "" } else { ", which cannot be told from nothing" };
            format!("None of them is one too many: the last in this order still adds {} steps{unsure}.", estimate(last, 1))
        }
        (enough, _) => format!("Stop buying at {enough}: each further panel of this order adds less than a tenth of a step."),
    };
    vec![most, stop]
}

/// What figures of corner panels are.
pub const CORNERS: &str = "By how many percent T30 grows when that panel alone is taken down, by waves, and what that counts in the score: nothing where the bass is within what is asked with it and without. 5 % are \
     just noticed.";

/// What each corner panel does for the bass: heads of a table, a row for each; no rows where no waves were run.
#[must_use]
pub fn corners(plan: &Plan) -> (Vec<String>, Vec<Vec<String>>) {
    let octaves: Vec<Band> = Band::ALL.into_iter().filter(|band| plan.counts_bass(*band)).collect();
    let heads = ["no".to_owned(), "<type".to_owned()].into_iter();
    let heads = heads.chain(octaves.iter().map(|band| format!("{}, %", band.label()))).chain(["bass, steps".to_owned()]);
    let row = |panel: &Placed| {
        let bass = panel.earns.last_terms_steps.bass?;
        let grown = octaves.iter().map(|band| optional_estimate(panel.earns.decay_octaves_percent[*band], 1));
        Some([panel.number.to_string(), panel.kind.clone()].into_iter().chain(grown).chain([estimate(bass, 1)]).collect())
    };
    (heads.collect(), plan.placed.iter().filter_map(row).collect())
}

/// What each panel earns of the score, and how much is wrong after so many.
pub(super) fn earnings(page: &mut Page, plan: &Plan) {
    if plan.placed.is_empty() {
        return;
    }
    page.section("What each panel earns of the score, steps");
    let mut table = Table::new(&["no", "alone", "last", "<last, term by term", "<most in"]);
    for panel in &plan.placed {
        let earns = &panel.earns;
        table.row([panel.number.to_string(), estimate(earns.alone_steps, 1), estimate(earns.last_steps, 1), terms(earns), most(earns)]);
    }
    page.table(&table);
    page.paragraph(ALONE_AND_LAST);
    if let Some(sums) = plan.curve.as_ref().and_then(sums) {
        page.paragraph(&sums);
    }
    let (heads, rows) = corners(plan);
    if !rows.is_empty() {
        page.section("What each corner panel does for the bass");
        let mut table = Table::new(&heads);
        rows.into_iter().for_each(|row| table.row(row));
        page.table(&table);
        page.paragraph(CORNERS);
    }
}

/// How much is wrong after so many panels.
pub(super) fn curve(page: &mut Page, plan: &Plan) {
    let Some(curve) = plan.curve.as_ref().filter(|curve| curve.points.len() > 1) else { return };
    page.section("How many panels it takes");
    for sentence in how_many(curve) {
        page.paragraph(&sentence);
    }
    let mut table = Table::new(&ORDER_HEADS);
    curve.points.iter().for_each(|point| table.row(order_row(point)));
    page.table(&table);
    page.paragraph(IN_ORDER);
}
