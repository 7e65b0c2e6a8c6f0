//! Which pieces can a ray meet at all: a tree of boxes, eight to a node, looked at side by side.
//!
//! Pieces are halved where the cost of both halves is least: area of the box, as the chance that a ray enters it, times pieces in it. Of
//! the tree of halves that makes, the nodes of eight and the packets are cut out that cost least in all, a box looked at and a packet
//! looked at costing alike. Pieces that span the room are left out of it: every ray looks at them first, and what it meets there leaves it
//! less way to look at.
//!
//! Several rays are on their way through the tree at once, a step of each in turn, since a step waits for what the one before it found.
//! The boxes that a ray enters are put on its pile without asking how many there are or which is nearest: a guess that goes wrong costs
//! more than a box looked at in vain.
//!
//! *References.* J. Goldsmith, J. Salmon, IEEE CG&A 7 (1987) 14 (cost by area); I. Wald, C. Benthin, S. Boulos, IEEE RT (2008) 49 (trees of
//! many branches); H. Ylitie, T. Karras, S. Laine, HPG (2017) (the cheapest cut); all from memory.
//!
//! *Limits.* Boxes in single precision, wider than their pieces by some hairs, which covers rounding however it falls.

use std::ops::Range;

use bytemuck::{Pod, Zeroable};
use fearless_simd::prelude::*;
use fearless_simd::{f32x8, u32x8};
use glam::{DVec3, Vec3};

use super::lanes::{LANES, Lanes, RayLanes};
use super::plate::{First, NOTHING, Packet, Piece, Plate};
use super::table::Table;

/// Boxes are so many hairs wider than their pieces, which reach up to 64 beyond what they are.
const BOX_MARGIN: f64 = 80.0;
/// Places where a large group may be split, along each axis; a small one may be split anywhere.
const CUTS: usize = 32;
/// A group is small up to so many pieces.
const SMALL: usize = 128;
/// Groups this deep among the halves and deeper are halved by number, whatever that costs, so that the tree has an end.
const BALANCED_BELOW: usize = 32;
/// Boxes that wait on the pile of a ray.
const WAITING: usize = 128;
/// Rays on their way at once.
const AT_ONCE: usize = 8;
/// Least component of a direction.
const STEEP: f32 = 1e-18;
/// A child that is a packet has this bit.
const LEAF: u32 = 1 << 31;

/// A box round pieces, meters.
#[derive(Clone, Copy, Debug)]
struct Bounds {
    low: DVec3,
    high: DVec3,
}

impl Bounds {
    const NONE: Self = Self { low: DVec3::INFINITY, high: DVec3::NEG_INFINITY };

    fn of(items: &[Item]) -> Self {
        items.iter().fold(Self::NONE, |all, item| all.and(item.bounds))
    }

    fn and(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    fn longest_side(self) -> f64 {
        (self.high - self.low).max_element()
    }

    /// Half its area, m2.
    fn area(self) -> f64 {
        let size = (self.high - self.low).max(DVec3::ZERO);
        size.x * size.y + size.y * size.z + size.z * size.x
    }
}

/// A piece on its way into the tree.
#[derive(Clone, Copy, Debug)]
struct Item {
    plate: Plate,
    bounds: Bounds,
    middle: DVec3,
}

impl Item {
    fn new(piece: &Piece) -> Option<Self> {
        let corners = piece.corners();
        let bounds = corners.into_iter().fold(Bounds::NONE, |all, at| all.and(Bounds { low: at, high: at }));
        Some(Self { plate: Plate::new(piece)?, bounds, middle: 0.5 * (bounds.low + bounds.high) })
    }
}

/// The boxes of a node, side by side, and what is in each.
#[derive(Clone, Copy, Debug, Pod, Zeroable)]
#[repr(C, align(64))]
struct Node {
    /// Low and high side along each axis.
    sides: [[Lanes; 3]; 2],
    children: [u32; LANES],
    /// Up to four lines of the cache.
    rest: [u32; LANES],
}

impl Node {
    const EMPTY: Self =
        Self { sides: [[[f32::INFINITY; LANES]; 3], [[f32::NEG_INFINITY; LANES]; 3]], children: [LEAF; LANES], rest: [0; LANES] };

