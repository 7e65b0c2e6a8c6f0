//! Where the room is looked at from: orbit, plan, elevation, the seat's eye; and the way from a point of the room to the screen and back.
//!
//! A perspective eye at `e` that looks along `f` with upward `u` and right `r = f x u` shows a point at `(r.d, u.d) / (f.d tan(v / 2))`,
//! `d = point - e`, `v` its angle of view from top to bottom; a parallel one at `(r.d, u.d) / (h / 2)`, `h` the meters from top to bottom.
//!
//! An orbit stands so far away that every corner of the room is in the picture: `d >= |r.c| / t + b.c` for each corner `c` seen from
//! the target, `b = -f`, `t` the tangent of half the angle of view across; the same upward.

use bevy::camera::ScalingMode;
use bevy::math::{DVec2, DVec3, Vec2};
use bevy::prelude::{Mat3, OrthographicProjection, PerspectiveProjection, Projection, Quat, Resource, Transform};
use roomwright::room::{Role, Room};

use super::{StageArea, point};
use crate::view::CameraView;

/// Angle of view of the orbit, radians: small, so that the picture is nearly a parallel one.
const ORBIT_VIEW: f64 = 0.50;
/// Angle of view of the seat's eye, radians.
const EAR_VIEW: f64 = 1.25;
/// Share of the picture that a fitted room takes. With [`RAISED`] it leaves the foot to the color scale in the lowest stage, that of a window
/// of 1280 x 720.
const FILLED: f64 = 0.80;
/// Share of the picture by which a fitted room is raised.
const RAISED: f64 = 0.065;
/// How steep an orbit may be, radians.
const STEEPEST: f64 = 1.54;

/// How an eye throws the room on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Lens {
    /// Angle of view from top to bottom, radians.
    Perspective(f64),
    /// Meters from top to bottom.
    Parallel(f64),
}

/// An eye.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pose {
    /// Where it is, meters.
    pub(super) eye: DVec3,
    /// Unit vector it looks along.
    pub(super) forward: DVec3,
    /// Unit vector that is upward on the screen.
    pub(super) up: DVec3,
    /// How it throws.
    pub(super) lens: Lens,
}

/// What is seen now, where on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Resource)]
pub(super) struct Sight {
    /// The eye.
    pub(super) pose: Pose,
    /// The part of the window, logical pixels.
    pub(super) area: StageArea,
}

impl Default for Sight {
    fn default() -> Self {
        let pose = Pose { eye: DVec3::ZERO, forward: DVec3::Y, up: DVec3::Z, lens: Lens::Perspective(ORBIT_VIEW) };
        Self { pose, area: StageArea::default() }
    }
}

impl Pose {
    /// Unit vector that is to the right on the screen.
    pub(super) fn right(&self) -> DVec3 {
        self.forward.cross(self.up)
    }

    /// Whether a point lies on the far side of nothing: in front of a surface with this normal through this point.
    pub(super) fn is_before(&self, at: DVec3, normal: DVec3) -> bool {
        match self.lens {
            Lens::Perspective(_) => normal.dot(self.eye - at) > 1e-6,
            Lens::Parallel(_) => normal.dot(-self.forward) > 1e-3,
        }
    }

    /// As the engine has it.
    pub(super) fn transform(&self) -> Transform {
        let (right, up, back) = (point(self.right()), point(self.up), point(-self.forward));
        Transform { translation: point(self.eye), rotation: Quat::from_mat3(&Mat3::from_cols(right, up, back)), ..Transform::IDENTITY }
    }

    /// As the engine has it, for a picture of this shape.
    pub(super) fn projection(&self, aspect: f64) -> Projection {
        match self.lens {
            Lens::Perspective(view) => Projection::Perspective(PerspectiveProjection {
                fov: view as f32,
                aspect_ratio: aspect as f32,
                near: 0.05,
                far: 500.0,
                ..PerspectiveProjection::default()
            }),
            Lens::Parallel(height) => Projection::Orthographic(OrthographicProjection {
                near: 0.0,
                far: 200.0,
                scaling_mode: ScalingMode::FixedVertical { viewport_height: height as f32 },
                ..OrthographicProjection::default_3d()
            }),
        }
    }
}

impl Sight {
    fn size(&self) -> DVec2 {
        (self.area.high - self.area.low).as_dvec2().max(DVec2::ONE)
    }

