//! The scene: the room as a person measured it, what stands and hangs in it, and what they want of it.
//!
//! A `Scene` is what [`read()`] makes of a scene text and [`print()`] turns back into one; [`Editor`], [`with_panels`] and
//! [`with_plan`] change a person's own text, and [`starter()`] writes a first one. [`FORMAT`] explains every key. Lengths are in meters, whatever the
//! text used.
//! Coordinates: x and y on the floor, z up from the floor; surfaces and their charts: [`shell`].
//!
//! *Limits.* Walls are upright, the floor is level, a scene is one room.

pub mod alternatives;
pub mod build_up;
mod check;
pub mod cloud;
pub mod diagnostic;
pub mod difference;
pub mod edit;
pub mod goals;
pub mod lessons;
pub mod making;
pub mod plausible;
pub mod prices;
pub mod print;
mod read;
pub mod shell;
pub mod sketch;
pub mod starter;
mod walk;

use glam::{DVec2, DVec3};

/// Every key of a scene text, explained; itself a scene.
pub const FORMAT: &str = include_str!("format.toml");

pub use self::build_up::{Core, CoreLayer, Facing, Fiber, Fibers, Filling, PorousLaw};
pub use self::check::CROWN;
pub use self::cloud::Cloud;
pub use self::diagnostic::{Diagnostic, Severity};
pub use self::edit::ceiling::{MeasuredPlane, PlaneShape};
pub use self::edit::things::ThingKind;
pub use self::edit::{EditError, Edited, Editor, Refused, with_cloud, with_moves, with_panels, with_plan, with_positions};
pub use self::goals::{Drilling, Goals, Term, Terms};
pub use self::making::{Construction, HeldBy, Making, Paper, Structure, StructureKind};
pub use self::prices::{PriceList, prices};
pub use self::print::{print, print_panels};
pub use self::read::{read, read_panels};
pub use self::shell::SurfaceIndex;
pub use self::sketch::sketch;
pub use self::starter::{RoomSize, starter, starter_for};
use crate::bands::Bands;
use crate::directivity::{Directivity, Pattern};
use crate::geometry::Polygon;
use crate::settings::Settings;
use crate::units::{Length, LengthUnit};

/// A room as written by its owner.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// Title, for headings and the output folder.
    pub name: String,
    /// The one question this scene answers, if it says so.
    pub question: Option<String>,
    /// Unit of bare numbers in the text, and of lengths in print.
    pub unit: LengthUnit,
    /// How far a tape measure may be off.
    pub tape_tolerance: Length,
    /// What the room is for.
    pub activity: Activity,
    /// State of the air.
    pub air: AirState,
    /// Background noise level at the listener by octave, dB re 20 uPa.
    pub noise_level: Option<Bands<f64>>,
    /// Speech level at the listener by octave, dB re 20 uPa.
    pub speech_level: Option<Bands<f64>>,
    /// Corners of the floor, counterclockwise seen from above, meters; wall `i` runs from corner `i` to corner `i + 1`.
    pub outline: Vec<DVec2>,
    /// One wall for each edge of the outline.
    pub walls: Vec<Wall>,
    /// Material of the floor.
    pub floor_material: String,
    /// The ceiling is the lowest of these planes at every point.
    pub ceiling: Vec<CeilingPlane>,
    /// Doors, windows, hatches.
    pub openings: Vec<Opening>,
    /// Solid boxes.
    pub blocks: Vec<Block>,
    /// Loudspeakers, voices and instruments.
    pub sources: Vec<Source>,
    /// Listening seats.
    pub seats: Vec<Seat>,
    /// Microphones.
    pub microphones: Vec<Microphone>,
    /// Where nothing may hang or stand.
    pub clearances: Vec<Clearance>,
    /// Panels that hang already.
    pub panels: Vec<Panel>,
    /// Types of panel, hung or in stock.
    pub stock: Vec<PanelType>,
    /// The user's own materials.
    pub materials: Vec<UserMaterial>,
    /// What is asked of a plan.
    pub goals: Goals,
    /// How panels are made, marked out and hung.
    pub making: Making,
    /// Seed, rays, orders, windows.
    pub settings: Settings,
}

