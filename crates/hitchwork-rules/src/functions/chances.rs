//! Chance, through the seed alone.

use hitchwork_core::chance::RandomRows;
use hitchwork_core::knot::Kind;
use hitchwork_core::near::did_you_mean;
use hitchwork_core::row::Row;
use rhai::plugin::*;
use rhai::{Array, FnPtr, Map};

use super::given::{
    PLACE_BYTES, check_entries, check_places, count_of_rows, group_named, listed, rows_in,
    thread_count, wrong_arguments,
};
use crate::error::Diagnostic;
use crate::kinds::type_name;
use crate::limits::Stopped;
use crate::run::{RunHandle, place};
use crate::trouble::{ScriptResult, ended, refused, stop, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "chances", chances);
}

fn between(context: &NativeCallContext, least: i64, most: i64) -> ScriptResult<i64> {
    if least > most {
        return Err(wrong_value(
            format!("there is no whole number from {least} to {most}"),
            "put the smaller end first",
        ));
    }
    // The number of values may be 2^64, which wraps to 0: then every word is one of them.
    let values = most.wrapping_sub(least).cast_unsigned().wrapping_add(1);
    let run = RunHandle::of(context);
    let mut state = run.state();
    let offset = if values == 0 {
        state.chance.word()
    } else {
        state.chance.below(values)
    };
    Ok(least.wrapping_add(offset.cast_signed()))
}

/// How often rows are drawn for a condition before it is given up, where nobody says.
const TRIES: i64 = 1000;

/// What a rule may ask of random rows.
const WISHES: [&str; 8] = [
    "symmetry",
    "kinds",
    "density",
    "smoothness",
    "longest_run",
    "fixed",
    "such_that",
    "tries",
];

/// Random rows as a rule asks for them.
struct RandomRowsRequest {
    recipe: RandomRows,
    /// How many knots the lattice has at most.
    knots: usize,
    such_that: Option<FnPtr>,
    tries: i64,
}

impl RandomRowsRequest {
    fn new(context: &NativeCallContext, threads: i64, rows: i64) -> ScriptResult<Self> {
        let count = thread_count(threads)?;
        let rows = count_of_rows(rows)?;
        check_entries(context, rows)?;
        let knots = rows.saturating_mul(usize::from(count) / 2);
        check_places(context, knots, PLACE_BYTES)?;
        Ok(Self {
            recipe: RandomRows::new(count, rows),
            knots,
            such_that: None,
            tries: TRIES,
        })
    }

    fn read(
        &mut self,
        context: &NativeCallContext,
        name: &str,
        value: Dynamic,
    ) -> ScriptResult<()> {
        // Other numbers would do: which one does not is said.
        let given = match value.is_int() || value.is_float() {
            true => value.to_string(),
            false => type_name(&value).to_string(),
        };
        let wrong = |help: &str| {
            Err(wrong_arguments(
                format!("{name} of random rows cannot be {given}"),
                help.to_owned(),
            ))
        };
        let number = value.as_float().ok().or_else(|| {
            let whole = value.as_int().ok()?;
            i32::try_from(whole).ok().map(f64::from)
        });
        match name {
            "symmetry" => match value.into_immutable_string() {
                Ok(text) => self.recipe.symmetry = group_named(&text)?,
                Err(_) => return wrong("give the name of a group, such as \"p2\""),
            },
            "kinds" => match value.try_cast::<Map>() {
                Some(kinds) => self.recipe.weights = weights(kinds)?,
                None => {
                    return wrong(
                        "say how likely each kind is compared with the others: #{ forward: 3, backward: 3, forward_backward: 1 }",
                    );
                }
            },
            "density" | "smoothness" => match number {
                Some(number) if name == "density" => self.recipe.density = number,
                Some(number) => self.recipe.smoothness = number,
                None => return wrong("give a number from 0.0 to 1.0"),
            },
            "longest_run" => match value.as_int().map(usize::try_from) {
                Ok(Ok(knots)) => self.recipe.longest_run = Some(knots),
                _ => return wrong("give a whole number of knots, from 1"),
            },
            "fixed" => self.recipe.fixed = rows_in(context, value, "fixed of random rows")?,
            "such_that" => match value.try_cast::<FnPtr>() {
                Some(condition) => self.such_that = Some(condition),
                None => return wrong("give a condition: |rows| repeats_to_close(rows, 8) <= 4"),
            },
            "tries" => match value.as_int() {
                Ok(tries @ 1..) => self.tries = tries,
                _ => return wrong("give a whole number, from 1"),
            },
            _ => {
                let meant = did_you_mean(name, WISHES);
                return Err(wrong_value(
                    format!("random rows have no setting called {name}"),
                    format!("{meant}there are {}", WISHES.join(", ")),
                ));
            }
        }
        Ok(())
    }

