//! `cloud`: which cloud, where and at which heights, as typed; the page, the chart, and the scene with the cloud in it.

use std::path::Path;

use roomwright::report;
use roomwright::report::text::Extent;
use roomwright::scene;
use roomwright::study::{self, CloudAsked, CloudError};
use roomwright::units::{Length, LengthUnit};

use super::arguments::Cloud;
use super::{Failure, begin_sheets, finish, json, read, waiting, write};

/// Studies the cloud of a scene.
pub(super) fn cloud(given: &Cloud, out: Option<&Path>, extent: Extent) -> Result<(), Failure> {
    let (text, scene) = read(&given.scene)?;
    let asked = asked(given, scene.unit)?;
    let (study, sheets) = waiting::wait(|progress| match study::cloud(progress, &scene, &asked) {
        Ok(study) => {
            begin_sheets(progress)?;
            let sheets = report::cloud_files(&scene, &study);
            progress.step(1)?;
            Ok(Ok((study, sheets)))
        }
        Err(CloudError::Cannot(why)) => Ok(Err(why)),
        Err(CloudError::Stopped(stopped)) => Err(stopped),
    })??;
    let json = json(&study)?;
    let mut files = sheets;
    if let Some(panel) = study.panel() {
        let hung = study.hung_panel_number.map(|number| number - 1);
        files.insert(0, ("cloud.toml".into(), scene::with_cloud(&text, hung, &panel)?.into_bytes()));
    }
    files.insert(1, ("cloud.json".into(), format!("{json}\n").into_bytes()));
    let written = write("cloud", Some(&given.scene), out, &files)?;
    finish(given.json, &written, &json, || report::text::cloud(&scene, &study, extent))
}

/// What was typed.
fn asked(given: &Cloud, unit: LengthUnit) -> Result<CloudAsked, Failure> {
    let length = |name: &str, text: &str| {
        Length::read(text, unit).map(|length| length.0).map_err(|error| Failure::Usage(format!("--{name} \"{text}\": {error}")))
    };
    let center = given.center.as_ref().map(|text| match text.split(',').collect::<Vec<_>>()[..] {
        [x, y] => Ok([length("center", x.trim())?, length("center", y.trim())?]),
        _ => Err(Failure::Usage(format!("--center \"{text}\": expected two lengths with a comma between them, along x and along y"))),
    });
    Ok(CloudAsked {
        kind: given.kind.clone(),
        center_m: center.transpose()?,
        heights: given.heights,
        from_m: given.from.as_ref().map(|text| length("from", text)).transpose()?,
        to_m: given.to.as_ref().map(|text| length("to", text)).transpose()?,
    })
}
