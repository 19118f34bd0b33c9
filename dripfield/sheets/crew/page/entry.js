// --- lengths as people write them ---------------------------------------------------------------

const say = (key, values = {}) =>
  data.words[key][kept.language].replace(/\{([a-z_]+)\}/g, (_, name) => String(values[name]));

const decimal = (value, places = data.places) => {
  const scale = 10 ** places;
  const rounded = Math.round((value + Math.sign(value) * 1e-9) * scale) / scale;
  return (rounded === 0 ? 0 : rounded).toFixed(places);
};

const FRACTIONS = ["", "1/8", "1/4", "3/8", "1/2", "5/8", "3/4", "7/8"];
const feetInches = (value) => {
  const eighths = Math.floor(Math.abs(value) * 96 + 0.5 + 1e-9);
  const rest = eighths % 96;
  const fraction = FRACTIONS[rest % 8];
  const sign = value < 0 && eighths ? "-" : "";
  return `${sign}${Math.floor(eighths / 96)}'-${Math.floor(rest / 8)}${fraction ? " " : ""}${fraction}"`;
};

const withUnit = (value) => `${decimal(value)} ${data.unit}`;
const both = (value) => (data.metric ? withUnit(value) : `${withUnit(value)} (${feetInches(value)})`);

const VULGAR = { "\u00bd": "1/2", "\u00bc": "1/4", "\u00be": "3/4", "\u215b": "1/8", "\u215c": "3/8", "\u215d": "5/8", "\u215e": "7/8" };
const plain = (text) =>
  text
    .replace(/[\u00bc-\u00be\u215b-\u215e]/g, (one) => ` ${VULGAR[one]}`)
    .replace(/[\u2032\u2019\u2018\u00b4`]/g, "'")
    .replace(/[\u2033\u201d\u201c]|''/g, '"')
    .replace(/[\u2212\u2013\u2014]/g, "-")
    .replace(/\u2044/g, "/")
    .replace(/\s+/g, " ")
    .trim()
    .toLowerCase()
    .replace(/^([-+]?\d*),(\d+)/, "$1.$2");

const NUMBER = "(?:\\d+(?:\\.\\d*)?|\\.\\d+)";
const FRACTION = "\\d+ ?/ ?\\d+";
const INCHES = `(?:\\d+[ -]+${FRACTION}|${FRACTION}|${NUMBER})`;
const FOOT = "(?:'|ft\\.?|feet|foot|pies?)";
const INCH = '(?:"|in\\.?|inch(?:es)?|pulg\\.?|pulgadas?)';
const form = (text) => new RegExp(`^${text}$`);
const FORMS = {
  number: form(`(${NUMBER})`),
  feet: form(`(${NUMBER}) ?${FOOT}`),
  feetInches: form(`(\\d+) ?${FOOT}[ -]*(${INCHES}) ?${INCH}?`),
  inches: form(`(${INCHES}) ?${INCH}`),
  bareThree: form(`(\\d+)[ -]+(\\d+[ -]+${FRACTION}) ?${INCH}?`),
  bareTwo: form(`(\\d+)[ -]+(${NUMBER}) ?${INCH}?`),
  bareFraction: form(`(\\d+)[ -]+(${FRACTION})`),
  fraction: form(`(${FRACTION})`),
  metric: form(`(${NUMBER}) ?(m|cm|mm|met(?:re|er)s?|metros?)`),
};

// a fraction as a rod or tape shows it; NaN for any other
const share = (text) => {
  const [top, bottom] = text.split("/").map(Number);
  return [2, 4, 8, 16, 32, 64].includes(bottom) && top < bottom ? top / bottom : NaN;
};
// "4", "4.5", "3/8" or "4 3/8" as a number; NaN for a fraction that is none
const inchesOf = (text) => {
  const found = /^(?:(\d+)[ -]+)?(\d+ ?\/ ?\d+)$/.exec(text);
  return found ? Number(found[1] || 0) + share(found[2]) : Number(text);
};

const readFeet = (text, refuse) => {
  let found;
  if ((found = FORMS.number.exec(text) || FORMS.feet.exec(text))) return { value: Number(found[1]) };
  if (FORMS.metric.test(text)) return refuse("feet_site");
  if ((found = FORMS.inches.exec(text))) {
    const inches = inchesOf(found[1]);
    return Number.isNaN(inches) ? refuse("no_fraction") : { value: inches / 12 };
  }
  if ((found = FORMS.feetInches.exec(text) || FORMS.bareThree.exec(text) || FORMS.bareTwo.exec(text))) {
    const inches = inchesOf(found[2]);
    if (Number.isNaN(inches)) return refuse("no_fraction");
    return inches < 12 ? { value: Number(found[1]) + inches / 12 } : refuse("inches_over");
  }
  if ((found = FORMS.bareFraction.exec(text) || FORMS.fraction.exec(text))) {
    const [whole, part] = found.length > 2 ? [Number(found[1]), found[2]] : [0, found[1]];
    const rest = share(part);
    if (Number.isNaN(rest)) return refuse("no_fraction");
    const choices = [{ words: `${text} ${say("inches")}`, text: `${text} in`, value: (whole + rest) / 12 }];
    const foot = `${whole}'-0 ${part}"`;
    if (whole) choices.push({ words: foot, text: foot, value: whole + rest / 12 });
    choices.push({ words: `${text} ft`, text: `${whole + rest} ft`, value: whole + rest });
    return { choices };
  }
  return refuse("no_length");
};

