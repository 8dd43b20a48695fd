/** Entry of the customer's page behind a link. */

import { linkSource } from "./customer/api.js";
import { closedWords } from "./customer/closed.js";
import { farthestView } from "./customer/farthest.js";
import { keepFresh } from "./customer/fresh.js";
import { createNews } from "./customer/news.js";
import { leftBehind, sendingView } from "./customer/sending.js";
import { start } from "./customer/start.js";
import { readyView } from "./customer/ready.js";
import { waysView } from "./customer/ways.js";

const token = decodeURIComponent(location.pathname.split("/")[2] ?? "");
void start(linkSource(token), {
  closedWords,
  farthestView,
  keepFresh,
  sendingView,
  leftBehind,
  createNews,
  readyView,
  waysView,
});
