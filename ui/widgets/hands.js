// What Streamlit cannot be told: the keypad for numbers, the camera, one step of Back.
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

// Keys of what is half done stand in the address, so that a reload finds it. The server
// can only push an address: Back would be spent on the same page once more.
const KEYS = ["draft", "entry"];

function without(address) {
  const place = new URL(address, location.href);
  for (const key of KEYS) place.searchParams.delete(key);
  place.searchParams.sort();
  return place.href;
}

function keepOneStep() {
  const push = history.pushState;
  if (push.keepsOneStep) return;
  const step = function (kept, unused, address) {
    const same = address != null && without(address) === without(location.href);
    return (same ? history.replaceState : push).call(history, kept, unused, address);
  };
  step.keepsOneStep = true;
  history.pushState = step;
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
  keepOneStep();
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
