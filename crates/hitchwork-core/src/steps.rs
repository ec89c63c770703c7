//! The words that a maker ties from.
//!
//! [`Steps`] are made from a tied fabric, never from the rule, so that what is written is
//! what was proved. They are data with sentences; laying them out on a page is for others.

mod run;
mod said;
mod wording;

use std::collections::BTreeSet;

pub use self::run::{Piece, Role, Run, Stretch, words};
pub use self::said::{RowSteps, SaidRows};
use self::wording::{listed, sentence};
use crate::band::{Band, Part};
use crate::colour::Colour;
use crate::craft::{
    AtHand, Cut, Difficulty, Habits, Purchase, Shape, Shopping, Ties, YarnClass, bringing_out,
    folds, joining, metres_at_least, tail_mm, time_words,
};
use crate::fabric::{Fabric, Pass, Thread, TiedKnot, TiedRow};
use crate::knot::{Kind, Side};
use crate::proof::{Code, Finding, Report};
use crate::row::Row;
use crate::text::counted;

/// When the rows of the lead-out are tied.
pub const LEAD_OUT_IS_TIED: &str = "Tied once, after the last repeat.";

/// At most this many repeats are listed one by one: about a page of them (our own judgement).
const MOST_LISTED_REPEATS: u64 = 48;

/// A thread as it hangs at the start.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct HangingThread {
    /// Its number: its position from the left.
    pub number: u16,
    /// Its colour.
    pub colour: Colour,
}

/// What a later repeat starts from.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct NextRepeat {
    /// Which repeat, from 2.
    pub repeat: u64,
    /// The thread by which it is known: of those that work, the first that is not the same
    /// in all repeats.
    pub leader: HangingThread,
    /// The position at which that thread hangs when the repeat begins.
    pub position: u16,
    /// Whether the first step of the repeat is that of this thread.
    pub begins: bool,
    /// The numbers of the threads by position when it begins.
    pub order: Vec<u16>,
}

impl NextRepeat {
    /// By which thread the repeat is known, in pieces of a sentence, as those of a
    /// [step](Run::pieces); after them comes its order.
    #[must_use]
    pub fn pieces(&self) -> Vec<Piece> {
        let repeat = self.repeat;
        let known_by = match self.begins {
            true => format!("Repeat {repeat} begins with thread "),
            false => format!(
                "Repeat {repeat}: at position {} hangs thread ",
                self.position
            ),
        };
        vec![
            Piece::Words(known_by),
            Piece::Named,
            Piece::Words(". Order before it: ".to_owned()),
        ]
    }
}

/// Everything that a maker needs to tie a band, as its [`Tied`](crate::tied::Tied) says it.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let tied = hitchwork_core::tied::Tied::of(band);
/// let steps = tied.steps();
/// assert_eq!(steps.rows[0].order_after, [2, 3, 1]);
/// assert_eq!(steps.comes_round_after, 3);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Steps {
    /// What the band is called.
    pub title: String,
    /// What its designer wants to say.
    pub notes: String,
    /// The threads from left to right.
    pub threads: Vec<HangingThread>,
    /// For which wrist and which thread the lengths are, a sentence each.
    pub meant_for: Vec<String>,
    /// What to cut, a line for every colour and length.
    pub cuts: Vec<String>,
    /// What to know about the cutting.
    pub cutting: String,
    /// What to buy for a class, a line for every colour; empty unless the report says.
    pub shopping: Vec<String>,
    /// What a stash has of each colour, a line for every colour; empty unless the report says.
    pub stash: Vec<String>,
    /// How large the band becomes and how long it takes, a sentence each.
    pub measures: Vec<String>,
    /// What the proofs found that its maker should know, a line for each kind of finding.
    pub know: Vec<String>,
    /// The kinds of knot that its rows and ends are tied in, a sentence each.
    pub knots: Vec<String>,
    /// How to begin, a sentence a step.
    pub start: Vec<String>,
    /// How to read the rows.
    pub reading: String,
    /// The rows of the lead-in, of the first repeat, and of the lead-out.
    pub rows: Vec<RowSteps>,
    /// The same rows in as few lines as say all of them.
    pub said: Vec<SaidRows>,
    /// How often the repeat is tied.
    pub repeats: u32,
    /// After how many repeats the colours hang as before the first.
    pub comes_round_after: u64,
    /// How to tie the rows again; empty where they are tied once.
    pub again: String,
    /// What the later repeats start from, as far as they are listed.
    pub next_repeats: Vec<NextRepeat>,
    /// When the colours hang as before the first repeat again; empty where the rows are
    /// tied once.
    pub comes_round: String,
    /// When to stop.
    pub stop: String,
    /// How to finish, a sentence a step.
    pub finish: Vec<String>,
    /// What to be careful with.
    pub cautions: Vec<String>,
    /// Where the band came from, in one line; empty for a band written by hand.
    pub origin: String,
}

