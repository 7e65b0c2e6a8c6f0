//! A cloud against its height: how high and why, the frames of the printed chart above one axis of heights, every height in figures, what else
//! was tried; and the button that hangs it at the chosen height.
//!
//! All of it is drawn with the scene that it was studied in.

use bevy_egui::egui::{Button, Label, Sense, Ui, vec2};
use egui_plot::{HoverPosition, Line, LineStyle, PlotPoints, PlotUi, Points, Span, VLine};
use roomwright::report::axis::{self, Marks};
use roomwright::report::cloud::{Frame, Line as Drawn, across, frames, gaps, marks, on_tape, tape_symbol};
use roomwright::report::text::cloud::{FIGURES, by_reason, columns, figures, heading, rays, standing, what, without};
use roomwright::report::text::figures::{length, length_head, number};
use roomwright::scene::{PanelPlace, Scene, StockKind};
use roomwright::study::{CloudAsked, CloudStudy};

use super::absorbers::{look, piece};
use super::errand::{errand, holds};
use super::forms::cloud::OVERHEAD;
use super::plots::frame;
use super::say::{folded, remark, section};
use super::table::Table;
use super::tokens::{ACCENT, CHART, INK, LINE, SHADE, quiet, small, wrong};
use super::{Asked, Shown};
use crate::command::Command;
use crate::errand::Errand;

/// Points for a millimeter of the printed chart.
const SCALE: f32 = 3.2;

/// The section; nothing where the scene speaks of no cloud.
pub(super) fn cloud(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) {
    let hangs = scene.panels.iter().any(|panel| matches!(panel.place, PanelPlace::Cloud(_)));
    let is_in_stock = scene.stock.iter().any(|kind| kind.kind == StockKind::Cloud && kind.count > 0);
    if !hangs && !is_in_stock && shown.results.cloud.is_none() {
        return;
    }
    section(ui, "How high the cloud hangs");
    errand(ui, shown, "Try the cloud at every height", Errand::Cloud(wanted(shown, scene)), asked);
    let Some(of) = shown.results.cloud.as_deref() else {
        remark(
            ui,
            "The room is traced anew at each height, which takes a minute and more; the scene stays as it is until you hang the cloud.",
        );
        return;
    };
    let is_fresh = holds(ui, shown, &of.scene, "try the cloud again");
    match &of.found {
        Ok(study) => found(ui, shown, (&of.scene, study), is_fresh, asked),
        Err(why) => _ = ui.add(Label::new(wrong(why)).wrap()),
    }
}

/// The cloud that hangs, or from the stock the type that is chosen if it is one.
fn wanted(shown: Shown<'_>, scene: &Scene) -> CloudAsked {
    let chosen = shown.view.stock.and_then(|kind| scene.stock.get(kind)).filter(|kind| kind.kind == StockKind::Cloud);
    CloudAsked { kind: chosen.map(|kind| kind.name.clone()), ..CloudAsked::default() }
}

fn found(ui: &mut Ui, shown: Shown<'_>, (scene, study): (&Scene, &CloudStudy), is_fresh: bool, asked: &mut Asked) {
    remark(ui, what(scene, study));
    for reason in &study.reasons {
        ui.add(Label::new(reason).wrap());
    }
    let chosen = shown.view.height.filter(|number| study.heights.iter().any(|one| one.number == *number)).unwrap_or(study.best);
    if let Some(one) = study.heights.iter().find(|one| one.number == chosen) {
        let verb = if study.hung_panel_number.is_some() { "Take it to" } else { "Hang it at" };
        let which = if chosen == study.best { ", the best height" } else { "" };
        let button = ui.add_enabled(is_fresh, Button::new(format!("{verb} {}{which}", length(one.underside_m, scene))));
        if button.on_disabled_hover_text("The scene has changed since; try the cloud again.").clicked() {
            asked.push(Command::TakeCloud(chosen));
        }
        remark(ui, format!("{} of headroom below its lowest edge. {OVERHEAD}", length(one.headroom_m, scene)));
    }
    chart(ui, scene, study, chosen);
    folded(ui, "Every height in figures", |ui| heights(ui, scene, study, chosen, asked));
    besides(ui, scene, study);
    folded(ui, "How sure the heights are", |ui| {
        remark(ui, rays(study));
        for note in &study.notes {
            remark(ui, format!("- {note}"));
        }
    });
}

