// The picture of the room on a report's page, to be turned: what it holds, what a reader can choose, and what it says when asked.
//
// It stands in the place of a still picture that the page has anyway: without script or WebGL that one stays, and a line says so. The room
// comes as JSON in the page (data.md); every text and number in it is the program's own, and nothing is computed here but where it is seen.
// These files stand one after another in one module of the page: solid.js, picture.js, overlay.js, room_view.js.
//
// Limits: one such picture on a page. Needs WebGL 2 and a browser of 2020 or later.

const ALL = ''; // loudspeakers
const MINUS = '\u2212';
const HELP =
    'Drag, or use the arrow keys, to turn; two fingers, + and \u2212, or a wheel after a click, to come nearer; 0 to go back. ' +
    'Lines: solid with one reflection, dashed with two, dotted with more; the wider, the louder. ' +
    'White squares: panels in hanging order. Black circles: reflections, the first of them as numbered in the picture from above.';
const NOTHING = 'Nothing is chosen: click a panel, a surface or a reflection to read what it is.';
const TURN = 7.5; // degrees a key press
const STEP = 0.88; // of the distance
const SLACK = 6; // pixels that a click may move

const element = (tag, attributes = {}, ...inner) => {
    const made = document.createElement(tag);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...inner);
    return made;
};
const signed = (value, digits) => value.toFixed(digits).replace('-', MINUS);

/** A labeled list to choose from. `groups` are headings with their choices, a choice a value and its words. */
function chooser(label, groups, onChoose) {
    const select = element('select');
    fill(select, groups);
    select.addEventListener('change', () => onChoose(select.value));
    return { select, box: element('label', { class: 'choice' }, element('span', {}, label), select) };
}

function fill(select, groups) {
    const options = (choices) => choices.map(([value, words]) => element('option', { value }, words));
    select.replaceChildren(
        ...groups.flatMap(({ heading, choices }) =>
            heading ? [element('optgroup', { label: heading }, ...options(choices))] : options(choices),
        ),
    );
}

function ticker(label, isOn, onChange) {
    const box = element('input', { type: 'checkbox' });
    box.checked = isOn;
    box.addEventListener('change', () => onChange(box.checked));
    return element('label', { class: 'tick' }, box, element('span', {}, label));
}

function button(label, words, onPress) {
    const made = element('button', { type: 'button', 'aria-label': words }, label);
    made.addEventListener('click', onPress);
    return made;
}

/** What the line says of a thing that was clicked, and of the map at that point. */
function told(room, thing, map) {
    const one = room[thing.of][thing.index];
    const parts = {
        surfaces: () => [one.name, `${one.kind}${one.material ? ` of ${one.material}` : ''}`, one.size],
        panels: () => [one.label, one.size, one.earns],
        paths: () => [
            `Reflection ${one.number}`,
            `${one.source} to ${one.receiver}, ${one.text}`,
            `${signed(one.level_db, 1)} dB re the direct sound, ${signed(one.delay_ms, 1)} ms after it`,
        ],
        sources: () => [one.name, 'loudspeaker', one.text],
        receivers: () => [one.name, 'seat', one.text],
    };
    const [name, ...rest] = parts[thing.of]().filter(Boolean);
    const value = thing.of === 'surfaces' && thing.point ? valueAt(map, thing.index, thing.point) : null;
    if (value != null) rest.push(`${map.title} here: ${String(value).replace('-', MINUS)} ${map.unit}`);
    return { name, rest: rest.join('; ') };
}

/** The colors of a map with their values and unit. */
function scaleOf(map) {
    const colors = map.colors.join(', ');
    const bar = element('span', { class: 'bar', style: `background: linear-gradient(to right, ${colors})` });
    const marks = element('span', { class: 'marks' }, ...map.marks.map((mark) => element('span', {}, mark.replace('-', MINUS))));
    return [element('span', { class: 'title' }, `${map.title}, ${map.unit}`), bar, marks];
}

/** Everything that can be listed, as choices. */
function listing(room) {
    const choices = (of, words) => room[of].map((one, index) => [`${of} ${index}`, words(one)]);
    return [
        { choices: [['', 'nothing']] },
        { heading: 'Panels', choices: choices('panels', (one) => one.label) },
        { heading: 'Reflections', choices: choices('paths', (one) => `${one.number}: ${one.source}, ${one.text}`) },
        {
            heading: 'Loudspeakers and seats',
            choices: [...choices('sources', (one) => one.name), ...choices('receivers', (one) => one.name)],
        },
        { heading: 'Surfaces', choices: choices('surfaces', (one) => one.name) },
    ].filter((group) => group.choices.length);
}

/** From behind the first seat and to one side, looking down: the loudspeakers lie beyond it. */
function cornerWay(room) {
    const facing = room.receivers[0]?.facing ?? [0, 1, 0];
    const around = Math.atan2(-facing[1], -facing[0]) + 0.62;
    return [Math.cos(around), Math.sin(around), 0.62];
}