impl Steps {
    /// The steps of a band, from what it becomes and what is proved of it.
    pub(crate) fn new(
        band: &Band,
        fabric: &Fabric,
        (report, difficulty): (&Report, &Difficulty),
        habits: &Habits,
        (wrist_mm, cautions): (Option<f64>, Vec<String>),
    ) -> Self {
        let threads: Vec<HangingThread> = (1..)
            .zip(band.colours())
            .map(|(number, colour)| HangingThread {
                number,
                colour: colour.clone(),
            })
            .collect();
        let first_passes = fabric.passes().filter(|pass| pass.number() == 1);
        let rows = first_passes
            .flat_map(Pass::rows)
            .map(|row| row_steps(&row, &threads));
        let rows: Vec<RowSteps> = rows.collect();
        let said = said::in_few_lines(&rows);
        let begins = said::begins(&rows, &said);
        let next_repeats = next_repeats(band, fabric, report, &threads, begins);
        Self {
            title: if band.title().is_empty() {
                "A band".to_owned()
            } else {
                band.title().to_owned()
            },
            notes: band.notes().to_owned(),
            meant_for: meant_for_words(band, wrist_mm),
            cuts: report.cut_list.cuts.iter().map(cut_words).collect(),
            cutting: format!(
                "All together {}. Each length covers the rows, both ends, and some to spare, since some hands pull tighter than others.",
                metres_at_least(report.cut_list.total_mm)
            ),
            shopping: report
                .shopping
                .as_ref()
                .map(shopping_words)
                .unwrap_or_default(),
            stash: report.stash.iter().flatten().map(AtHand::words).collect(),
            measures: measure_words(band, report, difficulty),
            know: know_words(report),
            knots: knot_words(band),
            start: start_words(band, &threads, habits),
            reading: said::reading(&rows, &said),
            rows,
            said,
            repeats: band.repeats(),
            comes_round_after: report.colour_repeats_to_close,
            again: again_words(band, &next_repeats),
            comes_round: comes_round_words(band, report, next_repeats.len() as u64 + 1),
            next_repeats,
            stop: stop_words(band, report),
            finish: finish_words(band, &order_numbers(fabric.final_order())),
            cautions,
            origin: origin_words(band, habits),
            threads,
        }
    }

    /// The rows that are told together.
    pub fn rows_of<'a>(&'a self, said: &'a SaidRows) -> impl Iterator<Item = &'a RowSteps> {
        self.rows.iter().filter(|row| said.tells(row))
    }

    /// Whether every row is told in one sentence, by its positions or as other rows, and none step by step.
    #[must_use]
    pub fn is_told_by_positions(&self) -> bool {
        self.said.iter().all(|said| said.words.is_some())
    }

    /// Whether any thread ever leaves its place.
    #[must_use]
    pub fn moves_threads(&self) -> bool {
        self.rows.iter().any(RowSteps::moves_threads)
    }
}

/// In how many steps a repeat is told.
pub(crate) fn repeat_steps(fabric: &Fabric) -> usize {
    let rows = fabric.first_repeat().rows();
    let steps = |row: TiedRow| run::runs(&row, |_| String::new(), 0).len();
    rows.into_iter().map(steps).sum()
}

