// @ts-check
// Logs inside files: as they are, or packed.

import { bytesOf, feed, pacer } from "./feed.js";

/** Unpacks a blob to another one. */
async function unpack(blob, unpacker, name) {
  const parts = [];
  try {
    await feed(blob, 0, (bytes) => parts.push(unpacker.push(bytes)) < 0, pacer("unpack", 0, blob.size, name, true));
  } catch (error) {
    unpacker.free();
    throw error;
  }
  unpacker.finish();
  return new Blob(parts);
}

/** The logs of a file: itself, or what is packed in it; told by content. Each may fail alone. */
export async function* logsOf(file) {
  const packing = wasm_bindgen.packing(await bytesOf(file, 0, 4));
  if (packing === "plain") {
    yield { name: file.name, unpacked: async () => file, packedIn: null };
  } else if (packing === "gzip") {
    const unpacked = () => unpack(file, wasm_bindgen.Unpacker.gzip(), file.name);
    yield { name: wasm_bindgen.unpacked_name(file.name), unpacked, packedIn: file.name };
  } else {
    const tail = await bytesOf(file, Math.max(0, file.size - wasm_bindgen.Archive.tail()), file.size);
    const archive = new wasm_bindgen.Archive(tail, file.size);
    try {
      const names = archive.read(await bytesOf(file, ...archive.place()));
      for (const [at, name] of names.entries()) {
        const unpacked = async () => {
          const header = archive.header_of(at);
          const data = archive.data(at, await bytesOf(file, header, header + wasm_bindgen.Archive.header()));
          return unpack(file.slice(...data), archive.unpacker(at), name);
        };
        yield { name, unpacked, packedIn: file.name };
      }
    } finally {
      archive.free();
    }
  }
}