    fn put(&mut self, lane: usize, bounds: Bounds, hair: f32, child: u32) {
        let margin = BOX_MARGIN * f64::from(hair);
        let (low, high) = ((bounds.low - margin).as_vec3(), (bounds.high + margin).as_vec3());
        for axis in 0..3 {
            (self.sides[0][axis][lane], self.sides[1][axis][lane]) = (low[axis], high[axis]);
        }
        self.children[lane] = child;
    }
}

/// Boxes round packets.
#[derive(Clone, Debug)]
pub(super) struct Tree {
    /// Of pieces that span the room: every ray looks at them.
    spanning: Vec<Packet>,
    nodes: Table<Node>,
    packets: Table<Packet>,
    /// Sum over all nodes of the chance that a ray through the room enters it, and the same of packets.
    chances: [f64; 2],
    hair: f32,
}

impl Tree {
    /// Of these pieces, which reach a hair beyond what they are.
    pub(super) fn new(pieces: &[Piece], hair: f32) -> Self {
        let items: Vec<Item> = pieces.iter().filter_map(Item::new).collect();
        let all = Bounds::of(&items);
        let (spanning, others): (Vec<Item>, Vec<Item>) =
            items.into_iter().partition(|item| 2.0 * item.bounds.longest_side() > all.longest_side());
        // Many that span the room are a thicket, which a tree thins out better than a list.
        let (spanning, others) = if spanning.len() > 2 * LANES { (Vec::new(), [spanning, others].concat()) } else { (spanning, others) };
        let spanning = spanning.chunks(LANES).map(packet).collect();
        let mut grown = Growing::new(hair);
        if !others.is_empty() && !grown.grow(&others, all, BALANCED_BELOW) {
            // Deeper than a pile is high, which takes pieces of very unlike size: halved by number it is not.
            grown = Growing::new(hair);
            grown.grow(&others, all, 0);
        }
        let Growing { nodes, packets, chances, hair } = grown;
        Self { spanning, nodes: Table::new(nodes), packets: Table::new(packets), chances, hair }
    }

    /// What a ray costs in all, in looks at eight boxes or pieces.
    pub(super) fn looks(&self) -> f64 {
        self.spanning.len() as f64 + self.chances.iter().sum::<f64>()
    }

    /// What each of these rays meets first, no farther away than its `first` says; or, with `any`, whether it meets anything.
    #[inline(always)]
    pub(super) fn walk<S: Simd>(&self, simd: S, rays: &[(Vec3, Vec3)], firsts: &mut [First], any: bool) {
        let mut walks = [const { Walk::IDLE }; AT_ONCE];
        let mut next = 0;
        let mut busy = 0;
        for walk in &mut walks {
            if next < rays.len() {
                walk.begin(simd, self, next, rays[next], firsts[next]);
                next += 1;
                busy += 1;
            }
        }
        while busy > 0 {
            for walk in &mut walks {
                if walk.count > 0 {
                    walk.step(simd, self, any);
                } else if walk.ray != usize::MAX {
                    firsts[walk.ray] = walk.first;
                    walk.ray = usize::MAX;
                    if next < rays.len() {
                        walk.begin(simd, self, next, rays[next], firsts[next]);
                        next += 1;
                    } else {
                        busy -= 1;
                    }
                }
            }
        }
    }
}

/// A tree on its way: what will be its tables.
struct Growing {
    nodes: Vec<Node>,
    packets: Vec<Packet>,
    chances: [f64; 2],
    hair: f32,
}

impl Growing {
    fn new(hair: f32) -> Self {
        Self { nodes: Vec::new(), packets: Vec::new(), chances: [0.0; 2], hair }
    }

    /// Builds the nodes; whether they fit on the piles.
    fn grow(&mut self, items: &[Item], all: Bounds, balanced_below: usize) -> bool {
        let halves = Halves::new(items, balanced_below);
        let depth = self.node(&halves, halves.list.len() - 1, all.area().max(f64::MIN_POSITIVE));
        depth * (LANES - 1) + LANES <= WAITING
    }

