//! Specular arrivals, exact, up to an order.
//!
//! The source is mirrored in one surface after another; a sequence of surfaces is a path to a point if, drawn back from the point to the
//! last image, then to the one before and so on, it meets every surface of the sequence within its outline, and no surface in between.
//! Sequences grow only where a beam from the image through all outlines so far still meets the next surface (`beam`), which
//! leaves out most of them and none that counts.
//!
//! **Many surfaces.** How many trails a search has to look at is counted order by order before it begins; an order that would take more than
//! `LOOKS_MOST` looks from some source is left to the rays ([`affordable_order`]), which carry every order.
//!
//! **Ties.** A path through the edge between two surfaces belongs to exactly one of them: whether a path exists is decided for
//! source and points moved by up to [`NUDGE`], each in its own direction fixed by where it is, so that edges are never met exactly
//! and the path from A to B is the path from B to A. Lengths, points and angles are those of the positions as given. A position on a
//! surface, within a micrometer, hears as the air just before it does: there the reflection comes with the direct sound. Where two
//! surfaces share a part of one plane, that part is the first one's.
//!
//! *References.* J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943; J. Borish, J. Acoust. Soc. Am. 75 (1984) 1827 (any
//! polyhedron) (both from memory).
//!
//! *Limits.* Faces mirror wholly or not at all; what a small face leaves out is in its finish (`room`, edges), or bent round its edges (`edges`).
//! Positions within a body or wall are not meaningful. What mirrors a source and a point in its own plane is left out.

mod beam;
pub mod edges;
mod mirrors;
mod sight;
mod twice;
pub mod wedge;

use std::sync::atomic::{AtomicU64, Ordering};

use glam::DVec3;
use rayon::prelude::*;

use crate::progress::{Cancelled, Progress};
use crate::room::Room;
use beam::Beam;
use mirrors::{Mirror, Mirrors};

/// How far source and points are moved while paths are decided, meters.
pub const NUDGE: f64 = 1e-8;

/// A source and a point whose heights over a plane add up to less than this, meters, lie in it; what is shorter has no length.
const IN_PLANE: f64 = 10.0 * NUDGE;

/// Rounds in which a position on an edge is lifted off its surfaces.
const LIFTS: usize = 4;

/// Looks at a next surface that a search may take in its highest order, from each source: about a second on two cores.
const LOOKS_MOST: u64 = 50_000_000;

/// The surfaces of a room, prepared for searches from any source.
pub struct Prepared(Mirrors);

impl Prepared {
    /// Of a room.
    #[must_use]
    pub fn new(room: &Room) -> Self {
        Self::holding(room, sight::HELD_MOST)
    }

    /// The same; which surfaces see which is held up to so many surfaces, and asked anew among more. What a search finds is the same.
    #[must_use]
    pub fn holding(room: &Room, most: usize) -> Self {
        Self(Mirrors::new(room, most))
    }
}

/// The surfaces that stand between a source and a point, the nearest to the source first; the direct sound arrives where there is none.
#[must_use]
pub fn hidden_by(prepared: &Prepared, source: DVec3, point: DVec3) -> Vec<usize> {
    let mirrors = &prepared.0;
    let [from, to] = [source, point].map(|at| Position::new(mirrors, at).moved);
    let way = |mirror: &Mirror| mirror.crossing(from, to).map_or(0.0, |at| at.distance(from));
    let between = mirrors.obstacles().filter(|(_, mirror)| mirror.shades(from, to));
    let mut between: Vec<(f64, usize)> = between.map(|(index, mirror)| (way(mirror), index)).collect();
    between.sort_by(|one, other| one.0.total_cmp(&other.0));
    between.into_iter().map(|(_, index)| index).collect()
}

/// The highest order up to `order` whose search stays within `LOOKS_MOST` from every source of a room.
///
/// # Errors
/// [`Cancelled`].
pub fn affordable_order(progress: &Progress, room: &Room, prepared: &Prepared, order: u8) -> Result<u8, Cancelled> {
    let surfaces = room.surfaces.len() as f64;
    if order <= 1 || surfaces.powi(i32::from(order)) <= LOOKS_MOST as f64 {
        return Ok(order);
    }
    let mut affordable = order;
    for source in &room.sources {
        let search = Search {
            mirrors: &prepared.0,
            source: Position::new(&prepared.0, source.position),
            points: Vec::new(),
            order: usize::from(order),
        };
        for length in 1..affordable {
            // Whether the sum goes beyond the limit does not depend on who adds first, nor on what is left out once it has.
            let looks = AtomicU64::new(0);
            (0..room.surfaces.len()).into_par_iter().try_for_each(|first| {
                search.count(progress, &mut Trail::default(), &Beam::everywhere(), first, usize::from(length), &looks)
            })?;
            if looks.into_inner() > LOOKS_MOST {
                affordable = length;
                break;
            }
        }
    }
    Ok(affordable)
}

