//! The stage as a PNG at print size: the same eye, the same overlay, on an image of its own.
//!
//! The room is drawn at twice the size and averaged over 2 x 2 pixels (in linear light), so that its lines are smooth; the overlay is laid
//! over it at full size by the drawing code of the report, with the letters of the report. The file appears whole or not at all.

use std::io::Cursor;
use std::path::PathBuf;

use bevy::asset::RenderAssetUsages;
use bevy::camera::RenderTarget;
use bevy::camera::visibility::RenderLayers;
use bevy::color::{ColorToPacked, LinearRgba, Srgba};
use bevy::image::{CompressedImageFormats, ImageFormat, ImageSampler, ImageType};
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use roomwright::files;
use roomwright::report::raster;

use super::camera::Sight;
use super::control;
use super::draw::{LAYER_IN_PRINT, MapScale, Unsettled};
use super::hand::Hand;
use super::overlay::{self, Seen};
use super::{StageArea, painter};
use crate::command::Command;
use crate::recovery::Storage;
use crate::results::Results;
use crate::view::View;

/// Width of the picture, pixels: 200 mm at 300 dots per inch.
const WIDTH: u32 = 2362;
/// Width of the stage that it is laid out for, logical pixels, so that letters come out 2.1 mm high.
const LAID_OUT: f32 = 1100.0;
/// Pixels drawn for one of the picture, in each direction.
const FINER: u32 = 2;
/// How much wider lines are drawn than on screen.
pub(super) const ZOOM: f32 = (WIDTH * FINER) as f32 / LAID_OUT;
/// Frames until what was sent to the driver is surely on the image.
const FRAMES: u32 = 3;

/// Pictures that are being drawn.
#[derive(Debug, Default, Resource)]
pub(super) struct Exports(Vec<Export>);

/// One of them.
#[derive(Debug)]
struct Export {
    target: Handle<Image>,
    waiting: Waiting,
    frames: u32,
}

/// A picture that is on its way back from the driver, and what is to be done with it.
#[derive(Clone, Debug, Component)]
pub(super) struct Waiting {
    path: PathBuf,
    camera: Entity,
    overlay: String,
}

/// The eye for a picture `LAID_OUT` wide, of the shape of the stage.
fn sight_of(sight: &Sight) -> Sight {
    let shape = (1.0 / sight.aspect() as f32).clamp(0.4, 1.6);
    Sight { pose: sight.pose, area: StageArea { low: Vec2::ZERO, high: Vec2::new(LAID_OUT, (LAID_OUT * shape).round()) } }
}

/// Begins pictures that are asked for, and takes them when they are drawn.
#[expect(clippy::too_many_arguments, reason = "a system names what it reads and writes")]
pub(super) fn export(
    mut asked: MessageReader<Command>,
    mut exports: ResMut<Exports>,
    mut commands: Commands,
    mut images: ResMut<Assets<Image>>,
    (view, results): (Res<View>, Res<Results>),
    (sight, scale): (Res<Sight>, Res<MapScale>),
    mut unsettled: ResMut<Unsettled>,
    waiting: Query<(), With<Waiting>>,
) {
    for command in asked.read() {
        let (Command::ExportPicture(path), Some(scene), Some(room)) = (command, &results.scene, &results.room) else { continue };
        let sight = sight_of(&sight);
        // No hand is in the picture.
        let hand = Hand::default();
        let seen = Seen { scene, room: &room.value, view: &view, results: &results, sight: &sight, hand: &hand, marks: scale.0 };
        let size = sight.area.high;
        let overlay = painter::svg(&overlay::laid_out(&seen), size);
        let height = (WIDTH as f32 * size.y / size.x).round() as u32;
        let target = images.add(Image::new_target_texture(WIDTH * FINER, height * FINER, TextureFormat::Rgba8UnormSrgb, None));
        let camera = commands
            .spawn((
                // Drawn finer and averaged: it needs no more samples.
                control::camera(Msaa::Off),
                RenderTarget::from(target.clone()),
                RenderLayers::layer(LAYER_IN_PRINT),
                sight.pose.transform(),
                sight.pose.projection(sight.aspect()),
            ))
            .id();
        exports.0.push(Export { target, waiting: Waiting { path: path.clone(), camera, overlay }, frames: 0 });
    }
    exports.0.retain_mut(|export| {
        export.frames += 1;
        let is_drawn = export.frames > FRAMES;
        if is_drawn {
            commands.spawn((Screenshot::image(export.target.clone()), export.waiting.clone())).observe(taken);
        }
        !is_drawn
    });
    if !exports.0.is_empty() || !waiting.is_empty() {
        unsettled.0 = unsettled.0.max(2);
    }
}

