//! What is asked of a plan, what each of it counts, and what a plan may do: the scene's `[goals]`.
//!
//! A plan is judged by what is wrong with the room, term by term, each in steps that are just noticed; how each is reckoned stands in the planner's score. A weight
//! says how many steps a step of a term counts: 0 leaves it out.
//!
//! | term | mixing | voice | rehearsal | lesson |
//! | --- | --- | --- | --- | --- |
//! | `reflections`, each over the criterion | 1 | 1 | 0.5 | 0 |
//! | `early_level`, all of them together | 1 | 1 | 0.5 | 0 |
//! | `decay`, outside its range | 1 | 1 | 1 | 1 |
//! | `evenness` of the decay over the octaves | 1 | 1 | 1 | 1 |
//! | `likeness` of left and right | 1 | 0 | 0 | 0 |
//! | `speech`, its clarity | 0 | 1 | 0.5 | 1 |
//! | `flutter` between facing surfaces | 1 | 1 | 1 | 1 |
//! | `bass`, what rings too long below, by waves | 1 | 1 | 1 | 1 |
//!
//! *References.* The weights are our own choice: what a step is has a source (see the score), that steps of different terms count alike has none. The criterion for reflections is
//! one of listening rooms; in a rehearsal room it counts half, and a lesson is helped by early reflections.

use std::ops::{Index, IndexMut};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Activity;

/// A part of what a plan is judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Term {
    /// Each early reflection over the criterion.
    Reflections,
    /// The early reflections together.
    EarlyLevel,
    /// The decay against its range.
    Decay,
    /// The decay of the octaves against each other.
    Evenness,
    /// Left against right.
    Likeness,
    /// Clarity of voices.
    Speech,
    /// Facing surfaces that ring.
    Flutter,
    /// Octaves that waves bring, against what is asked of them.
    Bass,
}

impl Term {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 8] =
        [Self::Reflections, Self::EarlyLevel, Self::Decay, Self::Evenness, Self::Likeness, Self::Speech, Self::Flutter, Self::Bass];

    /// Its key in the scene.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Reflections => "reflections",
            Self::EarlyLevel => "early_level",
            Self::Decay => "decay",
            Self::Evenness => "evenness",
            Self::Likeness => "likeness",
            Self::Speech => "speech",
            Self::Flutter => "flutter",
            Self::Bass => "bass",
        }
    }

    /// What it is called in a table.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::EarlyLevel => "early level",
            other => other.key(),
        }
    }
}

/// Something for each term.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Terms<T> {
    /// Each early reflection over the criterion.
    pub reflections: T,
    /// The early reflections together.
    pub early_level: T,
    /// The decay against its range.
    pub decay: T,
    /// The decay of the octaves against each other.
    pub evenness: T,
    /// Left against right.
    pub likeness: T,
    /// Clarity of voices.
    pub speech: T,
    /// Facing surfaces that ring.
    pub flutter: T,
    /// Octaves that waves bring, against what is asked of them; only finished layouts that are compared know it.
    pub bass: T,
}

impl<T> Terms<T> {
    /// What `make` says of each.
    pub fn from_fn(mut make: impl FnMut(Term) -> T) -> Self {
        Self {
            reflections: make(Term::Reflections),
            early_level: make(Term::EarlyLevel),
            decay: make(Term::Decay),
            evenness: make(Term::Evenness),
            likeness: make(Term::Likeness),
            speech: make(Term::Speech),
            flutter: make(Term::Flutter),
            bass: make(Term::Bass),
        }
    }

    /// Something made of each.
    pub fn map<U>(&self, mut make: impl FnMut(&T) -> U) -> Terms<U> {
        Terms::from_fn(|term| make(&self[term]))
    }
}

impl<T> Index<Term> for Terms<T> {
    type Output = T;

    fn index(&self, term: Term) -> &T {
        match term {
            Term::Reflections => &self.reflections,
            Term::EarlyLevel => &self.early_level,
            Term::Decay => &self.decay,
            Term::Evenness => &self.evenness,
            Term::Likeness => &self.likeness,
            Term::Speech => &self.speech,
            Term::Flutter => &self.flutter,
            Term::Bass => &self.bass,
        }
    }
}

impl<T> IndexMut<Term> for Terms<T> {
    fn index_mut(&mut self, term: Term) -> &mut T {
        match term {
            Term::Reflections => &mut self.reflections,
            Term::EarlyLevel => &mut self.early_level,
            Term::Decay => &mut self.decay,
            Term::Evenness => &mut self.evenness,
            Term::Likeness => &mut self.likeness,
            Term::Speech => &mut self.speech,
            Term::Flutter => &mut self.flutter,
            Term::Bass => &mut self.bass,
        }
    }
}

/// Where a plan may drill.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Drilling {
    /// Into every wall and ceiling.
    #[default]
    Anywhere,
    /// Into all but these.
    NotInto(Vec<String>),
    /// Into none.
    Nowhere,
}

impl Drilling {
    /// Whether nothing may be screwed to the surface of this name.
    #[must_use]
    pub fn forbids(&self, surface: &str) -> bool {
        match self {
            Self::Anywhere => false,
            Self::NotInto(surfaces) => surfaces.iter().any(|other| other == surface),
            Self::Nowhere => true,
        }
    }
}

/// The scene's `[goals]`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Goals {
    /// Weights that the scene gives; the others are the usual ones of its use.
    pub weights: Terms<Option<f64>>,
    /// Range that the mean decay shall lie in, seconds, in place of what the use asks for.
    pub decay_s: Option<(f64, f64)>,
    /// Whether a plan may move or take down what hangs already: what lies flat on a surface or stands before one.
    pub move_hung: bool,
    /// Where nothing may be screwed on.
    pub drilling: Drilling,
    /// Money that a plan may spend on types with a price, in their currency; without it everything in stock is owned.
    pub budget: Option<f64>,
}

impl Goals {
    /// What a step of each term counts in a scene for this use.
    #[must_use]
    pub fn weights(&self, activity: Activity) -> Terms<f64> {
        Terms::from_fn(|term| self.weights[term].unwrap_or_else(|| usual(activity, term)))
    }
}

/// What a step of a term counts where the scene does not say.
fn usual(activity: Activity, term: Term) -> f64 {
    match (term, activity) {
        (Term::Decay | Term::Evenness | Term::Flutter | Term::Bass, _)
        | (Term::Reflections | Term::EarlyLevel, Activity::Mixing | Activity::Voice)
        | (Term::Likeness, Activity::Mixing)
        | (Term::Speech, Activity::Voice | Activity::Lesson) => 1.0,
        (Term::Reflections | Term::EarlyLevel | Term::Speech, Activity::Rehearsal) => 0.5,
        (Term::Reflections | Term::EarlyLevel, Activity::Lesson)
        | (Term::Likeness, Activity::Voice | Activity::Rehearsal | Activity::Lesson)
        | (Term::Speech, Activity::Mixing) => 0.0,
    }
}
