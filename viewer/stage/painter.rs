//! The overlay painted: on the screen, and as a drawing to be laid over a picture.

use bevy::math::Vec2;
use bevy::prelude::{Local, Query, Res, Result};
use bevy_egui::{EguiContexts, EguiInput, egui};
use roomwright::report::svg::{escape, number};

use super::camera::Sight;
use super::draw::MapScale;
use super::hand::Hand;
use super::overlay::{self, Anchor, Mark, Seen, letters};
use crate::results::Results;
use crate::ui::tokens;
use crate::view::View;

/// Paints the overlay on the screen.
pub(super) fn paint(
    mut contexts: EguiContexts,
    (sight, hand, scale): (Res<Sight>, Res<Hand>, Res<MapScale>),
    (view, results): (Res<View>, Res<Results>),
) -> Result {
    let (Some(scene), Some(room)) = (&results.scene, &results.room) else { return Ok(()) };
    let seen = Seen { scene, room: &room.value, view: &view, results: &results, sight: &sight, hand: &hand, marks: scale.0 };
    if let Some(icon) = cursor(&hand, &view) {
        contexts.ctx_mut()?.set_cursor_icon(icon);
    }
    let position = |at: Vec2| egui::pos2(at.x, at.y);
    let layer = egui::LayerId::new(egui::Order::Background, egui::Id::new("stage"));
    let clip = egui::Rect::from_min_max(position(sight.area.low), position(sight.area.high));
    let painter = contexts.ctx_mut()?.layer_painter(layer).with_clip_rect(clip);
    for mark in overlay::laid_out(&seen) {
        match mark {
            Mark::Line { points, color, width } => {
                painter.line(points.into_iter().map(position).collect(), egui::Stroke::new(width, color));
            }
            Mark::Fill { low, high, color } => {
                painter.rect_filled(egui::Rect::from_min_max(position(low), position(high)), 0.0, color);
            }
            Mark::Text { at, anchor, text, color, on_paper } => {
                let align = match anchor {
                    Anchor::Left => egui::Align2::LEFT_CENTER,
                    Anchor::Middle => egui::Align2::CENTER_CENTER,
                    Anchor::Right => egui::Align2::RIGHT_CENTER,
                };
                let letters = painter.layout_no_wrap(text, egui::FontId::proportional(letters()), color);
                let rect = align.anchor_size(position(at), letters.size());
                if on_paper {
                    painter.rect_filled(rect.expand2(egui::vec2(3.0, 0.0)), 0.0, tokens::CARD);
                }
                painter.galley(rect.min, letters, color);
            }
        }
    }
    Ok(())
}

/// The pointer as the hand is: open over what it could take, closed round what it holds, barred where that may not be.
fn cursor(hand: &Hand, view: &View) -> Option<egui::CursorIcon> {
    match hand {
        Hand { dragged: Some(_), .. } if view.refused.is_some() => Some(egui::CursorIcon::NotAllowed),
        Hand { is_closed: true, .. } => Some(egui::CursorIcon::Grabbing),
        Hand { offered: Some(_), .. } => Some(egui::CursorIcon::Crosshair),
        Hand { pointed: Some(_), .. } => Some(egui::CursorIcon::Grab),
        _ => None,
    }
}

/// Takes back what the panels are told of the modifier keys in every frame, unless it is news: they draw another frame for whatever they
/// are told, and so would never rest.
pub(super) fn keep_quiet(mut told: Local<egui::Modifiers>, mut inputs: Query<&mut EguiInput>) {
    for mut input in &mut inputs {
        let last = *told;
        input.events.retain(|event| !matches!(event, egui::Event::ModifiersChanged(keys) if *keys == last));
        for event in &input.events {
            if let egui::Event::ModifiersChanged(keys) = event {
                *told = *keys;
            }
        }
    }
}

fn web(color: egui::Color32) -> String {
    let [red, green, blue, _] = color.to_srgba_unmultiplied();
    format!("#{red:02x}{green:02x}{blue:02x}")
}

fn n(value: f32) -> String {
    number(f64::from(value))
}

fn box_of(low: Vec2, size: Vec2, color: egui::Color32) -> String {
    let (x, y, width, height) = (n(low.x), n(low.y), n(size.x), n(size.y));
    let color = web(color);
    let place = format!("x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"");
    format!("<rect {place} fill=\"{color}\" shape-rendering=\"crispEdges\"/>")
}

fn written(mark: &Mark) -> String {
    match mark {
        Mark::Line { points, color, width } => {
            let points: Vec<String> = points.iter().map(|at| format!("{},{}", n(at.x), n(at.y))).collect();
            let (points, color, width) = (points.join(" "), web(*color), n(*width));
            format!("<polyline points=\"{points}\" fill=\"none\" stroke=\"{color}\" stroke-width=\"{width}\"/>")
        }
        Mark::Fill { low, high, color } => box_of(*low, *high - *low, *color),
        Mark::Text { at, anchor, text, color, on_paper } => {
            let long = overlay::width(text);
            let (anchor, left) = match anchor {
                Anchor::Left => ("start", at.x),
                Anchor::Middle => ("middle", at.x - 0.5 * long),
                Anchor::Right => ("end", at.x - long),
            };
            let (low, size) = (Vec2::new(left - 3.0, at.y - 0.66 * letters()), Vec2::new(long + 6.0, 1.32 * letters()));
            let behind = if *on_paper { box_of(low, size, tokens::CARD) } else { String::new() };
            let (x, y, size, text, color) = (n(at.x), n(at.y + 0.36 * letters()), n(letters()), escape(text), web(*color));
            let style = format!("font-family=\"DejaVu Sans\" font-size=\"{size}\" text-anchor=\"{anchor}\" fill=\"{color}\"");
            format!("{behind}<text x=\"{x}\" y=\"{y}\" {style}>{text}</text>")
        }
    }
}

/// The overlay as an SVG document without ground, `size` logical pixels.
pub(super) fn svg(marks: &[Mark], size: Vec2) -> String {
    let (width, height) = (n(size.x), n(size.y));
    let marks: String = marks.iter().map(written).collect();
    let frame = format!("width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\"");
    format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {frame}>{marks}</svg>")
}

#[cfg(test)]
mod tests {
    use bevy::prelude::{App, Update};

    use super::*;

    #[test]
    fn keeps_news_of_the_modifier_keys_only() {
        let mut app = App::new();
        app.add_systems(Update, keep_quiet);
        let context = app.world_mut().spawn(EguiInput::default()).id();
        let shift = egui::Modifiers { shift: true, ..egui::Modifiers::default() };
        let mut heard = |keys: egui::Modifiers, others: &[egui::Event]| {
            let mut input = app.world_mut().get_mut::<EguiInput>(context).expect("spawned");
            input.events = others.iter().cloned().chain([egui::Event::ModifiersChanged(keys)]).collect();
            app.update();
            app.world().get::<EguiInput>(context).expect("spawned").events.len()
        };
        assert_eq!(heard(egui::Modifiers::default(), &[]), 0);
        assert_eq!(heard(shift, &[]), 1);
        assert_eq!(heard(shift, &[]), 0);
        assert_eq!(heard(shift, &[egui::Event::PointerGone]), 1);
        assert_eq!(heard(egui::Modifiers::default(), &[]), 1);
    }
}
