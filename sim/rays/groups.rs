//! Which bands one ray may serve.
//!
//! One direction serves several bands while it can: a bounce is diffuse with probability p, and band b carries the weight `s_b / p`
//! or `(1 - s_b) / (1 - p)`. Those weights have the second moment `m_b = s_b^2 / p + (1 - s_b)^2 / (1 - p) >= 1` a bounce, so after k
//! bounces only a share `1 / (product of m_b)` of the rays counts, the product averaged over the ways that rays take: a thousand scouts are
//! sent ahead to learn these. Where this share would fall under one half the path splits into groups of bands of like s: if need be from
//! the source, else where the tail begins; in the tail it is looked at in the middle of the range of T20 (-15 dB).
//!
//! *References.* Effective sample size of weighted samples: A. Kong, Technical Report 348, University of Chicago, 1992.

use crate::bands::{Band, Bands};
use crate::room::{Room, Surface};

/// Bands that share rays.
#[derive(Clone, Debug, PartialEq)]
pub struct BandGroup {
    /// Whether a band is in it.
    pub member: Bands<bool>,
    /// Probability of a diffuse continuation for each surface, in 255ths.
    pub diffuse_probability: Vec<u8>,
    /// Way in meters from which on its rays are heard: what they do before is on record in the group that they go on from.
    pub heard_from: f32,
    /// The group whose rays its own go on from, by its number among the stored ones; nothing of those that begin at the source.
    pub goes_on_from: Option<usize>,
}

/// Probabilities stay between these 255ths (0.05 and 0.95), so that either continuation can be re-weighed; only a surface that nothing
/// else lies on or can be hung on and that never (or always) scatters is followed one way alone.
const PROBABILITY_RANGE: (f64, f64) = (13.0, 242.0);

/// Least share of effective rays in a group.
const EFFECTIVE_SHARE_MIN: f64 = 0.5;

impl BandGroup {
    fn new(room: &Room, bands: &[Band]) -> Self {
        let mut member = Bands::splat(false);
        for &band in bands {
            member[band] = true;
        }
        let diffuse_probability = room
            .surfaces
            .iter()
            .map(|surface| {
                let finish = &room.finishes[surface.finish];
                let values = bands.iter().map(|&band| finish.scattered(band));
                let (low, high) = values.clone().fold((1.0_f64, 0.0_f64), |(low, high), s| (low.min(s), high.max(s)));
                let plain = surface.linings.is_empty() && !(room.takes_patches && surface.role.is_shell());
                if low >= 1.0 && plain {
                    return 255;
                }
                if high <= 0.0 && plain {
                    return 0;
                }
                let mean = values.sum::<f64>() / bands.len() as f64;
                (mean * 255.0).round().clamp(PROBABILITY_RANGE.0, PROBABILITY_RANGE.1) as u8
            })
            .collect();
        Self { member, diffuse_probability, heard_from: 0.0, goes_on_from: None }
    }

    /// Logarithm of the second moment of a bounce on each surface in one band.
    fn moments(&self, room: &Room, band: Band) -> Vec<f64> {
        let moment = |(surface, &probability): (&Surface, &u8)| {
            second_moment(room.finishes[surface.finish].scattered(band), f64::from(probability) / 255.0).ln()
        };
        room.surfaces.iter().zip(&self.diffuse_probability).map(moment).collect()
    }

    /// Share of rays that still counts in the worst of its bands at the end of these ways, whose early part went as `before` does.
    fn effective_share(&self, room: &Room, bands: &[Band], before: Option<&Self>, ways: &[Way]) -> f64 {
        let share = |&band: &Band| {
            let (own, early) = (self.moments(room, band), before.map(|before| before.moments(room, band)));
            let sum = |moments: &[f64], way: &[u16]| way.iter().map(|&surface| moments[usize::from(surface)]).sum::<f64>();
            let moment = |way: &Way| match &early {
                Some(early) => (sum(early, &way.early) + sum(&own, &way.late)).exp(),
                None => sum(&own, &way.early).exp(),
            };
            ways.len() as f64 / ways.iter().map(moment).sum::<f64>().max(f64::MIN_POSITIVE)
        };
        bands.iter().map(share).fold(1.0, f64::min)
    }

    /// All bands together: how scouts go.
    pub(super) fn common(room: &Room) -> Self {
        Self::new(room, &Band::ALL)
    }

    /// The fewest groups of the bands of `before` (of all bands where there is none) in which every band keeps at least half its rays along
    /// these ways: along their early parts where nothing went before, else to their ends. Bands that are most alike share.
    #[must_use]
    pub(super) fn split(room: &Room, before: Option<&Self>, ways: &[Way]) -> Vec<Self> {
        let bounces = ways.iter().map(|way| way.early.len()).sum::<usize>().max(1) as f64;
        let mean = Bands::from_fn(|band| {
            let scattering = |&surface: &u16| room.finishes[room.surfaces[usize::from(surface)].finish].scattered(band);
            ways.iter().flat_map(|way| &way.early).map(scattering).sum::<f64>() / bounces
        });
        let mut order: Vec<Band> = Band::ALL.into_iter().filter(|&band| before.is_none_or(|before| before.member[band])).collect();
        order.sort_by(|&a, &b| mean[a].total_cmp(&mean[b]).then(a.cmp(&b)));
        let mut groups = Vec::new();
        let mut rest = &order[..];
        while !rest.is_empty() {
            let mut end = rest.len();
            while end > 1 && Self::new(room, &rest[..end]).effective_share(room, &rest[..end], before, ways) < EFFECTIVE_SHARE_MIN {
                end -= 1;
            }
            groups.push(Self::new(room, &rest[..end]));
            rest = &rest[end..];
        }
        groups
    }
}

/// The surfaces that a ray meets, in order: in the early part, and from there to where the share of rays that count is looked at.
#[derive(Clone, Debug, Default)]
pub(super) struct Way {
    pub(super) early: Vec<u16>,
    pub(super) late: Vec<u16>,
}

/// Second moment of the weight of one bounce.
fn second_moment(s: f64, p: f64) -> f64 {
    let part = |share: f64, probability: f64| if share > 0.0 && probability > 0.0 { share * share / probability } else { 0.0 };
    part(s, p) + part(1.0 - s, 1.0 - p)
}
