//! What reaches one ear, or one microphone, early: the direct sound, mirror images, and what edges bend round, each as a pressure with its phase.
//!
//! An image comes with the root of its energy and the phase of its way, and of each mirror on it: what a layered build-up mirrors is late by its own phase and early by the way that its
//! front stands before the wall. Where a footprint holds several finishes their energies are mixed, as everywhere, and their pressures tell the phase. An edge comes
//! with the line integral over what of it both ends see (`images::wedge`), scaled by what the faces reflect at the angle of their image's boundary.
//!
//! *One edge model a path.* A single reflection by a face whose edges are counted is that of a face without end, and its edges make up what the end takes away; every
//! other reflection keeps the share that its face fills of the Fresnel zone (`room`, edges), and no edge.
//!
//! *References.* U. P. Svensson et al. and R. J. Luebbers, see `images::wedge`.
//!
//! *Limits.* A material that is known by a random-incidence value mirrors in phase, or against it where it is grazed: no table tells its phase. Faces beside an edge mirror in phase. Mirrors that panels
//! bring nearer are met where the way meets the wall: a decimeter aside for a deep panel met askew. What a source sends off its axis is known by octave and without
//! sign: a piston's side lobes, every other one of which is turned round, all come as they leave on the axis. The head is not there: an ear is a point beside its middle. What arrives scattered has
//! no phase and is left out.

use std::f64::consts::{PI, TAU};

use glam::{DVec2, DVec3};

use crate::absorbers::Reflector;
use crate::bands::{Band, Bands};
use crate::images::edges::{Edge, EdgePath, edge_paths, edges};
use crate::images::{self, Prepared};
use crate::progress::{Cancelled, Progress};
use crate::room::Room;

use super::{Footprint, Linings, SpecularPath, Traced, ZoneImages};

/// Half the distance between the ears of a head, meters.
pub const HEAD_RADIUS: f64 = 0.0875;

/// The edges of a room with its mirrors, for the ears of all its receivers.
pub struct Ears {
    prepared: Prepared,
    /// Its edges.
    pub edges: Vec<Edge>,
    /// Faces whose edges are counted, by surface.
    has_edges: Vec<bool>,
}

/// What reaches one ear.
pub struct Ear {
    /// Index of the source.
    pub source: usize,
    /// Index of the receiver.
    pub receiver: usize,
    /// Where it is, meters.
    pub position: DVec3,
    /// Mirror images within the window, the direct sound included where it is visible.
    pub images: Vec<SpecularPath>,
    /// What edges bend there within the window.
    pub edges: Vec<EdgePath>,
}

/// One arrival at an ear, ready to be summed at any frequency.
pub struct Arrival<'a> {
    /// Pressure re that 1 m before a source that sends 1, by band; of an edge, what its line integral is multiplied by.
    pressure: Bands<f64>,
    kind: Kind<'a>,
}

enum Kind<'a> {
    /// Of a way of so many meters by these mirrors.
    Image { length: f64, mirrors: Vec<Mirror<'a>> },
    /// With what of the pressure its two faces mirror, by band.
    Edge { path: &'a EdgePath, mirrored: [Bands<f64>; 2] },
}

/// What an image is mirrored by at one bounce.
struct Mirror<'a> {
    cosine: f64,
    /// Each finish in the footprint, with its share of it by band, and how far its front stands before the surface, meters.
    faces: Vec<(Reflector<'a>, Bands<f64>, f64)>,
    /// Share that the edges of the face scatter, where they are counted by themselves; else 0.
    edge_scattering: Bands<f64>,
}

impl Mirror<'_> {
    /// Pressure mirrored re the one that comes, at a frequency in Hz with so many radians to the meter in air.
    fn at(&self, frequency: f64, wavenumber: f64) -> DVec2 {
        let (mut energy, mut pressure) = (0.0, DVec2::ZERO);
        for (reflector, share, ahead) in &self.faces {
            let share = share.between(frequency);
            let factor = reflector.factor(frequency);
            let factor = DVec2::new(factor.re, factor.im);
            energy += share * factor.length_squared();
            pressure += DVec2::from_angle(2.0 * wavenumber * ahead * self.cosine).rotate(factor) * share;
        }
        let phase = pressure.try_normalize().unwrap_or(DVec2::X);
        phase * endless(energy, self.edge_scattering.between(frequency)).sqrt()
    }
}

