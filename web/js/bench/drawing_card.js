/** What one does with what is chosen on the drawing: the acts of a wire or lug, and a part's card. */

import { turnsOf } from "../drawing/place.js";
import { fill, h } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { plainName } from "../shared/words.js";
import { hearingOf } from "../session/session.js";
import { itemOf } from "./drawing_chosen.js";
import { doKey } from "./drawing_keys.js";
import { housingView } from "./drawing_housing.js";
import { lastingView } from "./lasting_view.js";
import { partBody } from "./part_view.js";

/** @import {Change, Changed, Part} from "../shared/types.js" */
/** @import {Board, What} from "./drawing_board.js" */
/** @import {Soldering} from "./drawing_solder.js" */

/**
 * @param {Board} board
 * @param {(change: Change) => Promise<Changed | null>} act @param {Soldering} soldering
 */
export function chosenCard(board, act, soldering) {
  const { session, picture, frame, keys, say } = board;
  const acts = h("div", { class: "board-acts row" });
  const title = h("h2", { tabindex: -1 });
  const turn = h("button", { type: "button", onclick: () => keys.r?.(new KeyboardEvent("keydown")) }, "Turn");
  const place = h("div", {});
  const housing = housingView(session, act);
  const card = h(
    "section",
    { class: "board-card sheet", "aria-label": "The chosen part", hidden: true },
    h(
      "div",
      { class: "board-card-head" },
      title,
      turn,
      h(
        "button",
        { type: "button", class: "quiet", "aria-label": "Close the part", onclick: () => close() },
        icon("close"),
      ),
    ),
    place,
    housing.element,
  );
  card.addEventListener("keydown", (event) => {
    if (event.defaultPrevented) return;
    if (event.key === "Escape") {
      event.stopPropagation();
      close();
    } else if (event.target === title) doKey(board, event); // P has led here: the part is moved and turned
  });
  /** @typedef {ReturnType<typeof lastingView<ReturnType<typeof partBody>>>} Body */
  /** @param {Part} part @returns {Body} */
  const bodyOf = (part) =>
    lastingView((now, focusNext) => partBody(session, now, { focusNext, act: doAndFollow }), part);
  /** @type {{name: string, body: Body} | null} */
  let open = null;
  /** The part to open once it is drawn. */
  let coming = "";

  function close() {
    const had = card.contains(document.activeElement);
    board.choose(null);
    if (had) picture.focus({ preventScroll: true });
  }
  /** @param {string} label @param {() => void} onclick @param {string} [about] */
  const button = (label, onclick, about) =>
    h("button", { type: "button", onclick, "aria-label": about ? `${label}: ${about}` : undefined }, label);

  /** The acts of a lug or wire. @param {What | null} what */
  function showActs(what) {
    const shown = board.shown();
    const { lug, wire } = what ?? {};
    if (wire)
      fill(
        acts,
        button("Unsolder", () => soldering.takeOut(wire)),
      );
    else if (lug) {
      const name = lug.slice(0, lug.indexOf("."));
      fill(
        acts,
        shown?.joints.get(lug) !== undefined && button("Take it off", () => soldering.takeOff(lug)),
        button("Its part", () => board.choose({ part: name }), plainName(name)),
      );
    } else fill(acts);
  }

  /** The part's card, on the side of the drawing where the part is not. @param {What | null} what */
  function showCard(what) {
    const name = what?.part;
    const { check } = session.get();
    const part = check?.parts.find((one) => one.name === name);
    const had = card.contains(document.activeElement);
    if (!part || name === undefined) {
      card.hidden = true;
      open = null;
      if (had) picture.focus({ preventScroll: true });
      return;
    }
    if (open?.name !== name) {
      const body = bodyOf(part);
      open = { name, body };
      fill(place, body.now().element);
      title.textContent = plainName(name);
    }
    card.hidden = false;
    standAside(name);
    update();
  }
  /** @param {string} name */
  function standAside(name) {
    const item = itemOf(board, name);
    const middle = frame.scrollLeft + frame.clientWidth / 2;
    const box = picture.getBoundingClientRect();
    const left = box.left - frame.getBoundingClientRect().left + frame.scrollLeft;
    const x = item ? (item.x - picture.viewBox.baseVal.x) * board.zoom() : 0;
    card.classList.toggle("left", left + x > middle);
    turn.hidden = !item || turnsOf(item.part, item.shape).length < 2;
  }
  function update() {
    const { check, checked, before } = session.get();
    if (!open || !check || before || checked !== JSON.stringify(hearingOf(session.get()).draft)) return;
    const { name, body } = open;
    const part = check.parts.find((one) => one.name === name);
    if (!part) return;
    body.fit(part);
    body.update(part);
    housing.update(board.shown()?.facts.housings ?? [], name);
  }
  /** A part that is renamed or added stays, or becomes, the chosen one. @param {Change} change */
  async function doAndFollow(change) {
    const done = await act(change);
    if (change.do !== "remove") return follow(done);
    if (done) close();
    return done;
  }
  /** Choose the part of a deed once it is drawn. @param {Changed | null} done */
  function follow(done) {
    if (done?.part) coming = done.part;
    return done;
  }

  board.chose.push((what) => {
    showActs(what);
    showCard(what);
  });
  board.painted.push(() => {
    const what = board.chosen();
    if (coming && itemOf(board, coming)) {
      const part = coming;
      coming = "";
      board.choose({ part });
      const first = board.shown()?.facts.parts.find(({ name }) => name === part)?.lugs[0];
      if (first) board.goTo(`${part}.${first}`);
    } else if (what?.part && !itemOf(board, what.part)) board.choose(null);
    else if (what) showActs(what);
  });
  session.on(["check", "checked", "slots", "current", "before"], () => {
    if (open) update();
    else if (board.chosen()?.part) showCard(board.chosen());
  });

  /** The part that the keys are on. */
  const here = () => board.chosen()?.part ?? board.at()?.split(".")[0];
  /** @param {() => void} then */
  const withPart = (then) => () => {
    const part = here();
    if (part === undefined) return say("Go to a lug of the part first.");
    board.choose({ part });
    if (!card.hidden) then();
  };
  Object.assign(keys, {
    p: withPart(() => title.focus()),
    F2: withPart(() => open?.body.now().rename()),
    x: withPart(() => {
      const part = session.get().check?.parts.find(({ name }) => name === open?.name);
      if (part?.swaps) act({ do: "swap leads", part: part.name });
      else say(`${plainName(open?.name ?? "")} has no two leads to swap.`);
    }),
    Delete: takeAway,
    Backspace: takeAway,
  });
  function takeAway() {
    const { wire, part } = board.chosen() ?? {};
    const at = board.at();
    if (wire) soldering.takeOut(wire);
    else if (part) doAndFollow({ do: "remove", part });
    else if (at) soldering.takeOff(at);
    else say("Choose a wire, a lug or a part first.");
  }
  return {
    acts,
    card,
    follow,
    /** Choose a part and go there. @param {string} part */
    open(part) {
      board.choose({ part });
      card.scrollIntoView({ block: "nearest" });
      title.focus();
    },
  };
}
