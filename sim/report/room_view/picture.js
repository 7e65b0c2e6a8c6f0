// The room as a solid picture: walls cut away on the near side, heat on its surfaces, panels, edges; turned about a point, and asked what
// lies under the pointer.
//
// A face whose front looks away from the eye is left out, so that one sees into the room from any side; its edges stay as a faint line,
// and what hangs on it is drawn as an outline only. A map is a picture of one dot per patch laid on the surface, not smoothed.
//
// Limits: flat light, no shadows. Drawn only when asked to: nothing moves by itself.

const PAPER = '#f5f1e8';
const INK = '#2e2c29';
const ACCENT = '#b5451b';
const FAINT = '#b3aa99';
const TONE = { floor: '#e9e1d0', ceiling: '#fbf8f1', wall: '#f1ebde', opening: '#dcd4c3', block: '#d3c7af' };
const PANEL_TONE = '#fffdf8';
const HATCH = 0.12; // meters between the lines on a panel
const OUTSIDE = 22; // degrees that the picture spans in height, from outside
const FILLED = 0.92; // of that, by the room
const INSIDE = { tall: 88, wide: 92 }; // and at most from a seat, in height and width
const NEAREST = 0.02; // meters before the eye where the picture begins

/** How far a kind of face stands before those in the same plane, in steps of depth. */
const LAYER = { floor: 4, ceiling: 4, wall: 4, block: 4, opening: 2, panel: 0 };

/** A hatch of slanting lines, one period: panels read without color. */
function hatching() {
    const size = 64;
    const canvas = document.createElement('canvas');
    canvas.width = canvas.height = size;
    const pen = canvas.getContext('2d');
    pen.fillStyle = PANEL_TONE;
    pen.fillRect(0, 0, size, size);
    pen.strokeStyle = '#8b8377';
    pen.lineWidth = 5;
    for (const shift of [-size, 0, size]) {
        pen.beginPath();
        pen.moveTo(shift - 8, size + 8);
        pen.lineTo(shift + size + 8, -8);
        pen.stroke();
    }
    const texture = new THREE.CanvasTexture(canvas);
    texture.colorSpace = THREE.SRGBColorSpace;
    texture.wrapS = texture.wrapT = THREE.RepeatWrapping;
    texture.anisotropy = 4;
    return texture;
}

/** Places of points on a flat picture that begins at `origin` and repeats after `right` and `up`. */
function placesOn(points, origin, right, up) {
    const [byRight, byUp] = [right, up].map((way) => dot(way, way));
    return points.flatMap((point) => {
        const from = minus(point, origin);
        return [dot(from, right) / byRight, dot(from, up) / byUp];
    });
}

function meshOf(face, material) {
    const shape = new THREE.BufferGeometry();
    shape.setAttribute('position', new THREE.Float32BufferAttribute(face.triangles.flat(), 3));
    return new THREE.Mesh(shape, material);
}

/** A picture of one white dot, for what has no other: all surfaces then share one shader. */
function whiteDot() {
    const texture = new THREE.DataTexture(new Uint8Array([255, 255, 255, 255]), 1, 1);
    texture.needsUpdate = true;
    return texture;
}

function materialOf(color, layer, texture) {
    const look = { color, map: texture, polygonOffset: true, polygonOffsetFactor: layer, polygonOffsetUnits: layer };
    return new THREE.MeshBasicMaterial(look);
}

/** Walls in slightly different tones by the way they face, so that a corner shows without its edge. */
function toneOf(kind, normal) {
    const tone = new THREE.Color(TONE[kind] ?? TONE.wall);
    if (kind === 'wall' || kind === 'block') tone.multiplyScalar(1 - 0.09 * Math.abs(dot(normal, unit([0.8, 0.6, 0]))) ** 2);
    return tone;
}

/** The colors of one surface of a map as a picture of one dot per patch. Patches that a surface only grazes, which have no value, take
 * the mean of their neighbors; others without one let the surface show. */
function fieldTexture(map, field, behind) {
    const { columns, rows, values } = field;
    const at = (column, row) => (column >= 0 && row >= 0 && column < columns && row < rows ? values[row * columns + column] : null);
    const dots = new Uint8Array(columns * rows * 4);
    for (let row = 0; row < rows; row++) {
        for (let column = 0; column < columns; column++) {
            let value = at(column, row);
            if (value == null) {
                const around = [
                    [1, 0],
                    [-1, 0],
                    [0, 1],
                    [0, -1],
                ]
                    .map(([x, y]) => at(column + x, row + y))
                    .filter((one) => one != null);
                if (around.length) value = around.reduce((sum, one) => sum + one, 0) / around.length;
            }
            const color = value == null ? behind : colorAt(map, value);
            dots.set([...color, 255], (row * columns + column) * 4);
        }
    }
    const texture = new THREE.DataTexture(dots, columns, rows);
    texture.colorSpace = THREE.SRGBColorSpace;
    texture.magFilter = texture.minFilter = THREE.NearestFilter;
    texture.needsUpdate = true;
    return texture;
}

