//! Bytes to columns, chunk by chunk. Has never heard of volts.
