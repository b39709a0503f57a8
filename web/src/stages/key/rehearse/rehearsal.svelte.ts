// One rehearsal on this device: the engine holds the simulated panel, this keeps the acts, so that a reload goes on.
import { call } from "../../../engine";
import { Problem } from "../../../problem";
import { stamp } from "../../../time";
import type { Act, Card, Moment, Rehearsal, Result } from "../../../types.gen";
import { language } from "../../../words/words.svelte";

/** What is rehearsed. */
export interface Plan {
  /** held: what the book knows of the panel; empty: an empty panel. */
  from: "held" | "empty";
  /** Life-safety zones only. */
  safety: boolean;
  /** One zone only; empty: as safety says. */
  zone: string;
}

interface Kept {
  plan: Plan;
  coach: boolean;
  acts: Act[];
}

const slot = (job: string) => `proofbell.rehearsal.${job}`;

/** The rehearsal of a job that was begun on this device. */
export function kept(job: string): Kept | undefined {
  try {
    const found = JSON.parse(localStorage.getItem(slot(job)) ?? "null") as Kept | null;
    return found?.plan && Array.isArray(found.acts) ? found : undefined;
  } catch {
    return undefined; // written by another version, or by hand
  }
}

/** Seconds to a tenth: finer is nobody's concern. */
const tenths = (ms: number) => Math.round(ms / 100) / 10;

export class Session {
  /** What does not change; undefined until the engine has answered. */
  open = $state.raw<Rehearsal>();
  now = $state.raw<Moment>();
  /** The cards that are being followed. */
  cards = $state.raw<Card[]>([]);
  coach = $state(true);
  paused = $state(false);
  problem = $state.raw<Problem>();

  #acts: Act[] = [];
  /** When time was last told to the engine. */
  #since = 0;
  /** Seconds that were told without an act. */
  #passed = 0;
  #saving: ReturnType<typeof setTimeout> | undefined;
  #line: Promise<unknown> = Promise.resolve();

  constructor(
    readonly job: string,
    readonly plan: Plan,
    before?: Kept,
  ) {
    this.#acts = before?.acts ?? [];
    this.coach = before?.coach ?? true;
  }

  get keys(): number {
    return this.now?.keys ?? 0;
  }

  /** Opens it in the engine, with all that has happened so far. */
  async begin(): Promise<void> {
    await this.#then(async () => {
      const { from, safety, zone } = this.plan;
      const opened = await call<Rehearsal>("rehearse.open", {
        job: this.job,
        now: stamp(),
        lang: language(),
        from,
        safety: safety && !zone,
        zones: zone ? [zone] : [],
        acts: this.#acts,
      });
      this.open = opened;
      this.#take(opened.moment);
      this.#since = performance.now();
      this.#passed = 0;
      this.#save();
    });
  }

  press(key: string): Promise<void> {
    this.paused = false;
    return this.#do("rehearse.press", { keys: [key] }, { key });
  }

  hear(identity: string): Promise<void> {
    return this.#do("rehearse.hear", { identity }, { hear: identity });
  }

  again(): Promise<void> {
    return this.#do("rehearse.again", {}, { again: true });
  }

  /** Lets the panel's clock go on by what has passed here. */
  tick(): void {
    if (this.paused || !this.open) return;
    const seconds = this.#elapsed();
    if (seconds <= 0) return;
    this.#passed += seconds;
    void this.#then(async () => this.#take(await call<Moment>("rehearse.pass", { seconds })));
  }

  pause(on: boolean): void {
    if (on) this.tick();
    this.#since = performance.now();
    this.paused = on;
  }

  async result(): Promise<Result> {
    await this.#line;
    return call<Result>("rehearse.end", {});
  }

  /** Shows the coach or silences it. */
  setCoach(on: boolean): void {
    this.coach = on;
    this.#save();
  }

  forget(): void {
    clearTimeout(this.#saving);
    localStorage.removeItem(slot(this.job));
  }

  /** Writes what is not yet kept: the page goes. */
  close(): void {
    if (this.open) this.#write();
  }

  #elapsed(): number {
    if (this.paused) return 0;
    const now = performance.now();
    const seconds = tenths(now - this.#since);
    this.#since += seconds * 1000;
    return seconds;
  }

  async #do(method: string, argument: Record<string, unknown>, act: Act): Promise<void> {
    const seconds = this.#elapsed();
    const after = Math.round((this.#passed + seconds) * 10) / 10;
    this.#passed = 0;
    this.#acts.push({ ...(after > 0 && { after }), ...act });
    this.#save();
    await this.#then(async () => this.#take(await call<Moment>(method, { ...argument, seconds })));
  }

  /** One call after the other. A problem is shown, and the next call is tried all the same. */
  #then(work: () => Promise<void>): Promise<void> {
    const next = this.#line.then(work).catch((reason: unknown) => {
      this.problem = Problem.of(reason);
    });
    this.#line = next;
    return next;
  }

  #take(moment: Moment): void {
    this.problem = undefined;
    this.now = moment;
    if (moment.cards?.length) this.cards = moment.cards; // off the sheet the last ones stay in sight
  }

  #save(): void {
    this.#saving ??= setTimeout(() => this.#write(), 300);
  }

  #write(): void {
    clearTimeout(this.#saving);
    this.#saving = undefined;
    const { plan, coach } = this;
    try {
      localStorage.setItem(slot(this.job), JSON.stringify({ plan, coach, acts: this.#acts } satisfies Kept));
    } catch {
      // A full device: the rehearsal goes on, and a reload begins where it was last kept.
    }
  }
}
