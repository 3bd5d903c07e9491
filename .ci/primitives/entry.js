// The primitives of the browser, put where the Python worker finds them.
//
// Everything that two implementations must agree on is checked in crypto/door.py.
import { gcm } from "@noble/ciphers/aes.js";
import { ed25519, x25519 } from "@noble/curves/ed25519.js";
import { argon2idAsync } from "@noble/hashes/argon2.js";
import { hkdf } from "@noble/hashes/hkdf.js";
import { sha256 } from "@noble/hashes/sha2.js";

// Lengths were checked; what the library still throws at is an all-zero secret.
function agree(privateKey, publicKey) {
  try {
    return x25519.getSharedSecret(privateKey, publicKey);
  } catch {
    return null;
  }
}

function unseal(key, nonce, sealed, associated) {
  try {
    return gcm(key, nonce, associated).decrypt(sealed);
  } catch {
    return null;
  }
}

function verify(publicKey, signature, message) {
  try {
    // RFC 8032 without cofactor, comparing the bytes of R, as the native half does.
    return ed25519.verify(signature, message, publicKey, { zip215: false });
  } catch {
    return false;
  }
}

globalThis.examPrimitives = Object.freeze({
  sha256: (message) => sha256(message),
  hkdf: (secret, salt, info, length) => hkdf(sha256, secret, salt, info, length),
  seal: (key, nonce, plain, associated) => gcm(key, nonce, associated).encrypt(plain),
  unseal,
  signingPublicKey: (seed) => ed25519.getPublicKey(seed),
  sign: (seed, message) => ed25519.sign(message, seed),
  verify,
  agreementPublicKey: (privateKey) => x25519.getPublicKey(privateKey),
  agree,
  // In chunks of a few milliseconds, so that the worker answers in between.
  deriveKey: (secret, salt, memoryKib, passes, lanes) =>
    argon2idAsync(secret, salt, {
      m: memoryKib, t: passes, p: lanes, version: 0x13, dkLen: 32, asyncTick: 10,
    }),
});
