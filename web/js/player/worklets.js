/** Addresses of the worklets. In a file of its own: a page that is one file holds its worklets itself. */

/** The guard of peaks behind finished clips. */
export const GUARD = new URL("./guard_worklet.js", import.meta.url).href;
/** The live player. */
export const PLAYER = new URL("./worklet.js", import.meta.url).href;
/** Filters where the browser's convolver is coarse. */
export const CONVOLVER = new URL("./convolve_worklet.js", import.meta.url).href;
/** What records an input. */
export const CAPTURE = new URL("./capture_worklet.js", import.meta.url).href;
