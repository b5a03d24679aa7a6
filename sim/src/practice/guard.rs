//! Who may talk to the server: this machine's own browser, and a page that this server gave it.
//!
//! * **Host.** A name that a stranger's domain points at this machine is not ours; so the host that the browser
//!   believes to talk to must be one of this server's own addresses.
//! * **Origin.** A socket, and whatever changes something, is opened by this server's own page only.
//! * **Token.** A server that listens beyond this machine gives nothing away without its token; the first address holds it,
//!   then a cookie does.
//!
//! Headers in, an answer out. Knows nothing of what is served.

use std::net::{IpAddr, SocketAddr};

use axum::http::{HeaderMap, Method, header};

/// The cookie's name.
const COOKIE: &str = "gunline-token";

/// The rules of one server.
#[derive(Clone, Debug)]
pub struct Guard {
    at: SocketAddr,
    token: Option<String>,
}

/// Why a request is turned away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The browser believes to talk to somebody else.
    #[error("this server answers only to its own address; open the address that it printed when it began")]
    Host,
    /// Another page asks.
    #[error("only this server's own page may do that; open the address that it printed when it began")]
    Origin,
    /// The token is missing or wrong.
    #[error("this server needs its token; open the whole address that it printed when it began")]
    Token,
}

impl Guard {
    /// The rules of a server at `at`; with a token everything needs it.
    #[must_use]
    pub const fn new(at: SocketAddr, token: Option<String>) -> Self {
        Self { at, token }
    }

    /// The address to open in a browser.
    #[must_use]
    pub fn address(&self) -> String {
        let token = self.token.as_ref().map_or(String::new(), |token| format!("?token={token}"));
        format!("http://{}/{token}", self.at)
    }

    /// May this request be answered? `changes` is true for what is more than looking.
    ///
    /// # Errors
    /// Why not.
    pub fn check(&self, method: &Method, headers: &HeaderMap, changes: bool) -> Result<(), Refusal> {
        let host = text(headers, header::HOST).filter(|host| self.is_own(host)).ok_or(Refusal::Host)?;
        let origin = text(headers, header::ORIGIN);
        let own = origin.is_some_and(|origin| origin.strip_prefix("http://") == Some(host));
        let looks = !changes && (method == Method::GET || method == Method::HEAD);
        if !own && (origin.is_some() || !looks) {
            return Err(Refusal::Origin);
        }
        let given = self.token.as_ref().is_none_or(|token| cookie(headers).is_some_and(|it| same(it, token)));
        if given { Ok(()) } else { Err(Refusal::Token) }
    }

    /// The cookie to give for a token that came in the address; none when it is wrong, or none is needed.
    #[must_use]
    pub fn cookie_for(&self, given: &str) -> Option<String> {
        let token = self.token.as_ref().filter(|token| same(given, token))?;
        Some(format!("{COOKIE}={token}; HttpOnly; SameSite=Strict; Path=/"))
    }

    /// Is this one of our own addresses? A server that listens everywhere knows not all of its own; there the token does.
    fn is_own(&self, host: &str) -> bool {
        let port = self.at.port();
        let (name, given) = match host.rsplit_once(':') {
            Some((name, given)) if !given.contains(']') => (name, given.parse().unwrap_or(0)),
            _ => (host, 80),
        };
        let bare = name.trim_start_matches('[').trim_end_matches(']');
        let address: Option<IpAddr> = bare.parse().ok();
        let loopback = bare == "localhost" || address.is_some_and(|it| it.is_loopback());
        let own = address == Some(self.at.ip());
        given == port && (own || (self.at.ip().is_loopback() && loopback) || self.at.ip().is_unspecified())
    }
}

fn text(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    headers.get(name)?.to_str().ok()
}

fn cookie(headers: &HeaderMap) -> Option<&str> {
    let all = text(headers, header::COOKIE)?;
    all.split(';').find_map(|one| one.trim().strip_prefix(COOKIE)?.strip_prefix('='))
}

/// Equal? In a time that does not tell where they differ.
fn same(a: &str, b: &str) -> bool {
    let differ = a.bytes().zip(b.bytes()).fold(0, |sum, (a, b)| sum | (a ^ b));
    a.len() == b.len() && differ == 0
}

/// A token that nobody guesses: 128 bits from the system.
///
/// # Errors
/// When the system has none to give.
pub fn fresh_token() -> Result<String, getrandom::Error> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|(name, value)| (header::HeaderName::from_static(name), value.parse().unwrap()))
            .collect()
    }

    fn guard() -> Guard {
        Guard::new("127.0.0.1:8425".parse().unwrap(), None)
    }

    #[test]
    fn a_strangers_name_for_this_machine_is_turned_away() {
        for host in ["127.0.0.1:8425", "localhost:8425", "[::1]:8425"] {
            assert_eq!(guard().check(&Method::GET, &headers(&[("host", host)]), false), Ok(()), "{host}");
        }
        for host in ["boats.example:8425", "127.0.0.1", "127.0.0.1:80", "127.0.0.1.boats.example:8425", ""] {
            let asked = guard().check(&Method::GET, &headers(&[("host", host)]), false);
            assert_eq!(asked, Err(Refusal::Host), "{host}");
        }
        assert_eq!(guard().check(&Method::GET, &HeaderMap::new(), false), Err(Refusal::Host));
    }

    #[test]
    fn only_the_own_page_opens_a_socket_or_changes_anything() {
        let own = ("host", "127.0.0.1:8425");
        let from = |origin: &str| guard().check(&Method::GET, &headers(&[own, ("origin", origin)]), true);
        assert_eq!(from("http://127.0.0.1:8425"), Ok(()));
        for origin in [
            "http://boats.example",
            "null",
            "https://127.0.0.1:8425",
            "http://127.0.0.1:84250",
            "http://localhost:8425",
        ] {
            assert_eq!(from(origin), Err(Refusal::Origin), "{origin}");
        }
        assert_eq!(guard().check(&Method::GET, &headers(&[own]), true), Err(Refusal::Origin), "without any");
        assert_eq!(guard().check(&Method::POST, &headers(&[own]), false), Err(Refusal::Origin));
        let asked = headers(&[own, ("origin", "http://boats.example")]);
        assert_eq!(
            guard().check(&Method::GET, &asked, false),
            Err(Refusal::Origin),
            "nor looks on from elsewhere"
        );
    }

    #[test]
    fn beyond_this_machine_nothing_is_given_without_the_token() {
        let guard = Guard::new("192.0.2.7:8425".parse().unwrap(), Some("secret".to_owned()));
        let with = |cookie: &str| {
            guard.check(&Method::GET, &headers(&[("host", "192.0.2.7:8425"), ("cookie", cookie)]), false)
        };
        assert_eq!(with("other=1; gunline-token=secret"), Ok(()));
        for cookie in
            ["", "gunline-token=", "gunline-token=secre", "gunline-token=secret2", "xgunline-token=secret"]
        {
            assert_eq!(with(cookie), Err(Refusal::Token), "{cookie}");
        }
        assert!(guard.cookie_for("secret").is_some() && guard.cookie_for("Secret").is_none());
        assert_eq!(guard.address(), "http://192.0.2.7:8425/?token=secret");
    }

    #[test]
    fn tokens_are_long_and_differ() {
        let (one, other) = (fresh_token().unwrap(), fresh_token().unwrap());
        assert_eq!(one.len(), 32);
        assert_ne!(one, other);
    }
}
