//! Sound as samples.
//!
//! - `filter`: octaves and third octaves, forward or backward in time.

pub mod filter;
