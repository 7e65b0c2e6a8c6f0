//! Pages, drawings and pictures of a study: pure functions from values to strings and bytes.

pub mod axis;
pub mod axonometry;
pub mod caution;
pub mod chart;
pub mod dimension;
pub mod elevation;
pub mod heatmap;
pub mod hung;
pub mod paper;
pub mod plot;
pub mod raster;
pub mod sheet;
pub mod svg;
pub mod tape;
pub mod top_view;
