//! Start and finish: the bundles of the triangles, the knot, and the tails.

use std::fmt::Write;

use hitchwork_core::craft::{End, Shape, Ties};
use hitchwork_core::knot::Side;

use super::frame::{TurnedFrame, dot, length};
use super::pen::{Bounds, bundle_radius, exact, pair, plus, short, soft_shape};
use super::soft::{Body, Rim, RimPoint};
use super::style::{COLUMN, FabricStyle};
use crate::ink::PlanePoint;

/// Which end of the band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    Start,
    Finish,
}

impl Which {
    /// The way out of the band: up at the start, down at the finish.
    fn out(self) -> f64 {
        match self {
            Self::Start => -1.0,
            Self::Finish => 1.0,
        }
    }

    fn sign(self) -> i64 {
        match self {
            Self::Start => -1,
            Self::Finish => 1,
        }
    }
}

/// A knot round the bundle of a triangle.
#[derive(Clone, Copy, Debug)]
struct BundleKnot {
    column: i64,
    level: i64,
    /// Where it lies on a soft band.
    laid: Option<LaidBundleKnot>,
    /// The position of the thread that wraps.
    position: i64,
    /// How many threads are wrapped.
    inside: u16,
}

/// How a knot round a bundle lies on the rim of a soft band.
#[derive(Clone, Copy, Debug)]
struct LaidBundleKnot {
    centre: PlanePoint,
    /// How it is turned against one on the lattice: the cosine and the sine.
    turn: PlanePoint,
}

impl LaidBundleKnot {
    /// A way in its own frame, as it lies.
    fn turned(&self, way: PlanePoint) -> PlanePoint {
        turned(way, self.turn)
    }
}

fn turned((x, y): PlanePoint, (cosine, sine): PlanePoint) -> PlanePoint {
    (x * cosine - y * sine, x * sine + y * cosine)
}

/// The knots round one bundle, from the fabric outwards.
#[derive(Debug)]
struct Chain {
    knots: Vec<BundleKnot>,
    /// 1 where the bundle runs outwards to the right, -1 where to the left.
    toward: i64,
    /// Whether the wraps fall to the right.
    falls: bool,
    /// The position of its leftmost thread, from 0.
    first: u16,
    threads: u16,
}

impl Chain {
    /// The bundle of the positions `first` to `last`, from the given side, on a growing
    /// edge whose outward levels are given by column.
    fn new(which: Which, side: Side, first: u16, last: u16, edge: &[Option<i64>]) -> Self {
        // At the start the thread that leaves the bundle hangs on the side it comes out
        // to; at the finish the bundle moves on from that side.
        let runs_right = (which == Which::Start) == (side == Side::Right);
        let mut columns: Vec<u16> = (first..last).collect();
        if !runs_right {
            columns.reverse();
        }
        let mut knots: Vec<BundleKnot> = Vec::with_capacity(columns.len());
        for (column, inside) in columns.into_iter().zip(1..) {
            let at = usize::from(column) - 1;
            let depth = |index: Option<usize>, lift: i64| {
                index
                    .and_then(|index| edge.get(index).copied().flatten())
                    .map(|level| level + lift)
            };
            let under = [
                depth(Some(at), 2),
                depth(at.checked_sub(1), 1),
                depth(Some(at + 1), 1),
                knots.last().map(|knot| knot.level + 1),
            ];
            let level = under.into_iter().flatten().max().unwrap_or(0);
            let column = i64::from(column);
            knots.push(BundleKnot {
                column,
                level,
                laid: None,
                position: if runs_right { column + 1 } else { column },
                inside,
            });
        }
        Self {
            knots,
            toward: if runs_right { 1 } else { -1 },
            falls: side == Side::Right,
            first: first - 1,
            threads: last + 1 - first,
        }
    }

