// The picture of a recorded flight: fetches its lines, finer ones for what is looked at, and shows what the list points
// to. The figure itself comes with the page; without this script the still picture stays, which is the content anyway.

const NARROW = 500; // px
const POINTS = { narrow: 500, wide: 900 };
const PAUSE = 180; // ms without a further move before finer lines are fetched
const LEAST = 60; // s, the closest look

function times(steps, origin) {
  let tenths = 0;
  return steps.map((step) => origin + 100 * (tenths += step));
}

// Low and high of the doubt as one outline for each stretch without a break.
function outline([steps, low, high], origin) {
  const at = times(steps, origin);
  const x = [];
  const y = [];
  for (let start = 0; start < at.length; start += 1) {
    if (low[start] === null) continue;
    let end = start;
    while (end + 1 < at.length && low[end + 1] !== null) end += 1;
    const there = [...Array(end - start + 1).keys()].map((step) => start + step);
    const back = [...there].reverse();
    x.push(...there.map((place) => at[place]), ...back.map((place) => at[place]), at[start], null);
    y.push(...there.map((place) => high[place]), ...back.map((place) => low[place]), high[start], null);
    start = end;
  }
  return { x, y };
}

function reach(traces, from, to) {
  let low = Infinity;
  let high = -Infinity;
  for (const { x, y } of traces) {
    for (let place = 0; place < x.length; place += 1) {
      if (x[place] < from || x[place] > to || y[place] === null) continue;
      low = Math.min(low, y[place]);
      high = Math.max(high, y[place]);
    }
  }
  const spare = 0.06 * (high - low) || 1;
  return high >= low ? [low - spare, high + spare] : null;
}

const moment = (text) => (typeof text === "number" ? text : Date.parse(`${String(text).replace(" ", "T")}Z`));
const axisOf = (trace) => `yaxis${(trace.yaxis ?? "y").slice(1)}`;

class Picture {
  constructor(holder) {
    this.holder = holder;
    this.frame = holder.closest("[data-series]");
    this.section = holder.closest("section");
    this.said = this.frame.querySelector("[data-plot-said]");
    this.origin = Number(this.frame.dataset.origin);
    const { figure } = holder.plot;
    this.whole = figure.layout.xaxis.range.map(moment);
    this.shown = [...this.whole];
    this.rooms = Object.fromEntries(Object.entries(figure.layout).filter(([key]) => key.startsWith("yaxis")).map(([key, axis]) => [key, axis.range]));
    this.styles = new Map(figure.data.map((trace) => [trace, { line: trace.line, zorder: trace.zorder }]));
    if (matchMedia("(pointer: coarse)").matches) figure.layout.dragmode = false; // a finger scrolls the page
    this.listen();
    this.fetch();
  }

  listen() {
    const { box } = this.holder.plot;
    box.on("plotly_relayout", (change) => {
      if (this.drawing) return; // our own drawing is told of as well
      if (change["xaxis.autorange"]) this.show(...this.whole);
      else if (change["xaxis.range[0]"] !== undefined) this.show(moment(change["xaxis.range[0]"]), moment(change["xaxis.range[1]"]));
      else if (change["xaxis.range"]) this.show(...change["xaxis.range"].map(moment));
    });
    box.on("plotly_clickannotation", ({ annotation }) => {
      const item = this.section.querySelector(`[data-pin="${annotation.name?.replace("pin-", "")}"]`);
      item?.scrollIntoView({ block: "center" });
      item?.querySelector("a")?.focus({ preventScroll: true });
    });
    const tools = this.frame.querySelector("[data-plot-tools]");
    tools.hidden = false;
    tools.querySelectorAll("[data-zoom]").forEach((button) => button.addEventListener("click", () => this.zoom(button.dataset.zoom)));
    tools.querySelectorAll("[data-cylinder]").forEach((button) => button.addEventListener("click", () => this.bringForward(button)));
    this.section.querySelectorAll("[data-show]").forEach((link) =>
      link.addEventListener("click", (event) => {
        event.preventDefault();
        this.show(this.origin + 1000 * Number(link.dataset.from), this.origin + 1000 * Number(link.dataset.to));
        this.frame.scrollIntoView({ block: "start" });
      }),
    );
  }

  zoom(way) {
    const [from, to] = this.shown;
    const wide = to - from;
    const moves = { earlier: [-wide / 2, -wide / 2], later: [wide / 2, wide / 2], closer: [wide / 4, -wide / 4], wider: [-wide / 2, wide / 2] };
    if (way === "whole") this.show(...this.whole);
    else this.show(from + moves[way][0], to + moves[way][1]);
  }

