//! Sounds as files, and a page to play them from.

use crate::dsp::wav::{Broadcast, Form, WavError, write};
use crate::scene::Scene;
use crate::study::listen::{Listened, SoundFile};

use super::html::{self, list, table};
use super::svg::escape;
use super::text::listen::{HEADS, rows, who};

/// What `hear --sound` writes beside its other files: file name and bytes, the page first. Responses are floats, sounds to be played 24 bits.
///
/// # Errors
/// A sound that is too long for a file.
pub fn sound_files(scene: &Scene, listened: &Listened) -> Result<Vec<(String, Vec<u8>)>, WavError> {
    let mut files = vec![("sound.html".to_owned(), page(scene, listened).into_bytes())];
    for (file, sound) in listened.sounds.files.iter().zip(&listened.samples) {
        let form = if is_response(file) { Form::Float32 } else { Form::Pcm24 };
        let kind = if sound.channels.len() == 2 { "stereo" } else { "mono" };
        let about = Broadcast {
            description: file.what.chars().take(256).collect(),
            history: format!("A=PCM,F={},M={kind},T=simulated", sound.rate),
        };
        files.push((file.name.clone(), write(sound, form, Some(&about))?));
    }
    Ok(files)
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
