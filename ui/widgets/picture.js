// Shows a photo and lets a person mark points on it. Points are in pixels of the
// original upright photo; the origin is the centre of its top-left pixel, so its left
// edge lies at -0.5. The view is one scale (display px per photo px) and one offset.

const BLUE = "#0072B2";
const WHITE = "#ffffff";
const MOST_ZOOM = 12;
const STEP = 1.5;
const MARGIN = 12; // around the photo: its corners are marked from either side
const FINGER = { reach: 22, slop: 8 };
const MOUSE = { reach: 12, slop: 3 };
const LOUPE_RADIUS = 58;
const LOUPE_ZOOM = 3;
const KEY_STEP = 10;
const MOST_NUMBERED = 8;
const STROKE_STEP = 3; // display px between points of a stroke
const UNDO_DEPTH = 50;
// Of the window's height: on a phone, words and buttons need their room beside it.
const PHONE_PX = 640;
const TALLEST = { desk: 0.7, phone: 0.5 };
// How spots are drawn, by style: dashes and gaps in display px.
const DASHES = { counted: [], out: [3, 4], added: [9, 3] };
const CHOSEN_ZOOM = 4;
const ARROWS = {
  ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
};

const pictures = new WeakMap(); // by mounting root: a rerun calls in again
const lastViews = new Map(); // by key: the view survives a new mount

const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
const tool = (event) => (event.pointerType === "mouse" ? MOUSE : FINGER);

export default function (component) {
  const { data, parentElement, setStateValue } = component;
  let picture = pictures.get(parentElement);
  if (!picture || !picture.canvas.isConnected) {
    picture = mount(parentElement);
    pictures.set(parentElement, picture);
  }
  picture.send = setStateValue;
  picture.tap = component.setTriggerValue;
  take(picture, data);
  return () => {
    picture.watcher.disconnect();
    pictures.delete(parentElement);
  };
}

function mount(root) {
  const canvas = root.querySelector("canvas");
  const picture = {
    frame: root.querySelector(".picture"),
    said: root.querySelector(".said"),
    buttons: [...root.querySelectorAll("button")],
    canvas,
    pen: canvas.getContext("2d"),
    image: new Image(),
    data: null,
    points: [],
    past: [],
    view: null, // {zoom, x, y}: zoom over fit; photo point at the canvas centre
    pointers: new Map(),
    gesture: null,
    cursor: null, // the keyboard's crosshair, a photo point
    pending: 0,
  };
  picture.image.onload = () => redraw(picture);
  picture.watcher = new ResizeObserver(() => layOut(picture));
  picture.watcher.observe(picture.frame);
  listen(picture);
  return picture;
}

function take(picture, data) {
  const before = picture.data;
  picture.data = data;
  if (!before || before.image !== data.image) {
    picture.image.src = data.image;
    const last = lastViews.get(data.key);
    picture.view = last?.image === data.image ? last.view : fitted(data);
    picture.cursor = null;
  }
  // Within one version the person's hand is ahead of the server: a late answer must
  // not take a point away.
  if (!before || before.version !== data.version) {
    picture.points = data.points.map((point, at) => (
      data.zooms?.[at] ? [...point, data.zooms[at]] : point
    ));
    picture.past = [];
    picture.gesture = null;
    picture.focus = data.focus;
  }
  picture.outlines = new Path2D();
  for (const line of data.lines) trace(picture.outlines, line, true);
  picture.spots = Object.fromEntries(
    Object.keys(DASHES).map((style) => [style, new Path2D()]),
  );
  for (const spot of data.spots) trace(picture.spots[spot.style], spot.line, true);
  picture.frame.classList.toggle("view", data.mode === "view");
  picture.frame.classList.toggle("pick", data.mode === "pick");
  picture.canvas.setAttribute("aria-label", data.label);
  layOut(picture);
  tell(picture);
}

const fitted = (data) => (
  { zoom: 1, x: (data.width - 1) / 2, y: (data.height - 1) / 2 }
);

// Geometry ---------------------------------------------------------------------------

