//! The program's memory: what becomes of it when it was freed (kept for a moment, for a point of a batch, or given back), and what
//! becomes of the program when the system has no more.

use crate::command::folder;
use mimalloc::MiMalloc;
use std::alloc::{GlobalAlloc, Layout};
use std::cell::Cell;
use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

/// For how long freed memory is kept, ms: longer saves no more time and costs peak memory.
const KEPT_MS: std::ffi::c_long = 1500;
/// The same for a point of a batch, which gives back all of it in the end.
const KEPT_FOR_A_POINT_MS: std::ffi::c_long = 10_000;
/// `mi_option_purge_delay` of mimalloc.h, which the bindings leave out.
const PURGE_DELAY: libmimalloc_sys::mi_option_t = 15;

/// For a single report: freed memory is kept for a moment, since the next array takes it.
pub fn keep() {
    set_delay(KEPT_MS);
}

/// For a batch of equal points: freed memory is kept until [`give_back`], in small pages. Of large ones more and more stay half used by
/// arrays that come and go in other places: memory grew by 16 % over 1000 points.
pub fn keep_for_points() {
    set_delay(KEPT_FOR_A_POINT_MS);
    #[cfg(target_os = "linux")]
    // Where the system does not know of them there are none.
    let _ = rustix::thread::disable_transparent_huge_pages(true);
}

/// Gives all freed memory back to the system.
#[allow(unsafe_code, reason = "mi_collect has no safe wrapper")]
pub fn give_back() {
    // SAFETY: frees what nobody holds.
    unsafe { libmimalloc_sys::mi_collect(true) }
}

#[allow(unsafe_code, reason = "mi_option_set has no safe wrapper")]
fn set_delay(ms: std::ffi::c_long) {
    // SAFETY: stores a number that the allocator reads whenever it gives memory back.
    unsafe { libmimalloc_sys::mi_option_set(PURGE_DELAY, ms) }
}

/// Memory of the program: mimalloc's, but that a request which the system refuses ends the program with a sentence and exit code 1,
/// where the standard library would abort. No caller can go on without what it asked for, and none asks for memory that it can
/// do without.
#[derive(Debug)]
pub struct Heap;

// SAFETY: every request goes to mimalloc as it came, and every answer back as it came, but for null, after which nothing comes back.
#[allow(unsafe_code, reason = "an allocator is unsafe by its nature")]
unsafe impl GlobalAlloc for Heap {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        // SAFETY: the caller's duties are mimalloc's.
        or_end(unsafe { MiMalloc.alloc(layout) }, layout.size())
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        // SAFETY: as above.
        or_end(unsafe { MiMalloc.alloc_zeroed(layout) }, layout.size())
    }

    unsafe fn realloc(&self, place: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // SAFETY: as above.
        or_end(unsafe { MiMalloc.realloc(place, layout, size) }, size)
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        // SAFETY: as above.
        unsafe { MiMalloc.dealloc(place, layout) }
    }
}

/// Whether the running command has `--memory-limit`.
static LIMITED: AtomicBool = AtomicBool::new(false);
/// Whether memory has run out.
static ENDING: AtomicBool = AtomicBool::new(false);

thread_local! {
    /// Whether this thread is the one that ends the program.
    static ENDS: Cell<bool> = const { Cell::new(false) };
}

/// Tells whether the running command has `--memory-limit`, so that nobody is advised to use an option that is not there.
pub fn has_limit(limited: bool) {
    LIMITED.store(limited, Ordering::Relaxed);
}

fn or_end(place: *mut u8, size: usize) -> *mut u8 {
    if place.is_null() { ran_out(size) } else { place }
}

/// Ends the program. What is said is written without memory; to take a half-written folder away takes a little, which is there as a
/// rule, since it is the large requests that are refused. Where it is not, the program ends there and then.
#[cold]
#[inline(never)]
fn ran_out(size: usize) -> ! {
    if ENDING.swap(true, Ordering::SeqCst) {
        if ENDS.get() {
            end_at_once();
        }
        // Another thread ends the program.
        loop {
            std::thread::park();
        }
    }
    ENDS.set(true);
    let hint = if LIMITED.load(Ordering::Relaxed) {
        "lower --memory-limit below what the machine has free, or take larger triangles (mesh/largest_um)"
    } else {
        "end other programs, or give a layout with fewer shapes or larger triangles (mesh/largest_um)"
    };
    // Standard error is not buffered: formatting into it takes no memory. Where it is gone, nobody can be told.
    let _ = writeln!(
        std::io::stderr(),
        "error: memory ran out: the system refused {} MB more, so that the command stopped; no results were written\nhint: {hint}",
        size.div_ceil(1_000_000)
    );
    folder::abandon();
    end_at_once()
}

/// Ends the program without handing anything to destructors or handlers, which may take memory or wait for other threads.
#[allow(unsafe_code, reason = "the standard library has no way to end without handlers but to abort")]
fn end_at_once() -> ! {
    unsafe extern "C" {
        fn _exit(code: std::ffi::c_int) -> !;
    }
    // SAFETY: in the C library of every system that the standard library is linked with; takes any number.
    unsafe { _exit(1) }
}
