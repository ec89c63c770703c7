//! What is painted and the files on the disk: saving, what is changed meanwhile, what is dropped.

use std::collections::BTreeMap;

use hitchwork_core::chance::{Chance, Purpose};
use hitchwork_core::colour::Srgb;
use hitchwork_core::picture::{Cell, Picture};
use hitchwork_rules::picture_file::png_of;
use serde_json::json;

use super::super::file::{NO_PICTURE, NOT_READ_YET};
use super::super::{Bytes, Painting};
use super::{SHADES, Trial, words};

/// A picture by chance; the first of its cells shows something.
fn by_chance(chance: &mut Chance, colours: u64) -> Picture {
    let side = |chance: &mut Chance| u16::try_from(1 + chance.below(12)).expect("small");
    let (columns, rows) = (side(chance), side(chance));
    let list = (0..colours).map(|at| {
        let part = |shift: u64| u8::try_from((at * 37 + shift * 91) % 251).expect("below 251");
        hitchwork_core::colour::Colour::new(
            format!("tone {at}"),
            Srgb::new(part(1), part(2), part(3)),
        )
    });
    let count = usize::from(columns) * usize::from(rows);
    let mut cells: Vec<Cell> = (0..count)
        .map(|_| {
            u8::try_from(chance.below(colours + 1))
                .ok()
                .and_then(|cell| cell.checked_sub(1))
        })
        .collect();
    cells[0] = Some(0);
    Picture::new(columns, list.collect(), cells).expect("whole rows")
}

/// Paints every cell anew, in strokes of one colour, as another picture has it.
fn paint_over(trial: &mut Trial, wanted: &Picture) {
    let pots = trial.painting.files[trial.file].pots.clone();
    for (number, pot) in (1..).zip(&pots) {
        let all = (0..wanted.height())
            .flat_map(|row| (0..wanted.width()).map(move |column| (row, column)));
        let shows = |(row, column): &(u16, u16)| {
            wanted.colour(row + 1, column + 1).map(|colour| colour.srgb) == pot.colour
        };
        let cells: Vec<(u16, u16)> = all.filter(shows).collect();
        trial.stroke(number, &pot.id, &cells).expect("taken");
    }
}

/// Random pictures, painted over with others of their size and colours: the rule reads what was
/// painted, and after saving the same from the disk, of text and of pixels.
#[test]
fn what_is_saved_is_read_back_cell_by_cell() {
    let mut chance = Chance::new(11, Purpose::Rule);
    for case in 0..60 {
        let colours = 1 + chance.below(9);
        let before = by_chance(&mut chance, colours);
        let cells = (0..before.cells().len()).map(|_| {
            u8::try_from(chance.below(colours + 1))
                .ok()
                .and_then(|cell| cell.checked_sub(1))
        });
        // Over a leader something has to be motif.
        let mut cells: Vec<Cell> = cells.collect();
        cells[0] = before.cells()[0];
        let wanted =
            Picture::new(before.width(), before.colours().to_vec(), cells).expect("whole rows");
        let letters: Vec<char> = "#abcdefghijk".chars().collect();
        let known = before
            .colours()
            .iter()
            .zip(&letters)
            .map(|(colour, letter)| {
                format!(
                    "\"{letter}\": colour(\"{}\", \"{}\")",
                    colour.name, colour.srgb
                )
            });
        let marks = format!(
            "#{{ marks: #{{ {} }} }}",
            known.collect::<Vec<_>>().join(", ")
        );
        let mut trial = Trial::new("art.txt", before.to_string().as_bytes(), &marks);
        paint_over(&mut trial, &wanted);
        assert_eq!(trial.run(), wanted, "{case}: as it is painted\n{wanted}");
        let is_same = wanted == before;
        assert_eq!(
            trial.save().is_err(),
            is_same,
            "{case}: nothing to save only where nothing changed"
        );
        assert!(trial.painting.unsaved().is_empty());
        assert_eq!(trial.run(), wanted, "{case}: from the disk");

        let mut trial = Trial::new("art.png", &png_of(&before), "#{}");
        // Colours that no cell shows are not in the pixels.
        let shown: Vec<Srgb> = before.shown().iter().map(|colour| colour.srgb).collect();
        let wanted = wanted
            .recoloured(|colour| shown.contains(&colour.srgb).then(|| colour.clone()))
            .expect("fewer");
        paint_over(&mut trial, &wanted);
        assert_eq!(trial.run(), wanted, "{case}: painted pixels\n{wanted}");
        if wanted == before {
            continue;
        }
        let advice = trial.save().expect("saved").advice.expect("what to change");
        assert_eq!(
            std::fs::read(trial.place.path().join("art.png")).expect("there"),
            png_of(&before)
        );
        assert!(advice.contains("in line 1 of the rule"), "{advice}");
        // The rule as the advice says, without anything that is painted.
        let call = advice
            .split("write ")
            .nth(1)
            .and_then(|rest| rest.split(" instead of").next());
        trial.rule = trial
            .rule
            .replace("picture(\"art.png\", #{})", call.expect("a call"));
        trial.painting = Painting::default();
        assert_eq!(
            trial.run(),
            wanted,
            "{case}: the text beside the pixels\n{advice}"
        );
    }
}

