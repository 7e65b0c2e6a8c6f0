//! Geometry of the room: polygons, surface charts, convex solids.

pub mod chart;
pub mod instructions;
pub mod lanes;
pub mod packets;
mod plate;
pub mod polygon;
pub mod solid;
mod table;
mod tree;

pub use chart::Chart;
pub use polygon::Polygon;
pub use solid::Solid;
