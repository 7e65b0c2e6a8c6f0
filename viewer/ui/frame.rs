//! The window laid out: the path of steps at the left, question and answer at the right, the strip with plots or text beneath the stage,
//! the status at the foot. What is left is the stage.

use bevy_egui::egui::{
    self, Align, Align2, Button, CentralPanel, CursorIcon, Frame, Layout, Margin, Panel, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui,
    WidgetInfo, WidgetType, pos2, text::LayoutJob, vec2,
};

use roomwright::findings::targets::too_loud;
use roomwright::report::text::figures::volume;

use super::tokens::{
    ACCENT, ANSWER, CARD, DOT, GAP, INK, LINE, MARGIN, PAPER, QUIET, RAIL, STATUS, STEP, STRIP, TITLE, bold, quiet, small, table_letters,
    wrong,
};
use super::{Asked, Drafts, Shown, absorbers, build, hear, lesson, place, plots, prove, sight, start, status, survey, text};
use crate::command::Command;
use crate::errand::Errand;
use crate::reporting;
use crate::view::{Step, Strip};

/// Draws everything round the stage; where the stage is.
pub(crate) fn frame(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) -> Rect {
    let paper = Frame::new().fill(PAPER);
    let all = ui.max_rect();
    if !shown.document.is_open() {
        CentralPanel::no_frame().frame(paper.inner_margin(MARGIN)).show(ui, |ui| start::start(ui, shown, drafts, asked));
        return all;
    }
    let status_line = Panel::bottom("status").exact_size(STATUS).resizable(false);
    status_line.frame(paper.inner_margin(Margin::symmetric(12, 0))).show(ui, |ui| status::status(ui, shown));
    let rail = Panel::left("steps").exact_size(RAIL).resizable(false).show_separator_line(false);
    rail.frame(paper.inner_margin(Margin::symmetric(4, 10))).show(ui, |ui| steps(ui, shown, asked));
    let answer = Panel::right("answer").min_size(ANSWER[0]).default_size(ANSWER[1]).max_size(ANSWER[2]).resizable(true);
    answer.frame(paper.inner_margin(MARGIN)).show(ui, |ui| {
        ScrollArea::vertical().id_salt(("answer", shown.view.step as u8)).auto_shrink(false).show(ui, |ui| step(ui, shown, drafts, asked));
    });
    let strip = Panel::bottom(egui::Id::new(("strip", shown.view.strip as u8)))
        .min_size(STRIP[0])
        .default_size(STRIP[1 + shown.view.strip as usize])
        .max_size(STRIP[4])
        .resizable(true);
    strip.frame(paper.inner_margin(Margin { left: 4, right: 8, top: 4, bottom: 6 })).show(ui, |ui| {
        Frame::new()
            .fill(CARD)
            .stroke(Stroke::new(1.0, LINE))
            .inner_margin(Margin::symmetric(8, 5))
            .show(ui, |ui| beneath(ui, shown, drafts, asked));
    });
    let stage = ui.available_rect_before_wrap().shrink2(vec2(0.0, 0.0));
    ui.painter().rect_stroke(stage, 0.0, Stroke::new(1.0, LINE), StrokeKind::Inside);
    sight::chooser(ui, shown, stage, asked);
    stage
}

/// The panel of the step.
fn step(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    lesson::lesson(ui, shown, asked);
    match shown.view.step {
        Step::Survey => survey::survey(ui, shown, drafts, asked),
        Step::Hear => hear::hear(ui, shown, asked),
        Step::Place => place::place(ui, shown, drafts, asked),
        Step::Build => build::build(ui, shown, asked),
        Step::Prove => prove::prove(ui, shown, asked),
    }
    ui.add_space(4.0 * GAP);
}

/// Plots, absorbers or the scene text.
fn beneath(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    ui.horizontal(|ui| {
        for (strip, word) in [(Strip::Plots, "plots"), (Strip::Absorbers, "absorbers"), (Strip::Text, "scene text")] {
            if ui.selectable_label(strip == shown.view.strip, small(word)).clicked() {
                asked.push(Command::ChooseStrip(strip));
            }
        }
        if shown.view.strip == Strip::Absorbers {
            absorbers::head(ui, shown, asked);
        }
    });
    match shown.view.strip {
        Strip::Plots if shown.view.step == Step::Prove && shown.results.proof.is_some() => prove::charts(ui, shown),
        Strip::Plots => plots::plots(ui, shown, asked),
        Strip::Absorbers => absorbers::absorbers(ui, shown, drafts, asked),
        Strip::Text => text::text(ui, shown, drafts, asked),
    }
    drafts.absorbers.note_shown(shown.view.strip == Strip::Absorbers);
}

