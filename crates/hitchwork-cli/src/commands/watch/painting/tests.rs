//! Painting without a page: strokes and steps back; `saved` looks at files.

mod saved;

use std::sync::Arc;

use hitchwork_core::colour::Srgb;
use hitchwork_core::picture::Picture;
use hitchwork_rules::picture_file::png_of;
use hitchwork_rules::{Folder, Recording, Rules, Settings, Sources};
use serde_json::json;
use tempfile::TempDir;

use super::file::NO_SHAPE;
use super::*;
use crate::trouble::Trouble;

/// A rule with its picture, and what has been painted on it.
struct Trial {
    place: TempDir,
    file: &'static str,
    rule: String,
    painting: Painting,
    acts: u64,
}

const SHADES: &str = "#{ marks: #{ \"a\": colour(\"sea\", \"#1d6f8c\"), \"b\": colour(\"foam\", \"#e8f1ee\"), \"~\": () } }";

impl Trial {
    fn new(file: &'static str, bytes: &[u8], wishes: &str) -> Self {
        let place = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(place.path().join(file), bytes).expect("written");
        let mut trial = Self {
            place,
            file,
            rule: format!(
                "let art = picture(\"{file}\", {wishes});\nlet rows = over_leader(art.recoloured(colour(\"lamp\", \"#ffc145\")));\nband(art.width + 1).repeat(rows)"
            ),
            painting: Painting::default(),
            acts: 0,
        };
        trial.run();
        trial
    }

    fn folder(&self) -> Folder {
        Folder::new(self.place.path())
    }

    fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.place.path().join(name)).expect("text")
    }

    fn write(&self, bytes: &[u8]) {
        std::fs::write(self.place.path().join(self.file), bytes).expect("written");
    }

    /// Runs the rule as the page's session does. Gives the picture as the rule reads it.
    fn run(&mut self) -> Picture {
        let unsaved = self.painting.unsaved();
        let found = unsaved.keys().map(|name| {
            let found = self.folder().file(name).expect("plain").map(|it| it.bytes);
            (name.clone(), found)
        });
        self.painting.compare(&found.collect());
        let folder = PaintedFolder::new(self.folder(), Arc::new(unsaved.clone()));
        let asked = Recording::new(folder);
        let rules = Rules::new().tracing_pictures();
        let rule = rules.compile("art.rhai", &self.rule).expect("a rule");
        let made = rules.make(&rule.finding(asked.clone()), &Settings::new());
        let trace = made.expect("a band").trace.expect("asked for");
        let files = asked.asked_files();
        let bytes = |name: &str| files[name].clone().expect("read").map(|it| it.bytes);
        self.painting.learn(&trace, &bytes, &unsaved);
        trace.files()[0].picture.clone()
    }

    fn act(&mut self, act: serde_json::Value) -> Result<u64, Refusal> {
        let from = self.acts;
        self.acts += 1;
        self.send(from, &[act])
    }

    fn send(&mut self, from: u64, acts: &[serde_json::Value]) -> Result<u64, Refusal> {
        let acts = json!({ "page": "p", "from": from, "acts": acts });
        self.painting
            .act(serde_json::from_value(acts).expect("acts"))
    }

    fn stroke(&mut self, number: u64, pot: &str, cells: &[(u16, u16)]) -> Result<u64, Refusal> {
        let file = self.file;
        self.act(
            json!({ "act": "stroke", "stroke": number, "file": file, "pot": pot, "cells": cells }),
        )
    }

    /// The picture as it is painted now, as text.
    fn painted(&self) -> String {
        let file = &self.painting.files[self.file];
        String::from_utf8_lossy(&file.now.bytes).into_owned()
    }

    fn save(&mut self) -> Result<Saved, Trouble> {
        let saving = self.painting.to_save(self.file)?;
        let saved = saving.write(self.place.path(), &self.rule);
        match &saved {
            Ok(_) => self.painting.remember_saved(&saving),
            Err(_) => {
                let found = saving.lies_there(self.place.path());
                self.painting.remember_refused(&saving, found);
            }
        }
        saved
    }

    fn news(&self) -> serde_json::Value {
        serde_json::to_value(self.painting.news()).expect("it can be told")
    }
}

