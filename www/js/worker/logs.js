// @ts-check
// The logs in the bench and where their bytes come from: read, read on, read again, taken out.

import { asFailure, desk, isTrap } from "./desk.js";
import { feed, pacer } from "./feed.js";

/** Where each input's bytes come from, in the order of the inputs. @type {Blob[]} */
export const sources = [];
/** The number under which the page opened each input. @type {number[]} */
export const keys = [];
/** Everything that was opened, also what was taken out since. @type {Map<number, {name: string, blob: Blob}>} */
export const shelf = new Map();

/** Takes an input out; those after it move up by one. */
export function takeOut(input) {
  desk.handle.remove(input);
  sources.splice(input, 1);
  keys.splice(input, 1);
}

/** Reads a blob into the bench; what was begun is taken out again where that fails. */
export async function read(name, blob, chunk, before, total) {
  const input = desk.handle.begin(name, blob.size);
  sources[input] = blob;
  keys[input] = desk.nextKey;
  shelf.set(desk.nextKey, { name, blob });
  desk.nextKey += 1;
  try {
    await feed(blob, chunk, (bytes) => desk.handle.push(input, bytes), pacer("read", before, total, name, true));
    desk.handle.finish(input);
    return input;
  } catch (error) {
    if (!isTrap(error)) takeOut(input);
    throw error;
  }
}

/** Reads on in an input of which this is a longer state; null where it is another log. */
export async function readOn(name, blob, before, total) {
  const known = desk.handle.may_have_grown(name, blob.size);
  if (!known) return null;
  const [input, bytes] = known;
  const sum = new wasm_bindgen.Sum();
  await feed(blob.slice(0, bytes), 0, (piece) => sum.push(piece), pacer("read", before, total, name, true));
  const from = desk.handle.grow(input, sum, blob.size);
  if (from === undefined) return null;
  try {
    await feed(blob.slice(from), 0, (piece) => desk.handle.push(input, piece), pacer("read", before + from, total, name, false));
  } catch (error) {
    if (!isTrap(error)) desk.handle.abandon(input);
    throw error;
  }
  desk.handle.finish(input);
  sources[input] = blob;
  shelf.set(keys[input], { name, blob });
  return input;
}

/** Reads inputs again whose way of reading changed; gives those that were read where one fails. */
export async function readAgain(inputs) {
  const done = [];
  for (const input of inputs) {
    const blob = sources[input];
    try {
      desk.handle.begin_again(input, blob.size);
      await feed(blob, 0, (bytes) => desk.handle.push(input, bytes), pacer("read", 0, blob.size, null, false));
    } catch (error) {
      if (isTrap(error)) throw error;
      desk.handle.abandon(input);
      return { done, error: asFailure(error, shelf.get(keys[input])?.name) };
    }
    desk.handle.finish(input);
    done.push(input);
  }
  return { done, error: null };
}

/** Some rows of an input as they stand in its text. */
export async function preview({ input, first, count }) {
  const picker = desk.handle.preview(input, first, count);
  const blob = sources[input];
  await feed(blob, 0, (bytes) => picker.push(bytes), pacer("read", 0, blob.size, null, true));
  return picker.finish();
}

/** Hashes every input that is not hashed yet. */
export async function hashAll() {
  for (const input of desk.handle.unhashed()) {
    const blob = sources[input];
    await feed(blob, 0, (bytes) => desk.handle.hash(input, bytes), pacer("hash", 0, blob.size, null, true));
    desk.handle.finish_hash(input);
  }
}
