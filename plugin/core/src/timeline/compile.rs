//! x
/// x
pub struct CompileError;
