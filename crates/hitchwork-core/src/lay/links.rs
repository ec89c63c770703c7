//! What holds the knots together: each stretch of thread from one knot to the next.

/// At which side of a knot a thread comes in above or goes out below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Corner {
    Left,
    Right,
}

/// How a stretch of thread asks its two knots to lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Bond {
    /// It goes out at one side and comes in at the other: one knot lies where the other
    /// points, one knot away.
    Straight,
    /// It comes back to the column that it left, inside the band.
    SameSide,
    /// It comes back to the outermost column: a loop that only keeps its length.
    EdgeLoop,
}

/// A stretch of thread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Link {
    pub(super) from: usize,
    pub(super) leaves: Corner,
    pub(super) to: usize,
    pub(super) enters: Corner,
    /// The position at which it hangs, from 0.
    pub(super) position: u16,
    pub(super) bond: Bond,
    /// Whether the knot that it leads to is that of the next repeat.
    pub(super) next_repeat: bool,
    /// How many knots are tied meanwhile in that of the columns beside it that gets more.
    pub(super) passed: u32,
}

/// Two knots that follow each other in one column, and so never come closer than a knot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Neighbours {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) next_repeat: bool,
}

/// All that holds a number of knots together.
#[derive(Clone, Debug, Default)]
pub(super) struct Net {
    pub(super) knots: usize,
    /// The column of each knot, as an index.
    pub(super) columns: Vec<u16>,
    pub(super) links: Vec<Link>,
    pub(super) neighbours: Vec<Neighbours>,
}

/// Finds the links while knots are tied one after another.
pub(super) struct Tracer {
    threads: u16,
    knots: usize,
    last_at: Vec<Option<LastKnot>>,
    last_in: Vec<Option<usize>>,
    /// How many knots each column has so far.
    tied_in: Vec<u32>,
}

/// The last knot of a thread.
#[derive(Clone, Copy)]
struct LastKnot {
    knot: usize,
    leaves: Corner,
    /// How many knots the columns beside the thread had then.
    beside: [u32; 2],
}

impl Tracer {
    pub(super) fn new(threads: u16) -> Self {
        Self {
            threads,
            knots: 0,
            last_at: vec![None; usize::from(threads)],
            last_in: vec![None; usize::from(threads)],
            tied_in: vec![0; usize::from(threads)],
        }
    }

    /// Ties the next knot in the column with this index, and tells of the two threads that
    /// lead to it, and of the knot before it in its column.
    pub(super) fn tie(
        &mut self,
        column: u16,
    ) -> (impl Iterator<Item = Link> + use<>, Option<Neighbours>) {
        let to = self.knots;
        self.knots += 1;
        self.tied_in[usize::from(column)] += 1;
        let tied_in = &self.tied_in;
        let mut come_in = |position: u16, enters: Corner| {
            let at = usize::from(position);
            // The thread itself is tied in the columns on both sides of its position: what passes
            // it is tied in those beyond.
            let beyond = [at.checked_sub(2), Some(at + 1)];
            let beside = beyond.map(|column| {
                column
                    .and_then(|at| tied_in.get(at))
                    .map_or(0, |knots| *knots)
            });
            let here = LastKnot {
                knot: to,
                leaves: enters,
                beside,
            };
            let LastKnot {
                knot: from,
                leaves,
                beside: before,
            } = self.last_at[at].replace(here)?;
            let passed = (beside[0] - before[0]).max(beside[1] - before[1]);
            let at_the_edge = position == 0 || position + 1 == self.threads;
            let bond = match (leaves == enters, at_the_edge) {
                (false, _) => Bond::Straight,
                (true, false) => Bond::SameSide,
                (true, true) => Bond::EdgeLoop,
            };
            Some(Link {
                from,
                leaves,
                to,
                enters,
                position,
                bond,
                next_repeat: false,
                passed,
            })
        };
        let links = [
            come_in(column, Corner::Left),
            come_in(column + 1, Corner::Right),
        ];
        let above = self.last_in[usize::from(column)].replace(to);
        let neighbours = above.map(|from| Neighbours {
            from,
            to,
            next_repeat: false,
        });
        (links.into_iter().flatten(), neighbours)
    }
}

impl Net {
    /// What holds these knots together, tied one after another in the columns with these
    /// indices.
    pub(super) fn of(threads: u16, columns: impl IntoIterator<Item = u16>) -> Self {
        let (mut tracer, mut net) = (Tracer::new(threads), Self::default());
        for column in columns {
            let (links, neighbours) = tracer.tie(column);
            net.links.extend(links);
            net.neighbours.extend(neighbours);
            net.columns.push(column);
        }
        net.knots = tracer.knots;
        net
    }

    /// What holds a repeat together that goes on without end: links lead to the repeat itself
    /// or to the next one.
    pub(super) fn of_repeat(threads: u16, columns: &[u16]) -> Self {
        let knots = columns.len();
        let twice = Self::of(threads, columns.iter().chain(columns).copied());
        // Every position that a repeat ties was tied in the repeat before, so no link is longer.
        let into_second = |from: &mut usize, to: &mut usize, next: &mut bool| {
            *next = *from < knots;
            *from -= if *next { 0 } else { knots };
            *to -= knots;
        };
        let links = twice.links.into_iter().filter(|link| link.to >= knots);
        let neighbours = twice.neighbours.into_iter().filter(|pair| pair.to >= knots);
        Self {
            knots,
            columns: columns.to_vec(),
            links: links
                .map(|mut link| {
                    into_second(&mut link.from, &mut link.to, &mut link.next_repeat);
                    link
                })
                .collect(),
            neighbours: neighbours
                .map(|mut pair| {
                    into_second(&mut pair.from, &mut pair.to, &mut pair.next_repeat);
                    pair
                })
                .collect(),
        }
    }

    /// For each knot the number of the piece of fabric that it belongs to, and how many there are:
    /// pieces are not held together by any thread.
    pub(super) fn pieces(&self) -> (Vec<usize>, usize) {
        let mut root: Vec<usize> = (0..self.knots).collect();
        fn find(root: &mut [usize], mut at: usize) -> usize {
            while root[at] != at {
                root[at] = root[root[at]];
                at = root[at];
            }
            at
        }
        for link in &self.links {
            let (one, other) = (find(&mut root, link.from), find(&mut root, link.to));
            root[one.max(other)] = one.min(other);
        }
        let mut number = vec![usize::MAX; self.knots];
        let mut pieces = 0;
        let piece = (0..self.knots)
            .map(|knot| {
                let root = find(&mut root, knot);
                if number[root] == usize::MAX {
                    number[root] = pieces;
                    pieces += 1;
                }
                number[root]
            })
            .collect();
        (piece, pieces)
    }
}
