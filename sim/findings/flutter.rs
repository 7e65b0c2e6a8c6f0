//! Flutter: which pairs of facing surfaces ring by themselves, how long, and where to stand to hear it.
//!
//! Two facing surfaces mirror a wave to and fro. Their one-dimensional image chain holds, after `n` round trips of length `2 L`,
//! the energy `E_n = (r e^(-2 m L))^n`, with `r` the product of both mirrored shares at normal incidence and `m` the attenuation
//! of the air. Its level falls on a straight line, so the fall from 0 to -30 dB, extrapolated, takes for 60 dB
//!
//! ```text
//! T = 6 ln 10 (2 L / c) / (2 m L - ln r)        period = 2 L / c
//! ```
//!
//! The chain is that of plane waves: without spherical spreading, which fades with distance and leaves the late decay to the
//! surfaces. Two walls of the same uniform absorption `a`, without scattering and air, give `T = 6 ln 10 L / (-c ln(1 - a))`.
//!
//! *Where on the surfaces.* Flutter lives where both are bare: the average over two walls of which half is covered would hide it.
//! One bare cell is no place for it either, since the first Fresnel zone of the chain is wider than that (`sqrt(c L / 2 f)` is
//! 0.7 m at 1 kHz and 3 m). So `r` is the mean over a square of 0.5 m, at the barest such square of the overlap; the same square
//! is the least overlap that counts as facing at all.
//!
//! *Splayed pairs.* Between surfaces at an angle `w` a ray drifts outward and back, `L w N^2 / 8` at the most while it meets them
//! `N` times (unfolded, the wedge is a fan of images and the ray a chord across it). It stays on an overlap of width `W` along the
//! slope for at most `N = sqrt(8 W / (L w))` meetings, never more than `pi / w`. There the chain ends; if it has not fallen by 30 dB
//! by then, its end takes that place, so `T <= 2 N L / c`.
//!
//! *References.* The factor of two by which a pair must outlast the room is a rule from memory, without a document.
//!
//! *Limits.* Pairs more than 5 degrees off parallel are left out. The end of a splayed pair's chain is that of rays: at low
//! frequencies diffraction softens it. The distance is that of the surfaces, not of the fronts of panels on them. Pairs closer than
//! 0.5 m are left out: nobody claps there.

use glam::{DVec2, DVec3};

use crate::bands::{BAND_COUNT, Band, Bands};
use crate::findings::Flutter;
use crate::hanging::Hanging;
use crate::room::{Room, Surface};

/// Side of a cell of the overlap, meters.
const CELL: f64 = 0.1;
/// Cells along a side of the square that must be bare.
const WINDOW: usize = 5;
/// Least distance of a pair, meters.
const DISTANCE_MIN: f64 = 0.5;
/// Cosine of the largest angle between one normal and the other's opposite: 5 degrees.
const PARALLEL_COSINE: f64 = 0.996_194_698_091_745_5;
/// A pair is audible if it decays this many times slower than the room (rule from memory).
pub const SLOWER: f64 = 2.0;
/// Decays beyond this many seconds are printed as this: walls that absorb nothing ring for ever.
const LONGEST: f64 = 100.0;
/// Ear heights at which to clap, meters.
const EAR: (f64, f64) = (1.2, 1.5);
/// What counts as touching, meters.
const TOUCH: f64 = 1e-6;
/// Relative difference below which two squares are equally bare.
const LIKE: f64 = 1e-9;

/// Every pair of facing surfaces, in the order of the room's surfaces; `room_t` is the room's own T30 (or T20) by octave in seconds.
#[must_use]
pub fn flutter(room: &Room, hanging: &Hanging, room_t: Bands<Option<f64>>) -> Vec<Flutter> {
    let judged = |(first, second): (usize, usize)| {
        let overlap = Overlap::new(room, [hanging; 2], (first, second));
        overlap.barest().map(|place| judge(room, &overlap, &place, room_t))
    };
    facing(room).into_iter().filter_map(judged).collect()
}

/// Pairs of surfaces that face each other and are wide enough to clap between.
fn facing(room: &Room) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    // The square that is clapped over fits on both, as it lies on the first; of the many faces of small things it fits on none.
    let side = CELL * WINDOW as f64 - LIKE;
    let size = |surface: &Surface| {
        let (low, high) = surface.outline.bounds();
        high - low
    };
    let wide: Vec<usize> = (0..room.surfaces.len()).filter(|&index| size(&room.surfaces[index]).length() >= side).collect();
    for &first in wide.iter().filter(|&&index| size(&room.surfaces[index]).min_element() >= side) {
        for &second in wide.iter().filter(|&&second| second > first) {
            let normals = room.surfaces[first].chart.normal.dot(room.surfaces[second].chart.normal);
            if normals < -PARALLEL_COSINE {
                found.push((first, second));
            }
        }
    }
    found
}

