import { t } from "./words/words.svelte";

/** What was wrong, in words for people, and what to do about it: one shape for the server, the engine and this page. */
export class Problem extends Error {
  override name = "Problem";

  constructor(
    /** As docs/format/wire.md lists them; `unreachable` when no server answered, `engine` when the engine did not start. */
    readonly code: string,
    readonly say: string,
    readonly next = "",
    readonly field = "",
  ) {
    super(next ? `${say} ${next}` : say);
  }

  /** Anything that was thrown, as a problem that can be shown. */
  static of(reason: unknown): Problem {
    if (reason instanceof Problem) return reason;
    const text = reason instanceof Error ? reason.message : String(reason);
    return new Problem("internal", text, t("Reload the page; what you entered is kept on this device."));
  }
}

/** A problem as it travels in JSON. */
export interface ProblemJSON {
  code: string;
  say: string;
  try?: string;
  field?: string;
}

export function fromJSON(problem: ProblemJSON): Problem {
  return new Problem(problem.code, problem.say, problem.try, problem.field);
}
