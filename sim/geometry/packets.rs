//! Which surface does a ray meet first? Of one ray, or of eight side by side.
//!
//! Few pieces are all looked at, eight rays at a time; of many a tree of boxes (`tree`) says which, eight boxes or pieces at a time. Which
//! of the two costs less is reckoned for every room from what a look was measured to cost.
//!
//! The loops are compiled once for every set of vector instructions ([`Instructions`]).

use fearless_simd::prelude::*;
use fearless_simd::{Level, dispatch, f32x8, u32x8};
use glam::Vec3;

pub use super::plate::{First, NOTHING, Piece};

use super::instructions::{Instructions, chosen};
use super::lanes::{LANES, Lanes, RayLanes, Some8, Vec3Lanes, array};
use super::plate::{Plate, hair};
use super::tree::Tree;

/// What a ray costs by the list, once and for each piece in it, and by the tree, once and for each look at eight boxes or pieces:
/// nanoseconds, by `cargo bench -- kernel` on the machine of RESULTS.md. Only their ratios matter.
const LIST_COST: [f64; 2] = [6.0, 0.72];
const TREE_COST: [f64; 2] = [18.0, 10.5];

fn costs(pieces: &[Piece], tree: &Tree) -> [f64; 2] {
    let ([once, piece], [begin, look]) = (LIST_COST, TREE_COST);
    [once + piece * pieces.len() as f64, begin + look * tree.looks()]
}

/// All pieces of a room.
#[derive(Clone, Debug)]
pub struct Packets {
    /// Parallelograms, then triangles, of either the last surface first: so the first has the last word.
    plates: [Vec<Plate>; 2],
    /// Where it costs less.
    tree: Option<Tree>,
    hair: f32,
    /// Of the instructions asked for.
    level: Level,
}

/// What eight rays meet first.
#[derive(Clone, Copy, Debug)]
pub struct HitLanes {
    /// How far away it is, meters.
    pub distance: Lanes,
    /// Index of the surface, or [`NOTHING`].
    pub surface: [u32; LANES],
}

/// Eight rays, how far they are looked along, and which of them.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked<S: Simd> {
    pub(crate) rays: RayLanes<S>,
    pub(crate) far: f32x8<S>,
    pub(crate) busy: Some8,
}

impl HitLanes {
    /// Nothing yet.
    pub const NOTHING: Self = Self { distance: [f32::INFINITY; LANES], surface: [NOTHING; LANES] };
}

impl Packets {
    /// Packs the pieces.
    #[must_use]
    pub fn new(pieces: &[Piece]) -> Self {
        Self::with(chosen(), pieces)
    }

    /// The same with these instructions.
    #[must_use]
    pub fn with(instructions: Instructions, pieces: &[Piece]) -> Self {
        let hair = hair(pieces);
        let tree = Tree::new(pieces, hair);
        let [by_list, by_tree] = costs(pieces, &tree);
        Self::made(instructions, pieces, hair, (by_tree < by_list).then_some(tree))
    }

    /// What a ray is reckoned to cost by the list and by the tree, nanoseconds on the machine of RESULTS.md.
    #[must_use]
    pub fn costs(pieces: &[Piece]) -> [f64; 2] {
        costs(pieces, &Tree::new(pieces, hair(pieces)))
    }

    /// By the list or by the tree, whatever it costs: for tests and benches.
    #[must_use]
    pub fn forced(instructions: Instructions, pieces: &[Piece], by_tree: bool) -> Self {
        let hair = hair(pieces);
        Self::made(instructions, pieces, hair, by_tree.then(|| Tree::new(pieces, hair)))
    }

    fn made(instructions: Instructions, pieces: &[Piece], hair: f32, tree: Option<Tree>) -> Self {
        let mut plates = [true, false].map(|parallelogram| {
            pieces.iter().filter(|piece| piece.parallelogram == parallelogram).filter_map(Plate::new).collect::<Vec<_>>()
        });
        for plates in &mut plates {
            plates.sort_by_key(|plate| std::cmp::Reverse(plate.surface));
        }
        Self { plates, tree, hair, level: instructions.level() }
    }

