/** The list of proposals: opened, favourites, comments, signed. It updates while it is open. */

import * as api from "./api.js";
import { showDate } from "../shared/units.js";
import { farthestWords, recordInWords, stateOf } from "./words.js";
import { answerView, bringAnswer, wishesOf } from "./answers.js";
import { savingButton } from "./saving.js";
import { createTalk } from "./talk.js";
import { fill, h } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";
import { butProgress, showProgress } from "./variants.js";

/** @import {Proposal} from "../shared/types.js" */
/** @import {Talk} from "./talk.js" */
/** @import {Link} from "./words.js" */
/** @import {Session} from "../session/session.js" */
/** @typedef {() => {take: string, way: string}} HeardAtBench  what is chosen there */

/**
 * @param {Session} session @param {() => void} reload
 * @param {(answer: Link) => void} linked shows a new link, once
 */
export function proposalsList({ get, on }, reload, linked) {
  const list = h("ul", { class: "starters" }),
    title = h("h3", {}, "Proposals to the customer"),
    bring = bringAnswer(reload);
  const talk = createTalk(reload),
    heardAtBench = () => ({ take: get().take, way: get().way });
  let shown = "";
  const show = () => {
    const { proposals } = get();
    title.hidden = bring.element.hidden = proposals.length === 0;
    bring.update(proposals.flatMap(({ answers = [] }) => answers));
    const now = butProgress(proposals);
    if (now === shown)
      return showProgress(
        list,
        proposals.flatMap(({ id: of, wishes = [], answers = [], farthest = [] }) => [
          ...wishes.map(({ id = "", making }) => ({ key: id, making })),
          ...farthest.map(({ wiring, making }) => ({ key: `${of} ${wiring}`, making, words: farthestWords })),
          ...answers.flatMap(wishesOf),
        ]),
      );
    shown = now;
    const at = document.activeElement; // whoever types goes on typing
    fill(list, ...proposals.map((row) => h("li", {}, proposalView(row, reload, linked, talk, heardAtBench))));
    if (at instanceof HTMLElement && at !== document.activeElement && list.contains(at)) at.focus();
  };
  const stopShowing = on(["proposals"], show);
  show();
  const stop = () => {
    stopShowing();
    talk.stop();
  };
  return { element: h("section", {}, title, bring.element, list), stop };
}

/**
 * @param {Proposal} row @param {() => void} reload @param {(answer: Link) => void} linked
 * @param {Talk} talk @param {HeardAtBench} heardAtBench
 */
function proposalView(row, reload, linked, talk, heardAtBench) {
  const { id, title, created, expires, seen, signoff, ways = [], ready = 1, failed = [], answers = [] } = row;
  const state = stateOf(row);
  const facts = [
    `made ${showDate(created)}`,
    state === "open" && expires && `expires ${showDate(expires)}`,
    ways.length > 0 && `heard ${ways.join(", ")}`,
    seen ? "seen" : "not opened yet",
    ready < 1 && `clips ${Math.round(ready * 100)} % ready`,
  ]
    .filter(Boolean)
    .join(" · ");
  return h(
    "div",
    { class: "proposal" },
    h(
      "div",
      { class: "row" },
      h("b", { class: "spread" }, title),
      h("span", { class: state === "signed" ? "ok" : "soft" }, state),
    ),
    h("p", { class: "small soft" }, facts),
    signoff && h("p", { class: "ok" }, `Signed by ${signoff.name} on ${signoff.date}: ${signoff.label}.`),
    talk.view(row),
    ...answers.map((answer) => answerView(answer, reload)),
    failed.length > 0 && h("p", { class: "problem" }, failed.join(" ")),
    ...farthestViews(row, reload),
    h(
      "div",
      { class: "actions" },
      signoff && checkButton(row),
      signoff && soundCheckButton(row, heardAtBench),
      linkButton(row, reload, linked),
      savingButton(row),
      state === "open" &&
        h(
          "button",
          {
            type: "button",
            class: "small",
            onclick: async () => {
              try {
                await api.revokeProposal(id);
                reload();
                toast(`The link to “${title}” no longer works. “New link” makes another.`);
              } catch (error) {
                toastError(error);
              }
            },
          },
          "End the link",
        ),
    ),
  );
}

/**
 * How far the farthest two of each wiring are, or why there are none.
 * @param {Proposal} row @param {() => void} reload
 */
export const farthestViews = (row, reload) =>
  (row.farthest ?? []).map(({ wiring, making, problem }) => {
    const { id, wirings = [] } = row;
    const name = wirings.find(({ number }) => number === wiring)?.name ?? "";
    if (problem) {
      const again = h(
        "button",
        {
          type: "button",
          class: "small",
          hidden: stateOf(row) !== "open",
          "aria-label": `Try again: the farthest two of “${name}”`,
          onclick: async () => {
            again.disabled = true;
            try {
              await api.makeFarthestAgain(id, wiring);
              reload();
            } catch (error) {
              again.disabled = false;
              toastError(error);
            }
          },
        },
        "Try again",
      );
      return h(
        "div",
        { class: "row" },
        h("p", { class: "problem" }, `The farthest two of “${name}” were not made: ${problem}`),
        again,
      );
    }
    if (making === null)
      return h(
        "p",
        { class: "small soft" },
        `The customer also hears the farthest two of ten guitars of “${name}”.`,
      );
    return h(
      "p",
      { class: "small making", "data-wish": `${id} ${wiring}` },
      h("span", {}, farthestWords(making)),
      h("progress", { max: 1, value: making, "aria-label": `The farthest two of “${name}”` }),
    );
  });

/**
 * Replace the link to the same sounds; the old one stops working.
 * @param {Proposal} row @param {() => void} reload @param {(answer: Link) => void} linked
 */
const linkButton = ({ id, title }, reload, linked) =>
  h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-label": `New link to ${title}`,
      onclick: async () => {
        try {
          linked(await api.renewLink(id));
          reload();
          toast(`“${title}” has a new link. The old one no longer works.`);
        } catch (error) {
          toastError(error);
        }
      },
    },
    "New link",
  );

/** Check a signed record. @param {Proposal} row */
const checkButton = ({ id, title }) =>
  h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-label": `Check the record of ${title}`,
      onclick: async () => {
        try {
          toast(recordInWords(title, await api.verifySignOff(id)));
        } catch (error) {
          toastError(error);
        }
      },
    },
    "Check the record",
  );

/**
 * Hold recordings of the finished guitar to what was signed.
 * @param {Proposal} row @param {HeardAtBench} heardAtBench
 */
const soundCheckButton = (row, heardAtBench) =>
  h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-label": `Check the finished guitar by sound: ${row.title}`,
      onclick: async () => {
        try {
          (await import("../verifying/view.js")).openSoundCheck(row, heardAtBench());
        } catch (error) {
          toastError(error);
        }
      },
    },
    "Check by sound",
  );
