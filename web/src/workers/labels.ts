// Reads the codes on a picture beside the page. Fetched with its decoder when a camera is first asked for, not before.

import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader";
import wasm from "zxing-wasm/reader/zxing_reader.wasm?url";
import type { Codes, LabelPicture } from "./messages";

declare const self: DedicatedWorkerGlobalScope;

// The decoder is served by us and kept with the application; the library would fetch it from elsewhere.
prepareZXingModule({ overrides: { locateFile: () => wasm } });

self.onmessage = async ({ data }: MessageEvent<LabelPicture>) => {
  let answer: Codes;
  try {
    const image = new ImageData(new Uint8ClampedArray(data.pixels), data.width, data.height);
    const found = await readBarcodes(image, { tryHarder: data.hard, maxNumberOfSymbols: 6 });
    answer = { id: data.id, texts: found.filter((one) => one.isValid).map((one) => one.text) };
  } catch (reason) {
    answer = { id: data.id, failed: reason instanceof Error ? reason.message : String(reason) };
  }
  self.postMessage(answer);
};
