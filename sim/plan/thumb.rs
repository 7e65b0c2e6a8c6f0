//! What a good installer would do without a simulation: the two rules of thumb that a plan is held against.
//!
//! [`first_points`]: a panel on the mirror point of every loudspeaker on the side walls, the ceiling, the wall behind and the wall ahead;
//! corners from the floor to the ceiling; the rest spread evenly along the walls at ear height. [`even_spread`]: everything as evenly
//! as possible over the walls, clouds over the listening place: each panel goes where it is farthest from all others, then the panels
//! drift into the middle of the area that each of them is nearest to.
//!
//! Both use the same stock, number by number, and the same clearances as the plan, so that what is compared is the choice of place.
//!
//! *References.* T. F. Gonzalez, "Clustering to minimize the maximum intercluster distance", Theoretical Computer Science 38
//! (1985) 293-306 (farthest-point placing); S. P. Lloyd, "Least squares quantization in PCM", IEEE Transactions on Information Theory 28 (1982)
//! 129-137 (drift to the middle of one's own region). Both from memory. The rule itself is common practice and has no one source.
//!
//! *Limits.* Neither knows levels or delays: that is their point.

use glam::{DVec2, DVec3};

use crate::layout::candidates::{Candidate, candidates};
use crate::layout::{Body, Free, rows};
use crate::room::{Role, Room};
use crate::scene::{Panel, PanelPlace, Scene, StockKind};
use crate::weigh::Traced;

/// Grid on which places are tried, meters.
const STEP: f64 = 0.1;
/// Distance of the points that stand for the area of a wall, meters.
const SAMPLE: f64 = 0.25;
/// Ear height without a receiver, meters.
const EAR: f64 = 1.2;
/// Rounds of drift; the layout hardly changes after the first few.
const ROUNDS: u32 = 6;
/// How much farther from ear height than its surface asks for the middle of a panel may be, meters, before the next band is opened.
const BANDS: [f64; 4] = [0.06, 0.30, 0.60, f64::INFINITY];
/// How far within a panel's edges a mirror point should lie, meters.
const WITHIN: f64 = 0.1;
/// Cosine between a wall's outward direction and the facing beyond which it is the wall ahead (or, negative, behind).
const AHEAD: f64 = 0.7;

/// Where the first-order reflection of a source meets a surface on its way to a receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MirrorPoint {
    /// Index into the room's sources.
    pub source: usize,
    /// Index into the room's receivers.
    pub receiver: usize,
    /// Index into the room's surfaces.
    pub surface: usize,
    /// Position in chart coordinates, meters.
    pub position: DVec2,
}

/// First-order mirror points of these pairs of source and receiver, on walls and ceilings.
#[must_use]
pub fn mirror_points(traced: &Traced, pairs: &[(usize, usize)]) -> Vec<MirrorPoint> {
    let mut points = Vec::new();
    for &(source, receiver) in pairs {
        for path in &traced.images[source][receiver].points[0] {
            if let [bounce] = path.path.bounces.as_slice()
                && traced.room.surfaces[bounce.surface].role.is_shell()
                && traced.room.surfaces[bounce.surface].role != Role::Floor
            {
                let position = traced.room.surfaces[bounce.surface].chart.position(bounce.point);
                points.push(MirrorPoint { source, receiver, surface: bounce.surface, position });
            }
        }
    }
    points
}

/// Mirror points first, then corners, then an even spread at ear height. `counts` says how many of each type of the scene's stock to
/// use; fewer come back where the room has no place for all.
#[must_use]
pub fn first_points(scene: &Scene, room: &Room, free: &Free, counts: &[u32], mirror_points: &[MirrorPoint]) -> Vec<Panel> {
    let mut hanging = Hanging::new(scene, room, free, counts);
    let mut order: Vec<(Turn, &MirrorPoint)> = mirror_points.iter().map(|point| (turn(room, point), point)).collect();
    // A stable sort: within a turn the order of the caller, source by source.
    order.sort_by_key(|(turn, _)| *turn);
    for (turn, point) in order {
        hanging.cover(turn, point, mirror_points);
    }
    hanging.fill_corners();
    hanging.rest_at_ear_height();
    hanging.panels()
}

