//! Plane geometry of the room: polygons, surface charts.

pub mod chart;
pub mod instructions;
pub mod packets;
pub mod polygon;

pub use chart::Chart;
pub use polygon::Polygon;
