//! Small drawings of common kinds of wall, floor and ceiling.

use bevy_egui::egui::{Color32, Painter, Rect, Stroke, pos2};

use super::tokens::{CARD, LINE, PANEL, SOFT};

/// What is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Pattern {
    /// Boards with joints and screws.
    Board,
    /// Courses of stone.
    Brick,
    /// A smooth coat.
    Plaster,
    /// Gray with holes.
    Concrete,
    /// Long boards.
    Planks,
    /// Square tiles.
    Tiles,
    /// Pile.
    Carpet,
}

/// Draws it.
pub(crate) fn draw(painter: &Painter, rect: Rect, pattern: Pattern) {
    let line = Stroke::new(1.0, SOFT);
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let part = |x: f32, y: f32| pos2(rect.left() + x * rect.width(), rect.top() + y * rect.height());
    let across = |y: f32| painter.hline(rect.x_range(), part(0.0, y).y, line);
    let down = |x: f32, from: f32, to: f32| painter.vline(part(x, 0.0).x, part(0.0, from).y..=part(0.0, to).y, line);
    painter.rect_filled(rect, 0.0, ground(pattern));
    match pattern {
        Pattern::Board => {
            down(0.5, 0.0, 1.0);
            for row in 0..4_u8 {
                for x in [0.44, 0.56] {
                    painter.circle_filled(part(x, 0.14 + 0.24 * f32::from(row)), 1.0, SOFT);
                }
            }
        }
        Pattern::Brick => {
            for row in 0..4_u8 {
                let top = 0.25 * f32::from(row);
                across(top);
                let shift = if row % 2 == 0 { 0.0 } else { 0.17 };
                (0..4_u8).for_each(|joint| _ = down(shift + 0.33 * f32::from(joint), top, top + 0.25));
            }
        }
        Pattern::Plaster => {}
        Pattern::Concrete => {
            for (x, y) in [(0.2, 0.3), (0.7, 0.2), (0.45, 0.62), (0.85, 0.75), (0.12, 0.8), (0.55, 0.9), (0.32, 0.1)] {
                painter.circle_filled(part(x, y), 1.3, SOFT);
            }
        }
        Pattern::Planks => {
            for row in 0..4_u8 {
                let top = 0.25 * f32::from(row);
                across(top);
                _ = down([0.3, 0.75, 0.15, 0.6][usize::from(row)], top, top + 0.25);
            }
        }
        Pattern::Tiles => {
            for step in 1..4_u8 {
                across(0.25 * f32::from(step));
                _ = down(0.25 * f32::from(step), 0.0, 1.0);
            }
        }
        Pattern::Carpet => {
            for row in 0..6_u8 {
                for column in 0..8_u8 {
                    let from = part(0.06 + 0.125 * f32::from(column) + 0.03 * f32::from(row % 2), 0.08 + 0.16 * f32::from(row));
                    painter.line_segment([from, pos2(from.x + 2.0, from.y + 3.0)], line);
                }
            }
        }
    }
    painter.rect_stroke(rect, 0.0, Stroke::new(1.0, LINE), bevy_egui::egui::StrokeKind::Inside);
}

fn ground(pattern: Pattern) -> Color32 {
    match pattern {
        Pattern::Board | Pattern::Plaster | Pattern::Tiles => CARD,
        Pattern::Brick => Color32::from_rgb(0xe6, 0xc9, 0xb6),
        Pattern::Concrete => Color32::from_rgb(0xd9, 0xd7, 0xd2),
        Pattern::Planks => Color32::from_rgb(0xe3, 0xcf, 0xa9),
        Pattern::Carpet => PANEL,
    }
}
