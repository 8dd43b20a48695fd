/**
 * The pieces of a page that is a file: sounds and pictures, as text in the page or in scripts beside it. A
 * page opened as a file may load a script but not read the bytes of a file.
 */

const LOOK_AGAIN_MS = 50;
/** @type {Map<string, (text: string) => void>} Scripts under way, by the piece they bring. */
const waiting = new Map();

/**
 * Each script beside the page calls this with its piece in base 64.
 * @param {string} name @param {string} text
 */
function receivePiece(name, text) {
  waiting.get(name)?.(text);
}
Object.assign(window, { presolderPiece: receivePiece });

/** @param {string} name @param {string} address of its script @returns {Promise<string>} */
function loadScript(name, address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    const end = () => {
      script.remove();
      waiting.delete(name);
      reject(new Error(`${address} could not be loaded`)); // no effect once resolved
    };
    waiting.set(name, resolve);
    script.onload = script.onerror = end;
    script.src = address;
    document.head.append(script);
  });
}

/** The text of a piece in the page. A long page may still be on its way. @param {string} name */
async function findText(name) {
  for (;;) {
    const element = document.getElementById(`piece-${name}`);
    const isLoaded = document.readyState !== "loading";
    if (element && (isLoaded || element.nextElementSibling)) return element.textContent ?? "";
    if (isLoaded) throw new Error(`${name} is not in this file`);
    await new Promise((resolve) => {
      setTimeout(resolve, LOOK_AGAIN_MS);
    });
  }
}

/**
 * The beginning of the sound that is heard first. It lies in the page, the rest of it beside the page.
 * @typedef {{name: string, seconds: number}} First  seconds: of the whole sound
 */

const HEAD = "head";

/** @param {string} text in base 64 */
const bytesOf = (text) => Uint8Array.from(atob(text.trim()), (sign) => sign.charCodeAt(0));

/**
 * @param {string} folder of the scripts beside the page, or empty if the page holds its pieces
 * @param {First | null} first
 */
export function createPieces(folder, first) {
  const text = (/** @type {string} */ name) =>
    folder ? loadScript(name, `${folder}/${encodeURIComponent(name)}.js`) : findText(name);
  /** Settles when the first sound is whole: until then it has the line for itself. */
  let begun = Promise.resolve();
  /** @param {string} name @returns {Promise<ArrayBuffer>} */
  async function getBytes(name) {
    if (name !== first?.name) return bytesOf(await text(name)).buffer;
    const parts = Promise.all([findText(HEAD), text(name)]);
    begun = parts.then(
      () => undefined,
      () => undefined,
    );
    return new Blob((await parts).map(bytesOf)).arrayBuffer();
  }
  return {
    getBytes,
    /** The beginning of a sound, if it comes before the rest. @param {string} name */
    getHead: (name) =>
      name === first?.name
        ? findText(HEAD).then((text) => ({ bytes: bytesOf(text).buffer, seconds: first.seconds }))
        : null,
    /** An address that an image can show. @param {string} name @param {string} type its media type */
    async getAddress(name, type) {
      await begun;
      return `data:${type};base64,${(await text(name)).trim()}`;
    },
  };
}
