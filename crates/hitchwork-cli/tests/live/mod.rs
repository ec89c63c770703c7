//! The live page's server, as those meet it who are not the page.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use serde_json::Value;

use crate::common::folder;

/// A server with its port; it ends with the test.
pub(crate) struct Server {
    pub(crate) child: Child,
    pub(crate) port: u16,
    /// What it said before its address.
    pub(crate) before: String,
    pub(crate) place: tempfile::TempDir,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A server of the mooring in this folder, started with these words besides.
pub(crate) fn server_in(place: tempfile::TempDir, more: &[&str]) -> Server {
    let mut child = Command::new(env!("CARGO_BIN_EXE_hitchwork"))
        .args(["watch", "mooring.rhai"])
        .args(more)
        .current_dir(place.path())
        .env("NO_COLOR", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    let mut before = String::new();
    let out = child.stderr.take().expect("it is piped");
    let mut lines = BufReader::new(out).lines();
    let port = loop {
        let line = lines.next().expect("it says its address").expect("text");
        if let Some(address) = line.strip_prefix("http://127.0.0.1:") {
            break address.trim_end_matches('/').parse().expect("a port");
        }
        before += &line;
    };
    Server {
        child,
        port,
        before,
        place,
    }
}

impl Server {
    pub(crate) fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        stream
            .set_read_timeout(Some(Duration::from_secs(20)))
            .expect("a limit");
        stream
    }

    /// The whole answer to a request that is written out here.
    pub(crate) fn raw(&self, request: &str) -> String {
        let mut stream = self.connect();
        stream.write_all(request.as_bytes()).expect("sent");
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    pub(crate) fn ask(&self, first: &str, headers: &str, body: &str) -> String {
        let Self { port, .. } = self;
        let length = body.len();
        self.raw(&format!("{first} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n{body}"))
    }

    pub(crate) fn token(&self) -> String {
        let page = self.ask("GET /", "", "");
        let after = page
            .split("name=\"token\" content=\"")
            .nth(1)
            .expect("the page knows it");
        after.split('"').next().unwrap_or_default().to_owned()
    }

    /// Memory in kilobytes that the server holds.
    pub(crate) fn memory(&self) -> u64 {
        let status =
            fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap_or_default();
        let line = status.lines().find(|line| line.starts_with("VmRSS"));
        line.and_then(|line| line.split_whitespace().nth(1))
            .and_then(|size| size.parse().ok())
            .unwrap_or(0)
    }

    /// Ends it, and starts it again in the same folder.
    pub(crate) fn again(mut self, more: &[&str]) -> Self {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it has ended");
        let place = std::mem::replace(&mut self.place, folder());
        server_in(place, more)
    }

    /// Posts as the page does; gives status and body.
    pub(crate) fn post(&self, path: &str, body: &Value) -> (String, String) {
        let token = format!("X-Hitchwork: {}\r\n", self.token());
        let answer = self.ask(&format!("POST {path}"), &token, &body.to_string());
        let (_, body) = answer.split_once("\r\n\r\n").unwrap_or_default();
        (status(&answer).to_owned(), body.to_owned())
    }

    /// Waits for news that are like this.
    pub(crate) fn news(&self, like: impl Fn(&Value) -> bool) -> Value {
        let mut stream = self.connect();
        let Self { port, .. } = self;
        write!(
            stream,
            "GET /news HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n"
        )
        .expect("sent");
        let (sender, heard) = mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(stream).lines().map_while(Result::ok) {
                if let Some(data) = line.strip_prefix("data: ")
                    && let Ok(news) = serde_json::from_str::<Value>(data)
                    && sender.send(news).is_err()
                {
                    return;
                }
            }
        });
        loop {
            let news = heard
                .recv_timeout(Duration::from_secs(60))
                .expect("such news");
            if like(&news) {
                return news;
            }
        }
    }

    /// What is wanted, and the band of that, when it has been tied.
    pub(crate) fn settled(&self) -> Value {
        self.news(|news| news["number"] != 0 && news["is_busy"] == false)
    }

    pub(crate) fn answers(&self) {
        assert!(self.ask("GET /", "", "").starts_with("HTTP/1.1 200"));
    }
}

pub(crate) fn status(answer: &str) -> &str {
    answer.split_whitespace().nth(1).unwrap_or("nothing")
}
