//! The analysis and its figures for the browser: bindings and the worker protocol. Thin.
