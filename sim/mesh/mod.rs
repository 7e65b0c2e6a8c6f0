//! A soup of triangles -> a closed room of flat polygons, or all that is wrong with it.
//!
//! In this order: corners nearer than [`WELD`] become one, triangles without area and second copies are left out, and a corner on another
//! triangle's edge splits that edge (`weld`); edges with one face only are measured as leaks (`leaks`); faces are turned by their neighbors
//! and each closed shell by its signed volume `V = sum (a . b x c) / 6`, so that normals point into the air, and shells are sorted into the
//! room, the solids in it and what lies within solids (`shells`); connected faces in one plane with one finish become polygons
//! (`merge`), cut where a polygon would have a hole (`cut`).
//!
//! Mistakes are collected, all that can be found at once; what is mended is told in notes. Nothing depends on the order of the triangles.
//!
//! **Watertight by volume.** `V` from a point `q` instead of the origin differs by `q . sum(A n) / 3`, and `sum(A n)` vanishes where the surface
//! is closed ([`VolumeSum`]). A second witness beside the edges: it is told with every leak. Of two holes that face each other it sees nothing.
//!
//! *References.* J. O'Rourke, "Computational Geometry in C", ch. 1 and 4 (areas, volumes by signed sums); A. van Oosterom, J. Strackee,
//! IEEE Trans. Biomed. Eng. 30 (1983) 125 (solid angle of a triangle) (both from memory).
//!
//! *Limits.* Solids have a thickness: a sheet of zero thickness is open. Faces that pass through each other within one shell are not found;
//! shells that cross each other are, but for bars whose sides lie in one plane.

mod cut;
pub mod diagnostic;
mod leaks;
mod merge;
mod shells;
mod weld;

use glam::DVec3;

use crate::geometry::{Chart, Polygon};

pub use diagnostic::{Diagnostic, Severity};
pub use shells::solid_angle;

/// Corners nearer than this, in meters, are one; faces as near to a plane lie in it. Above the rounding of single precision in a room, far below
/// what a tape reads.
pub const WELD: f64 = 2e-5;

/// Lengths of the longest side of what may be a room, meters.
const SIZES: std::ops::RangeInclusive<f64> = 0.1..=1000.0;

/// Surfaces that the kernel can number.
pub const SURFACES_MOST: usize = u16::MAX as usize;

/// One face as given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Triangle {
    /// Corners, meters; either way round.
    pub corners: [DVec3; 3],
    /// Number of its finish.
    pub finish: usize,
}

/// A closed room of flat polygons.
#[derive(Clone, Debug, PartialEq)]
pub struct Mesh {
    /// The polygons, those of the room's own shell first.
    pub faces: Vec<Face>,
    /// Volume of the air, m3.
    pub volume: f64,
    /// Whether the room's own shell hides nothing of itself from itself.
    pub is_shell_convex: bool,
    /// What was mended.
    pub notes: Vec<Diagnostic>,
}

/// A flat polygon of a mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct Face {
    /// The first of the triangles it is made of, from 0 in the order given.
    pub first: usize,
    /// Its closed shell: 0 is the room's own, others are solids in it.
    pub shell: usize,
    /// Number of its finish.
    pub finish: usize,
    /// Seen from the air: `up` along the steepest rise (+y where it lies flat); positions are positive.
    pub chart: Chart,
    /// Outline on the chart.
    pub outline: Polygon,
    /// Area of the whole flat face of which this is a part, m2.
    pub whole_area: f64,
    /// Whether most of the border of that whole sticks out into the air: a side of a table does, a wall does not.
    pub protrudes: bool,
}

/// Sums over faces that tell their volume, and whether it means anything.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct VolumeSum {
    /// Volume seen from the origin, m3; positive where normals point out of it.
    pub volume: f64,
    /// Sum of the vector areas, m2: zero for a closed surface.
    pub open: DVec3,
}

impl VolumeSum {
    /// Of triangles as they are turned.
    #[must_use]
    pub fn of(triangles: &[Triangle]) -> Self {
        triangles.iter().fold(Self::default(), |sum, triangle| {
            let [a, b, c] = triangle.corners;
            Self { volume: sum.volume + a.dot(b.cross(c)) / 6.0, open: sum.open + (b - a).cross(c - a) / 2.0 }
        })
    }