#[test]
fn pixels_that_a_rule_shrinks_are_painted_as_it_sees_them() {
    let tone = |name: &str, srgb| hitchwork_core::colour::Colour::new(name, srgb);
    let list = vec![
        tone("red", Srgb::new(200, 10, 20)),
        tone("blue", Srgb::new(20, 30, 190)),
    ];
    let cells = (0..16 * 8).map(|at| Some(u8::from(at % 16 >= 8)));
    let large = Picture::new(16, list, cells.collect()).expect("whole rows");
    for wishes in [
        "#{ columns: 4 }",
        "#{ columns: 4, colours: 2 }",
        "#{ columns: 4, ground: colour(\"blue\", \"#141ebe\") }",
    ] {
        let mut trial = Trial::new("art.png", &png_of(&large), wishes);
        assert_eq!(
            (
                trial.news()["files"][0]["rows"].clone(),
                trial.news()["files"][0]["columns"].clone()
            ),
            (json!(2), json!(4))
        );
        trial.stroke(1, "#141ebe", &[(0, 0)]).expect("taken");
        let seen = trial.run();
        let red = |row, column| {
            seen.colour(row, column)
                .is_some_and(|colour| colour.srgb.red == 200)
        };
        let reds: Vec<bool> = (1..=2)
            .flat_map(|row| (1..=4).map(move |column| (row, column)))
            .map(|(row, column)| red(row, column))
            .collect();
        assert_eq!(
            reds,
            [false, true, false, false, true, true, false, false],
            "{wishes}\n{seen}"
        );
        let again = trial.run();
        assert_eq!(
            again, seen,
            "what has been painted does not wander: {wishes}"
        );
    }
}

#[test]
fn a_file_that_changes_meanwhile_is_lost_in_silence_on_neither_side() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    trial.run();
    trial.write(b"ab\nab\n");
    // Saving looks once more, though nobody has noticed yet.
    assert!(
        words(trial.save().err().expect("refused")).starts_with("art.txt was changed elsewhere")
    );
    assert_eq!(trial.text("art.txt"), "ab\nab\n");
    trial.run();
    assert_eq!(trial.news()["files"][0]["is_changed"], true);
    assert_eq!(trial.news()["files"][0]["is_gone"], false);
    // What is no picture is not taken, and the file is blamed for it, not the rule.
    trial.write(b"ab\nax\n");
    trial.run();
    let refusal = trial.act(json!({ "act": "take", "file": "art.txt" }));
    assert_eq!(refusal, Err(NO_PICTURE));
    assert_eq!(trial.painted(), "ba\nbb\n");
    trial.write(b"ab\nab\n");
    trial.run();
    assert!(
        words(trial.save().err().expect("refused")).starts_with("art.txt was changed elsewhere")
    );
    // What is painted is kept, and takes the place of the other when it is saved.
    trial
        .act(json!({ "act": "keep", "file": "art.txt" }))
        .expect("taken");
    trial.run();
    assert_eq!(trial.news()["files"][0]["is_changed"], false);
    assert_eq!(trial.painted(), "ba\nbb\n");
    trial.save().expect("saved");
    assert_eq!(trial.text("art.txt"), "ba\nbb\n");
    // Or the file is taken, and what was painted can be had back.
    trial.stroke(2, "a", &[(1, 1)]).expect("taken");
    trial.write(b"bbb\nbbb\nbab\n");
    trial.run();
    trial
        .act(json!({ "act": "take", "file": "art.txt" }))
        .expect("taken");
    assert_eq!(trial.run().height(), 3);
    assert!(trial.painting.unsaved().is_empty());
    trial.act(json!({ "act": "undo" })).expect("taken");
    assert_eq!(trial.painted(), "ba\nba\n");
    assert_eq!(trial.news()["files"][0]["is_unsaved"], true);
    // The same as is painted here, or as it was: no cause to ask.
    trial.write(b"ba\nba\n");
    trial.run();
    assert!(trial.painting.unsaved().is_empty());
    assert_eq!(trial.news()["files"][0]["is_changed"], false);
}

