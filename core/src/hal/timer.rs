//! A hardware timer that cuts an output at the exact end of a permit.

/// Cuts one output by itself, without the main program: a one-shot timer whose interrupt, or whose
/// compare output, takes the pin to its safe state.
///
/// With one, say so in the limits (`cut_timer: Fitted::YES`): the guard then keeps back 1 ms of a
/// cycle in place of a tick's worth.
pub trait CutTimer {
    /// Why the timer could not be set.
    type Error: core::fmt::Debug;

    /// Cuts the output this long from now, in place of whatever was set before.
    ///
    /// # Errors
    /// If it could not be set: the output is then not turned on.
    fn arm(&mut self, run_ms: u32) -> Result<(), Self::Error>;

    /// Sets nothing any more. Called only once the output is off.
    ///
    /// # Errors
    /// If it could not be reached: a fault, since nobody knows what it does next.
    fn disarm(&mut self) -> Result<(), Self::Error>;
}

/// No timer: the output goes off when the program says so.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NoTimer;

impl CutTimer for NoTimer {
    type Error = core::convert::Infallible;

    fn arm(&mut self, _run_ms: u32) -> Result<(), Self::Error> {
        Ok(())
    }

    fn disarm(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }
}
