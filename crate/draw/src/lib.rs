//! Scales, ticks, vector figures and the point raster. Knows the analysis, no browser.
