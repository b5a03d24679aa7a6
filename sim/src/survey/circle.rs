//! A circle through buoys: the one whose distances from all of them have the least sum of squares.
//!
//! Begun with the algebraic fit, which is a linear problem, and brought to the geometric one by Gauss and Newton.
//! Source: W. Gander, G. H. Golub, R. Strebel, "Least-squares fitting of circles and ellipses", BIT 34 (1994).
//!
//! Knows points. Points in, a circle and how far they are from it out.

use super::ground::Point;

/// A circle through buoys.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fitted {
    /// Its middle.
    pub centre: Point,
    /// Its radius, metres.
    pub radius_m: f64,
    /// Root of the mean square of the buoys' distances from it, metres.
    pub residual_m: f64,
    /// The largest of those distances, and whose it is.
    pub worst: (usize, f64),
    /// The part of the circle that the buoys stand on, degrees.
    pub span_deg: f64,
    /// How many times the error of one buoy, along any direction, the middle's worst direction errs.
    pub centre_gain: f64,
    /// The same for the radius.
    pub radius_gain: f64,
}

/// Steps after which nothing moves any more; on a turn's buoys it takes four.
const STEPS: usize = 100;

/// Fits a circle; nothing for fewer than three points, and for points in a straight line.
#[must_use]
pub fn fit(points: &[Point]) -> Option<Fitted> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let sum = points.iter().fold(Point::default(), |sum, point| sum.plus(*point, 1.0));
    let mean = Point { east: sum.east / n, north: sum.north / n };
    let points: Vec<_> = points.iter().map(|point| mean.to(*point)).collect();
    let size = points.iter().map(|point| point.length()).fold(0.0, f64::max);
    let mut at = algebraic(&points)?;
    for _ in 0..STEPS {
        let step = newton(&points, at)?;
        at = [at[0] + step[0], at[1] + step[1], at[2] + step[2]];
        if step.iter().all(|part| part.abs() <= 1e-12 * size) {
            break;
        }
    }
    let (centre, radius) = (Point { east: at[0], north: at[1] }, at[2]);
    // A circle this much larger than what stands on it is a straight line to any eye.
    if !(radius.is_finite() && radius > 0.0 && radius < 50.0 * size) {
        return None;
    }
    let off: Vec<_> = points.iter().map(|point| centre.to(*point).length() - radius).collect();
    let worst = off.iter().map(|off| off.abs()).enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let inverse = inverse(normal_matrix(&points, centre))?;
    Some(Fitted {
        centre: mean.plus(centre, 1.0),
        radius_m: radius,
        residual_m: (off.iter().map(|off| off * off).sum::<f64>() / n).sqrt(),
        worst,
        span_deg: span(&points, centre),
        centre_gain: largest([inverse[0][0], inverse[0][1], inverse[1][1]]).sqrt(),
        radius_gain: inverse[2][2].max(0.0).sqrt(),
    })
}

type Three = [[f64; 3]; 3];

/// x² + y² = 2 a x + 2 b y + c, in the least squares of that equation; r² = c + a² + b².
fn algebraic(points: &[Point]) -> Option<[f64; 3]> {
    let (mut matrix, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
    for point in points {
        let row = [2.0 * point.east, 2.0 * point.north, 1.0];
        add(&mut matrix, &mut right, row, point.dot(*point));
    }
    let [a, b, c] = solve(matrix, right)?;
    Some([a, b, (c + a * a + b * b).max(0.0).sqrt()])
}

/// One step towards the least sum of squared distances.
fn newton(points: &[Point], [east, north, radius]: [f64; 3]) -> Option<[f64; 3]> {
    let centre = Point { east, north };
    let (mut matrix, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
    for point in points {
        let way = centre.to(*point);
        let out = way.unit()?;
        add(&mut matrix, &mut right, [out.east, out.north, 1.0], way.length() - radius);
    }
    solve(matrix, right)
}

fn normal_matrix(points: &[Point], centre: Point) -> Three {
    let (mut matrix, mut right) = ([[0.0; 3]; 3], [0.0; 3]);
    for out in points.iter().filter_map(|point| centre.to(*point).unit()) {
        add(&mut matrix, &mut right, [out.east, out.north, 1.0], 0.0);
    }
    matrix
}

fn add(matrix: &mut Three, right: &mut [f64; 3], row: [f64; 3], value: f64) {
    for ((line, right), a) in matrix.iter_mut().zip(right).zip(row) {
        *right += a * value;
        for (place, b) in line.iter_mut().zip(row) {
            *place += a * b;
        }
    }
}

fn determinant(m: Three) -> f64 {
    m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
}

/// By Cramer's rule; nothing where the equations do not decide.
fn solve(matrix: Three, right: [f64; 3]) -> Option<[f64; 3]> {
    let whole = determinant(matrix);
    let scale = (matrix[0][0] * matrix[1][1] * matrix[2][2]).abs();
    if !whole.is_finite() || whole.abs() <= 1e-13 * scale {
        return None;
    }
    let [a, b, c] = matrix;
    let [x, y, z] = right;
    let of = |first: Three| determinant(first) / whole;
    Some([
        of([[x, a[1], a[2]], [y, b[1], b[2]], [z, c[1], c[2]]]),
        of([[a[0], x, a[2]], [b[0], y, b[2]], [c[0], z, c[2]]]),
        of([[a[0], a[1], x], [b[0], b[1], y], [c[0], c[1], z]]),
    ])
}

fn inverse(matrix: Three) -> Option<Three> {
    let columns = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]].map(|unit| solve(matrix, unit));
    let [Some(a), Some(b), Some(c)] = columns else { return None };
    Some([[a[0], b[0], c[0]], [a[1], b[1], c[1]], [a[2], b[2], c[2]]])
}

