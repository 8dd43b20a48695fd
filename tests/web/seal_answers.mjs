/** Seals answers for a test: lines of JSON `[offer, said]` in, `[canonical, sealed, digits]` out. */

import { readFileSync, writeSync } from "node:fs";
import { composeAnswer } from "../../web/js/answers/composing.js";
import { inDigits } from "../../web/js/answers/digits.js";
import { fromBase64, sealText } from "../../web/js/answers/sealing.js";

for (const line of readFileSync(0, "utf8").trim().split("\n")) {
  const [offer, said] = JSON.parse(line);
  const text = composeAnswer(offer, said, new Date(said.when), Uint8Array.from(said.random));
  const sealed = await sealText(text, fromBase64(offer.secret)),
    { head, digits } = inDigits(sealed);
  writeSync(1, `${JSON.stringify([text, sealed, head + digits])}\n`);
}
