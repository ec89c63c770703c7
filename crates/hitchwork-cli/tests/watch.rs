//! The live page's server, as those meet it who are not the page.

use std::fs;
use std::io::{BufRead, BufReader, ErrorKind, Read, Write};
use std::net::TcpStream;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use hitchwork_core::care::care;

use crate::common::{files_in, folder, hitchwork};
use crate::live::{Server, server_in, status};
use serde_json::{Value, json};

const RULE: &str = "/// A mooring.\nlet threads = whole(\"threads\", 6, 4..=12, \"threads\");\nband(threads).repeat(forward(1..threads))\n";

fn server() -> Server {
    let place = folder();
    fs::write(place.path().join("mooring.rhai"), RULE).expect("written");
    server_in(place, &["--length", "4", "--out", "saved"])
}

#[test]
fn the_page_says_what_to_be_careful_with() {
    let place = folder();
    fs::write(place.path().join("mooring.rhai"), RULE).expect("written");
    let for_a_child = server_in(place, &["--wrist", "child"]);
    for (server, lines) in [(server(), care(false)), (for_a_child, care(true))] {
        // Before the first band the page has the usual lines, then those of the band.
        let page = server.ask("GET /", "", "");
        let (_, footer) = page.split_once("<footer>").expect("a footer");
        for line in care(false) {
            assert!(footer.contains(&format!("<li>{line}</li>")), "{footer}");
        }
        assert_eq!(server.settled()["cautions"], json!(lines));
    }
}

/// A wrist takes the place of a length: the band, its sheet and its command are for that.
#[test]
fn a_wrist_is_chosen_on_the_page() {
    let server = server();
    let before = server.settled();
    assert_eq!(before["wishes"]["length_cm"], json!(4.0));
    server.post("/wish", &json!({ "wrist_cm": 12.5 }));
    let news =
        server.news(|news| news["wishes"]["wrist_cm"] == json!(12.5) && news["is_busy"] == false);
    assert_eq!(news["wishes"]["length_cm"], Value::Null);
    assert_eq!(news["cautions"], json!(care(true)));
    let command = news["command"].as_str().expect("words");
    assert!(command.ends_with(" --wrist 12.5"), "{command}");
    let sheet = server.ask("GET /sheet.txt", "", "");
    assert!(sheet.contains("For a wrist 12.5 cm round."), "{sheet}");
}

/// The working chart is shown as a picture, which has no letters but its own.
#[test]
fn the_working_chart_brings_its_letters() {
    let server = server();
    server.settled();
    let chart = server.ask("GET /strands/1", "", "");
    assert!(
        chart.contains("<text") && chart.contains("@font-face"),
        "{chart}"
    );
}

/// The page offers another seed only where that may make another band; also where only a rule
/// within the rule leaves something to chance.
#[test]
fn the_page_knows_whether_anything_is_left_to_chance() {
    for (rule, expected) in [
        (RULE, false),
        (
            "band(6).repeat(if chance(0.5) { forward(1..6) } else { backward(1..6) })\n",
            true,
        ),
        ("rule(\"flotsam\", #{})\n", true),
    ] {
        let place = folder();
        fs::write(place.path().join("mooring.rhai"), rule).expect("written");
        let news = server_in(place, &[]).settled();
        assert_eq!(news["troubles"], json!([]), "{rule}");
        assert_eq!(news["leaves_to_chance"], expected, "{rule}");
    }
}

