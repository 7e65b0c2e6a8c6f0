//! `[goals]`: what a plan is judged by, and what it may do.

use crate::scene::Activity;
use crate::scene::goals::{Drilling, Goals, Term, Terms};
use crate::scene::walk::{Limits, Table, Walk};

/// The largest weight of a term.
const WEIGHT_MOST: f64 = 100.0;

/// Money that may be spent, in any currency.
const BUDGET: Limits = (0.0, 1e7);

/// Keys beside the terms.
const OTHERS: [&str; 5] = ["decay_range", "move_hung", "drill", "no_drill", "budget"];

/// Decay times that a room may be asked for, seconds.
const DECAY_LIMITS: (f64, f64) = (0.05, 5.0);

/// `[goals]` of a scene for this use.
pub(super) fn goals(walk: &mut Walk<'_>, table: &Table<'_>, activity: Activity) -> Goals {
    let keys: Vec<&str> = Term::ALL.iter().map(|term| term.key()).chain(OTHERS).collect();
    walk.allow_only(table, &keys);
    let weight = |term: Term| {
        let entry = walk.optional(table, term.key())?;
        walk.number(&entry, (0.0, WEIGHT_MOST), "")
    };
    let mut goals = Goals { weights: Terms::from_fn(weight), ..Goals::default() };
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
    goals.move_hung = walk.optional(table, "move_hung").and_then(|entry| walk.truth(&entry)).unwrap_or(false);
    goals.drilling = drilling(walk, table);
    goals.budget = walk.optional(table, "budget").and_then(|entry| walk.number(&entry, BUDGET, ""));
    let weights = goals.weights(activity);
    // Bass is judged once a plan is found; something must be there to seek it by.
    if Term::ALL.into_iter().filter(|term| *term != Term::Bass).all(|term| weights[term] <= 0.0) {
        let message = if weights[Term::Bass] > 0.0 {
            "every weight but that of `bass` is 0, and no plan is sought by bass"
        } else {
            "every weight is 0, so nothing is asked of a plan"
        };
        walk.error("goals-conflict", table.span.clone(), message, "give one of them a weight, as in `decay = 1`".to_owned());
    }
    goals
}

/// `drill`, or `no_drill` with names of surfaces.
fn drilling(walk: &mut Walk<'_>, table: &Table<'_>) -> Drilling {
    let drill = walk.optional(table, "drill");
    let surfaces = walk.optional(table, "no_drill");
    if let (Some(_), Some(entry)) = (&drill, &surfaces) {
        let hint = "keep `drill = false` where nothing may be drilled at all, `no_drill` where some surfaces may be";
        walk.error("keys-conflict", entry.1.clone(), "[goals] has both `drill` and `no_drill`", hint.to_owned());
    }
    if let Some(drill) = drill.and_then(|entry| walk.truth(&entry)) {
        return if drill { Drilling::Anywhere } else { Drilling::Nowhere };
    }
    let Some(entries) = surfaces.and_then(|entry| walk.list(&entry, "a list of surfaces, [\"north\", \"sloped ceiling\"]")) else {
        return Drilling::Anywhere;
    };
    let names: Vec<String> = entries.iter().filter_map(|entry| walk.name(entry)).collect();
    if names.is_empty() { Drilling::Anywhere } else { Drilling::NotInto(names) }
}
