// @ts-check
// Words of the page that name codes of the results. Sentences that carry numbers are made by the core;
// what stands here names things, asks, warns and explains.

export const APP_NAME = "Wattsieve";
export const ONE_SENTENCE = "Wattsieve turns logged voltages and currents into a converter’s efficiency, with its uncertainty.";
export const STAYS_HERE = "Everything is computed in this page, on this machine. Nothing is sent anywhere.";
export const PM_IS = "± is 95 %";
export const PM_POINTS = "± is 95 %, in points";

export const STAGES = [
  { id: "log", name: "Log", plan: "Reads it as it comes. Counts every line it cannot read." },
  { id: "channels", name: "Channels", plan: "Finds voltage, current and time. You confirm." },
  { id: "alignment", name: "Alignment", plan: "Moves all channels to one instant." },
  { id: "sieve", name: "Sieve", plan: "Sets aside rows that cannot be true, each with its reason." },
  { id: "fixture", name: "Fixture", plan: "Takes out the milliohms of your wiring." },
  { id: "points", name: "Operating points", plan: "Efficiency and loss, each with its ±." },
];

/** What a log can be, as asked in the Log card. */
export const RUN_ROLES = [
  ["run", "A converter’s run"],
  ["all_off", "Everything off"],
  ["open_sweep", "Open sweep: wire, no load"],
  ["straight_through", "Straight-through: wire and load"],
  ["input_shorted", "Input shorted"],
  ["output_shorted", "Output shorted"],
  ["cross_bridge", "Wire from in + to out −"],
  ["table", "Table of settled points"],
];

/** Roles of columns and the units they may be in. */
export const COLUMN_ROLES = [
  ["time", "Time", ["s", "ms", "µs", "min", "h", "d"]],
  ["v_in", "Input voltage, P", ["V", "mV", "µV", "counts"]],
  ["i_in", "Input current", ["A", "mA", "µA", "counts"]],
  ["v_out_high", "Output voltage, Q", ["V", "mV", "µV", "counts"]],
  ["v_out_low", "Output low side, N", ["V", "mV", "µV", "counts"]],
  ["v_out", "Output voltage", ["V", "mV", "µV", "counts"]],
  ["i_out", "Output current", ["A", "mA", "µA", "counts"]],
  ["v_source_high", "Source, high side", ["V", "mV"]],
  ["v_source_low", "Source, low side", ["V", "mV"]],
  ["v_load_high", "Load, high side", ["V", "mV"]],
  ["v_load_low", "Load, low side", ["V", "mV"]],
  ["temperature", "Temperature", ["°C", "K", "°F"]],
  ["light", "Light", ["lx", "lm", ""]],
  ["p_in", "Input power", ["W", "mW"]],
  ["p_out", "Output power", ["W", "mW"]],
  ["extra", "Shown, not used", []],
  ["ignore", "Left out", []],
];

/** How columns are parted. @type {[string, string][]} */
export const SEPARATORS = [[",", "comma"], [";", "semicolon"], ["\t", "tab"], ["|", "bar"], [" ", "spaces"]];
/** @type {[string, string][]} */
export const ENCODINGS = [["utf-8", "UTF-8"], ["utf-16le", "UTF-16, low byte first"], ["utf-16be", "UTF-16, high byte first"], ["windows-1252", "Windows-1252"]];
/** @type {[string, string][]} */
export const TEXT_SHAPES = [["delimited", "columns"], ["name_value", "name=value"], ["json", "JSON lines"]];

/** Kinds of problem: what it is, what became of it. @type {Record<string, [string, string]>} */
export const PROBLEM = {
  unreadable_cell: ["Not a number", "The cell counts as missing; the rest of its row is read."],
  field_count: ["Too few or too many cells", "The row is set apart."],
  cut_last_line: ["The last line stops half-way", "It is set apart."],
  over_range: ["Over-range", "The cell counts as over-range, a reason of its own."],
  empty_cell: ["Empty", "The cell counts as missing. Nothing is filled in."],
  open_quote: ["A quote is never closed", "The row is set apart."],
  chatter: ["Lines of text between the rows", "They are passed over."],
  repeated_header: ["The header stands again", "A new stretch begins there."],
  zero_bytes: ["Zero bytes", "They were taken out."],
  unreadable_time: ["Time not readable", "The row is set apart."],
  damaged_time: ["The time column has lost its digits", "It cannot tell the rows apart, so they are counted."],
  unknown_unit: ["Unit not known", "Choose it in the table of columns."],
  gap: ["Rows are missing", "A new stretch begins there; nothing is bridged."],
  backwards: ["Below zero throughout", ""],
  exchanged: ["More power out than in", ""],
  coarse_readings: ["Readings in coarse steps", "They are used; the ± carries the step."],
  range_seam: ["The ranges of a channel do not meet", "State gain and offset of each range under + of its column."],
  bad_letter: ["Letters that the stated encoding does not have", "Each stands as \ufffd; numbers in other cells stay."],
  one_row: ["A single row", "It is read, but nothing can be said of its scatter or its course."],
};

/** How time is written. @type {Record<string, string>} */
export const TIME_FORM = {
  seconds: "in seconds", milliseconds: "in milliseconds", microseconds: "in microseconds", nanoseconds: "in nanoseconds", minutes: "in minutes", hours: "in hours", days: "as days",
  date_time: "dates and times of day", epoch_seconds: "seconds since 1970", epoch_milliseconds: "milliseconds since 1970", epoch_microseconds: "microseconds since 1970", row_period: "rows counted at the stated period", none: "rows are only counted",
};