const channels = (color) => [1, 3, 5].map((at) => parseInt(color.slice(at, at + 2), 16));

/** Red, green and blue, 0 to 255, of a value of a map: between its colors in equal steps, held at both ends. */
function colorAt(map, value) {
    const last = map.colors.length - 1;
    const place = (Math.min(Math.max((value - map.low) / (map.high - map.low), 0), 1) || 0) * last;
    const low = Math.min(Math.floor(place), last - 1);
    const [one, other] = [channels(map.colors[low]), channels(map.colors[low + 1])];
    return one.map((part, index) => Math.round(part + (other[index] - part) * (place - low)));
}

/** The value of a map at a point of a surface; nothing where it has none. */
function valueAt(map, surface, point) {
    const field = map?.fields.find((one) => one.surface === surface);
    if (!field) return null;
    const [x, y] = placesOn([point], field.origin, field.right, field.up).map(Math.floor);
    const inside = x >= 0 && y >= 0 && x < field.columns && y < field.rows;
    return inside ? (field.values[y * field.columns + x] ?? null) : null;
}

/** Lines of one look, which can be given anew. */
function lines(scene, color, width, more = {}) {
    // Solid lines are dashed ones without a gap, so that one shader does for all: making one takes a browser longer than drawing.
    const material = new THREE.LineMaterial({ color, linewidth: width, dashed: true, dashSize: 1, gapSize: 0, ...more });
    const drawn = new THREE.LineSegments2(new THREE.LineSegmentsGeometry(), material);
    drawn.visible = false;
    drawn.frustumCulled = false;
    drawn.renderOrder = 1 + scene.children.filter((one) => one.isLineSegments2).length;
    scene.add(drawn);
    return (edges) => {
        drawn.geometry.dispose();
        drawn.geometry = new THREE.LineSegmentsGeometry();
        drawn.visible = edges.length > 0;
        if (!edges.length) return;
        drawn.geometry.setPositions(edges.flat(2));
        drawn.computeLineDistances();
    };
}

/** Surfaces and panels as faces with what they belong to. */
function partsOf(room) {
    const hatch = hatching();
    const blank = whiteDot();
    const ofSurfaces = room.surfaces.flatMap((surface, index) =>
        facesOf(surface.polygons).map((face) => {
            const mesh = meshOf(face, materialOf(toneOf(surface.kind, face.normal), LAYER[surface.kind] ?? LAYER.wall, blank));
            mesh.geometry.setAttribute('uv', new THREE.Float32BufferAttribute(new Array(2 * face.triangles.length).fill(0), 2));
            return { of: 'surfaces', index, kind: surface.kind, face, mesh, on: null, blank };
        }),
    );
    const ofPanels = room.panels.flatMap((panel, index) =>
        facesOf(panel.polygons).map((face, place) => {
            const mesh = meshOf(face, materialOf('#ffffff', LAYER.panel, hatch));
            const [from, to] = face.border[0] ?? [face.middle, plus(face.middle, [1, 0, 0])];
            const right = unit(minus(to, from));
            const places = placesOn(face.triangles, from, plus([0, 0, 0], right, HATCH), plus([0, 0, 0], cross(face.normal, right), HATCH));
            mesh.geometry.setAttribute('uv', new THREE.Float32BufferAttribute(places, 2));
            return { of: 'panels', index, kind: 'panel', face, mesh, on: panel.on, isFront: place === 0 };
        }),
    );
    return [...ofSurfaces, ...ofPanels];
}

/** The face of the surface that a panel hangs on which lies nearest behind it. */
function behindOf(part, parts) {
    if (part.on == null) return null;
    const faces = parts.filter((one) => one.of === 'surfaces' && one.index === part.on).map((one) => one.face);
    const away = (face) => Math.abs(dot(face.normal, part.face.middle) - face.offset);
    return faces.sort((one, other) => away(one) - away(other))[0] ?? null;
}

