//! How a knot and a stretch of open thread look, each defined once and placed often.
//!
//! Lengths are in hundredths of a column. A knot is a lozenge with its corners half a
//! column's pitch from its neighbours' centres; two wraps of the working thread fill it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::sync::OnceLock;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::colour::Srgb;
use hitchwork_core::knot::Kind;
use hitchwork_core::row::Row;

use super::frame::{CourseShape, TurnedFrame};
use super::pen::{pair, plus, push_short, short, soft_shape};
use crate::ink::PlanePoint;
use crate::shade::Shades;

/// Half a knot's width: the distance between neighbouring columns.
pub(super) const COLUMN: f64 = 100.0;

/// Begins the names in drawings that say nothing of a band.
#[cfg(feature = "png")]
pub(super) const LIKE: &str = "like-";

/// How the wraps of a knot lie on the finished band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Lie {
    /// Both fall from the upper left to the lower right.
    Falling,
    /// Both rise from the lower left to the upper right.
    Rising,
    /// They meet at the right.
    MeetRight,
    /// They meet at the left.
    MeetLeft,
}

impl Lie {
    const ALL: [Self; 4] = [Self::Falling, Self::Rising, Self::MeetRight, Self::MeetLeft];

    pub(super) fn of(kind: Kind) -> Self {
        match kind {
            Kind::Forward => Self::Falling,
            Kind::Backward => Self::Rising,
            Kind::ForwardBackward => Self::MeetRight,
            Kind::BackwardForward => Self::MeetLeft,
        }
    }

    fn letter(self) -> char {
        match self {
            Self::Falling => 'f',
            Self::Rising => 'r',
            Self::MeetRight => 'p',
            Self::MeetLeft => 'q',
        }
    }

    /// Whether the upper of the two wraps falls to the right.
    fn upper_falls(self) -> bool {
        matches!(self, Self::Falling | Self::MeetRight)
    }

    fn lower_falls(self) -> bool {
        matches!(self, Self::Falling | Self::MeetLeft)
    }
}

/// Which edge an open thread lies at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Along {
    LeftEdge,
    Inside,
    RightEdge,
}

/// The measures of a picture, and what has to be defined for it.
pub(super) struct FabricStyle {
    /// Height of a half row.
    pub(super) half_row: f64,
    /// Diameter of the thread.
    pub(super) thread: f64,
    /// Where the light comes from.
    light: PlanePoint,
    /// Begins every name in the picture, so that several pictures can stand in one page.
    pub(super) prefix: String,
    colours: Vec<Srgb>,
    /// Their shades, once they were asked for.
    shades: Vec<OnceLock<Shades>>,
    strokes: Vec<OnceLock<Strokes>>,
    /// How the knots that were asked for are placed, by colour and lie.
    knots: Vec<[Option<String>; 4]>,
    open: BTreeMap<(u16, Along, i64), String>,
    /// How turned knots that were asked for are placed, by colour, lie and frame.
    turned: BTreeMap<(u16, Lie, TurnedFrame), String>,
    /// The looks of turned knots, by how far the light is turned against them.
    lit: BTreeMap<u8, Self>,
    /// The names of the courses that were asked for.
    courses: BTreeMap<(u16, CourseShape), String>,
    rounds: BTreeSet<u16>,
    /// How many cords have been drawn: each has a path with a name of its own.
    cords: u32,
}

impl FabricStyle {
    pub(super) fn new(band: &Band, upright: bool, what: &str) -> Self {
        let gauge = band.gauge();
        let colours: Vec<Srgb> = band.palette().iter().map(|colour| colour.srgb).collect();
        let half_row = gauge.half_row_mm / gauge.column_mm * COLUMN;
        let thread = gauge.thread_mm / gauge.column_mm * COLUMN;
        // From the upper left of the table. Lying along, the band's left is below.
        let light = if upright { (-0.5, -0.87) } else { (0.87, -0.5) };
        let mut digest = Digest::new();
        digest.eat(format!("{half_row:.3} {thread:.3} {upright} {what}").as_bytes());
        let (start, finish, repeats) = (band.start(), band.finish(), band.repeats());
        digest
            .eat(format!("{:?} {start:?} {finish:?} {repeats}", band.thread_colours()).as_bytes());
        for part in [Part::LeadIn, Part::Repeat, Part::LeadOut] {
            for knot in band.rows(part).iter().flat_map(Row::knots) {
                digest.eat(&knot.column().number().to_le_bytes());
                digest.eat(knot.kind().name().as_bytes());
            }
            digest.eat(b"/");
        }
        for colour in &colours {
            digest.eat(colour.to_string().as_bytes());
        }
        let (open, rounds, turned, lit, courses) = <_>::default();
        let knots = vec![[const { None }; 4]; colours.len()];
        let shades = vec![OnceLock::new(); colours.len()];
        let strokes = vec![OnceLock::new(); colours.len()];
        Self {
            half_row,
            thread,
            light,
            prefix: digest.name(),
            colours,
            shades,
            strokes,
            knots,
            open,
            turned,
            lit,
            courses,
            rounds,
            cords: 0,
        }
    }

