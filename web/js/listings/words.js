/**
 * Sentences about listings, and the order that a form makes.
 *
 * @typedef {{start: number, end: number, knob: string}} Sweep
 * @typedef {{name: string, label: string, knobs: Record<string, number>, switches: Record<string, string>,
 *   sweeps: Sweep[]}} Stand
 * @typedef {{format: string, depth?: string}} Format
 * @typedef {object} Order  The body of a request.
 * @property {string} title
 * @property {{version: string, positions: string[], sale?: Record<string, string>}[]} wirings
 * @property {string[]} takes
 * @property {Stand[]} settings
 * @property {Format[]} formats
 * @property {number | null} loudness_lufs
 * @property {string} names
 * @property {string} through
 * @property {boolean} limit  whether a limiter makes room for the loudness
 * @property {string} hum  a room as a listing file names it, or empty
 * @property {string} artist
 * @property {string} address
 *
 * @typedef {{name: string, form: string, about: string, usual: string}} FormField  of the listing
 *   file; usual: what an empty field stands for
 * @typedef {{name: string, about: string}} Named
 * @typedef {{listing: FormField[], sale: FormField[], hearing: FormField[], ways: Named[], rooms: Named[],
 *   mains: {hz: number, about: string}[]}} FormFields
 *
 * @typedef {object} Planned  The plan for one wiring, and the controls it offers.
 * @property {string} version
 * @property {string} name
 * @property {number} clips
 * @property {number} files
 * @property {string[]} left_out
 * @property {string[]} problems
 * @property {{position: string, label: string}[]} positions
 * @property {string[]} knobs
 * @property {Record<string, string[]>} switches
 * @typedef {{clips: number, files: number, seconds: number, instruments: Planned[]}} ListingPlan
 *
 * @typedef {"waiting" | "running" | "done" | "failed"} RowState
 * @typedef {{number: number, name: string, state: RowState, files: number, files_done: number, reused:
 *   number, problems: string[], warnings: string[]}} Row
 * @typedef {"queued" | "running" | "done" | "failed" | "cancelled" | "interrupted"} State
 * @typedef {object} Listing
 * @property {string} id
 * @property {string} title
 * @property {number} clips
 * @property {number} seconds
 * @property {string} created
 * @property {State} state
 * @property {string | null} archived
 * @property {boolean} cancelling
 * @property {number} ahead
 * @property {{formats: Format[], loudness_lufs: number | null, settings: Stand[], through?: string,
 *   limit?: boolean, hum?: string}} options
 * @property {{share?: number, times_real_time?: number | null, remaining_s?: number | null}} progress
 * @property {{summary?: string, failed?: number, problems?: string[]}} report
 * @property {string[]} takes
 * @property {Row[]} instruments
 * @property {string | null} page
 *
 * @typedef {{what: string, kind: "at" | "sweep" | "switch", at: string, to: string}} Move  One line of a
 *   setting in the form.
 * @typedef {{label: string, moves: Move[]}} Setting
 * @typedef {object} Form  The form for the next listing.
 * @property {string} title
 * @property {Record<string, string[]>} wirings  chosen positions by the wiring's id; empty for all
 * @property {string[]} takes
 * @property {Setting[]} settings
 * @property {string[]} formats
 * @property {boolean} matched
 * @property {string} lufs
 * @property {string} names
 * @property {string} through  the way in which clips are heard
 * @property {boolean} limit  whether a limiter makes room for the loudness
 * @property {{room: string, mains: number}} hum  of a room; empty for none
 * @property {Record<"artist" | "address", string>} web
 * @property {Record<string, Record<string, string>>} sales  words for buyers by the wiring's id
 */

import { fixed, showSeconds } from "../shared/units.js";
import { counted, plainName } from "../shared/words.js";

export const NAMES = "{wiring}-{take}-{position}-{clips}";
/** File formats of a listing, the usual ones first. */
export const FORMATS = [
  { format: "flac", label: "FLAC", about: "lossless, 24 bit: the master" },
  { format: "mp3", label: "MP3", about: "for the web, plays anywhere" },
  { format: "opus", label: "Opus", about: "for the web, smallest" },
  { format: "ogg", label: "Ogg Vorbis", about: "for the web" },
  { format: "wav", label: "WAV", about: "lossless, 24 bit, large" },
];
const OPEN = "Every knob at 10";

/** @returns {Form} */
export const emptyForm = () => ({
  title: "",
  wirings: {},
  takes: [],
  settings: [{ label: OPEN, moves: [] }],
  formats: ["flac", "mp3"],
  matched: true,
  lufs: "-18",
  names: NAMES,
  through: "direct",
  limit: false,
  hum: { room: "", mains: 50 },
  web: { artist: "", address: "" },
  sales: {},
});

