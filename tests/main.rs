
/// Plane geometry: areas, containment, cuts, overlaps, triangles.
mod geometry;
