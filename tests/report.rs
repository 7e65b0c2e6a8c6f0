//! Pages, drawings and pictures: true scale, nothing overlaps, same bytes every time.

mod attic;

use roomwright::report;
use roomwright::units::LengthUnit;

#[test]
fn dump() {
    let Ok(dir) = std::env::var("DUMP") else { return };
    for (unit, tag) in [(LengthUnit::Meter, "m"), (LengthUnit::Foot, "ft")] {
        let dir = format!("{dir}/{tag}");
        std::fs::create_dir_all(&dir).unwrap();
        let scene = attic::scene(unit);
        let room = attic::room(&scene);
        let (plan, pictures) = attic::plan(&scene, &room);
        let start = std::time::Instant::now();
        let files = report::files(&scene, &room, &plan, &pictures);
        println!("{:?} for {} files, {} bytes", start.elapsed(), files.len(), files.iter().map(|f| f.1.len()).sum::<usize>());
        for (name, bytes) in files.into_iter().chain(report::hear_files(&scene, &room, &plan.before)) {
            if name.ends_with(".svg") {
                let png = report::raster::png(std::str::from_utf8(&bytes).unwrap(), 1200).unwrap();
                std::fs::write(format!("{dir}/{name}.png"), png).unwrap();
            }
            std::fs::write(format!("{dir}/{name}"), bytes).unwrap();
        }
    }
}
