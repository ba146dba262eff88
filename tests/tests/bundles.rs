//! Each bundle is of one format: a library with the entry points of both is
//! listed twice by a host that looks into every file.
//!
//! The names are those of the formats: `clap/entry.h` of CLAP 1.2, and of the
//! VST3 SDK `public.sdk/source/main/linuxmain.cpp`, `macmain.cpp` and
//! `dllmain.cpp`.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use barform_tests::host::Format;
use goblin::Object;

const CLAP: &[&str] = &["clap_entry"];
const VST3: &[&str] = if cfg!(target_os = "macos") {
    &["GetPluginFactory", "bundleEntry", "bundleExit"]
} else if cfg!(target_os = "windows") {
    &["ExitDll", "GetPluginFactory", "InitDll"]
} else {
    &["GetPluginFactory", "ModuleEntry", "ModuleExit"]
};

/// The only library in a bundle; the bundle itself where it is a file.
fn library(bundle: &Path) -> Result<PathBuf> {
    if bundle.is_file() {
        return Ok(bundle.to_path_buf());
    }
    let mut found = Vec::new();
    let mut folders = vec![bundle.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in folder.read_dir()? {
            let path = entry?.path();
            if path.is_dir() {
                folders.push(path);
            } else if is_library(&path)? {
                found.push(path);
            }
        }
    }
    match found.len() {
        1 => found.pop().context("a library"),
        count => bail!("{count} libraries in {}", bundle.display()),
    }
}

fn is_library(path: &Path) -> Result<bool> {
    let bytes = std::fs::read(path)?;
    Ok(!matches!(
        Object::parse(&bytes),
        Ok(Object::Unknown(_)) | Err(_)
    ))
}

/// What a library shows to whoever loads it, in order of the alphabet.
fn exports(library: &Path) -> Result<Vec<String>> {
    let bytes = std::fs::read(library)?;
    let mut names: Vec<String> = match Object::parse(&bytes)? {
        Object::Elf(elf) => {
            let ours = elf.dynsyms.iter().filter(|symbol| !symbol.is_import());
            ours.filter_map(|symbol| elf.dynstrtab.get_at(symbol.st_name))
                .map(str::to_owned)
                .collect()
        }
        Object::Mach(goblin::mach::Mach::Binary(mach)) => {
            let exports = mach.exports()?;
            let plain = |name: &str| name.trim_start_matches('_').to_owned();
            exports.iter().map(|export| plain(&export.name)).collect()
        }
        Object::PE(pe) => {
            let named = pe.exports.iter().filter_map(|export| export.name);
            named.map(str::to_owned).collect()
        }
        _ => bail!("{} is no library", library.display()),
    };
    names.retain(|name| !name.is_empty());
    names.sort();
    Ok(names)
}

#[test]
fn each_bundle_has_the_entry_points_of_its_own_format_alone() -> Result<()> {
    for (format, wanted) in [(Format::Clap, CLAP), (Format::Vst3, VST3)] {
        let library = library(&format.bundle()?)?;
        let exports = exports(&library)?;
        ensure!(exports == wanted, "{format:?} exports {exports:?}");
    }
    Ok(())
}