class RoomView {
    constructor(room, figure) {
        this.room = room;
        this.figure = figure;
        this.by = ALL;
        this.title = room.maps[0]?.title ?? '';
        this.shown = { panels: true, names: true, reflections: true, paths: [] };
        this.targets = { paths: [], names: [] };
        this.asked = false;
        this.build();
        this.picture = makePicture(room, this.canvas, this.stage, () => this.ask());
        this.names = [];
    }

    build() {
        this.canvas = element('canvas', { 'aria-hidden': 'true' });
        this.lines = svgOf('svg', { 'aria-hidden': 'true', focusable: 'false' });
        this.nameLayer = element('div', { class: 'names', 'aria-hidden': 'true' });
        this.stage = element('div', {
            class: 'stage',
            tabindex: '0',
            role: 'application',
            'aria-label': `The room ${this.room.name}, to be turned`,
            'aria-describedby': 'room-view-help',
        });
        this.stage.append(this.canvas, this.lines, this.nameLayer);
        // A wheel scrolls the page past the picture until the reader has chosen it.
        const leave = (event) => document.activeElement !== this.stage && event.stopImmediatePropagation();
        this.stage.addEventListener('wheel', leave, { capture: true, passive: true });
        this.scale = element('div', { class: 'scale' });
        this.line = element('p', { class: 'told', 'aria-live': 'polite' });
        const help = element('p', { class: 'help', id: 'room-view-help' }, HELP);
        this.live = element('div', { class: 'live' }, ...this.controls(), this.stage, this.scale, this.line, help);
    }

    controls() {
        const { room } = this;
        const sources = [[ALL, 'all'], ...room.sources.map(({ name }) => [name, name])];
        const by = chooser('Loudspeaker', [{ choices: sources }], (value) => this.chooseSource(value));
        this.mapChoice = chooser('Map', [], (value) => this.chooseMap(value));
        this.thingChoice = chooser('Read about', listing(room), (value) => this.chooseListed(value));
        // What there is none of cannot be chosen.
        by.box.hidden = room.sources.length < 2;
        this.mapChoice.box.hidden = !room.maps.length;
        const things = [
            ['panels', room.panels.length],
            ['reflections', room.paths.length],
            ['names', true],
        ].filter(([, some]) => some);
        const ticks = element(
            'fieldset',
            {},
            element('legend', {}, 'Show'),
            ...things.map(([what]) => ticker(what, true, (isOn) => this.show(what, isOn))),
        );
        const views = element(
            'div',
            { class: 'views', role: 'group', 'aria-label': 'Look at the room' },
            button('Corner', 'Look from the corner behind the seat', () => this.goBack()),
            button('From above', 'Look from above', () => this.look([0, 0, 1])),
            button('From below', 'Look from below, at the ceiling', () => this.look([0, 0, -1])),
            ...room.receivers
                .filter(({ facing }) => facing)
                .map((receiver) =>
                    button(`From ${receiver.name}`, `Look from ${receiver.name}`, () => lookAsSeated(this.picture, receiver)),
                ),
        );
        const near = button('+', 'Nearer', () => step(this.picture, STEP));
        const far = button(MINUS, 'Farther', () => step(this.picture, 1 / STEP));
        views.append(element('span', { class: 'pair' }, near, far));
        const choices = element('div', { class: 'choices' }, by.box, this.mapChoice.box, this.thingChoice.box);
        return [element('div', { class: 'controls' }, choices, ticks), views];
    }

    /** Takes the place of the still picture. */
    start() {
        this.figure.prepend(this.live);
        this.figure.classList.add('is-live');
        this.names = makeNames(this.room, this.nameLayer);
        this.measure();
        this.goBack();
        this.chooseSource(ALL);
        this.tell(null);
        this.listen();
        this.draw();
    }

    listen() {
        new ResizeObserver(() => this.measure()).observe(this.stage);
        this.stage.addEventListener('keydown', (event) => this.key(event));
        this.stage.addEventListener('pointerdown', (event) => this.press(event));
        this.stage.addEventListener('pointerup', (event) => this.release(event));
        this.canvas.addEventListener('webglcontextrestored', () => this.ask());
    }

    measure() {
        const { width, height } = this.stage.getBoundingClientRect();
        if (!(width > 0 && height > 0) || (this.size?.width === width && this.size?.height === height)) return;
        const isFirst = !this.size;
        this.size = { width, height };
        const { renderer, camera } = this.picture;
        renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
        renderer.setSize(width, height, false);
        camera.aspect = width / height;
        camera.updateProjectionMatrix();
        if (!isFirst) this.draw();
    }

    /** Draws before the next frame is shown, however often it is asked until then. */
    ask() {
        if (this.asked) return;
        this.asked = true;
        requestAnimationFrame(() => this.draw());
    }

