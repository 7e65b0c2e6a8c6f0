//! Exact search for bars: all ways to fill one bar that waste no more than the whole plan may, and a tree that takes each piece once.
//!
//! `n` bars of length `L` leave `n L - sum of pieces` to waste, so few fillings count where the bound is tight. The tree asks for the piece
//! that the fewest fillings still hold.
//!
//! *References.* P. C. Gilmore, R. E. Gomory, "A linear programming approach to the cutting-stock problem", Operations Research 9 (1961)
//! 849-859 (patterns); D. E. Knuth, "Dancing links" (2000) (the choice with the fewest branches). Both from memory.
//!
//! *Limits.* Nothing is found where there are too many fillings, or where the tree takes too many steps.

use std::cmp::Reverse;
use std::collections::BTreeSet;

use super::Draw;

/// Fillings that are listed at most.
const PATTERNS: usize = 30_000;

/// Sums of pieces that the list looks at.
const LIST_STEPS: u64 = 3_000_000;

/// Fillings that a tree looks at before it begins again.
const TREE_STEPS: u64 = 500_000;

/// Dead ends that are remembered at most.
const FAILED: usize = 20_000;

/// One way to fill a bar.
struct Pattern {
    /// Kinds of pieces and how many of each.
    pieces: Vec<(usize, usize)>,
    waste: i64,
}

/// Pieces of one length.
struct Kind {
    size: i64,
    members: Vec<usize>,
}

struct Search {
    kinds: Vec<Kind>,
    patterns: Vec<Pattern>,
    /// Which of equally rare kinds comes first.
    ties: Vec<usize>,
    /// Bars and pieces left that are known to go together in no way.
    failed: BTreeSet<(usize, Vec<usize>)>,
    steps: u64,
}

/// What the search says about so many bars.
pub(super) enum Answer {
    /// Each piece on one of them.
    Cut(Vec<Vec<usize>>),
    /// It is proven that they are not enough.
    TooFew,
    /// The lists or steps ran out.
    Open,
}

/// Whether the pieces can be cut off so many bars; takes from `steps` what it used.
pub(super) fn by_patterns(sizes: &[i64], stock: i64, bars: usize, steps: &mut u64) -> Answer {
    let allowance = i128::from(stock) * bars as i128 - sizes.iter().map(|size| i128::from(*size)).sum::<i128>();
    let Ok(allowance) = u64::try_from(allowance) else { return Answer::TooFew };
    let allowance = allowance.min(i64::MAX as u64) as i64;
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|&piece| (Reverse(sizes[piece]), piece));
    let mut search = Search { kinds: Vec::new(), patterns: Vec::new(), ties: Vec::new(), failed: BTreeSet::new(), steps: LIST_STEPS };
    for piece in order {
        match search.kinds.last_mut().filter(|kind| kind.size == sizes[piece]) {
            Some(kind) => kind.members.push(piece),
            None => search.kinds.push(Kind { size: sizes[piece], members: vec![piece] }),
        }
    }
    search.list(0, stock, allowance.min(stock), &mut Vec::new());
    if search.steps == 0 || search.patterns.len() >= PATTERNS {
        return Answer::Open;
    }
    let mut draw = Draw(sizes.len() as u64);
    while *steps > 0 {
        // An unlucky choice near the root is lost time below it: begin again with other ties.
        let most = (*steps).min(TREE_STEPS);
        search.patterns.sort_by_cached_key(|pattern| (pattern.waste, draw.below(1 << 20)));
        search.ties = (0..search.kinds.len()).map(|_| draw.below(1 << 20)).collect();
        search.steps = most;
        let mut left: Vec<usize> = search.kinds.iter().map(|kind| kind.members.len()).collect();
        let mut chosen = Vec::new();
        let live: Vec<usize> = (0..search.patterns.len()).collect();
        let found = search.cover(&live, &mut left, bars, allowance, &mut chosen);
        *steps -= most - search.steps;
        if found {
            return Answer::Cut(search.bars(&chosen));
        }
        if search.steps > 0 {
            return Answer::TooFew;
        }
    }
    Answer::Open
}

impl Search {
    /// Adds all fillings that begin with these pieces.
    fn list(&mut self, kind: usize, rest: i64, allowance: i64, taken: &mut Vec<(usize, usize)>) {
        if self.steps == 0 || self.patterns.len() >= PATTERNS {
            return;
        }
        self.steps -= 1;
        // What does not even fill the bar with all the pieces to come is no beginning.
        let to_come: i128 = self.kinds[kind..].iter().map(|kind| i128::from(kind.size) * kind.members.len() as i128).sum();
        if i128::from(rest) - to_come > i128::from(allowance) {
            return;
        }
        if rest <= allowance && !taken.is_empty() {
            self.patterns.push(Pattern { pieces: taken.clone(), waste: rest });
        }
        for next in kind..self.kinds.len() {
            let Kind { size, ref members } = self.kinds[next];
            let most = members.len().min((rest / size) as usize);
            for count in (1..=most).rev() {
                taken.push((next, count));
                self.list(next + 1, rest - size * count as i64, allowance, taken);
                taken.pop();
            }
        }
    }

    fn cover(&mut self, live: &[usize], left: &mut [usize], bars: usize, allowance: i64, chosen: &mut Vec<usize>) -> bool {
        if left.iter().all(|count| *count == 0) {
            return true;
        }
        self.steps = self.steps.saturating_sub(live.len() as u64 + left.len() as u64);
        if bars == 0 || self.steps == 0 || self.failed.contains(&(bars, left.to_vec())) {
            return false;
        }
        let fits = |pattern: &Pattern| pattern.waste <= allowance && pattern.pieces.iter().all(|&(kind, count)| count <= left[kind]);
        let live: Vec<usize> = live.iter().copied().filter(|&pattern| fits(&self.patterns[pattern])).collect();
        let mut holders = vec![0; left.len()];
        live.iter().flat_map(|&pattern| &self.patterns[pattern].pieces).for_each(|&(kind, _)| holders[kind] += 1);
        let Some(rarest) = (0..left.len()).filter(|&kind| left[kind] > 0).min_by_key(|&kind| (holders[kind], self.ties[kind])) else {
            return true;
        };
        let branches: Vec<usize> =
            live.iter().copied().filter(|&pattern| self.patterns[pattern].pieces.iter().any(|&(kind, _)| kind == rarest)).collect();
        for pattern in branches {
            let rest = allowance - self.patterns[pattern].waste;
            self.patterns[pattern].pieces.iter().for_each(|&(kind, count)| left[kind] -= count);
            chosen.push(pattern);
            if self.cover(&live, left, bars - 1, rest, chosen) {
                return true;
            }
            chosen.pop();
            self.patterns[pattern].pieces.iter().for_each(|&(kind, count)| left[kind] += count);
            if self.steps == 0 {
                return false;
            }
        }
        if self.failed.len() < FAILED {
            self.failed.insert((bars, left.to_vec()));
        }
        false
    }

    fn bars(&self, chosen: &[usize]) -> Vec<Vec<usize>> {
        let mut members: Vec<Vec<usize>> = self.kinds.iter().map(|kind| kind.members.clone()).collect();
        let mut bar = |&pattern: &usize| {
            self.patterns[pattern]
                .pieces
                .iter()
                .flat_map(|&(kind, count)| {
                    let at = members[kind].len() - count;
                    members[kind].split_off(at)
                })
                .collect()
        };
        chosen.iter().map(&mut bar).collect()
    }
}
