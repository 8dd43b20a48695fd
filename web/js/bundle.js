/** Entry of the customer's page that is a file, or a folder for any web host. */

import { fileSource } from "./bundle/source.js";
import { start } from "./customer/start.js";

void start(fileSource(JSON.parse(document.getElementById("sent")?.textContent ?? "")));
