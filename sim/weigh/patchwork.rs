//! What the surfaces leave of a bounce wherever it lies in its patch: for whole decays, where millions of bounces are weighed at once.
//!
//! Sound comes from everywhere there, and where in a patch a ray bounces matters no more: a bounce meets the spread of its patch
//! (`room::footing`, without the hat). Most patches have one finish round them and many others two, so two rows are read for every
//! bounce, with shares that may be 1 and 0: a branch at each bounce would cost more than the second row does. Round a panel three meet, it, its margin and the wall.

use fearless_simd::{Simd, SimdBase, f32x8};

use crate::bands::Band;
use crate::rays::Hit;

use super::Linings;
use super::linings::Part;
use super::stochastic::{Leaves, position_of};

/// The finishes round each patch of a room.
pub(super) struct Patchwork<'a> {
    linings: &'a Linings,
    pairs: Vec<Pair>,
}

/// Two finishes with their shares.
#[derive(Clone, Copy, Debug)]
struct Pair {
    /// The first is [`MANY`] where there are more than two.
    finishes: [u16; 2],
    shares: [f32; 2],
}

/// More than two finishes lie round a patch.
const MANY: u16 = u16::MAX;

impl Pair {
    fn new(parts: &[Part]) -> Self {
        match parts {
            [part] => Self { finishes: [part.finish; 2], shares: [part.share, 0.0] },
            [one, other] => Self { finishes: [one.finish, other.finish], shares: [one.share, other.share] },
            _ => Self { finishes: [MANY; 2], shares: [0.0; 2] },
        }
    }
}

impl<'a> Patchwork<'a> {
    pub(super) fn new(linings: &'a Linings) -> Self {
        let surfaces = linings.grid().surfaces.iter().enumerate();
        let pairs = surfaces.flat_map(|(surface, own)| (0..own.len()).map(move |slot| Pair::new(linings.round(surface, slot)))).collect();
        Self { linings, pairs }
    }

    /// What is left in one band of a bounce for the way that the ray took.
    #[inline]
    pub(super) fn kept(&self, hit: Hit, band: Band) -> f32 {
        let patch = self.patch(hit);
        let row = |finish: u16| self.linings.row(hit.went_diffuse(), finish, hit.cosine_bin)[band.index()];
        match self.pairs[patch] {
            Pair { finishes: [MANY, _], .. } => self.round(hit, patch).iter().map(|part| part.share * row(part.finish)).sum(),
            Pair { finishes: [one, other], shares } => shares[0] * row(one) + shares[1] * row(other),
        }
    }
}

impl Patchwork<'_> {
    /// The patch of a bounce.
    #[inline(always)]
    pub(super) fn patch(&self, hit: Hit) -> usize {
        let own = &self.linings.grid().surfaces[usize::from(hit.surface)];
        own.first + own.slot(position_of(hit))
    }

    /// All that lies round the patch of a bounce.
    fn round(&self, hit: Hit, patch: usize) -> &[Part] {
        let surface = usize::from(hit.surface);
        self.linings.round(surface, patch - self.linings.grid().surfaces[surface].first)
    }

    /// What is left of a bounce in a patch, for the way that the ray took and scattered.
    #[inline(always)]
    pub(super) fn leaves_in<S: Simd>(&self, simd: S, hit: Hit, patch: usize) -> [f32x8<S>; 2] {
        let Pair { finishes: [one, other], shares } = self.pairs[patch];
        if one == MANY {
            let parts = self.round(hit, patch);
            return [hit.went_diffuse(), true].map(|scattered| self.linings.mean(simd, scattered, parts, hit.cosine_bin));
        }
        let (one, other) = (self.linings.both(one, hit.cosine_bin), self.linings.both(other, hit.cosine_bin));
        let way = usize::from(hit.went_diffuse());
        let kept = f32x8::load_array_ref(simd, &one[way]) * shares[0] + f32x8::load_array_ref(simd, &other[way]) * shares[1];
        let scattered = f32x8::load_array_ref(simd, &one[1]) * shares[0] + f32x8::load_array_ref(simd, &other[1]) * shares[1];
        [kept, scattered]
    }
}

impl<S: Simd> Leaves<S> for Patchwork<'_> {
    #[inline(always)]
    fn leaves(&self, simd: S, hit: Hit) -> [f32x8<S>; 2] {
        self.leaves_in(simd, hit, self.patch(hit))
    }
}
