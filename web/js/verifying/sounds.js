/** What a place for a recording of the guitar takes. */

export const SOUND = "audio/*,.wav,.flac,.aiff,.aif,.ogg,.mp3";
/** The server's limit. */
export const MOST = { bytes: 80 * 2 ** 20, less: "three minutes of two channels" };
