/** Entry of the customer's page that is a file, or a folder for any web host. */

import { fileSource } from "./bundle/source.js";
import { start } from "./customer/start.js";

/** A text that the workshop wrote into the page. @param {string} id */
const textOf = (id) => document.getElementById(id)?.textContent ?? "";

/** The address of a worklet in the page. @param {string} id */
const addressOf = (id) => `data:text/javascript,${encodeURIComponent(textOf(id))}`;

const worklets = { guard: addressOf("guard"), convolver: addressOf("convolver") };
void start(fileSource({ ...JSON.parse(textOf("sent")), ...worklets }));
