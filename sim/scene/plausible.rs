//! Between which values what panels are made of may lie, in a scene and as typed: least and most.
//!
//! Ranges are those of what is sold and built, a little wider, so that a slip of a unit or of a decimal point is noticed (common practice, no source).

/// A layer, meters.
pub const LAYER: (f64, f64) = (0.001, 2.0);
/// Air behind a panel, meters.
pub const GAP: (f64, f64) = (0.0, 1.0);
/// Pa s/m2.
pub const FLOW_RESISTIVITY: (f64, f64) = (500.0, 500_000.0);
/// Of fibers and foam, kg/m3.
pub const DENSITY: (f64, f64) = (5.0, 300.0);
/// Meters.
pub const FIBER_DIAMETER: (f64, f64) = (0.5e-6, 100e-6);
/// Of a cloth, Pa s/m.
pub const FLOW_RESISTANCE: (f64, f64) = (1.0, 10_000.0);
/// Of a cloth, kg/m2.
pub const CLOTH_MASS: (f64, f64) = (0.01, 5.0);
/// Of a film, foil or board, kg/m2.
pub const MEMBRANE_MASS: (f64, f64) = (0.005, 50.0);
/// Diameter of holes and width of slots, meters.
pub const HOLE: (f64, f64) = (0.0001, 0.1);
/// Of a perforated or slotted sheet, meters.
pub const SHEET: (f64, f64) = (0.0001, 0.1);
/// Open share in percent. Round holes in square rows touch at 78.5 %.
pub const ROUND_OPEN: (f64, f64) = (0.1, 78.0);
/// The same of slots.
pub const SLOT_OPEN: (f64, f64) = (0.1, 99.0);