fn order_numbers(order: &[Thread]) -> Vec<u16> {
    order.iter().map(|thread| thread.number()).collect()
}

fn row_steps(row: &TiedRow, threads: &[HangingThread]) -> RowSteps {
    let count = u16::try_from(threads.len()).expect("MAX_THREADS fits");
    let colour = |thread: u16| threads[usize::from(thread) - 1].colour.name.clone();
    RowSteps {
        part: row.part,
        row: row.row,
        runs: run::runs(row, colour, count),
        order_after: order_numbers(&row.order_after),
    }
}

/// The kinds of knot that a band is tied in, in rows and ends, a sentence each.
fn knot_words(band: &Band) -> Vec<String> {
    let parts = [Part::LeadIn, Part::Repeat, Part::LeadOut];
    let rows = parts.into_iter().flat_map(|part| band.rows(part));
    let of_rows = rows.flat_map(Row::knots).map(|knot| knot.kind());
    let ends = [band.start().shape, band.finish().shape];
    let of_ends = ends.into_iter().flat_map(|shape| match shape {
        Shape::HalfTriangleLeft => vec![bringing_out(Side::Left, 1).0],
        Shape::HalfTriangleRight => vec![bringing_out(Side::Right, 1).0],
        // A bundle of one thread ties none.
        Shape::Triangle if band.thread_count() >= 4 => {
            vec![
                bringing_out(Side::Left, 1).0,
                bringing_out(Side::Right, 1).0,
            ]
        }
        Shape::Triangle | Shape::Flat | Shape::Loop => Vec::new(),
    });
    let used: BTreeSet<Kind> = of_rows.chain(of_ends).collect();
    let sentence = |kind: &Kind| sentence(&format!("{kind}: {}", kind.how()));
    used.iter().map(sentence).collect()
}

/// For which wrist and which thread the lengths are.
fn meant_for_words(band: &Band, wrist_mm: Option<f64>) -> Vec<String> {
    let wrist = wrist_mm.map(|mm| format!("For a wrist {:.1} cm round.", mm / 10.0));
    let thread_mm = band.gauge().thread_mm;
    let such_as = YarnClass::of_diameter(thread_mm)
        .map(|class| format!(", such as {}", class.words))
        .unwrap_or_default();
    let thread = format!(
        "For thread about {thread_mm:.1} mm thick{such_as}; another thread needs other lengths."
    );
    wrist.into_iter().chain([thread]).collect()
}

fn next_repeats(
    band: &Band,
    fabric: &Fabric,
    report: &Report,
    threads: &[HangingThread],
    begins: Option<u16>,
) -> Vec<NextRepeat> {
    let last = u64::from(band.repeats())
        .min(report.colour_repeats_to_close)
        .min(MOST_LISTED_REPEATS);
    let last = usize::try_from(last).expect("at most MOST_LISTED_REPEATS");
    let passes: Vec<Pass<'_>> = fabric
        .passes()
        .filter(|pass| pass.part() == Part::Repeat)
        .take(last)
        .collect();
    let Some(leads_from) = leading_index(fabric, &passes) else {
        return Vec::new();
    };
    let position = u16::try_from(leads_from + 1).expect("MAX_THREADS fits");
    let begins = begins == Some(position);
    let next = |pass: &Pass<'_>| NextRepeat {
        repeat: u64::from(pass.number()),
        leader: threads[pass.order_before()[leads_from].index()].clone(),
        position,
        begins,
        order: order_numbers(pass.order_before()),
    };
    passes.iter().skip(1).map(next).collect()
}

