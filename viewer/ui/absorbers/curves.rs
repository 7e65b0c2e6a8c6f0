//! What absorbers absorb over frequency, side by side, as in the chart of the command: a line and a number each, squares for what is known by
//! octave, circles for layers, hollow where the octave was filled by rule or lies beyond the model; whiskers for the range. Beneath it the
//! same octaves in figures.

use bevy_egui::egui::{Color32, Rect, RichText, Sense, Shape, Stroke, Ui, Vec2};
use egui_plot::{HoverPosition, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotUi, Points, Text};
use roomwright::bands::Band;
use roomwright::report::absorption::{FREQUENCIES, Field, LINES, place};
use roomwright::report::text::figures::{OCTAVES, number};
use roomwright::study::absorbers::{Sample, SampleKind};

use super::super::Shown;
use super::super::plots::frame;
use super::super::say::remark;
use super::super::table::Table;
use super::super::tokens::{CARD, SOFT};

/// Height of a row of the figures, and of what is round them. Too little would push the strip up, pass by pass.
const ROW: f32 = 19.0;
const ROUND: f32 = 20.0;
/// Least height of the plot.
const PLOT: f32 = 110.0;
/// Names of lines in the plot begin so; names of octaves are bare numbers.
const CURVE: &str = "curve ";
/// From whisker to whisker where there are few, and where all of an octave stand, on the axis of [`place`].
const ASIDE: [f64; 2] = [0.022, 0.12];
/// Half the end of a whisker.
const END: f64 = 0.009;

/// The column.
pub(super) fn curves(ui: &mut Ui, shown: Shown<'_>) {
    let samples = &shown.results.absorbers.samples;
    let field = shown.view.comparison.field;
    if samples.is_empty() {
        remark(ui, "Nothing stands here. Choose a row at the left, or type a build-up.");
        return;
    }
    let figures = ROW * (samples.len() + 1) as f32 + ROUND;
    let height = (ui.available_height() - figures).max(PLOT);
    draw(ui, samples, field, height);
    in_figures(ui, samples, field);
}

fn draw(ui: &mut Ui, samples: &[Sample], field: Field, height: f32) {
    let top = field.top(samples);
    let x = Band::ALL.iter().map(|band| place(band.center())).collect();
    let y = (0..=(5.0 * top).round() as u32).map(|step| 0.2 * f64::from(step)).collect();
    let counted = if samples.iter().any(|sample| sample.suspended) { "m2 absorbed by 1 m2" } else { "absorption coefficient" };
    let plot = frame("absorbers", ("Hz", x), (counted, y), octave_name).height(height);
    plot.label_formatter(move |at| match at {
        HoverPosition::NearDataPoint { plot_name, position, index } => told(samples, field, plot_name, *index, position.y),
        HoverPosition::Elsewhere { .. } => None,
    })
    .show(ui, |plot| {
        plot.set_plot_bounds_x(0.0..=place(FREQUENCIES[1]));
        plot.set_plot_bounds_y(0.0..=top * 1.04);
        // One is what a surface without edges can absorb at most.
        let one = PlotPoints::from(vec![[0.0, 1.0], [place(FREQUENCIES[1]), 1.0]]);
        plot.line(Line::new("one", one).color(SOFT).width(1.0).allow_hover(false));
        for sample in samples {
            line(plot, sample, field);
        }
        for (index, sample) in samples.iter().enumerate() {
            let step = (ASIDE[1] / samples.len() as f64).min(ASIDE[0]);
            octaves(plot, sample, field, (index as f64 - 0.5 * (samples.len() as f64 - 1.0)) * step);
        }
        for sample in samples {
            number_on_line(plot, sample, samples, field);
        }
    });
}

/// The name of the octave that is marked there.
fn octave_name(at: f64) -> String {
    let band = Band::ALL.into_iter().find(|band| (place(band.center()) - at).abs() < 1e-6);
    band.map_or_else(String::new, |band| OCTAVES[band.index()].to_owned())
}

/// Shade and stroke of a line, as in print.
pub(in crate::ui) fn look(number: usize) -> (Color32, LineStyle) {
    let (color, [dash, _]) = LINES[(number.max(1) - 1) % LINES.len()];
    let style = if dash > 2.0 {
        LineStyle::Dashed { length: 9.0 }
    } else if dash > 0.0 {
        LineStyle::Dotted { spacing: 4.5 }
    } else {
        LineStyle::Solid
    };
    (Color32::from_rgb(color.0, color.1, color.2), style)
}

/// A piece of a line for a key, and where it lies.
pub(in crate::ui) fn piece(ui: &mut Ui, size: Vec2, number: usize, width: f32) -> Rect {
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let (color, style) = look(number);
    let stroke = Stroke::new(width, color);
    let ends = [rect.left_center(), rect.right_center()];
    let painter = ui.painter();
    match style {
        LineStyle::Solid => _ = painter.line_segment(ends, stroke),
        LineStyle::Dashed { length } => painter.extend(Shape::dashed_line(&ends, stroke, length, 0.6 * length)),
        LineStyle::Dotted { spacing } => painter.extend(Shape::dotted_line(&ends, color, spacing, width)),
    }
    rect
}

