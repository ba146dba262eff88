//! What `Barform.vst3` exports, and nothing of CLAP.

use barform::BarformVst3;
use nice_plug::prelude::*;

nice_export_vst3!(BarformVst3);
