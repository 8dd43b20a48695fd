/** Numbers as text. The server parses and steps values; the page only shows them. */

const MINUS = "−";

/** Fixed decimals with a true minus sign. @param {number} value @param {number} [places] */
export function fixed(value, places = 1) {
  const text = Math.abs(value).toFixed(places);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

/** Three digits, like a meter. @param {number} value */
function digits(value) {
  const size = Math.abs(value);
  return fixed(value, size >= 99.95 ? 0 : size >= 9.995 ? 1 : 2);
}

/** @param {number | null} ohm null for an open circuit */
export function showOhm(ohm) {
  if (ohm === null || !Number.isFinite(ohm)) return "open";
  if (ohm >= 1e6) return `${digits(ohm / 1e6)} MΩ`;
  return ohm >= 1e3 ? `${digits(ohm / 1e3)} kΩ` : `${digits(ohm)} Ω`;
}

/** @param {number | null} hz */
export function showHz(hz) {
  if (hz === null || !Number.isFinite(hz)) return "none";
  return hz >= 1e3 ? `${digits(hz / 1e3)} kHz` : `${fixed(hz, 0)} Hz`;
}

/** The server's lowest level, which stands for no signal at all. */
export const SILENT_DB = -160;

/** @param {number | null} db @param {boolean} [signed] with a plus sign */
export function showDb(db, signed = false) {
  if (db === null || !Number.isFinite(db) || db <= SILENT_DB) return "silent";
  const text = fixed(db);
  return `${signed && db > 0 && text !== "0.0" ? "+" : ""}${text} dB`;
}

/** @param {number | null} seconds */
export function showSeconds(seconds) {
  if (seconds === null || !Number.isFinite(seconds)) return "";
  if (seconds < 60) return `${fixed(seconds)} s`;
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")} s`;
}

const NUMBER_ALONE = /^[+-]?(\d+\.?\d*|\.\d+)$/,
  ENDS_IN_UNIT = /^[+-]?(?:\d+\.?\d*|\.\d+)\s*([^\d\s.,]+)$/u;

/**
 * Give a number alone the unit of its field: "144" in a field with "101 mm" becomes "144 mm". The unit is
 * that of the field's value, of the library's, or of the default.
 * @param {string} text @param {{form: string, value: string, inherited?: string, default?: string}} field
 */
export function withUsualUnit(text, { form, value, inherited, default: standard }) {
  if (form !== "quantity" || !NUMBER_ALONE.test(text)) return text;
  const unit = ENDS_IN_UNIT.exec(value || inherited || standard || "")?.[1];
  return unit ? `${text} ${unit}` : text;
}

/** A knob's value, 0 to 10. @param {number} value */
export const showKnob = (value) => fixed(value);

/** Limit a value to the knob's travel and round it to tenths. @param {number} value */
export const onTravel = (value) => Math.min(10, Math.max(0, Math.round(value * 10) / 10));

/**
 * A date of the server (ISO 8601) in the reader's format.
 * @param {string | null | undefined} iso @param {string} [locale]
 */
export function showDate(iso, locale) {
  if (!iso) return "";
  const date = new Date(iso);
  return Number.isNaN(date.getTime())
    ? iso
    : date.toLocaleDateString(locale, { day: "numeric", month: "long", year: "numeric" });
}
