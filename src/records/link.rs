//! The customer's private link: a token nobody can guess, derived from a secret in the data folder
//! so that a ticket can be printed again, and kept in the books only as a hash.

use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use data_encoding::BASE64URL_NOPAD;
use hmac::{Hmac, KeyInit, Mac};
use sha2::{Digest, Sha256};

use super::JobId;
use super::whole_file::write_whole;

/// The file of the secret in a data folder.
pub(super) const SECRET_FILE: &str = "link-secret";
const SECRET_BYTES: usize = 32;
const TOKEN_BYTES: usize = 16;

/// The secret from which links are derived. Never printed.
#[derive(Clone)]
pub struct LinkSecret(Arc<[u8; SECRET_BYTES]>);

impl std::fmt::Debug for LinkSecret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("LinkSecret")
    }
}

impl LinkSecret {
    /// Reads the folder's secret, or makes one from the system's generator.
    pub(super) fn in_folder(folder: &Path) -> std::io::Result<Self> {
        let path = folder.join(SECRET_FILE);
        let mut secret = [0; SECRET_BYTES];
        match std::fs::File::open(&path) {
            Ok(mut file) => file.read_exact(&mut secret)?,
            Err(cause) if cause.kind() == std::io::ErrorKind::NotFound => {
                getrandom::fill(&mut secret).map_err(std::io::Error::other)?;
                write_whole(&path, &secret)?;
            }
            Err(cause) => return Err(cause),
        }
        Ok(Self(Arc::new(secret)))
    }

    /// The token of a job's private page: 128 bits, base64url, 22 characters. `number` counts how often the link
    /// was made anew.
    pub fn token(&self, job: JobId, number: i64) -> String {
        let mut data = job.0.as_bytes().to_vec();
        if number > 0 {
            data.extend(number.to_be_bytes());
        }
        BASE64URL_NOPAD.encode(&self.derive(b"job link", &data)[..TOKEN_BYTES])
    }

    /// A seal over a short text that leaves the house and comes back (a cookie).
    pub fn seal(&self, text: &str) -> String {
        BASE64URL_NOPAD.encode(&self.derive(b"sealed text", text.as_bytes())[..TOKEN_BYTES])
    }

    fn derive(&self, purpose: &[u8], data: &[u8]) -> [u8; 32] {
        // a key of 32 bytes is always accepted by HMAC
        let mut mac = match Hmac::<Sha256>::new_from_slice(self.0.as_slice()) {
            Ok(mac) => mac,
            Err(_) => return [0; 32],
        };
        mac.update(purpose);
        mac.update(&[0]);
        mac.update(data);
        mac.finalize().into_bytes().into()
    }
}

/// What the books keep of a token.
pub(super) fn hash(token: &str) -> [u8; 32] {
    Sha256::digest(token.as_bytes()).into()
}
