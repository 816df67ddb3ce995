//! Small invented tables beside the demo logs.

use std::fmt::Write as _;

/// The pack: charge drawn in Ah, open-circuit voltage in V, resistance in ohm. Invented.
const PACK: [[f64; 3]; 14] = [
    [0.00, 13.60, 0.046],
    [0.10, 13.38, 0.045],
    [0.30, 13.30, 0.044],
    [0.90, 13.18, 0.044],
    [1.50, 13.10, 0.044],
    [2.40, 13.04, 0.044],
    [3.30, 12.99, 0.045],
    [4.20, 12.92, 0.046],
    [4.80, 12.80, 0.048],
    [5.20, 12.62, 0.051],
    [5.50, 12.33, 0.055],
    [5.75, 11.84, 0.061],
    [5.90, 11.10, 0.070],
    [6.00, 10.00, 0.082],
];

/// The pack's table as text.
#[must_use]
pub fn pack_table() -> String {
    let mut out = String::from("charge drawn (Ah),V open circuit (V),resistance (ohm)\n");
    for [charge, volts, ohms] in PACK {
        let _ = writeln!(out, "{charge:.2},{volts:.2},{ohms:.3}");
    }
    out
}

/// A duty: shares of time at 0.5 A and 8 A, the full power for 3 % of the time.
#[must_use]
pub fn duty_table() -> String {
    "v_in,i_out,share\n12.6,0.5,0.97\n12.0,8,0.03\n".to_owned()
}
