//! The lists that a VST3 host lays before a plugin: events, controls and a project's bytes.
#![allow(unsafe_code, reason = "a host hands the plugin its lists as interfaces")]
#![allow(clippy::unnecessary_cast, reason = "the type of VST3's numbers differs between systems")]

use std::cell::RefCell;
use std::ffi::c_void;

use vst3::Steinberg::Vst::{
    DataEvent, Event, Event_::EventTypes_, IEventList, IEventListTrait, IParamValueQueue,
    IParamValueQueueTrait, IParameterChanges, IParameterChangesTrait, ParamID, ParamValue,
};
use vst3::Steinberg::{
    IBStream, IBStreamTrait, int32, int64, kNotImplemented, kResultFalse, kResultOk, tresult,
};
use vst3::{Class, ComPtr, ComWrapper};

use super::room::Bytes;

/// Events in or out, each with the bytes that it points to, if it does.
#[derive(Default)]
pub struct Events(pub RefCell<Vec<(Event, Option<Bytes>)>>);

impl Class for Events {
    type Interfaces = (IEventList,);
}

impl IEventListTrait for Events {
    unsafe fn getEventCount(&self) -> int32 {
        self.0.borrow().len() as int32
    }

    unsafe fn getEvent(&self, index: int32, event: *mut Event) -> tresult {
        let events = self.0.borrow();
        let Some(found) = events.get(index as usize) else { return kResultFalse };
        let (mut given, bytes) = *found;
        if bytes.is_some() {
            let bytes = found.1.as_ref().map_or(&[][..], Bytes::get);
            let size = bytes.len() as u32;
            given.__field0.data = DataEvent { size, r#type: 0, bytes: bytes.as_ptr() };
        }
        // SAFETY: the plugin gives a place for one event.
        unsafe { event.write(given) };
        kResultOk
    }

    unsafe fn addEvent(&self, event: *mut Event) -> tresult {
        // SAFETY: the plugin gives one whole event, with its bytes if it is made of bytes.
        let (event, bytes) = unsafe {
            let is_data = u32::from((*event).r#type) == EventTypes_::kDataEvent as u32;
            let bytes = is_data.then(|| {
                let data = (*event).__field0.data;
                Bytes::new(std::slice::from_raw_parts(data.bytes, data.size as usize))
            });
            (*event, bytes)
        };
        self.0.borrow_mut().push((event, bytes));
        kResultOk
    }
}

/// The points of one control.
struct Points {
    id: ParamID,
    points: Vec<(int32, ParamValue)>,
}

impl Class for Points {
    type Interfaces = (IParamValueQueue,);
}

impl IParamValueQueueTrait for Points {
    unsafe fn getParameterId(&self) -> ParamID {
        self.id
    }

    unsafe fn getPointCount(&self) -> int32 {
        self.points.len() as int32
    }

    unsafe fn getPoint(&self, index: int32, frame: *mut int32, value: *mut ParamValue) -> tresult {
        let Some(point) = self.points.get(index as usize) else { return kResultFalse };
        // SAFETY: the plugin gives a place for each.
        unsafe {
            frame.write(point.0);
            value.write(point.1);
        }
        kResultOk
    }

    unsafe fn addPoint(&self, _: int32, _: ParamValue, _: *mut int32) -> tresult {
        kNotImplemented
    }
}

/// Every control that moves in a block.
pub struct Changes(Vec<ComPtr<IParamValueQueue>>);

impl Changes {
    /// Points of controls in order of frames; one queue for each control, in order of ids.
    pub fn new(points: &[(ParamID, int32, ParamValue)]) -> Changes {
        let mut queues: Vec<Points> = Vec::new();
        for &(id, frame, value) in points {
            match queues.iter_mut().find(|queue| queue.id == id) {
                Some(queue) => queue.points.push((frame, value)),
                None => queues.push(Points { id, points: vec![(frame, value)] }),
            }
        }
        let pointer = |queue: Points| ComWrapper::new(queue).to_com_ptr().expect("a queue");
        Changes(queues.into_iter().map(pointer).collect())
    }
}

impl Class for Changes {
    type Interfaces = (IParameterChanges,);
}

impl IParameterChangesTrait for Changes {
    unsafe fn getParameterCount(&self) -> int32 {
        self.0.len() as int32
    }

    unsafe fn getParameterData(&self, index: int32) -> *mut IParamValueQueue {
        self.0.get(index as usize).map_or(std::ptr::null_mut(), ComPtr::as_ptr)
    }

    unsafe fn addParameterData(&self, _: *const ParamID, _: *mut int32) -> *mut IParamValueQueue {
        std::ptr::null_mut()
    }
}

/// A project's bytes.
#[derive(Default)]
pub struct Stream {
    pub bytes: RefCell<Vec<u8>>,
    pub place: RefCell<usize>,
}

impl Class for Stream {
    type Interfaces = (IBStream,);
}

impl IBStreamTrait for Stream {
    unsafe fn read(&self, buffer: *mut c_void, count: int32, done: *mut int32) -> tresult {
        let (bytes, mut place) = (self.bytes.borrow(), self.place.borrow_mut());
        let count = (bytes.len() - *place).min(count as usize);
        // SAFETY: the plugin gives room for `count` bytes, and perhaps a place for the number.
        unsafe {
            std::ptr::copy_nonoverlapping(bytes[*place..].as_ptr(), buffer.cast(), count);
            if !done.is_null() {
                done.write(count as int32);
            }
        }
        *place += count;
        kResultOk
    }

    unsafe fn write(&self, buffer: *mut c_void, count: int32, done: *mut int32) -> tresult {
        // SAFETY: the plugin gives `count` bytes, and perhaps a place for the number.
        unsafe {
            let given = std::slice::from_raw_parts(buffer.cast::<u8>(), count as usize);
            self.bytes.borrow_mut().extend(given);
            if !done.is_null() {
                done.write(count);
            }
        }
        kResultOk
    }

    unsafe fn seek(&self, to: int64, mode: int32, result: *mut int64) -> tresult {
        let base = match mode {
            0 => 0,
            1 => *self.place.borrow() as int64,
            _ => self.bytes.borrow().len() as int64,
        };
        *self.place.borrow_mut() = (base + to) as usize;
        if !result.is_null() {
            // SAFETY: the plugin gives a place for the number.
            unsafe { result.write(base + to) };
        }
        kResultOk
    }

    unsafe fn tell(&self, place: *mut int64) -> tresult {
        // SAFETY: the plugin gives a place for the number.
        unsafe { place.write(*self.place.borrow() as int64) };
        kResultOk
    }
}
