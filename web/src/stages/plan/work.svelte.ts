// What a hand does on the plan, asked of the engine: while it moves as a trial, when it lets go as an edit of the job.
import { call } from "../../engine";
import { theJob } from "../../job.svelte";
import { Problem } from "../../problem";
import { stamp } from "../../time";
import type { Operation as Act, Acted, Finding, Patch, PlanTried } from "../../types";
import { language } from "../../words/words.svelte";

export interface Work {
  /** What the engine says of the change under the finger. */
  readonly trial: PlanTried | undefined;
  /** What the rules would find anew with the change that was weighed last; worst first. */
  readonly findings: Finding[];
  /** Why it can not be done, or could not be kept. */
  readonly problem: Problem | undefined;
  /** What was done last, in words. */
  readonly said: string;
  /** What went with it, a sentence each. */
  readonly goes: string[];
  /** Tries a change. While one is being tried only the newest waits; what the rules say of it is asked when the hand rests. */
  attempt(act: Act, storey: string): void;
  /** Ends the trial; nothing is kept. */
  drop(): void;
  /** Does it: one entry. Gives the JSON pointers of what is new; undefined when it was refused. */
  keep(act: Act): Promise<string[] | undefined>;
  /** Puts the last problem away. */
  calm(): void;
}

/** Called when a component is made. */
export function work(): Work {
  const job = theJob();
  let trial = $state.raw<PlanTried>();
  let findings = $state.raw<Finding[]>([]);
  let problem = $state.raw<Problem>();
  let said = $state("");
  let goes = $state.raw<string[]>([]);
  let busy = false;
  let next: Act | undefined;
  let rest: ReturnType<typeof setTimeout> | undefined;
  /** Counts the trials that were dropped, so that a late answer is not shown. */
  let round = 0;

  const ask = (act: Act) => call<Acted>("plan.act", { job: job.id, now: stamp(), lang: language(), ...act });

  /** The thing in hand, for its distances. */
  const about = (act: Act) =>
    act.id && (act.op === "device" || act.op === "head") ? `/${act.op}s/${act.id}` : undefined;

  async function one(act: Act, storey: string, bare: boolean): Promise<void> {
    const mine = round;
    try {
      const pointer = about(act);
      const answer = await call<PlanTried>("plan.try", {
        job: job.id,
        now: stamp(),
        lang: language(),
        act,
        storey,
        bare,
        ...(pointer && { about: pointer }),
      });
      if (mine !== round) return;
      trial = answer;
      // Between two looks at the rules what they said last stays: it must not flicker.
      if (!bare) findings = answer.findings ?? [];
    } catch (reason) {
      if (mine === round) problem = Problem.of(reason);
    }
  }

  async function attempt(act: Act, storey: string): Promise<void> {
    next = act;
    clearTimeout(rest);
    if (busy) return;
    busy = true;
    let last = act;
    while (next) {
      last = next;
      next = undefined;
      await one(last, storey, true);
    }
    busy = false;
    rest = setTimeout(() => void one(last, storey, false), 250);
  }

  return {
    get trial() {
      return trial;
    },
    get findings() {
      return findings;
    },
    get problem() {
      return problem;
    },
    get said() {
      return said;
    },
    get goes() {
      return goes;
    },
    attempt: (act, storey) => void attempt(act, storey),
    drop() {
      clearTimeout(rest);
      round += 1;
      next = undefined;
      trial = undefined;
    },
    calm() {
      findings = [];
      problem = undefined;
    },
    async keep(act) {
      problem = undefined;
      try {
        const done = await ask(act);
        if (done.refused) {
          problem = new Problem("refused", done.refused.say, done.refused.try);
          return undefined;
        }
        if (!done.patch || !(await job.edit(done.patch as Patch, done.say))) return undefined;
        said = done.say;
        goes = done.goes ?? [];
        return done.made ?? [];
      } catch (reason) {
        problem = Problem.of(reason);
        return undefined;
      }
    },
  };
}
