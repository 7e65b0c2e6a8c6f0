//! Where something may hang or stand, and what is in the way where it may not.
//!
//! A panel is a convex solid before its surface, as deep as its gap and its thickness. It fits if it keeps [`EDGE_MARGIN`] from the
//! edges of its surface, stays inside the room, and keeps its distance from everything that must stay free or is there already:
//! openings and their frames, the sweep of a door or hatch, clearances on surfaces and in space, blocks, other panels, heads,
//! loudspeakers and microphones.
//!
//! *Limits.* Margins, the room kept for a head and for a loudspeaker, and the headroom are our own choices, not a code; local rules
//! on exits, fire, wiring and overhead loads come first. A door is taken to sweep its own width straight into the room.

use glam::{DVec2, DVec3};

use super::solid::Solid;
use crate::geometry::{Chart, Polygon};
use crate::room::{Role, Room};
use crate::scene::{ClearanceRegion, OpeningKind, Panel, PanelPlace, PanelType, Rectangle, Scene, StockKind};

/// Least distance of a panel from the edges of its surface and from openings, meters.
pub const EDGE_MARGIN: f64 = 0.020;
/// Least distance between two panels, meters.
pub const PANEL_GAP: f64 = 0.020;
/// Least height of the underside of a cloud over the floor, meters.
pub const HEADROOM: f64 = 2.0;
/// Heaviest panel that is offered for a ceiling unless its type is made for it, kg.
pub const CEILING_MASS_MAX: f64 = 10.0;
/// Widest inner angle of two walls that still counts as a corner to hang across, radians.
pub const CORNER_ANGLE_MAX: f64 = 2.0 * std::f64::consts::FRAC_PI_3 - 1e-9;

/// How far a body may reach through the shell before it counts, meters: tapes read millimeters.
const SHELL_TOLERANCE: f64 = 0.001;
/// Half width of the room kept for a head at ear height, meters.
const HEAD: f64 = 0.15;
/// Half width of the room kept for a seated person where things stand on the floor, meters.
const PERSON: f64 = 0.30;
/// Half width of the room kept around the acoustic center of a source, meters.
const SOURCE: f64 = 0.12;
/// Half width of the room kept around a microphone, meters.
const MICROPHONE: f64 = 0.08;
/// A door leaf sweeps its width, but no farther than this, meters.
const SWEEP_MAX: f64 = 0.9;
/// Depth in which something counts as lying on a surface, meters.
const SKIN: f64 = 0.005;

/// Why something cannot hang or stand in a place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, thiserror::Error)]
pub enum Refusal {
    /// No surface, corner or seat for this kind of thing.
    #[error("nothing in the room can carry `{0}`")]
    NoPlace(String),
    /// Its surface is not in the room.
    #[error("there is no surface `{0}`")]
    NoSurface(String),
    /// This kind of thing does not go on this surface.
    #[error("`{kind}` does not go on `{surface}`")]
    WrongSurface {
        /// Type of panel.
        kind: String,
        /// Surface.
        surface: String,
    },
    /// Over or too near the edge of its surface.
    #[error("it reaches over the edge of `{0}` or is nearer to it than 20 mm")]
    Edge(String),
    /// Through a wall, the ceiling or the floor.
    #[error("it reaches through `{0}`")]
    Shell(String),
    /// Over a door, window or hatch, or within 20 mm of its frame.
    #[error("the opening `{0}` is there")]
    Opening(String),
    /// Where a door or hatch opens.
    #[error("`{0}` must open there")]
    Sweep(String),
    /// In a clearance.
    #[error("`{0}` must stay clear")]
    Clearance(String),
    /// Against or inside a block.
    #[error("`{0}` is in the way")]
    Block(String),
    /// Over or too near another panel.
    #[error("a panel `{0}` hangs there or nearer than 20 mm")]
    Panel(String),
    /// Where somebody sits.
    #[error("the listener at `{0}` needs that space")]
    Seat(String),
    /// Where a loudspeaker, voice or instrument is.
    #[error("the source `{0}` needs that space")]
    Source(String),
    /// Where a microphone is.
    #[error("the microphone `{0}` needs that space")]
    Microphone(String),
    /// A diffuser too near a seat.
    #[error("it must keep its distance from the seat `{0}`")]
    TooNear(String),
    /// Too low overhead.
    #[error("under a clear height of 2.0 m somebody would hit it")]
    Headroom,
    /// Too heavy overhead.
    #[error("`{0}` is heavier than 10 kg, too heavy for a ceiling")]
    TooHeavy(String),
}

