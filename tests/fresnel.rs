//! The first Fresnel zone of a bounce on the ceiling, and what a cloud hides of it: areas, borders and shadows against closed forms.

use std::f64::consts::PI;

use glam::{DVec2, DVec3};
use roomwright::bands::{Band, Bands};
use roomwright::geometry::{Chart, Ellipse, Polygon, Solid};
use roomwright::plan::cloud::{CeilingBounce, covered, shadow, zone};

fn square(center: DVec2, side: f64) -> Polygon {
    Polygon::rectangle(center - 0.5 * side, center + 0.5 * side)
}

#[test]
fn exact_areas_of_ellipses_and_polygons() {
    let along = DVec2::from_angle(0.7);
    let ellipse = Ellipse { center: DVec2::new(3.0, -2.0), along, half: DVec2::new(1.5, 0.4) };
    let near = |one: f64, other: f64| assert!((one - other).abs() < 1e-12, "{one} for {other}");
    near(ellipse.area(), PI * 0.6);
    near(ellipse.overlap_area(&square(ellipse.center, 50.0)), ellipse.area());
    near(ellipse.overlap_area(&square(ellipse.center, 0.1)), 0.01);
    near(ellipse.overlap_area(&square(ellipse.center + 9.0, 2.0)), 0.0);
    // Any line through the middle leaves half, two at right angles along the axes a quarter; corners far outside, edges that miss it.
    for angle in [0.0, 0.3, 1.9, 3.1] {
        let (way, side) = (DVec2::from_angle(angle), DVec2::from_angle(angle).perp());
        let half = Polygon::new(
            [-30.0 * way, 30.0 * way, 30.0 * (way + side), 30.0 * (side - way)].map(|corner| ellipse.center + corner).to_vec(),
        );
        near(ellipse.overlap_area(&half), 0.5 * ellipse.area());
    }
    let quarter = Polygon::new(
        [DVec2::ZERO, 9.0 * along, 9.0 * (along + along.perp()), 9.0 * along.perp()].map(|corner| ellipse.center + corner).to_vec(),
    );
    near(ellipse.overlap_area(&quarter), 0.25 * ellipse.area());
    // A strip |y| < h of the circle of radius 1: 2 (h sqrt(1 - h^2) + asin h).
    let circle = Ellipse { center: DVec2::ZERO, along: DVec2::X, half: DVec2::ONE };
    for h in [0.1_f64, 0.5, 0.9] {
        let strip = Polygon::rectangle(DVec2::new(-5.0, -h), DVec2::new(5.0, h));
        near(circle.overlap_area(&strip), 2.0 * (h * (1.0 - h * h).sqrt() + h.asin()));
    }
    // A square inscribed and one round it.
    near(circle.overlap_area(&square(DVec2::ZERO, 2.0)), PI);
    near(circle.overlap_area(&square(DVec2::ZERO, 2.0_f64.sqrt())), 2.0);
}

/// The ceiling of the tests below, 3 m over the floor; its chart looks down.
fn ceiling() -> Chart {
    Chart::new(DVec3::new(0.0, 0.0, 3.0), DVec3::NEG_X, DVec3::Y)
}

fn bounce(ends: [DVec3; 2]) -> CeilingBounce {
    let outline = Polygon::rectangle(DVec2::splat(-20.0), DVec2::splat(20.0));
    CeilingBounce { ends, point: 0.5 * (ends[0] + ends[1]), chart: ceiling(), outline, speed: 343.0 }
}

#[test]
fn exact_borders_of_zones() {
    let slope = Chart::new(DVec3::new(1.0, 0.0, 2.0), DVec3::new(0.6, 0.0, -0.8), DVec3::NEG_Y);
    let chart = if slope.normal.z < 0.0 { slope } else { Chart::new(slope.origin, -slope.right, slope.up) };
    for (chart, ends) in [
        (ceiling(), [DVec3::new(0.0, 0.0, 1.2), DVec3::new(2.6, 1.1, 1.0)]),
        (ceiling(), [DVec3::new(1.0, 1.0, 0.4), DVec3::new(1.0, 1.0, 2.2)]),
        (chart, [DVec3::new(0.0, 0.3, 0.4), DVec3::new(-0.4, 2.0, 0.2)]),
    ] {
        let shortest = chart.mirror(ends[0]).distance(ends[1]);
        for wavelength in [0.04, 0.34, 2.7] {
            let zone = zone(&chart, ends, wavelength).expect("both before it");
            for step in 0..24 {
                let angle = f64::from(step) * PI / 12.0;
                let (x, y) = (zone.half.x * angle.cos(), zone.half.y * angle.sin());
                let point = chart.point(zone.center + zone.along * x + zone.along.perp() * y);
                let longer = ends[0].distance(point) + point.distance(ends[1]) - shortest;
                assert!((longer - 0.5 * wavelength).abs() < 1e-9, "{longer} for half of {wavelength}");
            }
        }
    }
    assert_eq!(zone(&ceiling(), [DVec3::new(0.0, 0.0, 1.0), DVec3::new(0.0, 0.0, 3.1)], 0.3), None, "above the plane");
}