/// How much of a room rings by itself: the share of all squares, pair by pair of facing surfaces, over which a chain rings longer than `longest_s` in an octave in which flutter is heard;
/// 0 where nothing faces anything.
#[must_use]
pub fn ringing_share(room: &Room, hanging: &Hanging, longest_s: f64) -> f64 {
    let count = |(first, second): (usize, usize)| {
        let overlap = Overlap::new(room, [hanging; 2], (first, second));
        let squares = overlap.squares();
        (squares.iter().filter(|square| overlap.rings(room, square, longest_s)).count(), squares.len())
    };
    let (ringing, all) = facing(room).into_iter().map(count).fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    if all > 0 { ringing as f64 / all as f64 } else { 0.0 }
}

/// Where absorber ends ringing: by how much [`ringing_share`] falls for each square meter that ends it, on the room's patches, 1/m2. Each place is taken as it is without what is `planned`,
/// with all that hangs opposite.
///
/// First order: a square counts as ended as far as it is covered. One that is covered by half has ended, one that is covered by a tenth has not.
#[must_use]
pub fn ringing_ended(room: &Room, (planned, bare): (&Hanging, &Hanging), longest_s: f64) -> Vec<f64> {
    let mut ended = vec![0.0; room.patches.count];
    let mut all = 0;
    for pair in facing(room) {
        for (is_second, hanging) in [(false, [bare, planned]), (true, [planned, bare])] {
            let overlap = Overlap::new(room, hanging, pair);
            let squares = overlap.squares();
            all += squares.len();
            for cell in squares.iter().filter(|square| overlap.rings(room, square, longest_s)).flat_map(|square| overlap.cells_of(square)) {
                let (surface, own) = if is_second { (pair.1, overlap.second) } else { (pair.0, overlap.first) };
                // Each square was counted for both surfaces.
                ended[room.patches.patch(surface, own.chart.position(cell))] += 2.0 / (WINDOW * WINDOW) as f64;
            }
        }
    }
    room.patches.per_area(&ended.iter().map(|cells| cells / all.max(1) as f64).collect::<Vec<_>>())
}

/// The finding of one pair at its barest square.
fn judge(room: &Room, overlap: &Overlap<'_>, place: &Square, room_t: Bands<Option<f64>>) -> Flutter {
    let t = overlap.ringing(room, place);
    Flutter {
        between: [overlap.first.name.clone(), overlap.second.name.clone()],
        distance_m: place.distance,
        period_ms: 1e3 * (2.0 * place.distance / room.medium.speed),
        t_s: t,
        room_t_s: room_t,
        audible: is_audible(t, room_t),
        clap_at_m: clap_at(room, overlap.first, place).to_array(),
    }
}

/// Whether what rings so long is heard as flutter in a room of these decay times, seconds.
fn is_audible(t: Bands<f64>, room_t: Bands<Option<f64>>) -> bool {
    audible_bands().any(|band| room_t[band].is_some_and(|of_room| t[band] > SLOWER * of_room))
}

/// Octaves in which flutter is heard as such: 500 Hz and up.
pub fn audible_bands() -> impl Iterator<Item = Band> {
    Band::ALL.into_iter().skip(3)
}

/// A square on the first surface of a pair and what stands over it.
struct Square {
    /// Its middle, on the first surface.
    center: DVec3,
    /// To the second surface along the normal, meters.
    distance: f64,
    /// Share of the energy that a round trip leaves, by band, without the air.
    mirrored: Bands<f64>,
}

/// The common view of two facing surfaces, in cells of the first one's chart.
struct Overlap<'a> {
    first: &'a Surface,
    second: &'a Surface,
    columns: usize,
    rows: usize,
    origin: DVec2,
    /// Distance and mirrored share of a round trip; `None` where the two do not see each other.
    cells: Vec<Option<(f64, Bands<f64>)>>,
}

impl<'a> Overlap<'a> {
    /// With what hangs on either.
    fn new(room: &'a Room, hanging: [&Hanging; 2], (first_index, second_index): (usize, usize)) -> Self {
        let (first, second) = (&room.surfaces[first_index], &room.surfaces[second_index]);
        let (low, high) = shared_bounds(first, second);
        let extent = (high - low).max(DVec2::ZERO);
        // A margin of rounding, so that a strip of exactly 0.5 m has its five cells.
        let (columns, rows) = ((extent.x / CELL + LIKE) as usize, (extent.y / CELL + LIKE) as usize);
        // Cells lie in the middle of the shared rectangle.
        let origin = low + 0.5 * (extent - CELL * DVec2::new(columns as f64, rows as f64));
        let mut overlap = Self { first, second, columns, rows, origin, cells: Vec::new() };
        if columns < WINDOW || rows < WINDOW {
            return overlap;
        }
        let sight = Sight::new(room, first_index, second_index);
        for row in 0..rows {
            for column in 0..columns {
                let position = overlap.position(column as f64 + 0.5, row as f64 + 0.5);
                overlap.cells.push(cell(room, hanging, (first_index, second_index), position, &sight));
            }
        }
        overlap
    }

