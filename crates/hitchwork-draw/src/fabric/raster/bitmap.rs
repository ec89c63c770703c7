//! Rectangles of pixels that are laid on one another, and soft shadows.

use std::ops::Range;

use hitchwork_core::colour::Srgb;
use resvg::tiny_skia::Pixmap;

/// Whole pixels, counted from the upper left corner of the picture: to the right, and down.
pub(super) type PixelPosition = (i64, i64);

/// A rectangle of whole pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Area {
    pub(super) left: i64,
    pub(super) top: i64,
    pub(super) width: usize,
    pub(super) height: usize,
}

impl Area {
    /// The smallest that has all of these points, which may lie between pixels.
    pub(super) fn around((left, top): (f64, f64), (right, bottom): (f64, f64)) -> Self {
        let (left, top) = (whole(left.floor()), whole(top.floor()));
        let side = |from: i64, to: f64| usize::try_from(whole(to.ceil()) - from).unwrap_or(0);
        Self {
            left,
            top,
            width: side(left, right).max(1),
            height: side(top, bottom).max(1),
        }
    }

    pub(super) fn count(self) -> usize {
        self.width.saturating_mul(self.height)
    }

    pub(super) fn right(self) -> i64 {
        self.left + signed(self.width)
    }

    pub(super) fn bottom(self) -> i64 {
        self.top + signed(self.height)
    }

    pub(super) fn moved(self, (right, down): PixelPosition) -> Self {
        Self {
            left: self.left + right,
            top: self.top + down,
            ..self
        }
    }

    pub(super) fn grown(self, by: usize) -> Self {
        Self {
            left: self.left - signed(by),
            top: self.top - signed(by),
            width: self.width + 2 * by,
            height: self.height + 2 * by,
        }
    }

    /// What two have in common, if anything.
    pub(super) fn common(self, other: Self) -> Option<Self> {
        let (left, top) = (self.left.max(other.left), self.top.max(other.top));
        let side = |from: i64, to: i64| usize::try_from(to - from).ok().filter(|side| *side > 0);
        Some(Self {
            left,
            top,
            width: side(left, self.right().min(other.right()))?,
            height: side(top, self.bottom().min(other.bottom()))?,
        })
    }

    /// The rows of pixels that two have in common: where each lies in the one, and where in
    /// the other.
    fn shared_rows(self, other: Self) -> impl Iterator<Item = [Range<usize>; 2]> {
        let common = self.common(other).into_iter();
        common.flat_map(move |common| {
            (common.top..common.bottom()).map(move |row| {
                [self, other].map(|area| {
                    let from = area.index(common.left, row);
                    from..from + common.width
                })
            })
        })
    }

    /// Where in rows of pixels a stretch of this area begins.
    fn index(self, left: i64, top: i64) -> usize {
        let (right, down) = (left - self.left, top - self.top);
        let index = right + down * signed(self.width);
        usize::try_from(index).expect("inside the area")
    }
}

/// A whole number of pixels; what is beyond counting is far outside every picture.
#[expect(clippy::cast_possible_truncation, reason = "bounded first")]
pub(super) fn whole(number: f64) -> i64 {
    number.clamp(-1e12, 1e12) as i64
}

pub(super) fn signed(side: usize) -> i64 {
    i64::try_from(side).expect("sides of pictures are short")
}

/// Red, green, blue and how much they cover, the colours already multiplied by that.
pub(super) type Pixel = [u8; 4];

/// Pixels, and where they lie.
#[derive(Clone)]
pub(super) struct Bitmap {
    pub(super) area: Area,
    pub(super) pixels: Vec<Pixel>,
}

/// `share` of 255 of a part, rounded.
fn part(of: u8, share: u8) -> u8 {
    let product = u32::from(of) * u32::from(share) + 128;
    ((product + (product >> 8)) >> 8)
        .try_into()
        .expect("at most 255")
}

/// Lays one pixel on another.
fn lay(below: &mut Pixel, above: Pixel) {
    match above[3] {
        0 => {}
        255 => *below = above,
        covers => {
            for (below, above) in below.iter_mut().zip(above) {
                *below = above.saturating_add(part(*below, 255 - covers));
            }
        }
    }
}

impl Bitmap {
    pub(super) fn clear(area: Area) -> Self {
        Self {
            area,
            pixels: vec![[0; 4]; area.count()],
        }
    }

    pub(super) fn of(pixmap: &Pixmap, (left, top): PixelPosition) -> Self {
        let side = |side: u32| usize::try_from(side).expect("sides of pictures are short");
        let area = Area {
            left,
            top,
            width: side(pixmap.width()),
            height: side(pixmap.height()),
        };
        let (pixels, _) = pixmap.data().as_chunks();
        Self {
            area,
            pixels: pixels.to_vec(),
        }
    }

