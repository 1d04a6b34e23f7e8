//! A host that ends as soon as it has closed the window ends in peace.

use std::process::Command;

use super::hall::Hall;
use super::stage::stage;

/// Before the window's thread was waited for, one host in six fell.
const HOSTS: u32 = 16;
/// Of this file, as the harness calls it.
const ONE_HOST: &str = "ending::a_window_is_opened_and_closed_and_that_is_all";

#[test]
fn a_window_is_opened_and_closed_and_that_is_all() {
    let _stage = stage();
    let mut hall = Hall::open();
    hall.show();
    hall.wait_drawn();
    hall.hide();
}

#[test]
fn a_host_that_ends_at_once_ends_in_peace() {
    let _stage = stage();
    let host = std::env::current_exe().expect("this program");
    for number in 1..=HOSTS {
        let ended = Command::new(&host).args(["--exact", ONE_HOST]).output().expect("it runs");
        let said = String::from_utf8_lossy(&ended.stdout);
        assert!(said.contains("1 passed"), "host {number} has not run: {said}");
        assert!(ended.status.success(), "host {number} of {HOSTS} fell: {}", ended.status);
    }
}
