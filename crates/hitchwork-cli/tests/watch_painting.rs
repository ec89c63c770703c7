//! Painting on the live page, as those meet it who are not the page.

use std::fs;
use std::io::{Read, Write};

use serde_json::{Value, json};

use crate::common::{files_in, folder, hitchwork};
use crate::live::{Server, server_in, status};

const RULE: &str = "/// A wave.
let sea = colour(\"sea\", \"#1d6f8c\");
let foam = colour(\"foam\", \"#e8f1ee\");
let wave = picture(\"wave.txt\", #{ marks: #{ \"~\": sea, \"-\": foam } });
let tied = solved(wave);
band(tied.threads).repeat(tied.rows).colours(tied.colours)
";
const WAVE: &str = "~~~--\n~~--~\n~--~~\n--~~~\n";

/// A server of a rule that ties a wave; nobody has painted yet.
fn server() -> Server {
    let place = folder();
    fs::write(place.path().join("mooring.rhai"), RULE).expect("written");
    fs::write(place.path().join("wave.txt"), WAVE).expect("written");
    let server = server_in(place, &["--out", "saved"]);
    let news = server.settled();
    assert_eq!(news["troubles"], json!([]));
    assert_eq!(news["painting"]["files"][0]["name"], "wave.txt");
    server
}

fn stroke(from: u64, pot: &str, cells: &[[u32; 2]]) -> Value {
    let act =
        json!({ "act": "stroke", "stroke": from, "file": "wave.txt", "pot": pot, "cells": cells });
    json!({ "page": "p", "from": from, "acts": [act] })
}

/// The band that has been tied of all that is painted.
fn tied(server: &Server, version: u64) -> Value {
    server.news(|news| news["painting"]["tied"] == json!(version) && news["is_busy"] == false)
}

fn knots(server: &Server) -> Value {
    let answer = server.ask(
        "GET /painting/knots?left=0&top=0&right=1e9&bottom=1e9",
        "",
        "",
    );
    let (_, body) = answer.split_once("\r\n\r\n").expect("a body");
    serde_json::from_str(body).unwrap_or_else(|error| panic!("{error}: {answer}"))
}

fn cells(server: &Server) -> Value {
    let answer = server.ask("GET /painting/cells?file=wave.txt", "", "");
    let (_, body) = answer.split_once("\r\n\r\n").expect("a body");
    serde_json::from_str(body).unwrap_or_else(|error| panic!("{error}: {answer}"))
}

fn wave(server: &Server) -> String {
    fs::read_to_string(server.place.path().join("wave.txt")).expect("text")
}

#[test]
fn a_stroke_becomes_fabric_and_is_written_when_it_is_saved() {
    let server = server();
    // Where knots lie on the lattice; pots are in the order of the marks, nothing last.
    assert_eq!(cells(&server)["pots"][0], 1);
    assert_eq!(cells(&server)["are_tied"][0], true);
    assert_eq!(cells(&server)["are_tied"][1], false);
    let colour = |of: &Value, row: u64, column: u64| {
        let knot = of["knots"]
            .as_array()
            .expect("a list")
            .iter()
            .find(|knot| knot["cell"] == json!([0, row, column]));
        let knot = knot.expect("a knot shows it");
        assert_eq!(knot["is_missed"], false);
        let shows = knot["shows"].as_u64().expect("a number");
        of["colours"][usize::try_from(shows).expect("small")][1].clone()
    };
    assert_eq!(colour(&knots(&server), 0, 0), "sea");
    assert_eq!(
        server.post("/painting/strokes", &stroke(0, "-", &[[0, 0], [1, 1]])),
        ("200".to_owned(), "{\"version\":1}".to_owned())
    );
    let news = tied(&server, 1);
    assert_eq!(news["troubles"], json!([]));
    assert_eq!(news["painting"]["files"][0]["is_unsaved"], true);
    assert_eq!(colour(&knots(&server), 0, 0), "foam");
    assert_eq!(cells(&server)["pots"][0], 0);
    assert_eq!(wave(&server), WAVE, "nothing is written before it is saved");
    let (state, answer) = server.post("/painting/save", &json!({ "file": "wave.txt" }));
    assert_eq!(state, "200", "{answer}");
    assert_eq!(wave(&server), "-~~--\n~---~\n~--~~\n--~~~\n");
    server.news(|news| news["painting"]["files"][0]["is_unsaved"] == false);
    // The band that is shown is the one that the command makes of the file.
    assert_eq!(server.post("/save/band", &json!({})).0, "200");
    let place = server.place.path();
    let made = hitchwork(place, &["make", "mooring.rhai", "--out", "made"]);
    assert_eq!(made.status, Some(0), "{}{}", made.out, made.err);
    let bytes =
        |folder: &str| fs::read(place.join(folder).join("mooring.band.json")).expect("a band file");
    assert_eq!(bytes("saved"), bytes("made"));
    // Undone after that, it is paint again, and the file stays.
    let undo = json!({ "page": "p", "from": 1, "acts": [{ "act": "undo" }] });
    server.post("/painting/strokes", &undo);
    let news = tied(&server, 2);
    assert_eq!(news["painting"]["files"][0]["is_unsaved"], true);
    assert_eq!(news["painting"]["can_redo"], true);
    assert_eq!(
        news["painting"]["shows_drawn"], false,
        "all of it is in a file"
    );
    assert_eq!(colour(&knots(&server), 0, 0), "sea");
    assert_eq!(wave(&server), "-~~--\n~---~\n~--~~\n--~~~\n");
    let mut names = files_in(server.place.path());
    names.sort();
    assert_eq!(names, ["made", "mooring.rhai", "saved", "wave.txt"]);
}

/// Noise cannot be tied without misses; the knots that miss say what they should show.
#[test]
fn knots_that_miss_are_marked() {
    let place = folder();
    let noise = "~-~~-~-\n-~--~~-\n~~-~--~\n-~~-~-~\n~--~-~~\n--~~-~-\n";
    fs::write(
        place.path().join("mooring.rhai"),
        RULE.replace(
            "solved(wave)",
            "solved(wave, #{ counts: #{ \"sea\": 7, \"foam\": 1 } })",
        ),
    )
    .expect("written");
    fs::write(place.path().join("wave.txt"), noise).expect("written");
    let server = server_in(place, &[]);
    let news = server.settled();
    let missed = news["painting"]["missed"].as_u64().expect("a number");
    assert!(missed > 0, "{news}");
    let knots = knots(&server);
    let knots = knots["knots"].as_array().expect("a list");
    let misses: Vec<&Value> = knots
        .iter()
        .filter(|knot| knot["is_missed"] == true)
        .collect();
    // As many in each repeat that is drawn.
    assert!(
        !misses.is_empty() && (misses.len() as u64).is_multiple_of(missed),
        "{}",
        misses.len()
    );
    for miss in misses {
        let [_, row, column] = [0, 1, 2].map(|at| {
            usize::try_from(miss["cell"][at].as_u64().expect("a number")).expect("small")
        });
        let mark = noise
            .lines()
            .nth(row)
            .and_then(|line| line.chars().nth(column));
        let wanted = if mark == Some('~') {
            "#1d6f8c"
        } else {
            "#e8f1ee"
        };
        assert_eq!(miss["wanted"], wanted);
    }
}

#[test]
fn what_makes_no_sense_is_refused_and_changes_nothing() {
    let server = server();
    let before = server.settled();
    let file = |name: &str| json!({ "page": "p", "from": 0, "acts": [{ "act": "stroke", "stroke": 1, "file": name, "pot": "-", "cells": [[0, 0]] }] });
    for (number, mut body) in [
        json!({}),
        json!({ "page": "p", "from": 0 }),
        json!({ "page": "p", "from": -1, "acts": [] }),
        json!({ "page": "p", "from": 0, "acts": [{ "act": "write" }] }),
        json!({ "page": "p".repeat(65), "from": 0, "acts": [] }),
        json!({ "page": "p", "from": 0, "acts": [], "path": "/etc/passwd" }),
        json!({ "page": "p", "from": 0, "acts": [{ "act": "take", "file": "wave.txt" }] }),
        json!({ "page": "p", "from": 0, "acts": [{ "act": "keep", "file": "mooring.rhai" }] }),
        stroke(1, "x", &[[0, 0]]),
        stroke(2, "", &[[0, 0]]),
        stroke(3, "-", &[[4, 0]]),
        stroke(4, "-", &[[0, 5]]),
        stroke(5, "-", &[[70_000, 0]]),
        file("mooring.rhai"),
        file("../wave.txt"),
        file("/etc/passwd"),
        file("wave.txt\0"),
        file(""),
    ]
    .into_iter()
    .enumerate()
    {
        // What was refused once is not heard again: each comes from another page.
        if body["page"] == "p" {
            body["page"] = json!(number.to_string());
        }
        let (state, answer) = server.post("/painting/strokes", &body);
        assert_eq!(state, "400", "{body}: {answer}");
    }
    let large = json!({ "page": "p", "from": 9, "acts": [], "more": "x".repeat(65 << 10) });
    assert_eq!(server.post("/painting/strokes", &large).0, "413");
    for (path, body, expected) in [
        ("/painting/save", json!({ "file": "wave.txt" }), "409"),
        ("/painting/save", json!({ "file": "../wave.txt" }), "409"),
        ("/painting/save", json!({ "file": "mooring.rhai" }), "409"),
        (
            "/painting/save",
            json!({ "file": "wave.txt", "to": "/tmp/wave.txt" }),
            "400",
        ),
        ("/painting/save", json!("wave.txt"), "400"),
    ] {
        assert_eq!(server.post(path, &body).0, expected, "{body}");
    }
    for path in [
        "/painting/cells",
        "/painting/cells?file=mooring.rhai",
        "/painting/cells?file=..%2fwave.txt",
        "/painting/cells?file=wave.txt&file=wave.txt",
    ] {
        assert_eq!(
            status(&server.ask(&format!("GET {path}"), "", "")),
            "404",
            "{path}"
        );
    }
    for path in [
        "/painting/knots",
        "/painting/knots?left=0",
        "/painting/knots?left=a&top=0&right=1&bottom=1",
    ] {
        assert_eq!(
            status(&server.ask(&format!("GET {path}"), "", "")),
            "400",
            "{path}"
        );
    }
    for part in [
        "left=NaN&top=NaN&right=NaN&bottom=NaN",
        "left=9&top=9&right=0&bottom=0",
    ] {
        let answer = server.ask(&format!("GET /painting/knots?{part}"), "", "");
        assert!(answer.contains("\"knots\":[]"), "{answer}");
    }
    assert_eq!(wave(&server), WAVE);
    assert_eq!(
        server.settled()["painting"]["version"],
        before["painting"]["version"]
    );
}

#[test]
fn only_this_page_may_paint_drop_or_save() {
    let server = server();
    let token = server.token();
    server.post("/painting/strokes", &stroke(0, "-", &[[0, 0]]));
    tied(&server, 1);
    let more = stroke(1, "-", &[[0, 2]]).to_string();
    let save = json!({ "file": "wave.txt" }).to_string();
    for (path, body) in [
        ("/painting/strokes", &*more),
        ("/painting/save", &*save),
        ("/painting/dropped?file=wave.txt", "~~\n--\n"),
    ] {
        for headers in [
            String::new(),
            "X-Hitchwork: guess\r\n".to_owned(),
            format!("X-Hitchwork: {token}\r\nOrigin: http://evil.example\r\n"),
            format!("X-Hitchwork: {token}\r\nOrigin: null\r\n"),
            format!("X-Hitchwork: {token}\r\nSec-Fetch-Site: cross-site\r\n"),
        ] {
            let answer = server.ask(&format!("POST {path}"), &headers, body);
            assert_eq!(status(&answer), "403", "{path} {headers}");
        }
    }
    for path in [
        "/painting/cells?file=wave.txt",
        "/painting/knots?left=0&top=0&right=9&bottom=9",
    ] {
        let answer = server.ask(&format!("GET {path}"), "Sec-Fetch-Site: cross-site\r\n", "");
        assert_eq!(status(&answer), "403", "{path}");
    }
    assert_eq!(wave(&server), WAVE);
    assert_eq!(server.settled()["painting"]["version"], 1);
}

/// Posts bytes as the page does with a picture that was dropped; gives status and body.
fn dropped(server: &Server, bytes: &[u8]) -> (String, String) {
    let mut stream = server.connect();
    let (port, token, length) = (server.port, server.token(), bytes.len());
    write!(stream, "POST /painting/dropped?file=wave.txt HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nX-Hitchwork: {token}\r\nConnection: close\r\nContent-Length: {length}\r\n\r\n").expect("sent");
    // Who is refused may be cut off before the end.
    let _ = stream.write_all(bytes);
    let mut answer = String::new();
    let _ = stream.read_to_string(&mut answer);
    let (_, body) = answer.split_once("\r\n\r\n").unwrap_or_default();
    (status(&answer).to_owned(), body.to_owned())
}

#[test]
fn a_picture_is_dropped_where_the_rule_makes_a_band_of_it() {
    let server = server();
    for (bytes, why) in [
        (&b"~~~\nx--\n"[..], "what \\\"x\\\" in line 2"),
        (b"~~~\n~~~\n", "fewer threads than colours"),
        (b"", "picture"),
        (b"\x89PNG\r\n\x1a\nno more", "PNG"),
        (b"P6 90000 90000 255\n", "pixels"),
        (b"#!/bin/sh\nrm -rf /\n", "stands for"),
    ] {
        let (state, answer) = dropped(&server, bytes);
        // The second makes a band: a picture of one colour is one.
        if why == "fewer threads than colours" {
            assert!(["200", "409"].contains(&&*state), "{answer}");
        } else {
            assert_eq!(state, "409", "{answer}");
            assert!(answer.contains(why), "{answer}");
            assert!(answer.contains("\"help\":\""), "{answer}");
        }
    }
    let too_long = vec![b'~'; (8 << 20) + 1];
    let (state, _) = dropped(&server, &too_long);
    assert!(["413", "nothing"].contains(&&*state), "{state}");
    // Another size, which the rule takes.
    let (state, answer) = dropped(&server, b"~~--~~-\n~--~~--\n");
    assert_eq!(state, "200", "{answer}");
    let version: Value = serde_json::from_str(&answer).expect("JSON");
    assert_eq!(
        version["fit"],
        json!({ "columns": 7, "rows": 2, "colours": ["foam", "sea"], "has_ground": false, "pixels": null })
    );
    let news = tied(&server, version["version"].as_u64().expect("a number"));
    assert_eq!(news["painting"]["files"][0]["columns"], 7);
    assert_eq!(news["title"], "mooring, 8 threads");
    assert_eq!(wave(&server), WAVE);
    server.post("/painting/save", &json!({ "file": "wave.txt" }));
    assert_eq!(wave(&server), "~~--~~-\n~--~~--\n");
    assert_eq!(files_in(server.place.path()), ["mooring.rhai", "wave.txt"]);
    // Pixels are shrunk to the width of the picture, and it is said from what size.
    let row = "29 111 140 ".repeat(9) + "232 241 238 ".repeat(5).as_str();
    let pixels = format!("P3 14 4 255\n{}", row.repeat(4));
    let (state, answer) = dropped(&server, pixels.as_bytes());
    assert_eq!(state, "200", "{answer}");
    let answer: Value = serde_json::from_str(&answer).expect("JSON");
    assert_eq!(
        answer["fit"],
        json!({ "columns": 7, "rows": 2, "colours": ["foam", "sea"], "has_ground": false, "pixels": [14, 4] })
    );
}

/// A band that lies straight has its first row at the left. Turned to the right by a quarter, the left column
/// of a picture is its first row.
#[test]
fn the_page_is_told_with_which_edge_of_a_picture_the_band_begins() {
    for (made, edge) in [
        ("wave", "top"),
        ("wave.upside_down()", "bottom"),
        ("wave.mirrored()", "top"),
        ("wave.quarter_turned()", "left"),
        ("wave.quarter_turned().upside_down()", "right"),
    ] {
        let place = folder();
        let rule = RULE.replace("solved(wave)", &format!("solved({made})"));
        fs::write(place.path().join("mooring.rhai"), rule).expect("written");
        fs::write(place.path().join("wave.txt"), WAVE).expect("written");
        let server = server_in(place, &[]);
        assert_eq!(server.settled()["troubles"], json!([]), "{made}");
        let told = knots(&server);
        assert_eq!(told["begins"], json!([edge]), "{made}");
        // So it is seen: what lies furthest to the left is of that edge. Five rows to a repeat make a
        // band that bends round, of which that is not so.
        if made.contains("turned") {
            continue;
        }
        let knots = told["knots"].as_array().expect("a list");
        let x = |knot: &&Value| knot["x"].as_f64().expect("a number");
        let first = knots.iter().min_by(|a, b| x(a).total_cmp(&x(b)));
        let cell = &first.expect("some")["cell"];
        let row = if edge == "top" { 0 } else { 3 };
        assert_eq!(cell[1], row, "{made}: {cell}");
    }
}

/// Of a picture that begins at the second column the first row ties one cell: which edge that lies on,
/// nobody can say, and the row behind it ties the bottom.
#[test]
fn where_the_first_row_ties_one_cell_nothing_is_said_of_where_the_band_begins() {
    let place = folder();
    let rule = RULE.replace("solved(wave)", "solved(wave.padded(1, 0).filled(sea))");
    fs::write(place.path().join("mooring.rhai"), rule).expect("written");
    fs::write(place.path().join("wave.txt"), "~-~\n-~~\n").expect("written");
    let server = server_in(place, &[]);
    assert_eq!(server.settled()["troubles"], json!([]));
    assert_eq!(knots(&server)["begins"], json!([null]));
}

#[test]
fn a_file_that_is_saved_elsewhere_meanwhile_is_asked_about() {
    let server = server();
    server.post("/painting/strokes", &stroke(0, "-", &[[0, 0]]));
    tied(&server, 1);
    fs::write(
        server.place.path().join("wave.txt"),
        "-----\n~~~~~\n~~~~~\n-----\n",
    )
    .expect("written");
    let news = server.news(|news| news["painting"]["files"][0]["is_changed"] == true);
    assert_eq!(news["painting"]["files"][0]["is_unsaved"], true);
    let (state, answer) = server.post("/painting/save", &json!({ "file": "wave.txt" }));
    assert_eq!(state, "409");
    assert!(answer.contains("was changed elsewhere"), "{answer}");
    assert!(wave(&server).starts_with("-----"));
    let take = json!({ "page": "p", "from": 1, "acts": [{ "act": "take", "file": "wave.txt" }] });
    assert_eq!(server.post("/painting/strokes", &take).0, "200");
    let news = tied(&server, 2);
    assert_eq!(news["painting"]["files"][0]["is_changed"], false);
    assert_eq!(news["painting"]["files"][0]["is_unsaved"], false);
    assert_eq!(cells(&server)["pots"][0], 0);
}

/// A folder in which nothing can be written leaves the picture whole and the paint on the page.
#[cfg(unix)]
#[test]
fn a_folder_that_may_only_be_read_refuses_to_save() {
    use std::os::unix::fs::PermissionsExt;
    let server = server();
    let place = server.place.path().to_owned();
    server.post("/painting/strokes", &stroke(0, "-", &[[0, 0]]));
    tied(&server, 1);
    let mode = |mode| fs::set_permissions(&place, fs::Permissions::from_mode(mode)).expect("ours");
    mode(0o555);
    // Who may do everything is not stopped by permissions: then there is nothing to see here.
    if fs::write(place.join("probe"), "").is_err() {
        let (state, answer) = server.post("/painting/save", &json!({ "file": "wave.txt" }));
        assert_eq!(state, "409", "{answer}");
        assert_eq!(wave(&server), WAVE);
        assert_eq!(server.settled()["painting"]["files"][0]["is_unsaved"], true);
    }
    mode(0o755);
}

/// As large as a picture may be in a rule's folder, it may be dropped: a photograph is.
#[test]
fn a_photograph_of_megabytes_can_be_dropped() {
    let server = server();
    let mut photograph = b"P6 1100 1000 255\n".to_vec();
    photograph.extend((0..3_300_000_u32).map(|at| if at % 3300 < 1650 { 20 } else { 230 }));
    let (status, said) = dropped(&server, &photograph);
    assert!(["200", "400"].contains(&status.as_str()), "{status} {said}");
    assert!(!said.contains("length limit"), "{said}");
    let (status, said) = dropped(&server, &vec![b'#'; 9 << 20]);
    assert_eq!(status, "413");
    assert!(said.contains("that request is too long"), "{said}");
}

#[test]
fn a_rule_that_reads_no_picture_has_none_to_paint() {
    let place = folder();
    fs::write(
        place.path().join("mooring.rhai"),
        "band(4).repeat(over_leader(picture([\"#.#\", \".#.\"])))\n",
    )
    .expect("written");
    let server = server_in(place, &[]);
    let news = server.settled();
    assert_eq!(news["painting"]["files"], json!([]));
    assert_eq!(
        news["painting"]["shows_drawn"], true,
        "and the page says why"
    );
    assert_eq!(
        server
            .post("/painting/strokes", &stroke(0, "#", &[[0, 0]]))
            .0,
        "400"
    );
    assert_eq!(
        server
            .post("/painting/save", &json!({ "file": "wave.txt" }))
            .0,
        "409"
    );
    assert_eq!(dropped(&server, b"#\n").0, "409");
    assert_eq!(files_in(server.place.path()), ["mooring.rhai"]);
}

/// A hand that never rests: a picture of every stroke, and none in another order.
#[test]
fn strokes_in_a_hurry_all_arrive_and_the_last_is_tied() {
    let server = server();
    for number in 0..40 {
        let pot = if number % 2 == 0 { "-" } else { "~" };
        let small = u32::try_from(number).expect("below 40");
        let cells = [[small % 4, small % 5]];
        let (state, answer) = server.post("/painting/strokes", &stroke(number, pot, &cells));
        assert_eq!(
            (&*state, &*answer),
            ("200", &*format!("{{\"version\":{}}}", number + 1))
        );
    }
    let news = tied(&server, 40);
    assert_eq!(news["troubles"], json!([]));
    // The twenty cells were each painted twice, the second time with the other thread.
    let pots = cells(&server)["pots"].clone();
    for number in 20..40_usize {
        let at = (number % 4) * 5 + number % 5;
        assert_eq!(pots[at], json!(number % 2), "{number}");
    }
}
