/** The card of a listing: progress, the state of each instrument, and its buttons. */

import * as api from "./api.js";
import {
  progressText,
  hasEnded,
  contentText,
  problemsOf,
  rowInWords,
  rowsInWords,
  shareOf,
  stateText,
} from "./words.js";
import { showDate } from "../shared/units.js";
import { fill, h, say, uid } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";

/** @import {Listing, Row} from "./words.js" */
/** @typedef {{element: HTMLElement, show: (job: Listing) => void}} Card */

const TONE = {
  done: "ok",
  failed: "bad",
  cancelled: "soft",
  queued: "soft",
  interrupted: "warn",
  running: "",
};

/** @param {() => Promise<void>} reload @returns {Card} */
export function listingCard(reload) {
  const id = uid("listing");
  const title = h("h2", { id, tabindex: -1 }),
    state = h("span", {}),
    held = h("p", { class: "soft small" }),
    going = h("p", { class: "small" });
  const fillBar = h("div", { class: "done" });
  const bar = h(
    "div",
    {
      class: "progress",
      role: "progressbar",
      "aria-labelledby": id,
      "aria-valuemin": 0,
      "aria-valuemax": 100,
    },
    fillBar,
  );
  const problems = h("ul", { class: "problem" }),
    acts = h("div", { class: "actions" });
  const summary = h("summary", {}),
    rows = h("ul", { class: "rows" });
  /** @type {Listing} */
  let job;
  const details = h(
    "details",
    {
      ontoggle: () => {
        if (details.open) showRows(rows, job.instruments);
      },
    },
    summary,
    rows,
  );
  let offered = "";
  /** @param {Listing} now */
  function show(now) {
    job = now;
    const percent = Math.floor(100 * shareOf(job));
    say(title, job.title);
    say(state, stateText(job));
    state.className = `state ${job.report.failed ? "warn" : TONE[job.state]}`;
    say(held, `${contentText(job)} · ordered ${showDate(job.created)}`);
    say(going, progressText(job));
    fillBar.style.width = `${percent}%`;
    bar.hidden = job.state === "done" || job.state === "failed";
    bar.setAttribute("aria-valuenow", String(percent));
    bar.setAttribute("aria-valuetext", progressText(job) || stateText(job));
    const said = problemsOf(job);
    if (problems.textContent !== said.join("")) fill(problems, ...said.map((one) => h("li", {}, one)));
    problems.hidden = said.length === 0;
    say(summary, rowsInWords(job.instruments));
    if (details.open) showRows(rows, job.instruments);
    const key = [job.state, job.cancelling, job.archived, job.page, job.title].join("|");
    if (key !== offered) offer(key);
  }
  /** Replace the buttons and keep the focus on the nearest one. @param {string} key */
  function offer(key) {
    const held = acts.contains(document.activeElement);
    offered = key;
    fill(acts, ...buttons(job, reload));
    if (held) title.focus();
  }
  const element = h(
    "article",
    { class: "job", "aria-labelledby": id },
    h("div", { class: "row" }, title, h("span", { class: "spread" }), state),
    held,
    bar,
    going,
    problems,
    details,
    acts,
  );
  return { element, show };
}

/** @param {HTMLElement} list @param {Row[]} rows */
function showRows(list, rows) {
  if (list.childElementCount !== rows.length) {
    fill(
      list,
      ...rows.map(() =>
        h("li", {}, h("span", { class: "spread" }), h("span", {}), h("ul", { class: "small" })),
      ),
    );
  }
  rows.forEach((row, place) => {
    const [name, said, notes] = list.children[place].children;
    say(name, row.name);
    say(said, rowInWords(row));
    said.className = `small ${row.state === "failed" ? "bad" : "soft"}`;
    const all = [
      ...row.problems.map((text) => ({ text, tone: "bad" })),
      ...row.warnings.map((text) => ({ text, tone: "soft" })),
    ];
    if (notes.childElementCount !== all.length)
      fill(notes, ...all.map(({ text, tone }) => h("li", { class: tone }, text)));
  });
}

/** @param {Listing} job @param {() => Promise<void>} reload */
function buttons(job, reload) {
  const { id, title, state, cancelling, archived, page } = job,
    over = hasEnded(job);
  /** @param {string} label @param {() => Promise<unknown>} act @param {Record<string, unknown>} [more] */
  const button = (label, act, more = {}) =>
    h(
      "button",
      {
        type: "button",
        class: "small",
        ...more,
        "aria-label": `${label}: ${title}`,
        onclick: () => act().then(reload).catch(toastError),
      },
      label,
    );
  /** @param {boolean} away @returns {Promise<void>} */
  const archive = async (away) => {
    await api.archiveListing(id, away);
    toast(away ? `“${title}” is archived. Its files stay.` : `“${title}” is back in the list.`, {
      label: "Undo",
      act: () => api.archiveListing(id, !away).then(reload, toastError),
    });
  };
  if (archived) return [button("Restore", () => archive(false))];
  if (!over) return [button("Cancel", () => api.cancelListing(id), { class: "", disabled: cancelling })];
  const again = state === "done" ? "Make the missing files" : "Continue";
  return [
    button("Archive", () => archive(true)),
    (state !== "done" || job.report.failed || !page) &&
      button(again, () => api.resumeListing(id), { class: "" }),
    page &&
      h(
        "a",
        {
          class: "button",
          href: api.zipAddress(id),
          download: "",
          "aria-label": `Download as ZIP: ${title}`,
        },
        "Download as ZIP",
      ),
    page &&
      h(
        "a",
        {
          class: "button main",
          href: page,
          target: "_blank",
          rel: "noopener noreferrer",
          "aria-label": `Open in a new tab: ${title}`,
        },
        "Open",
      ),
  ].filter((one) => one instanceof HTMLElement);
}