impl Ears {
    /// Of a room.
    #[must_use]
    pub fn new(room: &Room) -> Self {
        let edges = edges(room);
        let mut has_edges = vec![false; room.surfaces.len()];
        for face in edges.iter().flat_map(|edge| edge.faces) {
            has_edges[face] = true;
        }
        Self { prepared: Prepared::new(room), edges, has_edges }
    }

    /// Where the ears of a receiver are: left and right of a seat's head as it faces, or the microphone itself.
    #[must_use]
    pub fn positions(room: &Room, receiver: usize) -> Vec<DVec3> {
        let receiver = &room.receivers[receiver];
        if receiver.zone_radius.is_none() {
            return vec![receiver.position];
        }
        let left = DVec3::Z.cross(receiver.facing).try_normalize().unwrap_or(DVec3::Y) * HEAD_RADIUS;
        vec![receiver.position + left, receiver.position - left]
    }

    /// What each ear of a receiver hears early of a source.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn hear(&self, progress: &Progress, traced: &Traced, source: usize, receiver: usize) -> Result<Vec<Ear>, Cancelled> {
        let room = &traced.room;
        let positions = Self::positions(room, receiver);
        let from = room.sources[source].position;
        let paths = images::paths_among(progress, &self.prepared, from, &positions, traced.settings.image_order)?;
        let window = traced.settings.window_s * room.medium.speed;
        let ear = |(position, paths): (DVec3, Vec<images::ImagePath>)| {
            let most = from.distance(position) + window;
            Ear {
                source,
                receiver,
                position,
                images: ZoneImages::at_point(room, source, receiver, &traced.directivity[source], paths, most),
                edges: edge_paths(&self.prepared, room, &self.edges, from, position, most),
            }
        };
        Ok(positions.into_iter().zip(paths).map(ear).collect())
    }

    /// What mirrors an image under what hangs, bounce by bounce.
    fn mirrors<'a>(&self, room: &Room, linings: &'a Linings, path: &SpecularPath) -> Vec<Mirror<'a>> {
        let single = path.footprints.len() == 1;
        let mirror = |footprint: &Footprint| {
            let mut faces: Vec<(u16, f64, Bands<f64>)> = Vec::new();
            for band in Band::ALL {
                for face in footprint.faces(room, linings, band) {
                    match faces.iter_mut().find(|(finish, ahead, _)| (*finish, *ahead) == (face.finish, face.ahead)) {
                        Some((_, _, share)) => share[band] += face.share,
                        None => {
                            let mut share = Bands::splat(0.0);
                            share[band] = face.share;
                            faces.push((face.finish, face.ahead, share));
                        }
                    }
                }
            }
            let surface = &room.surfaces[footprint.surface];
            let is_endless = single && self.has_edges[footprint.surface];
            Mirror {
                cosine: footprint.cosine,
                faces: faces
                    .into_iter()
                    .map(|(finish, ahead, share)| (linings.finish(finish).reflector(footprint.cosine), share, ahead))
                    .collect(),
                edge_scattering: if is_endless { surface.edge_scattering } else { Bands::splat(0.0) },
            }
        };
        path.footprints.iter().map(mirror).collect()
    }

    /// The surfaces that stand between a source and an ear, the nearest to the source first.
    #[must_use]
    pub fn hidden_by(&self, room: &Room, ear: &Ear) -> Vec<usize> {
        images::hidden_by(&self.prepared, room.sources[ear.source].position, ear.position)
    }

    /// The direct sound at an ear if nothing stood between and whatever a microphone's pattern makes of it.
    #[must_use]
    pub fn free(&self, traced: &Traced, ear: &Ear) -> Arrival<'static> {
        let length = ear.position.distance(traced.room.sources[ear.source].position);
        let pressure = traced.direct_energy(ear.source, ear.position).map(|energy| (4.0 * PI * energy).sqrt());
        Arrival { pressure, kind: Kind::Image { length, mirrors: Vec::new() } }
    }

    /// The arrivals at an ear under what hangs: images first, then edges, each in its order there.
    #[must_use]
    pub fn arrivals<'a>(&self, traced: &Traced, linings: &'a Linings, ear: &'a Ear) -> Vec<Arrival<'a>> {
        let room = &traced.room;
        let receiver = &room.receivers[ear.receiver];
        let sign = |arrival: DVec3| receiver.pattern.pressure(arrival.dot(receiver.facing)).signum();
        let image = |path: &SpecularPath| Arrival {
            pressure: path.mirror_energy.map(|energy| (4.0 * PI * energy).sqrt() * sign(path.path.arrival)),
            kind: Kind::Image { length: path.path.length, mirrors: self.mirrors(room, linings, path) },
        };
        let edge = |path: &'a EdgePath| {
            let sent = traced.directivity[ear.source].energy(path.departure.dot(room.sources[ear.source].aim));
            let heard = receiver.pattern.pressure(path.arrival.dot(receiver.facing));
            let air = room.medium.attenuation.map(|attenuation| (-0.5 * attenuation * path.length).exp());
            let face = |side: usize| {
                let surface = &room.surfaces[path.faces[side]];
                let finish = linings.finish(surface.finish as u16);
                finish.specular_at(path.cosines[side]).zip(surface.edge_scattering, endless).map(f64::sqrt)
            };
            Arrival { pressure: sent.map(f64::sqrt) * air * heard, kind: Kind::Edge { path, mirrored: [face(0), face(1)] } }
        };
        ear.images.iter().map(image).chain(ear.edges.iter().map(edge)).collect()
    }
}