    /// Width of the picture over its height.
    pub(super) fn aspect(&self) -> f64 {
        self.size().x / self.size().y
    }

    /// Where a point of the room is on the screen, logical pixels; `None` behind the eye.
    pub(super) fn screen(&self, at: DVec3) -> Option<Vec2> {
        let pose = &self.pose;
        let away = at - pose.eye;
        let half_height = match pose.lens {
            Lens::Perspective(view) => {
                let depth = away.dot(pose.forward);
                if depth < 0.05 {
                    return None;
                }
                depth * (0.5 * view).tan()
            }
            Lens::Parallel(height) => 0.5 * height,
        };
        let (x, y) = (away.dot(pose.right()) / half_height, away.dot(pose.up) / half_height);
        let size = self.size();
        let middle = self.area.low.as_dvec2() + 0.5 * size;
        Some((middle + 0.5 * size.y * DVec2::new(x, -y)).as_vec2())
    }

    /// What one logical pixel is at a point of the room, meters.
    pub(super) fn pixel(&self, at: DVec3) -> f64 {
        let meters = match self.pose.lens {
            Lens::Perspective(view) => 2.0 * (at - self.pose.eye).dot(self.pose.forward).max(0.05) * (0.5 * view).tan(),
            Lens::Parallel(height) => height,
        };
        meters / self.size().y
    }

    /// The line of sight through a place on the screen: where it begins, and its unit vector.
    pub(super) fn ray(&self, at: Vec2) -> (DVec3, DVec3) {
        let size = self.size();
        let middle = self.area.low.as_dvec2() + 0.5 * size;
        let from_middle = (at.as_dvec2() - middle) / (0.5 * size.y);
        let pose = &self.pose;
        match pose.lens {
            Lens::Perspective(view) => {
                let tangent = (0.5 * view).tan();
                let way = pose.forward + tangent * (pose.right() * from_middle.x - pose.up * from_middle.y);
                (pose.eye, way.try_normalize().unwrap_or(pose.forward))
            }
            Lens::Parallel(height) => {
                let across = 0.5 * height * (pose.right() * from_middle.x - pose.up * from_middle.y);
                (pose.eye + across, pose.forward)
            }
        }
    }
}

/// What the mouse has turned, moved and zoomed.
#[derive(Clone, Copy, Debug, PartialEq, Resource)]
pub(crate) struct Rig {
    /// Direction from the target to the orbiting eye, over the floor, radians from +x.
    pub(crate) turn: f64,
    /// The same over the horizon, radians.
    pub(super) rise: f64,
    /// From the target to the orbiting eye, meters.
    pub(super) distance: f64,
    /// What is orbited, meters.
    pub(super) target: DVec3,
    /// What lies in the middle of a plan or elevation, meters.
    pub(super) center: DVec3,
    /// Meters from top to bottom of a plan or elevation.
    pub(super) height: f64,
    /// How far the head at the seat is turned to the left and raised, radians.
    pub(super) head: DVec2,
}

impl Default for Rig {
    fn default() -> Self {
        Self { turn: 0.6, rise: 0.58, distance: 12.0, target: DVec3::ZERO, center: DVec3::ZERO, height: 6.0, head: DVec2::ZERO }
    }
}

/// All corners of walls, floor and ceiling, meters.
pub(super) fn corners(room: &Room) -> Vec<DVec3> {
    let shell = room.surfaces.iter().filter(|surface| surface.role.is_shell());
    shell.flat_map(|surface| surface.outline.corners.iter().map(|corner| surface.chart.point(*corner))).collect()
}

/// Lowest and highest corner, meters.
pub(crate) fn bounds(room: &Room) -> (DVec3, DVec3) {
    corners(room).into_iter().fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)))
}