function layOut(picture) {
  const { canvas, data } = picture;
  const width = canvas.clientWidth;
  if (!data || !width) return;
  const part = window.innerWidth <= PHONE_PX ? TALLEST.phone : TALLEST.desk;
  const tallest = Math.min(data.tallest, part * window.innerHeight);
  const whole = (width - 2 * MARGIN) * data.height / data.width + 2 * MARGIN;
  const height = clamp(whole, Math.min(160, tallest), tallest);
  canvas.style.height = `${Math.round(height)}px`;
  if (picture.focus) focusOn(picture, picture.focus);
  picture.focus = null;
  hold(picture);
}

// Show a place close up: `across` photo px take a third of the canvas.
function focusOn(picture, { x, y, across }) {
  const { canvas, view } = picture;
  Object.assign(view, { zoom: 1, x, y });
  const wanted = Math.min(canvas.clientWidth, canvas.clientHeight) / (3 * across);
  view.zoom = clamp(wanted / scale(picture), 1, MOST_ZOOM);
}

function scale({ canvas, data, view: { zoom } }) {
  const width = canvas.clientWidth - 2 * MARGIN;
  const height = canvas.clientHeight - 2 * MARGIN;
  return zoom * Math.min(width / data.width, height / data.height);
}

function toDisplay(picture, [x, y]) {
  const { canvas, view } = picture;
  const s = scale(picture);
  return [
    (x - view.x) * s + canvas.clientWidth / 2,
    (y - view.y) * s + canvas.clientHeight / 2,
  ];
}

function toPhoto(picture, [x, y]) {
  const { canvas, view } = picture;
  const s = scale(picture);
  return [
    (x - canvas.clientWidth / 2) / s + view.x,
    (y - canvas.clientHeight / 2) / s + view.y,
  ];
}

function inside({ data }, [x, y]) {
  return [clamp(x, -0.5, data.width - 0.5), clamp(y, -0.5, data.height - 0.5)];
}

function within({ canvas }, event) {
  // The browser paints a canvas at whole device px, wherever its box begins.
  const ratio = window.devicePixelRatio || 1;
  const painted = (edge) => Math.round(edge * ratio) / ratio;
  const box = canvas.getBoundingClientRect();
  return [event.clientX - painted(box.left), event.clientY - painted(box.top)];
}

// Keep the photo over the canvas: centred where it is smaller, else by its margin.
function hold(picture) {
  const { canvas, data, view } = picture;
  const s = scale(picture);
  const centre = (value, size, shown) => {
    const half = (shown / 2 - MARGIN) / s;
    if (2 * half >= size) return (size - 1) / 2;
    return clamp(value, half - 0.5, size - 0.5 - half);
  };
  view.x = centre(view.x, data.width, canvas.clientWidth);
  view.y = centre(view.y, data.height, canvas.clientHeight);
  // One finger scrolls the page while the whole photo is shown, and pans once closer.
  const own = view.zoom > 1 || data.mode === "brush";
  canvas.style.touchAction = own ? "none" : "pan-y";
  lastViews.set(data.key, { image: data.image, view });
  enable(picture);
  redraw(picture);
}

function zoomTo(picture, zoom, about) {
  const { canvas, view } = picture;
  const at = about ?? [canvas.clientWidth / 2, canvas.clientHeight / 2];
  const [x, y] = toPhoto(picture, at);
  view.zoom = clamp(zoom, 1, MOST_ZOOM);
  const [nowX, nowY] = toPhoto(picture, at);
  view.x += x - nowX;
  view.y += y - nowY;
  hold(picture);
}

function nearest(picture, at, reach) {
  let [best, distance] = [-1, reach];
  picture.points.forEach((point, index) => {
    const [x, y] = toDisplay(picture, point);
    const away = Math.hypot(x - at[0], y - at[1]);
    if (away <= distance) [best, distance] = [index, away];
  });
  return best;
}

// Marking ----------------------------------------------------------------------------

const marks = ({ data }) => data.mode !== "view" && data.mode !== "pick";
const full = ({ data, points }) => data.most !== null && points.length >= data.most;

