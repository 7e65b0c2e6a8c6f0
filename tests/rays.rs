//! Rooms for tests of the traced rays, and the decay of a Lambertian cube (its rows stand in `validation/rays.rs`).

use glam::DVec3;
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::hanging::Hanging;
use roomwright::progress::Progress;
use roomwright::response::{Estimate, Response};
use roomwright::room::{Bodies, Emitter, Receiver, Room, build};
use roomwright::scene::SourceKind;
use roomwright::settings::Settings;
use roomwright::weigh::{Linings, Traced, weigh_rays};

use crate::room::shoebox;

/// A box with one finish everywhere, an omni source and an omni seat, no air absorption, speed of sound 343 m/s.
pub(crate) fn uniform_box(size: [f64; 3], absorption: f64, scattering: Bands<f64>, source: DVec3, seat: DVec3) -> Room {
    let mut room = build(&shoebox(size[0], size[1], size[2]), Bodies::Standing);
    let finish = Finish::uniform("even", Bands::splat(absorption), scattering);
    room.finishes = vec![finish; room.finishes.len()];
    room.medium.speed = 343.0;
    room.medium.attenuation = Bands::splat(0.0);
    room.sources = vec![Emitter {
        name: "source".to_owned(),
        kind: SourceKind::Loudspeaker,
        position: source,
        aim: DVec3::X,
        directivity: Directivity::Omni,
    }];
    room.receivers = vec![Receiver {
        name: "seat".to_owned(),
        position: seat,
        facing: DVec3::X,
        zone_radius: Some(0.1),
        pattern: Pattern { omni: 1.0 },
    }];
    room
}

pub(crate) fn responses(room: Room, settings: Settings, end_s: f64) -> (Traced, Response) {
    let progress = Progress::new();
    let traced = Traced::new(&progress, room, settings, end_s).expect("nobody cancels");
    let linings = Linings::new(&traced.room, &Hanging::default());
    let rays = weigh_rays(&progress, &traced, &linings).expect("nobody cancels").remove(0).remove(0);
    let response = Response::new(&traced, &linings, rays, 0, 0);
    (traced, response)
}

/// Decay rate of the energy between two times, from the energies of two long windows.
pub(crate) fn decay_rate(response: &Response, band: Band, from_s: f64, window_s: f64) -> Estimate {
    let curve = response.resampled(band);
    let bins = |t: f64| (t / response.bin_s).round() as usize;
    curve
        .estimate(|energy| {
            let sum = |from: f64| energy[bins(from)..bins(from + window_s)].iter().sum::<f64>();
            Some((sum(from_s) / sum(from_s + window_s)).ln() / window_s)
        })
        .expect("the record is long enough")
}

/// Slowest decay rate of a Lambertian cube of 3 m at 343 m/s, as `s` in `E ~ exp(-s c t / edge)`, read from two windows that begin after the
/// start-up from the source is over.
pub(crate) fn lambertian_cube(absorption: f64, from_s: f64, window_s: f64) -> Estimate {
    let edge = 3.0;
    let room = uniform_box([edge; 3], absorption, Bands::splat(1.0), DVec3::new(0.9, 1.1, 1.3), DVec3::new(2.0, 1.8, 1.4));
    let settings = Settings { rays: 200_000, tail_one_in: 1, image_order: 0, ..Settings::DEFAULT };
    let (_, response) = responses(room, settings, from_s + 2.0 * window_s + 0.02);
    let rate = decay_rate(&response, Band::new(4), from_s, window_s);
    Estimate { value: rate.value * edge / 343.0, se: rate.se * edge / 343.0 }
}