/** The picture in a canvas. Throws where the browser has no WebGL. `onChange` is called when it needs to be drawn. */
function makePicture(room, canvas, handle, onChange) {
    const renderer = new THREE.WebGLRenderer({ canvas, antialias: true });
    // Asking after each shader makes the page wait for it; a picture that is not drawn shows in the test.
    renderer.debug.checkShaderErrors = false;
    const scene = new THREE.Scene();
    scene.background = new THREE.Color(PAPER);
    const camera = new THREE.PerspectiveCamera(OUTSIDE, 1, NEAREST, 1000);
    camera.up.set(0, 0, 1);
    const parts = partsOf(room);
    for (const part of parts) {
        part.behind = behindOf(part, parts);
        scene.add(part.mesh);
    }
    const controls = new THREE.OrbitControls(camera, handle);
    controls.addEventListener('change', onChange);
    const draw = {
        around: lines(scene, PAPER, 2.8, { polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 }),
        thin: lines(scene, INK, 1.1),
        thick: lines(scene, INK, 2),
        faint: lines(scene, FAINT, 1, { dashSize: 0.05, gapSize: 0.05 }),
        away: lines(scene, INK, 1.2, { dashSize: 0.03, gapSize: 0.03 }),
        chosen: lines(scene, ACCENT, 3.2, { depthTest: false }),
    };
    const picture = { renderer, scene, camera, controls, parts, draw, drawn: '', map: null, chosen: null, hasPanels: true };
    const points = room.surfaces.flatMap((surface) => surface.polygons.flat());
    picture.low = [0, 1, 2].map((axis) => points.reduce((least, point) => Math.min(least, point[axis]), Infinity));
    picture.high = [0, 1, 2].map((axis) => points.reduce((most, point) => Math.max(most, point[axis]), -Infinity));
    picture.middle = middleOf([picture.low, picture.high]);
    controls.maxDistance = 6 * lengthOf(minus(picture.high, picture.low));
    return picture;
}

/** Whether a part is drawn from this eye. */
function isSeen(picture, part, eye) {
    if (part.of === 'panels' && !picture.hasPanels) return false;
    return isToward(part.face, eye) && (!part.behind || isToward(part.behind, eye));
}

/** Which faces are seen, and the edges of all of them, where either has changed. */
function cutAway(picture) {
    const eye = picture.camera.position.toArray();
    for (const part of picture.parts) part.mesh.visible = isSeen(picture, part, eye);
    const seen =
        picture.parts.map((part) => Number(part.mesh.visible)).join('') +
        Number(picture.hasPanels) +
        Boolean(picture.map) +
        JSON.stringify(picture.chosen);
    if (seen === picture.drawn) return;
    picture.drawn = seen;
    const bordersOf = (chosen) => picture.parts.filter(chosen).flatMap((part) => part.face.border);
    const isPanel = (part) => part.of === 'panels';
    const thin = bordersOf((part) => part.mesh.visible && !isPanel(part));
    const taken = new Set(thin.map(edgeKey));
    const isShell = (part) => !isPanel(part) && part.kind !== 'block' && part.kind !== 'opening';
    const faint = bordersOf((part) => !part.mesh.visible && isShell(part)).filter((edge) => !taken.has(edgeKey(edge)));
    const isCutOff = (part) => isPanel(part) && picture.hasPanels && part.isFront && part.behind && !isToward(part.behind, eye);
    const cutOff = bordersOf(isCutOff);
    picture.draw.thin(thin);
    picture.draw.thick(bordersOf((part) => part.mesh.visible && isPanel(part)));
    picture.draw.faint([...new Map(faint.map((edge) => [edgeKey(edge), edge])).values()]);
    picture.draw.away(cutOff);
    // Ink does not show on the dark end of a map.
    picture.draw.around(picture.map ? [...thin, ...cutOff] : []);
    picture.draw.chosen(bordersOf((part) => isChosenPart(picture, part)));
}

function isChosenPart({ chosen }, part) {
    if (!chosen || chosen.of !== part.of || chosen.index !== part.index) return false;
    return part.of === 'panels' ? part.mesh.visible || part.isFront : true;
}

/** Lays a map on the surfaces, or takes it off. */
function layMap(picture, map) {
    picture.map = map;
    for (const part of picture.parts.filter((one) => one.of === 'surfaces')) {
        const { mesh, face, index, kind, blank } = part;
        const { material, geometry } = mesh;
        const field = map?.fields.find((one) => one.surface === index);
        if (material.map !== blank) material.map.dispose();
        const tone = toneOf(kind, face.normal);
        material.map = field ? fieldTexture(map, field, channels(`#${tone.getHexString()}`)) : blank;
        material.color.copy(field ? new THREE.Color('#ffffff') : tone);
        if (!field) continue;
        const [right, up] = [field.right.map((way) => way * field.columns), field.up.map((way) => way * field.rows)];
        geometry.setAttribute('uv', new THREE.Float32BufferAttribute(placesOn(face.triangles, field.origin, right, up), 2));
    }
}

