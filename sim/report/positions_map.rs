//! The floor plan once for each facing, true to scale: at each place of the grid the color of what the listening set would come to there.
//!
//! Each square stands about the middle of the set (the head). All four facings share one scale of color with its unit; the lighter, the better, whatever is shown. The present place is a
//! cross, the finalists are numbers, the first of them with its loudspeakers and blocks if it is suggested; where the set does not fit there is no color.
//!
//! *Limits.* Nothing is smoothed between the places of the grid.

use glam::DVec2;

use crate::findings::Estimate;
use crate::geometry::Polygon;
use crate::plan::positions::{Facing, PositionsStudy, SetPlace, Standing, TriedFigures};
use crate::scene::{OpeningKind, Scene, SurfaceIndex};

use super::axis::{self, Marks};
use super::floor_plan::FloorPlan;
use super::heatmap::bar;
use super::paper::{self, Color, Colormap};
use super::plot;
use super::svg::{Area, Drawing, Lettering, Look};

/// What a map shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// All early terms of the score.
    Score,
    /// What is over the criterion.
    Reflections,
    /// All early reflections together.
    EarlyLevel,
    /// Left against right.
    Likeness,
    /// Clarity of voices.
    Speech,
    /// How even the low end is.
    Bass,
}

impl Shown {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::Score, Self::Reflections, Self::EarlyLevel, Self::Likeness, Self::Speech, Self::Bass];

    /// Name of its file.
    #[must_use]
    pub fn file(self) -> &'static str {
        match self {
            Self::Score => "positions-score.svg",
            Self::Reflections => "positions-reflections.svg",
            Self::EarlyLevel => "positions-early-level.svg",
            Self::Likeness => "positions-likeness.svg",
            Self::Speech => "positions-speech.svg",
            Self::Bass => "positions-bass.svg",
        }
    }

    /// What the color means.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Score => "early terms of the score together: better than the present place",
            Self::Reflections => "what single reflections are over the criterion, mean of the octaves 1-8 kHz",
            Self::EarlyLevel => "all early reflections together, 1-8 kHz",
            Self::Likeness => "early level of left against right, either way",
            Self::Speech => "clarity of the voice, C50",
            Self::Bass => "how even the low end is: third octaves off their mean, by waves",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Score => "just-noticed steps",
            Self::Reflections => "dB over the criterion",
            Self::EarlyLevel => "dB re direct",
            Self::Likeness | Self::Speech => "dB",
            Self::Bass => "dB off their mean",
        }
    }

    /// Its value at a place; `None` where there is none.
    #[must_use]
    pub fn value(self, figures: &TriedFigures) -> Option<f64> {
        match self {
            Self::Score => Some(figures.better_steps.value),
            Self::Reflections => Some(figures.over_criterion_db),
            Self::EarlyLevel => Some(figures.early_level_db.value),
            Self::Likeness => figures.likeness_db.map(|value| value.value),
            Self::Speech => figures.speech_c50_db.map(|value| value.value),
            Self::Bass => figures.bass.map(|bass| bass.evenness_db),
        }
    }

    /// Half the width of its interval; 0 of what mirrors alone bring, which is exact, and of waves, which are not traced.
    #[must_use]
    pub fn half_width(self, figures: &TriedFigures) -> f64 {
        let estimate = match self {
            Self::Score => Some(figures.better_steps),
            Self::Reflections | Self::Bass => None,
            Self::EarlyLevel => Some(figures.early_level_db),
            Self::Likeness => figures.likeness_db,
            Self::Speech => figures.speech_c50_db,
        };
        estimate.map_or(0.0, Estimate::half_width_95)
    }

    /// The color at 0, the lowest mark, to 1: the better end is light.
    #[must_use]
    pub fn color(self, share: f64) -> Color {
        match self {
            Self::Score => Colormap::Viridis.color(share),
            Self::Reflections | Self::EarlyLevel | Self::Likeness | Self::Bass => Colormap::Viridis.color(1.0 - share),
            Self::Speech => Colormap::Cividis.color(share),
        }
    }

    /// Whether there is anything to show.
    #[must_use]
    pub fn is_known(self, study: &PositionsStudy) -> bool {
        study.tried.iter().any(|one| self.value(&one.figures).is_some())
    }
}

/// Width and height of one floor plan at most, mm.
const PLAN: [f64; 2] = [82.0, 74.0];

/// Room round each plan for names of walls, and above it for its heading, mm.
const ROUND: f64 = 8.0;
const HEADING: f64 = 9.0;

/// Top of the first row, mm.
const TOP: f64 = 18.0;

