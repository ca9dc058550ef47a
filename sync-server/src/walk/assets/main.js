// The roof notebook begins here: what is pressed leads where, and what is shown first.

import * as keep from "./keep.js";
import * as office from "./office.js";
import { handOver, moveAll, open } from "./roof.js";
import { $, alarm, say } from "./show.js";
import { now, tries } from "./state.js";
import { anew, enrol, look, ready, showEnrol, showRoofs } from "./surveys.js";
import { addUnit, chosen, dictate, explainListening, keepDraft, keepNote, keepPhotos, takePictures } from "./take.js";

function wire() {
  const on = (id, event, work) => $(id).addEventListener(event, tries(work));
  on("enrol-form", "submit", enrol);
  on("stay", "click", showRoofs);
  on("anew", "click", anew);
  on("look", "click", look);
  on("back", "click", showRoofs);
  on("exchange", "click", handOver);
  on("move", "click", moveAll);
  on("about", "change", chosen);
  on("unit-form", "submit", addUnit);
  on("note", "input", keepDraft);
  on("keep-note", "click", keepNote);
  on("shot", "change", takePictures);
  on("album", "change", takePictures);
  on("keep-photo", "click", keepPhotos);
  on("dictate", "click", dictate);
  on("heeded", "click", () => alarm(""));
  addEventListener("online", () => say("Signal is back: exchange when you can."));
  navigator.serviceWorker?.addEventListener("controllerchange", tries(ready));
}

async function begin() {
  wire();
  navigator.serviceWorker?.register("sw.js").catch(() => {});
  await explainListening();
  now.device = (await keep.fact("device")) ?? {};
  office.showToken(now.device.token);
  // The code of a scanned invitation: taken out of the address, and spent only when asked to.
  const code = location.hash.slice(1);
  history.replaceState(null, "", location.pathname);
  $("code").value = code;
  if (!now.device.token) showEnrol();
  else if (code) {
    showEnrol(`This phone is enrolled for ${now.device.author} already. Enrol again only if the office asked you to.`);
  } else {
    const last = await keep.fact("last");
    await (last ? open(last) : showRoofs());
  }
}

tries(begin)();
