//! The library stays in a host's memory once it was loaded. Threads of the host
//! that have been in it end through destructors of its thread-local values, and
//! may do so long after the last instance is gone; a host that had unloaded it
//! by then would crash.

fn main() {
    println!("cargo::rerun-if-changed=../stay_loaded.rs");
    if std::env::var("CARGO_CFG_TARGET_OS").as_deref() == Ok("linux") {
        println!("cargo::rustc-cdylib-link-arg=-Wl,-z,nodelete");
    }
}
