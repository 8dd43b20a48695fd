/** What a customer's page says it has played, and what it does when the way changes. */

import assert from "node:assert/strict";
import test from "node:test";

import { settle } from "./page_help.js";
import { createStore } from "../../web/js/shared/store.js";

class Part {
  fftSize = 32;
  value = 0;
  constructor(/** @type {any} */ context) {
    this.context = context;
  }
  get gain() {
    return this;
  }
  connect(/** @type {any} */ to) {
    return to;
  }
  start() {}
  stop() {}
  disconnect() {}
  cancelScheduledValues() {}
  setValueAtTime() {}
  setValueCurveAtTime() {}
  linearRampToValueAtTime() {}
}
class Context extends EventTarget {
  /** @type {Context | undefined} */
  static newest;
  state = "running";
  currentTime = 1;
  sampleRate = 48_000;
  destination = {};
  constructor() {
    super();
    Context.newest = this;
  }
  async resume() {}
}
class Offline {
  async decodeAudioData() {
    return { length: 100, getChannelData: () => new Float32Array(100) };
  }
}
/** @type {Map<string, string>} */
let kept = new Map();
const keeps = () => ({
  getItem: (/** @type {string} */ key) => kept.get(key) ?? null,
  setItem: (/** @type {string} */ key, /** @type {string} */ value) => void kept.set(key, value),
  removeItem: (/** @type {string} */ key) => void kept.delete(key),
  key: (/** @type {number} */ k) => [...kept.keys()][k] ?? null,
  get length() {
    return kept.size;
  },
});
const refuses = () => {
  throw new Error("SecurityError");
};
/** @param {() => unknown} give */
const stores = (give) => {
  for (const name of ["localStorage", "sessionStorage"])
    Object.defineProperty(globalThis, name, { configurable: true, get: give });
};
/** @type {any[]} */
let signed = [];
const offered = {
  ways: [{ name: "clean" }, { name: "driven" }],
  heard: { clean: { takes: {}, clips: {} }, driven: { takes: {}, clips: {} } },
  items: [],
  takes: [],
};
Object.assign(globalThis, {
  self: globalThis,
  AudioContext: Context,
  GainNode: Part,
  AudioBufferSourceNode: Part,
  AnalyserNode: Part,
  OfflineAudioContext: Offline,
  addEventListener() {},
  location: { pathname: "/p/token" },
  async fetch(/** @type {string} */ path, /** @type {any} */ { body }) {
    if (path.endsWith("/signoff")) signed.push(JSON.parse(body));
    return new Response(
      JSON.stringify({ ...offered, marks: [], comments: [], wishes: [], place: 0, looked: 0 }),
      {
        headers: { "Content-Type": "application/json" },
      },
    );
  },
});
const wait = globalThis.setTimeout;
Object.assign(globalThis, {
  // what waits for a sound that stands still holds up no test
  setTimeout: (/** @type {[() => void, number]} */ ...how) => wait(...how).unref(),
});
if (!globalThis.navigator) Object.assign(globalThis, { navigator: {} });
const { startListening } = await import("../../web/js/customer/listening.js");
const { startLiveKnobs } = await import("../../web/js/customer/knobs.js");
const { aboutWords, apartWords } = await import("../../web/js/customer/farthest.js");
const { linkSource } = await import("../../web/js/customer/api.js");

/** @param {string} way */
const offerIn = (way) => ({
  takes: [{ id: "take", gain_db: 0, room_db: 0 }],
  items: [1, 2].map((number) => ({
    number,
    clips: { take: { mp3: `${number} ${way}`, even_gain_db: 0, wired_gain_db: 0 } },
    farthest: {
      take: ["one", "other"].map((which) => ({
        mp3: `${number} ${way} ${which}`,
        even_gain_db: 0.2,
        wired_gain_db: 0.2,
      })),
    },
  })),
});

