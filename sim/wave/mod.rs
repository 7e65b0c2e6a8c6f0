//! The low end: the wave equation in the room as it is, for what rays cannot say.
//!
//! ```text
//! Room ─cut→ Cells ─tie→ Stencil ─lay out→ Layout ─step→ Field
//! ```
//!
//! Pressure lives in cells, flow through the faces between them. Both are cut by the room's own surfaces (`cells`), so that a slope is a slope and no staircase. What a step does to each
//! cell is stable by construction (`stencil`), walls are passive branches of mass, resistance and spring (`admittance`), and steps follow each other through the room so closely that memory
//! does not hold them up (`layout`, `step`).
//!
//! *References.* S. Bilbao, B. Hamilton, J. Botts, L. Savioja, IEEE/ACM Trans. Audio Speech Lang. Process. 24 (2016) 161 (from memory).
//!
//! *Limits.* What is heard of it all is still to come.

pub mod admittance;
pub mod cells;
pub mod cost;
pub mod fiber;
pub mod grid;
pub mod lattice;
pub mod layout;
pub mod poles;
pub mod pulse;
pub mod record;
pub mod ringing;
pub mod seen;
pub mod source;
pub mod spread;
pub mod stencil;
pub mod step;

pub use admittance::{Admittance, Branch};
pub use cells::{Cells, Facet};
pub use cost::{Cost, TooDear};
pub use fiber::{Fiber, Fill};
pub use grid::Grid;
pub use lattice::Lattice;
pub use layout::Layout;
pub use pulse::Pulse;
pub use record::Record;
pub use seen::Seen;
pub use source::{listener, source};
pub use spread::NoAir;
pub use stencil::Stencil;
pub use step::{Driving, Field, Listening, Port, Real};
