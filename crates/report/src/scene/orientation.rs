//! Turning a picture upright without touching its pixels.

/// Takes the unit square of a stored picture (u right, v down) to the unit square of the upright
/// one: (x, y) = origin + u·across + v·down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    /// Where the stored upper left corner lands.
    pub(crate) origin: [f64; 2],
    /// Where a stored row runs.
    pub(crate) across: [f64; 2],
    /// Where a stored column runs.
    pub(crate) down: [f64; 2],
}

/// Returns how a picture stored in an orientation is turned upright; values outside 1 to 8 count as 1.
///
/// Source: tag 0x0112 of the Exif standard (from memory).
pub(crate) const fn upright(orientation: u8) -> Turn {
    let (origin, across, down) = match orientation {
        2 => ([1.0, 0.0], [-1.0, 0.0], [0.0, 1.0]),
        3 => ([1.0, 1.0], [-1.0, 0.0], [0.0, -1.0]),
        4 => ([0.0, 1.0], [1.0, 0.0], [0.0, -1.0]),
        5 => ([0.0, 0.0], [0.0, 1.0], [1.0, 0.0]),
        6 => ([1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]),
        7 => ([1.0, 1.0], [0.0, -1.0], [-1.0, 0.0]),
        8 => ([0.0, 1.0], [0.0, -1.0], [1.0, 0.0]),
        _ => ([0.0, 0.0], [1.0, 0.0], [0.0, 1.0]),
    };
    Turn {
        origin,
        across,
        down,
    }
}

/// Whether an orientation swaps width and height.
pub const fn swaps_sides(orientation: u8) -> bool {
    matches!(orientation, 5..=8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_orientation_keeps_the_unit_square() {
        for orientation in 0..=9 {
            let turn = upright(orientation);
            let mut corners: Vec<String> = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)]
                .map(|(u, v)| {
                    format!(
                        "{} {}",
                        turn.origin[0] + u * turn.across[0] + v * turn.down[0],
                        turn.origin[1] + u * turn.across[1] + v * turn.down[1]
                    )
                })
                .to_vec();
            corners.sort_unstable();
            assert_eq!(corners, ["0 0", "0 1", "1 0", "1 1"], "{orientation}");
        }
    }

    #[test]
    fn a_camera_on_its_side_stores_the_upper_left_corner_elsewhere() {
        // Exif: in orientation 6 the stored first row is the right side of the scene, the first column its top.
        let turn = upright(6);
        assert_eq!(
            format!("{:?} {:?} {:?}", turn.origin, turn.across, turn.down),
            "[1.0, 0.0] [0.0, 1.0] [-1.0, 0.0]"
        );
        assert!(swaps_sides(6) && !swaps_sides(3));
    }
}
