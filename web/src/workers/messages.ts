// What a page and the engine's worker say to each other. The engine itself takes and gives JSON text.

/** One question to the engine. `argument` is the JSON document that docs/format/wire.md describes for `method`. */
export interface Question {
  id: number;
  method: string;
  argument: string;
  /** The language in which the answer is wanted; English when there is none. */
  lang?: string;
}

/** The answer to the question of the same id: the engine's JSON, or why there is none. */
export type Answer = { id: number; response: string } | { id: number; failed: string };

/** A picture for the worker that reads codes; its pixels are handed over. */
export interface LabelPicture {
  id: number;
  pixels: ArrayBuffer;
  width: number;
  height: number;
  /** Takes its time: a photograph, not a frame of a film. */
  hard: boolean;
}

/** What the codes on it say. */
export type Codes = { id: number; texts: string[] } | { id: number; failed: string };
