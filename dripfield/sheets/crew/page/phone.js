"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const rows = [...document.querySelectorAll("#laterals tbody tr")];
  const lines = [...document.querySelectorAll("#plan .lateral")];
  const svg = document.querySelector("#plan svg");
  let chosen = -1;

  // --- numbers ---------------------------------------------------------------------------------

  // "5.36", "5,36", "5' 4 3/8\"", "5-4-3/8" or "5 4 3/8" as a length; NaN when it is none of these
  const parse = (text) => {
    const plain = text.trim().replace(/[\u2032\u2019]/g, "'").replace(/[\u2033\u201d]/g, '"').replace(/[\u2212\u2013]/g, "-");
    if (/^[-+]?(\d+([.,]\d*)?|[.,]\d+)$/.test(plain)) return Number(plain.replace(",", "."));
    if (data.metric) return NaN;
    const parts = /^([-+]?)(\d+)\s*(?:'|\s|-)\s*-?\s*(?:(\d+(?:\.\d+)?)(?!\s*\/))?(?:[\s-]*(\d+)\/(\d+))?\s*"?$/.exec(plain);
    if (!parts) return NaN;
    const inches = Number(parts[3] || 0) + (parts[4] ? Number(parts[4]) / Number(parts[5]) : 0);
    if (!(inches < 12)) return NaN;
    return (parts[1] === "-" ? -1 : 1) * (Number(parts[2]) + inches / 12);
  };

  const decimal = (value) => {
    const places = 10 ** data.places;
    const rounded = Math.round((value + Math.sign(value) * 1e-9) * places) / places;
    return (rounded === 0 ? 0 : rounded).toFixed(data.places);
  };

  const FRACTIONS = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"];
  const feetInches = (value) => {
    const eighths = Math.floor(Math.abs(value) * 96 + 0.5 + 1e-9);
    const rest = eighths % 96;
    const fraction = FRACTIONS[rest % 8];
    const sign = value < 0 && eighths ? "-" : "";
    return `${sign}${Math.floor(eighths / 96)}'-${Math.floor(rest / 8)}${fraction ? " " : ""}${fraction}"`;
  };

  const both = (value) =>
    data.metric ? `${decimal(value)} m` : `${decimal(value)} ft  ${feetInches(value)}`;

  // --- what is kept on this phone --------------------------------------------------------------

  let kept = { done: [], mark: null, markName: null, backsight: null };
  let storage = null;
  try {
    storage = window.localStorage;
    storage.setItem(`${data.key}?`, "");
    storage.removeItem(`${data.key}?`);
    kept = { ...kept, ...JSON.parse(storage.getItem(data.key) || "{}") };
    if (!Array.isArray(kept.done)) kept.done = [];
  } catch {
    storage = null;
    byId("no-storage").hidden = false;
  }
  const done = new Set(kept.done.filter((name) => data.laterals.some((one) => one.name === name)));
  const keep = () => {
    if (!storage) return;
    kept.done = [...done];
    try {
      storage.setItem(data.key, JSON.stringify(kept));
    } catch {
      byId("no-storage").hidden = false;
    }
  };

  // --- the laser -------------------------------------------------------------------------------

  const value = (id, most) => {
    const input = byId(id);
    const found = parse(input.value);
    const usable = Number.isFinite(found) && (most === undefined || (found >= 0 && found <= most));
    if (input.value.trim() && !usable) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
    return usable ? found : NaN;
  };
  const heightOfInstrument = () => value("mark") + value("backsight", data.rod);

  // the reading of one lateral: a number, or words when it cannot be read
  const reading = (lateral, height) => {
    if (Number.isFinite(height)) {
      const rod = height - lateral.elevation;
      if (rod < -1e-9) return { rod: NaN, words: "above the laser: move it up" };
      if (rod > data.rod + 1e-9) return { rod: NaN, words: "off the rod: move the laser down" };
      return { rod, words: "" };
    }
    const mark = value("mark");
    if (!Number.isFinite(mark)) return { rod: NaN, words: "" };
    const add = mark - lateral.elevation;
    return { rod: NaN, words: `backsight ${add < 0 ? "\u2212" : "+"} ${decimal(Math.abs(add))}` };
  };

  const put = (parent, tag, text, name) => {
    const child = document.createElement(tag);
    child.textContent = text;
    if (name) child.className = name;
    parent.append(child);
    return child;
  };

  const showReadings = () => {
    const height = heightOfInstrument();
    byId("height").textContent = Number.isFinite(height) ? both(height) : "not set";
    data.laterals.forEach((lateral, i) => {
      const cell = rows[i].querySelector(".reading");
      const { rod, words } = reading(lateral, height);
      cell.replaceChildren();
      if (Number.isFinite(rod)) {
        put(cell, "span", decimal(rod), "rod");
        if (!data.metric) put(cell, "span", feetInches(rod), "inches");
      } else put(cell, "span", words, "off");
    });
    showChosen();
  };

  const name = (text) => {
    byId("mark-name").textContent = text;
  };

  byId("turn").addEventListener("click", () => {
    const result = byId("turn-result");
    const height = heightOfInstrument();
    const foresight = value("foresight", data.rod);
    if (!Number.isFinite(height)) result.textContent = "First give the mark's elevation and the backsight read on it.";
    else if (!Number.isFinite(foresight)) result.textContent = `Give the rod read on the turning point, 0 to ${both(data.rod)}.`;
    else {
      const elevation = Number(decimal(height - foresight));
      kept.markName = "the turning point";
      name(kept.markName);
      byId("mark").value = decimal(elevation);
      byId("backsight").value = "";
      byId("foresight").value = "";
      result.textContent = `Turning point at ${both(elevation)}. Move the laser, read this point again, and type that as the backsight.`;
      entered();
      byId("backsight").focus();
    }
  });

  const entered = () => {
    kept.mark = byId("mark").value;
    kept.backsight = byId("backsight").value;
    keep();
    showReadings();
  };
  byId("mark").addEventListener("input", entered);
  byId("backsight").addEventListener("input", entered);
  const restart = byId("restart");
  if (restart) {
    restart.addEventListener("click", () => {
      kept.markName = null;
      name(data.markName);
      byId("mark").value = byId("mark").defaultValue;
      byId("backsight").value = "";
      entered();
      byId("backsight").focus();
    });
  }

  // --- choosing and ticking --------------------------------------------------------------------

  const showChosen = () => {
    if (chosen < 0) return;
    const lateral = data.laterals[chosen];
    const { rod, words } = reading(lateral, heightOfInstrument());
    const box = byId("chosen");
    box.replaceChildren();
    const title = put(box, "p", "");
    put(title, "bdi", lateral.name);
    title.append(Number.isFinite(rod) ? ": rod" : words ? `: ${words}` : ": no benchmark or backsight yet");
    if (Number.isFinite(rod)) {
      put(box, "p", both(rod), "big");
      put(box, "p", `allowed ${both(Math.max(rod - data.tolerance, 0))} to ${both(rod + data.tolerance)}`);
    }
    const list = put(box, "dl", "");
    for (const [term, text] of lateral.facts) {
      put(list, "dt", term);
      put(list, "dd", text).dir = "auto";
    }
    const tick = byId("tick-chosen");
    tick.hidden = false;
    tick.setAttribute("aria-pressed", String(done.has(lateral.name)));
    tick.textContent = done.has(lateral.name) ? "Staked (tap to undo)" : "Mark as staked";
  };

  const choose = (i) => {
    chosen = i;
    rows.forEach((row, k) => row.classList.toggle("chosen", k === i));
    lines.forEach((line, k) => line.classList.toggle("chosen", k === i));
    rows.forEach((row, k) => row.querySelector(".choose").setAttribute("aria-pressed", String(k === i)));
    showChosen();
  };

  const showTicks = () => {
    data.laterals.forEach((lateral, i) => {
      const is = done.has(lateral.name);
      rows[i].querySelector(".tick").setAttribute("aria-pressed", String(is));
      lines[i].classList.toggle("staked", is);
    });
    byId("progress").textContent = `${done.size} of ${data.laterals.length} laterals staked.`;
    showChosen();
  };

  const tick = (i) => {
    const lateral = data.laterals[i].name;
    if (!done.delete(lateral)) done.add(lateral);
    keep();
    showTicks();
  };

  rows.forEach((row, i) => {
    row.querySelector(".tick").addEventListener("click", () => tick(i));
    row.querySelector(".choose").addEventListener("click", () => {
      choose(i);
      byId("plan-title").scrollIntoView({ block: "start" });
    });
  });
  byId("tick-chosen").addEventListener("click", () => tick(chosen));
  byId("clear").addEventListener("click", () => {
    if (!window.confirm("Clear every tick on this phone?")) return;
    done.clear();
    keep();
    showTicks();
  });

  // --- pan and zoom ----------------------------------------------------------------------------

  const whole = svg.getAttribute("viewBox").split(" ").map(Number);
  let view = [...whole];
  // the drawing keeps its shape: both directions have the scale of the tighter one
  const frame = () => {
    const box = svg.getBoundingClientRect();
    const scale = Math.min(box.width / view[2], box.height / view[3]);
    return {
      scale,
      left: box.left + (box.width - view[2] * scale) / 2,
      top: box.top + (box.height - view[3] * scale) / 2,
    };
  };
  // names and stakes are drawn from the scale on at which a name can be read
  const show = () => {
    svg.setAttribute("viewBox", view.join(" "));
    svg.classList.toggle("small-scale", frame().scale * data.nameSize < 7);
  };
  const toPlan = (x, y) => {
    const f = frame();
    return [view[0] + (x - f.left) / f.scale, view[1] + (y - f.top) / f.scale];
  };
  const zoom = (factor, x, y) => {
    const size = Math.min(Math.max(view[2] / factor, whole[2] / 60), whole[2] * 1.5);
    const change = size / view[2];
    const [px, py] = toPlan(x, y);
    view = [px - (px - view[0]) * change, py - (py - view[1]) * change, size, view[3] * change];
    show();
  };
  const middle = () => {
    const box = svg.getBoundingClientRect();
    return [box.left + box.width / 2, box.top + box.height / 2];
  };
  const pan = (dx, dy) => {
    const { scale } = frame();
    view[0] -= dx / scale;
    view[1] -= dy / scale;
    show();
  };

  const points = lines.map((line) =>
    line.getAttribute("points").split(" ").map((pair) => pair.split(",").map(Number)),
  );
  const distance = ([x, y], path) => {
    let least = Infinity;
    for (let i = 1; i < path.length; i += 1) {
      const [ax, ay] = path[i - 1];
      const [bx, by] = path[i];
      const [ux, uy] = [bx - ax, by - ay];
      const size = ux * ux + uy * uy;
      const t = size ? Math.min(1, Math.max(0, ((x - ax) * ux + (y - ay) * uy) / size)) : 0;
      least = Math.min(least, Math.hypot(x - ax - t * ux, y - ay - t * uy));
    }
    return least;
  };
  const tap = (x, y) => {
    const place = toPlan(x, y);
    const far = points.map((path) => distance(place, path));
    const nearest = far.indexOf(Math.min(...far));
    if (far[nearest] * frame().scale <= 32) choose(nearest);
  };

  const fingers = new Map();
  let moved = 0;
  svg.addEventListener("pointerdown", (event) => {
    svg.setPointerCapture(event.pointerId);
    if (!fingers.size) moved = 0;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (fingers.size > 1) moved = Infinity;
  });
  svg.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    if (fingers.size === 1) {
      moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
      if (moved > 12) pan(now[0] - before[0], now[1] - before[1]);
    } else if (fingers.size === 2) {
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
      const [old, gap] = [before, now].map((p) => Math.hypot(p[0] - other[0], p[1] - other[1]));
      if (old > 0 && gap > 0) zoom(gap / old, (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
      pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    }
    fingers.set(event.pointerId, now);
  });
  const lift = (event) => {
    if (!fingers.delete(event.pointerId)) return;
    if (event.type === "pointerup" && !fingers.size && moved <= 12) tap(event.clientX, event.clientY);
  };
  svg.addEventListener("pointerup", lift);
  svg.addEventListener("pointercancel", lift);
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey && document.activeElement !== svg) return;
    event.preventDefault();
    zoom(event.deltaY < 0 ? 1.25 : 0.8, event.clientX, event.clientY);
  }, { passive: false });
  svg.addEventListener("keydown", (event) => {
    const moves = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
    if (event.key in moves) pan(...moves[event.key]);
    else if (event.key === "+" || event.key === "=") zoom(1.5, ...middle());
    else if (event.key === "-") zoom(1 / 1.5, ...middle());
    else if (event.key === "0" || event.key === "Home") byId("zoom-all").click();
    else return;
    event.preventDefault();
  });
  byId("zoom-in").addEventListener("click", () => zoom(1.5, ...middle()));
  byId("zoom-out").addEventListener("click", () => zoom(1 / 1.5, ...middle()));
  byId("zoom-all").addEventListener("click", () => {
    view = [...whole];
    show();
  });
  window.addEventListener("resize", show);
  window.addEventListener("beforeprint", () => byId("zoom-all").click());

  // --- begin -----------------------------------------------------------------------------------

  if (kept.mark !== null) byId("mark").value = kept.mark;
  if (kept.backsight !== null) byId("backsight").value = kept.backsight;
  if (kept.markName !== null) name(kept.markName);
  showReadings();
  showTicks();
  show();
})();