/** The saved form, as far as it is valid. @param {any} kept @returns {Form} */
export function recallForm(kept) {
  const form = emptyForm();
  if (typeof kept !== "object" || kept === null) return form;
  for (const key of /** @type {const} */ (["title", "lufs", "names", "through"]))
    if (typeof kept[key] === "string") form[key] = kept[key];
  for (const key of /** @type {const} */ (["matched", "limit"]))
    if (typeof kept[key] === "boolean") form[key] = kept[key];
  if (typeof kept.hum?.room === "string" && typeof kept.hum.mains === "number")
    form.hum = { room: kept.hum.room, mains: kept.hum.mains };
  const texts = (/** @type {any} */ list) =>
    Array.isArray(list) ? list.filter((one) => typeof one === "string") : [];
  form.takes = texts(kept.takes);
  if (texts(kept.formats).length)
    form.formats = FORMATS.map(({ format }) => format).filter((one) => kept.formats.includes(one));
  for (const [wiring, positions] of Object.entries(kept.wirings ?? {}))
    form.wirings[wiring] = texts(positions);
  for (const key of /** @type {const} */ (["artist", "address"]))
    if (typeof kept.web?.[key] === "string") form.web[key] = kept.web[key];
  for (const [wiring, sale] of Object.entries(kept.sales ?? {}))
    form.sales[wiring] = Object.fromEntries(
      Object.entries(sale ?? {}).filter((one) => typeof one[1] === "string"),
    );
  const settings = (Array.isArray(kept.settings) ? kept.settings : []).filter(
    (/** @type {any} */ one) => typeof one?.label === "string" && Array.isArray(one.moves),
  );
  if (settings.length) form.settings = settings;
  return form;
}

/** A file name made from a label. @param {string} label @param {Set<string>} taken @returns {string} */
function nameOf(label, taken) {
  const plain =
    label
      .toLowerCase()
      .replace(/[^\p{L}\p{N}]+/gu, "_")
      .replace(/^_+|_+$/g, "")
      .slice(0, 40) || "setting";
  let name = label === OPEN ? "open" : plain;
  for (let number = 2; taken.has(name); number += 1) name = `${plain}_${number}`;
  taken.add(name);
  return name;
}

/** @param {string} text */
const number = (text) => (text.trim() === "" ? NaN : Number(text.replace(",", ".").replace("−", "-")));

/** Make the order of a form. @param {Form} form @param {Map<string, string>} newest versions by wiring
 * @returns {{order: Order, problem: string}} problem: the first one, or empty */
export function orderOf(form, newest) {
  /** @type {Set<string>} */
  const taken = new Set();
  let problem = "";
  const settings = form.settings.map(({ label, moves }) => {
    const said = label.trim() || "Setting";
    /** @type {Stand} */
    const stand = { name: nameOf(said, taken), label: said, knobs: {}, switches: {}, sweeps: [] };
    for (const { what, kind, at, to } of moves.filter((one) => one.what)) {
      const values = kind === "sweep" ? [number(at), number(to)] : [number(at)];
      if (kind === "switch") stand.switches[what] = at;
      else if (values.some((value) => !(value >= 0 && value <= 10)))
        problem ||= `${said}: ${plainName(what)} goes from 0 to 10.`;
      else if (kind === "sweep") stand.sweeps.push({ knob: what, start: values[0], end: values[1] });
      else stand.knobs[what] = values[0];
    }
    return stand;
  });
  const lufs = number(form.lufs);
  if (form.matched && !(lufs >= -60 && lufs <= 0))
    problem ||= "The loudness must be a number of LUFS from −60 to 0.";
  if (form.formats.length === 0) problem ||= "Choose at least one file format.";
  if (form.takes.length === 0) problem ||= "Choose at least one take.";
  const wirings = Object.entries(form.wirings).flatMap(([wiring, positions]) => {
    const version = newest.get(wiring);
    const sale = Object.fromEntries(
      Object.entries(form.sales[wiring] ?? {}).filter(([, text]) => text.trim()),
    );
    const said = Object.keys(sale).length ? { sale } : {};
    return version === undefined ? [] : [{ version, positions, ...said }];
  });
  if (wirings.length === 0) problem ||= "Choose at least one instrument.";
  const order = {
    title: form.title.trim() || "Listing",
    wirings,
    takes: form.takes,
    settings,
    formats: form.formats.map((format) => ({ format })),
    loudness_lufs: form.matched && Number.isFinite(lufs) ? lufs : null,
    names: form.names.trim() || NAMES,
    through: form.through,
    limit: form.matched && form.limit,
    hum: form.hum.room && `${form.hum.room}, ${form.hum.mains} Hz`,
    artist: form.web.artist.trim(),
    address: form.web.address.trim(),
  };
  return { order, problem };
}

/** @param {ListingPlan} plan */
export function planInWords({ clips, files, seconds, instruments }) {
  const made = instruments.filter((one) => one.clips > 0).length;
  if (!made) return "This order gives no clips.";
  return `${counted(made, "instrument")}, ${counted(clips, "clip")} in ${counted(files, "file")}, ${showSeconds(seconds)} of sound.`;
}

