/** Requests of the bench: a draft's facts, curves, filters and stems, takes, and the live connection. */

import {
  openSocket,
  queryText,
  readBytes,
  request,
  requestBytes,
  requestJson,
  upload,
} from "../shared/http.js";
import { splitStems } from "../player/stems.js";

/** @import {Addition, Check, Draft, Facts, Fan, Problem} from "../shared/types.js" */
/** @import {Response as Curves, Setting} from "../shared/types.js" */
/** @import {Source} from "./take_source.js" */

/** @param {Draft} draft @param {AbortSignal} [signal] @returns {Promise<Check>} */
export const checkDraft = (draft, signal) =>
  requestJson("POST", "/api/draft/check", { body: { draft }, signal });
/** What can be added to a wiring. @returns {Promise<Addition[]>} */
export const listAdditions = () => requestJson("GET", "/api/additions");
/**
 * @param {Draft} draft @param {Pick<Setting, "knobs" | "switches">} at @param {AbortSignal} [signal]
 * @returns {Promise<{positions: Facts[]}>}
 */
export const getFacts = (draft, { knobs, switches }, signal) =>
  requestJson("POST", "/api/draft/facts", { body: { draft, knobs, switches }, signal });
/**
 * What the drawing shows, what sounds at every position, and what to mind when one solders from it; where its
 * parts stand, if the server knows that already.
 * @param {Draft} draft @param {Pick<Setting, "knobs" | "switches">} at @param {AbortSignal} [signal]
 * @returns {Promise<{facts: import("../drawing/types.js").WiringFacts,
 *   states: import("../drawing/types.js").State[], care: string[],
 *   laid: import("../drawing/types.js").Found | null}>}
 */
export const getDrawing = (draft, { knobs, switches }, signal) =>
  requestJson("POST", "/api/draft/drawing", { body: { draft, knobs, switches }, signal });
/**
 * @param {Draft} draft @param {Setting[]} settings
 * @param {number | null} string from 1, the lowest; null for equal signals in all coils
 * @param {AbortSignal} [signal] @returns {Promise<Curves>}
 */
export const getResponse = (draft, settings, string, signal) =>
  requestJson("POST", "/api/draft/response", { body: { draft, settings, string }, signal });
/**
 * @param {Draft} draft @param {Setting} setting @param {string} knob @param {number} steps
 * @param {AbortSignal} [signal] @returns {Promise<Fan>}
 */
export const getFan = (draft, setting, knob, steps, signal) =>
  requestJson("POST", "/api/draft/fan", { body: { draft, setting, knob, steps }, signal });
/**
 * A map over two knobs. An empty name leaves the choice of a volume and a tone.
 * @param {Draft} draft @param {Setting} setting @param {string} first @param {string} second
 * @param {AbortSignal} [signal] @returns {Promise<import("./pair.js").Pair>}
 */
export const getPair = (draft, setting, first, second, signal) =>
  requestJson("POST", "/api/draft/pair", { body: { draft, setting, first, second }, signal });
/**
 * The filters of one setting, for when there is no live connection.
 * @param {Draft} draft @param {Setting} setting @param {string | undefined} take
 * @param {import("../player/link.js").Wanted["through"]} [through] @param {AbortSignal} [signal]
 */
export const getFilters = (draft, setting, take, through, signal) =>
  requestBytes("POST", "/api/draft/filters", { body: { draft, setting, take, through }, signal });

/**
 * The gain with which a take is heard in a way, so that the loudest position of a draft plays at the usual
 * level, and what its drive gives way by.
 * @param {Draft} draft @param {string} take @param {string} way @param {AbortSignal} [signal]
 * @returns {Promise<{gain_db: number, silent: boolean, lowered_db: number}>}
 */
export const getMonitor = (draft, take, way, signal) =>
  requestJson("POST", "/api/draft/monitor", { body: { draft, take, way }, signal });

/**
 * Every way to hear it, and the chain behind the guitar.
 * @param {AbortSignal} [signal] @returns {Promise<import("../player/chain.js").ChainRecord>}
 */
export const getChain = (signal) => requestJson("GET", "/api/chain", { signal });

/**
 * Rooms in words, and the hum of each.
 * @param {AbortSignal} [signal] @returns {Promise<import("../shared/types.js").HumRecord>}
 */
export const getHum = (signal) => requestJson("GET", "/api/hum", { signal });

/**
 * How much of a room's hum each coil of a draft picks up: its turns times area.
 * @param {Draft} draft @param {AbortSignal} [signal] @returns {Promise<{areas_m2: number[]}>}
 */
export const getHumAreas = (draft, signal) =>
  requestJson("POST", "/api/draft/hum", { body: { draft }, signal });