/// What the room is for; decides the targets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Activity {
    /// Mixing on loudspeakers.
    Mixing,
    /// A voice at a microphone.
    Voice,
    /// Rehearsing music.
    Rehearsal,
    /// Teaching and talking.
    Lesson,
}

impl Activity {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Mixing, Self::Voice, Self::Rehearsal, Self::Lesson];

    /// The word of the scene's `use`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Mixing => "mixing",
            Self::Voice => "voice",
            Self::Rehearsal => "rehearsal",
            Self::Lesson => "lesson",
        }
    }

    /// The use of this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|activity| activity.word() == word)
    }
}

/// Temperature, humidity and pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirState {
    /// Degrees Celsius.
    pub temperature_c: f64,
    /// Relative humidity in percent.
    pub humidity_percent: f64,
    /// Pressure in kilopascals.
    pub pressure_kpa: f64,
}

/// One edge of the outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Wall {
    /// Stable name: compass side, or the user's.
    pub name: String,
    /// Name of its material.
    pub material: String,
}

/// A plane `z = height + slope . (x, y)`.
#[derive(Clone, Debug, PartialEq)]
pub struct CeilingPlane {
    /// Stable name.
    pub name: String,
    /// Name of its material.
    pub material: String,
    /// Height over the origin of the floor plan, meters.
    pub height: f64,
    /// Rise per meter along x and y.
    pub slope: DVec2,
}

impl CeilingPlane {
    /// Height of this plane over a point of the floor, meters.
    #[must_use]
    pub fn height_at(&self, point: DVec2) -> f64 {
        self.height + self.slope.dot(point)
    }
}

/// A rectangle on a surface: distance of its left edge from the surface's left edge as seen from inside, of its lower edge from
/// the floor (measured along the surface; for a ceiling, see `room` for its chart), and its size. Meters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rectangle {
    /// From the left edge, as seen from inside.
    pub left: f64,
    /// From the lower edge.
    pub bottom: f64,
    /// Width to the right.
    pub width: f64,
    /// Height upward.
    pub height: f64,
}

/// A door, window or hatch: a part of a surface with another material.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Name.
    pub name: String,
    /// `door`, `window`, `hatch`.
    pub kind: OpeningKind,
    /// Name of the wall or ceiling plane.
    pub surface: String,
    /// Where on it.
    pub place: Rectangle,
    /// Name of its material.
    pub material: String,
}

/// Kinds of opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpeningKind {
    /// A door.
    Door,
    /// A window.
    Window,
    /// A hatch.
    Hatch,
}

/// A solid box, rotated about the vertical.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Name.
    pub name: String,
    /// Middle of its footprint, meters.
    pub center: DVec2,
    /// Height of its underside over the floor (0: it stands), meters.
    pub base: f64,
    /// Size along its own x, own y and z, meters.
    pub size: DVec3,
    /// Counterclockwise rotation seen from above, radians.
    pub rotation: f64,
    /// Name of its material.
    pub material: String,
    /// Scattering coefficient by band, if not the material's.
    pub scattering: Option<Bands<f64>>,
}

impl Block {
    /// Its footprint on the floor plan, counterclockwise from its own left lower corner, meters.
    #[must_use]
    pub fn footprint(&self) -> Polygon {
        let along = DVec2::from_angle(self.rotation) * self.size.x / 2.0;
        let across = DVec2::from_angle(self.rotation).perp() * self.size.y / 2.0;
        Polygon { corners: [-along - across, along - across, along + across, across - along].map(|offset| self.center + offset).to_vec() }
    }
}

/// What sends sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Name.
    pub name: String,
    /// Loudspeaker, voice or instrument.
    pub kind: SourceKind,
    /// Acoustic center, meters.
    pub position: DVec3,
    /// Unit vector it points along.
    pub aim: DVec3,
    /// How it sends into other directions.
    pub directivity: Directivity,
}

/// Kinds of source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceKind {
    /// A loudspeaker.
    Loudspeaker,
    /// A voice.
    Voice,
    /// An instrument.
    Instrument,
}