/// The map.
#[must_use]
pub fn svg(scene: &Scene, study: &PositionsStudy, shown: Shown) -> String {
    let (low, high) = scene.floor_plan().bounds();
    let size = (high - low).max(DVec2::splat(0.01));
    let scale = (PLAN[0] / size.x).min(PLAN[1] / size.y);
    let cell = scale * size + DVec2::new(2.0 * ROUND, 2.0 * ROUND + HEADING);
    let width = (2.0 * cell.x + 12.0).max(150.0);
    let facings: Vec<&Facing> = facings(study).collect();
    let rows = facings.len().div_ceil(2) as f64;
    let bottom = TOP + rows * cell.y;
    let mut page = Drawing::new(width, bottom + 28.0, paper::CARD);
    plot::title(&mut page, &format!("{}: where the set could stand", scene.name), shown.meaning());
    let marks = marks(study, shown);
    for (index, facing) in facings.into_iter().enumerate() {
        let corner = DVec2::new(6.0 + cell.x * (index % 2) as f64, TOP + cell.y * (index / 2) as f64);
        let view = FloorPlan { low, high, scale, at: corner + DVec2::new(ROUND, HEADING + ROUND) };
        heading(&mut page, corner, facing, cell.x);
        plan(&mut page, &view, scene, study, (facing, shown, marks));
    }
    bar(&mut page, DVec2::new(14.0, bottom + 9.0), 80.0, (shown.unit(), marks), |share| shown.color(share));
    scale_bar(&mut page, scene, scale, DVec2::new(width - 8.0, bottom + 12.6));
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let widest = study.tried.iter().map(|one| shown.half_width(&one.figures)).filter(|half| half.is_finite()).fold(0.0, f64::max);
    let sure = if widest > 0.0 {
        format!("; +- {} or less at every place", axis::print((10.0 * widest).ceil() / 10.0, 0.1))
    } else {
        String::new()
    };
    let key = format!(
        "seen from above; each square: the middle of the set there; cross: where it is now; numbers: the best places, judged again; gray: the set does not fit{sure}"
    );
    for (index, line) in quiet.wrap(&key, width - 22.0).iter().enumerate() {
        page.text(DVec2::new(14.0, bottom + 21.5 + 3.3 * index as f64), line, quiet);
    }
    page.finish()
}

/// Round marks round all places of all facings and the present one.
#[must_use]
pub fn marks(study: &PositionsStudy, shown: Shown) -> Marks {
    let all = study.tried.iter().map(|one| &one.figures).chain([&study.present.tried]);
    let values = all.filter_map(|figures| shown.value(figures)).filter(|value| value.is_finite());
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    // Less than a tenth is no difference.
    let room = (0.5 * (0.1 - (high - low))).max(0.0);
    Marks::round(low - room, high + room, 6)
}

/// Facings of which there is a plan: those in which the set fits anywhere, and the present one.
pub fn facings(study: &PositionsStudy) -> impl Iterator<Item = &Facing> {
    study.facings.iter().filter(|facing| facing.places_fitting > 0 || facing.turned_deg == 0)
}

/// `facing north, as now`.
#[must_use]
pub fn facing_words(facing: &Facing) -> String {
    let how = if facing.turned_deg == 0 { ", as now" } else { "" };
    format!("facing {}{how}", facing.wall)
}

fn heading(page: &mut Drawing, corner: DVec2, facing: &Facing, width: f64) {
    let bold = Lettering::new(paper::BODY, paper::INK).bold();
    page.text(corner + DVec2::new(ROUND, 4.0), &bold.fit(&facing_words(facing), width - ROUND), bold);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let fits = format!("fits at {} of {} places", facing.places_fitting, facing.places);
    page.text(corner + DVec2::new(ROUND, 7.6), &fits, quiet);
}

fn plan(page: &mut Drawing, view: &FloorPlan, scene: &Scene, study: &PositionsStudy, (facing, shown, marks): (&Facing, Shown, Marks)) {
    let outline = view.all(&scene.outline);
    let half = 0.5 * study.step_m;
    let here = |place: &SetPlace| place.turned_deg == facing.turned_deg;
    page.clipped(&outline, |page| {
        page.polygon(&outline, Look::fill(paper::NONE));
        for one in study.tried.iter().filter(|one| here(&one.place)) {
            let Some(value) = shown.value(&one.figures) else { continue };
            let middle = one.place.middle();
            let square = Polygon::rectangle(middle - half, middle + half).corners;
            page.cells(&[view.all(&square)], Look::fill(shown.color(marks.share(value).clamp(0.0, 1.0))));
        }
    });
    for block in scene.blocks.iter().filter(|block| study.stays.contains(&block.name)) {
        page.polygon(&view.all(&block.footprint().corners), Look::fill(paper::PANEL).edged(paper::SOFT, 0.25));
    }
    page.polygon(&outline, Look::line(paper::INK, 0.6));
    doors(page, view, scene);
    let suggested = study.suggested().filter(|one| here(&one.place));
    if facing.turned_deg == 0 {
        set(page, view, scene, &study.present.standing, paper::INK);
        cross(page, view.paper(study.present.place.middle()));
    }
    if let Some(one) = suggested {
        set(page, view, scene, &one.standing, paper::ACCENT);
    }
    for one in study.finalists.iter().filter(|one| here(&one.place)) {
        let at = view.paper(one.place.middle());
        page.circle(at, 2.1, Look::fill(if one.is_better { paper::ACCENT } else { paper::CARD }).edged(paper::INK, 0.25));
        let color = if one.is_better { paper::CARD } else { paper::INK };
        page.text(at + DVec2::new(0.0, 0.95), &one.number.to_string(), Lettering::new(paper::BODY, color).bold().middle());
    }
    walls(page, view, scene);
}

