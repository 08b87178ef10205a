//! Which known word a misspelt one may have meant.

/// Distance in letters: insertions, deletions, replacements and swaps of neighbours, ignoring case
/// (Damerau 1964; restricted form).
pub fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.to_lowercase().chars().collect();
    let b: Vec<char> = b.to_lowercase().chars().collect();
    let width = b.len() + 1;
    let mut before: Vec<usize> = vec![0; width];
    let mut last: Vec<usize> = (0..width).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; width];
        for j in 1..width {
            let same = a[i - 1] == b[j - 1];
            row[j] = (last[j] + 1).min(row[j - 1] + 1).min(last[j - 1] + usize::from(!same));
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

/// Longest word that is compared: a suggestion for anything longer helps nobody and costs time.
const LONGEST: usize = 60;

/// The candidate nearest to `word`, if one is near: at most a third of the letters wrong, or one word
/// contains the other. Ties go to the first by name, so that the answer does not hang on the file's order.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().count();
    if !(2..=LONGEST).contains(&length) {
        return None;
    }
    let lower = word.to_lowercase();
    candidates
        .into_iter()
        .filter(|c| *c != word && c.chars().count() <= LONGEST)
        .filter_map(|c| {
            let candidate = c.to_lowercase();
            let other = c.chars().count();
            let (shorter, longer) = (length.min(other), length.max(other));
            let contains = shorter >= 4 && (candidate.contains(&lower) || lower.contains(&candidate));
            let most = (longer / 3).max(1);
            // Lengths alone rule most candidates out, and a large study has thousands.
            if !contains && longer - shorter > most {
                return None;
            }
            let d = distance(word, c);
            let near = d <= most && d < shorter;
            // A near miss goes before a word that merely contains it.
            (near || contains).then_some((usize::from(!near), d, c))
        })
        .min()
        .map(|(_, _, c)| c)
}