/** The eight corners of a box. */
const cornersOf = (low, high) =>
    [0, 1, 2, 3, 4, 5, 6, 7].map((number) => [0, 1, 2].map((axis) => ((number >> axis) & 1 ? high : low)[axis]));

/** Puts the eye so that the whole room is in the picture, looking along `-toward`. */
function lookFrom(picture, toward) {
    const { camera, controls, low, high, middle } = picture;
    camera.fov = OUTSIDE;
    camera.updateProjectionMatrix();
    const steep = Math.min(Math.max(unit(toward)[2], -0.9999), 0.9999);
    const level = Math.sqrt(1 - steep * steep);
    const around = Math.hypot(toward[0], toward[1]) > 1e-6 ? Math.atan2(toward[1], toward[0]) : -Math.PI / 2;
    const back = [level * Math.cos(around), level * Math.sin(around), steep];
    const right = unit(cross([0, 0, 1], back));
    const up = cross(back, right);
    const tall = Math.tan((OUTSIDE * Math.PI) / 360) * FILLED;
    const wide = tall * camera.aspect;
    let [center, away] = [middle, 0];
    // What is nearer looks larger, so the middle of the room is not that of its picture: three rounds bring them together to a pixel.
    for (let round = 0; round < 3; round++) {
        const corners = cornersOf(low, high).map((corner) => minus(corner, center));
        const least = (corner) => Math.max(Math.abs(dot(corner, right)) / wide, Math.abs(dot(corner, up)) / tall);
        away = Math.max(...corners.map((corner) => dot(corner, back) + least(corner)));
        const halfway = (way) => {
            const shares = corners.map((corner) => dot(corner, way) / (away - dot(corner, back)));
            return ((Math.max(...shares) + Math.min(...shares)) / 2) * away;
        };
        center = plus(plus(center, right, halfway(right)), up, halfway(up));
    }
    controls.minDistance = 0.3;
    controls.target.fromArray(center);
    camera.position.fromArray(plus(center, back, away));
    controls.update();
}

/** Puts the eye where a head is. */
function lookAsSeated(picture, receiver) {
    const { camera, controls } = picture;
    const wide = Math.tan((INSIDE.wide * Math.PI) / 360) / camera.aspect;
    camera.fov = Math.min(INSIDE.tall, (Math.atan(wide) * 360) / Math.PI);
    camera.updateProjectionMatrix();
    controls.minDistance = 0.01;
    camera.position.fromArray(receiver.position);
    controls.target.fromArray(plus(receiver.position, unit(receiver.facing), 0.1));
    controls.update();
}

/** Turns about the point looked at: degrees round, counterclockwise from above, and degrees up. */
function turn(picture, round, rise) {
    const { camera, controls } = picture;
    const from = minus(camera.position.toArray(), controls.target.toArray());
    const away = lengthOf(from);
    const around = Math.atan2(from[1], from[0]) + (round * Math.PI) / 180;
    const high = Math.asin(Math.min(Math.max(from[2] / away, -1), 1)) + (rise * Math.PI) / 180;
    const limit = Math.PI / 2 - 0.01;
    const steep = Math.min(Math.max(high, -limit), limit);
    const back = [Math.cos(steep) * Math.cos(around), Math.cos(steep) * Math.sin(around), Math.sin(steep)];
    camera.position.fromArray(plus(controls.target.toArray(), back, away));
    controls.update();
}

/** Brings the eye so many times as far away. */
function step(picture, times) {
    const { camera, controls } = picture;
    const from = minus(camera.position.toArray(), controls.target.toArray());
    const away = Math.min(Math.max(lengthOf(from) * times, controls.minDistance), controls.maxDistance);
    camera.position.fromArray(plus(controls.target.toArray(), unit(from), away));
    controls.update();
}

/** What lies under a point of the picture (-1 to 1 to the right and up): a part and where. */
function partUnder(picture, x, y) {
    const ray = new THREE.Raycaster();
    ray.setFromCamera(new THREE.Vector2(x, y), picture.camera);
    const meshes = new Map(picture.parts.filter((part) => part.mesh.visible).map((part) => [part.mesh, part]));
    const hits = ray.intersectObjects([...meshes.keys()], false);
    if (!hits.length) return null;
    // Of faces in one plane the one that is drawn last is meant.
    const level = (hit) => LAYER[meshes.get(hit.object).kind] ?? LAYER.wall;
    const [hit] = hits.filter((one) => one.distance < hits[0].distance + JOINT).sort((one, other) => level(one) - level(other));
    return { ...meshes.get(hit.object), point: hit.point.toArray() };
}

function drawPicture(picture) {
    cutAway(picture);
    picture.renderer.render(picture.scene, picture.camera);
}
