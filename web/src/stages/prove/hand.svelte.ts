// The step at hand and the one thing to do at it: the same for the page of the run and for the one that is read from 2 m.
import { getContext, setContext, untrack } from "svelte";
import { clock } from "../../clock.svelte";
import { address, go, open, route } from "../../router.svelte";
import { left } from "../../time";
import { many, t } from "../../words/words.svelte";
import { type Item, named, type Proving } from "./proving.svelte";

export interface Action {
  say: string;
  do?: () => unknown;
}

export class AtHand {
  readonly #proving: Proving;
  #at = $state("");
  #settling = $state(false);
  methods = $state<Record<string, string>>({});

  readonly here: Item | undefined = $derived.by(() => {
    const proving = this.#proving;
    const wanted = route.open[0] === "step" ? (route.open[1] ?? "") : "";
    return proving.byId.get(wanted) ?? proving.byId.get(this.#at) ?? proving.next ?? proving.items[0];
  });
  readonly method: string = $derived(
    this.here ? (this.methods[this.here.step.id] ?? this.here.step.methods?.[0]?.id ?? "") : "",
  );
  /** Why it must not be tripped now. */
  readonly refused: string = $derived(
    this.here && (this.here.task.do === "trip" || this.here.task.do === "again") ? this.here.task.refused : "",
  );
  readonly over: boolean = $derived(this.here?.task.do === "none" || this.here?.task.do === "station");

  readonly onward: Action = $derived.by(() => {
    const { next, unread, onTest } = this.#proving;
    if (next && next !== this.here)
      return { say: t("Next: {step}", { step: named(next.step) }), do: () => this.take(next) };
    if (unread > 0 || onTest) return { say: t("All tripped: read back"), do: () => open("readback") };
    return { say: t("Close the run"), do: () => open("close") };
  });
  readonly main: Action = $derived.by(() => {
    const here = this.here;
    if (!here) return { say: t("Nothing to do") };
    if (this.refused)
      return {
        say: this.#proving.onTest ? t("See what is on test") : t("Put on test first"),
        do: () => open("ontest"),
      };
    const due = here.result.due ? `, ${left(here.result.due, clock.now)}` : "";
    switch (here.task.do) {
      case "trip":
        return { say: t("I trip it now"), do: () => this.trip() };
      case "again":
        return { say: t("I trip it again now"), do: () => this.trip() };
      case "sound":
        return { say: t("It sounds"), do: () => this.#tick("sounded") };
      case "wait":
        return { say: t("Waiting for the signal") + due };
      case "clear":
        return {
          say: here.step.kind === "head" ? t("Released, all quiet") : t("Restored"),
          do: () => this.#tick("restored"),
        };
      case "settle":
        return { say: t("Waiting for the restore") + due };
      default:
        return this.onward;
    }
  });
  readonly beside: Action = $derived.by(() => {
    const { next, unread } = this.#proving;
    const here = this.here;
    switch (here?.task.do) {
      case "again":
        return { ...this.onward, say: next && next !== here ? t("Leave it, next") : this.onward.say };
      case "sound":
        return { say: t("Silent"), do: () => this.#tick("failed", { reason: "No sound heard" }) };
      case "wait":
        return here.task.showed
          ? { say: t("From 2 m"), do: () => open("watch") }
          : { say: t("Panel shows it"), do: () => this.#tick("panel-showed") };
    }
    return {
      say: unread > 0 ? many(unread, "Read-back, {n}", "Read-back, {n}") : t("Read-back"),
      do: () => open("readback"),
    };
  });

  /** Call in component init. */
  constructor(proving: Proving) {
    this.#proving = proving;
    $effect(() => {
      if (proving.value?.run && !this.#at) untrack(() => this.#choose());
    });
    $effect(() => {
      if (this.#at && this.here) localStorage.setItem(this.#kept, this.here.step.id);
    });
    // What arrives may change the button at the moment of a tap: it takes none until a person can have seen the change.
    const offered = $derived(`${this.here?.step.id} ${this.here?.task.do}`);
    $effect(() => {
      void offered;
      this.#settling = true;
      const timer = setTimeout(() => (this.#settling = false), 400);
      return () => clearTimeout(timer);
    });
  }

  get #kept(): string {
    return `proofbell.step.${this.#proving.value?.run?.id}`;
  }

  /**
   * Where one was: the step that was tripped and is not over, then the one that was looked at. Kept over any break, and left
   * alone by what arrives meanwhile.
   */
  #choose(): void {
    const { byId, tripped, next, items } = this.#proving;
    const before = byId.get(localStorage.getItem(this.#kept) ?? "");
    const over = !before || before.task.do === "none" || before.task.do === "station";
    this.#at = (tripped ?? (over ? next : before) ?? before ?? items[0])?.step.id ?? "";
  }

  /** A page of the run opens: it begins where the work is. */
  begin(): void {
    this.#at = "";
  }

  get settling(): boolean {
    return this.#settling;
  }

  /** Does what a button offers, unless it has only just come to offer it. */
  press(action: Action): void {
    if (!this.#settling) action.do?.();
  }

  /** Takes another step in hand, without leaving the page where one is. */
  hold(item: Item | undefined): void {
    if (item) this.#at = item.step.id;
  }

  take(item: Item | undefined): void {
    if (!item) return;
    this.hold(item);
    go(address(route.job, "prove", "step", item.step.id), route.open[0] === "step");
    scrollTo({ top: 0 });
  }

  trip(): unknown {
    const here = this.here;
    // A signal of this step that came before anyone named the trip is the one that this tap is about.
    const came = this.#proving.value?.outcome.unexpected?.find(
      (one) => one.step === here?.step.id && one.signal && one.kind === "nobody-tripping",
    );
    return this.#tick("tripped", { method: this.method, ...(came && { signal: came.signal }) });
  }

  #tick(what: string, more: object = {}): unknown {
    return this.here && this.#proving.tick(this.here.step.id, what, more);
  }
}

const key = Symbol("at hand");

export function setAtHand(proving: Proving): AtHand {
  return setContext(key, new AtHand(proving));
}

export function theAtHand(): AtHand {
  return getContext<AtHand>(key);
}
