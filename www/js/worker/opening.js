// @ts-check
// What opens, what was open, and new settings: whatever fails leaves the bench as it was.

import { bytesFromBase64 } from "../base64.js";
import { asFailure, breathe, checkStillWanted, desk, failure, isOurs, isTrap, progress } from "./desk.js";
import { feed, pacer } from "./feed.js";
import { keys, read, readAgain, readOn, shelf, sources, takeOut } from "./logs.js";
import { logsOf } from "./packed.js";
import { view } from "./settle.js";

/** Reads several files; each that cannot be read is named, the others stay. */
export async function open({ files, chunk }) {
  const total = files.reduce((sum, file) => sum + file.size, 0);
  const failed = [];
  const opened = [];
  const undo = () => {
    for (const one of opened.reverse()) if (!one.grown) takeOut(one.input);
  };
  // Whether it ends the whole request; else it is noted with the file's name.
  const note = (error, name) => {
    const ends = isTrap(error) || (isOurs(error) && (error.code === "cancelled" || error.code === "stale"));
    if (!ends) failed.push({ name, ...asFailure(error, name) });
    else if (!isTrap(error)) undo();
    return ends;
  };
  let before = 0;
  for (const [at, file] of files.entries()) {
    progress("read", before, total, file.name);
    try {
      for await (const { name, unpacked, packedIn } of logsOf(file)) {
        try {
          const blob = await unpacked();
          const again = await readOn(name, blob, before, total);
          const input = again ?? (await read(name, blob, chunk, before, total));
          const rows = again === null ? null : desk.handle.new_rows(input);
          opened.push({ input, name, bytes: blob.size, blob, file: at, packed_in: packedIn, grown: again !== null, new_rows: rows });
        } catch (error) {
          if (note(error, packedIn && packedIn !== name ? `${name} in ${packedIn}` : name)) throw error;
        }
      }
    } catch (error) {
      if (isTrap(error) || (isOurs(error) && (error.code === "cancelled" || error.code === "stale"))) throw error;
      note(error, file.name);
    }
    before += file.size;
  }
  if (failed.length > 0 && opened.length === 0) throw failed[0];
  try {
    return { ...(await view()), failed, opened };
  } catch (error) {
    if (isOurs(error) && error.code === "cancelled") undo();
    throw error;
  }
}

/** Opens a saved bench: its settings and the logs that it carries, deflated and in base64. */
export async function openBench({ bench, logs, chunk }) {
  const blobs = [];
  for (const [at, log] of logs.entries()) {
    progress("unpack", at, logs.length, log.name);
    blobs.push(await unpacked(log));
    await breathe();
    checkStillWanted();
  }
  desk.handle.clear(bench || null);
  sources.length = 0;
  keys.length = 0;
  const total = blobs.reduce((sum, blob) => sum + blob.size, 0);
  let before = 0;
  for (const [at, blob] of blobs.entries()) {
    await read(logs[at].name, blob, chunk, before, total);
    before += blob.size;
  }
  return view();
}

/** A carried log as it was; refused where it is not the one whose hash is written beside it. */
async function unpacked(log) {
  const damaged = () => failure("log_damaged", `The copy of ${log.name} inside this page is damaged.`,
    "Open the original page, or the log itself.", { file: log.name });
  let blob;
  try {
    const packed = new Blob([bytesFromBase64(log.base64)]);
    blob = await new Response(packed.stream().pipeThrough(new DecompressionStream("deflate-raw"))).blob();
  } catch {
    throw damaged();
  }
  if (log.sha256) {
    const hash = new wasm_bindgen.Hash();
    await feed(blob, 0, (bytes) => hash.push(bytes), async () => {});
    if (hash.finish() !== log.sha256.toLowerCase()) throw damaged();
  }
  return blob;
}

export async function settings({ settings: wanted }) {
  const before = desk.handle.settings();
  const again = desk.handle.set_settings(wanted);
  const back = async (done) => {
    const changed = desk.handle.set_settings(before);
    await readAgain(changed.filter((input) => done.includes(input)));
  };
  const { done, error } = await readAgain(again);
  if (error) {
    // What was read before is still there; only what was read the new way is read the old way again.
    await back(done);
    throw asFailure(error, null);
  }
  try {
    return await view();
  } catch (failed) {
    if (isOurs(failed) && failed.code === "cancelled") await back(done);
    throw failed;
  }
}

/** Puts back what was open: takes out what was not, reads again what was, in its order and with its settings. */
export async function arrange({ keys: wanted, settings: kept }) {
  for (let input = keys.length - 1; input >= 0; input -= 1) if (!wanted.includes(keys[input])) takeOut(input);
  let same = 0;
  while (same < keys.length && keys[same] === wanted[same]) same += 1;
  while (keys.length > same) takeOut(keys.length - 1);
  const again = desk.handle.set_settings(kept);
  const failed = [];
  const { error: unread } = await readAgain(again);
  if (unread) failed.push({ name: null, ...unread });
  for (const key of wanted.slice(same)) {
    const { name, blob } = shelf.get(key) ?? {};
    const at = keys.length;
    try {
      if (!blob) throw failure("log_gone", "A log that was open before is no longer at hand.", "Choose it again.");
      const input = desk.handle.begin(name, blob.size);
      sources[input] = blob;
      keys[input] = key;
      await feed(blob, 0, (bytes) => desk.handle.push(input, bytes), pacer("read", 0, blob.size, name, false));
      desk.handle.finish(input);
    } catch (error) {
      if (isTrap(error)) throw error;
      if (keys.length > at) takeOut(at);
      failed.push({ name, ...asFailure(error, name) });
    }
  }
  return { ...(await view()), failed };
}
