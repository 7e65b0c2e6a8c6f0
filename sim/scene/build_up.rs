//! What a panel is made of, in the words of the person who builds it: the core, layer by layer, and what lies before it.
//!
//! Front first, everywhere. A panel's `thickness` holds its facing's sheet and its layers; the air of `gap` comes behind it, then the wall.
//!
//! *Limits.* A core that is a row of a table is what was measured, facing and all: only a cloth that breathes may lie before it.

use super::{PanelType, StockKind};
use crate::absorbers::fluid::{Model, Pores};
use crate::absorbers::resistivity::Estimate;
pub use crate::absorbers::resistivity::Fiber;
use crate::absorbers::scattering;
use crate::bands::Bands;

/// What a panel absorbs with.
#[derive(Clone, Debug, PartialEq)]
pub enum Core {
    /// Fiber or open foam, as thick as the panel less the sheet before it.
    Porous(Filling),
    /// Several layers, front first.
    Layers(Vec<CoreLayer>),
    /// A row of the materials table or a user material.
    Material(String),
}

/// One layer of a core.
#[derive(Clone, Debug, PartialEq)]
pub enum CoreLayer {
    /// Fiber or open foam.
    Porous {
        /// What it is.
        filling: Filling,
        /// Meters.
        thickness: f64,
    },
    /// Air in which sound may run sideways.
    Air {
        /// Meters.
        thickness: f64,
    },
    /// A cloth, membrane or sheet between the others.
    Sheet(Facing),
}

/// Fiber or open foam: its flow resistivity, or what that follows from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filling {
    /// Pa s/m2. Where it is given it holds, whatever the fibers are.
    pub flow_resistivity: Option<f64>,
    /// What it is made of.
    pub fiber: Option<Fibers>,
    /// By what it is computed.
    pub law: PorousLaw,
}

/// By what the sound in a filling is computed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum PorousLaw {
    /// Miki's fit to fiber of any flow resistivity.
    #[default]
    Miki,
    /// The older fit of Delany and Bazley, Miki's where it does not hold.
    DelanyBazley,
    /// Johnson's, Champoux's and Allard's law of rigid frames, for foams and whatever the pores are known of.
    Pores(Pores),
}

impl Filling {
    /// A filling of this flow resistivity in Pa s/m2.
    #[must_use]
    pub fn of_resistivity(flow_resistivity: f64) -> Self {
        Self { flow_resistivity: Some(flow_resistivity), fiber: None, law: PorousLaw::Miki }
    }

    /// Flow resistivity in Pa s/m2: as given, or by published laws from density and fibers, with their spread.
    ///
    /// # Panics
    /// Never for what a scene holds: one of both is given there, and no fiber is as dense as its own stuff.
    #[must_use]
    pub fn resistivity(&self) -> Estimate {
        let given = self.flow_resistivity.map(|given| Estimate { likely: given, low: given, high: given });
        let by_law = || self.fiber.and_then(|fiber| fiber.kind.resistivity(fiber.density, fiber.diameter));
        given.or_else(by_law).expect("a checked scene gives one of both, within its limits")
    }

    /// The model that is asked for.
    #[must_use]
    pub fn model(&self) -> Model {
        match self.law {
            PorousLaw::Miki => Model::Miki,
            PorousLaw::DelanyBazley => Model::DelanyBazley,
            PorousLaw::Pores(pores) => Model::JohnsonChampouxAllard(pores),
        }
    }
}

/// Fibers of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fibers {
    /// What they are of.
    pub kind: Fiber,
    /// Mass of the layer per volume, kg/m3.
    pub density: f64,
    /// Meters; the kind's usual one where it is not known.
    pub diameter: Option<f64>,
}

/// What lies before a core, or between its layers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Facing {
    /// A cloth that one can breathe through: it changes nothing.
    OpenCloth,
    /// A denser cloth.
    Cloth {
        /// Pressure over velocity of air that flows through it, Pa s/m.
        flow_resistance: f64,
        /// kg/m2.
        mass: f64,
    },
    /// Film, foil or thin board: nothing flows through it.
    Membrane {
        /// kg/m2.
        mass: f64,
    },
    /// A rigid sheet with round holes.
    Perforated {
        /// Diameter of a hole, meters.
        hole: f64,
        /// Share of the area that is holes.
        open: f64,
        /// Of the sheet, meters.
        thickness: f64,
    },
    /// Rigid slats with slots between them.
    Slotted {
        /// Width of a slot, meters.
        slot: f64,
        /// Share of the area that is slots.
        open: f64,
        /// Of the slats, meters.
        thickness: f64,
    },
}

impl Core {
    /// A single layer of this flow resistivity in Pa s/m2.
    #[must_use]
    pub fn porous(flow_resistivity: f64) -> Self {
        Self::Porous(Filling::of_resistivity(flow_resistivity))
    }

