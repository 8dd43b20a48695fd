/** Entry of the bench: the address selects the view. One view closes before the next opens. */

import { getCommission } from "./session/api.js";
import { ApiError, getAccess, onConnection } from "./shared/http.js";
import { listTakes } from "./shared/lists.js";
import { recall } from "./session/remembered.js";
import { createSession } from "./session/session.js";
import { followTakes } from "./session/takes.js";
import { accessView } from "./bench/access_view.js";
import { ADDRESSED, benchPage } from "./bench/page.js";
import { commissionsView } from "./commissions/list.js";
import { newInstrumentView } from "./commissions/words_view.js";
import { fill, h } from "./shared/dom.js";
import { listingsView } from "./listings/list.js";
import { createTurns } from "./shared/latest.js";
import { newListingView } from "./listings/new.js";
import { startNotices } from "./shared/notices.js";

const page = /** @type {HTMLElement} */ (document.getElementById("page"));
let leave = () => {};
const turns = createTurns();

/** @param {...HTMLElement} parts */
const show = (...parts) => fill(page, ...parts);
const head = () =>
  h(
    "header",
    { class: "top" },
    h("a", { class: "mark", href: "#/" }, "Presolder"),
    h(
      "nav",
      { class: "nav", "aria-label": "Views" },
      ...[
        ["#/", "Commissions"],
        ["#/listings", "Listings"],
        ["#/built", "Built"],
      ].map(([href, label]) =>
        h(
          "a",
          {
            href,
            "aria-current": placeInNav() === href ? "page" : null,
          },
          label,
        ),
      ),
    ),
  );

/** The view of the navigation that the address lies in. */
const placeInNav = () => ["#/listings", "#/built"].find((href) => location.hash.startsWith(href)) ?? "#/";

async function route() {
  const isNewest = turns.begin();
  leave();
  const closing = new AbortController();
  leave = () => closing.abort();
  document.title = "Presolder";
  try {
    const { needs_key: needsKey, signed_in: signedIn, tls } = await getAccess();
    if (!isNewest()) return;
    if (needsKey && !signedIn) return show(head(), accessView(tls, route));
    const listing = /^#\/listings(\/archived|\/new(?:\?c=([^&]*))?)?$/.exec(location.hash);
    if (listing) {
      const view = listing[1]?.startsWith("/new")
        ? await newListingView(decodeURIComponent(listing[2] ?? ""), closing.signal)
        : listingsView(Boolean(listing[1]), closing.signal);
      if (isNewest()) show(head(), view);
      return;
    }
    if (location.hash === "#/built" || location.hash === "#/built/archived") {
      const { recordView } = await import("./built/record_view.js");
      const view = recordView(location.hash.endsWith("archived"), closing.signal);
      if (isNewest()) show(head(), view);
      return;
    }
    if (location.hash === "#/new") {
      const view = await newInstrumentView(closing.signal);
      if (isNewest()) show(head(), view);
      return;
    }
    const open = /^#\/c\/([^/]+)(?:\/([a-z]+))?$/.exec(location.hash);
    if (!open || (open[2] && !ADDRESSED.includes(open[2])))
      return show(head(), commissionsView(location.hash === "#/archived", closing.signal));
    show(
      head(),
      h("main", { class: "loading", id: "main" }, h("p", { role: "status" }, "Opening the commission…")),
    );
    await openBench(decodeURIComponent(open[1]), open[2], isNewest);
  } catch (error) {
    if (isNewest()) show(head(), failure(error));
  }
}

/** @param {string} id @param {string | undefined} view of the address @param {() => boolean} isNewest */
async function openBench(id, view, isNewest) {
  const takes = listTakes(); // the wiring opens without them
  takes.catch(() => {}); // followTakes reports it
  const commission = await getCommission(id);
  if (!isNewest()) return;
  const remembered = recall(commission);
  const session = createSession(commission, withView(remembered, view));
  leave = session.close;
  show(...benchPage(session));
  followTakes(session, takes).catch(reportError);
}

/**
 * What is remembered, with the view that the address names.
 * @param {ReturnType<typeof recall>} remembered @param {string | undefined} view
 */
const withView = (remembered, view) =>
  view ? { ...remembered, view: /** @type {"built"} */ (view) } : remembered;

/** @param {unknown} error */
function failure(error) {
  const gone = error instanceof ApiError && error.status === 404;
  return h(
    "main",
    { class: "view", id: "main" },
    h(
      "div",
      { class: "empty" },
      h("h1", {}, gone ? "Commission not found" : "The view could not open"),
      h(
        "p",
        { class: "soft" },
        gone
          ? "It may belong to another data folder, or the address is incomplete."
          : error instanceof Error
            ? error.message
            : String(error),
      ),
      h(
        "div",
        { class: "row" },
        h("button", { class: "main", onclick: route }, "Try again"),
        h("a", { class: "button", href: "#/" }, "To the list"),
      ),
    ),
  );
}

document.querySelector(".skip")?.addEventListener("click", (event) => {
  event.preventDefault(); // the address selects the view and must not change
  const main = document.getElementById("main");
  main?.setAttribute("tabindex", "-1");
  main?.focus();
});
startNotices(/** @type {HTMLElement} */ (document.getElementById("notices")));
let asked = false;
onConnection((state) => {
  if (state === "key" && !asked) {
    asked = true;
    route().finally(() => {
      asked = false;
    });
  }
});
window.addEventListener("hashchange", route);
route();
