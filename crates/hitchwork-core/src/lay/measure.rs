//! What there is to measure on a laid piece of fabric, in knots.

use std::f64::consts::TAU;

use super::links::{Bond, Tracer};
use super::plane::{Arrow, KnotPose};
use super::shape::KnotShape;
use super::strip::{EndlessRepeat, LaidStrip, PieceColumns};

/// Over this many repeats between the ends a long piece is measured (our own judgement: so that
/// the ends hardly count in the middle value),
const MEASURED_REPEATS: u32 = 64;
/// or over fewer that together turn by about this much (our own judgement: less than a quarter
/// of a circle, where chords still say which way the piece goes).
const MEASURED_TURN: f64 = 1.0;

/// A bend is one from where its middle lies aside of its ends by this share of a knot (our own
/// judgement: less is not seen),
const SEEN_ASIDE: f64 = 0.25;
/// and by this share of its length (our own judgement: less is how its ends lie).
const SEEN_SHARE: f64 = 0.01;

/// A column of knots is crowded where over this many of them
const CROWDED_KNOTS: usize = 6;
/// it comes forward by less than this share of their heights (our own judgement: two knots may
/// press into each other, but not a whole row of them, and no fabric that was tried lies between
/// a half and six tenths),
const CROWDED: f64 = 0.55;
/// seen over this many repeats between the ends.
const CROWDED_REPEATS: u32 = 8;
/// Nor can columns lie beside each other where a thread passes more than this many knots of the
/// column beside it (our own judgement: pulled as a thread is that closes a hole, it would roll
/// them up).
const PASSED_KNOTS: u32 = 8;

/// Measures, in knots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Measures {
    pub(super) least: Arrow,
    pub(super) most: Arrow,
    pub(super) median_width: f64,
    pub(super) greatest_width: f64,
    pub(super) length: f64,
    /// How much it bends over a knot's length; above 0 to the left.
    pub(super) curvature: f64,
    pub(super) longest_open: f64,
}

/// A piece with the columns of its knots.
pub(super) struct LaidPiece<'a> {
    pub(super) columns: &'a PieceColumns,
    pub(super) strip: &'a LaidStrip,
    pub(super) shape: KnotShape,
}