    /// Adds the node that a group of the halves becomes, and all below it; returns how deep that goes.
    fn node(&mut self, halves: &Halves, group: usize, room: f64) -> usize {
        let number = self.nodes.len();
        self.nodes.push(Node::EMPTY);
        self.chances[0] += halves.list[group].area / room;
        let mut depth = 0;
        for (lane, child) in halves.children(group).into_iter().enumerate() {
            let half = &halves.list[child];
            let target = if half.is_packet() {
                self.chances[1] += half.area / room;
                self.packets.push(packet(&halves.items[half.range.clone()]));
                LEAF | (self.packets.len() - 1) as u32
            } else {
                let next = self.nodes.len() as u32;
                depth = depth.max(self.node(halves, child, room));
                next
            };
            let hair = self.hair;
            self.nodes[number].put(lane, half.bounds, hair, target);
        }
        depth + 1
    }
}

fn packet(items: &[Item]) -> Packet {
    Packet::new(items.iter().map(|item| item.plate))
}

/// A ray on its way through the tree.
struct Walk {
    /// Its number, or `usize::MAX`.
    ray: usize,
    first: First,
    origin: Vec3,
    direction: Vec3,
    /// One over the components of its direction, and the origin times that.
    inverse: Vec3,
    begin: Vec3,
    /// Which side of a box it enters by, along each axis.
    enters_by: [usize; 3],
    /// Its pile: how far away each box is, and which.
    count: usize,
    enter: [f32; WAITING],
    child: [u32; WAITING],
}

impl Walk {
    const IDLE: Self = Self {
        ray: usize::MAX,
        first: First { distance: 0.0, surface: NOTHING },
        origin: Vec3::ZERO,
        direction: Vec3::ZERO,
        inverse: Vec3::ZERO,
        begin: Vec3::ZERO,
        enters_by: [0; 3],
        count: 0,
        enter: [0.0; WAITING],
        child: [0; WAITING],
    };

    #[inline(always)]
    fn begin<S: Simd>(&mut self, simd: S, tree: &Tree, ray: usize, (origin, direction): (Vec3, Vec3), first: First) {
        let inverse = Vec3::new(steep(direction.x), steep(direction.y), steep(direction.z));
        (self.ray, self.origin, self.direction) = (ray, origin, direction);
        (self.inverse, self.begin) = (inverse, origin * inverse);
        self.enters_by = [usize::from(inverse.x < 0.0), usize::from(inverse.y < 0.0), usize::from(inverse.z < 0.0)];
        self.count = usize::from(!tree.nodes.is_empty());
        (self.enter[0], self.child[0]) = (f32::NEG_INFINITY, 0);
        self.first = first;
        let lanes = RayLanes::splat(simd, origin, direction);
        for packet in &tree.spanning {
            self.first = packet.nearer(simd, &lanes, self.first, tree.hair);
        }
    }

    /// Looks at what lies on top of the pile, which is not empty.
    #[inline(always)]
    fn step<S: Simd>(&mut self, simd: S, tree: &Tree, any: bool) {
        self.count -= 1;
        let top = self.count.min(WAITING - LANES);
        let child = self.child[top];
        if any && self.first.surface != NOTHING {
            self.count = 0;
        } else if self.enter[top] > self.first.distance {
            // Met something nearer since it was put there.
        } else if child & LEAF != 0 {
            let lanes = RayLanes::splat(simd, self.origin, self.direction);
            self.first = tree.packets[(child & !LEAF) as usize].nearer(simd, &lanes, self.first, tree.hair);
        } else {
            self.count += self.pile(simd, &tree.nodes[child as usize], top);
        }
    }

