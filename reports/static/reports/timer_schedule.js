// The schedule of the flight timer, without screen or clock. Steps are [minutes, what to set]; times are in ms.

import { say } from "./timer_words.js";

const MINUTE = 60_000;
const WARNINGS = [MINUTE, 10_000];
const JUMP_MS = 2_000; // a clock that was set; less is the grain of the two clocks

/** Segments [{set, from, to}] of one round, in ms from its beginning. */
export function segments(steps) {
  let at = 0;
  return steps.map(([minutes, set]) => {
    const from = at;
    at += minutes * MINUTE;
    return { set, from, to: at };
  });
}

/**
 * Where a schedule is, `elapsed` ms after its start. `done` after its last segment, unless it repeats.
 * `index` counts on over the rounds; `next` is what comes after, null where nothing does.
 */
export function whereAt({ steps, repeats }, elapsed) {
  const rows = segments(steps);
  const length = rows.at(-1).to;
  const at = Math.max(0, elapsed);
  if (!repeats && at >= length) return { done: true, index: rows.length, set: "", left: 0, length: 0, next: null };
  const round = repeats ? Math.floor(at / length) : 0;
  const within = at - round * length;
  const place = rows.findIndex((row) => within < row.to);
  const row = rows[place];
  const next = rows[place + 1] ?? (repeats ? rows[0] : null);
  return {
    done: false,
    index: round * rows.length + place,
    set: row.set,
    left: row.to - within,
    length: row.to - row.from,
    next: next ? next.set : null,
  };
}

/** What falls due after `before` and up to `now` [ms from the start]: "change", "end", a warning in ms, or null.
 *
 * Only what still holds: after a gap the change is said, not the warnings that it overtook.
 */
export function due(schedule, before, now) {
  const was = whereAt(schedule, before);
  const is = whereAt(schedule, now);
  if (was.done) return null;
  if (is.done) return "end";
  if (is.index !== was.index) return "change";
  for (const warning of [...WARNINGS].reverse()) {
    if (is.length > warning && is.left <= warning && was.left > warning) return warning;
  }
  return null;
}

/** "3:05" of what is left, rounded up, so that 0:00 is the change itself; hours as "1:00:00". */
export function clockText(ms) {
  const seconds = Math.ceil(Math.max(0, ms) / 1000);
  const [hours, minutes] = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60];
  const tail = String(seconds % 60).padStart(2, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${tail}` : `${minutes}:${tail}`;
}

/** "15 minutes", "1 hour 5 minutes" of a length. */
export function lengthText(ms) {
  const whole = Math.round(ms / MINUTE);
  const [hours, minutes] = [Math.floor(whole / 60), whole % 60];
  const parts = [
    hours === 1 ? say("1 hour") : hours ? say("{count} hours", { count: hours }) : "",
    minutes === 1 ? say("1 minute") : minutes ? say("{count} minutes", { count: minutes }) : "",
  ];
  return parts.filter(Boolean).join(" ") || say("less than a minute");
}

/** The words of an announcement. */
export function said(schedule, event, elapsed) {
  const now = whereAt(schedule, elapsed);
  if (event === "end") return say("The minutes of the table are over.");
  if (event === "change" || event === "start") return say("Now: {set}, for {length}.", { set: now.set, length: lengthText(now.length) });
  const time = event === MINUTE ? say("1 minute") : say("{count} seconds", { count: event / 1000 });
  if (!now.next) return say("In {time}: the table ends.", { time });
  return say("In {time}: {next}. Change the power slowly.", { time, next: now.next });
}

/**
 * Whether the wall clock ran beside the steady one between two looks {wall, steady} [ms].
 *
 * by : how far the wall clock moved beyond the steady one [ms].
 * kind : "steady"; "slept" where the page was hidden meanwhile and the wall clock is ahead, for a sleeping phone may
 *        stop the steady clock; "set" where somebody or the network set it.
 */
export function clockMoved(before, now, hidden) {
  const by = now.wall - before.wall - (now.steady - before.steady);
  if (Math.abs(by) < JUMP_MS) return { kind: "steady", by: 0 };
  return { kind: by > 0 && hidden ? "slept" : "set", by };
}
