// A page of a PDF as a picture. The reader is large and is fetched only when somebody opens such a file.
import { GlobalWorkerOptions, getDocument, type PDFDocumentProxy } from "pdfjs-dist";
import { Problem } from "../../problem";
import { t } from "../../words/words.svelte";

/** Longest side of the picture, px: as photographs are kept. */
const longest = 2000;

export interface Pages {
  count: number;
  /** One page, from 1. */
  picture(page: number): Promise<Blob>;
  end(): void;
}

/** Opens a PDF. Rejects with a Problem. */
export async function pages(file: Blob): Promise<Pages> {
  GlobalWorkerOptions.workerPort ??= new Worker(new URL("pdfjs-dist/build/pdf.worker.min.mjs", import.meta.url), {
    type: "module",
  });
  let document: PDFDocumentProxy;
  try {
    document = await getDocument({ data: new Uint8Array(await file.arrayBuffer()), enableXfa: false }).promise;
  } catch (reason) {
    const locked = reason instanceof Error && reason.name === "PasswordException";
    throw new Problem(
      "bad-request",
      locked ? t("This PDF asks for a password.") : t("This PDF can not be read."),
      t("Print it into a new PDF, or take a picture of the page."),
    );
  }
  return {
    count: document.numPages,
    end: () => void document.loadingTask.destroy(),
    async picture(number) {
      const page = await document.getPage(number);
      const plain = page.getViewport({ scale: 1 });
      const viewport = page.getViewport({ scale: longest / Math.max(plain.width, plain.height) });
      const canvas = globalThis.document.createElement("canvas");
      canvas.width = Math.round(viewport.width);
      canvas.height = Math.round(viewport.height);
      await page.render({ canvas, viewport, background: "#fff" }).promise;
      const out = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, "image/png"));
      if (!out)
        throw new Problem(
          "internal",
          t("This device can not draw the picture."),
          t("Close other pages and try again."),
        );
      return out;
    },
  };
}
