/**
 * Where the parts of a drawing stand and how its wires run: asked of a worker, remembered by content. An edit
 * moves no part that stands somewhere.
 */

import { layOut, layoutKey, layWires } from "../drawing/layout.js";
import { shapesOf } from "../drawing/place.js";

/** @import {Found, WiringFacts} from "../drawing/types.js" */
/** @import {Laid} from "../drawing/layout.js" */

/** Renamed whenever the layout is made otherwise: what was kept before is then of no use. */
const SHELF = "presolder.drawings.2";
const MOST_KEPT = 24;
/** How long after the first drawing the worker is loaded for the next, ms. */
const AFTER = 1500;
/** A worker that has not answered by then is given up, ms. */
const PATIENCE = 15_000;

/** Layouts of wirings that were opened before, the last one at the end. @returns {[string, Found][]} */
function readShelf() {
  try {
    return JSON.parse(localStorage.getItem(SHELF) ?? "[]");
  } catch {
    return []; // without the browser's storage every drawing is laid out anew
  }
}

/** @param {AbortSignal} signal ends the worker */
export function createLayouts(signal) {
  let shelf = readShelf();
  /** It loads once a wiring is not kept or the first is laid out, out of the way of the page's start.
   * @type {Worker | null | undefined} */
  let worker;
  /** @type {Map<number, (found: Found) => void>} */
  const waiting = new Map();
  let count = 0;

  function start() {
    try {
      const one = new Worker(new URL("./drawing_worker.js", import.meta.url), { type: "module" });
      one.addEventListener("message", ({ data }) => {
        waiting.get(data.id)?.(data);
        waiting.delete(data.id);
      });
      one.addEventListener("error", () => {
        worker = null;
      });
      signal.addEventListener("abort", () => one.terminate());
      return one;
    } catch {
      return null;
    }
  }

  function startUnlessLeft() {
    if (worker === undefined && !signal.aborted) worker = start();
  }

  /** @param {WiringFacts} facts @param {boolean} folded @returns {Promise<Found>} */
  function ask(facts, folded) {
    const here = () => {
      const { places, routed } = layOut(facts, { folded });
      return { places, cells: [...routed.cells] };
    };
    if (worker === undefined) worker = start();
    if (!worker) return Promise.resolve(here());
    const id = (count += 1);
    return new Promise((done) => {
      const late = setTimeout(() => {
        waiting.delete(id);
        worker = null;
        done(here());
      }, PATIENCE);
      waiting.set(id, (found) => {
        clearTimeout(late);
        done(found);
      });
      worker?.postMessage({ id, facts, folded });
    });
  }

  /** @param {string} key @param {Found} found */
  function keep(key, found) {
    shelf = [...shelf.filter(([one]) => one !== key), /** @type {[string, Found]} */ ([key, found])];
    shelf = shelf.slice(-MOST_KEPT);
    try {
      localStorage.setItem(SHELF, JSON.stringify(shelf));
    } catch {
      // a full storage only costs time when the wiring is opened again
    }
  }

  return {
    /**
     * Take over what the server laid out for a list's picture.
     *
     * @param {WiringFacts} facts as the file has them @param {Found} found
     */
    learn(facts, found) {
      const key = layoutKey(facts, true);
      if (!shelf.some(([one]) => one === key)) keep(key, found);
    },
    /**
     * Place parts and lay wires.
     *
     * @param {WiringFacts} facts with the places that stay
     * @param {boolean} folded
     * @returns {Promise<Laid>}
     */
    async lay(facts, folded) {
      const key = layoutKey(facts, folded);
      let found = shelf.find(([one]) => one === key)?.[1];
      if (!found) {
        found = await ask(facts, folded);
        keep(key, found);
      }
      const { places, cells } = found;
      if (worker === undefined) setTimeout(startUnlessLeft, AFTER);
      return layWires(facts, shapesOf(facts), places, { folded, kept: new Map(cells) });
    },
  };
}
