//! The server's safety, through a real socket on this machine: strangers, nonsense, floods.

use std::net::SocketAddr;
use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;
use tokio::time::timeout;
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::tungstenite::{Error, Message};
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream, connect_async};

use crate::practice::guard::Guard;
use crate::practice::plan::REACH;
use crate::practice::server::{Shared, router};
use crate::practice::store::Store;

type Socket = WebSocketStream<MaybeTlsStream<TcpStream>>;

/// Nothing on this machine takes longer.
const PATIENCE: Duration = Duration::from_secs(20);

/// A server, and what stops it when it is dropped.
async fn served() -> (SocketAddr, watch::Sender<bool>) {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
    let at = listener.local_addr().unwrap();
    let (stop, stops) = watch::channel(false);
    let shared = Shared::new(Guard::new(at, None), Store::in_memory().unwrap(), REACH, "taken".into(), stops);
    tokio::spawn(async move { axum::serve(listener, router(shared)).await });
    (at, stop)
}

/// One request without a body; status and everything behind it.
async fn ask(at: SocketAddr, request: &str) -> (u16, String) {
    let mut stream = TcpStream::connect(at).await.unwrap();
    let text = format!("{request}\r\nConnection: close\r\n\r\n");
    stream.write_all(text.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    timeout(PATIENCE, stream.read_to_end(&mut answer)).await.unwrap().unwrap();
    let answer = String::from_utf8_lossy(&answer).into_owned();
    (answer.split(' ').nth(1).unwrap().parse().unwrap(), answer)
}

async fn socket(at: SocketAddr, origin: &str) -> Result<Socket, Error> {
    let mut request = format!("ws://{at}/socket").into_client_request().unwrap();
    request.headers_mut().insert("origin", origin.parse().unwrap());
    connect_async(request).await.map(|(socket, _)| socket)
}

async fn own(at: SocketAddr) -> Socket {
    socket(at, &format!("http://{at}")).await.unwrap()
}

/// Reads until the server closes; why it did.
async fn closed(mut socket: Socket) -> Option<(u16, String)> {
    loop {
        match timeout(PATIENCE, socket.next()).await.unwrap() {
            Some(Ok(Message::Close(frame))) => {
                return frame.map(|it| (it.code.into(), it.reason.to_string()));
            }
            Some(Ok(_)) => {}
            Some(Err(_)) | None => return None,
        }
    }
}

/// Reads until a message of a kind comes.
async fn kind(socket: &mut Socket, kind: &str) -> serde_json::Value {
    loop {
        if let Message::Text(text) = timeout(PATIENCE, socket.next()).await.unwrap().unwrap().unwrap() {
            let says: serde_json::Value = serde_json::from_str(&text).unwrap();
            if says["kind"] == kind {
                return says;
            }
        }
    }
}

/// The server still makes a start for a page.
async fn is_up(at: SocketAddr) {
    let mut page = own(at).await;
    let begin = r#"{"say":"begin","length":"30","mode":"dash","steered":true,"seed":1}"#;
    page.send(Message::text(begin)).await.unwrap();
    assert_eq!(kind(&mut page, "scene").await["plan"]["seed"], 1);
    assert_eq!(kind(&mut page, "state").await["paused"], false);
    page.close(None).await.unwrap();
}

#[tokio::test]
async fn strangers_are_turned_away_and_the_page_may_talk_to_nobody_else() {
    let (at, _stop) = served().await;
    let (status, answer) = ask(at, &format!("GET / HTTP/1.1\r\nHost: {at}")).await;
    assert_eq!(status, 200);
    assert!(answer.contains("default-src 'self'") && answer.contains("frame-ancestors 'none'"), "{answer}");
    assert_eq!(ask(at, "GET / HTTP/1.1\r\nHost: boats.example").await.0, 403);
    assert_eq!(ask(at, &format!("POST /start/1/take HTTP/1.1\r\nHost: {at}")).await.0, 403);
    assert_eq!(
        ask(at, &format!("GET /start/1 HTTP/1.1\r\nHost: {at}\r\nOrigin: http://boats.example")).await.0,
        403
    );
    assert_eq!(ask(at, &format!("GET /start/1 HTTP/1.1\r\nHost: {at}")).await.0, 404);
    assert_eq!(ask(at, &format!("GET /page/../../Cargo.toml HTTP/1.1\r\nHost: {at}")).await.0, 404);
    for origin in ["http://boats.example", "null", "http://localhost:1"] {
        let refused = socket(at, origin).await;
        assert!(
            matches!(&refused, Err(Error::Http(answer)) if answer.status() == 403),
            "{origin}: {refused:?}"
        );
    }
    is_up(at).await;
}

#[tokio::test]
async fn fuzzed_messages_leave_the_server_up() {
    let (at, _stop) = served().await;
    let mut runner = TestRunner::deterministic();
    let text = proptest::string::string_regex(
        r#"(\{"say":"(begin|hands|button|pause|end|x)"[ -~]{0,60}|\PC{0,80})"#,
    )
    .unwrap();
    for _ in 0..20 {
        let mut page = own(at).await;
        for _ in 0..15 {
            let text = text.new_tree(&mut runner).unwrap().current();
            page.send(Message::text(text)).await.unwrap();
        }
        page.send(Message::text(r#"{"say":"pause","on":true}"#)).await.unwrap();
        assert_eq!(kind(&mut page, "notice").await["about"], "refused");
    }
    is_up(at).await;
}

#[tokio::test]
async fn long_messages_floods_and_bytes_are_cut_off_with_a_reason() {
    let (at, _stop) = served().await;
    let mut long = own(at).await;
    let _ = long.send(Message::text("x".repeat(100_000))).await;
    assert!(closed(long).await.is_none_or(|(code, _)| code != 1000), "too long");

    let mut flood = own(at).await;
    for _ in 0..2_000 {
        if flood.send(Message::text(r#"{"say":"hands","throttle":1,"helm":0}"#)).await.is_err() {
            break;
        }
    }
    // The reason may be lost when the flood is still in the wire.
    assert!(closed(flood).await.is_none_or(|(code, _)| code == 1008), "a flood");

    let mut nonsense = own(at).await;
    for _ in 0..30 {
        let _ = nonsense.send(Message::text("?")).await;
    }
    assert!(closed(nonsense).await.is_none_or(|(code, _)| code == 1008), "nonsense");

    let mut bytes = own(at).await;
    bytes.send(Message::binary(vec![1, 2, 3])).await.unwrap();
    assert_eq!(closed(bytes).await.map(|(code, _)| code), Some(1003));
    is_up(at).await;
}

#[tokio::test]
async fn two_pages_drive_at_once_and_a_ninth_is_told_why_it_cannot() {
    let (at, stop) = served().await;
    let mut pages = Vec::new();
    for seed in 0..8 {
        let mut page = own(at).await;
        let begin = format!(r#"{{"say":"begin","length":"60","mode":"dash","steered":true,"seed":{seed}}}"#);
        page.send(Message::text(begin)).await.unwrap();
        assert_eq!(kind(&mut page, "scene").await["plan"]["seed"], seed);
        pages.push(page);
    }
    let (code, why) = closed(own(at).await).await.unwrap();
    assert_eq!(code, 1013);
    assert!(why.contains("too many pages"), "{why}");
    stop.send(true).unwrap();
    let (code, why) = closed(pages.pop().unwrap()).await.unwrap();
    assert_eq!((code, why.as_str()), (1001, "the server was stopped"));
}
