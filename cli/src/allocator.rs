//! How the program's allocator, mimalloc, keeps and gives back freed memory.

/// For how long freed memory is kept, ms: longer saves no more time and costs peak memory.
const KEPT_MS: std::ffi::c_long = 10;
/// `mi_option_purge_delay` of mimalloc.h, which the bindings leave out.
const PURGE_DELAY: libmimalloc_sys::mi_option_t = 15;

/// Keeps freed memory for a moment only.
#[allow(unsafe_code, reason = "mi_option_set has no safe wrapper")]
pub fn keep_freed_memory() {
    // SAFETY: stores a number that the allocator reads whenever it purges.
    unsafe { libmimalloc_sys::mi_option_set(PURGE_DELAY, KEPT_MS) }
}

/// Gives back what this thread has freed: at the end of a point of a batch, so that pages left half empty by one do not add up
/// over a thousand.
#[allow(unsafe_code, reason = "mi_collect has no safe wrapper")]
pub fn give_back() {
    // SAFETY: touches nothing but freed blocks of the calling thread.
    unsafe { libmimalloc_sys::mi_collect(true) }
}
