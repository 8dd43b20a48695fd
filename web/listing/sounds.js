/**
 * Sounds beside the page, as scripts: a page opened as a file may load a script but not read a sound file.
 */

/** @type {Map<string, (bytes: ArrayBuffer) => void>} Sounds under way, by name. */
const waiting = new Map();

/**
 * Each sound's script calls this with the sound's bytes in base 64.
 * @param {string} name @param {string} text
 */
function receiveSound(name, text) {
  waiting.get(name)?.(Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer);
}
Object.assign(window, { presolderSound: receiveSound });

/** @param {string} name of the sound @param {string} address of its script @returns {Promise<ArrayBuffer>} */
export function loadSound(name, address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    const end = () => {
      script.remove();
      waiting.delete(name);
      reject(new Error(`the sound beside this page could not be loaded (${address})`)); // no effect once resolved
    };
    waiting.set(name, resolve);
    script.onload = script.onerror = end;
    script.src = address;
    document.head.append(script);
  });
}
