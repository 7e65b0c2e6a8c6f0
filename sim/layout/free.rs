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

use super::body::{Body, carries, holds, shadow_on};
use super::refusal::Refusal;
use crate::geometry::{Chart, Polygon, Solid};
use crate::room::{Role, Room};
use crate::scene::{ClearanceRegion, Drilling, Opening, OpeningKind, Panel, PanelPlace, PanelType, Rectangle, Scene, StockKind};

/// Least distance of a panel from the edges of its surface and from openings, meters.
pub const EDGE_MARGIN: f64 = 0.020;
/// Least distance between two panels, meters.
pub const PANEL_GAP: f64 = 0.020;
/// Least height of the lowest edge of a cloud over the floor, meters.
pub const HEADROOM: f64 = 2.0;
/// Heaviest panel that is offered for a ceiling unless its type is made for it, kg.
pub const CEILING_MASS_MAX: f64 = 10.0;

/// How far a body may reach through the shell before it counts, meters: tapes read millimeters.
const SHELL_TOLERANCE: f64 = 0.001;
/// What a thing on the ceiling is called by, and how far panels keep away from it there, meters: 18 in below a sprinkler's deflector (NFPA 13, from memory), the others common practice, no source.
const KEPT_FREE: [(&str, f64); 6] =
    [("sprinkler", 0.457), ("detector", 0.3), ("alarm", 0.3), ("lamp", 0.1), ("light", 0.1), ("track", 0.1)];

/// How far panels keep away from what is called so and is on the ceiling, meters; nothing where it says nothing.
#[must_use]
pub fn kept_free(name: &str) -> Option<f64> {
    let name = name.to_lowercase();
    KEPT_FREE.iter().find(|(word, _)| name.contains(word)).map(|(_, kept)| *kept)
}

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

/// How a thing is kept in place; decides what it must avoid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stance {
    Hung,
    Floating,
    Standing,
    Lying,
}

