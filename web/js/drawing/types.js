/**
 * Types of the drawing. No code. Lengths are units of the drawing; the grid of wires has a pitch of 10.
 *
 * @typedef {"r" | "d" | "l" | "u"} Direction
 * @typedef {[number, number]} Point
 * @typedef {[number, number, number, number]} Box  left, top, right, bottom
 * @typedef {[number, number, number?]} Place  x, y, and quarter turns; of a switch 1 sides exchanged, 2
 *   upside down, 3 both
 * @typedef {{x: number, y: number, dir: Direction}} Exit  where a wire leaves a part, and which way
 *
 * @typedef {object} PartFacts  A part as the server describes it.
 * @property {string} name
 * @property {string} kind
 * @property {string} look  how it is drawn
 * @property {string} value  in words, or empty
 * @property {string[]} lugs
 * @property {string[][]} poles  of a switch: its lugs by pole, the common one first where there is one
 * @property {string[]} positions  of a switch, sketch or jack with a choice
 * @property {Record<string, string[][]>} contacts  of a switch: the lugs it joins, by position
 * @property {number | null} at_mm  of a coil: from the bridge
 * @property {string | null} knob  of a pot: the knob that turns it
 * @property {string | null} [shaft]  the part on whose shaft it sits
 * @property {Record<string, string>} sounds  of a sketch: its expressions by position
 * @property {Record<string, Network>} networks  the same as networks
 *
 * @typedef {{kind: "series" | "parallel", members: Network[]}} JoinedNetwork
 * @typedef {{kind: string, name: string, turned?: boolean}} NetworkPart  kind: of the part
 * @typedef {JoinedNetwork | NetworkPart} Network  of a sound, from hot to ground
 *
 * @typedef {object} WiringFacts  What the drawing shows, whatever the setting.
 * @property {string} name
 * @property {number} strings
 * @property {string | null} selector
 * @property {PartFacts[]} parts
 * @property {string[][]} housings  coils of each pickup
 * @property {string[][]} joints  terminals such as "volume.3"
 * @property {number} ground  index of the joint with the jack's sleeve, or -1
 * @property {Record<string, string>} labels  of the selector's positions
 * @property {Record<string, Place>} places  where the technician put parts
 * @property {[string, string][]} runs  wires that the technician soldered
 *
 * @typedef {{a: string, b: string, part: string, level: number}} Contact  two terminals that a part joins
 * @typedef {"heard" | "shorted" | "hangs" | "coupled"} CoilState
 * @typedef {object} State  What sounds at a setting. Level 2 carries the sound, 1 loads it, 0 rests.
 * @property {string} position
 * @property {Record<string, string>} stands  the position of every part with positions
 * @property {Record<string, number>} terminals
 * @property {Record<string, number>} parts
 * @property {number[]} joints
 * @property {Contact[]} contacts
 * @property {Record<string, CoilState>} coils
 * @property {number | null} meter_ohm
 *
 * @typedef {object} Lug
 * @property {string} terminal
 * @property {string} name
 * @property {number} x
 * @property {number} y
 * @property {Exit[]} exits
 * @property {"side" | "ring" | "inside" | "pot" | "none"} label  where its name is written
 * @property {number} dx  from the lug to its name
 * @property {number} dy
 * @property {number} [angle]  on a rotary, radians
 * @property {number} [cy]  the centre of its wafer, from the part's
 *
 * @typedef {object} Shape
 * @property {string} type
 * @property {Box[]} boxes  closed to wires
 * @property {Lug[]} lugs
 * @property {Lug} [casing]  where a ground wire may be soldered to the metal
 * @property {Box[]} words  where wires had better not run
 * @property {Box} keep  room with legs and words
 * @property {number} [half]  half the height of a housing
 * @property {{part: PartFacts, cy: number}[]} [coils]
 * @property {{cy: number, poles: string[]}[]} [wafers]
 * @property {Member[]} [members]  of controls on one shaft
 *
 * @typedef {{part: PartFacts, shape: Shape, dy: number, turn: number}} Member  One of several controls on a
 *   shaft, from the place of the one that turns it.
 *
 * @typedef {object} Item  A shape at its place.
 * @property {string} key
 * @property {string[]} names  the parts it shows
 * @property {PartFacts} part
 * @property {Shape} shape
 * @property {number} x
 * @property {number} y
 * @property {number} turn  quarter turns
 * @property {boolean} mirrored
 * @property {boolean} upside
 * @property {Box[]} boxes
 * @property {Box[]} words
 * @property {Box} keep
 * @property {PlacedLug[]} lugs
 * @property {Item[]} [members]  of controls on one shaft
 *
 * @typedef {Lug & {item: Item}} PlacedLug
 * @typedef {{items: Item[], lugs: Map<string, PlacedLug>}} Placed
 *
 * @typedef {"wire" | "stub" | "tie" | "twist" | "splice"} Run
 * @typedef {{joint: number, a: string, b: string | null, run: Run, key: string}} Wire  b is null for a
 *   stub to ground
 *
 * @typedef {{x: number, y: number, exit: Exit}} Stub
 * @typedef {object} Routed
 * @property {Map<string, Stub>} stubs  by the wire's key
 * @property {Map<string, Point[]>} paths  by the wire's key, from pad to pad
 * @property {Map<string, Point[]>} cells  the same on the grid, to keep wires that nothing touches
 * @property {Wire[]} broken  wires that found no way: drawn as two marked ends
 * @property {number} shared  cells of two wires; none after a full effort
 * @property {Point[]} crossings
 * @property {Box} box
 *
 * @typedef {{places: Record<string, Place>, cells: [string, Point[]][]}} Found  A layout as it is kept: where
 *   the parts stand, and the ways of the wires by their keys
 *
 * @typedef {{tag: string, attributes: Record<string, string | number>, children: (Node | string)[]}} Node
 *   An element of the picture.
 */
export {};
