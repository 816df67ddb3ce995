// @ts-check
// The map as a file, with what it shows written under it.

import { offerFile } from "../dom.js";
import { count, quantity } from "../format.js";
import { currentRun, overtaken, report, state } from "../state.js";
import { GRADE } from "../text.js";
import { drawn, still, vectorStill } from "../figure/map.js";
import { fileName, pictureOf } from "../figure/picture.js";
import { planeCaption, planeLine } from "./plane.js";

/** What stands above and below the saved figure. @param {any} run */
function words(run) {
  const fixture = state.view.fixture;
  const rows = run.rows;
  return {
    title: `${state.colour === "loss" ? "Loss" : "Efficiency"} ${planeLine(run)}`,
    lines: [
      `${run.name}: ${count(rows.kept)} rows kept of ${count(rows.read)}, ${count(rows.removed_count)} out as crosses.`,
      fixture ? `Quoted ${planeLine(run)}: ${planeCaption(run)}; between sense nodes and converter ${quantity(fixture.correction_in, "Ω")} at the input, ${quantity(fixture.correction_out, "Ω")} at the output.` : "Between the sense nodes as logged: no calibration, accuracy not known.",
      run.peak?.efficiency?.value ? `Best efficiency ${quantity(run.peak.efficiency, "%")} (points) at ${quantity(run.peak.v_in, "V")} in, ${quantity(run.peak.i_out, "A")} out. ± is 95 %.` : "± is 95 %, efficiency in points.",
      GRADE[run.grade] ? `${GRADE[run.grade][0]}. ${GRADE[run.grade][1]}` : "",
    ].filter(Boolean),
  };
}

/** Saves the figure as a picture with its caption burned in, or as lines and words. @param {"png"|"svg"} kind */
export async function saveFigure(kind) {
  const run = currentRun();
  if (!run || !drawn.frame || state.early) return;
  try {
    if (kind === "svg") {
      const text = await vectorStill(words(run));
      if (text) offerFile(fileName(run.name, "map.svg"), text, "image/svg+xml");
      return;
    }
    const figure = await still();
    if (figure) pictureOf({ name: run.name, figure, ...words(run) });
  } catch (error) {
    if (!overtaken(error)) report(error);
  }
}
