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

/// A step: at a position, with these threads inside, in these kinds, to a position.
#[derive(Clone, Debug)]
struct ReadStep {
    position: usize,
    /// The working thread and the name of its colour, where the step says them.
    worker: Option<(u16, String)>,
    /// The name of its colour alone, where a step says no more.
    colour: Option<String>,
    stretches: Vec<(String, Vec<u16>)>,
    destination: String,
}

#[derive(Clone, Debug)]
struct ReadRow {
    part: String,
    number: String,
    steps: Vec<ReadStep>,
    order_now: Vec<u16>,
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
            if next.hangs_at.is_none() && tied[begun].working != leader {
                return Err(format!("thread {leader} does not begin repeat {repeat}"));
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
fn unwrapped(sheet: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for line in sheet.lines() {
        let first = line.split([' ', ':']).next().unwrap_or("");
        let number = first.strip_suffix('.');
        let is_step = number.is_some_and(|number| number.parse::<u32>().is_ok());
        let opens = [
            "As",
            "At",
            "Row",
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

fn rows(lines: &[String]) -> Result<Vec<ReadRow>, String> {
    let mut rows: Vec<ReadRow> = Vec::new();
    for line in section(lines, "ROWS")? {
        if line == "STOP" {
            break;
        }
        if let Some(heading) = line.strip_prefix("Row ") {
            let part = heading
                .split_once('(')
                .and_then(|(_, part)| part.strip_suffix(')'));
            let part = part.ok_or(format!("no heading: {line}"))?.to_owned();
            rows.push(ReadRow {
                part,
                number: heading.split(' ').next().unwrap_or("").to_owned(),
                steps: Vec::new(),
                order_now: Vec::new(),
            });
        } else if let Some((_, step)) = line.split_once(". Position ") {
            let row = rows.last_mut().ok_or("a step before any row")?;
            row.steps.push(read_step(step)?);
        } else if let Some(number) = line.strip_prefix("As row ") {
            let number = number.trim_end_matches('.');
            let (row, before) = rows.split_last_mut().ok_or("a row before any")?;
            let same = |other: &&ReadRow| other.part == row.part && other.number == number;
            let same = before.iter().find(same);
            row.steps = same.ok_or(format!("no row {number} before"))?.steps.clone();
        } else if line.starts_with("At position") {
            let row = rows.last_mut().ok_or("positions before any row")?;
            row.steps = read_positions(line)?;
        } else if let Some(order) = line.strip_prefix("Order now: ") {
            rows.last_mut().ok_or("an order before any row")?.order_now = numbers(order)?;
        }
    }
    Ok(rows)
}

/// `At positions 1 and 3: a forward-backward knot over the thread to the right; at position 6: a
/// backward-forward knot over the thread to the left. Every thread stays in its place.`
fn read_positions(text: &str) -> Result<Vec<ReadStep>, String> {
    let unreadable = || format!("unreadable positions: {text}");
    let knots = text
        .strip_suffix(". Every thread stays in its place.")
        .ok_or_else(unreadable)?;
    let mut steps = Vec::new();
    for clause in knots.split("; ") {
        let (positions, what) = clause.split_once(": a ").ok_or_else(unreadable)?;
        let (kind, side) = what
            .split_once(" knot over the thread to the ")
            .ok_or_else(unreadable)?;
        let told = match kind {
            "forward-backward" => "right",
            "backward-forward" => "left",
            _ => return Err(unreadable()),
        };
        if side != told {
            return Err(format!("a {kind} knot does not go to the {side}"));
        }
        let words = positions.split(' ').skip(2).filter(|word| *word != "and");
        let mut words = words.peekable();
        let mut all: Vec<u16> = Vec::new();
        while let Some(position) = words
            .peek()
            .and_then(|word| word.trim_end_matches(',').parse().ok())
        {
            all.push(position);
            words.next();
        }
        let colour = words.collect::<Vec<_>>().join(" ");
        for position in all {
            steps.push(ReadStep {
                position: position.into(),
                worker: None,
                colour: Some(colour.clone()).filter(|colour| !colour.is_empty()),
                stretches: vec![(kind.to_owned(), vec![0])],
                destination: format!("and it stays at position {position}"),
            });
        }
    }
    Ok(steps)
}

/// `1, thread 1, coral: forward knots over the next 2 threads (2, 3), then forward-backward
/// knot over thread 4, to position 3.`
fn read_step(text: &str) -> Result<ReadStep, String> {
    let unreadable = || format!("unreadable step: {text}");
    let (who, what) = text.split_once(": ").ok_or_else(unreadable)?;
    let mut who = who.splitn(3, ", ");
    let position = who
        .next()
        .and_then(|word| word.parse().ok())
        .ok_or_else(unreadable)?;
    let thread = who
        .next()
        .and_then(|word| word.strip_prefix("thread ")?.parse().ok())
        .ok_or_else(unreadable)?;
    let colour = who.next().ok_or_else(unreadable)?.to_owned();
    let end = what.rfind([')', ',']).ok_or_else(unreadable)?;
    let comma = what[end..]
        .find(", ")
        .map(|comma| end + comma)
        .ok_or_else(unreadable)?;
    let (knots, destination) = (
        &what[..comma],
        what[comma + 2..].trim_end_matches('.').to_owned(),
    );
    let stretch = |words: &str| {
        // "2 forward-backward knots over thread 4" go round the same thread.
        let (times, words) = match words.split_once(' ') {
            Some((count, rest)) if count.parse::<usize>().is_ok() => {
                (count.parse().unwrap_or(1), rest)
            }
            _ => (1, words),
        };
        let kind = words.split(' ').next().ok_or_else(unreadable)?.to_owned();
        let over = match (words.rsplit_once("over thread "), words.split_once('(')) {
            (Some((_, one)), None) => numbers(one)?.repeat(times),
            (None, Some((_, many))) => numbers(many.trim_end_matches(')'))?,
            _ => return Err(unreadable()),
        };
        Ok((kind, over))
    };
    let stretches = knots
        .split(", then ")
        .map(stretch)
        .collect::<Result<_, String>>()?;
    Ok(ReadStep {
        position,
        worker: Some((thread, colour)),
        colour: None,
        stretches,
        destination,
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
    for step in &row.steps {
        if let Some(colour) = &step.colour {
            let there = order.get(step.position - 1);
            if there.and_then(|thread| colours.get(usize::from(*thread) - 1)) != Some(colour) {
                return Err(format!(
                    "the thread at position {} is not {colour}",
                    step.position
                ));
            }
        }
        if let Some((thread, colour)) = &step.worker {
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
        let stated: Vec<u16> = step
            .stretches
            .iter()
            .flat_map(|(_, over)| over.clone())
            .collect();
        let inside: Vec<u16> = tied[before..].iter().map(|knot| knot.core).collect();
        if step.worker.is_some() {
            same("inside the knots", &stated, &inside)?;
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
    same("after the row", &row.order_now, order)
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
    for (kind, over) in &step.stretches {
        for _ in over {
            let (neighbour, moves) = match kind.as_str() {
                "forward" => (at + 1, true),
                "backward" => (at.wrapping_sub(1), true),
                "forward-backward" => (at + 1, false),
                "backward-forward" => (at.wrapping_sub(1), false),
                other => return Err(format!("there is no {other} knot")),
            };
            let core = *neighbour
                .checked_sub(1)
                .and_then(|index| order.get(index))
                .ok_or("a knot beyond the edge")?;
            let column = at.min(neighbour);
            tied.push(FollowedKnot {
                column,
                kind: kind.clone(),
                working: *order.get(at - 1).ok_or("a knot beyond the edge")?,
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
