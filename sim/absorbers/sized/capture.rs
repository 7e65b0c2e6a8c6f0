//! How rays carry what finite panels absorb: a margin round them that captures, and shares that never pass 1.
//!
//! A panel's equivalent absorption area `A` may be larger than the panel, but no bounce can lose more than it brings. So in every octave the panels of one
//! material on one wall get a margin `m`, and a bounce within it first meets the material, then the wall behind:
//!
//! - on the panels: mirrored and scattered as the material does;
//! - in the margin: the wall's shares, each times what the material leaves at this angle, `k_w k_p`;
//! - elsewhere the wall's.
//!
//! The margin adds `e = mean over a diffuse field of k_w (1 - k_p)` to each square meter that it takes, so it is the `m` with
//!
//! `(area of the union of the grown panels - S) e = A - S a`, `a` the material's diffuse value
//!
//! Where nothing is clipped, panels, margin and wall together then lose exactly `A` and what the rest of the wall loses, whatever the wall. The union counts once
//! where margins meet, so a group is exact as a group: `A` is that of all of them (`Array`), not the sum of single ones. The margin ends at the wall's edges and at
//! openings, and at the panels and margins of other materials, which were given theirs before; what lies beyond is not taken elsewhere and is told as `clipped`. Where
//! the panels absorb less than their material (`A < S a`), there is no margin: the same share `A / (S a)` of the loss at every angle remains.
//!
//! *At a corner of the room* the neighboring wall mirrors panel and sound. Give `A` of the panels with their images, halved, and the margin of both with
//! [`Group::mirrored`]: clipped at the edge, half of it is left, and the total is exact there too. Without
//! images a panel of 50 mm that touches the neighboring wall loses up to 15 % of its total (250 Hz), and gains 2 % (4 kHz).
//!
//! Nothing is lost: what a bounce leaves is mirrored or scattered, and what an outline does not mirror is scattered ([`Bounce::with_edge`]).
//!
//! *References.* The rule is our own; its total is proven here and held by `tests/sized.rs`.
//!
//! *Limits.* For sound that comes from everywhere: classes (b) and (c). Images keep the bare panel and its edges. The law over the angle in the margin is the
//! material's, while true capture is strongest towards grazing incidence. A margin is held at [`MARGIN_MOST`].

use glam::DVec2;

use super::super::{COSINE_BINS, Finish, bin_weight};
use super::rectangles::{Rectangle, disjoint, union_area};
use crate::bands::{Band, Bands};
use crate::geometry::Polygon;

/// The widest margin, meters; more would be asked only where wall or material leave nothing to capture.
pub const MARGIN_MOST: f64 = 3.0;

/// Halvings that take a margin to its last bits.
const HALVINGS: u32 = 60;

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

impl Bounce {
    /// The same where an outline mirrors only a share, 0 to 1, of what an endless one would: the rest is scattered, not lost.
    #[must_use]
    pub fn with_edge(self, mirrors: f64) -> Self {
        let mirrored = self.mirrored * mirrors.clamp(0.0, 1.0);
        Self { mirrored, scattered: self.scattered + (self.mirrored - mirrored), ..self }
    }
}

/// How one group captures in one octave.
#[derive(Clone, Debug)]
pub struct Capture {
    /// The octave.
    pub band: Band,
    /// Margin in meters.
    pub margin: f64,
    /// Which share of the material's loss the panels keep, 0 to 1; below 1 only where there is no margin.
    pub share: f64,
    /// The margin's pieces on the wall, which do not overlap.
    pub pieces: Vec<Polygon>,
    /// How much of the margin fell beyond the wall, on openings or on what captures already; m2.
    pub clipped: f64,
    /// Whether the margin would have to be wider than [`MARGIN_MOST`].
    pub held: bool,
}

impl Capture {
    /// Area of the margin on the wall, m2.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.pieces.iter().map(Polygon::area).sum()
    }

    /// A bounce on a panel, at this bin of the cosine.
    #[must_use]
    pub fn on_panel(&self, finish: &Finish, bin: usize) -> Bounce {
        let [mirrored, scattered] = shares(finish, bin, self.band);
        let kept = mirrored + scattered;
        let absorbed = self.share * (1.0 - kept);
        if kept > 0.0 {
            let more = (1.0 - absorbed) / kept;
            Bounce { mirrored: mirrored * more, scattered: scattered * more, absorbed }
        } else {
            // What a material that leaves nothing does not take as a small piece is bent at its edges.
            Bounce { mirrored: 0.0, scattered: 1.0 - absorbed, absorbed }
        }
    }

    /// A bounce in the margin: what the material leaves of it meets the wall.
    #[must_use]
    pub fn in_margin(&self, finish: &Finish, wall: &Finish, bin: usize) -> Bounce {
        let left: f64 = shares(finish, bin, self.band).iter().sum();
        let [mirrored, scattered] = shares(wall, bin, self.band).map(|share| share * left);
        Bounce { mirrored, scattered, absorbed: 1.0 - (mirrored + scattered) }
    }
}

