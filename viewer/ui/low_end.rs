//! What waves do below the rays: the button that runs them and what that takes, the level at the seat over frequency as on the printed page, dips and their walls, modes, and what of the
//! field the stage shows.
//!
//! A click or a drag on the chart puts a frequency in front, a click on a row a mode; the field in the room follows. All of it is drawn with the scene that it was studied in.

use bevy_egui::egui::{Align2, Button, ComboBox, DragValue, Label, RichText, Sense, Slider, Ui, vec2};
use egui_plot::{FilledArea, HoverPosition, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotUi, Points, Text, VLine};
use roomwright::findings::bass::{BassMode, BassStudy, LOWEST};
use roomwright::report::bass::{Frame, LEVELS, LIKELY, NAMED, frame as framed, frequency, octaves};
use roomwright::report::paper;
use roomwright::report::sheet::grouped;
use roomwright::report::text::bass::{COLUMNS, FLOOR, MODES, dips, heads, mode_heads, modes, modes_heading, places, sure, thirds, what};
use roomwright::report::text::figures::{length, number, optional};
use roomwright::scene::Scene;
use roomwright::study::{BassAsked, BassEffort, BassRun, OTHERS};
use roomwright::units::Length;

use super::errand::{errand, holds};
use super::plots::frame;
use super::say::{choose_pair, folded, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, CHART, INK, LINE, SOFT, quiet, table_letters, wrong};
use super::{Asked, Shown};
use crate::command::Command;
use crate::errand::{Errand, LowEnd};
use crate::low_end::{Effort, Look, LowEndChoice, response};
use crate::reason::without_options;

/// Height of the chart, points.
const HEIGHT: f32 = 250.0;
/// Points for a millimeter of the printed chart's lines.
const SCALE: f64 = 3.2;
/// Top frequencies to choose from, Hz.
const TOPS: [f64; 5] = [100.0, 125.0, 160.0, 200.0, 250.0];
/// Memory to choose from, bytes.
const MEMORIES: [u64; 5] = [2_000_000_000, 4_000_000_000, 8_000_000_000, 16_000_000_000, 32_000_000_000];
/// Opacity of where a level may lie, as printed.
const OPACITY: f32 = 0.55;

/// The section.
pub(super) fn low_end(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    section(ui, "The low end");
    wished(ui, shown, asked);
    errand(ui, shown, "Send waves through the room", Errand::LowEnd(shown.view.low_end.asked), asked);
    let Some(of) = shown.results.low_end.as_deref() else {
        remark(
            ui,
            "Below some 250 Hz sound goes round things and rings in modes, which rays do not know: there the wave equation is solved. The scene stays as it is.",
        );
        return;
    };
    holds(ui, shown, &of.scene, "run the waves again");
    match &of.found {
        Ok(BassRun { study, .. }) => found(ui, shown, (scene, of, study), asked),
        Err(why) => _ = ui.add(Label::new(wrong(why)).wrap()),
    }
}

/// What the next study is asked, and what it takes.
fn wished(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let now = shown.view.low_end.asked;
    ui.horizontal_wrapped(|ui| {
        ui.label("up to");
        let name = |top: f64| format!("{} Hz", number(top, 0));
        ComboBox::from_id_salt("top").selected_text(name(now.top_hz)).show_ui(ui, |ui| {
            for top_hz in TOPS {
                if ui.selectable_label(top_hz == now.top_hz, name(top_hz)).clicked() {
                    asked.push(Command::LowEnd(LowEndChoice::Ask(BassAsked { top_hz, ..now })));
                }
            }
        });
        ui.label("memory");
        let name = |memory: u64| format!("{} GB", number(memory as f64 / 1e9, 0));
        ComboBox::from_id_salt("memory").selected_text(name(now.memory)).show_ui(ui, |ui| {
            for memory in MEMORIES {
                if ui.selectable_label(memory == now.memory, name(memory)).clicked() {
                    asked.push(Command::LowEnd(LowEndChoice::Ask(BassAsked { memory, ..now })));
                }
            }
        });
        let mut has_others = now.others > 0;
        let why = "Tables of absorption leave open what walls do at low frequencies; rooms within that tell where figures may lie.";
        if ui.checkbox(&mut has_others, "how sure, by other walls").on_hover_text(why).changed() {
            let others = if has_others { OTHERS } else { 0 };
            asked.push(Command::LowEnd(LowEndChoice::Ask(BassAsked { others, ..now })));
        }
    });
    match shown.results.effort.as_ref().map(|Effort { found, .. }| found) {
        Some(Ok(effort)) => remark(ui, format!("Takes {}.", takes(effort, "cells twice as large"))),
        Some(Err(why)) => _ = ui.add(Label::new(wrong(why)).wrap()),
        None => {}
    }
}