fn words(trouble: Trouble) -> String {
    match trouble {
        Trouble::Plain(plain) => format!("{}; {}", plain.message, plain.help.unwrap_or_default()),
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_is_not_painted_stays_as_its_author_wrote_it() {
    let text = "\r\n  .##  \n\n    #\n  ~ab\t\n  .";
    let mut trial = Trial::new("art.txt", text.replace('#', "a").as_bytes(), SHADES);
    assert_eq!(trial.news()["files"][0]["rows"], 4);
    assert_eq!(trial.news()["files"][0]["columns"], 3);
    // Beyond the end of a line, and where nothing is written as a space.
    trial
        .stroke(1, "b", &[(1, 0), (3, 2), (0, 1)])
        .expect("taken");
    assert_eq!(trial.painted(), "\r\n  .ba  \n\n  b a\n  ~ab\t\n  ..b");
    // Nothing stays written as it is, wherever it is painted again.
    trial
        .stroke(2, ".", &[(1, 1), (2, 0), (0, 2)])
        .expect("taken");
    assert_eq!(trial.painted(), "\r\n  .b.  \n\n  b a\n  ~ab\t\n  ..b");
    assert_eq!(trial.run().to_string().lines().count(), 4);
}

#[test]
fn strokes_go_back_and_come_again_one_at_a_time() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    // Two parts of one stroke, then another.
    trial.stroke(7, "b", &[(0, 0)]).expect("taken");
    trial.stroke(7, "b", &[(0, 1)]).expect("taken");
    trial.stroke(8, "a", &[(1, 1)]).expect("taken");
    let seen = |trial: &mut Trial, act: &str| {
        trial.act(json!({ "act": act })).expect("taken");
        trial.painted()
    };
    assert_eq!(trial.painted(), "bb\nba\n");
    assert_eq!(seen(&mut trial, "undo"), "bb\nbb\n");
    assert_eq!(seen(&mut trial, "undo"), "aa\nbb\n");
    assert_eq!(trial.news()["files"][0]["is_unsaved"], false);
    assert_eq!(trial.news()["can_undo"], false);
    assert_eq!(
        seen(&mut trial, "undo"),
        "aa\nbb\n",
        "there is nothing more"
    );
    assert_eq!(seen(&mut trial, "redo"), "bb\nbb\n");
    assert_eq!(seen(&mut trial, "redo"), "bb\nba\n");
    assert_eq!(seen(&mut trial, "redo"), "bb\nba\n");
    seen(&mut trial, "undo");
    trial.stroke(9, "a", &[(0, 0)]).expect("taken");
    assert_eq!(
        seen(&mut trial, "redo"),
        "ab\nbb\n",
        "what was undone is gone"
    );
}

#[test]
fn acts_that_are_sent_again_are_done_once_and_in_order() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    let stroke = |number: u64, pot: &str, column: u16| json!({ "act": "stroke", "stroke": number, "file": "art.txt", "pot": pot, "cells": [[0, column]] });
    let undo = json!({ "act": "undo" });
    let all = [
        stroke(1, "b", 0),
        stroke(2, "b", 1),
        undo,
        stroke(3, "b", 1),
    ];
    trial.send(0, &all[..3]).expect("taken");
    assert_eq!(trial.painted(), "ba\nbb\n");
    // The answer was lost: the same once more, with what has come since.
    let version = trial.send(0, &all).expect("taken");
    assert_eq!(trial.painted(), "bb\nbb\n");
    assert_eq!(trial.send(0, &all).expect("taken"), version, "nothing new");
    assert_eq!(trial.painting.done.len(), 2);
}

