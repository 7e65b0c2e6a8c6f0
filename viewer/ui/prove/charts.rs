//! What a recording says, drawn: decay by octave with both doubts, and what arrives when, beside what was predicted. What is measured is a dot or a full line, before is pale. What is predicted is a ring at a decay,
//! and of what arrives a dashed line and a diamond at each reflection, hollow where it is missing or not told apart.

use bevy_egui::egui::{Align2, Color32, Label, RichText, Ui, vec2};
use egui_plot::{HoverPosition, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotUi, Points, Span, Text};
use roomwright::prove::{Compared, Found, Proved};
use roomwright::report::text::figures::{OCTAVES, number};
use roomwright::report::text::prove::{found, heading};

use super::super::Shown;
use super::super::plots::{frame, marks_to, title};
use super::super::tokens::{ACCENT, CARD, GAP, INK, PALE, SHADE, quiet};
use super::{asked_s, decays, voice};
use crate::proving::{Front, Told, front};

/// Share of the strip that the arrivals take.
const ARRIVALS: f32 = 0.58;
/// How much of the curve is shown, ms, and between which levels, dB.
const SHOWN_MS: f64 = 40.0;
const LEVELS_DB: (f64, f64) = (-50.0, 10.0);
/// Left and right of the middle of an octave: before, measured, predicted.
const ASIDE: [f64; 3] = [-0.22, 0.0, 0.22];
/// Radius of a point, and of the hole in a ring.
const POINT: f32 = 4.0;
const HOLE: f32 = 2.4;

/// Both, of the recording in front.
pub(crate) fn charts(ui: &mut Ui, shown: Shown<'_>) {
    let (proven, one) = match front(shown.view, shown.results) {
        Some((proven, Front::Recording(one))) => (proven, one),
        Some((_, Front::Voice(one))) => return voice::charts(ui, one),
        None => return,
    };
    let size = ui.available_size();
    ui.horizontal_top(|ui| {
        let arrivals = vec2((size.x * ARRIVALS - GAP).max(60.0), size.y);
        ui.allocate_ui(arrivals, |ui| ui.vertical(|ui| energy_time(ui, shown, one)));
        ui.vertical(|ui| decay(ui, one, asked_s(proven)));
    });
}

/// Decay by octave: before, measured with the scatter of the place, predicted with where inputs may move it.
fn decay(ui: &mut Ui, one: &Proved, asked: Option<[f64; 2]>) {
    let before = if one.before.is_some() { "; pale: before" } else { "" };
    let shade = if asked.is_some() { "; shade: asked" } else { "" };
    title(ui, "How long it rings", &format!("dot: measured; ring: predicted{before}{shade}"));
    let tops = decays(one).flat_map(|(_, decay)| {
        let measured = decay.measured.value.map(|value| value + 2.0 * decay.scatter.unwrap_or(0.0));
        let before = decay.before.as_ref().and_then(|before| before.value);
        [measured, decay.predicted.map(|predicted| predicted.value), decay.predicted_inputs.map(|inputs| inputs.high), before]
    });
    let highest = tops.flatten().chain(asked.map(|[_, high]| high)).filter(|value| value.is_finite()).fold(0.1, f64::max);
    let word = |octave: f64| OCTAVES.get(octave.round() as usize).map_or_else(String::new, |name| (*name).to_owned());
    let x = (0..8).map(f64::from).collect();
    frame("proved-decay", ("octave, Hz", x), ("decay, s", marks_to(1.08 * highest)), word)
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { plot_name, position, .. } => Some(format!("{plot_name}: {} s", number(position.y, 2))),
            HoverPosition::Elsewhere { .. } => None,
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(-0.6..=7.6);
            plot.set_plot_bounds_y(0.0..=1.08 * highest);
            if let Some([low, high]) = asked {
                plot.span(Span::new("", low..=high).axis(egui_plot::Axis::Y).fill(SHADE).border_width(0.0));
            }
            for (place, (_, decay)) in decays(one).enumerate() {
                octave(plot, place as f64, decay);
            }
        });
}

fn octave(plot: &mut PlotUi<'_>, place: f64, decay: &Compared) {
    let mut upright = |at: f64, low: f64, high: f64, color: Color32| {
        plot.line(Line::new("", PlotPoints::from(vec![[at, low], [at, high]])).color(color).width(1.5).allow_hover(false));
    };
    let [then, now, predicted] = ASIDE.map(|aside| place + aside);
    if let (Some(value), Some(scatter)) = (decay.measured.value, decay.scatter) {
        upright(now, (value - 2.0 * scatter).max(0.0), value + 2.0 * scatter, INK);
    }
    if let Some(inputs) = decay.predicted_inputs {
        upright(predicted, inputs.low, inputs.high, ACCENT);
    }
    if let Some(value) = decay.before.as_ref().and_then(|before| before.value) {
        dot(plot, "before", [then, value], PALE, false);
    }
    if let Some(value) = decay.measured.value {
        dot(plot, "measured", [now, value], INK, false);
    }
    if let Some(estimate) = decay.predicted {
        dot(plot, "predicted", [predicted, estimate.value], ACCENT, true);
    }
}

