//! What an enrolment QR code says: where the office is, and the one-time code.
//!
//! The text is an address of the office with the code behind `#`, so that a camera without the
//! app opens a page that explains, and the code itself is never sent by it.

/// An invitation to enrol a device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invitation {
    /// Address of the office, such as `https://office.example`.
    pub server: String,
    /// The one-time code.
    pub code: String,
}

impl Invitation {
    const PLACE: &'static str = "/enrol#";

    /// The text for a QR code.
    pub fn text(&self) -> String {
        format!(
            "{}{}{}",
            self.server.trim_end_matches('/'),
            Self::PLACE,
            self.code
        )
    }

    /// Reads a scanned text; none when it is no invitation.
    pub fn read(text: &str) -> Option<Self> {
        let (server, code) = text.trim().split_once(Self::PLACE)?;
        let web = server.starts_with("https://") || server.starts_with("http://");
        let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
        let good = !code.is_empty() && code.len() <= 64 && code.chars().all(plain);
        if !web || !good || server.len() > 500 || server.contains(char::is_whitespace) {
            return None;
        }
        Some(Self {
            server: server.to_owned(),
            code: code.to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_is_written_is_read_and_other_codes_are_not_mistaken_for_it() {
        let made = Invitation {
            server: "https://office.example".to_owned(),
            code: "7KQ2-M9XF-PT4D".to_owned(),
        };
        assert_eq!(made.text(), "https://office.example/enrol#7KQ2-M9XF-PT4D");
        assert_eq!(Invitation::read(&made.text()).unwrap(), made);
        let slash = Invitation {
            server: "https://office.example/".to_owned(),
            ..made.clone()
        };
        assert_eq!(slash.text(), made.text());
        for other in [
            "",
            "https://office.example",
            "https://office.example/enrol#",
            "https://office.example/enrol#a b",
            "https://office.example/enrol#<script>",
            "javascript:alert(1)/enrol#7KQ2",
            "WIFI:S:roof;T:WPA;P:secret;;",
        ] {
            assert!(Invitation::read(other).is_none(), "{other}");
        }
    }
}
