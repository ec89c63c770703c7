//! A follower who has nothing but the written sheet: reads it, ties it, and minds every
//! order that it states. Shares no code with what writes the sheet or ties the band.

use std::collections::BTreeMap;

/// A knot as the follower tied it: the column between the two threads, from 1, the words
/// for its kind, the numbers of the thread that wrapped and of the one inside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FollowedKnot {
    /// The column, from 1.
    pub column: usize,
    /// "forward", "backward-forward" and so on.
    pub kind: String,
    /// The thread that wrapped.
    pub working: u16,
    /// The thread inside.
    pub core: u16,
}

/// Knots of one kind with these other threads, tied by the thread of the step or round it.
#[derive(Clone, Debug)]
struct ReadStretch {
    kind: String,
    others: Vec<u16>,
    round_it: bool,
}

/// A step: from a position, in these knots, to a position.
#[derive(Clone, Debug)]
struct ReadStep {
    position: usize,
    /// Its thread and the name of its colour, where the step says them.
    named: Option<(u16, String)>,
    stretches: Vec<ReadStretch>,
    destination: String,
}

/// What is said of the order after a row.
#[derive(Clone, Debug)]
enum ReadOrder {
    Given(Vec<u16>),
    /// Nothing, so that it is as before.
    AsBefore,
}

#[derive(Clone, Debug)]
struct ReadRow {
    part: String,
    number: usize,
    steps: Vec<ReadStep>,
    order_now: ReadOrder,
}

/// Ties a written sheet.
///
/// # Errors
/// At the first thing that cannot be done as written, or that comes out otherwise than
/// the sheet says.
pub fn tie(sheet: &str) -> Result<Vec<FollowedKnot>, String> {
    let lines = unwrapped(sheet);
    let colours = threads(&lines)?;
    let rows = rows(&lines)?;
    let repeats = repeats(&lines)?;
    let next_repeats = next_repeats(&lines, &colours)?;
    let of = |part: &str| -> Vec<ReadRow> {
        rows.iter()
            .filter(|row| row.part == part)
            .cloned()
            .collect()
    };

    let mut order: Vec<u16> = (1..).take(colours.len()).collect();
    let mut tied = Vec::new();
    for row in of("lead-in") {
        tie_as_written(&row, &mut order, &colours, &mut tied)?;
    }
    let mut orders = vec![order.clone()];
    for repeat in 1..=repeats {
        let begun = tied.len();
        if let Some(next) = next_repeats.get(&repeat) {
            same(&format!("before repeat {repeat}"), &next.order, &order)?;
            let leader = next.leader;
            if next
                .hangs_at
                .is_some_and(|at| order.get(at - 1) != Some(&leader))
            {
                return Err(format!(
                    "thread {leader} hangs elsewhere before repeat {repeat}"
                ));
            }
        }
        if let Some(next) = next_repeats
            .get(&repeat)
            .filter(|next| next.hangs_at.is_none())
        {
            let leader = next.leader;
            let first = of("repeat")
                .into_iter()
                .next()
                .and_then(|row| row.steps.into_iter().next());
            let first = first.filter(|step| step.named.is_some());
            let begins = first.and_then(|step| order.get(step.position - 1).copied());
            if begins != Some(leader) {
                return Err(format!("thread {leader} does not begin repeat {repeat}"));
            }
        }
        for row in of("repeat") {
            if repeat == 1 {
                tie_as_written(&row, &mut order, &colours, &mut tied)?;
            } else {
                tie_by_position(&row, &mut order, &mut tied)?;
            }
        }
        if let Some(next) = next_repeats.get(&repeat) {
            let leader = next.leader;
            if !tied[begun..].iter().any(|knot| knot.working == leader) {
                return Err(format!("thread {leader} never works in repeat {repeat}"));
            }
        }
        orders.push(order.clone());
    }
    comes_round(&lines, &orders, &colours)?;
    for row in of("lead-out") {
        tie_as_written(&row, &mut order, &colours, &mut tied)?;
    }
    Ok(tied)
}

