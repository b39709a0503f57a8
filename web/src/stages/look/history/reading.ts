// A history as it comes into the page: bytes of a file, or pasted lines. Nothing of it leaves the device.

/** A larger file is for the command line: reading takes about ten times its size in memory. */
export const mostBytes = 40 << 20;

/** The text of a file: UTF-16 by its mark, UTF-8, or else what Windows wrote before that. */
export function textOf(bytes: ArrayBuffer): string {
  const head = new Uint8Array(bytes, 0, Math.min(2, bytes.byteLength));
  if (head[0] === 0xff && head[1] === 0xfe) return new TextDecoder("utf-16le").decode(bytes);
  if (head[0] === 0xfe && head[1] === 0xff) return new TextDecoder("utf-16be").decode(bytes);
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder("windows-1252").decode(bytes);
  }
}

/** The practice year of Larkwater Mill, fetched when it is asked for. */
export async function practiceHistory(): Promise<string> {
  return (await import("../../../../../demo/larkwater-history.csv?raw")).default;
}
