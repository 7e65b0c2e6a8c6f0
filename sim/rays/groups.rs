//! Which bands one ray may serve.
//!
//! One direction serves several bands while it can: a bounce is diffuse with probability p, and band b carries the weight `s_b / p`
//! or `(1 - s_b) / (1 - p)`. Those weights have the second moment `m_b = s_b^2 / p + (1 - s_b)^2 / (1 - p) >= 1` a bounce, so after k
//! bounces only a share `1 / (product of m_b)` of the rays counts, the product averaged over the ways that rays take: a thousand scouts are
//! sent ahead to learn these. Bands whose scattering is so unlike that this share would fall under one half by the middle of the range
//! of T20 (-15 dB) are traced by rays of their own.
//!
//! *References.* Effective sample size of weighted samples: A. Kong, Technical Report 348, University of Chicago, 1992.

use crate::bands::{BAND_COUNT, Band, Bands};
use crate::room::Room;

/// Bands that share rays.
#[derive(Clone, Debug, PartialEq)]
pub struct BandGroup {
    /// Whether a band is in it.
    pub member: Bands<bool>,
    /// Probability of a diffuse continuation for each surface, in 255ths.
    pub diffuse_probability: Vec<u8>,
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
                let scattering = room.finishes[surface.finish].scattering;
                let values = bands.iter().map(|&band| scattering[band]);
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
        Self { member, diffuse_probability }
    }

    /// Share of rays that still counts in the worst of its bands at the end of these ways.
    fn effective_share(&self, room: &Room, bands: &[Band], ways: &[Way]) -> f64 {
        bands
            .iter()
            .map(|&band| {
                let logarithms: Vec<f64> = room
                    .surfaces
                    .iter()
                    .zip(&self.diffuse_probability)
                    .map(|(surface, &probability)| {
                        second_moment(room.finishes[surface.finish].scattering[band], f64::from(probability) / 255.0).ln()
                    })
                    .collect();
                let moments = ways.iter().map(|way| way.iter().map(|&surface| logarithms[usize::from(surface)]).sum::<f64>().exp());
                ways.len() as f64 / moments.sum::<f64>().max(f64::MIN_POSITIVE)
            })
            .fold(1.0, f64::min)
    }

    /// All bands together: how scouts go.
    pub(super) fn common(room: &Room) -> Self {
        Self::new(room, &Band::ALL)
    }

    /// The fewest groups in which every band keeps at least half its rays along these ways; bands that are most alike share.
    #[must_use]
    pub(super) fn split(room: &Room, ways: &[Way]) -> Vec<Self> {
        let bounces = ways.iter().map(Vec::len).sum::<usize>().max(1) as f64;
        let mean = Bands::from_fn(|band| {
            let scattering = |&surface: &u16| room.finishes[room.surfaces[usize::from(surface)].finish].scattering[band];
            ways.iter().flatten().map(scattering).sum::<f64>() / bounces
        });
        let mut order = Band::ALL;
        order.sort_by(|&a, &b| mean[a].total_cmp(&mean[b]).then(a.cmp(&b)));
        let mut groups = Vec::new();
        let mut first = 0;
        while first < BAND_COUNT {
            let mut end = BAND_COUNT;
            while end > first + 1
                && Self::new(room, &order[first..end]).effective_share(room, &order[first..end], ways) < EFFECTIVE_SHARE_MIN
            {
                end -= 1;
            }
            groups.push(Self::new(room, &order[first..end]));
            first = end;
        }
        groups
    }
}

/// The surfaces that a ray meets, in order.
pub(super) type Way = Vec<u16>;

/// Second moment of the weight of one bounce.
fn second_moment(s: f64, p: f64) -> f64 {
    let part = |share: f64, probability: f64| if share > 0.0 && probability > 0.0 { share * share / probability } else { 0.0 };
    part(s, p) + part(1.0 - s, 1.0 - p)
}
