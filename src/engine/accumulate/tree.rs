//! Merging in an order that no thread decides.

use super::Accumulator;

/// Merges neighbours pairwise, and the pairs pairwise, until one is left: the
/// tree depends on the number of parts alone. None when there are no parts.
pub fn merge_tree<A: Accumulator>(mut parts: Vec<A>) -> Option<A> {
    while parts.len() > 1 {
        let mut merged = Vec::with_capacity(parts.len().div_ceil(2));
        let mut rest = parts.into_iter();
        while let Some(mut first) = rest.next() {
            if let Some(second) = rest.next() {
                first.merge(second);
            }
            merged.push(first);
        }
        parts = merged;
    }
    parts.pop()
}

/// The tree of [`merge_tree`] for parts that arrive one after the other, with
/// only one subtree of each size in memory: a billion runs are a quarter of a
/// million chunks.
#[derive(Debug, Clone)]
pub struct Tree<A> {
    /// Subtrees of 2^level parts, largest first, each level once.
    subtrees: Vec<(u32, A)>,
}

impl<A> Default for Tree<A> {
    fn default() -> Self {
        Tree { subtrees: Vec::new() }
    }
}

impl<A: Accumulator> Tree<A> {
    /// No parts yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the next part.
    pub fn push(&mut self, part: A) {
        self.push_subtree(0, part);
    }

    /// Adds the next 2^`level` parts, already merged by [`merge_tree`]. To keep
    /// the bits of one long run, the number of parts before must be a multiple
    /// of 2^`level`.
    pub fn push_subtree(&mut self, mut level: u32, mut part: A) {
        while self.subtrees.last().is_some_and(|(last, _)| *last <= level) {
            let Some((_, mut before)) = self.subtrees.pop() else { break };
            before.merge(part);
            part = before;
            level += 1;
        }
        self.subtrees.push((level, part));
    }

    /// All parts merged; none when there are no parts.
    pub fn merged(mut self) -> Option<A> {
        let (_, mut later) = self.subtrees.pop()?;
        while let Some((_, mut before)) = self.subtrees.pop() {
            before.merge(later);
            later = before;
        }
        Some(later)
    }
}

#[cfg(test)]
mod tests {
    use super::super::bytes::Damaged;
    use super::*;
    use crate::engine::accumulate::Chunk;

    /// Writes down the tree itself.
    #[derive(Debug, Clone, PartialEq)]
    struct Shape(String);

    impl Accumulator for Shape {
        type Found = String;
        fn add(&mut self, _: Chunk) {}
        fn merge(&mut self, later: Self) {
            self.0 = format!("({} {})", self.0, later.0);
        }
        fn finish(&self) -> String {
            self.0.clone()
        }
        fn save(&self) -> Vec<u8> {
            Vec::new()
        }
        fn load(_: &[u8]) -> Result<Self, Damaged> {
            Err(Damaged::new("a test"))
        }
    }

    fn leaves(range: std::ops::Range<usize>) -> Vec<Shape> {
        range.map(|i| Shape(i.to_string())).collect()
    }

    #[test]
    fn one_after_the_other_makes_the_same_tree() {
        for n in 0..70 {
            let mut tree = Tree::new();
            leaves(0..n).into_iter().for_each(|part| tree.push(part));
            assert_eq!(tree.merged(), merge_tree(leaves(0..n)), "{n} parts");
        }
        assert_eq!(merge_tree(leaves(0..5)).unwrap().0, "(((0 1) (2 3)) 4)");
    }

    #[test]
    fn aligned_spans_of_several_workers_make_the_same_tree() {
        for n in 1..70 {
            let mut tree = Tree::new();
            for start in (0..n).step_by(8) {
                let end = n.min(start + 8);
                if end - start == 8 {
                    tree.push_subtree(3, merge_tree(leaves(start..end)).unwrap());
                } else {
                    leaves(start..end).into_iter().for_each(|part| tree.push(part));
                }
            }
            assert_eq!(tree.merged(), merge_tree(leaves(0..n)), "{n} parts");
        }
    }
}
