// Taking down: notes typed or spoken, photos, units. Each is kept before it is called kept.

import { listen, onPhone, pieces, present } from "./hear.js";
import { clock, freshId, stamp } from "./ids.js";
import * as keep from "./keep.js";
import { listUnits, refresh } from "./roof.js";
import { $, about, alarm, hazards, say } from "./show.js";
import { now, tries } from "./state.js";

const MOST_BYTES = 64 * 2 ** 20;
let unkept = [];
let stopListening = null;

// Keeps one entry about whatever is chosen.
async function enter(kind, body, more = {}, how = {}) {
  const [id, at] = [freshId(), stamp()];
  const name = kind === "note" ? "note_id" : "id";
  const entry = { id, kind, survey: now.survey, about: $("about").value, at, ...more };
  entry.body = { [name]: id, ...body(at) };
  await keep.keep(entry, how);
  alarm("");
  await refresh();
  return entry;
}

export async function chosen() {
  const tag = $("about").value;
  hazards(now.card, tag);
  const known = (now.card?.hazards ?? []).filter((it) => tag && it.ref === tag);
  say(known.map((it) => it.line).join(" "));
  await keepDraft();
}

// The note in hand is kept at every letter. It began with its first.
export function keepDraft() {
  const text = $("note").value;
  now.began = text ? now.began ?? stamp() : null;
  return keep.setDraft(now.survey, { text, heard: now.heard, began: now.began, about: $("about").value });
}

export async function keepNote() {
  const text = $("note").value.trim();
  if (!text) {
    alarm("The note is empty: type or say something first.");
    return;
  }
  stopListening?.();
  const segments = pieces(text, now.heard);
  // The unit that was chosen is said first, so that what follows is read as being about it.
  const unit = $("about").value;
  if (unit && unit !== "site") segments.unshift({ start_ms: 0, end_ms: 0, text: `${unit}.` });
  await enter("note", (at) => ({ recorded_at: now.began ?? at, segments }), {}, { done: now.survey });
  // Whatever was typed meanwhile is the next note.
  $("note").value = $("note").value.trim().slice(text.length).trimStart();
  Object.assign(now, { heard: [], began: null });
  say("The note is kept on this phone.");
}

export async function addUnit() {
  const kind = $("kind").selectedOptions[0];
  const tag = `${kind.dataset.letters}-${Number($("number").value)}`;
  const units = now.card?.units ?? [];
  if (!units.some((unit) => unit.tag === tag)) {
    now.card = { ...now.card, survey_id: now.survey, units: [...units, { tag, what: kind.textContent.split(" (")[0] }] };
    await keep.setRoof(now.card);
    await enter("unit", (at) => ({ tag, kind: kind.value, at }), { about: tag });
  }
  listUnits(tag);
  $("number").value = "";
  $("new-unit").open = false;
  $("about").focus();
  await chosen();
  say(`${tag} is on the list and chosen.`);
}

// --- photos

export async function takePictures(event) {
  unkept.push(...event.target.files);
  event.target.value = "";
  await keepPhotos();
}

// Photos that cannot be kept stay in hand as long as the page is open.
export async function keepPhotos() {
  try {
    while (unkept.length > 0) {
      const [file] = unkept;
      if (file.size > MOST_BYTES) {
        unkept.shift();
        alarm(`This photo is larger than ${MOST_BYTES / 2 ** 20} MB and was NOT kept. Take it again at a smaller size.`);
        continue;
      }
      const bytes = await file.arrayBuffer();
      const ref = $("about").value || null;
      const caption = $("caption").value.trim() || null;
      const type = file.type || "application/octet-stream";
      const entry = await enter("photo", (at) => ({ ref, caption, at }), { type }, { bytes });
      unkept.shift();
      $("caption").value = "";
      showLast(file, entry);
      say("The photo is kept on this phone.");
    }
  } finally {
    $("unkept").hidden = unkept.length === 0;
  }
}

function showLast(file, entry) {
  const picture = $("last-photo");
  const seen = (yes) => {
    picture.hidden = !yes;
    $("last-none").hidden = yes;
  };
  picture.onload = () => seen(true);
  picture.onerror = () => seen(false);
  URL.revokeObjectURL(picture.src);
  picture.src = URL.createObjectURL(file);
  picture.alt = `The last photo: ${about(entry.about)}`;
  const kind = (/\.([a-z0-9]+)$/i.exec(file.name)?.[1] ?? file.type).toUpperCase();
  $("last-none").textContent = `${kind} photo: this browser cannot show it. It goes to the office as it was taken.`;
  $("last-t").textContent = `Last photo kept: ${about(entry.about)}, ${clock(entry.at)}`;
  $("last").hidden = false;
}

// --- listening

export async function dictate() {
  if (stopListening) {
    stopListening();
    return;
  }
  const local = await onPhone();
  now.began ??= stamp();
  stopListening = listen({
    local,
    since: Date.parse(now.began),
    piece: (heard) => {
      now.heard.push(heard);
      $("note").value = `${$("note").value.trimEnd()} ${heard.text}`.trimStart();
      tries(keepDraft)();
    },
    guess: (text) => { $("hearing").textContent = text || "Listening…"; },
    over: (text) => {
      stopListening = null;
      listening(false);
      if (text) alarm(`${text} What was heard is in the note.`);
    },
  });
  listening(true);
}

function listening(on) {
  $("dictate").setAttribute("aria-pressed", String(on));
  $("dictate").textContent = on ? "Stop listening" : "Speak";
  $("hearing").hidden = !on;
  $("hearing").textContent = on ? "Listening…" : "";
}

export async function explainListening() {
  $("dictate").hidden = !present;
  $("dictate-where").hidden = !present;
  $("dictate-where").textContent = (await onPhone())
    ? "“Speak” works on this phone itself, also without signal."
    : "“Speak” uses the browser's own recogniser. It may send your voice to the browser's maker and need signal; \
the keyboard's microphone key often works without.";
}
