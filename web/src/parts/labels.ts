// Codes on labels, read from a camera or a photograph on this device. Nothing of the picture is kept or sent.
import { Problem } from "../problem";
import { t } from "../words/words.svelte";
import type { Codes, LabelPicture } from "../workers/messages";

/** Longest side that is looked at, px: a code that fills a third of it is read, and a phone takes no longer than a blink. */
const frame = 1280;
const photograph = 2400;

export interface LabelReader {
  /** What the codes say that stand on a picture; empty when there is none. Rejects with a Problem. */
  read(picture: HTMLVideoElement | ImageBitmap, hard?: boolean): Promise<string[]>;
  end(): void;
}

/** Starts the reader in a worker. Its decoder is fetched now and kept with the application. */
export function labelReader(): LabelReader {
  const worker = new Worker(new URL("../workers/labels.ts", import.meta.url), { type: "module", name: "labels" });
  const canvas = document.createElement("canvas");
  const waiting = new Map<number, { resolve(texts: string[]): void; reject(reason: Problem): void }>();
  let last = 0;
  const broken = (why: string) =>
    new Problem(
      "engine",
      t("The reader of labels did not start: {why}", { why }),
      t("Type the identity. With a signal, reload the page."),
    );
  worker.onmessage = ({ data }: MessageEvent<Codes>) => {
    const asked = waiting.get(data.id);
    waiting.delete(data.id);
    if ("failed" in data) asked?.reject(broken(data.failed));
    else asked?.resolve(data.texts);
  };
  worker.onerror = (event) => {
    for (const asked of waiting.values()) asked.reject(broken(event.message || t("it did not load")));
    waiting.clear();
  };
  return {
    end: () => worker.terminate(),
    read: (picture, hard = false) =>
      new Promise((resolve, reject) => {
        const [w, h] =
          picture instanceof HTMLVideoElement
            ? [picture.videoWidth, picture.videoHeight]
            : [picture.width, picture.height];
        const scale = Math.min(1, (hard ? photograph : frame) / Math.max(w, h, 1));
        canvas.width = Math.max(1, Math.round(w * scale));
        canvas.height = Math.max(1, Math.round(h * scale));
        const pen = canvas.getContext("2d", { willReadFrequently: true });
        if (!pen) {
          reject(broken(t("This device can not draw the picture.")));
          return;
        }
        pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
        const { data, width, height } = pen.getImageData(0, 0, canvas.width, canvas.height);
        const asked: LabelPicture = { id: ++last, pixels: data.buffer as ArrayBuffer, width, height, hard };
        waiting.set(asked.id, { resolve, reject });
        worker.postMessage(asked, [asked.pixels]);
      }),
  };
}

/** Opens the camera that looks away from the person. Rejects with a Problem that says what to do instead. */
export async function openCamera(): Promise<MediaStream> {
  if (!navigator.mediaDevices?.getUserMedia)
    throw new Problem(
      "bad-request",
      t("Over this address the browser gives no camera: it wants https."),
      t("Take a photograph of the label instead, or type the identity."),
    );
  try {
    return await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: { facingMode: { ideal: "environment" }, width: { ideal: 1920 }, height: { ideal: 1080 } },
    });
  } catch (reason) {
    const name = reason instanceof DOMException ? reason.name : "";
    const instead = t("Take a photograph of the label instead, or type the identity.");
    if (name === "NotAllowedError")
      throw new Problem(
        "not-allowed",
        t("The camera was refused."),
        t("Allow it in the browser's settings of this site. Or take a photograph, or type the identity."),
      );
    if (name === "NotFoundError" || name === "OverconstrainedError")
      throw new Problem("not-found", t("This device has no camera."), instead);
    throw new Problem("bad-request", t("The camera does not start: another program may hold it."), instead);
  }
}
