// The page's side of the engine: the same Go code as the server and the command line, in a worker.
import { fromJSON, Problem, type ProblemJSON } from "./problem";
import { t } from "./words/words.svelte";
import type { Answer, Question } from "./workers/messages";

const failed = (why: string) =>
  new Problem(
    "engine",
    t("The engine did not answer: {why}", { why }),
    t("Reload the page while the server can be reached."),
  );

/** An engine in a worker. */
export interface Engine {
  /**
   * Asks the engine. Methods, arguments and results: docs/format/wire.md. Starts the engine at the first call.
   * Rejects with a Problem.
   */
  call<Result>(method: string, argument: unknown): Promise<Result>;
  /** Starts it ahead of the first question: compiling it takes longer than anything else here. */
  warm(): void;
  /** Stops it; what it was asked is never answered. */
  end(): void;
}

/** An engine of its own, for a long question that must not hold up the others. */
export function apart(): Engine {
  let worker: Worker | undefined;
  let last = 0;
  const waiting = new Map<number, { resolve(response: string): void; reject(reason: Problem): void }>();

  function started(): Worker {
    if (worker) return worker;
    worker = new Worker(new URL("./workers/engine.ts", import.meta.url), { type: "module", name: "engine" });
    worker.onmessage = ({ data }: MessageEvent<Answer>) => {
      const asked = waiting.get(data.id);
      waiting.delete(data.id);
      if ("failed" in data) asked?.reject(failed(data.failed));
      else asked?.resolve(data.response);
    };
    worker.onerror = (event) => {
      for (const asked of waiting.values()) asked.reject(failed(event.message || "it did not load"));
      waiting.clear();
    };
    return worker;
  }

  return {
    warm: () => void started(),
    end: () => worker?.terminate(),
    async call<Result>(method: string, argument: unknown): Promise<Result> {
      const { lang } = argument as { lang?: string };
      const question: Question = { id: ++last, method, argument: JSON.stringify(argument), ...(lang && { lang }) };
      const response = await new Promise<string>((resolve, reject) => {
        waiting.set(question.id, { resolve, reject });
        started().postMessage(question);
      });
      const answer = JSON.parse(response) as { ok: Result } | { problem: ProblemJSON };
      if ("problem" in answer) throw fromJSON(answer.problem);
      return answer.ok;
    },
  };
}

/** The engine that holds the open job. */
export const { call, warm } = apart();
