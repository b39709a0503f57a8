// What a page and the engine's worker say to each other. The engine itself takes and gives JSON text.

/** One question to the engine. `request` is a JSON document as docs/format describes for `method`. */
export interface Question {
  id: number;
  method: string;
  request: string;
}

/** The answer to the question of the same id: the engine's JSON, or why there is none. */
export type Answer = { id: number; response: string } | { id: number; failed: string };