/// Doors as gaps in the line.
fn doors(page: &mut Drawing, view: &FloorPlan, scene: &Scene) {
    for door in scene.openings.iter().filter(|opening| opening.kind == OpeningKind::Door) {
        let Some(SurfaceIndex::Wall(wall)) = scene.surface(&door.surface) else { continue };
        let chart = scene.chart(SurfaceIndex::Wall(wall));
        let ends =
            [door.place.left, door.place.left + door.place.width].map(|along| view.paper(chart.point(DVec2::new(along, 0.0)).truncate()));
        page.line(ends[0], ends[1], Look::line(paper::CARD, 1.1));
        page.line(ends[0], ends[1], Look::line(paper::SOFT, 0.3));
    }
}

/// Sources as squares, receivers as rings, blocks as outlines.
fn set(page: &mut Drawing, view: &FloorPlan, scene: &Scene, standing: &[Standing], color: Color) {
    for part in standing {
        let point = DVec2::new(part.point_m[0], part.point_m[1]);
        let at = view.paper(point);
        match part.kind.as_str() {
            "block" => {
                let Some(block) = scene.blocks.iter().find(|block| block.name == part.name) else { continue };
                let rotation = part.rotation_deg.unwrap_or(0.0).to_radians();
                let foot = crate::scene::Block { center: point, rotation, ..block.clone() }.footprint();
                page.polygon(&view.all(&foot.corners), Look::line(paper::CARD, 0.7));
                page.polygon(&view.all(&foot.corners), Look::line(color, 0.3).dashed(1.0, 0.6));
            }
            "seat" | "microphone" => page.circle(at, 1.3, Look::line(paper::CARD, 0.9)),
            _ => page.rect(Area::new(at.x - 1.3, at.y - 1.3, 2.6, 2.6), Look::fill(color).edged(paper::CARD, 0.3)),
        }
        if matches!(part.kind.as_str(), "seat" | "microphone") {
            page.circle(at, 1.3, Look::line(color, 0.4));
        }
    }
}

fn cross(page: &mut Drawing, at: DVec2) {
    for (width, color) in [(1.2, paper::CARD), (0.6, paper::INK)] {
        for arm in [DVec2::splat(2.2), DVec2::new(2.2, -2.2)] {
            page.line(at - arm, at + arm, Look::line(color, width));
        }
    }
}

/// Names of walls outside.
fn walls(page: &mut Drawing, view: &FloorPlan, scene: &Scene) {
    let letters = Lettering::new(paper::SMALL, paper::QUIET).middle();
    for (index, wall) in scene.walls.iter().enumerate() {
        let (from, to) = scene.wall_ends(index);
        let (from, to) = (view.paper(from), view.paper(to));
        let Some(along) = (to - from).try_normalize() else { continue };
        // Counterclockwise on the plan is clockwise on the paper.
        let out = -DVec2::new(along.y, -along.x);
        let name = letters.fit(&wall.name, from.distance(to).max(12.0));
        let upright = out.x.abs() > 0.99;
        let reach = if upright { 0.0 } else { 0.5 * letters.length(&name) * out.x.abs() };
        let at = 0.5 * (from + to) + out * (2.6 + reach) + if upright { DVec2::new(0.9, 0.0) } else { DVec2::new(0.0, 0.9) };
        let style = if upright { letters.upright() } else { letters };
        page.text_where_free(&[at, at + out * 2.6], &name, style);
    }
}

/// A bar of known length that ends at `end`.
fn scale_bar(page: &mut Drawing, scene: &Scene, scale: f64, end: DVec2) {
    let (meters, sign) = (scene.unit.to_meters(1.0), scene.unit.symbol());
    let bars = [1.0, 0.5, 0.2, 0.1].into_iter().map(|part| axis::step(part / meters * 0.999));
    let Some(bar) = bars.into_iter().find(|bar| bar * meters * scale < 40.0) else { return };
    let start = end - DVec2::new(bar * meters * scale, 0.0);
    page.line(start, end, Look::line(paper::INK, 0.5));
    for x in [start.x, end.x] {
        page.line(DVec2::new(x, end.y - 1.2), DVec2::new(x, end.y + 1.2), Look::line(paper::INK, 0.3));
    }
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    page.text(DVec2::new(0.5 * (start.x + end.x), end.y - 1.8), &format!("{} {sign}", axis::print(bar, bar)), letters);
}