/// Whether a plan or places for the set are told their low end by waves, and what these take.
pub(super) fn by_waves(ui: &mut Ui, shown: Shown<'_>, effort: Option<&Result<BassEffort, String>>, asked: &mut Asked) {
    let mut by_waves = shown.view.low_end.by_waves;
    let why = "Without waves octaves below Schroeder's frequency are a statistical reading that nothing is judged by; that is quicker.";
    if ui.checkbox(&mut by_waves, "low end by waves").on_hover_text(why).changed() {
        asked.push(Command::LowEnd(LowEndChoice::ByWaves(by_waves)));
    }
    let top = number(shown.view.low_end.asked.top_hz, 0);
    match effort.filter(|_| shown.view.low_end.by_waves) {
        Some(Ok(effort)) => {
            remark(ui, format!("Waves up to {top} Hz, as the step hear asks, take at most {}.", takes(effort, "larger cells")));
        }
        Some(Err(why)) => _ = ui.add(Label::new(wrong(format!("Rays alone: {why}."))).wrap()),
        None => {}
    }
}

/// `2 runs through 38,000 cells of 50 mm, 120 MB, about 2 minutes (less where the room rings out soon)`
fn takes(effort: &BassEffort, larger_cells: &str) -> String {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let minutes = effort.seconds(threads) / 60.0;
    let time = if minutes < 1.0 { "less than a minute".to_owned() } else { format!("about {} minutes", number(minutes.ceil(), 0)) };
    let larger = match effort.larger_runs {
        0 => String::new(),
        runs => format!(" and {runs} in {larger_cells}"),
    };
    let (cells, mm) = (grouped(u32::try_from(effort.cells).unwrap_or(u32::MAX)), number(1000.0 * effort.cell_m, 0));
    let runs = if effort.runs == 1 { "1 run".to_owned() } else { format!("{} runs", effort.runs) };
    format!(
        "{runs} through {cells} cells of {mm} mm{larger}, {} MB, {time} (less where the room rings out soon)",
        number(effort.memory_mb, 0)
    )
}

fn found(ui: &mut Ui, shown: Shown<'_>, (now, of, study): (&Scene, &LowEnd, &BassStudy), asked: &mut Asked) {
    let scene = &*of.scene;
    remark(ui, what(study));
    who(ui, shown, study, asked);
    let index = response(study, scene, shown.view);
    let Some(index) = index.filter(|_| scene.sources.len() == now.sources.len()) else {
        remark(ui, "It was not studied from there to there.");
        return;
    };
    let told = &study.stands.responses[index];
    if let Some(shown_frame) = framed(study, index) {
        chart(ui, shown, study, &shown_frame, asked);
    }
    field(ui, shown, of, asked);
    for line in dips(told) {
        ui.add(Label::new(line).wrap());
    }
    mode_list(ui, shown, study, asked);
    folded(ui, "Third octaves", |ui| {
        let mut table = Table::new(&heads(study));
        for row in thirds(told, study.bare.as_ref().and_then(|bare| bare.responses.get(index))) {
            table.row(row);
        }
        table.show(ui);
        remark(ui, COLUMNS);
    });
    if let Some(floor) = &study.stands.floor {
        folded(ui, FLOOR, |ui| places(scene, floor).into_iter().for_each(|line| remark(ui, line)));
    }
    folded(ui, "How sure the low end is", |ui| {
        sure(scene, study).iter().for_each(|line| remark(ui, format!("- {}", without_options(line))));
    });
}

/// From whom to whom.
fn who(ui: &mut Ui, shown: Shown<'_>, study: &BassStudy, asked: &mut Asked) {
    ui.push_id("low end", |ui| choose_pair(ui, shown, asked));
    if study.stands.responses.iter().any(|response| response.sources.len() > 1) {
        let mut together = shown.view.low_end.together;
        if ui.checkbox(&mut together, "all loudspeakers together, in phase").changed() {
            asked.push(Command::LowEnd(LowEndChoice::Together(together)));
        }
    }
}

