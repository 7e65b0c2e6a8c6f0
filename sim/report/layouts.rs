//! The layouts that a plan is held against, beside each other: the room from one eye with what hangs in each, and what is wrong with it, term by term.
//!
//! In the order of the plan's table: bare, as it hangs where that may change, the plan, the rules of thumb.

use glam::DVec2;

use super::axonometry::{Eye, View, bare_room};
use super::heatmap::Heat;
use super::html::{estimate, maybe, plain, table};
use super::svg::{Area, Drawing, Lettering, escape};
use super::text::figures::{self, number};
use super::text::score::known;
use super::{hung, paper, plot, score, text};
use crate::bands::Band;
use crate::plan::stock::money;
use crate::plan::{Layout, Plan, PlanPictures};
use crate::room::Room;
use crate::scene::Scene;

/// Pictures in a row, the size of the ground of each, and what is written under it, mm.
const IN_A_ROW: usize = 2;
const CELL: DVec2 = DVec2::new(112.0, 104.0);
const PICTURE: f64 = 72.0;

/// Margins of the page: beside, and above for the title, mm.
const BESIDE: f64 = 12.0;
const ABOVE: f64 = 24.0;

/// Distance of lines of text, mm.
const LINE: f64 = 4.0;

/// The drawing; one picture for each layout whose panels are known.
#[must_use]
pub(super) fn svg(scene: &Scene, room: &Room, plan: &Plan, pictures: &PlanPictures) -> String {
    let all: Vec<(&Layout, Vec<hung::Hung>)> =
        plan.layouts.iter().zip(&pictures.layouts).map(|(layout, panels)| (layout, hung::panels(scene, room, &[], panels))).collect();
    let rows = all.len().div_ceil(IN_A_ROW);
    let mut page = Drawing::new(2.0 * BESIDE + IN_A_ROW as f64 * CELL.x, ABOVE + rows as f64 * CELL.y + 4.0, paper::CARD);
    plot::title(&mut page, "Layouts beside each other", "the same room and stock; dashed: on a surface towards the eye, which is left out");
    let eye = Eye::best(scene, room, &pictures.early);
    for (number, (layout, hung)) in all.iter().enumerate() {
        let corner = DVec2::new(BESIDE + (number % IN_A_ROW) as f64 * CELL.x, ABOVE + (number / IN_A_ROW) as f64 * CELL.y);
        let look = View { scene, room, hung, hot_spots: &[], maps: &[], heat: Heat::Early };
        bare_room(&mut page, eye, look, Area::new(corner.x, corner.y + 4.0, CELL.x - 8.0, PICTURE));
        write(&mut page, corner + DVec2::new(0.0, PICTURE + 10.0), layout);
    }
    page.finish()
}

/// Name, pieces and faults of a layout.
fn write(page: &mut Drawing, at: DVec2, layout: &Layout) {
    let width = CELL.x - 8.0;
    let color = if layout.name == "plan" { paper::ACCENT } else { paper::INK };
    let head = Lettering::new(paper::SUBHEAD, color).bold();
    page.text(at, &head.fit(&layout.name, width), head);
    let pieces = if layout.panels == 1 { "1 piece".to_owned() } else { format!("{} pieces", layout.panels) };
    let together = format!("{pieces}; {} steps wrong in all:", figures::estimate(layout.together_steps, 1).replace("+-", "\u{b1} "));
    let terms = known(std::iter::once(&layout.faults_steps));
    // A term and its figure stay on one line.
    let told = |term| layout.faults_steps[term].map(|steps| format!("{}\u{a0}{}", term.words(), number(steps.value, 1)));
    let terms: Vec<String> = terms.into_iter().filter_map(told).collect();
    let letters = Lettering::new(paper::BODY, paper::INK);
    let lines = std::iter::once(together).chain(letters.wrap(&terms.join(", "), width));
    for (line, words) in lines.enumerate() {
        page.text(at + DVec2::new(0.0, LINE * (line as f64 + 1.2)), &words, letters);
    }
}

/// Ours and the rules of thumb on the page, with their drawing.
#[must_use]
pub(super) fn html(plan: &Plan, picture: &str) -> String {
    let same = if plan.purchase.is_some() { "money spent" } else { "stock hung" };
    let head = format!("<h2>Compared with the same {same} by rules of thumb</h2>\n{picture}");
    let bass: Vec<Band> = Band::ALL.into_iter().filter(|band| plan.counts_bass(*band)).collect();
    let rows: Vec<Vec<String>> = plan
        .layouts
        .iter()
        .map(|layout| {
            let name = escape(&layout.name);
            let cost = layout.cost.map(money);
            let name = [if layout.name == "plan" { format!("<b>{name}</b>") } else { name }, layout.panels.to_string()];
            let figures = [
                plain(100.0 * layout.treated_share, 1),
                estimate(layout.figures.early_level_db, 1),
                plain(layout.figures.early_excess_db, 1),
                maybe(layout.figures.t_mid_s, 2),
            ];
            let bass = bass.iter().map(|&band| maybe(layout.figures.t30_s[band], 2));
            name.into_iter().chain(cost).chain(figures).chain(bass).collect()
        })
        .collect();
    let cost = plan.purchase.is_some().then_some("#cost");
    let figures = ["#treated, %", "#early level, dB re direct", "#over the line, dB", "#decay, s"];
    let bass: Vec<String> = bass.iter().map(|band| format!("#{} by waves, s", band.label())).collect();
    let headings = ["layout", "#panels"].into_iter().chain(cost).chain(figures).chain(bass.iter().map(String::as_str));
    head + &table(&headings.collect::<Vec<_>>(), &rows)
        + &score::faults(plan)
        + &format!(
            "<p class=\"quiet\">All judged on one fresh trace that no layout was made with. Corner panels and clouds are taken as flush there{}, so that the plan's row \
             differs from the figures above, which have each panel as built.</p>\n",
            text::suspended::flush_means(&plan.after.survey)
        )
}
