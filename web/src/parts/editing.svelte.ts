// What every form needs: save one member by a merge patch, and say what went wrong.
export { newID } from "./id";

import { theJob } from "../job.svelte";
import { Problem } from "../problem";
import { at } from "../sync/patch";
import type { Patch } from "../types";

export interface Editing {
  readonly problem: Problem | undefined;
  /** Saves a patch as one entry. True when it was kept. */
  save(patch: Patch, why?: string): Promise<boolean>;
  /** Saves one member; undefined takes it out. */
  set(path: string[], value: unknown): Promise<boolean>;
}

/** Called when a component is made. */
export function editing(): Editing {
  const job = theJob();
  let problem = $state.raw<Problem>();

  async function save(patch: Patch, why?: string): Promise<boolean> {
    try {
      problem = undefined;
      return (await job.edit(patch, why)) !== undefined;
    } catch (reason) {
      problem = Problem.of(reason);
      return false;
    }
  }
  return {
    get problem() {
      return problem;
    },
    save,
    set: (path, value) => save(at(path, value)),
  };
}
