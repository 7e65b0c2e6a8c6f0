//! Geometry of the room: polygons, ellipses, surface charts, convex solids, a curve that fills a square.

pub mod chart;
pub mod ellipse;
pub mod hilbert;
pub mod instructions;
pub mod lanes;
pub mod packets;
mod plate;
pub mod polygon;
pub mod solid;
mod table;
mod tree;

pub use chart::Chart;
pub use ellipse::Ellipse;
pub use polygon::Polygon;
pub use solid::Solid;
