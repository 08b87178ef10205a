//! In which order workings are computed, and which of them hang on each
//! other's last year.

/// What a working reads.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reads {
    /// Workings read in the same period.
    pub now: Vec<usize>,
    /// Workings read only through `previous`.
    pub last_year: Vec<usize>,
}

/// Workings that are computed together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// In the order in which they are computed (within a year, if `by_year`).
    pub members: Vec<usize>,
    /// They read each other's last year, so they go year by year.
    pub by_year: bool,
}

/// Groups so that each comes after all that it reads, in file order where
/// either would do.
///
/// # Errors
/// A cycle through values of the same period, as the chain of workings that
/// leads back to its start.
pub fn groups(reads: &[Reads]) -> Result<Vec<Group>, Vec<usize>> {
    let all = |k: usize| reads[k].now.iter().chain(&reads[k].last_year).copied();
    let components = components(reads.len(), &|k| all(k).collect());
    let mut groups = Vec::with_capacity(components.len());
    for mut members in components {
        members.sort_unstable();
        let within = |k: usize| -> Vec<usize> {
            reads[k].now.iter().copied().filter(|r| members.binary_search(r).is_ok()).collect()
        };
        let by_year = members.len() > 1 || all(members[0]).any(|r| r == members[0]);
        let ordered = in_order(&members, &within)?;
        groups.push(Group { members: ordered, by_year });
    }
    Ok(groups)
}

/// Strongly connected components, each after what it reads (Tarjan 1972), without recursion.
fn components(n: usize, reads: &dyn Fn(usize) -> Vec<usize>) -> Vec<Vec<usize>> {
    let mut state =
        Tarjan { index: vec![usize::MAX; n], low: vec![0; n], on_stack: vec![false; n], ..Tarjan::default() };
    for root in 0..n {
        if state.index[root] == usize::MAX {
            state.visit(root, reads);
        }
    }
    state.found
}

#[derive(Default)]
struct Tarjan {
    index: Vec<usize>,
    low: Vec<usize>,
    on_stack: Vec<bool>,
    stack: Vec<usize>,
    next: usize,
    found: Vec<Vec<usize>>,
}

impl Tarjan {
    fn enter(&mut self, k: usize, reads: &dyn Fn(usize) -> Vec<usize>) -> (usize, Vec<usize>, usize) {
        self.index[k] = self.next;
        self.low[k] = self.next;
        self.next += 1;
        self.stack.push(k);
        self.on_stack[k] = true;
        (k, reads(k), 0)
    }

    fn visit(&mut self, root: usize, reads: &dyn Fn(usize) -> Vec<usize>) {
        let mut calls = vec![self.enter(root, reads)];
        while let Some((k, targets, at)) = calls.pop() {
            if let Some(&target) = targets.get(at) {
                calls.push((k, targets, at + 1));
                if self.index[target] == usize::MAX {
                    calls.push(self.enter(target, reads));
                } else if self.on_stack[target] {
                    self.low[k] = self.low[k].min(self.index[target]);
                }
                continue;
            }
            if let Some((parent, ..)) = calls.last() {
                self.low[*parent] = self.low[*parent].min(self.low[k]);
            }
            if self.low[k] == self.index[k] {
                self.close(k);
            }
        }
    }

    fn close(&mut self, root: usize) {
        let mut members = Vec::new();
        while let Some(k) = self.stack.pop() {
            self.on_stack[k] = false;
            members.push(k);
            if k == root {
                break;
            }
        }
        self.found.push(members);
    }
}

/// Members so that each comes after what it reads in the same period.
fn in_order(members: &[usize], reads: &dyn Fn(usize) -> Vec<usize>) -> Result<Vec<usize>, Vec<usize>> {
    let mut done: Vec<usize> = Vec::new();
    let mut open: Vec<usize> = members.to_vec();
    while !open.is_empty() {
        let ready = open.iter().position(|&k| reads(k).iter().all(|r| done.contains(r)));
        match ready {
            Some(at) => done.push(open.remove(at)),
            None => return Err(chain(&open, reads)),
        }
    }
    Ok(done)
}

/// A cycle among `open`, every one of which reads another of them.
fn chain(open: &[usize], reads: &dyn Fn(usize) -> Vec<usize>) -> Vec<usize> {
    let mut path: Vec<usize> = Vec::new();
    let mut at = open.first().copied();
    while let Some(k) = at {
        if let Some(start) = path.iter().position(|&p| p == k) {
            return path.split_off(start);
        }
        path.push(k);
        at = reads(k).into_iter().find(|r| open.contains(r));
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reads(now: &[usize], last_year: &[usize]) -> Reads {
        Reads { now: now.to_vec(), last_year: last_year.to_vec() }
    }

    #[test]
    fn each_after_what_it_reads() {
        let groups = groups(&[reads(&[2], &[]), reads(&[], &[]), reads(&[1], &[])]).unwrap();
        let order: Vec<usize> = groups.iter().flat_map(|g| g.members.clone()).collect();
        assert_eq!(order, [1, 2, 0]);
        assert!(groups.iter().all(|g| !g.by_year));
    }

    #[test]
    fn last_year_makes_a_group() {
        let groups = groups(&[reads(&[1], &[]), reads(&[], &[0]), reads(&[], &[2])]).unwrap();
        assert_eq!(groups[0], Group { members: vec![1, 0], by_year: true });
        assert_eq!(groups[1], Group { members: vec![2], by_year: true });
    }

    #[test]
    fn a_cycle_is_told_as_a_chain() {
        let cycle =
            groups(&[reads(&[1], &[]), reads(&[2], &[]), reads(&[0], &[]), reads(&[0], &[])]).unwrap_err();
        assert_eq!(cycle, [0, 1, 2]);
        assert_eq!(groups(&[reads(&[0], &[])]).unwrap_err(), [0]);
    }

    #[test]
    fn long_chains_do_not_recurse() {
        let n = 50_000;
        let long: Vec<Reads> =
            (0..n).map(|k| if k + 1 < n { reads(&[k + 1], &[]) } else { Reads::default() }).collect();
        assert_eq!(groups(&long).unwrap().len(), n);
    }
}
