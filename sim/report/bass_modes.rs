//! Shapes of the first modes of a room, each on the slice that shows it: a floor plan at ear height, or a section where the mode hardly changes over the floor.
//!
//! Pressure with its sign at the moment when it is greatest, re the loudest place of the room: red and blue swing against each other, white stays still. All slices have one scale.
//!
//! *Limits.* One slice of each. Nothing is smoothed between places. What runs rather than stands is left out (`findings::bass`). Sections show the shell without what stands in it.

use glam::{DVec2, DVec3};

use super::axis::Marks;
use super::floor_plan::FloorPlan;
use super::heatmap::bar;
use super::paper::{self, Colormap};
use super::plot;
use super::svg::{Area, Drawing, Lettering, Look};
use super::text::bass::mode_heading;
use super::text::figures::length;
use crate::findings::bass::{BassFields, BassStudy};
use crate::geometry::Polygon;
use crate::scene::Scene;

/// Shapes that are drawn at most.
const MOST: usize = 9;
/// Shapes in a row.
const COLUMNS: usize = 3;
/// Width and height of a slice at most, mm.
const SLICE: DVec2 = DVec2::new(48.0, 44.0);
/// From one to the next besides its own size, mm.
const BETWEEN: DVec2 = DVec2::new(4.0, 17.0);
/// Steps of color.
const LEVELS: usize = 41;
/// A plan is left for a section that shows so many times as much change of pressure, in energy.
const RATHER: f64 = 4.0;
/// Points that the line of a ceiling is drawn through.
const ALONG: usize = 400;

/// A slice of the room: which axes run right and up, what lies in it, its border.
struct Slice {
    axes: [usize; 2],
    places: Vec<usize>,
    outline: Vec<DVec2>,
    name: String,
}

impl Slice {
    fn flat(&self, point: DVec3) -> DVec2 {
        DVec2::new(point[self.axes[0]], point[self.axes[1]])
    }

    fn bounds(&self) -> (DVec2, DVec2) {
        let area = Area::round(&self.outline);
        (area.low, area.high)
    }

    /// How much the pressure changes over it, in energy.
    fn shown(&self, shape: &[f64]) -> f64 {
        let mean = |of: &dyn Fn(f64) -> f64| self.places.iter().map(|place| of(shape[*place])).sum::<f64>() / self.places.len() as f64;
        let middle = mean(&|value| value);
        mean(&|value| (value - middle).powi(2))
    }
}

/// The shapes; nothing where no mode is told apart.
#[must_use]
pub fn svg(scene: &Scene, study: &BassStudy, fields: &BassFields) -> Option<String> {
    let ear = scene.seats.iter().map(|seat| seat.ear).chain(scene.microphones.iter().map(|microphone| microphone.position)).next()?;
    let slices = [plan(scene, fields, ear), section(scene, fields, ear, 0), section(scene, fields, ear, 1)];
    let shapes: Vec<Vec<f64>> = (0..fields.modes_hz.len().min(MOST)).map(|mode| fields.shape(mode)).collect();
    let chosen: Vec<&Slice> = shapes.iter().map(|shape| best(&slices, shape)).collect();
    let largest = chosen.iter().map(|slice| slice.bounds()).map(|(low, high)| high - low).reduce(DVec2::max)?.max(DVec2::splat(0.01));
    let scale = (SLICE / largest).min_element();
    let step = DVec2::new(SLICE.x + BETWEEN.x, scale * largest.y + BETWEEN.y);
    let bottom = 18.0 + step.y * shapes.len().div_ceil(COLUMNS) as f64;
    let mut page = Drawing::new(170.0, bottom + 31.0, paper::CARD);
    plot::title(
        &mut page,
        &format!("{}: shapes of the first modes", scene.name),
        "pressure when it is greatest: red and blue swing against each other, white stays still",
    );
    for (index, (shape, slice)) in shapes.iter().zip(&chosen).enumerate() {
        let (low, high) = slice.bounds();
        let corner = DVec2::new(9.0, 21.0) + step * DVec2::new((index % COLUMNS) as f64, (index / COLUMNS) as f64);
        let title = Lettering::new(paper::BODY, paper::INK).bold();
        page.text(corner + DVec2::new(0.0, 2.0), &title.fit(&mode_heading(&study.stands.modes[index]), SLICE.x), title);
        let quiet = Lettering::new(paper::SMALL, paper::QUIET);
        page.text(corner + DVec2::new(0.0, 5.6), &quiet.fit(&slice.name, SLICE.x), quiet);
        draw(&mut page, scene, fields, (slice, shape), &FloorPlan { low, high, scale, at: corner + DVec2::new(0.0, 8.0) });
    }
    let marks = Marks { low: -1.0, high: 1.0, step: 0.5 };
    bar(&mut page, DVec2::new(16.0, bottom + 8.0), 80.0, ("pressure re the loudest place", marks), |share| Colormap::Signed.color(share));
    ruler(&mut page, DVec2::new(112.0, bottom + 11.6), scale);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let key = "Ring: seat or microphone; square: loudspeaker or voice; on sections as seen from the side; gray: no air there. A seat on white hardly hears the mode, a loudspeaker on white hardly drives it.";
    for (index, line) in quiet.wrap(key, 150.0).iter().enumerate() {
        page.text(DVec2::new(9.0, bottom + 23.0 + 3.3 * index as f64), line, quiet);
    }
    Some(page.finish())
}

