//! The room of a mesh: its faces as surfaces, no sources and receivers yet.
//!
//! A face that protrudes is finite and scatters what it cannot mirror, by the area of the whole flat face it is a part of (`room`, edges). Faces
//! that lie on one another, a table's foot on the floor, meet no air there.
//!
//! Inside is where the surfaces that look into the air fill the whole sphere: the solid angle, summed over all faces, is `4 pi` in the air,
//! 0 outside and in solids. Over a convex shell without solids planes tell the same, sooner.
//!
//! *Limits.* A point within rounding of a face may count either way.

use std::sync::Arc;

use glam::DVec3;

use super::bodies::edge_scattering;
use super::{Bodies, CONTACT, Contact, PatchGrid, Role, Room, Surface};
use crate::absorbers::Finish;
use crate::air::Medium;
use crate::bands::Bands;
use crate::geometry::Polygon;
use crate::mesh::{Mesh, WELD, solid_angle};

/// The room that a mesh encloses, with these finishes in the order of their numbers; patches of `patch_m` meters. The caller says what sends and who listens.
#[must_use]
pub fn of_mesh(mesh: &Mesh, finishes: &[Finish], medium: Medium, patch_m: f64) -> Room {
    let surface = |face: &crate::mesh::Face| Surface {
        name: format!("face {}", face.first + 1),
        role: Role::Face(face.shell),
        chart: face.chart,
        outline: face.outline.clone(),
        finish: face.finish,
        linings: Vec::new(),
        edge_scattering: Bands::splat(0.0),
    };
    let surfaces: Vec<Surface> = mesh.faces.iter().map(surface).collect();
    let mut room = Room {
        contacts: contacts(&surfaces),
        patches: Arc::new(PatchGrid::new(&surfaces, patch_m)),
        surfaces,
        finishes: finishes.to_vec(),
        volume: mesh.volume,
        sources: Vec::new(),
        receivers: Vec::new(),
        medium,
        solids: Vec::new(),
        bodies: Bodies::Standing,
        takes_patches: false,
        is_shell_convex: mesh.is_shell_convex,
    };
    let (free_path, speed) = (room.mean_free_path(), room.medium.speed);
    let mut edged: Vec<(usize, Bands<f64>)> = Vec::new();
    for (surface, face) in room.surfaces.iter_mut().zip(&mesh.faces).filter(|(_, face)| face.protrudes) {
        let scattering = edge_scattering(face.whole_area, free_path, speed);
        if scattering == Bands::splat(0.0) {
            continue;
        }
        surface.edge_scattering = scattering;
        let known = edged.iter().position(|known| *known == (face.finish, scattering)).unwrap_or_else(|| {
            edged.push((face.finish, scattering));
            room.finishes.push(finishes[face.finish].with_edge(scattering));
            edged.len() - 1
        });
        surface.finish = finishes.len() + known;
    }
    room
}

/// Where surfaces that look at each other lie on one another.
fn contacts(surfaces: &[Surface]) -> Vec<Contact> {
    let mut contacts = Vec::new();
    for (first, one) in surfaces.iter().enumerate() {
        for (second, other) in surfaces.iter().enumerate().skip(first + 1) {
            if one.chart.normal.dot(other.chart.normal) > -1.0 + CONTACT || one.chart.height(other.chart.origin).abs() > WELD {
                continue;
            }
            let on = |host: &Surface, guest: &Surface| {
                let corners = guest.outline.corners.iter().map(|&corner| host.chart.position(guest.chart.point(corner))).collect();
                host.outline.intersection(&Polygon::new(corners))
            };
            contacts.extend(on(one, other).into_iter().map(|region| Contact { surface: first, region }));
            contacts.extend(on(other, one).into_iter().map(|region| Contact { surface: second, region }));
        }
    }
    contacts
}

/// Whether a point lies in the air of a room of faces.
pub(super) fn contains(room: &Room, point: DVec3) -> bool {
    if room.is_shell_convex && room.surfaces.iter().all(|surface| surface.role.is_shell()) {
        return room.surfaces.iter().all(|surface| surface.chart.height(point) >= 0.0);
    }
    let angle = |surface: &Surface| solid_angle(point, surface.outline.corners.iter().map(|&corner| surface.chart.point(corner)));
    // Seen from the air faces are seen from the front, which counts below zero.
    room.surfaces.iter().map(angle).sum::<f64>() < -std::f64::consts::TAU
}