#[test]
fn a_file_that_is_gone_is_written_again_only_if_that_is_meant() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    std::fs::remove_file(trial.place.path().join("art.txt")).expect("it was there");
    trial.run();
    assert_eq!(
        trial.news()["files"][0]["is_gone"],
        true,
        "nothing can be taken then"
    );
    assert!(
        words(trial.save().err().expect("refused")).starts_with("art.txt was taken away while")
    );
    assert!(
        trial
            .act(json!({ "act": "take", "file": "art.txt" }))
            .is_err(),
        "there is nothing to take"
    );
    trial
        .act(json!({ "act": "keep", "file": "art.txt" }))
        .expect("taken");
    trial.run();
    trial.save().expect("saved");
    assert_eq!(trial.text("art.txt"), "ba\nbb\n");
}

#[test]
fn a_text_beside_pixels_never_takes_the_place_of_another() {
    let art = Picture::plain(
        2,
        2,
        Some(hitchwork_core::colour::Colour::new(
            "red",
            Srgb::new(200, 10, 20),
        )),
    );
    let mut trial = Trial::new("art.png", &png_of(&art.expect("small")), "#{}");
    trial.stroke(1, "", &[(0, 0)]).expect("taken");
    trial.run();
    std::fs::write(trial.place.path().join("art.txt"), "mine").expect("written");
    assert!(words(trial.save().err().expect("refused")).contains("such a file already"));
    assert_eq!(trial.text("art.txt"), "mine");
    std::fs::remove_file(trial.place.path().join("art.txt")).expect("it was there");
    assert_eq!(trial.painting.not_saved(), ["art.png"]);
    let saved = trial.save().expect("saved");
    assert_eq!(trial.text("art.txt"), ".a\naa\n");
    // The rule goes on reading what is painted on the pixels, of which nothing can be lost any more.
    assert_eq!(trial.painting.unsaved().len(), 1);
    assert!(trial.painting.not_saved().is_empty());
    assert_eq!(trial.news()["files"][0]["is_saved_beside"], true);
    let call = saved.call.expect("what the rule is to say");
    assert!(saved.advice.expect("what to change").contains(&call));
    // Its own it may write again, as long as nobody has changed it.
    trial.stroke(2, "", &[(1, 1)]).expect("taken");
    assert_eq!(trial.painting.not_saved(), ["art.png"]);
    assert_eq!(trial.news()["files"][0]["is_saved_beside"], false);
    trial.save().expect("saved");
    assert_eq!(trial.text("art.txt"), ".a\na.\n");
    std::fs::write(trial.place.path().join("art.txt"), "mine").expect("written");
    trial.stroke(3, "", &[(1, 0)]).expect("taken");
    assert!(trial.save().is_err());
    assert_eq!(trial.text("art.txt"), "mine");
}

