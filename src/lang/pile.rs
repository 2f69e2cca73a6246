//! Lists that are being read, one inside the other, in one vector.

use std::cell::RefCell;

/// The entries of all lists still open, innermost last. A list takes its own off the end, in one allocation of the right
/// size: lists of a tree are many and short, and growing each would cost more than reading it.
#[derive(Debug)]
pub(super) struct Pile<T>(RefCell<Vec<T>>);

impl<T> Pile<T> {
    /// No list open.
    pub(super) fn new() -> Self {
        Self(RefCell::new(Vec::new()))
    }

    /// Starts a list: where it starts, for [`Pile::close`].
    #[inline]
    pub(super) fn open(&self) -> usize {
        self.0.borrow().len()
    }

    /// One more entry of the innermost list.
    #[inline]
    pub(super) fn push(&self, entry: T) {
        self.0.borrow_mut().push(entry);
    }

    /// Whether an entry of the list that started at `from` is such.
    pub(super) fn find<F>(&self, from: usize, is_such: impl Fn(&T) -> Option<F>) -> Option<F> {
        self.0.borrow().get(from..).unwrap_or_default().iter().find_map(is_such)
    }

    /// The list that started at `from`, and whatever lists inside it were given up.
    #[inline]
    pub(super) fn close(&self, from: usize) -> Vec<T> {
        self.0.borrow_mut().drain(from..).collect()
    }

    /// Forgets every list.
    pub(super) fn clear(&self) {
        self.0.borrow_mut().clear();
    }
}
