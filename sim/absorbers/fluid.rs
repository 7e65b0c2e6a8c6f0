//! What a porous material is to sound: a fluid with losses, of which impedance and wave number depend on the frequency.
//!
//! All in units of air (`Z0`, `k0`, `rho0`, `K0`), time factor `e^(+j w t)`, flow resistivity `sigma` in Pa s/m2:
//!
//! - [`Model::Miki`], `X = f / sigma`: `Zc = 1 + 0.070 X^-0.632 - j 0.107 X^-0.632`, `k = 1 + 0.109 X^-0.618 - j 0.160 X^-0.618`;
//! - [`Model::DelanyBazley`], `X = 1000 f / sigma`: `Zc = 1 + 9.08 X^-0.75 - j 11.9 X^-0.73`, `k = 1 + 10.8 X^-0.70 - j 10.3 X^-0.59`;
//! - [`Model::DelanyBazleyByDensity`], `X = rho0 f / sigma`: `Zc = 1 + 0.0571 X^-0.754 - j 0.0870 X^-0.732`, `k = 1 + 0.0978 X^-0.700 - j 0.1890 X^-0.595`;
//! - [`Model::JohnsonChampouxAllard`], porosity `p`, tortuosity `t`, viscous and thermal length `L`, `L'` ([`Pores`]), viscosity `eta`:
//!   `rho = (t / p) [1 + (sigma p / (j w rho0 t)) sqrt(1 + 4 j t^2 eta rho0 w / (sigma L p)^2)]`,
//!   `K = (gamma P0 / (p K0)) / [gamma - (gamma - 1) / (1 + (8 eta / (j L'^2 Pr w rho0)) sqrt(1 + j L'^2 Pr rho0 w / (16 eta)))]`;
//! - [`Model::ZwikkerKosten`], adiabatic: `rho = t / p + sigma / (j w rho0)`, `K = gamma P0 / (p K0)`.
//!
//! *Which model computes.* A fluid gives out no power when neither its density `rho = Zc k` nor its bulk modulus `K = Zc / k` does: `Im rho <= 0 <= Im K`. Both forms
//! of Delany and Bazley lose the second just above the foot of the range they were fitted on, at `f / sigma` = 0.0107 and 0.0117: thin layers then give out
//! power (a negative absorption coefficient). So they answer where `0.01 < f / sigma < 1` and where they are passive; elsewhere Miki's fit does
//! ([`Model::at`] says which). Miki's own modulus turns active below `f / sigma` = 0.00081 (20 Hz in 25,000 Pa s/m2); there its loss is held at 0 and its size kept.
//!
//! *References.* M. E. Delany and E. N. Bazley, Appl. Acoust. 3 (1970) 105-116; Y. Miki, J. Acoust. Soc. Jpn (E) 11 (1990) 19-24 (constants of both: transcriptions were
//! read). D. L. Johnson, J. Koplik and R. Dashen, J. Fluid Mech. 176 (1987); Y. Champoux and J.-F. Allard, J. Appl. Phys. 70 (1991) (from memory, held to values computed
//! independently). C. Zwikker and C. W. Kosten, Sound Absorbing Materials (1949) (from memory).
//!
//! *Limits.* The frame stands still: below about `sigma / (2 pi m)`, `m` its density in kg/m3, it moves with the sound. The fits know fibrous layers; Miki's
//! below `f / sigma` = 0.01 is an extrapolation, and foams want their own [`Pores`]. Models differ by about 0.05 in absorption below 1 kHz. Air at 20 degrees C.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::held;
use crate::air::REFERENCE_SPEED;

/// Density of air, kg/m3.
pub const AIR_DENSITY: f64 = 1.2041;

/// Characteristic impedance of air, Pa s/m.
pub const AIR_IMPEDANCE: f64 = AIR_DENSITY * REFERENCE_SPEED;

/// Dynamic viscosity of air, Pa s.
pub const AIR_VISCOSITY: f64 = 1.84e-5;

/// Static pressure, Pa.
const PRESSURE: f64 = 101_325.0;

/// Ratio of the specific heats of air.
const HEAT_RATIO: f64 = 1.4;

/// Bulk modulus of air that keeps its heat, re `K0 = rho0 c^2`: 1 but for the rounding of these constants.
const ADIABATIC: f64 = HEAT_RATIO * PRESSURE / (AIR_IMPEDANCE * REFERENCE_SPEED);

/// Prandtl's number of air.
const PRANDTL: f64 = 0.71;

