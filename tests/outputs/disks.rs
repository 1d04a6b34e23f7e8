//! Small disks of memory that are full or cannot be written, mounted for one test.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A disk that is gone when it is dropped.
pub struct Disk {
    place: PathBuf,
}

impl Disk {
    /// A disk of so many bytes, which holds one file of this name.
    pub fn full(place: &Path, bytes: usize, name: &str, text: &str) -> Disk {
        let disk = Disk::mount(place, &format!("size={bytes}"));
        fs::write(place.join(name), text).unwrap();
        disk
    }

    /// A disk that holds this file and takes no other. Root may write anywhere but there.
    pub fn read_only(place: &Path, name: &str, text: &str) -> Disk {
        let disk = Disk::mount(place, "size=64k");
        fs::write(place.join(name), text).unwrap();
        mount(place, &["-o", "remount,ro"]);
        disk
    }

    fn mount(place: &Path, options: &str) -> Disk {
        fs::create_dir(place).unwrap();
        mount(place, &["-t", "tmpfs", "-o", options, "tmpfs"]);
        Disk { place: place.to_owned() }
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(&self.place).status();
    }
}

fn mount(place: &Path, words: &[&str]) {
    let done = Command::new("mount").args(words).arg(place).output();
    let done = done.expect("mount(8) is there: these tests need a Linux system");
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "a disk of memory cannot be mounted; be root for this: {said}");
}