/**
 * The signal that a take induces in each coil, at most three minutes of it.
 * @param {Draft} draft @param {string} take @param {number} fromS @param {AbortSignal} [signal]
 * @returns {Promise<{coils: string[], stems: Float32Array[]}>}
 */
export async function getStems(draft, take, fromS, signal) {
  const { version, edits } = draft;
  const query = queryText({ version, edits: JSON.stringify(edits), take, from_s: fromS || undefined });
  const answer = await request("GET", `/api/stems?${query}`, { signal });
  const coils = (answer.headers.get("X-Coils") ?? "").split(",").map(decodeURIComponent).filter(Boolean);
  return { coils, stems: splitStems(await readBytes(answer), answer) };
}

/**
 * @param {string} take @param {string} version @param {AbortSignal} [signal]
 * @returns {Promise<{seconds: number, peaks: number[]}>}
 */
export const getOverview = (take, version, signal) =>
  requestJson("GET", `/api/overview?${queryText({ take, version })}`, { signal });

/**
 * What a recording is, or how a MIDI file is played.
 * @typedef {{name: string, line: "single" | "chords", source: Source | null}} RecordingForm
 * @typedef {{name: string, strings: string, tracks: number[]}} MidiForm
 */

/**
 * Upload a recording or a MIDI file as a take.
 * @param {File} file @param {RecordingForm | MidiForm} about
 * @param {(share: number) => void} onProgress share sent, 0 to 1
 * @returns {{done: Promise<{id: string}>, stop: () => void}}
 */
export const uploadTake = (file, about, onProgress) =>
  upload(`/api/takes?${"tracks" in about ? broughtMidi(about) : recordingQuery(about)}`, file, onProgress);

/**
 * How the instrument of a version plays a MIDI file; nothing is kept.
 * @param {File} file @param {string} version @param {number[]} tracks empty for all
 * @returns {Promise<import("./midi_words.js").Look>}
 */
export const lookAtMidi = (file, version, tracks) =>
  upload(`/api/takes/midi?${midiQuery({ version }, tracks)}`, file, () => {}).done;

/**
 * What a listener should know of a played take on a version's instrument.
 * @param {string} take @param {string} version @returns {Promise<{notes: string[]}>}
 */
export const getTakeNotes = (take, version) =>
  requestJson("GET", `/api/takes/${encodeURIComponent(take)}/notes?${queryText({ version })}`);

/** @param {Record<string, string>} values @param {number[]} tracks */
function midiQuery(values, tracks) {
  const query = queryText(values);
  for (const track of tracks) query.append("tracks", String(track));
  return query;
}

/** @param {MidiForm} about */
const broughtMidi = ({ name, strings, tracks }) => midiQuery({ name, kind: "midi", strings }, tracks);

/** @param {RecordingForm} about */
function recordingQuery({ name, line, source }) {
  const from =
    source === null
      ? { source: "flat" }
      : {
          source: "wiring",
          source_version: source.version,
          source_position: source.position,
          source_knobs: JSON.stringify(source.knobs),
          source_switches: JSON.stringify(source.switches),
        };
  return queryText({ name, kind: "mono", line, ...from });
}

/** @typedef {{id: number, draft: Draft, setting: Setting, take: string | undefined}} LiveRequest */
/** @typedef {{send: (request: LiveRequest) => boolean, close: () => void}} Live */
const RECONNECT_MS = { first: 250, most: 4000 };

/**
 * The live connection: settings go out, filters come in. It reconnects by itself.
 * @param {{frame: (frame: ArrayBuffer) => void, problems: (id: number, problems: Problem[]) => void,
 *   open: (open: boolean) => void}} on
 * @returns {Live}
 */
export function openLive(on) {
  let wait = RECONNECT_MS.first,
    closed = false,
    timer = 0;
  /** @type {WebSocket | undefined} */
  let socket;
  function connect() {
    socket = openSocket("/api/live");
    socket.binaryType = "arraybuffer";
    socket.onopen = () => {
      wait = RECONNECT_MS.first;
      on.open(true);
    };
    socket.onmessage = ({ data }) => {
      if (data instanceof ArrayBuffer) return on.frame(data);
      const { id, problems } = JSON.parse(data);
      on.problems(id, problems ?? []);
    };
    socket.onclose = () => {
      on.open(false);
      if (!closed) timer = window.setTimeout(connect, wait);
      wait = Math.min(wait * 2, RECONNECT_MS.most);
    };
  }
  connect();
  return {
    send(message) {
      if (socket?.readyState !== WebSocket.OPEN) return false;
      socket.send(JSON.stringify(message));
      return true;
    },
    close() {
      closed = true;
      clearTimeout(timer);
      socket?.close();
    },
  };
}