    /// Lays its knots on the rim of a soft band, as they lie there: each touches the knot before
    /// it and those of the rim, so over a straight row they lie as one more row.
    fn lay_on(&mut self, rim: &Rim, which: Which, look: &FabricStyle) {
        let out = which.out();
        let knot = length((COLUMN, look.half_row));
        // How far out a knot lies that touches another, so far aside of it.
        let touching = |aside: f64| (knot * knot - aside * aside).max(0.0).sqrt();
        let mut centres: Vec<PlanePoint> = Vec::new();
        for knot_round in &self.knots {
            let column = usize::try_from(knot_round.column).expect("columns count from 1");
            // A thread that leaves the rim sideways turns out beside its outermost knot.
            let beside = [&rim.anchors[column - 1], &rim.anchors[column]]
                .map(|anchor| anchor.point.0 + anchor.way.0 * knot / 2.0);
            let x = beside[0].midpoint(beside[1]);
            let mut far = f64::MIN;
            let beside = [column.checked_sub(2), Some(column - 1), Some(column)];
            for index in beside.into_iter().flatten() {
                let Some(body) = rim.knots.get(index).copied().flatten() else {
                    continue;
                };
                let (aside, at) = (x - body.centre.0, body.centre.1 * out);
                let rises = if index + 1 == column || aside.abs() < knot / 2.0 {
                    // It lies upon the rim as the rim's knots lie there.
                    2.0 * body.reach((0.0, out))
                } else {
                    touching(aside)
                };
                far = far.max(at + rises);
            }
            if far == f64::MIN {
                far = f64::max(
                    rim.anchors[column - 1].point.1 * out,
                    rim.anchors[column].point.1 * out,
                );
            }
            if let Some(before) = centres.last() {
                far = far.max(before.1 * out + touching(x - before.0));
            }
            centres.push((x, far * out));
        }
        #[expect(clippy::cast_precision_loss, reason = "1 or -1")]
        let exit = (self.toward as f64 * COLUMN, out * look.half_row);
        for at in 0..centres.len() {
            let (from, to) = if at == 0 { (0, 1) } else { (at - 1, at) };
            let step = match (centres.get(from), centres.get(to)) {
                (Some(from), Some(to)) => plus(*to, *from, -1.0),
                _ => exit,
            };
            let size = length(step) * length(exit);
            let cross = exit.0 * step.1 - exit.1 * step.0;
            self.knots[at].laid = Some(LaidBundleKnot {
                centre: centres[at],
                turn: (dot(exit, step) / size, cross / size),
            });
        }
    }
}

/// An end of the band, ready to be drawn.
pub(super) struct Drawn {
    /// For each position: the seam at which its thread leaves the end for the fabric, or
    /// nothing where the threads run together freely.
    pub(super) seams: Option<Vec<i64>>,
    /// What lies under the fabric.
    pub(super) below: String,
    /// What lies on it.
    pub(super) above: String,
    /// Where its shadow falls: paths with their widths.
    pub(super) shadow: Vec<(String, f64)>,
    /// The knots round its bundles: level and column.
    pub(super) knots: Vec<(i64, i64)>,
    /// The same on a soft band,
    pub(super) bodies: Vec<Body>,
    /// with the positions of the threads that run to them, and where they meet them.
    pub(super) meets: Vec<(usize, RimPoint)>,
    /// How all of it is turned.
    turn: Option<PlanePoint>,
}

/// Where a bundle ends.
struct Tip {
    point: PlanePoint,
    /// Which way it runs there: on the lattice 1 to the right or -1 to the left, and as far out;
    /// nothing where it runs nowhere.
    way: PlanePoint,
    /// Half its width.
    radius: f64,
}