impl Stance {
    fn of(kind: StockKind) -> Self {
        match kind {
            StockKind::Panel | StockKind::Corner | StockKind::Curtain | StockKind::Diffuser => Self::Hung,
            StockKind::Cloud => Self::Floating,
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
    kept_from: KeptFrom,
}

/// What must avoid an obstacle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum KeptFrom {
    /// Everything.
    All,
    /// Everything but rugs: people, loudspeakers and microphones may be over them.
    AllButRugs,
    /// What stands on the floor.
    Standing,
    /// What hangs below the ceiling.
    Clouds,
}

impl KeptFrom {
    fn concerns(self, stance: Stance) -> bool {
        match self {
            Self::All => true,
            Self::AllButRugs => stance != Stance::Lying,
            Self::Standing => stance == Stance::Standing,
            Self::Clouds => stance == Stance::Floating,
        }
    }
}

/// One surface of the shell.
#[derive(Clone, Debug)]
pub(super) struct Face {
    pub(super) name: String,
    pub(super) role: Role,
    pub(super) chart: Chart,
    pub(super) outline: Polygon,
}

/// A panel that hangs.
#[derive(Clone, Debug)]
struct Hung {
    kind: String,
    corner: Option<usize>,
    body: Body,
}

/// What a room leaves free.
#[derive(Clone, Debug)]
pub struct Free {
    /// One for each of the room's surfaces; `None` for those of bodies.
    pub(super) faces: Vec<Option<Face>>,
    walls: Vec<(usize, Solid)>,
    outline: Polygon,
    obstacles: Vec<Obstacle>,
    hung: Vec<Option<Hung>>,
    ears: Vec<(String, DVec3, f64)>,
    /// Where nothing may be screwed on.
    drilling: Drilling,
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
        let mut free =
            Self { faces, walls, outline, obstacles: Vec::new(), hung: Vec::new(), ears, drilling: scene.goals.drilling.clone() };
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
            let sweep = leaf(opening).map(|depth| Solid::before(&face.chart, low, high, depth));
            self.keep(Refusal::Opening(opening.name.clone()), pane, EDGE_MARGIN, KeptFrom::All);
            if let Some(sweep) = sweep {
                self.keep(Refusal::Sweep(opening.name.clone()), sweep, 0.0, KeptFrom::All);
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
                    // What is on the ceiling (a detector, a lamp) works downward: no cloud between it and the room.
                    let is_overhead = matches!(face.role, Role::Ceiling(_));
                    let below = is_overhead.then(|| below(&face.chart, low, high));
                    let gap = kept_free(&clearance.name).filter(|_| is_overhead).unwrap_or(0.0);
                    self.keep(refusal.clone(), body, gap, KeptFrom::All);
                    if let Some(below) = below {
                        self.keep(refusal, below, gap, KeptFrom::Clouds);
                    }
                }
                ClearanceRegion::Space { low, high } => self.keep(refusal, Solid::upright(*low, *high), 0.0, KeptFrom::All),
            }
        }
    }

    fn keep_bodies(&mut self, scene: &Scene) {
        for block in &scene.blocks {
            let body = Solid::turned(block.center, block.base, block.size, block.rotation);
            self.keep(Refusal::Block(block.name.clone()), body, 0.0, KeptFrom::All);
        }
        let around = |center: DVec3, half: f64| Solid::upright(center - half, center + half);
        for seat in &scene.seats {
            let half = DVec3::new(PERSON, PERSON, 0.0);
            let person = Solid::upright(seat.ear.with_z(0.0) - half, seat.ear + half + DVec3::Z * HEAD);
            self.keep(Refusal::Seat(seat.name.clone()), around(seat.ear, HEAD), 0.0, KeptFrom::AllButRugs);
            self.keep(Refusal::Seat(seat.name.clone()), person, 0.0, KeptFrom::Standing);
        }
        for source in &scene.sources {
            self.keep(Refusal::Source(source.name.clone()), around(source.position, SOURCE), 0.0, KeptFrom::AllButRugs);
        }
        for microphone in &scene.microphones {
            self.keep(Refusal::Microphone(microphone.name.clone()), around(microphone.position, MICROPHONE), 0.0, KeptFrom::AllButRugs);
        }
    }

    fn keep(&mut self, refusal: Refusal, body: Solid, gap: f64, kept_from: KeptFrom) {
        self.obstacles.push(Obstacle { refusal, body, gap, kept_from });
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
        let kept = self.obstacles.iter().filter(|obstacle| obstacle.kept_from == KeptFrom::All).map(|obstacle| &obstacle.body);
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
        self.check(&Solid::before(&face.chart, low, high, depth), Stance::Hung, Some(surface), None, &[])
    }

    /// Whether a panel of this type may be where it is said to be; returns it as a solid.
    ///
    /// # Errors
    /// Names the first thing that is in the way.
    pub fn fits_panel(&self, panel: &Panel, kind: &PanelType) -> Result<Body, Refusal> {
        self.fits_without(panel, kind, &[])
    }

    /// The same, as if the panels with these numbers (see [`Free::hang`]) did not hang: for trying to move them.
    ///
    /// # Errors
    /// Names the first thing that is in the way.
    pub fn fits_without(&self, panel: &Panel, kind: &PanelType, without: &[usize]) -> Result<Body, Refusal> {
        let body = self.body(panel, kind)?;
        let stance = Stance::of(kind.kind);
        self.check_drill(panel, kind, &body)?;
        self.check_carrier(panel, kind, &body)?;
        self.check_seats(kind, &body)?;
        self.check(&body.solid, stance, body.surface, corner_of(panel), without)?;
        Ok(body)
    }

    /// What is screwed on is screwed to nothing that must not be drilled.
    fn check_drill(&self, panel: &Panel, kind: &PanelType, body: &Body) -> Result<(), Refusal> {
        if !kind.is_drilled() || self.drilling == Drilling::Anywhere {
            return Ok(());
        }
        let count = self.outline.corners.len();
        let walls = corner_of(panel).map(|corner| [corner, (corner + count - 1) % count]);
        let is_touched = |index: usize, face: &Face| match walls {
            Some(walls) => walls.iter().any(|&wall| face.role == Role::Wall(wall)),
            None => body.surface == Some(index),
        };
        let touched = self.faces.iter().enumerate().filter_map(|(index, face)| face.as_ref().filter(|face| is_touched(index, face)));
        match touched.map(|face| &face.name).find(|name| self.drilling.forbids(name)) {
            Some(name) => Err(Refusal::Drill(name.clone())),
            None => Ok(()),
        }
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
            PanelPlace::Cloud(_) => {
                let (low, high) = body.solid.bounds();
                if !holds(&self.outline, low.truncate() - EDGE_MARGIN, high.truncate() + EDGE_MARGIN) {
                    return Err(Refusal::Edge("floor".to_owned()));
                }
                if low.z < HEADROOM - 1e-9 { Err(Refusal::Headroom) } else { Ok(()) }
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

    fn check(&self, solid: &Solid, stance: Stance, own: Option<usize>, corner: Option<usize>, without: &[usize]) -> Result<(), Refusal> {
        self.check_shell(solid, own)?;
        let coarse = own.and_then(|index| self.coarse(index, solid));
        for obstacle in self.obstacles.iter().filter(|obstacle| obstacle.kept_from.concerns(stance)) {
            let free = obstacle.body.apart(solid, obstacle.gap);
            if !free || obstacle.gap == 0.0 && coarse.as_ref().is_some_and(|coarse| !obstacle.body.apart(coarse, 0.0)) {
                return Err(obstacle.refusal.clone());
            }
        }
        let hanging = self.hung.iter().enumerate().filter(|(number, _)| !without.contains(number));
        for hung in hanging.filter_map(|(_, hung)| hung.as_ref()) {
            // Panels stacked in one corner stand on each other.
            let gap = if corner.is_some() && corner == hung.corner { 0.0 } else { PANEL_GAP };
            let upright = hung.body.surface.and_then(|index| self.coarse(index, &hung.body.solid));
            let (own, other) = (coarse.as_ref().unwrap_or(solid), upright.as_ref().unwrap_or(&hung.body.solid));
            if !hung.body.solid.apart(solid, gap) || (coarse.is_some() || upright.is_some()) && !own.apart(other, 0.0) {
                return Err(Refusal::Panel(hung.kind.clone()));
            }
        }
        Ok(())
    }

    /// What hangs overhead keeps more than its own space: on a sloping ceiling the upright column round it between its lowest and its
    /// highest point, so that nobody has to squeeze something in below a slope; a cloud, or a panel on a level ceiling, all that is
    /// above it, so that nothing hangs over another. `None` for everything else.
    fn coarse(&self, surface: usize, solid: &Solid) -> Option<Solid> {
        let face = self.faces.get(surface)?.as_ref()?;
        if !matches!(face.role, Role::Ceiling(_)) {
            return None;
        }
        let slopes = face.chart.normal.z > -1.0 + 1e-9;
        let backs: Vec<DVec2> = solid.corners().iter().step_by(2).map(|corner| corner.truncate()).collect();
        let flat = solid.corners().iter().step_by(2).all(|&corner| face.chart.height(corner).abs() < SKIN);
        let (low, high) = solid.bounds();
        if slopes && flat && backs.len() == 4 {
            return Some(Solid::column(&backs, low.z, high.z));
        }
        let footprint = [low.truncate(), DVec2::new(high.x, low.y), high.truncate(), DVec2::new(low.x, high.y)];
        Some(Solid::column(&footprint, low.z, SKY))
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
}

fn corner_of(panel: &Panel) -> Option<usize> {
    match panel.place {
        PanelPlace::Corner { corner, .. } => Some(corner),
        PanelPlace::Surface { .. } | PanelPlace::Cloud { .. } => None,
    }
}

/// Above every ceiling, meters.
const SKY: f64 = 1000.0;

/// Lowest and highest chart coordinates of a rectangle.
/// How deep the leaf of a door or hatch sweeps before it, meters, as if it opened into the room: which way it does the scene does not say.
#[must_use]
pub fn leaf(opening: &Opening) -> Option<f64> {
    let width = match opening.kind {
        OpeningKind::Door => opening.place.width,
        OpeningKind::Hatch => opening.place.width.min(opening.place.height),
        OpeningKind::Window => return None,
    };
    Some(width.min(SWEEP_MAX))
}

fn span(place: &Rectangle) -> (DVec2, DVec2) {
    let low = DVec2::new(place.left, place.bottom);
    (low, low + DVec2::new(place.width, place.height))
}

/// The upright column below a rectangle of a ceiling, down to the headroom.
fn below(chart: &Chart, low: DVec2, high: DVec2) -> Solid {
    let corners = [low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y)].map(|position| chart.point(position));
    let top = corners.iter().fold(HEADROOM, |top, corner| top.max(corner.z));
    Solid::column(&corners.map(DVec3::truncate), HEADROOM, top)
}
