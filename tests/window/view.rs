//! What a VST3 host gives a window: a frame, a loop on its main thread, and an ear for edits.
#![allow(unsafe_code, reason = "a host gives the plugin its interfaces")]

use std::sync::Mutex;
use std::thread::{self, ThreadId};

use vst3::Steinberg::Linux::{
    FileDescriptor, IEventHandler, IEventHandlerTrait, IRunLoop, IRunLoopTrait, ITimerHandler,
    TimerInterval,
};
use vst3::Steinberg::Vst::{IComponentHandler, IComponentHandlerTrait, ParamID, ParamValue};
use vst3::Steinberg::{
    IPlugFrame, IPlugFrameTrait, IPlugView, ViewRect, int32, kNotImplemented, kResultOk, tresult,
};
use vst3::{Class, ComPtr, ComRef};

/// The frame of a window, and the loop of the thread that made it.
#[derive(Default)]
pub struct Loop {
    handlers: Mutex<Vec<ComPtr<IEventHandler>>>,
}

impl Loop {
    /// The turn of the main thread. A call for nothing is allowed.
    pub fn turn(&self) {
        for handler in self.handlers.lock().expect("one thread").clone() {
            // SAFETY: the handler is registered.
            unsafe { handler.onFDIsSet(-1) };
        }
    }
}

impl Class for Loop {
    type Interfaces = (IPlugFrame, IRunLoop);
}

impl IPlugFrameTrait for Loop {
    unsafe fn resizeView(&self, _: *mut IPlugView, _: *mut ViewRect) -> tresult {
        kResultOk
    }
}

impl IRunLoopTrait for Loop {
    unsafe fn registerEventHandler(
        &self,
        handler: *mut IEventHandler,
        _: FileDescriptor,
    ) -> tresult {
        // SAFETY: the plugin gives an interface.
        let handler = unsafe { ComRef::from_raw(handler) }.expect("a handler");
        self.handlers.lock().expect("one thread").push(handler.to_com_ptr());
        kResultOk
    }

    unsafe fn unregisterEventHandler(&self, handler: *mut IEventHandler) -> tresult {
        self.handlers.lock().expect("one thread").retain(|it| it.as_ptr() != handler);
        kResultOk
    }

    unsafe fn registerTimer(&self, _: *mut ITimerHandler, _: TimerInterval) -> tresult {
        kNotImplemented
    }

    unsafe fn unregisterTimer(&self, _: *mut ITimerHandler) -> tresult {
        kNotImplemented
    }
}

/// What the plugin has turned by itself, and on which thread it said so.
#[derive(Default)]
pub struct Ear {
    pub turned: Mutex<Vec<(ParamID, ParamValue, ThreadId)>>,
    /// Movements begun and ended.
    pub grips: Mutex<(u32, u32)>,
}

impl Class for Ear {
    type Interfaces = (IComponentHandler,);
}

impl IComponentHandlerTrait for Ear {
    unsafe fn beginEdit(&self, _: ParamID) -> tresult {
        self.grips.lock().expect("one thread").0 += 1;
        kResultOk
    }

    unsafe fn performEdit(&self, id: ParamID, value: ParamValue) -> tresult {
        let turned = (id, value, thread::current().id());
        self.turned.lock().expect("one thread").push(turned);
        kResultOk
    }

    unsafe fn endEdit(&self, _: ParamID) -> tresult {
        self.grips.lock().expect("one thread").1 += 1;
        kResultOk
    }

    unsafe fn restartComponent(&self, _: int32) -> tresult {
        kResultOk
    }
}
