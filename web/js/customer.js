/** Entry of the customer's page behind a link. */

import { linkSource } from "./customer/api.js";
import { start } from "./customer/start.js";

void start(linkSource(decodeURIComponent(location.pathname.split("/")[2] ?? "")));
