//! Sounds as files, and a page to play them from.

use std::io::{self, Write};

use thiserror::Error;

use crate::dsp::wav::{Broadcast, Form, Frames, WavError, write};
use crate::progress::Progress;
use crate::scene::Scene;
use crate::study::listen::{ListenError, Listened, Played, SoundFile};

use super::html::{self, list, table};
use super::svg::escape;
use super::text::listen::{HEADS, rows, who};

/// Why sounds that are played did not become files.
#[derive(Debug, Error)]
pub enum PlayedError {
    /// They could not be played.
    #[error(transparent)]
    Listen(#[from] ListenError),
    /// What was played makes no file.
    #[error(transparent)]
    Wav(#[from] WavError),
    /// They could not be written.
    #[error(transparent)]
    Disk(#[from] io::Error),
}

/// What `hear --sound` writes beside its other files, but for what is played: the page first, then responses, as floats.
///
/// # Errors
/// A response that is too long for a file.
pub fn sound_files(scene: &Scene, listened: &Listened) -> Result<Vec<(String, Vec<u8>)>, WavError> {
    let mut files = vec![("sound.html".to_owned(), page(scene, listened).into_bytes())];
    for (file, sound) in listened.sounds.files.iter().zip(&listened.responses) {
        let about = about(file, sound.rate, sound.channels.len());
        files.push((file.name.clone(), write(sound, Form::Float32, Some(&about))?));
    }
    Ok(files)
}

/// Plays a dry sound and writes its files as it goes on, each into its own of as many places.
///
/// # Errors
/// [`PlayedError`].
pub fn write_played(progress: &Progress, listened: &Listened, played: &Played, to: &mut [&mut dyn Write]) -> Result<(), PlayedError> {
    let mut open = Vec::new();
    for ((file, shape), to) in played.files.iter().zip(&mut *to) {
        let (frames, head) = Frames::begin(*shape, Some(&about(file, shape.rate, shape.channels)))?;
        to.write_all(&head)?;
        open.push(frames);
    }
    let mut bytes = Vec::new();
    listened.play(progress, played, |pieces| {
        for ((frames, piece), to) in open.iter_mut().zip(pieces).zip(&mut *to) {
            bytes.clear();
            frames.add(piece, &mut bytes)?;
            to.write_all(&bytes)?;
        }
        Ok::<_, PlayedError>(())
    })?;
    for (frames, to) in open.into_iter().zip(to) {
        to.write_all(&frames.end()?)?;
    }
    Ok(())
}

/// What a file of sound says of itself.
fn about(file: &SoundFile, rate: u32, channels: usize) -> Broadcast {
    let kind = if channels == 2 { "stereo" } else { "mono" };
    Broadcast { description: file.what.chars().take(256).collect(), history: format!("A=PCM,F={rate},M={kind},T=simulated") }
}

/// Responses have no loudness of their own.
fn is_response(file: &SoundFile) -> bool {
    file.name.starts_with("response-")
}

fn page(scene: &Scene, listened: &Listened) -> String {
    let sounds = &listened.sounds;
    let mut body = format!("<h1>{}: what it sounds like</h1>\n<p class=\"lead\">{}</p>\n", escape(&scene.name), escape(&who(sounds)));
    body += &format!("<div class=\"box\">{}</div>\n", list(&sounds.notes));
    for file in sounds.files.iter().filter(|file| !is_response(file)) {
        let (name, what) = (escape(&file.name), escape(&file.what));
        body += &format!("<p><b>{what}</b><br><audio controls preload=\"none\" src=\"{name}\"></audio></p>\n");
    }
    let rows: Vec<Vec<String>> = rows(sounds)
        .into_iter()
        .map(|[name, rest @ ..]| {
            let name = escape(&name);
            std::iter::once(format!("<a href=\"{name}\">{name}</a>")).chain(rest.map(|cell| escape(&cell))).collect()
        })
        .collect();
    let heads = HEADS.map(|head| head.strip_prefix('<').map_or_else(|| format!("#{head}"), str::to_owned));
    body += &format!("<h2>Files</h2>\n{}", table(&heads.each_ref().map(String::as_str), &rows));
    html::page(&format!("{}: what it sounds like", scene.name), &body)
}
