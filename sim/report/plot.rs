//! A frame with two axes: what every chart shares.

use glam::DVec2;

use super::axis::Marks;
use super::paper;
use super::svg::{Area, Drawing, Lettering, Look};

/// A frame and its two scales.
#[derive(Clone, Copy, Debug)]
pub struct Plot {
    /// The frame on the paper, mm.
    pub area: Area,
    /// Scale to the right.
    pub x: Marks,
    /// Scale upward.
    pub y: Marks,
}

impl Plot {
    /// Where a pair of values comes on the paper, mm; held to the frame.
    #[must_use]
    pub fn at(&self, x: f64, y: f64) -> DVec2 {
        let share = |marks: &Marks, value: f64| if value.is_nan() { 0.0 } else { marks.share(value).clamp(0.0, 1.0) };
        let size = self.area.size();
        DVec2::new(self.area.low.x + size.x * share(&self.x, x), self.area.high.y - size.y * share(&self.y, y))
    }

    /// The part of the frame between two pairs of values.
    #[must_use]
    pub fn box_between(&self, from: (f64, f64), to: (f64, f64)) -> Area {
        Area::round(&[self.at(from.0, from.1), self.at(to.0, to.1)])
    }

    /// Marks and numbers of the lower axis, with its name below.
    pub fn draw_x(&self, page: &mut Drawing, name: &str) {
        let letters = Lettering::new(paper::SMALL, paper::INK).middle();
        for value in self.x.values() {
            let at = self.at(value, self.y.low);
            page.line(at, at + DVec2::new(0.0, 1.0), Look::line(paper::INK, 0.2));
            page.text(at + DVec2::new(0.0, 3.9), &self.x.print(value), letters);
        }
        page.text(DVec2::new(self.area.middle().x, self.area.high.y + 8.0), name, Lettering::new(paper::SMALL, paper::QUIET).middle());
    }

    /// Rules and numbers of the left axis, with its name beside.
    pub fn draw_y(&self, page: &mut Drawing, name: &str) {
        let letters = Lettering::new(paper::SMALL, paper::INK).end();
        for value in self.y.values() {
            let at = self.at(self.x.low, value);
            page.line(at, DVec2::new(self.area.high.x, at.y), Look::line(paper::LINE, 0.15));
            page.text(at + DVec2::new(-1.4, 0.9), &self.y.print(value), letters);
        }
        let quiet = Lettering::new(paper::SMALL, paper::QUIET).middle().upright();
        page.text(DVec2::new(self.area.low.x - 11.0, self.area.middle().y), name, quiet);
    }

    /// The lower edge as a line.
    pub fn draw_base(&self, page: &mut Drawing) {
        page.line(DVec2::new(self.area.low.x, self.area.high.y), self.area.high, Look::line(paper::INK, 0.3));
    }
}

/// Headline and the line below it.
pub fn title(page: &mut Drawing, head: &str, line: &str) {
    let width = page.size.x - 16.0;
    let bold = Lettering::new(4.2, paper::INK).bold();
    page.text(DVec2::new(8.0, 9.0), &bold.fit(head, width), bold);
    let quiet = Lettering::new(paper::BODY, paper::QUIET);
    page.text(DVec2::new(8.0, 14.0), &quiet.fit(line, width), quiet);
}

/// Colored squares with their meaning, in a row that begins at `at`.
pub fn legend(page: &mut Drawing, at: DVec2, entries: &[(Look, &str)]) {
    let letters = Lettering::new(paper::SMALL, paper::INK);
    let mut x = at.x;
    for (look, text) in entries {
        page.rect(Area::new(x, at.y - 2.2, 2.6, 2.6), *look);
        page.text(DVec2::new(x + 3.8, at.y), text, letters);
        x += 3.8 + letters.length(text) + 6.0;
    }
}
