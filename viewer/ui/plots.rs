//! What arrives at the seat and when, what that does to the tone, and how long it rings: with nothing hung pale, with what hangs dark.

use bevy_egui::egui::{Align2, Color32, Label, Rangef, RichText, Stroke, Ui, vec2};
use egui_plot::{
    AxisHints, Bar, BarChart, GridMark, HoverPosition, Line, LineStyle, MarkerShape, Plot, PlotPoint, PlotPoints, PlotUi, Points, Span,
    Text,
};
use roomwright::bands::Band;
use roomwright::findings::decay_times::{DecayTime, decay_times};
use roomwright::findings::{Findings, Pair};
use roomwright::plan::Curve;
use roomwright::report::axis::{Marks, print};
use roomwright::report::chart::{CRITERION_DB, decay_target};
use roomwright::report::text::figures::{OCTAVES, asked as wanted, half_width, number};
use roomwright::report::tone::{frequency, place};

use super::say::{choose_ear, label, pair};
use super::tokens::{ACCENT, CARD, GAP, INK, LINE, PALE, QUIET, SHADE, SOFT, quiet, subheading, table_letters};
use super::{Asked, Shown};
use crate::arrival::{self, Found};

/// How much of the curve is shown, ms.
const SHOWN_MS: f64 = 60.0;
/// Lowest level that is shown, dB re direct.
const LOWEST_DB: f64 = -50.0;
/// Shares of the strip that the arrivals and the tone take.
const ARRIVALS: f32 = 0.29;
const TONE: f32 = 0.36;
/// Levels of the tone that are shown, dB re direct.
const TONE_DB: (f64, f64) = (-30.0, 20.0);

/// The plots side by side.
pub(crate) fn plots(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let size = ui.available_size();
    let [arrivals, early] = [ARRIVALS, TONE].map(|share| vec2((size.x * share - GAP).max(60.0), size.y));
    ui.horizontal_top(|ui| {
        ui.allocate_ui(arrivals, |ui| ui.vertical(|ui| energy_time(ui, shown)));
        ui.allocate_ui(early, |ui| ui.vertical(|ui| tone(ui, shown, asked)));
        ui.vertical(|ui| decay(ui, shown));
    });
}

/// A title and what is drawn.
pub(super) fn title(ui: &mut Ui, text: &str, more: &str) {
    ui.spacing_mut().item_spacing.y = 1.0;
    ui.label(subheading(text));
    ui.add(Label::new(quiet(more)).truncate());
}

/// A plot that stays as it is drawn: nothing to drag or zoom. Marks along x and y; a word for each mark along x.
pub(super) fn frame<'a>(name: &str, x: (&str, Vec<f64>), y: (&str, Vec<f64>), word: impl Fn(f64) -> String + 'a) -> Plot<'a> {
    let axis = |hints: AxisHints<'a>, label: &str| {
        hints.label(quiet(label)).label_spacing(Rangef::new(3.0, 5.0)).tick_label_color(QUIET).tick_label_font(table_letters())
    };
    let marks = |places: Vec<f64>| {
        let step_size = places.get(1).zip(places.first()).map_or(1.0, |(second, first)| second - first);
        move |_| places.iter().map(|&value| GridMark { value, step_size }).collect::<Vec<_>>()
    };
    Plot::new(name)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .show_background(false)
        .grid_color(LINE)
        .grid_fade(0.0)
        .grid_spacing(Rangef::new(4.0, 6.0))
        .custom_x_axes(vec![axis(AxisHints::new_x(), x.0).formatter(move |mark, _| word(mark.value))])
        .custom_y_axes(vec![axis(AxisHints::new_y(), y.0).formatter(|mark, _| print(mark.value, mark.step_size))])
        .x_grid_spacer(marks(x.1))
        .y_grid_spacer(marks(y.1))
}

/// Marks for an axis from 0 to `high`, about four of them.
pub(super) fn marks_to(high: f64) -> Vec<f64> {
    Marks::round(0.0, high, 4).values().into_iter().filter(|mark| *mark <= high).collect()
}