    fn position(&self, column: f64, row: f64) -> DVec2 {
        self.origin + CELL * DVec2::new(column, row)
    }

    /// The square where a round trip leaves most in its best octave from 500 Hz up; of equals, the one nearest to their middle.
    fn barest(&self) -> Option<Square> {
        let squares: Vec<Square> = self.squares();
        let worth = |square: &Square| audible_bands().map(|band| square.mirrored[band]).fold(0.0, f64::max);
        let best = squares.iter().map(worth).max_by(f64::total_cmp)?;
        let equals: Vec<&Square> = squares.iter().filter(|square| worth(square) >= best * (1.0 - LIKE)).collect();
        let mut middle = equals.iter().map(|square| square.center).sum::<DVec3>() / equals.len() as f64;
        if self.upright() {
            middle.z = middle.z.clamp(EAR.0, EAR.1);
        }
        let nearest = equals.into_iter().min_by(|a, b| a.center.distance_squared(middle).total_cmp(&b.center.distance_squared(middle)))?;
        Some(Square { ..*nearest })
    }

    /// How long the chain over a square rings, seconds.
    fn ringing(&self, room: &Room, square: &Square) -> Bands<f64> {
        let distance = square.distance;
        let period = 2.0 * distance / room.medium.speed;
        // The chain is read over its first 30 dB, half of 60.
        let end = self.meetings_max(distance) * period;
        square.mirrored.zip(room.medium.attenuation, |mirrored, attenuation| {
            let loss = 2.0 * attenuation * distance - mirrored.ln();
            (6.0 * std::f64::consts::LN_10 * period / loss.max(f64::MIN_POSITIVE)).min(end).min(LONGEST)
        })
    }

    /// Whether the chain over a square rings longer than this in an octave in which flutter is heard, seconds.
    fn rings(&self, room: &Room, square: &Square, longest_s: f64) -> bool {
        let ringing = self.ringing(room, square);
        audible_bands().any(|band| ringing[band] > longest_s)
    }

    /// The middles of a square's cells on the first surface; those on the second lie over them.
    fn cells_of(&self, square: &Square) -> impl Iterator<Item = DVec3> + use<> {
        let (center, right, up) = (square.center, self.first.chart.right, self.first.chart.up);
        let offset = |cell: usize| CELL * (cell as f64 - (WINDOW / 2) as f64);
        (0..WINDOW * WINDOW).map(move |cell| center + offset(cell % WINDOW) * right + offset(cell / WINDOW) * up)
    }

    /// How often a ray meets the two surfaces at this distance before it has drifted out of the overlap of a splayed pair.
    fn meetings_max(&self, distance: f64) -> f64 {
        let (first, second) = (&self.first.chart, &self.second.chart);
        let slope = DVec2::new(second.normal.dot(first.right), second.normal.dot(first.up));
        let Some(direction) = slope.try_normalize() else { return f64::INFINITY };
        let angle = slope.length().asin();
        let seen = (0..self.cells.len()).filter(|&index| self.cells[index].is_some());
        let (low, high) = seen.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), index| {
            let along = direction.dot(self.position((index % self.columns) as f64, (index / self.columns) as f64));
            (low.min(along), high.max(along))
        });
        let width = high - low + CELL;
        (8.0 * width / (distance * angle)).sqrt().min(std::f64::consts::PI / angle)
    }

    fn upright(&self) -> bool {
        self.first.chart.normal.z.abs() < std::f64::consts::FRAC_1_SQRT_2
    }

    /// All squares whose cells see the other surface.
    fn squares(&self) -> Vec<Square> {
        let mut squares = Vec::new();
        if self.cells.is_empty() {
            return squares;
        }
        for row in 0..=self.rows - WINDOW {
            for column in 0..=self.columns - WINDOW {
                squares.extend(self.square(column, row));
            }
        }
        squares
    }

    fn square(&self, column: usize, row: usize) -> Option<Square> {
        let mut mirrored = [0.0; BAND_COUNT];
        for y in row..row + WINDOW {
            for x in column..column + WINDOW {
                let (_, share) = self.cells[y * self.columns + x]?;
                for (sum, value) in mirrored.iter_mut().zip(share.0) {
                    *sum += value;
                }
            }
        }
        let half = 0.5 * WINDOW as f64;
        let center = self.first.chart.point(self.position(column as f64 + half, row as f64 + half));
        let (distance, _) = self.cells[(row + WINDOW / 2) * self.columns + column + WINDOW / 2]?;
        Some(Square { center, distance, mirrored: Bands(mirrored) * (1.0 / (WINDOW * WINDOW) as f64) })
    }
}