function change(picture, points, past = [...picture.past, picture.points]) {
  picture.points = points.map((point) => point.map((px) => Math.round(px * 1e3) / 1e3));
  picture.past = past.slice(-UNDO_DEPTH);
  // A point's third number: display px per photo px where and when it was marked.
  picture.send("marks", {
    version: picture.data.version,
    points: picture.points.map(([x, y]) => [x, y]),
    zooms: picture.points.map(([, , zoom]) => zoom ?? null),
  });
  tell(picture);
  enable(picture);
  redraw(picture);
}

// A tap on spots is the server's to understand: it says where, and how far off it
// may have been meant.
function pick(picture, [x, y]) {
  picture.tap("tap", { x, y, reach: FINGER.reach / scale(picture), spot: null });
}

const middleOf = ({ line }) => [0, 1].map((axis) => (
  line.reduce((sum, point) => sum + point[axis], 0) / line.length
));

// By keys, spots are gone through one after the other.
function pickNext(picture, step) {
  const { data, view } = picture;
  const count = data.spots.length;
  if (data.mode !== "pick" || !count) return;
  const chosen = data.spots.findIndex((spot) => spot.chosen);
  const at = chosen < 0 && step < 0 ? 0 : chosen;
  const spot = data.spots[(at + step + count) % count];
  const [x, y] = middleOf(spot);
  Object.assign(view, { zoom: Math.max(view.zoom, CHOSEN_ZOOM), x, y });
  hold(picture);
  picture.tap("tap", { x: view.x, y: view.y, reach: 0, spot: spot.number });
}

function place(picture, point) {
  if (picture.data.mode === "pick") pick(picture, inside(picture, point));
  if (!marks(picture) || full(picture)) return;
  const [x, y] = inside(picture, point);
  const slack = FINGER.reach / scale(picture);
  // Just beside the photo means its edge: corners are hard to hit from within.
  if (Math.hypot(x - point[0], y - point[1]) <= slack) {
    change(picture, [...picture.points, [x, y, scale(picture)]]);
  }
}

function removeLast(picture) {
  if (marks(picture) && picture.points.length) change(picture, picture.points.slice(0, -1));
}

const ACTIONS = {
  closer: (picture) => zoomTo(picture, picture.view.zoom * STEP),
  farther: (picture) => zoomTo(picture, picture.view.zoom / STEP),
  fit: (picture) => zoomTo(picture, 1),
  undo: (picture) => {
    if (!picture.past.length) removeLast(picture);
    else change(picture, picture.past.at(-1), picture.past.slice(0, -1));
  },
  clear: (picture) => picture.points.length && change(picture, []),
};

function enable(picture) {
  const { points, past, view } = picture;
  const idle = {
    closer: view.zoom >= MOST_ZOOM,
    farther: view.zoom <= 1,
    fit: view.zoom <= 1,
    undo: !past.length && !points.length,
    clear: !points.length,
  };
  // Not `disabled`, which would drop the keyboard's focus.
  for (const button of picture.buttons) button.ariaDisabled = idle[button.dataset.do];
}

function tell(picture) {
  const { points, data } = picture;
  const count = points.length === 1 ? "1 point" : `${points.length} points`;
  let how = "Tap to mark, drag a point to move it, pinch to zoom.";
  if (data.mode === "brush") {
    picture.said.textContent = "Drag to paint; two fingers or + to zoom.";
    return;
  }
  if (full(picture)) how = "Drag a point to move it.";
  if (data.mode === "pick") {
    picture.said.textContent = data.hint;
    return;
  }
  picture.said.textContent = marks(picture)
    ? `${count}${data.most === null ? "" : ` of ${data.most}`}. ${how}`
    : "Pinch, wheel or + to zoom.";
}

// Hands ------------------------------------------------------------------------------

