//! The panels: one file a step of the job, plots beneath, the status at the foot.
//!
//! A panel is a function of an `egui::Ui`, the [`Shown`] state, where needed the [`Drafts`] of what is being typed, and a list that it
//! pushes [`Command`]s to: it changes nothing itself, so that it can be tried without a window. The words are those of the command line.
//!
//! # Files in reading order
//! `tokens` colors, sizes, letters; `table` rows that can be chosen; `say` small pieces of text; `hang` a legal place near a hot spot; a file
//! for each of the five steps, a folder for the last, `errand` what begins a long study, `plan`, `cloud`, `positions` and `places` what came of one, and `forms` by which a room is entered; `plots`, `absorbers`, `text` the strip beneath the stage; `wave` the wavefront led by hand, `low_end` waves below the rays, `listen` what it sounds like; `lesson` a lesson beside the room, and what two layouts differ in; `status` the foot; `start`, `stepper`
//! and `swatch` the page without a scene; `ask` questions and `chooser` the files of a folder; `keys` the keyboard; `frame` all of it laid out.

mod absorbers;
mod arrivals;
mod ask;
mod build;
mod chooser;
mod cloud;
mod errand;
mod forms;
mod frame;
mod hang;
mod hear;
mod keys;
mod lesson;
mod listen;
mod low_end;
mod place;
mod places;
mod plan;
mod plots;
mod positions;
mod prove;
mod say;
mod sight;
mod start;
mod status;
mod stepper;
mod survey;
mod swatch;
mod table;
mod text;
pub(crate) mod tokens;
mod tone;
mod wave;

use bevy::camera::visibility::RenderLayers;
use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::window::RequestRedraw;
use bevy_egui::{EguiContexts, EguiGlobalSettings, EguiPlugin, EguiPrimaryContextPass, PrimaryEguiContext, egui};

use crate::command::Command;
use crate::document::Document;
use crate::results::Results;
use crate::shelf::Shelf;
use crate::sound::Listening;
use crate::stage::{StageArea, multisampling};
use crate::view::View;

/// What a panel reads.
#[derive(Clone, Copy)]
pub(crate) struct Shown<'a> {
    /// The scene text, undo, mistakes.
    pub(crate) document: &'a Document,
    /// What is chosen.
    pub(crate) view: &'a View,
    /// What is known.
    pub(crate) results: &'a Results,
    /// Scene files at hand.
    pub(crate) shelf: &'a Shelf,
    /// What is listened to.
    pub(crate) sound: &'a Listening,
}

/// What the panels ask for in one pass.
pub(crate) type Asked = Vec<Command>;

/// What is being typed and is not said yet.
#[derive(Default, Resource)]
pub(crate) struct Drafts {
    /// The scene text.
    text: text::Draft,
    /// A room to begin with.
    room: start::Draft,
    /// The name of a file to save to; `None` until it is asked.
    file: Option<String>,
    /// What is typed and chosen to open or save a file.
    chooser: chooser::Draft,
    /// A form by which the room is entered.
    form: forms::Draft,
    /// Why the last panel could not be hung where it was wanted.
    refusal: Option<String>,
    /// Names of what stays where it is when other places for the set are tried.
    stays: Vec<String>,
    /// An absorber that is searched for or typed.
    absorbers: absorbers::Draft,
    /// The plan is to be brought before the eye.
    to_plan: bool,
}

/// Draws the panels.
pub(crate) struct UiPlugin;

impl Plugin for UiPlugin {
    fn build(&self, app: &mut App) {
        app.add_plugins(EguiPlugin::default())
            .init_resource::<Drafts>()
            .insert_resource(ClearColor(bevy_color(tokens::CARD)))
            .add_systems(PreStartup, spawn_camera)
            .add_systems(EguiPrimaryContextPass, draw);
    }
}

fn bevy_color(color: egui::Color32) -> Color {
    Color::srgb_u8(color.r(), color.g(), color.b())
}

/// The panels have a camera of their own, drawn last over the whole window, so that the view of the room may be smaller.
fn spawn_camera(mut commands: Commands, mut settings: ResMut<EguiGlobalSettings>, adapter: Option<Res<RenderAdapterInfo>>) {
    settings.auto_create_primary_context = false;
    let camera = Camera { order: 1, clear_color: ClearColorConfig::None, ..default() };
    // Cameras that share a window must agree about samples.
    commands.spawn((Camera2d, PrimaryEguiContext, RenderLayers::none(), multisampling(adapter.as_deref()), camera));
}

/// One pass; there may be two a frame, and only the first has the clicks.
fn draw(
    mut contexts: EguiContexts,
    (document, view, results): (Res<Document>, Res<View>, Res<Results>),
    (shelf, sound): (Res<Shelf>, Res<Listening>),
    mut drafts: ResMut<Drafts>,
    mut area: ResMut<StageArea>,
    mut commands: MessageWriter<Command>,
    mut redraw: MessageWriter<RequestRedraw>,
) -> Result {
    let ctx = contexts.ctx_mut()?.clone();
    if !tokens::dress(&ctx) {
        redraw.write(RequestRedraw);
        return Ok(());
    }
    let shown = Shown { document: &document, view: &view, results: &results, shelf: &shelf, sound: &sound };
    let mut asked = Asked::new();
    let builder = egui::UiBuilder::new().layer_id(egui::LayerId::background()).max_rect(ctx.viewport_rect());
    let mut root = egui::Ui::new(ctx.clone(), "root".into(), builder);
    let stage = frame::frame(&mut root, shown, &mut drafts, &mut asked);
    ask::questions(&ctx, shown, &mut drafts, &mut asked);
    keys::keys(&ctx, shown, &mut asked);
    let next = StageArea { low: Vec2::new(stage.left(), stage.top()), high: Vec2::new(stage.right(), stage.bottom()) };
    if *area != next {
        *area = next;
    }
    if !asked.is_empty() {
        redraw.write(RequestRedraw);
        commands.write_batch(asked);
    }
    Ok(())
}

#[cfg(test)]
mod tests;