/// Minds what the sheet says of the colours coming round, by the orders before the first
/// repeat and after each.
fn comes_round(lines: &[String], orders: &[Vec<u16>], colours: &[String]) -> Result<(), String> {
    let found = |phrase: &str| lines.iter().find(|line| line.contains(phrase));
    let hang = |order: &[u16]| -> Vec<&String> {
        let colour = |thread: &u16| &colours[usize::from(*thread) - 1];
        order.iter().map(colour).collect()
    };
    let repeats = orders.len() - 1;
    let round = orders[1..]
        .iter()
        .position(|order| hang(order) == hang(&orders[0]))
        .map(|index| index + 1);
    let threads_stay = orders.iter().all(|order| *order == orders[0]);
    let colours_stay = orders.iter().all(|order| hang(order) == hang(&orders[0]));
    let number_after = |line: &str, phrase: &str| -> Option<usize> {
        line.split_once(phrase)?.1.split(' ').next()?.parse().ok()
    };
    let is_so = if let Some(line) = found(", and it begins again.") {
        // A number that is not the first is wrong, too.
        round.is_some() && number_after(line, "After ") == round && round > Some(1)
    } else if let Some(line) = found("The colours would hang as ") {
        let says = number_after(line, " after ");
        round.is_none() && says.is_some_and(|says| says > repeats)
    } else if found("After every repeat each thread hangs where it hung before.").is_some() {
        threads_stay
    } else if found("After every repeat the colours hang as before it").is_some() {
        colours_stay && !threads_stay
    } else {
        repeats == 1
    };
    if is_so && found("Other threads hang").is_some() != (repeats > 1 && !colours_stay) {
        return Err("the sheet says that other threads hang there, and lists none".to_owned());
    }
    match is_so {
        true => Ok(()),
        false => Err(format!(
            "the colours come round after {round:?} of {repeats} repeats, and the sheet says otherwise"
        )),
    }
}

/// Joins lines that were broken for width: a continuation is indented, or follows a
/// paragraph that has not ended.
#[must_use]
pub fn unwrapped(sheet: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for line in sheet.lines() {
        let first = line.split([' ', ':']).next().unwrap_or("");
        let number = first.strip_suffix('.');
        let is_step = number.is_some_and(|number| number.parse::<u32>().is_ok());
        let opens = [
            "As",
            "Each",
            "Position",
            "Row",
            "Rows",
            "Order",
            "Repeat",
            "Tie",
            "After",
            "Stop",
            "Positions",
            "Numbered",
        ];
        let begins = line.is_empty()
            || is_step
            || is_thread_line(line)
            || opens.contains(&first)
            || line.starts_with("The colours ")
            || line.starts_with("The repeats ")
            || line
                .chars()
                .all(|letter| letter.is_uppercase() || " -=".contains(letter));
        match lines.last_mut() {
            Some(last) if !begins && !last.is_empty() => {
                last.push(' ');
                last.push_str(line.trim());
            }
            _ => lines.push(line.to_owned()),
        }
    }
    lines
}

/// `   3  light yellow`: a number set to the right, two spaces, a name.
fn is_thread_line(line: &str) -> bool {
    let number = line.get(..4).unwrap_or("").trim();
    number.parse::<u16>().is_ok() && line.get(4..6) == Some("  ")
}

fn section<'a>(lines: &'a [String], title: &str) -> Result<&'a [String], String> {
    let start = lines
        .iter()
        .position(|line| line == title)
        .ok_or(format!("the sheet has no part {title}"))?;
    Ok(&lines[start + 1..])
}

fn threads(lines: &[String]) -> Result<Vec<String>, String> {
    let mut colours = Vec::new();
    for line in section(lines, "THREADS")?
        .iter()
        .skip(1)
        .take_while(|line| !line.is_empty())
    {
        let (number, colour) = line
            .trim()
            .split_once("  ")
            .ok_or(format!("no thread: {line}"))?;
        if number.parse() != Ok(colours.len() + 1) {
            return Err(format!("thread {number} is out of turn"));
        }
        colours.push(colour.to_owned());
    }
    Ok(colours)
}

