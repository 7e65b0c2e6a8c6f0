//! Small drawings of common kinds of wall, floor and ceiling, as one sees them from inside the room: joints, courses, grain, pile.

use bevy_egui::egui::{Color32, Painter, Pos2, Rect, Stroke, StrokeKind, Vec2, pos2, vec2};

use super::tokens::{CARD, LINE, PALE, PANEL, SOFT};

/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Pattern {
    /// Sheets with a filled joint and screws.
    Board,
    /// Courses of brick, half a brick off each other.
    Brick,
    /// A coat with the strokes of the trowel.
    Plaster,
    /// Fields of the formwork, their tie holes, pores.
    Concrete,
    /// A trowelled floor: pores only.
    Screed,
    /// Long boards with nails at their ends.
    Boards,
    /// Narrow upright boards with a groove between.
    Lining,
    /// Short blocks set herringbone.
    Parquet,
    /// A sheet with flecks.
    Linoleum,
    /// Square tiles with holes in a grid of rails.
    Tiles,
    /// Tufts.
    Carpet,
}

/// One drawing: places as shares of its rectangle, from its left upper corner.
struct Drawing {
    painter: Painter,
    rect: Rect,
}

impl Drawing {
    fn at(&self, x: f32, y: f32) -> Pos2 {
        pos2(self.rect.left() + x * self.rect.width(), self.rect.top() + y * self.rect.height())
    }

    fn line(&self, from: (f32, f32), to: (f32, f32), stroke: Stroke) {
        self.painter.line_segment([self.at(from.0, from.1), self.at(to.0, to.1)], stroke);
    }

    fn dots(&self, places: impl IntoIterator<Item = (f32, f32)>, radius: f32, color: Color32) {
        for (x, y) in places {
            self.painter.circle_filled(self.at(x, y), radius, color);
        }
    }

    /// Lines of the same length and lean, in pixels, at these places.
    fn strokes(&self, places: impl IntoIterator<Item = (f32, f32)>, reach: Vec2, stroke: Stroke) {
        for (x, y) in places {
            let from = self.at(x, y);
            self.painter.line_segment([from, from + reach], stroke);
        }
    }
}

/// Draws it.
pub(crate) fn draw(painter: &Painter, rect: Rect, pattern: Pattern) {
    let drawing = Drawing { painter: painter.with_clip_rect(rect.intersect(painter.clip_rect())), rect };
    drawing.painter.rect_filled(rect, 0.0, ground(pattern));
    let (thin, joint) = (Stroke::new(1.0, PALE), Stroke::new(1.0, SOFT));
    match pattern {
        Pattern::Board => {
            drawing.line((0.62, 0.0), (0.62, 1.0), joint);
            drawing.dots((0..5_u8).flat_map(|row| [0.58, 0.66].map(|x| (x, 0.1 + 0.2 * f32::from(row)))), 0.9, SOFT);
        }
        Pattern::Brick => bricks(&drawing, Stroke::new(1.5, CARD)),
        Pattern::Plaster => {
            let places = scattered(14).map(|(x, y)| (x - 0.05, y));
            drawing.strokes(places, vec2(9.0, -3.0), thin);
        }
        Pattern::Concrete => {
            drawing.line((0.5, 0.0), (0.5, 1.0), joint);
            drawing.dots([0.12, 0.38, 0.62, 0.88].into_iter().flat_map(|x| [(x, 0.22), (x, 0.78)]), 1.6, SOFT);
            drawing.dots(scattered(12), 0.6, SOFT);
        }
        Pattern::Screed => drawing.dots(scattered(26), 0.7, SOFT),
        Pattern::Boards => {
            for row in 0..4_u8 {
                let top = 0.25 * f32::from(row);
                drawing.line((0.0, top), (1.0, top), joint);
                let end = [0.3, 0.78, 0.14, 0.58][usize::from(row)];
                drawing.line((end, top), (end, top + 0.25), joint);
                drawing.dots([end - 0.025, end + 0.025].into_iter().map(|x| (x, top + 0.125)), 0.7, SOFT);
                drawing.line((end + 0.08, top + 0.14), (end + 0.26, top + 0.11), thin);
            }
        }
        Pattern::Lining => {
            for board in 1..9_u8 {
                let x = f32::from(board) / 9.0;
                drawing.line((x, 0.0), (x, 1.0), joint);
                drawing.line((x + 0.02, 0.0), (x + 0.02, 1.0), Stroke::new(1.0, CARD));
            }
        }
        Pattern::Parquet => herringbone(&drawing, joint),
        Pattern::Linoleum => {
            drawing.strokes(scattered(22), vec2(4.0, 1.0), thin);
            drawing.strokes(scattered(11).map(|(x, y)| (1.0 - x, y)), vec2(3.0, -1.5), Stroke::new(1.0, CARD));
        }
        Pattern::Tiles => {
            for edge in 1..3_u8 {
                let x = f32::from(edge) / 3.0;
                drawing.line((x, 0.0), (x, 1.0), joint);
            }
            drawing.line((0.0, 0.5), (1.0, 0.5), joint);
            let holes = (0..15_u8).flat_map(|column| (0..6_u8).map(move |row| (column, row)));
            drawing.dots(holes.map(|(column, row)| ((f32::from(column) + 0.5) / 15.0, (f32::from(row) + 0.5) / 6.0)), 0.7, SOFT);
        }
        Pattern::Carpet => {
            let tufts = (0..13_u8).flat_map(|column| (0..7_u8).map(move |row| (column, row)));
            let places = tufts.map(|(column, row)| (0.08 * f32::from(column) + 0.04 * f32::from(row % 2), 0.02 + 0.145 * f32::from(row)));
            drawing.strokes(places, vec2(2.0, 3.5), joint);
        }
    }
    drawing.painter.rect_stroke(rect, 0.0, Stroke::new(1.0, LINE), StrokeKind::Inside);
}

