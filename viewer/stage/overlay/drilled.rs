//! What is drilled and hung, in the step build: a cross at every mark, numbers of panels, and what is said of the mark that is pointed at.

use std::collections::BTreeSet;

use bevy::math::Vec2;
use bevy_egui::egui::Color32;
use roomwright::workshop::MarkKind;

use super::super::{ink, picking, thing};
use super::{Anchor, LETTERS, Layout, Mark, Seen, width};
use crate::marks::{self, Marked};
use crate::ui::tokens;
use crate::view::Thing;

/// Half the size of a mark to drill at, logical pixels.
const DRILL: f32 = 4.0;

/// Marks: a cross, of a wire in a circle; those of what is chosen or must not be hung in the accent.
pub(super) fn crosses(layout: &mut Layout, seen: &Seen<'_>) {
    let Some(building) = seen.results.building() else { return };
    for marked in ink::marks(seen.view, seen.results, &seen.sight.pose) {
        let Some(at) = seen.sight.screen(marked.at) else { continue };
        let is_chosen = seen.view.panel() == Some(marked.scene_panel());
        let color = if is_chosen || marks::stays_down(building, marked.panel.number) { tokens::ACCENT } else { tokens::INK };
        let ring =
            |radius: f32| (0_u8..=16).map(|step| at + radius * Vec2::from_angle(std::f32::consts::TAU * f32::from(step) / 16.0)).collect();
        let arm = |x: f32, y: f32| vec![at - Vec2::new(x, y), at + Vec2::new(x, y)];
        let mut figures: Vec<Vec<Vec2>> = vec![arm(DRILL, 0.0), arm(0.0, DRILL)];
        match marked.mark.what {
            MarkKind::Fixing => {}
            MarkKind::Wire => figures.push(ring(DRILL)),
            MarkKind::Secondary => figures.push(ring(0.6 * DRILL)),
        }
        // On paper, so that it shows on an edge.
        for (color, width) in [(tokens::CARD, 3.5), (color, if is_chosen { 1.8 } else { 1.2 })] {
            layout.marks.extend(figures.iter().map(|points| Mark::Line { points: points.clone(), color, width }));
        }
        layout.taken.push((at - DRILL, at + DRILL));
    }
}

/// What is said of the mark that is pointed at; whether one is.
pub(super) fn label(layout: &mut Layout, seen: &Seen<'_>) -> bool {
    let Seen { view, results, sight, hand, .. } = *seen;
    let pointer = view.pointer.filter(|_| hand.dragged.is_none()).and_then(|point| sight.screen(point));
    let Some((marked, building)) = pointer.and_then(|at| picking::mark_near(view, results, sight, at)).zip(results.building()) else {
        return false;
    };
    let colored = |line: String| {
        let color = if line == marks::NOT_TO_BE_HUNG { tokens::ACCENT } else { tokens::INK };
        (line, color)
    };
    let lines: Vec<(String, Color32)> = marks::words(building, &marked).into_iter().map(colored).collect();
    sight.screen(marked.at).is_some_and(|at| layout.label(at, &lines, 18.0, true))
}

/// Numbers of the panels that are built, in their middles, where their marks are drawn.
pub(super) fn numbers(layout: &mut Layout, seen: &Seen<'_>) {
    let Seen { scene, room, view, results, sight, .. } = *seen;
    let panels: BTreeSet<usize> = ink::marks(view, results, &sight.pose).iter().map(Marked::scene_panel).collect();
    for panel in panels {
        let middle = thing::middle(scene, room, Thing::Panel(panel));
        if let Some(at) = middle.and_then(|middle| sight.screen(middle)) {
            let color = if view.panel() == Some(panel) { tokens::ACCENT } else { tokens::INK };
            let words = (panel + 1).to_string();
            let half = Vec2::new(0.5 * width(&words) + 1.0, 0.6 * LETTERS);
            if layout.is_free(at - half, at + half) {
                layout.text(at, Anchor::Middle, &words, color, true);
            }
        }
    }
}
