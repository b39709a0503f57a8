// A run over named steps: planned by the engine, opened with one act, then the call to the station.
import { theJob, view } from "../../job.svelte";
import { Problem } from "../../problem";
import { address, go } from "../../router.svelte";
import type { Options, Prove } from "../../types.gen";

export interface Scoped {
  /** Steps of the run, the harmless first signal among them. */
  readonly steps: number;
  readonly ready: boolean;
  /** Id of a run that is open already. */
  readonly other: string;
  readonly problem: Problem | undefined;
  open(): Promise<void>;
}

/** Called when a component is made. */
export function scoped(scope: () => Options): Scoped {
  const job = theJob();
  const planned = view<Prove>("job.prove", { more: () => ({ scope: $state.snapshot(scope()) }) });
  const now = view<Prove>("job.prove");
  let problem = $state.raw<Problem>();
  const running = () => (now.value?.run && !now.value.run.closed ? now.value.run.id : "");

  return {
    get steps() {
      return planned.value?.steps?.length ?? 0;
    },
    get ready() {
      return !!planned.value && (scope().steps ?? []).length > 0 && !running();
    },
    get other() {
      return running();
    },
    get problem() {
      return problem ?? planned.problem;
    },
    async open() {
      const plan = planned.value;
      if (!plan) return;
      const practice = job.header?.practice;
      try {
        problem = undefined;
        const body = {
          act: "opened",
          account: plan.account,
          scope: $state.snapshot(scope()),
          fingerprint: plan.fingerprint,
          ...(practice && { practice }),
        };
        if (await job.act("run", body)) go(address(job.id, "prove", "ontest"));
      } catch (reason) {
        problem = Problem.of(reason);
      }
    },
  };
}
