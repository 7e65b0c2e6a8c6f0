//! Two takes of a voice: how deep its loudness goes up and down and how its tone changed, in words and columns of the printed page, the takes equally loud as files, and both drawn in the strip beneath the stage.
//!
//! What is measured is a dot with an upright line that holds 95 of 100, what is predicted a ring with one.

use bevy_egui::egui::{Button, Color32, Ui, vec2};
use egui_plot::{HLine, HoverPosition, Line, Plot, PlotPoints, PlotUi};
use roomwright::prove::voice::{ProvedVoice, T95};
use roomwright::report::axis::Marks;
use roomwright::report::text::figures::{OCTAVES as NAMES, number};
pub(super) use roomwright::report::text::voice::heading;
use roomwright::report::text::voice::{CARE, DEPTH_HEADS, DEPTHS, NO_FILES, OCTAVE_HEADS, OCTAVES, about, depths, octave, reason};

use super::super::plots::{frame, title};
use super::super::say::{remark, section};
use super::super::table::Table;
use super::super::tokens::{ACCENT, GAP, INK, QUIET};
use super::super::{Asked, Shown};
use super::charts::dot;
use crate::command::Command;
use crate::pages::why_not;
use crate::proving::{ProveChoice, Proven};

/// The answer of a voice in front.
pub(super) fn answered(ui: &mut Ui, shown: Shown<'_>, (proven, one): (&Proven, &ProvedVoice), asked: &mut Asked) {
    section(ui, &heading(one));
    remark(ui, about(one));
    let mut table = Table::new(&DEPTH_HEADS);
    depths(one).into_iter().for_each(|row| _ = table.row(row));
    table.show(ui);
    remark(ui, reason(one).unwrap_or_else(|| DEPTHS.to_owned()));
    let mut table = Table::new(&OCTAVE_HEADS);
    one.octaves.iter().for_each(|each| _ = table.row(octave(each)));
    table.show(ui);
    remark(ui, OCTAVES);
    let why_not = why_not(shown.document, shown.results);
    let button = Button::new("Write the takes equally loud, with their page");
    if ui.add_enabled(why_not.is_empty(), button).on_disabled_hover_text(why_not).clicked() {
        asked.push(Command::Prove(ProveChoice::WriteVoices));
    }
    remark(ui, proven.heard(one).map_or_else(|| NO_FILES.to_owned(), |_| format!("Before, after, and both in turns. {CARE}")));
}

/// Share of the strip that the ups and downs take.
const DEPTH: f32 = 0.4;
/// Left and right of the middle of a rate: measured, predicted.
const ASIDE: [f64; 2] = [-0.12, 0.12];
/// Least change that the charts reach up and down to, dB.
const LEAST_DB: f64 = 3.0;

/// Both charts.
pub(super) fn charts(ui: &mut Ui, one: &ProvedVoice) {
    let size = ui.available_size();
    ui.horizontal_top(|ui| {
        ui.allocate_ui(vec2((size.x * DEPTH - GAP).max(60.0), size.y), |ui| ui.vertical(|ui| ups_and_downs(ui, one)));
        ui.vertical(|ui| tone(ui, one));
    });
}

/// A value and how far it is open to either side.
type Open = (f64, f64);

/// How much deeper loudness goes up and down, by times a second.
fn ups_and_downs(ui: &mut Ui, one: &ProvedVoice) {
    title(ui, &format!("How much clearer: {}", heading(one)), "dot: measured; ring: predicted; upright: 95 of 100");
    let changes = one.depth_change_db.iter().map(|change| {
        let measured: Option<Open> = change.measured.value.zip(change.measured_sure.map(|sure| T95 * sure));
        let predicted: Option<Open> =
            change.predicted.zip(change.predicted_scatter).map(|(predicted, scatter)| (predicted.value, 2.0 * predicted.se.hypot(scatter)));
        [measured, predicted]
    });
    let changes: Vec<[Option<Open>; 2]> = changes.collect();
    let reach = reach(changes.iter().flatten().flatten().copied());
    let names: Vec<String> = depths(one).into_iter().map(|[name, ..]| name).collect();
    let word = |place: f64| names.get(place.round() as usize).cloned().unwrap_or_default();
    let places = (0..changes.len()).map(|place| place as f64).collect();
    of_changes(frame("voice-depth", ("times a second", places), ("deeper by, dB", marks(reach)), word)).show(ui, |plot| {
        plot.set_plot_bounds_x(-0.6..=changes.len() as f64 - 0.4);
        level(plot, reach);
        for (place, both) in changes.iter().enumerate() {
            for ((open, aside), (name, color)) in both.iter().zip(ASIDE).zip([("measured", INK), ("predicted", ACCENT)]) {
                let Some((value, open)) = *open else { continue };
                upright(plot, (place as f64 + aside, value, open), color);
                dot(plot, name, [place as f64 + aside, value], color, color == ACCENT);
            }
        }
    });
}

/// How much more of the voice there is by octave, both takes equally loud.
fn tone(ui: &mut Ui, one: &ProvedVoice) {
    title(ui, "How its tone changed", "after re before, both equally loud");
    let known: Vec<(usize, f64)> =
        one.octaves.iter().enumerate().filter_map(|(place, octave)| Some((place + 1, octave.level_change_db.value?))).collect();
    let reach = reach(known.iter().map(|(_, change)| (*change, 0.0)));
    let word = |place: f64| NAMES.get(place.round() as usize).map_or_else(String::new, |name| (*name).to_owned());
    let places = (1..NAMES.len()).map(|place| place as f64).collect();
    of_changes(frame("voice-tone", ("octave, Hz", places), ("more by, dB", marks(reach)), word)).show(ui, |plot| {
        plot.set_plot_bounds_x(0.4..=NAMES.len() as f64 - 0.4);
        level(plot, reach);
        let line: Vec<[f64; 2]> = known.iter().map(|(place, change)| [*place as f64, *change]).collect();
        plot.line(Line::new("", line).color(INK).width(1.2).allow_hover(false));
        known.iter().for_each(|(place, change)| dot(plot, "measured", [*place as f64, *change], INK, false));
    });
}

/// Changes are told under the mouse.
fn of_changes(plot: Plot<'_>) -> Plot<'_> {
    plot.label_formatter(|at| match at {
        HoverPosition::NearDataPoint { plot_name, position, .. } => Some(format!("{plot_name}: {} dB", number(position.y, 1))),
        HoverPosition::Elsewhere { .. } => None,
    })
}

/// How far a chart goes up and down for all that it holds, dB.
fn reach(all: impl Iterator<Item = Open>) -> f64 {
    1.08 * all.map(|(value, open)| value.abs() + open).filter(|most| most.is_finite()).fold(LEAST_DB, f64::max)
}

fn marks(reach: f64) -> Vec<f64> {
    Marks::round(-reach, reach, 4).values().into_iter().filter(|mark| mark.abs() <= reach).collect()
}

/// The line of no change, in the middle.
fn level(plot: &mut PlotUi<'_>, reach: f64) {
    plot.set_plot_bounds_y(-reach..=reach);
    plot.hline(HLine::new("", 0.0).color(QUIET).width(1.0).allow_hover(false));
}

fn upright(plot: &mut PlotUi<'_>, (at, value, open): (f64, f64, f64), color: Color32) {
    let line = PlotPoints::from(vec![[at, value - open], [at, value + open]]);
    plot.line(Line::new("", line).color(color).width(1.5).allow_hover(false));
}
