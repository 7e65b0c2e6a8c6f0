//! Surfaces, panels and people of a room as triangles: a few merged shapes, each one draw call.
//!
//! Every triangle runs counterclockwise as seen from the air, so that what faces away from the eye is culled: walls seen from outside
//! disappear, and the inside is always visible. Colors are linear; light is none, only a shade of the paper by the way a surface faces.

use std::f64::consts::TAU;

use bevy::asset::RenderAssetUsages;
use bevy::color::{Alpha, ColorToComponents, LinearRgba, Srgba};
use bevy::math::{DVec2, DVec3, Vec2, Vec3};
use bevy::mesh::{Indices, Mesh, PrimitiveTopology};
use bevy_egui::egui::Color32;
use roomwright::geometry::{Chart, Polygon};
use roomwright::report::hung::{self, How, Hung};
use roomwright::room::{Role, Room};
use roomwright::scene::{Panel, Scene, SourceKind};

use super::point;
use crate::ui::tokens;

/// Opacity of a hung panel: what lies behind it shines through a little.
const PANEL_OPACITY: f32 = 0.86;
/// Half the size of a loudspeaker as drawn, meters: across, along, up. Its true size is not known.
const LOUDSPEAKER: DVec3 = DVec3::new(0.10, 0.08, 0.14);
/// Radius of a head as drawn, meters.
const HEAD: f64 = 0.09;
/// Radius of the mouth of a voice, or an instrument, as drawn, meters.
const MOUTH: f64 = 0.06;
/// Radius of a microphone as drawn, meters.
const MICROPHONE: f64 = 0.03;

/// Triangles with a color at each corner, and a place on a picture where there is one.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Shape {
    /// Corners, engine coordinates.
    pub(super) positions: Vec<Vec3>,
    /// Linear color and opacity of each corner.
    pub(super) colors: Vec<[f32; 4]>,
    /// Place on a picture of each corner; empty if there is none.
    pub(super) places: Vec<Vec2>,
    /// Three corners a triangle, counterclockwise from the air.
    pub(super) indices: Vec<u32>,
}

impl Shape {
    fn triangle(&mut self, corners: [DVec3; 3], color: LinearRgba) {
        for corner in corners {
            self.indices.push(self.positions.len() as u32);
            self.positions.push(point(corner));
            self.colors.push(color.to_f32_array());
        }
    }

    /// A flat figure, corners counterclockwise from the air; convex.
    fn fan(&mut self, corners: &[DVec3], color: LinearRgba) {
        for pair in corners.windows(2).skip(1) {
            self.triangle([corners[0], pair[0], pair[1]], color);
        }
    }

    /// A surface, or a part of it.
    fn flat(&mut self, chart: &Chart, outline: &Polygon, color: LinearRgba) {
        for corners in outline.triangles() {
            self.triangle(corners.map(|corner| chart.point(corner)), color);
        }
    }

    /// A surface with a picture on it; `place` tells where on the picture a position of the chart lies.
    pub(super) fn pictured(&mut self, chart: &Chart, outline: &Polygon, place: impl Fn(DVec2) -> Vec2) {
        for corners in outline.triangles() {
            self.triangle(corners.map(|corner| chart.point(corner)), LinearRgba::WHITE);
            self.places.extend(corners.map(&place));
        }
    }

    /// A box seen from outside: its middle, half its size along three right-handed unit axes.
    fn solid(&mut self, middle: DVec3, axes: [DVec3; 3], half: DVec3, color: Color32) {
        for i in 0..3 {
            let (out, right, up) = (axes[i] * half[i], axes[(i + 1) % 3] * half[(i + 1) % 3], axes[(i + 2) % 3] * half[(i + 2) % 3]);
            for (out, right) in [(out, right), (-out, -right)] {
                let at = middle + out;
                let color = faced(color, out, 1.0);
                self.fan(&[at - right - up, at + right - up, at + right + up, at - right + up], color);
            }
        }
    }

    /// A ball seen from outside.
    fn ball(&mut self, middle: DVec3, radius: f64, color: Color32) {
        const ROUND: u32 = 14;
        const RINGS: u32 = 8;
        let at = |ring: u32, step: u32| {
            let (tilt, turn) = (TAU / 2.0 * f64::from(ring) / f64::from(RINGS), TAU * f64::from(step % ROUND) / f64::from(ROUND));
            middle + radius * DVec3::new(tilt.sin() * turn.cos(), tilt.sin() * turn.sin(), -tilt.cos())
        };
        for ring in 0..RINGS {
            for step in 0..ROUND {
                let corners = [at(ring, step), at(ring, step + 1), at(ring + 1, step + 1), at(ring + 1, step)];
                let color = faced(color, corners[0] + corners[2] - 2.0 * middle, 1.0);
                if ring > 0 {
                    self.triangle([corners[0], corners[1], corners[2]], color);
                }
                if ring + 1 < RINGS {
                    self.triangle([corners[0], corners[2], corners[3]], color);
                }
            }
        }
    }

