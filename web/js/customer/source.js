/**
 * Where the customer's page has its proposal from, and where what the customer does goes. No code.
 *
 * @import {Powers} from "../player/live_level.js"
 * @import {Offer, SignOff} from "./words.js"
 * @import {Entry} from "./outbox.js"
 * @import {Said as OneSaid} from "./operation.js"
 * @import {Head} from "../player/clips.js"
 * @import {OneChain} from "../player/bend_loop.js"
 * @import {Turned} from "../player/live_player.js"
 * @import {Said} from "../answers/composing.js"
 *
 * @typedef {object} Source
 * @property {boolean} isFile  whether the page is a file that holds everything and reaches nobody
 * @property {() => boolean} keeps  whether what the customer does is still there after a reload
 * @property {string} guard  address of the worklet that keeps peaks below the ceiling
 * @property {string} device  what this browser is called in the conversation; empty in a file
 * @property {() => Promise<Offer>} getOffer
 * @property {((way: string) => Offer) | null} inWay  the offer as it is heard in a way, from now on; null
 *   where there is one alone
 * @property {(listener: (offer: Offer) => void) => void} onOffer  called with each change made here
 * @property {((after: number, signal: AbortSignal) => Promise<{changed: boolean}>) | null} waitForNews  null
 *   where none can come
 * @property {() => Entry[]} unsent  what waits in this browser, and what was refused
 * @property {ReadFile} readFile  reads a file that the offer or a voice names
 * @property {(file: string) => Promise<Head> | null} getHead  null for a file that comes whole
 * @property {(file: string) => Promise<string>} getPicture  an address that an image can show
 * @property {(said: OneSaid) => void} say  keeps it here, and sends it where the page can
 * @property {() => void} send  tries at once to send what waits
 * @property {(id: string) => void} sayAgain  sends again what was refused
 * @property {(id: string) => void} giveUp  forgets what was refused
 * @property {(number: number, take: string, way: string) => void} noteHeard  a sound has been played
 * @property {((form: {wiring: number, name: string, date: string, sounds: number[]}) =>
 *   Promise<SignOff>) | null} signOff  sounds: of the wiring, as shown; null where nothing can be signed
 * @property {string | null} record  address of the signed record
 * @property {string | null} receipt  address of the same as a page to print
 * @property {AnswerBox | null} answer  of a file, where the customer sends by hand; null where the page sends
 * @property {LiveSource} live
 *
 * @typedef {object} AnswerBox  What goes into an answer, and its sealed text.
 * @property {() => Said} said
 * @property {() => Promise<string>} seal  the same text as long as nothing changes
 * @property {() => void} unsign  takes the signature out again
 * @property {(text: string) => Promise<void>} bring  a receipt of the workshop
 * @property {() => Promise<Receipt | null>} receipt  what the workshop has, by the last receipt
 *
 * @typedef {object} Receipt
 * @property {string} received  when the workshop took the answer in
 * @property {"none" | "signed" | "signed before" | "second" | "waiting"} state  of the signature in it
 * @property {boolean} isLast  whether it is for the answer as it stands now
 *
 * @typedef {(file: string, how: {from: number, signal: AbortSignal, onPiece: OnPiece}) => Promise<void>}
 *   ReadFile  from: the first byte that is wanted
 * @typedef {(piece: Uint8Array<ArrayBuffer>, at: number, total: number) => void} OnPiece  at: the place of a
 *   piece in the file; total: the file's bytes, 0 if unknown
 *
 * @typedef {object} LiveSource
 * @property {string} convolver  address of the worklet that filters where the browser's convolver is coarse
 * @property {(take: string) => boolean} turnsWith  whether the knobs turn with a take
 * @property {(number: number, take: string, way: string) => Promise<Voice>} getVoice  of an offered sound
 * @property {(chain: OneChain, stemGain: number) => Turned["bend"]} [bend]  runs a way that bends
 *
 * @typedef {{file: string, bytes: number}} Part
 * @typedef {object} Voice  An offered sound on a take, for any knob values.
 * @property {Part} model
 * @property {{name: string, files: Part[], gain: number}} stems  name: equal for sounds with the same stems;
 *   gain: from full scale to volts
 * @property {Powers} powers
 * @property {number} clip_db  from what is heard, in volts, to the clip as the page plays it
 * @property {number[]} [behind]  response of a linear way at the model's frequencies: real parts, then
 *   imaginary ones
 * @property {OneChain} [chain]  of a way that bends
 */

export {};