impl Drawn {
    /// Writes the paths of its shadow.
    pub(super) fn write_shadow(&self, out: &mut String) {
        if let Some(turn) = self.turn {
            write!(out, r#"<g transform="{}">"#, turning(turn))
                .expect("writing to a string does not fail");
        }
        for (path, width) in &self.shadow {
            let width = short(*width);
            write!(out, r#"<path d="{path}" stroke-width="{width}"/>"#)
                .expect("writing to a string does not fail");
        }
        if self.turn.is_some() {
            out.push_str("</g>");
        }
    }

    /// Turns all of it, which was drawn upright, as the end of the band is turned.
    fn turn_by(&mut self, turn: PlanePoint) {
        self.turn = Some(turn);
        for layer in [&mut self.below, &mut self.above] {
            *layer = format!(r#"<g transform="{}">{layer}</g>"#, turning(turn));
        }
        for body in &mut self.bodies {
            let [right, left] = body.frame.sides().map(|side| turned(side, turn));
            *body = Body {
                centre: turned(body.centre, turn),
                frame: TurnedFrame::new(right, left),
            };
        }
        for (_, anchor) in &mut self.meets {
            anchor.point = turned(anchor.point, turn);
            anchor.way = turned(anchor.way, turn);
        }
    }
}

/// A turn round the middle of the plane, as a transform.
fn turning((cosine, sine): PlanePoint) -> String {
    format!("matrix({cosine:.5} {sine:.5} {:.5} {cosine:.5} 0 0)", -sine)
}

/// What an end is made of.
pub(super) struct EndSource<'a> {
    pub(super) which: Which,
    pub(super) end: End,
    /// The colour at each position.
    pub(super) colours: &'a [u16],
    /// For each column the level of the outermost knot.
    pub(super) edge: &'a [Option<u32>],
    /// For each position the seam of its outermost knot.
    pub(super) seams: &'a [i64],
    /// The rim of a soft band.
    pub(super) rim: Option<&'a Rim>,
}

impl EndSource<'_> {
    /// Draws it as it lies. Where a band bends, its end is drawn upright and then turned.
    pub(super) fn draw(&self, look: &mut FabricStyle, bounds: &mut Bounds) -> Drawn {
        let Some(rim) = self.rim else {
            return self.draw_upright(look, bounds);
        };
        let upright = self.which.out();
        // The turn that takes the upright way out to the rim's own.
        let turn = (rim.out.1 * upright, -rim.out.0 * upright);
        if turn.1 == 0.0 && turn.0 > 0.0 {
            return self.draw_upright(look, bounds);
        }
        let back = (turn.0, -turn.1);
        let rim = Rim {
            anchors: rim
                .anchors
                .iter()
                .map(|anchor| RimPoint {
                    point: turned(anchor.point, back),
                    way: turned(anchor.way, back),
                })
                .collect(),
            knots: rim
                .knots
                .iter()
                .map(|body| {
                    body.map(|body| {
                        let [right, left] = body.frame.sides().map(|side| turned(side, back));
                        Body {
                            centre: turned(body.centre, back),
                            frame: TurnedFrame::new(right, left),
                        }
                    })
                })
                .collect(),
            out: (0.0, upright),
        };
        let middle = rim.anchors[rim.anchors.len() / 2].point;
        let mut own = Bounds::around(middle, middle);
        let source = EndSource {
            rim: Some(&rim),
            ..*self
        };
        let mut drawn = source.draw_upright(look, &mut own);
        drawn.turn_by(turn);
        let (least, most) = (own.least, own.most);
        for corner in [least, most, (least.0, most.1), (most.0, least.1)] {
            bounds.include(turned(corner, turn), 0.0);
        }
        drawn
    }

    fn draw_upright(&self, look: &mut FabricStyle, bounds: &mut Bounds) -> Drawn {
        let count = u16::try_from(self.colours.len()).expect("MAX_THREADS fits");
        let sign = self.which.sign();
        let edge: Vec<Option<i64>> = self
            .edge
            .iter()
            .map(|level| level.map(|level| sign * i64::from(level)))
            .collect();
        let half = count / 2;
        let chain = |side, first, last| {
            let mut chain = Chain::new(self.which, side, first, last, &edge);
            if let Some(rim) = self.rim {
                chain.lay_on(rim, self.which, look);
            }
            chain
        };
        let (inner, outer) = match self.which {
            Which::Start => (Side::Right, Side::Left),
            Which::Finish => (Side::Left, Side::Right),
        };
        let chains = match self.end.shape {
            Shape::Flat | Shape::Loop => Vec::new(),
            Shape::HalfTriangleLeft => vec![chain(Side::Left, 1, count)],
            Shape::HalfTriangleRight => vec![chain(Side::Right, 1, count)],
            Shape::Triangle => vec![
                chain(inner, 1, half),
                // Of an odd number the middle one hangs between the two bundles.
                chain(outer, count - half + 1, count),
            ],
        };
        let mut drawn = Drawn {
            seams: None,
            below: String::new(),
            above: String::new(),
            shadow: Vec::new(),
            knots: Vec::new(),
            bodies: Vec::new(),
            meets: Vec::new(),
            turn: None,
        };
        let tail = if chains.is_empty() {
            self.gather(look, &mut drawn)
        } else {
            self.bundle(look, &chains, &mut drawn)
        };
        self.tail(look, tail, bounds, &mut drawn);
        drawn
    }

    fn seam_y(&self, look: &mut FabricStyle, seam: i64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "half rows of a picture are few")]
        let seam = seam as f64;
        (seam + 0.5) * look.half_row
    }

    fn position_x(position: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "positions are few")]
        let position = position as f64;
        (position + 0.5) * COLUMN
    }

    /// Where the thread at a position leaves the fabric, and which way.
    fn anchor(&self, look: &mut FabricStyle, position: usize, seam: i64) -> RimPoint {
        match self.rim {
            Some(rim) => rim.anchors[position],
            None => RimPoint {
                point: (Self::position_x(position), self.seam_y(look, seam)),
                way: (0.0, self.which.out()),
            },
        }
    }

    /// The threads run together from the fabric into one knot.
    fn gather(&self, look: &mut FabricStyle, drawn: &mut Drawn) -> PlanePoint {
        let out = self.which.out();
        let count = self.colours.len();
        let anchors: Vec<RimPoint> = (0..count)
            .map(|at| self.anchor(look, at, self.seams[at]))
            .collect();
        let ys = anchors.iter().map(|anchor| anchor.point.1);
        let far = ys.map(|y| y * out).fold(f64::MIN, f64::max) * out;
        let xs = || anchors.iter().map(|anchor| anchor.point.0);
        let (left, right) = (xs().fold(f64::MAX, f64::min), xs().fold(f64::MIN, f64::max));
        let radius = bundle_radius(
            f64::from(u16::try_from(count).expect("MAX_THREADS fits")),
            look.thread,
        );
        let middle = left.midpoint(right);
        let reach = 60.0 + (right - middle) * 0.85;
        let goal = (middle, far + out * reach);
        let mut order: Vec<usize> = (0..count).collect();
        order.sort_by(|a, b| {
            (anchors[*b].point.0 - middle)
                .abs()
                .total_cmp(&(anchors[*a].point.0 - middle).abs())
        });
        for at in order {
            let RimPoint { point: from, way } = anchors[at];
            let share = (from.0 - middle) / (right + COLUMN - middle);
            let to = (goal.0 + share * radius, goal.1);
            let mut straight = (from.0, far.midpoint(from.1) + out * reach * 0.3);
            let mut under = (from.0, from.1 - out * 20.0);
            if self.rim.is_some() {
                // It leaves its knot as it lies, be it sideways, and then turns outwards.
                under = plus(from, way, -20.0);
                let outwards = (straight.1 - from.1) * way.1.abs().max(0.3);
                straight = (from.0 + way.0 * 0.5 * COLUMN, from.1 + outwards);
            }
            let path = format!(
                "M{}C{} {} {}",
                pair(under),
                pair(straight),
                pair((to.0, goal.1 - out * reach * 0.5)),
                pair(to)
            );
            write!(
                drawn.below,
                r#"<g fill="none">{}</g>"#,
                look.cord(self.colours[at], &path, look.thread)
            )
            .expect("writing to a string does not fail");
            drawn.shadow.push((path, look.thread));
        }
        goal
    }

    /// The bundles run along the slant, wrapped once by each thread.
    fn bundle(&self, look: &mut FabricStyle, chains: &[Chain], drawn: &mut Drawn) -> PlanePoint {
        let mut seams = self.seams.to_vec();
        let tips: Vec<Tip> = chains
            .iter()
            .map(|chain| self.knot_chain(look, chain, &mut seams, drawn))
            .collect();
        let goal = self.goal(&tips);
        let mut neck = String::new();
        if let Some(middle) = self.between_bundles(chains) {
            let out = self.which.out();
            let from = self.anchor(look, middle, seams[middle]).point;
            let path = format!(
                "M{}C{} {} {}",
                pair(plus(from, (0.0, out), -20.0)),
                pair(plus(from, (0.0, out), 60.0)),
                pair(plus(goal, (0.0, out), -70.0)),
                pair(goal)
            );
            neck.push_str(&look.cord(self.colours[middle], &path, look.thread));
            drawn.shadow.push((path, look.thread));
        }
        drawn.seams = Some(seams);
        for (chain, tip) in chains.iter().zip(&tips) {
            let first = usize::from(chain.first);
            let colours = &self.colours[first..first + usize::from(chain.threads)];
            self.run_to(look, colours, tip, goal, (&mut neck, drawn));
        }
        write!(drawn.below, r#"<g fill="none">{neck}</g>"#)
            .expect("writing to a string does not fail");
        goal
    }

    /// Ties the knots of a chain one by one; `seams` become those on the fabric's side of its
    /// bundle. Gives where the bundle ends.
    fn knot_chain(
        &self,
        look: &mut FabricStyle,
        chain: &Chain,
        seams: &mut [i64],
        drawn: &mut Drawn,
    ) -> Tip {
        let sign = self.which.sign();
        let first = usize::from(chain.first);
        let last = first + usize::from(chain.threads);
        let outermost = (first..last)
            .map(|at| self.seams[at] * sign)
            .max()
            .unwrap_or(0)
            * sign;
        seams[first..last].fill(outermost);
        let mut tip = Tip {
            point: self.anchor(look, first, outermost).point,
            way: (0.0, self.which.out()),
            radius: look.thread / 2.0,
        };
        for knot in &chain.knots {
            let level = sign * knot.level;
            // The seam on the fabric's side of a bundle knot.
            let seam = if sign < 0 { level } else { level - 1 };
            for position in [
                knot.position,
                knot.column + i64::from(knot.position == knot.column),
            ] {
                let at = usize::try_from(position - 1).expect("positions count from 1");
                if position == knot.position || knot.inside == 1 {
                    seams[at] = seam;
                    if let Some(laid) = knot.laid {
                        drawn
                            .meets
                            .push((at, self.meets(look, knot, &laid, position)));
                    }
                }
            }
            drawn.knots.push((level, knot.column));
            tip = self.bundle_knot(look, chain, knot, drawn);
        }
        tip
    }

    /// Where the thread at a position runs into a knot round a bundle, and which way.
    fn meets(
        &self,
        look: &FabricStyle,
        knot: &BundleKnot,
        laid: &LaidBundleKnot,
        position: i64,
    ) -> RimPoint {
        let out = self.which.out();
        let right = if position > knot.column { 1.0 } else { -1.0 };
        let side = laid.turned((right * COLUMN / 2.0, -out * look.half_row / 2.0));
        RimPoint {
            point: plus(laid.centre, side, 1.0),
            way: plus((0.0, 0.0), side, -1.0 / length(side)),
        }
    }

    /// Where the bundles come together.
    fn goal(&self, tips: &[Tip]) -> PlanePoint {
        let out = self.which.out();
        let x = tips
            .iter()
            .map(|tip| tip.point.0 + tip.way.0 * 25.0)
            .sum::<f64>()
            / if tips.len() == 2 { 2.0 } else { 1.0 };
        let far = tips.iter().map(|tip| tip.point.1 * out);
        let far = far.fold(f64::MIN, f64::max) * out;
        let radius = tips.iter().map(|tip| tip.radius).fold(0.0, f64::max);
        (x, far + out * (radius * 1.2 + 90.0))
    }

    /// Draws a bundle from where it ends to where all come together, as streaks of its colours.
    fn run_to(
        &self,
        look: &mut FabricStyle,
        colours: &[u16],
        tip: &Tip,
        goal: PlanePoint,
        (neck, drawn): (&mut String, &mut Drawn),
    ) {
        let out = self.which.out();
        let Tip { point, way, radius } = *tip;
        // Square to the way, towards where the bundle is shorter.
        let toward = if way.0 < 0.0 { -1.0 } else { 1.0 };
        let aside = if way.0 == 0.0 {
            (0.0, out)
        } else {
            (-way.1 * toward * out, way.0 * toward * out)
        };
        let streaks = sampled(colours, 5);
        let breadth = 2.0 * radius / units(streaks.len());
        for (colour, number) in streaks.iter().zip(0_u16..) {
            let share = (f64::from(number) + 0.5) / units(streaks.len()) - 0.5;
            // Across the slant the outer threads lie further on.
            let from = plus(point, aside, share * radius * 1.4);
            let back = plus(from, way, -60.0);
            let to = plus(goal, (aside.0, 0.0), share * radius * 1.6);
            let path = format!(
                "M{}L{}C{} {} {}",
                pair(back),
                pair(from),
                pair(plus(from, way, radius * 0.3 + 25.0)),
                pair((to.0, to.1 - out * 70.0)),
                pair(to)
            );
            neck.push_str(&look.cord(*colour, &path, breadth * 1.12));
            drawn.shadow.push((path, breadth));
        }
    }

    /// The position, from 0, of a thread that hangs between two bundles.
    fn between_bundles(&self, chains: &[Chain]) -> Option<usize> {
        let taken: u16 = chains.iter().map(|chain| chain.threads).sum();
        let middle = self.colours.len() / 2;
        (usize::from(taken) < self.colours.len()).then_some(middle)
    }

    /// Draws one knot round a bundle; gives where the bundle leaves it.
    fn bundle_knot(
        &self,
        look: &mut FabricStyle,
        chain: &Chain,
        knot: &BundleKnot,
        drawn: &mut Drawn,
    ) -> Tip {
        let out = self.which.out();
        #[expect(
            clippy::cast_precision_loss,
            reason = "columns and half rows of a picture are few"
        )]
        let on_lattice = (
            knot.column as f64 * COLUMN,
            knot.level as f64 * out * look.half_row,
        );
        let centre = knot.laid.map_or(on_lattice, |laid| laid.centre);
        let lies = |way: PlanePoint| knot.laid.map_or(way, |laid| laid.turned(way));
        let radius = bundle_radius(f64::from(knot.inside), look.thread);
        let (along, _) = look.axes(chain.falls);
        // How much longer than round one thread the wrap is, in halves of a wrap.
        let half = (along.0 * along.0 + along.1 * along.1).sqrt();
        let longer = 2.0 * (radius - look.thread / 2.0) / half;
        let way = if along.1 * out > 0.0 { 1.0 } else { -1.0 };
        let (from, to) = if way > 0.0 {
            (-0.96, 0.96 + longer)
        } else {
            (-0.96 - longer, 0.96)
        };
        let colour =
            self.colours[usize::try_from(knot.position - 1).expect("positions count from 1")];
        write_wraps(
            look,
            colour,
            chain.falls,
            (centre, knot.laid.map(|laid| laid.turn)),
            (from, to),
            &mut drawn.above,
        );
        if knot.laid.is_some() {
            let side = |right: f64| lies((right * COLUMN / 2.0, look.half_row / 2.0));
            drawn.bodies.push(Body {
                centre,
                frame: TurnedFrame::new(side(1.0), side(-1.0)),
            });
        }
        let along = lies(along);
        drawn.shadow.push((
            format!(
                "M{}L{}",
                pair(plus(centre, along, from)),
                pair(plus(centre, along, to))
            ),
            140.0,
        ));
        let middle = plus(centre, along, (from + to) / 2.0);
        #[expect(clippy::cast_precision_loss, reason = "1 or -1")]
        let toward = chain.toward as f64;
        let exit = lies((toward * COLUMN / 2.0, out * look.half_row / 2.0));
        Tip {
            point: plus(middle, exit, 1.0),
            way: lies((toward, out)),
            radius,
        }
    }

    /// The knot beyond the end, and the tails or the loop.
    fn tail(&self, look: &mut FabricStyle, at: PlanePoint, bounds: &mut Bounds, drawn: &mut Drawn) {
        let out = self.which.out();
        let turn = if out < 0.0 { 180 } else { 0 };
        let mut colours = self.colours.to_vec();
        if out < 0.0 {
            // Seen from the start outwards, left and right have changed places.
            colours.reverse();
        }
        let threads = units(colours.len());
        let radius = bundle_radius(threads, look.thread);
        let mut tail = String::new();
        let shape = self.end.shape;
        let (length, width) = if shape == Shape::Loop && self.which == Which::Start {
            eye(look, &colours, radius, &mut tail)
        } else {
            let count = u16::try_from(colours.len()).unwrap_or(u16::MAX);
            match self.end.ties.of_threads(count) {
                Ties::Braided => braid(look, &colours, radius, &mut tail),
                Ties::Twisted => twist(look, &colours, radius, &mut tail),
                Ties::Cut => tassel(look, &colours, radius * 0.3, radius, 260.0, &mut tail),
            }
        };
        knot(look, &colours, radius, 0.0, &mut tail);
        write!(
            drawn.above,
            r#"<g transform="translate({}) rotate({turn})" fill="none">{tail}</g>"#,
            pair(at)
        )
        .expect("writing to a string does not fail");
        let end = (at.0, at.1 + out * length);
        drawn
            .shadow
            .push(if shape == Shape::Loop && self.which == Which::Start {
                (
                    teardrop(radius * 0.5, radius * 1.5, radius * 3.6, at, out),
                    radius,
                )
            } else {
                (format!("M{}L{}", pair(at), pair(end)), width * 1.7)
            });
        bounds.include(at, radius * 1.5);
        bounds.include(plus(end, (0.0, -out), width), width);
    }
}