impl LaidPiece<'_> {
    fn with_columns(&self) -> impl Iterator<Item = (u16, KnotPose)> {
        self.columns.all_of(self.repeats()).zip(self.strip.spots())
    }

    /// How many repeats there are in all, with those of the ends.
    fn repeats(&self) -> u32 {
        if self.strip.times == 0 {
            return self.columns.repeats;
        }
        let ends = self.strip.begin.len() + self.strip.end.len();
        let own = ends - self.columns.lead_in.len() - self.columns.lead_out.len();
        let own = own / self.columns.repeat.len();
        self.strip.times + u32::try_from(own).expect("no more than the band has")
    }

    /// The way along the band: that in which the knots of each column lie apart most.
    pub(super) fn axis(&self) -> Arrow {
        let columns = self.by_column();
        let (mut across, mut along, mut both) = (0.0, 0.0, 0.0);
        let mut forth = Arrow::NONE;
        for column in columns.iter().filter(|column| column.len() > 1) {
            let share = 1.0 / column.len() as f64;
            let sum = column
                .iter()
                .fold(Arrow::NONE, |sum, spot| sum + spot.place);
            let middle = sum.times(share);
            for spot in column {
                let away = spot.place - middle;
                across += away.across * away.across;
                along += away.along * away.along;
                both += away.across * away.along;
            }
            forth += column[column.len() - 1].place - column[0].place;
        }
        // The longer axis of the ellipse with these moments: half the angle of the arrow
        // (along - across, 2 both), measured from along.
        let double = Arrow::new(along - across, -2.0 * both).direction_or(Arrow::UPRIGHT);
        let half = half_turn(double);
        let axis = Arrow::new(0.0, 1.0) * half;
        if axis.dot(forth) < 0.0 { -axis } else { axis }
    }

    /// Whether knots of a column lie in each other, not only two of them but all the way over
    /// some knots: a shape that is least in energy but that no thread can take.
    pub(super) fn is_crowded(&self) -> bool {
        let times = self.strip.times.min(CROWDED_REPEATS);
        let short = self.strip.shortened(times);
        let shorter = LaidPiece {
            strip: &short,
            ..*self
        };
        let least = CROWDED * CROWDED_KNOTS as f64 * self.shape.apart().least();
        let columns = shorter.by_column();
        let mut windows = columns
            .iter()
            .flat_map(|column| column.windows(CROWDED_KNOTS + 1));
        windows.any(|knots| (knots[CROWDED_KNOTS].place - knots[0].place).length() < least)
    }

    fn by_column(&self) -> Vec<Vec<KnotPose>> {
        let mut columns = vec![Vec::new(); usize::from(self.columns.threads) - 1];
        for (column, spot) in self.with_columns() {
            columns[usize::from(column)].push(spot);
        }
        columns
    }

    pub(super) fn extent(&self) -> (Arrow, Arrow) {
        extent(self.strip.spots().map(|spot| spot.place))
    }

    /// What there is to measure, of a piece that grows so.
    pub(super) fn measures(&self, growth: MiddleGrowth) -> Measures {
        let turning = self.strip.growth.turn.along.abs();
        let mut times = self.strip.times.min(MEASURED_REPEATS);
        while times > 3 && f64::from(times) * turning > MEASURED_TURN {
            times -= 1;
        }
        let short = self.strip.shortened(times);
        let shorter = LaidPiece {
            strip: &short,
            ..*self
        };
        let columns = shorter.by_column();
        let mut course = ColumnPath::of(&columns, growth.curvature);
        if self.strip.times > 0 {
            course.middle += f64::from(self.strip.times - times) * growth.length;
            course.longest += f64::from(self.strip.times - times) * growth.length;
        }
        let middle = course.middle;
        let is_seen = |curvature: f64| {
            let aside = curvature * middle * middle / 8.0;
            aside.abs() > f64::max(SEEN_ASIDE, SEEN_SHARE * middle)
        };
        let bends = if self.columns.repeat.is_empty() {
            is_seen(course.curvature)
        } else if self.columns.repeats > 1 {
            // Waves that come again with every repeat are no bend.
            course.curvature = growth.curvature;
            is_seen(course.curvature)
        } else {
            // What is tied but once bends where it does by itself, and would do if it were tied
            // again.
            is_seen(course.curvature) && is_seen(growth.curvature)
        };
        let length = if bends { course.middle } else { course.longest };
        let (least, most) = self.extent();
        let (first, last) = (&columns[0], &columns[columns.len() - 1]);
        let mut widths = self.widths(first, last, bends);
        if columns.len() > 1 {
            widths.extend(self.widths(last, first, bends));
        }
        widths.sort_by(f64::total_cmp);
        let side = self.shape.reach(KnotPose::HERE, Arrow::UPRIGHT);
        // Where no knot of one edge lies beside the other, the band is a few knots long.
        let whole = most.across - least.across + 2.0 * side;
        Measures {
            least,
            most,
            median_width: widths.get(widths.len() / 2).copied().unwrap_or(whole),
            greatest_width: widths.last().copied().unwrap_or(whole),
            length: length + self.ends(&columns),
            curvature: if bends { course.curvature } else { 0.0 },
            longest_open: shorter.longest_open(),
        }
    }

    /// For each knot of one edge how far the other edge is, from outside to outside, square to the
    /// edge of a band that bends and straight across one that does not; nothing beside the very
    /// ends, where the other edge does not reach.
    fn widths(&self, edge: &[KnotPose], other: &[KnotPose], bends: bool) -> Vec<f64> {
        let foot = if bends { foot } else { across };
        let reach = 2 * usize::from(self.columns.threads) + 16;
        let mut near = 0;
        let mut widths = Vec::new();
        for spot in edge {
            let from = near.max(reach) - reach;
            let to = (near + reach).min(other.len());
            let nearest = (from..to).min_by(|one, next| {
                let away = |at: usize| (other[at].place - spot.place).length();
                away(*one).total_cmp(&away(*next))
            });
            let Some(nearest) = nearest else { continue };
            near = nearest;
            let beside = [
                nearest.checked_sub(1).map(|before| (before, nearest)),
                Some((nearest, nearest + 1)),
            ];
            let feet = beside.into_iter().flatten().filter_map(|(one, next)| {
                foot(spot.place, other[one].place, other.get(next)?.place)
            });
            let foot = feet.min_by(|one, next| {
                (*one - spot.place)
                    .length()
                    .total_cmp(&(*next - spot.place).length())
            });
            let inside = nearest > 0 && nearest + 1 < other.len();
            let Some(foot) = foot.or((inside && bends).then(|| other[nearest].place)) else {
                continue;
            };
            let way = foot - spot.place;
            let direction = way.direction_or(Arrow::UPRIGHT * spot.turn);
            widths.push(
                way.length()
                    + self.shape.reach(*spot, direction)
                    + self.shape.reach(other[nearest], direction),
            );
        }
        widths
    }

    /// How far the first and last knots of the longest column stand out along the band.
    fn ends(&self, columns: &[Vec<KnotPose>]) -> f64 {
        let longest = columns
            .iter()
            .max_by(|one, other| chord(one).total_cmp(&chord(other)));
        let Some([first, .., last]) = longest.map(Vec::as_slice) else {
            return 2.0 * self.shape.reach(KnotPose::HERE, Arrow::new(0.0, 1.0));
        };
        let direction = (last.place - first.place).direction_or(Arrow::new(0.0, 1.0));
        self.shape.reach(*first, direction) + self.shape.reach(*last, direction)
    }

    fn longest_open(&self) -> f64 {
        let spots: Vec<KnotPose> = self.strip.spots().collect();
        let mut tracer = Tracer::new(self.columns.threads);
        let mut longest = 0.0;
        for column in self.columns.all_of(self.repeats()) {
            for link in tracer.tie(column).0 {
                let out = spots[link.from].corner(self.shape.leaving(link.leaves, Bond::Straight));
                let into = spots[link.to].corner(-self.shape.entering(link.enters, Bond::Straight));
                longest = f64::max(longest, (into - out).length());
            }
        }
        longest
    }
}

