//! The low end as studies tell it: modes and decays by the whole way from scene to study, shapes in slices, places of a set, echoes, boards.

use super::{Check, worst};
use crate::bass::OF_A_BOX;
use crate::bass_fields::LONE_MODE;
use crate::bass_slice::{lowest_mode, upright_mode};
use crate::join::ECHOES;
use crate::positions_bass::{AT_PLACES, HALF_WAY};
use crate::wave_walls::{BRANCHES, TAKING, resonances};

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = of_a_box();
    checks.push(LONE_MODE.clone());
    checks.extend(TAKING.iter().cloned());
    checks.push(BRANCHES.clone());
    checks.push(worst("lowest mode of a box in a slice, re its loudest", &lowest_mode()));
    checks.extend(upright_mode());
    checks.extend(at_places());
    checks.extend(HALF_WAY.iter().cloned());
    checks.extend(ECHOES.iter().cloned());
    checks.extend(resonances());
    checks
}

/// The first three modes, and the worst of all.
fn of_a_box() -> Vec<Check> {
    let (frequencies, decays) = (&OF_A_BOX.frequencies, &OF_A_BOX.decays);
    let few = frequencies.iter().zip(decays).take(3).flat_map(|(frequency, decay)| [frequency.clone(), decay.clone()]);
    let all = [
        worst("bass study of a box: frequency re that of hard walls", frequencies),
        worst("the same: decay time re that by its walls", decays),
    ];
    few.chain(all).collect()
}

/// The first place of the grid, and the worst of all.
fn at_places() -> Vec<Check> {
    let (evenness, weakest) = (&AT_PLACES.evenness, &AT_PLACES.weakest);
    vec![
        evenness[0].clone(),
        weakest[0].clone(),
        worst("third octaves of a hard box at places of a set: off their mean, dB", evenness),
        worst("the same: the weakest re the mean, dB", weakest),
        AT_PLACES.others.clone(),
    ]
}
