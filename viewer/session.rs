//! The document, the view, the results and the workers joined: one system applies commands, one takes results in. No window here.

use std::process::ExitCode;

use bevy::prelude::*;

use crate::command::Command;
use crate::document::Document;
use crate::results::Results;
use crate::view::View;

/// When things happen within `Update`: who draws from results runs after [`Session`].
#[derive(Clone, Debug, Eq, Hash, PartialEq, SystemSet)]
pub(crate) struct Session;

/// Everything but what needs a screen: runs under `MinimalPlugins`.
pub(crate) struct SessionPlugin;

impl Plugin for SessionPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Document>()
            .init_resource::<View>()
            .init_resource::<Results>()
            .add_message::<Command>()
            .add_systems(Update, apply.in_set(Session));
    }
}

/// Applies what panels and stage have sent, in order.
fn apply(mut commands: MessageReader<Command>, mut view: ResMut<View>) {
    for command in commands.read() {
        if let Command::ChooseStep(step) = command {
            view.step = *step;
        }
    }
}

/// The program.
pub(crate) fn run() -> ExitCode {
    App::new().add_plugins((DefaultPlugins, SessionPlugin, crate::stage::StagePlugin, crate::ui::UiPlugin)).run();
    ExitCode::SUCCESS
}
