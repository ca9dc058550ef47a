//! The address a request came from, as a key for counting tries.

use crate::state::AppState;
use axum::extract::{ConnectInfo, FromRequestParts};
use axum::http::HeaderMap;
use axum::http::header::FORWARDED;
use axum::http::request::Parts;
use std::convert::Infallible;
use std::net::{IpAddr, SocketAddr};

/// The caller's address: that of the connection, or, when it comes from a proxy that the office
/// was told to trust, the one that the proxy names. A header of anyone else is not believed, since
/// anyone can send one.
pub(crate) struct Peer(pub(crate) String);

impl FromRequestParts<AppState> for Peer {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Infallible> {
        let info = parts.extensions.get::<ConnectInfo<SocketAddr>>();
        Ok(Self(info.map_or_else(
            || "local".to_owned(),
            |info| {
                let trusted = &state.door.trusted_proxies;
                origin(info.0.ip(), &parts.headers, trusted).to_string()
            },
        )))
    }
}

/// Walks back from the connection over proxies that are trusted, to the first that is not.
fn origin(peer: IpAddr, headers: &HeaderMap, trusted: &[IpAddr]) -> IpAddr {
    let mut at = peer.to_canonical();
    let mut named = named(headers);
    while trusted.iter().any(|proxy| proxy.to_canonical() == at) {
        let Some(Some(before)) = named.pop() else {
            break;
        };
        at = before;
    }
    at
}

/// Addresses that the headers name, the nearest last; none for one that is no address. RFC 7239's
/// `Forwarded` where there is one, else `X-Forwarded-For`.
fn named(headers: &HeaderMap) -> Vec<Option<IpAddr>> {
    let elements = |name: &str| -> Vec<String> {
        let lines = headers.get_all(name).iter();
        let lines = lines.filter_map(|line| line.to_str().ok());
        lines
            .flat_map(|line| line.split(','))
            .map(|element| element.trim().to_owned())
            .collect()
    };
    if !headers.contains_key(FORWARDED) {
        let all = elements("x-forwarded-for");
        return all.iter().map(|element| address(element)).collect();
    }
    let of = |element: String| {
        element.split(';').find_map(|pair| {
            let (key, value) = pair.split_once('=')?;
            let ours = key.trim().eq_ignore_ascii_case("for");
            ours.then(|| address(value.trim().trim_matches('"')))?
        })
    };
    elements(FORWARDED.as_str()).into_iter().map(of).collect()
}

/// An address with or without a port; IPv6 with or without brackets.
fn address(text: &str) -> Option<IpAddr> {
    let bare = text.trim_start_matches('[').trim_end_matches(']');
    let found = bare.parse::<IpAddr>().ok();
    let found = found.or_else(|| Some(text.parse::<SocketAddr>().ok()?.ip()));
    found.map(|ip| ip.to_canonical())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use axum::http::{HeaderName, HeaderValue};

    #[track_caller]
    fn check(peer: &str, headers: &[(&'static str, &'static str)], expected: &str) {
        let trusted = ["10.0.0.1", "10.0.0.2", "::1"].map(|ip| ip.parse().unwrap());
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(
                HeaderName::from_static(name),
                HeaderValue::from_static(value),
            );
        }
        let found = origin(peer.parse().unwrap(), &map, &trusted);
        assert_eq!(found.to_string(), expected, "{headers:?}");
    }

    #[test]
    fn only_a_trusted_proxy_names_another_address() {
        let old = "x-forwarded-for";
        check("192.0.2.7", &[(old, "198.51.100.1")], "192.0.2.7");
        check("10.0.0.1", &[(old, "198.51.100.1")], "198.51.100.1");
        check("10.0.0.1", &[(old, "198.51.100.1:4711")], "198.51.100.1");
        // What the caller wrote itself stands before what the proxy added.
        check(
            "10.0.0.1",
            &[(old, "203.0.113.9, 198.51.100.1")],
            "198.51.100.1",
        );
        check(
            "10.0.0.1",
            &[(old, "203.0.113.9"), (old, "198.51.100.1")],
            "198.51.100.1",
        );
        // Through two proxies.
        check(
            "10.0.0.1",
            &[(old, "203.0.113.9, 198.51.100.1, 10.0.0.2")],
            "198.51.100.1",
        );
        check("10.0.0.1", &[], "10.0.0.1");
        check("10.0.0.1", &[(old, "unknown")], "10.0.0.1");
        check("::ffff:10.0.0.1", &[(old, "2001:db8::5")], "2001:db8::5");
        let new = "forwarded";
        let value = "for=203.0.113.9, for=\"[2001:db8::5]:4711\";proto=https";
        check("::1", &[(new, value)], "2001:db8::5");
        check(
            "10.0.0.1",
            &[(new, "proto=https;For=198.51.100.1")],
            "198.51.100.1",
        );
        check("10.0.0.1", &[(new, "for=_hidden")], "10.0.0.1");
        check(
            "10.0.0.1",
            &[(new, "for=198.51.100.1"), (old, "203.0.113.9")],
            "198.51.100.1",
        );
    }
}
