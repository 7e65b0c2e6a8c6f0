//! How much of the ceiling's bounce does a cloud cover: what of its first Fresnel zone lies in the cloud's shadow?
//!
//! **The zone** of a bounce from S to R in a plane: the points P of the plane whose way is longer than that by the mirror point by half a wavelength at the most,
//! `|SP| + |PR| <= L + lambda / 2`, `L` the way by the mirror image. With the feet of S and R on the plane `D` apart, their heights `h1` and `h2`, `K = L + lambda / 2` and
//! `c = h1^2 - h2^2 - D^2` that is an ellipse along the line of the feet: with `m = 1 - D^2 / K^2` and `b = D (1 + c / K^2)` its middle lies `b / 2m` from the foot of S, its half axis
//! across is the root of `(K + c / K)^2 / 4 - h1^2 + b^2 / 4m`, along that over the root of `m`. For short waves, straight on, its area tends to `pi lambda h1 h2 / (h1 + h2)`.
//!
//! **The shadow**: a point of the zone is covered if the cloud stands in the way to it from S, or from it to R. The cloud thrown onto the plane from S is the convex hull of its corners
//! thrown from there; so from R. The share is the area that the zone and the two shadows together have in common, over that of the zone; of both only what lies on the ceiling's own
//! outline. Areas are exact (`geometry::ellipse`).
//!
//! *References.* H. Kuttruff, Room Acoustics, chapter on reflections from finite surfaces; J. H. Rindel, Proc. Nordic Acoustical Meeting 1982 (both from memory).
//!
//! *Limits.* Geometry alone: what bends round the cloud, and what its back and edges send on, is not in it. The zone counts evenly, without phase.

use glam::{DVec2, DVec3};

use crate::bands::{Band, Bands};
use crate::geometry::{Chart, Ellipse, Polygon, Solid};
use crate::room::Role;
use crate::weigh::Traced;

/// A body this near to the height of S or R over the plane, as a share of it, is cut off: its shadow has no end.
const NEAR: f64 = 0.999;

/// A single bounce on a ceiling in the room without the cloud.
#[derive(Clone, Debug)]
pub struct CeilingBounce {
    /// Where it starts and where it is heard, meters.
    pub ends: [DVec3; 2],
    /// The mirror point, meters.
    pub point: DVec3,
    /// Chart of the ceiling facet.
    pub chart: Chart,
    /// Its outline.
    pub outline: Polygon,
    /// Speed of sound, m/s.
    pub speed: f64,
}

/// The single bounces of these pairs of source and receiver on the facets of the ceiling, at the middle of the receiver.
#[must_use]
pub fn ceiling_bounces(traced: &Traced, pairs: &[(usize, usize)]) -> Vec<CeilingBounce> {
    let room = &traced.room;
    let of_pair = |&(source, receiver): &(usize, usize)| {
        let paths = &traced.images[source][receiver].points[0];
        let ends = [room.sources[source].position, room.receivers[receiver].position];
        paths.iter().filter_map(move |path| {
            let [bounce] = path.path.bounces.as_slice() else { return None };
            let surface = &room.surfaces[bounce.surface];
            matches!(surface.role, Role::Ceiling(_)).then(|| CeilingBounce {
                ends,
                point: bounce.point,
                chart: surface.chart,
                outline: surface.outline.clone(),
                speed: room.medium.speed,
            })
        })
    };
    pairs.iter().flat_map(of_pair).collect()
}

/// The first Fresnel zone of the bounce from one point to another in the plane of a chart, for this wavelength in meters, on the chart; `None` where one of the points is not before it.
#[must_use]
pub fn zone(chart: &Chart, [from, to]: [DVec3; 2], wavelength: f64) -> Option<Ellipse> {
    let (h1, h2) = (chart.height(from), chart.height(to));
    if h1 <= 0.0 || h2 <= 0.0 {
        return None;
    }
    let (foot, other) = (chart.position(from), chart.position(to));
    let apart = foot.distance(other);
    let along = (other - foot).try_normalize().unwrap_or(DVec2::X);
    let k = apart.hypot(h1 + h2) + 0.5 * wavelength;
    let c = h1 * h1 - h2 * h2 - apart * apart;
    let m = 1.0 - (apart / k).powi(2);
    let b = apart * (1.0 + c / (k * k));
    let across = (0.25 * (k + c / k).powi(2) - h1 * h1 + 0.25 * b * b / m).max(0.0).sqrt();
    Some(Ellipse { center: foot + along * (0.5 * b / m), along, half: DVec2::new(across / m.sqrt(), across) })
}

/// The shadow of a convex body on the plane of a chart, thrown from a point before it; `None` where it throws none.
#[must_use]
pub fn shadow(chart: &Chart, from: DVec3, body: &Solid) -> Option<Polygon> {
    let most = chart.height(from) * NEAR;
    if most <= 0.0 {
        return None;
    }
    let corners: Vec<(DVec3, f64)> = body.corners().iter().map(|&corner| (corner, chart.height(corner))).collect();
    let mut below: Vec<DVec3> = corners.iter().filter(|(_, height)| *height <= most).map(|(corner, _)| *corner).collect();
    // Of a body that reaches up beside the point, what lies between it and the plane.
    for (index, (one, low)) in corners.iter().enumerate() {
        let cut = corners[index + 1..].iter().filter(|(_, high)| (*low - most) * (*high - most) < 0.0);
        below.extend(cut.map(|(other, high)| one.lerp(*other, (most - low) / (high - low))));
    }
    let height = chart.height(from);
    let thrown = |corner: &DVec3| chart.position(from + (*corner - from) * (height / (height - chart.height(*corner))));
    let hull = Polygon::hull(&below.iter().map(thrown).collect::<Vec<_>>());
    (hull.corners.len() >= 3 && hull.area() > 0.0).then_some(hull)
}

/// Share of the first Fresnel zone of a bounce that a body covers, by octave; of an octave whose zone does not lie on the ceiling nothing.
#[must_use]
pub fn covered(bounce: &CeilingBounce, body: &Solid) -> Bands<f64> {
    let shadows = bounce.ends.map(|end| shadow(&bounce.chart, end, body));
    let on_ceiling = |polygon: &Polygon| polygon.intersection(&bounce.outline);
    let single: Vec<Polygon> = shadows.iter().flatten().flat_map(on_ceiling).collect();
    let both: Vec<Polygon> = match &shadows {
        [Some(one), Some(other)] => one.intersection(other).iter().flat_map(on_ceiling).collect(),
        _ => Vec::new(),
    };
    Bands::from_fn(|band: Band| {
        let Some(zone) = zone(&bounce.chart, bounce.ends, bounce.speed / band.center()) else { return 0.0 };
        let sum = |pieces: &[Polygon]| pieces.iter().map(|piece| zone.overlap_area(piece)).sum::<f64>();
        let all = zone.overlap_area(&bounce.outline);
        if all > 0.0 { ((sum(&single) - sum(&both)) / all).clamp(0.0, 1.0) } else { 0.0 }
    })
}

/// The mean over these bounces; `None` of none.
#[must_use]
pub fn mean_covered(bounces: &[CeilingBounce], body: &Solid) -> Option<Bands<f64>> {
    let sum = bounces.iter().fold(Bands::splat(0.0), |sum, bounce| sum + covered(bounce, body));
    (!bounces.is_empty()).then(|| sum * (1.0 / bounces.len() as f64))
}
