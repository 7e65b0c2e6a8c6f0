//! Which vector instructions the inner loops use: a matter of speed alone.
//!
//! The loops are compiled once for every set that a machine may have. What is met by a ray is found with fused products and sums where the
//! set has them: on machines with and without, paths are equal within rounding, and after some bounces they are other paths of the same
//! room, so figures are equal within their standard error. On one machine and with one set they are the same to the last bit. Everything
//! else is plain sums, products and comparisons, which no compiler may reorder or fuse.

use std::sync::OnceLock;

use fearless_simd::Level;

/// A set of vector instructions.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Instructions {
    /// The widest that this machine has.
    #[default]
    Widest,
    /// Those that every machine of the build's target has.
    Portable,
}

impl Instructions {
    /// What the loops are compiled for.
    #[must_use]
    pub fn level(self) -> Level {
        match self {
            Self::Widest => Level::new(),
            Self::Portable => Level::baseline(),
        }
    }
}

static CHOSEN: OnceLock<Instructions> = OnceLock::new();

/// Fixes the instructions of this process and returns those in force. The first call decides, or the first room that is traced: call it
/// before.
pub fn choose(instructions: Instructions) -> Instructions {
    *CHOSEN.get_or_init(|| instructions)
}

/// Those in force: the widest, if nobody has chosen.
#[must_use]
pub fn chosen() -> Instructions {
    choose(Instructions::default())
}
