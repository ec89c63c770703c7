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
    #[rhai_fn(return_raw)]
    pub fn band(threads: i64) -> Outcome<Sketch> {
        Ok(Sketch::new(thread_count(threads)?))
    }

    /// `band.title(text)`: what the band is called.
    pub fn title(band: Sketch, text: ImmutableString) -> Sketch {
        Sketch {
            title: Some(text.to_string()),
            ..band
        }
    }

    /// `band.notes(text)`: what its designer wants to say about it.
    pub fn notes(band: Sketch, text: ImmutableString) -> Sketch {
        Sketch {
            notes: text.to_string(),
            ..band
        }
    }

    /// `band.lead_in(rows)`: rows tied once, before the repeats.
    #[rhai_fn(return_raw)]
    pub fn lead_in(band: Sketch, rows: Dynamic) -> Outcome<Sketch> {
        Ok(Sketch {
            lead_in: rows_in(rows, "the lead-in")?,
            ..band
        })
    }

    /// `band.repeat(rows)`: rows tied again and again.
    #[rhai_fn(return_raw)]
    pub fn repeat(band: Sketch, rows: Dynamic) -> Outcome<Sketch> {
        Ok(Sketch {
            repeat: rows_in(rows, "the repeat")?,
            ..band
        })
    }

    /// `band.lead_out(rows)`: rows tied once, after the repeats.
    #[rhai_fn(return_raw)]
    pub fn lead_out(band: Sketch, rows: Dynamic) -> Outcome<Sketch> {
        Ok(Sketch {
            lead_out: rows_in(rows, "the lead-out")?,
            ..band
        })
    }

    /// `band.repeats(count)`: how often the repeat is tied, where the maker asks for no
    /// length.
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
    #[rhai_fn(return_raw)]
    pub fn drift(band: Sketch, gradient: Array) -> Outcome<Sketch> {
        Ok(Sketch {
            colours: drift_of(&gradient, 1, 1)?,
            ..band
        })
    }

    /// `band.drift(gradient, first, steps)`: hangs the gradient with the colour of number
    /// first at the left edge, so that it drifts that many steps at every repeat.
    #[rhai_fn(return_raw, name = "drift")]
    pub fn drift_by(band: Sketch, gradient: Array, first: i64, steps: i64) -> Outcome<Sketch> {
        Ok(Sketch {
            colours: drift_of(&gradient, first, steps)?,
            ..band
        })
    }

    /// `band.starts(end)`: how the band begins, such as half_triangle(LEFT); without it, as
    /// its edge asks for.
    pub fn starts(band: Sketch, end: End) -> Sketch {
        Sketch {
            start: Some(end),
            ..band
        }
    }

    /// `band.finishes(end)`: how the band ends; without it, as its edge asks for.
    pub fn finishes(band: Sketch, end: End) -> Sketch {
        Sketch {
            finish: Some(end),
            ..band
        }
    }

    /// `band.thread_mm(diameter)`: the diameter of the thread in millimetres.
    #[rhai_fn(return_raw)]
    pub fn thread_mm(band: Sketch, diameter: f64) -> Outcome<Sketch> {
        Ok(Sketch {
            gauge: Gauge::from_diameter(diameter).map_err(|error| refused(&error))?,
            ..band
        })
    }

    /// `half_triangle(side)`: an end for a slanted edge; the threads are brought out from
    /// that side (LEFT or RIGHT) on.
    pub fn half_triangle(side: Side) -> End {
        end(match side {
            Side::Left => Shape::HalfTriangleLeft,
            Side::Right => Shape::HalfTriangleRight,
        })
    }

    /// `triangle()`: an end for a pointed edge.
    pub fn triangle() -> End {
        end(Shape::Triangle)
    }

    /// `flat()`: an end whose threads lie side by side.
    pub fn flat() -> End {
        end(Shape::Flat)
    }

    /// `folded()`: a loop over which the threads are folded in half.
    pub fn folded() -> End {
        end(Shape::Loop)
    }

    /// `end.twisted()`: the end with twisted ties.
    pub fn twisted(end: End) -> End {
        End {
            ties: Ties::Twisted,
            ..end
        }
    }

    /// `end.braided()`: the end with braided ties.
    pub fn braided(end: End) -> End {
        End {
            ties: Ties::Braided,
            ..end
        }
    }

    /// `end.cut()`: the end with tails cut short.
    pub fn cut(end: End) -> End {
        End {
            ties: Ties::Cut,
            ..end
        }
    }
}