/// The margins of several groups on one wall, octave by octave, in the order of the groups: `captures[group][band]`.
///
/// `openings` take no margin. What hangs itself is neither wall nor margin.
#[must_use]
pub fn captures(groups: &[Group<'_>], wall: &Polygon, openings: &[Polygon], finish: &Finish) -> Vec<Bands<Capture>> {
    let panels: Vec<Vec<Polygon>> = groups.iter().map(|group| polygons(&disjoint(&group.panels))).collect();
    let mut all: Vec<Bands<Capture>> = Vec::with_capacity(groups.len());
    for (index, group) in groups.iter().enumerate() {
        let others = panels.iter().enumerate().filter(|(other, _)| *other != index).flat_map(|(_, panels)| panels);
        let kept_out: Vec<&Polygon> = openings.iter().chain(others).collect();
        let capture = Bands::from_fn(|band| {
            let before = all.iter().flat_map(|earlier| &earlier[band].pieces);
            let kept_out: Vec<&Polygon> = kept_out.iter().copied().chain(before).collect();
            group.capture(band, wall, &kept_out, finish)
        });
        all.push(capture);
    }
    all
}

impl Group<'_> {
    fn capture(&self, band: Band, wall: &Polygon, kept_out: &[&Polygon], wall_finish: &Finish) -> Capture {
        let own: Vec<Rectangle> = self.panels.iter().chain(&self.mirrored).copied().collect();
        let area = union_area(&own);
        let [material, gain] = means(self.finish, wall_finish, band);
        let wanted = (self.effective[band] - material) * area;
        if wanted <= 0.0 || area <= 0.0 {
            let share = if material > 0.0 { (self.effective[band] / material).clamp(0.0, 1.0) } else { 1.0 };
            return Capture { band, margin: 0.0, share, pieces: Vec::new(), clipped: 0.0, held: false };
        }
        let grown = |margin: f64| own.iter().map(|one| one.grown(margin)).collect::<Vec<Rectangle>>();
        let (margin, held) = widest(|margin| (union_area(&grown(margin)) - area) * gain < wanted);
        let around = disjoint(&grown(margin));
        let panels = polygons(&disjoint(&own));
        let mut pieces: Vec<Polygon> = polygons(&around).iter().flat_map(|piece| wall.intersection(piece)).collect();
        for covered in panels.iter().chain(kept_out.iter().copied()) {
            pieces = pieces.iter().flat_map(|piece| without(piece, covered)).collect();
        }
        let left: f64 = pieces.iter().map(Polygon::area).sum();
        let clipped = (around.into_iter().map(Rectangle::area).sum::<f64>() - area - left).max(0.0);
        Capture { band, margin, share: 1.0, pieces, clipped, held }
    }
}

/// The margin up to which a condition holds, and whether it holds as far as a margin may go.
fn widest(holds: impl Fn(f64) -> bool) -> (f64, bool) {
    if holds(MARGIN_MOST) {
        return (MARGIN_MOST, true);
    }
    let (mut low, mut high) = (0.0, MARGIN_MOST);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    (0.5 * (low + high), false)
}

/// What a material absorbs of a diffuse field, and what it takes before a wall that the wall would have left.
fn means(finish: &Finish, wall: &Finish, band: Band) -> [f64; 2] {
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

fn polygons(rectangles: &[Rectangle]) -> Vec<Polygon> {
    rectangles.iter().map(|one| Polygon::rectangle(one.low, one.high)).collect()
}

/// What is left of a polygon beside another, as polygons that do not overlap.
fn without(piece: &Polygon, covered: &Polygon) -> Vec<Polygon> {
    if piece.intersection(covered).is_empty() {
        return vec![piece.clone()];
    }
    let convex: Vec<Vec<DVec2>> =
        if covered.is_convex() { vec![covered.corners.clone()] } else { covered.triangles().into_iter().map(Vec::from).collect() };
    convex.iter().fold(vec![piece.clone()], |pieces, window| pieces.iter().flat_map(|piece| beside(piece, window)).collect())
}

/// What of a polygon lies beside a convex one: edge by edge what lies outside of it, the rest going on to the next edge.
fn beside(piece: &Polygon, window: &[DVec2]) -> Vec<Polygon> {
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
