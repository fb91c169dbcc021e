//! The queue on several screens: what one moves the others see, and what the streams that tell them cost.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use super::driver::Browser;
use crate::command::Running;

#[tokio::test(flavor = "multi_thread")]
async fn what_one_moves_the_other_sees_within_two_seconds() {
    let demo = Running::demo();
    let origin = format!("http://{}", demo.address);
    let (one, other) = (Browser::open(1280, 900, &[]).await, Browser::open(1280, 900, &[]).await);
    for browser in [&one, &other] {
        browser.signs_in(&origin, "Ottilie").await;
        browser.goes_to(&format!("{origin}/office/queue")).await;
    }
    let last: String = one.asks("return [...document.querySelectorAll('tr[data-job]')].at(-1).dataset.job").await;
    one.clicks(&format!("tr[data-job='{last}'] summary")).await;
    one.types(&format!("tr[data-job='{last}'] input[name=reason]"), "It travels tomorrow.").await;
    one.clicks(&format!("tr[data-job='{last}'] button[value=first]")).await;
    let moved = Instant::now();
    other.until("the other sees it", "document.body.innerText.includes('It travels tomorrow.')").await;
    let took = moved.elapsed();
    assert!(took < Duration::from_secs(2), "{took:?}");
    // whoever is typing is not interrupted, and is told
    other.clicks("tr[data-job]:nth-child(3) summary").await;
    other.types("tr[data-job]:nth-child(3) input[name=reason]", "half a reason").await;
    one.clicks(&format!("tr[data-job='{last}'] summary")).await;
    one.clicks(&format!("tr[data-job='{last}'] form[action$=take-back] button")).await;
    other.until("it is offered", "document.getElementById('renewal-offer') !== null").await;
    let typed: String =
        other.asks("return document.querySelector('tr[data-job]:nth-child(3) input[name=reason]').value").await;
    assert_eq!(typed, "half a reason");
    // a row dragged onto another asks for its reason
    one.goes_to(&format!("{origin}/office/queue")).await;
    let offered: String = one
        .asks(
            "const rows = [...document.querySelectorAll('tr[data-job]')];
             const data = new DataTransfer();
             const sends = (row, kind) => row.dispatchEvent(new DragEvent(kind, {bubbles: true, cancelable: true, dataTransfer: data}));
             sends(rows.at(-1), 'dragstart'); sends(rows[1], 'dragover'); sends(rows[1], 'drop');
             return document.activeElement.name + ' ' + rows.at(-1).querySelector('[data-dropped]').value.split(':')[0];",
        )
        .await;
    assert_eq!(offered, "reason before");
    one.closes().await;
    other.closes().await;
}

/// Sends a request and answers its head.
fn asks(stream: &mut TcpStream, request: &str) -> String {
    stream.write_all(request.as_bytes()).unwrap();
    let mut head = Vec::new();
    let mut byte = [0];
    while !head.ends_with(b"\r\n\r\n") {
        stream.read_exact(&mut byte).unwrap();
        head.push(byte[0]);
    }
    String::from_utf8(head).unwrap()
}

/// Bytes of memory that a process holds.
fn memory(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    line.trim().trim_end_matches(" kB").trim().parse::<u64>().unwrap() * 1024
}

#[test]
fn forty_open_streams_cost_less_than_ten_mebibytes_and_end_when_the_program_stops() {
    let mut demo = Running::demo();
    let address = demo.address.clone();
    let form = "name=Ottilie&password=owner+by+the+weir";
    let mut stream = TcpStream::connect(&address).unwrap();
    let head = asks(
        &mut stream,
        &format!(
            "POST /sign-in HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nContent-Type: \
             application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{form}",
            form.len()
        ),
    );
    let cookie = head.lines().find_map(|line| line.strip_prefix("set-cookie: ")).unwrap();
    let cookie = cookie.split(';').next().unwrap().to_owned();
    let open = || {
        let mut stream = TcpStream::connect(&address).unwrap();
        let request =
            format!("GET /changes HTTP/1.1\r\nHost: {address}\r\nCookie: {cookie}\r\nAccept-Encoding: gzip\r\n\r\n");
        let head = asks(&mut stream, &request);
        assert!(head.starts_with("HTTP/1.1 200") && head.contains("text/event-stream"), "{head}");
        assert!(!head.contains("content-encoding"), "what is compressed waits until there is enough of it: {head}");
        // the first event is there at once
        let mut event = [0; 16];
        stream.read_exact(&mut event).unwrap();
        stream
    };
    // what the first costs is the program's own
    let first = open();
    let before = memory(demo.pid());
    let streams: Vec<TcpStream> = (0..40).map(|_| open()).collect();
    let cost = memory(demo.pid()).saturating_sub(before);
    assert!(cost < 10 * 1024 * 1024, "{cost} bytes");
    eprintln!("40 streams: {} KiB", cost / 1024);
    let told = Instant::now();
    assert!(demo.stop());
    assert!(told.elapsed() < Duration::from_secs(8), "no stream held it open: {:?}", told.elapsed());
    for mut stream in streams.into_iter().chain([first]) {
        let mut rest = Vec::new();
        // ended, not left hanging
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.read_to_end(&mut rest).unwrap();
    }
}
