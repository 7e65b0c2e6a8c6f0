//! What a recording says, drawn: decay by octave with both doubts, and what arrives when, beside what was predicted. What is measured is a dot or a full line, before is pale. What is predicted is a ring at a decay,
//! and of what arrives a dashed line and a diamond at each reflection, hollow where it is missing or not told apart.
//!
//! The dashed line is the sum of predicted bins within half a millisecond to either side, as what is measured is summed; it is drawn while the findings on screen are of the compared scene, and where a bin is
//! no longer than the millisecond.

use bevy_egui::egui::{Align2, Color32, Label, RichText, Ui, vec2};
use egui_plot::{HoverPosition, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotUi, Points, Span, Text};
use roomwright::findings::{EnergyTime, Findings};
use roomwright::prove::{Compared, Found, Proved};
use roomwright::report::text::figures::{OCTAVES, number};
use roomwright::report::text::prove::{found, heading};

use super::super::Shown;
use super::super::plots::{frame, marks_to, title};
use super::super::tokens::{ACCENT, CARD, GAP, INK, PALE, SHADE, quiet};
use super::decays;
use crate::proving::{Proven, Told, in_front};
use crate::results::Results;

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
    let Some((proven, one)) = in_front(shown.view, shown.results) else { return };
    let size = ui.available_size();
    ui.horizontal_top(|ui| {
        let arrivals = vec2((size.x * ARRIVALS - GAP).max(60.0), size.y);
        ui.allocate_ui(arrivals, |ui| ui.vertical(|ui| energy_time(ui, shown, proven, one)));
        ui.vertical(|ui| decay(ui, one, proven.proof.asked_s));
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
fn dot(plot: &mut PlotUi<'_>, name: &str, at: [f64; 2], color: Color32, is_ring: bool) {
    mark(plot, name, (at, MarkerShape::Circle), color, is_ring);
}

/// A mark of a shape, filled or hollow.
fn mark(plot: &mut PlotUi<'_>, name: &str, (at, shape): ([f64; 2], MarkerShape), color: Color32, is_hollow: bool) {
    plot.points(Points::new(name, PlotPoints::from(vec![at])).shape(shape).radius(POINT).color(color));
    if is_hollow {
        plot.points(Points::new("", PlotPoints::from(vec![at])).shape(shape).radius(HOLE).color(CARD).allow_hover(false));
    }
}

/// Within how much of an instant energy is summed, to either side, ms: as `roomwright::measured::early` does.
const REACH_MS: f64 = 0.5;

/// What the scene predicts of a recording, as it is measured: places, ms after the direct sound, and levels, dB re direct; `None` while findings are of another scene, of a clap, which is not where the source
/// is, and of bins that are coarser.
fn predicted(results: &Results, proven: &Proven, one: &Proved) -> Option<Vec<[f64; 2]>> {
    let findings: &Findings = &results.findings.as_ref().filter(|known| results.is_fresh(known) && results.shows(&proven.scene))?.value;
    let pair = findings.pairs.iter().find(|pair| pair.source == one.source && pair.receiver == one.receiver)?;
    let is_told = one.recording.signal != "clap" && pair.energy_time.bin_ms <= 2.0 * REACH_MS;
    is_told.then(|| summed(&pair.energy_time))
}

/// Energy within [`REACH_MS`] of where each bin begins: of a bin that lies there in part, that part.
fn summed(curve: &EnergyTime) -> Vec<[f64; 2]> {
    let bin = curve.bin_ms;
    let energies: Vec<f64> = curve.level_db.iter().map(|level| 10.0_f64.powf(0.1 * level)).collect();
    let reach = (REACH_MS / bin).ceil() as usize;
    let sum = |place: usize| {
        let at = place as f64 * bin;
        let bins = place.saturating_sub(reach)..(place + reach).min(energies.len());
        let within = |index: usize| {
            let begins = index as f64 * bin;
            ((begins + bin).min(at + REACH_MS) - begins.max(at - REACH_MS)).max(0.0) / bin
        };
        [at, 10.0 * bins.map(|index| within(index) * energies[index]).sum::<f64>().max(1e-12).log10()]
    };
    (0..energies.len()).map(sum).collect()
}

/// Energy over time as measured, of before and as predicted; predicted reflections at their places, filled where they are there; new ones as triangles.
fn energy_time(ui: &mut Ui, shown: Shown<'_>, proven: &Proven, one: &Proved) {
    let expected = predicted(shown.results, proven, one);
    let dashed = if expected.is_some() { "; dashed: predicted" } else { "" };
    let pale = if one.before.is_some() { "; pale: before" } else { "" };
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
            if let Some(expected) = expected {
                let seen = expected.into_iter().take_while(|[at, _]| *at <= SHOWN_MS).map(|[at, level]| [at, level.max(LEVELS_DB.0)]);
                let seen = PlotPoints::from(seen.collect::<Vec<_>>());
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

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use roomwright::bands::Bands;
    use roomwright::hanging::from_panels;
    use roomwright::progress::Progress;
    use roomwright::study;

    use super::*;
    use crate::results::{Generation, Known};
    use crate::test_box::{PROVEN, TAKEN, read, taking};

    fn curve(bin_ms: f64, level_db: Vec<f64>) -> EnergyTime {
        EnergyTime { bin_ms, level_db, decay_db: Bands::from_fn(|_| Vec::new()), decay_step_ms: 10.0 * bin_ms }
    }

    /// The direct sound is its own level where it arrives and for half a millisecond after; sound that is as dense everywhere has the energy of a millisecond, however fine the bins.
    #[test]
    fn exact_sums_of_bins() {
        for (bin_ms, more_db) in [(0.5, 10.0 * 2.0_f64.log10()), (0.25, 10.0 * 4.0_f64.log10()), (1.0, 0.0), (0.4, 10.0 * 2.5_f64.log10())]
        {
            let even = summed(&curve(bin_ms, vec![-20.0; 40]));
            assert!(even[5..35].iter().all(|[_, level]| (level - (more_db - 20.0)).abs() < 1e-9), "{bin_ms}: {:?}", even[20]);
        }
        let mut alone = vec![-120.0; 20];
        alone[0] = 0.0;
        let direct = summed(&curve(0.25, alone));
        assert!(direct[..3].iter().all(|[_, level]| level.abs() < 1e-6) && direct[3][1] < -100.0, "{:?}", &direct[..4]);
    }

    /// What the program itself hears, recorded: predicted and measured are the same energy from 5 ms to 40 ms, within what rays scatter.
    #[test]
    fn keeps_the_predicted_curve_at_what_is_measured() {
        let (scene, one, progress) = (&PROVEN.scene, &PROVEN.proof.recordings[0], Progress::new());
        let traced = study::trace_for_trials(&progress, scene, 6000).unwrap();
        let value = Arc::new(study::study(&progress, scene, &traced, &from_panels(scene, &traced.room, &scene.panels)).unwrap());
        let mut results = Results::default();
        results.show(Generation(1), scene);
        assert!(predicted(&results, &PROVEN, one).is_none());
        results.findings = Some(Known { generation: Generation(1), rays: 6000, value });
        let mean = |levels: &mut dyn Iterator<Item = [f64; 2]>| {
            let seen = levels.filter(|[at, _]| (5.0..SHOWN_MS).contains(at)).map(|[_, level]| 10.0_f64.powf(0.1 * level));
            let (sum, count) = seen.fold((0.0, 0.0), |(sum, count), energy| (sum + energy, count + 1.0));
            10.0 * (sum / count).log10()
        };
        let measured = one.energy_time.level_db.iter().enumerate().map(|(index, level)| [index as f64 * one.energy_time.step_ms, *level]);
        let [measured, predicted_db] = [mean(&mut measured.into_iter()), mean(&mut predicted(&results, &PROVEN, one).unwrap().into_iter())];
        assert!((measured - predicted_db).abs() < 1.0, "{measured} {predicted_db}");
        // A clap is not where the source is; and of another scene nothing is drawn.
        let mut clap = one.clone();
        clap.recording.signal = "clap".to_owned();
        assert!(predicted(&results, &PROVEN, &clap).is_none());
        results.show(Generation(2), &read(&taking(TAKEN[0]).replace("position = [0.6, 0.5, 0.4]", "position = [0.8, 0.5, 0.4]")));
        assert!(predicted(&results, &PROVEN, one).is_none());
    }
}
