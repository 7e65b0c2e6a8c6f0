//! The image of a source in a wall, from above, for each version: the source, its image as far behind the wall, the way from the image to the
//! point that listens, which meets the wall at the mirror point, and the way that the sound goes.
//!
//! The mirror is a wall of the floor plan: `image = source - 2 ((source - corner) . n) n`.
//!
//! *Limits.* Seen from above; heights are not in it.

use glam::DVec2;

use crate::report::axis;
use crate::report::floor_plan::FloorPlan;
use crate::report::paper;
use crate::report::plot;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::text::compare::letter;
use crate::scene::Scene;

/// Width of the drawing, and how tall one plan is at most, mm.
const SIZE: DVec2 = DVec2::new(190.0, 92.0);
/// Between two plans, mm.
const BETWEEN: f64 = 6.0;

/// Each place of source and seat that a version has, mirrored in the wall along this edge of its outline; nothing where no version has a source, a
/// microphone and such a wall.
#[must_use]
pub fn images(scenes: &[Scene], names: &[&str], edge: usize) -> Option<String> {
    // Versions in which both stand alike are one picture.
    let mut shown: Vec<(Vec<usize>, Mirrored)> = Vec::new();
    for (index, scene) in scenes.iter().enumerate() {
        let Some(one) = mirrored(scene, edge) else { continue };
        match shown.iter_mut().find(|(_, other)| *other == one) {
            Some((versions, _)) => versions.push(index),
            None => shown.push((vec![index], one)),
        }
    }
    let unit = scenes[*shown.first()?.0.first()?].unit;
    let (low, high) =
        shown.iter().flat_map(|(_, one)| one.points()).fold((DVec2::MAX, DVec2::MIN), |(low, high), at| (low.min(at), high.max(at)));
    let (low, high) = (low - DVec2::splat(0.3), high + DVec2::splat(0.3));
    let width = (SIZE.x - 16.0 - BETWEEN * (shown.len() as f64 - 1.0)) / shown.len().max(1) as f64;
    let scale = (width / (high.x - low.x)).min(SIZE.y / (high.y - low.y));
    let tall = scale * (high.y - low.y);
    let mut page = Drawing::new(SIZE.x, 26.0 + tall + 14.0, paper::CARD);
    plot::title(
        &mut page,
        "The image behind the wall",
        "seen from above: the wall sends sound to the seat as if it came from the image, straight through the mirror point",
    );
    for (place, (versions, one)) in shown.iter().enumerate() {
        let at = DVec2::new(8.0 + place as f64 * (width + BETWEEN), 26.0);
        let bold = Lettering::new(paper::SMALL, paper::INK).bold();
        let letters: Vec<String> = versions.iter().map(|index| letter(*index).to_string()).collect();
        let head = format!("{}: {}", letters.join(", "), names.get(versions[0]).copied().unwrap_or_default());
        page.text(at - DVec2::new(0.0, 3.0), &bold.fit(&head, width), bold);
        one.draw(&mut page, &FloorPlan { low, high, scale, at });
    }
    let bar = axis::step(unit.from_meters(1.0) * 0.999);
    let (start, length) = (DVec2::new(8.0, 26.0 + tall + 8.0), unit.to_meters(bar) * scale);
    page.line(start, start + DVec2::new(length, 0.0), Look::line(paper::INK, 0.5));
    let text = format!("{} {}", axis::print(bar, bar), unit.symbol());
    page.text(start + DVec2::new(length + 2.0, 0.9), &text, Lettering::new(paper::SMALL, paper::INK));
    Some(page.finish())
}

/// What is drawn of a version, meters.
#[derive(PartialEq)]
struct Mirrored {
    outline: Vec<DVec2>,
    wall: [DVec2; 2],
    source: DVec2,
    seat: DVec2,
    image: DVec2,
    /// Where the way from the image meets the wall.
    point: DVec2,
}

fn mirrored(scene: &Scene, edge: usize) -> Option<Mirrored> {
    let outline = scene.outline.clone();
    let wall = [*outline.get(edge)?, outline[(edge + 1) % outline.len()]];
    let (source, seat) = (scene.sources.first()?.position.truncate(), scene.microphones.first()?.position.truncate());
    let normal = (wall[1] - wall[0]).perp().try_normalize()?;
    let away = |point: DVec2| (point - wall[0]).dot(normal);
    let image = source - 2.0 * away(source) * normal;
    let share = away(image) / (away(image) - away(seat));
    Some(Mirrored { outline, wall, source, seat, image, point: image + share * (seat - image) })
}

impl Mirrored {
    fn points(&self) -> impl Iterator<Item = DVec2> {
        self.outline.iter().copied().chain([self.image])
    }

    fn draw(&self, page: &mut Drawing, plan: &FloorPlan) {
        let [source, seat, image, point] = [self.source, self.seat, self.image, self.point].map(|at| plan.paper(at));
        page.polygon(&plan.all(&self.outline), Look::fill(paper::WHITE).edged(paper::SOFT, 0.3));
        page.line(plan.paper(self.wall[0]), plan.paper(self.wall[1]), Look::line(paper::INK, 1.0));
        page.line(source, seat, Look::line(paper::SOFT, 0.3));
        page.line(image, point, Look::line(paper::ACCENT, 0.25).dashed(1.4, 0.9));
        page.polyline(&[source, point, seat], Look::line(paper::ACCENT, 0.4));
        page.circle(source, 1.4, Look::fill(paper::INK));
        page.circle(image, 1.4, Look::fill(paper::CARD).edged(paper::INK, 0.3));
        page.circle(seat, 1.4, Look::fill(paper::CARD).edged(paper::ACCENT, 0.45));
        page.circle(point, 0.9, Look::fill(paper::ACCENT));
        for at in [source, image, seat, point] {
            page.keep_free(Area::new(at.x - 1.6, at.y - 1.6, 3.2, 3.2));
        }
        let letters = Lettering::new(paper::SMALL, paper::INK).rim(paper::CARD).middle();
        for (at, word) in [(source, "source"), (image, "image"), (seat, "seat"), (point, "mirror point")] {
            page.text_where_free(&[4.6, -2.8, 8.0, -6.0].map(|down| at + DVec2::new(0.0, down)), word, letters);
        }
    }
}
