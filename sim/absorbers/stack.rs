//! A build-up at one frequency: what pressure and velocity are at its front, and what it mirrors, passes and absorbs.
//!
//! Pressure `p` and velocity `v` (times `Z0`, into the surface) at the back are 1 and 0 before a rigid wall, 1 and `c` before free air, `c` the cosine of the angle of
//! incidence. Each layer carries them to its front: a fluid of index `n` and density `rho` (re air) with `q = sqrt(n^2 - 1 + c^2)` by
//!
//! `p' = cos(q k0 d) p + j (rho / q) sin(q k0 d) v`, `v' = j (q / rho) sin(q k0 d) p + cos(q k0 d) v`
//!
//! (in partitions `q = n`), a thin sheet of impedance `Z` by `p' = p + Z v`. Then `R = (p c - v) / (p c + v)`, `T = 2 c / (p c + v)`. The chain equals the cotangent formulas of
//! the text books and has no poles. All factors of a layer are divided by `e^|Im q k0 d|`, so that no thickness overflows.
//!
//! *Absorbed* is `4 c Re(p v*) / |p c + v|^2 - |T|^2`, which is `1 - |R|^2 - |T|^2` without a difference of near-equals for hard surfaces.
//!
//! *References.* J.-F. Allard and N. Atalla, Propagation of Sound in Porous Media, chapters 2, 3 and 11; T. J. Cox and P. D'Antonio, Acoustic Absorbers and Diffusers, chapter 6 (from memory).
//!
//! *Limits.* Those of `layers`. Frequencies below 0.01 Hz count as 0.01 Hz.

use std::f64::consts::TAU;

use num_complex::Complex64;
use smallvec::SmallVec;

use super::fluid::{AIR_DENSITY, AIR_IMPEDANCE, Fluid, root};
use super::held;
use super::layers::{Backing, BuildUp, HEAVIEST, Incidence, Layer, MOST_RESISTIVE};
use super::opening::{Form, Sheet};
use crate::air::REFERENCE_SPEED;

/// A build-up at one frequency.
#[derive(Clone, Debug)]
pub struct Tone {
    /// Front first.
    elements: SmallVec<[Element; 8]>,
    backing: Backing,
    cells: bool,
}

/// What a layer does at this frequency.
#[derive(Clone, Copy, Debug)]
enum Element {
    /// Air over this phase, `k0 d`.
    Air { phase: f64 },
    /// Another fluid.
    Fluid { square_index: Complex64, density: Complex64, phase: f64 },
    /// Something thin, of this impedance re air.
    Thin(Complex64),
}

/// Pressure and velocity at a face, both times an unknown, and by how much they were made smaller on their way from the back.
#[derive(Clone, Copy, Debug)]
pub(super) struct Front {
    pub(super) pressure: Complex64,
    pub(super) velocity: Complex64,
    pub(super) scale: f64,
}

/// Pressure and velocity at the front where those at the back are 1 and 0, and where they are 0 and 1.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chain {
    still: Front,
    moved: Front,
}

/// Pressure and velocity of a face are made smaller beyond this size.
const LARGE: f64 = 1e60;

impl Tone {
    /// A build-up at this frequency in Hz.
    pub(super) fn new(build_up: &BuildUp, frequency: f64) -> Self {
        let frequency = held(frequency, 0.01, 1e9);
        let wave_number = TAU * frequency / REFERENCE_SPEED;
        let fluid = |layer: Option<&Layer>| match layer {
            Some(&Layer::Porous { flow_resistivity, model, .. }) => model.fluid(held(flow_resistivity, 0.0, MOST_RESISTIVE), frequency),
            _ => Fluid::AIR,
        };
        let layers = &build_up.layers;
        let element = |(index, layer): (usize, &Layer)| {
            let phase = wave_number * layer.thickness();
            let neighbors =
                || [index.checked_sub(1).and_then(|front| layers.get(front)), layers.get(index + 1)].map(|layer| crowding(fluid(layer)));
            match *layer {
                Layer::Air { .. } => Element::Air { phase },
                Layer::Porous { .. } => {
                    let Fluid { impedance, index } = fluid(Some(layer));
                    Element::Fluid { square_index: index * index, density: impedance * index, phase }
                }
                Layer::Membrane { mass, resistance } => {
                    let inertia = wave_number * held(mass, 0.0, HEAVIEST) / AIR_DENSITY;
                    Element::Thin(Complex64::new(held(resistance, 0.0, MOST_RESISTIVE) / AIR_IMPEDANCE, inertia))
                }
                Layer::Cloth { resistance, mass } => {
                    let resistance = held(resistance, 0.0, MOST_RESISTIVE) / AIR_IMPEDANCE;
                    let inertia = Complex64::new(0.0, wave_number * held(mass, 0.0, HEAVIEST) / AIR_DENSITY);
                    let both = resistance + inertia;
                    Element::Thin(if both.norm_sqr() > 0.0 { resistance * inertia / both } else { Complex64::ZERO })
                }
                Layer::Perforated { hole, open, .. } => {
                    Element::Thin(sheet(Form::Round, hole, open, layer.thickness()).impedance(frequency, neighbors()))
                }
                Layer::Slotted { slot, open, .. } => {
                    Element::Thin(sheet(Form::Slot, slot, open, layer.thickness()).impedance(frequency, neighbors()))
                }
            }
        };
        Self { elements: layers.iter().enumerate().map(element).collect(), backing: build_up.backing, cells: build_up.cells }
    }

