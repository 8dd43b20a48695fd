/** Propose to the customer: the form of an offer, the link that it makes, and the proposals before it. */

import * as api from "./api.js";
import { requestOf } from "./offering.js";
import { startOffer } from "./offer.js";
import { offerFields } from "./offer_fields.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { linkView } from "./link.js";
import { proposalsList } from "./list.js";
import { saveDialog } from "../session/versions.js";

/** @import {Link} from "./words.js" */
/** @import {Session} from "../session/session.js" */

/** @param {Session} session @param {() => void} reload the proposals */
export function proposeDialog(session, reload) {
  const made = h("div", { role: "status" });
  const linked = (/** @type {Link} */ link) => {
    fill(made, linkView(link));
    made.querySelector("input")?.focus();
  };
  const list = proposalsList(session, reload, linked);
  openDialog(
    "Propose to the customer",
    (close) => {
      const body = h("div", { class: "dialog-body-inner" });
      const form = offerForm(session, close, (link) => {
        linked(link);
        reload();
      });
      fill(body, made, form, list.element);
      return body;
    },
    { closed: list.stop },
  );
}

/** @param {Session} session @param {() => void} close the dialog @param {(answer: Link) => void} done */
function offerForm(session, close, done) {
  const { get, slot } = session,
    problem = h("p", { class: "problem", role: "alert" });
  const offer = startOffer(session, (error) =>
    say(problem, error instanceof Error ? error.message : String(error)),
  );
  const go = h("button", { class: "main" }, "Make the link");
  const unsaved = slot().edits.length > 0;
  go.disabled = unsaved;
  const parts = h("div", { class: "dialog-body-inner" });
  const draw = () => fill(parts, ...offerFields(session, offer));
  const redraw = () => {
    const at = document.activeElement instanceof HTMLElement ? document.activeElement.dataset.at : undefined;
    draw();
    if (at) parts.querySelector(/** @type {"input"} */ (`[data-at="${CSS.escape(at)}"]`))?.focus();
  };
  offer.onRedraw(redraw);
  draw();
  if (!get().ways.length) {
    // the chain comes once
    const stop = session.on(["ways"], () => {
      stop();
      redraw();
    });
  }
  for (const { version } of offer.now().wirings) void offer.learn(version);
  return h(
    "form",
    {
      onsubmit: async (/** @type {Event} */ event) => {
        event.preventDefault();
        const wanted = requestOf(offer.now(), (version) => offer.known.get(version));
        say(problem, wanted.problem);
        if (wanted.problem) return;
        go.disabled = true;
        try {
          done(await api.createProposal(get().commission.id, wanted.form));
          say(problem, "");
        } catch (error) {
          say(problem, error instanceof Error ? error.message : String(error));
        } finally {
          go.disabled = false;
        }
      },
    },
    unsaved && saveFirst(session, close),
    parts,
    problem,
    h("div", { class: "actions" }, go),
  );
}

/** @param {Session} session @param {() => void} close the dialog */
const saveFirst = (session, close) =>
  h(
    "div",
    { class: "row" },
    h(
      "p",
      { class: "warn spread" },
      "Save your edits as a version first. The customer signs a version, which must not change afterwards.",
    ),
    h(
      "button",
      {
        type: "button",
        onclick: () => {
          close();
          saveDialog(session);
        },
      },
      "Save as a new version",
    ),
  );
