//! The nearest known word, for "did you mean".

/// The candidate nearest to `word` by edits (a swap of neighbours is one), if it is near enough to be meant:
/// at most a third of the word's length, rounded up. Ties go to the first candidate.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let allowed = word.chars().count().div_ceil(3);
    candidates
        .into_iter()
        .map(|candidate| (edits(word, candidate), candidate))
        .filter(|(count, _)| *count <= allowed)
        .min_by_key(|(count, _)| *count)
        .map(|(_, candidate)| candidate)
}

/// Optimal string alignment distance, letter case ignored.
fn edits(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().flat_map(char::to_lowercase).take(64).collect();
    let b: Vec<char> = b.chars().flat_map(char::to_lowercase).take(64).collect();
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let change = above[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            let mut best = change.min(above[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                best = best.min(before[j - 2] + 1);
            }
            row.push(best);
        }
        before = std::mem::replace(&mut above, row);
    }
    above[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_finds_its_word_and_nonsense_finds_none() {
        assert_eq!(nearest("picth", ["roll", "pitch"]), Some("pitch"));
        assert_eq!(nearest("zzz", ["roll", "pitch"]), None);
    }
}
