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
    // the roles
    "owner",
    "bench",
    "desk",
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
    if is_counting(&rest) {
        return Some("That is counting, or a row of keys, and is guessed first. Use a few words in a row.".to_owned());
    }
    let mut kinds: Vec<char> = rest.chars().filter(|c| !c.is_whitespace()).collect();
    kinds.sort_unstable();
    kinds.dedup();
    if kinds.len() < 5 {
        return Some("That is too easy to guess. Use a few words that do not name the shop or you.".to_owned());
    }
    None
}

/// Rows of keys that fingers run along, from memory.
const KEY_ROWS: [&str; 6] = ["qwertyuiop", "qwertzuiop", "asdfghjkl", "zxcvbnm", "yxcvbnm", "1234567890"];

/// Whether most of it is one character after its neighbour: 2345, dcba, uiop.
fn is_counting(password: &str) -> bool {
    let characters: Vec<char> = password.chars().filter(|c| !c.is_whitespace()).collect();
    let is_beside = |pair: &[char]| {
        let [one, next] = pair else { return false };
        let apart = u32::from(*one).abs_diff(u32::from(*next));
        let both: [String; 2] = [[*one, *next].iter().collect(), [*next, *one].iter().collect()];
        apart <= 1 || KEY_ROWS.iter().any(|row| both.iter().any(|both| row.contains(both.as_str())))
    };
    let beside = characters.windows(2).filter(|pair| is_beside(pair)).count();
    2 * beside > characters.len()
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
    use argon2::password_hash::phc::PasswordHash;
    use argon2::{Algorithm, Argon2, AssociatedData, ParamsBuilder, Version};

    use super::{LONGEST, NOBODY, hash, is_right, objection};

    // RFC 9106, section 5.3: the test vector of Argon2id, version 0x13
    #[test]
    fn the_hash_is_argon2id_as_the_rfc_prints_it() {
        let data = AssociatedData::new(&[4; 12]).unwrap();
        let params = ParamsBuilder::new().m_cost(32).t_cost(3).p_cost(4).data(data).output_len(32).build().unwrap();
        let argon = Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        let printed = "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659";
        assert_eq!(data_encoding::HEXLOWER.encode(&tag), printed);
    }

    // OWASP Password Storage Cheat Sheet: at least 19 MiB, 2 turns, 1 lane; RFC 9106, section 3.1: a salt of 16 bytes
    // is recommended; section 4: a tag of 256 bits
    #[test]
    fn parameters_salt_and_tag_are_the_recommended_ones() {
        let (one, other) = (hash("weir and walnut shavings").unwrap(), hash("weir and walnut shavings").unwrap());
        assert_ne!(one, other, "each has a salt of its own");
        for kept in [one.as_str(), other.as_str(), NOBODY] {
            let read = PasswordHash::new(kept).unwrap();
            assert_eq!(read.params.to_string(), "m=19456,t=2,p=1", "an unknown name costs as much as a known one");
            assert_eq!((read.algorithm.as_str(), read.version), ("argon2id", Some(19)));
            assert_eq!(read.salt.unwrap().as_ref().len(), 16);
            assert_eq!(read.hash.unwrap().len(), 32);
        }
    }

    // OWASP ASVS 5.0.0, V6.2.8 and V6.2.9: compared whole, not cut and not case-changed; at least 64 characters
    #[test]
    fn a_password_counts_to_its_last_character() {
        let long: String = "weir ä 漢 ".chars().cycle().take(LONGEST - 1).collect();
        let kept = hash(&format!("{long}x")).unwrap();
        assert_eq!(objection(&format!("{long}x"), &[]), None);
        assert!(objection(&format!("{long}xy"), &[]).is_some_and(|words| words.contains("256")));
        assert!(is_right(&format!("{long}x"), Some(&kept)));
        for wrong in [format!("{long}y"), long.clone(), format!("{long}x "), format!("{long}X")] {
            assert!(!is_right(&wrong, Some(&kept)), "{} characters", wrong.chars().count());
        }
    }

    // OWASP ASVS 5.0.0, V6.1.2 and V6.2.11 (names of the house), V6.2.5 (any characters), V6.2.1 (length)
    #[test]
    fn the_houses_own_words_are_no_passwords_and_any_characters_are() {
        let names = &["Millrace Strings", "Ottilie"][..];
        for weak in [
            "Thumbplane thumbplane",
            "MILLRACE STRINGS 1",
            "millrace strings!!!",
            "ottilie ottilie",
            "OTTILIE 2026",
            "owner owner owner",
            "bench desk owner 1",
            "guitar guitar 12",
            "qwertyqwerty1",
            "aaaaaaaaaaaa",
            "12345612345678",
            "987654321098",
            "abcdefghijklm",
            "qwertzuiop12",
            "asdfghjkl asdf",
            "zyxwvutsrqponm",
            "             ",
        ] {
            assert!(objection(weak, names).is_some(), "{weak}");
        }
        for strong in
            ["oil spruce brass 9", "漢字かな交じり文の合言葉です", "🎸🪕🎻🪗🥁🎷🎺🎹🪘🎼🎵🎶", "' OR 1=1; -- \t<b>"]
        {
            assert_eq!(objection(strong, names), None, "{strong}");
        }
    }

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