function listen(picture) {
  const { canvas } = picture;
  canvas.addEventListener("pointerdown", (event) => press(picture, event));
  canvas.addEventListener("pointermove", (event) => drag(picture, event));
  canvas.addEventListener("pointerup", (event) => lift(picture, event));
  canvas.addEventListener("pointercancel", (event) => lift(picture, event, true));
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("keydown", (event) => type(picture, event));
  canvas.addEventListener("blur", () => {
    picture.cursor = null;
    redraw(picture);
  });
  canvas.addEventListener("wheel", (event) => {
    // At fit, rolling back scrolls the page as anywhere else.
    if (picture.view.zoom <= 1 && event.deltaY >= 0) return;
    event.preventDefault();
    const lines = event.deltaMode === WheelEvent.DOM_DELTA_PIXEL ? 1 : 30;
    const factor = Math.exp(-clamp(event.deltaY * lines, -240, 240) / 300);
    zoomTo(picture, picture.view.zoom * factor, within(picture, event));
  }, { passive: false });
  canvas.addEventListener("touchstart", (event) => {
    // A finger on a point, or a second one, is for the photo and not for the page.
    const at = within(picture, event.touches[0]);
    const grabs = picture.data.mode === "brush" || marks(picture) && nearest(picture, at, FINGER.reach) >= 0;
    if (grabs || event.touches.length > 1) event.preventDefault();
  }, { passive: false });
  for (const button of picture.buttons) {
    button.addEventListener("click", () => ACTIONS[button.dataset.do](picture));
  }
}

// One finger paints; its path is marked as a line of points.
function paint(picture, at) {
  const { gesture } = picture;
  const last = gesture.path.at(-1);
  if (last && Math.hypot(at[0] - last[0], at[1] - last[1]) < STROKE_STEP) return;
  gesture.path.push(at);
  picture.points = gesture.path.map((one) => inside(picture, toPhoto(picture, one)));
  redraw(picture);
}

function press(picture, event) {
  if (event.button !== 0) return;
  const at = within(picture, event);
  picture.canvas.setPointerCapture(event.pointerId);
  picture.pointers.set(event.pointerId, at);
  picture.cursor = null;
  if (picture.pointers.size > 1) {
    letGo(picture);
    picture.gesture = { kind: "pinch" };
    return;
  }
  if (picture.data.mode === "brush") {
    picture.gesture = { kind: "paint", before: picture.points, path: [at] };
    return;
  }
  const index = marks(picture) ? nearest(picture, at, tool(event).reach) : -1;
  picture.gesture = { kind: index < 0 ? "pan" : "move", index, from: at, last: at };
  if (index >= 0) {
    const [x, y] = toDisplay(picture, picture.points[index]);
    Object.assign(picture.gesture, {
      before: picture.points, grip: [x - at[0], y - at[1]],
    });
  }
}

function drag(picture, event) {
  const { gesture, pointers, view } = picture;
  if (!gesture || !pointers.has(event.pointerId)) return;
  const at = within(picture, event);
  const before = [...pointers.values()];
  pointers.set(event.pointerId, at);
  if (gesture.kind === "pinch") {
    if (pointers.size === 2) pinch(picture, before, [...pointers.values()]);
    return;
  }
  if (gesture.kind === "paint") {
    paint(picture, at);
    return;
  }
  const { from, last } = gesture;
  gesture.moved ||= Math.hypot(at[0] - from[0], at[1] - from[1]) > tool(event).slop;
  if (!gesture.moved) return;
  gesture.last = at;
  if (gesture.kind === "pan") {
    view.x -= (at[0] - last[0]) / scale(picture);
    view.y -= (at[1] - last[1]) / scale(picture);
    hold(picture);
    return;
  }
  const [gripX, gripY] = gesture.grip;
  const point = toPhoto(picture, [at[0] + gripX, at[1] + gripY]);
  picture.points = gesture.before.slice();
  picture.points[gesture.index] = [...inside(picture, point), scale(picture)];
  redraw(picture);
}

function pinch(picture, before, now) {
  const span = ([a, b]) => Math.max(Math.hypot(a[0] - b[0], a[1] - b[1]), 1);
  const middle = ([a, b]) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const [wasX, wasY] = middle(before);
  const [isX, isY] = middle(now);
  picture.view.x -= (isX - wasX) / scale(picture);
  picture.view.y -= (isY - wasY) / scale(picture);
  zoomTo(picture, picture.view.zoom * span(now) / span(before), [isX, isY]);
}

