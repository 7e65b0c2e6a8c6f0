//! What is wrong with a mesh, where, and what to do about it.
//!
//! A mesh has no lines of text: a diagnostic names faces, counted from 1 in the order in which they were given, and a place in meters.
//!
//! *Limits.* Of many faces with the same mistake the first few are named and all are counted.

use std::fmt;

use glam::DVec3;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The mesh cannot be used.
    Error,
    /// The mesh was mended; the person should know.
    Note,
}

/// One mistake, or one thing that was mended.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnostic {
    /// Error or note.
    pub severity: Severity,
    /// Stable short name of the rule, `mesh-leak`.
    pub id: &'static str,
    /// The faces it is about, from 0 in the order given; all of them.
    pub faces: Vec<usize>,
    /// Where, meters.
    pub at: Option<DVec3>,
    /// What is, and what was expected.
    pub message: String,
    /// What to do about it.
    pub hint: Option<String>,
}

/// Faces that are named in a message; the others are counted.
const NAMED: usize = 5;

impl Diagnostic {
    /// An error about these faces.
    pub(super) fn error(id: &'static str, faces: Vec<usize>, at: Option<DVec3>, message: String, hint: &str) -> Self {
        Self { severity: Severity::Error, id, faces, at, message, hint: Some(hint.to_owned()) }
    }

    /// A note about faces that were mended.
    pub(super) fn note(id: &'static str, faces: Vec<usize>, at: Option<DVec3>, message: String) -> Self {
        Self { severity: Severity::Note, id, faces, at, message, hint: None }
    }
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let severity = match self.severity {
            Severity::Error => "error",
            Severity::Note => "note",
        };
        write!(f, "{severity}[{}]: {}", self.id, self.message)?;
        if let Some(at) = self.at {
            write!(f, "\n  at {:.3}, {:.3}, {:.3} m", at.x, at.y, at.z)?;
        }
        if !self.faces.is_empty() {
            let named: Vec<String> = self.faces.iter().take(NAMED).map(|face| (face + 1).to_string()).collect();
            let more = self.faces.len().saturating_sub(NAMED);
            let word = if self.faces.len() == 1 { "face" } else { "faces" };
            write!(f, "\n  {word} {}", named.join(", "))?;
            if more > 0 {
                write!(f, " and {more} more")?;
            }
        }
        if let Some(hint) = &self.hint {
            write!(f, "\n  hint: {hint}")?;
        }
        Ok(())
    }
}

/// Every id, and what it means.
pub const IDS: [(&str, &str); 16] = [
    ("mesh-apart", "closed shells lie outside one another, so that it is unclear which is the room"),
    ("mesh-duplicate", "note: faces were given twice; one of each was kept"),
    ("mesh-edge-shared", "three or more faces meet in one edge"),
    ("mesh-empty", "there is no face with an area"),
    ("mesh-finish-unknown", "a face has a finish number that is not there"),
    ("mesh-leak", "the surface is open: a gap or a hole"),
    ("mesh-no-volume", "a closed shell encloses no volume"),
    ("mesh-not-a-number", "a corner is not a finite number"),
    ("mesh-one-sided", "a surface cannot be given an inside and an outside"),
    ("mesh-sealed", "note: a space within a solid, which no sound reaches, was left out"),
    ("mesh-shells-cross", "two closed shells cross each other"),
    ("mesh-size", "the whole is smaller or larger than any room"),
    ("mesh-too-many", "more flat surfaces are left after merging than the kernel can number"),
    ("mesh-turned", "note: faces looked away from the air and were turned"),
    ("mesh-two-finishes", "one face is given twice, with different finishes"),
    ("mesh-zero-area", "note: faces without area were left out"),
];
