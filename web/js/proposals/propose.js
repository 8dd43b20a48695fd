/** Propose sounds to the customer: choose positions, takes, labels and the lifetime of the link. */

import * as api from "./api.js";
import { hearingOf } from "../session/session.js";
import { stopsOf } from "../session/stops.js";
import { plainName, takeLine } from "../shared/words.js";
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
      const form = wanted(session, close, (link) => {
        linked(link);
        reload();
      });
      fill(body, made, form, list.element);
      return body;
    },
    { closed: list.stop },
  );
}

/**
 * @param {Session} session @param {() => void} close the dialog
 * @param {(answer: Link) => void} done
 */
function wanted(session, close, done) {
  const { get, slot } = session,
    { commission, facts, takes, take } = get();
  const stops = stopsOf(facts),
    { draft, setting } = hearingOf(get());
  const title = h("input", { type: "text", required: true, maxlength: 200, value: commission.title });
  const days = h("input", { type: "number", min: 1, max: 365, value: "30", required: true });
  const rows = stops.map((stop) => ({
    stop,
    on: h("input", { type: "checkbox", checked: !stop.findings }),
    label: h("input", {
      type: "text",
      maxlength: 200,
      value: stop.name,
      "aria-label": `Name of ${stop.position} for the customer`,
    }),
  }));
  const tracks = takes.map((one) => ({
    one,
    on: h("input", { type: "checkbox", checked: one.id === take, disabled: one.state === "broken" }),
  }));
  const problem = h("p", { class: "problem", role: "alert" });
  const go = h("button", { class: "main" }, "Make the link");
  const unsaved = slot().edits.length > 0;
  go.disabled = unsaved;
  const knobs = Object.entries(setting.knobs)
    .map(([name, value]) => `${plainName(name).toLowerCase()} ${value}`)
    .join(", ");
  return h(
    "form",
    {
      onsubmit: async (/** @type {Event} */ event) => {
        event.preventDefault();
        const items = rows
          .filter(({ on }) => on.checked)
          .map(({ stop, label }) => ({
            version: draft.version,
            position: stop.position,
            knobs: setting.knobs,
            switches: setting.switches,
            label: label.value.trim() || stop.name,
          }));
        const chosen = tracks.filter(({ on }) => on.checked).map(({ one }) => one.id);
        if (!items.length || !chosen.length) {
          say(problem, "Choose at least one position and one take.");
          return;
        }
        go.disabled = true;
        try {
          done(
            await api.createProposal(commission.id, {
              title: title.value.trim(),
              items,
              takes: chosen,
              expires_days: Number(days.value),
            }),
          );
          say(problem, "");
        } catch (error) {
          say(problem, error instanceof Error ? error.message : String(error));
        } finally {
          go.disabled = false;
        }
      },
    },
    unsaved &&
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
      ),
    h("label", { class: "field" }, h("span", {}, "Title the customer sees"), title),
    h(
      "fieldset",
      { class: "ticks" },
      h("legend", {}, "Positions"),
      knobs ? h("p", { class: "soft small" }, `with ${knobs}, as set now`) : null,
      ...rows.map(({ stop, on, label }) =>
        h(
          "div",
          { class: "row" },
          h(
            "label",
            {},
            on,
            h("span", {}, stop.position),
            h("span", { class: "unseen" }, `Show ${stop.name}`),
          ),
          h("div", { class: "spread" }, label),
          h("small", { class: "soft words" }, stop.words),
        ),
      ),
    ),
    h(
      "fieldset",
      { class: "ticks" },
      h("legend", {}, "Takes"),
      ...tracks.map(({ one, on }) =>
        h(
          "label",
          {},
          on,
          h("span", { class: "words" }, one.name, " ", h("small", { class: "soft" }, takeLine(one))),
        ),
      ),
    ),
    h("label", { class: "field" }, h("span", {}, "Days until the link expires"), days),
    problem,
    h("div", { class: "actions" }, go),
  );
}