/// All frames over one axis, each with its title, its unit and what its lines are.
fn chart(ui: &mut Ui, scene: &Scene, study: &CloudStudy, chosen: usize) {
    section(ui, "The cloud against its height");
    let x = across(scene, study);
    let all = frames(scene, study);
    for (index, one) in all.iter().enumerate() {
        ui.label(small(one.name));
        lines(ui, one);
        let is_last = index + 1 == all.len();
        draw(ui, (scene, study, chosen), one, x, is_last);
    }
    ui.horizontal_wrapped(|ui| {
        let mut entries = vec![("best height", ACCENT), ("not told apart from it", SHADE)];
        if !study.left_out.is_empty() {
            entries.push(("does not fit", LINE));
        }
        for (words, color) in entries {
            let (rect, _) = ui.allocate_exact_size(vec2(CHART.swatch, CHART.swatch), Sense::hover());
            ui.painter().rect_filled(rect, 0.0, color);
            ui.label(quiet(words));
        }
    });
}

/// What the lines of a frame are.
fn lines(ui: &mut Ui, frame: &Frame) {
    ui.horizontal_wrapped(|ui| {
        for (index, line) in frame.lines.iter().enumerate() {
            piece(ui, vec2(CHART.sample, CHART.swatch), index + 1, CHART.line);
            ui.label(quiet(&line.name));
        }
        if frame.lines.iter().any(|line| line.without.is_some()) {
            ui.label(quiet("dotted thin: without the cloud"));
        }
    });
}

fn draw(ui: &mut Ui, (scene, study, chosen): (&Scene, &CloudStudy, usize), one: &Frame, x: Marks, is_last: bool) {
    let y = marks(one);
    let below = if is_last { format!("underside over the floor, {}", tape_symbol(scene.unit)) } else { String::new() };
    let step = x.step;
    let plot = frame(one.name, (&below, x.values()), (one.unit, y.values()), move |height| axis::print(height, step));
    plot.y_axis_min_width(CHART.figures)
        .height(one.height as f32 * SCALE)
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { plot_name, index, .. } => told(scene, study, one, plot_name, *index),
            HoverPosition::Elsewhere { .. } => None,
        })
        .show(ui, |plot| {
            let [(left, right), (low, high)] = [x, y].map(|marks| {
                // Points and figures at the ends are not cut.
                let rim = CHART.rim * (marks.high - marks.low);
                (marks.low - rim, marks.high + rim)
            });
            plot.set_plot_bounds_x(left..=right);
            plot.set_plot_bounds_y(low..=high);
            behind(plot, scene, study, chosen);
            for (index, line) in one.lines.iter().enumerate() {
                curve(plot, scene, study, (index, line), x);
            }
        });
}

/// Heights alike, heights at which it does not fit, the best one, the chosen one.
fn behind(plot: &mut PlotUi<'_>, scene: &Scene, study: &CloudStudy, chosen: usize) {
    let at = |meters: f64| on_tape(meters, scene.unit);
    let [low, high] = study.alike_m.map(at);
    plot.span(Span::new("", low..=high).fill(SHADE).border_width(0.0));
    for [low, high] in gaps(study) {
        plot.span(Span::new("", at(low)..=at(high)).fill(LINE).border_width(0.0));
    }
    let upright = |meters: f64| VLine::new("", at(meters)).allow_hover(false);
    if let Some(best) = study.best() {
        plot.vline(upright(best.underside_m).color(ACCENT).style(LineStyle::dashed_dense()));
    }
    if let Some(one) = study.heights.iter().find(|one| one.number == chosen && chosen != study.best) {
        plot.vline(upright(one.underside_m).color(INK));
    }
}