/** Short names of channels. @type {Record<string, string>} */
export const CHANNEL = {
  time: "time", v_in: "V in", i_in: "I in", v_out_high: "V out +", v_out_low: "V out −", v_out: "V out", i_out: "I out",
  v_source_high: "V source +", v_source_low: "V source −", v_load_high: "V load +", v_load_low: "V load −",
  temperature: "temperature", light: "light", p_in: "P in", p_out: "P out", extra: "extra", ignore: "left out",
};

/** Units of channels in the results. @type {Record<string, string>} */
export const CHANNEL_UNIT = { v_in: "V", i_in: "A", v_out_high: "V", v_out_low: "V", v_out: "V", i_out: "A", temperature: "K" };

/** Why a row is out, in front; the finer words behind. @type {Record<string, [string, string]>} */
export const REASON = {
  unreadable: ["unreadable", "The line could not be read."],
  missing: ["unreadable", "A needed reading is missing."],
  over_range: ["out of range", "A reading lies at the end of its range."],
  time_jump: ["changing too fast", "Time repeats, jumps or restarts here."],
  sign: ["out of range", "Below zero by more than its noise allows."],
  step: ["changing too fast", "Next to a step."],
  unaligned: ["changing too fast", "Its channels cannot be moved to one instant."],
  slew: ["changing too fast", "Changes faster than the delays allow."],
  settling: ["changing too fast", "Settling after a start."],
  spike: ["rare", "One reading stands out from its neighbours in time."],
  rare: ["rare", "Too few rows read alike."],
  by_hand: ["by hand", "Taken out by hand."],
  supply_limit: ["supply in limit", "The supply is in current limit."],
  off: ["off", "The output is off, or below the smallest honest current."],
  above_one: ["above 100 %", "Above 100 % by more than its ±. Kept: it tells that something in the calibration is wrong."],
  kept_by_hand: ["kept by hand", "Kept by hand."],
};

/** Grade of certainty: title and what it means. @type {Record<string, [string, string]>} */
export const GRADE = {
  as_logged: ["As logged", "The ± is scatter only: how well it repeats. Accuracy is not known until a straight-through run is given."],
  split_assumed: ["Split assumed", "A straight-through run takes out the sum of both sides. How it divides between input and output is assumed, and the ± carries that."],
  settled: ["Settled", "A run fixes how the resistance divides, and the gain ratios are measured or stated. The ± carries everything known."],
};

/** Parts of an interval. @type {Record<string, string>} */
export const PART = {
  random: "row scatter", scatter: "row scatter", noise: "row scatter", gain: "gain", gains: "gain", voltage_gain: "voltage gain", current_gain: "current gain",
  offset: "offsets", offsets: "offsets", fixture: "fixture", contacts: "contacts", split: "its split", delay: "delays", delays: "delays between channels", alignment: "delays",
  leak: "volts in the amperes", resolution: "resolution", replug: "plugging in again", jumper: "bridging wires",
};

export const RECORD = {
  title: "What to record",
  lead: "Two short runs of the bare wiring, then the converter. All with the same leads and logger.",
  tail: "A fourth, of 20 s with the input shorted, tells input from output resistance.",
  runs: [
    { kind: "open_sweep", name: "Open sweep", time: "2 min", does: "A wire in place of the converter, nothing at the output. Raise the source slowly from 0 V to its highest.", shows: "Shows how the two voltage channels differ." },
    { kind: "straight_through", name: "Straight-through", time: "7 min", does: "The same wires, the calibration resistor at the output. Sweep the current up and down.", shows: "Shows lead and plug resistance, and how the currents differ." },
    { kind: "run", name: "Your converter", time: "20 to 40 min", does: "Sweep the load up and down while the input voltage falls slowly.", shows: "This one becomes the map." },
  ],
};

export const CARE_LINE = "Calibration resistors get hot enough to burn. Size leads for the current and fuse the source. Never look into a bright lamp. Keep lithium packs within their maker’s limits. Mains-fed supplies are licensed work; local codes and the maker’s data come first. Nothing here says that a test is safe.";
export const CARE_SHORTED = "Set the current limit first, at low voltage, then close the short. Let the resistor cool: it reaches temperatures that burn skin. A warm contact is a bad contact.";
export const CARE_FIXTURE = "Fuse the source, size the leads for the current, and take off rings. Lithium packs: inside the maker’s current, voltage and temperature limits, fused close to the cells, not left alone. Local codes come first.";

export const WIRING_HELP = {
  near: "On the converter’s side of the plugs: their resistance is not between sense node and converter.",
  far: "On the other side of the plugs: their resistance lies between sense node and converter and is taken out.",
};

export const COMPARE_CANNOT = [
  "How another unit of either kind would do: one of each was measured.",
  "Anything outside the region both logs reached.",
  "What a plug re-made between the runs changed, unless its scatter is given.",
];

/** Why a comparison's runs are not alike. @type {Record<string, string>} */
export const UNLIKE = {
  accuracy_not_known: "Accuracy is not known: the ± of the difference is scatter only.",
  fixture: "They were not measured on one fixture calibration.",
  output_voltage: "Their output voltages differ by more than 2 %: the loads are not alike.",
  input_voltage: "Their input voltages hardly overlap.",
  temperature: "Their temperatures differ.",
  row_period: "Their row periods differ.",
};

/** Blank areas. @type {Record<string, string>} */
export const BLANK = {
  not_visited: "not logged", all_removed: "rows out", below_smallest_current: "too little current", no_rows: "not logged", not_logged: "not logged", removed: "rows out", below_cut_off: "below the cut-off", cut_off: "below the cut-off",
  beyond_source: "beyond the source", supply_limit: "supply in limit", out_of_regulation: "out of regulation", too_few: "too few rows", thin: "too few rows", off: "off",
};

/** @param {string} code */
export function wordsOf(code) {
  return code.replaceAll("_", " ");
}
