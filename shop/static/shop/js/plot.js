// Brings a still picture to life. The figure comes as JSON in the page; its colours are names of ours, "var(--ink)" or
// "var(--accent)/20" (percent opacity), looked up here so that light and dark both fit. If anything fails, the still
// picture or the table stays, which is the content anyway.

let library;

function load(source) {
  library ??= new Promise((done, failed) => {
    const script = document.createElement("script");
    script.src = source;
    script.onload = () => done(window.Plotly);
    script.onerror = failed;
    document.head.append(script);
  });
  return library;
}

function colour(name, percent) {
  const value = getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  if (percent === undefined) return value;
  const parts = [1, 3, 5].map((start) => Number.parseInt(value.slice(start, start + 2), 16));
  return `rgba(${parts.join(", ")}, ${percent / 100})`;
}

function inked(part) {
  if (Array.isArray(part)) return part.map(inked);
  if (part && typeof part === "object") return Object.fromEntries(Object.entries(part).map(([key, value]) => [key, inked(value)]));
  const found = typeof part === "string" && part.match(/^var\(--([a-z-]+)\)(?:\/(\d{1,3}))?$/);
  return found ? colour(found[1], found[2]) : part;
}

const axis = () => ({
  gridcolor: colour("rule"), linecolor: colour("ink"), zerolinecolor: colour("edge"), tickcolor: colour("ink"),
  showline: true, ticks: "outside", ticklen: 5, automargin: true, title: { standoff: 12 },
});

function dressed(layout) {
  const ours = {
    paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: colour("sheet"),
    font: { family: getComputedStyle(document.body).fontFamily, size: 14, color: colour("ink") },
    margin: { l: 56, r: 16, t: 16, b: 52 }, hovermode: "closest", autosize: true,
    legend: { orientation: "h", y: 1.02, yanchor: "bottom", x: 0 },
    hoverlabel: { bgcolor: colour("sheet"), bordercolor: colour("ink"), font: { color: colour("ink") } },
  };
  const given = inked(layout ?? {});
  const axes = {};
  for (const name of new Set(["xaxis", "yaxis", ...Object.keys(given).filter((key) => /^[xy]axis\d*$/.test(key))])) {
    axes[name] = { ...axis(), ...given[name] };
  }
  // The figure's own template carries colours of its own; ours replaces it.
  return { ...ours, ...given, ...axes, template: {}, font: { ...ours.font, ...given.font }, transition: { duration: 0 } };
}

function draw(Plotly, box, figure) {
  const config = { displayModeBar: false, displaylogo: false, responsive: true, scrollZoom: false, doubleClick: "reset" };
  return Plotly.react(box, inked(figure.data), dressed(figure.layout), config);
}

async function bringToLife(holder) {
  const box = holder.querySelector(".plot__live");
  try {
    const figure = JSON.parse(document.getElementById(holder.dataset.plot).textContent);
    const Plotly = await load(holder.dataset.plotSource);
    box.hidden = false;
    await draw(Plotly, box, figure);
    holder.querySelector(".plot__still")?.setAttribute("hidden", "");
    holder.querySelector("[data-plot-table]")?.removeAttribute("open");
    // For a page's own script that fills the figure or moves in it.
    holder.plot = { box, figure, redraw: () => draw(Plotly, box, figure) };
    holder.dispatchEvent(new CustomEvent("plot:ready", { bubbles: true }));
    for (const query of ["(prefers-color-scheme: dark)", "print"]) {
      matchMedia(query).addEventListener("change", () => draw(Plotly, box, figure));
    }
  } catch (error) {
    box.hidden = true;
    console.warn("The picture stays still:", error);
  }
}

export function plots(root) {
  const watcher = new IntersectionObserver((entries) => {
    for (const entry of entries.filter((each) => each.isIntersecting)) {
      watcher.unobserve(entry.target);
      bringToLife(entry.target);
    }
  }, { rootMargin: "400px" });
  root.querySelectorAll("[data-plot]:not([data-watched])").forEach((holder) => {
    holder.dataset.watched = "";
    watcher.observe(holder);
  });
}