    /// Surface impedance re that of air at this cosine of the angle of incidence; infinite where the front stands still.
    #[must_use]
    pub fn surface_impedance(&self, cosine: f64) -> Complex64 {
        let front = self.front(held(cosine, 0.0, 1.0));
        if front.velocity.norm_sqr() > 0.0 { front.pressure / front.velocity } else { Complex64::new(f64::INFINITY, 0.0) }
    }

    /// Pressure mirrored re the one that comes.
    #[must_use]
    pub fn reflection_factor(&self, cosine: f64) -> Complex64 {
        let cosine = held(cosine, 0.0, 1.0);
        let front = self.front(cosine);
        let incoming = front.pressure * cosine;
        let sum = incoming + front.velocity;
        // Along the surface, nothing but a mirrored wave of the other sign fits.
        if sum.norm_sqr() > 0.0 { (incoming - front.velocity) / sum } else { -Complex64::ONE }
    }

    /// Pressure that leaves at the back, re the one that comes; 0 before a wall.
    #[must_use]
    pub fn transmission_factor(&self, cosine: f64) -> Complex64 {
        let cosine = held(cosine, 0.0, 1.0);
        let front = self.front(cosine);
        let sum = front.pressure * cosine + front.velocity;
        match self.backing {
            Backing::FreeAir if sum.norm_sqr() > 0.0 => 2.0 * cosine * front.scale / sum,
            Backing::FreeAir | Backing::Rigid => Complex64::ZERO,
        }
    }

    /// Share of the power that comes and is turned into heat.
    #[must_use]
    pub fn absorption(&self, cosine: f64) -> f64 {
        let cosine = held(cosine, 0.0, 1.0);
        let front = self.front(cosine);
        let passed = match self.backing {
            Backing::Rigid => 0.0,
            Backing::FreeAir => front.scale * front.scale,
        };
        front.absorbed(cosine, passed)
    }

    /// The layers as a chain of pressure and velocity from back to front, whatever is behind.
    pub(super) fn chain(&self, cosine: f64) -> Chain {
        Chain { still: self.carried(Front::of(1.0, 0.0), cosine), moved: self.carried(Front::of(0.0, 1.0), cosine) }
    }

    /// Share of the power that comes and is turned into heat, for sound that comes so.
    #[must_use]
    pub fn absorption_by(&self, incidence: Incidence) -> f64 {
        match incidence {
            Incidence::Normal => self.absorption(1.0),
            Incidence::Oblique(cosine) => self.absorption(cosine),
            Incidence::Diffuse => self.diffuse(),
        }
    }

    /// Sum of the phases of all layers, as if they were air, and of what they attenuate at normal incidence, nepers.
    pub(super) fn phase_and_loss(&self) -> (f64, f64) {
        let of_element = |element: &Element| match *element {
            Element::Air { phase } => (phase, 0.0),
            Element::Fluid { square_index, phase, .. } => (phase, root(square_index).im.abs() * phase),
            Element::Thin(_) => (0.0, 0.0),
        };
        self.elements.iter().map(of_element).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1))
    }

    /// What is behind the build-up.
    pub(super) fn backing(&self) -> Backing {
        self.backing
    }

    /// Pressure and velocity at the front.
    fn front(&self, cosine: f64) -> Front {
        let velocity = match self.backing {
            Backing::Rigid => 0.0,
            Backing::FreeAir => cosine,
        };
        self.carried(Front::of(1.0, velocity), cosine)
    }

    /// Pressure and velocity at the front, from those at the back.
    pub(super) fn carried(&self, mut front: Front, cosine: f64) -> Front {
        for element in self.elements.iter().rev() {
            front.pass(element, if self.cells { 1.0 } else { cosine });
        }
        front
    }
}

impl Chain {
    /// What arrives at the front of a pressure and of a velocity of 1 at the back.
    pub(super) fn of(still: Front, moved: Front) -> Self {
        Self { still, moved }
    }

    /// Pressure mirrored re the one that comes, where the back meets this admittance re that of air.
    pub(super) fn reflection_factor(&self, behind: Complex64, cosine: f64) -> Complex64 {
        let ratio = self.moved.scale / self.still.scale;
        let incoming = (self.still.pressure * ratio + self.moved.pressure * behind) * cosine;
        let velocity = self.still.velocity * ratio + self.moved.velocity * behind;
        let sum = incoming + velocity;
        if sum.norm_sqr() > 0.0 { (incoming - velocity) / sum } else { -Complex64::ONE }
    }

