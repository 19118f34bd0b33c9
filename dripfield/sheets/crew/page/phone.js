// --- the laser -----------------------------------------------------------------------------------

const markInput = byId("mark");
const valueOf = (id, most) => {
  const found = read(byId(id).value, most);
  return found && found.value !== undefined ? found.value : NaN;
};
const heightOfInstrument = () => valueOf("mark") + valueOf("backsight", data.rod);
const markName = () => kept.markName === "turning" ? say("turning_point") : data.mark.name || say("benchmark");

// the rod that a mark's ground should read: a number, or words when it cannot be read
const rodAt = (elevation) => {
  const height = heightOfInstrument();
  if (Number.isFinite(height)) {
    const rod = height - elevation;
    if (rod < -1e-9) return { rod: NaN, words: say("above_laser") };
    if (rod > data.rod + 1e-9) return { rod: NaN, words: say("off_rod") };
    return { rod, words: "" };
  }
  const mark = valueOf("mark");
  if (!Number.isFinite(mark)) return { rod: NaN, words: "" };
  const add = mark - elevation;
  return { rod: NaN, words: say("to_backsight", { sign: add < 0 ? "\u2212" : "+", by: decimal(Math.abs(add)) }) };
};

// what is scrolled to stops below the head
const keepHead = () => {
  const style = document.documentElement.style;
  style.setProperty("--head", `${byId("head").offsetHeight}px`);
};
window.addEventListener("resize", keepHead);

const showLaser = () => {
  for (const id of ["mark", "backsight"]) {
    const input = byId(id);
    const found = input.readOnly ? null : read(input.value, id === "mark" ? undefined : data.rod);
    echo(input, found, "", () => {
      taken(id);
      input.focus();
    });
  }
  const height = heightOfInstrument();
  byId("height").textContent = Number.isFinite(height) ? both(height) : say("not_set");
  byId("laser-now").textContent = Number.isFinite(height) ? say("laser_at", { height: withUnit(height) }) : say("laser_not_set");
  byId("mark-name").textContent = markName();
  const locked = data.mark.elevation !== null && kept.markName === null && markInput.readOnly;
  const value = valueOf("mark");
  const changed = data.mark.elevation !== null && kept.markName === null && Math.abs(value - data.mark.elevation) > 1e-9;
  byId("lock").textContent = data.mark.elevation === null ? say("no_benchmark") : locked && !changed ? say("locked") : "";
  byId("unlock").hidden = data.mark.elevation === null || !markInput.readOnly;
  byId("restart").hidden = data.mark.elevation === null || (kept.markName === null && !changed);
  const warning = byId("changed");
  warning.hidden = !(changed && Number.isFinite(value));
  warning.textContent = warning.hidden ? "" : say("changed", {
    name: markName(), now: withUnit(value), file: withUnit(data.mark.elevation), by: both(value - data.mark.elevation),
  });
};
const showReadings = () => {
  showLaser();
  keepHead();
  showCards();
};

// a field was left: what it says is logged once, and only when it reads as one length
const taken = (id) => {
  const input = byId(id);
  const value = valueOf(id, id === "mark" ? undefined : data.rod);
  const text = input.value.trim();
  if (id === "mark") {
    if (Number.isFinite(value) && text !== kept.mark) enter("benchmark", { name: markName(), text, value });
    if (!Number.isFinite(value) && data.mark.elevation !== null) input.value = kept.mark === null ? input.defaultValue : kept.mark;
    kept.mark = input.value;
    markInput.readOnly = data.mark.elevation !== null;
  } else {
    const last = kept.log.filter((one) => ["backsight", "benchmark", "turn"].includes(one.kind)).pop() || {};
    if (Number.isFinite(value) && (last.kind !== "backsight" || last.text !== text)) enter("backsight", { text, value });
    kept.backsight = text;
  }
  keep();
  showReadings();
};
for (const id of ["mark", "backsight"]) {
  byId(id).addEventListener("input", () => {
    if (id === "backsight") kept.backsight = byId(id).value.trim();
    keep();
    showReadings();
  });
  byId(id).addEventListener("change", () => taken(id));
}
byId("unlock").addEventListener("click", () => {
  markInput.readOnly = false;
  markInput.focus();
  markInput.select();
  showLaser();
});
markInput.addEventListener("blur", () => {
  markInput.readOnly = data.mark.elevation !== null;
  showLaser();
});

