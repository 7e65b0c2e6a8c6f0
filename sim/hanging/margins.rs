//! The margin of wall round flat panels that draws sound into them: where it lies, and what it takes.
//!
//! All panels of one finish that hang flat on a surface are one group (`absorbers::sized::capture`): its radiation is that of all of them, and it has one margin, with the strength
//! of each octave. It ends at the edges of its wall, at doors and windows, and at other panels and their margins, the first finish hung first.
//!
//! *At a corner of the room* a neighboring wall at right angles mirrors the whole group, where a panel of it hangs nearer to that wall than [`MIRRORED`]; two such walls mirror it
//! twice.
//!
//! *Bodies.* A panel that is built as a body has its margin on the wall round its back. Its finish goes on beneath the back, where no ray lands: rays meet the mean over a decimeter
//! or so, and at its edge would meet too much of the bare wall.
//!
//! *Limits.* Panels of different finishes are not heard of each other. Corner panels, clouds and what stands free have no margin: their backs and sides are open. A value of a table that
//! was not turned back holds edges already, of a sample (`absorbers::sized::piece`). Panels over a seam of two facets are taken as if the seam were not there. A neighboring wall mirrors
//! as if it were hard and did not end; edges that run askew on the chart do not mirror. The front of a body that absorbs less as a piece than without end keeps its whole loss.

use glam::DVec2;

use super::{Hanging, Margin, Patch};
use crate::absorbers::Finish;
use crate::absorbers::sized::capture::{Group, means};
use crate::absorbers::sized::{Rectangle, pairs, piece};
use crate::bands::{Band, Bands};
use crate::geometry::Polygon;
use crate::room::{Room, Surface};

/// A neighboring wall nearer than this to a panel's edge mirrors it, meters: as far as margins reach.
const MIRRORED: f64 = 0.5;

/// How far from an edge of a wall its neighbor is looked for, meters.
const NEAR: f64 = 0.05;

/// A flat panel as it hangs.
#[derive(Clone, Debug)]
pub struct Flat<'a> {
    /// Name of its surface in the scene.
    pub surface: &'a str,
    /// Where it hangs on the chart.
    pub rectangle: Rectangle,
    /// Index into [`Hanging::finishes`].
    pub finish: usize,
    /// Whether it is built as a body, and covers its wall.
    pub is_body: bool,
}

/// Whether panels on one wall are heard of each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Neighbors {
    /// All of them together make the strength of their margin.
    #[default]
    Heard,
    /// Each has the strength that it would have by itself, and no wall mirrors it: for comparing many layouts, since nothing is reckoned anew where panels are moved. Margins still give
    /// way to one another, so that a row takes less than as many single ones.
    Ignored,
}

