//! The band and its ends.

use hitchwork_core::colour::Colour;
use hitchwork_core::craft::{End, Gauge, Shape, Ties};
use hitchwork_core::knot::Side;
use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use super::colours::colours_in;
use super::{rows_in, thread_count};
use crate::run::{Outcome, refused, wrong_value};
use crate::sketch::{Colours, Sketch};

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

fn drift_of(gradient: &Array, first: i64, steps: i64) -> Outcome<Colours> {
    let gradient: Vec<Colour> = colours_in(gradient, "a drift")?;
    let count = gradient.len();
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
        .filter(|steps| (1..=count).contains(steps))
        .ok_or_else(|| {
            wrong_value(
                format!("{count} colours cannot drift {steps} steps at a time"),
                format!("use 1 to {count} steps"),
            )
        })?;
    Ok(Colours::Drift {
        gradient,
        first: first - 1,
        steps,
    })
}

#[export_module]
mod bands {
    /// `band(threads)`: a band of that many threads, to be told its rows and colours.
    ///
    /// - `threads`: from 2 to 200
    ///
    /// Errors: wrong-value when no band has so many threads.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn band(threads: i64) -> Outcome<Sketch> {
        Ok(Sketch::new(thread_count(threads)?))
    }

    /// `band.title(text)`: what the band is called.
    ///
    /// Without it, the rule's name and the number of threads.
    ///
    /// - `text`: a few words
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).title("Slack water")
    /// ```
    pub fn title(band: Sketch, text: ImmutableString) -> Sketch {
        Sketch {
            title: Some(text.to_string()),
            ..band
        }
    }

    /// `band.notes(text)`: what its designer wants to say about it.
    ///
    /// - `text`: a sentence or several
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).notes("Tie it loosely: it tightens as it is worn.")
    /// ```
    pub fn notes(band: Sketch, text: ImmutableString) -> Sketch {
        Sketch {
            notes: text.to_string(),
            ..band
        }
    }

    /// `band.lead_in(rows)`: rows tied once, before the repeats.
    ///
    /// - `rows`: a row, or a list of rows
    ///
    /// Errors: wrong-arguments when it is given something else than rows.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).lead_in(forward_backward(1..6).times(2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn lead_in(band: Sketch, rows: Dynamic) -> Outcome<Sketch> {
        Ok(Sketch {
            lead_in: rows_in(rows, "the lead-in")?,
            ..band
        })
    }

    /// `band.repeat(rows)`: rows tied again and again.
    ///
    /// - `rows`: a row, or a list of rows
    ///
    /// Errors: wrong-arguments when it is given something else than rows; no-band, at the end,
    /// when a knot lies beyond the last column.
    ///
    /// ```rhai
    /// band(6).repeat([forward(1..6), backward_forward(1..6)])
    /// ```
    #[rhai_fn(return_raw)]
    pub fn repeat(band: Sketch, rows: Dynamic) -> Outcome<Sketch> {
        Ok(Sketch {
            repeat: rows_in(rows, "the repeat")?,
            ..band
        })
    }

    /// `band.lead_out(rows)`: rows tied once, after the repeats.
    ///
    /// - `rows`: a row, or a list of rows
    ///
    /// Errors: wrong-arguments when it is given something else than rows.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).repeats(12).lead_out(backward_forward(1..6).times(2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn lead_out(band: Sketch, rows: Dynamic) -> Outcome<Sketch> {
        Ok(Sketch {
            lead_out: rows_in(rows, "the lead-out")?,
            ..band
        })
    }

    /// `band.repeats(count)`: how often the repeat is tied, where the maker asks for no
    /// length.
    ///
    /// Without it, a band becomes at least 15 cm long.
    ///
    /// - `count`: 1 or more
    ///
    /// Errors: wrong-value when the count is below 1.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).repeats(6)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn repeats(band: Sketch, count: i64) -> Outcome<Sketch> {
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
    pub fn colours(band: Sketch, list: Array) -> Outcome<Sketch> {
        let (found, threads) = (list.len(), usize::from(band.threads));
        if found != threads {
            return Err(wrong_value(
                format!("{found} colours are given for {threads} threads"),
                "give one for each thread from left to right; in_order(colours, [1, 1, 2]) repeats colours by number",
            ));
        }
        Ok(Sketch {
            colours: Colours::Given(colours_in(&list, "the list of colours")?),
            ..band
        })
    }

    /// `band.drift(gradient)`: hangs the gradient so that it drifts one step at every repeat.
    ///
    /// The order in which the threads must hang is computed from the repeat.
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
    pub fn drift(band: Sketch, gradient: Array) -> Outcome<Sketch> {
        Ok(Sketch {
            colours: drift_of(&gradient, 1, 1)?,
            ..band
        })
    }

    /// `band.drift(gradient, first, steps)`: hangs the gradient with the colour of number
    /// first at the left edge, so that it drifts that many steps at every repeat.
    ///
    /// - `gradient`: a list of colours
    /// - `first`: the colour at the left edge, counted from 1
    /// - `steps`: 1 to the number of colours
    ///
    /// Errors: no-drift when no order exists; wrong-value when there is no such colour or step.
    #[rhai_fn(return_raw, name = "drift")]
    pub fn drift_by(band: Sketch, gradient: Array, first: i64, steps: i64) -> Outcome<Sketch> {
        Ok(Sketch {
            colours: drift_of(&gradient, first, steps)?,
            ..band
        })
    }

    /// `band.starts(end)`: how the band begins, such as half_triangle(LEFT); without it, as
    /// its edge asks for.
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

    /// `band.finishes(end)`: how the band ends; without it, as its edge asks for.
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
    /// Errors: wrong-value when no thread is so thin or so thick.
    ///
    /// ```rhai
    /// band(6).repeat(forward(1..6)).thread_mm(1.5)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn thread_mm(band: Sketch, diameter: f64) -> Outcome<Sketch> {
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
    /// band(8).repeat(left + left.mirrored(8) + forward(4)).starts(triangle())
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
    /// All ends are, where nothing else is said.
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
