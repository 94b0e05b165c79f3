//! The sRGB colour profile of the output intent, built from its published numbers.
//!
//! Sources: primaries, white point and transfer curve of IEC 61966-2-1 (from memory); Bradford
//! chromatic adaptation and file layout of ICC.1:2004-10 (profile version 4.2, the one ISO 32000-1
//! allows; from memory). The profile carries no copyright claim.

/// Chromaticity of red, green and blue.
const PRIMARIES: [[f64; 2]; 3] = [[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]];
/// Chromaticity of the white point D65.
const WHITE: [f64; 2] = [0.3127, 0.3290];
/// The profile connection space's white, D50, as ICC rounds it.
const D50: [f64; 3] = [0.9642, 1.0, 0.8249];
/// Cone response of the Bradford transform.
const BRADFORD: Matrix = [
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
];

type Matrix = [[f64; 3]; 3];

fn multiply(a: &Matrix, b: &Matrix) -> Matrix {
    std::array::from_fn(|row| {
        std::array::from_fn(|column| (0..3).map(|k| a[row][k] * b[k][column]).sum())
    })
}

fn apply(matrix: &Matrix, vector: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
}

fn inverse(m: &Matrix) -> Matrix {
    let cofactor = |row: usize, column: usize| {
        let (r1, r2, c1, c2) = (
            (row + 1) % 3,
            (row + 2) % 3,
            (column + 1) % 3,
            (column + 2) % 3,
        );
        m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]
    };
    let determinant: f64 = (0..3)
        .map(|column| m[0][column] * cofactor(0, column))
        .sum();
    std::array::from_fn(|row| std::array::from_fn(|column| cofactor(column, row) / determinant))
}

fn tristimulus([x, y]: [f64; 2]) -> [f64; 3] {
    [x / y, 1.0, (1.0 - x - y) / y]
}

const fn transpose(m: &Matrix) -> Matrix {
    [
        [m[0][0], m[1][0], m[2][0]],
        [m[0][1], m[1][1], m[2][1]],
        [m[0][2], m[1][2], m[2][2]],
    ]
}

/// Adaptation from D65 to D50.
fn adaptation() -> Matrix {
    let from = apply(&BRADFORD, tristimulus(WHITE));
    let to = apply(&BRADFORD, D50);
    let scale: Matrix = std::array::from_fn(|row| {
        std::array::from_fn(|column| {
            if row == column {
                to[row] / from[row]
            } else {
                0.0
            }
        })
    });
    multiply(&inverse(&BRADFORD), &multiply(&scale, &BRADFORD))
}

/// Tristimulus values of red, green and blue (columns) at D50.
fn colorants() -> Matrix {
    let primaries = transpose(&PRIMARIES.map(tristimulus));
    let amounts = apply(&inverse(&primaries), tristimulus(WHITE));
    let scaled: Matrix =
        primaries.map(|row| std::array::from_fn(|column| row[column] * amounts[column]));
    multiply(&adaptation(), &scaled)
}

/// A signed 15.16 fixed-point number.
#[allow(clippy::cast_possible_truncation)]
fn fixed(value: f64) -> [u8; 4] {
    ((value * 65_536.0).round() as i32).to_be_bytes()
}

fn numbers(kind: [u8; 4], values: &[f64]) -> Vec<u8> {
    let mut out = [kind.as_slice(), &[0; 4]].concat();
    for value in values {
        out.extend(fixed(*value));
    }
    out
}

fn text(value: &str) -> Vec<u8> {
    let units: Vec<u8> = value.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let mut out = b"mluc\0\0\0\0\0\0\0\x01\0\0\0\x0cenUS".to_vec();
    out.extend(u32::try_from(units.len()).unwrap_or_default().to_be_bytes());
    out.extend(28_u32.to_be_bytes());
    out.extend(units);
    out
}

/// The sRGB transfer curve as parametric curve type 3.
fn curve() -> Vec<u8> {
    let mut out = b"para\0\0\0\0\0\x03\0\0".to_vec();
    for value in [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045] {
        out.extend(fixed(value));
    }
    out
}

