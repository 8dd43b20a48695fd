/** The build sheet of the wiring that plays: to read, to tick off, to print. */

import { hearingOf, missingOf, placeOf } from "../session/session.js";
import { choice, fill, h, say } from "../shared/dom.js";
import { latest } from "../shared/latest.js";
import { toast, toastError } from "../shared/notices.js";
import * as api from "./api.js";
import { boxesOf, markPicture, parseArticle } from "./article.js";
import { fitText, goneText, lostText, missingText, progressText, sketchText, titleText } from "./words.js";

/** @import {Session} from "../session/session.js" */
/** @import {Paper, Sheet} from "./api.js" */

/** A browser sets lines wider than the PDF does. */
const TIGHTER = 0.95;
const PAPER_KEY = "presolder.paper";
/** Countries whose paper is Letter, by the language of the browser. */
const LETTER = /-(US|CA|MX|PH|CL|CO|VE)\b/;

/** @param {Session} session @returns {HTMLElement} */
export function sheetView(session) {
  const { get, on, signal } = session;
  /** @type {Sheet | null} */
  let sheet = null;
  let shownFor = "";
  let paper = recallPaper();

  const status = h("p", { role: "status" });
  const title = h("p", { class: "soft small" });
  const pages = h("p", { class: "soft small", role: "status" });
  const said = h("div", { class: "sheet-said" });
  const place = h("div", { class: "sheet-paper sheet", "aria-busy": "false" });
  const setting = h("span", { class: "row sheet-setting", hidden: true });
  const papers = choice(
    "Paper",
    [
      { value: "a4", label: "A4" },
      { value: "letter", label: "Letter" },
    ],
    paper,
    (value) => {
      paper = /** @type {Paper} */ (value);
      localStorage.setItem(PAPER_KEY, paper);
      show();
      fit();
    },
  );
  /** @param {string} label @param {() => unknown} act @param {string} [classes] */
  const button = (label, act, classes) =>
    h(
      "button",
      { type: "button", class: classes, onclick: () => Promise.resolve(act()).catch(toastError) },
      label,
    );
  const again = button("Begin anew", clear, "quiet");
  const acts = [
    button("Print", () => window.print(), "main"),
    button("PDF", savePdf),
    button("Data", saveData),
  ];
  const view = h(
    "section",
    { class: "sheet-view", "aria-label": "Build sheet" },
    h(
      "div",
      { class: "sheet-head no-print" },
      h("div", {}, h("h2", {}, "Build sheet"), title, status, pages),
      h("div", { class: "row" }, papers.element, ...acts, setting, again),
    ),
    said,
    place,
  );

  const ask = latest(
    async () => {
      if (get().view !== "sheet") return;
      const { draft } = hearingOf(get());
      const missing = missingOf(get());
      if (missing.length) return refuse(missingText(missing));
      const wanted = JSON.stringify(draft);
      if (wanted === shownFor) return;
      place.setAttribute("aria-busy", "true");
      if (!sheet) layingOut();
      const found = await api.getSheet(draft, signal);
      if (wanted !== JSON.stringify(hearingOf(get()).draft)) return;
      if (found.sketches.length) {
        const chart = button("To the chart", () => session.set({ view: "range" }), "main");
        return refuse(sketchText(found.sketches), chart);
      }
      sheet = found;
      shownFor = wanted;
      open();
      fit();
    },
    { failed },
  );

  /** Learn how large the text may be on paper, so that few pages hold it. */
  const fit = latest(async () => {
    const { draft } = hearingOf(get());
    const wanted = JSON.stringify([draft, paper]);
    const found = await api.getFit(draft, paper, signal);
    if (!sheet || wanted !== JSON.stringify([hearingOf(get()).draft, paper])) return;
    place.style.setProperty("--print-size", `${TIGHTER * found.size_pt}pt`);
    say(pages, fitText(found, paper));
  });

  /** Nothing is there to read yet. */
  function layingOut() {
    say(status, "The sheet is being drawn…");
    fill(
      place,
      h(
        "div",
        { class: "empty" },
        h("progress", { "aria-label": "The sheet is being drawn" }),
        h("p", {}, "Wires are laid and steps put in order. This takes a few seconds."),
      ),
    );
  }

  /** @param {unknown} error */
  function failed(error) {
    if (signal.aborted) return;
    refuse(
      error instanceof Error ? error.message : String(error),
      button("Try again", () => ask()),
    );
  }

  /** Say why there is no sheet. @param {string} text @param {...HTMLElement} ways */
  function refuse(text, ...ways) {
    sheet = null;
    shownFor = "";
    place.setAttribute("aria-busy", "false");
    fill(
      place,
      h("div", { class: "empty" }, h("p", { role: "alert" }, text), h("div", { class: "row" }, ...ways)),
    );
    show();
  }

  /** Show a sheet that has come. */
  function open() {
    if (!sheet) return;
    const article = parseArticle(sheet.html);
    fill(place, article);
    place.setAttribute("aria-busy", "false");
    for (const box of boxesOf(article)) {
      const about = box.closest("label");
      box.addEventListener("change", () => tick(box));
      for (const [event, key] of /** @type {const} */ ([
        ["pointerenter", box.dataset.step],
        ["pointerleave", ""],
      ]))
        about?.addEventListener(event, () => point(key ?? ""));
      box.addEventListener("focus", () => box.matches(":focus-visible") && point(box.dataset.step ?? ""));
      box.addEventListener("blur", () => point(""));
    }
    show();
  }

  /** Show the wire of a step alone. @param {string} key */
  const point = (key) => markPicture(place, { key, done: new Set(sheet?.ticks.done) });

  function show() {
    const { commission } = get();
    const { version, edits } = session.slot();
    usePaper(get().view === "sheet" && sheet ? paper : null);
    const there = sheet !== null;
    for (const one of [...acts, again, papers.element]) one.toggleAttribute("hidden", !there);
    say(title, titleText(placeOf(commission, version)?.wiring.name ?? "", edits.length));
    if (!sheet) {
      if (place.getAttribute("aria-busy") === "false") say(status, "");
      fill(said);
      return;
    }
    const { done, changed, gone } = sheet.ticks;
    const boxes = boxesOf(place);
    /** @type {HTMLElement | null} */
    let next = null;
    for (const box of boxes) {
      const key = box.dataset.step ?? "";
      const label = box.closest("label");
      box.checked = done.includes(key);
      label?.toggleAttribute("data-changed", key in changed);
      label?.removeAttribute("aria-current");
      if (label) label.title = key in changed ? `You ticked it as: ${changed[key]}` : "";
      if (!box.checked) next ??= label;
    }
    next?.setAttribute("aria-current", "step");
    again.hidden = done.length + Object.keys(changed).length + Object.keys(gone).length === 0;
    say(
      status,
      progressText(
        boxes.map((box) => ({
          done: box.checked,
          text: box.dataset.text ?? "",
          number: box.closest("label")?.querySelector("b")?.textContent ?? "",
        })),
      ),
    );
    point("");
    showLost();
  }

  function showLost() {
    if (!sheet) return;
    const { changed, gone } = sheet.ticks;
    const text = lostText(Object.keys(changed).length, Object.keys(gone).length);
    fill(
      said,
      text && h("p", { class: "warn", role: "status" }, text),
      text &&
        h(
          "ul",
          { class: "small" },
          ...Object.entries(changed).map(([, was]) => h("li", {}, `Do it again. You ticked: ${was}`)),
          ...Object.entries(gone).map(([key, was]) =>
            h(
              "li",
              { class: "row" },
              h("span", {}, goneText(key, was)),
              button("Done", () => forget(key), "quiet"),
            ),
          ),
        ),
    );
  }

  /** @param {HTMLInputElement} box */
  async function tick(box) {
    if (!sheet) return;
    const mine = sheet;
    const { step = "", text = "" } = box.dataset;
    const done = box.checked;
    const before = mine.ticks;
    const { [step]: _, ...changed } = before.changed;
    const others = before.done.filter((key) => key !== step);
    mine.ticks = { ...before, changed, done: done ? [...others, step] : others };
    show();
    try {
      await api.keepTick(mine.wiring, { step, text, done });
    } catch (error) {
      if (mine === sheet) {
        const now = mine.ticks.done.filter((key) => key !== step);
        mine.ticks = { ...mine.ticks, done: done ? now : [...now, step] };
        show();
      }
      toast(`“${text}” is not kept: ${error instanceof Error ? error.message : error}`);
    }
  }

  /** Take out a tick of something that the sheet no longer has. @param {string} step */
  async function forget(step) {
    if (!sheet) return;
    await api.keepTick(sheet.wiring, { step, text: "", done: false });
    const { [step]: _, ...gone } = sheet.ticks.gone;
    sheet.ticks = { ...sheet.ticks, gone };
    show();
  }

  async function clear() {
    if (!sheet) return;
    const mine = sheet;
    const { ticks } = mine;
    await api.clearTicks(mine.wiring);
    mine.ticks = { done: [], changed: {}, gone: {} };
    show();
    toast("Every tick of this wiring is gone.", {
      label: "Undo",
      act: () => bringBack(mine, ticks).catch(toastError),
    });
  }

  /** @param {Sheet} mine @param {Sheet["ticks"]} ticks */
  async function bringBack(mine, ticks) {
    const texts = new Map(boxesOf(place).map(({ dataset }) => [dataset.step ?? "", dataset.text ?? ""]));
    const kept = [
      ...ticks.done.map((step) => ({ step, text: texts.get(step) ?? "" })),
      ...Object.entries({ ...ticks.changed, ...ticks.gone }).map(([step, text]) => ({ step, text })),
    ];
    for (const one of kept) await api.keepTick(mine.wiring, { ...one, done: true });
    mine.ticks = ticks;
    show();
  }

  async function savePdf() {
    const stopping = new AbortController();
    const stop = h("button", { type: "button", class: "quiet", onclick: () => stopping.abort() }, "Stop");
    fill(
      setting,
      h("progress", { "aria-label": "The PDF is being set" }),
      h("span", {}, "Setting the pages…"),
      stop,
    );
    setting.hidden = false;
    acts[1].disabled = true;
    try {
      const { draft } = hearingOf(get());
      const bytes = await api.getSheetPdf(draft, paper, AbortSignal.any([stopping.signal, signal]));
      save(new Blob([bytes], { type: "application/pdf" }), "pdf");
    } catch (error) {
      if (!(error instanceof DOMException && error.name === "AbortError")) throw error;
    } finally {
      setting.hidden = true;
      acts[1].disabled = false;
    }
  }

  function saveData() {
    if (sheet) save(new Blob([JSON.stringify(sheet.record, null, 1)], { type: "application/json" }), "json");
  }

  /** @param {Blob} blob @param {string} ending */
  function save(blob, ending) {
    const href = URL.createObjectURL(blob);
    const name = (sheet?.record.name ?? "wiring").replaceAll(/[\\/:*?"<>|]+/g, "-");
    h("a", { href, download: `Build sheet of ${name}.${ending}` }).click();
    setTimeout(() => URL.revokeObjectURL(href), 60_000);
  }

  on(["view", "slots", "current", "before", "unfinished", "commission"], () => {
    show();
    ask();
  });
  signal.addEventListener("abort", () => usePaper(null));
  show();
  ask();
  return view;
}

const paperStyle = h("link", { rel: "stylesheet" });
/** Print on a paper; null for what the browser takes. @param {Paper | null} paper */
function usePaper(paper) {
  if (!paper) return paperStyle.remove();
  const href = `/web/css/paper_${paper}.css`;
  if (paperStyle.getAttribute("href") !== href) paperStyle.setAttribute("href", href);
  if (!paperStyle.isConnected) document.head.append(paperStyle);
}

/** @returns {Paper} */
function recallPaper() {
  const kept = localStorage.getItem(PAPER_KEY);
  if (kept === "a4" || kept === "letter") return kept;
  return LETTER.test(navigator.language) ? "letter" : "a4";
}
