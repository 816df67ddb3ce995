// @ts-check
// The sides of a map's cells: its grid's boundaries, which the core gives.

/** The step of a value between boundaries. @param {number[]} edges @param {number} value */
export function stepOf(edges, value) {
  let at = 0;
  while (at < edges.length - 2 && value >= edges[at + 1]) at += 1;
  return at;
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