/// The model by which a porous layer is computed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Model {
    /// Miki's fit to fibrous layers: what a layer known by its flow resistivity alone is computed by.
    #[default]
    Miki,
    /// The fit of Delany and Bazley as first published, `X = 1000 f / sigma`; Miki's where it does not hold.
    DelanyBazley,
    /// The same data fitted over `X = rho0 f / sigma`; Miki's where it does not hold.
    DelanyBazleyByDensity,
    /// Johnson, Champoux and Allard: a rigid frame with pores of any shape.
    JohnsonChampouxAllard(Pores),
    /// Zwikker and Kosten: a constant resistance; the air in the pores keeps its heat.
    ZwikkerKosten {
        /// Share of the volume that is air.
        porosity: f64,
        /// Tortuosity (structure factor), 1 or more.
        tortuosity: f64,
    },
}

/// What the pores of a rigid frame are like; `None` takes the value of loose fiber.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pores {
    /// Share of the volume that is air; of fiber 0.98.
    pub porosity: Option<f64>,
    /// Tortuosity, 1 or more; of fiber `1 + (1 - porosity)`.
    pub tortuosity: Option<f64>,
    /// Viscous length in meters; of fiber `sqrt(8 tortuosity eta / (sigma porosity))`.
    pub viscous_length: Option<f64>,
    /// Thermal length in meters; of fiber twice the viscous one.
    pub thermal_length: Option<f64>,
}

/// A fluid with losses at one frequency, in units of air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fluid {
    /// Characteristic impedance, re that of air.
    pub impedance: Complex64,
    /// Wave number, re that of air.
    pub index: Complex64,
}

impl Fluid {
    /// Air itself.
    pub const AIR: Self = Self { impedance: Complex64::ONE, index: Complex64::ONE };

    /// A fluid of this density and bulk modulus, both re air.
    fn new(density: Complex64, modulus: Complex64) -> Self {
        // Both roots on the right half plane: the wave that dies away as it goes.
        Self { impedance: root(density) * root(modulus), index: root(density) / root(modulus) }
    }

    /// Density, re air.
    #[must_use]
    pub fn density(self) -> Complex64 {
        self.impedance * self.index
    }

    /// Bulk modulus, re air.
    #[must_use]
    pub fn modulus(self) -> Complex64 {
        self.impedance / self.index
    }

    /// Whether neither density nor modulus gives out power, so that no stack of this fluid does at any angle.
    #[must_use]
    pub fn is_passive(self) -> bool {
        self.density().im <= 0.0 && (self.impedance * self.index.conj()).im >= 0.0
    }

    /// The same where it is passive; else with a modulus of the same size without loss.
    fn held_passive(self) -> Self {
        if self.is_passive() { self } else { Self::new(self.density(), Complex64::from(self.modulus().norm())) }
    }
}

impl Model {
    /// The model that computes when this one is asked for, at this flow resistivity in Pa s/m2 and frequency in Hz: itself, or Miki's fit where it does not hold.
    #[must_use]
    pub fn at(self, flow_resistivity: f64, frequency: f64) -> Self {
        if self.holds_at(flow_resistivity, frequency) { self } else { Self::Miki }
    }

    /// Whether this model computes what it is asked for; all but the fits of Delany and Bazley always do.
    #[must_use]
    pub fn holds_at(self, flow_resistivity: f64, frequency: f64) -> bool {
        match self {
            Self::DelanyBazley | Self::DelanyBazleyByDensity => {
                frequency > 0.01 * flow_resistivity
                    && frequency < flow_resistivity
                    && self.formula(flow_resistivity, frequency).is_passive()
            }
            Self::Miki | Self::JohnsonChampouxAllard(_) | Self::ZwikkerKosten { .. } => true,
        }
    }

    /// Whether the frequency in Hz lies within what the constants of this model were fitted on; models without fitted constants have no such range.
    #[must_use]
    pub fn is_fitted_at(self, flow_resistivity: f64, frequency: f64) -> bool {
        match self {
            Self::Miki | Self::DelanyBazley | Self::DelanyBazleyByDensity => {
                (0.01 * flow_resistivity..=flow_resistivity).contains(&frequency)
            }
            Self::JohnsonChampouxAllard(_) | Self::ZwikkerKosten { .. } => true,
        }
    }

    /// The fluid at this flow resistivity in Pa s/m2 and frequency in Hz (above 0), by the model that holds there; passive.
    #[must_use]
    pub fn fluid(self, flow_resistivity: f64, frequency: f64) -> Fluid {
        self.at(flow_resistivity, frequency).formula(flow_resistivity, frequency).held_passive()
    }

