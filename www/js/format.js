// @ts-check
// Numbers as people read them: unit, prefix, and the 95 % interval (1.96 standard uncertainties) to at
// most two significant digits, the value rounded to match (JCGM 100:2008, 7.2.6). Digits are grouped by
// narrow spaces and the decimal marker is a point throughout.

/** Two-sided 95 % of a normal distribution, in standard uncertainties. */
const COVERAGE_95 = 1.96;
const THIN = "\u202f";
const MINUS = "\u2212";

/** @param {number} value @param {number} decimals */
export function fixed(value, decimals) {
  const text = Math.abs(value).toFixed(Math.min(12, Math.max(0, decimals)));
  const [whole, part] = text.split(".");
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  const sign = value < 0 && Number(text) !== 0 ? MINUS : "";
  return sign + grouped + (part ? "." + part : "");
}

/** A count of things. @param {number|null|undefined} n */
export function count(n) {
  return n === null || n === undefined ? "\u2013" : String(Math.round(n)).replace(/\B(?=(\d{3})+$)/g, THIN);
}

/** "1 row", "2 rows". @param {number} n @param {string} one @param {string} [many] */
export function counted(n, one, many) {
  return `${count(n)} ${n === 1 ? one : many ?? one + "s"}`;
}

/** "once", "3 times". @param {number} n */
export function times(n) {
  return n === 1 ? "once" : `${count(n)} times`;
}