    fn draw(&self, context: &NativeCallContext) -> ScriptResult<Array> {
        let prepared = self.recipe.prepared().map_err(|error| refused(&error))?;
        let run = RunHandle::of(context);
        run.state().draws_rows = true;
        let at = place(context);
        for _ in 0..self.tries {
            // The condition may use chance itself: the state is not held while it runs.
            let drawn = prepared.draw_while(&mut run.state().chance, || {
                run.budget()
                    .spend(self.knots as u64)
                    .map_err(Undrawn::Stopped)
            });
            let rows = match drawn {
                Ok(rows) => rows,
                Err(Undrawn::Refused(error)) => return Err(refused(&error)),
                Err(Undrawn::Stopped(stopped)) => return ended(Err(stopped)),
            };
            let rows: Vec<Row> = match at {
                Some(place) => rows.into_iter().map(|row| row.made_at(place)).collect(),
                None => rows,
            };
            let rows = listed(rows);
            let Some(condition) = &self.such_that else {
                return Ok(rows);
            };
            let answer: Dynamic = condition.call_within_context(context, (rows.clone(),))?;
            match answer.as_bool() {
                Ok(true) => return Ok(rows),
                Ok(false) => {}
                Err(_) => {
                    return Err(wrong_arguments(
                        format!("such_that of random rows gave {}", type_name(&answer)),
                        "it must give true or false, for example |rows| repeats_to_close(rows, 8) <= 4"
                            .to_owned(),
                    ));
                }
            }
        }
        Err(stop(Diagnostic::new(
            "nothing-found",
            format!(
                "in {} tries no random rows met the condition such_that",
                self.tries
            ),
            "ask for less, allow more tries, or try another seed",
        )))
    }
}

/// Why no rows were drawn.
enum Undrawn {
    Refused(hitchwork_core::Error),
    Stopped(Stopped),
}

impl From<hitchwork_core::Error> for Undrawn {
    fn from(error: hitchwork_core::Error) -> Self {
        Self::Refused(error)
    }
}

/// How likely each kind is; those that are not named do not come.
fn weights(kinds: Map) -> ScriptResult<[u32; 4]> {
    let names = Kind::ALL.map(|kind| kind.name().replace('-', "_"));
    let mut weights = [0; 4];
    for (name, weight) in kinds {
        let Some(at) = names.iter().position(|known| *known == name.as_str()) else {
            let meant = did_you_mean(&name, names.iter().map(String::as_str));
            return Err(wrong_value(
                format!("there is no kind of knot called {name}"),
                format!("{meant}the kinds are {}", names.join(", ")),
            ));
        };
        let whole = weight
            .as_int()
            .ok()
            .and_then(|whole| u32::try_from(whole).ok());
        weights[at] = whole.ok_or_else(|| {
            wrong_value(
                format!("{name} knots cannot be {weight} times as likely"),
                "give a whole number from 0, which says how likely it is compared with the others",
            )
        })?;
    }
    Ok(weights)
}

#[export_module]
mod chances {
    /// `chance(probability)`: true with that probability, 0.0 to 1.0.
    ///
    /// - `probability`: 0.0 never, 1.0 always
    ///
    /// Errors: wrong-value when it is not from 0.0 to 1.0.
    ///
    /// ```rhai
    /// lattice(10, 20, |row, column| if chance(0.2) { backward(column) } else { forward(column) })
    /// ```
    #[rhai_fn(return_raw)]
    pub fn chance(context: NativeCallContext, probability: f64) -> ScriptResult<bool> {
        RunHandle::of(&context)
            .state()
            .chance
            .happens(probability)
            .map_err(|error| refused(&error))
    }