#[test]
fn what_cannot_be_painted_changes_nothing_at_all() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    for (file, pot, cells) in [
        ("other.txt", "a", json!([[0, 0]])),
        ("../art.txt", "a", json!([[0, 0]])),
        ("art.txt", "z", json!([[0, 0]])),
        ("art.txt", "", json!([[0, 0]])),
        ("art.txt", "b", json!([[0, 0], [2, 0]])),
        ("art.txt", "b", json!([[0, 0], [0, 2]])),
        ("art.txt", "b", json!([[0, 0], [65535, 65535]])),
    ] {
        let fine = json!({ "act": "stroke", "stroke": 1, "file": "art.txt", "pot": "b", "cells": [[0, 0]] });
        let wrong =
            json!({ "act": "stroke", "stroke": 2, "file": file, "pot": pot, "cells": cells });
        let from = trial.acts;
        trial.acts += 2;
        assert!(
            trial.send(from, &[fine, wrong]).is_err(),
            "{file} {pot} {cells}"
        );
        assert_eq!(trial.painted(), "aa\nbb\n");
    }
    // What follows is heard all the same.
    trial.stroke(3, "b", &[(0, 0)]).expect("taken");
    assert_eq!(trial.painted(), "ba\nbb\n");
}

/// With these marks a row of nothing but spaces would be no row, and the first cells of all rows
/// would become indentation.
#[test]
fn paint_that_could_not_be_read_back_is_refused() {
    let wishes = "#{ marks: #{ \"a\": colour(\"sea\", \"#1d6f8c\"), \".\": colour(\"foam\", \"#e8f1ee\") } }";
    let mut trial = Trial::new("art.txt", b"a.\n. \n", wishes);
    assert_eq!(trial.stroke(1, " ", &[(0, 0), (0, 1)]), Err(NO_SHAPE));
    assert_eq!(trial.stroke(2, " ", &[(0, 0), (1, 0)]), Err(NO_SHAPE));
    assert_eq!(trial.painted(), "a.\n. \n");
}

/// A page sends again what it has heard nothing of: what was refused is refused again, and what
/// stood beside it can still be done.
#[test]
fn what_is_refused_is_refused_again() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    let stroke = |number: u64, pot: &str| json!({ "act": "stroke", "stroke": number, "file": "art.txt", "pot": pot, "cells": [[0, 0]] });
    let both = [stroke(0, "b"), stroke(1, "no such pot")];
    let refused = trial.send(0, &both).expect_err("an unknown colour");
    assert_eq!(trial.send(0, &both), Err(refused));
    assert_eq!(trial.painted(), "aa\nbb\n");
    trial.send(0, &both[..1]).expect("a good stroke");
    assert_eq!(trial.painted(), "ba\nbb\n");
}

#[test]
fn only_so_much_is_kept_to_go_back_to() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    for number in 0..1_100 {
        let pot = if number % 2 == 0 { "b" } else { "a" };
        trial.stroke(number, pot, &[(0, 0)]).expect("taken");
    }
    assert_eq!(trial.painting.done.len(), MOST_STEPS);
}

/// A colour of pixels that is painted over everywhere can still be painted with.
#[test]
fn a_colour_that_is_painted_over_can_be_painted_with_again() {
    let tone = |red| hitchwork_core::colour::Colour::spoken([Srgb::new(red, 40, 50)]);
    let colours = [tone(200), tone(20)].concat();
    let art = Picture::new(2, colours, vec![Some(0), Some(1)]).expect("whole rows");
    let mut trial = Trial::new("art.png", &png_of(&art), "#{}");
    trial.stroke(1, "#142832", &[(0, 0)]).expect("taken");
    assert_eq!(trial.run().shown().len(), 1);
    trial.stroke(2, "#c82832", &[(0, 1)]).expect("taken");
    assert_eq!(trial.run().shown().len(), 2);
}

