//! The size of a knot from what a maker has measured.

use std::ops::RangeInclusive;

use serde::Serialize;

use super::gauge::KNOT_IN_DIAMETERS;
use super::habits::UNEVEN_PULL;
use super::length::{core_mm, wraps_mm};
use super::{Gauge, within};
use crate::error::{Error, Problem};

/// What a maker measured on a piece of knotting.
///
/// Written `11:12.5,40:42` (columns over millimetres, half rows over millimetres), with
/// `,300:2700` added if 300 knots took 2700 millimetres of thread in all.
///
/// Columns count as everywhere: one between every two neighbouring threads, so that 12
/// threads have 11. They are measured over the whole width, from edge to edge, where the
/// outermost knots stick out by half a knot; so 11 columns are as wide as 12 lie apart
/// ([`Gauge::width_mm`]). Half rows are measured along one column, from the beginning of its
/// first knot to the end of its last, and two make the height of a knot
/// ([`Gauge::length_mm`]). What a whole band has of both stands in its
/// [report](crate::proof::Report::swatch).
///
/// ```
/// use hitchwork_core::craft::{Gauge, Swatch};
/// let swatch: Swatch = "11:12.6,40:41".parse()?;
/// let fit = swatch.fit(None)?;
/// assert!((fit.gauge.column_mm - 1.05).abs() < 1e-12);
/// assert!((fit.column_mm.plus_or_minus - 0.059).abs() < 0.001);
/// assert!((fit.gauge.width_mm(12) - 12.6).abs() < 1e-12);
/// assert_eq!(fit.gauge.take_up, 1.0);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swatch {
    /// How many columns the piece has: one less than threads.
    pub columns: u32,
    /// How wide it is, from edge to edge.
    pub width_mm: f64,
    /// How many half rows were measured along a column; two make the height of a knot.
    pub half_rows: u32,
    /// How long they are together.
    pub length_mm: f64,
    /// How many knots took how many millimetres of thread, if that was measured.
    pub thread_used: Option<(u32, f64)>,
}

/// A value from a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Fitted {
    /// The value.
    pub value: f64,
    /// By how much it may be wrong.
    pub plus_or_minus: f64,
}

/// A gauge from a swatch, with how well each value is known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct SwatchFit {
    /// The gauge.
    pub gauge: Gauge,
    /// The distance between columns.
    pub column_mm: Fitted,
    /// The height of a half row.
    pub half_row_mm: Fitted,
    /// The diameter of the thread, if it was left to the swatch.
    pub thread_mm: Option<Fitted>,
    /// The share of the model's thread that the knots took, if that was measured.
    pub take_up: Option<Fitted>,
}

impl SwatchFit {
    /// The fitted values in words.
    #[must_use]
    pub fn words(&self) -> String {
        let said = |name: &str, fitted: Fitted, unit: &str| {
            format!(
                "{name} {:.2} ± {:.2}{unit}",
                fitted.value, fitted.plus_or_minus
            )
        };
        let mut words = vec![
            said("columns", self.column_mm, " mm"),
            said("half rows", self.half_row_mm, " mm"),
        ];
        words.extend(
            self.thread_mm
                .map(|fitted| said("thread", fitted, " mm across")),
        );
        words.extend(
            self.take_up
                .map(|fitted| said("take-up", fitted, " of the model's thread")),
        );
        words.join(", ")
    }
}

/// A ruler is read to half a millimetre at either end (our own judgement); two independent
/// errors together are that times the root of two.
const RULER_MM: f64 = 0.5 * std::f64::consts::SQRT_2;

/// No column and no half row is thinner than a thread for sewing by hand, about 0.2 mm (from
/// memory); whoever finds less has measured in another unit.
const THINNEST_MM: f64 = 0.2;

/// What no knot can be, however it is pulled; beyond, somebody miscounted (our own
/// judgement): columns over half rows,
const SQUARENESS: RangeInclusive<f64> = 0.5..=2.0;
/// its side in thread diameters (our own judgement),
const DIAMETERS: RangeInclusive<f64> = 1.5..=5.0;
/// and its thread as a share of the model's (our own judgement).
const TAKE_UP: RangeInclusive<f64> = 0.4..=2.5;

