//! Keeps a table that is read here and there, over and over, in pages so large that the cache can hold it whole.
//!
//! A cache has places for memory by its address. A table of many small pages lies wherever the machine had pages free: some places of the
//! cache are crowded and others left empty, and what is crowded out must be fetched from afar, in one run more and in the next less. Within
//! one large page the table is spread evenly.
//!
//! *Limits.* A wish that Linux may grant; elsewhere, and for small tables, it is a vector. Figures of the machine: a large page has 2 MiB.

use std::ops::Deref;

use bytemuck::Pod;
use memmap2::MmapMut;

/// A large page, bytes.
const PAGE: usize = 2 << 20;
/// What is smaller than this crowds no cache, bytes.
const SMALL: usize = PAGE / 4;

/// A table that does not change.
#[derive(Debug)]
pub(super) enum Table<T> {
    Small(Vec<T>),
    /// So many entries from this byte on.
    Large {
        memory: MmapMut,
        begin: usize,
        count: usize,
    },
}

impl<T: Pod> Table<T> {
    pub(super) fn new(entries: Vec<T>) -> Self {
        large(&entries).unwrap_or(Self::Small(entries))
    }
}

/// None where the table is small, or there is no such memory.
fn large<T: Pod>(entries: &[T]) -> Option<Table<T>> {
    let bytes: &[u8] = bytemuck::cast_slice(entries);
    if bytes.len() < SMALL {
        return None;
    }
    // One page more than it takes, so that it can begin where a page does.
    let mut memory = MmapMut::map_anon((bytes.len().div_ceil(PAGE) + 1) * PAGE).ok()?;
    #[cfg(target_os = "linux")]
    memory.advise(memmap2::Advice::HugePage).ok()?;
    let begin = memory.as_ptr().align_offset(PAGE);
    memory.get_mut(begin..begin + bytes.len())?.copy_from_slice(bytes);
    Some(Table::Large { memory, begin, count: entries.len() })
}

impl<T: Pod> Deref for Table<T> {
    type Target = [T];

    #[inline(always)]
    fn deref(&self) -> &[T] {
        match self {
            Self::Small(entries) => entries,
            Self::Large { memory, begin, count } => bytemuck::cast_slice(&memory[*begin..*begin + *count * size_of::<T>()]),
        }
    }
}

impl<T: Pod> Clone for Table<T> {
    fn clone(&self) -> Self {
        Self::new(self.to_vec())
    }
}
