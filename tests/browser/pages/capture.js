/** Run the player's worklet in an offline context and return its samples unchanged. */

const RATE = 48000;

const bytes = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer;

function text(buffer) {
  const all = new Uint8Array(buffer);
  let out = "";
  for (let at = 0; at < all.length; at += 32768) out += String.fromCharCode(...all.subarray(at, at + 32768));
  return btoa(out);
}

/** Decode the parts of a message from text. */
function real(message) {
  const made = { ...message };
  if (message.frame) made.frame = bytes(message.frame);
  if (message.stems) made.stems = message.stems.map((stem) => new Float32Array(bytes(stem)));
  return made;
}

/**
 * @param {{samples: number, options: object, events: {at: number, messages: object[]}[]}} run  `at` in samples,
 *   a multiple of 128.
 */
export async function capture({ samples, options, events }) {
  const context = new OfflineAudioContext({ numberOfChannels: 1, length: samples + 256, sampleRate: RATE });
  await context.audioWorklet.addModule("/web/js/player/worklet.js");
  const node = new AudioWorkletNode(context, "presolder-player", {
    numberOfInputs: 0, outputChannelCount: [1], processorOptions: { ...options, capture: samples },
  });
  node.connect(context.destination);
  const received = [];
  let whole;
  const captured = new Promise((resolve) => { whole = resolve; });
  let there = () => {};
  node.port.onmessage = ({ data }) => {
    if (data.type === "captured") whole(data.samples);
    else if (data.type === "there") there();
    else received.push(data);
  };
  for (const { at, messages } of events) {
    context.suspend(at / RATE).then(async () => {
      const taken = new Promise((resolve) => { there = resolve; });
      for (const message of messages) node.port.postMessage(real(message));
      node.port.postMessage({ type: "there" });
      await taken; // messages travel while the context rests
      return context.resume();
    });
  }
  let out;
  context.suspend((samples + 128) / RATE).then(async () => {
    node.port.postMessage({ type: "captured" });
    out = await captured;
    return context.resume();
  });
  const began = performance.now();
  const heard = await context.startRendering();
  const seconds = (performance.now() - began) / 1000;
  const single = heard.getChannelData(0).slice(0, samples);
  return { samples: text(out.buffer), single: text(single.buffer), messages: received, seconds };
}
