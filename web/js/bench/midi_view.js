/** A MIDI file before it is brought in: its parts, its strings, what this instrument cannot play. */

import * as api from "./api.js";
import { problemText } from "../shared/http.js";
import { createTurns } from "../shared/latest.js";
import { fill, h, uid } from "../shared/dom.js";
import { leftOutWords, lengthWords, meantTrack, partWords, stringsWords } from "./midi_words.js";

/** @import {Session} from "../session/session.js" */
/** @import {Look} from "./midi_words.js" */

/** Lines that stand open; the others are folded. */
const SHOWN = 3;

/**
 * @param {Session} session
 * @param {{failed: (text: string) => void, busy: (is: boolean) => void}} on
 */
export function midiView({ slot }, { failed, busy }) {
  const facts = h("div", { class: "midi-facts", role: "status" }),
    which = h("select", { onchange: () => look(Number(which.value)), id: uid("part") });
  const parts = h("div", { class: "field", hidden: true }, h("label", { for: which.id }, "Track"), which);
  const element = h("div", { hidden: true }, parts, facts);
  const turns = createTurns();
  /** @type {File | undefined} */
  let file;
  /** @type {{strings: Look["strings"], tracks: number[]} | null} */
  let playable = null;

  /** @param {number} track 0 for all */
  async function look(track) {
    if (!file) return;
    const isNewest = turns.begin(),
      tracks = track ? [track] : [];
    playable = null;
    busy(true);
    failed("");
    try {
      const seen = await api.lookAtMidi(file, slot().version, tracks);
      if (isNewest()) show(seen, tracks);
    } catch (error) {
      if (!isNewest()) return;
      fill(facts);
      failed(error instanceof Error ? error.message : String(error));
    } finally {
      if (isNewest()) busy(false);
    }
  }

  /** @param {Look} seen @param {number[]} tracks */
  function show(seen, tracks) {
    if (!which.options.length) {
      fill(
        which,
        h("option", { value: 0 }, "all of it"),
        ...seen.parts.map((part) => h("option", { value: part.track }, partWords(part))),
      );
      parts.hidden = seen.parts.length < 2;
      const meant = meantTrack(seen.parts);
      if (meant) {
        which.value = String(meant);
        look(meant);
        return;
      }
    }
    const out = leftOutWords(seen);
    if (seen.problems.length) {
      fill(facts, ...folded("This instrument cannot play", out));
      failed(seen.problems.map(problemText).join(" "));
      return;
    }
    playable = { strings: seen.strings, tracks };
    fill(
      facts,
      h("p", {}, lengthWords(seen)),
      h("p", {}, stringsWords(seen)),
      ...(out.length ? folded("This instrument cannot play, and the take leaves out", out) : []),
      ...seen.remarks.map((text) => h("p", { class: "soft small" }, `${capital(text)}.`)),
    );
  }
  return {
    element,
    /** Look at a file; undefined puts the view away. @param {File | undefined} chosen */
    open(chosen) {
      file = chosen;
      playable = null;
      element.hidden = !chosen;
      parts.hidden = true;
      fill(which);
      fill(facts);
      if (chosen) look(0);
      else {
        turns.drop();
        busy(false); // of a file before
      }
    },
    /** While the file is on its way, its track stays. @param {boolean} is */
    hold(is) {
      which.disabled = is;
    },
    /** What decides strings and which tracks are played; null while nothing can be. */
    chosen: () => playable,
  };
}

/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** @param {string} title @param {string[]} lines */
function folded(title, lines) {
  const list = (/** @type {string[]} */ some) =>
    h("ul", { class: "small" }, ...some.map((line) => h("li", {}, line)));
  const rest = lines.slice(SHOWN);
  return [
    h("p", {}, `${title}:`),
    list(lines.slice(0, SHOWN)),
    ...(rest.length ? [h("details", {}, h("summary", {}, `${rest.length} more`), list(rest))] : []),
  ];
}
