//! Lessons about single reflections: by which way they come, how late, how loud.
//!
//! By hand: the image of a source in a wall stands as far behind it as the source before; its way is the distance from the image to the
//! seat, its delay `(image - direct) / c`, its level by the longer way `20 lg(direct / image)`.
//!
//! *References.* J. B. Allen, D. A. Berkley, J. Acoust. Soc. Am. 65 (1979) 943 (image sources; from memory).

use glam::DVec3;

use super::Told;
use crate::findings::{Findings, Pair, Reflection};
use crate::report::text::columns::Table;
use crate::report::text::compare::letter;
use crate::report::text::figures::{number, optional, optional_estimate};
use crate::scene::{PanelPlace, Scene};
use crate::study::compare::{ComparedRooms, Comparison, Kind};

/// Where the source and the point that listens are.
fn ends(scene: &Scene) -> Option<(DVec3, DVec3)> {
    Some((scene.sources.first()?.position, scene.microphones.first()?.position))
}

/// The strongest bounce whose only point of reflection is like this.
pub(super) fn single(findings: &Findings, is: impl Fn(DVec3) -> bool) -> Option<(&Pair, &Reflection)> {
    let pair = findings.pairs.first()?;
    let point = |one: &Reflection| (one.order == 1).then(|| one.points_m.first().map(|point| DVec3::from(*point))).flatten();
    let all = pair.reflections.iter().flat_map(|one| std::iter::once(one).chain(&one.joined_by));
    all.filter(|one| point(one).is_some_and(&is)).max_by(|a, b| a.level_db.total_cmp(&b.level_db)).map(|one| (pair, one))
}

pub(super) fn one_wall(scenes: &[Scene], compared: &ComparedRooms) -> Told {
    let mut table =
        Table::new(&["", "straight, m", "by the wall, m", "by hand, ms", "told, ms", "longer way, dB", "told, dB", "first dip, Hz"]);
    let mut sentences = Vec::new();
    for (index, (scene, version)) in scenes.iter().zip(&compared.comparison.versions).enumerate() {
        let Some((source, seat)) = ends(scene) else { continue };
        let image = DVec3::new(source.x, -source.y, source.z);
        let (straight, by_wall) = (source.distance(seat), image.distance(seat));
        let speed = compared.rooms[index].medium.speed;
        let (delay_ms, spread_db) = (1000.0 * (by_wall - straight) / speed, 20.0 * (straight / by_wall).log10());
        let found = single(&version.findings, |point| point.y < 0.3).map(|(_, one)| one);
        table.row([
            letter(index).to_string(),
            number(straight, 2),
            number(by_wall, 2),
            number(delay_ms, 2),
            optional(found.map(|one| one.delay_ms), 2),
            number(spread_db, 1),
            optional(found.map(|one| one.level_db), 1),
            number(500.0 / delay_ms, 0),
        ]);
        let level = found.map_or_else(|| "is not told".to_owned(), |one| format!("arrives {} dB re direct", number(one.level_db, 1)));
        sentences.push(format!(
            "{}: the sound of the wall goes {} m where the straight one goes {} m. It comes {} ms later and {level}.",
            version.name,
            number(by_wall, 2),
            number(straight, 2),
            number(delay_ms, 1),
        ));
    }
    Told {
        sentences,
        table,
        below: "By hand: delay from image and distance; longer way: 20 lg(straight / by the wall). What is told has in it what the wall takes, what air and source change, and how much of the wall counts. First dip: where the longer way is half a wavelength longer and both cancel, 1 / (2 delay).",
    }
}

