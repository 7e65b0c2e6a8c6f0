//! The program: arguments -> window -> exit code.
//!
//! *Limits.* Whether there is a graphics driver is only known by asking for one: what the engine says then is turned into one sentence.

use std::io::Write as _;
use std::panic::{self, AssertUnwindSafe};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::{Arc, Mutex};

use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::window::{ExitCondition, WindowCloseRequested, WindowResolution};
use bevy::winit::{EventLoopProxyWrapper, WinitSettings, WinitUserEvent};

use crate::command::Command;
use crate::compute::Waker;
use crate::session::SessionPlugin;
use crate::stage::StagePlugin;
use crate::ui::UiPlugin;

const USAGE: &str = "The room on screen: see the hot spots, hang a panel, watch the numbers move

Usage: viewer [SCENE]

Arguments:
  [SCENE]  The scene file; without one, a start page

Exit codes: 0 closed, 2 it could not run.";

/// What was typed.
#[derive(Debug, PartialEq)]
enum Asked {
    Window(Option<PathBuf>),
    Say(String),
    Mistake(String),
}

fn arguments(mut arguments: impl Iterator<Item = std::ffi::OsString>) -> Asked {
    let Some(first) = arguments.next() else { return Asked::Window(None) };
    if let Some(second) = arguments.next() {
        return Asked::Mistake(format!("one scene at a time: \"{}\" is one too many", second.to_string_lossy()));
    }
    match first.to_str() {
        Some("--help" | "-h") => Asked::Say(USAGE.to_owned()),
        Some("--version" | "-V") => Asked::Say(format!("viewer {}", env!("CARGO_PKG_VERSION"))),
        Some(option) if option.starts_with('-') => Asked::Mistake(format!("there is no option {option}")),
        _ => Asked::Window(Some(first.into())),
    }
}

/// Runs the program.
pub(crate) fn run() -> ExitCode {
    match arguments(std::env::args_os().skip(1)) {
        Asked::Say(text) => {
            drop(writeln!(std::io::stdout(), "{text}"));
            ExitCode::SUCCESS
        }
        Asked::Mistake(mistake) => {
            say(&format!("error: {mistake}\n\n{USAGE}"));
            ExitCode::from(2)
        }
        Asked::Window(scene) => window(scene),
    }
}

fn say(text: &str) {
    // Where even that is closed there is nobody left to tell.
    drop(writeln!(std::io::stderr(), "{text}"));
}

/// Opens the window and runs until it closes.
fn window(scene: Option<PathBuf>) -> ExitCode {
    if cfg!(target_os = "linux") && ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"].iter().all(|name| std::env::var_os(name).is_none()) {
        say("error: there is no display to open a window on (neither DISPLAY nor WAYLAND_DISPLAY is set).");
        return ExitCode::from(2);
    }
    let fault: Arc<Mutex<Option<String>>> = Arc::default();
    let noted = fault.clone();
    panic::set_hook(Box::new(move |panic| {
        if let Ok(mut fault) = noted.lock() {
            fault.get_or_insert_with(|| panic.to_string());
        }
    }));
    let outcome = panic::catch_unwind(AssertUnwindSafe(|| app(scene).run()));
    drop(panic::take_hook());
    let fault = fault.lock().ok().and_then(|mut fault| fault.take());
    match (outcome, fault) {
        (Ok(exit), None) => match exit {
            AppExit::Success => ExitCode::SUCCESS,
            AppExit::Error(code) => ExitCode::from(code.get()),
        },
        (_, fault) => {
            say(&sentence(fault.as_deref().unwrap_or("the window ended without a word")));
            ExitCode::from(2)
        }
    }
}

/// What the engine says, for someone who wants to mend it.
fn sentence(fault: &str) -> String {
    if fault.contains("Unable to find a GPU") {
        "error: no graphics driver was found; install a Vulkan driver (on Debian and its like, mesa-vulkan-drivers, which also draws without \
         a graphics card)."
            .to_owned()
    } else if fault.contains("event loop") {
        "error: the display cannot be opened; is DISPLAY or WAYLAND_DISPLAY right, and are the X11 or Wayland libraries installed?"
            .to_owned()
    } else {
        format!(
            "viewer met a fault of its own and stopped: {fault}\nPlease report it together with the scene. Unsaved work lies in a recovery \
             copy beside the scene and is offered at the next start."
        )
    }
}

/// The whole application.
fn app(scene: Option<PathBuf>) -> App {
    let mut app = App::new();
    let window =
        Window { title: "Roomwright".into(), name: Some("roomwright".into()), resolution: WindowResolution::new(1440, 900), ..default() };
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                primary_window: Some(window),
                exit_condition: ExitCondition::OnPrimaryClosed,
                close_when_requested: false,
                ..default()
            })
            .set(LogPlugin { level: Level::ERROR, filter: "wgpu_hal=off".to_owned(), ..default() }),
    )
    // Draws when something happens, not all the time.
    .insert_resource(WinitSettings::desktop_app())
    .add_plugins((SessionPlugin, StagePlugin, UiPlugin))
    .add_systems(PreStartup, wake)
    .add_systems(First, close);
    if let Some(scene) = scene {
        app.world_mut().write_message(Command::Open(scene));
    }
    app
}

/// Lets the workers wake the window.
fn wake(proxy: Res<EventLoopProxyWrapper>, mut waker: ResMut<Waker>) {
    let proxy = Mutex::new((**proxy).clone());
    *waker = Waker(Arc::new(move || {
        if let Ok(proxy) = proxy.lock() {
            // An event loop that has ended needs no waking.
            let _ended = proxy.send_event(WinitUserEvent::WakeUp);
        }
    }));
}

/// The window's own button asks like the command.
fn close(mut requests: MessageReader<WindowCloseRequested>, mut commands: MessageWriter<Command>) {
    if requests.read().count() > 0 {
        commands.write(Command::Close);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_arguments_as_the_help_says() {
        let read = |words: &[&str]| arguments(words.iter().map(Into::into));
        assert_eq!(read(&[]), Asked::Window(None));
        assert_eq!(read(&["attic.toml"]), Asked::Window(Some("attic.toml".into())));
        assert_eq!(read(&["--help"]), Asked::Say(USAGE.to_owned()));
        assert!(matches!(read(&["--frobnicate"]), Asked::Mistake(_)));
        assert!(matches!(read(&["a.toml", "b.toml"]), Asked::Mistake(_)));
    }

    #[test]
    fn keeps_the_windows_own_button_a_command() {
        let mut app = App::new();
        app.add_plugins(MinimalPlugins).add_message::<WindowCloseRequested>().add_message::<Command>().add_systems(First, close);
        app.update();
        assert!(app.world().resource::<Messages<Command>>().is_empty());
        app.world_mut().write_message(WindowCloseRequested { window: Entity::PLACEHOLDER });
        app.update();
        let sent: Vec<Command> = app.world_mut().resource_mut::<Messages<Command>>().drain().collect();
        assert_eq!(sent, [Command::Close]);
    }

    #[test]
    fn keeps_one_sentence_for_a_missing_driver() {
        let said = sentence("panicked at renderer/mod.rs:142: Unable to find a GPU! Make sure you have installed required drivers!");
        assert!(said.starts_with("error: no graphics driver") && !said.contains('\n'));
        assert!(sentence("Failed to build event loop: NotSupported").starts_with("error: the display cannot be opened"));
        assert!(sentence("index out of bounds").contains("recovery"));
    }
}
