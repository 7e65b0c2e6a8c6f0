//! What an absorber is made of: layers, front first, and what is behind them.
//!
//! - [`Layer::Porous`]: fiber or foam, by a [`Model`] of `fluid`;
//! - [`Layer::Air`]: a cavity;
//! - [`Layer::Membrane`]: foil or board without stiffness, mass `m` per area: `Z = r + j w m`;
//! - [`Layer::Cloth`]: flow resistance and mass per area side by side, `Z = 1 / (1 / R + 1 / (j w m))`: light cloth moves along and resists less;
//! - [`Layer::Perforated`], [`Layer::Slotted`]: a sheet with openings (`opening`).
//!
//! A membrane absorber is a membrane before a cavity, with or without fill: it resonates where the mass and the spring of the air cancel, with air alone at
//! `60 / sqrt(m d)` Hz. A perforated sheet before a cavity resonates at `(c / 2 pi) sqrt(e / (d (t + 2 ends)))`, `e` the open share, `d` the depth, `t` the thickness: these two
//! formulas of the text books hold where `d` is small against the wavelength. Both absorbers are build-ups like others here and no formula is used.
//!
//! *What runs sideways.* Sound inside fiber and cavities goes on at the angle of refraction (bulk reaction). With [`BuildUp::in_cells`] partitions across all layers,
//! closer than half a wavelength, stop that: the build-up then has one impedance for all angles, and absorbs more low sound in a diffuse field.
//!
//! *Free air behind* ([`Backing::FreeAir`]) is what a suspended cloud has, far from any surface. What passes through is neither absorbed nor lost: `1 = |R|^2 + |T|^2 + absorbed`.
//!
//! *References.* J.-F. Allard and N. Atalla, Propagation of Sound in Porous Media, chapters 2, 3, 9, 11; T. J. Cox and P. D'Antonio, Acoustic Absorbers and Diffusers, chapters 6, 7 (from
//! memory). L. L. Beranek, Acoustics (cloth that moves, from memory).
//!
//! *Limits.* Layers are endless and even. Membranes have no stiffness: boards do near their coincidence frequency and where they are fixed. Layers are in contact as
//! they stand: a membrane glued to fiber is loaded by it a little more. What is not a number counts as 0, what is out of reason as the nearest that is
//! ([`MOST_RESISTIVE`], [`THICKEST`], [`HEAVIEST`], openings of a micrometer to a meter, an open share of 1e-6 to 1).

use num_complex::Complex64;

use super::fluid::Model;
use super::held;
use super::stack::Tone;
use crate::bands::{Band, Bands};

/// The highest flow resistivity in Pa s/m2, and flow resistance in Pa s/m: nothing flows.
pub const MOST_RESISTIVE: f64 = 1e9;

/// The thickest layer in meters.
pub const THICKEST: f64 = 100.0;

/// The heaviest membrane, kg/m2.
pub const HEAVIEST: f64 = 1e5;

/// One layer of an absorber.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Layer {
    /// Fiber or open foam.
    Porous {
        /// Flow resistivity in Pa s/m2.
        flow_resistivity: f64,
        /// Thickness in meters.
        thickness: f64,
        /// How it is computed.
        model: Model,
    },
    /// A cavity.
    Air {
        /// Thickness in meters.
        thickness: f64,
    },
    /// Foil, or a board that bends freely.
    Membrane {
        /// Mass in kg/m2.
        mass: f64,
        /// What its movement loses, as a resistance in Pa s/m; 0 for foil.
        resistance: f64,
    },
    /// Cloth or fleece.
    Cloth {
        /// Flow resistance in Pa s/m.
        resistance: f64,
        /// Mass in kg/m2; infinite where it is held still.
        mass: f64,
    },
    /// A sheet with round holes.
    Perforated {
        /// Diameter of the holes in meters.
        hole: f64,
        /// Share of the area that is open, 0 to 1.
        open: f64,
        /// Thickness of the sheet in meters.
        thickness: f64,
    },
    /// A sheet with slots, or slats side by side.
    Slotted {
        /// Width of the slots in meters.
        slot: f64,
        /// Share of the area that is open, 0 to 1.
        open: f64,
        /// Thickness of the sheet in meters.
        thickness: f64,
    },
}

impl Layer {
    /// Fiber of this flow resistivity in Pa s/m2 and thickness in meters, by Miki's fit.
    #[must_use]
    pub fn fiber(flow_resistivity: f64, thickness: f64) -> Self {
        Self::Porous { flow_resistivity, thickness, model: Model::Miki }
    }

    /// Its thickness in meters; 0 for membranes and cloth.
    #[must_use]
    pub fn thickness(&self) -> f64 {
        match *self {
            Self::Porous { thickness, .. }
            | Self::Air { thickness }
            | Self::Perforated { thickness, .. }
            | Self::Slotted { thickness, .. } => held(thickness, 0.0, THICKEST),
            Self::Membrane { .. } | Self::Cloth { .. } => 0.0,
        }
    }
}

/// What is behind the last layer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Backing {
    /// A wall that does not move.
    #[default]
    Rigid,
    /// Air without end.
    FreeAir,
}

/// How sound comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Incidence {
    /// Straight on.
    Normal,
    /// At this cosine of the angle of incidence.
    Oblique(f64),
    /// From everywhere, as in a diffuse field.
    Diffuse,
}

/// An absorber: its layers and what is behind them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BuildUp {
    /// The layers, front first.
    pub layers: Vec<Layer>,
    /// What is behind them.
    pub backing: Backing,
    /// Whether partitions keep sound from running sideways in all layers.
    pub cells: bool,
}

