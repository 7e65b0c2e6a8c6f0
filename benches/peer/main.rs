//! How fast is a well-kept ray kernel, Embree, at what ours does? One ray at a time, its fast scene and its robust one.
//!
//! peer LIBRARY replay MESH RAYS             closest hits of rays that somebody else wrote down, one thread
//! peer LIBRARY bounce MESH COUNT [THREADS]  a ray that bounces about by Lambert's law: random numbers, hit, normal, new direction
//!
//! MESH holds little-endian f32, nine a triangle; RAYS six a ray, origin and direction. Where there are more threads than one, each has a ray and
//! random numbers of its own, and they share the scene and the COUNT bounces. Prints, for the fast scene and for the robust one, a line of
//! million rays a second of all threads together, rays that met nothing, and the mean way. The library is not linked: version 4, or 3.

use std::ffi::{c_char, c_int, c_uint, c_void};
use std::sync::Barrier;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::Instant;

/// Bounces that a thread takes at a time: a slower one leaves more to the others, so that none waits for it.
const TAKEN: usize = 1000;

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

// SAFETY: a committed scene is only read, and the library lets any number of threads ask it at once.
unsafe impl Sync for Peer {}

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
    let [_, library, mode, mesh, what, threads @ ..] = &arguments[..] else {
        panic!("peer LIBRARY replay MESH RAYS, or peer LIBRARY bounce MESH COUNT [THREADS]")
    };
    let threads = threads.first().map_or(1, |threads| threads.parse().expect("a number of threads"));
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
        let four = (version >= 40000).then(|| function!(b"rtcIntersect1", extern "C" fn(*mut c_void, *mut RayHit, *const c_void)));
        let peer = Peer { scene, four, three };
        let (count, misses, way, seconds) = if mode == "replay" { replay(&peer, &floats(what)) } else { bounce(&peer, what, threads) };
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

/// What all threads do from the moment when they are all there until the last has ended.
fn bounce(peer: &Peer, count: &str, threads: usize) -> (usize, usize, f64, f64) {
    let count: usize = count.parse().expect("a number");
    let (taken, all_there) = (AtomicUsize::new(0), Barrier::new(threads));
    let walk = |thread: usize| {
        let mut walker = Walker::new(thread as u64);
        all_there.wait();
        let begin = Instant::now();
        loop {
            let left = count.saturating_sub(taken.fetch_add(TAKEN, Ordering::Relaxed));
            (0..left.min(TAKEN)).for_each(|_| walker.bounce(peer));
            if left <= TAKEN {
                return (walker, begin, Instant::now());
            }
        }
    };
    let walked: Vec<_> = thread::scope(|scope| {
        let threads: Vec<_> = (0..threads).map(|thread| scope.spawn(move || walk(thread))).collect();
        threads.into_iter().map(|thread| thread.join().expect("it ends")).collect()
    });
    let begin = walked.iter().map(|walked| walked.1).min().expect("a thread at the least");
    let end = walked.iter().map(|walked| walked.2).max().expect("a thread at the least");
    let sum = |of: fn(&Walker) -> f64| walked.iter().map(|walked| of(&walked.0)).sum::<f64>();
    (count, sum(|walker| walker.misses as f64) as usize, sum(|walker| walker.way), (end - begin).as_secs_f64())
}

const START: ([f32; 3], [f32; 3]) = ([0.11, 0.12, 0.13], [0.3, 0.5, 0.812]);

/// A ray on its way, with the random numbers of its thread.
struct Walker {
    state: u64,
    origin: [f32; 3],
    direction: [f32; 3],
    misses: usize,
    way: f64,
}

impl Walker {
    fn new(thread: u64) -> Self {
        let (origin, direction) = START;
        // Odd times odd: never 0, which would stay 0.
        Self { state: 0x9E37_79B9_7F4A_7C15_u64.wrapping_mul(2 * thread + 1), origin, direction, misses: 0, way: 0.0 }
    }

    fn unit(&mut self) -> f32 {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        (self.state >> 40) as f32 * (1.0 / 16_777_216.0)
    }

    /// Scalar shading as one would write it: a small generator, the cosine law by a point of the sphere added to the normal.
    #[inline(always)]
    fn bounce(&mut self, peer: &Peer) {
        let hit = peer.first(self.origin, self.direction, 1e-4);
        if hit.geometry == u32::MAX {
            self.misses += 1;
            (self.origin, self.direction) = START;
            return;
        }
        self.way += f64::from(hit.far);
        let mut normal = hit.normal;
        let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let scale = dot(normal, normal).sqrt().recip() * if dot(normal, self.direction) > 0.0 { -1.0 } else { 1.0 };
        normal.iter_mut().for_each(|along| *along *= scale);
        let height = 2.0 * self.unit() - 1.0;
        let (sin, cos) = (std::f32::consts::TAU * self.unit()).sin_cos();
        let ring = (1.0 - height * height).max(0.0).sqrt();
        let mut next = [normal[0] + ring * cos, normal[1] + ring * sin, normal[2] + height];
        let length = dot(next, next).sqrt().max(1e-6);
        for axis in 0..3 {
            self.origin[axis] += hit.far * self.direction[axis];
            next[axis] /= length;
        }
        self.direction = next;
    }
}
