//! A piece of the band that fits onto itself without a seam.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use hitchwork_core::band::{Band, BandParts, MAX_REPEATS, Part};
use hitchwork_core::fabric::{Fabric, Pass};
use hitchwork_core::tied::Tied;

use super::laid::Layout;
use super::pen::{exact, units};
use super::picture::{FabricOptions, FabricPicture, check_scale};
use super::size::{MAX_KNOTS, knots_of};
use super::soft::SoftLayout;
use super::style::COLUMN;
use crate::error::{Error, Problem};
use crate::output::recipe::{Making, Recipe, Usual};
use crate::xml::escaped;

/// The room beside the edges, in hundredths of a column, for threads that run openly there.
const BESIDE: f64 = 30.0;

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "tile",
    meaning: "A piece of the band that fits onto itself without a seam",
    short: "tile",
    usual: Usual::Never,
    stem: "tile",
    making: Making::Woven(|tied, options| tile(tied, &options.fabric)),
};

/// Draws a piece of the band, without its ends, whose two cut edges fit onto each other:
/// laid end to end, such pieces make a band of any length. It is as long as it takes for
/// the fabric and its colours to come again. Nothing is behind it, and `repeats` and
/// `table` do not matter; a band that bends is pinned straight. Its length is a whole number of pixels, so that tiles of pixels
/// fit too.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::fabric::{FabricOptions, tile};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// // `band`: one of three threads leads every row, so the third repeat ends as the first began.
/// assert!(tile(&Tied::of(band), &FabricOptions::default())?.contains("3 repeats"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the fabric does not come again within as many knots as a picture shows, which is so
/// for a band that splits into parts of different growth, or the size is absurd.
pub fn tile(tied: &Tied, options: &FabricOptions) -> Result<String, Error> {
    let band = tied.band();
    check_scale(options)?;
    let a_repeat = knots_of(band, Part::Repeat).max(1);
    let never = || Error::from(Problem::NeverComesAgain { most: MAX_KNOTS });
    let most = u32::try_from(MAX_KNOTS / a_repeat).unwrap_or(MAX_REPEATS);
    if most == 0 {
        return Err(never());
    }
    let endless = |repeats: u32| {
        let parts = BandParts {
            lead_in: Vec::new(),
            lead_out: Vec::new(),
            repeats,
            ..band.clone().into_parts()
        };
        Band::new(parts).expect("a band with other repeats is a band")
    };
    let whole = Tied::of(endless(most.min(MAX_REPEATS)));
    let period = TilePeriod::of(whole.fabric()).ok_or_else(never)?;
    let piece = Tied::of(endless(period.repeats));
    let words = format!(
        "A piece of the finished band that fits onto itself: {} {}, after which fabric and colours come again.",
        period.repeats,
        if period.repeats == 1 {
            "repeat"
        } else {
            "repeats"
        },
    );
    let mut picture = FabricPicture::empty(&piece, options, "tile", words);
    picture.table = false;
    let beside = repeats_beside(band, period.repeats);
    let soft = Tied::of(endless(period.repeats + 2 * beside));
    let view = if soft.lay().is_solved() {
        picture.lay_soft_piece(&soft, period.repeats, beside)
    } else {
        picture.tie_window(whole.fabric(), &period);
        picture.lattice_piece(&period)
    };
    Ok(picture.write_tile(&view))
}

/// How many repeats of a soft band are laid before and after a piece of this many, so that it
/// lies as it does between others: two widths of the band (our own judgement), or as many as
/// can be.
fn repeats_beside(band: &Band, repeats: u32) -> u32 {
    let a_repeat = knots_of(band, Part::Repeat).max(1);
    let threads = u64::from(band.thread_count());
    let wanted = (2 * threads * threads).div_ceil(a_repeat) + 2;
    let free = (MAX_KNOTS / a_repeat).saturating_sub(repeats.into()) / 2;
    u32::try_from(wanted.min(free)).unwrap_or(0)
}

/// What a tile shows of the plane, in hundredths of a column.
struct TileView {
    along: f64,
    length: f64,
    beside: f64,
    breadth: f64,
}

/// When the fabric comes again.
struct TilePeriod {
    /// After this many repeats.
    repeats: u32,
    /// By this many half rows further on.
    half_rows: i64,
    /// From this level on it does.
    from: i64,
}

