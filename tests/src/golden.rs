//! Files of expected text, and expected pictures.
//!
//! `RENEW=1 cargo test -p hitchwork-tests` writes those that differ anew. A run that
//! renews does not pass: read what has changed, then run again without it.

use std::path::Path;

/// Compares `got` with the text of a file, given from the workspace's root.
///
/// # Panics
/// When they differ, or the file was renewed.
pub fn check(file: &str, got: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let path = root.join(file);
    let expected = std::fs::read_to_string(&path).unwrap_or_default();
    if expected == got {
        return;
    }
    if std::env::var_os("RENEW").is_some() {
        std::fs::create_dir_all(path.parent().expect("a file lies in a folder"))
            .expect("the folder can be made");
        std::fs::write(&path, got).expect("the file can be written");
        panic!("{file} was renewed; read what has changed, then run again without RENEW");
    }
    let line = expected
        .lines()
        .zip(got.lines())
        .position(|(expected, got)| expected != got)
        .unwrap_or_else(|| expected.lines().count().min(got.lines().count()));
    let side = |text: &str| {
        text.lines()
            .nth(line)
            .unwrap_or("(no more lines)")
            .to_owned()
    };
    panic!(
        "{file} differs from line {}:\n  expected: {}\n  got:      {}\n(RENEW=1 writes it anew)",
        line + 1,
        side(&expected),
        side(got)
    );
}

/// A picture as rows of red, green, blue and opacity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pixels {
    /// Pixels in a row.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Four bytes for each pixel.
    pub bytes: Vec<u8>,
}

impl Pixels {
    /// The pixels of a PNG with 8 bits a channel and opacity, as we paint them.
    ///
    /// # Panics
    /// When it is no such PNG.
    #[must_use]
    pub fn of_png(png: &[u8]) -> Self {
        let mut reader = png::Decoder::new(std::io::Cursor::new(png))
            .read_info()
            .expect("a PNG");
        let mut bytes = vec![0; reader.output_buffer_size().expect("a small picture")];
        let frame = reader.next_frame(&mut bytes).expect("a whole PNG");
        assert_eq!(
            (frame.color_type, frame.bit_depth),
            (png::ColorType::Rgba, png::BitDepth::Eight)
        );
        Self {
            width: frame.width,
            height: frame.height,
            bytes,
        }
    }

    fn png(&self) -> Vec<u8> {
        let mut out = Vec::new();
        let mut encoder = png::Encoder::new(&mut out, self.width, self.height);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header().expect("into memory");
        writer.write_image_data(&self.bytes).expect("into memory");
        writer.finish().expect("into memory");
        out
    }

    /// The four bytes at a place; nothing outside.
    #[must_use]
    pub fn at(&self, x: u32, y: u32) -> Option<[u8; 4]> {
        if x >= self.width || y >= self.height {
            return None;
        }
        let at = (y as usize * self.width as usize + x as usize) * 4;
        self.bytes[at..at + 4].try_into().ok()
    }
}

/// How far a channel may be off: painting rounds once more than the expected file did.
const TOLERANCE: u8 = 1;

/// What was expected, what was found, and in black how they differ, side by side; nothing
/// when they do not.
#[must_use]
pub fn difference(expected: &Pixels, found: &Pixels) -> Option<Pixels> {
    let size = |one: u32, other: u32| one.max(other);
    let (width, height) = (
        size(expected.width, found.width),
        size(expected.height, found.height),
    );
    let mut differs = (expected.width, expected.height) != (found.width, found.height);
    let mut bytes = Vec::with_capacity(width as usize * height as usize * 12);
    for y in 0..height {
        for panel in 0..3 {
            for x in 0..width {
                let (one, other) = (expected.at(x, y), found.at(x, y));
                let off = match (one, other) {
                    (Some(one), Some(other)) => (0..4)
                        .map(|at: usize| one[at].abs_diff(other[at]))
                        .max()
                        .unwrap_or(0),
                    (None, None) => 0,
                    _ => u8::MAX,
                };
                differs |= off > TOLERANCE;
                let grey = if off > TOLERANCE {
                    160 - off.min(160)
                } else {
                    255
                };
                let nothing = [255, 255, 255, 0];
                bytes.extend(match panel {
                    0 => one.unwrap_or(nothing),
                    1 => other.unwrap_or(nothing),
                    _ => [grey, grey, grey, 255],
                });
            }
        }
    }
    differs.then_some(Pixels {
        width: width * 3,
        height,
        bytes,
    })
}

/// Compares a painted picture with a file, given from the workspace's root. When they
/// differ, a picture with three panels (expected, found, difference) is kept.
///
/// # Panics
/// When they differ, or the file was renewed.
pub fn check_picture(file: &str, png: &[u8]) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let path = root.join(file);
    let found = Pixels::of_png(png);
    let expected = std::fs::read(&path).ok();
    let three = match &expected {
        Some(expected) => match difference(&Pixels::of_png(expected), &found) {
            Some(three) => three,
            None => return,
        },
        None => found,
    };
    if std::env::var_os("RENEW").is_some() {
        std::fs::create_dir_all(path.parent().expect("a file lies in a folder"))
            .expect("the folder can be made");
        std::fs::write(&path, png).expect("the file can be written");
        panic!("{file} was renewed; look at it, then run again without RENEW");
    }
    let name = path.file_name().expect("a file has a name");
    let kept = std::env::temp_dir()
        .join("hitchwork-differences")
        .join(name);
    std::fs::create_dir_all(kept.parent().expect("lies in a folder")).expect("can be made");
    std::fs::write(&kept, three.png()).expect("the file can be written");
    panic!(
        "{file} looks different; expected, found and difference are side by side in {} (RENEW=1 writes it anew)",
        kept.display()
    );
}
