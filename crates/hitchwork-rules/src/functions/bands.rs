//! The band and its ends.

use hitchwork_core::band::{MAX_NOTES_LETTERS, MAX_THREADS, MAX_TITLE_LETTERS, check_letters};
use hitchwork_core::colour::Colour;
use hitchwork_core::craft::{End, Gauge, Shape, Ties};
use hitchwork_core::knot::{Kind, Side};
use hitchwork_core::row::Row;
use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use super::colours::colours_in;
use super::given::{check_entries, check_knots, knots_of, rows_in, thread_count};
use crate::run::place;
use crate::sketch::{Colours, Sketch};
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<Sketch>("band");
    module.set_custom_type::<End>("end");
    module.set_custom_type::<Side>("side");
    combine_with_exported_module!(module, "bands", bands);
}

fn end(shape: Shape) -> End {
    End {
        shape,
        ties: Ties::default(),
    }
}

fn drift_of(gradient: &Array, first: i64, steps: i64) -> ScriptResult<Colours> {
    let gradient: Vec<Colour> = colours_in(gradient, "a drift")?;
    let count = gradient.len();
    let most = usize::from(MAX_THREADS);
    if count > most {
        return Err(wrong_value(
            format!("a drift of {count} colours takes more threads than any band has"),
            format!("give at most {most} colours, one for each thread"),
        ));
    }
    let first = usize::try_from(first)
        .ok()
        .filter(|first| (1..=count).contains(first))
        .ok_or_else(|| {
            wrong_value(
                format!("a drift of {count} colours cannot begin with colour {first}"),
                format!("use a number from 1 to {count}"),
            )
        })?;
    let steps = usize::try_from(steps)
        .ok()
        .filter(|steps| (1..count.max(2)).contains(steps))
        .ok_or_else(|| {
            let message = match i64::try_from(count) == Ok(steps) {
                true => format!("{count} colours that move {steps} steps are back where they were"),
                false => format!("{count} colours cannot drift {steps} steps at a time"),
            };
            wrong_value(message, format!("use 1 to {} steps", count.max(2) - 1))
        })?;
    Ok(Colours::Drift {
        gradient: gradient.into(),
        first: first - 1,
        steps,
    })
}

fn beside(
    context: &NativeCallContext,
    left: Sketch,
    right: &Sketch,
    joining: &Row,
) -> ScriptResult<Sketch> {
    let threads = thread_count(i64::from(left.threads) + i64::from(right.threads))?;
    // Refuses what grows too large before it is made.
    let check = |left: &[Row], right: &[Row]| {
        super::row_changes::check_joined(context, left, right, joining)
    };
    check(&left.lead_in, &right.lead_in)?;
    check(&left.lead_out, &right.lead_out)?;
    let (repeat, other) = super::row_changes::in_step(context, &left.repeat, &right.repeat)?;
    check(&repeat, &other)?;
    check_hanging(context, &left)?;
    check_hanging(context, right)?;
    left.beside(right, threads, joining)
        .map_err(|error| refused(&error))
}

/// Counts the knots of a band, all of which are about to be made again.
fn check_all(context: &NativeCallContext, band: &Sketch) -> ScriptResult<()> {
    for part in [&band.lead_in, &band.repeat, &band.lead_out] {
        check_knots(context, knots_of(part))?;
    }
    check_hanging(context, band)
}

/// Counts what it takes to find how the threads of a band hang.
fn check_hanging(context: &NativeCallContext, band: &Sketch) -> ScriptResult<()> {
    check_knots(context, knots_of(&band.repeat))
}

