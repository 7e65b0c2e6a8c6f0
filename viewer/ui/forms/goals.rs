//! What is asked of a plan: what a step of each term counts, the range of the decay, where nothing may be screwed on, the budget, and whether
//! what hangs may move.
//!
//! A field that is left empty says nothing: the usual weight stands beside it, the use asks for its own decay, everything in stock is owned.

use bevy_egui::egui::{Button, TextEdit, Ui};
use roomwright::report::text::figures::activity;
use roomwright::scene::{Drilling, Goals, Scene, Term, Terms};

use super::{Draft, surfaces};
use crate::command::Command;
use crate::ui::say::{line, remark, section};
use crate::ui::table::Table;
use crate::ui::tokens::{quiet, small, wrong};
use crate::ui::{Asked, Shown};

/// Width of the words before a field, and of a field of a number.
const WHAT: f32 = 128.0;
const NUMBER: f32 = 52.0;

/// Where holes may be made, as chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Holes {
    Anywhere,
    NotInto,
    Nowhere,
}

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    /// What it was filled in from.
    of: Goals,
    weights: Terms<String>,
    /// Shortest and longest decay, seconds.
    decay: [String; 2],
    holes: Holes,
    /// Surfaces without holes.
    kept_whole: Vec<String>,
    budget: String,
    move_hung: bool,
}

/// A number as it is typed.
fn typed(number: f64) -> String {
    number.to_string()
}

/// An empty field says nothing.
fn read(text: &str) -> Result<Option<f64>, String> {
    match text.trim() {
        "" => Ok(None),
        text => match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(Some(number)),
            _ => Err("Not a number.".to_owned()),
        },
    }
}

impl Form {
    fn of(goals: &Goals) -> Self {
        let optional = |number: Option<f64>| number.map_or_else(String::new, typed);
        let (holes, kept_whole) = match &goals.drilling {
            Drilling::Anywhere => (Holes::Anywhere, Vec::new()),
            Drilling::NotInto(surfaces) => (Holes::NotInto, surfaces.clone()),
            Drilling::Nowhere => (Holes::Nowhere, Vec::new()),
        };
        Self {
            of: goals.clone(),
            weights: Terms::from_fn(|term| optional(goals.weights[term])),
            decay: [goals.decay_s.map(|range| range.0), goals.decay_s.map(|range| range.1)].map(optional),
            holes,
            kept_whole,
            budget: optional(goals.budget),
            move_hung: goals.move_hung,
        }
    }

    /// The range of the decay as typed.
    fn decay(&self) -> Result<Option<(f64, f64)>, String> {
        match (read(&self.decay[0])?, read(&self.decay[1])?) {
            (Some(low), Some(high)) => Ok(Some((low, high))),
            (None, None) => Ok(None),
            _ => Err("Both, or none of them.".to_owned()),
        }
    }