    /// What the formulas of this model give, whether they hold there or not.
    #[must_use]
    pub fn formula(self, flow_resistivity: f64, frequency: f64) -> Fluid {
        // A layer without resistance has an infinite X: the powers vanish and leave air.
        let fit = |x: f64, impedance: [(f64, f64); 2], index: [(f64, f64); 2]| {
            let value = |[real, imaginary]: [(f64, f64); 2]| {
                let real_power = x.powf(-real.1);
                let imaginary_power = if real.1.to_bits() == imaginary.1.to_bits() { real_power } else { x.powf(-imaginary.1) };
                Complex64::new(1.0 + real.0 * real_power, -imaginary.0 * imaginary_power)
            };
            Fluid { impedance: value(impedance), index: value(index) }
        };
        let x = frequency / flow_resistivity;
        match self {
            Self::Miki => fit(x, [(0.070, 0.632), (0.107, 0.632)], [(0.109, 0.618), (0.160, 0.618)]),
            Self::DelanyBazley => fit(1000.0 * x, [(9.08, 0.75), (11.9, 0.73)], [(10.8, 0.70), (10.3, 0.59)]),
            Self::DelanyBazleyByDensity => fit(AIR_DENSITY * x, [(0.0571, 0.754), (0.0870, 0.732)], [(0.0978, 0.700), (0.1890, 0.595)]),
            Self::JohnsonChampouxAllard(pores) => pores.fluid(flow_resistivity, TAU * frequency),
            Self::ZwikkerKosten { porosity, tortuosity } => {
                let (porosity, tortuosity) = (share(porosity), held(tortuosity, 1.0, MOST_TORTUOUS));
                let density = Complex64::new(tortuosity / porosity, -flow_resistivity / (TAU * frequency * AIR_DENSITY));
                Fluid::new(density, Complex64::from(ADIABATIC / porosity))
            }
        }
    }

    /// Name, for print.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Miki => "Miki",
            Self::DelanyBazley | Self::DelanyBazleyByDensity => "Delany-Bazley",
            Self::JohnsonChampouxAllard(_) => "Johnson-Champoux-Allard",
            Self::ZwikkerKosten { .. } => "Zwikker-Kosten",
        }
    }
}

/// Porosity of loose fiber, common practice.
const FIBER_POROSITY: f64 = 0.98;

/// No frame is more tortuous.
const MOST_TORTUOUS: f64 = 100.0;

impl Pores {
    /// The fluid at this flow resistivity and angular frequency in 1/s.
    fn fluid(self, flow_resistivity: f64, omega: f64) -> Fluid {
        let porosity = share(self.porosity.unwrap_or(FIBER_POROSITY));
        let tortuosity = held(self.tortuosity.unwrap_or(2.0 - porosity), 1.0, MOST_TORTUOUS);
        // Pores without resistance are as wide as one likes.
        let of_fiber = (8.0 * tortuosity * AIR_VISCOSITY / (flow_resistivity * porosity)).sqrt();
        let viscous = length(self.viscous_length.unwrap_or(of_fiber));
        let thermal = length(self.thermal_length.unwrap_or(2.0 * viscous));
        // j w rho0 times the term with the resistance in it, so that no resistance is no division by 0.
        let inertia = 4.0 * AIR_VISCOSITY * AIR_DENSITY * omega * (tortuosity / (viscous * porosity)).powi(2);
        let drag = porosity * root(Complex64::new(flow_resistivity * flow_resistivity, inertia))
            / (Complex64::I * omega * AIR_DENSITY * tortuosity);
        let density = tortuosity / porosity * (1.0 + drag);
        let heat = thermal * thermal * PRANDTL * AIR_DENSITY * omega / AIR_VISCOSITY;
        let held_heat = 1.0 + 8.0 / (Complex64::I * heat) * root(Complex64::new(1.0, heat / 16.0));
        let modulus = ADIABATIC / porosity / (HEAT_RATIO - (HEAT_RATIO - 1.0) / held_heat);
        Fluid::new(density, modulus)
    }
}

/// A share of the volume, held where a frame is still a frame; undefined counts as the least.
fn share(porosity: f64) -> f64 {
    held(porosity, 0.01, 1.0)
}

/// A length of pores, from a tenth of a micrometer to a tenth of a meter.
fn length(meters: f64) -> f64 {
    held(meters, 1e-7, 0.1)
}

/// The square root with a real part of 0 or more; for the wave numbers here, the wave that dies away.
pub(super) fn root(square: Complex64) -> Complex64 {
    let length = square.re.hypot(square.im);
    let re = (length + square.re).max(0.0).sqrt() / std::f64::consts::SQRT_2;
    let im = (length - square.re).max(0.0).sqrt() / std::f64::consts::SQRT_2;
    Complex64::new(re, im.copysign(square.im))
}