  show(from, to) {
    const [first, last] = this.whole;
    const wide = Math.min(Math.max(to - from, 1000 * LEAST), last - first);
    const start = Math.min(Math.max((from + to - wide) / 2, first), last - wide);
    this.shown = [start, start + wide];
    this.draw();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.fetch(), PAUSE);
  }

  get isWhole() {
    return this.shown[0] <= this.whole[0] && this.shown[1] >= this.whole[1];
  }

  // Half a width more on either side, so that the next small step is there already.
  async fetch() {
    this.asking?.abort();
    this.asking = new AbortController();
    const spare = this.isWhole ? 0 : (this.shown[1] - this.shown[0]) / 2;
    const [from, to] = [this.shown[0] - spare, this.shown[1] + spare].map((at) => Math.max(0, (at - this.origin) / 1000));
    const points = this.holder.clientWidth < NARROW ? POINTS.narrow : POINTS.wide;
    const asked = this.isWhole ? `points=${points}` : `from=${from.toFixed(1)}&to=${to.toFixed(1)}&points=${2 * points}`;
    if (asked === this.has) return;
    try {
      const answer = await fetch(`${this.frame.dataset.series}?${asked}`, { signal: this.asking.signal, credentials: "same-origin" });
      if (!answer.ok) throw new Error(`answered ${answer.status}`);
      this.fill(await answer.json());
      this.has = asked;
      this.draw();
    } catch (error) {
      if (error.name !== "AbortError") this.withoutLines(error);
    }
  }

  fill({ lines, rooms }) {
    for (const trace of this.holder.plot.figure.data) {
      const room = trace.uid?.startsWith("room_") && rooms[trace.uid.slice(5)];
      if (room) Object.assign(trace, outline(room, this.origin));
      else if (lines[trace.uid]) Object.assign(trace, { x: times(lines[trace.uid][0], this.origin), y: lines[trace.uid][1] });
    }
    this.filled = true;
  }

  draw() {
    const { figure } = this.holder.plot;
    figure.layout.xaxis.range = this.shown.map((at) => new Date(at).toISOString().replace("T", " ").slice(0, -1));
    for (const [key, room] of Object.entries(this.rooms)) {
      const own = figure.data.filter((trace) => trace.uid && trace.name !== "left out" && axisOf(trace) === key && !trace.uid.startsWith("room_"));
      figure.layout[key].range = (!this.isWhole && this.near(key, reach(own, ...this.shown))) || room;
    }
    this.redraw();
    this.say();
  }

  // The bands of the plan stay in sight, however close one looks.
  near(key, room) {
    if (!room) return null;
    const bands = (this.holder.plot.figure.layout.shapes ?? []).filter((shape) => shape.type === "rect" && shape.yref === key.replace("axis", ""));
    const edges = bands.flatMap((shape) => [shape.y0 - 2, shape.y1 + 2]);
    return [Math.min(room[0], ...edges), Math.max(room[1], ...edges)];
  }

  async redraw() {
    this.drawing = (this.drawing ?? 0) + 1;
    try {
      await this.holder.plot.redraw();
    } finally {
      this.drawing -= 1;
    }
  }

  say(more = "") {
    const clock = (at) => new Date(at).toISOString().slice(11, 16);
    const words = this.frame.dataset;
    const text = this.isWhole ? words.saidWhole : words.saidFrom.replace("{start}", clock(this.shown[0])).replace("{end}", clock(this.shown[1]));
    const strong = this.forward ? words.saidStrong.replace("{number}", this.forward) : "";
    this.said.textContent = [text, strong, more].filter(Boolean).join(" ");
  }

  withoutLines(error) {
    console.warn("No lines:", error);
    if (this.filled) {
      this.say(this.frame.dataset.saidCoarse);
      return;
    }
    this.holder.plot.box.hidden = true;
    this.holder.querySelector(".plot__still")?.removeAttribute("hidden");
    this.frame.querySelector("[data-plot-tools]").hidden = true;
  }

  bringForward(button) {
    const forward = button.getAttribute("aria-pressed") !== "true";
    this.forward = forward ? button.dataset.cylinder : "";
    button.parentElement.querySelectorAll("[data-cylinder]").forEach((each) => each.setAttribute("aria-pressed", String(forward && each === button)));
    for (const [trace, style] of this.styles) {
      const found = trace.uid?.match(/^(?:cht|egt)_\d_(\d+)_/);
      if (!found) continue;
      const strong = found[1] === button.dataset.cylinder;
      Object.assign(trace, forward ? { line: strong ? { color: "var(--ink)", width: 2 } : { color: "var(--edge)", width: 1 }, zorder: strong ? 1 : 0 } : style);
    }
    this.redraw();
    this.say();
  }
}

function start(holder) {
  if (!holder.closest("[data-series]") || holder.dataset.filled !== undefined) return;
  holder.dataset.filled = "";
  new Picture(holder);
}

document.addEventListener("plot:ready", (event) => start(event.target));
document.querySelectorAll("[data-plot]").forEach((holder) => holder.plot && start(holder));