impl SourceKind {
    /// The word of the scene text for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Loudspeaker => "loudspeaker",
            Self::Voice => "voice",
            Self::Instrument => "instrument",
        }
    }
}

/// A listening seat.
#[derive(Clone, Debug, PartialEq)]
pub struct Seat {
    /// Name.
    pub name: String,
    /// Middle of the head at ear height, meters.
    pub ear: DVec3,
    /// Unit vector the listener faces.
    pub facing: DVec3,
    /// Radius of the zone round the head, meters; already held to a quarter of the distance to the nearest source.
    pub zone_radius: f64,
}

/// A microphone.
#[derive(Clone, Debug, PartialEq)]
pub struct Microphone {
    /// Name.
    pub name: String,
    /// Position, meters.
    pub position: DVec3,
    /// Unit vector it points along.
    pub aim: DVec3,
    /// First-order pattern.
    pub pattern: Pattern,
}

/// A region where nothing may hang or stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Clearance {
    /// What keeps it clear (door swing, lamp, detector, socket...).
    pub name: String,
    /// Where it is.
    pub region: ClearanceRegion,
}

/// Shape of a clearance.
#[derive(Clone, Debug, PartialEq)]
pub enum ClearanceRegion {
    /// A rectangle on a surface.
    Surface {
        /// Name of the surface.
        surface: String,
        /// Where on it.
        place: Rectangle,
    },
    /// A box in space, edges along x, y, z.
    Space {
        /// Lowest corner, meters.
        low: DVec3,
        /// Highest corner, meters.
        high: DVec3,
    },
}

/// A panel that hangs.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// Name of its type.
    pub kind: String,
    /// Where it hangs.
    pub place: PanelPlace,
}

/// Ways to hang a panel.
#[derive(Clone, Debug, PartialEq)]
pub enum PanelPlace {
    /// Flat on a surface, or before it with a gap behind.
    Surface {
        /// Name of the wall or ceiling plane.
        surface: String,
        /// From the surface's left edge as seen from inside, meters.
        left: f64,
        /// From the surface's lower edge, meters.
        bottom: f64,
        /// Turned so that its longer side is horizontal.
        lying: bool,
        /// Air behind it, meters.
        gap: f64,
    },
    /// Upright across the vertical corner where two walls meet, its long side upright.
    Corner {
        /// Index of the outline corner.
        corner: usize,
        /// Height of its lower edge over the floor, meters.
        bottom: f64,
    },
    /// Hanging below the ceiling, alone or side by side with others of its type.
    Cloud(Cloud),
}

impl Panel {
    /// How many pieces of its type it takes: a cloud may be made of several.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.place.count()
    }
}

impl PanelPlace {
    /// How many pieces of its type hang there: a cloud may be made of several.
    #[must_use]
    pub fn count(&self) -> u32 {
        match self {
            Self::Surface { .. } | Self::Corner { .. } => 1,
            Self::Cloud(cloud) => cloud.count(),
        }
    }
}

/// A type of panel and how many there are.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelType {
    /// Name.
    pub name: String,
    /// Kind of thing it is.
    pub kind: StockKind,
    /// Shorter and longer side, meters.
    pub size: DVec2,
    /// Thickness, meters.
    pub thickness: f64,
    /// What absorbs.
    pub core: Core,
    /// What lies before the core, if anything does.
    pub facing: Option<Facing>,
    /// Air to leave behind it when it is hung flat, meters: the usual gap, which all is told by that is not about a plan.
    pub gap: f64,
    /// Other gaps that its fixings allow, meters: a plan chooses for each panel.
    pub other_gaps: Vec<f64>,
    /// How many may be hung by the plan, beside those that hang already.
    pub count: u32,
    /// Name of the type that it excludes: the plan hangs one of the two or the other, never both.
    pub instead_of: Option<String>,
    /// Price of one, in whatever currency.
    pub price: Option<f64>,
    /// Whether it is screwed on, where the scene says so; else its kind does ([`Self::is_drilled`]).
    pub drill: Option<bool>,
    /// Mass of one in kg.
    pub mass: Option<f64>,
    /// How it is made, where the scene says so ([`Self::construction`]).
    pub made: Option<Construction>,
    /// What holds it, where the scene says so ([`Self::held_by`]).
    pub fixing: Option<HeldBy>,
    /// Scattering coefficient by band; `None` where the scene does not say: then a rule does ([`Self::scattering`]).
    pub scattering: Option<Bands<f64>>,
    /// Least distance in meters between it and a seat (diffusers).
    pub least_distance: f64,
}

