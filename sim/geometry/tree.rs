//! Which pieces can a ray meet at all: a tree of boxes, eight to a node, looked at side by side.
//!
//! A group of pieces is split where the cost of both halves is least: area of the box, as the chance that a ray enters it, times packets in
//! it. A node has the eight groups that are left after seven such splits. A ray looks at the nearest box first and passes by those that
//! begin behind what it has met.
//!
//! *References.* J. Goldsmith, J. Salmon, IEEE CG&A 7 (1987) 14 (cost by area); I. Wald, C. Benthin, S. Boulos, IEEE RT (2008) 49 (trees of
//! many branches); both from memory.
//!
//! *Limits.* Boxes in single precision, 1 mm wider than their pieces.

use glam::{DVec3, Vec3};

use super::packets::Piece;

/// Pieces of a packet, boxes of a node.
pub(super) const LANES: usize = 8;
/// One number for each.
pub(super) type Lanes = [f32; LANES];

/// Boxes are this much wider than their pieces, meters.
const BOX_MARGIN: f64 = 1e-3;

/// Places where a group may be split, along each axis.
const CUTS: usize = 16;

/// Up to so many pieces all boxes are looked at: less than a tree costs (`cargo bench -- kernel`).
const FEW: usize = 256;

/// Groups this deep in the tree and deeper are split in equal halves, whatever that costs, so that the tree has an end.
const BALANCED_BELOW: usize = 6;

/// Boxes that wait: eight for each level. Eight levels of eighths hold more than a hundred million pieces.
const WAITING: usize = LANES * (BALANCED_BELOW + 8);

/// A child that is a packet has this bit.
const LEAF: u32 = 1 << 31;

/// A box round pieces, meters.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    low: DVec3,
    high: DVec3,
}

impl Bounds {
    const NONE: Self = Self { low: DVec3::INFINITY, high: DVec3::NEG_INFINITY };

    pub(super) fn of(pieces: &[Piece]) -> Self {
        pieces.iter().fold(Self::NONE, Self::with)
    }

    fn with(self, piece: &Piece) -> Self {
        piece.corners().into_iter().fold(self, |Self { low, high }, at| Self { low: low.min(at), high: high.max(at) })
    }

    fn and(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    pub(super) fn longest_side(self) -> f64 {
        (self.high - self.low).max_element()
    }

    /// Half its area, m2.
    fn area(self) -> f64 {
        let size = (self.high - self.low).max(DVec3::ZERO);
        size.x * size.y + size.y * size.z + size.z * size.x
    }
}

/// The boxes of a node, side by side, and what is in each.
#[derive(Clone, Debug)]
pub(super) struct Node {
    low: [Lanes; 3],
    high: [Lanes; 3],
    children: [u32; LANES],
    count: usize,
}

impl Node {
    const EMPTY: Self = Self { low: [[f32::INFINITY; LANES]; 3], high: [[f32::NEG_INFINITY; LANES]; 3], children: [LEAF; LANES], count: 0 };

    /// Of packets alone.
    fn list(groups: &[&[Piece]], pack: &mut impl FnMut(&[Piece]) -> usize) -> Self {
        let mut node = Self::EMPTY;
        for group in groups {
            node.push(Bounds::of(group), LEAF | pack(group) as u32);
        }
        node
    }

    fn push(&mut self, bounds: Bounds, child: u32) {
        let (low, high) = ((bounds.low - BOX_MARGIN).as_vec3(), (bounds.high + BOX_MARGIN).as_vec3());
        for axis in 0..3 {
            (self.low[axis][self.count], self.high[axis][self.count]) = (low[axis], high[axis]);
        }
        self.children[self.count] = child;
        self.count += 1;
    }

    /// The packets in its boxes, where it holds packets alone.
    #[inline(always)]
    pub(super) fn packets(&self) -> impl Iterator<Item = usize> {
        self.children[..self.count.min(LANES)].iter().map(|child| (child & !LEAF) as usize)
    }

