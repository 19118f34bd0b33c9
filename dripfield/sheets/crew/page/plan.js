// --- the plan: pan, zoom, names that fit, scale bar ----------------------------------------------

const svg = document.querySelector("#plan svg");
const lines = [...svg.querySelectorAll(".lateral")];
const whole = svg.getAttribute("viewBox").split(" ").map(Number);
let view = [...whole];
// the drawing keeps its shape: both directions have the scale of the tighter one
const frame = () => {
  const box = svg.getBoundingClientRect();
  const scale = Math.min(box.width / view[2], box.height / view[3]) || 1;
  return {
    scale,
    left: box.left + (box.width - view[2] * scale) / 2,
    top: box.top + (box.height - view[3] * scale) / 2,
  };
};

const NAME = 16; // pixels
const bed = svg.querySelector(".bed");
// names are taken in turn, the chosen lateral's first, each at the first of its places where it
// hides neither a name before it nor a line
const placeNames = (scale) => {
  const taken = [];
  const roomy = data.spacing * scale > NAME * 1.4;
  const [left, top] = view;
  const [right, bottom] = [view[0] + view[2], view[1] + view[3]];
  // a place is [x, y] in the plan and [dx, dy] on the screen from there, and the text's anchor
  const boxOf = ([x, y, dx, dy, anchor], letters, size) => {
    const width = (Math.min(letters, 24) * size * 0.66 + 4) / scale;
    const start = x + dx / scale - { start: 0, middle: 0.5, end: 1 }[anchor] * width;
    const level = y + dy / scale;
    return [start, level - (0.6 * size) / scale, start + width, level + (0.6 * size) / scale];
  };
  const inBed = ([x0, y0, x1, y1]) =>
    [[x0, y0], [x1, y0], [x0, y1], [x1, y1]].some(([x, y]) => bed.isPointInFill(new DOMPoint(x, y)));
  const kind = (name) => ["chosen", "point", "number", "name"].findIndex((one) => name.classList.contains(one));
  for (const name of [...svg.querySelectorAll(".name")].sort((a, b) => kind(a) - kind(b))) {
    const places = JSON.parse(name.dataset.places);
    const first = kind(name);
    const box = (place) => boxOf(place, name.textContent.length, first === 0 ? 20 : NAME);
    const seen = (place) => {
      const [x0, y0, x1, y1] = box(place);
      return x0 >= left && x1 <= right && y0 >= top && y1 <= bottom;
    };
    const free = (place) => {
      const [x0, y0, x1, y1] = box(place);
      return taken.every((one) => x1 < one[0] || one[2] < x0 || y1 < one[1] || one[3] < y0);
    };
    const shown = places.filter(seen);
    const place =
      shown.find((one) => free(one) && !inBed(box(one))) ||
      (roomy || first === 1 ? shown.find(free) || (first === 1 && shown[0]) : undefined);
    name.classList.toggle("hidden", !place || (first === 2 && !roomy));
    if (!place) continue;
    const [x, y, dx, dy, anchor] = place;
    name.setAttribute("x", x + dx / scale);
    name.setAttribute("y", y + dy / scale);
    name.setAttribute("text-anchor", anchor);
    taken.push(box(place));
  }
};

const showScaleBar = (scale) => {
  const most = 110 / scale;
  const ten = 10 ** Math.floor(Math.log10(most));
  const length = [5, 2, 1].map((one) => one * ten).find((one) => one <= most);
  byId("bar").style.width = `${(length * scale).toFixed(1)}px`;
  byId("bar-length").textContent = `${Number(length.toPrecision(6))} ${data.unit}`;
};

const show = () => {
  svg.setAttribute("viewBox", view.join(" "));
  const { scale } = frame();
  svg.style.setProperty("--pixel", String(1 / scale));
  placeNames(scale);
  showScaleBar(scale);
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

const paths = lines.map((line) =>
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
const HIT = 22; // pixels to either side of a line: a target of 44
const tap = (x, y) => {
  const place = toPlan(x, y);
  const far = paths.map((path) => distance(place, path));
  const nearest = far.indexOf(Math.min(...far));
  if (far[nearest] * frame().scale <= HIT) choose(nearest);
};
const zoomToChosen = () => {
  const xs = paths[chosen].map(([x]) => x);
  const ys = paths[chosen].map(([, y]) => y);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const share = Math.max((x1 - x0) / whole[2], (y1 - y0) / whole[3], 1 / 60) * 1.15;
  const [width, height] = [whole[2] * share, whole[3] * share];
  view = [(x0 + x1 - width) / 2, (y0 + y1 - height) / 2, width, height];
  show();
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
  const after = [event.clientX, event.clientY];
  if (fingers.size === 1) {
    moved += Math.hypot(after[0] - before[0], after[1] - before[1]);
    if (moved > 12) pan(after[0] - before[0], after[1] - before[1]);
  } else if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
    const [old, gap] = [before, after].map((p) => Math.hypot(p[0] - other[0], p[1] - other[1]));
    if (old > 0 && gap > 0) zoom(gap / old, (after[0] + other[0]) / 2, (after[1] + other[1]) / 2);
    pan((after[0] - before[0]) / 2, (after[1] - before[1]) / 2);
  }
  fingers.set(event.pointerId, after);
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
byId("zoom-lateral").addEventListener("click", zoomToChosen);
byId("zoom-all").addEventListener("click", () => {
  view = [...whole];
  show();
});
window.addEventListener("resize", show);
window.addEventListener("beforeprint", () => {
  byId("cautions").open = true;
  byId("zoom-all").click();
});
