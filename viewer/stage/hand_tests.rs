//! The whole application without a graphics card and without a screen: mouse and keys as messages, what they do to the text.

use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::input::mouse::MouseButtonInput;
use bevy::render::RenderPlugin;
use bevy::render::settings::WgpuSettings;
use bevy::window::{CursorMoved, WindowEvent, WindowResolution};
use bevy::winit::WinitPlugin;
use roomwright::scene::{Cloud, Panel, PanelPlace, Scene, with_panels};

use super::super::camera::Rig;
use super::super::ink::{self, Pen};
use super::super::{StageArea, StagePlugin};
use super::*;
use crate::recovery::Storage;
use crate::session::SessionPlugin;
use crate::sound::SoundPlugin;
use crate::test_disk::Memory;
use crate::ui::UiPlugin;
use crate::view::{CameraView, Step};

const FILE: &str = "rooms/attic.toml";

/// The program with the attic open, a panel on its north wall at (2.0, 0.6).
struct Stand {
    app: App,
    window: Entity,
    text: String,
}

impl Stand {
    fn new() -> Self {
        let text = include_str!("../../scenes/attic-voice-room.toml").replace("[air]", "[settings]\nrays = 200\n\n[air]");
        let place = PanelPlace::Surface { surface: "north".into(), left: 2.0, bottom: 0.6, lying: false, gap: 0.05 };
        let text = with_panels(&text, &[Panel { kind: "wall panel".into(), place }]).unwrap();
        let window = Window { resolution: WindowResolution::new(1440, 900), ..default() };
        let mut app = App::new();
        app.add_plugins(
            DefaultPlugins
                .set(WindowPlugin { primary_window: Some(window), ..default() })
                .set(RenderPlugin { render_creation: WgpuSettings { backends: None, ..default() }.into(), ..default() })
                .disable::<bevy::log::LogPlugin>()
                .disable::<WinitPlugin>(),
        )
        .add_plugins((SessionPlugin, SoundPlugin, StagePlugin, UiPlugin))
        .insert_resource(Storage(Memory::holding(FILE, &text)));
        app.finish();
        app.cleanup();
        app.update();
        app.world_mut().write_message(Command::Open(FILE.into()));
        for _ in 0..6 {
            app.update();
        }
        let window = app.world_mut().query_filtered::<Entity, With<PrimaryWindow>>().single(app.world()).unwrap();
        let stand = Self { app, window, text };
        let area = *stand.app.world().resource::<StageArea>();
        assert!((area.high - area.low).min_element() > 200.0, "the panels leave room for the stage: {area:?}");
        stand
    }

    /// As the window does: every event once by itself and once among the events of the window.
    fn send<M: Message + Clone + Into<WindowEvent>>(&mut self, message: M) {
        self.app.world_mut().write_message(message.clone().into());
        self.app.world_mut().write_message(message);
    }

    fn command(&mut self, command: Command) {
        self.app.world_mut().write_message(command);
        self.app.update();
        self.app.update();
    }

    fn move_to(&mut self, position: Vec2) {
        self.app.world_mut().get_mut::<Window>(self.window).unwrap().set_cursor_position(Some(position));
        let motion = bevy::input::mouse::MouseMotion { delta: Vec2::new(7.0, 3.0) };
        self.app.world_mut().write_message(motion);
        self.send(CursorMoved { window: self.window, position, delta: None });
        self.app.update();
    }

    fn button(&mut self, state: ButtonState) {
        self.send(MouseButtonInput { button: MouseButton::Left, state, window: self.window });
        self.app.update();
        self.app.update();
    }

    fn press(&mut self, at: DVec3) {
        let at = self.screen(at);
        self.move_to(at);
        self.button(ButtonState::Pressed);
    }

    fn release(&mut self) {
        self.button(ButtonState::Released);
    }