/// Somebody works on the text that pixels were saved as: neither is lost, and there is a way on.
#[test]
fn a_text_beside_pixels_that_somebody_changes_is_kept_beside_or_taken() {
    let tone = |name: &str, srgb| hitchwork_core::colour::Colour::new(name, srgb);
    let list = vec![
        tone("red", Srgb::new(200, 10, 20)),
        tone("blue", Srgb::new(20, 30, 190)),
    ];
    let cells = vec![Some(0), Some(1), Some(1), Some(0)];
    let art = Picture::new(2, list, cells).expect("whole rows");
    let mut trial = Trial::new("art.png", &png_of(&art), "#{}");
    let theirs = |trial: &Trial, words: &str| {
        std::fs::write(trial.place.path().join("art.txt"), words).expect("written");
    };
    trial.stroke(1, "#141ebe", &[(0, 0)]).expect("taken");
    trial.run();
    trial.save().expect("saved");
    assert_eq!(trial.text("art.txt"), "aa\nab\n");
    let changed = |trial: &Trial| trial.news()["files"][0]["changed_beside"].clone();
    let refused = |trial: &mut Trial| words(trial.save().err().expect("refused"));

    theirs(&trial, "aa\naa\n");
    trial.stroke(2, "", &[(1, 1)]).expect("taken");
    assert_eq!(changed(&trial), json!(null));
    assert!(refused(&mut trial).starts_with("art.txt was changed elsewhere"));
    assert_eq!(changed(&trial), "art.txt");
    assert_eq!(trial.painting.not_saved(), ["art.png"]);
    assert!(refused(&mut trial).contains("under another name"));
    // Also where all is as it was saved: the text that held it is no more.
    trial.act(json!({ "act": "undo" })).expect("taken");
    assert_eq!(trial.painting.not_saved(), ["art.png"]);
    trial.act(json!({ "act": "redo" })).expect("taken");
    trial
        .act(json!({ "act": "keep", "file": "art.png" }))
        .expect("taken");
    assert_eq!(changed(&trial), json!(null));
    let saved = trial.save().expect("saved under another name");
    assert!(
        saved
            .call
            .expect("a call")
            .starts_with("picture(\"art-2.txt\"")
    );
    assert_eq!(trial.text("art-2.txt"), "aa\na.\n");
    assert_eq!(trial.text("art.txt"), "aa\naa\n");
    assert!(trial.painting.not_saved().is_empty());

    // Or what the others have made is taken, and what was painted can be had back.
    std::fs::write(trial.place.path().join("art-2.txt"), "a.\n").expect("written");
    trial.stroke(3, "#c80a14", &[(0, 0)]).expect("taken");
    refused(&mut trial);
    trial
        .act(json!({ "act": "take", "file": "art.png" }))
        .expect("taken");
    let seen = trial.run();
    assert_eq!((seen.width(), seen.height()), (2, 1));
    assert_eq!(seen.colour(1, 1).map(|colour| colour.srgb.red), Some(20));
    assert_eq!(seen.colour(1, 2), None);
    assert!(trial.painting.not_saved().is_empty());
    trial.act(json!({ "act": "undo" })).expect("taken");
    assert_eq!(trial.run().height(), 2);
    trial.save().expect("it is known what lies there");
    assert_eq!(trial.text("art-2.txt"), "ba\na.\n");

    // A text that cannot be written, and is as it was saved, is nobody else's.
    let lock = |trial: &Trial, is_locked: bool| {
        let place = trial.place.path().join("art-2.txt");
        let mut permissions = std::fs::metadata(&place).expect("saved").permissions();
        permissions.set_readonly(is_locked);
        std::fs::set_permissions(&place, permissions).expect("our own");
    };
    lock(&trial, true);
    trial.stroke(5, "#141ebe", &[(0, 0)]).expect("taken");
    assert!(refused(&mut trial).contains("may only be read"));
    assert_eq!(changed(&trial), json!(null));
    lock(&trial, false);
    trial.act(json!({ "act": "undo" })).expect("taken");

    // What cannot be read is not taken, and can be kept beside.
    std::fs::write(trial.place.path().join("art-2.txt"), "?!\n").expect("written");
    trial.stroke(4, "#141ebe", &[(1, 1)]).expect("taken");
    refused(&mut trial);
    trial
        .act(json!({ "act": "take", "file": "art.png" }))
        .expect_err("marks of nothing");
    trial
        .act(json!({ "act": "keep", "file": "art.png" }))
        .expect("taken");
    trial.save().expect("saved");
    assert_eq!(trial.text("art-3.txt"), "ba\naa\n");
    assert_eq!(trial.text("art-2.txt"), "?!\n");
}