fn units(count: usize) -> f64 {
    f64::from(u32::try_from(count).expect("counts of threads fit"))
}

/// At most this many colours, evenly chosen.
fn sampled(colours: &[u16], most: usize) -> Vec<u16> {
    let count = colours.len().min(most).max(1);
    (0..count)
        .map(|at| colours[(2 * at + 1) * colours.len() / (2 * count)])
        .collect()
}

/// An overhand knot: a few wraps across the bundle.
fn knot(look: &mut FabricStyle, colours: &[u16], radius: f64, y: f64, out: &mut String) {
    let half = radius * 1.3;
    let mut distinct: Vec<u16> = Vec::new();
    for colour in colours {
        if !distinct.contains(colour) {
            distinct.push(*colour);
        }
    }
    let wraps = distinct.iter().copied().cycle().take(distinct.len().max(4));
    let streaks = sampled(&wraps.collect::<Vec<_>>(), 4);
    let step = radius * 0.5;
    let top = y - step * (units(streaks.len()) - 1.0) / 2.0;
    for (colour, number) in streaks.iter().zip(0_u16..) {
        let y = top + step * f64::from(number);
        let path = format!(
            "M{}C{} {} {}",
            pair((-half, y + step * 0.55)),
            pair((-half * 0.5, y - step * 0.1)),
            pair((half * 0.5, y - step * 0.6)),
            pair((half, y - step * 0.35))
        );
        write!(
            out,
            r#"<g stroke-linecap="round">{}</g>"#,
            look.cord(*colour, &path, step * 1.15)
        )
        .expect("writing to a string does not fail");
    }
}

