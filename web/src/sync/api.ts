// The server, asked over HTTP. Routes and shapes: docs/format/wire.md.
import { me } from "../me.svelte";
import { fromJSON, Problem, type ProblemJSON } from "../problem";
import { language, t } from "../words/words.svelte";

/** A fault of a site file: where in the file, what, and what to do. */
export interface Fault {
  line: number;
  column: number;
  path: string;
  say: string;
  try: string;
}

/** A file that was refused, with every fault found in it. */
export class Refused extends Problem {
  constructor(
    problem: ProblemJSON,
    readonly faults: Fault[],
  ) {
    super(problem.code, problem.say, problem.try);
  }
}

export const away = () =>
  new Problem(
    "unreachable",
    t("The server can not be reached from here."),
    t("What you enter is kept on this device and sent later."),
  );

const unpaired = () =>
  new Problem(
    "not-paired",
    t("This device is not paired with that computer, or was removed there."),
    t("Ask the lead for a code. What you enter stays on this device until then."),
  );

/** Asks the server. A body that is not a string or a file is sent as JSON. Rejects with Problem. */
export async function ask<Result>(
  method: "GET" | "POST" | "PUT" | "DELETE",
  path: string,
  body?: unknown,
  type = "application/json",
  more: Record<string, string> = {},
): Promise<Result> {
  const init: RequestInit = { method };
  const headers: Record<string, string> = { "Accept-Language": language(), ...more };
  if (body !== undefined) {
    init.body = typeof body === "string" || body instanceof Blob ? body : JSON.stringify(body);
    headers["Content-Type"] = type;
  }
  init.headers = headers;
  let response: Response;
  try {
    response = await fetch(path, init);
  } catch {
    throw away();
  }
  // A code that is not known says 403: 401 is about the device alone.
  if (response.status === 401) {
    me.paired = false;
    throw unpaired();
  }
  me.paired = true;
  if (response.status === 204) return undefined as Result;
  const answer = (await response.json().catch(() => undefined)) as
    | (Result & { problem?: ProblemJSON; faults?: Fault[] })
    | undefined;
  if (response.ok && answer !== undefined) return answer;
  if (answer?.faults)
    throw new Refused(answer.problem ?? { code: "bad-request", say: t("The file was refused.") }, answer.faults);
  if (answer?.problem) throw fromJSON(answer.problem);
  // A gateway or a sleeping proxy answers with a page of its own: as good as no server.
  if (response.status >= 502 && response.status <= 504) throw away();
  throw new Problem(
    "internal",
    t("The server answered {status} without saying why.", { status: response.status }),
    t("Try again in a minute."),
  );
}

/** Fetches bytes. Rejects with Problem. */
export async function bytes(path: string): Promise<Uint8Array<ArrayBuffer>> {
  let response: Response;
  try {
    response = await fetch(path);
  } catch {
    throw away();
  }
  if (!response.ok)
    throw new Problem(
      "not-found",
      t("The server does not have this file."),
      t("The device that took it may not have sent it yet."),
    );
  return new Uint8Array(await response.arrayBuffer());
}
