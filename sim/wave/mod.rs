//! The low end: the wave equation in the room as it is, for what rays cannot say.
//!
//! ```text
//! Room ─cut→ Cells ─tie→ Stencil ─lay out→ Layout ─step→ Field ─keep→ Record
//! ```
//!
//! Pressure lives in cells, flow through the faces between them. Both are cut by the room's own surfaces (`cells`), so that a slope is a slope and no staircase. What a step does to each
//! cell is stable by construction (`stencil`), walls are passive branches of mass, resistance and spring (`admittance`), and steps follow each other through the room so closely that memory
//! does not hold them up (`layout`, `step`). A point anywhere sounds or hears through the cells round it (`spread`, `source`), one pulse answers for all frequencies (`pulse`, `record`), a
//! lattice keeps the whole room (`lattice`), and what all of this takes is known beforehand (`cost`).
//!
//! *References.* S. Bilbao, B. Hamilton, J. Botts, L. Savioja, IEEE/ACM Trans. Audio Speech Lang. Process. 24 (2016) 161 (from memory).
//!
//! *Limits.* Porous volumes, and what is found of it all, are still to come.

pub mod admittance;
pub mod cells;
pub mod cost;
pub mod grid;
pub mod lattice;
pub mod layout;
pub mod pulse;
pub mod record;
pub mod source;
pub mod spread;
pub mod stencil;
pub mod step;

pub use admittance::{Admittance, Branch};
pub use cells::{Cells, Facet};
pub use cost::{Cost, TooDear};
pub use grid::Grid;
pub use lattice::Lattice;
pub use layout::Layout;
pub use pulse::Pulse;
pub use record::Record;
pub use source::{listener, source};
pub use spread::NoAir;
pub use stencil::Stencil;
pub use step::{Driving, Field, Listening, Port, Real};