pub(super) fn mirror_point(scenes: &[Scene], compared: &ComparedRooms) -> Told {
    let mut table = Table::new(&["", "<panels cover, from the north end, m", "point by hand, m", "told, m", "reflection, dB"]);
    let mut sentences = Vec::new();
    for (index, (scene, version)) in scenes.iter().zip(&compared.comparison.versions).enumerate() {
        let Some((source, seat)) = ends(scene) else { continue };
        let high = scene.outline.iter().fold(scene.outline[0], |high, corner| high.max(*corner));
        let (of_source, of_seat) = (high.x - source.x, high.x - seat.x);
        let along = source.y + (seat.y - source.y) * of_source / (of_source + of_seat);
        let by_hand = high.y - along;
        let found = single(&version.findings, |point| point.x > high.x - 0.3).map(|(_, one)| one);
        let told = found.and_then(|one| one.points_m.first()).map(|point| high.y - point[1]);
        let covers = covered(scene);
        table.row([
            letter(index).to_string(),
            if covers.is_empty() {
                "nothing".to_owned()
            } else {
                covers.iter().map(|[from, to]| format!("{} to {}", number(*from, 1), number(*to, 1))).collect::<Vec<_>>().join(", ")
            },
            number(by_hand, 2),
            optional(told, 2),
            optional(found.map(|one| one.level_db), 1),
        ]);
        let within = covers.iter().any(|[from, to]| (*from..=*to).contains(&by_hand));
        let panel = match (covers.is_empty(), within) {
            (true, _) => "no panel hangs there",
            (false, true) => "a panel hangs on it",
            (false, false) => "the panel hangs beside it",
        };
        sentences.push(format!(
            "{}: the mirror point lies {} m from the north end of the wall, {panel}, and the reflection comes with {} dB re direct.",
            version.name,
            number(by_hand, 2),
            optional(found.map(|one| one.level_db), 1),
        ));
    }
    Told {
        sentences,
        table,
        below: "By hand: loudspeaker and seat stand a and b away from the wall; the point divides the way along it as a to a + b. The point that is told lies on the front of the panel where one hangs. Panels are 0.6 m wide; a reflection needs its first Fresnel zone, which is wider than a point.",
    }
}

/// Which stretches of the east wall panels cover, from its left edge, meters.
fn covered(scene: &Scene) -> Vec<[f64; 2]> {
    scene
        .panels
        .iter()
        .filter_map(|panel| match &panel.place {
            PanelPlace::Surface { left, .. } => Some([*left, left + 0.6]),
            _ => None,
        })
        .collect()
}

pub(super) fn cloud(comparison: &Comparison) -> Told {
    let mut table = Table::new(&["", "<cloud", "from above, ms", "from above, dB", "early, dB", "decay, s"]);
    let mut sentences = Vec::new();
    let mut levels = Vec::new();
    for (index, version) in comparison.versions.iter().enumerate() {
        let above = single(&version.findings, |point| point.z > 1.9).map(|(_, one)| one);
        let early = version.findings.pairs.first().map(|pair| pair.early_level_db);
        let decay = comparison.figure(Kind::MeanDecay).and_then(|figure| figure.cells[index].value);
        levels.push((version.name.as_str(), above.map(|one| one.level_db), decay.map(|decay| decay.value)));
        table.row([
            letter(index).to_string(),
            version.name.clone(),
            optional(above.map(|one| one.delay_ms), 1),
            optional(above.map(|one| one.level_db), 1),
            optional_estimate(early, 1),
            optional_estimate(decay, 2),
        ]);
    }
    if let [(_, Some(bare_db), Some(bare_s)), rest @ ..] = &levels[..] {
        for (name, level_db, decay_s) in rest {
            sentences.push(format!(
                "{name}: what comes from above has {} dB re direct ({} without the cloud), and the room rings {} s ({} without).",
                optional(*level_db, 1),
                number(*bare_db, 1),
                optional(*decay_s, 2),
                number(*bare_s, 2),
            ));
        }
    }
    Told {
        sentences,
        table,
        below: "From above: the strongest single bounce of ceiling or cloud at the seat, left loudspeaker. Decay: mean of 500 Hz to 2 kHz.",
    }
}