fn numbers(text: &str) -> Result<Vec<u16>, String> {
    let word = |word: &str| {
        word.parse()
            .map_err(|_| format!("no thread number: {word}"))
    };
    text.split([' ', ','])
        .filter(|word| !word.is_empty())
        .map(word)
        .collect()
}

/// "3", "3 and 4" or "3 to 5".
fn from_to(words: &str) -> Option<(usize, usize)> {
    if let Some((first, last)) = words.split_once(" and ") {
        let (first, last): (usize, usize) = (first.parse().ok()?, last.parse().ok()?);
        return (first + 1 == last).then_some((first, last));
    }
    match words.split_once(" to ") {
        Some((first, last)) => Some((first.parse().ok()?, last.parse().ok()?)),
        None => words.parse().ok().map(|one| (one, one)),
    }
}

fn rows(lines: &[String]) -> Result<Vec<ReadRow>, String> {
    let mut rows: Vec<ReadRow> = Vec::new();
    // Where the rows begin that are told together.
    let mut told = 0;
    let sides = sides_of_positions(lines);
    for line in section(lines, "ROWS")? {
        let unreadable = || format!("unreadable: {line}");
        if line == "STOP" {
            break;
        }
        let heading = line.strip_prefix("Rows ").or(line.strip_prefix("Row "));
        if let Some(heading) = heading {
            let part = heading
                .split_once('(')
                .and_then(|(_, part)| part.strip_suffix(')'));
            let part = part.ok_or_else(unreadable)?.to_owned();
            let (numbers, _) = heading.split_once(" of ").ok_or_else(unreadable)?;
            let (first, last) = from_to(numbers).ok_or_else(unreadable)?;
            let in_part = rows.iter().filter(|row| row.part == part).count();
            if first != in_part + 1 || last < first {
                return Err(format!("out of turn: {line}"));
            }
            told = rows.len();
            rows.extend((first..=last).map(|number| ReadRow {
                part: part.clone(),
                number,
                steps: Vec::new(),
                order_now: ReadOrder::AsBefore,
            }));
        } else if let Some((_, step)) = line.split_once(". Position ") {
            let row = rows.last_mut().ok_or("a step before any row")?;
            row.steps.push(read_step(step)?);
        } else if line.starts_with("As row") || line.starts_with("Each as row") {
            let count = rows.len() - told;
            let sources = sources(line, count).ok_or_else(unreadable)?;
            for (at, source) in (told..).zip(sources) {
                let (before, row) = rows.split_at_mut(at);
                let row = row.first_mut().ok_or_else(unreadable)?;
                let mut same = before.iter();
                let same = same.find(|other| other.part == row.part && other.number == source);
                let same = same.ok_or(format!("no row {source} before"))?;
                row.steps.clone_from(&same.steps);
                if count > 1 {
                    row.order_now = same.order_now.clone();
                }
            }
        } else if line.starts_with("Position ")
            || line.starts_with("Positions ") && !line.starts_with("Positions count")
        {
            let row = rows.last_mut().ok_or("positions before any row")?;
            row.steps = read_positions(line, &sides)?;
        } else if let Some(order) = line.strip_prefix("Order now: ") {
            let row = rows.last_mut().ok_or("an order before any row")?;
            row.order_now = ReadOrder::Given(numbers(order)?);
        }
    }
    match rows.iter().find(|row| row.steps.is_empty()) {
        Some(row) => Err(format!("row {} says nothing", row.number)),
        None => Ok(rows),
    }
}

