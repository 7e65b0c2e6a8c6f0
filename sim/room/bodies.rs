//! Blocks and panels as closed bodies: their faces, what touches what, and the edges of finite faces.

use std::f64::consts::PI;

use glam::{DVec2, DVec3};

use super::finishes::{Palette, Spec};
use super::open::{self, open_gap};
use super::{Bodies, CONTACT, Contact, Role, Room, Solid, Surface, hung_size};
use crate::absorbers::suspended::Side;
use crate::bands::Bands;
use crate::geometry::{Chart, Polygon};
use crate::scene::{Panel, PanelPlace, PanelType, Scene, StockKind};

/// A closed body before it is put into the room.
pub(super) struct Body<'a> {
    pub(super) solid: Solid,
    faces: Vec<Face<'a>>,
}

struct Face<'a> {
    name: String,
    chart: Chart,
    outline: Polygon,
    spec: Spec<'a>,
    /// The surface round it goes on in nearly the same plane, so that its edges do not count.
    large: bool,
}

/// A box: its lowest corner in its own frame, three unit axes (right-handed) and the size along them in meters.
struct Frame {
    corner: DVec3,
    axes: [DVec3; 3],
    size: DVec3,
}

/// Faces of a box, as (axis, whether above), in the order that they are built.
const FACE_ORDER: [(usize, bool); 6] = [(2, true), (2, false), (0, false), (0, true), (1, false), (1, true)];

/// Names of a box's faces, by axis: below, above.
type FaceNames = [[&'static str; 2]; 3];
const BLOCK: FaceNames = [["left", "right"], ["front", "back"], ["underside", "top"]];
const FLAT: FaceNames = [["left edge", "right edge"], ["lower edge", "upper edge"], ["back", "front"]];
const CLOUD: FaceNames = [["left edge", "right edge"], ["front edge", "back edge"], ["underside", "top"]];

impl Frame {
    /// The box that stands off a chart: from a position, with this width, height and depth.
    fn on(chart: &Chart, position: DVec2, size: DVec3) -> Self {
        Self { corner: chart.point(position), axes: [chart.right, chart.up, chart.normal], size }
    }

    /// The box with this middle of its footprint, turned about the vertical.
    fn upright(center: DVec2, base: f64, size: DVec3, rotation: f64) -> Self {
        let x = DVec2::from_angle(rotation).extend(0.0);
        let axes = [x, DVec3::Z.cross(x), DVec3::Z];
        Self { corner: center.extend(base) - axes[0] * (size.x / 2.0) - axes[1] * (size.y / 2.0), axes, size }
    }

    fn solid(&self, role: Role) -> Solid {
        let face = |i: usize| {
            let (axis, low) = (self.axes[i], self.axes[i].dot(self.corner));
            [(-axis, -low), (axis, low + self.size[i])]
        };
        Solid { role, faces: (0..3).flat_map(face).collect(), volume: self.size.element_product() }
    }

    /// Chart and outline of the face across axis `i`, on its lower or upper side.
    fn face(&self, i: usize, upper: bool) -> (Chart, Polygon) {
        let normal = if upper { self.axes[i] } else { -self.axes[i] };
        // Upward is the most vertical of the other axes; between level ones the second, then the third.
        let mut up = if i == 1 { 2 } else { 1 };
        for other in [2, 0] {
            if other != i && self.axes[other].z.abs() > self.axes[up].z.abs() + 1e-9 {
                up = other;
            }
        }
        let across = 3 - i - up;
        let sign = if self.axes[up].z < -1e-9 { -1.0 } else { 1.0 };
        let upward = self.axes[up] * sign;
        let right = upward.cross(normal);
        let (width, height) = (self.size[across], self.size[up]);
        let middle = self.corner + (self.axes[0] * self.size.x + self.axes[1] * self.size.y + self.axes[2] * self.size.z) / 2.0;
        let origin = middle + normal * (self.size[i] / 2.0) - right * (width / 2.0) - upward * (height / 2.0);
        (Chart::new(origin, right, upward), Polygon::rectangle(DVec2::ZERO, DVec2::new(width, height)))
    }

    fn body<'a>(&self, name: &str, role: Role, names: &FaceNames, spec: Spec<'a>, front_is_large: bool) -> Body<'a> {
        let face = |(i, upper): (usize, bool)| {
            let (chart, outline) = self.face(i, upper);
            let name = format!("{name}, {}", names[i][usize::from(upper)]);
            Face { name, chart, outline, spec, large: front_is_large && i == 2 && upper }
        };
        Body { solid: self.solid(role), faces: FACE_ORDER.into_iter().map(face).collect() }
    }

    /// The same of a panel with this much air behind it that is open on both sides; its front is the face that `front` names.
    fn open_body<'a>(&self, name: &str, role: Role, names: &FaceNames, front: &str, kind: &'a PanelType, gap: f64) -> Body<'a> {
        let mut body = self.body(name, role, names, Spec::Open { kind, face: open::Face::Edge }, false);
        for (face, (i, upper)) in body.faces.iter_mut().zip(FACE_ORDER).filter(|(_, (i, _))| *i == 2) {
            let side = if names[i][usize::from(upper)] == front { Side::Front } else { Side::Back };
            face.spec = Spec::Open { kind, face: open::Face::Side { side, gap, size: self.size.truncate() } };
        }
        body
    }
}

