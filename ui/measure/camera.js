// What the camera sees, and over it the edges of the photo it is to be lined up with.
// A browser gives a page the camera on an encrypted address or on its own machine only;
// elsewhere nothing is shown.

const WIDE_PX = 4096; // more than a camera has is cut down by the browser
const QUALITY = 0.95;

const cameras = new WeakMap(); // by mounting root: a rerun calls in again

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  let camera = cameras.get(parentElement);
  if (!camera || !camera.box.isConnected) {
    camera = mount(parentElement);
    cameras.set(parentElement, camera);
  }
  camera.send = setTriggerValue;
  camera.data = data;
  show(camera);
  return () => {
    stop(camera);
    document.removeEventListener("visibilitychange", camera.hidden);
    cameras.delete(parentElement);
  };
}

function mount(root) {
  const part = (name) => root.querySelector(`[data-do=${name}]`);
  const camera = {
    box: root.querySelector(".camera"),
    live: root.querySelector(".live"),
    video: root.querySelector("video"),
    ghost: root.querySelector("img"),
    told: root.querySelector(".told"),
    open: part("open"),
    take: part("take"),
    close: part("close"),
    stream: null,
  };
  camera.open.addEventListener("click", () => open(camera));
  camera.take.addEventListener("click", () => take(camera));
  camera.close.addEventListener("click", () => stop(camera));
  // A locked phone must not go on looking.
  camera.hidden = () => document.hidden && stop(camera);
  document.addEventListener("visibilitychange", camera.hidden);
  return camera;
}

function show(camera) {
  const { box, data, ghost, open, take, close } = camera;
  box.hidden = !(window.isSecureContext && navigator.mediaDevices?.getUserMedia);
  if (ghost.src !== data.ghost) ghost.src = data.ghost;
  open.textContent = data.open;
  take.textContent = data.take;
  close.textContent = data.close;
}

async function open(camera) {
  const { data } = camera;
  camera.open.disabled = true;
  try {
    camera.stream = await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: {
        facingMode: { ideal: "environment" },
        width: { ideal: data.across >= 1 ? WIDE_PX : WIDE_PX * data.across },
        aspectRatio: { ideal: data.across },
      },
    });
  } catch {
    camera.told.textContent = data.refused;
    camera.open.disabled = false;
    return;
  }
  camera.video.srcObject = camera.stream;
  camera.open.hidden = true;
  camera.live.hidden = false;
  camera.told.textContent = data.how;
  camera.take.disabled = true;
  await camera.video.play().catch(() => {});
  camera.take.disabled = false;
}

function stop(camera) {
  camera.stream?.getTracks().forEach((track) => track.stop());
  camera.stream = null;
  camera.video.srcObject = null;
  camera.live.hidden = true;
  camera.open.hidden = false;
  camera.open.disabled = false;
  camera.told.textContent = "";
}

async function take(camera) {
  if (!camera.stream) return;
  camera.take.disabled = true;
  try {
    const photo = await still(camera.stream.getVideoTracks()[0], camera.video);
    const url = await asUrl(photo);
    camera.send("photo", { version: camera.data.version, url });
    stop(camera);
  } catch {
    camera.told.textContent = camera.data.refused;
    camera.take.disabled = false;
  }
}

// A still has all the pixels of the camera, a frame of the film has fewer; not every
// browser takes stills.
async function still(track, video) {
  if (window.ImageCapture) {
    try {
      return await new ImageCapture(track).takePhoto();
    } catch {
      // the frame will do
    }
  }
  const canvas = document.createElement("canvas");
  canvas.width = video.videoWidth;
  canvas.height = video.videoHeight;
  canvas.getContext("2d").drawImage(video, 0, 0);
  return new Promise((done, failed) => {
    const taken = (photo) => (photo ? done(photo) : failed(new Error("no frame")));
    canvas.toBlob(taken, "image/jpeg", QUALITY);
  });
}

function asUrl(photo) {
  return new Promise((done, failed) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result);
    reader.onerror = () => failed(reader.error);
    reader.readAsDataURL(photo);
  });
}
