// Photographs of a job: turned and shrunk here, sealed by the engine, kept on this device until the server has them.
import { call } from "../engine";
import { Problem } from "../problem";
import { bytes } from "../sync/api";
import { type KeptBlob, store } from "../sync/store";
import type { OpenedBlob, SealedBlob } from "../types";
import { language, t } from "../words/words.svelte";

/** Longest side of what is kept, px: a label stays readable, and a hundred of them fit on any phone. */
const longest = 2000;

/** The picture as JPEG and nothing else: upright whatever way the camera was held, without position, time or camera. */
async function redrawn(file: Blob): Promise<Blob> {
  let image: ImageBitmap;
  try {
    image = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw new Problem(
      "bad-request",
      t("This file is no picture that this device can read."),
      t("Take a photograph, or choose a JPEG or PNG file."),
    );
  }
  const scale = Math.min(1, longest / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(image.width * scale);
  canvas.height = Math.round(image.height * scale);
  const pen = canvas.getContext("2d");
  if (!pen)
    throw new Problem("internal", t("This device can not draw the picture."), t("Close other pages and try again."));
  pen.imageSmoothingQuality = "high";
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  image.close();
  const out = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.82));
  if (!out)
    throw new Problem("internal", t("This device can not draw the picture."), t("Close other pages and try again."));
  return out;
}

function toBase64(raw: Uint8Array): string {
  let text = "";
  for (let at = 0; at < raw.length; at += 0x8000) text += String.fromCharCode(...raw.subarray(at, at + 0x8000));
  return btoa(text);
}

const fromBase64 = (text: string) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));

/** Makes one photograph ready and keeps it on this device. The entry that names it is the caller's. */
export async function keep(job: string, file: Blob): Promise<SealedBlob> {
  const plain = new Uint8Array(await (await redrawn(file)).arrayBuffer());
  const random = toBase64(crypto.getRandomValues(new Uint8Array(48)));
  const sealed = await call<SealedBlob>("blob.seal", {
    job,
    bytes: toBase64(plain),
    lang: language(),
    random: random.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", ""),
  });
  await store.putBlob({ address: sealed.address, job, sealed: fromBase64(sealed.sealed), state: "waiting" });
  return sealed;
}

/** A photograph to show: from this device, or else from the server, and then kept here. */
export async function shown(job: string, address: string): Promise<{ blob: Blob; kept: KeptBlob }> {
  let kept = await store.blob(address);
  if (!kept) {
    kept = { address, job, sealed: await bytes(`/api/jobs/${job}/blobs/${address}`), state: "sent" };
    await store.putBlob(kept).catch(() => undefined); // a full phone still shows it
  }
  const opened = await call<OpenedBlob>("blob.open", { job, sealed: toBase64(kept.sealed) });
  return { blob: new Blob([fromBase64(opened.bytes)], { type: opened.media }), kept };
}
