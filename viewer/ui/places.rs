//! The floor plan with the color of what the set would come to at each place of the grid, in one facing, and its scale; true to scale, seen from
//! above, as the printed map.

use bevy::math::DVec2;
use bevy_egui::egui::{Align2, Color32, RichText, Sense, Stroke, Ui, WidgetInfo, WidgetType, pos2, vec2};
use egui_plot::{HoverPosition, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotUi, Points, Polygon, Text};
use roomwright::plan::positions::{Finalist, SetPlace, Standing};
use roomwright::report::axis::{self, Marks};
use roomwright::report::paper;
use roomwright::report::positions_map::{Shown as Map, marks};
use roomwright::report::text::figures::number;
use roomwright::scene::{Block, OpeningKind, Scene, SurfaceIndex};
use roomwright::study::PositionsStudy;

use super::plots::frame;
use super::say::remark;
use super::tokens::{ACCENT, CARD, INK, MAP, PANEL, QUIET, SOFT, table_letters};

/// The map; the place that was clicked.
pub(super) fn map(
    ui: &mut Ui,
    (scene, study): (&Scene, &PositionsStudy),
    (map, turned): (Map, u32),
    chosen: Option<usize>,
) -> Option<usize> {
    let (low, high) = scene.floor_plan().bounds();
    let [low, high] = [low, high].map(|corner| corner.to_array().map(|meters| scene.unit.from_meters(meters)));
    let [x, y] = [0, 1].map(|side| Marks::round(low[side], high[side], MAP.marks));
    let margin = MAP.margin.map(|share| share * (high[0] - low[0]).max(high[1] - low[1]));
    let [wide, tall] = [0, 1].map(|side| high[side] - low[side] + 2.0 * margin[side]);
    let values = marks(study, map);
    let within = |marks: Marks, side: usize| -> Vec<f64> {
        marks.values().into_iter().filter(|mark| (low[side] - 1e-9..=high[side] + 1e-9).contains(mark)).collect()
    };
    let symbol = scene.unit.symbol();
    let [along, across] = ["x", "y"].map(|axis| format!("{axis}, {symbol}"));
    let step = x.step;
    // As tall as the floor is for its width, within what fits on screen.
    let height = (ui.available_width() - MAP.figures) * (tall / wide) as f32 + MAP.figures;
    let plan = Plan { scene, study, map, turned, values, chosen };
    let shown = frame("places", (&along, within(x, 0)), (&across, within(y, 1)), move |mark| axis::print(mark, step))
        .show_crosshair(false)
        .data_aspect(1.0)
        .height(height.clamp(MAP.height[0], MAP.height[1]))
        .label_formatter(|at| match at {
            HoverPosition::NearDataPoint { position, .. } | HoverPosition::Elsewhere { position } => plan.told(plan.meters(*position)),
        })
        .show(ui, |plot| {
            plot.set_plot_bounds_x(low[0] - margin[0]..=high[0] + margin[0]);
            plot.set_plot_bounds_y(low[1] - margin[1]..=high[1] + margin[1]);
            plan.draw(plot);
            plot.response().clicked().then(|| plot.pointer_coordinate()).flatten()
        });
    shown.inner.and_then(|at| plan.nearest(plan.meters(at)))
}

/// All that is drawn.
struct Plan<'a> {
    scene: &'a Scene,
    study: &'a PositionsStudy,
    map: Map,
    turned: u32,
    values: Marks,
    chosen: Option<usize>,
}

