//! Where the fixings of a flat panel go on its wall or ceiling.
//!
//! A grid of `columns x rows`, at least 2 x 2, as few points as these rules allow:
//!
//! - *count*: four up to 0.75 m2 of panel, above that the same density, `ceil(4 area / 0.75)`; where one fixing's rated load and the
//!   mass are known, also `ceil(mass factor / rated)`, both in kg since standard gravity cancels;
//! - *spacing*: neighbors at most 600 mm apart along each side, `(1 - 2 share) side / (count - 1)`;
//! - *inset*: the outer points a fifth of the side from its ends, more only as far as that saves a row, at most a quarter; never nearer
//!   than 25 mm to an edge, a quarter of the side where it is shorter than 100 mm.
//!
//! *Members* (studs, joists: parallel lines) take the columns, or the rows where they lie level: of all pairs that enclose the middle the outer two
//! are those whose insets depart least from a fifth to a quarter; between them the members nearest to equal spacing,
//! as many as spacing and count need. The other side keeps the rule. The user's *own rule* is carried out as told, in rows from the top:
//! one point in the middle; two in one upper row; three as two above and one centered below; four in the corners; more in rows as alike as can be,
//! the upper ones fuller, so many that the largest spacing is least. Notes tell how it departs from the usual rule.
//!
//! *References.* Common practice, no source, for every number above.
//!
//! *Limits.* No code and no maker's instruction is checked: where one asks for more, or a licensed person, that holds. The rating is that
//! of one fixing in this very wall or ceiling, and loads count as shared evenly: the factor has to cover that they are not. Members run
//! through behind the whole panel; cables, pipes and what members are made of are not known. Nothing here says that a surface carries anything.

use std::cmp::Ordering;

use glam::DVec2;

use super::places::{
    Axis, INSET_SHARES, Place, ROUNDING, count_least, edge, evenly, nearest, off_rule, on_members, sorted, spread, widest,
};

/// Area up to which four points do, m2; common practice, no source.
pub const AREA_OF_FOUR: f64 = 0.75;
/// Widest spacing of neighboring points along a side, meters; common practice, no source.
pub const SPACING_MOST: f64 = 0.6;
/// More fixings than leave this distance, in meters, are not asked of a panel: a stronger fixing is the answer.
const SPACING_LEAST: f64 = 0.1;
/// Narrower members are hard to hit in the middle, meters; common practice, no source.
const WIDTH_LEAST: f64 = 0.03;
/// Outer points that enclose the middle keep at most this share of the side from its ends.
const MIDDLE_SHARE: f64 = 0.45;
/// Longest side of anything that is hung, meters.
pub const SIDE_MOST: f64 = 20.0;
/// Most points of a user's own rule.
const OWN_MOST: usize = 256;
/// Structure behind a surface that fixings may land on: parallel members that run through.
#[derive(Clone, Debug, PartialEq)]
pub struct Members {
    /// They run along y of the surface's chart, as studs do; otherwise along x.
    pub upright: bool,
    /// Center lines, meters along x where they are upright, else along y; in any order.
    pub centers: Vec<f64>,
    /// Width of one, meters.
    pub width: f64,
}

/// How many fixings, and how far from the edges.
#[derive(Clone, Debug, PartialEq)]
pub enum Rule {
    /// The usual rule at the head of this file.
    Usual {
        /// Load that the maker rates one fixing for in this surface, kg.
        rated_kg: Option<f64>,
        /// The rating is divided by this; below 1 counts as 1.
        factor: f64,
    },
    /// The user's own.
    Own {
        /// Points.
        count: u32,
        /// From each edge, meters.
        inset: f64,
    },
}

/// One fixing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fixing {
    /// On the surface's chart, meters: x from the left, y from the lower edge.
    pub at: DVec2,
    /// The member on whose center line it lies, as an index into [`Members::centers`].
    pub on_member: Option<usize>,
}

/// All fixings of a panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fixings {
    /// In hanging order: upper row from left to right, then the next lower row.
    pub points: Vec<Fixing>,
    /// What the person on the ladder must know of them.
    pub notes: Vec<Note>,
}

