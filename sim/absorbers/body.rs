//! What does a wall weigh, and what is behind it?
//!
//! - a *board* over shut air is a mass on a spring: below `f0 = (1 / 2 pi) sqrt(density speed^2 / (mass gap))`, about `60 / sqrt(mass gap)` Hz, its gap holds it, above its mass;
//! - a *leaf* with free air or another room behind is a mass alone;
//! - a *massive* wall hardly moves: its mass bounds how far.
//!
//! Where a row of the table names neither mass nor gap, usual ones stand in it, and it says which: gypsum board 720, plywood 600, wood 500, chipboard 650, glass 2500, brick 1800, concrete
//! 2300 kg/m3; studs 90 mm, battens 50 mm (all from memory).
//!
//! *References.* Mass and shut air before a rigid wall: L. Cremer, H. A. Mueller, Principles and Applications of Room Acoustics (1982); mass law: text books (both from memory).
//!
//! *Limits.* Boards and panes are stiff too: the first bending of 12.5 mm gypsum between studs 0.6 m apart lies at 30 to 70 Hz, that of a pane of 1 m2 and 4 mm at 20 to 40 Hz (laid on their edges
//! or held at them; plates, from memory). It is not counted, nor that fiber in a gap softens its spring by up to 1.4, nor that gaps run on behind studs. By how much real walls differ is
//! drawn (`wave::walls`).

use std::f64::consts::TAU;

use super::fluid::{AIR_DENSITY, AIR_IMPEDANCE};
use crate::air::REFERENCE_SPEED;

/// A wall as a body that moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Body {
    /// A board over shut air.
    Board {
        /// Mass, kg/m2.
        mass: f64,
        /// Depth of the air, meters.
        gap: f64,
    },
    /// A pane or a door with free air or another room behind.
    Leaf {
        /// Mass, kg/m2.
        mass: f64,
    },
    /// Masonry, concrete, and what lies on it.
    Massive {
        /// Mass, kg/m2.
        mass: f64,
    },
}

impl Body {
    /// Mass, kg/m2.
    #[must_use]
    pub fn mass(&self) -> f64 {
        match *self {
            Self::Board { mass, .. } | Self::Leaf { mass } | Self::Massive { mass } => mass,
        }
    }

    /// What its mass keeps it from moving by at a frequency in Hz, re the impedance of air: `2 pi f mass / (density speed)`.
    #[must_use]
    pub fn inertia(&self, frequency: f64) -> f64 {
        TAU * frequency * self.mass() / AIR_IMPEDANCE
    }

    /// Frequency in Hz at which it moves most easily: that of a board; `None` of what has no shut air behind.
    #[must_use]
    pub fn resonance(&self) -> Option<f64> {
        match *self {
            Self::Board { mass, gap } => Some((AIR_DENSITY / (mass * gap)).sqrt() * REFERENCE_SPEED / TAU),
            Self::Leaf { .. } | Self::Massive { .. } => None,
        }
    }
}