/// Loose thread ends beyond a knot.
fn tassel(
    look: &mut FabricStyle,
    colours: &[u16],
    y: f64,
    radius: f64,
    length: f64,
    out: &mut String,
) -> (f64, f64) {
    let ends = sampled(colours, 11);
    let count = units(ends.len());
    let mut drawn: Vec<(f64, String)> = Vec::new();
    for (colour, number) in ends.iter().zip(0_u16..) {
        let share = if count > 1.0 {
            2.0 * f64::from(number) / (count - 1.0) - 1.0
        } else {
            0.0
        };
        // Cut by hand: no two quite alike.
        let own = length * (1.0 - 0.07 * f64::from((number * 7) % 5));
        let reach = share * radius * 1.5;
        let path = format!(
            "M{}C{} {} {}",
            pair((share * radius * 0.6, y)),
            pair((share * radius * 0.75, y + own * 0.4)),
            pair((reach * 0.8, y + own * 0.6)),
            pair((reach, y + own))
        );
        drawn.push((share.abs(), look.cord(*colour, &path, look.thread * 0.9)));
    }
    drawn.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (_, cord) in drawn {
        out.push_str(&cord);
    }
    (y + length, radius * 1.5 + look.thread / 2.0)
}

/// One lobe of a plait or a twist, as wide as its bundle, with its threads' colours side by side.
fn lobe(
    look: &mut FabricStyle,
    colours: &[u16],
    radius: f64,
    curve: [PlanePoint; 4],
    out: &mut String,
) {
    let streaks = sampled(colours, 3);
    let breadth = 2.0 * radius / units(streaks.len());
    let (dx, dy) = (curve[3].0 - curve[0].0, curve[3].1 - curve[0].1);
    let length = (dx * dx + dy * dy).sqrt();
    let across = (-dy / length, dx / length);
    let along = |offset: f64| {
        let moved = curve.map(|point| plus(point, across, offset));
        format!(
            "M{}C{} {} {}",
            pair(moved[0]),
            pair(moved[1]),
            pair(moved[2]),
            pair(moved[3])
        )
    };
    write!(
        out,
        r##"<path d="{}" stroke="#000" stroke-opacity=".35" stroke-width="{}"/>"##,
        along(0.0),
        short(2.0 * radius + 12.0)
    )
    .expect("writing to a string does not fail");
    for (colour, number) in streaks.iter().zip(0_u16..) {
        let offset = (f64::from(number) + 0.5) * breadth - radius;
        out.push_str(&look.cord(*colour, &along(offset), breadth * 1.05));
    }
}

