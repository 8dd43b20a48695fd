/** Seals answers for a test of the server: lines of JSON `[offer, said]` in, `[canonical, sealed]` out. */

import { readFileSync, writeSync } from "node:fs";
import { composeAnswer } from "../../web/js/answers/composing.js";
import { fromBase64, sealText } from "../../web/js/answers/sealing.js";

for (const line of readFileSync(0, "utf8").trim().split("\n")) {
  const [offer, said] = JSON.parse(line);
  const text = composeAnswer(offer, said, new Date(said.when), Uint8Array.from(said.random));
  writeSync(1, `${JSON.stringify([text, await sealText(text, fromBase64(offer.secret))])}\n`);
}
