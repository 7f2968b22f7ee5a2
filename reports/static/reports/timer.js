// The flight timer on the screen. What runs is kept in this browser by its start instant, so that a reload, a killed tab
// or a sleeping phone finds its place again; the page asks nothing of the network once it is there.

import { clockMoved, clockText, due, lengthText, said, whereAt } from "./timer_schedule.js";
import { screenLock, tones } from "./timer_alert.js";
import { say } from "./timer_words.js";

const CHANGE_SHOWN_MS = 10_000;
const HOUR = 3_600_000;

const box = document.querySelector("[data-timer]");
const part = (name) => box.querySelector(`[data-${name}]`);
const key = `run-in-book:timer:${document.body.dataset.user || "nobody"}:${box.dataset.timer}`;
const offered = box.dataset.schedule ? JSON.parse(box.dataset.schedule) : null;

const write = (element, text) => {
  if (element.textContent !== text) element.textContent = text;
};
const note = (name, text) => {
  write(part(name), text);
  part(name).hidden = !text;
};

function kept() {
  try {
    const state = JSON.parse(localStorage.getItem(key));
    return Number.isFinite(state?.started) && state.schedule?.steps?.length ? state : null;
  } catch {
    return null;
  }
}

function keep() {
  try {
    if (state) localStorage.setItem(key, JSON.stringify({ ...state, seen: Date.now() }));
    else localStorage.removeItem(key);
  } catch {
    note("kept", say("This browser keeps nothing: after a reload the timer begins again."));
  }
}

// state: null before the start; else {schedule, started, paused, seen}, instants by Date.now, `paused` null while it runs.
let state = kept();
let before = null; // elapsed ms at the last look
let look = { wall: Date.now(), steady: performance.now() };
let wasHidden = document.hidden;
let changedAt = -Infinity; // by the steady clock

const sound = tones((text) => write(part("sound"), text));
const screen = screenLock((text) => write(part("awake"), text));
const elapsed = () => (state.paused ?? Date.now()) - state.started;

function announce(event) {
  write(part("said"), said(state.schedule, event, elapsed()));
  if (event === "change" || event === "start") changedAt = performance.now();
  sound.play(event === "end" ? "end" : event === "change" || event === "start" ? "change" : event === 10_000 ? "ten" : "warning");
}

function checkClock() {
  const now = { wall: Date.now(), steady: performance.now() };
  const moved = clockMoved(look, now, wasHidden);
  look = now;
  wasHidden = document.hidden;
  if (!state || moved.kind === "steady") return;
  const seconds = Math.round(Math.abs(moved.by) / 1000);
  const length = seconds < 90 ? say("{count} seconds", { count: seconds }) : lengthText(Math.abs(moved.by));
  if (moved.kind === "slept") {
    note("clock", say("The phone slept, or its clock was set forward meanwhile: {length}. The time shown goes by the phone's clock; compare it with a watch.", { length }));
    return;
  }
  state.started += moved.by;
  if (state.paused !== null) state.paused += moved.by;
  note("clock", moved.by > 0
    ? say("The phone's clock was set forward by {length}. The timer was not moved by it.", { length })
    : say("The phone's clock was set back by {length}. The timer was not moved by it.", { length }));
}

function tick() {
  checkClock();
  if (state && state.paused === null) {
    const now = elapsed();
    const event = before === null ? null : due(state.schedule, before, now);
    before = now;
    if (event !== null) announce(event);
    keep();
  }
  draw();
}

function draw() {
  const schedule = state?.schedule ?? offered;
  box.hidden = !schedule;
  if (!schedule) return;
  const at = whereAt(schedule, state ? elapsed() : 0);
  const runs = Boolean(state) && state.paused === null && !at.done;
  write(part("label"), schedule.label);
  write(part("word"), at.done ? say("The table is over") : runs ? say("Set now") : state ? say("Paused at") : say("At level-off, tap Start and set"));
  write(part("set"), at.done ? say("Done") : at.set);
  write(part("left"), clockText(at.left));
  part("left").classList.toggle("is-long", at.left >= HOUR - 999);
  write(part("next"), at.done ? say("Go on by the POH/AFM.") : at.next ? say("Then {next}", { next: at.next }) : say("Then the table ends"));
  box.querySelector(".timer__face").classList.toggle("is-change", runs && performance.now() - changedAt < CHANGE_SHOWN_MS);
  const paused = Boolean(state) && state.paused !== null;
  for (const [name, shown] of [["start", !state], ["pause", runs], ["resume", paused && !at.done], ["reset", Boolean(state) && !runs]]) {
    box.querySelector(`[data-do=${name}]`).hidden = !shown;
  }
  screen.want(runs);
}

const acts = {
  async start() {
    state = { schedule: offered, started: Date.now(), paused: null };
    before = 0;
    note("clock", "");
    await sound.unlock();
    announce("start");
  },
  pause() {
    state.paused = Date.now();
    write(part("said"), say("Paused."));
  },
  async resume() {
    state.started += Date.now() - state.paused;
    state.paused = null;
    before = elapsed();
    await sound.unlock();
    write(part("said"), say("Going on."));
  },
  reset() {
    state = null;
    before = null;
    changedAt = -Infinity;
    note("clock", "");
    write(part("said"), "");
  },
  async sound() {
    await sound.unlock();
    sound.play("change");
  },
};

const FOLLOWS = { start: "pause", pause: "resume", resume: "pause", reset: "start" };

box.addEventListener("click", async (event) => {
  const name = event.target.closest("[data-do]")?.dataset.do;
  if (!name) return;
  checkClock();
  const waits = acts[name](); // the state has moved; only the sound may still be waking
  keep();
  draw();
  box.querySelector(`[data-do=${FOLLOWS[name] ?? name}]`)?.focus();
  await waits;
});

document.addEventListener("visibilitychange", () => {
  wasHidden ||= document.hidden;
  tick();
});
window.addEventListener("pageshow", tick);

if (state) {
  // The steady clock began anew with this page: a clock that was set back meanwhile shows only where it is behind.
  const back = (state.seen ?? state.started) - Date.now();
  if (back > 2_000) note("clock", say("The phone's clock was set back by {length} or more while this page was closed. Compare the time shown with a watch.", { length: lengthText(back) }));
  const other = offered && JSON.stringify(offered) !== JSON.stringify(state.schedule);
  if (other) note("kept", say("The timer goes on by the minutes it was started with. Back to start takes those of the table below."));
  write(part("said"), say(state.paused === null ? "The timer went on while the page was closed." : "Paused."));
}
document.querySelector("[data-without-script]")?.remove();
tick();
setInterval(tick, 250);