#[cfg(unix)]
#[test]
fn only_a_plain_file_in_the_rules_own_folder_is_written() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    let place = trial.place.path().join("art.txt");
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    // Readable by others as it was.
    std::fs::set_permissions(&place, std::fs::Permissions::from_mode(0o640)).expect("ours");
    trial.save().expect("saved");
    assert_eq!(
        std::fs::metadata(&place)
            .expect("there")
            .permissions()
            .mode()
            & 0o777,
        0o640
    );
    // A link, also to a file beside it.
    trial.stroke(2, "b", &[(0, 1)]).expect("taken");
    std::fs::rename(&place, trial.place.path().join("real.txt")).expect("ours");
    symlink("real.txt", &place).expect("a link");
    assert!(words(trial.save().err().expect("refused")).contains("a link"));
    assert_eq!(trial.text("real.txt"), "ba\nbb\n");
    assert!(
        std::fs::symlink_metadata(&place)
            .expect("there")
            .is_symlink()
    );
    std::fs::remove_file(&place).expect("ours");
    std::fs::rename(trial.place.path().join("real.txt"), &place).expect("ours");
    // A file that may only be read.
    std::fs::set_permissions(&place, std::fs::Permissions::from_mode(0o444)).expect("ours");
    assert!(words(trial.save().err().expect("refused")).contains("may only be read"));
    assert_eq!(trial.text("art.txt"), "ba\nbb\n");
    let mut names: Vec<_> = std::fs::read_dir(trial.place.path())
        .expect("there")
        .flatten()
        .map(|entry| entry.file_name())
        .collect();
    names.sort();
    assert_eq!(names, ["art.txt"], "nothing half done is left");
    // A folder inside that is a link to elsewhere.
    let elsewhere = tempfile::tempdir().expect("a temporary folder");
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    let mut saving = trial.painting.to_save("art.txt").expect("painted");
    symlink(elsewhere.path(), trial.place.path().join("signs")).expect("a link");
    saving.move_to("signs/art.txt");
    assert!(
        words(saving.write(trial.place.path(), "").err().expect("refused")).contains("leads out")
    );
    assert_eq!(
        std::fs::read_dir(elsewhere.path()).expect("there").count(),
        0
    );
}

#[test]
fn what_is_dropped_is_read_as_a_rule_would_read_it() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    let drop = |trial: &mut Trial, bytes: &[u8]| match trial.painting.fitted("art.txt", bytes) {
        Ok(dropped) => {
            trial.painting.put_dropped(dropped);
            Ok(trial.painted())
        }
        Err(trouble) => Err(words(trouble)),
    };
    // Text with the rule's marks, of whatever size.
    assert_eq!(drop(&mut trial, b"aba\n").expect("fits"), "aba\n");
    assert_eq!(trial.run().width(), 3);
    let refused = drop(&mut trial, b"aza\n").expect_err("no such mark");
    assert!(
        refused.contains("what \"z\" in line 1, character 2"),
        "{refused}"
    );
    drop(&mut trial, b"\xff\xfe\x00\xd8").expect_err("no text");
    drop(&mut trial, b"").expect_err("no rows");
    // Pixels: the marks of the nearest colours, no wider than the picture was.
    let tone = |name: &str, srgb| hitchwork_core::colour::Colour::new(name, srgb);
    let list = vec![
        tone("dark blue", Srgb::new(20, 100, 140)),
        tone("white", Srgb::new(255, 255, 255)),
    ];
    let cells = vec![Some(0), Some(1), None, Some(0), Some(1), None];
    let pixels = Picture::new(3, list, cells).expect("whole rows");
    assert_eq!(
        drop(&mut trial, &png_of(&pixels)).expect("fits"),
        "ab.\nab.\n"
    );
    let wide = pixels.repeated(4, 1).expect("fits");
    let shrunk = drop(&mut trial, &png_of(&wide)).expect("fits");
    assert!(shrunk.lines().all(|line| line.len() == 3), "{shrunk}");
    drop(&mut trial, &png_of(&pixels)[..40]).expect_err("cut short");
    // All of that can be taken back.
    for _ in 0..3 {
        trial.act(json!({ "act": "undo" })).expect("taken");
    }
    assert_eq!(trial.painted(), "aa\nbb\n");
    assert_eq!(
        trial.text("art.txt"),
        "aa\nbb\n",
        "nothing is written without being asked for"
    );
}