/// Where the thread hangs before a repeat by which the repeat is known: among the threads
/// that work, the first whose colour changes from repeat to repeat; where none does, the
/// first that changes at all. What works in the border of a band is the same every time and
/// tells nothing.
///
/// There is one wherever threads change places at all: two threads that never work do not
/// pass each other, so if all that work come back to their places, all others do.
fn leading_index(fabric: &Fabric, passes: &[Pass<'_>]) -> Option<usize> {
    let (first, later) = passes.split_first()?;
    let order = first.order_before();
    let places = working_places(*first);
    let changes = |is_other: &dyn Fn(Thread, Thread) -> bool| {
        let changed = |at: &usize| {
            let mut hang = later.iter().map(|pass| pass.order_before()[*at]);
            hang.any(|thread| is_other(order[*at], thread))
        };
        places.iter().copied().find(changed)
    };
    changes(&|a, b| fabric.colour(a) != fabric.colour(b)).or_else(|| changes(&|a, b| a != b))
}

/// Where the threads that work in a pass hang before it, in the turn in which they begin.
fn working_places(pass: Pass<'_>) -> Vec<usize> {
    let order = pass.order_before();
    let mut place_of = vec![0; order.len()];
    for (place, thread) in order.iter().enumerate() {
        place_of[thread.index()] = place;
    }
    let mut works = vec![false; order.len()];
    let begins = |knot: TiedKnot| {
        let thread = knot.working.index();
        (!std::mem::replace(&mut works[thread], true)).then_some(place_of[thread])
    };
    pass.knots().filter_map(begins).collect()
}

/// How the rows of the repeat are tied again, and what is listed of it.
fn again_words(band: &Band, listed: &[NextRepeat]) -> String {
    let repeats = band.repeats();
    if repeats == 1 {
        return String::new();
    }
    let rows = match band.repeat().len() {
        1 => "row",
        _ => "rows",
    };
    let again = format!("Tie the same {rows} again by position, {repeats} repeats in all.");
    match listed {
        [] => again,
        _ => format!("{again} Other threads hang at the positions now:"),
    }
}

/// When the colours hang as before the first repeat again, in a sentence or two, where so
/// many repeats have been listed.
fn comes_round_words(band: &Band, report: &Report, listed: u64) -> String {
    let (round, repeats) = (report.colour_repeats_to_close, u64::from(band.repeats()));
    if repeats == 1 {
        return String::new();
    }
    if round == 1 {
        return match report.repeats_to_close {
            1 => "After every repeat each thread hangs where it hung before.".to_owned(),
            _ => "After every repeat the colours hang as before it; only threads of one colour have changed places.".to_owned(),
        };
    }
    let further = if listed < round.min(repeats) {
        "The repeats after these go on in the same way. "
    } else {
        ""
    };
    // A lead-in has moved the threads before the first repeat begins.
    let as_before = match band.rows(Part::LeadIn) {
        [] => "at the start",
        _ => "before the first",
    };
    if round <= repeats {
        format!(
            "{further}After {round} repeats the colours hang as {as_before}, and it begins again."
        )
    } else {
        format!(
            "{further}The colours would hang as {as_before} after {round} repeats, which is more than this band has."
        )
    }
}

/// What the findings mean to whoever ties the band: for every kind what was found, and what
/// to do with scissors and thread in hand. Their own help speaks to the designer.
fn know_words(report: &Report) -> Vec<String> {
    let mut kinds: Vec<Code> = Vec::new();
    for finding in &report.findings {
        if !kinds.contains(&finding.code) {
            kinds.push(finding.code);
        }
    }
    let line = |code: Code| {
        let advice = code.advice()?;
        let found = report
            .findings
            .iter()
            .filter(|finding| finding.code == code);
        Some(format!("{} {advice}", found_words(found)))
    };
    kinds.into_iter().filter_map(line).collect()
}

/// What was found of one kind, as sentences. What goes for many threads is told of the
/// first.
fn found_words<'a>(findings: impl Iterator<Item = &'a Finding>) -> String {
    let (mut sentences, mut more) = (Vec::new(), Vec::new());
    for finding in findings {
        match finding.place.thread {
            Some(thread) if !sentences.is_empty() => more.push(thread),
            _ => sentences.push(sentence(&finding.message)),
        }
    }
    match more.as_slice() {
        [] => {}
        [one] => sentences.push(format!("The same goes for thread {one}.")),
        many => sentences.push(format!(
            "The same goes for threads {}.",
            listed(many, "and")
        )),
    }
    sentences.join(" ")
}