/// How many lobes a plait or a twist has.
const LOBES: u16 = 15;

/// Lobes below one another, each `step` further on; they come again after `period`, and are
/// drawn once.
fn lobes(
    look: &mut FabricStyle,
    (period, step): (u16, f64),
    out: &mut String,
    mut draw: impl FnMut(&mut FabricStyle, u16, &mut String),
) {
    let mut names = Vec::new();
    for number in 0..LOBES {
        if number < period {
            let name = look.lobe_name();
            write!(out, r#"<g id="{name}">"#).expect("writing to a string does not fail");
            draw(look, number, out);
            out.push_str("</g>");
            names.push(name);
        } else {
            let further = f64::from(number / period * period) * step;
            let name = &names[usize::from(number % period)];
            write!(out, r##"<use href="#{name}" y="{}"/>"##, exact(further))
                .expect("writing to a string does not fail");
        }
    }
}

/// Plaited in three.
fn braid(look: &mut FabricStyle, colours: &[u16], radius: f64, out: &mut String) -> (f64, f64) {
    let third = colours.len().div_ceil(3).max(1);
    let strands: Vec<&[u16]> = colours.chunks(third).collect();
    let r = bundle_radius(units(colours.len()) / 3.0, look.thread) * 0.92;
    let step = r * 1.3;
    let first = radius * 0.5;
    let end = first + step * f64::from(LOBES) + r;
    tassel(look, colours, end, r * 1.5, 200.0, out);
    // Sides by turns of two, strands by turns of up to three.
    lobes(look, (6, step), out, |look, number, out| {
        let y = first + step * f64::from(number);
        let side = if number % 2 == 0 { 1.0 } else { -1.0 };
        let strand = strands[usize::from(number) % strands.len()];
        let curve = [
            (side * r * 0.75, y - r * 0.3),
            (side * r * 1.6, y + r * 0.55),
            (side * r * 0.9, y + r * 1.2),
            (-side * r * 0.45, y + r * 1.9),
        ];
        lobe(look, strand, r * 0.82, curve, out);
    });
    knot(look, colours, r * 1.25, end, out);
    (end + 200.0, r * 2.2)
}

/// Two bundles twisted round each other.
fn twist(look: &mut FabricStyle, colours: &[u16], radius: f64, out: &mut String) -> (f64, f64) {
    let (left, right) = colours.split_at(colours.len() / 2);
    let r = bundle_radius(units(colours.len()) / 2.0, look.thread) * 0.85;
    let step = r * 1.25;
    let first = radius * 0.4;
    let end = first + step * f64::from(LOBES) + r;
    tassel(look, colours, end, r * 1.2, 200.0, out);
    lobes(look, (2, step), out, |look, number, out| {
        let y = first + step * f64::from(number);
        let bundle = if number % 2 == 0 || left.is_empty() {
            right
        } else {
            left
        };
        let curve = [
            (-r * 0.55, y - r * 0.5),
            (-r * 1.35, y + r * 0.55),
            (r * 1.35, y + r * 0.65),
            (r * 0.55, y + r * 1.7),
        ];
        lobe(look, bundle, r * 0.8, curve, out);
    });
    knot(look, colours, r * 1.15, end, out);
    (end + 200.0, r * 1.9)
}

/// Writes the two wraps of a knot round a bundle, that go from one place along the slant to
/// another, in halves of a wrap from the knot's centre.
fn write_wraps(
    look: &mut FabricStyle,
    colour: u16,
    falls: bool,
    (centre, turn): (PlanePoint, Option<PlanePoint>),
    (from, to): (f64, f64),
    out: &mut String,
) {
    let paint = look.round(colour, falls);
    let shades = look.shades(colour);
    let (along, across) = look.axes(falls);
    let at = |t: f64, s: f64| plus(plus((0.0, 0.0), along, t), across, s);
    let soft = 0.3 / (to - from);
    let ground = soft_shape(&[
        (at(from - 0.04, -2.02), 0.16, soft),
        (at(to + 0.02, -2.02), soft, 0.16),
        (at(to + 0.02, 2.02), 0.16, soft),
        (at(from - 0.04, 2.02), soft, 0.16),
    ]);
    let line = |from: PlanePoint, to: PlanePoint| format!("M{}L{}", pair(from), pair(to));
    let (mut gloss, mut dark) = (String::new(), String::new());
    for s in [1.0, -1.0] {
        gloss.push_str(&line(at(from + 0.55, s), at(to - 0.55, s)));
        let mut start = from + 0.1;
        while start < to - 0.5 {
            dark.push_str(&line(at(start, s - 0.74), at(start + 0.46, s + 0.74)));
            start += 0.42;
        }
    }
    let (first, second) = (
        look.wrap(falls, from, to, 1.0),
        look.wrap(falls, from, to, -1.0),
    );
    write!(
        out,
        r##"<g transform="translate({}){}"><path d="{ground}" fill="{}"/><path d="{first}{second}" fill="{paint}" stroke="{}" stroke-width="3"/><path d="{dark}" stroke="#000" stroke-opacity=".14" stroke-width="4.5"/><path d="{gloss}" stroke="#fff" stroke-opacity=".2" stroke-width="9" stroke-linecap="round"/></g>"##,
        pair(centre),
        turn.map_or(String::new(), |turn| format!(" {}", turning(turn))),
        shades.deep,
        shades.rim,
    )
    .expect("writing to a string does not fail");
}

/// The outline of a loop: from the neck round and back, `way` being the way out.
fn teardrop(neck: f64, wide: f64, long: f64, (x, y): PlanePoint, way: f64) -> String {
    let at = |dx: f64, dy: f64| pair((x + dx, y + way * dy));
    format!(
        "M{}C{} {} {}C{} {} {}C{} {} {}",
        at(-neck, 0.0),
        at(-neck, long * 0.15),
        at(-wide, long * 0.35),
        at(-wide, long * 0.65),
        at(-wide, long * 1.12),
        at(wide, long * 1.12),
        at(wide, long * 0.65),
        at(wide, long * 0.35),
        at(neck, long * 0.15),
        at(neck, 0.0),
    )
}

/// The loop over which the threads were folded: its length, and half its width.
fn eye(look: &mut FabricStyle, colours: &[u16], radius: f64, out: &mut String) -> (f64, f64) {
    let streaks = sampled(colours, 5);
    let breadth = radius * 1.1 / units(streaks.len());
    let (wide, long) = (radius * 2.0, radius * 4.1);
    for (colour, number) in streaks.iter().zip(0_u16..) {
        let inset = f64::from(number) * breadth;
        let path = teardrop(
            radius * 0.75 - inset * 0.6,
            wide - inset,
            long - inset,
            (0.0, 0.0),
            1.0,
        );
        out.push_str(&look.cord(*colour, &path, breadth * 1.1));
    }
    (long + breadth, wide)
}
