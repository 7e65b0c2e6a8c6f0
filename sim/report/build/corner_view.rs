//! How a panel lies across a corner, from above: its trapezoid, its bevels, and the air behind it.
//!
//! *Limits.* As `workshop::pieces`: the walls are straight and meet at the angle that the scene gives.

use glam::DVec2;

use super::cut_plans::scale;
use crate::report::html::plain;
use crate::report::leaf::Writer;
use crate::report::paper;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::workshop::Made;
use crate::workshop::pieces::CornerCut;

/// Room for the drawing, mm.
const ROOM: DVec2 = DVec2::new(96.0, 58.0);
/// Beside it for words, mm.
const BESIDE: f64 = 26.0;

/// Draws it, where the type goes across a corner.
pub fn draw(page: &mut Writer, made: &Made) {
    let Some(cut) = made.corner else { return };
    let tape = page.tape();
    let half = 0.5 * cut.corner_deg.to_radians();
    let front = 0.5 * made.face_m[0] / half.tan();
    // Walls go on a little beyond the front.
    let deep = 1.15 * front;
    let scale = scale(DVec2::new(2.3 * 0.5 * made.face_m[0], deep), ROOM);
    let height = deep * 1000.0 / scale + 12.0;
    page.figure(height, true, |page, area| {
        let mm = 1000.0 / scale;
        let apex = DVec2::new(area.low.x + BESIDE + 0.5 * ROOM.x, area.low.y + 5.0);
        section(page, apex, mm, (made, cut, front), tape);
        let note = format!("1:{}, from above", plain(scale, 0));
        page.text(DVec2::new(area.high.x - 42.0, area.low.y + 4.0), &note, Lettering::new(paper::SMALL, paper::QUIET));
    });
}

fn section(page: &mut Drawing, apex: DVec2, mm: f64, (made, cut, front): (&Made, CornerCut, f64), tape: Tape) {
    let half = 0.5 * cut.corner_deg.to_radians();
    let [left, right] = [-1.0, 1.0].map(|side| DVec2::new(side * half.sin(), half.cos()));
    let wall = 1.15 * front / half.cos() * mm;
    page.polyline(&[apex + left * wall, apex, apex + right * wall], Look::line(paper::INK, 0.7));
    let (wide, back) = (0.5 * made.face_m[0] * mm, 0.5 * cut.back_m * mm);
    let (at_front, at_back) = (front * mm, (front - made.thickness_m) * mm);
    let corners = [DVec2::new(-wide, at_front), DVec2::new(wide, at_front), DVec2::new(back, at_back), DVec2::new(-back, at_back)];
    page.polygon(&corners.map(|corner| apex + corner), Look::fill(paper::PANEL).edged(paper::INK, 0.4));
    let small = Lettering::new(paper::SMALL, paper::INK).middle().rim(paper::WHITE);
    let quiet = Lettering::new(paper::SMALL, paper::QUIET).middle().rim(paper::WHITE);
    page.text(apex + DVec2::new(0.0, at_front + 3.6), &format!("front {}", tape.read(made.face_m[0])), small);
    page.text(apex + DVec2::new(0.0, at_back - 1.2), &format!("back {}", tape.read(cut.back_m)), small);
    page.text(apex + DVec2::new(0.0, 0.5 * (at_front + at_back) + 0.9), &format!("{} thick", tape.read(made.thickness_m)), small);
    if at_back > 12.0 {
        page.text(apex + DVec2::new(0.0, 0.62 * at_back), &format!("air, {} l", plain(1000.0 * cut.air_m3, 0)), quiet);
    }
    // Along each wall, outside.
    let beside = |side: f64, text: &str, letters: Lettering| {
        let middle = 0.5 * cut.leg_m * mm * DVec2::new(side * half.sin(), half.cos());
        (apex + middle + DVec2::new(side * 2.0, -1.6), text.to_owned(), letters)
    };
    let leg = format!("{} from the corner", tape.read(cut.leg_m));
    let plain_letters = Lettering::new(paper::SMALL, paper::INK).rim(paper::WHITE);
    for (at, text, letters) in
        [beside(-1.0, &leg, plain_letters.end()), beside(1.0, &format!("bevel {} degrees", plain(cut.bevel_deg, 1)), plain_letters)]
    {
        page.text(at, &text, letters);
    }
    for corner in [corners[0], corners[1]] {
        let at = apex + corner;
        page.rect(Area::new(at.x - 0.5, at.y - 0.5, 1.0, 1.0), Look::fill(paper::INK));
    }
}