/// What a repeat does to the middle of the band.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct MiddleGrowth {
    /// By how much it makes it longer, in knots.
    pub(super) length: f64,
    /// How much it makes it bend over a knot's length; above 0 to the left.
    pub(super) curvature: f64,
}

impl MiddleGrowth {
    /// Of a repeat that is tied without end: each repeat goes on from the one before, turned
    /// round the middle of a circle.
    fn of(repeat: &EndlessRepeat) -> Self {
        let strip = repeat.strip(1);
        let growth = strip.growth;
        if growth.turn.along == 0.0 && growth.turn.across > 0.0 {
            return Self {
                length: growth.step.length(),
                curvature: 0.0,
            };
        }
        // The place that the growth leaves where it is: turn * place + step = place.
        let rest = Arrow::UPRIGHT - growth.turn;
        let centre = (growth.step * rest.back()).times(1.0 / rest.dot(rest));
        let away = |spot: &KnotPose| spot.place - centre;
        let turn = libm::atan2(growth.turn.along, growth.turn.across);
        // How often it goes all the way round is seen from knot to knot of each column.
        let (mut seen, mut radius, mut columns) = (0.0, 0.0, 0.0);
        let piece = LaidPiece {
            columns: &repeat.columns,
            strip: &strip,
            shape: repeat.shape,
        };
        for column in piece.by_column().iter().filter(|column| !column.is_empty()) {
            let next = column[0].moved(growth);
            let ways = column.iter().chain([&next]).map(away);
            let ways: Vec<Arrow> = ways.collect();
            let step = |pair: &[Arrow]| libm::atan2(pair[0].cross(pair[1]), pair[0].dot(pair[1]));
            seen += ways.windows(2).map(step).sum::<f64>();
            let sum: f64 = column.iter().map(|spot| away(spot).length()).sum();
            radius += sum / column.len() as f64;
            columns += 1.0;
        }
        // In the middle of the columns, however many knots each of them has.
        radius /= columns;
        let rounds = ((seen / columns - turn) / TAU).round();
        let turn = turn + rounds * TAU;
        Self {
            length: turn.abs() * radius,
            curvature: turn.signum() / radius,
        }
    }
}

impl PieceColumns {
    /// Whether a thread passes so many knots of the column beside it that it floats there.
    pub(super) fn has_far_floats(&self) -> bool {
        let mut tracer = Tracer::new(self.threads);
        let mut columns = self.all_of(self.repeats.min(CROWDED_REPEATS + PASSED_KNOTS));
        columns.any(|column| {
            let (mut links, _) = tracer.tie(column);
            links.any(|link| link.passed > PASSED_KNOTS)
        })
    }
}

impl EndlessRepeat {
    /// Whether its columns are crowded. A band that is tied but a few times is laid as one that
    /// is tied often: or else it would grow by less with one repeat than with the next.
    pub(super) fn is_crowded(&self) -> bool {
        let (columns, strip) = (&self.columns, &self.strip(CROWDED_REPEATS));
        let shape = self.shape;
        LaidPiece {
            columns,
            strip,
            shape,
        }
        .is_crowded()
    }

    /// How a piece grows in the long run with each of these parts, which columns without knots
    /// divide: as that which grows most.
    pub(super) fn growth_of(parts: &[Self]) -> MiddleGrowth {
        let growths = parts.iter().map(MiddleGrowth::of);
        growths.fold(MiddleGrowth::default(), |most, growth| {
            if growth.length > most.length {
                growth
            } else {
                most
            }
        })
    }
}

/// The least and the most of all places.
fn extent(places: impl Iterator<Item = Arrow>) -> (Arrow, Arrow) {
    let none = (
        Arrow::new(f64::INFINITY, f64::INFINITY),
        Arrow::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
    );
    places.fold(none, |(least, most), place| {
        (
            Arrow::new(least.across.min(place.across), least.along.min(place.along)),
            Arrow::new(most.across.max(place.across), most.along.max(place.along)),
        )
    })
}

