import { coilsPicture } from "../shared/coils_picture.js";
/** The selector as a list of its positions, and the other switches. */

import { drawCoils } from "../shared/coils_drawing.js";
import { DIRECT } from "../player/path.js";
import { sketchedPositions } from "../session/sketches.js";
import { stopsOf } from "../session/stops.js";
import { counted, plainName } from "../shared/words.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";
import { moveKey } from "../shared/moving.js";
import { toastError } from "../shared/notices.js";
import { movePosition } from "./positions.js";

/** @import {Session, State} from "../session/session.js" */
/** @import {Drawing} from "../shared/coils_drawing.js" */
/** @import {Stop} from "../session/stops.js" */
/** @import {Check} from "../shared/types.js" */

/** @param {Session} session */
export function stopsView(session) {
  const { get, on } = session;
  const rows = h(
    "div",
    { class: "keys", role: "radiogroup", "aria-labelledby": "stops-title" },
    ...[0, 1, 2, 3].map(() => h("div", { class: "bone" })),
  );
  const switches = h("div", { class: "switches" });
  /** @type {Map<string, ReturnType<typeof rowOf>>} */
  let shown = new Map();

  function build() {
    const { check } = get();
    if (!check?.ok) return;
    const group = uid("stop");
    shown = new Map(
      check.positions.map(({ position }) => [
        position,
        rowOf(position, group, () => session.setPosition(position)),
      ]),
    );
    fill(rows, ...[...shown.values()].map(({ element }) => element));
    fill(
      switches,
      ...check.switches.map(({ name, positions, jack = false }) => {
        const radios = choice(
          plainName(name),
          positions.map((value) => ({ value, label: throwInWords(value, jack) })),
          session.slot().switches[name] ?? positions[0],
          (value) => session.setSwitch(name, value),
        );
        on(["slots", "current"], () => radios.set(session.slot().switches[name] ?? positions[0]));
        return h("fieldset", {}, h("legend", {}, plainName(name)), radios.element);
      }),
    );
    update();
  }
  rows.addEventListener("keydown", (event) => {
    const places = get().check ? sketchedPositions(/** @type {Check} */ (get().check)) : null,
      row = /** @type {Element} */ (event.target).closest("[data-position]");
    const from = places?.findIndex(({ name }) => name === row?.getAttribute("data-position")) ?? -1,
      by = from < 0 ? 0 : moveKey(event);
    if (!by) return;
    movePosition(session, from, by)
      .then(() => {
        const at = session.slot().position;
        /** @type {HTMLElement | null} */ (rows.querySelector(`[value="${CSS.escape(at)}"]`))?.focus();
      })
      .catch(toastError);
  });
  function update() {
    const { facts, check, way } = get();
    const now = session.slot().position;
    const labels = new Map(check?.positions.map(({ position, label }) => [position, label]));
    for (const [position, row] of shown)
      row.choose(position === now, labels.get(position) || `Position ${position}`);
    stopsOf(facts, way !== DIRECT.way).forEach((stop, k) =>
      shown.get(stop.position)?.show(stop, drawCoils(check?.coils ?? [], facts[k].connection)),
    );
    keepInSight();
  }
  let sighted = "";
  /** Scroll the keys, and nothing else, to the one that sounds. */
  function keepInSight() {
    const { position } = session.slot(),
      key = shown.get(position)?.element;
    if (!key || sighted === position || !rows.clientWidth) return;
    sighted = position;
    const aside = (rows.clientWidth - key.offsetWidth) / 2;
    rows.scrollTo({ left: key.offsetLeft - rows.offsetLeft - aside });
  }
  let kind = "";
  on(["check"], ({ check }) => {
    const next = JSON.stringify([
      check?.ok,
      check?.positions.map(({ position }) => position),
      check?.switches,
    ]); // a label that changes leaves its row, and the focus, in place
    if (next !== kind) {
      kind = next;
      build();
    } else update();
  });
  on(["facts", "slots", "current", "way"], update);
  build();
  return h(
    "section",
    { class: "stops", "aria-labelledby": "stops-title" },
    h("h2", { id: "stops-title", class: "unseen" }, "Selector"),
    rows,
    switches,
  );
}

const PLUGS = { out: "no plug", in: "plug in", mono: "mono plug", stereo: "stereo plug" };

/** A switch's position, or what is in a jack. @param {string} value @param {boolean} jack */
function throwInWords(value, jack) {
  if (jack) return PLUGS[/** @type {keyof typeof PLUGS} */ (value)] ?? value;
  return /^\d+$/.test(value) ? `position ${value}` : value;
}

/** @param {string} position @param {string} group @param {() => void} chosen */
function rowOf(position, group, chosen) {
  const name = uid("name"),
    facts = uid("facts");
  const input = h("input", {
    type: "radio",
    name: group,
    value: position,
    onchange: chosen,
    "aria-labelledby": name,
    "aria-describedby": facts,
  });
  const title = h("b", { id: name }),
    about = h("small", {}),
    found = h("span", { class: "mark-found" });
  const cells = ["hum", "level", "meter"].map(() => h("span", {}));
  const picture = h("span", { class: "picture" });
  const element = h(
    "div",
    { class: "stop", "data-position": position },
    input,
    h("span", { class: "number", "aria-hidden": "true" }, position),
    picture,
    h("span", { class: "name" }, title, about, found),
    h(
      "span",
      { class: "facts" },
      ...cells.map((cell, k) => h("span", { class: "fact" }, h("i", {}, ["", "level ", "meter "][k]), cell)),
    ),
  );
  const spoken = h("span", { id: facts, class: "unseen" });
  element.append(spoken);
  return {
    element,
    /** @param {boolean} is @param {string} label */
    choose(is, label) {
      if (input.checked !== is) input.checked = is;
      say(title, label);
    },
    /** @param {Stop} stop @param {Drawing} drawing */
    show(stop, drawing) {
      say(about, [stop.how, stop.words.split(", ")[0], stop.alike].filter(Boolean).join(" · "));
      say(found, stop.findings ? counted(stop.findings, "finding") : "");
      [stop.hum, stop.level, stop.meter].forEach((text, k) => say(cells[k], text));
      cells[0].parentElement?.classList.toggle("warn", stop.hums);
      say(spoken, `${stop.how}; ${stop.words}; hum: ${stop.hum}; level ${stop.level}; meter ${stop.meter}`);
      fill(picture, coilsPicture(drawing));
    },
  };
}
