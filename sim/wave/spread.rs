//! A point among places that stand for it: with which weights pressures there are put together to the pressure at the point, and by which a source at the point is shared out.
//!
//! With places `r_i` re the point, in units of their distance, the weights are the smallest that are right for every polynomial up to a degree:
//!
//! ```text
//! minimize sum w_i^2 / b_i   where   sum w_i q(r_i) = q(0) for all q of degree <= 4;   b = product over axes of (1 - (r / 3)^2)^4
//! ```
//!
//! They sum to one, stand in the right place (first moments), and have no width (second moments), so a point between the middles of cells is no weaker or blunter than one on a middle.
//! `b` lets weights come and go smoothly as the point moves. Only places that the point sees along a straight line through open faces take part; near walls, where they do not settle
//! degree 4, lower ones follow.
//!
//! A source by these weights is what a listener by them is to the same field read backward, so both are exchangeable (reciprocity).
//!
//! *References.* Moving least squares: P. Lancaster, K. Salkauskas, Math. Comput. 37 (1981) 141 (from memory). Lines through cells: J. Amanatides, A. Woo, Eurographics 1987 (from memory).
//!
//! *Limits.* A point in a cell that a wall cuts counts as in air, on whichever side of the wall it lies. Behind a body that is thinner than a cell no shadow falls (`Cells::parted`).

use glam::DVec3;
use thiserror::Error;

use super::grid::Grid;
use super::stencil::Stencil;

/// There is no air where somebody was to speak or to hear.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error("there is no air at ({:.3}, {:.3}, {:.3}) m", .0.x, .0.y, .0.z)]
pub struct NoAir(pub DVec3);

/// Places this far along every axis take part, in their own distance.
pub const REACH: usize = 3;
/// Highest degree of the polynomials.
const DEGREE: i32 = 4;
/// What of a polynomial the others leave must be more than this of it, in squares: less, and places do not tell it from the others.
const APART: f64 = 1e-9;
/// Weights whose absolute values sum to more than this make more of errors than they mend.
const STEADY: f64 = 4.0;

/// Weights of the cells round a point.
///
/// # Errors
/// [`NoAir`] if the cell that holds the point has none.
pub fn cells_round(grid: &Grid, stencil: &Stencil, point: DVec3) -> Result<Vec<(usize, f64)>, NoAir> {
    let own = grid.place(cell_of(grid, stencil, point)?);
    let among = own.map(|at| at.saturating_sub(REACH)..at + REACH + 1);
    let mut seen = Vec::new();
    for z in among[2].clone() {
        for y in among[1].clone() {
            for x in among[0].clone() {
                let within = [x, y, z].iter().zip(grid.counts).all(|(at, count)| *at < count);
                let place = within.then(|| grid.index([x, y, z]));
                seen.extend(place.filter(|cell| sees(grid, stencil, point, *cell)));
            }
        }
    }
    let places: Vec<DVec3> = seen.iter().map(|cell| (grid.middle(*cell) - point) / grid.spacing).collect();
    Ok(seen.into_iter().zip(weights(&places)).filter(|(_, weight)| *weight != 0.0).collect())
}

/// The cell with air that holds a point.
///
/// # Errors
/// [`NoAir`] if there is none.
pub fn cell_of(grid: &Grid, stencil: &Stencil, point: DVec3) -> Result<usize, NoAir> {
    grid.cell_at(point).filter(|cell| stencil.mass[*cell] > 0.0).ok_or(NoAir(point))
}