    /// The same measures and colours, of which nothing has been asked for yet, under names
    /// that say nothing of the band.
    #[cfg(feature = "png")]
    pub(super) fn like(&self) -> Self {
        self.named(LIKE.to_owned())
    }

    /// The same measures and colours, of which nothing has been asked for yet, under another
    /// name.
    fn named(&self, prefix: String) -> Self {
        Self {
            prefix,
            colours: self.colours.clone(),
            shades: self.shades.clone(),
            strokes: vec![OnceLock::new(); self.colours.len()],
            knots: vec![[const { None }; 4]; self.colours.len()],
            open: BTreeMap::new(),
            turned: BTreeMap::new(),
            lit: BTreeMap::new(),
            courses: BTreeMap::new(),
            rounds: BTreeSet::new(),
            cords: 0,
            ..*self
        }
    }

    #[cfg(feature = "png")]
    pub(super) fn colour(&self, colour: u16) -> Srgb {
        self.colours[usize::from(colour)]
    }

    #[cfg(feature = "png")]
    pub(super) fn colour_count(&self) -> usize {
        self.colours.len()
    }

    pub(super) fn shades(&self, colour: u16) -> Shades {
        let index = usize::from(colour);
        *self.shades[index].get_or_init(|| Shades::of(self.colours[index]))
    }

    /// The colours of which wraps were asked for.
    pub(super) fn rounds(&self) -> &BTreeSet<u16> {
        &self.rounds
    }

