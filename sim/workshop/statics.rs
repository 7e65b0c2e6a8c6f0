//! What each of several plumb wires bears of a rigid body, as a share of its weight.
//!
//! Equilibrium with `W = 1`: `sum f = 1`, `sum f (p - center) = 0`, `f >= 0`, `p` the wires in plan and `center` the center of mass.
//!
//! - *shared* ([`shared`]): the least sum of squares, which is what equal springs do: `f = 1 / n + q . (p - mean p)`, `S q = center - mean p`, `S` the
//!   second moments of the points about their mean, by their principal axes. A wire cannot push: the one with the most negative load is
//!   left out and the rest solved again.
//! - *one lost* ([`one_lost`]): the same without one of them. Four at the corners of a rectangle about the center leave the two on one diagonal with
//!   half each.
//! - *alone* ([`alone`]): the most that equilibrium allows on one wire whatever the others bear. That is a corner of the set of all solutions, so the
//!   largest of its barycentric shares over all triangles that hold the center: half for four at the corners of a rectangle. A stiff panel on wires not
//!   of quite one length rests on two or three of them, so a design load is never less than this.
//!
//! *References.* Statics of a rigid body; a linear function over a polytope is largest at a corner (theorem of linear programming).
//!
//! *Limits.* The body and its anchors do not bend; no forces but plumb ones, nothing that moves. Leaving out wires one by one gives an equilibrium, not always
//! that of springs; where it finds none the body counts as tipping.

use glam::{DMat2, DVec2};

/// The center of mass may miss the wire or the line between two that hold it by so much, meters: what a tape can show.
pub const LINE_MISSED: f64 = 0.001;
/// Shares below minus this are loads that a wire would have to push.
const PUSH: f64 = 1e-9;
/// Points are on a line where their second moment across is below this part of that along it.
const ON_LINE: f64 = 1e-9;
/// Twice the area of a triangle that is a line, m2.
const FLAT: f64 = 1e-9;

/// Share of each wire with all sharing; `None` where they cannot hold the body level.
#[must_use]
pub fn shared(points: &[DVec2], center: DVec2) -> Option<Vec<f64>> {
    let mut bearing: Vec<usize> = (0..points.len()).collect();
    loop {
        let some: Vec<DVec2> = bearing.iter().map(|index| points[*index]).collect();
        let shares = pulled_or_pushed(&some, center)?;
        let (weakest, least) = shares.iter().copied().enumerate().min_by(|one, other| one.1.total_cmp(&other.1))?;
        if least >= -PUSH {
            let mut all = vec![0.0; points.len()];
            bearing.iter().zip(shares).for_each(|(index, share)| all[*index] = share.max(0.0));
            return Some(all);
        }
        bearing.remove(weakest);
    }
}

/// Shares of least squares in equilibrium, some perhaps below zero.
fn pulled_or_pushed(points: &[DVec2], center: DVec2) -> Option<Vec<f64>> {
    if points.is_empty() {
        return None;
    }
    let count = points.len() as f64;
    let mean = points.iter().sum::<DVec2>() / count;
    let moment = center - mean;
    let [xx, xy, yy] = points
        .iter()
        .map(|point| *point - mean)
        .fold([0.0; 3], |[xx, xy, yy], arm| [xx + arm.x * arm.x, xy + arm.x * arm.y, yy + arm.y * arm.y]);
    let (half, radius) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
    let (along, across) = (half + radius, half - radius);
    // Of the two columns of `S - across I`, both along the main axis, the longer one.
    let columns = [DVec2::new(xx - across, xy), DVec2::new(xy, yy - across)];
    let main = if columns[0].length() > columns[1].length() { columns[0] } else { columns[1] };
    let main = main.try_normalize().unwrap_or(DVec2::X);
    let lever = if along <= 0.0 {
        (moment.length() <= LINE_MISSED).then_some(DVec2::ZERO)
    } else if across <= ON_LINE * along {
        (moment.perp_dot(main).abs() <= LINE_MISSED).then(|| main * moment.dot(main) / along)
    } else {
        Some(DMat2::from_cols(DVec2::new(xx, xy), DVec2::new(xy, yy)).inverse() * moment)
    };
    lever.map(|lever| points.iter().map(|point| 1.0 / count + lever.dot(*point - mean)).collect())
}

/// Shares when one wire is lost, for each wire that may be; its own share is 0. `None` where the rest does not hold the body.
#[must_use]
pub fn one_lost(points: &[DVec2], center: DVec2) -> Vec<Option<Vec<f64>>> {
    let without = |lost: usize| {
        let rest: Vec<DVec2> = points.iter().enumerate().filter(|(index, _)| *index != lost).map(|(_, point)| *point).collect();
        shared(&rest, center).map(|mut shares| {
            shares.insert(lost, 0.0);
            shares
        })
    };
    (0..points.len()).map(without).collect()
}

/// The most that equilibrium allows on the wire `index`; 0 where no triangle of wires holds the center.
#[must_use]
pub fn alone(points: &[DVec2], center: DVec2, index: usize) -> f64 {
    let one = points[index];
    let mut most = 0.0_f64;
    for (at, second) in points.iter().enumerate() {
        for third in &points[at + 1..] {
            let area = (*second - one).perp_dot(*third - one);
            let shares = [
                (*second - center).perp_dot(*third - center) / area,
                (*third - center).perp_dot(one - center) / area,
                (one - center).perp_dot(*second - center) / area,
            ];
            if area.abs() > FLAT && shares.iter().all(|share| *share >= -PUSH) {
                most = most.max(shares[0]);
            }
        }
    }
    most
}
