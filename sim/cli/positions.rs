//! `positions`: which grid, what stays, whether with waves, as typed; the page, its maps, and the scene with the set at the best place.

use std::path::Path;

use roomwright::report;
use roomwright::scene;
use roomwright::study::{self, PositionsAsked, PositionsError};
use roomwright::units::{Length, LengthUnit};

use super::arguments::Positions;
use super::{Failure, begin_sheets, finish, json, read, waiting, write};

/// Studies where the listening set of a scene stands.
pub(super) fn positions(given: &Positions, out: Option<&Path>) -> Result<(), Failure> {
    let (text, scene) = read(&given.scene)?;
    let asked = asked(given, scene.unit)?;
    let waves = (!given.rays_only).then(|| given.reach.asked());
    let (study, sheets) = waiting::wait(|progress| match study::positions_with(progress, &scene, &asked, waves.as_ref()) {
        Ok(study) => {
            begin_sheets(progress)?;
            let sheets = report::positions_files(&scene, &study);
            progress.step(1)?;
            Ok(Ok((study, sheets)))
        }
        Err(PositionsError::Cannot(why)) => Ok(Err(why)),
        Err(PositionsError::Stopped(stopped)) => Err(stopped),
    })??;
    let json = json(&study)?;
    let mut files = sheets;
    files.insert(0, ("positions.json".into(), format!("{json}\n").into_bytes()));
    if let Some(moved) = study.moved(&scene, &asked) {
        let text = scene::with_positions(&text, &moved).map_err(Failure::Moved)?;
        files.insert(0, ("positions.toml".into(), text.into_bytes()));
    }
    let written = write("positions", Some(&given.scene), out, &files)?;
    finish(given.json, &written, &json, || report::text::positions(&scene, &study))
}

/// What was typed.
fn asked(given: &Positions, unit: LengthUnit) -> Result<PositionsAsked, Failure> {
    let length = |name: &str, text: &Option<String>| {
        let read = |text: &String| {
            Length::read(text, unit).map(|length| length.0).map_err(|error| Failure::Usage(format!("--{name} \"{text}\": {error}")))
        };
        text.as_ref().map(read).transpose()
    };
    Ok(PositionsAsked {
        step_m: length("step", &given.step)?,
        from_walls_m: length("from-walls", &given.from_walls)?,
        stays: given.stays.clone(),
    })
}
