//! What `Barform.clap` exports. A library with the entry points of both formats
//! would be listed once more for the bundle of the other.

use barform::Barform;
use nice_plug::prelude::*;

nice_export_clap!(Barform);