    /// Puts the boxes of a node that the ray enters on its pile; how many.
    #[inline(always)]
    fn pile<S: Simd>(&mut self, simd: S, node: &Node, top: usize) -> usize {
        let Self { inverse, begin, enters_by: [x, y, z], .. } = *self;
        let side = |side: usize, axis: usize, inverse: f32, begin: f32| {
            // Fused where that is quick: rounding is covered by the margin.
            f32x8::load_array_ref(simd, &node.sides[side & 1][axis]).mul_sub(f32x8::splat(simd, inverse), f32x8::splat(simd, begin))
        };
        let enter = side(x, 0, inverse.x, begin.x).max(side(y, 1, inverse.y, begin.y));
        let leave = side(x ^ 1, 0, inverse.x, begin.x).min(side(y ^ 1, 1, inverse.y, begin.y));
        let enter = enter.max(side(z, 2, inverse.z, begin.z).max(f32x8::splat(simd, 0.0)));
        let leave = leave.min(side(z ^ 1, 2, inverse.z, begin.z).min(f32x8::splat(simd, self.first.distance)));
        let met = enter.simd_le(leave);
        store(enter.compress(met), &mut self.enter, top);
        let children = u32x8::load_array_ref(simd, &node.children).compress(met);
        if let Some(pile) = self.child[top..].first_chunk_mut::<LANES>() {
            children.store_array(pile);
        }
        met.to_bitmask().count_ones() as usize
    }
}

/// One over a component of a direction; where it runs along a box's sides it is within them or not, however far: any large number says so.
#[inline(always)]
fn steep(along: f32) -> f32 {
    if along.abs() < STEEP { STEEP.recip().copysign(along) } else { along.recip() }
}

#[inline(always)]
fn store<S: Simd>(values: f32x8<S>, pile: &mut [f32; WAITING], top: usize) {
    if let Some(pile) = pile[top..].first_chunk_mut::<LANES>() {
        values.store_array(pile);
    }
}

/// Groups of pieces, halved down to single ones; halves come before what they are halves of.
struct Halves {
    items: Vec<Item>,
    list: Vec<Half>,
}

struct Half {
    bounds: Bounds,
    area: f64,
    /// Its pieces.
    range: Range<usize>,
    halves: Option<[usize; 2]>,
    /// Least cost of it in at most so many boxes.
    cost: [f64; LANES + 1],
    /// Least cost of its two halves in at most so many boxes together.
    parted: [f64; LANES + 1],
}

impl Half {
    fn as_packet(&self) -> f64 {
        if self.range.len() <= LANES { self.area } else { f64::INFINITY }
    }

    fn as_node(&self) -> f64 {
        self.area + self.parted[LANES]
    }

    fn is_packet(&self) -> bool {
        self.as_packet() <= self.as_node()
    }
}

impl Halves {
    fn new(items: &[Item], balanced_below: usize) -> Self {
        let mut all = Self { items: items.to_vec(), list: Vec::with_capacity(2 * items.len()) };
        all.halve(0..items.len(), 0, balanced_below);
        all
    }

    /// Adds a group and all below it; returns its number.
    fn halve(&mut self, range: Range<usize>, depth: usize, balanced_below: usize) -> usize {
        let halves = (range.len() > 1).then(|| {
            let cut = range.start + split(&mut self.items[range.clone()], depth < balanced_below);
            [range.start..cut, cut..range.end].map(|half| self.halve(half, depth + 1, balanced_below))
        });
        let bounds = Bounds::of(&self.items[range.clone()]);
        let mut half =
            Half { bounds, area: bounds.area(), range, halves, cost: [f64::INFINITY; LANES + 1], parted: [f64::INFINITY; LANES + 1] };
        if let Some([one, other]) = halves.map(|halves| halves.map(|half| &self.list[half].cost)) {
            for boxes in 2..=LANES {
                half.parted[boxes] = (1..boxes).map(|first| one[first] + other[boxes - first]).fold(f64::INFINITY, f64::min);
            }
        }
        half.cost[1] = half.as_packet().min(half.as_node());
        for boxes in 2..=LANES {
            half.cost[boxes] = half.cost[boxes - 1].min(half.parted[boxes]);
        }
        self.list.push(half);
        self.list.len() - 1
    }