/// Blocks, then those panels that are built as bodies.
pub(super) fn of<'a>(scene: &'a Scene, shell: &[Surface], panels: Bodies) -> Vec<Body<'a>> {
    let block = |(index, block): (usize, &'a crate::scene::Block)| {
        let frame = Frame::upright(block.center, block.base, block.size, block.rotation);
        let spec = Spec::Material { name: &block.material, scattering: block.scattering };
        frame.body(&block.name, Role::Block(index), &BLOCK, spec, false)
    };
    let panel = |(index, panel): (usize, &Panel)| {
        let kind = scene.stock.iter().find(|kind| kind.name == panel.kind);
        debug_assert!(kind.is_some(), "a checked panel has a type");
        panel_body(scene, shell, panels, kind?, index, panel)
    };
    scene.blocks.iter().enumerate().map(block).chain(scene.panels.iter().enumerate().filter_map(panel)).collect()
}

/// Whether a panel that hangs on a surface is a patch on it rather than a body.
pub(crate) fn is_patch(kind: StockKind, bodies: Bodies) -> bool {
    match kind {
        StockKind::Curtain | StockKind::Rug => true,
        StockKind::FreeStanding | StockKind::Bookcase => false,
        StockKind::Panel | StockKind::Diffuser | StockKind::Corner | StockKind::Cloud => bodies == Bodies::Standing,
    }
}

fn panel_body<'a>(scene: &Scene, shell: &[Surface], bodies: Bodies, kind: &'a PanelType, index: usize, panel: &Panel) -> Option<Body<'a>> {
    let (name, role, size) = (format!("{} {}", kind.name, index + 1), Role::Panel(index), hung_size(kind, &panel.place));
    match panel.place {
        PanelPlace::Surface { ref surface, left, bottom, gap, .. } => {
            if is_patch(kind.kind, bodies) {
                return None;
            }
            let host = shell.iter().find(|candidate| candidate.name == *surface);
            debug_assert!(host.is_some(), "a checked panel hangs on a surface");
            let chart = host?.chart;
            if let Some(gap) = open_gap(shell, kind, panel) {
                let before = Chart { origin: chart.origin + chart.normal * gap, ..chart };
                let frame = Frame::on(&before, DVec2::new(left, bottom), size.extend(kind.thickness));
                return Some(frame.open_body(&name, role, &FLAT, "front", kind, gap));
            }
            let frame = Frame::on(&chart, DVec2::new(left, bottom), size.extend(kind.thickness + gap));
            let hung = !matches!(kind.kind, StockKind::FreeStanding | StockKind::Bookcase);
            let mut body = frame.body(&name, role, &FLAT, Spec::Panel { kind, gap }, hung);
            for (face, _) in body.faces.iter_mut().zip(FACE_ORDER).filter(|(_, (axis, _))| *axis != 2 && !kind.has_open_edges()) {
                face.spec = Spec::Edge { kind, gap };
            }
            Some(body)
        }
        PanelPlace::Corner { corner, bottom } => corner_body(scene, kind, &name, role, corner, bottom),
        PanelPlace::Cloud(cloud) => {
            let frame = Frame::on(&cloud.chart(), -0.5 * size, size.extend(kind.thickness));
            let gap = open_gap(shell, kind, panel).unwrap_or(f64::INFINITY);
            Some(frame.open_body(&name, role, &CLOUD, "underside", kind, gap))
        }
    }
}