    draw() {
        this.asked = false;
        drawPicture(this.picture);
        const layers = { lines: this.lines };
        this.targets = drawOverlay(this.picture, this.room, layers, this.names, this.shown, this.size);
        this.figure.dataset.draws = Number(this.figure.dataset.draws ?? 0) + 1;
    }

    look(toward) {
        lookFrom(this.picture, toward);
        this.ask();
    }

    goBack() {
        this.look(cornerWay(this.room));
    }

    chooseSource(by) {
        this.by = by;
        const titles = this.room.maps.filter((map) => this.isBy(map)).map((map) => map.title);
        const choices = [...new Set(titles)].map((title) => [title, title]);
        fill(this.mapChoice.select, [{ choices: [...choices, ['', 'none']] }]);
        this.mapChoice.select.value = titles.includes(this.title) ? this.title : '';
        this.layMap();
        this.choosePaths();
    }

    isBy(map) {
        return (map.by ?? ALL) === this.by;
    }

    chooseMap(title) {
        this.title = title;
        this.layMap();
    }

    layMap() {
        const map = this.room.maps.find((one) => this.isBy(one) && one.title === this.title) ?? null;
        layMap(this.picture, map);
        this.scale.replaceChildren(...(map ? scaleOf(map) : []));
        this.scale.hidden = !map;
        this.ask();
    }

    show(what, isOn) {
        this.shown[what] = isOn;
        this.picture.hasPanels = this.shown.panels;
        this.choosePaths();
    }

    choosePaths() {
        const isShown = (path) => this.shown.reflections && (this.by === ALL || path.source === this.by);
        this.shown.paths = this.room.paths.map((path, index) => (isShown(path) ? index : -1)).filter((index) => index >= 0);
        const { chosen } = this.picture;
        const isGone =
            chosen &&
            ((chosen.of === 'paths' && !this.shown.paths.includes(chosen.index)) || (chosen.of === 'panels' && !this.shown.panels));
        if (isGone) this.tell(null);
        this.ask();
    }

    chooseListed(value) {
        const [of, index] = value.split(' ');
        if (of === 'paths' && !this.shown.paths.includes(Number(index))) this.chooseAllPaths();
        this.tell(of ? { of, index: Number(index) } : null);
    }

    /** A reflection chosen from the list is shown, whatever was chosen before. */
    chooseAllPaths() {
        this.shown.paths = this.room.paths.map((path, index) => index);
    }

    /** Says what a thing is, and marks it. */
    tell(thing) {
        this.picture.chosen = thing && { of: thing.of, index: thing.index };
        this.thingChoice.select.value = thing ? `${thing.of} ${thing.index}` : '';
        if (thing) {
            const { name, rest } = told(this.room, thing, this.picture.map);
            this.line.replaceChildren(element('b', {}, name), rest ? `: ${rest}` : '');
        } else {
            this.line.replaceChildren(NOTHING);
        }
        this.ask();
    }

    key(event) {
        const { picture } = this;
        const acts = {
            ArrowLeft: () => turn(picture, -TURN, 0),
            ArrowRight: () => turn(picture, TURN, 0),
            ArrowUp: () => turn(picture, 0, TURN),
            ArrowDown: () => turn(picture, 0, -TURN),
            '+': () => step(picture, STEP),
            '=': () => step(picture, STEP),
            '-': () => step(picture, 1 / STEP),
            0: () => this.goBack(),
            Home: () => this.goBack(),
            Escape: () => this.tell(null),
        };
        const act = acts[event.key];
        if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
        event.preventDefault();
        act();
    }

    press(event) {
        this.pressed = event.isPrimary ? { x: event.clientX, y: event.clientY } : null;
    }

    release(event) {
        const from = this.pressed;
        this.pressed = null;
        if (!from || event.button > 0 || Math.hypot(event.clientX - from.x, event.clientY - from.y) > SLACK) return;
        const box = this.stage.getBoundingClientRect();
        const [x, y] = [event.clientX - box.left, event.clientY - box.top];
        const over = thingUnder(this.targets, x, y);
        this.tell(over ?? partUnder(this.picture, (2 * x) / box.width - 1, 1 - (2 * y) / box.height));
    }
}

function startRoomView() {
    const figure = document.getElementById('room-view');
    const data = document.getElementById('room');
    if (!figure || !data) return;
    try {
        const view = new RoomView(JSON.parse(data.textContent), figure);
        view.start();
        figure.dataset.drawnAfter = Math.round(performance.now());
    } catch (cause) {
        const why = document.createElement('canvas').getContext('webgl2') ? cause.message : 'this browser has no WebGL';
        figure.classList.remove('is-live');
        figure.querySelector('.live')?.remove();
        figure.append(element('p', { class: 'note' }, `The room cannot be turned here (${why}); the picture above stays as it is.`));
    }
}

startRoomView();