/// The plan, unless the better of the sections shows much more.
fn best<'s>([plan, along, across]: &'s [Slice; 3], shape: &[f64]) -> &'s Slice {
    let section = if across.shown(shape) > along.shown(shape) { across } else { along };
    if section.shown(shape) > RATHER * plan.shown(shape) { section } else { plan }
}

/// The floor plan nearest to ear height.
fn plan(scene: &Scene, fields: &BassFields, ear: DVec3) -> Slice {
    let places = fields.layer(ear.z);
    let height = places.first().map_or(ear.z, |place| fields.points[*place].z);
    Slice { axes: [0, 1], places, outline: scene.outline.clone(), name: format!("plan, {} over the floor", length(height, scene)) }
}

/// The section along an axis of the floor, nearest to an ear.
fn section(scene: &Scene, fields: &BassFields, ear: DVec3, axis: usize) -> Slice {
    let across = 1 - axis;
    let off = |point: &DVec3| (point[across] - ear[across]).abs();
    let nearest = fields.points.iter().min_by(|a, b| off(a).total_cmp(&off(b))).map_or(ear[across], |point| point[across]);
    let is_in = |place: &usize| (fields.points[*place][across] - nearest).abs() < 0.5 * fields.apart_m;
    let plan = scene.floor_plan();
    let (low, high) = plan.bounds();
    // A hair off the border, so that the ends count as within.
    let hair = 1e-6;
    let at = |step: usize| {
        let along = low[axis] + hair + (high[axis] - low[axis] - 2.0 * hair) * step as f64 / ALONG as f64;
        if axis == 0 { DVec2::new(along, nearest) } else { DVec2::new(nearest, along) }
    };
    let within: Vec<DVec2> = (0..=ALONG).map(at).filter(|point| plan.contains(*point)).collect();
    let ceiling = within.iter().map(|point| DVec2::new(point[axis], scene.ceiling_height(*point)));
    let floor = within.iter().rev().map(|point| DVec2::new(point[axis], 0.0));
    let names = ["x", "y"];
    Slice {
        axes: [axis, 2],
        places: (0..fields.points.len()).filter(is_in).collect(),
        outline: ceiling.chain(floor).collect(),
        name: format!("section along {} at {} {}", names[axis], names[across], length(nearest, scene)),
    }
}

/// A shape on its slice, and who sounds and hears.
fn draw(page: &mut Drawing, scene: &Scene, fields: &BassFields, (slice, shape): (&Slice, &[f64]), view: &FloorPlan) {
    let outline = view.all(&slice.outline);
    let half = DVec2::splat(0.5 * fields.apart_m);
    let mut cells: Vec<Vec<Vec<DVec2>>> = vec![Vec::new(); LEVELS];
    for place in &slice.places {
        let level = (0.5 * (shape[*place] + 1.0) * (LEVELS - 1) as f64).round() as usize;
        let middle = slice.flat(fields.points[*place]);
        cells[level.min(LEVELS - 1)].push(view.all(&Polygon::rectangle(middle - half, middle + half).corners));
    }
    page.clipped(&outline, |page| {
        page.rect(view.area(), Look::fill(paper::NONE));
        for (level, cells) in cells.iter().enumerate().filter(|(_, cells)| !cells.is_empty()) {
            page.cells(cells, Look::fill(Colormap::Signed.color(level as f64 / (LEVELS - 1) as f64)));
        }
    });
    page.polygon(&outline, Look::line(paper::INK, 0.4));
    for source in &scene.sources {
        let at = view.paper(slice.flat(source.position));
        page.rect(Area::new(at.x - 0.9, at.y - 0.9, 1.8, 1.8), Look::fill(paper::INK).edged(paper::CARD, 0.25));
    }
    for ear in scene.seats.iter().map(|seat| seat.ear).chain(scene.microphones.iter().map(|microphone| microphone.position)) {
        let at = view.paper(slice.flat(ear));
        page.circle(at, 1.1, Look::line(paper::CARD, 0.8));
        page.circle(at, 1.1, Look::line(paper::INK, 0.4));
    }
}

/// A meter of the room.
fn ruler(page: &mut Drawing, at: DVec2, scale: f64) {
    let end = at + DVec2::new(scale, 0.0);
    page.line(at, end, Look::line(paper::INK, 0.3));
    page.tick(at);
    page.tick(end);
    page.text(end + DVec2::new(2.0, 0.9), "1 m", Lettering::new(paper::SMALL, paper::INK));
}
