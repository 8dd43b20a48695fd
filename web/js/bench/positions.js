/** Reorder the positions of a sketch: its sounds change places, and their labels with them. */

import * as api from "./api.js";
import { mapText } from "../session/compare.js";
import { moved } from "../session/ranging.js";
import { sketchedPositions } from "../session/sketches.js";

/** @import {Session} from "../session/session.js" */
/** @import {Check, Edit} from "../shared/types.js" */

/**
 * The edits that move a position, and its name afterwards. Numbers count the places of the selector, so they
 * stay and the sounds move. Other names go with their sounds.
 * @param {Pick<Check, "parts" | "selector" | "positions">} check @param {number} from @param {number} to
 * @returns {{edits: Edit[], position: string} | null}
 */
export function moveEdits(check, from, to) {
  const positions = sketchedPositions(check);
  if (!positions || !positions[from] || !positions[to]) return null;
  const names = positions.map(({ name }) => name),
    numbered = names.every((name) => /^\d+$/.test(name));
  const labels = new Map(check.positions.map(({ position, label }) => [position, label]));
  const rows = moved(positions, from, to).map(({ name, sound }, k) => ({
    name: numbered ? names[k] : name,
    sound,
    label: labels.get(name) ?? "",
  }));
  const path = ["parts", check.selector ?? "", "positions"];
  const edits = [{ path, value: mapText(rows.map(({ name, sound }) => [name, sound])) }];
  if (numbered && rows.some(({ label }) => label))
    edits.push({ path: ["labels"], value: mapText(rows.map(({ name, label }) => [name, label])) });
  return { edits, position: rows[to].name };
}

/**
 * Move a position of the sketch that plays, as one step of undo. The position that plays stays the same
 * sound.
 * @param {Session} session @param {number} from @param {number} by
 */
export async function movePosition(session, from, by) {
  const { get } = session,
    { version, edits } = session.slot(),
    draft = JSON.stringify({ version, edits });
  const { check, checked } = get();
  const here = check && checked === draft ? check : await api.checkDraft({ version, edits });
  const now = session.slot();
  if (JSON.stringify({ version: now.version, edits: now.edits }) !== draft || !here.ok) return;
  const names = here.positions.map(({ position }) => position),
    move = moveEdits(here, from, from + by);
  if (!move) return;
  const at = names.indexOf(now.position),
    after = moved(names, from, from + by).indexOf(now.position);
  session.edit(...move.edits);
  const numbered = names.every((name) => /^\d+$/.test(name));
  if (numbered && at >= 0) session.setPosition(names[after]);
}
