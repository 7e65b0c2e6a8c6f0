//! What pages rest on besides acoustics: colors of scales, widths of intervals that hold many figures together.

use super::Check;
use crate::cloud_study::widths;
use crate::report::marks::colors;

pub(crate) fn checks() -> Vec<Check> {
    widths().into_iter().chain(colors()).collect()
}
