//! The chosen cloud by its measures: where its middle is, how high, how it leans, how many panels it is made of.
//!
//! What is typed is of the cloud as it was read; when that becomes another, by hand on the stage or by undo, the form reads it anew.

use bevy_egui::egui::{Button, Label, TextEdit, Ui};
use roomwright::report::text::figures::{length, mass};
use roomwright::scene::cloud::{Cloud, SIDE_BY_SIDE_MOST, TILT_MOST};
use roomwright::scene::{PanelPlace, PanelType, Scene};

use super::{Draft, Measure, PLACE, line, pressed_measure};
use crate::command::Command;
use crate::ui::say::remark;
use crate::ui::tokens::{quiet, small, wrong};
use crate::ui::{Asked, Shown};
use crate::view::Pressed;

/// What is said of everything that hangs over heads.
pub(in crate::ui) const OVERHEAD: &str =
    "It hangs over heads: rated fixings into structure, each strong enough for the whole of it, and a second wire.";
/// Coordinates, meters.
const POINT: std::ops::RangeInclusive<f64> = -100.0..=100.0;
/// Width of a field of a number.
const NUMBER: f32 = 52.0;

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    /// Index into the scene's panels.
    pub(super) panel: usize,
    /// The cloud that it was filled in from.
    of: Cloud,
    middle: [Measure; 2],
    underside: Measure,
    /// Which way it leans, 0 along x, 1 along y; and the degrees as typed.
    axis: usize,
    degrees: String,
    turned: bool,
    panels: [String; 2],
}

/// A cloud of the scene and its type.
fn cloud_of(scene: &Scene, panel: usize) -> Option<(&Cloud, &PanelType)> {
    let panel = scene.panels.get(panel)?;
    let PanelPlace::Cloud(cloud) = &panel.place else { return None };
    Some((cloud, scene.stock.iter().find(|kind| kind.name == panel.kind)?))
}

impl Form {
    fn of(scene: &Scene, panel: usize) -> Option<Self> {
        let (cloud, _) = cloud_of(scene, panel)?;
        let axis = usize::from(cloud.tilt.y != 0.0);
        Some(Self {
            panel,
            of: *cloud,
            middle: cloud.center.to_array().map(|meters| Measure::of(meters, scene.unit)),
            underside: Measure::of(cloud.underside, scene.unit),
            axis,
            degrees: cloud.tilt[axis].to_string(),
            turned: cloud.turned,
            panels: cloud.panels.map(|count| count.to_string()),
        })
    }

    fn degrees(&self) -> Result<f64, String> {
        let Ok(degrees) = self.degrees.trim().parse::<f64>() else { return Err("Not a number of degrees.".to_owned()) };
        // Not a number is no tilt either.
        if degrees.abs() <= TILT_MOST { Ok(degrees + 0.0) } else { Err(format!("At most {TILT_MOST} degrees either way.")) }
    }

    fn count(text: &str) -> Result<u32, String> {
        let count = text.trim().parse().ok().filter(|count| (1..=SIDE_BY_SIDE_MOST).contains(count));
        count.ok_or_else(|| format!("A whole number, 1 to {SIDE_BY_SIDE_MOST}."))
    }

    /// The cloud as typed; `None` while something does not read.
    fn cloud(&self, scene: &Scene) -> Option<Cloud> {
        let [x, y] = self.middle.each_ref().map(|field| field.read(scene.unit, &POINT).ok());
        let [along_x, along_y] = self.panels.each_ref().map(|text| Self::count(text).ok());
        let mut tilt = [0.0; 2];
        tilt[self.axis] = self.degrees().ok()?;
        Some(Cloud {
            center: [x?, y?].into(),
            underside: self.underside.read(scene.unit, &PLACE).ok()?,
            turned: self.turned,
            tilt: tilt.into(),
            panels: [along_x?, along_y?],
        })
    }

    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene) {
        match cloud_of(scene, self.panel) {
            Some((now, _)) if *now != self.of => *self = Self::of(scene, self.panel).unwrap_or_else(|| self.clone()),
            _ => {}
        }
        for (field, what) in self.middle.iter_mut().zip(["middle, x", "middle, y"]) {
            field.show(ui, what, scene.unit, &POINT);
        }
        self.underside.show(ui, "underside", scene.unit, &PLACE);
        let mistake = self.degrees().err();
        line(ui, "tilt", |ui, label| {
            ui.add(TextEdit::singleline(&mut self.degrees).desired_width(NUMBER)).labelled_by(label);
            ui.label(quiet("degrees, rising along"));
            ui.radio_value(&mut self.axis, 0, small("x"));
            ui.radio_value(&mut self.axis, 1, small("y"));
            said(ui, mistake.as_deref());
        });
        for (text, what) in self.panels.iter_mut().zip(["panels along x", "panels along y"]) {
            let mistake = Self::count(text).err();
            line(ui, what, |ui, label| {
                ui.add(TextEdit::singleline(text).desired_width(NUMBER)).labelled_by(label);
                said(ui, mistake.as_deref());
            });
        }
        line(ui, "long side", |ui, _| {
            ui.radio_value(&mut self.turned, false, small("along x"));
            ui.radio_value(&mut self.turned, true, small("along y"));
        });
        if let (Some(cloud), Some((_, kind))) = (self.cloud(scene), cloud_of(scene, self.panel)) {
            remark(ui, summary(scene, &cloud, kind));
        }
        remark(ui, format!("Measured to the middle of its underside, which stays when it is tilted. {OVERHEAD}"));
    }

    pub(super) fn command(&self, scene: &Scene) -> Option<Command> {
        Some(Command::MovePanel { panel: self.panel, place: PanelPlace::Cloud(self.cloud(scene)?) })
    }

    pub(super) fn place(&mut self, scene: &Scene, pressed: &Pressed) {
        self.middle = [pressed.point.x, pressed.point.y].map(|meters| pressed_measure(meters, scene));
    }
}

fn said(ui: &mut Ui, mistake: Option<&str>) {
    if let Some(mistake) = mistake {
        ui.add(Label::new(wrong(mistake).size(11.0)).wrap());
    }
}

/// Its size, its edges, its mass.
fn summary(scene: &Scene, cloud: &Cloud, kind: &PanelType) -> String {
    let size = cloud.size(kind);
    let mut words = format!("{} x {}", length(size.x, scene), length(size.y, scene));
    if let Some(lean) = cloud.lean(kind) {
        let [one, other] = lean.edges;
        words += &format!(", edges {} and {} over the floor", length(one.min(other), scene), length(one.max(other), scene));
    }
    if let Some(one) = kind.mass {
        words += &format!(", about {}", mass(one * f64::from(cloud.count()), scene));
    }
    words + "."
}

/// A button that opens the form of the chosen cloud, and the form.
pub(crate) fn chosen(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let chosen = shown.view.panel().filter(|panel| cloud_of(scene, *panel).is_some());
    draft.close(|form| matches!(form, super::Form::Cloud(form) if Some(form.panel) != chosen));
    let Some(panel) = chosen else { return };
    let is_open = draft.open.as_ref().is_some_and(|open| matches!(open.form, super::Form::Cloud(_)));
    if !is_open && ui.add_enabled(!shown.document.is_broken(), Button::new("Change its height, tilt and size")).clicked() {
        let form = Form::of(scene, panel).map(super::Form::Cloud);
        form.into_iter().for_each(|form| draft.open(form, Some(format!("{}, no. {}", scene.panels[panel].kind, panel + 1))));
    }
    draft.show(ui, shown, scene, asked, |form| matches!(form, super::Form::Cloud(_)));
}