/// The stock spread as evenly as possible over the walls, clouds under the ceiling.
#[must_use]
pub fn even_spread(scene: &Scene, room: &Room, free: &Free, counts: &[u32]) -> Vec<Panel> {
    let mut hanging = Hanging::new(scene, room, free, counts);
    for kind in hanging.by_need() {
        let low_first = scene.stock[kind].kind == StockKind::Corner;
        hanging.spread_in_bands(kind, low_first.then_some(0.0));
    }
    hanging.drift(0, |_| true);
    rows::tidy(scene, room, free, hanging.panels())
}

/// In which order the surfaces are treated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Turn {
    Side,
    Ceiling,
    Behind,
    Ahead,
    Floor,
}

fn turn(room: &Room, point: &MirrorPoint) -> Turn {
    let Some(surface) = room.surfaces.get(point.surface) else { return Turn::Floor };
    let facing = room.receivers.get(point.receiver).and_then(|receiver| receiver.facing.truncate().try_normalize());
    match (surface.role, facing) {
        (Role::Ceiling(_), _) => Turn::Ceiling,
        (Role::Wall(_), Some(facing)) => {
            let ahead = -surface.chart.normal.truncate().dot(facing);
            if ahead > AHEAD {
                Turn::Ahead
            } else if ahead < -AHEAD {
                Turn::Behind
            } else {
                Turn::Side
            }
        }
        (Role::Wall(_), None) => Turn::Side,
        _ => Turn::Floor,
    }
}

/// A panel placed so far.
struct Hung {
    place: Candidate,
    number: usize,
}

/// The work under way.
struct Hanging<'a> {
    scene: &'a Scene,
    room: &'a Room,
    free: Free,
    /// How many of each type are left.
    left: Vec<u32>,
    /// Places by type, as the room stands before anything is hung.
    places: Vec<Vec<Candidate>>,
    hung: Vec<Hung>,
    /// Middles of what hung before, meters.
    before: Vec<DVec3>,
}

impl<'a> Hanging<'a> {
    fn new(scene: &'a Scene, room: &'a Room, free: &Free, counts: &[u32]) -> Self {
        let left: Vec<u32> = (0..scene.stock.len()).map(|kind| counts.get(kind).copied().unwrap_or(0)).collect();
        let places = scene
            .stock
            .iter()
            .zip(&left)
            .map(|(kind, &count)| if count > 0 { candidates(scene, room, free, kind, STEP) } else { Vec::new() })
            .collect();
        let before = free.hanging().map(|(_, body)| body.front).collect();
        Self { scene, room, free: free.clone(), left, places, hung: Vec::new(), before }
    }

    fn panels(self) -> Vec<Panel> {
        self.hung.into_iter().map(|hung| hung.place.panel).collect()
    }

    /// Hangs one panel there if it still fits.
    fn hang(&mut self, place: &Candidate) -> bool {
        let kind = &self.scene.stock[place.kind_index];
        if self.left[place.kind_index] == 0 || self.free.fits_panel(&place.panel, kind).is_err() {
            return false;
        }
        let Ok(number) = self.free.hang(&place.panel, kind) else { return false };
        self.left[place.kind_index] -= 1;
        self.hung.push(Hung { place: place.clone(), number });
        true
    }

