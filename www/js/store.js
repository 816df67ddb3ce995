// @ts-check
// What the browser keeps between visits: appearance and settings, never logs. Some browsers share one
// store among all pages opened from disk, so keys are prefixed and contents are not trusted.

const PREFIX = "wattsieve/1/";

/** @param {string} key @returns {any} */
export function recall(key) {
  try {
    const text = localStorage.getItem(PREFIX + key);
    return text === null ? null : JSON.parse(text);
  } catch {
    return null;
  }
}

/** @param {string} key @param {any} value @returns {boolean} whether it was kept */
export function remember(key, value) {
  try {
    if (value === null) localStorage.removeItem(PREFIX + key);
    else localStorage.setItem(PREFIX + key, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}
