//! How fast is a well-kept ray kernel, Embree, at what ours does? One thread, one ray at a time, its fast scene and its robust one.
//!
//! peer LIBRARY replay MESH RAYS   closest hits of rays that somebody else wrote down
//! peer LIBRARY bounce MESH COUNT  a ray that bounces about by Lambert's law: random numbers, hit, normal, new direction
//!
//! MESH holds little-endian f32, nine a triangle; RAYS six a ray, origin and direction. Prints, for the fast scene and for the robust one, a
//! line of million rays a second, rays that met nothing, and the mean way. The library is not linked: version 4, or 3.

use std::ffi::{c_char, c_int, c_uint, c_void};
use std::time::Instant;

#[repr(C, align(16))]
struct RayHit {
    origin: [f32; 3],
    near: f32,
    direction: [f32; 3],
    time: f32,
    far: f32,
    mask: u32,
    id: u32,
    flags: u32,
    normal: [f32; 3],
    u: f32,
    v: f32,
    primitive: u32,
    geometry: u32,
    instance: [u32; 9],
}

#[repr(C)]
struct Context {
    flags: c_int,
    filter: *const c_void,
    instance: u32,
    pad: [u32; 8],
}

struct Peer {
    scene: *mut c_void,
    four: Option<extern "C" fn(*mut c_void, *mut RayHit, *const c_void)>,
    three: extern "C" fn(*mut c_void, *mut Context, *mut RayHit),
}

impl Peer {
    fn first(&self, origin: [f32; 3], direction: [f32; 3], near: f32) -> RayHit {
        let mut ray = RayHit {
            origin,
            near,
            direction,
            time: 0.0,
            far: f32::INFINITY,
            mask: u32::MAX,
            id: 0,
            flags: 0,
            normal: [0.0; 3],
            u: 0.0,
            v: 0.0,
            primitive: u32::MAX,
            geometry: u32::MAX,
            instance: [u32::MAX; 9],
        };
        if let Some(four) = self.four {
            four(self.scene, &mut ray, std::ptr::null());
        } else {
            let mut context = Context { flags: 0, filter: std::ptr::null(), instance: u32::MAX, pad: [0; 8] };
            (self.three)(self.scene, &mut context, &mut ray);
        }
        ray
    }
}

fn floats(path: &str) -> Vec<f32> {
    let bytes = std::fs::read(path).expect("the file can be read");
    bytes.chunks_exact(4).map(|four| f32::from_le_bytes([four[0], four[1], four[2], four[3]])).collect()
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, library, mode, mesh, what] = &arguments[..] else { panic!("peer LIBRARY replay|bounce MESH RAYS|COUNT") };
    let mesh = floats(mesh);
    // SAFETY: the signatures are those of the library's documented interface.
    let library = unsafe { libloading::Library::new(library).expect("the library can be loaded") };
    macro_rules! function {
        ($name:literal, $type:ty) => {
            // SAFETY: as above.
            unsafe { *library.get::<$type>($name).expect("the library has it") }
        };
    }
    let device = function!(b"rtcNewDevice", extern "C" fn(*const c_char) -> *mut c_void)(c"threads=1".as_ptr());
    let version = function!(b"rtcGetDeviceProperty", extern "C" fn(*mut c_void, c_int) -> isize)(device, 0);
    for (name, flags) in [("fast", 0), ("robust", 4)] {
        let scene = function!(b"rtcNewScene", extern "C" fn(*mut c_void) -> *mut c_void)(device);
        let geometry = function!(b"rtcNewGeometry", extern "C" fn(*mut c_void, c_int) -> *mut c_void)(device, 0);
        type Buffer = extern "C" fn(*mut c_void, c_int, c_uint, c_int, usize, usize) -> *mut c_void;
        let buffer = function!(b"rtcSetNewGeometryBuffer", Buffer);
        let corners = buffer(geometry, 1, 0, 0x9003, 12, mesh.len() / 3).cast::<f32>();
        // SAFETY: the buffer was asked for with this length.
        unsafe { std::ptr::copy_nonoverlapping(mesh.as_ptr(), corners, mesh.len()) };
        let numbers = buffer(geometry, 0, 0, 0x5003, 12, mesh.len() / 9).cast::<u32>();
        for index in 0..mesh.len() / 3 {
            // SAFETY: as above.
            unsafe { *numbers.add(index) = index as u32 };
        }
        function!(b"rtcCommitGeometry", extern "C" fn(*mut c_void))(geometry);
        function!(b"rtcAttachGeometry", extern "C" fn(*mut c_void, *mut c_void) -> u32)(scene, geometry);
        function!(b"rtcSetSceneFlags", extern "C" fn(*mut c_void, c_int))(scene, flags);
        function!(b"rtcCommitScene", extern "C" fn(*mut c_void))(scene);
        let three = function!(b"rtcIntersect1", extern "C" fn(*mut c_void, *mut Context, *mut RayHit));
        let four = (version >= 40000)
            .then(|| function!(b"rtcIntersect1", extern "C" fn(*mut c_void, *mut RayHit, *const c_void)));
        let peer = Peer { scene, four, three };
        let (count, misses, way, seconds) = if mode == "replay" { replay(&peer, &floats(what)) } else { bounce(&peer, what) };
        println!("{name} {:.3} {misses} {:.5}", count as f64 / seconds / 1e6, way / count as f64);
    }
}

fn replay(peer: &Peer, rays: &[f32]) -> (usize, usize, f64, f64) {
    let (mut misses, mut way) = (0, 0.0);
    let begin = Instant::now();
    for ray in rays.chunks_exact(6) {
        let hit = peer.first([ray[0], ray[1], ray[2]], [ray[3], ray[4], ray[5]], 0.0);
        if hit.geometry == u32::MAX {
            misses += 1;
        } else {
            way += f64::from(hit.far);
        }
    }
    (rays.len() / 6, misses, way, begin.elapsed().as_secs_f64())
}

/// Scalar shading as one would write it: a small generator, the cosine law by a point of the sphere added to the normal.
fn bounce(peer: &Peer, count: &str) -> (usize, usize, f64, f64) {
    let count: usize = count.parse().expect("a number");
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let mut unit = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 40) as f32 * (1.0 / 16_777_216.0)
    };
    let start = ([0.11_f32, 0.12, 0.13], [0.3_f32, 0.5, 0.812]);
    let (mut origin, mut direction) = start;
    let (mut misses, mut way) = (0, 0.0);
    let begin = Instant::now();
    for _ in 0..count {
        let hit = peer.first(origin, direction, 1e-4);
        if hit.geometry == u32::MAX {
            misses += 1;
            (origin, direction) = start;
            continue;
        }
        way += f64::from(hit.far);
        let mut normal = hit.normal;
        let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let scale = dot(normal, normal).sqrt().recip() * if dot(normal, direction) > 0.0 { -1.0 } else { 1.0 };
        normal.iter_mut().for_each(|along| *along *= scale);
        let height = 2.0 * unit() - 1.0;
        let (sin, cos) = (std::f32::consts::TAU * unit()).sin_cos();
        let ring = (1.0 - height * height).max(0.0).sqrt();
        let mut next = [normal[0] + ring * cos, normal[1] + ring * sin, normal[2] + height];
        let length = dot(next, next).sqrt().max(1e-6);
        for axis in 0..3 {
            origin[axis] += hit.far * direction[axis];
            next[axis] /= length;
        }
        direction = next;
    }
    (count, misses, way, begin.elapsed().as_secs_f64())
}