impl Swatch {
    /// The gauge of this swatch, knotted from a thread of that diameter; without one, the
    /// thread is taken to be as thick as the knots say.
    ///
    /// ```
    /// use hitchwork_core::craft::Swatch;
    /// // 12 threads have 11 columns, and lie 12 of them wide.
    /// let swatch: Swatch = "11:12.6,40:41".parse()?;
    /// assert!((swatch.fit(None)?.gauge.column_mm - 1.05).abs() < 1e-9);
    /// // Such knots are not made of such a cord.
    /// assert!(swatch.fit(Some(3.0)).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a count is 0, a size is absurd (columns or half rows thinner than sewing thread are
    /// centimetres taken for millimetres), or the measurements contradict each other or
    /// the thread.
    pub fn fit(&self, thread_mm: Option<f64>) -> Result<SwatchFit, Error> {
        let count = |what, count: u32| within(what, count.into(), 1.0, 10_000.0, "");
        count("a swatch's number of columns", self.columns)?;
        count("a swatch's number of half rows", self.half_rows)?;
        within("a swatch's width", self.width_mm, 1.0, 10_000.0, " mm")?;
        within("a swatch's length", self.length_mm, 1.0, 10_000.0, " mm")?;
        let over = |mm: f64, count: u32| Fitted {
            value: mm / f64::from(count),
            plus_or_minus: RULER_MM / f64::from(count),
        };
        // Half a knot, which is as much as a column, sticks out at either edge.
        let column = over(self.width_mm, self.columns + 1);
        let half_row = over(self.length_mm, self.half_rows);
        self.check_unit("column", column)?;
        self.check_unit("half row", half_row)?;
        let squareness = column.value / half_row.value;
        if !SQUARENESS.contains(&squareness) {
            return Err(contradiction(format!(
                "the swatch contradicts itself: columns of {:.2} mm and half rows of {:.2} mm would make a knot more than twice as long one way as the other",
                column.value, half_row.value
            )));
        }
        let side = libm::hypot(column.value, half_row.value);
        let from_knots = Fitted {
            value: side / KNOT_IN_DIAMETERS,
            plus_or_minus: libm::hypot(column.plus_or_minus, half_row.plus_or_minus)
                / KNOT_IN_DIAMETERS,
        };
        let thickness = thread_mm.unwrap_or(from_knots.value);
        let in_diameters = side / thickness;
        if !DIAMETERS.contains(&in_diameters) {
            return Err(contradiction(format!(
                "the swatch contradicts the thread: knots of {side:.2} mm are {in_diameters:.1} times as large as a thread of {thickness:.2} mm, and a double half hitch is 1.5 to 5 times"
            )));
        }
        let mut gauge = Gauge {
            thread_mm: thickness,
            column_mm: column.value,
            half_row_mm: half_row.value,
            take_up: 1.0,
        }
        .checked()?;
        let take_up = self
            .thread_used
            .map(|(knots, used_mm)| take_up(&gauge, knots, used_mm))
            .transpose()?;
        gauge.take_up = take_up.map_or(1.0, |fitted| fitted.value);
        Ok(SwatchFit {
            gauge,
            column_mm: column,
            half_row_mm: half_row,
            thread_mm: thread_mm.is_none().then_some(from_knots),
            take_up,
        })
    }
}

impl Swatch {
    /// Refuses what is too small to have been measured in millimetres.
    fn check_unit(&self, what: &str, measured: Fitted) -> Result<(), Error> {
        if measured.value >= THINNEST_MM {
            return Ok(());
        }
        Err(Problem::Craft {
            message: format!(
                "a {what} of {:.2} mm is thinner than sewing thread: did you measure in centimetres?",
                measured.value
            ),
            help: format!(
                "give millimetres: if those were centimetres, write {}:{},{}:{}",
                self.columns,
                in_millimetres(self.width_mm),
                self.half_rows,
                in_millimetres(self.length_mm)
            ),
        }
        .into())
    }
}

/// Centimetres in millimetres, without the noise of binary fractions.
fn in_millimetres(centimetres: f64) -> f64 {
    (centimetres * 1e4).round() / 1e3
}

fn take_up(gauge: &Gauge, knots: u32, used_mm: f64) -> Result<Fitted, Error> {
    within(
        "a swatch's number of knots",
        knots.into(),
        1.0,
        1_000_000.0,
        "",
    )?;
    within("the thread of a swatch", used_mm, 1.0, 10_000_000.0, " mm")?;
    let model = f64::from(knots) * (wraps_mm(gauge.thread_mm, gauge.thread_mm) + core_mm(gauge));
    let value = used_mm / model;
    if !TAKE_UP.contains(&value) {
        return Err(contradiction(format!(
            "the swatch contradicts itself: {knots} knots of this size take about {model:.0} mm of thread, not {used_mm} mm"
        )));
    }
    Ok(Fitted {
        value,
        plus_or_minus: value * UNEVEN_PULL,
    })
}

fn contradiction(message: String) -> Error {
    Problem::Craft {
        message,
        help: "measure again: lay the swatch flat, measure its whole width and count a column between every two threads (12 threads have 11), and count two half rows for every knot along one column".to_owned(),
    }
    .into()
}

impl std::str::FromStr for Swatch {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let unreadable = || {
            Error::from(Problem::Craft {
                message: format!("\"{}\" is not a swatch", crate::error::shortened(text)),
                help: "write columns:mm,halfrows:mm such as 11:12.5,40:42, and add ,300:2700 if 300 knots took 2700 mm of thread".to_owned(),
            })
        };
        let pairs: Vec<(u32, f64)> = text
            .split(',')
            .map(|pair| {
                let (count, mm) = pair.split_once(':')?;
                Some((count.trim().parse().ok()?, mm.trim().parse().ok()?))
            })
            .collect::<Option<_>>()
            .ok_or_else(unreadable)?;
        let ((columns, width_mm), (half_rows, length_mm), thread_used) = match pairs.as_slice() {
            [width, length] => (*width, *length, None),
            [width, length, used] => (*width, *length, Some(*used)),
            _ => return Err(unreadable()),
        };
        Ok(Self {
            columns,
            width_mm,
            half_rows,
            length_mm,
            thread_used,
        })
    }
}