impl TilePeriod {
    fn of(fabric: &Fabric) -> Option<Self> {
        let mut seen: BTreeMap<(Vec<u32>, Vec<u16>), (u32, i64)> = BTreeMap::new();
        let mut above = 0;
        for pass in fabric.passes() {
            let levels: Vec<u32> = pass.knots().map(|knot| knot.level).collect();
            let least = levels.iter().copied().min()?;
            let shape = levels.iter().map(|level| level - least).collect();
            let order = pass.order_before().iter();
            let colours = order.map(|thread| fabric.colour(*thread)).collect();
            match seen.entry((shape, colours)) {
                Entry::Occupied(before) => {
                    let (first, base) = *before.get();
                    return Some(Self {
                        repeats: pass.number() - first,
                        half_rows: i64::from(least) - base,
                        from: above,
                    });
                }
                Entry::Vacant(free) => {
                    free.insert((pass.number(), least.into()));
                }
            }
            above = above.max(levels.iter().copied().map(i64::from).max()? + 1);
        }
        None
    }
}

impl FabricPicture {
    fn tie_window(&mut self, fabric: &Fabric, period: &TilePeriod) {
        let end = period.from + period.half_rows;
        let mut laid = Layout::nothing(fabric.thread_count(), Some((period.from, end)));
        let low = |pass: &Pass<'_>| pass.knots().map(|knot| i64::from(knot.level)).min();
        for pass in fabric.passes() {
            laid.tie(pass, fabric);
            // A thread may run openly from inside the piece to far above it.
            if laid.is_all_past(end + 2) && low(&pass).is_some_and(|low| low > end + 2) {
                break;
            }
        }
        self.show(laid);
    }

    fn lattice_piece(&self, period: &TilePeriod) -> TileView {
        TileView {
            // Half a half row down, the cut runs through the middle of knots on no level.
            along: -0.5 * self.look.half_row,
            length: units(period.half_rows) * self.look.half_row,
            beside: -BESIDE,
            breadth: COLUMN * f64::from(self.laid.threads) + 2.0 * BESIDE,
        }
    }

    /// Lays so many repeats of a soft band, pinned straight, as they lie between others.
    fn lay_soft_piece(&mut self, tied: &Tied, repeats: u32, beside: u32) -> TileView {
        let (fabric, gauge) = (tied.fabric(), tied.band().gauge());
        let lay = tied.lay().straightened(fabric);
        let (mut soft, _) = SoftLayout::whole(fabric, &lay, &gauge);
        let starts_at = |repeat: u32| {
            let before = usize::try_from(repeat).unwrap_or(usize::MAX);
            let before = before.checked_sub(1).map_or(0, |last| soft.passes[last]);
            soft.knots[before].body.centre.1
        };
        let knot = gauge.knot_mm() / gauge.column_mm * COLUMN;
        // Where rows lie straight, the cut runs between two of them.
        let from = starts_at(beside) - knot / 2.0;
        let last = beside + repeats;
        let to = if last < tied.band().repeats() {
            starts_at(last) - knot / 2.0
        } else {
            // Nothing fits beside the piece: it is as long as all of it is.
            soft.knot_bounds().most.1
        };
        soft.keep_between(from, to);
        let within = soft.bounds(self.look.thread);
        self.soft = Some(soft);
        self.show(Layout::nothing(fabric.thread_count(), None));
        TileView {
            along: 0.0,
            length: to - from,
            beside: within.least.0 - BESIDE / 2.0,
            breadth: within.most.0 - within.least.0 + BESIDE,
        }
    }

    fn write_tile(&self, view: &TileView) -> String {
        let TileView {
            along,
            length,
            beside,
            breadth,
        } = *view;
        let pixels = (length * self.pixels_per_unit).round().max(1.0);
        let across = breadth * pixels / length;
        let (view, size) = if self.upright {
            ((beside, along, breadth, length), (across, pixels))
        } else {
            (
                (along, -breadth - beside, length, breadth),
                (pixels, across),
            )
        };
        let mut out = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{}" height="{}" viewBox="{} {} {} {}" preserveAspectRatio="none">
<title>{}</title>
<desc>{}</desc>
<defs>
{}</defs>
"#,
            exact(size.0),
            exact(size.1),
            exact(view.0),
            exact(view.1),
            exact(view.2),
            exact(view.3),
            escaped(&self.title),
            escaped(&self.words),
            self.look.definitions(),
        );
        self.write_layers(&mut out);
        out
    }
}
