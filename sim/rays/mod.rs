//! Stochastic rays, traced once: where they bounce, and how each bounce is heard at every receiver.
//!
//! Which way a ray goes does not depend on how much a surface absorbs, so paths are stored and weighed afterwards (`weigh`).
//! Every path of sound belongs to one class by its reflections, so that nothing is counted twice:
//!
//! - (a) all specular, up to the image order: left to `images`;
//! - (b) last reflection diffuse: a [`Link`] from every bounce to every receiver it can see;
//! - (c) last reflection specular otherwise: a [`Crossing`] of the receiver's ball by the traced ray.
//!
//! After the early part of travel (`early_s`) the field is mixed and mirror reflections are caught in a larger ball (`late_radius_m`): energy density hardly
//! changes over a meter by then, and the error of the decay falls with the ball's volume. The early part is caught in the zone itself.
//!
//! The tail goes in stages, each with fewer rays than the early part, drawn by what the rays before it still carry (`energy`).
//!
//! A ray that leaves a bounce diffusely is not counted when it crosses a ball: its bounce already was, by the link.
//!
//! *References.* H. Kuttruff, Room Acoustics, ch. 9 (ray tracing, detection by a volume); M. Vorlaender, Auralization, ch. 11
//! (scattering, Lambert's law); E. Veach, thesis 1997, ch. 9-10 (next-event estimation, Russian roulette).
//!
//! *Limits.* Energies only. Rays carry no phase and do not bend round edges.

mod ball;
mod energy;
mod flight;
mod groups;
mod parts;
mod reach;
mod start;
mod store;
mod trace;
mod wander;

pub use ball::{ball_points, receiver_radius, volume_inside};
pub use groups::BandGroup;
pub use reach::reach;
pub use start::off_aim;
pub use store::{Chunk, Crossing, Hit, Link, Paths, Ray, RayNumber, SourcePaths};
pub use trace::{STORE_MOST, early_part, retrace, trace, trace_more, trace_within};
pub use wander::{Flights, FreePaths, free_paths};
