//! Pages, drawings and pictures: true scale, nothing overlaps, same bytes every time.

mod attic;

use roomwright::report::{heatmap, hung, raster, sheet};
use roomwright::units::LengthUnit;

#[test]
fn dump() {
    let Ok(dir) = std::env::var("DUMP") else { return };
    std::fs::create_dir_all(&dir).unwrap();
    for (unit, tag) in [(LengthUnit::Meter, "m"), (LengthUnit::Foot, "ft")] {
        let scene = attic::scene(unit);
        let room = attic::room(&scene);
        let (plan, pictures) = attic::plan(&scene, &room);
        let hung = hung::panels(&scene, &room, &plan.placed, &pictures.panels);
        let sheet_of = heatmap::Sheet { scene: &scene, room: &room, hung: &hung, hot_spots: &plan.hot_spots };
        let marks = heatmap::scale(&pictures.earning);
        for map in &pictures.earning {
            let svg = heatmap::svg(sheet_of, heatmap::Heat::Earning, map, marks);
            std::fs::write(format!("{dir}/heat-{}-{tag}.png", room.surfaces[map.surface].name), raster::png(&svg, 1200).unwrap()).unwrap();
        }
        for index in (0..room.surfaces.len()).filter(|index| room.surfaces[*index].role.is_shell()) {
            let job = sheet::Job { scene: &scene, room: &room, hung: &hung, hot_spots: &plan.hot_spots, sheet: 1, sheets: 6, planned: 9 };
            let svg = sheet::svg(job, index);
            std::fs::write(format!("{dir}/sheet-{}-{tag}.png", room.surfaces[index].name), raster::png(&svg, 1200).unwrap()).unwrap();
        }
    }
}