    /// Presses at the first point, moves to the others, and holds.
    fn drag(&mut self, points: &[DVec3]) {
        self.press(points[0]);
        for point in &points[1..] {
            let at = self.screen(*point);
            self.move_to(at);
            self.app.update();
        }
    }

    fn key(&mut self, key_code: KeyCode, logical_key: Key) {
        for state in [ButtonState::Pressed, ButtonState::Released] {
            let window = self.window;
            self.send(KeyboardInput { key_code, logical_key: logical_key.clone(), state, text: None, repeat: false, window });
            self.app.update();
            self.app.update();
        }
    }

    /// Nothing falls into line from here on.
    fn hold_shift(&mut self) {
        let (key_code, logical_key, window) = (KeyCode::ShiftLeft, Key::Shift, self.window);
        self.send(KeyboardInput { key_code, logical_key, state: ButtonState::Pressed, text: None, repeat: false, window });
        self.app.update();
    }

    /// Two clouds in the attic, one of them hung, chosen: `left` more in stock.
    fn with_cloud(left: u32) -> Self {
        let mut stand = Self::new();
        let cloud = Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(2.9, 3.4), 2.1, true)) };
        stand.command(Command::AddPanel(cloud));
        stand.command(Command::SetStockCount { kind: "cloud".into(), count: left });
        stand.command(Command::Choose(Some(Thing::Panel(1))));
        stand.text = stand.text().to_owned();
        stand
    }

    fn cloud(&self) -> Cloud {
        let PanelPlace::Cloud(cloud) = self.scene().panels[1].place else { panic!() };
        cloud
    }

    /// Pulls a handle by so much in the room, and holds it.
    fn pull(&mut self, handle: Handle, by: DVec3) {
        let all = handle::handles(self.scene(), self.get::<View>().chosen, self.get::<Sight>());
        let at = all.into_iter().find(|(other, _)| *other == handle).expect("it is there").1;
        self.drag(&[at, at + 0.5 * by, at + by]);
        assert_eq!(self.get::<Hand>().handle, Some(handle));
    }

    fn screen(&self, at: DVec3) -> Vec2 {
        self.app.world().resource::<Sight>().screen(at).expect("before the eye")
    }

    fn get<R: Resource>(&self) -> &R {
        self.app.world().resource::<R>()
    }

    fn text(&self) -> &str {
        self.get::<Document>().text()
    }

    fn scene(&self) -> &Scene {
        self.get::<Document>().scene().expect("it reads")
    }

    fn on(&self, surface: &str, left: f64, up: f64) -> DVec3 {
        self.scene().chart(self.scene().surface(surface).expect("there")).point(DVec2::new(left, up))
    }

    fn panel(&self, index: usize) -> (String, f64, f64) {
        match &self.scene().panels[index].place {
            PanelPlace::Surface { surface, left, bottom, .. } => (surface.clone(), *left, *bottom),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn keeps_a_drag_by_mouse_one_step() {
    let mut stand = Stand::new();
    let before = *stand.get::<Rig>();
    stand.hold_shift();
    let way = [stand.on("north", 2.3, 1.2), stand.on("north", 2.5, 1.25), stand.on("north", 2.8, 1.28), stand.on("north", 3.0, 1.3)];
    stand.drag(&way);
    assert_eq!(stand.get::<Hand>().dragged, Some(Thing::Panel(0)));
    let (surface, left, bottom) = stand.panel(0);
    // On the steps of the tape.
    assert!(surface == "north" && (left - 2.7).abs() < 0.0051 && (bottom - 0.7).abs() < 0.0051, "{surface} {left} {bottom}");
    assert!(stand.get::<Document>().is_dragged());
    stand.release();
    assert!(!stand.get::<Document>().is_dragged() && stand.get::<Hand>().dragged.is_none());
    assert_eq!(stand.get::<View>().chosen, Some(Thing::Panel(0)));
    assert_eq!(*stand.get::<Rig>(), before, "the camera stays");
    assert_ne!(stand.text(), stand.text);
    stand.command(Command::Undo);
    assert_eq!(stand.text(), stand.text);
    assert!(!stand.get::<Document>().can_undo_redo().0, "it was one step");
}

#[test]
fn keeps_the_camera_turning_beside_things_and_clicks_choosing() {
    let mut stand = Stand::new();
    let before = *stand.get::<Rig>();
    let way = [DVec3::new(1.0, 1.0, 0.0), DVec3::new(1.3, 1.2, 0.0), DVec3::new(1.6, 1.4, 0.0)];
    stand.drag(&way);
    stand.release();
    assert_ne!(stand.get::<Rig>().turn, before.turn, "the bare floor is no thing");
    assert_eq!(stand.text(), stand.text);
    let at = stand.on("north", 2.3, 1.2);
    stand.press(at);
    stand.release();
    assert_eq!((stand.get::<View>().chosen, stand.text()), (Some(Thing::Panel(0)), stand.text.as_str()));
    assert!(!stand.get::<Document>().can_undo_redo().0);
    let seat = stand.scene().seats[0].ear;
    stand.press(seat);
    stand.release();
    assert_eq!(stand.get::<View>().chosen, Some(Thing::Receiver(0)));
}

#[test]
fn keeps_a_refused_place_out_of_the_text_and_in_sight() {
    let mut stand = Stand::new();
    stand.command(Command::CameraTo(CameraView::Elevation(
        stand.get::<Results>().room.as_ref().unwrap().value.surfaces.iter().position(|surface| surface.name == "north").unwrap(),
    )));
    stand.hold_shift();
    let way = [stand.on("north", 2.3, 1.2), stand.on("north", 3.0, 1.2), stand.on("north", 4.35, 1.2)];
    stand.drag(&way);
    let (surface, left, _) = stand.panel(0);
    assert!(surface == "north" && (left - 2.7).abs() < 0.0051, "the last good place: {left}");
    let view = stand.get::<View>();
    let refused = view.refused.as_ref().expect("the end of the wall");
    assert!(refused.reason.contains("north"), "{}", refused.reason);
    let room = &stand.get::<Results>().room.as_ref().unwrap().value;
    let lines = ink::hand_lines(stand.scene(), room, view, stand.get::<Hand>());
    let ghost = lines.iter().find(|strip| strip.pen == Pen::Refused).expect("it is drawn where it was wanted");
    let right = ghost.points.iter().map(|point| point.x).fold(f64::NEG_INFINITY, f64::max);
    assert!(right > 4.5, "beyond the wall's end at 4.4 m: {right}");
    let kept = stand.text().to_owned();
    stand.release();
    assert_eq!(stand.text(), kept);
    stand.command(Command::Undo);
    assert_eq!(stand.text(), stand.text);
}

#[test]
fn keeps_escape_taking_a_drag_back() {
    let mut stand = Stand::new();
    let way = [stand.on("north", 2.3, 1.2), stand.on("north", 2.8, 1.3)];
    stand.drag(&way);
    assert_ne!(stand.text(), stand.text);
    stand.key(KeyCode::Escape, Key::Escape);
    assert_eq!((stand.text(), stand.get::<Document>().is_dragged()), (stand.text.as_str(), false));
    // The hand that is still closed holds nothing any more.
    let at = stand.on("north", 3.2, 1.4);
    let at = stand.screen(at);
    stand.move_to(at);
    stand.app.update();
    stand.release();
    assert_eq!((stand.text(), stand.get::<Document>().can_undo_redo()), (stand.text.as_str(), (false, false)));
}

#[test]
fn keeps_a_press_for_a_form_from_taking_hold() {
    let mut stand = Stand::new();
    stand.command(Command::HangByHand(true));
    stand.command(Command::AskPlace(true));
    let at = stand.on("north", 2.3, 1.2);
    let screen = stand.screen(at);
    stand.move_to(screen);
    assert_eq!(*stand.get::<Hand>(), Hand::default(), "nothing can be taken, nothing is offered");
    // A press that moves turns the camera, and leaves the form asking.
    let way = [at, stand.on("north", 2.8, 1.3)];
    stand.drag(&way);
    assert!(!stand.get::<Document>().is_dragged());
    stand.release();
    assert!(stand.get::<View>().asks_place);
    let at = stand.on("north", 2.3, 1.2);
    stand.press(at);
    stand.release();
    let view = stand.get::<View>();
    let pressed = view.pressed.as_ref().expect("the form has its place");
    assert!(pressed.surface == "north" && pressed.position.distance(DVec2::new(2.3, 1.2)) < 0.01, "{pressed:?}");
    assert_eq!((view.chosen, view.asks_place, stand.text()), (None, false, stand.text.as_str()));
}

#[test]
fn keeps_a_panel_from_the_stock_under_the_hand() {
    let mut stand = Stand::new();
    for command in [Command::ChooseStep(Step::Place), Command::ChooseStock(Some(0)), Command::HangByHand(true)] {
        stand.command(command);
    }
    let at = stand.on("north", 3.1, 1.2);
    let screen = stand.screen(at);
    stand.move_to(screen);
    assert!(matches!(stand.get::<Hand>().offered, Some(Command::AddPanel(_))), "shown before it hangs");
    assert_eq!(stand.text(), stand.text);
    stand.hold_shift();
    let way = [at, stand.on("north", 3.3, 1.25), stand.on("north", 3.6, 1.3)];
    stand.drag(&way);
    stand.release();
    let (surface, left, bottom) = stand.panel(1);
    assert!(surface == "north" && (left - 3.3).abs() < 0.0051 && (bottom - 0.7).abs() < 0.0051, "{surface} {left} {bottom}");
    assert_eq!((stand.scene().panels.len(), stand.scene().stock[0].count), (2, 10), "one hung, one taken from the stock");
    assert_eq!(stand.get::<View>().chosen, Some(Thing::Panel(1)));
    stand.command(Command::Undo);
    assert_eq!(stand.text(), stand.text);
    stand.key(KeyCode::Escape, Key::Escape);
    assert!(!stand.get::<View>().hanging);
}

#[test]
fn keeps_a_panel_that_is_dragged_from_the_list() {
    let mut stand = Stand::new();
    stand.command(Command::ChooseStep(Step::Place));
    // The button beside the stage says it when it is dragged; whatever is pressed there, the hand comes closed from beside the stage.
    let beside = stand.get::<StageArea>().high + Vec2::new(60.0, -100.0);
    stand.move_to(beside);
    stand.button(ButtonState::Pressed);
    stand.command(Command::HangByHand(true));
    let over = stand.on("north", 3.6, 1.3);
    let over = stand.screen(over);
    stand.move_to(over);
    stand.app.update();
    stand.app.update();
    stand.release();
    assert_eq!(stand.scene().panels.len(), 2);
    assert!(!stand.get::<View>().hanging && !stand.get::<Document>().is_dragged(), "one, and no more");
    stand.command(Command::Undo);
    assert_eq!(stand.text(), stand.text);
}

/// Everything within one frame, as where a processor draws in place of a graphics card: moved there, pressed, released, moved away.
#[test]
fn keeps_a_click_within_one_frame() {
    let mut stand = Stand::new();
    let click = |stand: &mut Stand, at: DVec3| {
        let at = stand.screen(at);
        let away = at + Vec2::new(60.0, 10.0);
        let (window, button) = (stand.window, MouseButton::Left);
        stand.app.world_mut().get_mut::<Window>(window).unwrap().set_cursor_position(Some(away));
        stand.app.world_mut().write_message(bevy::input::mouse::MouseMotion { delta: Vec2::new(60.0, 10.0) });
        stand.send(CursorMoved { window, position: at, delta: None });
        for state in [ButtonState::Pressed, ButtonState::Released] {
            stand.send(MouseButtonInput { button, state, window });
        }
        stand.send(CursorMoved { window, position: away, delta: None });
        stand.app.update();
        stand.app.update();
    };
    let before = *stand.get::<Rig>();
    let seat = stand.scene().seats[0].ear;
    click(&mut stand, seat);
    assert_eq!(stand.get::<View>().chosen, Some(Thing::Receiver(0)));
    let panel = stand.on("north", 2.3, 1.2);
    click(&mut stand, panel);
    assert_eq!(stand.get::<View>().chosen, Some(Thing::Panel(0)));
    click(&mut stand, DVec3::new(1.0, 1.0, 0.0));
    assert_eq!((stand.get::<View>().chosen, stand.text()), (None, stand.text.as_str()));
    // From the stock: it hangs where it was pressed, and is what is chosen.
    for command in [Command::ChooseStep(Step::Place), Command::ChooseStock(Some(0)), Command::HangByHand(true)] {
        stand.command(command);
    }
    stand.hold_shift();
    let at = stand.on("north", 3.4, 1.2);
    click(&mut stand, at);
    let (surface, left, bottom) = stand.panel(1);
    assert!(surface == "north" && (left - 3.1).abs() < 0.0051 && (bottom - 0.6).abs() < 0.0051, "{surface} {left} {bottom}");
    assert_eq!(stand.get::<View>().chosen, Some(Thing::Panel(1)));
    assert!(!stand.get::<Document>().is_dragged());
    assert_eq!(*stand.get::<Rig>(), before, "the camera stays");
}

#[test]
fn keeps_hold_of_what_was_pressed_before_the_pointer_moved_on_within_the_frame() {
    let mut stand = Stand::new();
    stand.hold_shift();
    let [at, away] = [2.3, 3.3].map(|left| stand.screen(stand.on("north", left, 1.2)));
    let window = stand.window;
    stand.app.world_mut().get_mut::<Window>(window).unwrap().set_cursor_position(Some(away));
    stand.send(CursorMoved { window, position: at, delta: None });
    stand.send(MouseButtonInput { button: MouseButton::Left, state: ButtonState::Pressed, window });
    stand.send(CursorMoved { window, position: away, delta: None });
    stand.app.update();
    stand.app.update();
    assert_eq!(stand.get::<Hand>().dragged, Some(Thing::Panel(0)));
    stand.release();
    let (surface, left, bottom) = stand.panel(0);
    assert!(surface == "north" && (left - 3.0).abs() < 0.0051 && (bottom - 0.6).abs() < 0.0051, "{surface} {left} {bottom}");
}

#[test]
fn keeps_each_pull_at_a_cloud_one_step() {
    let mut stand = Stand::with_cloud(2);
    let before = *stand.get::<Rig>();
    let (start, kind) = (stand.cloud(), stand.scene().stock[2].clone());
    let east = handle::Side { axis: 0, sign: 1.0 };
    let half = 0.5 * start.size(&kind).x;
    let pulls = [
        (Handle::Height, DVec3::Z * -0.2, Cloud { underside: 1.9, ..start }),
        (Handle::Tilt(east), DVec3::Z * half * 10.0_f64.to_radians().sin(), Cloud { tilt: DVec2::new(10.0, 0.0), ..start }),
        (Handle::Size(east), DVec3::X * 0.6, Cloud { panels: [2, 1], center: DVec2::new(3.2, 3.4), ..start }),
    ];
    for (handle, by, expected) in pulls {
        stand.pull(handle, by);
        assert!(stand.get::<Document>().is_dragged() && stand.get::<View>().refused.is_none(), "{:?}", stand.get::<View>().refused);
        assert_eq!(stand.cloud(), expected, "{handle:?}");
        stand.release();
        let pulled = stand.text().to_owned();
        stand.command(Command::Undo);
        assert_eq!(stand.text(), stand.text, "{handle:?} is one step");
        stand.command(Command::Redo);
        assert_eq!(stand.text(), pulled);
        stand.command(Command::Undo);
        assert_eq!(stand.get::<View>().chosen, Some(Thing::Panel(1)));
    }
    assert_eq!(*stand.get::<Rig>(), before, "the camera stays");
}

#[test]
fn keeps_a_cloud_within_the_stock_and_says_so() {
    let mut stand = Stand::with_cloud(1);
    let east = handle::Side { axis: 0, sign: 1.0 };
    // Three panels are wanted, one is left for the second.
    let all = handle::handles(stand.scene(), Some(Thing::Panel(1)), stand.get::<Sight>());
    let at = all.into_iter().find(|(other, _)| *other == Handle::Size(east)).expect("it is there").1;
    stand.drag(&[at, at + DVec3::X * 0.4, at + DVec3::X * 0.7]);
    assert_eq!((stand.cloud().panels, stand.scene().stock[2].count), ([2, 1], 0));
    let way = at + DVec3::X * 1.2;
    let way = stand.screen(way);
    stand.move_to(way);
    stand.app.update();
    let refused = stand.get::<View>().refused.as_ref().expect("none is left");
    assert_eq!(refused.reason, "It takes 1 more \"cloud\"; none is left in stock");
    assert_eq!((stand.cloud().panels, stand.scene().stock[2].count), ([2, 1], 0), "the last that could be");
    stand.release();
    stand.command(Command::Undo);
    assert_eq!(stand.text(), stand.text);
}

#[test]
fn keeps_keys_tilting_a_cloud() {
    let mut stand = Stand::with_cloud(0);
    stand.command(Command::CameraTo(CameraView::Plan));
    let (key_code, logical_key, window) = (KeyCode::ControlLeft, Key::Control, stand.window);
    stand.send(KeyboardInput { key_code, logical_key, state: ButtonState::Pressed, text: None, repeat: false, window });
    stand.app.update();
    stand.key(KeyCode::ArrowRight, Key::ArrowRight);
    assert_eq!(stand.cloud().tilt, DVec2::new(1.0, 0.0));
    stand.command(Command::Undo);
    assert_eq!(stand.text(), stand.text);
}

#[test]
fn keeps_keys_moving_turning_and_removing_what_is_chosen() {
    let mut stand = Stand::new();
    stand.command(Command::Choose(Some(Thing::Panel(0))));
    stand.key(KeyCode::ArrowRight, Key::ArrowRight);
    assert_eq!(stand.panel(0), ("north".to_owned(), 2.01, 0.6));
    stand.key(KeyCode::ArrowUp, Key::ArrowUp);
    assert_eq!(stand.panel(0), ("north".to_owned(), 2.01, 0.61));
    assert!(!stand.get::<Document>().is_dragged());
    stand.command(Command::Undo);
    assert_eq!(stand.panel(0), ("north".to_owned(), 2.01, 0.6), "a press is a step");
    stand.key(KeyCode::KeyR, Key::Character("r".into()));
    assert!(matches!(stand.scene().panels[0].place, PanelPlace::Surface { lying: true, .. }));
    let scene = stand.scene();
    let (name, start) = (scene.sources[0].name.clone(), scene.sources[0].position);
    stand.command(Command::Choose(Some(Thing::Source(0))));
    stand.key(KeyCode::PageUp, Key::PageUp);
    assert!((stand.scene().sources[0].position - start - DVec3::Z * 0.01).length() < 1e-9, "{name}");
    stand.command(Command::Choose(Some(Thing::Panel(0))));
    stand.key(KeyCode::Delete, Key::Delete);
    assert_eq!(stand.scene().panels.len(), 0);
    assert_eq!(stand.scene().stock[0].count, 12);
}
