//! Pictures as pixels.

use resvg::tiny_skia::{Pixmap, Transform};

use crate::error::{Error, Problem};
use crate::resolved::tree;

/// The most pixels that are painted.
const MAX_PIXELS: u64 = 120_000_000;

/// Paints a picture of this crate as PNG, `scale` times as large as its own size in
/// pixels. Words are set in the font that this crate carries; no fonts of the system are
/// read and no files are opened.
///
/// ```
/// let dot = r##"<svg xmlns="http://www.w3.org/2000/svg" width="4" height="4"><rect width="4" height="4" fill="#1d6f8c"/></svg>"##;
/// let pixels = hitchwork_draw::png::render(dot, 2.0)?;
/// assert!(pixels.starts_with(b"\x89PNG"));
/// assert!(hitchwork_draw::png::render("a tide table", 1.0).is_err_and(|error| error.is_not_a_picture()));
/// # Ok::<(), hitchwork_draw::Error>(())
/// ```
///
/// # Errors
/// When the text is not SVG, the scale is not a number above 0, or the picture would be too
/// large.
pub fn render(svg: &str, scale: f64) -> Result<Vec<u8>, Error> {
    check_scale(scale)?;
    let tree = tree(svg)?;
    let side = |own: f32| (f64::from(own) * scale).ceil().max(1.0);
    let (width, height) = (side(tree.size().width()), side(tree.size().height()));
    #[expect(clippy::cast_precision_loss, reason = "MAX_PIXELS is far below 2^53")]
    if width * height > MAX_PIXELS as f64 {
        return Err(Problem::TooManyPixels {
            width,
            height,
            most: MAX_PIXELS,
        }
        .into());
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 1 and MAX_PIXELS"
    )]
    let mut pixels = Pixmap::new(width as u32, height as u32)
        .expect("neither side is 0, and MAX_PIXELS bounds them");
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the painter works in single precision"
    )]
    let scale = scale as f32;
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixels.as_mut(),
    );
    pixels.encode_png().map_err(|error| {
        Problem::Encoding {
            reason: error.to_string(),
        }
        .into()
    })
}

/// Refuses what is not a scale.
pub(crate) fn check_scale(scale: f64) -> Result<(), Error> {
    if scale.is_finite() && scale > 0.0 {
        return Ok(());
    }
    Err(Problem::Scale { found: scale }.into())
}
