//! Hilbert's curve: a way through every cell of the unit square in steps to the side, so that what is near along it is near on the square.
//!
//! *References.* D. Hilbert, Math. Ann. 38 (1891) 459.

/// Binary digits of each coordinate.
const DIGITS: u32 = 24;

/// Places along the curve, one in each cell of the square.
pub const PLACES: u64 = 1 << (2 * DIGITS);

/// The lowest corner, both coordinates 0 to 1, of the cell at a place along the curve.
#[must_use]
pub fn position(place: u64) -> [f64; 2] {
    let (mut x, mut y) = (0_u64, 0_u64);
    for digit in 0..DIGITS {
        let quarter = place >> (2 * digit);
        let right = (quarter >> 1) & 1;
        let up = (quarter ^ right) & 1;
        if up == 0 {
            if right == 1 {
                let last = (1 << digit) - 1;
                (x, y) = (last - x, last - y);
            }
            (x, y) = (y, x);
        }
        x += right << digit;
        y += up << digit;
    }
    [x, y].map(|part| part as f64 / (1_u64 << DIGITS) as f64)
}