fn bricks(drawing: &Drawing, joint: Stroke) {
    for row in 0..5_u8 {
        let top = 0.2 * f32::from(row);
        drawing.line((0.0, top), (1.0, top), joint);
        for brick in 0..5_u8 {
            let x = 0.25 * f32::from(brick) + if row % 2 == 0 { 0.0 } else { 0.125 };
            drawing.line((x, top), (x, top + 0.2), joint);
        }
    }
}

/// Blocks of one by four, each row leaning the other way.
fn herringbone(drawing: &Drawing, joint: Stroke) {
    let (width, height) = (drawing.rect.width(), drawing.rect.height());
    let step = height / 3.0;
    for row in 0..3_u8 {
        let top = drawing.rect.top() + step * f32::from(row);
        let lean = if row % 2 == 0 { step } else { -step };
        let mut x = drawing.rect.left() - step;
        while x < drawing.rect.left() + width + step {
            let foot = pos2(x - lean / 2.0, top + step);
            drawing.painter.line_segment([pos2(x + lean / 2.0, top), foot], joint);
            x += step * 0.55;
        }
        drawing.painter.hline(drawing.rect.x_range(), top, joint);
    }
}

/// Places that look strewn, are evenly so, and the same each time: steps by the powers of the root of x^3 = x + 1.
fn scattered(count: u8) -> impl Iterator<Item = (f32, f32)> {
    (1..=count).map(|index| ((f32::from(index) * 0.754_878).fract(), (f32::from(index) * 0.569_840).fract()))
}

fn ground(pattern: Pattern) -> Color32 {
    match pattern {
        Pattern::Board | Pattern::Plaster | Pattern::Tiles => CARD,
        Pattern::Brick => Color32::from_rgb(0xdd, 0xb8, 0xa2),
        Pattern::Concrete | Pattern::Screed => Color32::from_rgb(0xd9, 0xd7, 0xd2),
        Pattern::Boards | Pattern::Lining => Color32::from_rgb(0xe3, 0xcf, 0xa9),
        Pattern::Parquet => Color32::from_rgb(0xdb, 0xc0, 0x92),
        Pattern::Linoleum => Color32::from_rgb(0xcf, 0xd3, 0xc4),
        Pattern::Carpet => PANEL,
    }
}