/// Returns the profile.
pub(super) fn srgb() -> Vec<u8> {
    let colorants = colorants();
    let column = |index: usize| numbers(*b"XYZ ", &colorants.map(|row| row[index]));
    let curve = curve();
    let tags: [(&[u8; 4], Vec<u8>); 10] = [
        (b"desc", text("sRGB")),
        (b"cprt", text("No copyright is claimed")),
        (b"wtpt", numbers(*b"XYZ ", &D50)),
        (b"chad", numbers(*b"sf32", adaptation().as_flattened())),
        (b"rXYZ", column(0)),
        (b"gXYZ", column(1)),
        (b"bXYZ", column(2)),
        (b"rTRC", curve.clone()),
        (b"gTRC", curve.clone()),
        (b"bTRC", curve),
    ];
    let mut table = u32::try_from(tags.len())
        .unwrap_or_default()
        .to_be_bytes()
        .to_vec();
    let mut data = Vec::new();
    let start = 128 + 4 + 12 * tags.len();
    let mut curve_at = None;
    for (name, bytes) in &tags {
        let is_curve = name.ends_with(b"TRC");
        let offset = match curve_at {
            Some(offset) if is_curve => offset,
            _ => {
                let offset = start + data.len();
                data.extend(bytes);
                data.resize(data.len().next_multiple_of(4), 0);
                offset
            }
        };
        if is_curve {
            curve_at = Some(offset);
        }
        table.extend_from_slice(name.as_slice());
        table.extend(u32::try_from(offset).unwrap_or_default().to_be_bytes());
        table.extend(u32::try_from(bytes.len()).unwrap_or_default().to_be_bytes());
    }
    let mut profile = header(u32::try_from(start + data.len()).unwrap_or_default());
    profile.extend(table);
    profile.extend(data);
    profile
}

fn header(size: u32) -> Vec<u8> {
    let mut header = Vec::with_capacity(128);
    header.extend(size.to_be_bytes());
    header.extend([0; 4]);
    header.extend([4, 0x20, 0, 0]);
    header.extend(b"mntrRGB XYZ ");
    // The format wants a date of making; a fixed one keeps the bytes the same.
    for part in [2004_u16, 1, 1, 0, 0, 0] {
        header.extend(part.to_be_bytes());
    }
    header.extend(b"acsp");
    header.extend([0; 4 + 4 + 4 + 4 + 8 + 4]);
    for value in D50 {
        header.extend(fixed(value));
    }
    header.resize(128, 0);
    header
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colorants_are_the_known_ones() {
        // sRGB primaries adapted to D50 by Bradford, as colour software prints them (from memory).
        let known = [
            [0.4361, 0.3851, 0.1431],
            [0.2225, 0.7169, 0.0606],
            [0.0139, 0.0971, 0.7141],
        ];
        for (row, known) in colorants().iter().zip(known) {
            for (value, known) in row.iter().zip(known) {
                assert!((value - known).abs() < 2e-4, "{value} {known}");
            }
        }
        let white = apply(&colorants(), [1.0; 3]);
        assert!(
            white
                .iter()
                .zip(D50)
                .all(|(value, known)| (value - known).abs() < 1e-12)
        );
    }

    #[test]
    fn header_and_tag_table_agree_with_the_bytes() {
        let profile = srgb();
        let word = |at: usize| {
            u32::from_be_bytes([
                profile[at],
                profile[at + 1],
                profile[at + 2],
                profile[at + 3],
            ]) as usize
        };
        assert_eq!(word(0), profile.len());
        assert_eq!(&profile[36..40], b"acsp");
        assert_eq!(word(128), 10);
        for index in 0..10 {
            let (offset, size) = (word(136 + 12 * index), word(140 + 12 * index));
            assert!(
                offset % 4 == 0 && offset + size <= profile.len(),
                "tag {index}"
            );
        }
    }
}
