//! Digests by which bytes are known again: SHA-256 in 64 hexadecimal digits.

use std::io::{self, Read};

use sha2::{Digest, Sha256};

/// The digest of these bytes.
///
/// ```
/// // The example "abc" of FIPS 180-4's companion test vectors (NIST), from memory.
/// let digest = hitchwork_collection::digest::sha256(b"abc");
/// assert!(digest.starts_with("ba7816bf8f01cfea414140de5dae2223"));
/// ```
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// The digest of all that can be read.
///
/// ```
/// use hitchwork_collection::digest::{sha256, sha256_of};
/// assert_eq!(sha256_of(&b"ebb"[..])?, sha256(b"ebb"));
/// # Ok::<(), std::io::Error>(())
/// ```
///
/// # Errors
/// When it cannot be read to its end.
pub fn sha256_of(mut from: impl Read) -> io::Result<String> {
    let mut hasher = Sha256::new();
    io::copy(&mut from, &mut hasher)?;
    Ok(format!("{:x}", hasher.finalize()))
}
