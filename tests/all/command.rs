//! The command line, as a shop owner types it.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Output, Stdio};

use tempfile::TempDir;

fn thumbplane() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_thumbplane"));
    command.env_remove("THUMBPLANE_DATA").env_remove("THUMBPLANE_LISTEN").stderr(Stdio::piped()).stdout(Stdio::piped());
    command
}

fn with_input(command: &mut Command, input: &str) -> Output {
    let mut child = command.stdin(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A server that ends with the test, in a temporary folder of its own.
pub(crate) struct Running {
    child: Child,
    temporary: TempDir,
    pub(crate) address: String,
    /// What it said until it answered.
    said: Vec<String>,
}

impl Running {
    pub(crate) fn start(command: &mut Command) -> Self {
        let temporary = TempDir::new().unwrap();
        let mut child = command.env("TMPDIR", temporary.path()).stderr(Stdio::null()).spawn().unwrap();
        let said = BufReader::new(child.stdout.take().unwrap());
        let mut lines = said.lines().map_while(Result::ok);
        let mut before = Vec::new();
        let address = lines.find_map(|line| {
            let found = line.split("answers on http://").nth(1).map(|found| found.trim().to_owned());
            before.push(line);
            found
        });
        // the rest is read to the end, so that the server never writes into a closed pipe
        std::thread::spawn(move || lines.for_each(drop));
        Self { child, temporary, address: address.expect("the server says where it answers"), said: before }
    }

    /// A shop in an empty folder, and the code that its console shows.
    pub(crate) fn new_shop(folder: &std::path::Path) -> (Self, String) {
        let running = Self::shop(folder, "127.0.0.1:0");
        let code = running.said.iter().find(|line| line.starts_with("    ")).expect("the console shows a code");
        let code = code.trim().to_owned();
        (running, code)
    }

    pub(crate) fn demo() -> Self {
        Self::start(thumbplane().args(["demo", "--listen", "127.0.0.1:0"]))
    }

    /// The shop of a folder, at an address of choice.
    pub(crate) fn shop(folder: &std::path::Path, listen: &str) -> Self {
        Self::start(thumbplane().args(["serve", "--listen", listen, "--data"]).arg(folder))
    }

    /// The power goes: nothing is finished, nothing is closed.
    pub(crate) fn dies(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    pub(crate) fn ask(&self, path: &str) -> String {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        write!(stream, "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.address).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    /// Asks the server to stop, as the system does, and waits for it.
    pub(crate) fn stop(&mut self) -> bool {
        let asked = Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status().unwrap();
        asked.success() && self.child.wait().unwrap().success()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn wrong_use_is_answered_with_one_line_that_says_what_to_do() {
    for arguments in
        [&["serv"][..], &["serve", "--listen", "here"], &["calc"], &["staff", "add"], &["check", "--everything"]]
    {
        let answer = thumbplane().args(arguments).output().unwrap();
        let said = text(&answer.stderr);
        assert_eq!(answer.status.code(), Some(2), "{arguments:?}: {said}");
        assert_eq!(said.trim().lines().count(), 1, "{arguments:?}: {said}");
        assert!(said.contains("--help"), "{arguments:?}: {said}");
    }
    let help = thumbplane().arg("--help").output().unwrap();
    assert!(help.status.success() && text(&help.stdout).contains("Check the shop's file"));
}

#[test]
fn calc_shows_how_its_numbers_came_about() {
    let input = r#"{"scale_mm": 648, "strings": [{"pitch": "B3", "material": "steel", "diameter_mm": 0.33}]}"#;
    let explained = |option: &str| {
        let said = with_input(thumbplane().args(["calc", "tension", option]), input);
        assert!(said.status.success(), "{}", text(&said.stderr));
        serde_json::from_slice::<serde_json::Value>(&said.stdout).unwrap()["working"].as_array().unwrap().clone()
    };
    assert_eq!(explained("--explain").len(), 4);
    let one = explained("--explain=/strings/0/tension_n");
    assert_eq!(one.last().unwrap()["formula"], "T = μ·(2·L·f)²");
    assert!(explained("--explain=/nothing").is_empty());
}

#[test]
fn calc_reads_json_and_refuses_bad_input_by_field() {
    let good = with_input(thumbplane().args(["calc", "frets"]), r#"{"scale_mm": 648, "frets": 12}"#);
    assert!(good.status.success(), "{}", text(&good.stderr));
    // equal temperament: the 12th fret halves the string
    let answer: serde_json::Value = serde_json::from_slice(&good.stdout).unwrap();
    assert!((answer["positions_mm"][11].as_f64().unwrap() - 324.0).abs() < 1e-9);
    for (name, input, pointer) in [
        ("frets", r#"{"scale_mm": 0, "frets": 12}"#, "/scale_mm"),
        ("frets", r#"{"scale_mm": 648, "frets": 12, "colour": 1}"#, "/colour"),
        (
            "cut",
            r#"{"place": "saddle", "scale_mm": 645, "strings": [{"position_mm": 0, "action_12_mm": -1, "target_mm": 2, "standard_uncertainty_mm": 0.03}], "showing_mm": {"treble": 3, "bass": 4}, "least_showing_mm": 1}"#,
            "/strings/0/action_12_mm",
        ),
        ("reading", r#"{"values_mm": [], "resolution_mm": 0.1}"#, "/values_mm"),
    ] {
        let bad = with_input(thumbplane().args(["calc", name]), input);
        assert_eq!(bad.status.code(), Some(2), "{name} {input}");
        assert!(bad.stdout.is_empty());
        let document: serde_json::Value = serde_json::from_slice(&bad.stderr).unwrap();
        let pointers: Vec<&str> =
            document["errors"].as_array().unwrap().iter().map(|error| error["pointer"].as_str().unwrap()).collect();
        assert!(pointers.contains(&pointer), "{name}: {document}");
    }
    assert_eq!(with_input(thumbplane().args(["calc", "horoscope"]), "{}").status.code(), Some(2));
}

#[test]
fn staff_are_added_from_the_console_and_the_file_is_checked() {
    let folder = TempDir::new().unwrap();
    let data = folder.path().to_str().unwrap();
    let weak =
        with_input(thumbplane().args(["staff", "add", "--data", data, "--name", "Ivo", "--role", "bench"]), "short\n");
    assert!(!weak.status.success() && text(&weak.stderr).contains("at least 12"), "{}", text(&weak.stderr));
    let added = with_input(
        thumbplane().args(["staff", "add", "--data", data, "--name", "Ivo", "--role", "bench"]),
        "spruce and brass filings\n",
    );
    assert!(
        added.status.success() && text(&added.stdout).contains("Ivo may sign in as bench"),
        "{}",
        text(&added.stderr)
    );
    let twice = with_input(
        thumbplane().args(["staff", "add", "--data", data, "--name", "IVO", "--role", "desk"]),
        "spruce and brass filings\n",
    );
    assert!(!twice.status.success() && text(&twice.stderr).contains("already somebody"));
    let check = thumbplane().args(["check", "--data", data]).output().unwrap();
    assert!(check.status.success() && text(&check.stdout).contains("is whole"), "{}", text(&check.stderr));
    let nowhere = thumbplane().args(["check", "--data", "/nonexistent/shop"]).output().unwrap();
    assert!(!nowhere.status.success() && text(&nowhere.stderr).contains("no shop"));
}

#[test]
fn a_running_shop_is_backed_up_by_night_and_by_hand_checked_and_brought_back() {
    let folder = TempDir::new().unwrap();
    let (data, to) = (folder.path().join("shop"), folder.path().join("backups"));
    let (data, to) = (data.to_str().unwrap(), to.to_str().unwrap());
    let mut add = thumbplane();
    add.args(["staff", "add", "--data", data, "--name", "Mirel", "--role", "desk"]);
    assert!(with_input(&mut add, "desk by the weir\n").status.success());
    let night = folder.path().join("night");
    let mut running = Running::start(
        thumbplane().args(["serve", "--listen", "127.0.0.1:0", "--data", data, "--backup-to"]).arg(&night),
    );
    let cookie = signs_in(&running.address);
    let (status, _) = posts(&running.address, "/desk/check-in", &cookie, &check_in_body("k")).unwrap();
    assert_eq!(status, 303);
    let made = thumbplane().args(["backup", "--data", data, "--to", to]).output().unwrap();
    assert!(made.status.success() && text(&made.stdout).contains("1 job, the last job"), "{}", text(&made.stderr));
    // beside the running server
    let check = thumbplane().args(["check", "--data", data]).output().unwrap();
    assert!(check.status.success() && text(&check.stdout).contains("1 jobs"), "{}", text(&check.stderr));
    let check = thumbplane().args(["check", "--backup", to]).output().unwrap();
    assert!(check.status.success() && text(&check.stdout).contains("is whole"), "{}", text(&check.stderr));
    // there was none in that folder, so that the first was made at the start
    assert!(running.stop());
    let check = thumbplane().args(["check", "--backup"]).arg(&night).output().unwrap();
    assert!(check.status.success(), "{}", text(&check.stderr));

    let refused = thumbplane().args(["restore", "--from", to, "--data", data]).output().unwrap();
    assert!(!refused.status.success() && text(&refused.stderr).contains("is not empty"), "{}", text(&refused.stderr));
    let new = folder.path().join("new");
    let restored = thumbplane().args(["restore", "--from", to, "--data"]).arg(&new).output().unwrap();
    assert!(restored.status.success(), "{}", text(&restored.stderr));
    assert!(text(&restored.stdout).contains("1 customer, 1 instrument, 1 job"), "{}", text(&restored.stdout));
    let mut again = Running::shop(&new, "127.0.0.1:0");
    let cookie = signs_in(&again.address);
    let (_, same) = posts(&again.address, "/desk/check-in", &cookie, &check_in_body("k")).unwrap();
    let job: String = header_of(&same, "location:").to_owned();
    assert!(job.starts_with("/desk/jobs/"), "{same}");
    assert!(again.stop());
    let check = thumbplane().args(["check", "--data"]).arg(&new).output().unwrap();
    assert!(text(&check.stdout).contains("1 jobs"), "the same check-in is the same job: {}", text(&check.stdout));
    let nothing = thumbplane().args(["restore", "--from", "/nonexistent", "--data"]).arg(&new).output().unwrap();
    assert!(!nothing.status.success() && text(&nothing.stderr).lines().count() == 1, "{}", text(&nothing.stderr));
}

#[test]
fn serve_prints_a_first_start_code_answers_and_stops_politely() {
    let folder = TempDir::new().unwrap();
    let data = folder.path().to_str().unwrap();
    let mut running = Running::start(thumbplane().args(["serve", "--data", data, "--listen", "127.0.0.1:0"]));
    assert!(running.ask("/healthz").ends_with("well\n"));
    assert!(running.ask("/").contains("location: /first-start"));
    let second = thumbplane().args(["serve", "--data", data, "--listen", "127.0.0.1:0"]).output().unwrap();
    assert!(text(&second.stderr).contains("another Thumbplane is using"), "{}", text(&second.stderr));
    assert!(running.stop());
    assert!(!folder.path().join("thumbplane.db-wal").exists(), "the log is folded into the file");
}

#[test]
fn other_computers_without_tls_are_only_answered_when_told_so() {
    let folder = TempDir::new().unwrap();
    let data = folder.path().to_str().unwrap();
    let refused = thumbplane().args(["serve", "--data", data, "--listen", "0.0.0.0:0"]).output().unwrap();
    assert!(!refused.status.success());
    assert!(text(&refused.stderr).contains("--plain-http"), "{}", text(&refused.stderr));
    let demo = thumbplane().args(["demo", "--listen", "0.0.0.0:0"]).output().unwrap();
    assert!(!demo.status.success() && text(&demo.stderr).contains("this computer only"));
}

#[test]
fn the_demo_answers_and_leaves_nothing_behind() {
    let mut demo = Running::demo();
    assert!(demo.ask("/sign-in").contains("Millrace Strings"));
    assert!(demo.stop());
    assert_eq!(std::fs::read_dir(demo.temporary.path()).unwrap().count(), 0);
}

/// One request over one connection, as a browser's form; `None` where no whole answer came.
fn posts(address: &str, path: &str, cookie: &str, body: &str) -> Option<(u16, String)> {
    let mut stream = TcpStream::connect(address).ok()?;
    let head = format!(
        "POST {path} HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nCookie: {cookie}\r\nContent-Type: \
         application/x-www-form-urlencoded\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
        body.len()
    );
    stream.write_all(head.as_bytes()).ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).ok()?;
    let status = answer.split_whitespace().nth(1)?.parse().ok()?;
    let head_is_whole = answer.contains("\r\n\r\n");
    head_is_whole.then_some((status, answer))
}

fn header_of<'a>(answer: &'a str, name: &str) -> &'a str {
    answer.lines().find_map(|line| line.strip_prefix(name)).unwrap_or("").trim()
}

fn signs_in(address: &str) -> String {
    let (status, answer) =
        posts(address, "/sign-in", "", "name=Mirel&password=desk+by+the+weir&then=%2Fdesk").expect("answered");
    assert_eq!(status, 303, "{answer}");
    header_of(&answer, "set-cookie:").split(';').next().unwrap().to_owned()
}

fn check_in_body(key: &str) -> String {
    let mut form = crate::support::check_in_form(key);
    // the clock of this server is the real one: no day is promised
    form.retain(|(name, _)| !matches!(*name, "serial" | "promised_on"));
    form_urlencoded::Serializer::new(String::new()).extend_pairs(form).finish()
}

// What WAL with synchronous=FULL promises of a program that dies (sqlite.org, wal.html): committed is committed. That
// the disk keeps its word is not shown here
#[test]
fn what_was_acknowledged_is_there_once_after_the_server_dies_and_a_retry_finds_it() {
    let folder = TempDir::new().unwrap();
    let data = folder.path().to_str().unwrap();
    let mut add = thumbplane();
    add.args(["staff", "add", "--data", data, "--name", "Mirel", "--role", "desk"]);
    assert!(with_input(&mut add, "desk by the weir\n").status.success());
    let mut acknowledged: Vec<(String, String)> = Vec::new();
    let mut unsure: Vec<String> = Vec::new();
    for round in 0..3 {
        let running = Running::shop(folder.path(), "127.0.0.1:0");
        let cookie = signs_in(&running.address);
        let (said, heard) = std::sync::mpsc::channel();
        let workers: Vec<_> = (0..4)
            .map(|worker| {
                let (said, address, cookie) = (said.clone(), running.address.clone(), cookie.clone());
                std::thread::spawn(move || {
                    for number in 0.. {
                        let key = format!("{round}-{worker}-{number}");
                        let answer = posts(&address, "/desk/check-in", &cookie, &check_in_body(&key));
                        let is_end = answer.is_none();
                        if said.send((key, answer)).is_err() || is_end {
                            return;
                        }
                    }
                })
            })
            .collect();
        drop(said);
        let mut dies = Some(running);
        for (count, (key, answer)) in (1..).zip(heard.iter()) {
            match answer {
                Some((303, answer)) => acknowledged.push((key, header_of(&answer, "location:").to_owned())),
                Some((status, answer)) => panic!("{status}: {answer}"),
                None => unsure.push(key),
            }
            // killed in the midst of others' work
            if count >= 12 + 3 * round
                && let Some(running) = dies.take()
            {
                running.dies();
            }
        }
        for worker in workers {
            worker.join().unwrap();
        }
    }
    assert!(acknowledged.len() >= 36, "{}", acknowledged.len());

    let mut running = Running::shop(folder.path(), "127.0.0.1:0");
    let cookie = signs_in(&running.address);
    for (key, location) in &acknowledged {
        let (status, answer) = posts(&running.address, "/desk/check-in", &cookie, &check_in_body(key)).unwrap();
        assert_eq!((status, header_of(&answer, "location:")), (303, location.as_str()), "{key} is the same job");
    }
    for key in &unsure {
        let (status, _) = posts(&running.address, "/desk/check-in", &cookie, &check_in_body(key)).unwrap();
        assert_eq!(status, 303, "{key} is finished or done once more, never half");
    }
    assert!(running.stop());
    let jobs = acknowledged.len() + unsure.len();
    let check = thumbplane().args(["check", "--data", data]).output().unwrap();
    let whole = format!("{jobs} customers, {jobs} instruments, {jobs} jobs");
    assert!(check.status.success() && text(&check.stdout).contains(&whole), "{jobs}: {}", text(&check.stdout));
}

#[test]
fn a_folder_that_cannot_be_used_is_refused_in_one_line() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("a file");
    std::fs::write(&file, "no folder").unwrap();
    let below = file.join("shop");
    for data in [file.as_path(), &below, std::path::Path::new("/proc/nowhere")] {
        let said = thumbplane().args(["serve", "--listen", "127.0.0.1:0", "--data"]).arg(data).output().unwrap();
        let words = text(&said.stderr);
        assert_eq!(said.status.code(), Some(1), "{words}");
        assert!(words.contains("cannot use the data folder") && words.contains("--data"), "{words}");
        assert!(words.trim().lines().count() == 1 && !words.contains("panicked"), "{words}");
    }
}
