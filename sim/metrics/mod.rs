//! Room-acoustic measures of an energy-time curve, predicted or measured.