/// How a thing is kept in place; decides what it must avoid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stance {
    Hung,
    Standing,
    Lying,
}

impl Stance {
    fn of(kind: StockKind) -> Self {
        match kind {
            StockKind::Panel | StockKind::Corner | StockKind::Cloud | StockKind::Curtain | StockKind::Diffuser => Self::Hung,
            StockKind::FreeStanding | StockKind::Bookcase => Self::Standing,
            StockKind::Rug => Self::Lying,
        }
    }
}

/// Something that a panel must avoid.
#[derive(Clone, Debug)]
struct Obstacle {
    refusal: Refusal,
    body: Solid,
    /// Distance to keep, meters.
    gap: f64,
    /// Whether only things that stand must avoid it.
    standing_only: bool,
    /// Whether a rug may lie there.
    over_rugs: bool,
}

/// One surface of the shell.
#[derive(Clone, Debug)]
struct Face {
    name: String,
    role: Role,
    chart: Chart,
    outline: Polygon,
}

/// A panel that hangs.
#[derive(Clone, Debug)]
struct Hung {
    kind: String,
    corner: Option<usize>,
    body: Body,
}

/// A panel as a solid, and where it touches.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// The space it takes, its gap included.
    pub solid: Solid,
    /// Index into the room's surfaces of the surface it hangs on; for a corner panel the wall left of the corner, for a cloud the
    /// ceiling facet above its middle.
    pub surface: Option<usize>,
    /// Lowest and highest chart coordinates, for what hangs flat; meters.
    pub span: Option<(DVec2, DVec2)>,
    /// Middle of its front, meters.
    pub front: DVec3,
    /// Middle on the chart of its surface; for corner panels and clouds on the floor plan. Meters.
    pub center: DVec2,
}

/// What a room leaves free.
#[derive(Clone, Debug)]
pub struct Free {
    faces: Vec<Option<Face>>,
    walls: Vec<(usize, Solid)>,
    outline: Polygon,
    obstacles: Vec<Obstacle>,
    hung: Vec<Option<Hung>>,
    ears: Vec<(String, DVec3, f64)>,
}

