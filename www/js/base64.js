// @ts-check
// Bytes written as base64.

/** Bytes of a base64 text. @param {string} text */
export function bytesFromBase64(text) {
  const trimmed = text.trim();
  // @ts-ignore not in every browser yet
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(trimmed);
  return Uint8Array.from(atob(trimmed), (c) => c.charCodeAt(0));
}
