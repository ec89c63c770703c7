//! Digests by which bytes are recognised: SHA-256 in 64 hexadecimal digits.

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

#[cfg(test)]
mod tests {
    use super::*;

    /// A million times "a": the long example of FIPS 180-2 (2002), appendix B.3, from memory.
    #[test]
    fn what_is_long_is_read_to_its_end() {
        let long = vec![b'a'; 1_000_000];
        let published = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0";
        assert_eq!(sha256(&long), published);
        assert_eq!(sha256_of(&long[..]).expect("memory can be read"), published);
    }
}
