"use strict";

// Labels seen by the device's camera or on a photo, decoded in the browser by a reader that the
// service hands out itself. Pictures never leave the device. A label that was read is announced to
// the page as the event 'label-seen', with its separators as they are.

const FORMATS = [
  "DataMatrix", "QRCode", "Code128", "Code39", "EAN13", "EAN8", "UPCA", "ITF", "Aztec", "DataBar",
];
const EACH_MS = 200;
const NO_DECODER = "The reader of labels could not be loaded; reload the page, or use a scanner.";
const MOST_PIXELS = 2400;

// The bytes, and not the text, in which separators are written out.
function textOf(result) {
  const signs = Array.from(result.bytes, (byte) => String.fromCharCode(byte));
  return result.symbologyIdentifier + signs.join("");
}

function pixelsOf(source, wide, high) {
  const scale = Math.min(1, MOST_PIXELS / Math.max(wide, high));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(wide * scale));
  canvas.height = Math.max(1, Math.round(high * scale));
  const brush = canvas.getContext("2d", { willReadFrequently: true });
  brush.drawImage(source, 0, 0, canvas.width, canvas.height);
  return brush.getImageData(0, 0, canvas.width, canvas.height);
}

async function labelsOn(picture, most) {
  const wanted = { formats: FORMATS, maxNumberOfSymbols: most, tryHarder: true };
  const found = await ZXingWASM.readBarcodes(picture, wanted);
  return found.filter((result) => result.isValid).map(textOf);
}

function announce(text) {
  document.dispatchEvent(new CustomEvent("label-seen", { detail: text }));
}

class LabelCamera {
  constructor(place) {
    this.video = place.querySelector("[data-camera-picture]");
    this.start = place.querySelector("[data-camera]");
    this.stop = place.querySelector("[data-camera-stop]");
    this.status = place.querySelector("[data-scan-status]");
    this.seen = new Set();
    this.stream = null;
  }

  show(running) {
    this.start.hidden = running;
    this.stop.hidden = !running;
    this.video.hidden = !running;
  }

  async open() {
    try {
      const wanted = { facingMode: "environment", width: { ideal: 1920 }, height: { ideal: 1080 } };
      this.stream = await navigator.mediaDevices.getUserMedia({ video: wanted, audio: false });
    } catch {
      this.status.textContent = "The camera did not open: allow it for this page, or take a photo.";
      return;
    }
    this.seen.clear();
    this.video.srcObject = this.stream;
    await this.video.play();
    this.show(true);
    this.status.textContent = "Hold the label into the picture; each one is read once.";
    try {
      await this.look();
    } catch {
      this.close();
      this.status.textContent = NO_DECODER;
    }
  }

  async look() {
    while (this.stream) {
      if (this.video.videoWidth) {
        const picture = pixelsOf(this.video, this.video.videoWidth, this.video.videoHeight);
        const labels = await labelsOn(picture, 4);
        labels.filter((text) => !this.seen.has(text)).forEach((text) => this.take(text));
      }
      await new Promise((done) => { setTimeout(done, EACH_MS); });
    }
  }

  take(text) {
    this.seen.add(text);
    this.status.textContent = "Read a label. Hold the next one into the picture, or stop the camera.";
    announce(text);
  }

  close() {
    this.stream?.getTracks().forEach((track) => track.stop());
    this.stream = null;
    this.show(false);
    this.status.textContent = "";
  }
}

async function readPhoto(event, status) {
  const [file] = event.target.files;
  if (!file) {
    return;
  }
  status.textContent = "Reading the photo.";
  const bitmap = await createImageBitmap(file).catch(() => null);
  event.target.value = "";
  if (!bitmap) {
    status.textContent = "This file is no picture that the browser can open.";
    return;
  }
  let labels = [];
  try {
    labels = await labelsOn(pixelsOf(bitmap, bitmap.width, bitmap.height), 20);
  } catch {
    status.textContent = NO_DECODER;
    return;
  }
  status.textContent = labels.length ? "" : "No label could be read: take the photo nearer and sharper.";
  labels.forEach(announce);
}

document.addEventListener("DOMContentLoaded", () => {
  const place = document.querySelector("[data-scan]");
  if (!place || typeof ZXingWASM === "undefined") {
    return;
  }
  const locateFile = (name) => (name.endsWith(".wasm") ? place.dataset.decoder : name);
  ZXingWASM.prepareZXingModule({ overrides: { locateFile } });
  place.querySelector("[data-photo-field]").hidden = false;
  const status = place.querySelector("[data-scan-status]");
  place.querySelector("[data-photo]").addEventListener("change", (event) => readPhoto(event, status));
  // Browsers give a camera to pages of a secure address alone.
  if (navigator.mediaDevices?.getUserMedia) {
    const camera = new LabelCamera(place);
    camera.start.hidden = false;
    camera.start.addEventListener("click", () => camera.open());
    camera.stop.addEventListener("click", () => camera.close());
  }
});
