//! A piece of a file on its way out: tells how far it came and lets the sender break off.

use std::io::{Error, Read, Result};
use std::ops::ControlFlow;

pub(crate) struct Piece<'a> {
    rest: &'a [u8],
    at: u64,
    watch: &'a mut dyn FnMut(u64) -> ControlFlow<()>,
    stopped: bool,
}

impl<'a> Piece<'a> {
    /// `at` is where the piece begins in its file.
    pub(crate) fn new(
        bytes: &'a [u8],
        at: u64,
        watch: &'a mut dyn FnMut(u64) -> ControlFlow<()>,
    ) -> Self {
        Self {
            rest: bytes,
            at,
            watch,
            stopped: false,
        }
    }

    pub(crate) fn stopped(&self) -> bool {
        self.stopped
    }
}

impl Read for Piece<'_> {
    fn read(&mut self, into: &mut [u8]) -> Result<usize> {
        if (self.watch)(self.at).is_break() {
            self.stopped = true;
            return Err(Error::other("stopped"));
        }
        let read = self.rest.read(into)?;
        self.at += read as u64;
        Ok(read)
    }
}
