/** The proposal of a page that is a file: everything is in it or beside it, and nothing leaves it. */

import { createKept } from "./kept.js";
import { createPieces } from "./pieces.js";
import { sealAnswer } from "../answers/composing.js";

/** @import {Offer} from "../customer/words.js" */
/** @import {AnswerBox, Source} from "../customer/source.js" */
/**
 * @typedef {object} Sent  What the workshop wrote into the file.
 * @property {string} id  of the proposal
 * @property {Offer} offer  its clips and pictures are names of pieces
 * @property {import("./pieces.js").Folder | null} folder  of the pieces, or null if they are in the page
 * @property {Record<string, string[]>} voices  by take: the piece with the voice of each sound, in order
 * @property {string} guard  the worklet that keeps peaks below the ceiling, as an address
 * @property {string} convolver  the worklet that filters where the browser's convolver is coarse
 * @property {{proposal: string, sent: string, secret: string}} answer  what its answers are sealed with
 */

/** @param {Sent} sent @returns {Source} */
export function fileSource({ id, offer, folder, voices, guard, convolver, answer }) {
  const { readFile, getHead, getText } = createPieces(folder),
    { favourites, comments } = offer;
  const kept = createKept(id, { favourites, comments, wishes: [], heard: [], sign: null, sealed: null });
  const signed = () => {
    const { sign } = kept.get(),
      item = offer.items.find(({ number }) => number === sign?.number);
    return sign && item ? { ...sign, label: item.label, sha256: "" } : offer.signoff;
  };
  return {
    isFile: true,
    keeps: kept.keeps,
    guard,
    getOffer: async () => {
      const { favourites: marked, comments: written } = kept.get();
      return { ...offer, favourites: marked, comments: written, signoff: signed() };
    },
    readFile,
    getHead,
    getPicture: async (name) => `data:image/svg+xml,${encodeURIComponent(await getText(name))}`,
    async setFavourites(numbers) {
      kept.set({ favourites: numbers });
      return { numbers };
    },
    async sendComment(number, text) {
      const comment = { number, text, when: new Date().toISOString() };
      kept.set({ comments: [...kept.get().comments, comment] });
      return comment;
    },
    async signOff({ number, name, date }) {
      kept.set({ sign: { number, name, date, when: new Date().toISOString() } });
      return /** @type {import("../customer/words.js").SignOff} */ (signed());
    },
    answer: answerBox(kept, offer, answer),
    record: null,
    live: {
      convolver,
      turnsWith: (take) => take in voices,
      getVoice: async (number, take) =>
        JSON.parse(await getText(voices[take][offer.items.findIndex((one) => one.number === number)])),
    },
  };
}

/**
 * The answer, which a file's customer sends by hand.
 * @param {ReturnType<typeof createKept>} kept @param {Offer} offer @param {Sent["answer"]} answer
 * @returns {AnswerBox}
 */
function answerBox(kept, offer, answer) {
  const isOld = (/** @type {Offer["comments"][number]} */ { when, text }) =>
    offer.comments.some((one) => one.when === when && one.text === text);
  return {
    said() {
      const { favourites, comments, wishes, heard, sign } = kept.get();
      return { favourites, notes: comments.filter((one) => !isOld(one)), wishes, heard, sign };
    },
    async seal() {
      const said = this.said(),
        of = JSON.stringify(said),
        { sealed } = kept.get();
      if (sealed?.of === of) return sealed.text; // the workshop sees that it is the same answer
      const text = await sealAnswer(answer, said);
      kept.set({ sealed: { of, text } });
      return text;
    },
    wish(number, knobs) {
      const others = kept.get().wishes.filter((one) => one.number !== number);
      kept.set({ wishes: knobs ? [...others, { number, knobs }] : others });
    },
    noteHeard(number, take) {
      const { heard } = kept.get();
      if (heard.some((one) => one.number === number && one.take === take)) return;
      kept.set({ heard: [...heard, { number, take }] });
    },
    unsign() {
      kept.set({ sign: null });
    },
  };
}
