//! What a search has used of what it may use.

/// Why a search ended before its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum SearchHalt {
    /// Whoever asked no longer wants to know.
    Asked,
    /// The steps are used up.
    Steps,
}

/// Counts steps, one for each order at each knot, and asks before they are taken.
pub(super) struct StepMeter<'a> {
    go_on: &'a mut dyn FnMut(u64) -> bool,
    left: u64,
}

impl<'a> StepMeter<'a> {
    pub(super) fn new(most: u64, go_on: &'a mut dyn FnMut(u64) -> bool) -> Self {
        Self { go_on, left: most }
    }

    /// Takes so many steps, if there are as many left.
    pub(super) fn spend(&mut self, steps: usize) -> Result<(), SearchHalt> {
        let steps = steps as u64;
        self.left = self.left.checked_sub(steps).ok_or(SearchHalt::Steps)?;
        self.ask(steps)
    }

    /// Takes steps that are not counted among those allowed.
    pub(super) fn ask(&mut self, steps: u64) -> Result<(), SearchHalt> {
        match (self.go_on)(steps) {
            true => Ok(()),
            false => Err(SearchHalt::Asked),
        }
    }

    /// How many steps may still be taken.
    pub(super) fn left(&self) -> u64 {
        self.left
    }

    /// Does something with so many steps fewer, which are there again afterwards.
    pub(super) fn keeping<T>(&mut self, steps: u64, job: impl FnOnce(&mut Self) -> T) -> T {
        let kept = steps.min(self.left);
        self.left -= kept;
        let done = job(self);
        self.left += kept;
        done
    }
}