/// "teal: 2 pieces of 105 cm, threads 1 and 4".
fn cut_words(cut: &Cut) -> String {
    let pieces = counted(cut.pieces as u64, "piece");
    let length = format!("{:.0} cm", cut.cut_mm / 10.0);
    let colour = &cut.colour;
    match cut.fold_mm {
        Some(fold_mm) => {
            let pairs: Vec<String> = cut
                .threads
                .chunks(2)
                .map(|pair| listed(pair, "and"))
                .collect();
            format!(
                "{colour}: {pieces} of {length}, folded {:.0} cm from the left end, threads {}",
                fold_mm / 10.0,
                pairs.join("; ")
            )
        }
        None if cut.pieces == 1 => {
            format!("{colour}: {pieces} of {length}, thread {}", cut.threads[0])
        }
        None => format!(
            "{colour}: {pieces} of {length}, threads {}",
            listed(&cut.threads, "and")
        ),
    }
}

fn shopping_words(shopping: &Shopping) -> Vec<String> {
    let people = shopping.people_words();
    let owned = shopping.from_stash();
    if let (true, Some(owned)) = (shopping.purchases.is_empty(), &owned) {
        return vec![format!(
            "For {people}: nothing; all {owned} come from the stash."
        )];
    }
    let owned = owned.map(|owned| format!("; another {owned} come from the stash"));
    let all = format!(
        "For {people}: {} in all{}{}.",
        shopping.skeins_words(shopping.skeins),
        shopping
            .cost
            .map(|cost| format!(", which cost {cost:.2}"))
            .unwrap_or_default(),
        owned.unwrap_or_default()
    );
    let one = |purchase: &Purchase| {
        format!(
            "{}: {} for {}",
            purchase.colour,
            shopping.skeins_words(purchase.skeins),
            counted(purchase.pieces as u64, "piece")
        )
    };
    shopping.purchases.iter().map(one).chain([all]).collect()
}

fn measure_words(band: &Band, report: &Report, difficulty: &Difficulty) -> Vec<String> {
    let size = &report.size_mm;
    vec![
        format!(
            "About {:.1} cm wide and {:.1} cm long, {:.0} cm with both ends and their ties.",
            size.width / 10.0,
            size.length / 10.0,
            size.total / 10.0
        ),
        format!(
            "About {} at {} seconds for a knot: {}. Time twenty knots to know your own pace.",
            time_words(report.minutes),
            report.seconds_per_knot,
            report.time.words(band)
        ),
        format!(
            "Difficulty: {} ({}).",
            difficulty.degree(),
            difficulty.reasons()
        ),
    ]
}

fn named(number: u16, threads: &[HangingThread]) -> String {
    format!("{number} {}", threads[usize::from(number) - 1].colour.name)
}

fn start_words(band: &Band, threads: &[HangingThread], habits: &Habits) -> Vec<String> {
    let count = band.thread_count();
    let names = |order: &[u16]| {
        order
            .iter()
            .map(|number| named(*number, threads))
            .collect::<Vec<_>>()
            .join(", ")
    };
    let bring_out = |from: Side, order: &[u16], kind: Kind| {
        let knots = order.len() - 1;
        let last = order
            .last()
            .map(|number| named(*number, threads))
            .unwrap_or_default();
        vec![
            format!(
                "Bring the threads out of the bundle one by one, in this order: {}.",
                names(order)
            ),
            format!(
                "{} ties one {kind} knot round all that are still in the bundle and is laid to the {from}. \
                 The last, {last}, has nothing left to tie round: it ties none.",
                match knots {
                    1 => "The first".to_owned(),
                    _ => format!("Each of the first {knots}"),
                }
            ),
        ]
    };
    let shape = band.start().shape;
    if shape == Shape::Loop {
        return loop_start(band);
    }
    let tail_cm = (tail_mm(band.start().ties, count, &band.gauge(), habits) / 10.0).ceil();
    let mut words = vec![format!(
        "Lay the ends of the {count} threads together, and measure {tail_cm} cm from there: these are the tails."
    )];
    words.extend(match shape {
        Shape::Flat | Shape::Loop => vec![
            "Where the tails begin, knot all threads together. Tape the knot to the table, and lay the threads side by side in the order above.".to_owned(),
        ],
        Shape::HalfTriangleLeft | Shape::HalfTriangleRight => {
            let from = if shape == Shape::HalfTriangleLeft {
                Side::Left
            } else {
                Side::Right
            };
            let (kind, order) = bringing_out(from, count);
            let mut words = vec![
                "Where the tails begin, knot all threads into one bundle, and tape the knot to the table.".to_owned(),
            ];
            words.extend(bring_out(from, &order, kind));
            words
        }
        Shape::Triangle => triangle_start(count, bring_out),
    });
    words.extend(tie(band.start().ties, count, "above the start"));
    words
}