/// As which rows so many rows are tied: `As row 1.`, `Each as row 1.`, `As row 3, then row 2.`, `As rows
/// 5 back to 3.`, `As rows 1 to 4.`, `As rows 1 and 2, 3 times over.`
fn sources(line: &str, count: usize) -> Option<Vec<usize>> {
    let words = line.strip_suffix('.')?;
    if let Some(one) = words.strip_prefix("Each as row ") {
        return Some(vec![one.parse().ok()?; count]);
    }
    let found = if let Some(words) = words.strip_prefix("As row ") {
        let both: Vec<&str> = words.split(", then row ").collect();
        both.into_iter()
            .map(|one| one.parse().ok())
            .collect::<Option<Vec<usize>>>()?
    } else {
        let words = words.strip_prefix("As rows ")?;
        if let Some((first, last)) = words.split_once(" back to ") {
            let (first, last): (usize, usize) = (first.parse().ok()?, last.parse().ok()?);
            (last..=first).rev().collect()
        } else {
            let (words, times) = match words.split_once(", ") {
                Some((words, times)) => (words, times.strip_suffix(" times over")?.parse().ok()?),
                None => (words, 1),
            };
            let (first, last) = from_to(words)?;
            (first..=last).collect::<Vec<_>>().repeat(times)
        }
    };
    (found.len() == count).then_some(found)
}

/// To which side each kind goes where a row names positions, as the sheet says.
fn sides_of_positions(lines: &[String]) -> BTreeMap<String, String> {
    let told = "Where a row names positions, the thread at each ties one knot: ";
    let found = lines
        .iter()
        .find_map(|line| line.split_once(told)?.1.split('.').next());
    let mut sides = BTreeMap::new();
    for clause in found.unwrap_or_default().split(", ") {
        if let Some((kinds, side)) = clause.split_once(" over the thread to its ") {
            sides.extend(
                kinds
                    .split(" and ")
                    .map(|kind| (kind.to_owned(), side.to_owned())),
            );
        }
    }
    sides
}

/// `Positions 1 and 3: forward-backward; 6: backward-forward.`
fn read_positions(text: &str, sides: &BTreeMap<String, String>) -> Result<Vec<ReadStep>, String> {
    let unreadable = || format!("unreadable positions: {text}");
    let (_, knots) = text.split_once(' ').ok_or_else(unreadable)?;
    let knots = knots.strip_suffix('.').ok_or_else(unreadable)?;
    let mut steps = Vec::new();
    for clause in knots.split("; ") {
        let (positions, kind) = clause.split_once(": ").ok_or_else(unreadable)?;
        let (side, ends_at): (&str, fn(u16) -> u16) = match kind {
            "forward" => ("right", |position| position + 1),
            "backward" => ("left", |position| position - 1),
            "forward-backward" => ("right", |position| position),
            "backward-forward" => ("left", |position| position),
            _ => return Err(unreadable()),
        };
        if sides.get(kind).map(String::as_str) != Some(side) {
            return Err(format!(
                "the sheet does not say to which side a {kind} knot goes"
            ));
        }
        let positions = positions.split(' ').filter(|word| *word != "and");
        for position in numbers(&positions.collect::<Vec<_>>().join(" "))? {
            steps.push(ReadStep {
                position: position.into(),
                named: None,
                stretches: vec![ReadStretch {
                    kind: kind.to_owned(),
                    others: vec![0],
                    round_it: false,
                }],
                destination: format!("to position {}", ends_at(position)),
            });
        }
    }
    Ok(steps)
}

/// `1, thread 1, coral: forward knots over the next 2 threads (2, 3), then forward-backward
/// knot over thread 4, to position 3.`, or `1, thread 1, coral, leads to the right edge: each of the
/// next 2 threads (2, 3) ties a backward knot round it, then it ties a forward knot over thread 4.`
fn read_step(text: &str) -> Result<ReadStep, String> {
    let unreadable = || format!("unreadable step: {text}");
    let (who, what) = text.split_once(": ").ok_or_else(unreadable)?;
    let mut who = who.splitn(3, ", ");
    let position = who.next().and_then(|word| word.parse().ok());
    let thread = who
        .next()
        .and_then(|word| word.strip_prefix("thread ")?.parse().ok());
    let colour = who.next().ok_or_else(unreadable)?;
    let what = what.strip_suffix('.').ok_or_else(unreadable)?;
    let (colour, knots, destination, leads) = match colour.split_once(", leads ") {
        Some((colour, destination)) => (colour, what, destination, true),
        None => {
            let end = what.rfind([')', ',']).ok_or_else(unreadable)?;
            let comma = what[end..].find(", ").ok_or_else(unreadable)?;
            let (knots, destination) = what.split_at(end + comma);
            (colour, knots, &destination[2..], false)
        }
    };
    let stretches = knots.split(", then ");
    let stretches: Option<Vec<ReadStretch>> =
        stretches.map(|words| read_stretch(words, leads)).collect();
    Ok(ReadStep {
        position: position.ok_or_else(unreadable)?,
        named: Some((thread.ok_or_else(unreadable)?, colour.to_owned())),
        stretches: stretches.ok_or_else(unreadable)?,
        destination: destination.to_owned(),
    })
}

