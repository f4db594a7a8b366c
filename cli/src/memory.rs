//! What becomes of memory that was freed: kept for a moment, for a point of a batch, or given back.

/// For how long freed memory is kept, ms: longer saves no more time and costs peak memory.
const KEPT_MS: std::ffi::c_long = 300;
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
