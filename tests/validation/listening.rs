//! What one hears: a head that is a rigid sphere, delays out of measured heads, tails in two channels, dry sounds, loudness, fields of files.

use super::{Check, worst};
use crate::head::delays_in_high_octaves;
use crate::impulse::TWO_POINTS;
use crate::listen::{OnASphere, differences_in_time_of_arrival, on_a_sphere, spectra_of_speech};
use crate::loudness::{gates_of_loudness, loudness_of_sines};
use crate::wav::fields_of_the_broadcast_chunk;

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = sphere();
    checks.extend(differences_in_time_of_arrival());
    checks.extend(delays_in_high_octaves());
    checks.extend(tails());
    checks.extend(spectra_of_speech());
    checks.extend(loudness_of_sines());
    checks.extend(gates_of_loudness());
    checks.extend(fields_of_the_broadcast_chunk());
    checks
}

/// Ahead, aside and behind where the sphere is as large as the length of a wave over 2 pi, and the worst of all.
fn sphere() -> Vec<Check> {
    let few = on_a_sphere(|mu, degrees| (0.9..1.1).contains(&mu) && degrees % 90.0 == 0.0);
    let OnASphere { levels, phases } = on_a_sphere(|_, _| true);
    let all = [worst("rigid sphere: levels, dB", &levels), worst("rigid sphere: phases, rad", &phases)];
    few.levels.into_iter().chain(few.phases).chain(all).collect()
}

/// Points 0.1 m apart at three frequencies, and the worst of all.
fn tails() -> Vec<Check> {
    let [real, imaginary] = &*TWO_POINTS;
    let few = [0, 9, 19].map(|index| real[index].clone());
    few.into_iter()
        .chain([
            worst("coherence of two points in a tail, real part", real),
            worst("coherence of two points in a tail, imaginary part", imaginary),
        ])
        .collect()
}
