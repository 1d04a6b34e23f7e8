//! The plugin's own window: hosts open it on an X display, and hands of the tests move in it.
#![cfg(target_os = "linux")]

#[path = "../../src/engine/tests/die.rs"]
mod die;

#[path = "../hosts/booth.rs"]
#[allow(dead_code, reason = "the windows need a part of the booth")]
mod booth;
#[path = "../hosts/clap.rs"]
#[allow(dead_code, reason = "the windows need a part of the host")]
mod clap;
#[path = "../hosts/lists.rs"]
mod lists;
#[path = "../hosts/project.rs"]
#[allow(dead_code, reason = "the windows need a part of the project")]
mod project;
#[path = "../hosts/room.rs"]
#[allow(dead_code, reason = "the windows need a part of the room")]
mod room;
#[path = "../sample/mod.rs"]
mod sample;
#[path = "../hosts/take.rs"]
mod take;
#[path = "../hosts/vst3.rs"]
#[allow(dead_code, reason = "the windows need a part of the host")]
mod vst3;
#[path = "../hosts/vst3_events.rs"]
mod vst3_events;

mod hall;
mod layout;
mod screen;
mod stage;
mod view;

mod black;
mod ending;
mod hands;
mod hidden;
mod openings;
mod print;
mod program;
mod projects;
mod rest;
mod vst3_window;
