//! From A to B is from B to A: lengths, ways and energies of specular paths, between places that send and hear alike in every direction; and
//! 500 boxes against their images in closed form.
//!
//! *References.* J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943: images of a box at `2 n L + x` and `2 n L - x` (from memory).
//! Lord Rayleigh, "The Theory of Sound", vol. 2, section 294: reciprocity (from memory).

use std::sync::LazyLock;

use glam::DVec3;
use rayon::prelude::*;
use roomwright::bands::Band;
use roomwright::directivity::{Directivity, DirectivityTable, Pattern};
use roomwright::hanging::Hanging;
use roomwright::progress::Progress;
use roomwright::random::{Purpose, Stream};
use roomwright::room::{Emitter, Receiver, Room};
use roomwright::scene::{AngleLaw, SourceKind};
use roomwright::weigh::{Linings, SpecularPath, ZoneImages};

use crate::images::{box_images, build, furnished_attic, paths};
use crate::room::{l_shape, shoebox};

/// What 500 boxes came to.
pub(crate) struct Boxes {
    /// Images in closed form.
    pub(crate) expected: usize,
    /// Paths found.
    pub(crate) found: usize,
    /// Boxes with another number of paths than images.
    pub(crate) unlike: usize,
    /// Largest departure of a length, relative.
    pub(crate) off: f64,
    /// Largest departure of a length from the way back, relative.
    pub(crate) off_back: f64,
}

/// Random boxes of 2 to 9 m, source and point at random, orders 0 to 10 in turn.
pub(crate) static BOXES: LazyLock<Boxes> = LazyLock::new(|| {
    let of_box = |index: u64| {
        let mut stream = Stream::new(5, Purpose::Search, index);
        let mut within = |low: f64, high: f64| DVec3::new(stream.unit(), stream.unit(), stream.unit()) * (high - low) + low;
        let size = within(2.0, 9.0);
        let (source, point, order) = (size * within(0.01, 0.99), size * within(0.01, 0.99), (index % 11) as u8);
        let room = build(&shoebox(size.x, size.y, size.z));
        let (there, back) = (paths(&room, source, point, order), paths(&room, point, source, order));
        let exact = box_images(size, source, point, i32::from(order));
        let alike = there.len() == exact.len() && back.len() == exact.len();
        let most = |lengths: &mut dyn Iterator<Item = (f64, f64)>| lengths.map(|(a, b)| (a / b - 1.0).abs()).fold(0.0, f64::max);
        Boxes {
            expected: exact.len(),
            found: there.len(),
            unlike: usize::from(!alike),
            off: most(&mut there.iter().zip(&exact).map(|(path, image)| (path.length, image.0))),
            off_back: most(&mut there.iter().zip(&back).map(|(one, other)| (one.length, other.length))),
        }
    };
    let all: Vec<Boxes> = (0..500).into_par_iter().map(of_box).collect();
    let most = |of: fn(&Boxes) -> f64| all.iter().map(of).fold(0.0, f64::max);
    let sum = |of: fn(&Boxes) -> usize| all.iter().map(of).sum();
    Boxes {
        expected: sum(|one| one.expected),
        found: sum(|one| one.found),
        unlike: sum(|one| one.unlike),
        off: most(|one| one.off),
        off_back: most(|one| one.off_back),
    }
});

#[test]
fn exact_500_boxes_to_tenth_order() {
    assert_eq!((BOXES.unlike, BOXES.found), (0, BOXES.expected));
    assert!(BOXES.expected > 200_000, "{} images", BOXES.expected);
    assert!(BOXES.off < 1e-9, "{}", BOXES.off);
    assert!(BOXES.off_back < 1e-12, "{}", BOXES.off_back);
}

/// What the way there and the way back differ by.
pub(crate) struct Exchanged {
    /// Paths compared.
    pub(crate) paths: usize,
    /// Ways that only one direction has.
    pub(crate) unlike: usize,
    /// Largest departure of a length, relative.
    pub(crate) length: f64,
    /// Largest departure of an energy in any octave, relative.
    pub(crate) energy: f64,
}

/// Specular paths from one place to another, both omnidirectional.
fn sent(room: &Room, from: DVec3, to: DVec3, order: u8) -> Vec<SpecularPath> {
    let mut room = room.clone();
    let directivity = Directivity::Omni;
    room.sources = vec![Emitter { name: "source".to_owned(), kind: SourceKind::Loudspeaker, position: from, aim: DVec3::X, directivity }];
    let pattern = Pattern { omni: 1.0 };
    room.receivers = vec![Receiver { name: "microphone".to_owned(), position: to, facing: DVec3::X, zone_radius: None, pattern }];
    let table = [DirectivityTable::new(directivity, room.medium.speed)];
    ZoneImages::all(&Progress::new(), &room, order, &table).expect("nobody cancels").remove(0).remove(0).points.remove(0)
}

fn exchange(room: &Room, a: DVec3, b: DVec3, order: u8) -> Exchanged {
    let linings = Linings::new(room, &Hanging::default());
    let way = |path: &SpecularPath| path.path.bounces.iter().map(|bounce| bounce.surface).collect::<Vec<usize>>();
    let (there, back) = (sent(room, a, b, order), sent(room, b, a, order));
    let mut found = Exchanged { paths: there.len(), unlike: there.len().abs_diff(back.len()), length: 0.0, energy: 0.0 };
    for one in &there {
        let reversed: Vec<usize> = way(one).into_iter().rev().collect();
        let Some(other) = back.iter().find(|other| way(other) == reversed) else {
            found.unlike += 1;
            continue;
        };
        found.length = found.length.max((one.path.length / other.path.length - 1.0).abs());
        let (ours, theirs) = (one.energy(room, &linings), other.energy(room, &linings));
        found.energy = Band::ALL.iter().map(|&band| (ours[band] / theirs[band] - 1.0).abs()).fold(found.energy, f64::max);
    }
    found
}

/// A room of one finish whose absorption depends on the angle of incidence; the furnished attic, whose panels and walls share footprints.
pub(crate) static EXCHANGED: LazyLock<[Exchanged; 2]> = LazyLock::new(|| {
    let by_angle = |mut scene: roomwright::scene::Scene| {
        scene.materials.iter_mut().for_each(|material| material.law = AngleLaw::LocalReaction);
        build(&scene)
    };
    [
        exchange(&by_angle(l_shape()), DVec3::new(4.3, 0.7, 1.1), DVec3::new(0.6, 3.3, 1.3), 6),
        exchange(&by_angle(furnished_attic()), DVec3::new(3.0, 0.9, 1.2), DVec3::new(2.4, 2.9, 1.15), 4),
    ]
});

#[test]
fn exact_energies_from_either_end() {
    let [plain, furnished] = &*EXCHANGED;
    assert!(plain.paths > 20 && furnished.paths > 20, "{} and {} paths", plain.paths, furnished.paths);
    assert_eq!((plain.unlike, furnished.unlike), (0, 0));
    assert!(plain.length < 1e-12 && furnished.length < 1e-12, "{} and {}", plain.length, furnished.length);
    assert!(plain.energy < 1e-12 && furnished.energy < 1e-12, "{} and {}", plain.energy, furnished.energy);
}