/// What is unusual about a set of fixings. Data; sentences are made where they are printed. Lengths in meters.
#[derive(Clone, Debug, PartialEq)]
pub enum Note {
    /// A side that is no length, not above zero or above [`SIDE_MOST`]: no points.
    SizeUnusable,
    /// Nothing says whether these fixings carry the mass.
    MassUnchecked {
        /// The mass of the panel is known.
        mass_known: bool,
        /// The rated load of one fixing is known.
        rating_known: bool,
    },
    /// Mass, rating and factor ask for more points than the panel has room for, or members allow: it must not hang like this.
    TooManyNeeded {
        /// Points needed.
        needed: usize,
        /// Points given.
        given: usize,
    },
    /// No member behind the panel, as far from its edges as points keep: these points are not on structure.
    NoMemberBehind,
    /// Too few members for the points or all on one side of the middle: these points are not on structure; a rail across two members is the usual answer.
    FewOnMembers {
        /// Members behind the panel.
        behind: usize,
    },
    /// Members so narrow, or of unknown width, that each must be found exactly.
    NarrowMembers {
        /// Their width, meters.
        width: f64,
    },
    /// Outer points nearer to the edge than a fifth of that side or farther than a quarter.
    InsetOffRule {
        /// The side.
        axis: Axis,
        /// The inset that departs most, meters.
        inset: f64,
        /// The same as a share of the side.
        share: f64,
    },
    /// Neighbors farther apart than [`SPACING_MOST`].
    SpacingOver {
        /// The side.
        axis: Axis,
        /// Widest spacing, meters.
        spacing: f64,
    },
    /// The points follow the user's own rule.
    OwnRule {
        /// Points given.
        count: usize,
        /// Points that the usual rule would give on this panel, mass left out.
        usual: usize,
    },
    /// The user's inset would leave the panel, cross its middle or come too near to an edge.
    OwnInsetMoved {
        /// The side.
        axis: Axis,
        /// As told, meters.
        asked: f64,
        /// As given, meters.
        given: f64,
    },
    /// Points of the user's own rule have moved onto members.
    OwnMoved {
        /// The farthest that one has, meters.
        farthest: f64,
    },
}

/// A row of points at one height above the lower edge.
struct Row {
    y: Place,
    xs: Vec<Place>,
}

/// Fixings of a panel whose lower left corner is at `low` on the chart, `size` meters wide and high. Never panics: what cannot be is a note.
#[must_use]
pub fn fixings(low: DVec2, size: DVec2, mass_kg: Option<f64>, rule: &Rule, members: Option<&Members>) -> Fixings {
    at_least(0, low, size, mass_kg, rule, members)
}

/// The same with no fewer points than `least` by the usual rule: what hangs overhead must hold with one of them lost.
#[must_use]
pub fn at_least(least: usize, low: DVec2, size: DVec2, mass_kg: Option<f64>, rule: &Rule, members: Option<&Members>) -> Fixings {
    if !low.is_finite() || !size.to_array().iter().all(|side| *side > 0.0 && *side <= SIDE_MOST) {
        return Fixings { points: Vec::new(), notes: vec![Note::SizeUnusable] };
    }
    let behind = members.map(|members| (members.upright, behind(low, size, members)));
    let mut notes = Vec::new();
    let rows = match rule {
        Rule::Usual { rated_kg, factor } => {
            let by_mass = count_by_mass(mass_kg, *rated_kg, *factor, &mut notes);
            usual(size, count_by_area(size).max(by_mass).max(least), behind.as_ref(), &mut notes)
        }
        Rule::Own { count, inset } => {
            notes.push(Note::MassUnchecked { mass_known: mass_kg.is_some_and(is_known), rating_known: false });
            own(size, *count, *inset, behind.as_ref(), &mut notes)
        }
    };
    if let Some(members) = members.filter(|members| members.width.is_nan() || members.width < WIDTH_LEAST) {
        notes.push(Note::NarrowMembers { width: members.width });
    }
    departures(&rows, size, &mut notes);
    let of_row = |row: &Row| {
        let y = row.y;
        row.xs.iter().map(move |x| Fixing { at: low + DVec2::new(x.0, y.0), on_member: x.1.or(y.1) }).collect::<Vec<_>>()
    };
    Fixings { points: rows.iter().flat_map(of_row).collect(), notes }
}

/// Members that the panel covers, from the low end of the side that they cross, ascending, each with its index.
fn behind(low: DVec2, size: DVec2, members: &Members) -> Vec<(usize, f64)> {
    let (low, side) = if members.upright { (low.x, size.x) } else { (low.y, size.y) };
    let within = edge(side)..=side - edge(side);
    sorted(members.centers.iter().map(|center| center - low).enumerate().filter(|(_, at)| within.contains(at)).collect())
}

fn count_by_area(size: DVec2) -> usize {
    ((4.0 * size.x * size.y / AREA_OF_FOUR - ROUNDING).ceil() as usize).max(4)
}

