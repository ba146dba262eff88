//! Bytes in memory that the plugin saves to and loads from.

use std::cell::RefCell;
use std::ffi::c_void;
use std::io::{Cursor, Read, Seek, SeekFrom, Write};

use vst3::Class;
use vst3::Steinberg::{
    IBStream, IBStream_::IStreamSeekMode_, IBStreamTrait, kInvalidArgument, kResultFalse,
    kResultOk, tresult,
};

/// A stream that starts at its first byte.
#[derive(Default)]
pub(super) struct Stream(RefCell<Cursor<Vec<u8>>>);

impl Stream {
    pub fn new(bytes: &[u8]) -> Stream {
        Stream(RefCell::new(Cursor::new(bytes.to_vec())))
    }

    pub fn bytes(&self) -> Vec<u8> {
        self.0.borrow().get_ref().clone()
    }
}

impl Class for Stream {
    type Interfaces = (IBStream,);
}

/// Stores `done` where the plugin wants it, and says how it went.
///
/// # Safety
/// `result` is null or points to a number.
unsafe fn report<T, N: TryFrom<T>>(done: std::io::Result<T>, result: *mut N) -> tresult {
    match done.map(N::try_from) {
        Ok(Ok(number)) => {
            if !result.is_null() {
                // SAFETY: checked for null; the caller vouches for the rest.
                unsafe { result.write(number) };
            }
            kResultOk
        }
        _ => kResultFalse,
    }
}

impl IBStreamTrait for Stream {
    unsafe fn read(&self, buffer: *mut c_void, bytes: i32, done: *mut i32) -> tresult {
        let Ok(bytes) = usize::try_from(bytes) else {
            return kInvalidArgument;
        };
        // SAFETY: VST3 asks callers for a buffer of at least that many bytes.
        // They are not read before they are written.
        let buffer = unsafe { std::slice::from_raw_parts_mut(buffer.cast::<u8>(), bytes) };
        // SAFETY: `done` is the caller's, or null.
        unsafe { report(self.0.borrow_mut().read(buffer), done) }
    }

    unsafe fn write(&self, buffer: *mut c_void, bytes: i32, done: *mut i32) -> tresult {
        let Ok(bytes) = usize::try_from(bytes) else {
            return kInvalidArgument;
        };
        // SAFETY: VST3 asks callers for a buffer of at least that many bytes.
        let buffer = unsafe { std::slice::from_raw_parts(buffer.cast::<u8>(), bytes) };
        // SAFETY: `done` is the caller's, or null.
        unsafe { report(self.0.borrow_mut().write(buffer), done) }
    }

    unsafe fn seek(&self, position: i64, mode: i32, result: *mut i64) -> tresult {
        let to = match (mode as u32, u64::try_from(position)) {
            (IStreamSeekMode_::kIBSeekSet, Ok(position)) => SeekFrom::Start(position),
            (IStreamSeekMode_::kIBSeekCur, _) => SeekFrom::Current(position),
            (IStreamSeekMode_::kIBSeekEnd, _) => SeekFrom::End(position),
            _ => return kInvalidArgument,
        };
        // SAFETY: `result` is the caller's, or null.
        unsafe { report(self.0.borrow_mut().seek(to), result) }
    }

    unsafe fn tell(&self, position: *mut i64) -> tresult {
        // SAFETY: `position` is the caller's, or null.
        unsafe { report(self.0.borrow_mut().stream_position(), position) }
    }
}
