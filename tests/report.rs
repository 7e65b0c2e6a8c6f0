//! Pages, drawings and pictures: true scale, nothing overlaps, same bytes every time.

mod attic;

use roomwright::report::{axonometry, chart, heatmap, hung, raster, sheet, top_view};
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
        let write = |name: &str, svg: &str| std::fs::write(format!("{dir}/{name}-{tag}.png"), raster::png(svg, 1200).unwrap()).unwrap();
        let (before, after) = (&plan.before, &plan.after);
        write("energy-time", &chart::energy_time(&before.pairs[0], Some(&after.pairs[0]), 15.0));
        write("energy-time-bare", &chart::energy_time(&before.pairs[0], None, 15.0));
        write("decay", &chart::decay(before, Some(after)));
        write("decay-bare", &chart::decay(before, None));
        write("decay-curves", &chart::decay_curves(&before.pairs[0], Some(&after.pairs[0])));
        write("earnings", &chart::earnings(&plan.placed));
        write("top", &top_view::svg(&scene, &room, before, 15.0));
        let view = axonometry::View { scene: &scene, room: &room, hung: &hung, hot_spots: &plan.hot_spots, maps: &pictures.earning };
        write("room", &axonometry::svg(view));
        for index in (0..room.surfaces.len()).filter(|index| room.surfaces[*index].role.is_shell()) {
            let job = sheet::Job { scene: &scene, room: &room, hung: &hung, hot_spots: &plan.hot_spots, sheet: 1, sheets: 6, planned: 9 };
            let svg = sheet::svg(job, index);
            std::fs::write(format!("{dir}/sheet-{}-{tag}.png", room.surfaces[index].name), raster::png(&svg, 1200).unwrap()).unwrap();
        }
    }
}