impl Free {
    /// The free room of a scene, its own panels hung.
    #[must_use]
    pub fn new(scene: &Scene, room: &Room) -> Self {
        let faces: Vec<Option<Face>> = room
            .surfaces
            .iter()
            .map(|surface| {
                surface.role.is_shell().then(|| Face {
                    name: surface.name.clone(),
                    role: surface.role,
                    chart: surface.chart,
                    outline: surface.outline.clone(),
                })
            })
            .collect();
        let walls = faces
            .iter()
            .enumerate()
            .filter_map(|(index, face)| face.as_ref().map(|face| (index, face)))
            .filter(|(_, face)| matches!(face.role, Role::Wall(_)))
            .map(|(index, face)| (index, Solid::flat(&face.chart, &face.outline.corners)))
            .collect();
        let ears = scene.seats.iter().map(|seat| (seat.name.clone(), seat.ear, seat.zone_radius)).collect();
        let outline = Polygon { corners: scene.outline.clone() };
        let mut free = Self { faces, walls, outline, obstacles: Vec::new(), hung: Vec::new(), ears };
        free.keep_openings(scene);
        free.keep_clearances(scene);
        free.keep_bodies(scene);
        for panel in &scene.panels {
            if let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) {
                // A panel whose place is not in the room was reported when the scene was checked.
                let _: Result<usize, Refusal> = free.hang(panel, kind);
            }
        }
        free
    }

    fn keep_openings(&mut self, scene: &Scene) {
        for opening in &scene.openings {
            let Some(face) = self.face_named(&opening.surface) else { continue };
            let (low, high) = span(&opening.place);
            let pane = Solid::before(&face.chart, low, high, SKIN);
            let sweep = match opening.kind {
                OpeningKind::Door => Some(opening.place.width),
                OpeningKind::Hatch => Some(opening.place.width.min(opening.place.height)),
                OpeningKind::Window => None,
            };
            let sweep = sweep.map(|depth| Solid::before(&face.chart, low, high, depth.min(SWEEP_MAX)));
            self.keep(Refusal::Opening(opening.name.clone()), pane, EDGE_MARGIN);
            if let Some(sweep) = sweep {
                self.keep(Refusal::Sweep(opening.name.clone()), sweep, 0.0);
            }
        }
    }

    fn keep_clearances(&mut self, scene: &Scene) {
        for clearance in &scene.clearances {
            let refusal = Refusal::Clearance(clearance.name.clone());
            match &clearance.region {
                ClearanceRegion::Surface { surface, place } => {
                    let Some(face) = self.face_named(surface) else { continue };
                    let (low, high) = span(place);
                    let body = Solid::before(&face.chart, low, high, SKIN);
                    self.keep(refusal, body, 0.0);
                }
                ClearanceRegion::Space { low, high } => self.keep(refusal, Solid::upright(*low, *high), 0.0),
            }
        }
    }

    fn keep_bodies(&mut self, scene: &Scene) {
        for block in &scene.blocks {
            self.keep(Refusal::Block(block.name.clone()), Solid::turned(block.center, block.base, block.size, block.rotation), 0.0);
        }
        let around = |center: DVec3, half: f64| Solid::upright(center - half, center + half);
        for seat in &scene.seats {
            let half = DVec3::new(PERSON, PERSON, 0.0);
            let person = Solid::upright(seat.ear.with_z(0.0) - half, seat.ear + half + DVec3::Z * HEAD);
            self.keep_from_hung(Refusal::Seat(seat.name.clone()), around(seat.ear, HEAD), false);
            self.keep_from_hung(Refusal::Seat(seat.name.clone()), person, true);
        }
        for source in &scene.sources {
            self.keep_from_hung(Refusal::Source(source.name.clone()), around(source.position, SOURCE), false);
        }
        for microphone in &scene.microphones {
            self.keep_from_hung(Refusal::Microphone(microphone.name.clone()), around(microphone.position, MICROPHONE), false);
        }
    }

    fn keep(&mut self, refusal: Refusal, body: Solid, gap: f64) {
        self.obstacles.push(Obstacle { refusal, body, gap, standing_only: false, over_rugs: false });
    }

    fn keep_from_hung(&mut self, refusal: Refusal, body: Solid, standing_only: bool) {
        self.obstacles.push(Obstacle { refusal, body, gap: 0.0, standing_only, over_rugs: true });
    }

    /// Hangs a panel, so that whatever is asked afterwards must keep its distance; returns its number for [`Free::take_down`].
    ///
    /// # Errors
    /// Its surface or corner is not in the room. Whether it fits is not asked.
    pub fn hang(&mut self, panel: &Panel, kind: &PanelType) -> Result<usize, Refusal> {
        let body = self.body(panel, kind)?;
        self.hung.push(Some(Hung { kind: kind.name.clone(), corner: corner_of(panel), body }));
        Ok(self.hung.len() - 1)
    }

    /// Takes down a panel that [`Free::hang`] hung.
    pub fn take_down(&mut self, number: usize) {
        if let Some(hung) = self.hung.get_mut(number) {
            *hung = None;
        }
    }

    /// What hangs: its type and body.
    pub fn hanging(&self) -> impl Iterator<Item = (&str, &Body)> {
        self.hung.iter().flatten().map(|hung| (hung.kind.as_str(), &hung.body))
    }

    /// Chart and outline of a surface, if it is part of the shell.
    #[must_use]
    pub fn surface(&self, index: usize) -> Option<(&Chart, &Polygon)> {
        self.faces.get(index)?.as_ref().map(|face| (&face.chart, &face.outline))
    }

    /// What a surface of the shell is.
    #[must_use]
    pub fn role(&self, index: usize) -> Option<Role> {
        self.faces.get(index)?.as_ref().map(|face| face.role)
    }

    /// Name of a surface of the shell.
    #[must_use]
    pub fn name(&self, index: usize) -> Option<&str> {
        self.faces.get(index)?.as_ref().map(|face| face.name.as_str())
    }

    /// Number of surfaces, those of bodies included.
    #[must_use]
    pub fn surface_count(&self) -> usize {
        self.faces.len()
    }

    /// The floor plan.
    #[must_use]
    pub fn outline(&self) -> &Polygon {
        &self.outline
    }

    /// Chart coordinates where something begins or ends on a surface: openings, clearances, blocks and panels that touch it.
    #[must_use]
    pub fn landmarks(&self, surface: usize) -> Vec<(DVec2, DVec2)> {
        let Some((chart, _)) = self.surface(surface) else { return Vec::new() };
        let kept = self.obstacles.iter().filter(|obstacle| !obstacle.over_rugs).map(|obstacle| &obstacle.body);
        let hung = self.hung.iter().flatten().map(|hung| &hung.body.solid);
        kept.chain(hung).filter_map(|body| shadow_on(chart, body)).collect()
    }

    /// Lowest and highest chart coordinates of what hangs flat on a surface.
    pub fn hung_on(&self, surface: usize) -> impl Iterator<Item = (DVec2, DVec2)> {
        self.hung.iter().flatten().filter(move |hung| hung.body.surface == Some(surface)).filter_map(|hung| hung.body.span)
    }

    /// Whether something flat, `depth` meters deep with its gap, may hang on this rectangle of a surface.
    ///
    /// # Errors
    /// Names the first thing that is in the way.
    pub fn fits(&self, surface: usize, rectangle: Rectangle, depth: f64) -> Result<(), Refusal> {
        let face = self.faces.get(surface).and_then(Option::as_ref).ok_or_else(|| Refusal::NoSurface(format!("surface {surface}")))?;
        let (low, high) = span(&rectangle);
        if !holds(&face.outline, low - EDGE_MARGIN, high + EDGE_MARGIN) {
            return Err(Refusal::Edge(face.name.clone()));
        }
        self.check(&Solid::before(&face.chart, low, high, depth), Stance::Hung, Some(surface), None)
    }

    /// Whether a panel of this type may be where it is said to be; returns it as a solid.
    ///
    /// # Errors
    /// Names the first thing that is in the way.
    pub fn fits_panel(&self, panel: &Panel, kind: &PanelType) -> Result<Body, Refusal> {
        let body = self.body(panel, kind)?;
        let stance = Stance::of(kind.kind);
        self.check_carrier(panel, kind, &body)?;
        self.check_seats(kind, &body)?;
        self.check(&body.solid, stance, body.surface, corner_of(panel))?;
        Ok(body)
    }

    /// Surface, edges, weight, headroom.
    fn check_carrier(&self, panel: &Panel, kind: &PanelType, body: &Body) -> Result<(), Refusal> {
        match &panel.place {
            PanelPlace::Surface { surface, bottom, .. } => {
                let face = body.surface.and_then(|index| self.faces[index].as_ref()).ok_or_else(|| Refusal::NoSurface(surface.clone()))?;
                if !carries(kind.kind, face.role) {
                    return Err(Refusal::WrongSurface { kind: kind.name.clone(), surface: face.name.clone() });
                }
                if matches!(face.role, Role::Ceiling(_)) && kind.mass.is_some_and(|mass| mass > CEILING_MASS_MAX) {
                    return Err(Refusal::TooHeavy(kind.name.clone()));
                }
                let standing = Stance::of(kind.kind) == Stance::Standing;
                let below = if standing { DVec2::new(EDGE_MARGIN, 0.0) } else { DVec2::splat(EDGE_MARGIN) };
                let inside = body.span.is_some_and(|(low, high)| holds(&face.outline, low - below, high + EDGE_MARGIN));
                let on_floor = !standing || bottom.abs() <= SHELL_TOLERANCE;
                if inside && on_floor { Ok(()) } else { Err(Refusal::Edge(face.name.clone())) }
            }
            PanelPlace::Corner { .. } => Ok(()),
            PanelPlace::Cloud { underside, .. } => {
                let (low, high) = body.solid.bounds();
                if !holds(&self.outline, low.truncate() - EDGE_MARGIN, high.truncate() + EDGE_MARGIN) {
                    return Err(Refusal::Edge("floor".to_owned()));
                }
                if *underside < HEADROOM - 1e-9 { Err(Refusal::Headroom) } else { Ok(()) }
            }
        }
    }

    /// Least distance of a type from every seat, to the nearest point of its front.
    fn check_seats(&self, kind: &PanelType, body: &Body) -> Result<(), Refusal> {
        if kind.least_distance <= 0.0 {
            return Ok(());
        }
        for (name, ear, _) in &self.ears {
            let nearest = match (body.span, body.surface.and_then(|index| self.surface(index))) {
                (Some((low, high)), Some((chart, _))) => {
                    let depth = (body.front - chart.origin).dot(chart.normal);
                    chart.point(chart.position(*ear).clamp(low, high)) + chart.normal * depth
                }
                _ => ear.clamp(body.solid.bounds().0, body.solid.bounds().1),
            };
            if nearest.distance(*ear) < kind.least_distance - 1e-9 {
                return Err(Refusal::TooNear(name.clone()));
            }
        }
        Ok(())
    }

    fn check(&self, solid: &Solid, stance: Stance, own: Option<usize>, corner: Option<usize>) -> Result<(), Refusal> {
        self.check_shell(solid, own)?;
        for obstacle in &self.obstacles {
            let spared = match stance {
                Stance::Hung => obstacle.standing_only,
                Stance::Standing => false,
                Stance::Lying => obstacle.over_rugs,
            };
            if !spared && !obstacle.body.apart(solid, obstacle.gap) {
                return Err(obstacle.refusal.clone());
            }
        }
        for hung in self.hung.iter().flatten() {
            // Panels stacked in one corner stand on each other.
            let gap = if corner.is_some() && corner == hung.corner { 0.0 } else { PANEL_GAP };
            if !hung.body.solid.apart(solid, gap) {
                return Err(Refusal::Panel(hung.kind.clone()));
            }
        }
        Ok(())
    }

    /// Below the ceiling (the lower envelope of its planes), over the floor, through no wall.
    fn check_shell(&self, solid: &Solid, own: Option<usize>) -> Result<(), Refusal> {
        for face in self.faces.iter().flatten() {
            if !matches!(face.role, Role::Wall(_)) && solid.corners().iter().any(|&corner| face.chart.height(corner) < -SHELL_TOLERANCE) {
                return Err(Refusal::Shell(face.name.clone()));
            }
        }
        let through = self.walls.iter().find(|(index, wall)| Some(*index) != own && !wall.apart(solid, -SHELL_TOLERANCE));
        match through.and_then(|(index, _)| self.name(*index)) {
            Some(name) => Err(Refusal::Shell(name.to_owned())),
            None => Ok(()),
        }
    }

    /// The first facet of the shell with this name.
    fn face_named(&self, name: &str) -> Option<&Face> {
        self.faces.iter().flatten().find(|face| face.name == name)
    }

    /// A panel as a solid, whether or not it fits.
    ///
    /// # Errors
    /// Its surface or corner is not in the room.
    pub fn body(&self, panel: &Panel, kind: &PanelType) -> Result<Body, Refusal> {
        match &panel.place {
            PanelPlace::Surface { surface, left, bottom, lying, gap } => {
                let low = DVec2::new(*left, *bottom);
                let high = low + size_as_hung(kind, *lying);
                self.flat_body(surface, low, high, gap + kind.thickness)
            }
            PanelPlace::Corner { corner, bottom } => self.corner_body(*corner, *bottom, kind),
            PanelPlace::Cloud { center, underside, turned } => {
                let size = if *turned { kind.size } else { DVec2::new(kind.size.y, kind.size.x) };
                let solid = Solid::turned(*center, *underside, size.extend(kind.thickness), 0.0);
                let surface = self.facet_above(*center);
                Ok(Body { solid, surface, span: None, front: center.extend(*underside), center: *center })
            }
        }
    }

    fn flat_body(&self, surface: &str, low: DVec2, high: DVec2, depth: f64) -> Result<Body, Refusal> {
        let center = (low + high) / 2.0;
        let named = || self.faces.iter().enumerate().filter(|(_, face)| face.as_ref().is_some_and(|face| face.name == surface));
        // A ceiling plane may show in several facets on one chart: the one that the panel lies on.
        let facet = named().find(|(_, face)| face.as_ref().is_some_and(|face| face.outline.contains(center))).or_else(|| named().next());
        let Some((index, Some(face))) = facet else { return Err(Refusal::NoSurface(surface.to_owned())) };
        Ok(Body {
            solid: Solid::before(&face.chart, low, high, depth),
            surface: Some(index),
            span: Some((low, high)),
            front: face.chart.point(center) + face.chart.normal * depth,
            center,
        })
    }

    fn corner_body(&self, corner: usize, bottom: f64, kind: &PanelType) -> Result<Body, Refusal> {
        let missing = || Refusal::NoSurface(format!("corner {corner}"));
        let bisector = Corner::of(&self.outline, corner).ok_or_else(missing)?;
        let reach = kind.size.x / (2.0 * (bisector.angle / 2.0).sin());
        if bisector.angle > CORNER_ANGLE_MAX || reach + EDGE_MARGIN > bisector.shorter_wall {
            return Err(Refusal::Edge(format!("corner {corner}")));
        }
        let (right, left) = (bisector.point + bisector.to_next * reach, bisector.point + bisector.to_previous * reach);
        let forward = bisector.inward * kind.thickness;
        let footprint = [bisector.point, right, right + forward, left + forward, left];
        let center = (right + left) / 2.0;
        Ok(Body {
            solid: Solid::column(&footprint, bottom, bottom + kind.size.y),
            surface: self.faces.iter().position(|face| face.as_ref().is_some_and(|face| face.role == Role::Wall(corner))),
            span: None,
            front: (center + forward).extend(bottom + kind.size.y / 2.0),
            center,
        })
    }

    /// The facet of the ceiling over a point of the floor plan.
    #[must_use]
    pub fn facet_above(&self, point: DVec2) -> Option<usize> {
        let height = |index: usize| self.ceiling_height_on(index, point);
        (0..self.faces.len())
            .filter(|&index| height(index).is_some())
            .min_by(|&a, &b| height(a).partial_cmp(&height(b)).unwrap_or(std::cmp::Ordering::Equal))
    }

    /// Height of the ceiling over a point of the floor plan, meters.
    #[must_use]
    pub fn ceiling_height(&self, point: DVec2) -> Option<f64> {
        self.facet_above(point).and_then(|index| self.ceiling_height_on(index, point))
    }

    fn ceiling_height_on(&self, index: usize, point: DVec2) -> Option<f64> {
        let face = self.faces.get(index)?.as_ref()?;
        let Chart { origin, normal, .. } = face.chart;
        if !matches!(face.role, Role::Ceiling(_)) || normal.z.abs() < 1e-9 {
            return None;
        }
        Some(origin.z - (point - origin.truncate()).dot(normal.truncate()) / normal.z)
    }
}

