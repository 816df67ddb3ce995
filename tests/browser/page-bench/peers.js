// Runs the peers in a worker of their own, each the way its manual shows for typed columns.
"use strict";
let text = "";

function viaUdsv(words) {
  const schema = uDSV.inferSchema(words);
  return uDSV.initParser(schema).typedCols(words);
}

function viaPapa(words) {
  const { data } = Papa.parse(words, { dynamicTyping: true, skipEmptyLines: true });
  const columns = data[0].map(() => new Float64Array(data.length - 1));
  for (let row = 1; row < data.length; row++) {
    for (let place = 0; place < columns.length; place++) columns[place][row - 1] = data[row][place];
  }
  return columns;
}

const peers = {
  keep: ({ kept }) => {
    text = kept;
    return 0;
  },
  udsv: () => viaUdsv(text)[0].length,
  papa: () => viaPapa(text)[0].length,
  udsvFile: async ({ file }) => viaUdsv(await file.text())[0].length,
};

self.onmessage = async ({ data }) => {
  const start = performance.now();
  const rows = await peers[data.run](data);
  self.postMessage({ took: performance.now() - start, rows });
};
