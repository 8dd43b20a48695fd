/** Texts come deflated: a third as long, whether a host packs files or not. */

/** @param {BlobPart[]} parts deflated (RFC 1951), in order @returns {Promise<string>} */
export function inflate(parts) {
  const stream = new Blob(parts).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Response(stream).text();
}
