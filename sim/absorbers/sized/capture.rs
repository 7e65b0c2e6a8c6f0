//! How rays carry what finite panels absorb: a margin round them that captures, and shares that never pass 1.
//!
//! A panel's equivalent absorption area `A` may be larger than the panel, but no bounce can lose more than it brings. So the panels of one material on one wall get a margin, and a
//! bounce within it first meets the material, octave by octave to a `strength` `g` from 0 to 1, then the wall behind:
//!
//! - on the panels: mirrored and scattered as the material does;
//! - in the margin: the wall's shares, each times what that leaves at this angle, `k_w (1 - g (1 - k_p))`;
//! - elsewhere the wall's.
//!
//! With `e = mean over a diffuse field of k_w (1 - k_p)`, `S` the area of the panels and `a` the material's diffuse value, the strength is the `g` with
//!
//! `g e (area of the union of the grown panels - S) = A - S a`
//!
//! Where nothing is clipped, panels, margin and wall together then lose exactly `A` and what the rest of the wall loses, whatever the wall. The union counts once
//! where margins meet, so a group is exact as a group: `A` is that of all of them, not the sum of single ones. The margin ends at the wall's edges and at
//! openings, and at the panels and margins of other materials, which were given theirs before; what lies beyond is not taken elsewhere. Where
//! the panels absorb less than their material (`A < S a`), the margin takes nothing and the same share `A / (S a)` of the loss at every angle remains.
//!
//! *One margin for all octaves*, [`MARGIN`] wide unless an octave asks for more than all of it: a margin of its own width in each octave gives the same total, but a wall
//! would be another figure in every octave. As it is, a margin is one more finish on the wall, and whatever is known of finishes holds for it: re-weighing, derivatives, the ranges of
//! materials.
//!
//! *At a corner of the room* the neighboring wall mirrors panel and sound. Give `A` of the panels with their images, and the margin of both with
//! [`Group::mirrored`]: clipped at the edge, half of it is left, and the total is exact there too. Without
//! images a panel of 50 mm that touches the neighboring wall is off by up to 16 % of its total.
//!
//! Nothing is lost: what a bounce leaves is mirrored or scattered.
//!
//! *References.* The rule is our own; its total is proven here and held by `tests/sized.rs`.
//!
//! *Limits.* For sound that comes from everywhere: classes (b) and (c). Images keep the bare panel and its edges. The law over the angle in the margin is the
//! material's, while true capture is strongest towards grazing incidence; true margins narrow as the octaves rise. A margin is held at [`MARGIN_MOST`], and an octave that asks for
//! more than that gets what the others' margin gives. Two mirrors that face each other, as floor and ceiling round one panel, are taken as one image in each.

use glam::DVec2;

use super::super::{COSINE_BINS, Finish, bin_weight};
use super::rectangles::{Rectangle, beside, union_area};
use crate::bands::{Band, Bands};
use crate::geometry::Polygon;

/// The least width of a margin, meters: to less rays do not tell places on a wall. Single panels of fiber ask for 0.2 to 0.3 m, touching rows of four for 0.5.
pub const MARGIN: f64 = 0.2;

/// The widest margin, meters; more would be asked only where wall or material leave nothing to capture.
pub const MARGIN_MOST: f64 = 3.0;

/// Halvings that take a margin to a millimeter; the strength takes it from there to the last bit.
const HALVINGS: u32 = 12;

/// Panels of one material on one wall.
#[derive(Clone, Debug)]
pub struct Group<'a> {
    /// Where they hang, in the coordinates of the wall.
    pub panels: Vec<Rectangle>,
    /// The panels as their own images in neighboring walls: they share in the margin and take no part of this wall. Empty away from corners.
    pub mirrored: Vec<Rectangle>,
    /// The material, endless.
    pub finish: &'a Finish,
    /// What the panels (with their images) absorb re their area: [`super::Octaves::absorption`], which may pass 1.
    pub effective: Bands<f64>,
}

/// What a bounce becomes, as shares of what it brings; together exactly what it brings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounce {
    /// Mirrored.
    pub mirrored: f64,
    /// Scattered.
    pub scattered: f64,
    /// Absorbed.
    pub absorbed: f64,
}

/// How a group captures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Capture {
    /// Width of its margin in meters; 0 where it captures in no octave.
    pub margin: f64,
    /// By octave which share of what the material would take of a bounce the margin takes, 0 to 1.
    pub strength: Bands<f64>,
    /// By octave which share of the material's loss the panels keep, 0 to 1; below 1 only where the margin takes nothing.
    pub share: Bands<f64>,
    /// By octave whether more is asked of the margin than the widest one gives.
    pub held: Bands<bool>,
}

impl Capture {
    /// A bounce on a panel of this material, at this bin of the cosine.
    #[must_use]
    pub fn on_panel(&self, finish: &Finish, bin: usize, band: Band) -> Bounce {
        let [mirrored, scattered] = shares(finish, bin, band);
        let kept = mirrored + scattered;
        let absorbed = self.share[band] * (1.0 - kept);
        if kept > 0.0 {
            let more = (1.0 - absorbed) / kept;
            Bounce { mirrored: mirrored * more, scattered: scattered * more, absorbed }
        } else {
            // What a material that leaves nothing does not take as a small piece is bent at its edges.
            Bounce { mirrored: 0.0, scattered: 1.0 - absorbed, absorbed }
        }
    }