const foresight = byId("foresight");
foresight.addEventListener("input", () => echo(foresight, read(foresight.value, data.rod), "", () => foresight.dispatchEvent(new Event("input"))));
byId("turn").addEventListener("click", () => {
  const result = byId("turn-result");
  const height = heightOfInstrument();
  const value = valueOf("foresight", data.rod);
  if (!Number.isFinite(height)) result.textContent = say("turn_first");
  else if (!Number.isFinite(value)) result.textContent = say("turn_read", { rod: both(data.rod) });
  else {
    const elevation = Number(decimal(height - value));
    kept.markName = "turning";
    markInput.value = decimal(elevation);
    kept.mark = markInput.value;
    for (const id of ["backsight", "foresight", "closing"]) {
      byId(id).value = "";
      echo(byId(id), null, "", null);
    }
    kept.backsight = "";
    result.textContent = say("turn_done", { elevation: both(elevation) });
    enter("turn", { text: foresight.value, value: elevation });
    showReadings();
    byId("backsight").focus();
  }
});
byId("restart").addEventListener("click", () => {
  kept.markName = null;
  markInput.value = markInput.defaultValue;
  kept.mark = markInput.value;
  byId("backsight").value = "";
  kept.backsight = "";
  markInput.readOnly = data.mark.elevation !== null;
  enter("benchmark", { name: markName(), text: markInput.value, value: valueOf("mark") });
  showReadings();
  byId("backsight").focus();
});

const closing = byId("closing");
const closed = () => {
  const found = read(closing.value, data.rod);
  const away = found && found.value !== undefined ? Math.abs(found.value - valueOf("backsight", data.rod)) : NaN;
  const words = Number.isFinite(away) ? say(away <= data.close + 1e-9 ? "closes" : "closes_not", { by: both(away) }) : "";
  echo(closing, found, words, closed, away > data.close + 1e-9);
  return found;
};
closing.addEventListener("input", closed);
closing.addEventListener("change", () => {
  const found = closed();
  if (found && found.value !== undefined) enter("closing", { text: closing.value.trim(), value: found.value });
});

// --- the marks of the chosen lateral ---------------------------------------------------------------

const byName = new Map(data.laterals.map((one) => [one.name, one]));
const compass = (from, to) => {
  const turn = Math.atan2(to.easting - from.easting, to.northing - from.northing);
  return say("compass").split(" ")[(Math.round(turn / (Math.PI / 4)) + 8) % 8];
};

const howWords = (mark) => {
  if (mark.how === "instrument") {
    return [say("coordinates", { northing: mark.northing.toFixed(data.places), easting: mark.easting.toFixed(data.places) })];
  }
  if (mark.how === "tape") {
    return mark.tapes.map(([point, length]) => say("tape_from", { point, distance: both(length) }));
  }
  const { first, between } = mark;
  const place = say(between.length > 1 ? "between" : "at_mark", { one: between[0], two: between[1] });
  return [
    say("gap", { gap: both(mark.gap), side: say(mark.side), above: mark.above }),
    say("along", { station: both(mark.station), above: mark.above, first, place }),
  ];
};

