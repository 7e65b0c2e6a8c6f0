//! `[goals]`: what a plan is judged by.

use crate::scene::Activity;
use crate::scene::goals::{Goals, Term, Terms};
use crate::scene::walk::{Table, Walk};

/// The largest weight of a term.
const WEIGHT_MOST: f64 = 100.0;

/// Decay times that a room may be asked for, seconds.
const DECAY_LIMITS: (f64, f64) = (0.05, 5.0);

/// `[goals]` of a scene for this use.
pub(super) fn goals(walk: &mut Walk<'_>, table: &Table<'_>, activity: Activity) -> Goals {
    let keys: Vec<&str> = Term::ALL.iter().map(|term| term.key()).chain(["decay_range"]).collect();
    walk.allow_only(table, &keys);
    let weight = |term: Term| {
        let entry = walk.optional(table, term.key())?;
        walk.number(&entry, (0.0, WEIGHT_MOST), "")
    };
    let mut goals = Goals { weights: Terms::from_fn(weight), decay_s: None };
    if let Some(entry) = walk.optional(table, "decay_range")
        && let Some([low, high]) = walk.numbers::<2>(&entry, "two decay times in seconds, [low, high]", DECAY_LIMITS)
    {
        if low < high {
            goals.decay_s = Some((low, high));
        } else {
            let hint = "write the shorter time first, as in `decay_range = [0.2, 0.3]`";
            walk.error("goals-conflict", entry.1, format!("no decay is both at least {low} s and at most {high} s"), hint.to_owned());
        }
    }
    let weights = goals.weights(activity);
    if Term::ALL.into_iter().all(|term| weights[term] <= 0.0) {
        let message = "every weight is 0, so nothing is asked of a plan";
        walk.error("goals-conflict", table.span.clone(), message, "give one of them a weight, as in `decay = 1`".to_owned());
    }
    goals
}
