//! The low end: the wave equation in the room as it is, for what rays cannot say.
//!
//! ```text
//! Room ─cut→ Cells ─tie→ Stencil ─lay out→ Layout ─step→ Field
//! ```
//!
//! Pressure lives in cells, flow through the faces between them. Both are cut by the room's own surfaces (`cells`), so that a slope is a slope and no staircase. What a step does to each
//! cell is stable by construction (`stencil`), walls are passive branches of mass, resistance and spring (`admittance`; those of a finish by `walls`, `branches`, `diffuse`), and steps follow
//! each other through the room so closely that memory does not hold them up (`layout`, `step`).
//!
//! *References.* S. Bilbao, B. Hamilton, J. Botts, L. Savioja, IEEE/ACM Trans. Audio Speech Lang. Process. 24 (2016) 161 (from memory).
//!
//! *Limits.* Porous volumes, sources re free field, and what is heard of it all are still to come.

pub mod admittance;
pub mod branches;
pub mod cells;
pub mod diffuse;
pub mod grid;
pub mod layout;
pub mod stencil;
pub mod step;
pub mod walls;

pub use admittance::{Admittance, Branch};
pub use cells::{Cells, Facet};
pub use grid::Grid;
pub use layout::Layout;
pub use stencil::Stencil;
pub use step::{Driving, Field, Listening, Port, Real};