/** The remaining time: without seconds from one hour on. @param {number} seconds */
export function remainingText(seconds) {
  const whole = Math.max(Math.round(seconds), 0);
  if (whole >= 3600)
    return `${Math.floor(whole / 3600)} h ${String(Math.floor((whole % 3600) / 60)).padStart(2, "0")} min`;
  return whole >= 60
    ? `${Math.floor(whole / 60)} min ${String(whole % 60).padStart(2, "0")} s`
    : `${whole} s`;
}

/** @param {Listing} job */
export const hasEnded = ({ state }) => ["done", "failed", "cancelled"].includes(state);

/** The finished share, 0 to 1. @param {Listing} job */
export function shareOf({ state, progress, instruments }) {
  if (state === "done") return 1;
  const files = instruments.reduce((sum, one) => sum + one.files, 0);
  const done = instruments.reduce((sum, one) => sum + one.files_done, 0);
  return Math.min(Math.max(progress.share ?? 0, files ? done / files : 0), 1);
}

/** @param {Listing} job */
export function stateText({ state, cancelling, ahead, progress, report }) {
  if (cancelling) return "being cancelled";
  if (state === "queued") return ahead ? `waiting for ${counted(ahead, "other")}` : "waiting to start";
  if (state === "running") return progress.share === undefined ? "starting" : "running";
  if (state === "interrupted") return "interrupted; continues by itself";
  if (state === "done" && report.failed) return `done, ${report.failed} failed`;
  return state;
}

/** The progress in figures. @param {Listing} job */
export function progressText(job) {
  const { state, progress } = job;
  const percent = `${Math.floor(100 * shareOf(job))} %`;
  if (state === "done") return job.report.summary ?? "";
  if (state !== "running") return state === "queued" ? "" : `${percent} made`;
  const { times_real_time: rate, remaining_s: left } = progress;
  return [
    percent,
    rate ? `${fixed(rate, rate < 10 ? 1 : 0)} × real time` : "",
    left || left === 0 ? `${remainingText(left)} left` : "",
  ]
    .filter(Boolean)
    .join(" · ");
}

/** The content of a listing. @param {Listing} job */
export function contentText({ instruments, clips, seconds, takes, options }) {
  const formats = options.formats
    .map(({ format }) => FORMATS.find((one) => one.format === format)?.label ?? format)
    .join(", ");
  const level =
    options.loudness_lufs === null
      ? "as wired"
      : `${fixed(options.loudness_lufs, Number.isInteger(options.loudness_lufs) ? 0 : 1)} LUFS`;
  const { through = "direct", limit = false, hum = "" } = options;
  return [
    counted(instruments.length, "instrument"),
    counted(clips, "clip"),
    `${showSeconds(seconds)} of sound`,
    counted(takes.length, "take"),
    formats,
    limit ? `${level}, with a limiter` : level,
    through === "direct" ? "" : `heard ${through}`,
    hum && `hum of a room (${hum})`,
  ]
    .filter(Boolean)
    .join(" · ");
}

const MOST_PROBLEMS = 3;
/** The first few problems. @param {Listing} job */
export function problemsOf({ report, instruments }) {
  const failed = instruments.filter(({ state }) => state === "failed");
  const said = failed.slice(0, MOST_PROBLEMS).map(({ name, problems }) => `${name}: ${problems.join(" ")}`);
  const more = failed.length - said.length;
  return [
    ...(report.problems ?? []),
    ...said,
    ...(more > 0 ? [`${counted(more, "more instrument")} failed; see below.`] : []),
  ];
}

/** @param {Row[]} rows */
export function rowsInWords(rows) {
  const count = (/** @type {RowState} */ state) => rows.filter((one) => one.state === state).length;
  return [
    `${count("done")} of ${counted(rows.length, "instrument")} done`,
    count("failed") ? `${count("failed")} failed` : "",
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {Row} row */
export function rowInWords({ state, files, files_done: done, reused }) {
  if (state === "failed") return "failed";
  if (state === "done")
    return reused === done && done ? `${counted(done, "file")}, unchanged` : counted(done, "file");
  return state === "running" ? `${done} of ${counted(files, "file")}` : "waits";
}

const QUARTERS = [0.25, 0.5, 0.75];
/**
 * News for a screen reader: a change of state, and each quarter of the way.
 * @param {Listing | undefined} before @param {Listing} now
 */
export function newsOfListing(before, now) {
  if (!before) return "";
  const said = stateText(now);
  if (before.state !== now.state) return `${now.title}: ${now.state === "running" ? "running" : said}.`;
  const passed = QUARTERS.filter((quarter) => shareOf(before) < quarter && shareOf(now) >= quarter).pop();
  return now.state === "running" && passed ? `${now.title}: ${100 * passed} % done.` : "";
}