    /// Whether there are fibers or foam to cut.
    #[must_use]
    pub fn is_fibrous(&self) -> bool {
        match self {
            Self::Porous(_) => true,
            Self::Layers(layers) => layers.iter().any(|layer| matches!(layer, CoreLayer::Porous { .. })),
            Self::Material(_) => false,
        }
    }
}

impl CoreLayer {
    /// Meters.
    #[must_use]
    pub fn thickness(&self) -> f64 {
        match self {
            Self::Porous { thickness, .. } | Self::Air { thickness } => *thickness,
            Self::Sheet(sheet) => sheet.thickness(),
        }
    }
}

impl Facing {
    /// What it takes of a panel's thickness, meters; cloth and membranes count as thin.
    #[must_use]
    pub fn thickness(&self) -> f64 {
        match self {
            Self::OpenCloth | Self::Cloth { .. } | Self::Membrane { .. } => 0.0,
            Self::Perforated { thickness, .. } | Self::Slotted { thickness, .. } => *thickness,
        }
    }
}

/// By what a panel's scattering coefficient is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ScatteringRule {
    /// The scene gives it.
    Given,
    /// Flat things: [`FLAT_SCATTERING`] in every octave (common practice, no source).
    Flat,
    /// Slats and slots, beside what flat things scatter.
    Slots {
        /// Width of a slot and a slat, meters.
        period: f64,
    },
    /// Steps of random depth, beside what flat things scatter.
    Steps {
        /// From the foremost to the rearmost, meters.
        depth: f64,
        /// What the row of them repeats after, meters.
        period: f64,
    },
}

/// What flat things scatter where nothing else is known (common practice, no source).
pub const FLAT_SCATTERING: f64 = 0.1;

/// How deep books and shelves step, as a share of a bookcase's depth (common practice, no source).
const SHELF_STEPS: f64 = 1.0 / 3.0;

impl PanelType {
    /// By what its scattering coefficient is known: the scene's word wins.
    #[must_use]
    pub fn scattering_rule(&self) -> ScatteringRule {
        match (self.kind, self.front_sheet()) {
            _ if self.scattering.is_some() => ScatteringRule::Given,
            // What stands on shelves is in no order, and the wells of a diffuser in none that repeats within it.
            (StockKind::Bookcase, _) => ScatteringRule::Steps { depth: SHELF_STEPS * self.thickness, period: self.size.min_element() },
            (StockKind::Diffuser, _) => ScatteringRule::Steps { depth: self.thickness, period: self.size.min_element() },
            (_, Some(Facing::Slotted { slot, open, .. })) => ScatteringRule::Slots { period: slot / open },
            _ => ScatteringRule::Flat,
        }
    }

    /// What lies before its core, or first in it.
    fn front_sheet(&self) -> Option<Facing> {
        let first = || if let Core::Layers(layers) = &self.core { layers.first() } else { None };
        self.facing.or_else(|| if let CoreLayer::Sheet(sheet) = first()? { Some(*sheet) } else { None })
    }

    /// Scattering coefficient by octave: as the scene gives it, or by its rule.
    #[must_use]
    pub fn scattering(&self) -> Bands<f64> {
        let flat = Bands::splat(FLAT_SCATTERING);
        match (self.scattering_rule(), self.front_sheet()) {
            (ScatteringRule::Steps { depth, period }, _) => scattering::together(flat, scattering::steps(depth, period)),
            (ScatteringRule::Slots { .. }, Some(Facing::Slotted { slot, open, .. })) => {
                scattering::together(flat, scattering::slots(slot, open))
            }
            _ => self.scattering.unwrap_or(flat),
        }
    }

    /// The layers from the front to the back of the panel, the facing first, its gap left out; `None` where the core is a measured row.
    ///
    /// What the layers leave of the thickness is air behind them.
    #[must_use]
    pub fn layers(&self) -> Option<Vec<CoreLayer>> {
        let facing = self.facing.filter(|facing| *facing != Facing::OpenCloth);
        let rest = self.thickness - facing.map_or(0.0, |facing| facing.thickness());
        let mut layers: Vec<CoreLayer> = facing.into_iter().map(CoreLayer::Sheet).collect();
        match &self.core {
            Core::Porous(filling) => layers.push(CoreLayer::Porous { filling: *filling, thickness: rest.max(0.0) }),
            Core::Layers(core) => {
                layers.extend(core.iter().cloned());
                let left = rest - core.iter().map(CoreLayer::thickness).sum::<f64>();
                layers.extend((left > THIN).then_some(CoreLayer::Air { thickness: left }));
            }
            Core::Material(_) => return None,
        }
        Some(layers)
    }
}

/// Layers may miss a panel's thickness by this much, meters: nobody measures wool to less.
pub(super) const THIN: f64 = 0.001;