    /// Share of the power that comes and is turned into heat in the layers, where air goes round them from front to back, of admittance `round`, and the back meets the
    /// admittance `behind`, both re that of air.
    ///
    /// The layers are a two-port of admittances `[D, -1; -1, A] / B` from their chain `[A, B; C, D]`, and what goes round lies beside it.
    pub(super) fn absorbed_beside(&self, round: Complex64, behind: Complex64, cosine: f64) -> f64 {
        let Self { still, moved } = self;
        if moved.pressure.norm_sqr() == 0.0 {
            // Nothing is there.
            return 0.0;
        }
        let (front, through) = (moved.velocity / moved.pressure, -moved.scale / moved.pressure);
        let back = still.pressure / moved.pressure * (moved.scale / still.scale);
        let pressure = (round - through) / (back + round + behind);
        let velocity = front + round + (through - round) * pressure;
        let taken = (front + through * pressure).re + (pressure.conj() * (through + back * pressure)).re;
        let sum = (cosine + velocity).norm_sqr();
        if sum > 0.0 { 4.0 * cosine * taken / sum } else { 0.0 }
    }
}

impl Front {
    /// A pressure and a velocity.
    pub(super) fn of(pressure: f64, velocity: f64) -> Self {
        Self { pressure: Complex64::from(pressure), velocity: Complex64::from(velocity), scale: 1.0 }
    }

    /// The same made smaller by `e^loss` in place of what was made smaller on the way.
    pub(super) fn scaled(self, loss: f64) -> Self {
        let factor = (-loss).exp() / self.scale;
        Self { pressure: self.pressure * factor, velocity: self.velocity * factor, scale: 1.0 }
    }

    /// On to the front of a layer.
    fn pass(&mut self, element: &Element, cosine: f64) {
        let (pressure, velocity) = (self.pressure, self.velocity);
        match *element {
            Element::Air { phase } => {
                let (sine, cosine_of_phase) = (phase * cosine).sin_cos();
                // sin(c k0 d) / c, which is k0 d along the surfront.
                let over = if cosine > 0.0 { sine / cosine } else { phase };
                self.pressure = cosine_of_phase * pressure + Complex64::new(0.0, over) * velocity;
                self.velocity = Complex64::new(0.0, sine * cosine) * pressure + cosine_of_phase * velocity;
            }
            Element::Fluid { square_index, density, phase } => {
                let across = root(square_index - (1.0 - cosine * cosine));
                let (sine, cosine_of_phase, smaller) = scaled_sine_and_cosine(across * phase);
                let over = if across.norm_sqr() > 1e-20 { sine / across } else { Complex64::from(phase) };
                self.pressure = cosine_of_phase * pressure + Complex64::I * over * density * velocity;
                self.velocity = Complex64::I * sine * across / density * pressure + cosine_of_phase * velocity;
                self.scale *= smaller;
            }
            Element::Thin(impedance) => self.pressure += impedance * velocity,
        }
        if self.pressure.norm_sqr().max(self.velocity.norm_sqr()) > LARGE * LARGE {
            self.pressure /= LARGE;
            self.velocity /= LARGE;
            self.scale /= LARGE;
        }
    }

    /// Squares of pressure and velocity.
    pub(super) fn size(&self) -> f64 {
        self.pressure.norm_sqr() + self.velocity.norm_sqr()
    }

    /// Share of the power that comes and is turned into heat, where `passed` is the square of the pressure that leaves at the back.
    pub(super) fn absorbed(&self, cosine: f64, passed: f64) -> f64 {
        let sum = (self.pressure * cosine + self.velocity).norm_sqr();
        let taken = (self.pressure * self.velocity.conj()).re;
        if sum > 0.0 { 4.0 * cosine * (taken - passed * cosine) / sum } else { 0.0 }
    }
}

/// A sheet with openings, its measures held within reason.
fn sheet(form: Form, width: f64, open: f64, thickness: f64) -> Sheet {
    Sheet { form, width: held(width, 1e-6, 1.0), open: held(open, 1e-6, 1.0), thickness }
}

/// Density of what moves just beyond an opening: fits to fiber let it fall below that of air where they are extended to low frequencies.
fn crowding(fluid: Fluid) -> Complex64 {
    let density = fluid.density();
    Complex64::new(density.re.max(1.0), density.im)
}

/// Sine and cosine, both divided by `e^|im|` so that thick or dense layers do not overflow, and `e^-|im|`.
fn scaled_sine_and_cosine(phase: Complex64) -> (Complex64, Complex64, f64) {
    let (sine, cosine) = phase.re.sin_cos();
    let smaller = (-phase.im.abs()).exp();
    let small = smaller * smaller;
    let (even, odd) = (0.5 * (1.0 + small), 0.5 * (1.0 - small).copysign(phase.im));
    (Complex64::new(sine * even, cosine * odd), Complex64::new(cosine * even, -sine * odd), smaller)
}