impl Plan<'_> {
    fn meters(&self, at: PlotPoint) -> DVec2 {
        DVec2::new(self.scene.unit.to_meters(at.x), self.scene.unit.to_meters(at.y))
    }

    fn at(&self, meters: DVec2) -> [f64; 2] {
        meters.to_array().map(|meters| self.scene.unit.from_meters(meters))
    }

    fn all(&self, corners: &[DVec2]) -> PlotPoints<'static> {
        PlotPoints::from(corners.iter().map(|&corner| self.at(corner)).collect::<Vec<_>>())
    }

    /// The best places in this facing.
    fn finalists(&self) -> impl Iterator<Item = &Finalist> {
        self.study.finalists.iter().filter(|one| one.place.turned_deg == self.turned)
    }

    fn draw(&self, plot: &mut PlotUi<'_>) {
        let outline = &self.scene.outline;
        plot.polygon(filled("", self.all(outline), color(paper::NONE)));
        let half = 0.5 * self.study.step_m;
        for one in self.study.tried.iter().filter(|one| one.place.turned_deg == self.turned) {
            let Some(value) = self.map.value(&one.figures) else { continue };
            let middle = one.place.middle();
            let corners = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|side| middle + half * DVec2::from_array(side));
            plot.polygon(filled("", self.all(&corners), color(self.map.color(self.values.share(value).clamp(0.0, 1.0)))));
        }
        for block in self.scene.blocks.iter().filter(|block| self.study.stays.contains(&block.name)) {
            let foot = filled("", self.all(&block.footprint().corners), PANEL);
            plot.polygon(foot.stroke(Stroke::new(1.0, SOFT)));
        }
        let closed: Vec<DVec2> = outline.iter().chain(outline.first()).copied().collect();
        plot.line(Line::new("", self.all(&closed)).color(INK).width(2.0).allow_hover(false));
        self.doors(plot);
        if self.turned == 0 {
            self.set(plot, &self.study.present.standing, INK);
            let now = PlotPoints::from(vec![self.at(self.study.present.place.middle())]);
            plot.points(Points::new("", now).shape(MarkerShape::Cross).radius(MAP.mark).color(INK).allow_hover(false));
        }
        for one in self.finalists().filter(|one| Some(one.number) == self.chosen) {
            self.set(plot, &one.standing, ACCENT);
        }
        for one in self.finalists() {
            self.number(plot, one);
        }
        self.walls(plot);
    }

    /// Its number, in the accent where it is suggested.
    fn number(&self, plot: &mut PlotUi<'_>, one: &Finalist) {
        let at = self.at(one.place.middle());
        let (fill, ink) = if one.is_better { (ACCENT, CARD) } else { (CARD, INK) };
        let dot = |radius: f32, color: Color32| Points::new("", PlotPoints::from(vec![at])).radius(radius).color(color).allow_hover(false);
        plot.points(dot(MAP.mark + 1.0, INK));
        plot.points(dot(MAP.mark, fill));
        plot.text(Text::new("", PlotPoint::from(at), RichText::new(one.number.to_string()).color(ink).font(table_letters())));
    }

    /// Sources as squares, receivers as rings, blocks as outlines.
    fn set(&self, plot: &mut PlotUi<'_>, standing: &[Standing], color: Color32) {
        for part in standing {
            let point = DVec2::new(part.point_m[0], part.point_m[1]);
            let dot = |shape: MarkerShape| Points::new("", PlotPoints::from(vec![self.at(point)])).shape(shape).allow_hover(false);
            match part.kind.as_str() {
                "block" => {
                    let Some(block) = self.scene.blocks.iter().find(|block| block.name == part.name) else { continue };
                    let rotation = part.rotation_deg.unwrap_or(0.0).to_radians();
                    let mut foot = Block { center: point, rotation, ..block.clone() }.footprint().corners;
                    foot.extend(foot.first().copied());
                    for (width, color) in [(3.0, CARD), (1.4, color)] {
                        let line = Line::new("", self.all(&foot)).color(color).width(width).allow_hover(false);
                        plot.line(if width < 2.0 { line.style(LineStyle::dashed_dense()) } else { line });
                    }
                }
                "seat" | "microphone" => {
                    plot.points(dot(MarkerShape::Circle).filled(false).radius(MAP.part + 1.0).color(CARD));
                    plot.points(dot(MarkerShape::Circle).filled(false).radius(MAP.part).color(color));
                }
                _ => {
                    plot.points(dot(MarkerShape::Square).radius(MAP.part + 1.0).color(CARD));
                    plot.points(dot(MarkerShape::Square).radius(MAP.part).color(color));
                }
            }
        }
    }

    /// Doors as gaps in the line.
    fn doors(&self, plot: &mut PlotUi<'_>) {
        for door in self.scene.openings.iter().filter(|opening| opening.kind == OpeningKind::Door) {
            let Some(SurfaceIndex::Wall(wall)) = self.scene.surface(&door.surface) else { continue };
            let chart = self.scene.chart(SurfaceIndex::Wall(wall));
            let ends = [door.place.left, door.place.left + door.place.width].map(|along| chart.point(DVec2::new(along, 0.0)).truncate());
            for (width, color) in [(4.0, CARD), (1.0, SOFT)] {
                plot.line(Line::new("", self.all(&ends)).color(color).width(width).allow_hover(false));
            }
        }
    }

    /// Names of walls outside.
    fn walls(&self, plot: &mut PlotUi<'_>) {
        for (index, wall) in self.scene.walls.iter().enumerate() {
            let (from, to) = self.scene.wall_ends(index);
            let Some(along) = (to - from).try_normalize() else { continue };
            let out = -along.perp();
            let anchor = if out.x > 0.7 {
                Align2::LEFT_CENTER
            } else if out.x < -0.7 {
                Align2::RIGHT_CENTER
            } else if out.y > 0.0 {
                Align2::CENTER_BOTTOM
            } else {
                Align2::CENTER_TOP
            };
            let words = RichText::new(format!(" {} ", wall.name)).color(QUIET).font(table_letters());
            plot.text(Text::new("", PlotPoint::from(self.at(0.5 * (from + to))), words).anchor(anchor));
        }
    }

    /// What is said of a point of the floor, meters.
    fn told(&self, point: DVec2) -> Option<String> {
        let half = 0.5 * self.study.step_m;
        let holds = |middle: DVec2| (point - middle).abs().max_element() <= half;
        let is_here = |place: &SetPlace| place.turned_deg == self.turned && holds(place.middle());
        if let Some(one) = self.study.tried.iter().find(|one| is_here(&one.place)) {
            let (value, half) = (self.map.value(&one.figures)?, self.map.half_width(&one.figures));
            let error = if half.is_finite() && half > 0.0 { format!(" +-{}", number(half, 1)) } else { String::new() };
            return Some(format!("{}{error} {}", number(value, 1), self.map.unit()));
        }
        self.study.left_out.iter().find(|one| is_here(&one.place)).map(|one| one.reason.clone())
    }

    /// The best place that is meant by a click there, meters.
    fn nearest(&self, point: DVec2) -> Option<usize> {
        let far = |one: &&Finalist| one.place.middle().distance(point);
        let nearest = self.finalists().min_by(|a, b| far(a).total_cmp(&far(b)));
        nearest.filter(|one| far(one) <= self.study.step_m.max(MAP.reach)).map(|one| one.number)
    }
}

