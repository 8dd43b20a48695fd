/** The button that adds a room's hum to what plays, and the choice of the room. */

import { chosenHum } from "../player/hum.js";
import { fill, h, say, uid } from "../shared/dom.js";
import { fixed } from "../shared/units.js";

/** @import {Session} from "../session/session.js" */

const WHAT_IT_IS =
  "Plays what sounds now in the field of lamps and transformers. Every position and every sound to compare stands in the same field.";

/** @param {Session} session @param {() => void} toggle  plays or pauses */
export function humView(session, toggle) {
  const { get, set, on } = session;
  const button = h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-pressed": "false",
      title: WHAT_IT_IS,
      onclick: () => {
        const { hum, playing } = get();
        set({ hum: { ...hum, on: !hum.on } });
        if (!hum.on && !playing) toggle();
      },
    },
    "Hear the hum",
  );
  const room = h("select", {
    "aria-label": "Room of the hum",
    onchange: () => set({ hum: { ...get().hum, room: room.value } }),
  });
  const mains = h("select", {
    "aria-label": "Mains frequency",
    onchange: () => set({ hum: { ...get().hum, mains: Number(mains.value) } }),
  });
  const adds = h("p", { class: "soft small", role: "status", id: uid("hum") });
  const choices = h("span", { class: "hum-choices", hidden: true }, room, mains);

  /** Fill the choices once. @param {import("../shared/types.js").HumRecord} hums */
  function offer(hums) {
    if (room.options.length) return;
    fill(room, ...hums.rooms.map(({ name, about }) => h("option", { value: name }, about)));
    fill(mains, ...hums.mains.map(({ hz }) => h("option", { value: String(hz) }, `${hz} Hz`)));
  }
  function show() {
    const { hum, hums } = get();
    button.setAttribute("aria-pressed", String(hum.on));
    choices.hidden = !hum.on || !hums;
    if (hums) offer(hums);
    const now = hums && chosenHum(hums, hum);
    if (now) [room.value, mains.value] = [now.name, String(now.hz)];
    say(adds, hum.on && now ? humInWords(now) : "");
  }
  on(["hum", "hums"], show);
  show();
  return h("div", { class: "hum" }, button, choices, adds);
}

/**
 * What is added, and how it came about.
 * @param {{microtesla: number, hz: number}} hum
 */
export function humInWords({ microtesla, hz }) {
  const field = fixed(microtesla, microtesla < 1 ? 1 : 0);
  return `Adds a field of ${field} µT at ${hz} Hz and its odd harmonics, computed from the coils, not recorded.`;
}
