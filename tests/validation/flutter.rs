//! Flutter between facing walls: how long it rings and how often it comes back, parallel and nearly so.

use super::Check;
use crate::flutter::{decays, periods, splayed};

pub(crate) fn checks() -> Vec<Check> {
    [decays(), periods(), splayed()].concat()
}
