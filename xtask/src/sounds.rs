//! Makes the README's sounds: the example before and after, small enough to stand beside it.

use std::fs;
use std::path::Path;

use crate::steps::{cargo, run};

/// What is heard of the example: the name of each sound, and the options beside the instrument's.
const SOUNDS: [(&str, &[&str]); 2] =
    [("last-ferry-before", &["--before"]), ("last-ferry-after", &[])];
/// Thousand bits a second: what a single line needs to sound as it is.
const KILOBITS: &str = "28";
/// Both together are at most so large, bytes.
const BYTES_MAX: u64 = 600_000;

/// Renders the example through the voice of our own and encodes it with Debian's `opusenc`.
pub fn renew(root: &Path) -> Result<(), String> {
    let folder = root.join("target/sounds");
    fs::create_dir_all(&folder).map_err(|error| format!("target/sounds: {error}"))?;
    let mut bytes = 0;
    for (name, options) in SOUNDS {
        let wav = format!("target/sounds/{name}.wav");
        let hear = ["run", "--release", "--locked", "--", "hear", "examples/last-ferry.mid"];
        let words = ["-i", "erhu", "-o", &wav, "--force"];
        cargo(root, &[&hear[..], &words, options].concat())?;
        let opus = root.join("examples").join(name).with_extension("opus");
        let mut encoder = std::process::Command::new("opusenc");
        encoder.args(["--quiet", "--cvbr", "--bitrate", KILOBITS, "--music", "--discard-comments"]);
        // The same bytes from the same sound.
        encoder.args(["--serial", "1"]).arg(root.join(&wav)).arg(&opus);
        run(&mut encoder)?;
        bytes += fs::metadata(&opus).map_err(|error| format!("{}: {error}", opus.display()))?.len();
    }
    match bytes > BYTES_MAX {
        true => Err(format!("the sounds have {bytes} bytes; allowed is {BYTES_MAX}")),
        false => Ok(()),
    }
}
