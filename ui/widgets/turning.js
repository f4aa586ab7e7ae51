// Goes to the piece before or after by a swipe or an arrow key: it presses the page's
// own buttons, which do the same by finger and by Tab.

const FAR_PX = 70; // a swipe is this long at least, and twice as wide as high
const LONGEST_MS = 700;
// Where a finger or a key has another meaning.
const OTHERS = "input, textarea, select, [contenteditable], [role=application], " +
  "[role=radiogroup], [role=slider], [role=tablist], [role=combobox], " +
  "[data-testid=stDataFrame], [data-testid=stVegaLiteChart]";

const taken = (event) => event.composedPath().some(
  (one) => one instanceof Element &&
    (one.matches(OTHERS) || one.scrollWidth > one.clientWidth + 4 &&
      /auto|scroll/.test(getComputedStyle(one).overflowX)));

const turn = (way) =>
  document.querySelector(`.st-key-turn-${way} button:not([disabled])`)?.click();

export default function (component) {
  let from = null;
  const start = (event) => {
    const [touch] = event.touches;
    from = event.touches.length > 1 || taken(event) ? null
      : { x: touch.clientX, y: touch.clientY, at: event.timeStamp };
  };
  const end = (event) => {
    const [touch] = event.changedTouches;
    if (from === null || event.timeStamp - from.at > LONGEST_MS) return;
    const x = touch.clientX - from.x;
    const y = touch.clientY - from.y;
    from = null;
    if (Math.abs(x) < FAR_PX || Math.abs(x) < 2 * Math.abs(y)) return;
    turn(x < 0 ? "after" : "before");
  };
  const key = (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (event.defaultPrevented || taken(event)) return;
    if (event.key === "ArrowLeft") turn("before");
    if (event.key === "ArrowRight") turn("after");
  };
  document.addEventListener("touchstart", start, { passive: true });
  document.addEventListener("touchend", end, { passive: true });
  document.addEventListener("keydown", key);
  component.parentElement.querySelector("span")?.setAttribute("data-listening", "");
  return () => {
    document.removeEventListener("touchstart", start);
    document.removeEventListener("touchend", end);
    document.removeEventListener("keydown", key);
  };
}
