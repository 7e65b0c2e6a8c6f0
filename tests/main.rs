//! Table of contents of the tests.

mod validation; // the public evidence: published values and closed forms