    /// As the engine takes it.
    pub(super) fn into_mesh(self) -> Mesh {
        let mut mesh = Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
            .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, self.positions)
            .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, self.colors);
        if !self.places.is_empty() {
            mesh.insert_attribute(Mesh::ATTRIBUTE_UV_0, self.places);
        }
        mesh.with_inserted_indices(Indices::U32(self.indices))
    }
}

/// A color of the tokens, linear.
pub(super) fn linear(color: Color32, opacity: f32) -> LinearRgba {
    let [red, green, blue, _] = color.to_srgba_unmultiplied();
    LinearRgba::from(Srgba::rgb_u8(red, green, blue)).with_alpha(opacity)
}

/// A mixture of two colors, as sRGB values.
fn mixed(one: Color32, other: Color32, share: f32) -> Color32 {
    let (a, b) = (one.to_array(), other.to_array());
    let channel = |index: usize| (f32::from(a[index]) + (f32::from(b[index]) - f32::from(a[index])) * share).round() as u8;
    Color32::from_rgb(channel(0), channel(1), channel(2))
}

/// A color as it looks on a face that faces this way: upward as it is, sideways a little into the shade.
fn faced(color: Color32, normal: DVec3, opacity: f32) -> LinearRgba {
    let way = normal.try_normalize().unwrap_or(DVec3::Z);
    let shade = 0.08 * way.x.abs() + 0.03 * way.y.abs() + 0.16 * (-way.z).max(0.0);
    linear(mixed(color, tokens::SOFT, shade as f32), opacity)
}

fn paper_of(role: Role) -> Color32 {
    match role {
        Role::Floor => mixed(tokens::PANEL, tokens::CARD, 0.3),
        Role::Wall(_) => mixed(tokens::PAPER, tokens::LINE, 0.15),
        Role::Ceiling(_) => mixed(tokens::PAPER, tokens::CARD, 0.5),
        Role::Block(_) | Role::Face(_) => mixed(tokens::LINE, tokens::CARD, 0.35),
        Role::Panel(_) => tokens::PANEL,
    }
}

/// Walls, floor, ceilings and blocks as paper; surfaces that `is_left_out` names are drawn by others.
pub(super) fn shell(room: &Room, is_left_out: impl Fn(usize) -> bool) -> Shape {
    let mut shape = Shape::default();
    for (index, surface) in room.surfaces.iter().enumerate() {
        if !is_left_out(index) && !matches!(surface.role, Role::Panel(_)) {
            shape.flat(&surface.chart, &surface.outline, faced(paper_of(surface.role), surface.chart.normal, 1.0));
        }
    }
    shape
}

/// One panel of the scene on every surface that it touches.
pub(super) fn hung_of(scene: &Scene, room: &Room, panel: &Panel) -> Vec<Hung> {
    hung::panels(scene, room, &[], std::slice::from_ref(panel))
}

/// Whether a panel is a body of the room, with faces of its own.
pub(super) fn is_body(room: &Room, panel: usize) -> bool {
    room.surfaces.iter().any(|surface| surface.role == Role::Panel(panel))
}

/// What hangs: flat panels as boxes without a back, so that those on a near wall disappear with it; bodies with all their faces.
pub(super) fn panels(scene: &Scene, room: &Room) -> Shape {
    let mut shape = Shape::default();
    for surface in room.surfaces.iter().filter(|surface| matches!(surface.role, Role::Panel(_))) {
        let color = faced(paper_of(surface.role), surface.chart.normal, PANEL_OPACITY);
        shape.flat(&surface.chart, &surface.outline, color);
    }
    for (_, panel) in scene.panels.iter().enumerate().filter(|(index, _)| !is_body(room, *index)) {
        for hung in hung_of(scene, room, panel).iter().filter(|hung| matches!(hung.how, How::Flat { .. })) {
            let normal = room.surfaces[hung.surface].chart.normal;
            shape.fan(&hung.front, faced(tokens::PANEL, normal, PANEL_OPACITY));
            for (side, from) in hung.front.iter().enumerate() {
                let to = hung.front[(side + 1) % hung.front.len()];
                let back = -normal * hung.thickness;
                let color = faced(tokens::PANEL, (to - *from).cross(normal), PANEL_OPACITY);
                shape.fan(&[*from, *from + back, to + back, to], color);
            }
        }
    }
    shape
}