    /// A bounce in the margin of this material on this wall: what the material leaves of it meets the wall.
    #[must_use]
    pub fn in_margin(&self, finish: &Finish, wall: &Finish, bin: usize, band: Band) -> Bounce {
        let left = 1.0 - self.strength[band] * (1.0 - shares(finish, bin, band).iter().sum::<f64>());
        let [mirrored, scattered] = shares(wall, bin, band).map(|share| share * left);
        Bounce { mirrored, scattered, absorbed: 1.0 - (mirrored + scattered) }
    }
}

impl Group<'_> {
    /// How it captures on a wall of this finish.
    #[must_use]
    pub fn capture(&self, wall: &Finish) -> Capture {
        let own = self.with_images();
        let area = union_area(&own);
        let means = Bands::from_fn(|band| means(self.finish, wall, band));
        // As much of the wall as would have to take all that the material takes, m2.
        let needed = Bands::from_fn(|band| {
            let wanted = (self.effective[band] - means[band][0]) * area;
            if wanted > 0.0 { wanted / means[band][1] } else { 0.0 }
        });
        let share = Bands::from_fn(|band| {
            let material = means[band][0];
            if material > 0.0 { (self.effective[band] / material).clamp(0.0, 1.0) } else { 1.0 }
        });
        let around = |margin: f64| union_area(&grown(&own, margin)) - area;
        // An octave that leaves hardly anything to capture is no reason for the others to look for theirs far off.
        let widest_of_all = around(MARGIN_MOST);
        let within = |needed: &f64| *needed <= widest_of_all;
        let most = needed.0.into_iter().filter(within).fold(0.0, f64::max);
        if needed.0.iter().all(|&needed| needed <= 0.0) {
            return Capture { margin: 0.0, strength: Bands::splat(0.0), share, held: Bands::splat(false) };
        }
        let margin = if needed.0.iter().all(|needed| *needed <= 0.0 || !within(needed)) {
            MARGIN_MOST
        } else if around(MARGIN) >= most {
            MARGIN
        } else {
            narrowest(|margin| around(margin) >= most)
        };
        let around = around(margin);
        let held = needed.map(|needed| needed > around);
        Capture { margin, strength: needed.map(|needed| (needed / around).min(1.0)), share, held }
    }

    /// The pieces of its margin on a wall of this outline, which do not overlap: beside its panels, these other panels and margins, and these openings.
    #[must_use]
    pub fn pieces(&self, margin: f64, wall: &Polygon, others: &[Rectangle], openings: &[&Polygon]) -> Vec<Polygon> {
        if margin <= 0.0 {
            return Vec::new();
        }
        let own = self.with_images();
        let taken: Vec<Rectangle> = own.iter().chain(others).copied().collect();
        let around = beside(&grown(&own, margin), &taken).into_iter().map(|piece| Polygon::rectangle(piece.low, piece.high));
        let is_inside = |piece: &Polygon| wall.is_convex() && piece.corners.iter().all(|&corner| wall.contains(corner));
        let within = around.flat_map(|piece| if is_inside(&piece) { vec![piece] } else { wall.intersection(&piece) });
        openings.iter().fold(within.collect(), |pieces, opening| pieces.iter().flat_map(|piece| without(piece, opening)).collect())
    }

    fn with_images(&self) -> Vec<Rectangle> {
        self.panels.iter().chain(&self.mirrored).copied().collect()
    }
}

fn grown(rectangles: &[Rectangle], margin: f64) -> Vec<Rectangle> {
    rectangles.iter().map(|one| one.grown(margin)).collect()
}

/// The margin from which on it is enough; the widest is.
fn narrowest(is_enough: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (MARGIN, MARGIN_MOST);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if is_enough(middle) { high = middle } else { low = middle }
    }
    high
}

/// What a material absorbs of a diffuse field, and what it takes before a wall that the wall would have left.
#[must_use]
pub fn means(finish: &Finish, wall: &Finish, band: Band) -> [f64; 2] {
    (0..COSINE_BINS).fold([0.0, 0.0], |[material, gain], bin| {
        let kept = |finish: &Finish| shares(finish, bin, band).iter().sum::<f64>();
        let lost = bin_weight(bin) * (1.0 - kept(finish));
        [material + lost, gain + lost * kept(wall)]
    })
}

/// Mirrored and scattered share.
fn shares(finish: &Finish, bin: usize, band: Band) -> [f64; 2] {
    [finish.specular[bin][band], finish.diffuse[bin][band]].map(f64::from)
}

/// What is left of a polygon beside another, as polygons that do not overlap.
fn without(piece: &Polygon, covered: &Polygon) -> Vec<Polygon> {
    if piece.intersection(covered).is_empty() {
        return vec![piece.clone()];
    }
    let convex: Vec<Vec<DVec2>> =
        if covered.is_convex() { vec![covered.corners.clone()] } else { covered.triangles().into_iter().map(Vec::from).collect() };
    convex.iter().fold(vec![piece.clone()], |pieces, window| pieces.iter().flat_map(|piece| outside(piece, window)).collect())
}

/// What of a polygon lies beside a convex one: edge by edge what lies outside of it, the rest going on to the next edge.
fn outside(piece: &Polygon, window: &[DVec2]) -> Vec<Polygon> {
    let (mut inside, mut left) = (vec![piece.clone()], Vec::new());
    for (index, &corner) in window.iter().enumerate() {
        let Some(along) = (window[(index + 1) % window.len()] - corner).try_normalize() else { continue };
        let outward = DVec2::new(along.y, -along.x);
        let offset = outward.dot(corner);
        left.extend(inside.iter().flat_map(|piece| piece.clip(-outward, -offset)));
        inside = inside.iter().flat_map(|piece| piece.clip(outward, offset)).collect();
    }
    left
}