fn is_known(kg: f64) -> bool {
    kg.is_finite() && kg > 0.0
}

/// Points that the mass needs, 0 where that cannot be said.
fn count_by_mass(mass_kg: Option<f64>, rated_kg: Option<f64>, factor: f64, notes: &mut Vec<Note>) -> usize {
    match (mass_kg.filter(|kg| is_known(*kg)), rated_kg.filter(|kg| is_known(*kg))) {
        (Some(mass), Some(rated)) => (mass * factor.max(1.0) / rated - ROUNDING).ceil() as usize,
        (mass, rating) => {
            notes.push(Note::MassUnchecked { mass_known: mass.is_some(), rating_known: rating.is_some() });
            0
        }
    }
}

/// The grid of the usual rule with at least `needed` points, as far as there is room.
fn usual(size: DVec2, needed: usize, behind: Option<&(bool, Vec<(usize, f64)>)>, notes: &mut Vec<Note>) -> Vec<Row> {
    let sets = |side: f64, upright: bool| -> Vec<Vec<Place>> {
        let on = behind.filter(|behind| behind.0 == upright).map(|behind| {
            let insets = edge(side)..=MIDDLE_SHARE * side;
            on_members(side, &behind.1, &insets)
        });
        let on = on.unwrap_or_default();
        if !on.is_empty() {
            return on.into_iter().map(|set| set.into_iter().map(|(index, at)| (at, Some(index))).collect()).collect();
        }
        let least = count_least(side, SPACING_MOST);
        let most = least.max(1 + (0.6 * side / SPACING_LEAST) as usize);
        (least..=most).map(|count| spread(side, count, SPACING_MOST).into_iter().map(|at| (at, None)).collect()).collect()
    };
    let sides = [sets(size.x, true), sets(size.y, false)];
    if let Some((upright, members)) = behind {
        let on = sides[usize::from(!upright)][0][0].1.is_some();
        note_few(on, members.len(), notes);
    }
    let sized =
        sides.each_ref().map(|sets| sets.iter().map(|set| (set.len(), widest(set.iter().map(|place| place.0)))).collect::<Vec<_>>());
    let pairs = (0..sized[0].len()).flat_map(|column| (0..sized[1].len()).map(move |row| (column, row)));
    let judged = |&(column, row): &(usize, usize)| {
        let ((columns, across), (rows, up)) = (sized[0][column], sized[1][row]);
        let over = (across - SPACING_MOST).max(ROUNDING) + (up - SPACING_MOST).max(ROUNDING);
        (needed.saturating_sub(columns * rows), over, columns * rows, across.max(up))
    };
    let better = |one: &(usize, usize), other: &(usize, usize)| -> Ordering {
        let (one, other) = (judged(one), judged(other));
        one.0.cmp(&other.0).then(one.1.total_cmp(&other.1)).then(one.2.cmp(&other.2)).then(one.3.total_cmp(&other.3))
    };
    let (column, row) = pairs.min_by(better).expect("a side has at least one set of places");
    let given = sized[0][column].0 * sized[1][row].0;
    if given < needed {
        notes.push(Note::TooManyNeeded { needed, given });
    }
    sides[1][row].iter().rev().map(|y| Row { y: *y, xs: sides[0][column].clone() }).collect()
}

/// Says that points are not on members.
fn note_few(on: bool, behind: usize, notes: &mut Vec<Note>) {
    match (on, behind) {
        (true, _) => {}
        (false, 0) => notes.push(Note::NoMemberBehind),
        (false, behind) => notes.push(Note::FewOnMembers { behind }),
    }
}

