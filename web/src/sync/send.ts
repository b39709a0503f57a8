// Sending the outbox. Contents carry ids made here, so that sending one twice does no harm.
import { Problem, type ProblemJSON } from "../problem";
import type { Content } from "../types";
import type { KeptBlob, OutboxItem } from "./store";

/** What the server says about one content. */
export type Result = { id: string; seq: number; hash: string } | { id: string; problem: ProblemJSON };

/** What sending needs of the world. */
export interface Post {
  unsent(): Promise<OutboxItem[]>;
  mark(n: number, state: OutboxItem["state"], problem?: ProblemJSON): Promise<void>;
  post(job: string, contents: Content[]): Promise<Result[]>;
  unsentBlobs(): Promise<KeptBlob[]>;
  markBlob(address: string, state: OutboxItem["state"], problem?: ProblemJSON): Promise<void>;
  putBlob(blob: KeptBlob): Promise<void>;
}

/** Contents in one request: well under the server's 8 MB. */
const most = 50;

/** Problems that trying again can not mend: a person must look. All others are tried again. */
const final = new Set(["bad-request", "conflict", "too-large", "not-allowed", "erased"]);

/** Pause before try number `n` (from 1), in milliseconds: doubling from one second up to half a minute. */
export function pause(n: number): number {
  return Math.min(1000 * 2 ** (n - 1), 30_000);
}

/** Sends everything that waits, in the order of writing per job. Resolves with the jobs touched; rejects with what stands in the way. */
export async function sendAll(world: Post): Promise<Set<string>> {
  const touched = new Set<string>();
  const byJob = new Map<string, OutboxItem[]>();
  for (const item of await world.unsent()) byJob.set(item.job, [...(byJob.get(item.job) ?? []), item]);
  let blocked: Problem | undefined = await sendBlobs(world, touched);
  if (blocked?.code === "unreachable") throw blocked;
  for (const [job, items] of byJob) {
    try {
      for (let i = 0; i < items.length; i += most) {
        touched.add(job);
        await sendSome(world, job, items.slice(i, i + most));
      }
    } catch (reason) {
      // One job that can not be sent now does not hold up the others.
      blocked ??= Problem.of(reason);
      if (blocked.code === "unreachable") break;
    }
  }
  if (blocked) throw blocked;
  return touched;
}

/** Sends the files before the entries that name them. What is refused for good is marked; the rest is tried again. */
async function sendBlobs(world: Post, touched: Set<string>): Promise<Problem | undefined> {
  let blocked: Problem | undefined;
  for (const blob of await world.unsentBlobs()) {
    try {
      await world.putBlob(blob);
      await world.markBlob(blob.address, "sent");
    } catch (reason) {
      const problem = Problem.of(reason);
      if (problem.code === "unreachable") return problem;
      if (final.has(problem.code))
        await world.markBlob(blob.address, "refused", { code: problem.code, say: problem.say, try: problem.next });
      else blocked ??= problem;
    }
    touched.add(blob.job);
  }
  return blocked;
}

async function sendSome(world: Post, job: string, items: OutboxItem[]): Promise<void> {
  let results: Result[];
  try {
    results = await world.post(
      job,
      items.map((item) => item.content),
    );
  } catch (reason) {
    const problem = Problem.of(reason);
    if (!final.has(problem.code)) throw problem;
    const [only, ...others] = items;
    if (only === undefined) return;
    // The whole request was refused: find the one at fault by sending them singly.
    if (others.length > 0) for (const item of items) await sendSome(world, job, [item]);
    else await refuse(world, only, { code: problem.code, say: problem.say, try: problem.next });
    return;
  }
  const answers = new Map(results.map((result) => [result.id, result]));
  let again: ProblemJSON | undefined;
  for (const item of items) {
    const answer = answers.get(item.id);
    if (item.n === undefined || answer === undefined) continue;
    if (!("problem" in answer)) await world.mark(item.n, "sent");
    else if (final.has(answer.problem.code)) await refuse(world, item, answer.problem);
    else again ??= answer.problem;
  }
  if (again) throw new Problem(again.code, again.say, again.try);
}

async function refuse(world: Post, item: OutboxItem, problem: ProblemJSON): Promise<void> {
  if (item.n !== undefined) await world.mark(item.n, "refused", problem);
}

/** Lets what was refused wait again, each at its old place, photographs first. Sending it is up to the postman. */
export async function waitAgain(
  world: Pick<Post, "mark" | "markBlob">,
  refused: OutboxItem[],
  photos: KeptBlob[],
): Promise<void> {
  for (const blob of photos) await world.markBlob(blob.address, "waiting");
  for (const item of refused) if (item.n !== undefined) await world.mark(item.n, "waiting");
}
