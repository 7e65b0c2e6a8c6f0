//! The page of a voice before and after, and both takes equally loud to listen to.

use crate::dsp::wav::{Broadcast, Form, Sound, WavError, write};
use crate::prove::voice::{ProvedVoice, VoiceProof};
use crate::scene::Scene;
use crate::study::MatchedVoice;

use super::html::{self, Names, list, signs, table};
use super::svg::escape;
use super::text::voice::{CARE, DEPTH_HEADS, DEPTHS, NO_FILES, OCTAVE_HEADS, OCTAVES, about, depths, heading, octave, reason};

/// What `prove --is voice` writes: file name and bytes, page and JSON first.
///
/// # Errors
/// A take that is too long for a file.
pub fn voice_files(scene: &Scene, proof: &VoiceProof, heard: &[Option<MatchedVoice>]) -> Result<Vec<(String, Vec<u8>)>, WavError> {
    let mut names = Names::default();
    let mut sounds = Vec::new();
    let mut body = format!("<h1>{}: the voice before and after</h1>\n", escape(&scene.name));
    let mut sentences = proof.verdict.iter();
    if let Some(first) = sentences.next() {
        body += &format!("<p class=\"lead\">{}</p>\n", signs(&escape(first)));
    }
    body += &signs(&list(&sentences.cloned().collect::<Vec<_>>()));
    body += &format!("<div class=\"box\"><p>{}</p></div>\n", escape(CARE));
    for (one, heard) in proof.voices.iter().zip(heard) {
        let words = if proof.voices.len() > 1 { format!("{} {}", one.source, one.receiver) } else { String::new() };
        let name = |(word, what, sound)| (names.give("voice", format!("{words} {word}").trim(), "wav"), what, sound);
        let files: Vec<(String, &str, &Sound)> = heard.iter().flat_map(MatchedVoice::files).map(name).collect();
        body += &voice(one, &files);
        for (name, what, sound) in files {
            sounds.push((name, bytes(one, what, sound)?));
        }
    }
    body += &format!("<h2>How sure this is</h2>\n{}", signs(&list(&proof.notes)));
    let page = html::page(&format!("{}: the voice before and after", scene.name), &body);
    let json = serde_json::to_string_pretty(proof).expect("a proof has no keys but texts");
    let first = [("voice.html".to_owned(), page.into_bytes()), ("voice.json".to_owned(), format!("{json}\n").into_bytes())];
    Ok(first.into_iter().chain(sounds).collect())
}

/// A take with 24 bits.
fn bytes(one: &ProvedVoice, what: &str, sound: &Sound) -> Result<Vec<u8>, WavError> {
    let about = Broadcast {
        description: format!("voice, {}, {what}, equally loud", heading(one)).chars().take(256).collect(),
        history: format!("A=PCM,F={},M=mono", sound.rate),
    };
    write(sound, Form::Pcm24, Some(&about))
}

fn voice(one: &ProvedVoice, files: &[(String, &str, &Sound)]) -> String {
    let mut body = format!("<h2>{}</h2>\n<p class=\"quiet\">{}</p>\n", escape(&heading(one)), escape(&about(one)));
    if files.is_empty() {
        body += &format!("<p class=\"quiet\">{NO_FILES}</p>\n");
    }
    for (name, what, _) in files {
        body += &format!("<p><b>{}</b><br><audio controls preload=\"none\" src=\"{}\"></audio></p>\n", escape(what), escape(name));
    }
    body += &rows_under(&DEPTH_HEADS, depths(one).iter().map(<[String; 4]>::as_slice));
    body += &format!("<p class=\"quiet\">{}</p>\n", signs(&escape(&reason(one).unwrap_or_else(|| DEPTHS.to_owned()))));
    let octaves: Vec<[String; 4]> = one.octaves.iter().map(octave).collect();
    body += &rows_under(&OCTAVE_HEADS, octaves.iter().map(<[String; 4]>::as_slice));
    body + &format!("<p class=\"quiet\">{}</p>\n", escape(OCTAVES))
}

/// A table of a text as one of a page: columns of words are marked there, those of numbers here.
fn rows_under<'a>(heads: &[&str], rows: impl Iterator<Item = &'a [String]>) -> String {
    let heads: Vec<String> = heads.iter().map(|head| head.strip_prefix('<').map_or_else(|| format!("#{head}"), str::to_owned)).collect();
    let rows: Vec<Vec<String>> = rows.map(|row| row.iter().map(|cell| signs(&escape(cell))).collect()).collect();
    table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
}