/// Level over frequency; a click or a drag puts a frequency in front.
fn chart(ui: &mut Ui, shown: Shown<'_>, study: &BassStudy, drawn: &Frame<'_>, asked: &mut Asked) {
    ui.add(Label::new(quiet(&drawn.heading)).wrap());
    let x = NAMED.into_iter().filter(|frequency| *frequency <= study.top_hz).map(octaves).collect();
    let plot = frame("low end", ("frequency, Hz", x), ("level, dB re free field", LEVELS.values()), |at| number(frequency(at), 0));
    let chosen = chosen(shown, study);
    let at = plot
        .height(HEIGHT)
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { position, .. } | HoverPosition::Elsewhere { position } => {
                Some(format!("{} Hz, {} dB", number(frequency(position.x), 1), number(position.y, 1)))
            }
        })
        .show(ui, |plot| {
            // The last figure is not cut.
            plot.set_plot_bounds_x(0.0..=(1.0 + CHART.rim) * octaves(study.top_hz));
            plot.set_plot_bounds_y(LEVELS.low..=LEVELS.high);
            curves(plot, study, drawn);
            ticks(plot, study);
            let upright = VLine::new("in front", octaves(chosen)).color(ACCENT).width(1.5).allow_hover(false);
            plot.vline(if shown.view.low_end.mode.is_some() { upright } else { upright.style(LineStyle::dashed_dense()) });
            let is_meant = plot.response().clicked() || plot.response().dragged();
            is_meant.then(|| plot.pointer_coordinate()).flatten()
        })
        .inner;
    if let Some(at) = at {
        let meant = frequency(at.x.clamp(0.0, octaves(study.top_hz)));
        if shown.view.low_end.mode.is_some() || (meant - shown.view.low_end.frequency_hz).abs() > 1e-9 {
            asked.push(Command::LowEnd(LowEndChoice::Frequency(meant)));
        }
    }
    ui.horizontal_wrapped(|ui| {
        let curves = drawn.curves.iter().map(|curve| (curve.color, curve.name));
        for (color, words) in curves.chain(drawn.likely.map(|_| (paper::LINE, LIKELY))) {
            let (rect, _) = ui.allocate_exact_size(vec2(CHART.swatch, CHART.swatch), Sense::hover());
            ui.painter().rect_filled(rect, 0.0, screen(color));
            ui.label(quiet(words));
        }
        ui.label(quiet("0 dB: free field; ticks: modes"));
    });
}

/// The frequency in front, Hz: that of the mode, if one is.
fn chosen(shown: Shown<'_>, study: &BassStudy) -> f64 {
    let mode = shown.view.low_end.mode.and_then(|mode| study.stands.modes.get(mode));
    mode.map_or(shown.view.low_end.frequency_hz.min(study.top_hz), |mode| mode.frequency_hz)
}

fn screen(color: paper::Color) -> bevy_egui::egui::Color32 {
    bevy_egui::egui::Color32::from_rgb(color.0, color.1, color.2)
}

/// Where the level may lie, free field, the bare room's level, the room's, named dips.
fn curves(plot: &mut PlotUi<'_>, study: &BassStudy, drawn: &Frame<'_>) {
    let along = |levels: &[f64]| -> Vec<[f64; 2]> {
        study
            .frequencies_hz
            .iter()
            .zip(levels)
            .map(|(frequency, level)| [octaves(*frequency), level.clamp(LEVELS.low, LEVELS.high)])
            .collect()
    };
    if let Some([low, high]) = drawn.likely {
        let within = |levels: &[f64]| -> Vec<f64> { levels.iter().map(|level| level.clamp(LEVELS.low, LEVELS.high)).collect() };
        let places: Vec<f64> = study.frequencies_hz.iter().copied().map(octaves).collect();
        let area = FilledArea::new(LIKELY, &places, &within(low), &within(high));
        plot.add(area.fill_color(LINE.gamma_multiply(OPACITY)).allow_hover(false));
    }
    let free = PlotPoints::from(vec![[0.0, 0.0], [octaves(study.top_hz), 0.0]]);
    plot.line(Line::new("", free).color(INK).width(1.0).style(LineStyle::dashed_loose()).allow_hover(false));
    for curve in drawn.curves.iter().rev() {
        let points = PlotPoints::from(along(curve.level_db));
        plot.line(Line::new(curve.name, points).color(screen(curve.color)).width((SCALE * curve.width) as f32));
    }
    for (frequency, level, words) in &drawn.dips {
        let at = PlotPoint::new(octaves(*frequency), level.max(LEVELS.low + 0.5 * LEVELS.step));
        let words = RichText::new(words).color(ACCENT).font(table_letters());
        plot.text(Text::new("", at, words).anchor(Align2::CENTER_TOP));
    }
}

/// A tick for each mode at the foot.
fn ticks(plot: &mut PlotUi<'_>, study: &BassStudy) {
    let points: Vec<[f64; 2]> = study.stands.modes.iter().map(|mode| [octaves(mode.frequency_hz), LEVELS.low + 1.0]).collect();
    plot.points(
        Points::new("modes", PlotPoints::from(points)).shape(MarkerShape::Up).radius(CHART.point + 1.0).color(SOFT).allow_hover(false),
    );
}

