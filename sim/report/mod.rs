//! What a person reads: pages, charts, drawings, tables; pure functions from values to strings and bytes.

pub mod axis;
pub mod caution;
pub mod dimension;
pub mod elevation;
pub mod heatmap;
pub mod hung;
pub mod paper;
pub mod raster;
pub mod sheet;
pub mod svg;
pub mod tape;
pub mod text;