/// A panel across a corner, legs equal: a prism between its front and the two walls. Behind it lies, on average, half the
/// depth of the corner; what the panel does not fill of that is air.
fn corner_body<'a>(scene: &Scene, kind: &'a PanelType, name: &str, role: Role, corner: usize, bottom: f64) -> Option<Body<'a>> {
    let n = scene.outline.len();
    let (width, height) = (kind.size.x, kind.size.y);
    let tip = *scene.outline.get(corner)?;
    let left_leg = (scene.outline[(corner + 1) % n] - tip).try_normalize()?;
    let right_leg = (scene.outline[(corner + n - 1) % n] - tip).try_normalize()?;
    let angle = left_leg.angle_to(right_leg);
    debug_assert!(angle > 0.0, "a checked corner panel stands in a corner that opens into the room");
    if angle <= 0.0 {
        return None;
    }
    let leg = width / (2.0 * (angle / 2.0).sin());
    let deepest = leg * (angle / 2.0).cos();
    let (left, right) = (tip + left_leg * leg, tip + right_leg * leg);
    let spec = Spec::Panel { kind, gap: (deepest / 2.0 - kind.thickness).max(0.0) };

    let upright = |from: DVec2, to: DVec2, part: &str| {
        let along = (to - from).try_normalize().unwrap_or(DVec2::X).extend(0.0);
        let outline = Polygon::rectangle(DVec2::ZERO, DVec2::new(from.distance(to), height));
        Face { name: format!("{name}, {part}"), chart: Chart::new(from.extend(bottom), along, DVec3::Z), outline, spec, large: false }
    };
    let level = |z: f64, right_axis: DVec3, part: &str| {
        let chart = Chart::new(tip.extend(z), right_axis, DVec3::Y);
        let outline = Polygon::new([tip, left, right].iter().map(|point| chart.position(point.extend(z))).collect());
        Face { name: format!("{name}, {part}"), chart, outline, spec, large: false }
    };
    let faces = vec![
        upright(left, right, "front"),
        upright(tip, left, "left leg"),
        upright(right, tip, "right leg"),
        level(bottom + height, DVec3::X, "top"),
        level(bottom, DVec3::NEG_X, "underside"),
    ];
    let half_spaces = faces.iter().map(|face| (face.chart.normal, face.chart.normal.dot(face.chart.origin))).collect();
    Some(Body { solid: Solid { role, faces: half_spaces, volume: width * deepest / 2.0 * height }, faces })
}

/// Lowest and highest corner of a flat outline in space, meters.
fn bounds(chart: &Chart, outline: &Polygon) -> (DVec3, DVec3) {
    let corners = outline.corners.iter().map(|&corner| chart.point(corner));
    corners.fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)))
}

/// For each of these boxes the others that it meets or nearly so, in order: what is farther apart has no contact. By a sweep along x, since
/// of many small bodies few are near.
fn neighbors(boxes: &[(DVec3, DVec3)]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..boxes.len()).collect();
    order.sort_by(|&a, &b| boxes[a].0.x.total_cmp(&boxes[b].0.x).then(a.cmp(&b)));
    let mut near = vec![Vec::new(); boxes.len()];
    let mut open: Vec<usize> = Vec::new();
    for &one in &order {
        let (low, high) = boxes[one];
        let margin = 2.0 * CONTACT;
        open.retain(|&other| boxes[other].1.x >= low.x - margin);
        for &other in &open {
            let (other_low, other_high) = boxes[other];
            if low.cmple(other_high + margin).all() && high.cmpge(other_low - margin).all() {
                near[one].push(other);
                near[other].push(one);
            }
        }
        open.push(one);
    }
    near.iter_mut().for_each(|list| list.sort_unstable());
    near
}

