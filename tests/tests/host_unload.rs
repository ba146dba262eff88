//! A host unloads the plugin.

#![cfg(target_os = "linux")]

use anyhow::{Result, ensure};
use barform_tests::host::Format;

/// Threads of the host that have been in the library may end after a host has
/// let go of it, and their thread-local values then need its code: it stays.
#[test]
fn the_library_stays_in_memory_for_threads_that_end_later() -> Result<()> {
    let path = Format::Clap.bundle()?.canonicalize()?;
    // SAFETY: the library is ours, built by this workspace; its initialisers do
    // nothing but set up the Rust runtime.
    let library = unsafe { libloading::Library::new(&path) }?;
    library.close()?;
    // What is mapped into this process, from proc(5).
    let maps = std::fs::read_to_string("/proc/self/maps")?;
    let file = path.to_string_lossy();
    ensure!(maps.contains(file.as_ref()), "{file} is gone");
    Ok(())
}
