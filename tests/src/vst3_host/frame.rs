//! What the plugin calls back on the main thread: the host itself, its
//! controller's handler, and the window's frame with its run loop.

use std::cell::RefCell;
use std::ffi::c_void;
use std::os::fd::BorrowedFd;

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use vst3::Steinberg::Linux::{
    IEventHandler, IEventHandlerTrait, IRunLoop, IRunLoopTrait, ITimerHandler,
};
use vst3::Steinberg::Vst::{
    IComponentHandler, IComponentHandlerTrait, IHostApplication, IHostApplicationTrait, String128,
};
use vst3::Steinberg::{
    IPlugFrame, IPlugFrameTrait, IPlugView, TUID, ViewRect, kInvalidArgument, kNotImplemented,
    kResultFalse, kResultOk, tresult,
};
use vst3::{Class, ComPtr, ComRef};

/// The host.
pub(super) struct Application;

impl Class for Application {
    type Interfaces = (IHostApplication,);
}

impl IHostApplicationTrait for Application {
    unsafe fn getName(&self, name: *mut String128) -> tresult {
        let mut text: String128 = [0; 128];
        for (unit, letter) in text.iter_mut().zip("Barform tests".encode_utf16()) {
            *unit = letter;
        }
        // SAFETY: the caller's place for a name.
        unsafe { name.write(text) };
        kResultOk
    }

    unsafe fn createInstance(
        &self,
        _class: *mut TUID,
        _interface: *mut TUID,
        _object: *mut *mut c_void,
    ) -> tresult {
        kNotImplemented
    }
}

/// Hears of edits and wishes of the controller, and lets them be.
pub(super) struct ComponentHandler;

impl Class for ComponentHandler {
    type Interfaces = (IComponentHandler,);
}

impl IComponentHandlerTrait for ComponentHandler {
    unsafe fn beginEdit(&self, _id: u32) -> tresult {
        kResultOk
    }
    unsafe fn performEdit(&self, _id: u32, _value: f64) -> tresult {
        kResultOk
    }
    unsafe fn endEdit(&self, _id: u32) -> tresult {
        kResultOk
    }
    unsafe fn restartComponent(&self, _flags: i32) -> tresult {
        kResultOk
    }
}

/// The frame of the editor's window.
#[derive(Default)]
pub(super) struct Frame {
    handlers: RefCell<Vec<(ComPtr<IEventHandler>, i32)>>,
}

impl Frame {
    /// Tells the plugin which of its files have something to read.
    pub fn run(&self) {
        let handlers = self.handlers.borrow().clone();
        for (handler, fd) in handlers {
            // SAFETY: the plugin keeps the file open while it is registered.
            let borrowed = unsafe { BorrowedFd::borrow_raw(fd) };
            let mut fds = [PollFd::new(&borrowed, PollFlags::IN)];
            let now = Timespec {
                tv_sec: 0,
                tv_nsec: 0,
            };
            if poll(&mut fds, Some(&now)).is_ok_and(|ready| ready > 0) {
                // SAFETY: the handler is registered and alive.
                unsafe { handler.onFDIsSet(fd) };
            }
        }
    }
}

impl Class for Frame {
    type Interfaces = (IPlugFrame, IRunLoop);
}

impl IPlugFrameTrait for Frame {
    unsafe fn resizeView(&self, _view: *mut IPlugView, _size: *mut ViewRect) -> tresult {
        // This host's windows keep their size.
        kResultFalse
    }
}

impl IRunLoopTrait for Frame {
    unsafe fn registerEventHandler(&self, handler: *mut IEventHandler, fd: i32) -> tresult {
        // SAFETY: the plugin's object, checked for null.
        let Some(handler) = (unsafe { ComRef::from_raw(handler) }) else {
            return kInvalidArgument;
        };
        self.handlers.borrow_mut().push((handler.to_com_ptr(), fd));
        kResultOk
    }

    unsafe fn unregisterEventHandler(&self, handler: *mut IEventHandler) -> tresult {
        self.handlers
            .borrow_mut()
            .retain(|(known, _)| known.as_ptr() != handler);
        kResultOk
    }

    unsafe fn registerTimer(&self, _handler: *mut ITimerHandler, _milliseconds: u64) -> tresult {
        kNotImplemented
    }

    unsafe fn unregisterTimer(&self, _handler: *mut ITimerHandler) -> tresult {
        kNotImplemented
    }
}