/// Energy over time of the pair in front.
pub(crate) fn energy_time(ui: &mut Ui, shown: Shown<'_>) {
    let results = shown.results;
    let now = results.findings.as_ref().and_then(|known| pair(shown, &known.value));
    let bare = results.bare.as_ref().and_then(|known| pair(shown, &known.value));
    let hangs = results.scene.as_ref().is_some_and(|scene| !scene.panels.is_empty());
    let window = results.scene.as_ref().map_or(0.0, |scene| 1000.0 * scene.settings.window_s);
    let what = match (now, hangs) {
        (None, _) => "not known yet".to_owned(),
        (Some(now), true) => format!("{}; pale: bare, dark: as hung", label(Some(now))),
        (Some(now), false) => label(Some(now)),
    };
    title(ui, "What arrives, and when", &what);
    let chosen = chosen(shown);
    let tallest = chosen.map_or(0.0, |one| one.arrives()[1].max(0.0));
    let x = (0..=6).map(|step| 10.0 * f64::from(step)).collect();
    let top = tallest + 4.0;
    let y = (-5..=9).map(|step| 10.0 * f64::from(step)).filter(|level| *level <= top).collect();
    frame("energy-time", ("ms after the direct sound", x), ("dB re direct", y), |ms| number(ms, 0))
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { position, .. } | HoverPosition::Elsewhere { position } => {
                Some(format!("{} ms, {} dB", number(position.x, 1), number(position.y, 1)))
            }
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(0.0..=SHOWN_MS);
            plot.set_plot_bounds_y(LOWEST_DB..=top);
            plot.span(Span::new("", 0.0..=window).fill(SHADE).border_width(0.0));
            if let Some(bare) = bare.filter(|_| hangs) {
                plot.bar_chart(bars("bare", bare, 0.9, PALE));
            }
            if let Some(now) = now {
                plot.bar_chart(bars("as hung", now, if hangs { 0.55 } else { 1.2 }, INK));
            }
            let limit = PlotPoints::from(vec![[0.0, CRITERION_DB], [window, CRITERION_DB]]);
            plot.line(Line::new("criterion", limit).color(ACCENT).style(LineStyle::dashed_loose()));
            let words = RichText::new(format!("first {} ms, {} dB", number(window, 0), number(CRITERION_DB, 0))).color(ACCENT).size(11.0);
            plot.text(Text::new("", PlotPoint::new(window + 0.5, CRITERION_DB), words).anchor(Align2::LEFT_BOTTOM));
            if let Some(one) = chosen.filter(|one| one.arrives()[1] > LOWEST_DB) {
                mark(plot, one);
            }
        });
}

/// The arrival that is chosen, if it is one of the pair in front.
fn chosen(shown: Shown<'_>) -> Option<Found<'_>> {
    let choice = shown.view.arrival?;
    let (index, _) = arrival::in_front(shown.view, shown.results)?;
    (choice.pair == index).then(|| arrival::find(shown.results, choice)).flatten()
}

fn mark(plot: &mut PlotUi<'_>, one: Found<'_>) {
    let at = PlotPoints::from(vec![one.arrives()]);
    plot.points(Points::new("chosen", at).shape(MarkerShape::Circle).radius(4.0).color(ACCENT));
}

/// Bars from the foot of the plot to the level of each bin.
fn bars(name: &str, pair: &Pair, share: f64, color: Color32) -> BarChart {
    let bin = pair.energy_time.bin_ms;
    let levels = pair.energy_time.level_db.iter().enumerate().map(|(index, &level)| (bin * (index as f64 + 0.5), level));
    let seen = levels.take_while(|(at, _)| *at < SHOWN_MS).filter(|(_, level)| *level > LOWEST_DB);
    // A bar is drawn from its foot upward.
    let bars =
        seen.map(|(at, level)| Bar::new(at, level - LOWEST_DB).base_offset(LOWEST_DB).width(share * bin).fill(color).stroke(Stroke::NONE));
    BarChart::new(name, bars.collect()).allow_hover(false)
}

/// Level of the first sound over frequency at one ear of the pair in front.
pub(crate) fn tone(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let results = shown.results;
    let hangs = results.scene.as_ref().is_some_and(|scene| !scene.panels.is_empty());
    let ear = |known: Option<&'_ Findings>| {
        known.and_then(|known| pair(shown, known)).and_then(|pair| pair.early_responses.get(shown.view.ear).cloned())
    };
    let now = ear(results.findings.as_ref().map(|known| &*known.value));
    let bare = ear(results.bare.as_ref().map(|known| &*known.value)).filter(|_| hangs);
    ui.spacing_mut().item_spacing.y = 1.0;
    ui.label(subheading("Tone of the first sound"));
    ui.horizontal(|ui| {
        choose_ear(ui, shown, asked);
        let what = if now.is_some() { "gray: waves rule" } else { "not known yet" };
        ui.add(Label::new(quiet(what)).truncate());
    });
    let word = |octave: f64| OCTAVES.get(octave as usize).map_or_else(String::new, |name| (*name).to_owned());
    let x = (0..8).map(|octave| f64::from(octave) + 0.5).collect();
    let y = (-3..=2).map(|step| 10.0 * f64::from(step)).collect();
    let waves = results.findings.as_ref().map_or(0.0, |known| place(known.value.survey.schroeder_hz));
    frame("tone", ("Hz", x), ("dB re direct", y), word)
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { position, .. } | HoverPosition::Elsewhere { position } => {
                Some(format!("{} Hz, {} dB", number(frequency(position.x), 0), number(position.y, 1)))
            }
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(0.0..=8.0);
            plot.set_plot_bounds_y(TONE_DB.0..=TONE_DB.1);
            plot.span(Span::new("", 0.0..=waves).fill(LINE).border_width(0.0));
            for (response, color) in [(bare, PALE), (now, INK)] {
                let Some(response) = response else { continue };
                let points = response.frequency_hz.iter().zip(&response.level_db);
                let line: Vec<[f64; 2]> = points.map(|(&at, &level)| [place(at), level.max(TONE_DB.0)]).collect();
                plot.line(Line::new(response.at, PlotPoints::from(line)).color(color).width(1.2));
            }
        });
}