/// The larger eigenvalue of a symmetric matrix of two.
fn largest([xx, xy, yy]: [f64; 3]) -> f64 {
    f64::midpoint(xx, yy) + ((xx - yy) / 2.0).hypot(xy)
}

/// All of the circle less the widest gap between neighbours.
fn span(points: &[Point], centre: Point) -> f64 {
    let angle = |point: &Point| {
        let way = centre.to(*point);
        way.north.atan2(way.east).to_degrees()
    };
    let mut angles: Vec<_> = points.iter().map(angle).collect();
    angles.sort_by(f64::total_cmp);
    let next = angles.iter().skip(1).copied().chain(angles.first().map(|first| first + 360.0));
    360.0 - angles.iter().zip(next).map(|(a, b)| b - a).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn points(all: &[(f64, f64)]) -> Vec<Point> {
        all.iter().map(|(east, north)| Point { east: *east, north: *north }).collect()
    }

    /// Source: Gander, Golub and Strebel (1994), their six points and the geometric fit: middle (4.7398, 2.9835), radius
    /// 4.7142 (figures from memory).
    #[test]
    fn six_points_of_the_paper_give_the_paper_s_circle() {
        let six = points(&[(1.0, 7.0), (2.0, 6.0), (5.0, 8.0), (7.0, 7.0), (9.0, 5.0), (3.0, 7.0)]);
        let circle = fit(&six).unwrap();
        let (east, north) = (circle.centre.east, circle.centre.north);
        assert!((east - 4.7398).abs() < 1e-4 && (north - 2.9835).abs() < 1e-4, "{circle:?}");
        assert!((circle.radius_m - 4.7142).abs() < 1e-4, "{circle:?}");
    }

    /// School geometry: (0, 0), (6, 0) and (0, 8) stand on the circle about (3, 4) with radius 5.
    #[test]
    fn a_right_triangle_s_circle_has_its_middle_on_the_hypotenuse() {
        let circle = fit(&points(&[(0.0, 0.0), (6.0, 0.0), (0.0, 8.0)])).unwrap();
        assert!((circle.centre.east - 3.0).abs() < 1e-9 && (circle.centre.north - 4.0).abs() < 1e-9);
        assert!((circle.radius_m - 5.0).abs() < 1e-9 && circle.residual_m < 1e-9);
        // Seen from the middle, the legs 6 and 8 are 2 asin(3 / 5) and 2 asin(4 / 5), and half a circle is left.
        assert!((circle.span_deg - 180.0).abs() < 1e-6, "{circle:?}");
    }

    #[test]
    fn two_buoys_and_buoys_in_a_straight_line_make_no_circle() {
        assert_eq!(fit(&points(&[(0.0, 0.0), (6.0, 0.0)])), None);
        assert_eq!(fit(&points(&[(0.0, 0.0), (50.0, 50.0), (100.0, 100.0), (150.0, 150.0)])), None);
        assert_eq!(fit(&points(&[(5.0, 5.0), (5.0, 5.0), (5.0, 5.0)])), None);
    }

    proptest! {
        #[test]
        fn buoys_on_a_circle_give_that_circle(
            east in -3e3_f64..3e3, north in -3e3_f64..3e3, radius in 20.0_f64..800.0,
            from in 0.0_f64..360.0, step in 15.0_f64..60.0, count in 4_usize..9,
        ) {
            let on = |place: usize| {
                let (sin, cos) = (from + step * place as f64).to_radians().sin_cos();
                Point { east: east + radius * cos, north: north + radius * sin }
            };
            let circle = fit(&(0..count).map(on).collect::<Vec<_>>()).unwrap();
            prop_assert!((circle.radius_m - radius).abs() < 1e-4);
            let true_centre = Point { east, north };
            prop_assert!(circle.centre.to(true_centre).length() < 1e-4);
            prop_assert!(circle.residual_m < 1e-5);
        }
    }
}
