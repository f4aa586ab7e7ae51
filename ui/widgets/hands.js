// What Streamlit's own fields cannot be told: the keypad for numbers, the camera.
const WANTED = [
  ["[class*='st-key-decimal-'] input", "inputmode", "decimal"],
  [".st-key-take-photo input[type=file]", "capture", "environment"],
];

function tell() {
  for (const [fields, name, value] of WANTED) {
    for (const field of document.querySelectorAll(fields)) {
      if (field.getAttribute(name) !== value) field.setAttribute(name, value);
    }
  }
}

const places = new WeakMap();

// What comes next is read from its beginning.
function beginAtTop(root, place) {
  const before = places.get(root);
  places.set(root, place);
  if (before === undefined || before === place) return;
  document.querySelector("[data-testid=stMain]")?.scrollTo(0, 0);
}

export default function ({ data, parentElement }) {
  if (data?.place) {
    beginAtTop(parentElement, data.place);
    return undefined;
  }
  let pending = 0;
  const watcher = new MutationObserver(() => {
    pending ||= requestAnimationFrame(() => {
      pending = 0;
      tell();
    });
  });
  watcher.observe(document.body, { childList: true, subtree: true });
  tell();
  return () => watcher.disconnect();
}