    /// Covers a mirror point, unless something covers it already: by the panel that covers most other open ones on that surface with
    /// it, and of these the one whose middle comes nearest to the middle of what it covers.
    fn cover(&mut self, turn: Turn, point: &MirrorPoint, all: &[MirrorPoint]) {
        if self.is_covered(point) {
            return;
        }
        let open: Vec<&MirrorPoint> =
            all.iter().filter(|other| other.surface == point.surface && *other != point && !self.is_covered(other)).collect();
        let kinds = self.fitting_kinds(turn);
        // Well within a panel's edges if possible; else just behind them.
        for within in [WITHIN, 0.0] {
            for &kind in &kinds {
                let places = std::mem::take(&mut self.places[kind]);
                let done = self.best_covering(&places, point, &open, within).into_iter().any(|index| self.hang(&places[index]));
                self.places[kind] = places;
                if done {
                    return;
                }
            }
        }
    }

    /// Places that cover a mirror point, best first.
    fn best_covering(&self, places: &[Candidate], point: &MirrorPoint, open: &[&MirrorPoint], within: f64) -> Vec<usize> {
        let mut best: Vec<(usize, f64, usize)> = Vec::new();
        for (index, place) in places.iter().enumerate() {
            let Some(shadow) = self.shadow(place, point.surface) else { continue };
            if !is_within(shadow, point.position, within) {
                continue;
            }
            let others: Vec<DVec2> = open.iter().map(|other| other.position).filter(|&other| is_within(shadow, other, within)).collect();
            let middle = (point.position + others.iter().sum::<DVec2>()) / (1.0 + others.len() as f64);
            best.push((others.len(), ((shadow.0 + shadow.1) / 2.0).distance(middle), index));
        }
        best.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
        best.into_iter().map(|(_, _, index)| index).collect()
    }

    /// What a place covers of a surface, lowest and highest chart coordinates: a flat panel of its own, a cloud of the ceiling above it.
    fn shadow(&self, place: &Candidate, surface: usize) -> Option<(DVec2, DVec2)> {
        match &place.region {
            Some(region) => (place.surface == Some(surface)).then(|| region.bounds()),
            None => self.cloud_shadow(&self.free.body(&place.panel, &self.scene.stock[place.kind_index]).ok()?, surface),
        }
    }