function lift(picture, event, cancelled = false) {
  const { gesture, pointers } = picture;
  if (!pointers.delete(event.pointerId) || !gesture) return;
  if (gesture.kind === "pinch") {
    // The finger that stays must not start to mark or to pan.
    if (!pointers.size) picture.gesture = null;
    return;
  }
  if (cancelled) {
    letGo(picture);
    return;
  }
  picture.gesture = null;
  if (gesture.kind === "paint") {
    const path = gesture.path.map((one) => inside(picture, toPhoto(picture, one)));
    change(picture, path, [...picture.past, gesture.before]);
  } else if (gesture.kind === "move" && gesture.moved) {
    change(picture, picture.points, [...picture.past, gesture.before]);
  } else if (gesture.kind === "pan" && !gesture.moved) {
    place(picture, toPhoto(picture, within(picture, event)));
  }
}

function letGo(picture) {
  if (picture.gesture?.before) picture.points = picture.gesture.before;
  picture.gesture = null;
  redraw(picture);
}

function type(picture, event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const keys = {
    "Enter": () => picture.cursor && place(picture, picture.cursor),
    "Backspace": () => removeLast(picture),
    "+": () => zoomTo(picture, picture.view.zoom * STEP, cursorAt(picture)),
    "=": () => zoomTo(picture, picture.view.zoom * STEP, cursorAt(picture)),
    "-": () => zoomTo(picture, picture.view.zoom / STEP, cursorAt(picture)),
    "0": () => zoomTo(picture, 1),
    "n": () => pickNext(picture, 1),
    "p": () => pickNext(picture, -1),
  };
  if (event.key in ARROWS) {
    const step = event.shiftKey ? 1 : KEY_STEP;
    moveCursor(picture, ARROWS[event.key].map((way) => way * step));
  } else if (event.key in keys) {
    keys[event.key]();
  } else {
    return;
  }
  event.preventDefault();
}

const cursorAt = (picture) => picture.cursor && toDisplay(picture, picture.cursor);

function moveCursor(picture, [right, down]) {
  const { canvas, view } = picture;
  picture.cursor ??= inside(picture, [view.x, view.y]);
  const [x, y] = cursorAt(picture);
  picture.cursor = inside(picture, toPhoto(picture, [x + right, y + down]));
  // The view follows a cursor that leaves it.
  const [nowX, nowY] = cursorAt(picture);
  view.x += (nowX - clamp(nowX, 0, canvas.clientWidth)) / scale(picture);
  view.y += (nowY - clamp(nowY, 0, canvas.clientHeight)) / scale(picture);
  hold(picture);
}

// Drawing ----------------------------------------------------------------------------

function redraw(picture) {
  picture.pending ||= requestAnimationFrame(() => {
    picture.pending = 0;
    draw(picture);
  });
}

function draw(picture) {
  const { canvas, pen, points, gesture, cursor } = picture;
  const ratio = window.devicePixelRatio || 1;
  const { clientWidth: width, clientHeight: height } = canvas;
  if (!width || !picture.data) return;
  const [across, down] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (canvas.width !== across || canvas.height !== down) {
    [canvas.width, canvas.height] = [across, down];
  }
  pen.setTransform(across / width, 0, 0, down / height, 0, 0);
  pen.clearRect(0, 0, width, height);
  const shown = points.map((point) => toDisplay(picture, point));
  drawPhoto(picture, toDisplay(picture, [0, 0]), scale(picture), shown);
  for (const spot of picture.data.spots) if (spot.chosen) drawRing(picture, spot);
  if (picture.data.mode === "brush") drawStroke(picture, shown);
  else shown.forEach((at, index) => drawPoint(picture, at, index + 1));
  if (cursor) drawCross(pen, toDisplay(picture, cursor), 16, 3);
  if (gesture?.kind === "move" && gesture.moved) drawLoupe(picture, shown);
}

function drawPhoto({ pen, image, data, outlines, spots }, [left, top], s, shown) {
  if (image.complete && image.naturalWidth) {
    pen.imageSmoothingQuality = "high";
    pen.drawImage(image, left - s / 2, top - s / 2, data.width * s, data.height * s);
  }
  pen.save();
  pen.transform(s, 0, 0, s, left, top);
  stroke(pen, outlines, 1 / s);
  for (const [style, dash] of Object.entries(DASHES)) {
    pen.setLineDash(dash.map((px) => px / s));
    stroke(pen, spots[style], 0.75 / s);
  }
  pen.restore();
  if (data.mode === "polygon" || data.mode === "line") {
    const path = new Path2D();
    trace(path, shown, data.mode === "polygon");
    stroke(pen, path, 1);
  }
}