/// The user's own rule, moved onto members where there are some near enough.
fn own(size: DVec2, count: u32, asked: f64, behind: Option<&(bool, Vec<(usize, f64)>)>, notes: &mut Vec<Note>) -> Vec<Row> {
    let count = (count as usize).min(OWN_MOST);
    let usual = usual(size, count_by_area(size), None, &mut Vec::new()).iter().map(|row| row.xs.len()).sum();
    notes.push(Note::OwnRule { count, usual });
    let mut inset = |side: f64, axis: Axis| {
        let wanted = if asked.is_finite() { asked } else { INSET_SHARES.start() * side };
        let given = wanted.clamp(edge(side), MIDDLE_SHARE * side);
        if asked.is_nan() || (given - asked).abs() > ROUNDING {
            notes.push(Note::OwnInsetMoved { axis, asked, given });
        }
        given
    };
    let inset = DVec2::new(inset(size.x, Axis::X), inset(size.y, Axis::Y));
    let free = |places: Vec<f64>| places.into_iter().map(|at| (at, None)).collect::<Vec<Place>>();
    let counts = row_counts(count, size - 2.0 * inset);
    // From the top down: mirrored, a single row of two at the upper inset, of one in the middle.
    let heights = match (counts.len(), count) {
        (1, 2) => vec![size.y - inset.y],
        (rows, _) => evenly(size.y, inset.y, rows.max(1)).into_iter().rev().collect(),
    };
    let mut rows: Vec<Row> =
        counts.iter().zip(free(heights)).map(|(count, y)| Row { y, xs: free(evenly(size.x, inset.x, *count)) }).collect();
    if let Some((upright, members)) = behind.filter(|_| count > 0) {
        let farthest = if *upright { move_columns(&mut rows, size.x, members) } else { move_rows(&mut rows, size.y, members) };
        note_few(farthest.is_some(), members.len(), notes);
        notes.extend(farthest.filter(|farthest| *farthest > ROUNDING).map(|farthest| Note::OwnMoved { farthest }));
    }
    rows
}

/// Points in each row from the top down, for a span between the outer points.
fn row_counts(count: usize, span: DVec2) -> Vec<usize> {
    let share = |rows: usize| (0..rows).map(|row| count / rows + usize::from(row < count % rows)).collect::<Vec<_>>();
    let spacing = |rows: usize| {
        let steps = count.div_ceil(rows).saturating_sub(1);
        (span.x / steps.max(1) as f64).max(span.y / (rows - 1) as f64)
    };
    let best = (2..=count.div_ceil(2)).min_by(|one, other| spacing(*one).total_cmp(&spacing(*other)));
    best.map_or_else(|| if count == 0 { Vec::new() } else { vec![count] }, share)
}

/// Places moved onto members, and the farthest move; `None` if too few, farther than a quarter of the side, or no longer around the middle.
fn moved(places: &[Place], side: f64, members: &[(usize, f64)]) -> Option<(Vec<Place>, f64)> {
    let told: Vec<f64> = places.iter().map(|place| place.0).collect();
    let on = nearest(&told, members)?;
    let farthest = on.iter().zip(&told).map(|(member, told)| (member.1 - told).abs()).fold(0.0, f64::max);
    let around = on.len() < 2 || (on[0].1 < side / 2.0 && on[on.len() - 1].1 > side / 2.0);
    (around && farthest <= side / 4.0).then(|| (on.into_iter().map(|(index, at)| (at, Some(index))).collect(), farthest))
}

fn move_columns(rows: &mut [Row], side: f64, members: &[(usize, f64)]) -> Option<f64> {
    let all: Option<Vec<_>> = rows.iter().map(|row| moved(&row.xs, side, members)).collect();
    let mut farthest = 0.0_f64;
    for (row, (xs, far)) in rows.iter_mut().zip(all?) {
        row.xs = xs;
        farthest = farthest.max(far);
    }
    Some(farthest)
}

fn move_rows(rows: &mut [Row], side: f64, members: &[(usize, f64)]) -> Option<f64> {
    let upward: Vec<Place> = rows.iter().rev().map(|row| row.y).collect();
    let (heights, farthest) = moved(&upward, side, members)?;
    rows.iter_mut().rev().zip(heights).for_each(|(row, y)| row.y = y);
    Some(farthest)
}

/// Insets and spacings off the usual rule, each side by the one that departs most.
fn departures(rows: &[Row], size: DVec2, notes: &mut Vec<Note>) {
    let across: Vec<f64> = rows.iter().flat_map(|row| row.xs.iter().map(|x| x.0)).collect();
    let up: Vec<f64> = rows.iter().map(|row| row.y.0).collect();
    for (axis, places, side) in [(Axis::X, &across, size.x), (Axis::Y, &up, size.y)] {
        let low = places.iter().copied().fold(f64::INFINITY, f64::min);
        let high = side - places.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let inset = if off_rule(low / side) >= off_rule(high / side) { low } else { high };
        if inset.is_finite() && off_rule(inset / side) > ROUNDING {
            notes.push(Note::InsetOffRule { axis, inset, share: inset / side });
        }
        let spacing = match axis {
            Axis::X => rows.iter().map(|row| widest(row.xs.iter().map(|x| x.0))).fold(0.0, f64::max),
            Axis::Y => widest(places.iter().copied()),
        };
        if spacing > SPACING_MOST + ROUNDING {
            notes.push(Note::SpacingOver { axis, spacing });
        }
    }
}
