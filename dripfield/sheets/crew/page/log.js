// --- what is kept on this phone: the log, from which everything else follows ---------------------

let storage = null;
const LOGGED = ["tick", "untick", "read", "unread", "note", "backsight", "benchmark", "turn", "closing", "clear"];
try {
  storage = window.localStorage;
  storage.setItem(`${data.key}?`, "");
  storage.removeItem(`${data.key}?`);
  const found = JSON.parse(storage.getItem(data.key) || "{}");
  if (found !== null && typeof found === "object") {
    for (const name of ["lateral", "mark", "markName", "backsight"]) {
      if (typeof found[name] === "string") kept[name] = found[name];
    }
    if (data.languages.includes(found.language)) kept.language = found.language;
    if (Array.isArray(found.log)) {
      kept.log = found.log.filter((one) => one !== null && typeof one === "object" && LOGGED.includes(one.kind));
    }
  }
} catch {
  storage = null;
  byId("no-storage").hidden = false;
}
const keep = () => {
  if (!storage) return;
  try {
    storage.setItem(data.key, JSON.stringify(kept));
  } catch {
    byId("no-storage").hidden = false;
  }
};

const allMarks = data.laterals.flatMap((lateral) => lateral.marks.map((mark) => ({ ...mark, lateral: lateral.name })));
const known = new Set(allMarks.map((mark) => mark.number));
const state = new Map(); // of each mark: {set, read, note}, with the times
const stateOf = (number) => state.get(number) || {};
const apply = (event) => {
  if (event.kind === "clear") state.clear();
  if (!known.has(event.mark)) return;
  const one = { ...stateOf(event.mark) };
  if (event.kind === "tick") one.set = event.time;
  if (event.kind === "untick") delete one.set;
  if (event.kind === "read" && Number.isFinite(event.value) && Number.isFinite(event.height)) one.read = event;
  if (event.kind === "unread") delete one.read;
  if (event.kind === "note") one.note = String(event.text);
  state.set(event.mark, one);
};
kept.log.forEach(apply);

// the time as the phone's clock shows it, with its distance from universal time
const now = () => {
  const at = new Date();
  const two = (value) => String(Math.floor(Math.abs(value))).padStart(2, "0");
  const away = -at.getTimezoneOffset();
  const local = new Date(at.getTime() + away * 60000).toISOString().slice(0, 19);
  return `${local}${away < 0 ? "-" : "+"}${two(away / 60)}:${two(away % 60)}`;
};
const enter = (kind, values = {}) => {
  const event = { time: now(), kind, ...values };
  kept.log.push(event);
  apply(event);
  keep();
  showLog();
};

const isSet = (mark) => Boolean(stateOf(mark.number).set);
const setIn = (lateral) => lateral.marks.filter(isSet).length;

// --- the log on the page, and in files ------------------------------------------------------------

const sentence = (event) => {
  const number = Number.isFinite(event.value) ? both(event.value) : "";
  const text = event.text === undefined ? "" : event.text;
  return say(`log_${event.kind}`, { text, value: number, name: event.name });
};
const showLog = () => {
  const list = byId("log");
  list.replaceChildren();
  byId("log-count").textContent = kept.log.length ? say("log_count", { count: kept.log.length }) : say("log_empty");
  for (const event of kept.log.slice(-12).reverse()) {
    const item = put(list, "li", `${String(event.time).slice(5, 16).replace("T", " ")}  `);
    if (event.mark !== undefined) put(item, "b", `${event.lateral} ${event.mark} `);
    put(item, "bdi", sentence(event));
  }
};

const cell = (text) => (/[",\r\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text);
const oneLine = (text) => text.replace(/[\s\u0000-\u001f\u007f,;"]+/g, " ").trim();
// point, northing, easting, elevation, description: the description begins with the lateral's name
const csv = () => {
  const rows = ["point,northing,easting,elevation,description"];
  for (const mark of allMarks) {
    const { set, read: reading, note } = stateOf(mark.number);
    if (!set && !reading) continue;
    const said = [`${mark.lateral} place as printed`];
    if (reading) said.push(`rod ${decimal(reading.value)} with the laser at ${decimal(reading.height)} read ${reading.time}`);
    if (set) said.push(`set ${set}`);
    if (note) said.push(`note: ${oneLine(note)}`);
    const elevation = reading ? decimal(reading.height - reading.value, data.places + 1) : "";
    rows.push([String(mark.number), mark.northing.toFixed(4), mark.easting.toFixed(4), elevation, said.join("; ")].map(cell).join(","));
  }
  return `${rows.join("\r\n")}\r\n`;
};
const wholeLog = () =>
  JSON.stringify({ site: data.site, unit: data.unit, layout: data.key, benchmark: data.mark, saved: now(), log: kept.log }, null, 1);

const download = (name, kind, text) => {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: kind }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
};
const fileName = (ending) => {
  const site = data.site.normalize("NFKD").replace(/[^A-Za-z0-9]+/g, "_").replace(/^_|_$/g, "").slice(0, 40);
  return `${site || "site"}_marks_${now().slice(0, 16).replace(/[-:T]/g, "")}.${ending}`;
};
byId("save-csv").addEventListener("click", () => download(fileName("csv"), "text/csv", csv()));
byId("save-json").addEventListener("click", () => download(fileName("json"), "application/json", wholeLog()));
byId("show-csv").addEventListener("click", () => {
  const box = byId("csv");
  box.value = csv();
  box.hidden = false;
  box.focus();
  box.select();
});
