//! Roomwright: what is wrong with a small hard-walled room, and where each absorber panel goes.
//!
//! ```text
//! scene text ─read→ Scene ─build→ Room ─trace→ Paths ─weigh→ Echoes ─judge→ Findings ─place→ Plan ─write→ report
//! ```
//!
//! One noun and one verb an arrow, one module a verb. Values are immutable; a later noun never reaches back. The planner changes what
//! hangs and walks the line again, from *weigh* where it can and from *trace* only where geometry changed.
//!
//! # Invariants, each held by a test
//! - Nothing here outside `files` (and the program's own `main` and `cli`) reads files, clocks or the environment, or prints: bytes
//!   and strings in, values out.
//! - Same scene, seed, build and machine give the same bytes whatever the number of threads.
//! - Reading a scene never panics and never stops at the first mistake; the scene text is the only saved state.
//! - A module imports only from earlier lines of the table below; siblings on a line are strangers.
//!
//! # Modules in reading order
//!
//! | line | modules | what they are |
//! | --- | --- | --- |
//! | 0 | units bands random progress settings | vocabulary |
//! | 1 | geometry dsp air | mathematics and medium |
//! | 2 | absorbers directivity | what surfaces are made of, how sources send |
//! | 3 | scene mesh | what the user wrote or drew |
//! | 4 | room | what we compute on |
//! | 5 | hanging rays wave modes | what a trial changes; solvers |
//! | 6 | images | specular arrivals, exact |
//! | 7 | weigh | paths x what hangs -> energy over time and band |
//! | 8 | response | one response a source and receiver |
//! | 9 | metrics | decay, clarity, speech of any response |
//! | 10 | findings measured listen | what is wrong; what was measured; what it sounds like |
//! | 11 | hotspots prove | where absorber earns; measured beside predicted |
//! | 12 | layout | where something may hang |
//! | 13 | workshop | what to cut, buy, mark and hang |
//! | 14 | plan | goals, search, rules of thumb |
//! | 15 | study | the front door |
//! | 16 | report | text, charts, drawings, maps |
//! | 17 | files | the only file that touches the file system |
//! | 18 | main cli | arguments -> run -> exit code |

pub mod absorbers;
pub mod air;
pub mod bands;
pub mod directivity;
pub mod dsp;
pub mod files;
pub mod findings;
pub mod geometry;
pub mod hanging;
pub mod hotspots;
pub mod images;
pub mod layout;
pub mod listen;
pub mod measured;
pub mod mesh;
pub mod metrics;
pub mod modes;
pub mod plan;
pub mod progress;
pub mod prove;
pub mod random;
pub mod rays;
pub mod report;
pub mod response;
pub mod room;
pub mod scene;
pub mod settings;
pub mod study;
pub mod units;
pub mod wave;
pub mod weigh;
pub mod workshop;