    /// The groups that stand in the boxes of a node, cheapest.
    fn children(&self, node: usize) -> Vec<usize> {
        let mut children = Vec::with_capacity(LANES);
        match self.list[node].halves {
            Some(_) => self.part(node, LANES, &mut children),
            None => children.push(node),
        }
        children
    }

    /// The halves of a group in at most so many boxes together.
    fn part(&self, group: usize, boxes: usize, children: &mut Vec<usize>) {
        let Some([one, other]) = self.list[group].halves else { return };
        let cost = |first: usize| self.list[one].cost[first] + self.list[other].cost[boxes - first];
        let first = (1..boxes).min_by(|&a, &b| cost(a).total_cmp(&cost(b))).unwrap_or(1);
        for (half, boxes) in [(one, first), (other, boxes - first)] {
            let cost = &self.list[half].cost;
            // No more than what makes it cheaper.
            let fewest = (1..=boxes).find(|&fewer| cost[fewer] <= cost[boxes]).unwrap_or(boxes);
            if fewest == 1 { children.push(half) } else { self.part(half, fewest, children) }
        }
    }
}

/// Puts pieces in two halves, split where they cost least, or by number; returns how many are in the first.
fn split(items: &mut [Item], by_cost: bool) -> usize {
    let points = items.iter().map(|item| Bounds { low: item.middle, high: item.middle });
    let middles = points.fold(Bounds::NONE, Bounds::and);
    let axis = (middles.high - middles.low).max_position();
    if !by_cost || middles.longest_side() <= 0.0 {
        sort(items, axis);
        return items.len() / 2;
    }
    if items.len() > SMALL
        && let Some((axis, cut)) = cheapest_cut(items, middles)
    {
        items.sort_by_key(|item| bin(item, middles, axis) >= cut);
        return items.iter().filter(|item| bin(item, middles, axis) < cut).count();
    }
    let (mut best, mut place) = (f64::INFINITY, (axis, items.len() / 2));
    for axis in 0..3 {
        sort(items, axis);
        let behind = areas(items.iter().rev());
        for (before, area) in areas(items.iter()).into_iter().enumerate().map(|(index, area)| (index + 1, area)) {
            let after = items.len() - before;
            if after > 0 {
                let cost = area * before as f64 + behind[after - 1] * after as f64;
                if cost < best {
                    (best, place) = (cost, (axis, before));
                }
            }
        }
    }
    sort(items, place.0);
    place.1
}

fn sort(items: &mut [Item], axis: usize) {
    items.sort_by(|one, other| one.middle[axis].total_cmp(&other.middle[axis]));
}

/// Area of the box round the first, the first two, ... of these.
fn areas<'a>(items: impl Iterator<Item = &'a Item>) -> Vec<f64> {
    let mut all = Bounds::NONE;
    let grown = items.map(|item| {
        all = all.and(item.bounds);
        all.area()
    });
    grown.collect()
}

/// Which of the bins along an axis the middle of a piece lies in.
fn bin(item: &Item, middles: Bounds, axis: usize) -> usize {
    let share = (item.middle[axis] - middles.low[axis]) / (middles.high[axis] - middles.low[axis]);
    ((share * CUTS as f64) as usize).min(CUTS - 1)
}

/// The axis and the bin before which a split costs least.
fn cheapest_cut(items: &[Item], middles: Bounds) -> Option<(usize, usize)> {
    let mut best: Option<(f64, (usize, usize))> = None;
    for axis in (0..3).filter(|&axis| middles.high[axis] > middles.low[axis]) {
        let mut bins = [(Bounds::NONE, 0_usize); CUTS];
        for item in items {
            let (bounds, count) = &mut bins[bin(item, middles, axis)];
            (*bounds, *count) = (bounds.and(item.bounds), *count + 1);
        }
        let cost = |bins: &[(Bounds, usize)]| {
            let (bounds, count) = bins.iter().fold((Bounds::NONE, 0), |all, bin| (all.0.and(bin.0), all.1 + bin.1));
            (count > 0).then(|| bounds.area() * count as f64)
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
