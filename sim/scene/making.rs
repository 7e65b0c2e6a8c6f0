//! How panels are made, marked out and hung: the scene's `[build]` and `[[structure]]`, and of each type in stock how it is made and fixed.
//!
//! *References.* What is taken where a scene says nothing is common practice without a source: a fold of 100 mm on the back, a cut of 3 mm, a design factor of 5, a
//! secondary wire with 25 mm of slack, 150 mm of wire for a loop, three hours an evening. Drying times are guesses until the maker's sheet is typed in.
//!
//! *Limits.* Members run straight up or across a surface, evenly spaced; whether they are sound nobody knows but who looks.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How a panel comes into being.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Construction {
    /// A board whose edges are stiffened with a hardener, wrapped in cloth.
    HardenedBoard,
    /// A frame of wood round the core, wrapped in cloth.
    WoodenFrame,
    /// Bought as it hangs.
    Bought,
}

impl Construction {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::HardenedBoard, Self::WoodenFrame, Self::Bought];

    /// The word of the scene's `made`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::HardenedBoard => "hardened board",
            Self::WoodenFrame => "wooden frame",
            Self::Bought => "bought",
        }
    }
}

/// What holds a panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum HeldBy {
    /// Clips screwed to the wall, their other half to the panel.
    Clips,
    /// Screws through the frame.
    Screws,
    /// Hooks and eyes.
    Hooks,
    /// Wires from above.
    Wires,
    /// Adhesive.
    Glue,
    /// Hook-and-loop tape.
    HookAndLoop,
    /// Clips whose points are pressed into the core.
    Impaling,
    /// Magnets.
    Magnets,
}

impl HeldBy {
    /// All of them.
    pub const ALL: [Self; 8] =
        [Self::Clips, Self::Screws, Self::Hooks, Self::Wires, Self::Glue, Self::HookAndLoop, Self::Impaling, Self::Magnets];

    /// The word of the scene's `fixing`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clips => "clips",
            Self::Screws => "screws",
            Self::Hooks => "hooks",
            Self::Wires => "wires",
            Self::Glue => "glue",
            Self::HookAndLoop => "hook-and-loop",
            Self::Impaling => "impaling clips",
            Self::Magnets => "magnets",
        }
    }

    /// Whether it closes round something or goes through it, so that it may hold above people.
    #[must_use]
    pub fn is_positive(self) -> bool {
        matches!(self, Self::Clips | Self::Screws | Self::Hooks | Self::Wires)
    }
}

/// What stands or runs behind a surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StructureKind {
    /// Upright members of a framed wall.
    Studs,
    /// Level members of a ceiling.
    Joists,
    /// Sloped members of a roof.
    Rafters,
    /// Members of a truss.
    Trusses,
    /// Beams.
    Beams,
    /// Masonry or concrete all over.
    Solid,
    /// A track that a door runs in.
    DoorTrack,
    /// A pipe.
    Pipe,
    /// A rail of lamps.
    LampRail,
}

impl StructureKind {
    /// All of them.
    pub const ALL: [Self; 9] =
        [Self::Studs, Self::Joists, Self::Rafters, Self::Trusses, Self::Beams, Self::Solid, Self::DoorTrack, Self::Pipe, Self::LampRail];

    /// The word of the scene's `kind`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Studs => "studs",
            Self::Joists => "joists",
            Self::Rafters => "rafters",
            Self::Trusses => "trusses",
            Self::Beams => "beams",
            Self::Solid => "solid",
            Self::DoorTrack => "door track",
            Self::Pipe => "pipe",
            Self::LampRail => "lamp rail",
        }
    }

    /// Whether it belongs to what carries the building. What moves, or was made to carry something else, is no anchor.
    #[must_use]
    pub fn is_structural(self) -> bool {
        !matches!(self, Self::DoorTrack | Self::Pipe | Self::LampRail)
    }
}

/// Which way members run on their surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Runs {
    /// From the lower edge to the upper one: each at a distance from the left edge.
    Up,
    /// From left to right: each at a distance from the lower edge.
    Across,
}

impl Runs {
    /// Both, with their words.
    pub const WORDS: [(&'static str, Self); 2] = [("up", Self::Up), ("across", Self::Across)];
}

/// Members behind a surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Structure {
    /// What they are called on the sheet.
    pub name: String,
    /// What they are.
    pub kind: StructureKind,
    /// Name of the wall or ceiling plane.
    pub surface: String,
    /// Which way they run.
    pub runs: Runs,
    /// Middle of the first one from the left edge (running up) or the lower edge (across), meters.
    pub first: f64,
    /// From middle to middle, meters; `None` for one alone.
    pub spacing: Option<f64>,
    /// How wide each is, meters.
    pub width: f64,
}

/// The paper that sheets are printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Paper {
    /// 210 x 297 mm.
    #[serde(rename = "A4")]
    A4,
    /// 8 1/2 x 11 in.
    #[serde(rename = "US Letter")]
    Letter,
}

impl Paper {
    /// Both, with their words.
    pub const WORDS: [(&'static str, Self); 2] = [("A4", Self::A4), ("US Letter", Self::Letter)];
}

/// A person's own rule for fixing points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnFixings {
    /// How many on each panel.
    pub count: u32,
    /// How far in from each edge, meters.
    pub inset: f64,
}

/// `[build]`, and what stands behind the surfaces.
#[derive(Clone, Debug, PartialEq)]
pub struct Making {
    /// The paper; `None`: by the scene's unit.
    pub paper: Option<Paper>,
    /// Cloth folded on the back, meters.
    pub cloth_return: f64,
    /// The cloth has a direction: pieces are not turned.
    pub patterned: bool,
    /// Width of a cut, meters.
    pub kerf: f64,
    /// The table that panels dry on, meters.
    pub table: DVec2,
    /// Hours that an evening has.
    pub evening_hours: f64,
    /// Hours that a hardener dries, by the maker's sheet.
    pub harden_hours: Option<f64>,
    /// Hours that an adhesive dries, by the maker's sheet.
    pub glue_hours: Option<f64>,
    /// Share that is bought beyond what is needed.
    pub spare: f64,
    /// Least gap between two panels, meters.
    pub least_gap: f64,
    /// How far a panel may be moved so that the gaps of a row are equal, meters.
    pub even_within: f64,
    /// The person's own rule for fixing points.
    pub fixings: Option<OwnFixings>,
    /// What one fixing point is rated for by its maker, kg.
    pub fixing_holds: Option<f64>,
    /// Strength over load of everything overhead, at least.
    pub design_factor: f64,
    /// What the parts of one overhead point break at, newtons, by their makers' sheets.
    pub breaks_at: Vec<(String, f64)>,
    /// Shortest wire that its fittings have room in, meters.
    pub least_wire: f64,
    /// What the loop at one end of a wire takes, with the tail beyond its clamps, meters.
    pub wire_loop: f64,
    /// Slack of the secondary wire at most, meters.
    pub slack: f64,
    /// What stands behind the surfaces.
    pub structure: Vec<Structure>,
}

impl Default for Making {
    fn default() -> Self {
        Self {
            paper: None,
            cloth_return: 0.1,
            patterned: false,
            kerf: 0.003,
            table: DVec2::new(1.2, 2.4),
            evening_hours: 3.0,
            harden_hours: None,
            glue_hours: None,
            spare: 0.1,
            least_gap: 0.005,
            even_within: 0.025,
            fixings: None,
            fixing_holds: None,
            design_factor: 5.0,
            breaks_at: Vec::new(),
            least_wire: 0.05,
            wire_loop: 0.15,
            slack: 0.025,
            structure: Vec::new(),
        }
    }
}