    /// What is asked as typed; `None` while something does not read.
    fn goals(&self) -> Option<Goals> {
        let mut weights = Terms::default();
        for term in Term::ALL {
            weights[term] = read(&self.weights[term]).ok()?;
        }
        let drilling = match self.holes {
            Holes::NotInto if self.kept_whole.is_empty() => return None,
            Holes::NotInto => Drilling::NotInto(self.kept_whole.clone()),
            Holes::Anywhere => Drilling::Anywhere,
            Holes::Nowhere => Drilling::Nowhere,
        };
        Some(Goals { weights, decay_s: self.decay().ok()?, move_hung: self.move_hung, drilling, budget: read(&self.budget).ok()? })
    }

    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene) {
        if scene.goals != self.of {
            *self = Self::of(&scene.goals);
        }
        remark(ui, "What a step that is just noticed counts; 0 leaves a term out, an empty field takes the usual weight.");
        let usual = Goals::default().weights(scene.activity);
        for term in Term::ALL {
            let text = &mut self.weights[term];
            let mistake = read(text).err();
            line(ui, term.words(), WHAT, |ui, label| {
                ui.add(TextEdit::singleline(text).desired_width(NUMBER)).labelled_by(label);
                ui.label(quiet(format!("usual {}", typed(usual[term]))));
                said(ui, mistake.as_deref());
            });
        }
        let mistake = self.decay().err();
        line(ui, "decay, seconds", WHAT, |ui, label| {
            let [low, high] = &mut self.decay;
            ui.add(TextEdit::singleline(low).desired_width(NUMBER)).labelled_by(label);
            let to = ui.label(small("to")).id;
            ui.add(TextEdit::singleline(high).desired_width(NUMBER)).labelled_by(to);
            ui.label(quiet("empty: as the use asks"));
            said(ui, mistake.as_deref());
        });
        let mistake = read(&self.budget).err();
        line(ui, "budget", WHAT, |ui, label| {
            ui.add(TextEdit::singleline(&mut self.budget).desired_width(NUMBER)).labelled_by(label);
            ui.label(quiet("in the currency of the prices; empty: all in stock is owned"));
            said(ui, mistake.as_deref());
        });
        self.holes(ui, scene);
        ui.checkbox(&mut self.move_hung, small("a plan may move or take down what hangs already"));
    }

    /// Where nothing may be screwed on.
    fn holes(&mut self, ui: &mut Ui, scene: &Scene) {
        line(ui, "holes", WHAT, |ui, _| {
            for (holes, words) in [(Holes::Anywhere, "anywhere"), (Holes::NotInto, "not into ..."), (Holes::Nowhere, "nowhere")] {
                ui.radio_value(&mut self.holes, holes, small(words));
            }
        });
        if self.holes == Holes::NotInto {
            ui.horizontal_wrapped(|ui| {
                for name in surfaces(scene) {
                    let mut is_kept = self.kept_whole.iter().any(|kept| kept == name);
                    if ui.checkbox(&mut is_kept, small(name)).changed() {
                        self.kept_whole.retain(|kept| kept != name);
                        if is_kept {
                            self.kept_whole.push(name.to_owned());
                        }
                    }
                }
            });
        }
    }

    pub(super) fn command(&self) -> Option<Command> {
        self.goals().map(|goals| Command::SetGoals(Box::new(goals)))
    }
}

fn said(ui: &mut Ui, mistake: Option<&str>) {
    if let Some(mistake) = mistake {
        ui.label(wrong(mistake).size(11.0));
    }
}

/// What is asked now, a button that opens the form, and the form.
pub(crate) fn goals(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let is_kind = |form: &super::Form| matches!(form, super::Form::Goals(_));
    section(ui, "What is asked of a plan");
    let weights = scene.goals.weights(scene.activity);
    let counts = |term: Term| {
        let mark = if scene.goals.weights[term].is_some() { "" } else { "usual" };
        [term.words().to_owned(), typed(weights[term]), mark.to_owned()]
    };
    let mut table = Table::new(&["<term", "a step counts", "<"]);
    Term::ALL.into_iter().for_each(|term| _ = table.row(counts(term)));
    table.show(ui);
    remark(ui, sentence(scene));
    let is_open = draft.open.as_ref().is_some_and(|open| is_kind(&open.form));
    if !is_open && ui.add_enabled(!shown.document.is_broken(), Button::new("Ask for something else")).clicked() {
        draft.open(super::Form::Goals(Form::of(&scene.goals)), Some(String::new()));
    }
    draft.show(ui, shown, scene, asked, is_kind);
}

/// The rest of it in one line.
fn sentence(scene: &Scene) -> String {
    let Goals { decay_s, move_hung, drilling, budget, .. } = &scene.goals;
    let decay = decay_s.map_or_else(
        || format!("The decay is asked for as for {}", activity(scene.activity)),
        |(low, high)| format!("A decay of {} to {} s is asked for", typed(low), typed(high)),
    );
    let holes = match drilling {
        Drilling::Anywhere => "holes anywhere".to_owned(),
        Drilling::NotInto(surfaces) => format!("no holes in {}", surfaces.join(", ")),
        Drilling::Nowhere => "no holes at all".to_owned(),
    };
    let budget = budget.map_or_else(|| "no budget".to_owned(), |budget| format!("a budget of {}", typed(budget)));
    let moves = if *move_hung { "what hangs may move" } else { "what hangs stays" };
    format!("{decay}; {holes}; {budget}; {moves}.")
}