/// `forward knots over the next 2 threads (2, 3)`, `2 forward-backward knots over thread 4`; of a
/// leader `it ties a forward knot over thread 4`, `thread 4 ties a backward knot round it`.
fn read_stretch(words: &str, leads: bool) -> Option<ReadStretch> {
    let threads = |words: &str| match words.split_once(" (") {
        Some((told, many)) => {
            let many = numbers(many.strip_suffix(')')?).ok()?;
            let told = told.split_once("the next ")?.1.split(' ').next()?;
            (told.parse() == Ok(many.len())).then_some(many)
        }
        None => numbers(words.rsplit_once("thread ")?.1).ok(),
    };
    if let Some((who, what)) = words.split_once(" ties a ").filter(|(who, _)| *who != "it") {
        let kind = what.strip_suffix(" knot round it").filter(|_| leads)?;
        if who.contains(" to its left") != (kind == "forward" && who.contains("next")) {
            return None;
        }
        return Some(ReadStretch {
            kind: kind.to_owned(),
            others: threads(who)?,
            round_it: true,
        });
    }
    let words = match leads {
        true => words.strip_prefix("it ties ")?,
        false => words,
    };
    let words = words.strip_prefix("a ").unwrap_or(words);
    // "2 forward-backward knots over thread 4" go round the same thread.
    let (times, words) = match words.split_once(' ')? {
        (count, rest) if count.parse::<usize>().is_ok() => (count.parse().ok()?, rest),
        _ => (1, words),
    };
    Some(ReadStretch {
        kind: words.split(' ').next()?.to_owned(),
        others: threads(words)?.repeat(times),
        round_it: false,
    })
}

fn repeats(lines: &[String]) -> Result<u64, String> {
    let stop = section(lines, "STOP")?
        .first()
        .ok_or("nothing says when to stop")?;
    let count = stop
        .strip_prefix("Stop after ")
        .and_then(|rest| rest.split(' ').next()?.parse().ok());
    count.ok_or(format!("no number of repeats: {stop}"))
}

/// What a later repeat starts from: the thread by which it is known, where that hangs unless
/// it begins, and the order.
struct Next {
    leader: u16,
    hangs_at: Option<usize>,
    order: Vec<u16>,
}

fn next_repeats(lines: &[String], colours: &[String]) -> Result<BTreeMap<u64, Next>, String> {
    let mut repeats = BTreeMap::new();
    for line in lines
        .iter()
        .filter(|line| line.starts_with("Repeat ") && line.contains("Order before it: "))
    {
        let unreadable = || format!("unreadable: {line}");
        let (head, order) = line
            .split_once("Order before it: ")
            .ok_or_else(unreadable)?;
        let repeat = head
            .split([' ', ':'])
            .nth(1)
            .and_then(|word| word.parse().ok())
            .ok_or_else(unreadable)?;
        let (thread, colour) = head
            .split_once("thread ")
            .and_then(|(_, leader)| leader.trim().strip_suffix('.')?.split_once(", "))
            .ok_or_else(unreadable)?;
        let hangs_at = match head.split_once("at position ") {
            Some((_, at)) => at.split(' ').next().and_then(|word| word.parse().ok()),
            None if head.contains(" begins with ") => None,
            None => return Err(unreadable()),
        };
        let leader: u16 = thread.parse().map_err(|_| unreadable())?;
        if colours.get(usize::from(leader) - 1).map(String::as_str) != Some(colour) {
            return Err(format!("thread {leader} is not {colour}: {line}"));
        }
        let order = numbers(order)?;
        let next = Next {
            leader,
            hangs_at,
            order,
        };
        repeats.insert(repeat, next);
    }
    let leaders: Vec<u16> = repeats.values().map(|next: &Next| next.leader).collect();
    if leaders.len() > 1 && leaders.iter().all(|leader| *leader == leaders[0]) {
        return Err(format!(
            "thread {} leads every repeat, which tells nothing",
            leaders[0]
        ));
    }
    Ok(repeats)
}