/// What of the field the stage shows.
fn field(ui: &mut Ui, shown: Shown<'_>, of: &LowEnd, asked: &mut Asked) {
    let Ok(BassRun { study, fields, .. }) = &of.found else { return };
    let chosen = &shown.view.low_end;
    let mut choose = |choice: LowEndChoice| asked.push(Command::LowEnd(choice));
    ui.horizontal_wrapped(|ui| {
        let mut hertz = self::chosen(shown, study);
        let value = DragValue::new(&mut hertz).range(LOWEST..=study.top_hz).speed(0.25).suffix(" Hz").fixed_decimals(1);
        if ui.add(value).on_hover_text("Also by a drag on the chart").changed() {
            choose(LowEndChoice::Frequency(hertz));
        }
        ui.label("in the room");
        for (look, words) in [(None, "nothing"), (Some(Look::Level), "level"), (Some(Look::Pressure), "pressure")] {
            if ui.selectable_label(chosen.field == look, words).clicked() {
                choose(LowEndChoice::Field(look));
            }
        }
        if ui.add_enabled(chosen.field.is_some(), Button::new(if chosen.playing { "Hold it" } else { "Let it swing" })).clicked() {
            choose(LowEndChoice::Play(!chosen.playing));
        }
    });
    let heights = fields.heights();
    let (Some(&low), Some(&high)) = (heights.first(), heights.last()) else { return };
    let ear = shown.results.room.as_ref().and_then(|room| Some(room.value.receivers.get(shown.view.receiver)?.position.z));
    ui.horizontal(|ui| {
        ui.label("height");
        let mut height = chosen.height_m.or(ear).unwrap_or(low);
        let unit = of.scene.unit;
        ui.spacing_mut().slider_width = (ui.available_width() - 150.0).max(80.0);
        let slider = Slider::new(&mut height, low..=high)
            .custom_formatter(move |meters, _| Length((meters * 100.0).round() / 100.0).print(unit))
            .custom_parser(move |text| Length::read(text, unit).ok().map(|length| length.0));
        let apart = length(fields.apart_m, &of.scene);
        if ui.add(slider).on_hover_text(format!("Over the floor; put together from places {apart} apart")).changed() {
            choose(LowEndChoice::Height(Some(height)));
        }
        if chosen.height_m.is_some() && ui.button("at the ear").clicked() {
            choose(LowEndChoice::Height(None));
        }
    });
}

/// Modes; a click puts one in front, a second one lets it go.
fn mode_list(ui: &mut Ui, shown: Shown<'_>, study: &BassStudy, asked: &mut Asked) {
    section(ui, &modes_heading(study));
    if study.stands.modes.is_empty() {
        remark(ui, "None stands apart.");
        return;
    }
    let seat = study.receivers.get(shown.view.receiver).map_or("", String::as_str);
    let has_spans = study.stands.modes.iter().any(|mode| mode.frequency_span_hz.is_some());
    let at = format!("at {seat}, dB");
    let columns: Vec<&str> = ["Hz", "likely", "decay, s", &at].into_iter().filter(|head| has_spans || *head != "likely").collect();
    let mut table = Table::new(&columns);
    let (heads, all) = (mode_heads(study), modes(study));
    for (index, mode) in study.stands.modes.iter().enumerate() {
        let more: Vec<String> =
            heads.iter().zip(all.get(index).into_iter().flatten()).map(|(head, cell)| format!("{head}: {cell}")).collect();
        table.row(cells(mode, shown.view.receiver, has_spans)).chosen(shown.view.low_end.mode == Some(index)).hint(more.join("\n"));
    }
    if let Some(row) = table.choose(ui) {
        asked.push(Command::LowEnd(LowEndChoice::Mode((shown.view.low_end.mode != Some(row)).then_some(row))));
    }
    remark(ui, MODES);
}

fn cells(mode: &BassMode, receiver: usize, has_spans: bool) -> Vec<String> {
    let likely =
        mode.frequency_span_hz.map_or_else(|| "-".to_owned(), |span| format!("{} to {}", number(span.low, 1), number(span.high, 1)));
    let level = mode.at_receivers_db.get(receiver).map_or_else(String::new, |level| number(*level, 0));
    let own = [number(mode.frequency_hz, 1)].into_iter().chain(has_spans.then_some(likely));
    own.chain([optional(mode.decay_s, 2), level]).collect()
}
