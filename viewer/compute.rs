//! Studies in the background: a new edit cancels what runs and begins anew; what comes back carries the generation of its scene.
//!
//! | what was edited | at once | then |
//! | --- | --- | --- |
//! | a flat panel | the early window, from the stored paths ([`roomwright::study::Live`]) | all findings, earnings |
//! | anything that paths meet | a coarse trace (5,000 rays) and all findings | the same with 20,000 rays, then with those of the scene |
//!
//! Maps and hot spots follow when everything else is done; the plan when it is asked for.
