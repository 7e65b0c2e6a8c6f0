//! The stage as a PNG at print size: the same eye, the same overlay, on an image of its own.
//!
//! The room is drawn at twice the size and averaged over 2 x 2 pixels (in linear light), so that its lines are smooth; the overlay is laid
//! over it at full size by the drawing code of the report, with the letters of the report. The file appears whole or not at all. One that
//! is not named stands beside the scene under a number and replaces none; of a room without a file it goes where saving it would begin.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use bevy::asset::RenderAssetUsages;
use bevy::camera::RenderTarget;
use bevy::camera::visibility::RenderLayers;
use bevy::color::{ColorToPacked, LinearRgba, Srgba};
use bevy::image::{CompressedImageFormats, ImageFormat, ImageSampler, ImageType};
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use roomwright::files::{self, Disk, FileError};
use roomwright::report::raster;

use super::camera::Sight;
use super::control;
use super::draw::{LAYER_IN_PRINT, MapScale, Unsettled};
use super::hand::Hand;
use super::overlay::{self, Seen};
use super::{StageArea, painter};
use crate::command::Command;
use crate::document::Document;
use crate::recovery::Storage;
use crate::results::Results;
use crate::shelf::Shelf;
use crate::shelf::file_name;
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
/// The last number that a picture may have.
const NUMBER_MOST: u32 = 9999;

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
    goal: Goal,
    camera: Entity,
    overlay: String,
}

/// Where a picture goes.
#[derive(Clone, Debug, PartialEq)]
enum Goal {
    /// Into this file, whatever it holds.
    File(PathBuf),
    /// Into the first of its numbers that no file has: `attic` stands for `attic-1.png`, `attic-2.png` and so on.
    Numbered(PathBuf),
}

impl Goal {
    /// Beside the scene, by its name; of a room without a file by its title.
    fn beside(document: &Document, shelf: &Shelf, title: &str) -> Self {
        let name = document.path().map_or_else(|| file_name(title).into(), Path::to_owned);
        Self::Numbered(shelf.nearby(document.path()).join(name.file_stem().unwrap_or_default()))
    }

    /// Writes the file; which one it is.
    fn write(&self, disk: &dyn Disk, bytes: &[u8]) -> Result<PathBuf, FileError> {
        let beside = match self {
            Self::File(path) => return files::replace(disk, path, bytes).map(|()| path.clone()),
            Self::Numbered(beside) => beside,
        };
        let mut number = 1;
        loop {
            let mut path = beside.clone().into_os_string();
            path.push(format!("-{number}.png"));
            match files::write_new(disk, path.as_ref(), bytes) {
                Err(FileError::Exists { .. }) if number < NUMBER_MOST => number += 1,
                written => return written.map(|()| path.into()),
            }
        }
    }
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
    (view, results, document, shelf): (Res<View>, Res<Results>, Res<Document>, Res<Shelf>),
    (sight, scale): (Res<Sight>, Res<MapScale>),
    mut unsettled: ResMut<Unsettled>,
    waiting: Query<(), With<Waiting>>,
) {
    for command in asked.read() {
        let (Command::ExportPicture(file), Some(scene), Some(room)) = (command, &results.scene, &results.room) else { continue };
        let goal = file.clone().map_or_else(|| Goal::beside(&document, &shelf, &scene.name), Goal::File);
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
        exports.0.push(Export { target, waiting: Waiting { goal, camera, overlay }, frames: 0 });
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
    let Ok(Waiting { goal, camera, overlay }) = waiting.get(captured.entity) else { return };
    commands.entity(*camera).despawn();
    let written = packed(&captured.image, overlay).and_then(|bytes| goal.write(&*storage.0, &bytes).map_err(|failure| failure.to_string()));
    said.write(Command::Say(match written {
        Ok(path) => format!("Saved the picture as {}.", path.display()),
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
    use crate::session::{DRAWING, SessionPlugin};
    use crate::test_disk::Memory;

    #[test]
    fn keeps_every_picture_beside_the_scene() {
        let disk = Memory::holding("rooms/attic.v2-1.png", "mine");
        let shelf = Shelf::new(None, "here".into());
        let mut document = Document::default();
        document.open(None, "title".into(), false);
        let goal = Goal::beside(&document, &shelf, "Attic, north");
        assert_eq!(goal, Goal::Numbered("here/attic-north".into()));
        document.mark_saved("/rooms/attic.v2.toml".into());
        assert_eq!(Goal::beside(&document, &shelf, "Attic, north"), Goal::Numbered("/rooms/attic.v2".into()));

        let goal = Goal::Numbered("rooms/attic.v2".into());
        for number in 2..5 {
            let path = format!("rooms/attic.v2-{number}.png");
            assert_eq!(goal.write(&*disk, path.as_bytes()).unwrap(), Path::new(&path));
            assert_eq!(disk.text(&path).as_ref(), Some(&path));
        }
        assert_eq!(disk.text("rooms/attic.v2-1.png").as_deref(), Some("mine"));
        let held = disk.names();
        *disk.full.lock().unwrap() = true;
        assert!(goal.write(&*disk, b"no room").unwrap_err().to_string().ends_with("the disk is full"));
        assert_eq!(disk.names(), held, "nothing is left of one that failed");
        *disk.full.lock().unwrap() = false;
        // One that is named replaces what it held.
        let named = Goal::File("rooms/attic.v2-1.png".into());
        assert_eq!(named.write(&*disk, b"new").unwrap(), Path::new("rooms/attic.v2-1.png"));
        assert_eq!(disk.text("rooms/attic.v2-1.png").as_deref(), Some("new"));
    }

    #[test]
    fn keeps_the_numbers_of_pictures_within_their_limit() {
        let disk = Memory::default();
        (1..=NUMBER_MOST).for_each(|number| disk.put(&format!("attic-{number}.png"), "mine"));
        assert!(Goal::Numbered("attic".into()).write(&disk, b"one more").unwrap_err().to_string().contains("exists already"));
        assert_eq!(disk.text("attic-9999.png").as_deref(), Some("mine"));
    }

    #[test]
    fn keeps_a_picture_of_a_room_and_of_one_moment() {
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, SessionPlugin)).insert_resource(Storage(std::sync::Arc::new(Memory::default())));
        app.world_mut().write_message(Command::ExportPicture(None));
        app.update();
        assert_eq!(app.world().resource::<View>().notice.as_deref(), Some("There is no room to make a picture of."));
        // A wavefront that runs is held for it.
        app.world_mut().write_message(Command::OpenCopy(include_str!("../../scenes/attic-voice-room.toml").to_owned()));
        app.world_mut().write_message(Command::Play(true));
        app.update();
        assert!(app.world().resource::<View>().playing);
        app.world_mut().write_message(Command::ExportPicture(None));
        app.update();
        let view = app.world().resource::<View>();
        assert!(!view.playing && view.notice.as_deref() == Some(DRAWING), "{:?}", view.notice);
    }

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
