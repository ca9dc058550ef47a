// Putting things on the page: as text always, never as markup.

import { clock } from "./ids.js";

export const $ = (id) => document.getElementById(id);

export function make(tag, attributes = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value !== false && value !== undefined) made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...inside.filter((it) => it || it === 0));
  return made;
}

export const fill = (id, ...inside) => $(id).replaceChildren(...inside);

// One line that is read out when it can be, and goes after a while; an alarm at once, and it stays
// until it was read.
const WHILE = 12_000;
let going;

export function say(text) {
  clearTimeout(going);
  $("word").textContent = text;
  if (text) going = setTimeout(say, WHILE, "");
}

export function alarm(text) {
  $("alarm-box").hidden = !text;
  $("alarm").textContent = text;
  if (text) say("");
}

// Shows one part of the page and leads the reader to its heading.
export function view(name, title) {
  for (const part of ["enrol", "roofs", "roof"]) $(part).hidden = part !== name;
  document.title = `${title} · Scupper`;
  $(`${name}-t`).focus();
}

export const count = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;
export const about = (ref) => (ref === "site" ? "The roof" : ref || "Not said of what");

// Known hazards: those of the whole roof and of what was chosen first; all of them are there.
export function hazards(card, chosen) {
  const known = card?.hazards ?? [];
  const here = known.filter((it) => it.ref === "site" || it.ref === chosen);
  const there = known.filter((it) => !here.includes(it));
  $("hazards-t").textContent = `Hazards: ${known.length ? known.length : "none recorded"}`;
  $("hazards-of").textContent = known.length
    ? `As the office knew them at ${clock(card.as_of)}. What is not listed may still be there.`
    : "Nothing recorded says nothing about the roof: look before you step.";
  fill("hazards-here", ...here.map(hazard));
  fill("hazards-there", ...there.map(hazard));
  $("hazards-else").hidden = there.length === 0;
  $("hazards-else-t").textContent = `At ${chosen && chosen !== "site" ? "other units" : "units"}: ${there.length}`;
  if (card?.caution) $("caution").textContent = card.caution;
}

const hazard = (it) =>
  make("li", {}, make("details", {}, make("summary", {}, it.line), make("p", {}, it.because),
    make("p", {}, make("b", {}, "Control: "), it.control), make("p", {}, it.caution), make("p", { class: "quiet" }, it.source)));

// What waits, newest first, each with what can be done about it.
export function waiting(entries, can) {
  const button = (text, act) => make("button", { class: "plain", onclick: act }, text);
  const list = entries.map((entry) => make("li", { class: entry.trouble ? "trouble" : "" },
    make("details", { open: Boolean(entry.trouble) }, make("summary", {}, titleOf(entry)),
      words(entry),
      entry.trouble && make("p", { class: "box" }, entry.trouble),
      make("div", { class: "pair" },
        entry.trouble && button("Send it again", () => can.again(entry)),
        entry.kind !== "unit" && button("Save a copy", () => can.save(entry)),
        button("Throw away", (event) => sure(event.target, () => can.drop(entry)))))));
  fill("waiting", ...(list.length ? list.reverse() : [make("li", {}, "Nothing waits.")]));
}

const titleOf = (entry) => `${NAMES[entry.kind]}, ${about(entry.about)}, ${clock(entry.at)}`;

const NAMES = { note: "Note", photo: "Photo", unit: "New unit" };

export const textOf = (entry) =>
  entry.kind === "note" ? entry.body.segments.map((it) => it.text).join(" ") : entry.body.caption ?? "";

const words = (entry) => textOf(entry) && make("p", { class: "words" }, textOf(entry));

// What is not to be had back asks twice.
function sure(button, act) {
  if (button.dataset.sure) act();
  else {
    button.dataset.sure = "1";
    button.textContent = "Really throw it away?";
  }
}

// What the office made of what it was sent.
export function told(answers) {
  const lines = (title, all) => all?.length > 0 && [make("p", {}, title), make("ul", {}, ...all.map((it) => make("li", {}, it)))];
  const list = answers.slice(0, 30).map((it) => {
    const made = [
      lines("Understood:", it.understood),
      lines("To be confirmed:", it.to_confirm),
      lines("Kept as words only:", it.not_understood),
    ].filter(Boolean).flat();
    const bare = it.kind === "note" && made.length === 0;
    return make("li", {},
      make("p", {}, make("b", {}, titleOf(it)), ": at the office."),
      words(it), ...made,
      bare && make("p", {}, "Nothing was made of it but the words themselves. The office reads them."));
  });
  fill("told", ...(list.length ? list : [make("li", {}, "Nothing was exchanged yet.")]));
}
