//! The window in a VST3 host: opened and closed, resized, worked in, and another project shown.
#![allow(unsafe_code, reason = "a host talks to its plugin")]

use std::ffi::c_void;
use std::thread;
use std::time::{Duration, Instant};

use polso::editor::act::Tab;
use polso::host::state::State;
use serde_json::json;
use vst3::Steinberg::Vst::{IComponentHandler, IEditController, IEditControllerTrait};
use vst3::Steinberg::{
    IPlugFrame, IPlugView, IPlugViewTrait, ViewRect, kPlatformTypeX11EmbedWindowID, kResultOk,
};
use vst3::{ComPtr, ComWrapper};

use super::layout::place;
use super::project::{stored, text};
use super::screen::{Parent, Screen, Shot};
use super::stage::stage;
use super::view::{Ear, Loop};
use super::vst3::Vst3;

const OPENINGS: u32 = 10;

/// A VST3 host with a window.
pub struct Hall {
    pub vst3: Vst3,
    controller: ComPtr<IEditController>,
    pub ear: ComWrapper<Ear>,
    main: ComWrapper<Loop>,
    pub screen: Screen,
    open: Option<(ComPtr<IPlugView>, Parent)>,
}

impl Hall {
    pub fn new() -> Hall {
        let vst3 = Vst3::open("Polso");
        let controller = vst3.component.cast::<IEditController>().expect("a controller");
        let ear = ComWrapper::new(Ear::default());
        let handler = ear.to_com_ptr::<IComponentHandler>().expect("an ear");
        // SAFETY: the controller lives, and keeps the ear.
        assert_eq!(unsafe { controller.setComponentHandler(handler.as_ptr()) }, kResultOk);
        let main = ComWrapper::new(Loop::default());
        Hall { vst3, controller, ear, main, screen: Screen::open(), open: None }
    }

    pub fn show(&mut self) {
        // SAFETY: the calls follow the order that VST3 asks for.
        unsafe {
            let view = ComPtr::from_raw(self.controller.createView(c"editor".as_ptr()));
            let view = view.expect("a view");
            let frame = self.main.to_com_ptr::<IPlugFrame>().expect("a frame");
            assert_eq!(view.isPlatformTypeSupported(kPlatformTypeX11EmbedWindowID), kResultOk);
            assert_eq!(view.setFrame(frame.as_ptr()), kResultOk);
            let mut size = ViewRect { left: 0, top: 0, right: 0, bottom: 0 };
            assert_eq!(view.getSize(&mut size), kResultOk);
            let parent = self.screen.parent(size.right as u16, size.bottom as u16);
            let id = parent.id as usize as *mut c_void;
            assert_eq!(view.attached(id, kPlatformTypeX11EmbedWindowID), kResultOk);
            self.open = Some((view, parent));
        }
    }

    pub fn resize(&mut self, width: u16, height: u16) {
        let (view, parent) = self.open.as_mut().expect("it is open");
        self.screen.resize(parent, width, height);
        let mut size = ViewRect { left: 0, top: 0, right: width.into(), bottom: height.into() };
        // SAFETY: the view is attached.
        unsafe {
            assert_eq!(view.canResize(), kResultOk);
            assert_eq!(view.onSize(&mut size), kResultOk);
        }
    }

    pub fn hide(&mut self) {
        let (view, parent) = self.open.take().expect("it is open");
        // SAFETY: the view is attached.
        unsafe {
            assert_eq!(view.removed(), kResultOk);
            assert_eq!(view.setFrame(std::ptr::null_mut()), kResultOk);
        }
        drop(view);
        self.screen.close(parent);
    }

    pub fn shot(&self) -> Shot {
        self.screen.shot(&self.open.as_ref().expect("it is open").1)
    }

    #[track_caller]
    pub fn wait_until(&mut self, what: &str, is_so: impl Fn(&Hall) -> bool) {
        let start = Instant::now();
        while !is_so(self) {
            self.main.turn();
            assert!(start.elapsed() < Duration::from_secs(10), "never: {what}");
            thread::sleep(Duration::from_millis(10));
        }
    }

    pub fn wait(&mut self, seconds: f64) {
        let start = Instant::now();
        while start.elapsed().as_secs_f64() < seconds {
            self.main.turn();
            thread::sleep(Duration::from_millis(10));
        }
    }
}

#[test]
fn it_opens_takes_another_size_and_closes_again_and_again() {
    let _stage = stage();
    let mut hall = Hall::new();
    for number in 0..OPENINGS {
        hall.show();
        hall.wait_until("something is drawn", |hall| hall.shot().is_drawn());
        let (width, height) = if number % 2 == 0 { (1100, 720) } else { (1280, 800) };
        hall.resize(width, height);
        hall.wait(0.2);
        assert_eq!(hall.screen.child_size(&hall.open.as_ref().expect("open").1), (width, height));
        hall.shot().check_drawn("in VST3");
        hall.hide();
    }
}

#[test]
fn a_change_is_told_on_the_main_thread_and_kept_and_another_project_is_shown() {
    let _stage = stage();
    let mut hall = Hall::new();
    hall.show();
    hall.wait_until("something is drawn", |hall| hall.shot().is_drawn());
    hall.wait(0.3);
    hall.screen.press(place(Tab::Curve, "Page Choose"));
    hall.wait(0.4);
    hall.screen.press(place(Tab::Library, "Choose violin"));
    hall.wait_until("the host is told", |hall| !hall.ear.turned.lock().expect("one").is_empty());
    let edits = hall.vst3.controls["Edits"];
    let turned = hall.ear.turned.lock().expect("one").clone();
    assert!(turned.iter().all(|(id, _, thread)| *id == edits && *thread == thread::current().id()));
    assert_eq!(*hall.ear.grips.lock().expect("one"), (turned.len() as u32, turned.len() as u32));
    let saved = String::from_utf8(hall.vst3.save()).expect("JSON");
    assert!(saved.contains(r#"id = \\\\\\\"violin"#), "the project keeps the violin");
    hall.wait(0.3);
    let violin = hall.shot();
    violin.keep("vst3");
    let dizi = State::new(text("dizi-d"), text("generic"), text("wheel"), 1);
    assert!(hall.vst3.restore(&stored(&dizi.to_text(), &json!({}))));
    hall.wait(0.5);
    assert!(hall.shot().differing(&violin) > 500, "another project is not shown");
    hall.hide();
}
