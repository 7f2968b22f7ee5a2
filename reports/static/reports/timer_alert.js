// What the flight timer does to be noticed: tones, and a screen that stays on. Both say plainly where they fail.

import { say } from "./timer_words.js";

const PATTERNS = { warning: [0], ten: [0, 0.25], change: [0, 0.35, 0.7, 1.05], end: [0, 0.6, 1.2] };

/** Tones by Web Audio; a browser lets them sound only after a tap, so `unlock` is called from one. */
export function tones(show) {
  const Context = window.AudioContext || window.webkitAudioContext;
  let context = null;
  const tell = () =>
    show(
      !Context
        ? say("Sound: this browser has none. Watch the screen.")
        : context?.state === "running"
          ? say("Sound is on. A headset or the engine may cover it: watch the screen as well.")
          : say("Sound is off until you tap Start, Go on or Sound check."),
    );
  tell();
  return {
    async unlock() {
      if (!Context) return;
      try {
        context ??= new Context();
        context.onstatechange = tell;
        if (context.state !== "running") await context.resume();
      } catch {
        context = null;
      }
      tell();
    },
    play(name) {
      if (context?.state !== "running") return;
      for (const after of PATTERNS[name]) {
        const [tone, volume] = [context.createOscillator(), context.createGain()];
        const at = context.currentTime + after;
        tone.type = "square";
        tone.frequency.value = name === "warning" || name === "ten" ? 880 : 1320;
        volume.gain.setValueAtTime(0.6, at);
        volume.gain.setValueAtTime(0, at + 0.18);
        tone.connect(volume).connect(context.destination);
        tone.start(at);
        tone.stop(at + 0.2);
      }
    },
  };
}

/** Keeps the screen on while `wanted` is true; the system takes the lock whenever the page is hidden. */
export function screenLock(show) {
  const can = "wakeLock" in navigator;
  let lock = null;
  let wanted = false;
  const off = say("Set the phone so that its screen stays on.");
  const tell = () => {
    if (!can) show(`${say("This browser cannot keep the screen on.")} ${off}`);
    else if (lock) show(say("The screen is kept on."));
    else show(wanted ? `${say("The screen could not be kept on.")} ${off}` : say("The screen is kept on while the timer runs."));
  };
  async function hold() {
    if (can && wanted && !lock && !document.hidden) {
      try {
        const made = await navigator.wakeLock.request("screen");
        made.addEventListener("release", () => {
          if (lock === made) lock = null;
          tell();
        });
        lock = made;
      } catch {
        lock = null;
      }
      if (!wanted) lock?.release();
    }
    tell();
  }
  document.addEventListener("visibilitychange", hold);
  tell();
  return {
    want(now) {
      if (now === wanted) return;
      wanted = now;
      if (wanted) hold();
      else if (lock) lock.release();
      else tell();
    },
  };
}