/// Whether a straight line from a point to the middle of a cell runs through open faces all the way.
#[must_use]
pub fn sees(grid: &Grid, stencil: &Stencil, point: DVec3, cell: usize) -> bool {
    let from = (point - grid.origin) / grid.spacing;
    let goal = grid.place(cell);
    let way = DVec3::from_array(goal.map(|at| at as f64 + 0.5)) - from;
    let mut at = from.floor().to_array().map(|at| at as usize);
    while at != goal {
        // The face that the line comes to next is that which it has the least share of its way to.
        let border = |axis: usize| if goal[axis] > at[axis] { at[axis] + 1 } else { at[axis] };
        let left = |axis: &usize| (border(*axis) as f64 - from[*axis]) / way[*axis];
        let ahead = (0..3).filter(|axis| at[*axis] != goal[*axis]);
        let Some(axis) = ahead.min_by(|a, b| left(a).total_cmp(&left(b))) else { break };
        let mut behind = at;
        behind[axis] = border(axis);
        if stencil.open[axis][grid.index(behind)] <= 0.0 {
            return false;
        }
        at[axis] = if goal[axis] > at[axis] { at[axis] + 1 } else { at[axis] - 1 };
    }
    stencil.mass[cell] > 0.0
}

/// Weights of places given re the point, in units of their distance; without places none.
#[must_use]
pub fn weights(places: &[DVec3]) -> Vec<f64> {
    let reach = REACH as f64;
    let bump = |along: f64| (1.0 - (along / reach).powi(2)).max(0.0).powi(4);
    let bumps: Vec<f64> = places.iter().map(|place| place.to_array().map(bump).iter().product()).collect();
    for degree in (0..=DEGREE).rev() {
        let powers = powers(degree);
        let rows: Vec<Vec<f64>> =
            places.iter().map(|place| powers.iter().map(|powers| monomial(*place / reach, *powers)).collect()).collect();
        let Some(factors) = factors(&bumps, &rows, powers.len()) else { continue };
        let of = |(bump, row): (&f64, &Vec<f64>)| bump * row.iter().zip(&factors).map(|(value, factor)| value * factor).sum::<f64>();
        let found: Vec<f64> = bumps.iter().zip(&rows).map(of).collect();
        if found.iter().map(|weight| weight.abs()).sum::<f64>() <= STEADY {
            return found;
        }
    }
    vec![0.0; places.len()]
}

/// Exponents of all monomials up to a degree, the constant one first.
fn powers(degree: i32) -> Vec<[i32; 3]> {
    let of = |degree: i32| (0..=degree).flat_map(move |x| (0..=degree - x).map(move |y| [x, y, degree - x - y]));
    (0..=degree).flat_map(of).collect()
}

fn monomial(at: DVec3, powers: [i32; 3]) -> f64 {
    at.to_array().iter().zip(powers).map(|(along, power)| along.powi(power)).product()
}

/// `a` of `w_i = b_i sum a_j q_j(r_i)`, by Cholesky's factors of the polynomials' products; `None` where places do not tell polynomials apart.
fn factors(bumps: &[f64], rows: &[Vec<f64>], count: usize) -> Option<Vec<f64>> {
    let product = |i: usize, j: usize| bumps.iter().zip(rows).map(|(bump, row)| bump * row[i] * row[j]).sum::<f64>();
    let mut lower: Vec<Vec<f64>> = Vec::with_capacity(count);
    for i in 0..count {
        let mut row = Vec::with_capacity(i + 1);
        for (j, above) in lower.iter().enumerate() {
            let known: f64 = row.iter().zip(above).map(|(a, b): (&f64, &f64)| a * b).sum();
            row.push((product(i, j) - known) / above[j]);
        }
        let whole = product(i, i);
        let left = whole - row.iter().map(|value| value * value).sum::<f64>();
        if left <= APART * whole {
            return None;
        }
        row.push(left.sqrt());
        lower.push(row);
    }
    // What is asked for is 1 of the first polynomial and 0 of the others.
    let mut half: Vec<f64> = Vec::with_capacity(count);
    for (i, row) in lower.iter().enumerate() {
        let known: f64 = row.iter().zip(&half).map(|(a, b)| a * b).sum();
        half.push((if i == 0 { 1.0 } else { 0.0 } - known) / row[i]);
    }
    let mut found = vec![0.0; count];
    for i in (0..count).rev() {
        let known: f64 = (i + 1..count).map(|j| lower[j][i] * found[j]).sum();
        found[i] = (half[i] - known) / lower[i][i];
    }
    Some(found)
}