impl PanelType {
    /// The gaps that its fixings allow, meters, the usual one first.
    pub fn gaps(&self) -> impl Iterator<Item = f64> + '_ {
        std::iter::once(self.gap).chain(self.other_gaps.iter().copied())
    }

    /// The ways to hang it: itself with each of its gaps, the usual one first.
    pub fn ways(&self) -> impl Iterator<Item = Self> + '_ {
        self.gaps().map(|gap| Self { gap, other_gaps: Vec::new(), ..self.clone() })
    }

    /// How it is made: as the scene says, else what is hung flat and is nothing but fiber as a board with hardened edges, what hangs across corners or overhead in a
    /// frame; everything else is bought.
    #[must_use]
    pub fn construction(&self) -> Construction {
        self.made.unwrap_or(match self.kind {
            _ if !self.core.is_fibrous() => Construction::Bought,
            StockKind::Panel => Construction::HardenedBoard,
            StockKind::Corner | StockKind::Cloud => Construction::WoodenFrame,
            _ => Construction::Bought,
        })
    }

    /// Whether its edges are bare fiber or foam: a frame and a hardener close them.
    #[must_use]
    pub fn has_open_edges(&self) -> bool {
        self.construction() == Construction::Bought
    }

    /// What holds it: as the scene says, else wires for clouds, screws for frames, clips for all else.
    #[must_use]
    pub fn held_by(&self) -> HeldBy {
        self.fixing.unwrap_or(match (self.kind, self.construction()) {
            (StockKind::Cloud, _) => HeldBy::Wires,
            (StockKind::Corner, _) | (_, Construction::WoodenFrame) => HeldBy::Screws,
            _ => HeldBy::Clips,
        })
    }

    /// Whether hanging it takes a drill: all but what stands or lies on the floor, unless the scene says otherwise.
    #[must_use]
    pub fn is_drilled(&self) -> bool {
        self.drill.unwrap_or(!self.kind.stands() && self.kind != StockKind::Rug)
    }
}

/// What a piece of stock is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StockKind {
    /// Hung flat on a wall or ceiling.
    Panel,
    /// Hung upright across a corner.
    Corner,
    /// Hung below the ceiling as a cloud.
    Cloud,
    /// Stands freely on the floor.
    FreeStanding,
    /// Hung before a wall.
    Curtain,
    /// Lies on the floor.
    Rug,
    /// Stands against a wall.
    Bookcase,
    /// Scatters instead of absorbing.
    Diffuser,
}

impl StockKind {
    /// Whether it stands on the floor by itself.
    #[must_use]
    pub fn stands(self) -> bool {
        matches!(self, Self::FreeStanding | Self::Bookcase)
    }
}

/// A material of the user's own.
#[derive(Clone, Debug, PartialEq)]
pub struct UserMaterial {
    /// Name.
    pub name: String,
    /// Random-incidence absorption coefficient by octave; `None` where the user gave no value.
    pub absorption: Bands<Option<f64>>,
    /// Scattering coefficient by octave.
    pub scattering: Bands<f64>,
    /// How absorption goes with the angle of incidence.
    pub law: AngleLaw,
    /// The row of the table that it moves like as a whole: for waves, which its absorption leaves a phase open; none where that is empty.
    pub moves_like: String,
    /// Where the values come from.
    pub source: String,
}

/// How absorption goes with the angle of incidence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AngleLaw {
    /// A locally reacting surface of real impedance whose random-incidence value is the given one (the default).
    LocalReaction,
    /// The same at every angle (test rooms).
    Uniform,
}