/** A page whose files come as a test says. @param {(file: string) => Promise<unknown>} come */
function listening(come = async () => undefined) {
  const store = createStore({
    offer: offerIn("clean"),
    way: "clean",
    number: 1,
    end: /** @type {{number: number, which: number} | null} */ (null),
    take: "take",
    playing: false,
    held: false,
    loading: null,
    matched: true,
    travel: 50,
    turning: "",
    trouble: "",
  });
  /** @type {string[]} */
  const noted = [],
    /** @type {string[]} */
    asked = [];
  const page = /** @type {any} */ ({
    ...store,
    item: (/** @type {number} */ number) => store.get().offer.items.find((one) => one.number === number),
    source: {
      getHead: () => null,
      guard: "",
      noteHeard: (/** @type {number} */ number, /** @type {string} */ _, /** @type {string} */ way) =>
        noted.push(`${number} ${way}`),
    },
  });
  /** @type {string[][]} */
  const chosen = [];
  const line = /** @type {any} */ ({
    prefer: (/** @type {string[]} */ files) => chosen.push(files),
    isFast: () => false,
    get: async (/** @type {string} */ file) => {
      asked.push(file);
      await come(file);
      return new ArrayBuffer(8);
    },
  });
  const player = startListening(page, line);
  const hearIn = (/** @type {string} */ way) => store.set({ way, offer: offerIn(way) });
  return { ...store, noted, asked, chosen, player, hearIn };
}

test("a sound is noted once it plays, not while it is asked for", async () => {
  let come = (/** @type {unknown} */ _) => {};
  const late = new Promise((resolve) => (come = resolve)),
    { player, noted, get } = listening(() => late);
  player.play();
  await settle();
  assert.ok(get().playing);
  assert.deepEqual(noted, [], "its clip is not there");
  come(undefined);
  await settle();
  await settle();
  assert.deepEqual([...new Set(noted)], ["1 clean"]);
  player.pause();
});

test("a sound that does not come is not noted, while another plays on", async () => {
  const { player, noted, set, get, hearIn } = listening(async (file) => {
    if (file !== "1 clean") throw new Error("no line");
  });
  await settle();
  player.play();
  set({ number: 2 });
  await settle();
  await settle();
  assert.match(get().trouble, /keeps playing/);
  hearIn("driven");
  await settle();
  await settle();
  assert.deepEqual([...new Set(noted)], ["1 clean"]);
  player.pause();
});

test("a sound is not noted while the system holds it, or while turned knobs sound instead", async () => {
  const { player, noted, set } = listening();
  await settle();
  assert.deepEqual(noted, [], "it is there and does not play");
  set({ held: true, playing: true });
  set({ held: false, turning: "live" });
  assert.deepEqual(noted, []);
  set({ turning: "", playing: false });
  player.play();
  assert.deepEqual(noted, ["1 clean"]);
  player.pause();
});

test("of other ways only the chosen sound is kept", async () => {
  const { player, asked, hearIn } = listening();
  player.play();
  for (const way of ["driven", "clean"]) {
    for (let k = 0; k < 4; k++) await settle();
    hearIn(way);
  }
  for (let k = 0; k < 4; k++) await settle();
  assert.deepEqual(asked, ["1 clean", "2 clean", "1 driven", "2 driven", "2 clean"]);
  player.pause();
});

test("one of the farthest two is heard of its sound alone, and is not noted as heard", async () => {
  const { player, asked, noted, set, get } = listening(),
    settled = async () => {
      for (let k = 0; k < 4; k++) await settle();
    };
  await settled();
  set({ end: { number: 1, which: 1 } });
  await settled();
  player.play();
  await settled();
  assert.ok(asked.includes("1 clean other"));
  assert.deepEqual(noted, [], "nobody signs for it");
  set({ offer: structuredClone(get().offer) });
  await settled();
  assert.deepEqual(noted, []);
  set({ number: 2 });
  await settled();
  assert.ok(!asked.some((file) => /^2 clean o/.test(file)), "another sound is heard as drawn");
  assert.deepEqual([...new Set(noted)], ["2 clean"]);
  set({ number: 1, end: null });
  await settled();
  assert.ok(noted.includes("1 clean"));
  player.pause();
});

