// What tells a person without looking: the phone shakes and, if wanted, sounds, differently for proved and for failed.
const kept = "proofbell.sound";

export const signs = $state({ sound: localStorage.getItem(kept) === "on" });

let audio: AudioContext | undefined;

export function setSound(on: boolean): void {
  signs.sound = on;
  localStorage.setItem(kept, on ? "on" : "off");
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

/** arrived: one short shake, two rising tones. failed: three long shakes, a low tone twice. */
export function sign(what: "arrived" | "failed"): void {
  navigator.vibrate?.(what === "arrived" ? [80] : [400, 150, 400, 150, 400]);
  if (signs.sound) sound(what === "arrived" ? [660, 990] : [196, 196], what === "arrived" ? 0.1 : 0.35);
}

/** Keeps the screen on while `wanted` says so. Call in component init. */
export function keepAwake(wanted: () => boolean): void {
  let lock: WakeLockSentinel | undefined;
  const want = async () => {
    if (!wanted() || document.hidden || !navigator.wakeLock || (lock && !lock.released)) return;
    try {
      lock = await navigator.wakeLock.request("screen");
    } catch {
      // A low battery or a page out of sight: the phone decides.
    }
  };
  $effect(() => {
    if (!wanted()) return;
    void want();
    document.addEventListener("visibilitychange", want);
    return () => {
      document.removeEventListener("visibilitychange", want);
      void lock?.release();
    };
  });
}
