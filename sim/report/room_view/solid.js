// What a list of polygons is as seen: flat faces with a front, the triangles that fill them, and the edges round them.
//
// A face is all of one thing's polygons in one plane. Its front is the side from which its corners run counterclockwise; by the data
// contract that is the side where the air of the room is. The normal of a polygon is Newell's sum, which is right for any outline.
//
// Limits: an outline must not cross itself and has no holes (a wall with a hole comes as several polygons). Two borders meet where their
// corners do to 1 mm; an edge that is shared only in part is drawn.

const JOINT = 0.001; // meters: corners nearer than that are one
const ALIKE = 0.9999; // cosine: normals nearer than that are one

const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const plus = (a, b, share = 1) => [a[0] + share * b[0], a[1] + share * b[1], a[2] + share * b[2]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const lengthOf = (a) => Math.sqrt(dot(a, a));
const unit = (a) => {
    const length = lengthOf(a);
    return length > 0 ? a.map((part) => part / length) : [0, 0, 1];
};
const middleOf = (points) => points.reduce((sum, point) => plus(sum, point, 1 / points.length), [0, 0, 0]);

/** Twice the area of a polygon along its normal. */
function newell(corners) {
    return corners.reduce((sum, corner, index) => plus(sum, cross(corner, corners[(index + 1) % corners.length])), [0, 0, 0]);
}

/** Corners of the triangles that fill a polygon, three by three, each running as the polygon does. */
function trianglesOf(corners, normal) {
    const right = unit(Math.abs(normal[2]) < 0.9 ? cross([0, 0, 1], normal) : cross([0, 1, 0], normal));
    const up = cross(normal, right);
    const flat = corners.map((corner) => new THREE.Vector2(dot(corner, right), dot(corner, up)));
    return THREE.ShapeUtils.triangulateShape(flat, []).flatMap(([a, b, c]) => {
        const along = dot(cross(minus(corners[b], corners[a]), minus(corners[c], corners[a])), normal);
        return along < 0 ? [corners[a], corners[c], corners[b]] : [corners[a], corners[b], corners[c]];
    });
}

/** The same for an edge from either end. */
function edgeKey([a, b]) {
    const [one, other] = [a, b].map((point) => point.map((part) => Math.round(part / JOINT)).join(' '));
    return one < other ? `${one}|${other}` : `${other}|${one}`;
}

/** Edges of polygons of one plane that only one of them has. */
function borderOf(polygons) {
    const edges = new Map();
    for (const corners of polygons) {
        corners.forEach((corner, index) => {
            const edge = [corner, corners[(index + 1) % corners.length]];
            const key = edgeKey(edge);
            edges.set(key, edges.has(key) ? null : edge);
        });
    }
    return [...edges.values()].filter(Boolean);
}

/** The flat faces of a thing: largest first. */
function facesOf(polygons) {
    const faces = [];
    for (const corners of polygons) {
        const twice = newell(corners);
        if (!(lengthOf(twice) > 2 * JOINT * JOINT)) continue;
        const normal = unit(twice);
        const offset = dot(normal, corners[0]);
        let face = faces.find((one) => dot(one.normal, normal) > ALIKE && Math.abs(one.offset - offset) < JOINT);
        if (!face) {
            face = { normal, offset, area: 0, polygons: [] };
            faces.push(face);
        }
        face.area += lengthOf(twice) / 2;
        face.polygons.push(corners);
    }
    for (const face of faces) {
        face.triangles = face.polygons.flatMap((corners) => trianglesOf(corners, face.normal));
        face.border = borderOf(face.polygons);
        face.middle = middleOf(face.polygons.flat());
    }
    return faces.sort((one, other) => other.area - one.area);
}

/** Whether a face turns its front to the eye. */
const isToward = (face, eye) => dot(face.normal, eye) > face.offset;