fn color(color: paper::Color) -> Color32 {
    Color32::from_rgb(color.0, color.1, color.2)
}

fn filled<'a>(name: &str, corners: PlotPoints<'a>, color: Color32) -> Polygon<'a> {
    Polygon::new(name, corners).fill_color(color).stroke(Stroke::new(0.0, color)).allow_hover(false)
}

/// The scale of color with its unit, and what the signs mean.
pub(super) fn key(ui: &mut Ui, study: &PositionsStudy, map: Map) {
    let marks = marks(study, map);
    let values = marks.values();
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), MAP.scale + 3.0 * MAP.mark), Sense::hover());
    let ends = [marks.low, marks.high].map(|value| marks.print(value));
    let words = format!("color: {}, {} to {}; the lighter, the better", map.unit(), ends[0], ends[1]);
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, &words));
    let painter = ui.painter();
    let [left, right] = [rect.left() + MAP.figures, rect.left() + MAP.figures + 0.5 * rect.width()];
    let across = |share: f64| left + (right - left) * share as f32;
    for step in 0..MAP.steps {
        let [from, to] = [step, step + 1].map(|step| across(f64::from(step) / f64::from(MAP.steps)));
        let share = (f64::from(step) + 0.5) / f64::from(MAP.steps);
        let piece = bevy_egui::egui::Rect::from_min_max(pos2(from, rect.top()), pos2(to + 0.5, rect.top() + MAP.scale));
        painter.rect_filled(piece, 0.0, color(map.color(share)));
    }
    for value in values {
        let x = across(marks.share(value));
        painter.vline(x, rect.top() + MAP.scale..=rect.top() + MAP.scale + 3.0, Stroke::new(1.0, INK));
        painter.text(pos2(x, rect.top() + MAP.scale + 4.0), Align2::CENTER_TOP, marks.print(value), table_letters(), INK);
    }
    painter.text(pos2(right + 12.0, rect.top()), Align2::LEFT_TOP, map.unit(), table_letters(), INK);
    remark(
        ui,
        "Seen from above; each square: the middle of the set there, early terms alone; cross: where it is now; numbers: the best places, judged \
         again; gray: the set does not fit.",
    );
}
