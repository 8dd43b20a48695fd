import assert from "node:assert/strict";
import { test } from "node:test";
import { balanceInWords } from "../../web/js/bench/balance_view.js";

test("the loudest string is named, the others by how far they fall behind", () => {
  const strings = [
    { note: "D3", level_db: -4.8 },
    { note: "G3", level_db: 0 },
    { note: "B3", level_db: -1.96 },
  ];
  assert.equal(balanceInWords(strings), "G3 is the loudest; re it: D3 −4.8 dB, B3 −2.0 dB.");
});
