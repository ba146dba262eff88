//! The parameter changes of a block, read-only for the plugin.

use vst3::Steinberg::Vst::{
    IParamValueQueue, IParamValueQueueTrait, IParameterChanges, IParameterChangesTrait,
};
use vst3::Steinberg::{kInvalidArgument, kNotImplemented, kResultOk, tresult};
use vst3::{Class, ComWrapper};

use crate::host::ParamChange;

/// A queue of points for each parameter that changes.
pub(super) struct Changes(Vec<ComWrapper<Queue>>);

/// The points of one parameter.
pub(super) struct Queue {
    id: u32,
    points: Vec<(i32, f64)>,
}

impl Changes {
    pub fn of(changes: &[ParamChange]) -> Changes {
        let mut queues: Vec<Queue> = Vec::new();
        for change in changes {
            let point = (change.frame as i32, change.value);
            match queues.iter_mut().find(|queue| queue.id == change.id) {
                Some(queue) => queue.points.push(point),
                None => queues.push(Queue {
                    id: change.id,
                    points: vec![point],
                }),
            }
        }
        Changes(queues.into_iter().map(ComWrapper::new).collect())
    }
}

impl Class for Changes {
    type Interfaces = (IParameterChanges,);
}

impl IParameterChangesTrait for Changes {
    unsafe fn getParameterCount(&self) -> i32 {
        self.0.len() as i32
    }

    unsafe fn getParameterData(&self, index: i32) -> *mut IParamValueQueue {
        let queue = usize::try_from(index).ok().and_then(|i| self.0.get(i));
        queue
            .and_then(|queue| queue.as_com_ref::<IParamValueQueue>())
            .map_or(std::ptr::null_mut(), |queue| queue.as_ptr())
    }

    unsafe fn addParameterData(&self, _id: *const u32, _index: *mut i32) -> *mut IParamValueQueue {
        std::ptr::null_mut()
    }
}

impl Class for Queue {
    type Interfaces = (IParamValueQueue,);
}

impl IParamValueQueueTrait for Queue {
    unsafe fn getParameterId(&self) -> u32 {
        self.id
    }

    unsafe fn getPointCount(&self) -> i32 {
        self.points.len() as i32
    }

    unsafe fn getPoint(&self, index: i32, frame: *mut i32, value: *mut f64) -> tresult {
        match usize::try_from(index).ok().and_then(|i| self.points.get(i)) {
            Some((at, to)) if !frame.is_null() && !value.is_null() => {
                // SAFETY: the caller's places, checked for null.
                unsafe {
                    frame.write(*at);
                    value.write(*to);
                }
                kResultOk
            }
            _ => kInvalidArgument,
        }
    }

    unsafe fn addPoint(&self, _frame: i32, _value: f64, _index: *mut i32) -> tresult {
        kNotImplemented
    }
}
