//! What a person reads: pages, charts, drawings, tables.

pub mod text;