impl Rig {
    /// Fits the room into a picture of this shape; of eight ways round the one that shows most of the walls, the one
    /// that the listener faces counted twice.
    pub(super) fn fit(&mut self, room: &Room, aspect: f64) {
        let (low, high) = bounds(room);
        if !(high - low).is_finite() {
            return;
        }
        self.target = 0.5 * (low + high);
        self.rise = Self::default().rise;
        let seen = |turn: f64| {
            let toward = DVec3::new(turn.cos(), turn.sin(), 0.0);
            let walls = room.surfaces.iter().filter(|surface| matches!(surface.role, Role::Wall(_)));
            let ahead = |normal: DVec3| room.receivers.first().map_or(0.0, |receiver| (-receiver.facing.dot(normal)).max(0.0));
            let counts = |normal: DVec3| normal.dot(toward).max(0.0) * (1.0 + ahead(normal));
            walls.map(|surface| surface.outline.area() * counts(surface.chart.normal)).sum::<f64>()
        };
        let quarter = std::f64::consts::FRAC_PI_2;
        let turns = (0..4).flat_map(|side| [0.6, quarter - 0.6].map(|tilt| quarter * f64::from(side) + tilt));
        let mut best = (f64::NEG_INFINITY, self.turn);
        for turn in turns {
            if seen(turn) > best.0 * (1.0 + 1e-9) || best.0 < 0.0 {
                best = (seen(turn), turn);
            }
        }
        self.turn = best.1;
        self.distance = self.fitting_distance(room, aspect);
        // What is near is larger: the middle of the room is not the middle of its picture. Each round leaves a fraction of the rest.
        for _ in 0..3 {
            self.target += self.off_center(room);
            self.distance = self.fitting_distance(room, aspect);
        }
        self.target -= self.orbit().up * (RAISED * self.distance * 2.0 * (0.5 * ORBIT_VIEW).tan());
    }

    /// From the target to what lies behind the middle of the room's picture, meters, at the distance of the target.
    fn off_center(&self, room: &Room) -> DVec3 {
        let pose = self.orbit();
        let thrown = |corner: DVec3| {
            let away = corner - pose.eye;
            DVec2::new(away.dot(pose.right()), away.dot(pose.up)) / away.dot(pose.forward)
        };
        let all = corners(room).into_iter().map(thrown);
        let (low, high) = all.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
        let middle = 0.5 * (low + high) * self.distance;
        pose.right() * middle.x + pose.up * middle.y
    }

    fn fitting_distance(&self, room: &Room, aspect: f64) -> f64 {
        let pose = self.orbit();
        let upward = FILLED * (0.5 * ORBIT_VIEW).tan();
        let across = upward * aspect;
        let least = |corner: DVec3| {
            let away = corner - self.target;
            let near = -away.dot(pose.forward);
            (away.dot(pose.right()).abs() / across).max(away.dot(pose.up).abs() / upward) + near
        };
        corners(room).into_iter().map(least).fold(1.0, f64::max)
    }

    /// Fits a plan or elevation.
    pub(super) fn fit_flat(&mut self, room: &Room, view: CameraView, aspect: f64) {
        let Some((low, high, right, up)) = flat_frame(room, view) else { return };
        let size = high - low;
        self.height = (size.y.max(size.x / aspect) / FILLED).max(0.5);
        let middle = 0.5 * (low + high) - DVec2::new(0.0, RAISED * self.height);
        let (room_low, room_high) = bounds(room);
        let depth = 0.5 * (room_low + room_high);
        self.center = right * middle.x + up * middle.y + depth - right * depth.dot(right) - up * depth.dot(up);
        debug_assert!(self.center.is_finite(), "a room has corners");
    }

    fn orbit(&self) -> Pose {
        let (sin, cos) = self.turn.sin_cos();
        let level = DVec3::new(cos, sin, 0.0);
        let toward = level * self.rise.cos() + DVec3::Z * self.rise.sin();
        let up = DVec3::Z * self.rise.cos() - level * self.rise.sin();
        Pose { eye: self.target + toward * self.distance, forward: -toward, up, lens: Lens::Perspective(ORBIT_VIEW) }
    }

    /// The eye for a view.
    pub(super) fn pose(&self, room: &Room, view: CameraView) -> Pose {
        let far = 60.0;
        match view {
            CameraView::Orbit => self.orbit(),
            CameraView::Plan => {
                Pose { eye: self.center + DVec3::Z * far, forward: DVec3::NEG_Z, up: DVec3::Y, lens: Lens::Parallel(self.height) }
            }
            CameraView::Elevation(surface) => room.surfaces.get(surface).map_or_else(
                || self.orbit(),
                |surface| {
                    let chart = surface.chart;
                    Pose { eye: self.center + chart.normal * far, forward: -chart.normal, up: chart.up, lens: Lens::Parallel(self.height) }
                },
            ),
            CameraView::Ear(receiver) => room.receivers.get(receiver).map_or_else(
                || self.orbit(),
                |receiver| {
                    let ahead = receiver.facing.truncate().to_angle() + self.head.x;
                    let rise = self.head.y;
                    let level = DVec3::new(ahead.cos(), ahead.sin(), 0.0);
                    Pose {
                        eye: receiver.position,
                        forward: level * rise.cos() + DVec3::Z * rise.sin(),
                        up: DVec3::Z * rise.cos() - level * rise.sin(),
                        lens: Lens::Perspective(EAR_VIEW),
                    }
                },
            ),
        }
    }

