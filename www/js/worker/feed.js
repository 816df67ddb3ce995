// @ts-check
// A blob's bytes, piece by piece.

import { breathe, checkStillWanted, desk, progress } from "./desk.js";

/** How long reading may keep the queue waiting, ms. */
const PATIENCE = 30;
/** Bytes of a file that are fetched at once. */
const PIECE = 1 << 20;
/** Bytes handed to the core at once; they stay near the processor while they are copied and read. */
const SLICE = 1 << 18;
/** What is being read. A stream that only its own pending read refers to may be collected as
 * garbage, and then the read never ends. @type {Set<any>} */
const reading = new Set();

/** Cuts a stream of chunks into pieces of exactly `size` bytes, the last one shorter. */
async function* cut(chunks, size) {
  let rest = new Uint8Array(0);
  for await (const chunk of chunks) {
    let bytes = chunk;
    if (rest.length > 0) {
      bytes = new Uint8Array(rest.length + chunk.length);
      bytes.set(rest);
      bytes.set(chunk, rest.length);
    }
    let at = 0;
    for (; bytes.length - at >= size; at += size) yield bytes.subarray(at, at + size);
    rest = bytes.slice(at);
  }
  if (rest.length > 0) yield rest;
}

/** A blob's bytes in pieces, each in the room of the last one: whoever keeps bytes copies them. */
async function* chunksOf(blob) {
  const reader = byteReader(blob.stream());
  reading.add(reader);
  let room = new ArrayBuffer(PIECE);
  let left = blob.size;
  try {
    for (;;) {
      // A file that is gone or changed may fail as a network would, and says no more than that.
      const { done, value } = await reader.read(new Uint8Array(room)).catch((error) => {
        throw error instanceof DOMException ? error : new DOMException(String(error?.message ?? error), "NotReadableError");
      });
      if (done) {
        // A file that has lost its end may end its stream as if nothing were wrong.
        if (left > 0) throw new DOMException("The file is shorter than it was.", "NotReadableError");
        return;
      }
      left -= value.length;
      for (let from = 0; from < value.length; from += SLICE) yield value.subarray(from, from + SLICE);
      room = value.buffer;
    }
  } finally {
    reading.delete(reader);
    // Whoever stops early waits for it no more.
    reader.cancel().catch(() => {});
  }
}

/** A reader that fills the room it is given, where the browser has one; else one that brings its own. */
function byteReader(stream) {
  try {
    return stream.getReader({ mode: "byob" });
  } catch {
    return stream.getReader();
  }
}

/** Lets the queue in after each stretch of patience; tells how far reading came. */
export function pacer(stage, before, total, name, stoppable) {
  let last = performance.now();
  return async (done) => {
    if (performance.now() - last < PATIENCE) return;
    progress(stage, before + done, total, name);
    await breathe();
    if (stoppable) {
      checkStillWanted();
      await desk.answerQuick();
    }
    last = performance.now();
  };
}

/** Feeds a blob's bytes to a function, piece by piece. */
export async function feed(blob, chunk, take, pace) {
  let done = 0;
  const chunks = chunksOf(blob);
  for await (const bytes of chunk ? cut(chunks, chunk) : chunks) {
    if (take(bytes) === true) return;
    done += bytes.length;
    await pace(done);
  }
}

/** Bytes of a part of a file. */
export async function bytesOf(blob, from, end) {
  return new Uint8Array(await blob.slice(from, end).arrayBuffer());
}