/// Smallest rectangle on the first chart that holds both outlines' common shadow.
fn shared_bounds(first: &Surface, second: &Surface) -> (DVec2, DVec2) {
    let (low, high) = bounds(first.outline.corners.iter().copied());
    let seen = second.outline.corners.iter().map(|&corner| first.chart.position(second.chart.point(corner)));
    let (second_low, second_high) = bounds(seen);
    (low.max(second_low), high.min(second_high))
}

fn bounds(corners: impl Iterator<Item = DVec2>) -> (DVec2, DVec2) {
    corners.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), corner| (low.min(corner), high.max(corner)))
}

/// Distance and mirrored share at one position of the first surface, if it sees the second along its normal.
fn cell(room: &Room, hanging: [&Hanging; 2], pair: (usize, usize), position: DVec2, sight: &Sight<'_>) -> Option<(f64, Bands<f64>)> {
    let (first, second) = (&room.surfaces[pair.0], &room.surfaces[pair.1]);
    // Where a body stands against a surface there is no air, and a body from wall to wall has no face left to cut the view through it.
    let open = |index: usize, position: DVec2| {
        let covered = room.contacts.iter().any(|contact| contact.surface == index && contact.region.winds(position));
        room.surfaces[index].outline.winds(position) && !covered
    };
    if !open(pair.0, position) {
        return None;
    }
    let from = first.chart.point(position);
    let normal = first.chart.normal;
    let distance = second.chart.height(from) / -normal.dot(second.chart.normal);
    if distance < DISTANCE_MIN {
        return None;
    }
    let to = from + distance * normal;
    let opposite = second.chart.position(to);
    if !open(pair.1, opposite) || !sight.clear(from, to) {
        return None;
    }
    Some((distance, mirrored_at(room, hanging[0], pair.0, position) * mirrored_at(room, hanging[1], pair.1, opposite)))
}

/// Share of the energy at normal incidence that a surface mirrors at a position: of the panel there, else of the lining, else its own.
fn mirrored_at(room: &Room, hanging: &Hanging, index: usize, position: DVec2) -> Bands<f64> {
    let surface = &room.surfaces[index];
    let panel = hanging.patches.iter().rev().find(|patch| patch.surface == index && patch.region.winds(position));
    let finish = match panel {
        Some(panel) => &hanging.finishes[panel.finish],
        None => &room.finishes[surface.finish_at(position)],
    };
    // The finish of a small face already holds what its outline does not mirror.
    finish.specular_at(1.0).map(|specular| specular.clamp(0.0, 1.0))
}

/// Where to stand: on the chain's middle, moved to ear height along the wall or along a vertical chain, as long as the way there is free.
fn clap_at(room: &Room, first: &Surface, place: &Square) -> DVec3 {
    let normal = first.chart.normal;
    let middle = place.center + 0.5 * place.distance * normal;
    let rise = middle.z.clamp(EAR.0, EAR.1) - middle.z;
    let direction = if normal.z.abs() < std::f64::consts::FRAC_1_SQRT_2 { DVec3::Z } else { normal / normal.z };
    let at_ear = middle + rise * direction;
    // The body that a step would end in also stands in the way of a longer one.
    let beyond = at_ear + rise.signum() * CELL * direction;
    let free = Sight::all(room).clear(middle, beyond) && !room.solids.iter().any(|solid| solid.contains(at_ear));
    if rise == 0.0 || free { at_ear } else { middle }
}

/// What may stand between two points.
struct Sight<'a> {
    surfaces: Vec<&'a Surface>,
}

impl<'a> Sight<'a> {
    fn new(room: &'a Room, first: usize, second: usize) -> Self {
        let between = |&(index, _): &(usize, &Surface)| index != first && index != second;
        Self { surfaces: room.surfaces.iter().enumerate().filter(between).map(|(_, surface)| surface).collect() }
    }

    fn all(room: &'a Room) -> Self {
        Self { surfaces: room.surfaces.iter().collect() }
    }

    /// Whether no surface, seen from either side, cuts the line; a line that begins inside a block is cut where it leaves.
    fn clear(&self, from: DVec3, to: DVec3) -> bool {
        !self.surfaces.iter().any(|surface| {
            let (before, after) = (surface.chart.height(from), surface.chart.height(to));
            if before.signum() == after.signum() || before.abs() < TOUCH || after.abs() < TOUCH {
                return false;
            }
            let crossing = from.lerp(to, before / (before - after));
            surface.outline.winds(surface.chart.position(crossing))
        })
    }
}