/// Steps over large pictures are as few as their bytes allow: memory is not without end.
#[test]
fn large_pictures_leave_fewer_steps_to_go_back_to() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    for number in 0..40_u8 {
        let after = Version {
            bytes: vec![number; 1 << 20].into(),
            cells: Cells::Unread,
        };
        trial.painting.change("art.txt", after, None);
    }
    let size = |step: &Step| step.before.bytes.len() + step.after.bytes.len();
    let kept: usize = trial.painting.done.iter().map(size).sum();
    assert!(kept <= MOST_STEP_BYTES, "{kept}");
    assert_eq!(trial.painting.done.len(), MOST_STEP_BYTES >> 21);
}

/// Pages come and go: what has been heard of each is not kept for ever.
#[test]
fn no_more_pages_are_remembered_than_there_can_be() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    for page in 0..MOST_PAGES + 10 {
        let acts = json!({ "page": page.to_string(), "from": 0, "acts": [] });
        let acts = serde_json::from_value(acts).expect("acts");
        trial.painting.act(acts).expect("taken");
        assert!(trial.painting.heard.len() <= MOST_PAGES);
    }
}

/// A picture that the rule reads no more, and on which nothing is painted, is forgotten.
#[test]
fn what_is_read_no_more_is_kept_only_for_its_paint() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    let other = trial.place.path().join("other.txt");
    std::fs::write(other, "ab\n").expect("written");
    trial.rule = trial.rule.replace("art.txt", "other.txt");
    trial.run();
    let known = |trial: &Trial| trial.painting.files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(known(&trial), ["other.txt"]);
    trial.file = "other.txt";
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    trial.rule = trial.rule.replace("other.txt", "art.txt");
    trial.run();
    assert_eq!(known(&trial), ["art.txt", "other.txt"]);
}

/// Whoever takes back all that was painted has nothing to decide any more about a file that has changed.
#[test]
fn without_paint_nobody_is_asked_about_a_changed_file() {
    let mut trial = Trial::new("art.txt", b"aa\nbb\n", SHADES);
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    trial.write(b"ab\nab\n");
    trial.run();
    assert_eq!(trial.news()["files"][0]["is_changed"], true);
    trial.act(json!({ "act": "undo" })).expect("taken");
    trial.run();
    assert_eq!(trial.news()["files"][0]["is_changed"], false);
    trial.run();
    assert_eq!(trial.painted(), "ab\nab\n");
}

/// An answer gets lost, and what is new goes on from what has been heard: that is not done again.
#[test]
fn what_has_been_heard_of_a_bundle_is_not_done_again_with_the_rest() {
    let mut trial = Trial::new("art.txt", b"aaa\n", SHADES);
    for (number, column) in [(1, 0), (2, 1), (3, 2)] {
        trial.stroke(number, "b", &[(0, column)]).expect("taken");
    }
    trial.act(json!({ "act": "undo" })).expect("taken");
    assert_eq!(trial.painted(), "bba\n");
    let undo = json!({ "act": "undo" });
    trial.send(3, &[undo.clone(), undo]).expect("taken");
    assert_eq!(trial.painted(), "baa\n", "one of the two was known");
}

/// Undone after it was saved, a picture is paint again, though no step leads on from there; it is
/// not lost when the rule reads another for a while.
#[test]
fn paint_without_steps_is_kept_while_the_rule_reads_another_picture() {
    let mut trial = Trial::new("art.txt", b"aab\n", SHADES);
    trial.stroke(1, "b", &[(0, 0)]).expect("taken");
    trial.save().expect("saved");
    trial.act(json!({ "act": "undo" })).expect("taken");
    assert_eq!(trial.painted(), "aab\n");
    std::fs::write(trial.place.path().join("other.txt"), "ab\n").expect("written");
    let rule = trial.rule.clone();
    trial.rule = rule.replace("art.txt", "other.txt");
    trial.run();
    trial.rule = rule;
    trial.run();
    assert_eq!(trial.painted(), "aab\n");
    assert_eq!(trial.news()["files"][0]["is_unsaved"], true);
}
