//! Small shapes as coverage masks, for every sub-pixel position once.

/// Sub-pixel positions per axis.
pub(super) const PHASES: usize = 4;
/// Samples per axis inside one pixel when a mask is made.
const SAMPLES: usize = 8;

/// A shape's coverage at each of the sub-pixel positions.
pub(super) struct Stamp {
    /// Pixels from the centre's pixel to the mask's edge.
    reach: i32,
    /// Width of the picture it is made for.
    width: i32,
    /// One per sub-pixel position.
    masks: Vec<Mask>,
}

/// Offsets in the picture's pixels.
#[derive(Default)]
struct Mask {
    /// Pixels covered whole.
    whole: Vec<i32>,
    /// Pixels covered in part, by so many 256ths.
    part: Vec<(i32, u32)>,
}

impl Stamp {
    /// A filled disc, radius in device pixels.
    pub(super) fn disc(radius: f64, width: usize) -> Self {
        Self::new(width as i32, radius, |x, y| x * x + y * y <= radius * radius)
    }

    /// A diagonal cross: full size and stroke in device pixels.
    pub(super) fn cross(size: f64, stroke: f64, width: usize) -> Self {
        // Along and across each diagonal, in units of the axes times the square root of two.
        let root = std::f64::consts::SQRT_2;
        let (half, thin) = (size * root / 2.0, stroke / 2.0);
        Self::new(width as i32, size / 2.0 + stroke, |x, y| {
            let (u, v) = ((x + y) / root, (x - y) / root);
            (u.abs() <= half && v.abs() <= thin) || (v.abs() <= half && u.abs() <= thin)
        })
    }

    fn new(width: i32, extent: f64, inside: impl Fn(f64, f64) -> bool) -> Self {
        let reach = libm::ceil(extent) as i32 + 1;
        let mut masks = Vec::with_capacity(PHASES * PHASES);
        for phase in 0..PHASES * PHASES {
            let centre = |k: usize| (k as f64 + 0.5) / PHASES as f64;
            let (cx, cy) = (centre(phase % PHASES), centre(phase / PHASES));
            let mut mask = Mask::default();
            for py in -reach..=reach {
                for px in -reach..=reach {
                    let mut hits = 0;
                    for s in 0..SAMPLES * SAMPLES {
                        let sample = |k: usize| (k as f64 + 0.5) / SAMPLES as f64;
                        let x = f64::from(px) + sample(s % SAMPLES) - cx;
                        let y = f64::from(py) + sample(s / SAMPLES) - cy;
                        hits += usize::from(inside(x, y));
                    }
                    let share = (hits * 256 + SAMPLES * SAMPLES / 2) / (SAMPLES * SAMPLES);
                    let offset = py * width + px;
                    match share as u32 {
                        256 => mask.whole.push(offset),
                        // Less than one step of a byte.
                        0..4 => {}
                        share => mask.part.push((offset, share)),
                    }
                }
            }
            masks.push(mask);
        }
        Self { reach, width, masks }
    }

    /// Lays the shape over the picture, its centre at a place in units of a quarter pixel.
    #[inline]
    pub(super) fn lay(&self, picture: &mut Picture, x: i32, y: i32, colour: u32) {
        let (px, py) = (x.div_euclid(PHASES as i32), y.div_euclid(PHASES as i32));
        let phase = x.rem_euclid(PHASES as i32) + y.rem_euclid(PHASES as i32) * PHASES as i32;
        let mask = &self.masks[phase as usize];
        debug_assert_eq!(self.width, picture.width);
        let (width, height) = (picture.width, picture.height);
        let centre = py * width + px;
        let whole =
            px >= self.reach && py >= self.reach && px + self.reach < width && py + self.reach < height;
        if whole {
            for &offset in &mask.whole {
                picture.pixels[(centre + offset) as usize] = colour.to_le_bytes();
            }
            for &(offset, share) in &mask.part {
                blend(&mut picture.pixels[(centre + offset) as usize], colour, share);
            }
            return;
        }
        let all = mask.whole.iter().map(|&offset| (offset, 256)).chain(mask.part.iter().copied());
        for (offset, share) in all {
            // The offset back to a column and a line, so that nothing wraps round the edge.
            let line = (offset + self.reach + width * self.reach).div_euclid(width) - self.reach;
            let (x, y) = (px + offset - line * width, py + line);
            if x >= 0 && y >= 0 && x < width && y < height {
                blend(&mut picture.pixels[(y * width + x) as usize], colour, share);
            }
        }
    }
}

/// Opaque pixels: red, green, blue, alpha.
pub(super) struct Picture {
    width: i32,
    height: i32,
    pub(super) pixels: Vec<[u8; 4]>,
}

impl Picture {
    /// One colour all over.
    pub(super) fn new(width: usize, height: usize, colour: u32) -> Self {
        let pixels = vec![colour.to_le_bytes(); width * height];
        Self { width: width as i32, height: height as i32, pixels }
    }

    /// Colours one pixel.
    #[inline]
    pub(super) fn set(&mut self, x: usize, y: usize, colour: u32) {
        self.pixels[y * self.width as usize + x] = colour.to_le_bytes();
    }
}

/// One pixel moved towards a colour by so many 256ths; both stay opaque.
#[inline]
fn blend(pixel: &mut [u8; 4], colour: u32, share: u32) {
    // Two channels at a time with room between.
    let rest = 256 - share;
    let old = u32::from_le_bytes(*pixel);
    let red_blue = ((old & 0x00ff_00ff) * rest + (colour & 0x00ff_00ff) * share) >> 8 & 0x00ff_00ff;
    let green = ((old >> 8 & 0xff) * rest + (colour >> 8 & 0xff) * share) & 0xff00;
    *pixel = (0xff00_0000 | green | red_blue).to_le_bytes();
}

/// A colour as one opaque pixel, red in the lowest byte, alpha in the highest.
pub(super) fn packed(colour: crate::colour::Rgb) -> u32 {
    u32::from_le_bytes([colour[0], colour[1], colour[2], 255])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_covers_its_area_wherever_it_lies() {
        for radius in [1.35, 2.7, 4.05] {
            let stamp = Stamp::disc(radius, 100);
            let area = std::f64::consts::PI * radius * radius;
            for mask in &stamp.masks {
                let part: f64 = mask.part.iter().map(|m| f64::from(m.1) / 256.0).sum();
                let covered = part + mask.whole.len() as f64;
                assert!((covered - area).abs() < 0.04 * area, "radius {radius}: {covered} of {area}");
            }
        }
    }

    #[test]
    fn blending_reaches_both_ends_and_the_middle() {
        let (black, white) = (packed([0; 3]), packed([255; 3]));
        let mut pixel = black.to_le_bytes();
        blend(&mut pixel, white, 128);
        assert!(pixel[..3].iter().all(|&b| (126..=130).contains(&b)) && pixel[3] == 255, "{pixel:?}");
        blend(&mut pixel, white, 256);
        assert_eq!(pixel, white.to_le_bytes());
    }
}