test("an offer that comes again chooses nothing anew, unless the clip or its gain is another", async () => {
  const { player, chosen, set, get } = listening();
  set({ end: { number: 1, which: 1 } });
  await settle();
  const before = chosen.length;
  set({ offer: /** @type {any} */ ({ ...structuredClone(get().offer), after: 2 }) });
  assert.equal(chosen.length, before, "the same clip with the same gain: what loads is not begun again");
  const louder = structuredClone(get().offer);
  louder.items[0].farthest.take[1].even_gain_db = 1;
  set({ offer: louder });
  assert.equal(chosen.length, before + 1);
  const other = structuredClone(louder);
  other.items[0].farthest.take[1].mp3 = "another";
  set({ offer: other });
  assert.deepEqual([chosen.length, chosen.at(-1)], [before + 2, ["another"]]);
  player.pause();
});

test("the words say the cable first, and how far the two are apart", () => {
  const two = { wiring: 1, built: 10, cables: true, cable_share: 0.782, apart: {} };
  assert.match(
    aboutWords(two),
    /^Players' cables differ.*78 % of what differs is the cable\. Built ten times/,
  );
  assert.match(
    aboutWords({ ...two, cables: false }),
    /^Built ten times, these two are farthest apart in tone, over all sounds together/,
  );
  const apart = { 2: { band_db: 0.44, level_db: 0.1, heard: "not heard" } };
  assert.match(
    apartWords({ ...two, apart }, 2),
    /^At sound 2 they differ by 0\.4 dB .* 0\.1 dB in level.*hardly anybody/,
  );
  assert.match(apartWords({ ...two, apart: { 2: { ...apart[2], level_db: 0 } } }, 2), /hardly in level/);
  assert.match(apartWords({ ...two, apart }, 1), /silent/);
});

/** The knobs of a page, live, over clips that only tell what is asked of them. @param {boolean} playing */
function turning(playing) {
  const said = /** @type {string[]} */ ([]),
    store = createStore({
      ...listening().get(),
      playing,
      turning: "live",
    });
  const tell = (/** @type {string} */ what) => () => void said.push(what);
  const page = /** @type {any} */ ({
    ...store,
    item: () => ({ clips: {} }),
    source: { guard: "", live: { getVoice: () => (said.push("voice"), new Promise(() => {})) } },
  });
  startLiveKnobs(
    page,
    /** @type {any} */ ({ play: tell("play"), pause: tell("pause"), seek: tell("seek"), position: () => 0 }),
    /** @type {any} */ ({}),
  );
  store.set({ way: "driven" });
  return { said, state: store.get() };
}

test("another way begins no music while it is paused", () => {
  assert.deepEqual(turning(false).said, ["seek"]);
  assert.equal(turning(false).state.turning, "");
  assert.ok(turning(true).said.includes("voice"));
});

const FORM = { wiring: 1, name: "R. Winter", date: "2026-03-12", sounds: [1] };
/** What a page would sign for. @param {ReturnType<typeof linkSource>} source */
async function heardBy(source) {
  signed = [];
  await source.signOff?.(FORM);
  return signed[0].heard;
}

test("what was played outlives the tab, by the link's path", async () => {
  kept = new Map();
  stores(keeps);
  linkSource("token").noteHeard(2, "take", "driven");
  const later = linkSource("token");
  later.noteHeard(1, "take", "clean");
  const both = [
    { number: 1, way: "clean" },
    { number: 2, way: "driven" },
  ];
  const found = await heardBy(later);
  assert.deepEqual(
    found.toSorted((/** @type {any} */ a, /** @type {any} */ b) => a.number - b.number),
    both,
  );
  assert.ok([...kept.keys()].some((key) => key.includes("/p/token")));
});

test("a browser that keeps nothing knows the way and what was played until the page is left", async () => {
  stores(refuses);
  const source = linkSource("token");
  offered.items = /** @type {any} */ ([{ number: 1 }]);
  offered.heard.driven.clips = { 1: "clip in driven" };
  await source.getOffer();
  const driven = /** @type {any} */ (source.inWay?.("driven"));
  assert.equal(driven.items[0].clips, "clip in driven");
  const again = await source.getOffer();
  assert.equal(/** @type {any} */ (again).items[0].clips, "clip in driven", "an answer that comes later too");
  source.noteHeard(1, "take", "driven");
  assert.deepEqual(await heardBy(source), [{ number: 1, way: "driven" }]);
});