/** A clause of the core as a sentence. @param {string|null|undefined} text */
export function sentence(text) {
  if (!text) return "";
  const quoted = text.replace(/`([^`]*)`/gu, "“$1”").replace(/(^|[\s(])-(?=\d)/g, `$1${MINUS}`);
  const whole = quoted.charAt(0).toUpperCase() + quoted.slice(1);
  return /[.!?]$/.test(whole) ? whole : `${whole}.`;
}

/** Decimals at which an interval keeps one digit, or two where the first is 1. @param {number} interval */
export function decimalsFor(interval) {
  if (!(interval > 0) || !Number.isFinite(interval)) return 3;
  const exponent = Math.floor(Math.log10(interval));
  const lead = interval / 10 ** exponent;
  const digits = lead < 1.95 || lead >= 9.5 ? 2 : 1;
  if (lead >= 9.5) return Math.max(0, -exponent);
  return Math.max(0, digits - 1 - exponent);
}

/** A number with some significant digits and no interval. @param {number} value @param {number} digits */
function significant(value, digits) {
  if (value === 0) return "0";
  const rounded = Number(value.toPrecision(digits));
  return fixed(rounded, Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(rounded)))));
}

/** Below this many of the base unit, the thousandth is used. */
const MILLI_BELOW = { V: 0.1, A: 0.01, W: 0.2, "Ω": 1, s: 0.1, J: 0.1, "A/V": 0.1, "Ω/A": 1 };

/** @param {string} unit @param {number} size */
function prefixed(unit, size) {
  const limit = /** @type {Record<string, number>} */ (MILLI_BELOW)[unit];
  const magnitude = Math.abs(size);
  if (limit === undefined || !(magnitude < limit) || magnitude === 0) return { factor: 1, unit };
  if (magnitude < limit / 1000 && (unit === "s" || unit === "A" || unit === "V" || unit === "W" || unit === "A/V")) return { factor: 1e6, unit: "µ" + unit };
  return { factor: 1e3, unit: "m" + unit };
}

/**
 * A quantity in parts: `value`, `pm` (without sign) and `unit`; null `pm` where no interval is known.
 * Efficiency and shares use unit "%", their interval then reads in points.
 * @param {{value: number|null, u: number|null, why?: string}|null|undefined} q
 * @param {string} unit @param {number} [digits] shown where there is no interval
 */
export function pieces(q, unit, digits = 4) {
  if (!q || q.value === null || q.value === undefined || !Number.isFinite(q.value)) return { value: "\u2013", pm: null, unit: "" };
  const percent = unit === "%" || unit === "points";
  const scale = percent ? { factor: 100, unit } : prefixed(unit, Math.max(Math.abs(q.value), q.u ?? 0));
  const value = q.value * scale.factor;
  const interval = q.u === null || q.u === undefined ? null : COVERAGE_95 * q.u * scale.factor;
  if (interval === null && unit === "points") return { value: significant(value, 2), pm: null, unit };
  if (interval === null) return { value: percent ? fixed(value, value >= 99.5 || digits > 3 ? 2 : 1) : significant(value, digits), pm: null, unit: scale.unit };
  if (interval === 0) return { value: percent ? fixed(value, 2) : significant(value, digits), pm: "0", unit: scale.unit };
  const decimals = decimalsFor(interval);
  return { value: fixed(value, decimals), pm: fixed(interval, decimals), unit: scale.unit };
}

/** "60.8 ± 0.3 mΩ", "94.7 ± 0.2 %". @param {any} q @param {string} unit @param {number} [digits] */
export function quantity(q, unit, digits) {
  const part = pieces(q, unit, digits);
  const text = part.pm === null ? part.value : `${part.value} ± ${part.pm}`;
  return part.unit && part.value !== "\u2013" ? `${text} ${part.unit}` : text;
}

/** One number and its unit, no interval. @param {number|null|undefined} value @param {string} unit @param {number} [digits] */
export function plain(value, unit, digits = 4) {
  return quantity({ value: value ?? null, u: null }, unit, digits);
}

/** A share as "0.23 %". @param {number|null|undefined} share */
export function percentOf(share) {
  if (share === null || share === undefined || !Number.isFinite(share)) return "\u2013";
  const percent = share * 100;
  if (percent === 0) return "0 %";
  return `${percent < 0.995 ? significant(percent, 2) : fixed(percent, 1)} %`;
}

/** A chance: "0.34", "below 0.001". @param {number} p */
export function chance(p) {
  return p < 0.001 ? "below 0.001" : significant(p, 2);
}

/** A span of time: "42.8 min", "17 min 1.86 s" where `exact`. @param {number|null|undefined} seconds @param {boolean} [exact] */
export function span(seconds, exact) {
  if (seconds === null || seconds === undefined || !Number.isFinite(seconds)) return "\u2013";
  const size = Math.abs(seconds);
  if (exact) {
    if (size < 60) return `${fixed(seconds, 2)} s`;
    const minutes = Math.floor(size / 60);
    const rest = `${fixed(size - minutes * 60, 2)} s`;
    if (minutes < 60) return `${minutes} min ${rest}`;
    return `${Math.floor(minutes / 60)} h ${minutes % 60} min ${rest}`;
  }
  if (size < 100) return `${significant(seconds, 3)} s`;
  if (size < 6000) return `${significant(seconds / 60, 3)} min`;
  return `${significant(seconds / 3600, 3)} h`;
}

/** A size of a file. @param {number} bytes */
export function fileSize(bytes) {
  if (bytes < 1000) return `${bytes} bytes`;
  if (bytes < 1e6) return `${significant(bytes / 1e3, 3)} kB`;
  return `${significant(bytes / 1e6, 3)} MB`;
}

/** Reads what was typed: a point or a comma as decimal marker, spaces between groups. Null where it is no number. @param {string} text */
export function readNumber(text) {
  const clean = text.trim().replace(/[\s\u202f\u00a0]/g, "").replace(MINUS, "-");
  if (!/^[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?$/i.test(clean)) return null;
  const value = Number(clean.replace(",", "."));
  return Number.isFinite(value) ? value : null;
}

/** How a number is put into a field: shortest, no grouping. @param {number|null|undefined} value */
export function fieldText(value) {
  return value === null || value === undefined || !Number.isFinite(value) ? "" : String(value);
}

/** Shortens a long name in the middle. @param {string} name @param {number} [most] */
export function shortName(name, most = 28) {
  return name.length <= most ? name : `${name.slice(0, most - 9)}\u2026${name.slice(-8)}`;
}
