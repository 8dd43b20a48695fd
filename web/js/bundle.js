/** Entry of the customer's page that is a file, or a folder for any web host. */

import { fileSource } from "./bundle/source.js";
import { start } from "./customer/start.js";

/** A text that the workshop wrote into the page. @param {string} id */
const textOf = (id) => document.getElementById(id)?.textContent ?? "";

const guard = `data:text/javascript,${encodeURIComponent(textOf("guard"))}`;
void start(fileSource({ ...JSON.parse(textOf("sent")), guard }));