/// An outline corner as seen from inside.
pub(super) struct Corner {
    pub(super) point: DVec2,
    pub(super) to_next: DVec2,
    pub(super) to_previous: DVec2,
    pub(super) inward: DVec2,
    /// Angle between the two walls on the room's side, radians.
    pub(super) angle: f64,
    /// Length of the shorter of the two walls, meters.
    pub(super) shorter_wall: f64,
}

impl Corner {
    /// The corner with this index; `None` if there is none or it is no inner corner.
    pub(super) fn of(outline: &Polygon, index: usize) -> Option<Self> {
        let count = outline.corners.len();
        let point = *outline.corners.get(index)?;
        let next = outline.corners[(index + 1) % count] - point;
        let previous = outline.corners[(index + count - 1) % count] - point;
        let (to_next, to_previous) = (next.try_normalize()?, previous.try_normalize()?);
        // Inner corners of a counterclockwise outline turn left.
        if to_next.perp_dot(to_previous) <= 1e-9 {
            return None;
        }
        let inward = (to_next + to_previous).try_normalize()?;
        let angle = to_next.dot(to_previous).clamp(-1.0, 1.0).acos();
        Some(Self { point, to_next, to_previous, inward, angle, shorter_wall: next.length().min(previous.length()) })
    }
}