/// A drawing in black on white has to become motif and ground, not a block of motif.
#[test]
fn paper_becomes_ground_where_there_is_only_one_colour() {
    let trial = Trial::new("art.txt", b"###\n#.#\n", "#{}");
    let tone = |name: &str, srgb| hitchwork_core::colour::Colour::new(name, srgb);
    let list = vec![
        tone("black", Srgb::new(5, 5, 5)),
        tone("white", Srgb::new(250, 250, 250)),
    ];
    let drawing = Picture::new(
        3,
        list,
        vec![Some(1), Some(0), Some(1), Some(0), Some(0), Some(0)],
    )
    .expect("rows");
    let fitted = trial.painting.fitted("art.txt", &png_of(&drawing));
    let bytes = fitted
        .map(|dropped| dropped.bytes())
        .map_err(words)
        .expect("fits");
    assert_eq!(&*bytes, b".#.\n###\n");
    // Where pixels are clear these are the ground, and white is drawn like any colour.
    let cells = vec![None, Some(1), Some(0), None, Some(0), None];
    let on_glass = Picture::new(3, drawing.colours().to_vec(), cells).expect("rows");
    let fitted = trial.painting.fitted("art.txt", &png_of(&on_glass));
    let bytes = fitted.map(|dropped| dropped.bytes()).map_err(words);
    assert_eq!(&*bytes.expect("fits"), b".##\n.#.\n");
}

#[test]
fn pixels_take_pixels_and_nothing_else() {
    let art = Picture::plain(
        2,
        2,
        Some(hitchwork_core::colour::Colour::new(
            "red",
            Srgb::new(200, 10, 20),
        )),
    )
    .expect("small");
    let mut trial = Trial::new("art.png", &png_of(&art), "#{}");
    let other = Picture::plain(
        5,
        3,
        Some(hitchwork_core::colour::Colour::new(
            "blue",
            Srgb::new(20, 30, 190),
        )),
    )
    .expect("small");
    let text = trial
        .painting
        .fitted("art.png", b"##\n")
        .err()
        .expect("refused");
    assert!(words(text).starts_with("the rule reads art.png as pixels"));
    let dropped = trial
        .painting
        .fitted("art.png", &png_of(&other))
        .map_err(words)
        .expect("fits");
    trial.painting.put_dropped(dropped);
    assert_eq!(trial.stroke(1, "", &[(0, 0)]), Err(NOT_READ_YET));
    assert_eq!(trial.run(), other);
    trial.stroke(2, "", &[(2, 4)]).expect("taken");
    assert_eq!(trial.run().to_string(), "#####\n#####\n####.\n");
}

#[test]
fn a_rule_whose_marks_change_keeps_what_is_painted() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    trial.rule = trial.rule.replace("#e8f1ee", "#aabbcc");
    let seen = trial.run();
    assert_eq!(
        seen.colour(1, 1).map(|colour| colour.srgb.to_string()),
        Some("#aabbcc".to_owned())
    );
    let pots = trial.news()["files"][0]["pots"].clone();
    assert_eq!(pots[1]["colour"], "#aabbcc");
    assert_eq!(
        trial.painting.cells("art.txt").map(|(_, cells, _)| cells),
        Some(vec![Some(1), Some(0), Some(1), Some(1)])
    );
    let unsaved: BTreeMap<String, Bytes> = trial.painting.unsaved();
    assert_eq!(&*unsaved["art.txt"], b"ba\nbb\n");
}