/// What is known by octave is joined by a thin line, which says nothing about what lies between.
fn line(plot: &mut PlotUi<'_>, sample: &Sample, field: Field) {
    let (color, style) = look(sample.number);
    let points: Vec<[f64; 2]> = field.line(sample).into_iter().map(|(frequency, value)| [place(frequency), value]).collect();
    let is_curve = sample.curve.is_some();
    let line = Line::new(format!("{CURVE}{}", sample.number), PlotPoints::from(points)).color(color).style(style);
    plot.line(line.width(if is_curve { 1.8 } else { 1.0 }).allow_hover(is_curve));
}

/// Marks of the octaves, in a diffuse field with their ranges; a little aside, so that ranges stand beside each other.
fn octaves(plot: &mut PlotUi<'_>, sample: &Sample, field: Field, aside: f64) {
    let is_material = sample.kind == SampleKind::Material;
    let has_range = field == Field::Diffuse;
    if !has_range && !is_material {
        // The curve says more than a mark on it.
        return;
    }
    let aside = if has_range { aside } else { 0.0 };
    let color = look(sample.number).0;
    let values = field.octaves(sample);
    let at = |band: Band| [place(band.center()) + aside, values[band]];
    for band in Band::ALL.into_iter().filter(|_| has_range) {
        let range = sample.absorption_range[band];
        plot.line(Line::new("", whisker(at(band)[0], range.low, range.high)).color(color).width(1.0).allow_hover(false));
    }
    let shape = if is_material { MarkerShape::Square } else { MarkerShape::Circle };
    let all = PlotPoints::from(Band::ALL.map(at).to_vec());
    plot.points(Points::new(sample.number.to_string(), all).shape(shape).radius(4.0).color(color));
    let hollow: Vec<[f64; 2]> = Band::ALL.into_iter().filter(|&band| sample.extrapolated[band]).map(at).collect();
    plot.points(Points::new("", PlotPoints::from(hollow)).shape(shape).radius(2.4).color(CARD).allow_hover(false));
}

/// A range with an end above and below.
fn whisker(x: f64, low: f64, high: f64) -> PlotPoints<'static> {
    let [left, right] = [x - END, x + END];
    PlotPoints::from(vec![[left, high], [right, high], [x, high], [x, low], [left, low], [right, low]])
}

/// Its number where its line is farthest from the others.
fn number_on_line(plot: &mut PlotUi<'_>, sample: &Sample, samples: &[Sample], field: Field) {
    let color = look(sample.number).0;
    let enough = 0.5 * field.top(samples);
    if let Some([x, y]) = field.number_places(sample, samples, enough).first().copied() {
        let words = RichText::new(format!(" {} ", sample.number)).strong().size(12.5).color(color).background_color(CARD);
        plot.text(Text::new("", PlotPoint::new(x, y), words));
    }
}

/// What is said of a point of the plot: an octave, or a tone of a curve.
fn told(samples: &[Sample], field: Field, plot_name: &str, index: usize, value: f64) -> Option<String> {
    let curve = plot_name.strip_prefix(CURVE);
    let wanted: usize = curve.unwrap_or(plot_name).parse().ok()?;
    let sample = samples.iter().find(|sample| sample.number == wanted)?;
    if curve.is_some() {
        let (frequency, known) = field.line(sample).get(index).copied()?;
        debug_assert!((known - value).abs() < 1e-9, "the point under the mouse is one of the curve");
        return Some(format!("{}  {}\n{} Hz: {}", sample.number, sample.name, number(frequency, 0), number(known, 2)));
    }
    Some(format!("{}  {}\n{}", sample.number, sample.name, told_octave(sample, field, Band::ALL.get(index).copied()?)))
}

/// `500 Hz: 0.83, between 0.75 and 0.91; with edges 1.02, four in a touching row 0.91`, and whether it was filled.
pub(crate) fn told_octave(sample: &Sample, field: Field, band: Band) -> String {
    let mut words = format!("{} Hz: {}", band.nominal(), number(field.octaves(sample)[band], 2));
    if field == Field::Diffuse {
        let range = sample.absorption_range[band];
        words += &format!(", between {} and {}", number(range.low, 2), number(range.high, 2));
        if let (Some(alone), Some(touching)) = (sample.absorption_alone, sample.absorption_touching) {
            words += &format!("; with edges {}, four in a touching row {}", number(alone[band], 2), number(touching[band], 2));
        }
    }
    if sample.extrapolated[band] {
        words += if sample.kind == SampleKind::Material { "; filled by rule" } else { "; beyond what the model was fitted on" };
    }
    words
}

/// The octaves in figures.
fn in_figures(ui: &mut Ui, samples: &[Sample], field: Field) {
    let heads: Vec<&str> = std::iter::once("<").chain(OCTAVES).collect();
    let mut table = Table::new(&heads);
    for sample in samples {
        let mark = |band: Band| if sample.extrapolated[band] { "~" } else { " " };
        let values = Band::ALL.map(|band| format!("{}{}", number(field.octaves(sample)[band], 2), mark(band)));
        let ranges: Vec<String> = Band::ALL.map(|band| told_octave(sample, field, band)).to_vec();
        let hint = format!("{}\n{}", sample.name, ranges.join("\n"));
        table.row(std::iter::once(sample.number.to_string()).chain(values)).hint(hint);
    }
    table.show(ui);
}