/// Loudspeakers and voices, heads and microphones.
pub(super) fn people(room: &Room) -> Shape {
    let mut shape = Shape::default();
    for source in &room.sources {
        match source.kind {
            SourceKind::Loudspeaker => {
                let along = source.aim;
                let across = along.cross(DVec3::Z).try_normalize().unwrap_or(DVec3::X);
                let up = across.cross(along);
                // The acoustic center lies on the front.
                let middle = source.position - along * LOUDSPEAKER.y;
                shape.solid(middle, [across, along, up], LOUDSPEAKER, tokens::INK);
            }
            SourceKind::Voice | SourceKind::Instrument => shape.ball(source.position, MOUTH, tokens::INK),
        }
    }
    for receiver in &room.receivers {
        let radius = if receiver.zone_radius.is_some() { HEAD } else { MICROPHONE };
        shape.ball(receiver.position, radius, tokens::ACCENT);
    }
    shape
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::*;
    use crate::stage::samples;

    fn area_and_normals(shape: &Shape) -> Vec<(f64, Vec3, Vec3)> {
        let triangle = |corners: &[u32]| {
            let [a, b, c] = [0, 1, 2].map(|i| shape.positions[corners[i] as usize]);
            let cross = (b - a).cross(c - a);
            (0.5 * f64::from(cross.length()), cross.try_normalize().unwrap_or(Vec3::ZERO), (a + b + c) / 3.0)
        };
        shape.indices.chunks(3).map(triangle).collect()
    }

    #[test]
    fn keeps_area_and_faces_inward() {
        for (scene, room) in samples::all() {
            let shape = shell(&room, |_| false);
            let drawn: f64 = area_and_normals(&shape).iter().map(|(area, ..)| area).sum();
            let built: f64 = room.surfaces.iter().filter(|s| !matches!(s.role, Role::Panel(_))).map(|surface| surface.outline.area()).sum();
            // Corners are f32: 1e-6 of meters, over tens of square meters.
            assert!((drawn - built).abs() < 1e-3, "{}: {drawn} for {built}", scene.name);
            for surface in room.surfaces.iter().filter(|surface| surface.role.is_shell()) {
                let mut one = Shape::default();
                one.flat(&surface.chart, &surface.outline, LinearRgba::WHITE);
                for (_, normal, middle) in area_and_normals(&one) {
                    assert!(normal.dot(point(surface.chart.normal)) > 0.999, "{}", surface.name);
                    let inside = DVec3::new(f64::from(middle.x), -f64::from(middle.z), f64::from(middle.y)) + 0.01 * surface.chart.normal;
                    assert!(room.contains(inside) || room.solids.iter().any(|solid| solid.contains(inside)), "{}", surface.name);
                }
            }
        }
    }

    /// Of a closed body every edge is shared by two triangles that run along it in opposite ways, and its faces enclose its volume
    /// (divergence theorem).
    #[test]
    fn exact_closed_bodies() {
        let mut cube = Shape::default();
        cube.solid(DVec3::new(1.0, 2.0, 0.5), [DVec3::X, DVec3::Y, DVec3::Z], DVec3::new(0.5, 0.25, 0.1), tokens::INK);
        let mut ball = Shape::default();
        ball.ball(DVec3::new(0.0, 1.0, 1.0), 0.5, tokens::INK);
        for (shape, volume, tolerance) in [(cube, 0.1, 1e-5), (ball, 4.0 / 3.0 * PI * 0.5_f64.powi(3), 0.08)] {
            let key = |corner: u32| shape.positions[corner as usize].to_array().map(|x| (x * 1e4).round() as i64);
            let mut edges = std::collections::BTreeMap::new();
            for corners in shape.indices.chunks(3) {
                for i in 0..3 {
                    let (a, b) = (key(corners[i]), key(corners[(i + 1) % 3]));
                    *edges.entry((a.min(b), a.max(b))).or_insert(0) += if a < b { 1 } else { -1 };
                }
            }
            assert!(edges.values().all(|&count| count == 0), "an edge is open");
            let enclosed: f64 =
                area_and_normals(&shape).iter().map(|(area, normal, middle)| area * f64::from(normal.dot(*middle)) / 3.0).sum();
            assert!((enclosed - volume).abs() < tolerance, "{enclosed} for {volume}");
        }
    }

    #[test]
    fn keeps_panels_in_front_of_their_wall() {
        let (scene, room) = samples::with_panel();
        let shape = panels(&scene, &room);
        // A front and four sides, two triangles each.
        assert_eq!(shape.indices.len(), 30);
        let front = area_and_normals(&shape)[..2].iter().map(|(area, ..)| area).sum::<f64>();
        assert!((front - 0.72).abs() < 1e-5);
        let wall = room.named("east").next().expect("the attic has an east wall").1;
        let kind = &scene.stock[0];
        for position in &shape.positions {
            let inside = DVec3::new(f64::from(position.x), -f64::from(position.z), f64::from(position.y));
            let height = wall.chart.height(inside);
            assert!(height > kind.gap - 1e-5 && height < kind.gap + kind.thickness + 1e-5, "{height}");
        }
        for (_, normal, middle) in area_and_normals(&shape) {
            let middle_of_panel = shape.positions.iter().sum::<Vec3>() / shape.positions.len() as f32;
            assert!(normal.dot(middle - middle_of_panel) > 0.0, "faces outward");
        }
    }
}