// no line ends within a name or a length
const unbroken = (text) => text.replace(/(\S)-(\S)/g, "$1\u2011$2").replace(/(\d'?) (\d|ft\b|m\b)/g, "$1\u00a0$2");

const showRod = (card, mark) => {
  const box = card.querySelector(".expected");
  box.replaceChildren();
  const { rod, words } = rodAt(mark.elevation);
  if (Number.isFinite(rod)) {
    put(box, "span", `${say("rod")} `, "word");
    put(box, "span", decimal(rod), "rod");
    if (!data.metric) put(box, "span", feetInches(rod), "inches");
    put(box, "span", say("band", { low: decimal(Math.max(rod - data.check, 0)), high: decimal(rod + data.check) }), "band");
  } else put(box, "span", words, "off");
};

// what is said of a reading, and whether that is a warning
const verdict = (mark, value, height) => {
  const away = Number(decimal(height - value - mark.elevation, data.places + 2));
  const by = both(Math.abs(away));
  const way = say(away > 0 ? "high" : "low");
  if (Math.abs(away) > data.check + 1e-9) return [say("again", { by, way }), true];
  return [Math.abs(away) < 10 ** -data.places / 2 ? say("exact") : say("holds", { by, way }), false];
};
const showRead = (input, mark) => {
  const found = read(input.value, data.rod);
  let words = "";
  let wrong = false;
  if (found && found.value !== undefined) {
    const own = stateOf(mark.number).read;
    const same = own && own.text === input.value.trim();
    const height = same ? own.height : heightOfInstrument();
    [words, wrong] = Number.isFinite(height) ? verdict(mark, found.value, height) : [say("give_backsight"), true];
  }
  echo(input, found, words, () => takeReading(input, mark), wrong);
  return found;
};
const takeReading = (input, mark) => {
  const found = showRead(input, mark);
  const text = input.value.trim();
  const height = heightOfInstrument();
  const before = stateOf(mark.number).read;
  const event = { lateral: data.laterals[chosen].name, mark: mark.number };
  if (!text && before) enter("unread", event);
  else if (found && found.value !== undefined && Number.isFinite(height) && (!before || before.text !== text)) {
    enter("read", { ...event, text, value: found.value, height });
  }
  showTicks();
};

const setMark = (mark, on) => {
  if (on !== isSet(mark)) enter(on ? "tick" : "untick", { lateral: mark.lateral || data.laterals[chosen].name, mark: mark.number });
};

const field = (parent, id, word, mode) => {
  const label = put(parent, "label", word, "visually-hidden");
  label.htmlFor = id;
  const input = put(parent, "input", "");
  Object.assign(input, { id, placeholder: word, type: "text", autocomplete: "off", spellcheck: false });
  if (mode) input.inputMode = mode;
  return input;
};
const card = (mark, place) => {
  const item = put(byId("cards"), "li", "", `card ${mark.how}`);
  item.dataset.mark = mark.number;
  const top = put(item, "div", "", "top");
  const tick = put(top, "button", "", "tick");
  tick.type = "button";
  put(tick, "span", `${say("set")}: ${say("mark", { number: mark.number })}`, "visually-hidden");
  tick.addEventListener("click", () => {
    setMark(mark, !isSet(mark));
    showTicks();
  });
  const title = put(top, "h3", "");
  put(title, "span", String(mark.number), "number");
  put(title, "span", ` ${say(`how_${mark.how}`)}`, "how");
  put(top, "div", "", "expected");
  const how = put(item, "ul", "", "how-list");
  howWords(mark).forEach((words, i) => (put(how, "li", unbroken(words), i === 0 ? "first" : "").dir = "auto"));
  const fields = put(item, "div", "", "entries");
  const reading = field(fields, `read-${place}`, say("as_read"), data.metric ? "decimal" : "");
  const own = stateOf(mark.number);
  if (own.read) reading.value = own.read.text;
  reading.addEventListener("input", () => showRead(reading, mark));
  reading.addEventListener("change", () => takeReading(reading, mark));
  const note = field(fields, `note-${place}`, say("note"), "");
  note.className = "note";
  note.maxLength = 200;
  if (own.note) note.value = own.note;
  note.addEventListener("change", () => {
    const text = note.value.trim();
    if (text !== (stateOf(mark.number).note || "")) enter("note", { lateral: data.laterals[chosen].name, mark: mark.number, text });
  });
  const heard = put(fields, "div", "", "echo");
  heard.id = `${reading.id}-echo`;
  heard.setAttribute("aria-live", "polite");
  reading.setAttribute("aria-describedby", heard.id);
  showRod(item, mark);
  showRead(reading, mark);
};

const showCards = () => {
  const { marks } = data.laterals[chosen];
  [...byId("cards").children].forEach((item, i) => {
    showRod(item, marks[i]);
    showRead(item.querySelector("input"), marks[i]);
  });
};

// --- choosing and ticking ----------------------------------------------------------------------------

const rows = [...document.querySelectorAll("#laterals tbody tr")];
const showTicks = () => {
  let all = 0;
  data.laterals.forEach((lateral, i) => {
    const count = setIn(lateral);
    all += count;
    rows[i].querySelector(".count").textContent = `${count}/${lateral.marks.length}`;
    lines[i].classList.toggle("staked", count === lateral.marks.length);
  });
  const lateral = data.laterals[chosen];
  byId("count").textContent = say("lateral_head", { done: setIn(lateral), all: lateral.marks.length });
  byId("progress").textContent = say("progress", { done: all, all: allMarks.length });
  [...byId("cards").children].forEach((item, i) => {
    const on = isSet(lateral.marks[i]);
    item.querySelector(".tick").setAttribute("aria-pressed", String(on));
    item.classList.toggle("done", on);
    byId("dots").children[i].classList.toggle("done", on);
  });
};

const drawDots = (lateral) => {
  const make = (tag, attributes) => {
    const one = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
    return one;
  };
  byId("dots").replaceChildren(...lateral.marks.map(({ x, y }) => make("path", { class: "stake", d: `M${x},${y}h0` })));
  byId("numbers").replaceChildren(...lateral.marks.map(({ number, x, y }) => {
    const text = make("text", { class: "name number", "data-places": JSON.stringify([[x, y, 0, -19, "middle"], [x, y, 0, 19, "middle"]]) });
    text.textContent = number;
    return text;
  }));
  const arrow = byId("fall-here");
  arrow.setAttribute("transform", lateral.fall ? `translate(${lateral.fall[0]} ${lateral.fall[1]}) rotate(${lateral.fall[2]})` : "scale(0)");
};

const showLateral = () => {
  const lateral = data.laterals[chosen];
  const { marks } = lateral;
  byId("lateral-name").textContent = lateral.name;
  const how = lateral.guide ? say("guide") : lateral.above.length ? say("from_line", { above: lateral.above.join(", ") }) : say(`by_${marks[0].how}`);
  byId("lateral-how").textContent = how;
  const said = [];
  if (marks.length > 1) said.push(say("first_end", { compass: compass(marks[marks.length - 1], marks[0]) }));
  for (const name of lateral.above) {
    const above = byName.get(name);
    if (setIn(above) < above.marks.length) said.push(say("above_open", { above: name }));
  }
  for (const missed of lateral.misses) said.push(`${lateral.name} ${say(`misses_${missed}`)}.`);
  byId("lateral-said").textContent = said.join(" ");
  byId("cards").replaceChildren();
  marks.forEach(card);
  drawDots(lateral);
};

const choose = (i) => {
  chosen = Math.min(Math.max(i, 0), data.laterals.length - 1);
  const { name } = data.laterals[chosen];
  kept.lateral = name;
  keep();
  rows.forEach((row, k) => {
    row.classList.toggle("chosen", k === chosen);
    row.querySelector(".choose").setAttribute("aria-pressed", String(k === chosen));
  });
  lines.forEach((line, k) => line.classList.toggle("chosen", k === chosen));
  for (const one of svg.querySelectorAll(".name")) one.classList.toggle("chosen", Number(one.dataset.lateral) === chosen);
  byId("previous").disabled = chosen === 0;
  byId("next").disabled = chosen === data.laterals.length - 1;
  showLateral();
  showTicks();
  show();
};

// going on keeps the place on the screen: the plan where it is looked at, else the first mark
const marksSeen = () => byId("marks-title").getBoundingClientRect().top < window.innerHeight * 0.6;
const go = (i) => {
  const seen = marksSeen();
  choose(i);
  if (seen) byId("marks-title").scrollIntoView({ block: "start" });
};
byId("previous").addEventListener("click", () => go(chosen - 1));
byId("next").addEventListener("click", () => go(chosen + 1));
byId("next-unmarked").addEventListener("click", () => {
  const count = data.laterals.length;
  for (let step = 0; step < count; step += 1) {
    const i = (chosen + step) % count;
    const at = data.laterals[i].marks.findIndex((mark) => !isSet(mark));
    if (at >= 0) {
      if (i !== chosen) choose(i);
      byId("cards").children[at].scrollIntoView({ block: "start" });
      byId("cards").children[at].querySelector(".tick").focus({ preventScroll: true });
      return;
    }
  }
});
rows.forEach((row, i) =>
  row.querySelector(".choose").addEventListener("click", () => {
    choose(i);
    byId("marks-title").scrollIntoView({ block: "start" });
  }),
);
byId("all-set").addEventListener("click", () => {
  data.laterals[chosen].marks.forEach((mark) => setMark(mark, true));
  showTicks();
});
byId("clear").addEventListener("click", () => {
  if (!window.confirm(say("clear_sure"))) return;
  enter("clear");
  choose(0);
});

// --- language ------------------------------------------------------------------------------------------

const speak = () => {
  document.documentElement.lang = kept.language;
  for (const one of document.querySelectorAll("[data-say]")) {
    one.textContent = say(one.dataset.say, JSON.parse(one.dataset.values || "{}"));
  }
  for (const one of document.querySelectorAll("[data-label]")) {
    one.setAttribute("aria-label", say(one.dataset.label, JSON.parse(one.dataset.values || "{}")));
  }
  const other = data.languages[(data.languages.indexOf(kept.language) + 1) % data.languages.length];
  byId("language").textContent = data.words.language[other];
  byId("language").lang = other;
  for (const one of document.querySelectorAll("[data-compass]")) {
    const values = JSON.parse(one.dataset.values);
    values.compass = say("compass").split(" ")[Number(one.dataset.compass)];
    one.textContent = say("bench_far", values);
  }
};
byId("language").addEventListener("click", () => {
  kept.language = data.languages[(data.languages.indexOf(kept.language) + 1) % data.languages.length];
  keep();
  speak();
  choose(chosen);
  showReadings();
  showLog();
});

// what is half typed when the phone is put away counts as typed
const leaveField = () => {
  if (document.activeElement) document.activeElement.blur();
};
window.addEventListener("pagehide", leaveField);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden") leaveField();
});

// --- begin -----------------------------------------------------------------------------------------------

if (kept.mark !== null) markInput.value = kept.mark;
if (kept.backsight !== null) byId("backsight").value = kept.backsight;
markInput.readOnly = data.mark.elevation !== null;
speak();
choose(Math.max(0, data.laterals.findIndex((one) => one.name === kept.lateral)));
showReadings();
showLog();
