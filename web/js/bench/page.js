/** The bench of one commission: its views, and the keys that work anywhere. */

import { followProposals } from "../proposals/following.js";
import { followSound } from "./hearing.js";
import { followFacts } from "./knowledge.js";
import { followNames } from "../session/names.js";
import { LETTERS } from "../session/compare.js";
import { saveState } from "../session/remembered.js";
import { chipsView } from "./chips.js";
import { h } from "../shared/dom.js";
import { drawerView } from "./drawer.js";
import { drawingView } from "./drawing_view.js";
import { findingsView } from "./findings.js";
import { finishedView } from "./finished_view.js";
import { singleKeys } from "./keys_help.js";
import { knobsView } from "./knobs.js";
import { nowView } from "./now_view.js";
import { toastError } from "../shared/notices.js";
import { pairView } from "./pair_view.js";
import { plotView } from "./response_view.js";
import { stopsView } from "./stops_view.js";
import { topView } from "./top.js";
import { travelView } from "./travel_view.js";
import { transportView } from "./transport.js";
import { saveDialog } from "../session/versions.js";

/** @import {Session} from "../session/session.js" */

/** Views with an address of their own. */
export const ADDRESSED = ["built"];

/** @param {Session} session @returns {HTMLElement[]} */
export function benchPage(session) {
  const sound = followSound(session),
    { toggle } = sound;
  followFacts(session);
  followNames(session);
  saveState(session);
  const reload = followProposals(session);
  const drawer = drawerView(session);
  const now = nowView(session, toggle);
  const faults = h("div", { class: "faults-place", hidden: true });
  const bench = h(
    "div",
    { class: "bench" },
    drawingView(session),
    h(
      "div",
      { class: "side sheet" },
      h(
        "section",
        { class: "see", "aria-label": "Response" },
        now.element,
        chipsView(session, toggle),
        plotView(session, sound.spectrum),
        now.details,
      ),
      drawer.element,
      h(
        "section",
        { class: "working", "aria-label": "Knobs over their travel" },
        travelView(session),
        pairView(session),
      ),
      findingsView(session, drawer.show),
      finishedView(session),
      faults,
    ),
  );
  const front = h(
    "div",
    { class: "front" },
    h("div", { class: "controls" }, stopsView(session), knobsView(session)),
    transportView(session, sound),
  );
  tellHeight(front, session.signal);
  const arrange = () => {
    const { drawer, faults } = session.get();
    bench.classList.toggle("with-drawer", drawer);
    bench.classList.toggle("with-faults", faults.open);
  };
  session.on(["drawer", "faults"], arrange);
  arrange();
  session.on(["drawer"], ({ drawer, faults }) => {
    if (drawer && faults.open) session.set({ faults: { ...faults, open: false }, lit: [] });
  });
  const findFaults = async () => {
    const { open: there } = session.get().faults;
    const came = there && faults.hidden;
    faults.hidden = !there;
    if (!there) return;
    await open(faults, "Opening the fault finder…", async () =>
      (await import("../checking/faults_view.js")).faultsView(session),
    );
    if (came && opened) faults.querySelector(/** @type {"div"} */ (".faults"))?.focus();
  };
  let opened = false;
  session.on(["faults"], () => findFaults().catch(toastError));
  findFaults()
    .catch(toastError)
    .finally(() => (opened = true));
  const range = h("div", { class: "range-place", hidden: true });
  const sheet = h("div", { class: "sheet-place", hidden: true });
  const built = h("div", { class: "built-place", hidden: true });
  const turn = async () => {
    const { get } = session;
    const { view } = get();
    bench.hidden = view !== "bench";
    range.hidden = view !== "range";
    sheet.hidden = view !== "sheet";
    built.hidden = view !== "built";
    front.classList.toggle("tape-only", view !== "bench");
    addressView(get().commission.id, view);
    // most visits need none of these
    if (view === "range") {
      await open(range, "Opening the range…", async () =>
        (await import("../range/page.js")).rangeView(session),
      );
    } else if (view === "sheet") {
      await open(sheet, "Opening the sheet…", async () =>
        (await import("../sheets/view.js")).sheetView(session),
      );
    } else if (view === "built") {
      await open(built, "Opening the readings…", async () =>
        (await import("../built/view.js")).builtView(session),
      );
    }
  };
  session.on(["view"], turn);
  turn().catch(toastError);
  listenForKeys(session, toggle);
  return [
    topView(session, { opened: () => drawer.element.focus(), reload }),
    h("main", { id: "main" }, bench, range, sheet, built, front),
  ];
}

/**
 * Tell the page's style how high the front is: nothing that has the focus may hide behind it.
 * @param {HTMLElement} front @param {AbortSignal} signal
 */
function tellHeight(front, signal) {
  const root = document.documentElement.style;
  const seen = new ResizeObserver(() => root.setProperty("--front", `${front.offsetHeight}px`));
  seen.observe(front);
  signal.addEventListener("abort", () => {
    seen.disconnect();
    root.removeProperty("--front");
  });
}

/**
 * Give a view that has an address its own, so that it can be reloaded and kept.
 * @param {string} commission @param {string} view
 */
function addressView(commission, view) {
  const here = `#/c/${encodeURIComponent(commission)}`;
  const wanted = ADDRESSED.includes(view) ? `${here}/${view}` : here;
  if (location.hash !== wanted) history.replaceState(history.state, "", wanted);
}

/**
 * Open a view in its place, the first time that it is wanted.
 * @param {HTMLElement} place @param {string} words @param {() => Promise<HTMLElement>} make
 */
async function open(place, words, make) {
  if (place.hasChildNodes()) return;
  place.append(h("p", { class: "loading", role: "status" }, words));
  place.replaceChildren(await make());
}

/** @param {Session} session @param {() => void} toggle */
function listenForKeys(session, toggle) {
  document.addEventListener(
    "keydown",
    (event) => {
      const { key, ctrlKey, metaKey, shiftKey, altKey } = event;
      const target = /** @type {HTMLElement} */ (event.target);
      const command = (ctrlKey || metaKey) && !altKey;
      if (document.querySelector("dialog[open]")) return;
      if (command && key.toLowerCase() === "z" && !typing(target)) {
        event.preventDefault();
        (shiftKey ? session.redo : session.undo)();
        return;
      }
      if (command && key.toLowerCase() === "s") {
        event.preventDefault();
        saveDialog(session);
        return;
      }
      if (ctrlKey || metaKey || altKey || !singleKeys()) return;
      if (
        key === " " &&
        !target.closest("button, a, summary, select, textarea, input:not([type=radio]):not([type=range])")
      ) {
        event.preventDefault();
        toggle();
      }
      if (key.length !== 1 || target.closest("input:not([type=radio]):not([type=range]), textarea, select"))
        return;
      const { slots, check, view } = session.get(),
        k = LETTERS.indexOf(key.toUpperCase()),
        position = check?.positions["123456789".indexOf(key)]?.position;
      if (k >= 0) session.hear(Math.min(k, slots.length - 1));
      if (position && view === "bench") session.setPosition(position);
    },
    { signal: session.signal },
  );
}

/** Whether a text is being edited: it has its own undo. @param {HTMLElement} target */
const typing = (target) =>
  target instanceof HTMLTextAreaElement ||
  (target instanceof HTMLInputElement &&
    target.type === "text" &&
    target.value !== (target.dataset.committed ?? ""));