function trace(path, line, closed) {
  line.forEach(([x, y], index) => (index ? path.lineTo(x, y) : path.moveTo(x, y)));
  if (closed && line.length > 2) path.closePath();
}

function stroke(pen, path, px) {
  pen.lineJoin = "round";
  for (const [colour, width] of [[WHITE, 4], [BLUE, 2]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width * px;
    pen.stroke(path);
  }
}

// The path as wide as the brush, so that what lies under it shows through.
function drawStroke(picture, shown) {
  const { pen, data } = picture;
  if (!shown.length) return;
  const path = new Path2D();
  trace(path, [shown[0], ...shown], false);
  pen.save();
  pen.globalAlpha = 0.45;
  pen.strokeStyle = BLUE;
  pen.lineWidth = Math.max(2, data.brush * scale(picture));
  pen.lineCap = pen.lineJoin = "round";
  pen.stroke(path);
  pen.restore();
}

function drawPoint({ canvas, pen, points }, [x, y], number) {
  const ring = new Path2D();
  ring.arc(x, y, 9, 0, 2 * Math.PI);
  ring.moveTo(x + 1, y);
  ring.arc(x, y, 1, 0, 2 * Math.PI);
  stroke(pen, ring, 1);
  // Many points are pulled, not told apart: their numbers would hide the void.
  if (points.length > MOST_NUMBERED) return;
  const right = x + 30 < canvas.clientWidth ? 1 : -1;
  const below = y - 30 < 0 ? 1 : -1;
  const label = new Path2D();
  label.arc(x + 18 * right, y + 18 * below, 11, 0, 2 * Math.PI);
  pen.fillStyle = BLUE;
  pen.fill(label);
  pen.strokeStyle = WHITE;
  pen.lineWidth = 1.5;
  pen.stroke(label);
  pen.fillStyle = WHITE;
  pen.font = "bold 13px sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillText(String(number), x + 18 * right, y + 18 * below + 0.5);
}

// Around a chosen spot, off its outline, so that the spot itself stays to be seen.
function drawRing(picture, spot) {
  const [x, y] = toDisplay(picture, middleOf(spot));
  const away = spot.line.map((point) => {
    const [px, py] = toDisplay(picture, point);
    return Math.hypot(px - x, py - y);
  });
  const ring = new Path2D();
  ring.arc(x, y, Math.max(...away) + 9, 0, 2 * Math.PI);
  stroke(picture.pen, ring, 1.25);
}

function drawCross(pen, [x, y], arm, gap) {
  const cross = new Path2D();
  for (const [right, down] of Object.values(ARROWS)) {
    cross.moveTo(x + gap * right, y + gap * down);
    cross.lineTo(x + arm * right, y + arm * down);
  }
  stroke(pen, cross, 1);
}

// The finger hides what it moves, so it is shown larger in the corner away from it.
function drawLoupe(picture, shown) {
  const { canvas, pen, gesture } = picture;
  const [x, y] = shown[gesture.index];
  const edge = LOUPE_RADIUS + 6;
  const middle = [x > canvas.clientWidth / 2 ? edge : canvas.clientWidth - edge, edge];
  const circle = new Path2D();
  circle.arc(...middle, LOUPE_RADIUS, 0, 2 * Math.PI);
  pen.save();
  pen.clip(circle);
  pen.fillStyle = "#808080";
  pen.fill(circle);
  const larger = ([px, py]) => [
    middle[0] + LOUPE_ZOOM * (px - x), middle[1] + LOUPE_ZOOM * (py - y),
  ];
  const origin = larger(toDisplay(picture, [0, 0]));
  drawPhoto(picture, origin, LOUPE_ZOOM * scale(picture), shown.map(larger));
  drawCross(pen, middle, LOUPE_RADIUS, 10);
  pen.restore();
  stroke(pen, circle, 1.5);
}