/// Packs a picture that has come back, and says what became of it.
fn taken(
    captured: On<ScreenshotCaptured>,
    waiting: Query<&Waiting>,
    storage: Res<Storage>,
    mut commands: Commands,
    mut said: MessageWriter<Command>,
) {
    let Ok(Waiting { path, camera, overlay }) = waiting.get(captured.entity) else { return };
    commands.entity(*camera).despawn();
    let written =
        packed(&captured.image, overlay).and_then(|bytes| files::replace(&*storage.0, path, &bytes).map_err(|failure| failure.to_string()));
    said.write(Command::Say(match written {
        Ok(()) => format!("Saved the picture as {}.", path.display()),
        Err(failure) => format!("The picture was not saved: {failure}"),
    }));
}

/// The bytes of the file.
fn packed(drawn: &Image, overlay: &str) -> Result<Vec<u8>, String> {
    let (width, height) = (drawn.width() / FINER, drawn.height() / FINER);
    let pixels = drawn.data.as_deref().ok_or("the driver gave no picture back")?;
    let mut paper = averaged(pixels, drawn.width() as usize);
    let letters = raster::png(overlay, width).map_err(|failure| failure.to_string())?;
    let (kind, none) = (ImageType::Extension("png"), CompressedImageFormats::NONE);
    let letters = Image::from_buffer(&letters, kind, none, true, ImageSampler::nearest(), RenderAssetUsages::MAIN_WORLD)
        .map_err(|failure| failure.to_string())?;
    lay_over(&mut paper, width as usize, letters.data.as_deref().unwrap_or_default(), letters.width() as usize);
    let size = Extent3d { width, height, depth_or_array_layers: 1 };
    let picture = Image::new(size, TextureDimension::D2, paper, TextureFormat::Rgba8UnormSrgb, RenderAssetUsages::MAIN_WORLD);
    let picture = picture.try_into_dynamic().map_err(|failure| failure.to_string())?;
    let format = ImageFormat::Png.as_image_crate_format().ok_or("this build cannot pack pictures")?;
    let mut file = Cursor::new(Vec::new());
    picture.write_to(&mut file, format).map_err(|failure| failure.to_string())?;
    Ok(file.into_inner())
}

/// A picture of half the size, its pixels the means of 2 x 2 in linear light, opaque.
fn averaged(pixels: &[u8], width: usize) -> Vec<u8> {
    let finer = FINER as usize;
    let (across, down) = (width / finer, pixels.len() / 4 / width.max(1) / finer);
    let linear: Vec<f32> = (0..=255).map(|value| LinearRgba::from(Srgba::rgb_u8(value, 0, 0)).red).collect();
    let mut small = Vec::with_capacity(across * down * 4);
    for row in 0..down {
        for column in 0..across {
            for channel in 0..3 {
                let at = |index: usize| ((row * finer + index / finer) * width + column * finer + index % finer) * 4 + channel;
                let sum: f32 = (0..finer * finer).map(|index| linear[usize::from(pixels[at(index)])]).sum();
                let mean = sum / (finer * finer) as f32;
                small.push(Srgba::from(LinearRgba::rgb(mean, 0.0, 0.0)).to_u8_array()[0]);
            }
            small.push(255);
        }
    }
    small
}

/// Lays a picture with opacity over an opaque one, both from the left upper corner; what one lacks of the other's size stays as it is.
fn lay_over(paper: &mut [u8], width: usize, over: &[u8], over_width: usize) {
    let (rows, over_rows) = (paper.chunks_exact_mut(width * 4), over.chunks_exact(over_width.max(1) * 4));
    for (row, over) in rows.zip(over_rows) {
        for (pixel, over) in row.chunks_exact_mut(4).zip(over.chunks_exact(4)) {
            let opacity = f32::from(over[3]) / 255.0;
            for channel in 0..3 {
                let mixed = f32::from(pixel[channel]) + (f32::from(over[channel]) - f32::from(pixel[channel])) * opacity;
                pixel[channel] = mixed.round() as u8;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_means_in_linear_light() {
        let gray = |value: u8| [value, value, value, 255];
        // Two black, two white: half the light, sRGB 188 (IEC 61966-2-1: 1.055 x 0.5^(1/2.4) - 0.055 = 0.7354).
        let pixels: Vec<u8> = [0, 255, 255, 0].into_iter().flat_map(gray).collect();
        assert_eq!(averaged(&pixels, 2), gray(188));
        let same: Vec<u8> = (0..8).flat_map(|_| gray(77)).collect();
        assert_eq!(averaged(&same, 4), [gray(77), gray(77)].concat());
    }

    #[test]
    fn exact_opacity() {
        let mut paper = vec![100, 100, 100, 255, 100, 100, 100, 255];
        lay_over(&mut paper, 2, &[200, 0, 100, 255, 0, 0, 0, 0], 2);
        assert_eq!(paper, [200, 0, 100, 255, 100, 100, 100, 255]);
        lay_over(&mut paper, 2, &[], 0);
        assert_eq!(paper[0], 200);
    }
}
