// Plays several clips of one length in step: all run from one moment, only their gains differ, so a flip
// never loses its place. Sounds come from scripts beside the page, each loaded when first wanted.

const FADE_S = 0.02;
const LEAD_S = 0.04;
const RATE = 48000;

/** Sounds by name: a promise of their bytes, and whom to tell. */
const loading = new Map();
const waiting = new Map();

window.presolderSound = (name, text) => {
  const plain = atob(text);
  const bytes = new Uint8Array(plain.length);
  for (let i = 0; i < plain.length; i += 1) bytes[i] = plain.charCodeAt(i);
  waiting.get(name)?.resolve(bytes.buffer);
};

/** The bytes of a sound; its script is loaded once, and again after a failure. */
function bytesOf(clip) {
  if (!loading.has(clip.sound)) {
    loading.set(
      clip.sound,
      new Promise((resolve, reject) => {
        waiting.set(clip.sound, { resolve });
        const script = document.createElement("script");
        script.src = clip.script;
        script.onload = () => script.remove();
        script.onerror = () => {
          loading.delete(clip.sound);
          script.remove();
          reject(new Error(`the sound beside this page could not be loaded (${clip.script})`));
        };
        document.head.append(script);
      }),
    );
  }
  return loading.get(clip.sound);
}

/** A player of sets of clips; `onEnd` is called when a clip has run out (it starts again). */
function createPlayer() {
  let context = null;
  let output = null;
  let volume = 0.4;
  let voices = new Map(); // by sound: {source, gain}
  let startedAt = 0; // context time of the clip's first sample
  let restAt = 0; // place while stopped, s
  let length = 0;
  let playing = false;
  let chosen = null;
  const decoded = new Map();

  function ready() {
    if (context === null) {
      context = new AudioContext({ sampleRate: RATE });
      output = context.createGain();
      output.gain.value = loudness(volume);
      output.connect(context.destination);
    }
    return context;
  }

  // A straight slider sounds as if all happened at its low end: square it.
  const loudness = (value) => value * value;
  const onGrid = (seconds) => Math.round(seconds * RATE) / RATE;

  async function decode(clip) {
    if (!decoded.has(clip.sound)) {
      const bytes = await bytesOf(clip);
      const buffer = await ready().decodeAudioData(bytes.slice(0));
      decoded.set(clip.sound, buffer);
    }
    return decoded.get(clip.sound);
  }

  function place() {
    if (!playing || length === 0) return restAt;
    const since = context.currentTime - startedAt;
    return since < 0 ? restAt : since % length;
  }

  function voiceOf(sound, buffer) {
    const source = context.createBufferSource();
    const gain = context.createGain();
    source.buffer = buffer;
    source.loop = true;
    source.loopEnd = length;
    gain.gain.value = 0;
    source.connect(gain).connect(output);
    const when = onGrid(Math.max(context.currentTime + LEAD_S, startedAt));
    source.start(when, onGrid((when - startedAt) % length));
    voices.set(sound, { source, gain });
  }

  function fade(gain, to, at) {
    gain.gain.cancelScheduledValues(at);
    gain.gain.setTargetAtTime(to, at, FADE_S / 4);
  }

  function hear(sound) {
    const at = context.currentTime + LEAD_S;
    for (const [name, voice] of voices) fade(voice.gain, name === sound ? 1 : 0, at);
  }

  function silence() {
    for (const voice of voices.values()) {
      fade(voice.gain, 0, context.currentTime);
      voice.source.stop(context.currentTime + 2 * FADE_S);
    }
    voices = new Map();
  }

  return {
    place,
    get playing() {
      return playing;
    },
    get length() {
      return length;
    },
    get sounding() {
      return [...voices.keys()];
    },
    bufferOf: (clip) => decoded.get(clip.sound),

    /** Put one clip of a set to the ear; the others of the set follow, in step. */
    async choose(clip, set) {
      chosen = clip.sound;
      const buffer = await decode(clip);
      if (chosen !== clip.sound) return; // another was chosen meanwhile
      const wanted = new Set(set.map((one) => one.sound));
      if (![...voices.keys()].every((name) => wanted.has(name)) || length !== buffer.duration) {
        restAt = Math.min(place(), buffer.duration);
        if (playing) silence();
        length = buffer.duration;
        if (playing) startedAt = onGrid(context.currentTime + LEAD_S - restAt);
      }
      if (playing) {
        if (!voices.has(clip.sound)) voiceOf(clip.sound, buffer);
        hear(clip.sound);
        this.join(set);
      }
    },

    /** Let the others of a set run along silently, as they are loaded. */
    async join(set) {
      for (const clip of set) {
        const buffer = await decode(clip).catch(() => null);
        const mine = playing && buffer !== null && buffer.duration === length;
        if (mine && !voices.has(clip.sound) && set.some((one) => one.sound === chosen)) {
          voiceOf(clip.sound, buffer);
          if (clip.sound === chosen) hear(chosen);
        }
      }
    },

    async play(clip, set) {
      await ready().resume();
      playing = true;
      startedAt = onGrid(context.currentTime + LEAD_S - restAt);
      await this.choose(clip, set);
    },

    pause() {
      restAt = place();
      playing = false;
      if (context !== null) silence();
    },

    async seek(seconds, clip, set) {
      const was = playing;
      if (was) this.pause();
      restAt = Math.max(0, Math.min(seconds, length));
      if (was) await this.play(clip, set);
    },

    setVolume(value) {
      volume = value;
      if (output !== null) output.gain.setTargetAtTime(loudness(value), context.currentTime, FADE_S);
    },
  };
}
