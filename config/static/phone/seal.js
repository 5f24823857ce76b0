// Sealing to the service's public key: HPKE (RFC 9180) in base mode with DHKEM(P-256, HKDF-SHA256), HKDF-SHA256
// and AES-128-GCM, put together from the browser's own WebCrypto. What is sealed here nobody can open on the phone.

const subtle = globalThis.crypto?.subtle;
const P256 = { name: "ECDH", namedCurve: "P-256" };
const SHARED_BYTES = 32;
const KEY_BYTES = 16;
const NONCE_BYTES = 12;

const ascii = (text) => new TextEncoder().encode(text);
const twoBytes = (n) => Uint8Array.of(n >> 8, n & 255);

// RFC 9180 section 7: KEM 0x0010, KDF 0x0001, AEAD 0x0001.
const KEM_SUITE = join(ascii("KEM"), twoBytes(0x0010));
const HPKE_SUITE = join(ascii("HPKE"), twoBytes(0x0010), twoBytes(0x0001), twoBytes(0x0001));

export const canSeal = Boolean(subtle);

function join(...parts) {
  const whole = new Uint8Array(parts.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

async function hmac(key, data) {
  const hashKey = await subtle.importKey("raw", key, { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
  return new Uint8Array(await subtle.sign("HMAC", hashKey, data));
}

// HKDF-Extract. An empty salt is a key of zeros (RFC 5869 section 2.2); WebCrypto takes no empty one.
function labeledExtract(suite, salt, label, ikm) {
  const key = salt.length ? salt : new Uint8Array(32);
  return hmac(key, join(ascii("HPKE-v1"), suite, ascii(label), ikm));
}

// HKDF-Expand for up to 32 bytes: one block is enough for everything this suite asks for.
async function labeledExpand(suite, prk, label, info, length) {
  const labeled = join(twoBytes(length), ascii("HPKE-v1"), suite, ascii(label), info);
  return (await hmac(prk, join(labeled, Uint8Array.of(1)))).slice(0, length);
}

// Section 4.1. `pair` is a fresh key pair; the vectors of the RFC give a fixed one.
async function encapsulate(receiver, pair) {
  const receiverKey = await subtle.importKey("raw", receiver, P256, false, []);
  const secret = new Uint8Array(await subtle.deriveBits({ name: "ECDH", public: receiverKey }, pair.privateKey, 256));
  const enc = new Uint8Array(await subtle.exportKey("raw", pair.publicKey));
  const prk = await labeledExtract(KEM_SUITE, new Uint8Array(), "eae_prk", secret);
  const shared = await labeledExpand(KEM_SUITE, prk, "shared_secret", join(enc, receiver), SHARED_BYTES);
  return { enc, shared };
}

// Section 5.1 in base mode: no pre-shared key.
async function keySchedule(shared, info) {
  const none = new Uint8Array();
  const pskIdHash = await labeledExtract(HPKE_SUITE, none, "psk_id_hash", none);
  const infoHash = await labeledExtract(HPKE_SUITE, none, "info_hash", info);
  const context = join(Uint8Array.of(0), pskIdHash, infoHash);
  const secret = await labeledExtract(HPKE_SUITE, shared, "secret", none);
  const key = await labeledExpand(HPKE_SUITE, secret, "key", context, KEY_BYTES);
  const nonce = await labeledExpand(HPKE_SUITE, secret, "base_nonce", context, NONCE_BYTES);
  return { key, nonce };
}

// Seals bytes to the receiver's point (65 bytes, uncompressed): {enc, shared, key, nonce, sealed}, as the RFC names
// them. One message a key pair, so the sequence number is always 0 and the nonce is the base nonce.
export async function sealBytes({ receiver, info, plain, aad = new Uint8Array(), pair = null }) {
  const fresh = pair || (await subtle.generateKey(P256, true, ["deriveBits"]));
  const { enc, shared } = await encapsulate(receiver, fresh);
  const { key, nonce } = await keySchedule(shared, info);
  const gcm = await subtle.importKey("raw", key, "AES-GCM", false, ["encrypt"]);
  const sealed = await subtle.encrypt({ name: "AES-GCM", iv: nonce, additionalData: aad }, gcm, plain);
  return { enc, shared, key, nonce, sealed: new Uint8Array(sealed) };
}

export function toText(bytes) {
  let binary = "";
  for (const byte of bytes) binary += String.fromCharCode(byte);
  return btoa(binary).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

export function fromText(text) {
  const binary = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(binary, (character) => character.charCodeAt(0));
}

// A message as it travels: base64url of enc || ciphertext, bound to its key by the info.
export async function sealMessage(publicKey, messageKey, message) {
  const { enc, sealed } = await sealBytes({
    receiver: fromText(publicKey),
    info: ascii(`three-fifteen phone 1 ${messageKey}`),
    plain: ascii(JSON.stringify(message)),
  });
  return toText(join(enc, sealed));
}
