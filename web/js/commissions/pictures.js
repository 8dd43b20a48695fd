/**
 * Small pictures of wirings in the list. The list is there first. A picture is asked for once it is in
 * sight, one at a time: the server may have to make it, and other requests must not wait for that.
 */

import { h } from "../shared/dom.js";
import { ApiError } from "../shared/http.js";
import { getPicture } from "./api.js";

/** How far below the window a picture is asked for. */
const AHEAD = "200px";

/** @param {AbortSignal} signal */
export function createPictures(signal) {
  /** @type {HTMLImageElement[]} */
  const waiting = [];
  let running = false;
  const seen = new IntersectionObserver(
    (entries) => {
      for (const { target, isIntersecting } of entries) {
        if (!isIntersecting) continue;
        seen.unobserve(target);
        waiting.push(/** @type {HTMLImageElement} */ (target));
      }
      run();
    },
    { rootMargin: AHEAD },
  );
  signal.addEventListener("abort", () => seen.disconnect());

  async function run() {
    if (running) return;
    running = true;
    for (let image = waiting.shift(); image && !signal.aborted; image = waiting.shift()) {
      if (image.isConnected) await load(image);
    }
    running = false;
  }

  /** @param {HTMLImageElement} image */
  async function load(image) {
    try {
      const svg = await getPicture(image.dataset.version ?? "", signal);
      image.src = `data:image/svg+xml,${encodeURIComponent(svg)}`;
    } catch (error) {
      // a wiring that is not finished has no picture; while the server is away there is none either
      if (!(error instanceof ApiError) && !signal.aborted) throw error;
      image.remove();
    }
  }

  return {
    /** @param {string} version @param {string} name of its wiring */
    picture(version, name) {
      const image = h("img", {
        class: "card-picture",
        alt: `Drawing of ${name}`,
        width: 108,
        height: 68,
        "data-version": version,
      });
      seen.observe(image);
      return image;
    },
  };
}
