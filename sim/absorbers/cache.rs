//! Build-ups whose tables were made already, so that a search may ask for the same one as often as it likes.
//!
//! The key is the build-up itself, to the last bit of every number. Answers are those of [`Finish::of`], whether they were kept or not.
//!
//! *Limits.* At [`MOST`] build-ups (16 MB) all are forgotten.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::fluid::{Model, Pores};
use super::{Backing, BuildUp, COSINE_BINS, Finish, Layer};
use crate::bands::Bands;

/// How many build-ups are kept.
pub const MOST: usize = 4096;

/// Absorption by cosine bin and band.
pub(super) type Bins = [Bands<f64>; COSINE_BINS];

/// Tables of build-ups by build-up.
#[derive(Debug, Default)]
pub struct Cache {
    known: Mutex<HashMap<Vec<u64>, Arc<Bins>>>,
}

impl Cache {
    /// An empty one.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The same as [`Finish::of`].
    #[must_use]
    pub fn finish(&self, name: &str, build_up: &BuildUp, scattering: Bands<f64>) -> Finish {
        Finish::from_build_up(name, build_up, &self.bins(build_up), scattering)
    }

    /// The same as [`BuildUp::bins`].
    #[must_use]
    pub fn bins(&self, build_up: &BuildUp) -> Arc<Bins> {
        let key = key(build_up);
        // A table is whole before it is kept, so a panic elsewhere leaves nothing half made.
        let kept = self.known.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        kept.unwrap_or_else(|| {
            let bins = Arc::new(build_up.bins());
            let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
            if known.len() >= MOST {
                known.clear();
            }
            known.insert(key, Arc::clone(&bins));
            bins
        })
    }
}

/// The build-up as numbers: no two of different sound have the same.
pub(super) fn key(build_up: &BuildUp) -> Vec<u64> {
    let mut key = vec![u64::from(build_up.backing == Backing::FreeAir), u64::from(build_up.cells)];
    for layer in &build_up.layers {
        let (kind, values) = match *layer {
            Layer::Porous { flow_resistivity, thickness, model } => {
                push(&mut key, 0, [flow_resistivity, thickness]);
                push_model(&mut key, model);
                continue;
            }
            Layer::Air { thickness } => (1, [thickness, 0.0, 0.0]),
            Layer::Membrane { mass, resistance } => (2, [mass, resistance, 0.0]),
            Layer::Cloth { resistance, mass } => (3, [resistance, mass, 0.0]),
            Layer::Perforated { hole, open, thickness } => (4, [hole, open, thickness]),
            Layer::Slotted { slot, open, thickness } => (5, [slot, open, thickness]),
        };
        push(&mut key, kind, values);
    }
    key
}

fn push_model(key: &mut Vec<u64>, model: Model) {
    match model {
        Model::Miki => push(key, 0, []),
        Model::DelanyBazley => push(key, 1, []),
        Model::DelanyBazleyByDensity => push(key, 2, []),
        Model::JohnsonChampouxAllard(Pores { porosity, tortuosity, viscous_length, thermal_length }) => {
            push(key, 3, []);
            for value in [porosity, tortuosity, viscous_length, thermal_length] {
                push(key, u64::from(value.is_some()), [value.unwrap_or_default()]);
            }
        }
        Model::ZwikkerKosten { porosity, tortuosity } => push(key, 4, [porosity, tortuosity]),
    }
}

/// A kind and its numbers.
fn push<const COUNT: usize>(key: &mut Vec<u64>, kind: u64, values: [f64; COUNT]) {
    key.push(kind);
    key.extend(values.map(f64::to_bits));
}