/// A line with its errors, broken where the cloud does not fit between two heights.
fn curve(plot: &mut PlotUi<'_>, scene: &Scene, study: &CloudStudy, (index, line): (usize, &Drawn), x: Marks) {
    let (color, style) = look(index + 1);
    if let Some(without) = line.without {
        let across = PlotPoints::from(vec![[x.low, without], [x.high, without]]);
        plot.line(Line::new("", across).color(color).style(LineStyle::dotted_dense()).width(1.0).allow_hover(false));
    }
    let known = || study.heights.iter().zip(&line.values).filter_map(|(one, value)| value.map(|value| (one.underside_m, value)));
    let mut pieces: Vec<Vec<[f64; 2]>> = vec![Vec::new()];
    let mut last = f64::INFINITY;
    for (height, (value, half)) in known() {
        if study.left_out.iter().any(|out| out.underside_m > last && out.underside_m < height) {
            pieces.push(Vec::new());
        }
        last = height;
        let at = on_tape(height, scene.unit);
        pieces.last_mut().into_iter().for_each(|piece| piece.push([at, value]));
        if half > 0.0 {
            let error = PlotPoints::from(vec![[at, value - half], [at, value + half]]);
            plot.line(Line::new("", error).color(color).width(1.0).allow_hover(false));
        }
    }
    for piece in pieces {
        plot.line(Line::new("", PlotPoints::from(piece)).color(color).style(style).width(CHART.line).allow_hover(false));
    }
    let points: Vec<[f64; 2]> = known().map(|(height, (value, _))| [on_tape(height, scene.unit), value]).collect();
    plot.points(Points::new(&line.name, PlotPoints::from(points)).radius(CHART.point).color(color));
}

/// What is said of a point.
fn told(scene: &Scene, study: &CloudStudy, one: &Frame, name: &str, index: usize) -> Option<String> {
    let line = one.lines.iter().find(|line| line.name == name)?;
    let known = study.heights.iter().zip(&line.values).filter_map(|(height, value)| value.map(|value| (height, value)));
    let (height, (value, half)) = known.into_iter().nth(index)?;
    let error = if half > 0.0 { format!(" +-{}", number(half, 1)) } else { String::new() };
    let [up, below, above] = [height.underside_m, height.headroom_m, height.air_above_m].map(|meters| length(meters, scene));
    Some(format!("{name}: {}{error} {}\nunderside {up}, headroom {below}, air above {above}", number(value, 1), one.unit))
}

/// Every height; a click chooses it.
fn heights(ui: &mut Ui, scene: &Scene, study: &CloudStudy, chosen: usize, asked: &mut Asked) {
    let places = [length_head("height", scene), "<".to_owned(), length_head("headroom", scene), length_head("air", scene)];
    let mut table = Table::new(&places.iter().map(String::as_str).chain(FIGURES).collect::<Vec<_>>());
    for one in &study.heights {
        let [height, headroom, air] = [one.underside_m, one.headroom_m, one.air_above_m].map(|meters| on(meters, scene));
        let cells = [height, standing(one, study.best), headroom, air].into_iter().chain(figures(one));
        table.row(cells).chosen(one.number == chosen);
    }
    if let Some(one) = table.choose(ui).and_then(|row| study.heights.get(row)) {
        asked.push(Command::ChooseHeight((one.number != study.best).then_some(one.number)));
    }
    let mut bare = Table::new(&["<"].into_iter().chain(FIGURES).collect::<Vec<_>>());
    bare.row(std::iter::once("without it".to_owned()).chain(without(study)));
    bare.show(ui);
    for line in columns(study) {
        remark(ui, line);
    }
    for (heights, reason) in by_reason(&study.left_out) {
        remark(ui, format!("Does not fit at {heights}: {reason}."));
    }
}

fn on(meters: f64, scene: &Scene) -> String {
    roomwright::report::text::cloud::on_tape(meters, scene)
}

/// What else was tried at the best height.
fn besides(ui: &mut Ui, scene: &Scene, study: &CloudStudy) {
    for besides in study.besides.iter().filter(|besides| !besides.variants.is_empty() || !besides.left_out.is_empty()) {
        folded(ui, heading(besides), |ui| {
            remark(ui, "At the best height or as near to it as fits.");
            let height = length_head("height", scene);
            let mut table = Table::new(&["<what", "<", &height].into_iter().chain(FIGURES).collect::<Vec<_>>());
            let best = study.best().map(|best| ("as above", "", best));
            let others = besides.variants.iter().map(|one| (one.what.as_str(), if one.alike { "=" } else { "" }, one));
            for (what, mark, one) in best.into_iter().chain(others) {
                table.row([what.to_owned(), mark.to_owned(), on(one.underside_m, scene)].into_iter().chain(figures(one)));
            }
            table.show(ui);
            for out in &besides.left_out {
                remark(ui, format!("{}: {}.", out.what, out.reason));
            }
        });
    }
}
