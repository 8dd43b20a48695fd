/** Places the parts of a drawing and lays its wires, beside the page. */

import { layOut } from "../drawing/layout.js";

/** @import {WiringFacts} from "../drawing/types.js" */

addEventListener("message", ({ data }) => {
  const { id, facts, folded } = /** @type {{id: number, facts: WiringFacts, folded: boolean}} */ (data);
  const { places, routed } = layOut(facts, { folded });
  postMessage({ id, places, cells: [...routed.cells] });
});