/// One specular path from a source to a point.
#[derive(Clone, Debug, PartialEq)]
pub struct ImagePath {
    /// Length in meters.
    pub length: f64,
    /// Reflections, in order from the source.
    pub bounces: Vec<Bounce>,
    /// Unit vector along which it leaves the source.
    pub departure: DVec3,
    /// Unit vector from the point towards where the sound comes from.
    pub arrival: DVec3,
}

/// One reflection of a specular path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounce {
    /// Index into [`Room::surfaces`].
    pub surface: usize,
    /// Where, in meters.
    pub point: DVec3,
    /// Cosine of the angle of incidence.
    pub cosine: f64,
}

/// All specular paths up to `order` from `source` to each of `points`, direct sound (no bounces) included where it is visible;
/// one list a point, each sorted by length (then by surfaces).
///
/// Counts one step of `progress` for each surface of the room.
///
/// # Errors
/// [`Cancelled`].
pub fn paths(progress: &Progress, room: &Room, source: DVec3, points: &[DVec3], order: u8) -> Result<Vec<Vec<ImagePath>>, Cancelled> {
    paths_among(progress, &Prepared::new(room), source, points, order)
}

/// The same among surfaces that are prepared.
///
/// # Errors
/// [`Cancelled`].
pub fn paths_among(
    progress: &Progress,
    prepared: &Prepared,
    source: DVec3,
    points: &[DVec3],
    order: u8,
) -> Result<Vec<Vec<ImagePath>>, Cancelled> {
    let search = Search {
        mirrors: &prepared.0,
        source: Position::new(&prepared.0, source),
        points: points.iter().map(|&point| Position::new(&prepared.0, point)).collect(),
        order: usize::from(order),
    };
    let direct = search.points.iter().map(|point| Vec::from_iter(search.path(&Trail::default(), point))).collect();
    let by_first: Vec<Vec<Vec<ImagePath>>> = (0..prepared.0.all.len())
        .into_par_iter()
        .map(|first| {
            progress.step(1)?;
            let mut found = vec![Vec::new(); points.len()];
            if search.order > 0 {
                search.descend(progress, &mut Trail::default(), &Beam::everywhere(), first, &mut found)?;
            }
            Ok(found)
        })
        .collect::<Result<_, Cancelled>>()?;
    let mut all: Vec<Vec<ImagePath>> = direct;
    for found in by_first {
        for (list, more) in all.iter_mut().zip(found) {
            list.extend(more);
        }
    }
    let surfaces = |path: &ImagePath| path.bounces.iter().map(|bounce| bounce.surface).collect::<Vec<_>>();
    for list in &mut all {
        list.sort_by(|a, b| a.length.total_cmp(&b.length).then_with(|| surfaces(a).cmp(&surfaces(b))));
    }
    Ok(all)
}

/// A position as given, and moved so that it meets no edge exactly.
#[derive(Clone, Copy)]
struct Position {
    given: DVec3,
    moved: DVec3,
}

impl Position {
    fn new(mirrors: &Mirrors, given: DVec3) -> Self {
        // Any fixed direction will do that differs from place to place and is parallel to nothing built.
        let turn = |x: f64| (12.9898 * x + 0.618).sin();
        let direction = DVec3::new(
            0.549 + 0.31 * turn(given.x + 2.0 * given.y - given.z),
            0.437 + 0.23 * turn(given.y + 3.0 * given.z - given.x),
            0.353 + 0.19 * turn(given.z + 5.0 * given.x - given.y),
        );
        let mut moved = given + direction * NUDGE;
        // On a surface, off it into the air; on an edge or a corner, off each in turn until it is before them all.
        for _ in 0..LIFTS {
            for mirror in mirrors.all.iter().filter(|mirror| mirror.holds(given)) {
                let height = mirror.chart.height(moved);
                if height < NUDGE / 10.0 {
                    moved += mirror.chart.normal * (NUDGE - height);
                }
            }
        }
        Self { given, moved }
    }

    fn mirrored(self, mirror: &Mirror) -> Self {
        Self { given: mirror.chart.mirror(self.given), moved: mirror.chart.mirror(self.moved) }
    }
}

/// Surfaces met so far and the image of the source behind each.
#[derive(Default)]
struct Trail {
    surfaces: Vec<usize>,
    images: Vec<Position>,
}

struct Search<'a> {
    mirrors: &'a Mirrors,
    source: Position,
    points: Vec<Position>,
    order: usize,
}