    /// How far a ray goes before it enters each box between `near` and `far`, infinite where it passes by; the ray is its
    /// origin and one over each component of its direction.
    #[inline(always)]
    pub(super) fn enter(&self, (origin, inverse): (Vec3, Vec3), near: f32, far: f32) -> Lanes {
        let (origin, inverse) = (origin.to_array(), inverse.to_array());
        let mut result = [f32::INFINITY; LANES];
        for (lane, result) in result.iter_mut().enumerate() {
            let (mut enter, mut leave) = (near, far);
            for axis in 0..3 {
                let first = (self.low[axis][lane] - origin[axis]) * inverse[axis];
                let second = (self.high[axis][lane] - origin[axis]) * inverse[axis];
                // `min` and `max` leave out what is not a number: a ray that runs within a face of the box.
                enter = enter.max(first.min(second));
                leave = leave.min(first.max(second));
            }
            *result = if enter <= leave { enter } else { f32::INFINITY };
        }
        result
    }
}

/// Boxes round packets.
#[derive(Clone, Debug)]
pub(super) struct Tree {
    /// Packets that every ray looks at the boxes of: those of large pieces, and all where they are few.
    list: Vec<Node>,
    /// The others; the root is the first.
    nodes: Vec<Node>,
}

/// The packets that a ray may meet, nearest box first.
pub(super) struct Walk {
    waiting: [(f32, u32); WAITING],
    count: usize,
}

impl Tree {
    /// Of these pieces; `pack` makes a packet of up to eight and gives its number.
    pub(super) fn new(pieces: &[Piece], pack: &mut impl FnMut(&[Piece]) -> usize) -> Self {
        let all = Bounds::of(pieces).longest_side();
        let is_large = |piece: &&Piece| 2.0 * Bounds::of(&[**piece]).longest_side() > all;
        let (mut large, mut small): (Vec<Piece>, Vec<Piece>) = pieces.iter().partition(is_large);
        if large.len() > FEW {
            small.append(&mut large);
        }
        let few = if small.len() > FEW { Vec::new() } else { halved(std::mem::take(&mut small)) };
        let listed: Vec<&[Piece]> = large.chunks(LANES).chain(few.iter().map(Vec::as_slice)).collect();
        let list = listed.chunks(LANES).map(|groups| Node::list(groups, pack)).collect();
        let mut tree = Self { list, nodes: Vec::new() };
        if !small.is_empty() {
            tree.grow(small, 0, pack);
        }
        tree
    }

    /// Boxes that every ray looks at.
    #[inline(always)]
    pub(super) fn list(&self) -> &[Node] {
        &self.list
    }

    /// Adds a node for a group, and all below it; returns its number.
    fn grow(&mut self, pieces: Vec<Piece>, depth: usize, pack: &mut impl FnMut(&[Piece]) -> usize) -> usize {
        let number = self.nodes.len();
        self.nodes.push(Node::EMPTY);
        for group in groups(pieces, depth) {
            let bounds = Bounds::of(&group);
            let child = if group.len() <= LANES { LEAF | pack(&group) as u32 } else { self.grow(group, depth + 1, pack) as u32 };
            self.nodes[number].push(bounds, child);
        }
        number
    }

    /// Whether there are boxes that a ray has to find its way to.
    #[inline(always)]
    pub(super) fn has_nodes(&self) -> bool {
        !self.nodes.is_empty()
    }
}

impl Walk {
    /// From the root on.
    #[inline(always)]
    pub(super) fn new() -> Self {
        Self { waiting: [(f32::NEG_INFINITY, 0); WAITING], count: 1 }
    }

    /// The next packet whose box a ray enters between `near` and `far`; the ray is its origin and one over each component of its direction.
    #[inline(always)]
    pub(super) fn next(&mut self, tree: &Tree, ray: (Vec3, Vec3), near: f32, far: f32) -> Option<usize> {
        while self.count > 0 {
            self.count -= 1;
            let (enter, child) = self.waiting[self.count];
            if enter > far {
                continue;
            }
            if child & LEAF != 0 {
                return Some((child & !LEAF) as usize);
            }
            let node = &tree.nodes[child as usize];
            let begin = self.count;
            for (enter, child) in node.enter(ray, near, far).into_iter().zip(node.children) {
                if enter < f32::INFINITY {
                    self.wait(begin, enter, child);
                }
            }
        }
        None
    }