    fn cloud_shadow(&self, body: &Body, surface: usize) -> Option<(DVec2, DVec2)> {
        let Some(Role::Ceiling(_)) = self.free.role(surface) else { return None };
        let (chart, _) = self.free.surface(surface)?;
        // Straight up onto the plane; corner panels end far below the ceiling or on it, and shade nothing of it that counts.
        let up = |corner: &DVec3| *corner - DVec3::Z * (chart.height(*corner) / chart.normal.z);
        let corners = body.solid.corners().iter().map(|corner| chart.position(up(corner)));
        Some(corners.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at))))
    }

    fn is_covered(&self, point: &MirrorPoint) -> bool {
        self.free.hanging().any(|(_, body)| {
            let shadow = match body.span {
                Some(span) => (body.surface == Some(point.surface)).then_some(span),
                None => self.cloud_shadow(body, point.surface),
            };
            shadow.is_some_and(|shadow| is_within(shadow, point.position, 0.0))
        })
    }

    /// Types to try on a surface, best suited first.
    fn fitting_kinds(&self, turn: Turn) -> Vec<usize> {
        let wanted: &[StockKind] = match turn {
            Turn::Side | Turn::Ahead => &[StockKind::Panel, StockKind::FreeStanding, StockKind::Curtain],
            Turn::Ceiling => &[StockKind::Cloud, StockKind::Panel],
            Turn::Behind => &[StockKind::Panel, StockKind::Diffuser, StockKind::Bookcase, StockKind::Curtain, StockKind::FreeStanding],
            Turn::Floor => &[StockKind::Rug],
        };
        let of = |kind: StockKind| (0..self.left.len()).filter(move |&index| self.left[index] > 0 && self.scene.stock[index].kind == kind);
        wanted.iter().copied().flat_map(of).collect()
    }

    /// Types in the order in which they are spread: what can go in few places first, or nothing would be left for it.
    fn by_need(&self) -> Vec<usize> {
        let mut kinds: Vec<usize> = (0..self.left.len()).collect();
        kinds.sort_by_key(|&kind| (self.scene.stock[kind].kind == StockKind::Panel, self.places[kind].len()));
        kinds
    }

    /// Corner panels from the floor to the ceiling, corner by corner, the corner nearest to a source first.
    fn fill_corners(&mut self) {
        for kind in 0..self.left.len() {
            if self.scene.stock[kind].kind != StockKind::Corner {
                continue;
            }
            let places = std::mem::take(&mut self.places[kind]);
            let to_source = |place: &Candidate| {
                let sources = self.scene.sources.iter().map(|source| source.position.truncate().distance(place.center));
                sources.min_by(f64::total_cmp).unwrap_or(0.0)
            };
            let corner = |place: &Candidate| match place.panel.place {
                PanelPlace::Corner { corner, .. } => corner,
                PanelPlace::Surface { .. } | PanelPlace::Cloud { .. } => usize::MAX,
            };
            // To the millimeter, so that corners that are alike stay in the order of the outline.
            let millimeters = |length: f64| (length * 1000.0).round() as i64;
            let mut order: Vec<usize> = (0..places.len()).collect();
            order
                .sort_by_key(|&index| (millimeters(to_source(&places[index])), corner(&places[index]), millimeters(places[index].point.z)));
            for index in order {
                self.hang(&places[index]);
            }
            self.places[kind] = places;
        }
    }

    /// What is left, along the walls at ear height; higher and lower once that line is full.
    fn rest_at_ear_height(&mut self) {
        let receivers = self.room.receivers.iter().map(|receiver| receiver.position.z);
        let ear = receivers.min_by(f64::total_cmp).unwrap_or(EAR);
        let first = self.hung.len();
        for kind in self.by_need() {
            self.spread_in_bands(kind, Some(ear));
        }
        self.drift(first, |off_level| off_level <= BANDS[0]);
    }

    /// Spreads a type: upright where a surface has room for that, as near to a level as its surface allows (at any height without one),
    /// then farther from it; lying last.
    fn spread_in_bands(&mut self, kind: usize, level: Option<f64>) {
        let off_level = self.off_level(kind, level);
        let lies = self.lies_needlessly(kind);
        let already = self.hung.len();
        let bands = if level.is_some() { &BANDS[..] } else { &BANDS[3..] };
        for overhead in [false, true] {
            for may_lie in [false, true] {
                for &band in bands {
                    self.spread(kind, |index, place| place.overhead == overhead && off_level[index] <= band && (may_lie || !lies[index]));
                }
            }
        }
        if self.left[kind] > 0 {
            self.pack(kind, already);
        }
    }

    /// By how much the middle of each place of a type is farther from a level than the nearest place on its surface, meters; 0 without a
    /// level.
    fn off_level(&self, kind: usize, level: Option<f64>) -> Vec<f64> {
        let places = &self.places[kind];
        let Some(level) = level else { return vec![0.0; places.len()] };
        let distance = |place: &Candidate| (place.point.z - level).abs();
        let mut nearest = vec![f64::INFINITY; self.room.surfaces.len()];
        for place in places {
            if let Some(nearest) = place.surface.and_then(|surface| nearest.get_mut(surface)) {
                *nearest = nearest.min(distance(place));
            }
        }
        let least = |place: &Candidate| place.surface.and_then(|surface| nearest.get(surface)).copied().unwrap_or(0.0);
        places.iter().map(|place| distance(place) - least(place)).collect()
    }

    /// Which places of a type lie on a surface that has room for it upright.
    fn lies_needlessly(&self, kind: usize) -> Vec<bool> {
        let places = &self.places[kind];
        let mut upright = vec![false; self.room.surfaces.len()];
        for place in places.iter().filter(|place| !is_lying(place)) {
            if let Some(upright) = place.surface.and_then(|surface| upright.get_mut(surface)) {
                *upright = true;
            }
        }
        places
            .iter()
            .map(|place| is_lying(place) && place.surface.and_then(|surface| upright.get(surface)).copied().unwrap_or(false))
            .collect()
    }

    /// Hangs what is left of a type in wanted places, each where it is farthest from everything that hangs.
    fn spread(&mut self, kind: usize, wanted: impl Fn(usize, &Candidate) -> bool) {
        if self.left[kind] > 0 {
            let places = std::mem::take(&mut self.places[kind]);
            let offered: Vec<&Candidate> =
                places.iter().enumerate().filter(|(index, place)| wanted(*index, place)).map(|(_, place)| place).collect();
            self.hang_farthest(kind, &offered);
            self.places[kind] = places;
        }
    }

    fn hang_farthest(&mut self, kind: usize, offered: &[&Candidate]) {
        let mut distance: Vec<f64> = offered.iter().map(|place| self.distance_to_hung(place.point)).collect();
        let open = self.middle_of_largest(offered);
        while self.left[kind] > 0 {
            let first = distance.iter().any(|distance| distance.is_infinite());
            let best = match open {
                Some(middle) if first && distance[middle].is_infinite() => middle,
                _ => {
                    let Some(best) = (0..offered.len()).max_by(|&a, &b| distance[a].total_cmp(&distance[b]).then(b.cmp(&a))) else {
                        return;
                    };
                    best
                }
            };
            if distance[best] < 0.0 {
                return;
            }
            if self.hang(offered[best]) {
                for (distance, place) in distance.iter_mut().zip(offered) {
                    *distance = distance.min(place.point.distance(offered[best].point));
                }
            }
            // Taken, or no longer free: not asked again.
            distance[best] = -1.0;
        }
    }

    /// Where spreading leaves some of a type over, tries to fit more by hanging all since `already` side by side, walls first; keeps
    /// whichever holds more.
    fn pack(&mut self, kind: usize, already: usize) {
        let spread_left = self.left[kind];
        let (free, spread): (Free, Vec<Hung>) = (self.free.clone(), self.hung.split_off(already));
        for hung in &spread {
            self.free.take_down(hung.number);
        }
        self.left[kind] += u32::try_from(spread.len()).unwrap_or(u32::MAX);
        let places = std::mem::take(&mut self.places[kind]);
        for overhead in [false, true] {
            for place in places.iter().filter(|place| place.overhead == overhead) {
                self.hang(place);
            }
        }
        self.places[kind] = places;
        if self.left[kind] >= spread_left {
            self.hung.truncate(already);
            self.hung.extend(spread);
            self.left[kind] = spread_left;
            self.free = free;
        }
    }

    fn distance_to_hung(&self, point: DVec3) -> f64 {
        let hung = self.hung.iter().map(|hung| hung.place.point);
        hung.chain(self.before.iter().copied()).map(|other| other.distance(point)).fold(f64::INFINITY, f64::min)
    }

    /// The place nearest to the middle of the largest surface offered.
    fn middle_of_largest(&self, offered: &[&Candidate]) -> Option<usize> {
        let area = |surface: usize| self.room.surfaces.get(surface).map_or(0.0, |surface| surface.outline.area());
        let mut surfaces: Vec<usize> = offered.iter().filter_map(|place| place.surface).collect();
        surfaces.dedup();
        let largest = surfaces.into_iter().max_by(|&a, &b| area(a).total_cmp(&area(b)).then(b.cmp(&a)))?;
        let surface = self.room.surfaces.get(largest)?;
        let middle = surface.chart.point(surface.outline.centroid());
        let distance = |index: usize| offered[index].point.distance(middle);
        let on_largest = (0..offered.len()).filter(|&index| offered[index].surface == Some(largest));
        on_largest.min_by(|&a, &b| distance(a).total_cmp(&distance(b)).then(a.cmp(&b)))
    }

    /// Moves every panel on a wall, from the `first` hung on, toward the middle of the area that is nearer to it than to any other; to
    /// places that are no farther off their level than is wanted.
    fn drift(&mut self, first: usize, wanted: impl Fn(f64) -> bool) {
        let samples = self.samples();
        let receivers = self.room.receivers.iter().map(|receiver| receiver.position.z);
        let level = receivers.min_by(f64::total_cmp).unwrap_or(EAR);
        let allowed: Vec<Vec<bool>> =
            (0..self.left.len()).map(|kind| self.off_level(kind, Some(level)).into_iter().map(&wanted).collect()).collect();
        for _ in 0..ROUNDS {
            let mut moved = false;
            for index in first..self.hung.len() {
                moved |= self.drift_one(index, &samples, &allowed);
            }
            if !moved {
                return;
            }
        }
    }

    fn drift_one(&mut self, index: usize, samples: &[DVec3], allowed: &[Vec<bool>]) -> bool {
        let own = self.hung[index].place.clone();
        if own.region.is_none() || own.overhead {
            return false;
        }
        let others: Vec<DVec3> = self
            .hung
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != index)
            .map(|(_, hung)| hung.place.point)
            .chain(self.before.iter().copied())
            .collect();
        let mut sum = DVec3::ZERO;
        let mut count = 0.0;
        for &sample in samples {
            let distance = sample.distance_squared(own.point);
            if others.iter().all(|other| other.distance_squared(sample) > distance) {
                sum += sample;
                count += 1.0;
            }
        }
        if count < 1.0 {
            return false;
        }
        let target = sum / count;
        let kind = &self.scene.stock[own.kind_index];
        self.free.take_down(self.hung[index].number);
        let mut near: Vec<(f64, usize)> = self.places[own.kind_index]
            .iter()
            .enumerate()
            .filter(|(i, place)| allowed[own.kind_index][*i] && place.surface == own.surface && is_lying(place) == is_lying(&own))
            .map(|(i, place)| (place.point.distance(target), i))
            .filter(|(distance, _)| *distance < own.point.distance(target) - 1e-9)
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let better =
            near.iter().map(|&(_, i)| &self.places[own.kind_index][i]).find(|place| self.free.fits_panel(&place.panel, kind).is_ok());
        let moved = better.is_some();
        let place = better.cloned().unwrap_or(own);
        if let Ok(number) = self.free.hang(&place.panel, kind) {
            self.hung[index] = Hung { place, number };
        }
        moved
    }

    /// Points spread over the walls that have a place for something.
    fn samples(&self) -> Vec<DVec3> {
        let mut samples = Vec::new();
        let mut carries = vec![false; self.room.surfaces.len()];
        for place in self.places.iter().flatten() {
            if let Some(carries) = place.surface.and_then(|surface| carries.get_mut(surface)) {
                *carries = true;
            }
        }
        let walls = self.room.surfaces.iter().zip(carries).filter(|(surface, carries)| *carries && matches!(surface.role, Role::Wall(_)));
        for (surface, _) in walls {
            let (low, high) = surface.outline.bounds();
            let cells = ((high - low) / SAMPLE).ceil().clamp(DVec2::ONE, DVec2::splat(200.0));
            for j in 0..cells.y as u32 {
                for i in 0..cells.x as u32 {
                    let at = low + (high - low) * (DVec2::new(f64::from(i), f64::from(j)) + 0.5) / cells;
                    if surface.outline.winds(at) {
                        samples.push(surface.chart.point(at));
                    }
                }
            }
        }
        samples
    }
}

/// Whether it hangs with its longer side level.
fn is_lying(place: &Candidate) -> bool {
    matches!(place.panel.place, PanelPlace::Surface { lying: true, .. })
}

/// Whether a position lies in a rectangle, at least `within` meters from its edges.
fn is_within((low, high): (DVec2, DVec2), position: DVec2, within: f64) -> bool {
    (position - low).min(high - position).min_element() >= within
}
