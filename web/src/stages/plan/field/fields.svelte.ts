// Asking for a computed field: coarse at once, so that it follows a finger, and fine as soon as nothing moves. The fine one
// is computed by an engine of its own: the one that holds the job stays free for the next tap.
import { onDestroy, untrack } from "svelte";
import { apart, call, type Engine } from "../../../engine";
import { theJob } from "../../../job.svelte";
import { Problem } from "../../../problem";
import { store } from "../../../sync/store";
import { stamp } from "../../../time";
import type { FieldView, Patch } from "../../../types";
import { language } from "../../../words/words.svelte";

export interface FieldAsk {
  what: "sound" | "radio";
  storey: string;
  /** shut, open, as-drawn */
  doors?: string;
  /** Hz; 0 or none: of each sounder its own. */
  tone?: number;
  /** JSON pointer of the only source; none: all together. */
  source?: string;
  /** JSON pointer of the one that failed. */
  without?: string;
  /** What is being dragged and is not kept yet. */
  patch?: Patch | undefined;
}

export interface Fields {
  /** The newest field; of what was asked for before, until the first answer to a new question. */
  readonly value: FieldView | undefined;
  readonly problem: Problem | undefined;
}

const coarse = 0.5; // m
const fine = 0.1; // m
const still = 300; // ms

/** A field that is kept fresh while the component is on the page. Undefined asks for none. */
export function fields(ask: () => FieldAsk | undefined): Fields {
  const job = theJob();
  let value = $state.raw<FieldView>();
  let problem = $state.raw<Problem>();
  /** Counts the questions; what answers an older one is not shown. */
  let round = 0;
  let finest = 0;
  let busy = false;
  let next: FieldAsk | undefined;
  let beside: Engine | undefined;
  let loaded = -1;
  let gone = false;

  const about = (asked: FieldAsk, step: number) => ({ job: job.id, now: stamp(), lang: language(), step, ...asked });

  async function coarsely(asked: FieldAsk): Promise<void> {
    next = asked;
    if (busy) return;
    busy = true;
    while (next) {
      const [now, mine]: [FieldAsk, number] = [next, round];
      next = undefined;
      try {
        const answer = await call<FieldView>("field.map", about(now, coarse));
        if (gone || finest === round) continue;
        value = answer;
        problem = undefined;
      } catch (reason) {
        if (!gone && mine === round) problem = Problem.of(reason);
      }
    }
    busy = false;
  }

  async function finely(asked: FieldAsk, mine: number, revision: number): Promise<void> {
    try {
      beside ??= apart();
      if (loaded !== revision) {
        const [kept, entries, outbox] = await Promise.all([
          store.job(job.id),
          store.entries(job.id),
          store.outbox(job.id),
        ]);
        const contents = outbox.filter((item) => item.state !== "refused").map((item) => item.content);
        await beside.call("job.load", { job: job.id, key: kept?.key ?? "", entries });
        await beside.call("job.outbox", { job: job.id, contents });
        loaded = revision;
      }
      if (gone || mine !== round) return;
      const answer = await beside.call<FieldView>("field.map", about(asked, fine));
      if (gone || mine !== round) return;
      finest = mine;
      value = answer;
    } catch {
      // The coarse field stands, and what is wrong with the question was said with it.
    }
  }

  $effect(() => {
    const asked = ask();
    const { revision } = job;
    void language();
    const mine = ++round;
    if (!job.ready || !asked) {
      value = undefined;
      problem = undefined;
      return;
    }
    untrack(() => void coarsely(asked));
    if (asked.patch) return;
    const timer = setTimeout(() => void finely(asked, mine, revision), still);
    return () => clearTimeout(timer);
  });
  onDestroy(() => {
    gone = true;
    beside?.end();
  });

  return {
    get value() {
      return value;
    },
    get problem() {
      return problem;
    },
  };
}
