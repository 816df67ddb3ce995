// @ts-check
// The sides of a map's cells: its grid's boundaries, which the core gives.

/** The step of a value between boundaries. @param {number[]} edges @param {number} value */
export function stepOf(edges, value) {
  let at = 0;
  while (at < edges.length - 2 && value >= edges[at + 1]) at += 1;
  return at;
}

/** The axes that just hold some cells, and room for their numbers. @param {{x: number[], y: number[]}[]} sides V and A */
export function cellAxes(sides) {
  const [x, y] = /** @type {const} */ (["x", "y"]).map((axis) => [Math.min(...sides.map((one) => one[axis][0])), Math.max(...sides.map((one) => one[axis][1]))]);
  return {
    margins: { right: 28 },
    x: { kind: "linear", range: x, title: "input voltage / V" },
    y: { kind: y[0] > 0 ? "log" : "linear", range: y, title: "output current / A" },
  };
}

/**
 * @param {any[]} cells @param {{v_in: number[], i_out: number[]}|null} edges
 * @returns {{cell: any, x: [number, number], y: [number, number]}[]}
 */
export function boxes(cells, edges) {
  if (!edges || edges.v_in.length < 2 || edges.i_out.length < 2) return [];
  return cells.map((cell) => {
    const [column, line] = [stepOf(edges.v_in, cell.v_in), stepOf(edges.i_out, cell.i_out)];
    return { cell, x: [edges.v_in[column], edges.v_in[column + 1]], y: [edges.i_out[line], edges.i_out[line + 1]] };
  });
}