    /// Whether there is nothing to meet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.plates.iter().all(Vec::is_empty)
    }

    /// Whether boxes are looked at.
    #[must_use]
    pub fn is_tree(&self) -> bool {
        self.tree.is_some()
    }

    /// The vector instructions that are used.
    #[must_use]
    pub fn level(&self) -> Level {
        self.level
    }

    /// The first surface met within `far` meters, and how far away it is.
    #[must_use]
    pub fn first_hit(&self, origin: Vec3, direction: Vec3, far: f32) -> Option<(u16, f32)> {
        let mut first = [First { distance: far, surface: NOTHING }];
        self.first_of(&[(origin, direction)], &mut first);
        let [First { distance, surface }] = first;
        (surface != NOTHING).then_some((surface as u16, distance))
    }

    /// Whether anything is met within `far` meters.
    #[must_use]
    pub fn is_blocked(&self, origin: Vec3, direction: Vec3, far: f32) -> bool {
        let mut first = [First { distance: far, surface: NOTHING }];
        self.meet(&[(origin, direction)], &mut first, true);
        first[0].surface != NOTHING
    }

    /// What each of these rays meets first, no farther away than its `first` says.
    pub fn first_of(&self, rays: &[(Vec3, Vec3)], firsts: &mut [First]) {
        self.meet(rays, firsts, false);
    }

    fn meet(&self, rays: &[(Vec3, Vec3)], firsts: &mut [First], any: bool) {
        dispatch!(self.level, simd => match &self.tree {
            Some(tree) => tree.walk(simd, rays, firsts, any),
            None => self.list_of(simd, rays, firsts),
        });
    }

    #[inline(always)]
    fn list_of<S: Simd>(&self, simd: S, rays: &[(Vec3, Vec3)], firsts: &mut [First]) {
        for (rays, firsts) in rays.chunks(LANES).zip(firsts.chunks_mut(LANES)) {
            let (mut origin, mut direction, mut far) = ([[0.0; LANES]; 3], [[0.0; LANES]; 3], [0.0; LANES]);
            for (lane, ((from, along), first)) in rays.iter().zip(firsts.iter()).enumerate() {
                for axis in 0..3 {
                    (origin[axis][lane], direction[axis][lane]) = (from[axis], along[axis]);
                }
                far[lane] = first.distance;
            }
            let lanes = RayLanes { origin: Vec3Lanes::load(simd, &origin), direction: Vec3Lanes::load(simd, &direction) };
            let met = self.list(simd, &lanes, f32x8::load_array(simd, far));
            for (lane, first) in firsts.iter_mut().enumerate() {
                *first = First { distance: met.distance[lane], surface: met.surface[lane] };
            }
        }
    }

    /// What each of these rays meets first, eight to an entry, no farther away than `far`; lanes whose bit of `busy` is not set are left out.
    /// With `any` whatever it meets will do.
    #[inline(always)]
    pub(crate) fn first_hits<S: Simd>(&self, simd: S, asked: &[Asked<S>], any: bool, hits: &mut [HitLanes]) {
        let Some(tree) = &self.tree else {
            for (asked, hits) in asked.iter().zip(hits) {
                if asked.busy != Some8(0) {
                    *hits = self.list(simd, &asked.rays, asked.far);
                }
            }
            return;
        };
        let mut queue = Queue::new();
        for (entry, asked) in asked.iter().enumerate() {
            if queue.count + LANES > Queue::LENGTH {
                queue.walk(simd, tree, any, hits);
            }
            queue.push(asked, entry);
        }
        queue.walk(simd, tree, any, hits);
    }

    /// Looks at all pieces.
    #[inline(always)]
    fn list<S: Simd>(&self, simd: S, rays: &RayLanes<S>, far: f32x8<S>) -> HitLanes {
        let mut best = far;
        let mut surface = u32x8::splat(simd, NOTHING);
        let [parallelograms, triangles] = &self.plates;
        for plate in parallelograms {
            let (distance, met) = plate.meet(simd, rays, best, false, self.hair);
            (best, surface) = (met.select(distance, best), met.select(u32x8::splat(simd, u32::from(plate.surface)), surface));
        }
        for plate in triangles {
            let (distance, met) = plate.meet(simd, rays, best, true, self.hair);
            (best, surface) = (met.select(distance, best), met.select(u32x8::splat(simd, u32::from(plate.surface)), surface));
        }
        let mut hits = HitLanes { distance: array(best), ..HitLanes::NOTHING };
        surface.store_array(&mut hits.surface);
        hits
    }
}

/// Rays of several entries on their way to the tree.
struct Queue {
    rays: [(Vec3, Vec3); Self::LENGTH],
    firsts: [First; Self::LENGTH],
    /// Entry and lane of each.
    from: [(usize, usize); Self::LENGTH],
    count: usize,
}

impl Queue {
    const LENGTH: usize = 8 * LANES;

    #[inline(always)]
    fn new() -> Self {
        let first = First { distance: 0.0, surface: NOTHING };
        Self { rays: [(Vec3::ZERO, Vec3::ZERO); Self::LENGTH], firsts: [first; Self::LENGTH], from: [(0, 0); Self::LENGTH], count: 0 }
    }

    #[inline(always)]
    fn push<S: Simd>(&mut self, Asked { rays, far, busy }: &Asked<S>, entry: usize) {
        let ([ox, oy, oz], [dx, dy, dz], reach) = (rays.origin.store(), rays.direction.store(), array(*far));
        for lane in *busy {
            self.rays[self.count] = (Vec3::new(ox[lane], oy[lane], oz[lane]), Vec3::new(dx[lane], dy[lane], dz[lane]));
            self.firsts[self.count] = First { distance: reach[lane], surface: NOTHING };
            self.from[self.count] = (entry, lane);
            self.count += 1;
        }
    }

    /// Sends them through the tree, and writes down what they meet.
    #[inline(always)]
    fn walk<S: Simd>(&mut self, simd: S, tree: &Tree, any: bool, hits: &mut [HitLanes]) {
        tree.walk(simd, &self.rays[..self.count], &mut self.firsts[..self.count], any);
        for (first, &(entry, lane)) in self.firsts.iter().zip(&self.from).take(self.count) {
            (hits[entry].distance[lane], hits[entry].surface[lane]) = (first.distance, first.surface);
        }
        self.count = 0;
    }
}