/// A point, filled or as a ring.
pub(super) fn dot(plot: &mut PlotUi<'_>, name: &str, at: [f64; 2], color: Color32, is_ring: bool) {
    mark(plot, name, (at, MarkerShape::Circle), color, is_ring);
}

/// A mark of a shape, filled or hollow.
fn mark(plot: &mut PlotUi<'_>, name: &str, (at, shape): ([f64; 2], MarkerShape), color: Color32, is_hollow: bool) {
    plot.points(Points::new(name, PlotPoints::from(vec![at])).shape(shape).radius(POINT).color(color));
    if is_hollow {
        plot.points(Points::new("", PlotPoints::from(vec![at])).shape(shape).radius(HOLE).color(CARD).allow_hover(false));
    }
}

/// Energy over time as measured, of before and as predicted; predicted reflections at their places, filled where they are there; new ones as triangles.
fn energy_time(ui: &mut Ui, shown: Shown<'_>, one: &Proved) {
    let pale = if one.before.is_some() { "; pale: before" } else { "" };
    let dashed = if one.energy_time.predicted.is_some() { "; dashed: predicted" } else { "" };
    title(ui, &format!("What arrives, and when: {}", heading(one)), &format!("line: measured{dashed}{pale}"));
    ui.add(Label::new(quiet("diamond: predicted, hollow: missing or not told apart; triangle: new")).truncate());
    let x = (0..=8).map(|step| 5.0 * f64::from(step)).collect();
    let y = (-5..=1).map(|step| 10.0 * f64::from(step)).collect();
    frame("proved-energy-time", ("ms after the direct sound", x), ("dB re direct", y), |ms| number(ms, 0))
        .label_formatter(move |at| match at {
            HoverPosition::NearDataPoint { plot_name, position, .. } if !plot_name.is_empty() => {
                Some(format!("{plot_name}\n{} ms, {} dB", number(position.x, 2), number(position.y, 1)))
            }
            HoverPosition::NearDataPoint { position, .. } | HoverPosition::Elsewhere { position } => {
                Some(format!("{} ms, {} dB", number(position.x, 1), number(position.y, 1)))
            }
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(0.0..=SHOWN_MS);
            plot.set_plot_bounds_y(LEVELS_DB.0..=LEVELS_DB.1);
            let curve = &one.energy_time;
            let mut line = |levels: &[f64], color: Color32| {
                let points = levels.iter().enumerate().map(|(index, level)| [index as f64 * curve.step_ms, level.max(LEVELS_DB.0)]);
                let seen: Vec<[f64; 2]> = points.take_while(|[at, _]| *at <= SHOWN_MS).collect();
                plot.line(Line::new("", PlotPoints::from(seen)).color(color).width(1.2).allow_hover(false));
            };
            if let Some(before) = &curve.before_level_db {
                line(before, PALE);
            }
            line(&curve.level_db, INK);
            if let Some(predicted) = &curve.predicted {
                let points = predicted.level_db.iter().enumerate();
                let points = points.map(|(index, level)| [index as f64 * predicted.step_ms, level.max(LEVELS_DB.0)]);
                let seen: Vec<[f64; 2]> = points.take_while(|[at, _]| *at <= SHOWN_MS).collect();
                plot.line(Line::new("", seen).color(ACCENT).width(1.0).style(LineStyle::dashed_dense()).allow_hover(false));
            }
            marked(plot, shown, one);
        });
}

fn marked(plot: &mut PlotUi<'_>, shown: Shown<'_>, one: &Proved) {
    let told = shown.view.proving.told;
    for (row, each) in one.reflections.iter().enumerate().filter(|(_, each)| each.delay_ms <= SHOWN_MS) {
        let is_hollow = matches!(each.found, Found::Missing | Found::NotToldApart);
        let name = format!("{}, {}", each.surfaces.join(", "), found(each.found));
        let at = [each.delay_ms, each.level_db];
        mark(plot, &name, (at, MarkerShape::Diamond), ACCENT, is_hollow);
        if told == Some(Told::Predicted(row)) {
            upright(plot, each.delay_ms, &name);
        }
    }
    for (row, each) in one.new_reflections.iter().enumerate().filter(|(_, each)| each.delay_ms <= SHOWN_MS) {
        let at = PlotPoints::from(vec![[each.delay_ms, each.level_db]]);
        plot.points(Points::new("", at).shape(MarkerShape::Down).radius(POINT).color(INK).allow_hover(false));
        if told == Some(Told::New(row)) {
            upright(plot, each.delay_ms, "new");
        }
    }
}

/// What is in front, with its name.
fn upright(plot: &mut PlotUi<'_>, at: f64, name: &str) {
    let line = PlotPoints::from(vec![[at, LEVELS_DB.0], [at, LEVELS_DB.1]]);
    plot.line(Line::new("", line).color(ACCENT).style(LineStyle::dashed_loose()).allow_hover(false));
    let words = RichText::new(name).color(ACCENT).size(11.0);
    plot.text(Text::new("", PlotPoint::new(at + 0.4, LEVELS_DB.1 - 1.0), words).anchor(Align2::LEFT_TOP));
}