    /// Turns: by a drag of so many pixels over a picture `height` pixels high.
    pub(super) fn turn_by(&mut self, view: CameraView, drag: DVec2, height: f64) {
        let by = drag * (std::f64::consts::PI / height.max(1.0));
        match view {
            CameraView::Orbit => {
                self.turn -= by.x;
                self.rise = (self.rise + by.y).clamp(-STEEPEST, STEEPEST);
            }
            // The picture follows the hand.
            CameraView::Ear(_) => self.head = DVec2::new(self.head.x + 0.5 * by.x, (self.head.y + 0.5 * by.y).clamp(-1.5, 1.5)),
            CameraView::Plan | CameraView::Elevation(_) => {}
        }
    }

    /// Moves sideways, so that what is under the hand stays there.
    pub(super) fn pan_by(&mut self, view: CameraView, pose: &Pose, drag: DVec2, height: f64) {
        let meters = match pose.lens {
            Lens::Perspective(angle) => 2.0 * self.distance * (0.5 * angle).tan(),
            Lens::Parallel(meters) => meters,
        } / height.max(1.0);
        let by = meters * (pose.up * drag.y - pose.right() * drag.x);
        match view {
            CameraView::Orbit => self.target += by,
            CameraView::Plan | CameraView::Elevation(_) => self.center += by,
            CameraView::Ear(_) => {}
        }
    }

    /// Goes nearer by so many notches of the wheel.
    pub(super) fn zoom_by(&mut self, view: CameraView, notches: f64) {
        let factor = 0.9_f64.powf(notches);
        match view {
            CameraView::Orbit => self.distance = (self.distance * factor).clamp(0.5, 150.0),
            CameraView::Plan | CameraView::Elevation(_) => self.height = (self.height * factor).clamp(0.1, 100.0),
            CameraView::Ear(_) => {}
        }
    }
}

