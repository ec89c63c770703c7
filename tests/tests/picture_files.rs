//! Pictures and fonts in files beside a rule: what is read, cell by cell, and what is refused in
//! words; nothing else is ever done with such a file.

use std::fs;
use std::io::Write;
use std::path::Path;

use flate2::write::ZlibEncoder;
use flate2::{Compression, Crc};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::{Font, Lettering, Means, Picture, PixelGrid};
use hitchwork_rules::picture_file::pixels;
use hitchwork_rules::{Folder, Recording, Rules, Settings};
use proptest::prelude::*;

/// What makes a PNG: its header, chunks before its pixels, and the bytes of its rows.
#[derive(Clone)]
struct Png {
    size: (u32, u32),
    depth: u8,
    /// 0 grey, 2 colour, 3 palette, 4 grey with opacity, 6 colour with opacity.
    form: u8,
    interlaced: bool,
    before: Vec<(&'static [u8; 4], Vec<u8>)>,
    /// Rows as they are stored, each with the number of its filter before it.
    rows: Vec<u8>,
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = ZlibEncoder::new(Vec::new(), Compression::best());
    packer.write_all(bytes).expect("into memory");
    packer.finish().expect("into memory")
}

impl Png {
    fn bytes(&self) -> Vec<u8> {
        let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
        let mut chunk = |name: &[u8; 4], data: &[u8]| {
            let length = u32::try_from(data.len()).expect("short");
            bytes.extend(length.to_be_bytes());
            bytes.extend(name);
            bytes.extend(data);
            let mut sum = Crc::new();
            sum.update(name);
            sum.update(data);
            bytes.extend(sum.sum().to_be_bytes());
        };
        let mut header = self.size.0.to_be_bytes().to_vec();
        header.extend(self.size.1.to_be_bytes());
        header.extend([self.depth, self.form, 0, 0, u8::from(self.interlaced)]);
        chunk(b"IHDR", &header);
        for (name, data) in &self.before {
            chunk(name, data);
        }
        chunk(b"IDAT", &packed(&self.rows));
        chunk(b"IEND", &[]);
        bytes
    }
}

/// A small picture, two by two: red and blue above, green and white below.
const RED: [u8; 3] = [200, 30, 30];
const BLUE: [u8; 3] = [20, 40, 200];
const GREEN: [u8; 3] = [30, 150, 60];
const WHITE: [u8; 3] = [255, 255, 255];

fn two_by_two(form: u8, depth: u8) -> Png {
    let mut rows = Vec::new();
    for row in [[RED, BLUE], [GREEN, WHITE]] {
        rows.push(0);
        for pixel in row {
            for part in pixel {
                rows.push(part);
                // The lower half of 16 bits is not seen.
                if depth == 16 {
                    rows.push(part);
                }
            }
            if form == 6 {
                rows.extend(std::iter::repeat_n(255, usize::from(depth / 8)));
            }
        }
    }
    Png {
        size: (2, 2),
        depth,
        form,
        interlaced: false,
        before: Vec::new(),
        rows,
    }
}

fn opaque(colours: [[u8; 3]; 4]) -> PixelGrid {
    let rgba = colours.map(|[red, green, blue]| [red, green, blue, 255]);
    PixelGrid::new(2, 2, rgba.to_vec()).expect("four")
}

fn wanted() -> PixelGrid {
    opaque([RED, BLUE, GREEN, WHITE])
}

fn read(bytes: &[u8]) -> PixelGrid {
    pixels(bytes).unwrap_or_else(|unread| panic!("{unread}"))
}

#[test]
fn every_kind_of_png_is_read() {
    for (form, depth) in [(2, 8), (2, 16), (6, 8), (6, 16)] {
        assert_eq!(
            read(&two_by_two(form, depth).bytes()),
            wanted(),
            "{form} {depth}"
        );
    }
    // A palette of four, at two bits a pixel; the last is transparent.
    let palette = [RED, BLUE, GREEN, WHITE].concat();
    let by_palette = Png {
        size: (2, 2),
        depth: 2,
        form: 3,
        interlaced: false,
        before: vec![(b"PLTE", palette), (b"tRNS", vec![255, 255, 255, 0])],
        rows: vec![0, 0b0001_0000, 0, 0b1011_0000],
    };
    let found = read(&by_palette.bytes());
    assert_eq!(
        [found.colour(0, 0), found.colour(1, 0)],
        [[200, 30, 30, 255], [20, 40, 200, 255]]
    );
    assert_eq!(found.colour(1, 1)[3], 0);
    let picture = found.picture().expect("three colours");
    assert_eq!(picture.shown().len(), 3);
    assert_eq!(picture.cell(2, 2), None);
    // Grey at one bit, and grey with opacity.
    let mut grey = by_palette.clone();
    (grey.depth, grey.form, grey.before) = (1, 0, Vec::new());
    grey.rows = vec![0, 0b0100_0000, 0, 0b1000_0000];
    let (black, white) = ([0, 0, 0], [255, 255, 255]);
    assert_eq!(read(&grey.bytes()), opaque([black, white, white, black]));
    let mut faint = by_palette.clone();
    (faint.depth, faint.form, faint.before) = (8, 4, Vec::new());
    faint.rows = vec![0, 90, 255, 90, 127, 0, 90, 128, 90, 0];
    let cells = read(&faint.bytes()).picture().expect("one grey");
    assert_eq!(cells.to_string(), "#.\n#.\n");
}

/// (W3C, Portable Network Graphics Specification, 2025: in Adam7 the first pass of two by two holds
/// the first pixel, the sixth the second, the seventh the second row.)
#[test]
fn interlaced_pictures_are_read() {
    let mut interlaced = two_by_two(2, 8);
    interlaced.interlaced = true;
    interlaced.rows = [&[0][..], &RED, &[0], &BLUE, &[0], &GREEN, &WHITE].concat();
    assert_eq!(read(&interlaced.bytes()), wanted());
}

/// Of a picture that moves, that is taken which every program shows.
#[test]
fn a_picture_that_moves_is_its_first() {
    let mut moving = two_by_two(2, 8);
    let control = |sequence: u32| {
        let numbers = [sequence, 2, 2, 0, 0];
        let mut data: Vec<u8> = numbers
            .iter()
            .flat_map(|number| number.to_be_bytes())
            .collect();
        data.extend([0, 1, 0, 10, 0, 0]);
        data
    };
    moving.before = vec![
        (b"acTL", [0, 0, 0, 2, 0, 0, 0, 0].to_vec()),
        (b"fcTL", control(0)),
    ];
    assert_eq!(read(&moving.bytes()), wanted());
}

#[test]
fn what_is_no_sound_picture_is_refused_in_words() {
    let whole = two_by_two(2, 8);
    let refused = |bytes: &[u8]| pixels(bytes).expect_err("refused").to_string();
    let bytes = whole.bytes();
    for end in [20, 40, 50] {
        let said = refused(&bytes[..end]);
        assert!(
            said == "the PNG ends before its last row" || said == "the PNG is damaged",
            "{end}: {said}"
        );
    }
    let mut damaged = bytes.clone();
    damaged[20] ^= 1;
    assert_eq!(refused(&damaged), "the PNG is damaged");
    assert_eq!(refused(b"GIF89a"), "this is not a picture that can be read");
    assert_eq!(refused(b""), "this is not a picture that can be read");
    // PixelGrid without end in a few bytes.
    let mut bomb = whole.clone();
    bomb.size = (60_000, 60_000);
    bomb.rows = vec![0; 1 << 20];
    assert!(bomb.bytes().len() < 4_000);
    assert_eq!(
        refused(&bomb.bytes()),
        "a picture of 60000 by 60000 pixels is not read; it may have 1 to 8 million"
    );
    // Words without end beside two by two pixels take no room.
    let mut wordy = whole.clone();
    let mut words = b"Comment\0\0".to_vec();
    words.extend(packed(&vec![b' '; 200 << 20]));
    wordy.before = vec![(b"zTXt", words)];
    assert_eq!(read(&wordy.bytes()), wanted());
    // Fewer rows than are promised, and none at all.
    let mut short = whole.clone();
    short.rows.truncate(8);
    assert!(pixels(&short.bytes()).is_err());
    let mut none = whole;
    none.size = (0, 2);
    assert!(pixels(&none.bytes()).is_err());
}

/// (Netpbm's manual pages pbm(5), pgm(5) and ppm(5), 2013.)
#[test]
fn plain_formats_are_read() {
    let black_and_white = opaque([[0; 3], [255; 3], [255; 3], [0; 3]]);
    for bytes in [
        &b"P1\n# two by two\n2 2\n1 0\n0 1\n"[..],
        b"P1 2 2 1001",
        b"P4 2 2\n\x80\x40",
        b"P2 2 2 1  0 1  1 0",
        b"P5 2 2 255\n\x00\xff\xff\x00",
        b"P5 2 2 65535\n\x00\x00\xff\xff\xff\xff\x00\x00",
        b"P3 2 2 7  0 0 0  7 7 7  7 7 7  0 0 0",
        b"P6 2 2 255\n\x00\x00\x00\xff\xff\xff\xff\xff\xff\x00\x00\x00",
    ] {
        assert_eq!(
            read(bytes),
            black_and_white,
            "{}",
            String::from_utf8_lossy(bytes)
        );
    }
    for (bytes, said) in [
        (&b"P1 2 2 10"[..], "the picture ends before its last row"),
        (
            b"P4 9 2\n\x80\x40\x00",
            "the picture ends before its last row",
        ),
        (
            b"P1 2 2 1 0 2 1",
            "byte 12 of the picture is neither 0 nor 1",
        ),
        (
            b"P2 2 1 9 1 10",
            "a value of the picture is 10, and the greatest is 9",
        ),
        (
            b"P2 2 1 0 1 1",
            "the greatest value is 0; it is 1 to 65535 in such a file",
        ),
        (
            b"P2 2 -1 9 1 1",
            "there is no number for the height at byte 6 of the picture",
        ),
        (
            b"P2 0 1 9 1",
            "a picture of 0 by 1 pixels is not read; it may have 1 to 8 million",
        ),
        (
            b"P6 4000000000 4000000000 255\n",
            "a picture of 4000000000 by 4000000000 pixels is not read; it may have 1 to 8 million",
        ),
        (
            b"P3 3000 2000 255 1 2 3",
            "the picture ends before its last row",
        ),
    ] {
        assert_eq!(pixels(bytes).expect_err("refused").to_string(), said);
    }
}

/// Half of the light of black and white is the grey 188 (IEC 61966-2-1, 1999), not 128.
#[test]
fn shrinking_averages_light() {
    let stripes: Vec<[u8; 4]> = (0..64)
        .map(|at| {
            if at % 2 == 0 {
                [0, 0, 0, 255]
            } else {
                [255; 4]
            }
        })
        .collect();
    let shrunk = PixelGrid::new(8, 8, stripes)
        .expect("64")
        .shrunk(4)
        .expect("smaller");
    assert_eq!((shrunk.width(), shrunk.height()), (4, 4));
    assert_eq!(shrunk.colour(2, 1), [188, 188, 188, 255]);
    // Three cells from two: the middle one has half of each.
    let two = PixelGrid::new(3, 1, vec![[0, 0, 0, 255], [255; 4], [255; 4]]).expect("three");
    let halves = two.shrunk(2).expect("smaller");
    // The first has a whole of black and half a white, which is a third of the light: 156.
    assert_eq!([halves.colour(0, 0)[0], halves.colour(1, 0)[0]], [156, 255]);
    // What shines through counts only as far as it shows.
    let clear = PixelGrid::new(2, 1, vec![[200, 30, 30, 255], [0, 0, 0, 0]]).expect("two");
    assert_eq!(
        clear.shrunk(1).expect("smaller").colour(0, 0),
        [200, 30, 30, 127]
    );
    assert!(two.shrunk(4).is_err() && two.shrunk(0).is_err());
    assert_eq!(two.shrunk(3).expect("the same"), two);
}

proptest! {
    #![proptest_config(hitchwork_tests::by_chance::cases(60))]

    /// What k-means gives is at rest: each cell has the nearest of its colours; and to add a
    /// colour never brings the picture further from what it was.
    #[test]
    fn few_colours_are_the_nearest_there_are(parts in prop::collection::vec(any::<[u8; 3]>(), 4..40)) {
        let rgba: Vec<[u8; 4]> = parts.iter().map(|[red, green, blue]| [*red, *green, *blue, 255]).collect();
        let width = u32::try_from(rgba.len()).expect("few");
        let pixels = PixelGrid::new(width, 1, rgba).expect("few");
        let distance = |one: Srgb, other: Srgb| -> f64 {
            one.oklab().iter().zip(other.oklab()).map(|(one, other)| (one - other) * (one - other)).sum()
        };
        let in_few = |count: usize| -> (Picture, f64) {
            let mut means = Means::new(pixels.clone(), count).expect("some colours");
            while means.go_on() {}
            let picture = means.picture().expect("small");
            let far = (1..=picture.width()).zip(&parts).map(|(column, [red, green, blue])| {
                let shown = picture.colour(1, column).expect("opaque").srgb;
                distance(shown, Srgb::new(*red, *green, *blue))
            });
            let far = far.sum();
            (picture, far)
        };
        for count in [1, 2, 3, 5] {
            let (picture, far) = in_few(count);
            prop_assert!(picture.shown().len() <= count);
            let again = pixels.nearest(picture.colours()).expect("small");
            // Means are rounded to 8 bits, so that a cell half way between two may change sides.
            let differ = again.cells().iter().zip(picture.cells()).filter(|(one, other)| one != other);
            prop_assert!(differ.count() <= 1, "{}{}", again, picture);
            if count == 5 {
                prop_assert!(far <= in_few(1).1 + 1e-9);
            }
        }
        let all = in_few(64).0;
        prop_assert_eq!(&all, &pixels.picture().expect("at most 40 colours"));
    }
}

#[test]
fn colours_are_brought_down_the_same_way_on_every_machine() {
    let rgba = (0..600_u32).map(|at| {
        let part = |factor: u32| u8::try_from(at * factor % 256).expect("a byte");
        [part(7), part(11), part(13), 255]
    });
    let pixels = PixelGrid::new(30, 20, rgba.collect()).expect("600");
    let mut means = Means::new(pixels.clone(), 4).expect("four");
    let mut rounds = 1;
    while means.go_on() {
        rounds += 1;
    }
    let picture = means.picture().expect("small");
    let values: Vec<String> = picture
        .colours()
        .iter()
        .map(|colour| colour.srgb.to_string())
        .collect();
    // Only that the same comes out everywhere; whether it is right is asked above.
    assert_eq!(
        (rounds, values.join(" ")),
        (FOUR_OF_600.0, FOUR_OF_600.1.to_owned())
    );
    let again = pixels.nearest(picture.colours()).expect("small");
    let differ = again
        .cells()
        .iter()
        .zip(picture.cells())
        .filter(|(one, other)| one != other);
    assert!(differ.count() < 6);
    let too_many = pixels.picture().expect_err("hundreds");
    assert!(
        too_many.to_string().ends_with("at most 64 are allowed"),
        "{too_many}"
    );
}

const FOUR_OF_600: (i32, &str) = (15, "#453f4d #8ecb7c #5d6bcd #d05686");

fn rules_in(folder: &Path, script: &str) -> Result<hitchwork_rules::Made, hitchwork_rules::Error> {
    let rules = Rules::new();
    let rule = rules
        .compile("quay.rhai", script)?
        .finding(Folder::new(folder).shown_as(""));
    rules.make(&rule, &Settings::new())
}

/// The picture over a leader, as marks of where it does not show.
fn motif_of(script: &str, folder: &Path) -> String {
    let script = format!(
        "let made = {script};\nband(made.width + 1).repeat(over_leader(made, #{{ comes_back: false }}))"
    );
    let made = rules_in(folder, &script).unwrap_or_else(|error| panic!("{}", error.render(false)));
    let mut marks = String::new();
    for (number, row) in made.band.repeat().iter().enumerate() {
        let mut knots = row.knots().to_vec();
        knots.sort_by_key(|knot| knot.column());
        let goes_right = number % 2 == 0;
        for knot in knots {
            let is_forward = knot.kind() == hitchwork_core::knot::Kind::Forward;
            marks.push(if is_forward == goes_right { '.' } else { '#' });
        }
        marks.push('\n');
    }
    marks
}

/// The first message of a rule that fails, and its help and place.
fn said(script: &str, folder: &Path) -> (String, String, Option<(usize, usize)>) {
    let error = rules_in(folder, script).expect_err(script);
    let first = &error.diagnostics()[0];
    let place = first
        .place
        .as_ref()
        .map(|place| (place.line, place.character));
    (
        first.message.clone(),
        first.help.clone().unwrap_or_default(),
        place,
    )
}

#[test]
fn a_rule_reads_pictures_beside_it() {
    let place = tempfile::tempdir().expect("a folder");
    let here = place.path();
    fs::create_dir(here.join("signs")).expect("a folder");
    fs::write(here.join("signs/buoy.txt"), "\u{feff}  .#.\r\n  ###\r\n").expect("written");
    fs::write(here.join("sail.pbm"), "P1 3 2  0 0 1  0 1 1").expect("written");
    let mut sail = two_by_two(6, 8);
    sail.rows = [
        &[0, 200, 30, 30, 255, 0, 0, 0, 0, 0][..],
        &[0; 4],
        &[200, 30, 30, 255],
    ]
    .concat();
    fs::write(here.join("Sail 2.PNG"), sail.bytes()).expect("written");
    fs::write(here.join("four.png"), two_by_two(2, 8).bytes()).expect("written");
    assert_eq!(motif_of("picture(\"signs/buoy.txt\")", here), ".#.\n###\n");
    assert_eq!(motif_of("picture(\"Sail 2.PNG\")", here), "#.\n.#\n");
    let white = "colour(\"white\", \"#fefefe\")";
    assert_eq!(
        motif_of(
            &format!("picture(\"sail.pbm\", #{{ ground: {white} }})"),
            here
        ),
        "..#\n.##\n"
    );
    assert_eq!(
        motif_of("picture(\"sail.pbm\").without(\"black\").inverted()", here),
        "..#\n.##\n"
    );
    assert_eq!(
        motif_of(
            &format!("picture(\"four.png\", #{{ ground: {white} }})"),
            here
        ),
        "##\n#.\n"
    );
    // Of two colours, the lighter becomes the ground.
    assert_eq!(
        motif_of(
            &format!("picture(\"four.png\", #{{ colours: 2, ground: {white} }})"),
            here
        )
        .matches('.')
        .count(),
        1
    );
    let list = format!("[colour(\"sea\", \"#1428c8\"), {white}]");
    assert_eq!(
        motif_of(
            &format!("picture(\"four.png\", #{{ colours: {list}, ground: {white} }})"),
            here
        )
        .matches('#')
        .count(),
        3,
    );
    assert_eq!(
        motif_of("picture(\"four.png\", #{ columns: 1 })", here),
        "#\n"
    );
    assert_eq!(
        motif_of(
            "picture(\"signs/buoy.txt\", #{ marks: #{ \"#\": (), \".\": colour(\"lamp\", \"#ffc145\") } })",
            here
        ),
        "#.#\n...\n"
    );
    // What a band depends on is known, whether it is there or not.
    let asked = Recording::new(Folder::new(here));
    let rules = Rules::new();
    let rule = rules
        .compile(
            "quay",
            "band(4).repeat(over_leader(picture(\"signs/buoy.txt\")))",
        )
        .expect("sound");
    rules
        .make(&rule.finding(asked.clone()), &Settings::new())
        .expect("sound");
    assert!(
        asked.asked_files()["signs/buoy.txt"]
            .as_ref()
            .is_ok_and(Option::is_some)
    );
    let rule = rules
        .compile("quay", "picture(\"later.png\")")
        .expect("sound");
    assert!(
        rules
            .make(&rule.finding(asked.clone()), &Settings::new())
            .is_err()
    );
    assert_eq!(asked.asked_files()["later.png"], Ok(None));
}

#[test]
fn files_that_cannot_be_read_are_refused_at_the_line_that_asks() {
    let place = tempfile::tempdir().expect("a folder");
    let here = place.path();
    fs::write(here.join("buoy.txt"), ".#.\n#o#\n").expect("written");
    fs::write(here.join("cut.png"), &two_by_two(2, 8).bytes()[..40]).expect("written");
    fs::write(here.join("none.txt"), "\n  \n").expect("written");
    fs::write(here.join("latin.txt"), b"#\xe9#").expect("written");
    fs::write(here.join("wide.txt"), "#".repeat(201)).expect("written");
    fs::write(here.join("tall.txt"), "#\n".repeat(2_001)).expect("written");
    fs::write(
        here.join("large.pbm"),
        format!("P1 300 10 {}", "0".repeat(3_000)),
    )
    .expect("written");
    let many: String = (0..100).map(|at| format!("{at} 0 {at} ")).collect();
    fs::write(here.join("many.ppm"), format!("P3 10 10 99 {many}")).expect("written");
    fs::write(here.join("long.txt"), vec![b'#'; (8 << 20) + 1]).expect("written");
    for (asked, message, help) in [
        (
            "buoy.txt",
            "buoy.txt: nobody has said what \"o\" in line 2, character 2 of the picture stands for",
            "the marks are: #",
        ),
        (
            "bouy.txt",
            "there is no file called \"bouy.txt\"",
            "did you mean \"buoy.txt\"?",
        ),
        (
            "cut.png",
            "cut.png: the PNG ends before its last row",
            "once more",
        ),
        (
            "none.txt",
            "none.txt: a picture has 1 to 200 columns and 1 to 2000 rows, not 0 by 0",
            "one row and one column at least",
        ),
        (
            "latin.txt",
            "latin.txt: line 1 holds a character that is not UTF-8",
            "",
        ),
        (
            "wide.txt",
            "wide.txt: the row in line 1 is wider than a picture may be: 200 columns",
            "thread",
        ),
        (
            "tall.txt",
            "tall.txt: a picture has 1 to 200 columns and 1 to 2000 rows, not 1 by 2001",
            "crop",
        ),
        (
            "large.pbm",
            "large.pbm: a picture has 1 to 200 columns and 1 to 2000 rows, not 300 by 10",
            "shrunk",
        ),
        (
            "many.ppm",
            "many.ppm: the picture has 100 colours; at most 64 are allowed",
            "how many colours",
        ),
        (
            "long.txt",
            "long.txt is longer than 8 MB",
            "shrink it first",
        ),
        (
            "../secret.png",
            "\"../secret.png\" cannot be the file of a picture",
            "own folder",
        ),
        (
            "/etc/hostname",
            "\"/etc/hostname\" cannot be the file of a picture",
            "own folder",
        ),
        (
            ".hidden.png",
            "\".hidden.png\" cannot be the file of a picture",
            "own folder",
        ),
        (
            "quay.rhai",
            "\"quay.rhai\" cannot be the file of a picture",
            "png",
        ),
        (
            "a//b.png",
            "\"a//b.png\" cannot be the file of a picture",
            "own folder",
        ),
    ] {
        let script =
            format!("// asks\nlet made = picture(\"{asked}\");\nband(4).repeat(over_leader(made))");
        let (found, does, place) = said(&script, here);
        assert_eq!(found, message);
        assert!(does.contains(help), "{asked}: {does}");
        assert_eq!(place, Some((2, 12)), "{asked}");
    }
    // Without a folder of its own, a rule has no files.
    let rules = Rules::new();
    let rule = rules
        .compile("quay", "picture(\"buoy.txt\")")
        .expect("sound");
    assert!(rules.make(&rule, &Settings::new()).is_err());
}

#[cfg(unix)]
#[test]
fn nothing_outside_of_the_folder_is_read() {
    let outside = tempfile::tempdir().expect("a folder");
    let inside = outside.path().join("rules");
    fs::create_dir(&inside).expect("a folder");
    fs::write(outside.path().join("secret.txt"), "###").expect("written");
    std::os::unix::fs::symlink(outside.path().join("secret.txt"), inside.join("link.txt"))
        .expect("a link");
    std::os::unix::fs::symlink("/dev/zero", inside.join("zeros.png")).expect("a link");
    fs::create_dir(inside.join("folder.txt")).expect("a folder");
    std::os::unix::fs::symlink("nowhere.txt", inside.join("broken.txt")).expect("a link");
    for (name, why) in [
        ("link.txt", "leads out of the rule's own folder"),
        ("zeros.png", "leads out of the rule's own folder"),
        ("folder.txt", "it is a folder, not a file"),
        (
            "broken.txt",
            "broken.txt is a link to something that is not there",
        ),
    ] {
        let (message, ..) = said(&format!("picture(\"{name}\")"), &inside);
        assert!(message.contains(why), "{message}");
        assert_eq!(message.matches(name).count(), 1, "named once: {message}");
    }
}

#[test]
fn a_picture_that_is_drawn_in_the_rule_is_refused_at_its_mark() {
    let place = tempfile::tempdir().expect("a folder");
    let drawn = "let wave = picture(`\n    .##\n    #x#\n`);\nband(4).repeat(over_leader(wave))";
    let (message, help, at) = said(drawn, place.path());
    assert_eq!(
        message,
        "nobody has said what \"x\" in line 2, character 6 of the picture stands for"
    );
    assert!(
        help.contains("Say which colour each other mark stands for"),
        "{help}"
    );
    assert_eq!(at, Some((3, 6)));
    // What a row lacks would show nothing, and its author might never notice.
    let short =
        "let wave = picture(`\n    .##.\n    ##.\n    #..#\n`);\nband(5).repeat(over_leader(wave))";
    let (message, help, at) = said(short, place.path());
    assert_eq!(
        message,
        "the row in line 2 of the picture has 3 cells, and the widest has 4"
    );
    assert!(help.contains("a mark for every cell"), "{help}");
    assert_eq!(at, Some((3, 8)));
    let (message, ..) = said("picture([\"#\", \"###\", \"##\"])", place.path());
    assert_eq!(
        message,
        "the row in line 1 of the picture has 1 cell, and the widest has 3 (2 rows are shorter)"
    );
    // No mark is known at all.
    let (_, help, _) = said("picture([\"a\"], #{ marks: #{} })", place.path());
    assert!(!help.contains("the marks are"), "{help}");
    for (script, message) in [
        (
            "picture([\".#\", 3])",
            "the rows of a picture hold a whole number where a text should be",
        ),
        ("picture(7)", "a picture cannot be made from a whole number"),
        (
            "picture([])",
            "a picture has 1 to 200 columns and 1 to 2000 rows, not 0 by 0",
        ),
        (
            "picture([\"#\"], #{ colour: 3 })",
            "a picture has no setting called colour",
        ),
        (
            "picture([\"#\"], #{ columns: 3 })",
            "columns say nothing about a picture that is drawn in the rule",
        ),
        (
            "picture([\"#\"], #{ marks: #{ \"ab\": () } })",
            "\"ab\" is not one mark",
        ),
        (
            "picture([\"#\"], #{ marks: 3 })",
            "marks of a picture cannot be 3",
        ),
        (
            "picture([\"#.\"]).cell(1, 3)",
            "the picture has no cell in row 1, column 3",
        ),
        (
            "picture([\"#.\"]).cropped(1..=2, 1..=2)",
            "the picture has no rows 1 to 2",
        ),
        (
            "picture([\"#.\"]).cropped([1, 3], 1)",
            "these are no rows that lie side by side",
        ),
        ("picture([\"#.\"]).padded(-1)", "there cannot be -1 columns"),
        (
            "picture([\"#.\"]).padded(1000000000)",
            "there cannot be 1000000000 columns",
        ),
        (
            "picture([\"a\u{301}\"], #{ marks: #{ \"a\": () } })",
            "line 1, character 2: U+0301 takes no place of its own",
        ),
        (
            "over_leader(picture([\"#.\"]), #{ leader_shows: \"grund\" })",
            "leader_shows of a picture over a leader cannot be \"grund\"",
        ),
        (
            "picture([\"#.\"]).repeated(101, 1)",
            "a picture has 1 to 200 columns and 1 to 2000 rows, not 202 by 1",
        ),
        (
            "picture([\"#.\"]).without(\"inc\")",
            "the picture shows no colour called \"inc\"",
        ),
        (
            "picture([\"#.\"]).recoloured(#{ \"ink\": 3 })",
            "a colour cannot become a whole number",
        ),
        (
            "over_leader(picture([\"#.\"]), #{ from: 3 })",
            "from of a picture over a leader cannot be 3",
        ),
        (
            "over_leader(picture([\"#.\"]), #{ leaders: 0 })",
            "leaders of a picture over a leader cannot be 0",
        ),
        (
            "over_leader(flags(\"n\"))",
            "the picture shows 2 colours, and nobody has said which is the ground",
        ),
        (
            "over_leader(picture([\"#.\"]).repeated(100, 1))",
            "200 columns and 1 leader make 201 threads",
        ),
        (
            "over_leader(lettering(\"ahoy\").padded(90, 0), #{ leaders: 9 })",
            "199 columns and 9 leaders make 208 threads",
        ),
        (
            "colours_over_leader(flags(\"c\").without(\"signal white\"), colour(\"a\", \"#ffffff\"))",
            "column 1 of the picture shows signal blue and signal red, and is one thread",
        ),
        (
            "colours_over_leader(picture([\"#.\"]), 3)",
            "the ground cannot be a whole number",
        ),
        ("lettering(\"a日\")", "the font has no 日 (U+65E5)"),
        (
            "lettering(\"a\", #{ font: 3 })",
            "font of lettering cannot be 3",
        ),
        (
            "lettering(\"a\", #{ font: \"none.bdf\" })",
            "there is no file called \"none.bdf\"",
        ),
        ("flags(\"a b\")", "there is no signal flag for \" \""),
        ("flags(\"\")", "there are no flags to hoist"),
        // Wider than the band, and with fewer colours than threads.
        (
            "band(5).repeat(over_leader(lettering(\"oh\")))",
            "repeat, row 1, knot 5: column 5 lies outside the band",
        ),
        (
            "let o = lettering(\"o\"); band(9).repeat(over_leader(o)).colours(colours_over_leader(o, colour(\"a\", \"#ffffff\")))",
            "5 colours are given for 9 threads",
        ),
    ] {
        let (found, ..) = said(script, place.path());
        assert!(found.starts_with(message), "{script}: {found}");
    }
}

#[test]
fn letters_with_their_accents_apart_are_the_same() {
    let place = tempfile::tempdir().expect("a folder");
    let whole = motif_of("lettering(\"J\u{f6}rg\")", place.path());
    assert_eq!(motif_of("lettering(\"Jo\u{308}rg\")", place.path()), whole);
}

const FONT: &str = "STARTFONT 2.1
FONT -Quay-Marks-Medium-R-Normal--3-30-75-75-C-40-ISO10646-1
SIZE 3 75 75
FONTBOUNDINGBOX 9 3 0 -1
STARTPROPERTIES 3
FONT_ASCENT 2
FONT_DESCENT 1
CHARSET_REGISTRY \"ISO10646\"
ENDPROPERTIES
CHARS 2
STARTCHAR wave
ENCODING 12316
SWIDTH 500 0
DWIDTH 9 0
BBX 9 2 0 0
BITMAP
3180
4A00
ENDCHAR
STARTCHAR drop
ENCODING 46
SWIDTH 500 0
DWIDTH 3 0
BBX 3 2 0 -1
BITMAP
40
E0
ENDCHAR
ENDFONT
";

/// (Adobe, Glyph Bitmap Distribution Format specification 2.2, 1993.)
#[test]
fn a_font_of_ones_own_sets_words_in_its_letters() {
    let place = tempfile::tempdir().expect("a folder");
    fs::write(place.path().join("marks.bdf"), FONT).expect("written");
    let set = motif_of("lettering(\"〜.\", #{ font: \"marks.bdf\" })", place.path());
    // Worked by hand: 3180 is ..##...##, 4A00 is .#..#.#.., both two rows above the line; the
    // drop begins one row lower.
    assert_eq!(set, ".##...##....\n#..#.#....#.\n.........###\n");
    let (message, ..) = said("lettering(\"a\", #{ font: \"marks.bdf\" })", place.path());
    assert_eq!(message, "the font has no a (U+0061)");
}

#[test]
fn a_font_with_wrong_numbers_is_refused_at_its_line() {
    let refused = |text: &str| {
        Font::read(text.as_bytes())
            .expect_err("refused")
            .to_string()
    };
    let with = |from: &str, to: &str| {
        assert!(FONT.contains(from), "{from}");
        FONT.replacen(from, to, 1)
    };
    assert!(Font::read(FONT.as_bytes()).is_ok());
    for (from, to, said) in [
        (
            "STARTFONT 2.1",
            "START",
            "line 1 of the font: a font begins with STARTFONT",
        ),
        (
            "CHARS 2",
            "CHARS 3",
            "line 29 of the font: CHARS says 3 letters, and there are 2",
        ),
        (
            "CHARS 2",
            "CHARS many",
            "line 10 of the font: CHARS needs a whole number from 0 to 1114112",
        ),
        (
            "BBX 9 2 0 0",
            "BBX 9 2 0",
            "line 15 of the font: BBX needs 4 whole numbers from -200 to 200",
        ),
        (
            "BBX 9 2 0 0",
            "BBX 9 99999999999 0 0",
            "line 15 of the font: BBX needs 4 whole numbers from -200 to 200",
        ),
        (
            "BBX 9 2 0 0",
            "BBX -9 2 0 0",
            "line 16 of the font: a letter cannot be narrower or lower than nothing",
        ),
        (
            "BBX 9 2 0 0",
            "BBX 17 2 0 0",
            "line 17 of the font: a row of 17 cells needs 6 hexadecimal digits",
        ),
        (
            "BBX 9 2 0 0",
            "BBX 9 1 0 0",
            "line 18 of the font: a letter of 1 row ends in ENDCHAR",
        ),
        (
            "BBX 9 2 0 0",
            "BBX 9 3 0 0",
            "line 19 of the font: a row of 9 cells needs 4 hexadecimal digits",
        ),
        (
            "3180",
            "31G0",
            "line 17 of the font: a row of 9 cells needs 4 hexadecimal digits",
        ),
        (
            "ENCODING 46",
            "ENCODING 1114112",
            "line 21 of the font: ENCODING needs a whole number from -1 to 1114111",
        ),
        (
            "DWIDTH 9 0",
            "DWIDTH 2147483647 0",
            "line 14 of the font: DWIDTH needs 2 whole numbers from -200 to 200",
        ),
        (
            "DWIDTH 9 0",
            "DWIDTH -9 0",
            "line 14 of the font: DWIDTH leads back by 9 cells, and words are set from left to right",
        ),
        (
            "SIZE 3 75 75",
            "DWIDTH 99999999999999999999 0",
            "line 3 of the font: DWIDTH needs 2 whole numbers from -200 to 200",
        ),
        (
            "FONT_ASCENT 2",
            "FONT_ASCENT 1e9",
            "line 6 of the font: FONT_ASCENT needs a whole number from 0 to 200",
        ),
        (
            "\"ISO10646\"",
            "\"JISX0208.1983\"",
            "line 8 of the font: its letters are numbered by JISX0208.1983, not as in Unicode",
        ),
        (
            "BITMAP\n3180\n4A00\n",
            "",
            "line 16 of the font: a letter has no BITMAP",
        ),
        (
            "ENDFONT\n",
            "",
            "the font ends before its last line, ENDFONT",
        ),
    ] {
        assert_eq!(refused(&with(from, to)), said);
    }
    let unnumbered = FONT
        .replace("ENCODING 46", "ENCODING -1")
        .replace("ENCODING 12316", "ENCODING -1");
    assert_eq!(
        refused(&unnumbered),
        "line 29 of the font: it has no letters with a place in Unicode"
    );
    for end in 0..FONT.len() - 8 {
        assert!(Font::read(&FONT.as_bytes()[..end]).is_err(), "{end}");
    }
    // A letter that comes twice is the first; a font without properties stands in its box.
    let bare: String = FONT
        .lines()
        .filter(|line| !line.contains("PROPERTIES") && !line.starts_with("FONT_"))
        .fold(String::new(), |text, line| text + line + "\n");
    let font = Font::read(bare.as_bytes()).expect("sound");
    assert_eq!(font.height(), 3);
    let colour = Colour::new("lamp", Srgb::new(255, 193, 69));
    let how = Lettering {
        colour,
        ..Lettering::default()
    };
    assert_eq!(
        font.lettering(".", &how).expect("there").to_string(),
        "...\n.#.\n###\n"
    );
}
