// Who is at work on this device. Every act carries it.

import { me } from "./me.svelte";

const slot = (job: string) => `proofbell.at-work.${job}`;

/** Opaque name of this device. */
export function device(): string {
  let id = localStorage.getItem("proofbell.device");
  if (!id) {
    const bytes = crypto.getRandomValues(new Uint8Array(6));
    id = `device-${Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("")}`;
    localStorage.setItem("proofbell.device", id);
  }
  return id;
}

/** The choice of a person for one job, and the asking for it. */
export class AtWork {
  #chosen = $state("");
  /** Whether the question stands on the screen. */
  asking = $state(false);
  #answer: ((chosen: boolean) => void) | undefined;

  constructor(readonly job: string) {
    this.#chosen = localStorage.getItem(slot(job)) ?? "";
  }

  /** Id of the person, empty while nobody was chosen. A helper's device has one name: the server takes no other from it. */
  get person(): string {
    return me.role === "helper" && this.#chosen !== me.by ? "" : this.#chosen;
  }

  choose(person: string): void {
    this.#chosen = person;
    localStorage.setItem(slot(this.job), person);
    this.#done(true);
  }

  /** Goes on without an answer: whoever was chosen before stays. */
  leave(): void {
    this.#done(false);
  }

  /** Puts the question; resolves when it is answered (true) or put aside (false). */
  async ask(): Promise<boolean> {
    this.asking = true;
    return new Promise((resolve) => {
      this.#answer?.(false);
      this.#answer = resolve;
    });
  }

  /** Opaque id for entries: the person, or this device for acts of nobody in particular. */
  get by(): string {
    return this.person || device();
  }

  #done(chosen: boolean): void {
    this.asking = false;
    this.#answer?.(chosen);
    this.#answer = undefined;
  }
}
