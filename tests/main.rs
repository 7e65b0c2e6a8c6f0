
/// Plane geometry: areas, containment, cuts, overlaps, triangles.
mod geometry;
/// The room built from a scene: charts, facets, volume, bodies, contacts.
mod room;
