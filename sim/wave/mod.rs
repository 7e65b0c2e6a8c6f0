//! The low end: the wave equation in the room as it is, for what rays cannot say.
//!
//! ```text
//! Scene ─see→ Seen ─cut→ Cells ─tie→ Stencil ─lay out→ Layout ─step→ Field ─keep→ Record
//!                                                                        └─ring→ Ringing
//! ```
//!
//! Pressure lives in cells, flow through the faces between them. Both are cut by the room's own surfaces (`cells`, once they close: `leak`), so that a slope is a slope and no staircase. What a step does to each
//! cell is stable by construction (`stencil`), walls are passive branches of mass, resistance and spring (`admittance`) fitted to their finishes (`walls`, `branches`, `diffuse`), fiber is a volume
//! (`fiber`, `seen`), and steps follow each other through the room so closely that memory does not hold them up (`layout`, `step`, `kernel`). A point anywhere sounds or hears through the cells round it
//! (`spread`, `source`), one pulse answers for all frequencies (`pulse`, `record`), a lattice keeps the whole room (`lattice`), modes come out of what it heard (`ringing`, `poles`), all of this in one
//! call (`sounding`), and what it takes is known beforehand (`cost`).
//!
//! *References.* S. Bilbao, B. Hamilton, J. Botts, L. Savioja, IEEE/ACM Trans. Audio Speech Lang. Process. 24 (2016) 161 (from memory).
//!
//! *Limits.* Second order in space and time; walls react locally. What is found is in `findings::bass`.

pub mod adjoint;
pub mod admittance;
pub mod branches;
pub mod cells;
pub mod cost;
pub mod diffuse;
pub mod dispersion;
pub mod fiber;
pub mod grid;
pub mod kernel;
pub mod lattice;
pub mod layout;
pub mod leak;
mod poles;
pub mod pulse;
pub mod record;
pub mod ringing;
pub mod seen;
pub mod sounding;
pub mod source;
pub mod spread;
pub mod stencil;
pub mod step;
pub mod walls;

pub use adjoint::{Exchange, Sheet, Tones};
pub use admittance::{Admittance, Branch};
pub use cells::{Cells, Facet};
pub use cost::{Cost, TooDear};
pub use fiber::{Fiber, Fill};
pub use grid::Grid;
pub use kernel::Real;
pub use lattice::Lattice;
pub use layout::Layout;
pub use leak::Leak;
pub use pulse::Pulse;
pub use record::Record;
pub use ringing::{Heard, Resonance, Ringing, resonances};
pub use seen::Seen;
pub use sounding::{Hearing, Silent, Sounding};
pub use source::{listener, source};
pub use spread::NoAir;
pub use stencil::Stencil;
pub use step::{Driving, Field, Listening, Port};
