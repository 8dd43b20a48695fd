/** Line drawings for buttons; the words are beside them or in their labels. */

import { s } from "./dom.js";

const PATHS = {
  undo: "M8 4 4 8l4 4M4 8h8a4.5 4.5 0 0 1 0 9H9",
  redo: "M12 4l4 4-4 4M16 8H8a4.5 4.5 0 0 0 0 9h3",
  close: "M5 5l10 10M15 5 5 15",
  up: "M5 12l5-5 5 5",
  down: "M5 8l5 5 5-5",
  parts: "M2 10h4l2-4 4 8 2-4h4",
  keys: "M3 6h14v9H3zM6 9h.01M10 9h.01M14 9h.01M7 12h6",
  map: "M4 14h.01M7 8h.01M9 12h.01M12 5h.01M13 14h.01M16 9h.01M3 17h14M3 17V3",
  sheet: "M5 3h10v14H5zM8 7h4M8 10h4M8 13h4",
  built: "M3 11l4.5 4.5L17 5",
  plus: "M10 4v12M4 10h12",
  listing: "M4 4h6l6.5 6.5-6 6L4 10zM7.5 7.5h.01",
  back: "M12 4l-6 6 6 6",
  output: "M3 8v4h3l4 3.5v-11L6 8zM13 7.5a4 4 0 0 1 0 5M15.5 5a7.5 7.5 0 0 1 0 10",
};

/** @param {keyof typeof PATHS} name */
export const icon = (name) =>
  s("svg", { class: "icon", viewBox: "0 0 20 20", "aria-hidden": "true" }, s("path", { d: PATHS[name] }));

/** @param {boolean} playing */
export const playIcon = (playing) =>
  s(
    "svg",
    { viewBox: "0 0 20 20", "aria-hidden": "true" },
    s("path", { d: playing ? "M4 3h4v14H4zM12 3h4v14h-4z" : "M5 2.5v15l12.5-7.5z" }),
  );
