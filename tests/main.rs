//! Table of contents of the tests.

mod report; // pages, drawings, pictures
