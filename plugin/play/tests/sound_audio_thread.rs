//! What the audio thread calls must not allocate or free.

#[path = "it/sound_support/mod.rs"]
#[allow(dead_code, reason = "the other tests need the rest")]
mod sound_support;

use barform_play::sound::Mixer;
use sound_support::{RATE_HZ, all_strokes, set, velocity};
use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    static CALLS: Cell<usize> = const { Cell::new(0) };
}

/// Counts what each thread asks of the system's allocator.
struct Counting;

fn count() {
    // A thread that is ending has no counter any more, and none is needed.
    let _ = CALLS.try_with(|calls| calls.set(calls.get() + 1));
}

// SAFETY: every call goes on unchanged to the system's allocator.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: the caller's promises are passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        count();
        // SAFETY: the caller's promises are passed on.
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        // SAFETY: the caller's promises are passed on.
        unsafe { System.realloc(at, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[test]
fn playing_neither_allocates_nor_frees() {
    let strokes = all_strokes();
    let (one, other) = (set(RATE_HZ), set(44_100.0));
    let mut mixer = Mixer::new(one);
    let (mut left, mut right) = ([0.0_f32; 256], [0.0_f32; 256]);
    let before = CALLS.get();
    // Far more strokes than there is room for, so stealing is part of it.
    for round in 0..20_u8 {
        for (voice, articulation) in &strokes {
            mixer.trigger(*voice, *articulation, velocity(1 + 6 * round));
            mixer.render(&mut left[..8], &mut right[..8]);
        }
        mixer.set_gain_db(f32::from(round) - 10.0);
        mixer.render(&mut left, &mut right);
    }
    mixer.fade_out();
    mixer.render(&mut left, &mut right);
    mixer.silence();
    let old = mixer.set_samples(other);
    let after = CALLS.get();
    assert_eq!(after, before);
    drop(old);
    // The counter does count.
    let here = CALLS.get();
    drop(std::hint::black_box(vec![0_u8; 1000]));
    assert_eq!(CALLS.get(), here + 2);
}