/// Bounds along the screen's axes of what a plan or elevation shows, and these axes.
fn flat_frame(room: &Room, view: CameraView) -> Option<(DVec2, DVec2, DVec3, DVec3)> {
    let (right, up, points): (DVec3, DVec3, Vec<DVec3>) = match view {
        CameraView::Plan => (DVec3::X, DVec3::Y, corners(room)),
        CameraView::Elevation(index) => {
            let surface = room.surfaces.get(index)?;
            let points = surface.outline.corners.iter().map(|corner| surface.chart.point(*corner)).collect();
            (surface.chart.right, surface.chart.up, points)
        }
        CameraView::Orbit | CameraView::Ear(_) => return None,
    };
    let flat = |at: &DVec3| DVec2::new(at.dot(right), at.dot(up));
    let (low, high) = points.iter().map(flat).fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
    (high - low).is_finite().then_some((low, high, right, up))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stage::{overlay, samples};

    fn area() -> StageArea {
        StageArea { low: Vec2::new(120.0, 30.0), high: Vec2::new(1020.0, 630.0) }
    }

    fn views(room: &Room) -> Vec<CameraView> {
        let mut views = vec![CameraView::Orbit, CameraView::Plan, CameraView::Ear(0)];
        views.extend((0..room.surfaces.len()).map(CameraView::Elevation));
        views
    }

    #[test]
    fn keeps_axes_upright_and_the_way_back() {
        for (_, room) in samples::all() {
            for view in views(&room) {
                let mut rig = Rig::default();
                rig.fit(&room, 1.5);
                rig.fit_flat(&room, view, 1.5);
                let pose = rig.pose(&room, view);
                assert!((pose.forward.length() - 1.0).abs() < 1e-9 && pose.forward.dot(pose.up).abs() < 1e-9, "{view:?}");
                let sight = Sight { pose, area: area() };
                for at in [Vec2::new(300.0, 200.0), Vec2::new(570.0, 330.0), Vec2::new(1000.0, 600.0)] {
                    let (from, way) = sight.ray(at);
                    let back = sight.screen(from + 3.0 * way).expect("before the eye");
                    assert!(back.distance(at) < 1e-3, "{view:?}: {back} for {at}");
                }
                // The engine throws as we do.
                let transform = pose.transform();
                let forward = transform.forward();
                assert!(forward.dot(point(pose.forward)) > 0.9999, "{view:?}");
            }
        }
    }

    #[test]
    fn keeps_the_whole_room_in_the_picture() {
        for (scene, room) in samples::all() {
            let mut rig = Rig::default();
            let area = area();
            let aspect = Sight { area, ..Sight::default() }.aspect();
            rig.fit(&room, aspect);
            for view in [CameraView::Orbit, CameraView::Plan] {
                rig.fit_flat(&room, view, aspect);
                let sight = Sight { pose: rig.pose(&room, view), area };
                let (mut low, mut high) = (Vec2::INFINITY, Vec2::NEG_INFINITY);
                for corner in corners(&room) {
                    let at = sight.screen(corner).expect("before the eye");
                    (low, high) = (low.min(at), high.max(at));
                }
                assert!(low.cmpge(area.low).all() && high.cmple(area.high).all(), "{}, {view:?}: {low} {high}", scene.name);
                // And not small: it fills most of one direction.
                let share = (high - low) / (area.high - area.low);
                assert!(share.max_element() > 0.6, "{}, {view:?}: {share}", scene.name);
            }
        }
    }

    #[test]
    fn keeps_the_room_off_the_color_scale() {
        for (scene, room) in samples::all() {
            let mut rig = Rig::default();
            // What a window of 1280 x 720 leaves.
            let area = StageArea { low: Vec2::new(93.0, 1.0), high: Vec2::new(809.0, 473.0) };
            let aspect = Sight { area, ..Sight::default() }.aspect();
            rig.fit(&room, aspect);
            for view in [CameraView::Orbit, CameraView::Plan] {
                rig.fit_flat(&room, view, aspect);
                let sight = Sight { pose: rig.pose(&room, view), area };
                let lowest = corners(&room).into_iter().filter_map(|corner| sight.screen(corner)).map(|at| at.y).fold(0.0, f32::max);
                assert!(lowest + 3.0 < area.high.y - overlay::FOOT, "{}, {view:?}: {lowest}", scene.name);
            }
        }
    }

    #[test]
    fn keeps_what_is_under_the_hand_when_it_pans() {
        let (_, room) = samples::attic();
        for view in [CameraView::Orbit, CameraView::Plan, CameraView::Elevation(1)] {
            let mut rig = Rig::default();
            rig.fit(&room, 1.5);
            rig.fit_flat(&room, view, 1.5);
            let before = Sight { pose: rig.pose(&room, view), area: area() };
            let held = if view == CameraView::Orbit { rig.target } else { rig.center };
            let start = before.screen(held).expect("in sight");
            rig.pan_by(view, &before.pose, DVec2::new(40.0, -25.0), 600.0);
            let after = Sight { pose: rig.pose(&room, view), area: area() };
            let moved = after.screen(held).expect("in sight") - start;
            assert!(moved.distance(Vec2::new(40.0, -25.0)) < 0.1, "{view:?}: {moved}");
        }
    }

    #[test]
    fn keeps_elevations_as_seen_from_inside() {
        let (_, room) = samples::attic();
        let mut rig = Rig::default();
        for (index, surface) in room.surfaces.iter().enumerate().filter(|(_, surface)| surface.role.is_shell()) {
            let view = CameraView::Elevation(index);
            rig.fit_flat(&room, view, 1.5);
            let sight = Sight { pose: rig.pose(&room, view), area: area() };
            let at = |x: f64, y: f64| sight.screen(surface.chart.point(DVec2::new(x, y))).expect("parallel");
            assert!(at(1.0, 0.0).x > at(0.0, 0.0).x && at(0.0, 1.0).y < at(0.0, 0.0).y, "{}", surface.name);
            assert!(sight.pose.is_before(surface.chart.origin, surface.chart.normal));
        }
    }
}