fn loop_start(band: &Band) -> Vec<String> {
    let count = band.thread_count();
    let mut words = vec![format!(
        "Fold each piece at the place given under \"Cut\", lay the folds together, and knot all {count} threads together below them, so that a loop of a finger's width stands above the knot. Tape the knot to the table."
    )];
    let Ok(folds) = folds(&band.thread_values()) else {
        words.push("Lay the ends side by side in the order above.".to_owned());
        return words;
    };
    let pairs: Vec<String> = folds
        .iter()
        .map(|fold| listed(&fold.halves, "and"))
        .collect();
    words.push(format!(
        "Lay the ends side by side in the order above. The two halves of one piece are threads {}.",
        pairs.join("; ")
    ));
    if folds.iter().any(|fold| !fold.side_by_side()) {
        words.push(
            "Where halves do not hang side by side, let them cross the others just below the knot."
                .to_owned(),
        );
    }
    words
}

/// "threads 1 to 4", or "thread 1".
fn threads_from(first: u16, last: u16) -> String {
    match first == last {
        true => format!("thread {first}"),
        false => format!("threads {first} to {last}"),
    }
}

/// Both halves of a triangle are brought out from the middle, where the point is.
fn triangle_start(
    count: u16,
    bring_out: impl Fn(Side, &[u16], Kind) -> Vec<String>,
) -> Vec<String> {
    let half = count / 2;
    let right = count - half;
    let between = if count % 2 == 1 {
        format!("; thread {right} hangs between them")
    } else {
        String::new()
    };
    let mut words = vec![format!(
        "Where the tails begin, knot all threads together. Tape the knot to the table, and divide the threads into two bundles: {}, and {}{between}.",
        threads_from(1, half),
        threads_from(right + 1, count)
    )];
    for (name, from, offset) in [("left", Side::Right, 0), ("right", Side::Left, right)] {
        if half < 2 {
            continue;
        }
        let (kind, order) = bringing_out(from, half);
        let order: Vec<u16> = order.iter().map(|position| position + offset).collect();
        let mut sentences = bring_out(from, &order, kind).into_iter();
        words.extend(
            sentences
                .next()
                .map(|first| format!("The {name} bundle. {first}")),
        );
        words.extend(sentences);
    }
    words
}

/// How the tails of this many threads become a tie, which can wait until the band is finished.
fn tie(ties: Ties, threads: u16, place: &str) -> Option<String> {
    match ties.of_threads(threads) {
        Ties::Twisted if threads == 2 => Some(format!(
            "Make the tie from the two tails {place}: twist each of them, let them twist round each other, and knot the ends."
        )),
        Ties::Twisted => Some(format!(
            "Make the tie from the tails {place}: divide them in two, twist each half, let the halves twist round each other, and knot the ends."
        )),
        Ties::Braided => Some(format!(
            "Make the tie from the tails {place}: braid them in three, as long as you need to tie the band on, and knot the end."
        )),
        Ties::Cut => None,
    }
}

