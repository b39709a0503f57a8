// The page's side of the engine: the same Go code as the server and the command line, in a worker.
import type { Answer, Question } from "./workers/messages";

/** The engine could not answer: it did not load, or it refused the request. The message is for people. */
export class EngineError extends Error {
  override name = "EngineError";
}

let worker: Worker | undefined;
let last = 0;
const waiting = new Map<number, { resolve(response: string): void; reject(reason: EngineError): void }>();

function started(): Worker {
  if (worker) return worker;
  worker = new Worker(new URL("./workers/engine.ts", import.meta.url), { type: "module", name: "engine" });
  worker.onmessage = ({ data }: MessageEvent<Answer>) => {
    const asked = waiting.get(data.id);
    waiting.delete(data.id);
    if ("failed" in data) asked?.reject(new EngineError(data.failed));
    else asked?.resolve(data.response);
  };
  worker.onerror = (event) => {
    for (const asked of waiting.values()) asked.reject(new EngineError(event.message || "the engine did not load"));
    waiting.clear();
  };
  return worker;
}

/**
 * Asks the engine. `method` and the shapes of request and result are those of internal/engine.
 * Starts the engine at the first call. Rejects with EngineError.
 */
export async function call<Result>(method: string, request: unknown): Promise<Result> {
  const question: Question = { id: ++last, method, request: JSON.stringify(request) };
  const response = await new Promise<string>((resolve, reject) => {
    waiting.set(question.id, { resolve, reject });
    started().postMessage(question);
  });
  const envelope = JSON.parse(response) as { result: Result } | { error: { message: string } };
  if ("error" in envelope) throw new EngineError(envelope.error.message);
  return envelope.result;
}
