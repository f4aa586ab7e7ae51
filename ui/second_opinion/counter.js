// Shows one point of a photo after the other, each in the middle of its surroundings;
// one tap says what it is in. Answers go to the server after every tap; within one field
// the person's hand is ahead of it.

const BLUE = "#0072B2";
const WHITE = "#ffffff";
const CLOSER = 2;
const ARM = 22;
const GAP = 7;
const KEYS = { v: "v", e: "e", s: "s" };
const SEND_MS = 250; // taps that follow each other faster go together

const counters = new WeakMap(); // by mounting root: a rerun calls in again
const given = new Map(); // by version: what was tapped survives a new mount

export default function (component) {
  const { data, parentElement, setStateValue } = component;
  let counter = counters.get(parentElement);
  if (!counter || !counter.canvas.isConnected) {
    counter = mount(parentElement);
    counters.set(parentElement, counter);
  }
  counter.send = setStateValue;
  take(counter, data);
  return () => {
    counter.watcher.disconnect();
    counters.delete(parentElement);
  };
}

function mount(root) {
  const canvas = root.querySelector("canvas");
  const counter = {
    canvas,
    pen: canvas.getContext("2d"),
    told: root.querySelector(".told"),
    signs: [...root.querySelectorAll("[data-sign]")],
    undo: root.querySelector("[data-do=undo]"),
    closer: root.querySelector("[data-do=closer]"),
    image: new Image(),
    data: null,
    answers: "",
    near: false,
  };
  counter.image.onload = () => draw(counter);
  counter.watcher = new ResizeObserver(() => draw(counter));
  counter.watcher.observe(canvas);
  for (const button of counter.signs) {
    button.addEventListener("click", () => answer(counter, button.dataset.sign));
  }
  counter.undo.addEventListener("click", () => back(counter));
  counter.closer.addEventListener("click", () => {
    counter.near = !counter.near;
    draw(counter);
  });
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key in KEYS) answer(counter, KEYS[event.key]);
    else if (event.key === "Backspace") back(counter);
    else return;
    event.preventDefault();
  });
  return counter;
}

function take(counter, data) {
  const before = counter.data;
  counter.data = data;
  if (!before || before.image !== data.image) counter.image.src = data.image;
  if (!before || before.version !== data.version) {
    counter.answers = given.get(data.version) ?? data.answers;
  }
  counter.canvas.setAttribute("aria-label", data.label);
  draw(counter);
}

const full = ({ answers, data }) => answers.length >= data.count;

function answer(counter, sign) {
  if (!counter.data || full(counter)) return;
  tell(counter, counter.answers + sign);
}

function back(counter) {
  if (counter.answers.length) tell(counter, counter.answers.slice(0, -1));
}

function tell(counter, answers) {
  counter.answers = answers;
  const { version } = counter.data;
  given.set(version, answers);
  clearTimeout(counter.timer);
  const send = () => counter.send("taps", { version, answers });
  if (full(counter)) send();
  else counter.timer = setTimeout(send, SEND_MS);
  draw(counter);
}

function draw(counter) {
  const { canvas, pen, image, data, answers, near } = counter;
  if (!data || !canvas.clientWidth) return;
  const at = Math.min(answers.length, data.count - 1);
  const ratio = window.devicePixelRatio || 1;
  const { clientWidth: width, clientHeight: height } = canvas;
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, width, height);
  const side = Math.min(width, height);
  const [left, top] = [(width - side) / 2, (height - side) / 2];
  const zoom = near ? CLOSER : 1;
  const shown = data.tile / zoom;
  if (image.complete && image.naturalWidth && !full(counter)) {
    pen.imageSmoothingQuality = "high";
    const from = (place) => place * data.tile + (data.tile - shown) / 2;
    pen.drawImage(
      image, from(at % data.across), from(Math.floor(at / data.across)), shown, shown,
      left, top, side, side,
    );
    cross(pen, left + side / 2, top + side / 2);
    smallest(pen, left + side, top + side, data.smallest * side / shown);
  }
  counter.told.textContent = full(counter)
    ? data.next
    : data.where.replace("%", String(data.before + at + 1));
  for (const button of counter.signs) button.ariaDisabled = full(counter);
  counter.undo.ariaDisabled = !answers.length;
  counter.closer.ariaPressed = near;
  counter.closer.textContent = near ? "Wider" : "Closer";
}

function stroke(pen, path) {
  for (const [colour, width] of [[WHITE, 4], [BLUE, 2]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.stroke(path);
  }
}

// The arms stop short of the point, so that what lies under it is seen.
function cross(pen, x, y) {
  const path = new Path2D();
  for (const [right, down] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
    path.moveTo(x + GAP * right, y + GAP * down);
    path.lineTo(x + ARM * right, y + ARM * down);
  }
  path.moveTo(x + 1, y);
  path.arc(x, y, 1, 0, 2 * Math.PI);
  stroke(pen, path);
}

// In the corner, a ring as large as the smallest void that counts.
function smallest(pen, right, bottom, across) {
  const radius = Math.max(across / 2, 1);
  const path = new Path2D();
  path.arc(right - radius - 8, bottom - radius - 8, radius, 0, 2 * Math.PI);
  stroke(pen, path);
}
