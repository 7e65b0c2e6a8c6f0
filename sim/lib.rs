//! Roomwright: what is wrong with a small room, and where each panel goes.

pub mod absorbers;
pub mod air;
pub mod bands;
pub mod directivity;
pub mod findings;
pub mod geometry;
pub mod hanging;
pub mod hotspots;
pub mod images;
pub mod layout;
pub mod metrics;
pub mod modes;
pub mod plan;
pub mod progress;
pub mod random;
pub mod report;
pub mod room;
pub mod scene;
pub mod settings;
pub mod units;
pub mod rays;
pub mod weigh;
pub mod response;
pub mod study;