/// What is as high as the plane and large covers all, half of it half, a small square its own area.
#[test]
fn exact_shares_of_zones_on_the_plane() {
    let bounce = bounce([DVec3::new(0.0, 0.0, 1.2), DVec3::new(2.0, 0.0, 1.2)]);
    let on_ceiling = |low: DVec2, high: DVec2| Solid::upright(low.extend(3.0 - 1e-9), high.extend(3.0));
    let all = covered(&bounce, &on_ceiling(DVec2::splat(-9.0), DVec2::splat(9.0)));
    let half = covered(&bounce, &on_ceiling(DVec2::new(-9.0, 0.0), DVec2::splat(9.0)));
    let small = covered(&bounce, &on_ceiling(DVec2::new(0.95, -0.05), DVec2::new(1.05, 0.05)));
    let none = covered(&bounce, &on_ceiling(DVec2::new(8.0, 8.0), DVec2::splat(9.0)));
    for band in Band::ALL {
        let area = zone(&bounce.chart, bounce.ends, 343.0 / band.center()).expect("before it").area();
        for (share, expected) in [(all, 1.0), (half, 0.5), (small, 0.01 / area)] {
            assert!((share[band] - expected).abs() < 1e-6, "{} of {expected} at {}", share[band], band.label());
        }
        // At the lowest octaves the zone reaches that far.
        assert!(band.index() <= 2 || none[band] < 1e-6, "{} of nothing at {}", none[band], band.label());
    }
    // Of a zone that reaches beyond the ceiling's own outline only what lies on it counts.
    let narrow = CeilingBounce { outline: Polygon::rectangle(DVec2::new(-1.1, -0.1), DVec2::new(-0.9, 0.1)), ..bounce };
    let share = covered(&narrow, &on_ceiling(DVec2::new(0.9, -0.1), DVec2::new(1.0, 0.1)));
    assert!((share[Band::new(0)] - 0.5).abs() < 1e-6, "{}", share[Band::new(0)]);
}

/// Straight below the middle of a square, seen from where it sounds and is heard: its shadow grows as `H / (H - h)`, so the lower it hangs the more it covers.
#[test]
fn exact_shadow_of_a_lower_cloud() {
    let ends = [DVec3::new(0.0, 0.0, 1.0); 2];
    let bounce = bounce(ends);
    let sheet = |below: f64| Solid::upright(DVec3::new(-0.1, -0.1, 3.0 - below), DVec3::new(0.1, 0.1, 3.0 - below + 1e-9));
    let mut last = Bands::splat(0.0);
    for below in [0.0, 0.3, 0.8, 1.2] {
        let side = 0.2 * 2.0 / (2.0 - below);
        let thrown = shadow(&bounce.chart, ends[0], &sheet(below)).expect("a shadow");
        assert!((thrown.area() - side * side).abs() < 1e-6, "{} for {}", thrown.area(), side * side);
        let share = covered(&bounce, &sheet(below));
        for band in Band::ALL {
            let area = zone(&bounce.chart, ends, 343.0 / band.center()).expect("before it").area();
            // While its corners lie within the zone.
            if 0.5 * side * 2.0_f64.sqrt() < (area / PI).sqrt() {
                assert!((share[band] - side * side / area).abs() < 1e-6);
            }
            assert!(share[band] > last[band] || share[band] > 1.0 - 1e-9, "the lower the more");
        }
        last = share;
    }
    // What reaches up beside the source is cut off there, not thrown behind it.
    let tall = Solid::upright(DVec3::new(0.5, -0.1, 0.2), DVec3::new(0.7, 0.1, 2.5));
    let thrown = shadow(&bounce.chart, ends[0], &tall).expect("a shadow");
    assert!(thrown.bounds().0.is_finite() && thrown.area() > 0.0 && thrown.bounds().1.x < -0.5);
    assert!(shadow(&bounce.chart, ends[0], &Solid::upright(DVec3::new(0.5, -0.1, 0.2), DVec3::new(0.7, 0.1, 0.9))).is_none(), "all below");
}
