//! The floor plan of the low end: how even it is at ear height at every place, the lighter the evener; seats, loudspeakers, and the evenest places by number.
//!
//! *Limits.* Nothing is smoothed between places.

use glam::DVec2;

use super::axis::Marks;
use super::floor_plan::FloorPlan;
use super::heatmap::bar;
use super::paper::{self, Colormap};
use super::plot;
use super::svg::{Area, Drawing, Lettering, Look};
use crate::findings::bass::BassFloor;
use crate::geometry::Polygon;
use crate::scene::Scene;

/// Width and height of the plan at most, mm.
const PLAN: [f64; 2] = [130.0, 110.0];

/// The map.
#[must_use]
pub fn svg(scene: &Scene, floor: &BassFloor) -> String {
    let (low, high) = scene.floor_plan().bounds();
    let size = (high - low).max(DVec2::splat(0.01));
    let scale = (PLAN[0] / size.x).min(PLAN[1] / size.y);
    let width = (scale * size.x + 32.0).max(150.0);
    let bottom = 26.0 + scale * size.y;
    let mut page = Drawing::new(width, bottom + 30.0, paper::CARD);
    let [from, to] = floor.octaves_hz;
    plot::title(
        &mut page,
        &format!("{}: how even the low end is at ear height", scene.name),
        &format!("standard deviation of the third octaves {from} to {to} Hz, from {}", floor.sources.join(" and ")),
    );
    let view = FloorPlan { low, high, scale, at: DVec2::new(16.0, 22.0) };
    let marks = marks(floor);
    let outline = view.all(&scene.outline);
    let half = DVec2::splat(0.5 * floor.apart_m);
    page.clipped(&outline, |page| {
        for place in &floor.places {
            let middle = DVec2::from_array(place.point_m);
            let color = Colormap::Viridis.color(1.0 - marks.share(place.evenness_db).clamp(0.0, 1.0));
            page.cells(&[view.all(&Polygon::rectangle(middle - half, middle + half).corners)], Look::fill(color));
        }
    });
    for block in &scene.blocks {
        page.polygon(&view.all(&block.footprint().corners), Look::line(paper::CARD, 0.3).dashed(1.0, 0.6));
    }
    page.polygon(&outline, Look::line(paper::INK, 0.6));
    for source in &scene.sources {
        let at = view.paper(source.position.truncate());
        page.rect(Area::new(at.x - 1.3, at.y - 1.3, 2.6, 2.6), Look::fill(paper::INK).edged(paper::CARD, 0.3));
    }
    for ear in scene.seats.iter().map(|seat| seat.ear).chain(scene.microphones.iter().map(|microphone| microphone.position)) {
        let at = view.paper(ear.truncate());
        page.circle(at, 1.5, Look::line(paper::CARD, 1.0));
        page.circle(at, 1.5, Look::line(paper::INK, 0.5));
    }
    for (rank, index) in floor.best.iter().enumerate() {
        let at = view.paper(DVec2::from_array(floor.places[*index].point_m));
        page.circle(at, 2.3, Look::fill(paper::ACCENT).edged(paper::CARD, 0.25));
        page.text(at + DVec2::new(0.0, 0.95), &(rank + 1).to_string(), Lettering::new(paper::BODY, paper::CARD).bold().middle());
    }
    bar(&mut page, DVec2::new(16.0, bottom + 6.0), 80.0, ("dB, less is evener", marks), |share| Colormap::Viridis.color(1.0 - share));
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let key = format!(
        "seen from above, {:.2} m over the floor; ring: seat or microphone; square: loudspeaker or voice; numbers: the evenest places where a head may be; dashed: what stands there",
        floor.height_m
    );
    for (index, line) in quiet.wrap(&key, width - 24.0).iter().enumerate() {
        page.text(DVec2::new(16.0, bottom + 21.0 + 3.3 * index as f64), line, quiet);
    }
    page.finish()
}

fn marks(floor: &BassFloor) -> Marks {
    let values = || floor.places.iter().map(|place| place.evenness_db).filter(|value| value.is_finite());
    Marks::round(values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max), 6)
}