    /// The volume seen from another point, m3.
    #[must_use]
    pub fn seen_from(self, reference: DVec3) -> f64 {
        self.volume - reference.dot(self.open) / 3.0
    }
}

/// Makes a room of a soup of triangles with finishes numbered below `finishes`.
///
/// # Errors
/// All that is wrong with it.
pub fn close(triangles: &[Triangle], finishes: usize) -> Result<Mesh, Vec<Diagnostic>> {
    let mut found = objections(triangles, finishes);
    let mut skin = weld::weld(triangles, &mut found);
    if skin.facets.is_empty() {
        let hint = "give at least four triangles that enclose the air of the room";
        found.push(Diagnostic::error("mesh-empty", Vec::new(), None, "there is no face with an area".to_owned(), hint));
        return Err(found);
    }
    weld::split_edges(&mut skin);
    let seams = shells::Seams::new(&skin, &mut found);
    let shells = shells::turned(&mut skin, &seams, &mut found);
    leaks::find(&skin, &seams, &mut found);
    if found.iter().any(|one| one.severity == Severity::Error) {
        return Err(found);
    }
    let Some(order) = shells::nested(&skin, &seams, &shells, &mut found) else { return Err(found) };
    let faces = merge::faces(&skin, &seams, &order.shell_of);
    if faces.len() > SURFACES_MOST {
        let message = format!("{} flat surfaces are left after merging; {SURFACES_MOST} can be numbered", faces.len());
        let hint = "make curved parts of fewer, larger triangles: what is smaller than a hand does not change the sound of a room";
        found.push(Diagnostic::error("mesh-too-many", Vec::new(), None, message, hint));
        return Err(found);
    }
    let is_shell_convex = is_convex(&faces);
    Ok(Mesh { faces, volume: order.volume, is_shell_convex, notes: found })
}

/// What is wrong with single triangles, and with the size of the whole.
fn objections(triangles: &[Triangle], finishes: usize) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    let all = |is_wrong: &dyn Fn(&Triangle) -> bool| -> Vec<usize> { (0..triangles.len()).filter(|&i| is_wrong(&triangles[i])).collect() };
    let broken = all(&|triangle| !is_finite(triangle));
    if !broken.is_empty() {
        let message = format!("{} of {} faces have a corner that is not a finite number", broken.len(), triangles.len());
        found.push(Diagnostic::error("mesh-not-a-number", broken, None, message, "write the mesh anew, or leave these faces out"));
    }
    let unknown = all(&|triangle| triangle.finish >= finishes);
    if let Some(&first) = unknown.first() {
        let message = format!("a face has finish number {}; there are {finishes}, counted from 0", triangles[first].finish);
        let at = is_finite(&triangles[first]).then_some(triangles[first].corners[0]);
        found.push(Diagnostic::error("mesh-finish-unknown", unknown, at, message, "give every face one of the finishes"));
    }
    let corners = || triangles.iter().filter(|triangle| is_finite(triangle)).flat_map(|triangle| triangle.corners);
    let low = corners().fold(DVec3::INFINITY, DVec3::min);
    let size = (corners().fold(DVec3::NEG_INFINITY, DVec3::max) - low).max_element();
    if size.is_finite() && size > 0.0 && !SIZES.contains(&size) {
        let message = format!("the whole is {size:.3} m long; a room is between {} and {} m", SIZES.start(), SIZES.end());
        found.push(Diagnostic::error(
            "mesh-size",
            Vec::new(),
            Some(low),
            message,
            "lengths are in meters: scale the mesh, 0.001 from millimeters",
        ));
    }
    found
}

fn is_finite(triangle: &Triangle) -> bool {
    triangle.corners.iter().all(|corner| corner.is_finite())
}

/// Whether no face of the room's own shell has a corner of it behind.
fn is_convex(faces: &[Face]) -> bool {
    let shell = || faces.iter().filter(|face| face.shell == 0);
    let corners: Vec<DVec3> = shell().flat_map(|face| face.outline.corners.iter().map(|&corner| face.chart.point(corner))).collect();
    shell().all(|face| corners.iter().all(|&corner| face.chart.height(corner) >= -WELD))
}