/// A porous layer of a build-up that is not computed by the model asked for, in some octaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Substitute {
    /// Index of the layer, 0 in front.
    pub layer: usize,
    /// The model asked for.
    pub asked: Model,
    /// The model that computes instead.
    pub used: Model,
    /// In which octaves, by their center.
    pub bands: Bands<bool>,
}

impl BuildUp {
    /// These layers, front first, before a rigid wall.
    #[must_use]
    pub fn new(layers: impl Into<Vec<Layer>>) -> Self {
        Self { layers: layers.into(), backing: Backing::Rigid, cells: false }
    }

    /// Fiber of this flow resistivity in Pa s/m2 and thickness in meters, `gap` meters before a rigid wall.
    #[must_use]
    pub fn panel(flow_resistivity: f64, thickness: f64, gap: f64) -> Self {
        Self::new([Layer::fiber(flow_resistivity, thickness), Layer::Air { thickness: gap }])
    }

    /// The same with this layer before all others.
    #[must_use]
    pub fn faced(mut self, facing: Layer) -> Self {
        self.layers.insert(0, facing);
        self
    }

    /// The same with free air behind it.
    #[must_use]
    pub fn suspended(self) -> Self {
        Self { backing: Backing::FreeAir, ..self }
    }

    /// The same with partitions across all layers.
    #[must_use]
    pub fn in_cells(self) -> Self {
        Self { cells: true, ..self }
    }

    /// The same seen from behind: the last layer in front.
    #[must_use]
    pub fn reversed(mut self) -> Self {
        self.layers.reverse();
        self
    }

    /// Distance of the front from the back in meters.
    #[must_use]
    pub fn depth(&self) -> f64 {
        self.layers.iter().map(Layer::thickness).sum()
    }

    /// Whether the models of all porous layers are within what their constants were fitted on at this frequency in Hz.
    #[must_use]
    pub fn is_fitted_at(&self, frequency: f64) -> bool {
        self.layers.iter().all(|layer| match *layer {
            Layer::Porous { flow_resistivity, model, .. } => {
                let flow_resistivity = held(flow_resistivity, 0.0, MOST_RESISTIVE);
                model.at(flow_resistivity, frequency).is_fitted_at(flow_resistivity, frequency)
            }
            _ => true,
        })
    }

    /// The porous layers that another model computes than the one asked for, and in which octaves.
    #[must_use]
    pub fn substitutes(&self) -> Vec<Substitute> {
        let of_layer = |(index, layer): (usize, &Layer)| {
            let Layer::Porous { flow_resistivity, model, .. } = *layer else { return None };
            let flow_resistivity = held(flow_resistivity, 0.0, MOST_RESISTIVE);
            let bands = Bands::from_fn(|band: Band| !model.holds_at(flow_resistivity, band.center()));
            let (_, used) =
                Band::ALL.map(|band| (bands[band], model.at(flow_resistivity, band.center()))).into_iter().find(|(other, _)| *other)?;
            Some(Substitute { layer: index, asked: model, used, bands })
        };
        self.layers.iter().enumerate().filter_map(of_layer).collect()
    }

    /// The build-up at one frequency in Hz, to be asked at many angles.
    #[must_use]
    pub fn tone(&self, frequency: f64) -> Tone {
        Tone::new(self, frequency)
    }

    /// Ratio of pressure to velocity (into the surface) at the front, re the impedance of air, at a frequency in Hz and cosine of the angle of incidence; infinite where
    /// the front stands still.
    #[must_use]
    pub fn surface_impedance(&self, frequency: f64, cosine: f64) -> Complex64 {
        self.tone(frequency).surface_impedance(cosine)
    }

    /// Pressure mirrored by the front, re the one that comes, there; time factor `e^(+j w t)`.
    #[must_use]
    pub fn reflection_factor(&self, frequency: f64, cosine: f64) -> Complex64 {
        self.tone(frequency).reflection_factor(cosine)
    }

    /// Pressure that leaves at the back, re the one that comes; 0 before a wall.
    #[must_use]
    pub fn transmission_factor(&self, frequency: f64, cosine: f64) -> Complex64 {
        self.tone(frequency).transmission_factor(cosine)
    }

    /// Share of the power that comes and is turned into heat; with air behind, what passes through is neither mirrored nor absorbed.
    #[must_use]
    pub fn absorption(&self, frequency: f64, cosine: f64) -> f64 {
        self.absorption_by(frequency, Incidence::Oblique(cosine))
    }

    /// The same at normal incidence.
    #[must_use]
    pub fn normal(&self, frequency: f64) -> f64 {
        self.absorption_by(frequency, Incidence::Normal)
    }

    /// The same in a diffuse field (all angles to grazing, weight `2 c dc`).
    #[must_use]
    pub fn diffuse(&self, frequency: f64) -> f64 {
        self.absorption_by(frequency, Incidence::Diffuse)
    }

    /// The same for sound that comes so; rounding errors beyond 0 and 1 are held there.
    #[must_use]
    pub fn absorption_by(&self, frequency: f64, incidence: Incidence) -> f64 {
        held(self.tone(frequency).absorption_by(incidence), 0.0, 1.0)
    }

    /// Absorption coefficient by frequency in Hz.
    #[must_use]
    pub fn curve(&self, frequencies: &[f64], incidence: Incidence) -> Vec<f64> {
        frequencies.iter().map(|&frequency| self.absorption_by(frequency, incidence)).collect()
    }
}
