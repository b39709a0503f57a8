// Hands free: what happened is told once, by shaking, sound and voice. The sentences are the engine's.
import { untrack } from "svelte";
import { call } from "../../engine";
import { stamp } from "../../time";
import type { Told } from "../../types.gen";
import { language } from "../../words/words.svelte";
import type { Proving } from "./proving.svelte";
import { isSpeaking, type Sign, sign, signs, speak, urgent } from "./signs.svelte";

export class HandsFree {
  /** What was told last, for the eye. */
  caption = $state("");
  readonly #proving: Proving;
  readonly #hushed: () => boolean;
  #run = "";
  /** Keys of what the hand was told, and the ear. Undefined: nothing yet, so that nothing of before is told. */
  #felt: string[] | undefined;
  #heard: string[] | undefined;
  #busy = false;
  #again = false;

  /** `hushed`: on pages on which one is on the telephone nothing is spoken. Call in component init. */
  constructor(proving: Proving, hushed: () => boolean) {
    this.#proving = proving;
    this.#hushed = hushed;
    $effect(() => {
      void proving.value;
      void signs.voice;
      untrack(() => void this.#look());
    });
  }

  async #look(): Promise<void> {
    const run = this.#proving.value?.run?.id ?? "";
    if (!run || !this.#proving.open) return;
    if (run !== this.#run) {
      this.#run = run;
      this.#felt = this.#heard = undefined;
    }
    if (this.#busy) {
      this.#again = true;
      return;
    }
    this.#busy = true;
    try {
      do {
        this.#again = false;
        await this.#tell(run);
      } while (this.#again);
    } catch (reason) {
      console.warn("telling what happened:", reason);
    } finally {
      this.#busy = false;
    }
  }

  async #tell(run: string): Promise<void> {
    const ask = (known: string[] | undefined) =>
      call<Told>("job.told", { job: this.#proving.job.id, run, now: stamp(), lang: language(), known: known ?? null });
    const told = await ask(this.#felt);
    if (this.#felt && told.sign) {
      sign(told.sign as Sign);
      this.caption = told.show;
    }
    this.#felt = told.keys ?? [];

    if (!signs.voice) {
      this.#heard = undefined;
      return;
    }
    if (this.#hushed()) {
      this.#heard = this.#felt;
      return;
    }
    const aloud = await ask(this.#heard);
    if (aloud.say && isSpeaking() && !urgent(aloud)) return; // the rest comes merged, when the voice is free
    this.#heard = aloud.keys ?? [];
    if (!aloud.say) return;
    this.caption = aloud.show;
    speak(aloud.say, urgent(aloud), () => void this.#look());
  }
}
