// @ts-check
// Words about rows: gates, delays, clocks, plateaus, a pulsed output.

/** Gates that take rows out and can be switched, in their order. @type {[string, string][]} */
export const GATES = [
  ["over_range", "End of range"],
  ["time_jump", "Time jumps"],
  ["sign", "Wrong sign"],
  ["step", "Steps"],
  ["unaligned", "Not to be brought to one instant"],
  ["slew", "Too fast for the delays"],
  ["settling", "Settling after a start"],
  ["spike", "Lone spikes"],
  ["rare", "The sieve: too few read alike"],
];

/** Gates that only label. @type {[string, string][]} */
export const LABELS = [
  ["supply_limit", "Supply in limit"],
  ["off", "Output off"],
];

/** Where delays come from. @type {Record<string, string>} */
export const DELAY_FROM = {
  stated: "delays as stated",
  straight_through: "delays from the straight-through run, whose two currents are one",
  up_down: "delays from the run’s own ups and downs: those that bring rising and falling rows together",
  none: "all channels taken as of one instant",
};

/** Why there are none: short, and a sentence. @type {Record<string, [string, string]>} */
export const DELAY_WHY = {
  nothing_moves: ["cannot tell: nothing moves", "Nothing moves fast enough in this log to show a delay. Where nothing moves, a delay does no harm."],
  no_gap_to_close: ["no delay seen", "Rising and falling rows agree as they are: no delay shows."],
  settled_points: ["settled points have none", "Each row is a settled point: nothing moved while it was taken."],
  switched_off: ["switched off", "Delays are switched off: all channels are taken as of one instant."],
  two_loggers: ["two loggers", "Channels of two loggers have no common order of sampling; their clocks are brought together below."],
};

/** Where another logger's clock comes from. @type {Record<string, string>} */
export const CLOCK_FROM = {
  stated: "the clock as stated",
  common_channel: "found from a channel that both logged",
  same_changes: "found from changes that both saw",
  none: "its clock is not known",
};

/** Why a clock or a delay is not known. @type {Record<string, string>} */
export const CLOCK_WHY = {
  nothing_moves: "Nothing moves in either log: taken as started together, which does no harm.",
  repeats: "The changes repeat, so several offsets fit alike. State the offset, or log one change that happens once.",
  no_common_time: "The two logs share no time. State the offset, or give the log that belongs beside this one.",
};

/** Why plateaus are not used. @type {Record<string, string>} */
export const PLATEAU_WHY = {
  few: "too few plateaus were found",
  moving: "the log moves most of the time",
  two_states: "it toggles between two states only",
  short: "its plateaus are too short to drop the settling",
  table: "its rows are settled points already",
  off: "plateaus are switched off",
};

/** Why a log counts as settled points. @type {Record<string, string>} */
export const SETTLED_WHY = {
  no: "its rows follow each other too quickly and too smoothly to be settled points",
  said: "you said so",
  slow: "its rows are a second or more apart",
  untimed: "no time is logged: each row is taken as its own settled point",
  restless: "more than a fifth of the changes from row to row are steps",
  denied: "you said it is not one",
  plateaus: "each row is the average of one plateau",
};

/** How a pulsed output was recognised. @type {Record<string, string>} */
export const PULSED_HOW = {
  none: "not recognised",
  resolved: "the rows follow each period",
  unresolved: "readings jump between two states faster than the rows follow",
  averaged: "the product of the averages does not fit the power",
  power_logged: "power was logged beside volts and amperes",
  stated: "you said so",
};

/** What a pulsed output's efficiency rests on. @type {Record<string, string>} */
export const PULSED_USED = {
  rows: "Each row counts by itself.",
  periods: "Whole periods are averaged as power, the mean of volts times amperes, and not as the product of their means.",
  power: "The logged power is used.",
  refused: "No efficiency is given.",
};
