//! Lays the built plugin out as studios expect it: a CLAP and a VST3 bundle in `target/bundled`.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::steps::{cargo, cargo_command, read, run};

/// What cargo puts between two of rustc's flags in `CARGO_ENCODED_RUSTFLAGS`.
const FLAG_END: char = '\u{1f}';

/// Builds the plugin with its window, in release unless told otherwise, and bundles it. The
/// libraries inside come back. An optimised one says nothing of the machine that built it.
pub fn bundle(root: &Path, is_release: bool) -> Result<Vec<PathBuf>, String> {
    let mut words =
        vec!["build", "--locked", "--lib", "--no-default-features", "--features", "plugin,editor"];
    let places = Places::find(root)?;
    if is_release {
        // Where the packages stand must be known before the first is built.
        cargo(root, &["fetch", "--locked"])?;
        words.push("--release");
        let flags = ("CARGO_ENCODED_RUSTFLAGS", places.flags()?);
        run(cargo_command().args(&words).env(flags.0, flags.1).current_dir(root))?;
    } else {
        cargo(root, &words)?;
    }
    let profile = if is_release { "release" } else { "debug" };
    let built = root.join("target").join(profile).join(library("polso"));
    let name = name(root)?;
    let folder = root.join("target/bundled");
    let bundles = [clap(&folder, &name), vst3(&folder, &name)];
    for placed in &bundles {
        place(&built, placed)?;
        if is_release {
            places.check_absent(&placed.library)?;
        }
    }
    Ok(bundles.map(|placed| placed.library).into())
}

/// Places of this machine of which a bundle says nothing.
struct Places {
    /// Each with what stands in its stead; a later one is inside an earlier one.
    renamed: Vec<(PathBuf, &'static str)>,
    home: Option<PathBuf>,
}

impl Places {
    /// The workspace, cargo's folder and the toolchain.
    fn find(root: &Path) -> Result<Places, String> {
        let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
        let sysroot = read(Command::new(rustc).args(["--print", "sysroot"]))?;
        let home = std::env::home_dir();
        let set = std::env::var_os("CARGO_HOME").map(PathBuf::from);
        let cargo_home = set.or_else(|| home.as_ref().map(|home| home.join(".cargo")));
        let mut renamed = vec![(root.to_owned(), "polso"), (sysroot.trim().into(), "rust")];
        renamed.extend(cargo_home.map(|folder| (folder, "cargo")));
        Ok(Places { renamed, home })
    }

    /// What rustc is told, with what it is told anyway. Of several names that fit, the last counts.
    fn flags(&self) -> Result<OsString, String> {
        let mut flags: Vec<String> = match std::env::var("CARGO_ENCODED_RUSTFLAGS") {
            Ok(flags) => flags.split(FLAG_END).map(str::to_owned).collect(),
            Err(_) => {
                let flags = std::env::var("RUSTFLAGS").unwrap_or_default();
                flags.split_whitespace().map(str::to_owned).collect()
            }
        };
        flags.retain(|flag| !flag.is_empty());
        let mut renamed = self.renamed.clone();
        for (folder, _) in &self.renamed {
            // The packages of each registry.
            let sources = fs::read_dir(folder.join("registry/src"));
            let sources = sources.into_iter().flatten().filter_map(Result::ok);
            renamed.extend(sources.map(|source| (source.path(), "packages")));
        }
        for (folder, name) in renamed {
            let folder = folder.to_str().ok_or("the path of this folder is not UTF-8")?;
            flags.push(format!("--remap-path-prefix={folder}={name}"));
        }
        Ok(flags.join(&FLAG_END.to_string()).into())
    }

    /// A sentence if a file holds one of the places.
    fn check_absent(&self, file: &Path) -> Result<(), String> {
        let bytes = fs::read(file).map_err(|error| format!("{}: {error}", file.display()))?;
        let folders = self.renamed.iter().map(|(folder, _)| folder).chain(&self.home);
        for folder in folders {
            let found = paths_in(&bytes, folder);
            if let Some(first) = found.first() {
                return Err(format!(
                    "{} holds {} paths of this machine, such as {first}",
                    file.display(),
                    found.len()
                ));
            }
        }
        Ok(())
    }
}

/// The texts in a file that begin with a folder. A root folder begins every path, and says nothing.
fn paths_in(bytes: &[u8], folder: &Path) -> Vec<String> {
    const CHARS_MAX: usize = 100;
    let start = folder.as_os_str().as_encoded_bytes();
    if folder.parent().is_none() {
        return Vec::new();
    }
    let places = bytes.windows(start.len()).enumerate().filter(|(_, window)| *window == start);
    let text = |(place, _): (usize, &[u8])| {
        let printed = bytes[place..].iter().take_while(|byte| byte.is_ascii_graphic());
        printed.take(CHARS_MAX).map(|byte| char::from(*byte)).collect()
    };
    places.map(text).collect()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_of_the_machine_inside_a_bundle_is_found() {
        let folder = std::env::temp_dir().join(format!("polso-bundle-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a folder");
        let file = folder.join("library");
        let (work, home) = (PathBuf::from("/somewhere/work"), PathBuf::from("/somewhere/me"));
        let places = Places { renamed: vec![(work, "polso")], home: Some(home) };
        let check = |bytes: &[u8]| {
            fs::write(&file, bytes).expect("written");
            places.check_absent(&file)
        };
        assert_eq!(check(b"\0\x7fELF\0packages/egui/src/lib.rs\0/somewhere/else\0"), Ok(()));
        let sentence =
            check(b"\0/somewhere/work/src/a.rs\0/somewhere/work/b\0").expect_err("found");
        assert!(
            sentence.ends_with("holds 2 paths of this machine, such as /somewhere/work/src/a.rs")
        );
        assert!(check(b"\0/somewhere/me/.cargo\0").is_err(), "the home too");
        fs::remove_dir_all(folder).expect("removed");
    }

    #[test]
    fn what_is_told_anyway_is_told_too_and_the_packages_come_last() {
        let here = Path::new(env!("CARGO_MANIFEST_DIR"));
        let root = here.parent().expect("the workspace");
        let flags = Places::find(root).and_then(|places| places.flags()).expect("flags");
        let flags = flags.into_string().expect("UTF-8");
        let renamed: Vec<&str> = flags.split(FLAG_END).collect();
        let count = renamed.iter().filter(|it| it.starts_with("--remap-path-prefix=")).count();
        assert!(count >= 3, "{renamed:?}");
        let place = |end: &str| renamed.iter().position(|flag| flag.ends_with(end));
        assert!(place("=polso").is_some() && place("=rust").is_some());
        assert!(place("=packages") > place("=cargo"), "{renamed:?}");
    }
}
