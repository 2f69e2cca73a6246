//! One shared copy of what a text says many times.

use std::collections::HashMap;
use std::sync::Arc;

/// How many recent words are found fast.
const RECENT: usize = 256;

/// What a word stands for, kept once. A few recent words are found without the map, whose hash is strong and slow.
#[derive(Debug)]
pub(super) struct Shared<'a, T: ?Sized> {
    all: HashMap<&'a str, Arc<T>>,
    recent: Vec<Option<(&'a str, Arc<T>)>>,
}

impl<'a, T: ?Sized> Shared<'a, T> {
    /// Nothing kept yet.
    pub(super) fn new() -> Self {
        Self { all: HashMap::new(), recent: std::iter::repeat_with(|| None).take(RECENT).collect() }
    }

    /// What `word` stands for; `make` is asked the first time.
    #[inline]
    pub(super) fn get(&mut self, word: &'a str, make: impl FnOnce() -> Arc<T>) -> Arc<T> {
        if let Some(shared) = self.known(word) {
            return shared;
        }
        let shared = self.all.entry(word).or_insert_with(make).clone();
        if let Some(place) = self.recent.get_mut(slot(word)) {
            *place = Some((word, shared.clone()));
        }
        shared
    }

    /// What `word` stands for, if it was asked for lately.
    #[inline]
    pub(super) fn known(&self, word: &str) -> Option<Arc<T>> {
        match self.recent.get(slot(word)) {
            Some(Some((known, shared))) if *known == word => Some(shared.clone()),
            _ => None,
        }
    }
}

/// Where a word stands among the recent.
#[inline]
fn slot(word: &str) -> usize {
    let ends = |word: &[u8]| Some((*word.first()?, *word.last()?));
    let (first, last) = ends(word.as_bytes()).unwrap_or_default();
    (usize::from(first) * 31 + usize::from(last) * 7 + word.len()) % RECENT
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_that_share_a_place_keep_their_own_meaning() {
        // Same ends and length, so one place among the recent.
        let mut shared = Shared::<str>::new();
        let mut copy = |word: &'static str| shared.get(word, || Arc::from(word));
        let (ham, hum, again) = (copy("ham"), copy("hum"), copy("ham"));
        assert_eq!((&*ham, &*hum), ("ham", "hum"));
        assert!(Arc::ptr_eq(&ham, &again));
    }
}
