//! What cannot be made, marked or hung as the plan says. Everything else is still made: a trouble names its panels and its surface and says what to do.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Something that somebody has to look at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Trouble {
    /// Short and stable.
    pub id: String,
    /// The type that it is about.
    pub kind: Option<String>,
    /// Numbers of the panels that it is about.
    pub panels: Vec<u32>,
    /// The surface that it is about.
    pub surface: Option<String>,
    /// What is.
    pub message: String,
    /// What to do.
    pub hint: String,
}

impl Trouble {
    /// What is, and what to do; of no panel yet.
    #[must_use]
    pub fn new(id: &str, message: String, hint: &str) -> Self {
        Self { id: id.to_owned(), kind: None, panels: Vec::new(), surface: None, message, hint: hint.to_owned() }
    }

    /// Whether it is about hanging a panel, not about making it.
    #[must_use]
    pub fn is_of_hanging(&self) -> bool {
        matches!(self.id.as_str(), "not-to-be-hung" | "held-too-weakly")
    }

    /// The same about a type.
    #[must_use]
    pub fn of(self, kind: &str) -> Self {
        Self { kind: Some(kind.to_owned()), ..self }
    }

    /// The same about these panels on a surface.
    #[must_use]
    pub fn on(self, surface: &str, panels: Vec<u32>) -> Self {
        Self { surface: Some(surface.to_owned()), panels, ..self }
    }
}