    /// Puts a box among those from `begin` on, so that the nearest is taken first.
    #[inline(always)]
    fn wait(&mut self, begin: usize, enter: f32, child: u32) {
        let mut at = self.count;
        while at > begin && self.waiting[at - 1].0 < enter {
            self.waiting[at] = self.waiting[at - 1];
            at -= 1;
        }
        self.waiting[at] = (enter, child);
        self.count += 1;
    }
}

/// Groups of up to eight pieces that lie close together: halved across the longest side of what is left.
fn halved(pieces: Vec<Piece>) -> Vec<Vec<Piece>> {
    let mut groups = Vec::new();
    let mut open = vec![pieces];
    while let Some(group) = open.pop() {
        if group.len() > LANES {
            let (one, other) = split(group, false);
            open.extend([other, one]);
        } else if !group.is_empty() {
            groups.push(group);
        }
    }
    groups
}

/// Up to eight groups of pieces that lie close together: the one with the largest box, deep down with most pieces, is split as long as
/// there are fewer.
fn groups(pieces: Vec<Piece>, depth: usize) -> Vec<Vec<Piece>> {
    let mut groups = vec![pieces];
    while groups.len() < LANES {
        let large = (0..groups.len()).filter(|&index| groups[index].len() > LANES);
        let Some(largest) = large.max_by(|&one, &other| Bounds::of(&groups[one]).area().total_cmp(&Bounds::of(&groups[other]).area()))
        else {
            break;
        };
        let group = groups.swap_remove(largest);
        let (one, other) = split(group, depth < BALANCED_BELOW);
        groups.extend([one, other]);
    }
    groups
}

/// Two halves of a group, split where they cost least, or in the middle of its pieces.
fn split(mut pieces: Vec<Piece>, by_cost: bool) -> (Vec<Piece>, Vec<Piece>) {
    let middles =
        pieces.iter().map(Piece::middle).fold(Bounds::NONE, |Bounds { low, high }, at| Bounds { low: low.min(at), high: high.max(at) });
    if let Some((axis, cut)) = cheapest(&pieces, middles).filter(|_| by_cost) {
        return pieces.into_iter().partition(|piece| bin(piece, middles, axis) < cut);
    }
    let axis = (middles.high - middles.low).max_position();
    pieces.sort_by(|one, other| one.middle()[axis].total_cmp(&other.middle()[axis]));
    let rest = pieces.split_off(pieces.len() / 2);
    (pieces, rest)
}

/// Which of the bins along an axis the middle of a piece lies in.
fn bin(piece: &Piece, middles: Bounds, axis: usize) -> usize {
    let share = (piece.middle()[axis] - middles.low[axis]) / (middles.high[axis] - middles.low[axis]);
    ((share * CUTS as f64) as usize).min(CUTS - 1)
}

/// The axis and the bin before which a split costs least; none where all pieces have one middle.
fn cheapest(pieces: &[Piece], middles: Bounds) -> Option<(usize, usize)> {
    let mut best: Option<(f64, (usize, usize))> = None;
    for axis in (0..3).filter(|&axis| middles.high[axis] > middles.low[axis]) {
        let mut bins = [(Bounds::NONE, 0_usize); CUTS];
        for piece in pieces {
            let (bounds, count) = &mut bins[bin(piece, middles, axis)];
            *bounds = bounds.with(piece);
            *count += 1;
        }
        let cost = |bins: &[(Bounds, usize)]| {
            let (bounds, count) = bins.iter().fold((Bounds::NONE, 0), |all, bin| (all.0.and(bin.0), all.1 + bin.1));
            (count > 0).then(|| bounds.area() * count.div_ceil(LANES) as f64)
        };
        for cut in 1..CUTS {
            if let (Some(one), Some(other)) = (cost(&bins[..cut]), cost(&bins[cut..]))
                && best.is_none_or(|(least, _)| one + other < least)
            {
                best = Some((one + other, (axis, cut)));
            }
        }
    }
    best.map(|(_, place)| place)
}
