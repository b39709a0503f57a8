// What tells a person without looking: the phone shakes and, if wanted, sounds and speaks, differently for what arrived, was
// proved, failed, or may be real.
import type { Told } from "../../types.gen";
import { language, languages, t } from "../../words/words.svelte";

export type Sign = "arrived" | "proved" | "failed" | "real";

const kept = { sound: "proofbell.sound", voice: "proofbell.voice" };

export const signs = $state({
  sound: localStorage.getItem(kept.sound) === "on",
  voice: localStorage.getItem(kept.voice) === "on",
  /** Why nothing can be spoken; "" it can. */
  mute: "",
  /** Whether the screen stays on: "" not asked for yet. */
  awake: "" as "" | "held" | "refused" | "lost" | "unable",
});

let audio: AudioContext | undefined;

export function setSound(on: boolean): void {
  signs.sound = on;
  localStorage.setItem(kept.sound, on ? "on" : "off");
  // A page may only sound after a touch: this is one.
  if (on) sound([880], 0.08);
}

function sound(tones: number[], each: number): void {
  audio ??= new AudioContext();
  void audio.resume();
  for (const [i, tone] of tones.entries()) {
    const at = audio.currentTime + i * (each + 0.05);
    const voice = audio.createOscillator();
    const volume = audio.createGain();
    voice.frequency.value = tone;
    volume.gain.setValueAtTime(0, at);
    volume.gain.linearRampToValueAtTime(0.25, at + 0.01);
    volume.gain.setValueAtTime(0.25, at + each - 0.02);
    volume.gain.linearRampToValueAtTime(0, at + each);
    voice.connect(volume).connect(audio.destination);
    voice.start(at);
    voice.stop(at + each);
  }
}

/** Milliseconds of shaking and rest: told apart in a glove. */
const shakes: Record<Sign, number[]> = {
  arrived: [80],
  proved: [80, 80, 80],
  failed: [400, 150, 400],
  real: [900, 200, 900, 200, 900],
};
/** One tone, two rising ones, a low one twice, high and low in turn. */
const tones: Record<Sign, [hertz: number[], seconds: number]> = {
  arrived: [[660], 0.1],
  proved: [[660, 990], 0.1],
  failed: [[196, 196], 0.35],
  real: [[880, 440, 880, 440], 0.25],
};

export function sign(what: Sign): void {
  navigator.vibrate?.(shakes[what]);
  if (signs.sound) sound(...tones[what]);
}

/** A voice of this device for the chosen language; undefined: its own choice. */
function voiceFor(tag: string): SpeechSynthesisVoice | undefined {
  return speechSynthesis.getVoices().find((voice) => voice.lang.toLowerCase().startsWith(tag));
}

/** Turns the voice on or off. It is on for this device until it is turned off. */
export function setVoice(on: boolean): void {
  signs.voice = on;
  signs.mute = "";
  localStorage.setItem(kept.voice, on ? "on" : "off");
  if (!on) globalThis.speechSynthesis?.cancel();
}

let speaking = false;
export const isSpeaking = (): boolean => speaking;

/**
 * Speaks one sentence and calls `over` when it ends, however it ends. `urgent` breaks off what is being said. Where the device
 * has no voice for the language it says so in signs.mute: a sentence in another tongue's sounds helps nobody.
 */
export function speak(text: string, urgent: boolean, over: () => void): void {
  const tag = language();
  const none = t("This device has no voice for {language}: read what stands here.", { language: languages[tag] });
  if (!("speechSynthesis" in globalThis)) {
    signs.mute = none;
    return;
  }
  const voice = voiceFor(tag);
  if (!voice && speechSynthesis.getVoices().length > 0) {
    signs.mute = none;
    return;
  }
  if (urgent) speechSynthesis.cancel();
  const sentence = new SpeechSynthesisUtterance(text);
  sentence.lang = tag;
  if (voice) sentence.voice = voice;
  let ended = false;
  const end = () => {
    if (ended) return;
    ended = true;
    clearTimeout(silent);
    speaking = false;
    over();
  };
  // Some devices take a sentence and never begin it.
  const silent = setTimeout(() => {
    signs.mute = none;
    end();
  }, 6000);
  sentence.onstart = () => {
    clearTimeout(silent);
    signs.mute = "";
  };
  sentence.onend = end;
  sentence.onerror = ({ error }) => {
    if (error !== "interrupted" && error !== "canceled") signs.mute = none;
    end();
  };
  speaking = true;
  speechSynthesis.speak(sentence);
}

/** What breaks off a sentence. */
export const urgent = (told: Told): boolean => told.sign === "failed" || told.sign === "real";

/** Keeps the screen on while `wanted` says so, and says in signs.awake whether it does. Call in component init. */
export function keepAwake(wanted: () => boolean): void {
  let lock: WakeLockSentinel | undefined;
  const on = $derived(wanted());
  const want = async () => {
    if (!on || document.hidden || (lock && !lock.released)) return;
    if (!navigator.wakeLock) {
      signs.awake = "unable";
      return;
    }
    try {
      lock = await navigator.wakeLock.request("screen");
      signs.awake = "held";
      lock.addEventListener("release", () => {
        if (on && !document.hidden) signs.awake = "lost";
      });
    } catch {
      signs.awake = "refused"; // a low battery, or the phone's own rule
    }
  };
  $effect(() => {
    if (!on) return;
    void want();
    document.addEventListener("visibilitychange", want);
    return () => {
      document.removeEventListener("visibilitychange", want);
      void lock?.release();
      signs.awake = "";
    };
  });
}

/** The word for a screen that will not stay on. */
export function awakeSay(): string {
  switch (signs.awake) {
    case "refused":
      return t("The phone refuses to keep its screen on (battery low?). Set a longer screen time.");
    case "lost":
      return t("The screen is no longer kept on. Leave this page and come back.");
    case "unable":
      return t("This browser can not keep the screen on. Set a longer screen time.");
    default:
      return "";
  }
}
