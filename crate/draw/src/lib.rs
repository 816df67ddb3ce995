//! Scales, ticks, vector figures and the point raster. Knows the analysis, no browser.

pub mod colour;
pub mod contour;
pub mod figure;
pub mod range;
pub mod raster;
pub mod run;
pub mod scale;
pub mod strip;
pub mod svg;
pub mod tick;