/// The part of `other`'s chart that `face` covers by lying on it.
fn touch(face: (&Chart, &Polygon), other: (&Chart, &Polygon)) -> Vec<Polygon> {
    let ((chart, outline), (other_chart, other_outline)) = (face, other);
    let opposite = chart.normal.dot(other_chart.normal) < -1.0 + 1e-9;
    if !opposite || other_chart.height(chart.origin).abs() > CONTACT {
        return Vec::new();
    }
    let shadow: Vec<DVec2> = outline.corners.iter().map(|&corner| other_chart.position(chart.point(corner))).collect();
    if shadow.iter().zip(&outline.corners).any(|(_, &corner)| other_chart.height(chart.point(corner)).abs() > CONTACT) {
        return Vec::new();
    }
    let mut regions = other_outline.intersection(&Polygon::new(shadow));
    regions.retain(|region| region.area() > CONTACT * region.perimeter());
    regions
}

/// Adds the faces of bodies that meet air, their contacts, and their finishes.
pub(super) fn add<'a>(room: &mut Room, bodies: Vec<Body<'a>>, palette: &mut Palette<'a>) {
    let shell = room.surfaces.len();
    let mut owners = Vec::new();
    let mut faces = Vec::new();
    for body in bodies {
        for face in body.faces {
            owners.push(body.solid.role);
            faces.push(face);
        }
    }
    // Who covers what, over shell surfaces (first) and faces (after them).
    let near = neighbors(&faces.iter().map(|face| bounds(&face.chart, &face.outline)).collect::<Vec<_>>());
    let mut covered: Vec<Vec<Polygon>> = vec![Vec::new(); shell + faces.len()];
    for (i, face) in faces.iter().enumerate() {
        for (k, surface) in room.surfaces.iter().enumerate() {
            covered[k].extend(touch((&face.chart, &face.outline), (&surface.chart, &surface.outline)));
            covered[shell + i].extend(touch((&surface.chart, &surface.outline), (&face.chart, &face.outline)));
        }
        for &j in near[i].iter().filter(|&&j| owners[j] != owners[i]) {
            covered[shell + j].extend(touch((&face.chart, &face.outline), (&faces[j].chart, &faces[j].outline)));
        }
    }
    let mut specs = Vec::new();
    for (i, face) in faces.into_iter().enumerate() {
        let hidden: f64 = covered[shell + i].iter().map(Polygon::area).sum();
        if hidden >= face.outline.area() - CONTACT * face.outline.perimeter() {
            covered[shell + i].clear();
            continue;
        }
        let surface = room.surfaces.len();
        room.contacts.extend(covered[shell + i].drain(..).map(|region| Contact { surface, region }));
        room.surfaces.push(Surface {
            name: face.name,
            role: owners[i],
            chart: face.chart,
            outline: face.outline,
            finish: 0,
            linings: Vec::new(),
            edge_scattering: Bands::splat(0.0),
        });
        specs.push((face.spec, face.large));
    }
    for (surface, regions) in covered.into_iter().take(shell).enumerate() {
        room.contacts.extend(regions.into_iter().map(|region| Contact { surface, region }));
    }
    let (free_path, speed) = (room.mean_free_path(), room.medium.speed);
    for (surface, (spec, large)) in room.surfaces[shell..].iter_mut().zip(specs) {
        if !large {
            surface.edge_scattering = edge_scattering(surface.outline.area(), free_path, speed);
        }
        surface.finish = palette.face(&spec, surface.edge_scattering);
    }
}

/// `1 - min(1, A / A_F)` by band: the share of the energy that a face of area `A` (m2) in a room with this mean free path (m) scatters
/// because it fills only part of the first Fresnel zone `A_F = pi lambda l / 2`.
#[must_use]
pub fn edge_scattering(area: f64, free_path: f64, speed: f64) -> Bands<f64> {
    Bands::from_fn(|band| {
        let zone = PI * (speed / band.center()) * free_path / 2.0;
        1.0 - (area / zone).min(1.0)
    })
}