/// Decay time by octave, mean of the pairs, with the target of the use.
pub(crate) fn decay(ui: &mut Ui, shown: Shown<'_>) {
    let results = shown.results;
    let hangs = results.scene.as_ref().is_some_and(|scene| !scene.panels.is_empty());
    let now = results.findings.as_ref().map(|known| &*known.value);
    let bare = results.bare.as_ref().map(|known| &*known.value).filter(|_| hangs);
    let target = now.and_then(decay_target);
    let what = target.map_or_else(String::new, |target| format!("shaded: asked {}", wanted(target)));
    title(ui, "How long it rings", &what);
    let highest = [now, bare].into_iter().flatten().flat_map(highest).fold(0.3, f64::max);
    let word = |octave: f64| OCTAVES.get(octave.round() as usize).map_or_else(String::new, |name| (*name).to_owned());
    let x = (0..8).map(f64::from).collect();
    frame("decay", ("octave, Hz; hollow: statistical", x), ("decay, s", marks_to(1.1 * highest)), word)
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { position, .. } => Some(format!("{} s", number(position.y, 2))),
            HoverPosition::Elsewhere { .. } => None,
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(-0.6..=7.6);
            plot.set_plot_bounds_y(0.0..=1.1 * highest);
            if let Some(target) = target {
                let (low, high) = (target.low.unwrap_or(0.0), target.high.unwrap_or(1.1 * highest));
                plot.span(Span::new("", low..=high).axis(egui_plot::Axis::Y).fill(SHADE).border_width(0.0));
            }
            if let Some(bare) = bare {
                times(plot, "bare", bare, -0.12, PALE);
            }
            if let Some(now) = now {
                times(plot, "as hung", now, 0.0, INK);
            }
        });
}

/// Height of what is wrong after so many panels, points.
const HOW_MANY: f32 = 150.0;

/// What is wrong after so many panels, with its errors.
pub(super) fn how_many(ui: &mut Ui, curve: &Curve) {
    let all = curve.points.len().saturating_sub(1) as f64;
    let highest = 1.1 * curve.points.iter().map(|point| point.left_steps.value + half_width(point.left_steps)).fold(0.0, f64::max);
    frame("how-many", ("panels that hang", marks_to(all)), ("wrong, steps", marks_to(highest)), |panels| number(panels, 0))
        .height(HOW_MANY)
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { position, .. } => {
                Some(format!("{} panels: {} steps", number(position.x, 0), number(position.y, 1)))
            }
            HoverPosition::Elsewhere { .. } => None,
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(-0.5..=all + 0.5);
            plot.set_plot_bounds_y(0.0..=highest);
            let line: Vec<[f64; 2]> = curve.points.iter().map(|point| [f64::from(point.panels), point.left_steps.value]).collect();
            plot.line(Line::new("", PlotPoints::from(line)).color(INK).width(1.0).allow_hover(false));
            for point in &curve.points {
                let (x, value, half) = (f64::from(point.panels), point.left_steps.value, half_width(point.left_steps));
                let error = PlotPoints::from(vec![[x, value - half], [x, value + half]]);
                plot.line(Line::new("", error).color(INK).width(1.5).allow_hover(false));
                let color = if point.panels > curve.enough_panels { PALE } else { ACCENT };
                plot.points(Points::new("", PlotPoints::from(vec![[x, value]])).radius(3.5).color(color));
            }
        });
}

fn highest(findings: &Findings) -> impl Iterator<Item = f64> {
    decay_times(findings).0.into_iter().flatten().map(|time| time.time_s.value + half_width(time.time_s))
}

/// Points with their errors, joined; statistical octaves hollow and gray.
fn times(plot: &mut PlotUi<'_>, name: &str, findings: &Findings, aside: f64, color: Color32) {
    let times = decay_times(findings);
    let known: Vec<(f64, DecayTime)> =
        Band::ALL.iter().filter_map(|&band| times[band].map(|time| (band.index() as f64 + aside, time))).collect();
    let sure: Vec<[f64; 2]> = known.iter().filter(|(_, time)| !time.statistical).map(|(x, time)| [*x, time.time_s.value]).collect();
    plot.line(Line::new(name, PlotPoints::from(sure)).color(color).width(1.0).allow_hover(false));
    for (x, time) in known {
        let half = half_width(time.time_s);
        let ink = if time.statistical { SOFT } else { color };
        let error = PlotPoints::from(vec![[x, time.time_s.value - half], [x, time.time_s.value + half]]);
        plot.line(Line::new("", error).color(ink).width(1.5).allow_hover(false));
        let at = || PlotPoints::from(vec![[x, time.time_s.value]]);
        plot.points(Points::new(name, at()).radius(4.0).color(ink));
        if time.statistical {
            plot.points(Points::new("", at()).radius(2.5).color(CARD).allow_hover(false));
        }
    }
}
