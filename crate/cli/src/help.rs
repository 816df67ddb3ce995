//! Fixed words of the command.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the command talks to its user")]

/// Says what the command can do.
pub(crate) fn print() {
    println!(
        "wattsieve {}

    wattsieve read LOG...                      what was understood of each log
    wattsieve analyse [NAME=]LOG...            efficiency of each run
    wattsieve compare NAME=LOG NAME=LOG...     the runs and their differences
    A.csv+B.csv joins the parts of one run. A value for one log takes a NAME: prefix.

Reading
  --columns time=1,v_in=2,i_in=3,...  roles by column number or header: time, v_in, i_in, v_out_high,
                                      v_out_low, v_out, i_out, temperature, light, p_in, p_out, ignore
  --units v_in=mV,...   --scale i_in=0.002,...   --reverse i_in,...
  --header-row N|none   --separator CHAR   --decimal-mark CHAR   --row-period SECONDS
  --encoding utf-8|utf-16le|utf-16be|windows-1252   --shape delimited|name_value|json   --skip-lines N
  --counts i_in=bits:12,reference:3.3,shunt:0.01,gain:50    raw counts; v_in=...,divider:UPPER/LOWER
  --ranges i_in=column:7,LO:gain:1.01,LO:offset:1mA         a channel that switches its range
  A .gz or .zip is unpacked; the logs of a zip that a NAME is given to are parts of one run, in order.
Calibration runs (each repeatable)
  --all-off LOG  --open-sweep LOG  --straight-through LOG  --input-shorted LOG  --output-shorted LOG
  --cross-bridge LOG
  --calibration-resistor OHMS[+-U]    cold value, belongs to the straight-through before it
  --four-wire  --hold-back            of the run before: sensed at the resistor itself; kept for acceptance
  --path v_in,i_in,in_high,...        of the run before: the way of its current, where a lead was moved
  --meter out_high=VOLTS[+-U]@AMPS[+-U]   hand-held meter across in_high, in_low, out_high, out_low,
                                      shared_ground, jumper_high, jumper_low; source, load need ,logged=V
Fixture
  --input-sense near|far  --output-sense near|far  --input-shunt OHMS[,outside][,low-side]
  --output-shunt OHMS[,outside][,low-side]  --jumper OHMS[+-U]  --contacts equal[+-U]|separate
  --shared-ground  --common-positive
  --input-correction OHMS[+-U]  --output-correction OHMS[+-U]     given instead of measured
  --plane converter|board|source-to-load
  --calibration FILE  --write-calibration FILE  --check-calibration (the runs check the file's)
Channels
  --accuracy unknown|1%|calibrated  --line v_in=FILE (reference,reading per line)
  --reference-meter U[,U]  --common-voltage-gain U
  --channel i_in=gain:0.1%,offset:1mA,step:0.25mA
  --delays auto|none|i_in=0.0015,...
Sieve and gates
  --sieve-on v_in,i_in,...  --cells N  --cell-width v_in=0.05,...  --least-rows N
  --cells v_in=N,...  --strictness -1..1 (gentle to strict, instead of --cells and --least-rows)
  --gates step=off,...  --settled-points auto|yes|no
Settled points of a stepped run, and two loggers
  --plateaus auto|on|off  --settle SECONDS (dropped after each change)  --settled-csv FILE
  --pulsed auto|steady|pulsed   a pulse-width-dimmed or bursting output
  --on-current AMPERES    its current while on, where power is logged: for the loss of the fixture's output path
  --beside LOG            further channels of the run or calibration run before it, from another logger
  --clock NAME:offset=SECONDS[+-U],ratio=X[+-U]   the first log's time is offset + ratio x that log's
Answers
  --at FILE (v_in,i_out per line)  --quiescent-at V  --grid NxM  --replug OHMS
  --no-difference-below FRACTION
Settings and output
  --settings FILE  --write-settings FILE  --json FILE  --page FILE  --csv FILE  --quiet

Values after +- are standard uncertainties. Every ± in the table is a 95 % interval.
Exit status: 0 complete, 2 wrong options, 3 input refused, 4 input asks, 5 cannot write.",
        env!("CARGO_PKG_VERSION")
    );
}

/// Says the version.
pub(crate) fn version() {
    println!("wattsieve {}", env!("CARGO_PKG_VERSION"));
}

/// Says what went wrong.
pub(crate) fn complain(message: &str) {
    eprintln!("wattsieve: {message}");
}