/// Name of a step, and what is to be said of it in a few letters.
fn words(shown: Shown<'_>, step: Step) -> (&'static str, String) {
    let results = shown.results;
    let scene = results.scene.as_deref();
    match step {
        Step::Survey if shown.document.is_broken() => ("survey", "mistakes".to_owned()),
        Step::Survey => {
            let survey = scene.zip(results.survey.as_ref());
            ("survey", survey.map_or_else(String::new, |(scene, known)| volume(known.value.volume_m3, scene)))
        }
        Step::Hear => {
            // Where the use listens, as the panel says it.
            let loud = scene.and(results.findings.as_ref()).map(|known| too_loud(&known.value.pairs).len());
            ("hear", loud.map_or_else(String::new, |loud| format!("{loud} too loud")))
        }
        Step::Place => (
            "place",
            scene.map_or_else(String::new, |scene| {
                format!("{} hung", scene.panels.iter().map(roomwright::scene::Panel::count).sum::<u32>())
            }),
        ),
        Step::Build => {
            let troubles = results.building().map(|building| building.build.troubles.len()).filter(|troubles| *troubles > 0);
            ("build", troubles.map_or_else(String::new, |troubles| format!("{troubles} to look at")))
        }
        Step::Prove => ("prove", prove::words(shown)),
    }
}

/// The steps as a path, what is open above them, undo, redo and saving below.
fn steps(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    ui.vertical_centered(|ui| {
        title(ui, shown);
        ui.label(match (shown.document.is_copy(), shown.document.is_unsaved()) {
            (true, _) => quiet("a copy"),
            (_, true) => wrong("not saved").size(11.0),
            _ => quiet("saved"),
        });
        ui.add_space(GAP);
        for step in Step::ALL {
            one_step(ui, shown, step, asked);
        }
    });
    ui.with_layout(Layout::bottom_up(Align::Center), |ui| {
        let (can_undo, can_redo) = shown.document.can_undo_redo();
        let buttons = [
            ("rooms", "Back to the first page", true, Command::ToStart),
            ("open", "Ctrl+O", true, Command::AskFile),
            ("save as", "Ctrl+Shift+S", true, Command::AskWhere),
            ("save", "Ctrl+S", shown.document.is_unsaved() || shown.document.is_copy(), Command::Save),
            ("redo", "Ctrl+Y", can_redo, Command::Redo),
            ("undo", "Ctrl+Z", can_undo, Command::Undo),
            (
                "picture",
                "Ctrl+P: the room as seen here, as a file beside the scene",
                shown.results.room.is_some(),
                Command::ExportPicture(None),
            ),
            report(shown),
        ];
        for (word, key, can, command) in buttons {
            let button = ui.add_enabled(can, Button::new(small(word)).min_size(vec2(64.0, 0.0)));
            if button.on_hover_text(key).on_disabled_hover_text(key).clicked() {
                asked.push(command);
            }
        }
    });
}

/// The button of the report: it writes one, or stops that.
fn report(shown: Shown<'_>) -> (&'static str, &'static str, bool, Command) {
    let why_not = reporting::why_not(shown.document);
    match &shown.results.status.errand {
        Some(running) if matches!(running.errand, Errand::Report(_)) => {
            ("stop report", "No report is written then.", true, Command::StopErrand)
        }
        Some(_) => ("report", "Another study is being made; stop it first, or wait for it.", false, Command::WriteReport),
        None if why_not.is_empty() => {
            ("report", "All that there is about this room, as one page and one PDF beside the scene", true, Command::WriteReport)
        }
        None => ("report", why_not, false, Command::WriteReport),
    }
}

/// The name of the room on two lines at most, in a place of its own height: a longer name does not push the path down.
fn title(ui: &mut Ui, shown: Shown<'_>) {
    let name = shown.results.scene.as_ref().map_or("Scene", |scene| scene.name.as_str());
    let path = shown.document.path().map_or_else(|| "no file yet".to_owned(), |path| path.display().to_string());
    let font = egui::FontId::new(TITLE, bold());
    let mut job = LayoutJob::simple(name.to_owned(), font, INK, ui.available_width());
    (job.halign, job.wrap.max_rows) = (Align::Center, 2);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 2.6 * TITLE), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(WidgetType::Label, true, name));
    let letters = ui.fonts_mut(|fonts| fonts.layout_job(job));
    ui.painter().galley(pos2(rect.center().x, rect.bottom() - letters.size().y), letters, INK);
    response.on_hover_text(format!("{name}\n{path}"));
}

fn one_step(ui: &mut Ui, shown: Shown<'_>, step: Step, asked: &mut Asked) {
    let (name, more) = words(shown, step);
    let is_here = shown.view.step == step;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), STEP), Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, is_here, name));
    let painter = ui.painter();
    let ink = if is_here || response.hovered() { ACCENT } else { INK };
    let dot = pos2(rect.center().x, rect.top() + DOT + 4.0);
    if step != Step::Prove {
        painter.vline(dot.x, rect.bottom() - 8.0..=rect.bottom() + 2.0, Stroke::new(1.0, LINE));
    }
    let (radius, fill) = if is_here { (DOT + 2.0, ACCENT) } else { (DOT, ink) };
    painter.circle_filled(dot, radius, fill);
    let font = egui::FontId::proportional(13.0);
    painter.text(dot + vec2(0.0, DOT + 4.0), Align2::CENTER_TOP, name, font, ink);
    painter.text(dot + vec2(0.0, DOT + 20.0), Align2::CENTER_TOP, more, table_letters(), QUIET);
    if response.on_hover_cursor(CursorIcon::PointingHand).clicked() {
        asked.push(Command::ChooseStep(step));
    }
}
