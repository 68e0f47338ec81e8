//! SHA-256 of a trace while it is written.

use std::cell::RefCell;
use std::fmt::Write as _;
use std::io;
use std::rc::Rc;

use sha2::{Digest as _, Sha256};

/// Takes what a trace writes. A clone looks at the same.
#[derive(Clone, Default)]
pub(crate) struct Digest(Rc<RefCell<Sha256>>);

impl Digest {
    /// Of all that was written so far, in hex as `sha256sum` prints it.
    pub(crate) fn hex(&self) -> String {
        let sum = self.0.borrow().clone().finalize();
        sum.iter().fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
    }
}

impl io::Write for Digest {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.borrow_mut().update(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