    /// Asks for knots of this colour that lie so.
    pub(super) fn ask_knot(&mut self, colour: u16, lie: Lie) {
        let placed = &mut self.knots[usize::from(colour)][lie as usize];
        if placed.is_none() {
            self.rounds.insert(colour);
            let (prefix, letter) = (&self.prefix, lie.letter());
            *placed = Some(format!(r##"<use href="#{prefix}{colour}{letter}" x=""##));
        }
    }

    /// How a knot that was asked for is placed, up to the place.
    pub(super) fn knot(&self, colour: u16, lie: Lie) -> &str {
        let placed = self.knots[usize::from(colour)][lie as usize].as_deref();
        placed.expect("asked for")
    }

    /// Asks for knots of this colour that lie so in their own frame. The light does not turn
    /// with them.
    pub(super) fn ask_turned_knot(&mut self, colour: u16, lie: Lie, frame: TurnedFrame) {
        if self.turned.contains_key(&(colour, lie, frame)) {
            return;
        }
        let step = frame.turn_in_steps();
        if !self.lit.contains_key(&step) {
            let mut lit = self.named(format!("{}t{step}-", self.prefix));
            lit.light = TurnedFrame::turned_back(self.light, step);
            self.lit.insert(step, lit);
        }
        if let Some(lit) = self.lit.get_mut(&step) {
            lit.ask_knot(colour, lie);
        }
        let number = self.turned.len();
        let placed = format!(
            r##"<use href="#{}k{number}{}" x=""##,
            self.prefix,
            lie.letter()
        );
        self.turned.insert((colour, lie, frame), placed);
    }

    /// How a turned knot that was asked for is placed, up to the place.
    pub(super) fn turned_knot(&self, colour: u16, lie: Lie, frame: TurnedFrame) -> &str {
        &self.turned[&(colour, lie, frame)]
    }

    /// Asks for an open thread that runs on this course.
    pub(super) fn ask_course(&mut self, colour: u16, shape: CourseShape) {
        let number = self.courses.len();
        let name = || format!("{}w{number}", self.prefix);
        self.courses.entry((colour, shape)).or_insert_with(name);
    }

    /// The name of a course that was asked for.
    pub(super) fn course(&self, colour: u16, shape: CourseShape) -> &str {
        &self.courses[&(colour, shape)]
    }

    /// Asks for open threads that run straight down over this many half rows.
    pub(super) fn ask_open_thread(&mut self, colour: u16, along: Along, half_rows: i64) {
        let name = || open_name(&self.prefix, colour, along, half_rows);
        self.open
            .entry((colour, along, half_rows))
            .or_insert_with(name);
    }

    /// The name of an open thread that was asked for.
    pub(super) fn open_thread(&self, colour: u16, along: Along, half_rows: i64) -> &str {
        &self.open[&(colour, along, half_rows)]
    }

    /// The colours and lies of the knots that were asked for.
    fn asked(&self) -> impl Iterator<Item = (u16, Lie)> {
        (0..).zip(&self.knots).flat_map(|(colour, names)| {
            let asked = Lie::ALL
                .into_iter()
                .filter(|lie| names[*lie as usize].is_some());
            asked.map(move |lie| (colour, lie))
        })
    }

    /// The paint of a wrap of this colour, by the way it runs.
    pub(super) fn round(&mut self, colour: u16, falls: bool) -> String {
        self.ask_rounds(colour);
        self.round_name(colour, falls)
    }

    pub(super) fn ask_rounds(&mut self, colour: u16) {
        self.rounds.insert(colour);
    }

    /// Its name, where it was asked for before.
    pub(super) fn round_name(&self, colour: u16, falls: bool) -> String {
        let way = if falls { 'F' } else { 'R' };
        format!("url(#{}{colour}{way})", self.prefix)
    }

    /// Half a wrap along its run, and half its breadth across, for one that falls or one
    /// that rises. Across always points up.
    pub(super) fn axes(&self, falls: bool) -> (PlanePoint, PlanePoint) {
        let sign = if falls { 1.0 } else { -1.0 };
        (
            (sign * COLUMN / 2.0, self.half_row / 2.0),
            (sign * COLUMN / 4.0, -self.half_row / 4.0),
        )
    }

    /// A plump wrap that runs between two shares of `along`, centred `across` from the
    /// knot's middle.
    pub(super) fn wrap(&self, falls: bool, from: f64, to: f64, across: f64) -> String {
        let (along, side) = self.axes(falls);
        let at = |t: f64, s: f64| plus(plus((0.0, 0.0), along, t), side, across + s);
        let (half, length) = (0.93, to - from);
        let soft = 0.46 / length;
        soft_shape(&[
            (at(from, -half), 0.45, soft),
            (at(to, -half), soft, 0.45),
            (at(to, half), 0.45, soft),
            (at(from, half), soft, 0.45),
        ])
    }

    /// One of the two wraps of a turning knot: it ends where it meets the other, on the
    /// knot's middle line.
    fn turned_wrap(&self, falls: bool, upper: bool) -> String {
        let (along, side) = self.axes(falls);
        let (turn, shift) = if upper { (1.0, 1.0) } else { (-1.0, -1.0) };
        // Drawn for the upper wrap; half a turn of the frame gives the lower.
        let at = |t: f64, s: f64| plus(plus((0.0, 0.0), along, turn * t), side, shift + turn * s);
        soft_shape(&[
            (at(-0.96, -1.4), 0.4, 0.4),
            (at(-0.18, -1.4), 0.4, 0.1),
            (at(0.93, 0.88), 0.1, 0.16),
            (at(-0.96, 0.92), 0.2, 0.4),
        ])
    }

    /// The two wraps of a knot in one path.
    fn wraps(&self, lie: Lie) -> (String, String) {
        match lie {
            Lie::Falling | Lie::Rising => {
                let falls = lie.upper_falls();
                (
                    self.wrap(falls, -0.96, 0.96, 1.0),
                    self.wrap(falls, -0.96, 0.96, -1.0),
                )
            }
            Lie::MeetRight | Lie::MeetLeft => (
                self.turned_wrap(lie.upper_falls(), true),
                self.turned_wrap(lie.lower_falls(), false),
            ),
        }
    }

    /// Everything that was asked for.
    pub(super) fn definitions(&self) -> String {
        let mut defs = String::new();
        self.define(&mut defs)
            .expect("writing to a string does not fail");
        defs
    }

    fn define(&self, defs: &mut String) -> std::fmt::Result {
        let Self {
            prefix, half_row, ..
        } = self;
        let (wide, high) = (COLUMN * 1.01, half_row * 1.01);
        let ground = soft_shape(
            &[(-wide, 0.0), (0.0, -high), (wide, 0.0), (0.0, high)]
                .map(|corner| (corner, 0.16, 0.16)),
        );
        writeln!(defs, r#"<path id="{prefix}g" d="{ground}"/>"#)?;
        for falls in [true, false] {
            let ((x, y), name) = (self.axes(falls).0, if falls { 'F' } else { 'R' });
            writeln!(
                defs,
                r##"<linearGradient id="{prefix}{name}" gradientUnits="userSpaceOnUse" x1="{}" y1="{}" x2="{}" y2="{}"><stop stop-opacity=".34"/><stop offset=".26" stop-opacity="0"/><stop offset=".74" stop-opacity="0"/><stop offset="1" stop-opacity=".34"/></linearGradient>"##,
                short(-x),
                short(-y),
                short(x),
                short(y)
            )?;
        }
        for &colour in &self.rounds {
            self.define_rounds(defs, colour)?;
        }
        for lie in Lie::ALL {
            if self.asked().any(|asked| asked.1 == lie) {
                self.define_lie(defs, lie)?;
            }
        }
        for (colour, lie) in self.asked() {
            self.define_knot(defs, colour, lie)?;
        }
        for (&(colour, along, half_rows), number) in self.open.keys().zip(self.cords..) {
            self.define_open(defs, colour, along, half_rows, number)?;
        }
        for lit in self.lit.values() {
            lit.define(defs)?;
        }
        for (&(colour, lie, frame), placed) in &self.turned {
            let look = &self.lit[&frame.turn_in_steps()];
            let name = placed.split('"').nth(1).unwrap_or_default();
            writeln!(
                defs,
                r##"<use id="{}" href="#{}{colour}{}" transform="matrix({})"/>"##,
                name.trim_start_matches('#'),
                look.prefix,
                lie.letter(),
                frame.matrix(COLUMN, self.half_row)
            )?;
        }
        let after_open = u32::try_from(self.open.len()).expect("few looks") + self.cords;
        for ((&(colour, shape), name), number) in self.courses.iter().zip(after_open..) {
            writeln!(
                defs,
                r#"<g id="{name}" fill="none">{}</g>"#,
                self.numbered_cord(number, colour, &shape.path(), self.thread)
            )?;
        }
        Ok(())
    }

    /// Across a wrap the paint goes from one dark rim over the lit ridge to the other,
    /// and starts again at the next wrap.
    fn define_rounds(&self, defs: &mut String, colour: u16) -> std::fmt::Result {
        let shades = self.shades(colour);
        let prefix = &self.prefix;
        for falls in [true, false] {
            let (along, across) = self.axes(falls);
            // At right angles to the run, as long as a wrap is broad.
            let normal = (along.1 * across.0.signum(), -along.0.abs());
            let reach = 2.0 * (across.0 * normal.0 + across.1 * normal.1)
                / (normal.0 * normal.0 + normal.1 * normal.1);
            let (x, y) = (normal.0 * reach, normal.1 * reach);
            let length = (normal.0 * normal.0 + normal.1 * normal.1).sqrt();
            let lit = 0.5 + 0.13 * (self.light.0 * normal.0 + self.light.1 * normal.1) / length;
            writeln!(
                defs,
                r#"<linearGradient id="{prefix}{colour}{}" gradientUnits="userSpaceOnUse" spreadMethod="repeat" x2="{}" y2="{}"><stop stop-color="{rim}"/><stop offset="{:.2}" stop-color="{plain}"/><stop offset="{lit:.2}" stop-color="{ridge}"/><stop offset="{:.2}" stop-color="{plain}"/><stop offset="1" stop-color="{rim}"/></linearGradient>"#,
                if falls { 'F' } else { 'R' },
                short(x),
                short(y),
                lit - 0.27,
                lit + 0.27,
                rim = shades.rim,
                plain = shades.plain,
                ridge = shades.ridge,
            )?;
        }
        Ok(())
    }

    /// What all knots that lie alike have in common: the outline of the wraps, the shade
    /// where they dive, and the twist of the thread.
    fn define_lie(&self, defs: &mut String, lie: Lie) -> std::fmt::Result {
        let (prefix, letter) = (&self.prefix, lie.letter());
        let (upper, lower) = self.wraps(lie);
        writeln!(
            defs,
            r#"<path id="{prefix}u{letter}" d="{upper}"/><path id="{prefix}l{letter}" d="{lower}"/>"#
        )?;
        let turning = matches!(lie, Lie::MeetRight | Lie::MeetLeft);
        let mut twist = String::new();
        let mut gloss = String::new();
        for (falls, across) in [(lie.upper_falls(), 1.0), (lie.lower_falls(), -1.0)] {
            // A turning wrap is whole only on the half away from where it meets the other.
            let flip = if turning { across } else { 1.0 };
            let starts: &[f64] = if turning {
                &[-0.92, -0.5, -0.08]
            } else {
                &[-0.86, -0.44, -0.02, 0.4]
            };
            for &start in starts {
                twist.push_str(&self.twist(falls, across, flip, start));
            }
            let (along, side) = self.axes(falls);
            let at = |t: f64, s: f64| plus(plus((0.0, 0.0), along, flip * t), side, across + s);
            let lit = if self.light.0 * side.0 + self.light.1 * side.1 > 0.0 {
                0.22
            } else {
                -0.1
            };
            let (from, to) = if turning {
                (-0.55, 0.15)
            } else {
                (-0.45, 0.45)
            };
            write!(gloss, "M{}L{}", pair(at(from, lit)), pair(at(to, lit)))?;
        }
        if turning {
            let x = if lie == Lie::MeetRight { 1.0 } else { -1.0 };
            write!(twist, "M{}L{}", pair((x * 2.0, 0.0)), pair((x * 90.0, 0.0)))?;
        }
        write!(defs, r##"<g id="{prefix}{letter}">"##)?;
        let shade = |falls: bool| if falls { 'F' } else { 'R' };
        write!(
            defs,
            r##"<use href="#{prefix}u{letter}" fill="url(#{prefix}{})"/><use href="#{prefix}l{letter}" fill="url(#{prefix}{})"/>"##,
            shade(lie.upper_falls()),
            shade(lie.lower_falls())
        )?;
        writeln!(
            defs,
            r##"<path d="{twist}" fill="none" stroke="#000" stroke-opacity=".16" stroke-width="4.5" stroke-linecap="round"/><path d="{gloss}" stroke="#fff" stroke-opacity=".15" stroke-width="9" stroke-linecap="round"/></g>"##
        )
    }

    /// One strand of the twist, seen as a slanting furrow across a wrap.
    fn twist(&self, falls: bool, across: f64, flip: f64, start: f64) -> String {
        let (along, side) = self.axes(falls);
        let at = |t: f64, s: f64| plus(plus((0.0, 0.0), along, flip * t), side, across + flip * s);
        format!(
            "M{}C{} {} {}",
            pair(at(start, -0.74)),
            pair(at(start + 0.16, -0.5)),
            pair(at(start + 0.3, 0.5)),
            pair(at(start + 0.46, 0.74))
        )
    }

    fn define_knot(&self, defs: &mut String, colour: u16, lie: Lie) -> std::fmt::Result {
        let (prefix, letter) = (&self.prefix, lie.letter());
        let Shades {
            deep, rim, plain, ..
        } = self.shades(colour);
        let paint = |falls: bool| if falls { 'F' } else { 'R' };
        let (upper, lower) = (paint(lie.upper_falls()), paint(lie.lower_falls()));
        write!(
            defs,
            r##"<g id="{prefix}{colour}{letter}"><use href="#{prefix}g" fill="{deep}"/>"##
        )?;
        if matches!(lie, Lie::MeetRight | Lie::MeetLeft) {
            // The working thread comes in and leaves again at the side where it turns from.
            let x = if lie == Lie::MeetRight { -1.0 } else { 1.0 };
            let y = self.half_row;
            let shoulder = soft_shape(&[
                ((x * 96.0, 0.0), 0.4, 0.4),
                ((x * 62.0, -y * 0.31), 0.4, 0.4),
                ((x * 24.0, 0.0), 0.4, 0.4),
                ((x * 62.0, y * 0.31), 0.4, 0.4),
            ]);
            write!(
                defs,
                r#"<path d="{shoulder}" fill="{plain}" fill-opacity=".75"/>"#
            )?;
        }
        writeln!(
            defs,
            r##"<g stroke="{rim}" stroke-width="3"><use href="#{prefix}u{letter}" fill="url(#{prefix}{colour}{upper})"/><use href="#{prefix}l{letter}" fill="url(#{prefix}{colour}{lower})"/></g><use href="#{prefix}{letter}"/></g>"##
        )
    }

    fn define_open(
        &self,
        defs: &mut String,
        colour: u16,
        along: Along,
        half_rows: i64,
        number: u32,
    ) -> std::fmt::Result {
        #[expect(clippy::cast_precision_loss, reason = "half rows of a picture are few")]
        let length = half_rows as f64 * self.half_row;
        let slack = 48.0_f64.min(length * 0.45);
        let x = match along {
            Along::LeftEdge => -slack,
            Along::Inside => 0.0,
            Along::RightEdge => slack,
        };
        // The ends are hidden under the knots. A long thread lies straight between its bends.
        let bend = length.min(2.0 * self.half_row) * 0.3;
        let path = format!(
            "M{} -22C{x1} 8 {x1} {} {x1} {}L{x1} {}C{x1} {} {x1} {} {} {}",
            short(-x * 0.35),
            short(bend * 0.6),
            short(bend),
            short(length - bend),
            short(length - bend * 0.6),
            short(length - 8.0),
            short(-x * 0.35),
            short(length + 22.0),
            x1 = short(x * 0.72),
        );
        let id = open_name(&self.prefix, colour, along, half_rows);
        writeln!(
            defs,
            r#"<g id="{id}" fill="none">{}</g>"#,
            self.numbered_cord(number, colour, &path, self.thread)
        )
    }

    /// A thread, or a bundle of one colour, along a path.
    pub(super) fn cord(&mut self, colour: u16, path: &str, width: f64) -> String {
        self.cords += 1;
        self.numbered_cord(self.cords - 1, colour, path, width)
    }

    fn numbered_cord(&self, number: u32, colour: u16, path: &str, width: f64) -> String {
        let Strokes {
            deep,
            rim,
            plain,
            ridge,
        } = self.strokes(colour);
        let name = format!("{}c{number}", self.prefix);
        let mut out = String::with_capacity(400 + path.len());
        let mut say = |pieces: &[&str], number: f64| {
            pieces.iter().for_each(|piece| out.push_str(piece));
            push_short(&mut out, number);
        };
        let again = &[r##""/><use href="#"##, name.as_str()].concat();
        say(&["<g", deep], width + 6.0);
        say(
            &[
                r#""><path id=""#,
                &name,
                r#"" d=""#,
                path,
                r##""/></g><use href="#"##,
                &name,
                rim,
            ],
            width,
        );
        say(&[again, plain], width * 0.72);
        say(&[again, ridge], width * 0.28);
        say(&[r#"" x=""#], self.light.0 * width * 0.1);
        say(&[r#"" y=""#], self.light.1 * width * 0.1);
        say(&[again, TWIST], width * 0.84);
        out.push_str(r#"" stroke-dasharray="4 13"/>"#);
        out
    }

    /// How the strokes of a cord of this colour begin, up to their width.
    fn strokes(&self, colour: u16) -> &Strokes {
        let index = usize::from(colour);
        self.strokes[index].get_or_init(|| {
            let Shades {
                deep,
                rim,
                plain,
                ridge,
            } = self.shades(colour);
            let bare = |shade: Srgb| format!(r#" stroke="{shade}" stroke-width=""#);
            let named = |shade| format!(r#""{}"#, bare(shade));
            Strokes {
                deep: bare(deep),
                rim: named(rim),
                plain: named(plain),
                ridge: named(ridge),
            }
        })
    }

    /// A name for what comes again and again in an end.
    pub(super) fn lobe_name(&self) -> String {
        format!("{}b{}", self.prefix, self.cords)
    }
}

/// The furrows of a twisted thread.
const TWIST: &str = r##"" stroke="#000" stroke-opacity=".1" stroke-width=""##;

/// How the strokes of a cord begin, from the widest to the narrowest.
#[derive(Clone)]
struct Strokes {
    deep: String,
    rim: String,
    plain: String,
    ridge: String,
}

fn open_name(prefix: &str, colour: u16, along: Along, half_rows: i64) -> String {
    let side = match along {
        Along::LeftEdge => 'x',
        Along::Inside => 'y',
        Along::RightEdge => 'z',
    };
    format!("{prefix}{colour}{side}{half_rows}")
}

/// A short name made from bytes (FNV-1a, 64 bits; draft-eastlake-fnv, from memory). It sets the
/// pictures of one page apart and keeps nothing secret: SHA-256 would be slower and no better
/// here, and those who need only SVG do without its crate.
struct Digest(u64);

impl Digest {
    fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    fn eat(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    /// Four letters.
    fn name(&self) -> String {
        (0..4)
            .map(|at| {
                char::from(b'a' + u8::try_from((self.0 >> (12 * at)) % 26).expect("below 26"))
            })
            .chain(['-'])
            .collect()
    }
}
