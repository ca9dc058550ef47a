// Keeps an open survey page level with the document: when the server says that something
// changed, the page is fetched again and the parts that differ are put in place. A part in which
// the reader is typing stays as it is until they are done. Without this file the page still
// reads and works; it then shows what was known when it was loaded.

const survey = document.querySelector("main [data-survey]");
const notice = document.querySelector("#live");

function say(text) {
  if (notice) notice.textContent = text;
}

function typing(part) {
  const field = document.activeElement;
  return field && part.contains(field) && field.matches("input, textarea, select");
}

function put(old, fresh) {
  const open = [...old.querySelectorAll("details")].map((d) => d.open);
  const place = document.activeElement && old.contains(document.activeElement)
    ? document.activeElement.id : "";
  const copy = document.importNode(fresh, true);
  old.replaceWith(copy);
  copy.querySelectorAll("details").forEach((d, i) => { if (open[i]) d.open = true; });
  if (place) document.getElementById(place)?.focus({ preventScroll: true });
}

let busy = false;
let again = false;

async function refresh() {
  if (busy) { again = true; return; }
  busy = true;
  try {
    const answer = await fetch(location.pathname + location.search, { headers: { accept: "text/html" } });
    if (!answer.ok) throw new Error(String(answer.status));
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const heads = fresh.querySelector("main [data-survey]")?.dataset.heads;
    let held = false;
    for (const part of document.querySelectorAll("[data-part]")) {
      const next = fresh.querySelector(`[data-part="${part.dataset.part}"]`);
      if (!next || next.outerHTML === part.outerHTML) continue;
      if (typing(part)) { held = true; continue; }
      put(part, next);
    }
    if (!held && heads) survey.dataset.heads = heads;
    say(held
      ? "New entries came in; they show when you leave the field you are typing in."
      : `Level with the roof at ${new Date().toLocaleTimeString()}.`);
    if (held) document.addEventListener("focusout", () => setTimeout(refresh, 200), { once: true });
  } catch {
    say("The page could not be brought up to date; it tries again by itself.");
    setTimeout(refresh, 5000);
  } finally {
    busy = false;
    if (again) { again = false; refresh(); }
  }
}

if (survey) {
  const events = new EventSource(`/v1/surveys/${encodeURIComponent(survey.dataset.survey)}/events`);
  events.addEventListener("open", () => {
    document.documentElement.dataset.live = "on";
    say("Live: entries from the roof appear by themselves.");
  });
  events.addEventListener("heads", (event) => {
    if (event.data !== survey.dataset.heads) refresh();
  });
  events.addEventListener("error", () => {
    document.documentElement.dataset.live = "off";
    say("Not connected; what you see may be out of date. It connects again by itself.");
  });
}

// One press of a button is one post, however often it is pressed.
document.addEventListener("submit", (event) => {
  if (event.target.dataset.sent) event.preventDefault();
  event.target.dataset.sent = "yes";
});
