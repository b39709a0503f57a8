// The proving run as the pages see it: one answer of the engine, and the acts that can be done to it.
import { getContext, setContext } from "svelte";
import { type OpenJob, theJob, type View, view } from "../../job.svelte";
import { Problem } from "../../problem";
import { zoneName } from "../../time";
import type { Content, Prove, ReadLine, ReadRow, Step, StepResult, Task } from "../../types.gen";
import { device } from "../../who.svelte";
import { t } from "../../words/words.svelte";

/** A step with its judgement and with what there is to do at it. */
export interface Item {
  step: Step;
  result: StepResult;
  task: Task;
}

/** The states in which the list of steps is folded, in the order in which a person wants them. */
export type Group = "failed" | "waiting" | "open" | "proved" | "cannot";

export function group({ result }: Item): Group {
  switch (result.verdict) {
    case "proved":
    case "proved-late":
      return "proved";
    case "not-testable":
      return "cannot";
    case "unproved":
      return "open";
    case "waiting":
      return "waiting";
    default:
      return "failed";
  }
}

/** What is written largest: the zone, the alarm, or nothing for the panel itself. */
export const mark = (step: Step) => (step.kind === "head" ? step.head : step.kind === "zone" ? step.zone : "");

/** The step by name, without the mark that stands beside it. */
export const label = (step: Step) => (step.kind === "head" ? t("Alarm {head}", { head: step.head }) : step.title);

/** Mark and name in one line: "13 Lounge smoke". */
export const named = (step: Step) => (step.kind === "zone" ? `${step.zone} ${step.title}` : label(step));

const waits = new Set(["sound", "wait", "clear", "settle"]);

export class Proving {
  readonly job: OpenJob;
  readonly #view: View<Prove>;
  /** Another run than the open or newest one. */
  run = $state("");
  /** What went wrong with the last act, and where on the page it was tried. */
  problem = $state.raw<Problem>();
  tried = $state("");

  readonly items: Item[] = $derived.by(() => {
    const v = this.value;
    if (!v) return [];
    const results = v.outcome.steps ?? [];
    const tasks = v.tasks ?? [];
    return (v.steps ?? []).flatMap((step, i) => {
      const [result, task] = [results[i], tasks[i]];
      return result && task ? [{ step, result, task }] : [];
    });
  });
  readonly byId: Map<string, Item> = $derived(new Map(this.items.map((item) => [item.step.id, item])));
  readonly next: Item | undefined = $derived(this.byId.get(this.value?.outcome.next ?? ""));
  /** The step tripped last of those that still wait for something here; what only the station has to say comes at the read-back. */
  readonly tripped: Item | undefined = $derived.by(() => {
    let [found, latest]: [Item | undefined, string] = [undefined, ""];
    for (const { step, what, at = "" } of this.value?.run?.ticks ?? []) {
      const item = this.byId.get(step);
      if (what !== "tripped" || !item || at < latest || !waits.has(item.task.do)) continue;
      [found, latest] = [item, at];
    }
    return found;
  });
  readonly lines: ReadLine[] = $derived(this.value?.readLines ?? []);
  readonly rows: ReadRow[] = $derived(this.value?.rows ?? []);
  readonly unread: number = $derived(this.lines.filter((line) => line.state === "").length);
  /** Time alone changes the answer while something is awaited or the account is on test. */
  readonly #hurry: boolean = $derived(
    !!this.value?.run &&
      !this.value.run.closed &&
      (this.value.state === "open" || this.value.state === "read-back" || this.value.outcome.counters.waiting > 0),
  );

  constructor() {
    this.job = theJob();
    const hurry = () => this.#hurry;
    this.#view = view<Prove>("job.prove", {
      more: () => (this.run ? { run: this.run } : {}),
      get every() {
        return hurry() ? 1 : 15;
      },
    });
  }

  get value(): Prove | undefined {
    return this.#view.value;
  }

  /** The time zone of the site: what the panel, the station and the people there go by. */
  get zone(): string {
    return this.value?.timeZone ?? "";
  }

  /** Its short name, where this device goes by another. */
  get zoneName(): string {
    return zoneName(this.zone, Date.now());
  }

  get fault(): Problem | undefined {
    return this.#view.problem;
  }

  /** A run that takes ticks. */
  get open(): boolean {
    return !!this.value?.run && !this.value.run.closed;
  }

  get onTest(): boolean {
    return this.value?.state === "open" || this.value?.state === "read-back";
  }

  /** One act. What is wrong with it is kept with `where`, to be shown there. */
  async act(kind: string, body: object, where: string, personal?: object): Promise<Content | undefined> {
    this.problem = undefined;
    this.tried = where;
    try {
      const run = this.value?.run?.id;
      const belongs = kind === "run" || !run ? {} : { run };
      return await this.job.act(kind, { ...belongs, ...body }, personal);
    } catch (reason) {
      this.problem = Problem.of(reason);
      return undefined;
    }
  }

  problemAt(where: string): Problem | undefined {
    return this.tried === where ? this.problem : undefined;
  }

  tick(step: string, what: string, more: object = {}): Promise<Content | undefined> {
    return this.act("tick", { step, what, from: device(), ...more }, `step/${step}`);
  }

  /** Takes back the newest statement on a step: instead of asking before each. */
  takeBack(item: Item): Promise<Content | undefined> {
    return this.withdraw(item.step.id, item.task.last);
  }

  /** Takes back one statement, whoever made it. */
  withdraw(step: string, of: string): Promise<Content | undefined> {
    return this.act("tick", { step, what: "withdrawn", of, from: device() }, `step/${step}`);
  }

  /** Lines of what the station says, with one tap. */
  read(lines: ReadLine[], notSeen: boolean): Promise<Content | undefined> {
    return this.readOther(
      lines.map(({ zone, code, qualifier, expect, path }) => ({
        zone,
        code,
        qualifier,
        expect,
        ...(path && { path }),
        ...(notSeen && { notSeen }),
      })),
    );
  }

  /** Takes back the newest read-back with all its lines. */
  takeReadBack(): Promise<Content | undefined> {
    return this.act("readback", { source: "phone", lines: [], takes: [this.value?.lastRead.entry] }, "read");
  }

  readOther(lines: object[], where = "read"): Promise<Content | undefined> {
    const { account, operator, reference } = this.value?.window ?? {};
    return this.act(
      "readback",
      { source: "phone", ...(account && { account }), lines },
      where,
      operator || reference ? { ...(operator && { operator }), ...(reference && { reference }) } : undefined,
    );
  }
}

const here = Symbol("proving");

export function setProving(): Proving {
  return setContext(here, new Proving());
}

export function theProving(): Proving {
  return getContext<Proving>(here);
}