#[test]
fn only_this_computer_and_this_page_may_ask() {
    let server = server();
    let port = server.port;
    let token = server.token();
    for host in [
        "evil.example",
        "evil.example:80",
        &format!("evil.example:{port}"),
        "127.0.0.1",
        "[::1]",
        "",
    ] {
        let answer = server.raw(&format!(
            "GET / HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        ));
        assert!(
            ["403", "400"].contains(&status(&answer)),
            "{host}: {answer}"
        );
    }
    let without = server.raw("GET / HTTP/1.1\r\nConnection: close\r\n\r\n");
    assert!(["403", "400"].contains(&status(&without)), "{without}");
    for origin in [
        "http://evil.example",
        "null",
        &format!("https://127.0.0.1:{port}"),
        &format!("http://127.0.0.1:{}", port ^ 1),
        &format!("http://127.0.0.1:{port}.evil.example"),
    ] {
        for path in [
            "GET /",
            "GET /news",
            "GET /fabric.png?scale=1&left=0&top=0&width=9&height=9",
            "POST /wish",
            "POST /save/band",
        ] {
            let answer = server.ask(
                path,
                &format!("Origin: {origin}\r\nX-Hitchwork: {token}\r\n"),
                "",
            );
            assert_eq!(status(&answer), "403", "{origin} {path}");
        }
    }
    for site in ["cross-site", "same-site"] {
        assert_eq!(
            status(&server.ask(
                "GET /fabric.png?scale=1&left=0&top=0&width=9&height=9",
                &format!("Sec-Fetch-Site: {site}\r\n"),
                ""
            )),
            "403"
        );
    }
    for token in ["", "0", "guess"] {
        assert_eq!(
            status(&server.ask("POST /wish", &format!("X-Hitchwork: {token}\r\n"), "{}")),
            "403"
        );
        assert_eq!(
            status(&server.ask("POST /save/band", &format!("X-Hitchwork: {token}\r\n"), "")),
            "403"
        );
    }
    assert!(!server.place.path().join("saved").exists());
    let page = server.ask("GET /", "", "");
    for header in [
        "content-security-policy: default-src 'none'",
        "x-content-type-options: nosniff",
        "cache-control: no-store",
        "x-frame-options: DENY",
        "cross-origin-resource-policy: same-origin",
    ] {
        assert!(
            page.to_lowercase().contains(&header.to_lowercase()),
            "{header}"
        );
    }
    assert!(
        !page.to_lowercase().contains("access-control-allow"),
        "nobody else is invited"
    );
}

#[test]
fn no_path_leads_to_the_disk() {
    let server = server();
    let token = server.token();
    for path in [
        "/mooring.rhai",
        "/../mooring.rhai",
        "/..%2fmooring.rhai",
        "//etc/passwd",
        "/strands/../../etc/passwd",
        "/strands/%2e%2e%2f1",
        "/strands/0",
        "/strands/99999999999999999999",
        "/saved",
        "/%00",
    ] {
        let answer = server.ask(&format!("GET {path}"), "", "");
        assert!(
            ["404", "400"].contains(&status(&answer)),
            "{path}: {answer}"
        );
    }
    for what in [
        "..%2f..%2fband",
        "mooring.rhai",
        "%2fetc%2fpasswd",
        "..",
        "band%00",
    ] {
        let answer = server.ask(
            &format!("POST /save/{what}"),
            &format!("X-Hitchwork: {token}\r\n"),
            "",
        );
        assert!(
            ["404", "409", "400"].contains(&status(&answer)),
            "{what}: {answer}"
        );
    }
    for method in ["PUT", "DELETE", "OPTIONS", "PATCH"] {
        assert!(
            ["405", "403"].contains(&status(&server.ask(&format!("{method} /wish"), "", ""))),
            "{method}"
        );
    }
    assert_eq!(files_in(server.place.path()), ["mooring.rhai"]);
    server.answers();
}

#[test]
fn what_is_too_much_or_makes_no_sense_is_refused() {
    let server = server();
    let token = server.token();
    let with = format!("X-Hitchwork: {token}\r\n");
    let large = "x".repeat(65 << 10);
    assert_eq!(status(&server.ask("POST /wish", &with, &large)), "413");
    let unending = server.raw(&format!(
        "GET /{} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n\r\n",
        "a".repeat(200_000),
        server.port
    ));
    assert!(
        ["414", "431", "400", "nothing"].contains(&status(&unending)),
        "{}",
        status(&unending)
    );
    for body in [
        "",
        "no",
        "{\"settings\": 3}",
        "{\"seed\": -1}",
        "{\"path\": \"/etc/passwd\"}",
        "{\"seed\": 1e99}",
        "{\"seed\": 7}",
        "{\"seed\": \"18446744073709551616\"}",
        "{\"settings\": {\"threads\": null}}",
    ] {
        assert_eq!(
            status(&server.ask("POST /wish", &with, body)),
            "400",
            "{body}"
        );
    }
    assert_eq!(
        status(&server.ask("POST /wish", &with, "{\"settings\": {\"threads\": \"8\"}}")),
        "200"
    );
    // Until the first band is tied there is no picture to refuse a view of.
    server.settled();
    for view in [
        "",
        "?scale=1",
        "?scale=1&left=-1&top=0&width=9&height=9",
        "?scale=0&left=0&top=0&width=9&height=9",
        "?scale=NaN&left=0&top=0&width=9&height=9",
        "?scale=inf&left=0&top=0&width=9&height=9",
        "?scale=1&left=0&top=0&width=4294967295&height=4294967295",
        "?scale=1&left=0&top=0&width=99999999999&height=9",
    ] {
        let answer = server.ask(&format!("GET /fabric.png{view}"), "", "");
        assert_eq!(status(&answer), "400", "{view}: {answer}");
    }
    let one = format!(
        "POST /wish HTTP/1.1\r\nHost: 127.0.0.1:{}\r\n{with}Content-Length: 2\r\n\r\n{{}}",
        server.port
    );
    // Written one after the other into one connection, so that no machine is too slow to hurry.
    let mut hurried = server.connect();
    let mut answers = hurried.try_clone().expect("two ends");
    let writing = std::thread::spawn(move || hurried.write_all(one.repeat(1000).as_bytes()));
    let mut said = String::new();
    while !said.contains("HTTP/1.1 429") {
        let mut some = [0; 4096];
        let length = answers.read(&mut some).expect("more answers");
        assert!(length > 0, "a thousand wishes in a hurry are too many");
        said += &String::from_utf8_lossy(&some[..length]);
    }
    let _ = answers.shutdown(std::net::Shutdown::Both);
    let _ = writing.join();
    server.answers();
}

#[test]
fn two_hundred_listeners_and_half_open_connections_are_survived() {
    let server = server();
    let listen = |path: &str| {
        let mut stream = server.connect();
        let Server { port, .. } = server;
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n"
        )
        .expect("sent");
        stream
    };
    server.answers();
    let before = server.memory();
    let mut listeners: Vec<TcpStream> = (0..200).map(|_| listen("/news")).collect();
    for stream in &mut listeners {
        let mut start = [0; 12];
        stream.read_exact(&mut start).expect("an answer");
        assert_eq!(&start, b"HTTP/1.1 200");
    }
    // Others say half of what they want and then nothing.
    let began = Instant::now();
    let half: Vec<TcpStream> = (0..100)
        .map(|_| {
            let mut stream = server.connect();
            stream
                .write_all(b"GET / HTTP/1.1\r\nHost: 127")
                .expect("sent");
            stream
        })
        .collect();
    server.answers();
    for turn in 0..20 {
        let rule = format!(
            "/// A mooring.\nband({}).repeat(forward(1..4))\n",
            4 + turn % 3
        );
        fs::write(server.place.path().join("mooring.rhai"), rule).expect("written");
        std::thread::sleep(Duration::from_millis(20));
    }
    server.answers();
    let after = server.memory();
    assert!(after < before + (60 << 10), "{before} KB became {after} KB");
    for mut stream in half {
        let mut rest = Vec::new();
        // The server closes them, with or without a word.
        match stream.read_to_end(&mut rest) {
            Ok(_) => {}
            Err(error) => assert!(
                matches!(error.kind(), ErrorKind::ConnectionReset),
                "{error}"
            ),
        }
    }
    assert!(
        began.elapsed() < Duration::from_secs(19),
        "they are not waited for"
    );
    drop(listeners);
    server.answers();
}

#[test]
fn a_length_beyond_all_numbers_is_refused_in_words() {
    let server = server();
    let change = json!({ "length_cm": 1e308 });
    assert_eq!(server.post("/wish", &change).0, "200");
    let settled = server.settled();
    let said = settled["troubles"].to_string();
    assert!(said.contains("a band cannot be endlessly long"), "{said}");
    assert!(said.contains("from 0.5 to 10000 cm"), "{said}");
    let page = server.ask("GET /", "", "");
    assert!(page.contains("min=\"0.5\" max=\"10000\""));
}

/// As many as may be connected at a time begin to post as the page does, and never go on.
#[test]
fn requests_that_never_end_keep_nobody_out() {
    let server = server();
    let token = server.token();
    let begin = |path: &str| {
        let mut stream = server.connect();
        let Server { port, .. } = server;
        write!(
            stream,
            "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nX-Hitchwork: {token}\r\nContent-Length: 60000\r\n\r\n{{"
        )
        .expect("sent");
        stream
    };
    let mut begun: Vec<TcpStream> = ["/wish", "/memory", "/save/band", "/nothing"]
        .into_iter()
        .cycle()
        .take(512)
        .map(begin)
        .collect();
    server.answers();
    let mut answer = String::new();
    let _ = begun[0].read_to_string(&mut answer);
    assert_eq!(status(&answer), "408", "{answer}");
    // Who sends all that was promised is heard, however it is cut up.
    let change = json!({ "seed": "7" }).to_string();
    let mut stream = server.connect();
    let Server { port, .. } = server;
    write!(
        stream,
        "POST /wish HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nX-Hitchwork: {token}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n",
        change.len()
    )
    .expect("sent");
    for piece in change.as_bytes().chunks(3) {
        stream.write_all(piece).expect("sent");
        std::thread::sleep(Duration::from_millis(5));
    }
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    assert_eq!(status(&answer), "200", "{answer}");
}

#[test]
fn what_cannot_be_watched_is_refused() {
    let place = folder();
    let made = hitchwork(
        place.path(),
        &[
            "make",
            "candy_stripe",
            "--length",
            "3",
            "--with",
            "text",
            "--out",
            "made",
        ],
    );
    assert_eq!(made.status, Some(0), "{}", made.err);
    for (asked, said) in [
        (
            "made/candy_stripe.band.json",
            "is a band file: nothing about it changes",
        ),
        ("missing.rhai", "cannot be watched"),
        ("driift", "did you mean drift?"),
    ] {
        let refused = hitchwork(place.path(), &["watch", asked]);
        assert_eq!(
            refused.status,
            Some(2),
            "{asked}: {}{}",
            refused.out,
            refused.err
        );
        assert!(refused.err.contains(said), "{asked}: {}", refused.err);
    }
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = taken.local_addr().expect("it has one").port().to_string();
    let refused = hitchwork(place.path(), &["watch", "drift", "--port", &port]);
    assert_eq!(refused.status, Some(2));
    assert!(
        refused
            .err
            .contains(&format!("port {port} of this computer cannot be used")),
        "{}",
        refused.err
    );
}

#[test]
fn all_pages_are_told_the_same_and_a_change_touches_only_what_it_names() {
    let server = server();
    let settled = server.settled();
    let given = json!({ "settings": {}, "seed": "0", "length_cm": 4.0, "wrist_cm": null, "mirrored": false });
    assert_eq!(settled["wishes"], given);
    assert_eq!(settled["made"], given);
    assert_eq!(settled["wish"], 0);
    // One page turns the threads, another the seed: each is answered with the number of its
    // change, and both hold.
    let seed = u64::MAX.to_string();
    for (change, number) in [
        (json!({ "settings": { "threads": "8" } }), 1),
        (json!({ "seed": seed }), 2),
        (json!({ "length_cm": null }), 3),
    ] {
        let (status, answer) = server.post("/wish", &change);
        assert_eq!(status, "200", "{answer}");
        let answer: Value = serde_json::from_str(&answer).expect("data");
        assert_eq!(answer, json!({ "wish": number }));
    }
    let settled = server.settled();
    assert_eq!(settled["wish"], 3);
    let wishes = json!({ "settings": { "threads": "8" }, "seed": seed, "length_cm": null, "wrist_cm": null, "mirrored": false });
    assert_eq!(settled["wishes"], wishes);
    assert_eq!(settled["made"], wishes);
    assert_eq!(settled["given"], given);
    assert_eq!(
        settled["command"],
        format!("hitchwork make mooring.rhai --set threads=8 --seed {seed}")
    );
    assert_eq!(settled["controls"][0]["value"], "8");
}

/// A picture that the rule reads is watched as the rule is, also where it appears only later.
#[test]
fn a_picture_that_is_saved_is_shown() {
    let place = folder();
    let rule = "/// A mooring.\nlet sign = picture(\"signs/buoy.txt\");\nband(sign.width + 1).repeat(over_leader(sign)).title(`${sign.width} columns`)\n";
    fs::write(place.path().join("mooring.rhai"), rule).expect("written");
    let server = server_in(place, &["--out", "saved"]);
    let missing = server.settled();
    assert_eq!(missing["troubles"].as_array().map(Vec::len), Some(1));
    let signs = server.place.path().join("signs");
    fs::create_dir(&signs).expect("a folder");
    for (drawn, columns) in [(".#.\n###\n", "3 columns"), (".##.\n####\n", "4 columns")] {
        fs::write(signs.join("buoy.txt"), drawn).expect("written");
        server.news(|news| news["title"] == columns && news["is_busy"] == false);
    }
}

#[test]
fn a_setting_that_is_refused_is_known_to_all_while_the_last_band_stays() {
    let server = server();
    let first = server.settled();
    server.post("/wish", &json!({ "settings": { "threads": "99" } }));
    let settled = server.settled();
    assert_eq!(settled["wishes"]["settings"]["threads"], "99");
    assert_eq!(settled["troubles"].as_array().map(Vec::len), Some(1));
    for kept in ["made", "command", "picture", "title"] {
        assert_eq!(settled[kept], first[kept], "{kept}");
    }
    // Refused from the beginning, it can still be mended: the page has its field.
    let server = server.again(&["--set", "threads=99"]);
    let settled = server.settled();
    assert_eq!(settled["picture"], 0);
    assert_eq!(settled["controls"][0]["name"], "threads");
}

#[test]
fn a_command_started_again_is_found_where_it_was_and_told_how_all_was() {
    let server = server();
    server.post(
        "/wish",
        &json!({ "settings": { "threads": "9" }, "seed": "5" }),
    );
    let before = server.settled();
    let port = server.port;
    let server = server.again(&["--length", "7"]);
    assert_eq!(server.port, port, "a page that is still open finds it");
    let fresh = server.settled();
    assert_ne!(fresh["start"], before["start"]);
    assert_eq!(fresh["wish"], 0);
    let memory = json!({ "given": before["given"], "wishes": before["wishes"] });
    let (status, answer) = server.post("/memory", &memory);
    assert_eq!((status.as_str(), answer.as_str()), ("200", "{\"wish\":1}"));
    let settled = server.settled();
    // The length is meant, since the command line asks for another now.
    let wishes = json!({ "settings": { "threads": "9" }, "seed": "5", "length_cm": 7.0, "wrist_cm": null, "mirrored": false });
    assert_eq!(settled["wishes"], wishes);
    assert_eq!(settled["made"], wishes);
    // Whoever comes later with what they remember changes nothing any more.
    server.post("/wish", &json!({ "settings": { "threads": "5" } }));
    let (status, answer) = server.post("/memory", &memory);
    assert_eq!((status.as_str(), answer.as_str()), ("200", "{\"wish\":2}"));
    assert_eq!(server.settled()["wishes"]["settings"]["threads"], "5");
    // Where the port is taken meanwhile, another does.
    let place = folder();
    fs::write(place.path().join("mooring.rhai"), RULE).expect("written");
    let first = server_in(place, &[]);
    let second = {
        let mut second = Command::new(env!("CARGO_BIN_EXE_hitchwork"))
            .args(["watch", "mooring.rhai"])
            .current_dir(first.place.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the command starts");
        let out = second.stderr.take().expect("it is piped");
        let address = BufReader::new(out).lines().next().expect("an address");
        second.kill().expect("it runs");
        second.wait().expect("it has ended");
        address.expect("text")
    };
    assert!(second.starts_with("http://127.0.0.1:"), "{second}");
    assert_ne!(second, format!("http://127.0.0.1:{}/", first.port));
}

#[test]
fn pace_swatch_and_palette_count_on_the_page_and_in_its_command_as_in_make() {
    let place = folder();
    let rule = "/// A mooring.\nlet tones = palette(\"tones\", \"regatta\", \"the colours\");\nband(6).repeat(forward(1..6)).colours(in_turn(contrasting(tones, 3), 6))\n";
    fs::write(place.path().join("mooring.rhai"), rule).expect("written");
    let words = [
        "--pace",
        "18:210",
        "--swatch",
        "12:12.5,40:42",
        "--palette",
        "gull",
        "--out",
        "saved",
    ];
    let server = server_in(place, &words);
    let settled = server.settled();
    assert_eq!(
        settled["command"],
        "hitchwork make mooring.rhai --palette gull --swatch 12:12.5,40:42 --pace 18:210"
    );
    let measure = |name: &str| {
        let measures = settled["measures"].as_array().expect("a list");
        let measure = measures.iter().find(|measure| measure["name"] == name);
        measure.expect("there is one")["value"]
            .as_str()
            .expect("text")
            .to_owned()
    };
    for what in ["band", "html"] {
        assert_eq!(server.post(&format!("/save/{what}"), &Value::Null).0, "200");
    }
    let command: Vec<&str> = settled["command"]
        .as_str()
        .expect("text")
        .split(' ')
        .skip(1)
        .collect();
    let made = hitchwork(
        server.place.path(),
        &[&command[..], &["--out", "made", "--json"]].concat(),
    );
    assert_eq!(made.status, Some(0), "{}", made.err);
    // A palette that the page chooses takes the place of that of the command line.
    let change = json!({ "settings": { "tones": "red sails" } });
    assert_eq!(server.post("/wish", &change).0, "200");
    assert_eq!(
        server.settled()["command"],
        "hitchwork make mooring.rhai --swatch 12:12.5,40:42 --pace 18:210 --set 'tones=red sails'"
    );
    let back = json!({ "afresh": true });
    assert_eq!(server.post("/wish", &back).0, "200");
    assert_eq!(server.settled()["command"], settled["command"]);
    let fitted = &server.before;
    assert!(
        fitted.starts_with("swatch: columns ") && made.err.contains(fitted),
        "{fitted}"
    );
    for name in ["mooring.band.json", "sheet.html"] {
        let [saved, made] = ["saved", "made"].map(|which| {
            fs::read(server.place.path().join(which).join(name)).expect("it is there")
        });
        assert!(saved == made, "{name}");
    }
    let report: Value = serde_json::from_str(&made.out).expect("data");
    let width = report["report"]["size_mm"]["width"]
        .as_f64()
        .expect("a number");
    assert_eq!(measure("width"), format!("{width} mm"));
    // How hard it is comes when it is asked for, as the command says it.
    let answer = server.ask("GET /difficulty", "", "");
    let points = report["report"]["difficulty"]["points"].as_f64();
    let points = format!(", {:.0} of 10", points.expect("a number").round());
    assert!(
        status(&answer) == "200" && answer.ends_with(&points),
        "{answer}"
    );
    // At a pace five times as slow, the same band takes longer: 11.67 seconds a knot became 60.
    let slow = server.again(&["--pace", "60"]).settled();
    let (quick, slow) = (&settled["measures"][3], &slow["measures"][3]);
    assert_eq!(
        (&quick["name"], &slow["name"]),
        (&json!("time"), &json!("time"))
    );
    assert_ne!(quick["value"], slow["value"]);
}
