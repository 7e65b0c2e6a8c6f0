//! `bass`: up to which frequency and with how much memory, as typed; the page, its charts, the figures.

use std::path::Path;

use roomwright::progress::Progress;
use roomwright::report;
use roomwright::study::{self, BassError, BassRun};

use super::arguments::Bass;
use super::{Failure, begin_sheets, finish, json, read, waiting, write};

/// Studies the low end of a scene.
pub(super) fn bass(given: &Bass, out: Option<&Path>) -> Result<(), Failure> {
    let (_, scene) = read(&given.scene)?;
    let asked = given.waves.asked();
    let studied = |progress: &Progress| {
        let mut run = study::waves(progress, &scene, &asked)?;
        run.study.corners = given.corners.then(|| study::bass_corners(progress, &scene, &asked)).transpose()?;
        Ok(run)
    };
    let (study, sheets) = waiting::wait(|progress| match studied(progress) {
        Ok(BassRun { study, fields, .. }) => {
            begin_sheets(progress)?;
            let sheets = report::bass_files(&scene, &study, Some(&fields));
            progress.step(1)?;
            Ok(Ok((study, sheets)))
        }
        Err(BassError::Stopped(stopped)) => Err(stopped),
        Err(why) => Ok(Err(Failure::Usage(why.to_string()))),
    })??;
    let json = json(&study)?;
    let mut files = sheets;
    files.insert(1, ("bass.json".into(), format!("{json}\n").into_bytes()));
    let written = write("bass", Some(&given.scene), out, &files)?;
    finish(given.json, &written, &json, || report::text::bass(&scene, &study))
}
