//! Secrets: random bytes, how a person types them, and the hash under which they are kept.
//!
//! A secret is shown once, when it is made; the database only ever holds [`digest`] of it.

use crate::error::AppError;

/// Letters and digits that cannot be mistaken for one another (Crockford's base 32).
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Random bytes from the system.
pub(crate) fn bytes<const N: usize>() -> Result<[u8; N], AppError> {
    let mut bytes = [0u8; N];
    getrandom::fill(&mut bytes).map_err(|e| AppError::internal("random bytes", e))?;
    Ok(bytes)
}

/// A secret of 32 random bytes as 64 hex digits: device tokens, sessions, links.
pub(crate) fn token() -> Result<String, AppError> {
    Ok(hex(&bytes::<32>()?))
}

/// A secret of 60 random bits that a person can type, such as `7KQ2-M9XF-PT4D`.
pub(crate) fn spoken_code() -> Result<String, AppError> {
    let bytes = bytes::<12>()?;
    let mut code = String::with_capacity(14);
    for (i, byte) in bytes.iter().enumerate() {
        if i > 0 && i % 4 == 0 {
            code.push('-');
        }
        code.push(
            ALPHABET
                .get(usize::from(byte % 32))
                .copied()
                .unwrap_or(b'0') as char,
        );
    }
    Ok(code)
}

/// A typed code in its one form: capitals, no dashes or spaces, look-alikes read as meant.
pub(crate) fn tidy_code(typed: &str) -> String {
    typed
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .map(|c| match c.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        })
        .collect()
}

/// The form in which a secret is kept.
pub(crate) fn digest(secret: &str) -> Vec<u8> {
    blake3::hash(secret.as_bytes()).as_bytes().to_vec()
}

/// Bytes written in hex; none for other text.
pub(crate) fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digit = |byte: u8| (byte as char).to_digit(16).map(|digit| digit as u8);
    let pair = |pair: &[u8]| match pair {
        [high, low] => Some(digit(*high)? << 4 | digit(*low)?),
        _ => None,
    };
    text.as_bytes().chunks(2).map(pair).collect()
}

/// Bytes in hex.
pub(crate) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn codes_survive_being_typed_by_hand() {
        let code = spoken_code().unwrap();
        assert_eq!(code.len(), 14);
        let sloppy = code
            .to_lowercase()
            .replace('-', " ")
            .replace('0', "o")
            .replace('1', "l");
        assert_eq!(tidy_code(&sloppy), tidy_code(&code));
        assert_ne!(spoken_code().unwrap(), code);
        assert_eq!(token().unwrap().len(), 64);
    }
}