/// The turn by half as much, for turns of up to half a circle either way.
fn half_turn(turn: Arrow) -> Arrow {
    let across = ((1.0 + turn.across) / 2.0).max(0.0).sqrt();
    let along = ((1.0 - turn.across) / 2.0).max(0.0).sqrt();
    Arrow::new(across, if turn.along < 0.0 { -along } else { along })
}

/// Where the way from one place to another comes nearest, if that is between the two.
fn foot(from: Arrow, one: Arrow, other: Arrow) -> Option<Arrow> {
    let way = other - one;
    let share = (from - one).dot(way) / way.dot(way).max(1e-12);
    (0.0..=1.0).contains(&share).then(|| one + way.times(share))
}

/// Where the way from one place to another passes a place at the same height, if it does.
fn across(from: Arrow, one: Arrow, other: Arrow) -> Option<Arrow> {
    let way = other - one;
    let share = (from.along - one.along) / way.along;
    (0.0..=1.0).contains(&share).then(|| one + way.times(share))
}

fn chord(column: &[KnotPose]) -> f64 {
    match column {
        [first, .., last] => (last.place - first.place).length(),
        _ => 0.0,
    }
}

/// A column is taken in pieces of this many knots for each thread (our own judgement: long
/// enough to be free of steps, short enough not to go round).
const KNOTS_IN_PIECE: usize = 1;
/// In as many more that none of them turns by much more than this, in radians (our own judgement:
/// far from half a circle, beyond which a chord points backwards),
const TURN_OF_PIECE: f64 = 0.7;
/// but never in more than this many.
const MOST_PIECES: usize = 4096;

/// The way that the columns go together.
struct ColumnPath {
    /// How far the ends of the longest column lie apart.
    longest: f64,
    /// How long all are in the middle.
    middle: f64,
    /// How much they bend over a knot's length.
    curvature: f64,
}

impl ColumnPath {
    /// `curvature` is about how much they bend.
    fn of(columns: &[Vec<KnotPose>], curvature: f64) -> Self {
        let fewest = columns.iter().map(Vec::len).min().unwrap_or(0);
        let steps = |column: &Vec<KnotPose>| {
            let steps = column
                .windows(2)
                .map(|pair| (pair[1].place - pair[0].place).length());
            steps.sum::<f64>()
        };
        let turn = curvature.abs() * columns.iter().map(steps).fold(0.0, f64::max);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at most MOST_PIECES"
        )]
        let turning = (turn / TURN_OF_PIECE).min(MOST_PIECES as f64) as usize;
        let pieces = (fewest / (KNOTS_IN_PIECE * columns.len())).max(turning);
        let pieces = pieces.clamp(2, MOST_PIECES);
        let mut ways = vec![Arrow::NONE; pieces];
        let (mut sum, mut long) = (0.0, 0.0);
        for column in columns.iter().filter(|column| column.len() > 1) {
            let mut length = 0.0;
            for (piece, way) in ways.iter_mut().enumerate() {
                let piece = between(column, piece + 1, pieces) - between(column, piece, pieces);
                *way += piece;
                length += piece.length();
            }
            sum += length;
            long += 1.0;
        }
        let angle = |ways: &[Arrow]| libm::atan2(ways[0].cross(ways[1]), ways[0].dot(ways[1]));
        let each = slope(ways.windows(2).map(angle));
        let arc = over_chord(each / 2.0);
        let middle = if long > 0.0 { sum / long * arc } else { 0.0 };
        Self {
            longest: columns
                .iter()
                .map(|column| chord(column))
                .fold(0.0, f64::max),
            middle,
            curvature: if middle > 0.0 {
                each * pieces as f64 / middle
            } else {
                0.0
            },
        }
    }
}

/// By how much something rises with each of these steps, as the straight line of least squares
/// says: a single step that is out of line, as at an end, hardly counts.
fn slope(steps: impl ExactSizeIterator<Item = f64>) -> f64 {
    let middle = steps.len() as f64 / 2.0;
    let (mut height, mut product, mut squares) = (0.0, 0.0, middle * middle);
    for (at, step) in (1..).zip(steps) {
        height += step;
        let aside = f64::from(at) - middle;
        product += aside * height;
        squares += aside * aside;
    }
    product / squares
}

/// How much longer an arc is than its chord, from half its angle.
pub(super) fn over_chord(half: f64) -> f64 {
    if half.abs() > 1e-6 {
        half / libm::sin(half)
    } else {
        1.0
    }
}

/// The place at that share of the knots of a column, which has at least two.
pub(super) fn between(column: &[KnotPose], share: usize, of: usize) -> Arrow {
    let steps = share * (column.len() - 1);
    let (at, rest) = (steps / of, (steps % of) as f64 / of as f64);
    let here = column[at].place;
    column
        .get(at + 1)
        .map_or(here, |next| here + (next.place - here).times(rest))
}