const METRIC = { m: 1, c: 0.01 };
const readMetres = (text, refuse) => {
  let found;
  if ((found = FORMS.number.exec(text))) return { value: Number(found[1]) };
  if ((found = FORMS.metric.exec(text))) {
    return { value: Number(found[1]) * (found[2] === "mm" ? 0.001 : METRIC[found[2][0]]) };
  }
  const feet = Object.values(FORMS).some((one) => one.test(text));
  return refuse(feet ? "metre_site" : "no_length");
};

// {value}, or {choices} that a person must choose from, or {refusal} in a sentence; null when empty
const read = (typed, most = Infinity) => {
  let text = plain(typed);
  if (!text) return null;
  const shown = typed.trim();
  const help = say(data.metric ? "help_metres" : "help_feet");
  const refuse = (key) => ({ refusal: say(key, { text: shown, help }) });
  const sign = /^-/.test(text) ? -1 : 1;
  text = text.replace(/^[-+] ?/, "");
  const found = (data.metric ? readMetres : readFeet)(text, refuse);
  if (found.refusal) return found;
  if (sign < 0) {
    if (most < Infinity) return refuse("negative");
    return found.choices ? refuse("no_length") : { value: -found.value };
  }
  const fits = (value) => value <= most + 1e-9;
  if (found.choices) {
    const choices = found.choices.filter((one) => fits(one.value));
    if (choices.length > 1) return { choices };
    if (choices.length === 1) return { value: choices[0].value };
    return { refusal: say("beyond_rod", { value: shown, rod: both(most) }) };
  }
  if (fits(found.value)) return found;
  const closer = found.value / (data.metric ? 1000 : 100);
  const meant = Number.isInteger(found.value) && fits(closer) ? ` ${say("did_you_mean", { value: decimal(closer) })}` : "";
  return { refusal: say("beyond_rod", { value: withUnit(found.value), rod: both(most) }) + meant };
};

const put = (parent, tag, text, name) => {
  const child = document.createElement(tag);
  child.textContent = text;
  if (name) child.className = name;
  parent.append(child);
  return child;
};

// show under a field how it was read, and words on it that may warn; `done` is called once a choice
// is taken
const echo = (input, found, words, done, wrong = false) => {
  const box = byId(`${input.id}-echo`);
  const bad = Boolean(found && found.refusal);
  if (bad) input.setAttribute("aria-invalid", "true");
  else input.removeAttribute("aria-invalid");
  // a button that a finger is on must not be made anew when its field is left
  const shows = JSON.stringify([found, words, wrong, kept.language]);
  if (box.dataset.shows === shows) return;
  box.dataset.shows = shows;
  box.replaceChildren();
  if (!found) return;
  if (bad) put(box, "span", found.refusal, "refusal");
  else if (found.choices) {
    const choices = found.choices.map((one) => one.words).join(` ${say("or")} `);
    put(box, "span", say("which", { choices }), "refusal");
    for (const one of found.choices) {
      const button = put(box, "button", one.words, "choice");
      button.type = "button";
      button.addEventListener("click", () => {
        input.value = one.text;
        done();
      });
    }
  } else put(box, "span", `= ${both(found.value)}`, "heard");
  if (words) put(box, "span", words, wrong ? "wrong" : "said");
};
