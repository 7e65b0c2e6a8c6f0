//! The plan panel by panel: tables of the page, and the chart of what is wrong after so many panels.
//!
//! *Limits.* Lines between the points of the chart join them; there is no half a panel.

use glam::DVec2;

use crate::plan::{AfterPanels, Curve, Plan};

use super::axis::{self, Marks};
use super::chart::whisker;
use super::html::{estimate, list, maybe, table};
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look, escape};
use super::text::explain::{ALONE_AND_LAST, CORNERS, IN_ORDER, MOST_PERCENT, corners, how_many, most, sums};
use super::text::figures::number;
use super::text::score::known;

/// What each panel earns of the score, and how much is wrong after so many; `chart` is the HTML of the picture.
#[must_use]
pub(super) fn html(plan: &Plan, chart: &str) -> String {
    let Some(curve) = plan.curve.as_ref().filter(|curve| curve.points.len() > 1) else { return String::new() };
    let sums = sums(curve).map_or_else(String::new, |sums| format!("<p>{}</p>\n", escape(&signs(&sums))));
    format!(
        "<h2>What each panel earns of the score</h2>\n{}<p class=\"quiet\">{}</p>\n{sums}{}<h2>How many panels it takes</h2>\n{}{chart}{}<p class=\"quiet\">{}</p>\n",
        earnings(plan),
        escape(ALONE_AND_LAST),
        low_end(plan),
        list(&how_many(curve).iter().map(|sentence| signs(sentence)).collect::<Vec<_>>()),
        counts(curve),
        escape(IN_ORDER)
    )
}

/// Words of the terminal with the signs of print.
fn signs(words: &str) -> String {
    words.replace("+-", "\u{b1} ")
}

fn earnings(plan: &Plan) -> String {
    let terms = known(plan.placed.iter().map(|panel| &panel.earns.last_terms_steps));
    let rows: Vec<Vec<String>> = plan
        .placed
        .iter()
        .map(|panel| {
            let earns = &panel.earns;
            let own = [format!("<b>{}</b>", panel.number), escape(&panel.kind), estimate(earns.alone_steps, 1)];
            let last = format!("<b>{}</b>", estimate(earns.last_steps, 1));
            let cells = terms.iter().map(|&term| maybe(earns.last_terms_steps[term], 1));
            own.into_iter().chain([last]).chain(cells).chain([escape(&most(earns))]).collect()
        })
        .collect();
    let words = terms.iter().map(|term| format!("#{}", term.words()));
    let heads: Vec<String> = ["no.", "type", "#alone, steps", "#last, steps"]
        .map(str::to_owned)
        .into_iter()
        .chain(words)
        .chain(["most in".to_owned()])
        .collect();
    format!("<div class=\"scroll\">{}</div>\n", table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows))
}

/// What corner panels do for the bass; nothing where no waves were run.
fn low_end(plan: &Plan) -> String {
    let (heads, rows) = corners(plan);
    if rows.is_empty() {
        return String::new();
    }
    // A column is of numbers here where it is marked, and of words there.
    let heads: Vec<String> = heads.iter().map(|head| head.strip_prefix('<').map_or_else(|| format!("#{head}"), str::to_owned)).collect();
    let rows: Vec<Vec<String>> = rows.iter().map(|row| row.iter().map(|cell| escape(&signs(cell))).collect()).collect();
    let table = table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows);
    format!("<h2>What each corner panel does for the bass</h2>\n{table}<p class=\"quiet\">{}</p>\n", escape(CORNERS))
}

fn counts(curve: &Curve) -> String {
    let dash = || "\u{2013}".to_owned();
    let rows: Vec<Vec<String>> = curve
        .points
        .iter()
        .map(|point| {
            vec![
                format!("<b>{}</b>", point.panels),
                point.number.map_or_else(dash, |number| number.to_string()),
                maybe(point.adds_steps, 1),
                estimate(point.left_steps, 1),
                maybe(point.share_percent, 0),
            ]
        })
        .collect();
    table(&["#panels", "#the last is no.", "#it adds, steps", "#wrong then, steps", "#of what all earn, %"], &rows)
}

/// What is wrong after so many panels.
#[must_use]
pub(super) fn svg(curve: &Curve) -> String {
    let count = curve.points.len().saturating_sub(1).max(1) as f64;
    let mut page = Drawing::new((44.0 + 9.0 * count).clamp(150.0, 240.0), 112.0, paper::CARD);
    plot::title(&mut page, "How many panels it takes", &signs(&how_many(curve)[0]));
    let highest = curve.points.iter().map(|point| point.left_steps.value + whisker(point.left_steps)).fold(0.0, f64::max);
    let frame = Plot {
        area: Area::new(22.0, 22.0, page.size.x - 34.0, 64.0),
        x: Marks { low: 0.0, high: count, step: axis::step(count / 24.0).max(1.0) },
        y: Marks::round(0.0, highest, 5),
    };
    frame.draw_y(&mut page, "what is wrong, just noticed steps");
    most_of_it(&mut page, &frame, curve);
    let at = |point: &AfterPanels| frame.at(f64::from(point.panels), point.left_steps.value);
    page.polyline(&curve.points.iter().map(at).collect::<Vec<_>>(), Look::line(paper::INK, 0.35));
    let letters = Lettering::new(paper::SMALL, paper::INK).middle().rim(paper::CARD);
    for point in &curve.points {
        let (x, value, half) = (f64::from(point.panels), point.left_steps.value, whisker(point.left_steps));
        page.line(frame.at(x, value - half), frame.at(x, value + half), Look::line(paper::INK, 0.25));
        let is_over = point.panels > curve.enough_panels;
        page.circle(at(point), 0.9, Look::fill(if is_over { paper::PALE } else { paper::ACCENT }));
        if let Some(number) = point.number {
            page.text(frame.at(x, value + half) + DVec2::new(0.0, -1.8), &number.to_string(), letters);
        }
    }
    frame.draw_base(&mut page);
    frame.draw_x(&mut page, "panels that hang");
    let note = "numbers: the panel that is hung last, as in the plan; whiskers hold 95 of 100 repeats of the tracing";
    page.text(DVec2::new(22.0, 103.0), note, Lettering::new(paper::SMALL, paper::QUIET));
    if (curve.enough_panels as usize) + 1 < curve.points.len() {
        page.text(DVec2::new(22.0, 107.4), "pale: adds less than a tenth of a step", Lettering::new(paper::SMALL, paper::QUIET));
    }
    page.finish()
}

/// Where most of what all earn is reached.
fn most_of_it(page: &mut Drawing, frame: &Plot, curve: &Curve) {
    let (Some(bare), Some(_)) = (curve.points.first(), curve.earning(MOST_PERCENT)) else { return };
    let level = bare.left_steps.value - 0.01 * MOST_PERCENT * curve.gain_steps.value;
    let (from, to) = (frame.at(frame.x.low, level), frame.at(frame.x.high, level));
    page.line(from, to, Look::line(paper::ACCENT, 0.3).dashed(1.6, 0.9));
    let words = format!("{} % of what all earn", number(MOST_PERCENT, 0));
    page.text(from + DVec2::new(1.0, -1.2), &words, Lettering::new(paper::SMALL, paper::ACCENT).rim(paper::CARD));
}
