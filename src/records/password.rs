//! Passwords: argon2id, slow on purpose, and what a password must not be.
//!
//! Parameters: OWASP Password Storage Cheat Sheet, argon2id with m = 19 MiB, t = 2, p = 1 (the
//! crate's defaults). Call from a blocking thread: a hash takes tens of milliseconds.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};

/// The shortest password taken, in characters.
pub const SHORTEST: usize = 12;
/// The longest, in characters.
pub const LONGEST: usize = 256;
/// A hash that no password matches, so that an unknown name costs as much time as a known one.
const NOBODY: &str =
    "$argon2id$v=19$m=19456,t=2,p=1$c29tZSBzYWx0IG9mIDE2Yg$3pEo4m2cSTb9pcjXuhtjOYyrRO2ESRFRBUmSzOEuGDk";
/// Words too common to protect anything, whatever is put around them. From memory.
const TOO_COMMON: &[&str] = &[
    "password",
    "passwort",
    "123456",
    "qwerty",
    "qwertz",
    "letmein",
    "welcome",
    "iloveyou",
    "administrator",
    "abc123",
    "111111",
    "000000",
    "guitar",
    "thumbplane",
];

/// Why a password is not taken, in words; `None` is good. `also_refused` are the shop's and the person's names.
pub fn objection(password: &str, also_refused: &[&str]) -> Option<String> {
    let count = password.chars().count();
    if count < SHORTEST {
        return Some(format!("Use at least {SHORTEST} characters. A few words in a row are easy to remember."));
    }
    if count > LONGEST {
        return Some(format!("Use at most {LONGEST} characters."));
    }
    let mut rest = super::fold::folded(password);
    for word in TOO_COMMON.iter().copied().chain(also_refused.iter().copied()) {
        let word = super::fold::folded(word);
        if word.len() >= 4 {
            rest = rest.replace(&word, "");
        }
    }
    let mut kinds: Vec<char> = rest.chars().filter(|c| !c.is_whitespace()).collect();
    kinds.sort_unstable();
    kinds.dedup();
    if kinds.len() < 5 {
        return Some("That is too easy to guess. Use a few words that do not name the shop or you.".to_owned());
    }
    None
}

/// Hashes a password into a PHC string.
///
/// # Errors
/// Only when the system gives no random salt.
pub fn hash(password: &str) -> super::Result<String> {
    Argon2::default().hash_password(password.as_bytes()).map(|hash| hash.to_string()).map_err(super::Error::unwritable)
}

/// Whether the password is the one behind the hash. `None` takes as long and is never right.
pub fn is_right(password: &str, hash: Option<&str>) -> bool {
    let Ok(parsed) = PasswordHash::new(hash.unwrap_or(NOBODY)) else {
        return false;
    };
    Argon2::default().verify_password(password.as_bytes(), &parsed).is_ok() && hash.is_some()
}

#[cfg(test)]
mod tests {
    use super::{hash, is_right, objection};

    #[test]
    fn a_password_opens_its_own_hash_and_no_other() {
        let kept = hash("weir and walnut shavings").unwrap();
        assert!(kept.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"));
        assert!(is_right("weir and walnut shavings", Some(&kept)));
        assert!(!is_right("weir and walnut shaving", Some(&kept)));
        assert!(!is_right("weir and walnut shavings", None));
    }

    #[test]
    fn short_or_guessable_passwords_are_refused_in_words() {
        assert!(objection("short", &[]).unwrap().contains("12"));
        assert!(objection("password1234", &[]).is_some());
        assert!(objection("Millrace Strings", &["Millrace Strings"]).is_some());
        assert_eq!(objection("oil spruce brass 9", &["Millrace Strings"]), None);
    }
}