/// How the tails become two ties, one of which passes through the loop of the start.
fn two_ties(ties: Ties, threads: u16) -> Option<String> {
    match ties.of_threads(threads / 2) {
        Ties::Twisted => Some("Divide the tails below the finish in two, and make a tie of each half: divide it once more, twist both parts, let them twist round each other, and knot the end. To close the band, one tie goes through the loop, and the two are knotted together.".to_owned()),
        Ties::Braided => Some("Divide the tails below the finish in two, and make a tie of each half: braid it in three, as long as you need to tie the band on, and knot the end. To close the band, one tie goes through the loop, and the two are knotted together.".to_owned()),
        Ties::Cut => None,
    }
}

fn stop_words(band: &Band, report: &Report) -> String {
    let repeats = band.repeats();
    let centimetres = report.size_mm.length / 10.0;
    let rows = band.repeat().len() as u64 * u64::from(repeats);
    let all = format!(
        "Stop after {} ({} in all)",
        counted(u64::from(repeats), "repeat"),
        counted(rows, "row")
    );
    let length =
        format!("is about {centimetres:.1} cm long; the length depends on how firmly you pull.");
    if band.rows(Part::LeadOut).is_empty() {
        format!("{all}, when the band {length}")
    } else {
        format!("{all} and tie the rows of the lead-out. The band then {length}")
    }
}

fn finish_words(band: &Band, final_order: &[u16]) -> Vec<String> {
    let gather = |from: Side, hanging: &[u16]| {
        let count = u16::try_from(hanging.len()).expect("MAX_THREADS fits");
        let (kind, order) = joining(from, count);
        let order: Vec<u16> = order
            .iter()
            .map(|position| hanging[usize::from(*position) - 1])
            .collect();
        match order.as_slice() {
            [] => String::new(),
            [one] => format!("Thread {one} is a bundle by itself."),
            [first, next @ ..] => format!(
                "Gather the threads from the {from} edge: thread {first} is the bundle, and each thread after it ties one {kind} knot round the bundle and joins it, in this order: {}.",
                listed(next, "and")
            ),
        }
    };
    let (half, last) = (final_order.len() / 2, final_order.len());
    let mut words = match band.finish().shape {
        Shape::Flat | Shape::Loop => {
            vec!["Knot all the threads together, close to the last row.".to_owned()]
        }
        Shape::HalfTriangleLeft => vec![
            gather(Side::Left, final_order),
            "Knot the bundle close to its last knot.".to_owned(),
        ],
        Shape::HalfTriangleRight => vec![
            gather(Side::Right, final_order),
            "Knot the bundle close to its last knot.".to_owned(),
        ],
        Shape::Triangle => vec![
            format!(
                "The left half. {}",
                gather(Side::Left, &final_order[..half])
            ),
            format!(
                "The right half. {}",
                gather(Side::Right, &final_order[last - half..])
            ),
            "Knot all threads together in the middle.".to_owned(),
        ],
    };
    let threads = band.thread_count();
    let meets_a_loop = band.start().shape == Shape::Loop && band.finish().shape == Shape::Loop;
    match band.finish().ties {
        Ties::Cut => words.push("Cut the tails short behind the knot.".to_owned()),
        ties if meets_a_loop && threads >= 4 => words.extend(two_ties(ties, threads)),
        ties => words.extend(tie(ties, threads, "below the finish")),
    }
    words
}

/// What the band was made by, and what the rows of this sheet depend on besides.
fn origin_words(band: &Band, habits: &Habits) -> String {
    let Some(origin) = band.origin() else {
        return String::new();
    };
    let settings: Vec<String> = origin
        .settings
        .iter()
        .map(|(name, value)| format!("{name} = {value}"))
        .collect();
    let with = if settings.is_empty() {
        String::new()
    } else {
        format!(" with {}", settings.join(", "))
    };
    let rows = match habits.half_rows_ahead {
        _ if habits.as_written => "rows as they are written; ".to_owned(),
        Some(ahead) => format!("at most {} ahead; ", counted(ahead as usize, "half row")),
        None => String::new(),
    };
    format!(
        "Made by the rule {}{with}; seed {}; {rows}Hitchwork {}.",
        origin.rule, origin.seed, origin.hitchwork
    )
}