/// Whether this kind of thing goes on this part of the shell.
#[must_use]
pub fn carries(kind: StockKind, role: Role) -> bool {
    match kind {
        StockKind::Panel => matches!(role, Role::Wall(_) | Role::Ceiling(_)),
        StockKind::Curtain | StockKind::Diffuser | StockKind::FreeStanding | StockKind::Bookcase => matches!(role, Role::Wall(_)),
        StockKind::Rug => role == Role::Floor,
        StockKind::Corner | StockKind::Cloud => false,
    }
}

/// Width and height of a type as hung: its longer side upright unless `lying`. Meters.
#[must_use]
pub fn size_as_hung(kind: &PanelType, lying: bool) -> DVec2 {
    if lying { DVec2::new(kind.size.y, kind.size.x) } else { kind.size }
}

fn corner_of(panel: &Panel) -> Option<usize> {
    match panel.place {
        PanelPlace::Corner { corner, .. } => Some(corner),
        PanelPlace::Surface { .. } | PanelPlace::Cloud { .. } => None,
    }
}

/// Lowest and highest chart coordinates of a rectangle.
fn span(place: &Rectangle) -> (DVec2, DVec2) {
    let low = DVec2::new(place.left, place.bottom);
    (low, low + DVec2::new(place.width, place.height))
}