    /// Blits another, moved, on top of this one.
    pub(super) fn put(&mut self, other: &Self, moved: PixelPosition) {
        for [here, there] in self.area.shared_rows(other.area.moved(moved)) {
            let (below, above) = (&mut self.pixels[here], &other.pixels[there]);
            for (below, above) in below.iter_mut().zip(above) {
                lay(below, *above);
            }
        }
    }

    /// Lays this many hundredths of a colour on where a mask covers all, and less where it
    /// covers less.
    pub(super) fn tint(&mut self, mask: &Mask, colour: Srgb, percent: u8) {
        let Srgb { red, green, blue } = colour;
        let opacity = u8::try_from(u32::from(percent) * 255 / 100).unwrap_or(255);
        for [here, there] in self.area.shared_rows(mask.area) {
            let (below, covers) = (&mut self.pixels[here], &mask.covers[there]);
            for (below, covers) in below.iter_mut().zip(covers) {
                let covers = part(*covers, opacity);
                lay(below, [red, green, blue, 255].map(|of| part(of, covers)));
            }
        }
    }

    /// `times` times as small, when moved by this many of its own pixels: every pixel is the
    /// mean of those it is made of.
    pub(super) fn shrunk(&self, times: usize, (right, down): PixelPosition) -> Self {
        let step = signed(times);
        let moved = self.area.moved((right, down));
        let (left, top) = (moved.left.div_euclid(step), moved.top.div_euclid(step));
        let reach = |from: i64, end: i64| usize::try_from((end + step - 1).div_euclid(step) - from);
        let area = Area {
            left,
            top,
            width: reach(left, moved.right()).expect("the end is behind the beginning"),
            height: reach(top, moved.bottom()).expect("the end is behind the beginning"),
        };
        let mut sums = vec![[0_u32; 4]; area.count()];
        let rows = self.pixels.chunks_exact(self.area.width);
        for (y, row) in (moved.top..).zip(rows) {
            for (x, pixel) in (moved.left..).zip(row) {
                let sum = &mut sums[area.index(x.div_euclid(step), y.div_euclid(step))];
                for (sum, part) in sum.iter_mut().zip(pixel) {
                    *sum += u32::from(*part);
                }
            }
        }
        let all = u32::try_from(times * times).expect("a few");
        let mean = |sum: u32| u8::try_from((sum + all / 2) / all).expect("a mean of bytes");
        Self {
            area,
            pixels: sums.into_iter().map(|sum| sum.map(mean)).collect(),
        }
    }
}

/// How much of each pixel is covered.
pub(super) struct Mask {
    pub(super) area: Area,
    pub(super) covers: Vec<u8>,
}

impl Mask {
    pub(super) fn clear(area: Area) -> Self {
        Self {
            area,
            covers: vec![0; area.count()],
        }
    }

    /// Covers what a bitmap covers.
    pub(super) fn put(&mut self, other: &Bitmap, moved: PixelPosition) {
        for [here, there] in self.area.shared_rows(other.area.moved(moved)) {
            let (below, above) = (&mut self.covers[here], &other.pixels[there]);
            for (below, [.., above]) in below.iter_mut().zip(above) {
                *below = above.saturating_add(part(*below, 255 - above));
            }
        }
    }

    /// A Gaussian blur of that standard deviation, in pixels, by three box blurs, as the
    /// standard of the pictures allows (W3C, Filter Effects Module Level 1, 2018,
    /// feGaussianBlur).
    pub(super) fn blur(&mut self, deviation: f64) {
        for [before, after] in boxes(deviation) {
            self.box_blur_along(before, after);
            self.box_blur_down(before, after);
        }
    }

    fn box_blur_along(&mut self, before: usize, after: usize) {
        let reciprocal = Reciprocal::of(before + after + 1);
        let width = self.area.width;
        let mut line = vec![0; before + width + after];
        for row in self.covers.chunks_exact_mut(width) {
            line[before..before + width].copy_from_slice(row);
            let mut sum: u32 = line[..before + after].iter().copied().map(u32::from).sum();
            for (at, covers) in row.iter_mut().enumerate() {
                sum += u32::from(line[at + before + after]);
                *covers = reciprocal.rounded(sum);
                sum -= u32::from(line[at]);
            }
        }
    }

    fn box_blur_down(&mut self, before: usize, after: usize) {
        let reciprocal = Reciprocal::of(before + after + 1);
        let (width, height) = (self.area.width, self.area.height);
        let old = self.covers.clone();
        let row = |at: usize| &old[at * width..(at + 1) * width];
        let mut sums = vec![0_u32; width];
        let add = |sums: &mut [u32], at: usize| {
            for (sum, covers) in sums.iter_mut().zip(row(at)) {
                *sum += u32::from(*covers);
            }
        };
        for at in 0..after.min(height) {
            add(&mut sums, at);
        }
        for at in 0..height {
            if at + after < height {
                add(&mut sums, at + after);
            }
            let new = &mut self.covers[at * width..(at + 1) * width];
            for (covers, sum) in new.iter_mut().zip(&sums) {
                *covers = reciprocal.rounded(*sum);
            }
            if at >= before {
                for (sum, covers) in sums.iter_mut().zip(row(at - before)) {
                    *sum -= u32::from(*covers);
                }
            }
        }
    }
}

