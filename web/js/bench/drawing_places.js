/** Parts of the drawing moved and turned: by mouse, by finger, by keys. Each is an edit of the draft. */

import { PITCH, onGrid } from "../drawing/grid.js";
import { turnsOf } from "../drawing/place.js";
import { freeNear } from "../drawing/spots.js";
import { changeWiring } from "../session/changes.js";
import { itemOf } from "./drawing_chosen.js";
import { ARROWS } from "./drawing_keys.js";

/** @import {Item, Place} from "../drawing/types.js" */
/** @import {Board} from "./drawing_board.js" */

/** Steps of the keys that follow one another so soon are one edit, ms. */
const PAUSE = 700;
const NOTHING = "Choose a part first: tap it, or P at one of its lugs.";

/** @param {Board} board */
export function movePlaces(board) {
  const { session, keys, say } = board;
  /** @param {string} name */
  const plain = (name) => name.replaceAll("_", " ");

  /** @param {string} part @param {"moved" | "turned"} how @param {Record<string, Place>} places */
  async function write(part, how, places) {
    try {
      const done = await changeWiring(session, { do: "place", part, how, places });
      say(`${done.name}.`);
      board.release(places);
    } catch (error) {
      say(error instanceof Error ? error.message : String(error));
      board.release();
    }
  }

  /** A part's new place, or the free one next to it. @param {Item} item @param {Place} place */
  const freed = (item, place) =>
    freeNear(board.shown()?.placed ?? { items: [], lugs: new Map() }, item, place);

  board.presses.push(({ part, step, lug, grip }, event) => {
    const name = grip ?? part;
    const item = itemOf(board, name);
    if (!item || !name || (!grip && (step || lug))) return null;
    const isChosen = itemOf(board, board.chosen()?.part)?.key === item.key;
    if (event.pointerType === "touch" && !isChosen) return null; // a finger pans until it has chosen
    const before = board.places();
    const [x, y, turn = 0] = before[item.key];
    const start = board.pointOf(event);
    /** @type {Record<string, Place> | null} */
    let now = null;
    let frame = 0;
    return {
      move(to) {
        const [px, py] = board.pointOf(to);
        const wanted = freed(item, [onGrid(x + px - start[0]), onGrid(y + py - start[1]), turn]);
        const at = (now ?? before)[item.key];
        if (wanted[0] === at[0] && wanted[1] === at[1]) return;
        const places = { ...before, [item.key]: wanted };
        now = places;
        cancelAnimationFrame(frame);
        frame = requestAnimationFrame(() => board.preview(places));
      },
      drop() {
        if (!now) return;
        cancelAnimationFrame(frame);
        board.preview(now);
        write(name, "moved", now);
      },
      cancel() {
        cancelAnimationFrame(frame);
        if (now) board.release();
      },
    };
  });

  board.taps.push(({ part, lug, wire }) => {
    board.picture.focus({ preventScroll: true });
    board.choose(lug || wire || part ? { lug, wire, part: lug || wire ? undefined : part } : null);
    return true;
  });

  /** @type {{name: string, places: Record<string, Place>, timer: ReturnType<typeof setTimeout>} | null} */
  let pushed = null;
  function settle() {
    if (!pushed) return;
    const { name, places, timer } = pushed;
    clearTimeout(timer);
    pushed = null;
    write(name, "moved", places);
  }
  board.picture.addEventListener("blur", settle);
  board.picture.addEventListener("keydown", (event) => {
    if (!pushed || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
    event.preventDefault();
    event.stopPropagation(); // it is not an edit yet
    clearTimeout(pushed.timer);
    say(`${plain(pushed.name)} is back.`);
    pushed = null;
    board.release();
  });

  /** The chosen part, or the one that the keys are on. @returns {string | undefined} */
  const partHere = () => board.chosen()?.part ?? board.at()?.split(".")[0];

  /** @param {[number, number]} by */
  function push([dx, dy]) {
    const name = partHere();
    const item = itemOf(board, name);
    if (!item || !name) return say(NOTHING);
    if (pushed && pushed.name !== name) settle();
    const before = board.places();
    const [x, y, turn = 0] = before[item.key];
    /** @type {Place} */
    const wanted = [x + dx * PITCH, y + dy * PITCH, turn];
    const at = freed(item, wanted);
    if (at[0] !== wanted[0] || at[1] !== wanted[1])
      return say(`Another part stands in the way of ${plain(name)}.`);
    const places = { ...before, [item.key]: at };
    board.preview(places);
    say(`${plain(name)} moved.`);
    if (pushed) clearTimeout(pushed.timer);
    pushed = { name, places, timer: setTimeout(settle, PAUSE) };
  }

  function turn() {
    settle();
    const name = partHere();
    const item = itemOf(board, name);
    if (!item || !name) return say(NOTHING);
    const turns = turnsOf(item.part, item.shape);
    if (turns.length < 2) return say(`${plain(name)} looks the same however it is turned, or cannot be.`);
    const before = board.places();
    const [x, y, now = 0] = before[item.key];
    const next = turns[(turns.indexOf(now) + 1) % turns.length];
    const places = { ...before, [item.key]: freed(item, [x, y, next]) };
    board.preview(places);
    write(name, "turned", places);
  }

  for (const [key, to] of Object.entries(ARROWS)) keys[`Shift+${key}`] = () => push(to);
  keys.r = turn;
}