fn same(when: &str, stated: &[u16], found: &[u16]) -> Result<(), String> {
    if stated == found {
        Ok(())
    } else {
        Err(format!(
            "{when} the sheet says {stated:?}, and the threads hang {found:?}"
        ))
    }
}

/// Ties a row minding every thread, colour and place that it names.
fn tie_as_written(
    row: &ReadRow,
    order: &mut [u16],
    colours: &[String],
    tied: &mut Vec<FollowedKnot>,
) -> Result<(), String> {
    let before_row = order.to_vec();
    for step in &row.steps {
        if let Some((thread, colour)) = &step.named {
            if order.get(step.position - 1) != Some(thread) {
                return Err(format!(
                    "thread {thread} does not hang at position {}",
                    step.position
                ));
            }
            if colours.get(usize::from(*thread) - 1) != Some(colour) {
                return Err(format!("thread {thread} is not {colour}"));
            }
        }
        let before = tied.len();
        let to = tie_step(step, order, tied)?;
        if let Some((thread, _)) = &step.named {
            let stated: Vec<u16> = step
                .stretches
                .iter()
                .flat_map(|stretch| stretch.others.clone())
                .collect();
            let other = |knot: &FollowedKnot| match knot.working == *thread {
                true => knot.core,
                false => knot.working,
            };
            let met: Vec<u16> = tied[before..].iter().map(other).collect();
            same("in the knots", &stated, &met)?;
        }
        let last = order.len();
        let arrives = match step.destination.as_str() {
            "to the left edge" => to == 1,
            "to the right edge" => to == last,
            words => words.rsplit(' ').next().and_then(|word| word.parse().ok()) == Some(to),
        };
        if !arrives {
            return Err(format!(
                "what hangs at position {} goes {} but ends at position {to}",
                step.position, step.destination
            ));
        }
    }
    match &row.order_now {
        ReadOrder::Given(stated) => same("after the row", stated, order),
        ReadOrder::AsBefore => same("where nothing is said", &before_row, order),
    }
}

/// Ties a row again with whatever threads hang at its positions.
fn tie_by_position(
    row: &ReadRow,
    order: &mut [u16],
    tied: &mut Vec<FollowedKnot>,
) -> Result<(), String> {
    for step in &row.steps {
        tie_step(step, order, tied)?;
    }
    Ok(())
}

/// Ties the knots of a step and says at which position its thread ends.
fn tie_step(
    step: &ReadStep,
    order: &mut [u16],
    tied: &mut Vec<FollowedKnot>,
) -> Result<usize, String> {
    let mut at = step.position;
    for stretch in &step.stretches {
        for _ in &stretch.others {
            let (goes_right, moves) = match stretch.kind.as_str() {
                "forward" => (true, true),
                "backward" => (false, true),
                "forward-backward" => (true, false),
                "backward-forward" => (false, false),
                other => return Err(format!("there is no {other} knot")),
            };
            let neighbour = match goes_right == stretch.round_it {
                true => at.wrapping_sub(1),
                false => at + 1,
            };
            let hangs = |position: usize| {
                let at = position.checked_sub(1).and_then(|index| order.get(index));
                at.copied().ok_or("a knot beyond the edge")
            };
            let (own, other) = (hangs(at)?, hangs(neighbour)?);
            let (working, core) = match stretch.round_it {
                true => (other, own),
                false => (own, other),
            };
            tied.push(FollowedKnot {
                column: at.min(neighbour),
                kind: stretch.kind.clone(),
                working,
                core,
            });
            if moves {
                order.swap(at - 1, neighbour - 1);
                at = neighbour;
            }
        }
    }
    Ok(at)
}