/// Bounds on a chart of a body that touches its plane.
fn shadow_on(chart: &Chart, body: &Solid) -> Option<(DVec2, DVec2)> {
    let touches = body.corners().iter().any(|&corner| chart.height(corner).abs() <= SKIN);
    touches.then(|| {
        body.corners()
            .iter()
            .map(|&corner| chart.position(corner))
            .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), position| (low.min(position), high.max(position)))
    })
}

/// Whether a rectangle lies inside a simple polygon (touching allowed).
fn holds(outline: &Polygon, low: DVec2, high: DVec2) -> bool {
    const SLACK: f64 = 1e-7;
    let (low, high) = (low + SLACK, high - SLACK);
    if low.cmpge(high).any() || !outline.winds((low + high) / 2.0) {
        return false;
    }
    // Its middle is inside; so is all of it if no edge of the outline enters it.
    !outline.edges().any(|(a, b)| enters(a, b, low, high))
}

/// Whether the segment `a b` has a point in the open rectangle `low..high`.
fn enters(a: DVec2, b: DVec2, low: DVec2, high: DVec2) -> bool {
    let along = b - a;
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (start, step, low, high) in [(a.x, along.x, low.x, high.x), (a.y, along.y, low.y, high.y)] {
        if step.abs() < 1e-15 {
            if start <= low || start >= high {
                return false;
            }
            continue;
        }
        let (first, second) = ((low - start) / step, (high - start) / step);
        from = from.max(first.min(second));
        to = to.min(first.max(second));
    }
    from < to
}
