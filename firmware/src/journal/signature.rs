//! Signatures under seals: Ed25519 (RFC 8032), by a library.
//!
//! The key belongs to the board; whoever holds its public half can tell the board's seals from anybody else's. Off the
//! timing path: a seal may be signed once the heat is over, or when the record is taken from the board.
//!
//! Knows seals. A key and a seal in, a signature out; and back.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};

use super::Seal;

/// A signature as the journal holds it: its 64 bytes in two halves.
pub type Halves = [[u8; 32]; 2];

/// The public key of a secret one.
#[must_use]
pub fn public_key(secret: &[u8; 32]) -> [u8; 32] {
    SigningKey::from_bytes(secret).verifying_key().to_bytes()
}

/// Signs a seal.
#[must_use]
pub fn sign(secret: &[u8; 32], seal: &Seal) -> Halves {
    let signature = SigningKey::from_bytes(secret).sign(&seal.message());
    [*signature.r_bytes(), *signature.s_bytes()]
}

/// Whether this is the signature of that seal by the holder of that key. Keys and signatures that are weak or not in
/// their one form are refused.
#[must_use]
pub fn is_good(key: &[u8; 32], seal: &Seal, [r, s]: &Halves) -> bool {
    let signature = Signature::from_components(*r, *s);
    VerifyingKey::from_bytes(key).is_ok_and(|key| key.verify_strict(&seal.message(), &signature).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bytes<const N: usize>(hex: &str) -> [u8; N] {
        let mut bytes = [0; N];
        for (place, byte) in bytes.iter_mut().enumerate() {
            *byte = u8::from_str_radix(&hex[2 * place..2 * place + 2], 16).unwrap();
        }
        bytes
    }

    /// Source: RFC 8032, "Edwards-Curve Digital Signature Algorithm (EdDSA)", section 7.1, test 1 (an empty message)
    /// and test 2 (the message 72).
    #[test]
    fn keys_and_signatures_are_those_of_the_published_vectors() {
        let secret = bytes("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60");
        let public = bytes("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a");
        assert_eq!(public_key(&secret), public);
        let secret = bytes("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb");
        let public: [u8; 32] = bytes("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c");
        assert_eq!(public_key(&secret), public);
        let signature: [u8; 64] = bytes(
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da\
             085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        );
        assert_eq!(SigningKey::from_bytes(&secret).sign(&[0x72]).to_bytes(), signature);
    }
}
