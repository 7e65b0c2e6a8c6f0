// What lies over the room picture: paths of reflections, loudspeakers and seats, and names, in the sizes of print whatever the distance.
//
// A path is drawn whole, also where a thing of the room stands before it. It reads without color: solid with one reflection, dashed with
// two, dotted with more; the wider the louder; an arrow where it arrives, and its number at its first reflection. Names that would cover
// each other are moved, and left out where no place is free: the list of all things has them.
//
// Limits: names keep clear of each other, not of lines.

const WIDEST = { at: -4, width: 3.4 }; // level in dB re direct, line in pixels
const NARROWEST = { at: -24, width: 1.2 };
const DASHES = ['none', '9 5', '2 5'];
const DROP = '2 4'; // from a loudspeaker or seat down to the floor
const AHEAD = 0.3; // meters that a seat's facing is drawn
const ROOM_FOR_NAMES = 4; // pixels between two of them
const CLEAR = 12; // pixels from the point of a mark to its name
const TOUCH = 9; // pixels from a line that still mean it

const svgOf = (name, attributes) => {
    const element = document.createElementNS('http://www.w3.org/2000/svg', name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
};

/** A point as the eye has it: meters to the right, up, and behind the eye. */
const inSight = (picture, point) => new THREE.Vector3().fromArray(point).applyMatrix4(picture.camera.matrixWorldInverse);

/** Where a point before the eye lies on the stage, in pixels. */
function onStage(picture, sight, stage) {
    const at = sight.clone().applyMatrix4(picture.camera.projectionMatrix);
    return [((at.x + 1) / 2) * stage.width, ((1 - at.y) / 2) * stage.height];
}

/** Both ends of a line on the stage, shortened to what lies before the eye; nothing if all is behind. */
function lineOnStage(picture, from, to, stage) {
    const [a, b] = [inSight(picture, from), inSight(picture, to)];
    if (a.z > -NEAREST && b.z > -NEAREST) return null;
    const cut = (inner, outer) => inner.clone().lerp(outer, (-NEAREST - inner.z) / (outer.z - inner.z));
    const ends = [a.z > -NEAREST ? cut(b, a) : a, b.z > -NEAREST ? cut(a, b) : b];
    return ends.map((end) => onStage(picture, end, stage));
}

/** Where a point lies on the stage; nothing if it is behind the eye or too near. */
function pointOnStage(picture, point, stage) {
    const sight = inSight(picture, point);
    return sight.z < -0.1 ? onStage(picture, sight, stage) : null;
}

function widthOf(path) {
    const share = Math.min(Math.max((path.level_db - NARROWEST.at) / (WIDEST.at - NARROWEST.at), 0), 1);
    return NARROWEST.width + share * (WIDEST.width - NARROWEST.width);
}

/** An arrow head at `tip` that comes from `from`, as corners of a polygon. */
function arrowHead(from, tip, size) {
    const length = Math.hypot(tip[0] - from[0], tip[1] - from[1]);
    if (length < size) return null;
    const [x, y] = [(tip[0] - from[0]) / length, (tip[1] - from[1]) / length];
    const [rearX, rearY] = [tip[0] - size * x, tip[1] - size * y];
    const half = size * 0.42;
    return `${tip[0]},${tip[1]} ${rearX - half * y},${rearY + half * x} ${rearX + half * y},${rearY - half * x}`;
}

/** Draws a path; returns its lines on the stage, to be found under a pointer. */
function drawPath(picture, layer, path, stage, state) {
    const pieces = [];
    for (let index = 1; index < path.points.length; index++) {
        const line = lineOnStage(picture, path.points[index - 1], path.points[index], stage);
        if (line) pieces.push(line);
    }
    if (!pieces.length) return pieces;
    const group = svgOf('g', { class: `path ${state}` });
    const bounces = path.points.length - 2;
    const shape = pieces.map(([a, b]) => `M${a[0]} ${a[1]}L${b[0]} ${b[1]}`).join('');
    const width = widthOf(path);
    group.append(svgOf('path', { class: 'halo', d: shape, 'stroke-width': width + 2.8 }));
    group.append(
        svgOf('path', { d: shape, 'stroke-width': width, 'stroke-dasharray': DASHES[Math.min(Math.max(bounces, 1), DASHES.length) - 1] }),
    );
    const [from, tip] = pieces[pieces.length - 1];
    const head = arrowHead(from, tip, 8 + 2 * width);
    if (head) group.append(svgOf('polygon', { points: head }));
    layer.append(group);
    return pieces;
}

/** A loudspeaker or seat: its mark, and a line down to the floor that tells where it stands. */
function drawMark(picture, layer, thing, kind, stage) {
    const foot = [thing.position[0], thing.position[1], picture.low[2]];
    const drop = lineOnStage(picture, thing.position, foot, stage);
    const at = pointOnStage(picture, thing.position, stage);
    if (!drop || !at) return;
    const [x, y] = at;
    const group = svgOf('g', { class: kind });
    group.append(svgOf('path', { class: 'halo', d: `M${drop[0]}L${drop[1]}` }));
    group.append(svgOf('path', { class: 'drop', d: `M${drop[0]}L${drop[1]}`, 'stroke-dasharray': DROP }));
    group.append(svgOf('ellipse', { class: 'foot', cx: drop[1][0], cy: drop[1][1], rx: 4, ry: 2.2 }));
    if (kind === 'sources') {
        group.append(svgOf('rect', { x: x - 6, y: y - 8, width: 12, height: 16 }));
        group.append(svgOf('circle', { class: 'inner', cx: x, cy: y + 2.5, r: 3.2 }));
    } else {
        const nose = thing.facing && lineOnStage(picture, thing.position, plus(thing.position, unit(thing.facing), AHEAD), stage);
        const head = nose && arrowHead(nose[0], nose[1], 7);
        if (nose) group.append(svgOf('path', { class: 'nose', d: `M${nose[0]}L${nose[1]}` }));
        if (head) group.append(svgOf('polygon', { points: head }));
        group.append(svgOf('circle', { class: 'head', cx: x, cy: y, r: 7 }));
    }
    layer.append(group);
}

/** Puts a name near its point where it covers no other; says whether there was a place. */
function placeName(name, [x, y], taken, stage) {
    const { width, height } = name.size;
    const [left, middle, right] = [x - CLEAR - width, x - width / 2, x + CLEAR];
    const [above, level, below] = [y - CLEAR - height, y - height / 2, y + CLEAR];
    const around = [
        [middle, above],
        [right, level],
        [left, level],
        [middle, below],
        [right, above],
        [left, above],
        [right, below],
        [left, below],
    ];
    const places = name.centered ? [[middle, level], ...around] : around;
    for (const [from, top] of places) {
        const box = { left: from, top, right: from + width, bottom: top + height };
        const inside = box.left > 2 && top > 2 && box.right < stage.width - 2 && box.bottom < stage.height - 2;
        const covers = (one) =>
            box.left < one.right + ROOM_FOR_NAMES &&
            box.right > one.left - ROOM_FOR_NAMES &&
            box.top < one.bottom + ROOM_FOR_NAMES &&
            box.bottom > one.top - ROOM_FOR_NAMES;
        if (!inside || taken.some(covers)) continue;
        taken.push({ ...box, thing: name.thing });
        name.element.style.transform = `translate(${Math.round(from)}px, ${Math.round(top)}px)`;
        return true;
    }
    return false;
}

/** A name that may be put on the stage. */
function nameOf(layer, of, index, text, centered) {
    const element = document.createElement('span');
    element.className = `name ${of}`;
    element.textContent = text;
    layer.append(element);
    return { element, thing: { of, index }, centered };
}

/** All names, those first that must have a place. */
function makeNames(room, layer) {
    const made = [
        ...room.sources.map((source, index) => nameOf(layer, 'sources', index, source.name, false)),
        ...room.receivers.map((receiver, index) => nameOf(layer, 'receivers', index, receiver.name, false)),
        ...room.panels.map((panel, index) => nameOf(layer, 'panels', index, panel.name, true)),
        ...room.paths.map((path, index) => nameOf(layer, 'paths', index, String(path.number), true)),
    ];
    for (const name of made) name.size = { width: name.element.offsetWidth, height: name.element.offsetHeight };
    return made;
}

/** Points that a name may stand at, the best first: none where its thing is not shown. */
function anchorsOf(picture, room, { of, index }, shown) {
    if (of === 'sources' || of === 'receivers') return [room[of][index].position];
    if (of === 'panels') return shown.panels ? [picture.parts.find((part) => part.of === of && part.index === index).face.middle] : [];
    if (!shown.paths.includes(index)) return [];
    const { points } = room.paths[index];
    const along = [0.5, 0.7, 0.3].flatMap((share) =>
        points.slice(1).map((point, before) => plus(points[before], minus(point, points[before]), share)),
    );
    return [points[1], ...along];
}

/** Draws everything over the picture anew; returns what a pointer can mean there. */
function drawOverlay(picture, room, layers, names, shown, stage) {
    picture.camera.updateMatrixWorld();
    layers.lines.replaceChildren();
    layers.lines.setAttribute('viewBox', `0 0 ${stage.width} ${stage.height}`);
    const chosen = picture.chosen;
    const isChosen = (of, index) => chosen?.of === of && chosen.index === index;
    const paths = [];
    const order = [...shown.paths].sort((one, other) => isChosen('paths', one) - isChosen('paths', other));
    for (const index of order) {
        const state = isChosen('paths', index) ? 'chosen' : chosen?.of === 'paths' ? 'behind' : '';
        paths.push({ index, pieces: drawPath(picture, layers.lines, room.paths[index], stage, state) });
    }
    room.sources.forEach((source) => drawMark(picture, layers.lines, source, 'sources', stage));
    room.receivers.forEach((receiver) => drawMark(picture, layers.lines, receiver, 'receivers', stage));
    const taken = [];
    const first = (name) => isChosen(name.thing.of, name.thing.index);
    for (const name of [...names.filter(first), ...names.filter((one) => !first(one))]) {
        const anchors = shown.names || name.thing.of === 'paths' || first(name) ? anchorsOf(picture, room, name.thing, shown) : [];
        const places = anchors.map((anchor) => pointOnStage(picture, anchor, stage)).filter(Boolean);
        name.element.hidden = !places.some((place) => placeName(name, place, taken, stage));
        name.element.classList.toggle('chosen', first(name));
    }
    return { paths, names: taken };
}

/** How far a point lies from a line, in pixels. */
function awayFrom([a, b], x, y) {
    const [alongX, alongY] = [b[0] - a[0], b[1] - a[1]];
    const squared = alongX * alongX + alongY * alongY;
    const share = squared > 0 ? Math.min(Math.max(((x - a[0]) * alongX + (y - a[1]) * alongY) / squared, 0), 1) : 0;
    return Math.hypot(x - a[0] - share * alongX, y - a[1] - share * alongY);
}

/** The thing of the overlay under a point of the stage. */
function thingUnder(targets, x, y) {
    const name = targets.names.find((box) => x >= box.left - 3 && x <= box.right + 3 && y >= box.top - 3 && y <= box.bottom + 3);
    if (name) return name.thing;
    const near = targets.paths.map(({ index, pieces }) => ({ index, away: Math.min(...pieces.map((piece) => awayFrom(piece, x, y))) }));
    const nearest = near.filter((one) => one.away < TOUCH).sort((one, other) => one.away - other.away)[0];
    return nearest ? { of: 'paths', index: nearest.index } : null;
}
