/** Draws QR codes for a test of the server: lines of JSON `{head, digits}` in, codes as JSON out. */

import { readFileSync, writeSync } from "node:fs";
import { qrCode } from "../../web/js/answers/qr.js";

for (const line of readFileSync(0, "utf8").trim().split("\n"))
  writeSync(1, `${JSON.stringify(qrCode(JSON.parse(line)))}\n`);
