/**
 * The drawing on the bench as those see it who work on it. No code.
 *
 * @import {Session} from "../session/session.js"
 * @import {Laid} from "../drawing/layout.js"
 * @import {Picture} from "../drawing/paint.js"
 * @import {Place, State, WiringFacts} from "../drawing/types.js"
 *
 * @typedef {{lug?: string, wire?: string, step?: string, part?: string, grip?: string}} Meant  What a pointer
 *   is on: a terminal, a wire's key, the part whose handle flips it, a part, the part whose handle moves it
 * @typedef {{lug?: string, wire?: string, part?: string}} What  What is chosen, or pointed at
 * @typedef {{move: (event: PointerEvent) => void, drop: () => void, cancel: () => void}} Hold  What goes on
 *   while a pointer holds something: `drop` after a move, `cancel` after none or when it is taken away
 * @typedef {(meant: Meant, event: PointerEvent) => Hold | null} Press  what a press begins; null for nothing
 * @typedef {(meant: Meant, event: PointerEvent) => boolean} Tap  whether the tap was meant for it
 *
 * @typedef {object} Board
 * @property {Session} session
 * @property {SVGSVGElement} picture
 * @property {SVGGElement} layer  the drawing; painted anew at every change
 * @property {SVGGElement} over  above the drawing: what is chosen, what is being done
 * @property {HTMLElement} frame  what scrolls
 * @property {() => {facts: WiringFacts, states: State[]} | null} known
 * @property {() => Picture | null} shown
 * @property {() => State | null} state  of the position that plays
 * @property {(words: string) => void} say
 * @property {() => string | null} at  the lug that the keys are on
 * @property {(terminal: string | null) => void} goTo  moves the keys there
 * @property {() => What | null} chosen
 * @property {(what: What | null) => void} choose  marks it and tells what it is for; null for nothing
 * @property {((what: What | null) => void)[]} chose  called after every choice
 * @property {(what: What | null) => void} point  the same until the pointer goes on
 * @property {(event: {clientX: number, clientY: number}) => [number, number]} pointOf  in the drawing's units
 * @property {() => number} zoom  pixels for a unit
 * @property {Press[]} presses  the first that begins something has it
 * @property {Tap[]} taps  the first that takes it has it
 * @property {Record<string, (event: KeyboardEvent) => void>} keys  by `event.key`, letters small; with Shift
 *   after "Shift+"
 * @property {(() => void)[]} painted  called after every paint
 * @property {() => Record<string, Place>} places  where the parts stand
 * @property {(places: Record<string, Place>) => void} preview  shows the parts elsewhere until they are
 *   released, whatever the server answers
 * @property {(written?: Record<string, Place>) => void} release  shows the parts where the draft has them;
 *   places that were just written stay until the drawing comes with them
 */
export {};