/// Where the ears of a receiver are and the mirror images there, the direct sound among them where it is visible: what [`Ears::hear`] gives without what edges bend.
///
/// # Errors
/// [`Cancelled`].
pub fn ear_images(
    progress: &Progress,
    prepared: &Prepared,
    traced: &Traced,
    (source, receiver): (usize, usize),
) -> Result<Vec<(DVec3, Vec<SpecularPath>)>, Cancelled> {
    let room = &traced.room;
    let positions = Ears::positions(room, receiver);
    let from = room.sources[source].position;
    let paths = images::paths_among(progress, prepared, from, &positions, traced.settings.image_order)?;
    let window = traced.settings.window_s * room.medium.speed;
    let ear = |(position, paths): (DVec3, Vec<images::ImagePath>)| {
        let most = from.distance(position) + window;
        (position, ZoneImages::at_point(room, source, receiver, &traced.directivity[source], paths, most))
    };
    Ok(positions.into_iter().zip(paths).map(ear).collect())
}

/// What a face without end would mirror, where a finite one scatters this share of it.
fn endless(mirrored: f64, edge_scattering: f64) -> f64 {
    (mirrored / (1.0 - edge_scattering).max(1e-9)).min(1.0)
}

impl Arrival<'_> {
    /// Of what is bent: the share of energy that either face mirrors, by band.
    #[must_use]
    pub fn mirrored(&self) -> Option<[Bands<f64>; 2]> {
        match &self.kind {
            Kind::Image { .. } => None,
            Kind::Edge { mirrored, .. } => Some(mirrored.map(|face| face * face)),
        }
    }

    /// Of what is bent, were its faces hard: square of the pressure as it arrives, and of that which a source would bring about that sends 1 to all sides, in 1/m2,
    /// through air that takes nothing.
    #[must_use]
    pub fn hard(&self, frequency: f64, speed: f64) -> Option<[f64; 2]> {
        let Kind::Edge { path, .. } = &self.kind else { return None };
        let bent = path.diffraction.pressure(TAU * frequency / speed, [1.0; 2]).length_squared();
        Some([bent * self.pressure.between(frequency).powi(2), bent])
    }

    /// Complex pressure at a frequency in Hz where sound travels at `speed` m/s.
    #[must_use]
    pub fn at(&self, frequency: f64, speed: f64) -> DVec2 {
        let wavenumber = TAU * frequency / speed;
        match &self.kind {
            Kind::Image { length, mirrors } => {
                let sent = DVec2::from_angle(-wavenumber * length) * self.pressure.between(frequency);
                mirrors.iter().fold(sent, |pressure, mirror| mirror.at(frequency, wavenumber).rotate(pressure))
            }
            Kind::Edge { path, mirrored } => {
                path.diffraction.pressure(wavenumber, [0, 1].map(|side| mirrored[side].between(frequency)))
                    * self.pressure.between(frequency)
            }
        }
    }
}