    /// `pick(list)`: one entry of a list, all equally likely.
    ///
    /// - `list`: at least one entry
    ///
    /// Errors: wrong-value when the list is empty.
    ///
    /// ```rhai
    /// lattice(10, 20, |row, column| pick([forward(column), backward(column)]))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn pick(context: NativeCallContext, list: Array) -> ScriptResult<Dynamic> {
        RunHandle::of(&context)
            .state()
            .chance
            .pick(&list)
            .cloned()
            .map_err(|error| refused(&error))
    }

    /// `roll(range)`: a whole number from a range such as 1..=6, all equally likely.
    ///
    /// - `range`: such as 1..=6
    ///
    /// Errors: wrong-value when there is no number in the range.
    ///
    /// ```rhai
    /// let rows = [];
    /// for number in 1..=8 { rows.push(forward(1..10).but(forward_backward(roll(2..9)))); }
    /// rows
    /// ```
    #[rhai_fn(return_raw)]
    pub fn roll(context: NativeCallContext, range: Dynamic) -> ScriptResult<i64> {
        if let Some(range) = range.read_lock::<std::ops::RangeInclusive<i64>>() {
            return between(&context, *range.start(), *range.end());
        }
        if let Some(range) = range.read_lock::<std::ops::Range<i64>>() {
            if range.is_empty() {
                let (first, end) = (range.start, range.end);
                return Err(wrong_value(
                    format!("there is no whole number in {first}..{end}"),
                    "the range ends before its last number, so that 1..7 rolls 1 to 6; with ..= the last belongs to it",
                ));
            }
            return between(&context, range.start, range.end - 1);
        }
        let kind = type_name(&range);
        Err(wrong_arguments(
            format!("roll cannot take {kind}"),
            "give a range such as 1..=6".to_owned(),
        ))
    }

    /// `shuffled(list)`: the entries in another order, all orders equally likely.
    ///
    /// - `list`: any list; it stays as it is
    ///
    /// ```rhai
    /// band(10).repeat(forward(1..10)).colours(shuffled(gradient("regatta", 10)))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn shuffled(context: NativeCallContext, list: Array) -> ScriptResult<Array> {
        let mut list = list;
        let run = RunHandle::of(&context);
        run.spend(list.len())?;
        run.state().chance.shuffle(&mut list);
        Ok(list)
    }

    /// `random_rows(threads, rows)`: rows that use the odd and the even columns alternately, as a
    /// lattice does, with knots by chance; every kind is equally likely everywhere.
    ///
    /// - `threads`: from 2 to 200
    /// - `rows`: how many rows; an even number on more than two threads, so that the repeat
    ///   fits on its beginning
    ///
    /// Errors: wrong-value when the number of rows is odd; limit-size when there are too many
    /// knots; nothing-found when no rows meet such_that.
    ///
    /// ```rhai
    /// let rows = random_rows(12, 24, #{
    ///     symmetry: "half turns",
    ///     kinds: #{ forward: 3, backward: 3, forward_backward: 1, backward_forward: 1 },
    ///     smoothness: 0.5,
    ///     longest_run: 4,
    ///     such_that: |rows| repeats_to_close(rows, 12) <= 6,
    /// });
    /// band(12).repeat(rows).colours(in_turn(contrasting("regatta", 4), 12))
    /// ```
    #[rhai_fn(return_raw, name = "random_rows")]
    pub fn random_rows_of_any_kind(
        context: NativeCallContext,
        threads: i64,
        rows: i64,
    ) -> ScriptResult<Array> {
        RandomRowsRequest::new(&context, threads, rows)?.draw(&context)
    }

    /// `random_rows(threads, rows, wishes)`: random rows within bounds.
    ///
    /// - `threads`: from 2 to 200
    /// - `rows`: how many rows; an even number on more than two threads
    /// - `wishes`: a map of any of these: symmetry, such as "glide" or "mirror along and
    ///   across", which the rows then have; kinds, how likely each kind of knot is compared
    ///   with the others, such as #{ forward: 3, backward: 1 } (kinds that are not named are
    ///   not used);
    ///   density, from 0.0 to 1.0, how likely it is that a place is tied at all; smoothness,
    ///   from 0.0 to
    ///   1.0, how likely a knot is to take the kind of its neighbour; longest_run, how many knots
    ///   of one kind may follow each other in a column; fixed, rows that are given, from the
    ///   first on; such_that, a condition |rows| … that the rows must meet, and tries, how
    ///   often they are drawn (default: 1,000)
    ///
    /// Errors: as random_rows(threads, rows).
    #[rhai_fn(return_raw, name = "random_rows")]
    pub fn random_rows_within_bounds(
        context: NativeCallContext,
        threads: i64,
        rows: i64,
        wishes: Map,
    ) -> ScriptResult<Array> {
        let mut wanted = RandomRowsRequest::new(&context, threads, rows)?;
        for (name, value) in wishes {
            wanted.read(&context, &name, value)?;
        }
        wanted.draw(&context)
    }
}
