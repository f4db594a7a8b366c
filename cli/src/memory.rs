//! What becomes of memory that was freed: kept for a moment, or given back at once.

/// For how long freed memory is kept, ms: longer saves no more time and costs peak memory.
const KEPT_MS: std::ffi::c_long = 10;
/// `mi_option_purge_delay` of mimalloc.h, which the bindings leave out.
const PURGE_DELAY: libmimalloc_sys::mi_option_t = 15;

/// For a single report: freed memory is kept for a moment, since the next array takes it.
pub fn keep() {
    set_delay(KEPT_MS);
}

/// For a batch of equal points: freed memory is given back at once and in small pages. Large pages make a point some 5 % faster,
/// but arrays that come and go in other places leave more and more of them half used: memory grew by 15 % over 1000 points.
pub fn give_back() {
    set_delay(0);
    #[cfg(target_os = "linux")]
    // Where the system does not know of them there are none.
    let _ = rustix::thread::disable_transparent_huge_pages(true);
}

#[allow(unsafe_code, reason = "mi_option_set has no safe wrapper")]
fn set_delay(ms: std::ffi::c_long) {
    // SAFETY: stores a number that the allocator reads whenever it gives memory back.
    unsafe { libmimalloc_sys::mi_option_set(PURGE_DELAY, ms) }
}
