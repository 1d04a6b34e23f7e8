//! Lays the built plugin out as studios expect it: a CLAP and a VST3 bundle in `target/bundled`.

use std::fs;
use std::path::{Path, PathBuf};

use crate::steps::cargo;

/// Builds the plugin with its window, in release unless told otherwise, and bundles it. The
/// libraries inside come back.
pub fn bundle(root: &Path, is_release: bool) -> Result<Vec<PathBuf>, String> {
    let mut words =
        vec!["build", "--locked", "--lib", "--no-default-features", "--features", "plugin,editor"];
    if is_release {
        words.push("--release");
    }
    cargo(root, &words)?;
    let profile = if is_release { "release" } else { "debug" };
    let built = root.join("target").join(profile).join(library("polso"));
    let name = name(root)?;
    let folder = root.join("target/bundled");
    let bundles = [clap(&folder, &name), vst3(&folder, &name)];
    for placed in &bundles {
        place(&built, placed)?;
    }
    Ok(bundles.map(|placed| placed.library).into())
}

/// One bundle.
struct Bundle {
    /// The file or folder that a studio sees.
    whole: PathBuf,
    /// The library inside, which is the bundle itself where that is a file.
    library: PathBuf,
}

fn library(name: &str) -> String {
    use std::env::consts::{DLL_PREFIX, DLL_SUFFIX};
    format!("{DLL_PREFIX}{name}{DLL_SUFFIX}")
}

/// A CLAP is the library itself; on macOS a bundle folder.
fn clap(folder: &Path, name: &str) -> Bundle {
    let whole = folder.join(format!("{name}.clap"));
    let library = if cfg!(target_os = "macos") { mac_library(&whole, name) } else { whole.clone() };
    Bundle { whole, library }
}

/// A VST3 is a folder with a place for every system (VST 3 SDK: plug-in format structure).
fn vst3(folder: &Path, name: &str) -> Bundle {
    let whole = folder.join(format!("{name}.vst3"));
    let arch = std::env::consts::ARCH;
    let library = if cfg!(target_os = "macos") {
        mac_library(&whole, name)
    } else if cfg!(windows) {
        whole.join(format!("Contents/{arch}-win/{name}.vst3"))
    } else {
        whole.join(format!("Contents/{arch}-linux/{name}.so"))
    };
    Bundle { whole, library }
}

fn mac_library(whole: &Path, name: &str) -> PathBuf {
    whole.join("Contents/MacOS").join(name)
}

fn place(built: &Path, bundle: &Bundle) -> Result<(), String> {
    let Bundle { whole, library } = bundle;
    let told = |error: std::io::Error| format!("{}: {error}", whole.display());
    // What an older build left must not stay beside the new.
    if whole.is_dir() {
        fs::remove_dir_all(whole).map_err(told)?;
    } else if whole.exists() {
        fs::remove_file(whole).map_err(told)?;
    }
    fs::create_dir_all(library.parent().unwrap_or(whole)).map_err(told)?;
    fs::copy(built, library).map_err(told)?;
    if cfg!(target_os = "macos") {
        describe(whole).map_err(told)?;
    }
    let bytes = fs::metadata(library).map_err(told)?.len();
    println!("{}: {:.1} MB", whole.display(), bytes as f64 / 1e6);
    Ok(())
}

/// What macOS reads of a bundle.
fn describe(whole: &Path) -> std::io::Result<()> {
    let file_name = whole.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let (name, kind) = file_name.split_once('.').unwrap_or((&file_name, ""));
    let entry = |key: &str, value: &str| format!("<key>{key}</key><string>{value}</string>\n");
    let entries = [
        entry("CFBundleExecutable", name),
        entry("CFBundleIdentifier", &format!("polso.{kind}")),
        entry("CFBundleName", name),
        entry("CFBundlePackageType", "BNDL"),
        entry("CFBundleSignature", "????"),
        entry("CFBundleShortVersionString", env!("CARGO_PKG_VERSION")),
        entry("CFBundleVersion", env!("CARGO_PKG_VERSION")),
    ];
    let entries = entries.concat();
    let list = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<plist version=\"1.0\">\n<dict>\n{entries}\
         </dict>\n</plist>\n"
    );
    fs::write(whole.join("Contents/Info.plist"), list)?;
    fs::write(whole.join("Contents/PkgInfo"), "BNDL????")
}

/// The name that `bundler.toml` gives.
fn name(root: &Path) -> Result<String, String> {
    let text = fs::read_to_string(root.join("bundler.toml"))
        .map_err(|error| format!("bundler.toml: {error}"))?;
    let value = text.lines().find_map(|line| line.strip_prefix("name = \""));
    let name = value.and_then(|value| value.strip_suffix('"')).filter(|name| !name.is_empty());
    name.map(str::to_owned)
        .ok_or_else(|| "bundler.toml: name is missing; it must be a text".to_owned())
}
