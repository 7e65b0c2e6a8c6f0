//! How sources send and microphones take in different directions.

/// How a source sends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Directivity {
    /// The same into every direction.
    Omni,
    /// A rigid circular piston of this radius in meters, in a box.
    Piston {
        /// Radius in meters.
        radius: f64,
    },
    /// A talking head or an instrument: a forward law, see below.
    Forward,
}

/// First-order microphone pattern: pressure factor `omni + (1 - omni) cos`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pattern {
    /// 1 omni, 0.5 cardioid, 0 figure of eight.
    pub omni: f64,
}