/// The margins of these panels, which hang on the surfaces of `room` in this order; `others` lie there as well and have none.
#[must_use]
pub fn margins(room: &Room, finishes: &[Finish], panels: &[Flat<'_>], others: &[Patch], neighbors: Neighbors) -> Vec<Margin> {
    let mut groups: Vec<(&str, usize)> = Vec::new();
    for panel in panels {
        let key = (panel.surface, panel.finish);
        if !groups.contains(&key) && piece::is_known(&finishes[panel.finish]) {
            groups.push(key);
        }
    }
    let mut margins: Vec<Margin> = Vec::new();
    for (name, finish) in groups {
        let (own, besides): (Vec<_>, Vec<_>) =
            panels.iter().filter(|panel| panel.surface == name).partition(|panel| panel.finish == finish);
        let bodies: Vec<Polygon> =
            own.iter().filter(|panel| panel.is_body).map(|panel| Polygon::rectangle(panel.rectangle.low, panel.rectangle.high)).collect();
        let own: Vec<Rectangle> = own.into_iter().map(|panel| panel.rectangle).collect();
        let besides: Vec<Rectangle> = besides.into_iter().map(|panel| panel.rectangle).collect();
        let heard = neighbors == Neighbors::Heard;
        let mirrored = if heard { mirrored(room, name, &own) } else { Vec::new() };
        // Panels of one finish have one size.
        let together = if heard { own.clone() } else { own[..1].to_vec() };
        let all: Vec<Rectangle> = together.iter().chain(&mirrored).copied().collect();
        let finish_of = &finishes[finish];
        let Some(effective) = pairs::octaves(&all).and_then(|octaves| piece::absorption(finish_of, &octaves)) else { continue };
        let strong = Group { panels: together, mirrored: mirrored.clone(), finish: finish_of, effective };
        let group = Group { panels: own, mirrored, finish: finish_of, effective };
        for (surface, host) in room.named(name) {
            let capture = strong.capture(&room.finishes[host.finish]);
            let before = margins.iter().filter(|margin| margin.surface == surface).flat_map(|margin| &margin.pieces);
            let covered = room.contacts.iter().filter(|contact| contact.surface == surface).map(|contact| &contact.region);
            let patches = others.iter().filter(|patch| patch.surface == surface).map(|patch| &patch.region);
            let taken: Vec<&Polygon> =
                host.linings.iter().map(|lining| &lining.region).chain(before).chain(covered).chain(patches).collect();
            let pieces = group.pieces(capture.margin, &host.outline, &besides, &taken);
            let beneath = bodies.iter().flat_map(|body| host.outline.intersection(body)).collect();
            margins.push(Margin { surface, finish, capture, pieces, beneath });
        }
    }
    margins
}

impl Hanging {
    /// What all margins take of a diffuse field beyond what the walls and the endless panels would, m2 by octave.
    #[must_use]
    pub fn drawn_in(&self, room: &Room) -> Bands<f64> {
        self.margins.iter().fold(Bands::splat(0.0), |sum, margin| sum + self.captured(room, margin) - self.spared(margin))
    }

    /// What the margin takes of a diffuse field beyond what its wall would, m2 by octave.
    #[must_use]
    pub fn captured(&self, room: &Room, margin: &Margin) -> Bands<f64> {
        let (material, wall) = (&self.finishes[margin.finish], &room.finishes[room.surfaces[margin.surface].finish]);
        let area = margin.area();
        Bands::from_fn(|band: Band| area * margin.capture.strength[band] * means(material, wall, band)[1])
    }

    /// What its panels take less of a diffuse field than their material would, m2 by octave.
    #[must_use]
    pub fn spared(&self, margin: &Margin) -> Bands<f64> {
        let is_own = |patch: &&Patch| (patch.surface, patch.finish) == (margin.surface, margin.finish);
        let area: f64 = self.patches.iter().filter(is_own).map(|patch| patch.region.area()).sum();
        self.finishes[margin.finish].absorption.zip(margin.capture.share, |material, share| area * material * (1.0 - share))
    }
}

/// The panels on the surfaces of this name as their neighboring walls mirror them.
fn mirrored(room: &Room, name: &str, panels: &[Rectangle]) -> Vec<Rectangle> {
    let mut images: Vec<Rectangle> = Vec::new();
    for axis in [0, 1] {
        // What the first axis has mirrored, the second mirrors with the panels.
        let before: Vec<Rectangle> = panels.iter().chain(&images).copied().collect();
        let near = |host| panels.iter().flat_map(move |&panel| edges_near(room, host, panel, axis));
        let mut edges: Vec<f64> = room.named(name).flat_map(|(_, host)| near(host)).collect();
        edges.sort_by(f64::total_cmp);
        edges.dedup_by(|next, kept| (*next - *kept).abs() < NEAR);
        for edge in edges {
            images.extend(before.iter().map(|&panel| across(panel, axis, edge)));
        }
    }
    images
}

/// A rectangle mirrored in a line across an axis.
fn across(panel: Rectangle, axis: usize, line: f64) -> Rectangle {
    let (mut low, mut high) = (panel.low, panel.high);
    (low[axis], high[axis]) = (2.0 * line - panel.high[axis], 2.0 * line - panel.low[axis]);
    Rectangle { low, high }
}

/// Where edges of the surface across an axis run by a panel, at which a neighboring wall stands up into the room.
fn edges_near(room: &Room, host: &Surface, panel: Rectangle, axis: usize) -> Vec<f64> {
    let other = 1 - axis;
    let corners = &host.outline.corners;
    let edge = |index: usize| (corners[index], corners[(index + 1) % corners.len()]);
    let near = |&(from, to): &(DVec2, DVec2)| {
        let at = from[axis];
        let distance = (panel.low[axis] - at).max(at - panel.high[axis]);
        let common = from[other].max(to[other]).min(panel.high[other]) - from[other].min(to[other]).max(panel.low[other]);
        (from[axis] - to[axis]).abs() < 1e-6 && distance < MIRRORED && common > 0.0
    };
    let stands = |&(from, to): &(DVec2, DVec2)| {
        let mut beside = 0.5 * (panel.low + panel.high);
        beside[axis] = from[axis];
        beside[other] = beside[other].clamp(from[other].min(to[other]), from[other].max(to[other]));
        let point = host.chart.point(beside) + NEAR * host.chart.normal;
        room.surfaces.iter().any(|wall| {
            wall.role.is_shell()
                && wall.chart.normal.dot(host.chart.normal).abs() < 1e-3
                && wall.chart.height(point).abs() < 1e-3
                && wall.outline.contains(wall.chart.position(point))
        })
    };
    (0..corners.len()).map(edge).filter(near).filter(stands).map(|(from, _)| from[axis]).collect()
}