impl Search<'_> {
    /// The image behind the next surface of a trail, if the beam and the sound meet its front.
    fn next_image(&self, trail: &Trail, beam: &Beam, surface: usize) -> Option<Position> {
        let mirror = &self.mirrors.all[surface];
        let from = *trail.images.last().unwrap_or(&self.source);
        (mirror.chart.height(from.moved) > 0.0 && beam.may_meet(mirror)).then(|| from.mirrored(mirror))
    }

    /// Counts the looks that the trails of this length which begin so take to grow by one more surface, until there are too many.
    fn count(
        &self,
        progress: &Progress,
        trail: &mut Trail,
        beam: &Beam,
        surface: usize,
        length: usize,
        looks: &AtomicU64,
    ) -> Result<(), Cancelled> {
        let Some(image) = self.next_image(trail, beam, surface) else { return Ok(()) };
        let Some(narrower) = beam.through(&self.mirrors.all[surface], image.moved) else { return Ok(()) };
        let Mirrors { all, sight, .. } = self.mirrors;
        if trail.surfaces.len() + 1 == length {
            looks.fetch_add(sight.count(all, surface) as u64, Ordering::Relaxed);
            return Ok(());
        }
        progress.step(0)?;
        trail.surfaces.push(surface);
        trail.images.push(image);
        sight.try_each(all, surface, |next| {
            let enough = looks.load(Ordering::Relaxed) > LOOKS_MOST;
            if enough { Ok(()) } else { self.count(progress, trail, &narrower, next, length, looks) }
        })?;
        trail.surfaces.pop();
        trail.images.pop();
        Ok(())
    }

    /// Adds the paths whose next reflection is on `surface`, and all that go on from there.
    fn descend(
        &self,
        progress: &Progress,
        trail: &mut Trail,
        beam: &Beam,
        surface: usize,
        found: &mut [Vec<ImagePath>],
    ) -> Result<(), Cancelled> {
        let mirror = &self.mirrors.all[surface];
        let Some(image) = self.next_image(trail, beam, surface) else { return Ok(()) };
        trail.surfaces.push(surface);
        trail.images.push(image);
        for (point, list) in self.points.iter().zip(found.iter_mut()) {
            list.extend(self.path(trail, point));
        }
        if trail.surfaces.len() < self.order
            && let Some(narrower) = beam.through(mirror, image.moved)
        {
            progress.step(0)?;
            let Mirrors { all, sight, .. } = self.mirrors;
            sight.try_each(all, surface, |next| self.descend(progress, trail, &narrower, next, found))?;
        }
        trail.surfaces.pop();
        trail.images.pop();
        Ok(())
    }

    /// The path along a trail to a point, if there is one.
    fn path(&self, trail: &Trail, point: &Position) -> Option<ImagePath> {
        // Back from the point: each reflection within its outline. Most trails fail at the first step.
        let mut target = point.moved;
        let mut corners = vec![target];
        for (&surface, image) in trail.surfaces.iter().zip(&trail.images).rev() {
            let mirror = &self.mirrors.all[surface];
            target = mirror.crossing(target, image.moved)?;
            if !self.mirrors.mirrors_at(surface, target) {
                return None;
            }
            corners.push(target);
        }
        corners.push(self.source.moved);
        // Forward: every leg free. Legs end on surfaces of the trail, which cannot stand in their own way.
        corners.reverse();
        for (leg, ends) in corners.windows(2).enumerate() {
            let at = |index: Option<usize>| index.and_then(|index| trail.surfaces.get(index).copied());
            if self.mirrors.blocked(ends[0], ends[1], [at(leg.checked_sub(1)), at(Some(leg))]) {
                return None;
            }
        }
        self.measured(trail, point.given)
    }

    /// Length, points and angles of a path that exists, for the positions as given; `None` if those lie in the very plane of a surface
    /// on the way, which then mirrors nothing.
    fn measured(&self, trail: &Trail, point: DVec3) -> Option<ImagePath> {
        let unit = |vector: DVec3| vector.try_normalize().unwrap_or(DVec3::X);
        let last = trail.images.last().unwrap_or(&self.source).given;
        let length = last.distance(point);
        // Which way the path runs back, for legs without a length: those of a source on an edge between it and the walls there.
        let mut back = unit(last - point);
        let mut target = point;
        let mut bounces = Vec::with_capacity(trail.surfaces.len());
        for (&surface, image) in trail.surfaces.iter().zip(&trail.images).rev() {
            let chart = &self.mirrors.all[surface].chart;
            let steepness = -back.dot(chart.normal);
            if steepness * length < IN_PLANE {
                return None;
            }
            let distance = target.distance(image.given);
            let cosine = if distance < IN_PLANE {
                steepness
            } else {
                let (above, below) = (chart.height(target), chart.height(image.given));
                target += (image.given - target) * (above / (above - below)).clamp(0.0, 1.0);
                (above - below) / distance
            };
            bounces.push(Bounce { surface, point: target, cosine: cosine.clamp(0.0, 1.0) });
            back += 2.0 * steepness * chart.normal;
        }
        bounces.reverse();
        let outward = target - self.source.given;
        let departure = if outward.length() < IN_PLANE { -back } else { unit(outward) };
        Some(ImagePath { length, departure, arrival: unit(last - point), bounces })
    }
}
