/** Entry of the customer's page behind a link. */

import { linkSource } from "./customer/api.js";
import { keepFresh } from "./customer/fresh.js";
import { createNews } from "./customer/news.js";
import { leftBehind, sendingView } from "./customer/sending.js";
import { start } from "./customer/start.js";
import { waysView } from "./customer/ways.js";

const token = decodeURIComponent(location.pathname.split("/")[2] ?? "");
void start(linkSource(token), { keepFresh, sendingView, leftBehind, createNews, waysView });