/// How far a blur reaches.
pub(super) fn reach(deviation: f64) -> usize {
    let reaches = |[before, after]: [usize; 2]| before.max(after);
    boxes(deviation).into_iter().map(reaches).sum()
}

/// How many pixels before and after one each of the three boxes goes over.
fn boxes(deviation: f64) -> [[usize; 2]; 3] {
    // The standard's width of a box: floor(s * 3 sqrt(2 pi) / 4 + 0.5).
    let length = whole((deviation * 1.879_971_2 + 0.5).floor());
    let length = usize::try_from(length).unwrap_or(0).max(1);
    let half = length / 2;
    if length % 2 == 1 {
        [[half, half]; 3]
    } else {
        [[half, half - 1], [half - 1, half], [half, half]]
    }
}

/// A fixed-point reciprocal with 32 bits behind the point: divides sums by a count, as box
/// blurs do for every pixel, by a multiplication.
struct Reciprocal {
    times: u64,
}

impl Reciprocal {
    fn of(count: usize) -> Self {
        Self {
            times: (1 << 32) / count as u64,
        }
    }

    fn rounded(&self, sum: u32) -> u8 {
        let mean = (u64::from(sum) * self.times + (1 << 31)) >> 32;
        u8::try_from(mean).expect("a mean of bytes")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AREA: Area = Area {
        left: -3,
        top: 2,
        width: 41,
        height: 37,
    };

    fn dots() -> Mask {
        let mut mask = Mask::clear(AREA);
        for at in (0..AREA.count()).step_by(7) {
            mask.covers[at] = u8::try_from(at % 256).expect("below 256");
        }
        mask
    }

    #[test]
    fn a_blur_keeps_a_plain_ground_plain_and_takes_nothing_away() {
        let mut mask = Mask::clear(AREA);
        mask.covers.fill(200);
        mask.blur(2.0);
        let middle = mask.covers[AREA.index(17, 20)];
        assert_eq!(middle, 200);

        let mut dot = Mask::clear(AREA);
        let (x, y) = (17, 20);
        dot.covers[AREA.index(x, y)] = 255;
        dot.blur(1.5);
        let sum: u32 = dot.covers.iter().copied().map(u32::from).sum();
        assert!((225..=285).contains(&sum), "{sum}");
    }

    /// The variance of three boxes over 2a+1 pixels is that of the Gaussian they stand for.
    #[test]
    fn a_blur_is_as_wide_as_it_should_be() {
        for deviation in [3.0, 6.0] {
            let area = Area {
                left: 0,
                top: 0,
                width: 101,
                height: 1,
            };
            let mut line = Mask::clear(area.grown(50));
            for row in 0..101 {
                line.covers[area.grown(50).index(50, row - 50)] = 255;
            }
            line.blur(deviation);
            let row = &line.covers[line.area.index(-50, 0)..][..201];
            let all: f64 = row.iter().copied().map(f64::from).sum();
            let spread: f64 = (-100..=100)
                .zip(row)
                .map(|(away, covers)| f64::from(away * away) * f64::from(*covers))
                .sum();
            let found = (spread / all).sqrt();
            assert!(
                (found - deviation).abs() < 0.15 * deviation,
                "{found} for {deviation}"
            );
        }
    }

    #[test]
    fn what_is_blurred_in_part_is_part_of_the_blurred() {
        let deviation = 1.7;
        let mut whole = dots();
        whole.blur(deviation);
        let part = Area {
            left: 9,
            top: 14,
            width: 8,
            height: 9,
        };
        let room = part.grown(reach(deviation));
        let mut cut = Mask::clear(room);
        let dots = dots();
        for y in room.top..room.bottom() {
            for x in room.left..room.right() {
                cut.covers[room.index(x, y)] = dots.covers[AREA.index(x, y)];
            }
        }
        cut.blur(deviation);
        for y in part.top..part.bottom() {
            for x in part.left..part.right() {
                assert_eq!(cut.covers[room.index(x, y)], whole.covers[AREA.index(x, y)]);
            }
        }
    }

    #[test]
    fn what_is_shrunk_keeps_its_place_and_its_weight() {
        let area = Area {
            left: -5,
            top: -6,
            width: 11,
            height: 13,
        };
        let full = Bitmap {
            area,
            pixels: vec![[255; 4]; area.count()],
        };
        for right in 0..4 {
            let small = full.shrunk(4, (right, 0));
            assert_eq!(small.area.left, (right - 5).div_euclid(4));
            let weight: u32 = small.pixels.iter().map(|pixel| u32::from(pixel[3])).sum();
            let exact = 11 * 13 * 255 / 16;
            assert!(weight.abs_diff(exact) < 20, "{weight} for {exact}");
        }
    }
}