#[export_module]
mod bands {
    /// `band(threads)`: a band of that many threads, to give rows and colours to.
    ///
    /// - `threads`: from 2 to 200
    ///
    /// Errors: wrong-value when no band has this many threads.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn band(threads: i64) -> ScriptResult<Sketch> {
        Ok(Sketch::new(thread_count(threads)?))
    }

    /// `band.title(text)`: what the band is called.
    ///
    /// Without it, the rule's name and the number of threads.
    ///
    /// - `text`: a few words, at most 200 letters
    ///
    /// Errors: wrong-value when it is longer.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).title("Slack water")
    /// ```
    #[rhai_fn(return_raw)]
    pub fn title(band: Sketch, text: ImmutableString) -> ScriptResult<Sketch> {
        check_letters("the title", &text, MAX_TITLE_LETTERS).map_err(|error| refused(&error))?;
        Ok(Sketch {
            title: Some(text.as_str().into()),
            ..band
        })
    }

    /// `band.notes(text)`: what its designer wants to say about it.
    ///
    /// - `text`: a sentence or several, at most 10,000 letters
    ///
    /// Errors: wrong-value when it is longer.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).notes("Tie it loosely: it tightens as it is worn.")
    /// ```
    #[rhai_fn(return_raw)]
    pub fn notes(band: Sketch, text: ImmutableString) -> ScriptResult<Sketch> {
        check_letters("the text of the notes", &text, MAX_NOTES_LETTERS)
            .map_err(|error| refused(&error))?;
        Ok(Sketch {
            notes: text.as_str().into(),
            ..band
        })
    }

    /// `band.lead_in(rows)`: rows tied once, before the repeats.
    ///
    /// - `rows`: a row, or a list of rows
    ///
    /// Errors: wrong-arguments when it is given anything but rows.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).lead_in(forward_backward(1..6).times(2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn lead_in(
        context: NativeCallContext,
        band: Sketch,
        rows: Dynamic,
    ) -> ScriptResult<Sketch> {
        Ok(Sketch {
            lead_in: rows_in(&context, rows, "the lead-in")?.into(),
            ..band
        })
    }

    /// `band.repeat(rows)`: rows tied again and again.
    ///
    /// - `rows`: a row, or a list of rows
    ///
    /// Errors: wrong-arguments when it is given anything but rows; wrong-value, at the end,
    /// when a knot lies beyond the last column, or a row has no knots.
    ///
    /// ```rhai
    /// band(6).repeat([forward(1..6), backward_forward(1..6)])
    /// ```
    #[rhai_fn(return_raw)]
    pub fn repeat(context: NativeCallContext, band: Sketch, rows: Dynamic) -> ScriptResult<Sketch> {
        Ok(Sketch {
            repeat: rows_in(&context, rows, "the repeat")?.into(),
            ..band
        })
    }

    /// `band.lead_out(rows)`: rows tied once, after the repeats.
    ///
    /// - `rows`: a row, or a list of rows
    ///
    /// Errors: wrong-arguments when it is given anything but rows.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).repeats(12).lead_out(backward_forward(1..6).times(2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn lead_out(
        context: NativeCallContext,
        band: Sketch,
        rows: Dynamic,
    ) -> ScriptResult<Sketch> {
        Ok(Sketch {
            lead_out: rows_in(&context, rows, "the lead-out")?.into(),
            ..band
        })
    }

    /// `band.repeats(count)`: how often the repeat is tied, if the maker asks for no length.
    ///
    /// Without it, a band is at least 15 cm long.
    ///
    /// - `count`: 1 or more
    ///
    /// Errors: wrong-value when the count is below 1.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).repeats(6)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn repeats(band: Sketch, count: i64) -> ScriptResult<Sketch> {
        let most = hitchwork_core::band::MAX_REPEATS;
        let repeats = u32::try_from(count)
            .ok()
            .filter(|count| (1..=most).contains(count));
        let wrong = || {
            wrong_value(
                format!("a repeat cannot be tied {count} times"),
                format!("give 1 to {most}"),
            )
        };
        Ok(Sketch {
            repeats: Some(repeats.ok_or_else(wrong)?),
            ..band
        })
    }

    /// `band.colours(list)`: the colour of each thread, from left to right.
    ///
    /// - `list`: colours, as many as there are threads
    ///
    /// Errors: wrong-value when there are more or fewer colours than threads.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).colours(fade("morning fog", 6))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn colours(band: Sketch, list: Array) -> ScriptResult<Sketch> {
        let (found, threads) = (list.len(), usize::from(band.threads));
        if found != threads {
            return Err(wrong_value(
                format!("{found} colours are given for {threads} threads"),
                "give one for each thread from left to right; in_order(colours, [1, 1, 2]) repeats colours by number",
            ));
        }
        Ok(Sketch {
            colours: Colours::Given(colours_in(&list, "the list of colours")?.into()),
            ..band
        })
    }

    /// `band.drift(gradient)`: hangs the gradient so that it drifts one step at every repeat.
    ///
    /// The order in which the threads must hang is worked out from the repeat; if there is a
    /// lead-in, they hang so that it leaves them in that order.
    ///
    /// - `gradient`: a list of colours, such as gradient("spring tide", threads)
    ///
    /// Errors: no-drift when no order exists in which these colours drift.
    ///
    /// ```rhai
    /// let out = forward(1..10).but(forward_backward([3, 6]));
    /// let back = backward_forward(1..10).but(forward([3, 6]));
    /// band(10).repeat([out, back]).drift(gradient("spring tide", 10))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn drift(band: Sketch, gradient: Array) -> ScriptResult<Sketch> {
        Ok(Sketch {
            colours: drift_of(&gradient, 1, 1)?,
            ..band
        })
    }

    /// `band.drift(gradient, first, steps)`: hangs the gradient so that it drifts that many
    /// steps at every repeat, with colour number first at the left edge when the first
    /// repeat begins.
    ///
    /// - `gradient`: a list of colours
    /// - `first`: the colour at the left edge when the first repeat begins, counted from 1
    /// - `steps`: 1 to one less than the number of colours
    ///
    /// Errors: no-drift when no order exists; wrong-value when there is no such colour or step.
    #[rhai_fn(return_raw, name = "drift")]
    pub fn drift_by(band: Sketch, gradient: Array, first: i64, steps: i64) -> ScriptResult<Sketch> {
        Ok(Sketch {
            colours: drift_of(&gradient, first, steps)?,
            ..band
        })
    }

    /// `band.beside(other)`: the band with another to its right, held together by turning
    /// knots where they meet; see band.beside(other, joining).
    ///
    /// - `other`: the band to the right
    ///
    /// Errors: as band.beside(other, joining).
    ///
    /// ```rhai
    /// let stripe = band(4).repeat(forward(1..4));
    /// stripe.beside(stripe.mirrored())
    /// ```
    #[rhai_fn(return_raw, name = "beside")]
    pub fn held_beside(
        context: NativeCallContext,
        band: Sketch,
        other: Sketch,
    ) -> ScriptResult<Sketch> {
        let joining = Row::run(Kind::ForwardBackward, [band.threads]);
        let joining = joining.map_err(|error| refused(&error))?;
        let joining = place(&context).map_or(joining.clone(), |place| joining.made_at(place));
        beside(&context, band, &other, &joining)
    }

    /// `band.beside(other, joining)`: the band with another to its right. The knots of
    /// joining lie in the column where they meet, whose number is band.threads: forward knots
    /// exchange the threads that meet, turning knots hold them together, no_knots() leaves
    /// the bands apart; they are tied as often as the knots in the columns beside them. The
    /// shorter repeat is tied again until both end together, and lead-ins and lead-outs lie
    /// side by side. Every thread keeps its colour; title, notes and thread are those of the
    /// left band, and ends and length have to be given again.
    ///
    /// - `other`: the band to the right
    /// - `joining`: a row of knots in the column band.threads, or no_knots()
    ///
    /// Errors: wrong-value when the threads become too many, or a joining knot lies in another
    /// column.
    #[rhai_fn(return_raw, name = "beside")]
    pub fn joined_beside(
        context: NativeCallContext,
        band: Sketch,
        other: Sketch,
        joining: Row,
    ) -> ScriptResult<Sketch> {
        beside(&context, band, &other, &joining)
    }

    /// `band + band`: the rows of the second tied after those of the first, in the lead-in,
    /// the repeat and the lead-out; the colours are those of the first.
    ///
    /// Errors: wrong-value when they have different numbers of threads.
    ///
    /// ```rhai
    /// let slant = band(5).repeat(forward(1..5));
    /// let held = band(5).repeat(forward_backward(1..5));
    /// slant + held
    /// ```
    #[rhai_fn(return_raw, name = "+")]
    pub fn then_band(
        context: NativeCallContext,
        first: Sketch,
        second: Sketch,
    ) -> ScriptResult<Sketch> {
        if first.threads != second.threads {
            let (one, other) = (first.threads, second.threads);
            return Err(wrong_value(
                format!("a band of {one} threads cannot be followed by one of {other}"),
                "give both the same number of threads; beside lays bands next to each other",
            ));
        }
        for (one, other) in [
            (&first.lead_in, &second.lead_in),
            (&first.repeat, &second.repeat),
            (&first.lead_out, &second.lead_out),
        ] {
            check_entries(&context, one.len() + other.len())?;
            check_knots(&context, knots_of(one) + knots_of(other))?;
        }
        Ok(first.then(&second))
    }

    /// `band.mirrored()`: the mirror image of the band, including its colours and ends.
    ///
    /// ```rhai
    /// band(5).repeat(forward(1..5)).mirrored()
    /// ```
    #[rhai_fn(return_raw, name = "mirrored")]
    pub fn band_mirrored(context: NativeCallContext, band: Sketch) -> ScriptResult<Sketch> {
        check_all(&context, &band)?;
        band.mirrored().map_err(|error| refused(&error))
    }

    /// `band.upside_down()`: the band with its rows read from the finish to the start and its
    /// ends exchanged; the colours hang as before.
    ///
    /// ```rhai
    /// band(5).repeat(forward(1..5)).upside_down()
    /// ```
    #[rhai_fn(return_raw, name = "upside_down")]
    pub fn band_upside_down(context: NativeCallContext, band: Sketch) -> ScriptResult<Sketch> {
        check_all(&context, &band)?;
        Ok(band.upside_down())
    }

    /// `band.half_turned()`: the band after half a turn: mirrored, and then upside down.
    ///
    /// ```rhai
    /// band(5).repeat(forward(1..5)).half_turned()
    /// ```
    #[rhai_fn(return_raw, name = "half_turned")]
    pub fn band_half_turned(context: NativeCallContext, band: Sketch) -> ScriptResult<Sketch> {
        check_all(&context, &band)?;
        Ok(band
            .mirrored()
            .map_err(|error| refused(&error))?
            .upside_down())
    }

    /// `band.inverted()`: the band with the other thread of every knot working; the colours
    /// hang as before.
    ///
    /// ```rhai
    /// band(5).repeat(forward_backward(1..5)).inverted()
    /// ```
    #[rhai_fn(return_raw, name = "inverted")]
    pub fn band_inverted(context: NativeCallContext, band: Sketch) -> ScriptResult<Sketch> {
        check_all(&context, &band)?;
        Ok(band.inverted())
    }

    /// `band.rows`: the rows of its repeat, as a list.
    ///
    /// ```rhai
    /// let stripe = band(5).repeat(forward(1..5));
    /// band(5).repeat(stripe.rows + [forward_backward(1..5)])
    /// ```
    #[rhai_fn(get = "rows")]
    pub fn rows(band: &mut Sketch) -> Array {
        band.repeat.iter().cloned().map(Dynamic::from).collect()
    }

    /// `band.threads`: how many threads it has.
    ///
    /// ```rhai
    /// let stripe = band(5).repeat(forward(1..5));
    /// band(stripe.threads).repeat(stripe.rows)
    /// ```
    #[rhai_fn(get = "threads")]
    pub fn threads(band: &mut Sketch) -> i64 {
        i64::from(band.threads)
    }

    /// `band.hung`: the colour of each thread, from left to right, as a list that
    /// band.colours(list) takes.
    ///
    /// ```rhai
    /// let stripe = band(5).repeat(forward(1..5)).colours(gradient("gull", 5));
    /// band(5).repeat(forward_backward(1..5)).colours(stripe.hung)
    /// ```
    #[rhai_fn(get = "hung", return_raw)]
    pub fn hung(context: NativeCallContext, band: &mut Sketch) -> ScriptResult<Array> {
        check_hanging(&context, band)?;
        let colours = band.thread_colours().map_err(|error| refused(&error))?;
        Ok(colours.into_iter().map(Dynamic::from).collect())
    }

    /// `band.as_written()`: keeps the rows as the rule writes them, in sheets and steps.
    ///
    /// Without it, they are told in the order in which the working thread changes least often;
    /// knots, colours and size are the same. Where the rule's own order is as easy, it stays in
    /// any case, as does that of rows of in_pairs, of which each is one line.
    ///
    /// ```rhai
    /// band(8).repeat([backward(odd_columns(8)), forward(even_columns(8))]).as_written()
    /// ```
    pub fn as_written(band: Sketch) -> Sketch {
        Sketch {
            as_written: true,
            ..band
        }
    }

    /// `band.starts(end)`: how the band begins, such as half_triangle(LEFT); without it, to
    /// suit its edge.
    ///
    /// - `end`: half_triangle(LEFT), half_triangle(RIGHT), triangle(), flat() or folded()
    ///
    /// ```rhai
    /// band(8).repeat(forward(1..8)).starts(half_triangle(LEFT))
    /// ```
    pub fn starts(band: Sketch, end: End) -> Sketch {
        Sketch {
            start: Some(end),
            ..band
        }
    }

    /// `band.finishes(end)`: how the band ends; without it, to suit its edge.
    ///
    /// - `end`: half_triangle(LEFT), half_triangle(RIGHT), triangle(), flat() or folded()
    ///
    /// ```rhai
    /// band(8).repeat(forward(1..8)).repeats(8).finishes(half_triangle(LEFT).twisted())
    /// ```
    pub fn finishes(band: Sketch, end: End) -> Sketch {
        Sketch {
            finish: Some(end),
            ..band
        }
    }

    /// `band.thread_mm(diameter)`: the diameter of the thread in millimetres.
    ///
    /// It decides how wide and long the band becomes. Without it, an ordinary six-strand
    /// embroidery cotton.
    ///
    /// - `diameter`: in millimetres
    ///
    /// Errors: wrong-value when no thread is that thin or that thick.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).thread_mm(1.5)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn thread_mm(band: Sketch, diameter: f64) -> ScriptResult<Sketch> {
        Ok(Sketch {
            gauge: Gauge::from_diameter(diameter).map_err(|error| refused(&error))?,
            ..band
        })
    }

    /// `half_triangle(side)`: an end for a slanted edge; the threads are brought out from
    /// that side (LEFT or RIGHT) on.
    ///
    /// - `side`: LEFT suits an edge that slants down to the right, RIGHT one that slants down
    ///   to the left
    ///
    /// ```rhai
    /// band(8).repeat(backward(1..8)).starts(half_triangle(RIGHT))
    /// ```
    pub fn half_triangle(side: Side) -> End {
        end(match side {
            Side::Left => Shape::HalfTriangleLeft,
            Side::Right => Shape::HalfTriangleRight,
        })
    }

    /// `triangle()`: an end for a pointed edge.
    ///
    /// ```rhai
    /// let left = forward(1..4);
    /// band(8).repeat(left + left.mirrored(8) + forward(4)).finishes(triangle())
    /// ```
    pub fn triangle() -> End {
        end(Shape::Triangle)
    }

    /// `flat()`: an end whose threads lie side by side.
    ///
    /// ```rhai
    /// band(8).repeat([forward(odd_columns(8)), forward(even_columns(8))]).starts(flat())
    /// ```
    pub fn flat() -> End {
        end(Shape::Flat)
    }

    /// `folded()`: a loop over which the threads are folded in half.
    ///
    /// It needs an even number of threads, and each colour on an even number of them.
    ///
    /// ```rhai
    /// band(8).repeat([forward(odd_columns(8)), backward(even_columns(8))])
    ///     .colours(in_stripes(contrasting("regatta", 2), 8))
    ///     .starts(folded())
    /// ```
    pub fn folded() -> End {
        end(Shape::Loop)
    }

    /// `end.twisted()`: the end with twisted ties.
    ///
    /// ```rhai
    /// band(8).repeat(forward(1..8)).starts(half_triangle(LEFT).twisted())
    /// ```
    pub fn twisted(end: End) -> End {
        End {
            ties: Ties::Twisted,
            ..end
        }
    }

    /// `end.braided()`: the end with braided ties.
    ///
    /// This is the default.
    ///
    /// ```rhai
    /// band(8).repeat(forward(1..8)).starts(half_triangle(LEFT).braided())
    /// ```
    pub fn braided(end: End) -> End {
        End {
            ties: Ties::Braided,
            ..end
        }
    }

    /// `end.cut()`: the end with tails cut short.
    ///
    /// ```rhai
    /// band(8).repeat(forward(1..8)).starts(half_triangle(LEFT).cut())
    /// ```
    pub fn cut(end: End) -> End {
        End {
            ties: Ties::Cut,
            ..end
        }
    }
}
